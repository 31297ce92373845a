package app

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strings"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/observations"
	"lyefast/internal/photo"
	"lyefast/internal/store"
	"lyefast/internal/when"
)

// PhotoQuery reads colours off a photograph.
type PhotoQuery struct {
	Data []byte
	// File is its name for messages and for the book's record, without its folder.
	File string
	// Patches are the parts to read, "x,y,w,h" or "HD-07/shore=x,y,w,h". Several of one
	// portion are averaged.
	Patches []string
	// Chart is "x1,y1 x2,y2 x3,y3 x4,y4", the middles of dark skin, bluish green, black
	// and white; Edition "after-2014" (also if empty) or "before-2014".
	Chart, Edition string
	// Greys are "x,y=L,a,b", D50; Sheet places "x,y", one or several in each text.
	Greys, Sheet []string
	// SheetLab is "L,a,b", D50, the sheet's colour as it was told beside a chart.
	SheetLab string
	// Card names a card on the shelf: it gives the edition of the chart, the value of the
	// greys that are places alone, "x,y", or the sheet's.
	Card string
	// KeepSheet is a name to store the sheet under, learnt beside the chart; "" does not.
	KeepSheet string
	// KeepEdition remembers Edition with the readings, unless the shelf has charts under
	// names of the maker's own.
	KeepEdition bool
	// Batch is where names of patches are portions of.
	Batch string
	// At dates the readings; without it the camera's date holds.
	At   string
	Face string
	// Early says that they are of cups from the jugs, not of bars.
	Early bool
	Note  string
}

// PhotoPatch is what was read of one part of a photograph.
type PhotoPatch struct {
	// Patch is the name given, else its number.
	Patch string `json:"patch"`
	// Lab is D65, 2°; nil where no colour can be given, and Why says why.
	Lab  *cie.Lab `json:"lab"`
	Hex  string   `json:"hex"`
	Name string   `json:"name"`
	// UAbsolute and UTrend are ΔE00 that about 95 in 100 readings err by less: of the
	// colour itself, and between readings under the same phone, light and chart.
	UAbsolute float64 `json:"u_absolute"`
	UTrend    float64 `json:"u_trend"`
	// Rung is what the colour was corrected by.
	Rung string `json:"rung"`
	// LeftOut are the chart's patches, greys and spots that could not be used.
	LeftOut []string `json:"left_out"`
	Why     string   `json:"why,omitempty"`
	Notes   []string `json:"notes"`
	// Portion is where the reading went, "HD-07/shore", and ID its number; of a dry run,
	// or where it was in the book already, there is none.
	Portion string `json:"portion,omitempty"`
	ID      int64  `json:"id,omitempty"`

	rect photo.Rect
}

// PhotoSaid is what a photograph gave.
type PhotoSaid struct {
	File    string `json:"file"`
	Format  string `json:"format"`
	Width   int    `json:"width_px"`
	Height  int    `json:"height_px"`
	Profile string `json:"profile"`
	Camera  string `json:"camera,omitempty"`
	// TakenAt is the moment the readings are of, nil where neither camera nor maker said.
	TakenAt *time.Time `json:"taken_at"`
	// Understood is the moment in words.
	Understood string       `json:"understood,omitempty"`
	Rung       string       `json:"rung"`
	Patches    []PhotoPatch `json:"patches"`
	LeftOut    []string     `json:"left_out"`
	Warnings   []string     `json:"warnings"`
	// SheetLab is the sheet's colour, D50, as learnt beside a chart.
	SheetLab *cie.Lab `json:"sheet_lab_d50"`
	// KeptSheet is the card the sheet was stored as, "" if it was not.
	KeptSheet string `json:"kept_sheet,omitempty"`
	Added     int    `json:"added"`
	Known     int    `json:"in_the_book_already"`
}

// ReadPhoto reads a photograph and writes nothing.
func (a *App) ReadPhoto(ctx context.Context, q PhotoQuery) (*PhotoSaid, error) {
	q, notes, err := a.fromCards(ctx, q)
	if err != nil {
		return nil, err
	}
	bad := func(err error) error {
		out := &Error{Kind: ErrInvalid, Msg: q.File, Err: err}
		var d *photo.Declined
		if errors.As(err, &d) {
			out.Tip = d.Tip
		}
		return out
	}
	patches, err := q.patches()
	if err != nil {
		return nil, bad(err)
	}
	setup, err := q.setup()
	if err != nil {
		return nil, bad(err)
	}
	p, err := photo.Decode(q.Data)
	if err != nil {
		return nil, bad(err)
	}
	rects := make([]photo.Rect, len(patches))
	for i := range patches {
		rects[i] = patches[i].rect
	}
	answer, err := p.Read(setup, rects)
	if err != nil {
		return nil, bad(err)
	}
	out := &PhotoSaid{
		File: q.File, Format: p.Format, Width: p.Width, Height: p.Height, Profile: p.Profile, Camera: p.Camera, Rung: string(answer.Rung),
		Patches: patches, LeftOut: answer.LeftOut, Warnings: append([]string{}, slices.Concat(notes, p.Notes, answer.Warnings)...), SheetLab: answer.SheetLab,
	}
	if !p.Taken.IsZero() {
		t := p.Taken
		if now := a.Now(); p.Zoned {
			t = t.In(now.Location())
		} else {
			t = time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, now.Location())
			out.Warnings = append(out.Warnings, "the camera wrote no time zone; its clock is taken for yours")
		}
		out.TakenAt, out.Understood = &t, when.When{Time: t, Clock: true}.Echo(a.Now())
	}
	for i, c := range answer.Colours {
		s := &out.Patches[i]
		s.Lab, s.Why, s.Notes = c.Lab, c.Why, c.Notes
		s.UAbsolute, s.UTrend = math.Round(100*c.Absolute)/100, math.Round(100*c.Trend)/100
		s.Rung, s.LeftOut = string(answer.Rung), answer.LeftOut
		if c.Lab != nil {
			s.Hex, s.Name = c.Lab.Hex(), c.Lab.Name().Text
		}
	}
	return out, nil
}

// patches reads the parts asked for.
func (q *PhotoQuery) patches() ([]PhotoPatch, error) {
	if len(q.Patches) == 0 {
		return nil, errors.New("no part to read is given; say it like --patch HD-07/shore=512,340,80,60 (left, top, width and height in pixels)")
	}
	list := make([]PhotoPatch, len(q.Patches))
	for i, s := range q.Patches {
		name, where := "", s
		if j := strings.LastIndex(s, "="); j >= 0 {
			name, where = strings.TrimSpace(s[:j]), s[j+1:]
			if name == "" {
				return nil, fmt.Errorf("patch %q has an empty name; write it like HD-07/shore=512,340,80,60", clipped(s))
			}
		}
		r, err := photo.ParseRect(where)
		if err != nil {
			return nil, fmt.Errorf("patch %d: %w", i+1, err)
		}
		list[i] = PhotoPatch{Patch: name, rect: r}
		if name == "" {
			list[i].Patch = fmt.Sprint(i + 1)
		}
	}
	return list, nil
}

// setup reads what lies in the picture.
func (q *PhotoQuery) setup() (s photo.Setup, err error) {
	edition, err := photo.ParseEdition(q.Edition)
	if err != nil {
		return s, err
	}
	if q.Chart != "" {
		c := photo.Chart{Edition: edition}
		if c.Corners, err = photo.ParseCorners(q.Chart); err != nil {
			return s, err
		}
		s.Chart = &c
	} else if q.Edition != "" {
		return s, errors.New("an edition goes with a chart; give the chart's corners too")
	}
	for _, g := range q.Greys {
		where, lab, ok := strings.Cut(g, "=")
		if !ok {
			return s, fmt.Errorf("grey %q is not understood; write it like 512,340=81.3,-0.6,0.4: its place, and the L*, a*, b* for D50 printed on the card", clipped(g))
		}
		var grey photo.Grey
		if grey.At, err = photo.ParsePoint(where); err != nil {
			return s, err
		}
		if grey.Lab, err = cie.ParseLab(lab); err != nil {
			return s, fmt.Errorf("grey at %s: %w", clipped(where), err)
		}
		s.Greys = append(s.Greys, grey)
	}
	for _, text := range q.Sheet {
		for _, one := range strings.Fields(text) {
			at, err := photo.ParsePoint(one)
			if err != nil {
				return s, err
			}
			s.Sheet = append(s.Sheet, at)
		}
	}
	if q.SheetLab != "" {
		if len(s.Sheet) == 0 {
			return s, errors.New("a sheet's value goes with places on the sheet; give some with --sheet x,y")
		}
		lab, err := cie.ParseLab(q.SheetLab)
		if err != nil {
			return s, fmt.Errorf("the sheet's value: %w", err)
		}
		s.SheetLab = &lab
	}
	return s, nil
}

// AddPhoto reads a photograph and enters what it shows: all its portions or none.
// Taking the same parts of the same photograph again adds nothing.
func (a *App) AddPhoto(ctx context.Context, q PhotoQuery) (*PhotoSaid, error) {
	face, err := observations.ParseFace(q.Face)
	if err != nil {
		return nil, &Error{Kind: ErrInvalid, Msg: q.File, Err: err}
	}
	if q.KeepSheet != "" && (q.Chart == "" || len(q.Sheet) == 0) {
		return nil, invalid("give both --chart and --sheet, or leave out --keep-sheet", "%s: a sheet is learnt beside a chart, from spots on it", q.File)
	}
	// Asked before the picture is decoded, and before a book is made.
	asked := false
	if err := a.read(ctx, func(tx *store.Tx) error {
		asked = true
		_, err := a.photoPlaces(ctx, tx, q)
		return err
	}); err != nil {
		return nil, err
	}
	out, err := a.ReadPhoto(ctx, q)
	if err == nil && !asked {
		err = &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("%s: there is no book yet, so no batch to enter readings for", q.File), Tip: "pour a plan first with `lyefast batch pour PLAN`, or look with --dry-run"}
	}
	if err != nil {
		return nil, err
	}
	if q.At == "" && out.TakenAt == nil {
		return nil, invalid(`give --at "2026-11-24 14:30"`, "%s: the camera wrote no date, so it is not known when it was taken; nothing was entered", q.File)
	}
	for _, p := range out.Patches {
		if p.Lab == nil {
			return nil, invalid("leave that part out, or read another part of the portion", "%s: %s has no colour, so nothing was entered: %s", q.File, p.Patch, p.Why)
		}
	}
	err = a.change(ctx, fmt.Sprintf("read %d portions from %s", len(out.Patches), clipped(q.File)), func(tx *store.Tx) error {
		places, err := a.photoPlaces(ctx, tx, q)
		if err != nil {
			return err
		}
		if err := a.addPhoto(ctx, tx, q, out, places, face); err != nil {
			return err
		}
		if q.KeepEdition && q.Chart != "" {
			if err := keepEdition(ctx, tx, q.Edition); err != nil {
				return err
			}
		}
		if q.KeepSheet == "" {
			return nil
		}
		c, err := out.sheetCard(q.KeepSheet)
		if err != nil {
			return err
		}
		out.KeptSheet = c.Name
		return keepCard(ctx, tx, c)
	})
	return out, err
}

// photoPlaces finds the portion of every patch.
func (a *App) photoPlaces(ctx context.Context, tx *store.Tx, q PhotoQuery) ([]*placing, error) {
	patches, err := q.patches()
	if err != nil {
		return nil, &Error{Kind: ErrInvalid, Msg: q.File, Err: err}
	}
	batches := map[string]*observations.Batch{}
	places := make([]*placing, len(patches))
	for i, p := range patches {
		name := p.Patch
		if !strings.Contains(q.Patches[i], "=") {
			if q.Batch == "" {
				return nil, invalid("write it like --patch HD-07/shore=512,340,80,60, or look first with --dry-run", "%s: it is not said which portion patch %s is", q.File, name)
			}
			name = "" // the batch's only portion
		}
		if places[i], err = a.place(ctx, tx, ImportQuery{Batch: q.Batch}, name, batches); err != nil {
			return nil, err
		}
	}
	return places, nil
}

// addPhoto enters one reading for each portion.
func (a *App) addPhoto(ctx context.Context, tx *store.Tx, q PhotoQuery, out *PhotoSaid, places []*placing, face observations.Face) error {
	now := a.Now()
	var list []store.Placed
	members := map[int64][]int{} // patches of a portion
	var order []*placing
	for i, pl := range places {
		if members[pl.portion.ID] == nil {
			order = append(order, pl)
		}
		members[pl.portion.ID] = append(members[pl.portion.ID], i)
	}
	for _, pl := range order {
		bad := func(err error) error {
			return &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("%s: read %s/%s", q.File, pl.batch.Code, pl.portion.Key()), Err: err}
		}
		r, err := out.reading(members[pl.portion.ID])
		if err != nil {
			return bad(err)
		}
		r.Face, r.Note, r.Key = face, strings.TrimSpace(q.Note), q.key(members[pl.portion.ID])
		w := when.When{Clock: true}
		if q.At != "" {
			if w, err = when.ParseDay(q.At, pl.batch.PouredAt, now); err != nil {
				return bad(err)
			}
		} else {
			w.Time = *out.TakenAt
		}
		out.Understood = w.Echo(now)
		t := w.Time
		out.TakenAt = &t
		r.TakenAt, r.Clock = w.Time.UTC().Truncate(time.Second), w.Clock
		if !w.Clock && r.TakenAt.Before(pl.batch.PouredAt) && when.Days(pl.batch.PouredAt, w.Time) == 0 {
			r.TakenAt = pl.batch.PouredAt
		}
		r.Early = q.Early || len(pl.slots) > 0 && r.TakenAt.Before(pl.slots[0].From)
		if r.Early && !q.Early {
			out.Warnings = append(out.Warnings, fmt.Sprintf("%s/%s: taken before the cut, so it is kept apart as a cup from the jug", pl.batch.Code, pl.portion.Key()))
		}
		if err := r.Check(pl.batch, now); err != nil {
			return bad(err)
		}
		list = append(list, store.Placed{Portion: pl.portion.ID, Reading: &r})
	}
	all := len(list)
	first, added, err := tx.AddReadings(ctx, sourceName(q.File), list, nil)
	if err != nil {
		return err
	}
	out.Added, out.Known = added, all-added
	for i, p := range list { // as sorted by AddReadings
		for _, k := range members[p.Portion] {
			s := &out.Patches[k]
			s.Portion = places[k].batch.Code + "/" + places[k].portion.Key()
			if added == all {
				s.ID = first + int64(i)
			}
		}
	}
	return nil
}

// reading makes one reading of the patches of a portion. Its spread is the doubt of
// the trend in each coordinate, a third of the squared ΔE00 each, and what the
// patches differ by; the doubt of the colour itself stands in the original.
func (s *PhotoSaid) reading(which []int) (observations.Reading, error) {
	var r observations.Reading
	spots := make([]cie.Lab, len(which))
	for i, k := range which {
		spots[i] = *s.Patches[k].Lab
	}
	mean, spread, err := observations.Average(spots)
	if err != nil {
		return r, err
	}
	p := &s.Patches[which[0]]
	sd := p.UTrend / 2 / math.Sqrt(3)
	r.Spread = &cie.Lab{L: sd, A: sd, B: sd}
	if spread != nil {
		n := math.Sqrt(float64(len(which)))
		*r.Spread = cie.Lab{L: math.Hypot(sd, spread.L/n), A: math.Hypot(sd, spread.A/n), B: math.Hypot(sd, spread.B/n)}
	}
	r.Lab = &mean
	camera := s.Camera
	if len(camera) > 100 {
		camera = strings.ToValidUTF8(camera[:100], "")
	}
	r.Way = observations.Way{Method: observations.ByPhoto, Illuminant: "D50", Observer: 2, Instrument: camera}
	d50 := mean.To(cie.D65, cie.D50)
	r.Original = fmt.Sprintf("Lab %.4g,%.4g,%.4g D50/2°, corrected by %s, ΔE00 ±%.1f, as a trend ±%.1f", d50.L, d50.A, d50.B, s.Rung, p.UAbsolute, p.UTrend)
	return r, nil
}

// key tells readings of one photograph apart by their places in it.
func (q *PhotoQuery) key(which []int) int64 {
	h := fnv.New64a()
	h.Write(q.Data)
	for _, k := range which {
		fmt.Fprintf(h, "\x00%s", q.Patches[k])
	}
	return int64(h.Sum64() >> 1)
}
