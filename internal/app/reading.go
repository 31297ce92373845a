package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/observations"
	"lyefast/internal/store"
	"lyefast/internal/when"
)

// ReadingQuery enters a colour by hand. Exactly one of Lab, XYZ, Hex and Words is
// given; several values are spots of the same portion.
type ReadingQuery struct {
	// Target is "HD-07/tide" or "HD-07/slab/tide".
	Target        string
	Lab, XYZ, Hex []string
	Words         string
	// Illuminant of Lab and XYZ, "D50/2°"; empty is D65/2°.
	Illuminant       string
	Face, Instrument string
	// Method overrides "instrument" for Lab and XYZ and "hex" for Hex.
	Method string
	At     string
	Note   string
	// Early says that it is of a cup from the jug; readings before the cut are taken so anyway.
	Early bool
}

// ReadingAdded is a reading as it went into the book.
type ReadingAdded struct {
	Batch   string `json:"batch"`
	Portion string `json:"portion"`
	observations.Reading
	Day float64 `json:"day"`
	// Understood is the moment in words.
	Understood string `json:"understood"`
	Hex        string `json:"hex,omitempty"`
	Name       string `json:"name,omitempty"`
	// SinceLast is the ΔE00 from the reading before, nil for the first.
	SinceLast *float64 `json:"delta_e00_since_last"`
	Notes     []string `json:"notes"`
}

// AddReading enters a colour.
func (a *App) AddReading(ctx context.Context, q ReadingQuery) (*ReadingAdded, error) {
	code, rest := splitTarget(q.Target)
	out := &ReadingAdded{Notes: []string{}}
	err := a.changeBatch(ctx, code, "read "+clipped(rest), func(tx *store.Tx, b *observations.Batch) error {
		p, err := portionOf(b, rest)
		if err != nil {
			return err
		}
		bad := func(err error) error {
			return &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("add reading to %s/%s", b.Code, p.Key()), Err: err}
		}
		r, words, err := q.read()
		if err != nil {
			return bad(err)
		}
		now := a.Now()
		w, err := a.momentOf(b, q.At)
		if err != nil {
			return bad(err)
		}
		r.TakenAt, r.Clock = w.Time.UTC().Truncate(time.Second), w.Clock
		// A date alone on the day of the pour stands at noon, which may lie before it.
		if !w.Clock && r.TakenAt.Before(b.PouredAt) && when.Days(b.PouredAt, w.Time) == 0 {
			r.TakenAt = b.PouredAt
		}
		slots := b.Slots(now.Location())
		r.Early = q.Early || len(slots) > 0 && r.TakenAt.Before(slots[0].From)
		if r.Early && !q.Early {
			out.Notes = append(out.Notes, "taken before the cut, so it is kept apart as a cup from the jug")
		}
		before, err := lastReading(ctx, tx, p, r.TakenAt)
		if err != nil {
			return err
		}
		if words.Text != "" {
			bare, err := bareColour(ctx, tx, b)
			if err != nil {
				return err
			}
			reference := p.AtPour
			if reference == nil {
				reference = p.Settled
			}
			last := before
			if last == nil {
				last = p.Settled
			}
			if r.Lab = words.Estimate(last, reference, bare); r.Lab == nil {
				out.Notes = append(out.Notes, "no colour could be estimated from the words; they are kept as they are")
			}
		}
		if err := r.Check(b, now); err != nil {
			return bad(err)
		}
		first, _, err := tx.AddReadings(ctx, "", []store.Placed{{Portion: p.ID, Reading: &r}}, nil)
		if err != nil {
			return err
		}
		if words.Bled {
			if err := a.bled(ctx, tx, b, p, &r, words, now); err != nil {
				return bad(err)
			}
			out.Notes = append(out.Notes, "noted as a bleed too")
		}
		r.ID = first
		out.Batch, out.Portion, out.Reading, out.Understood = b.Code, p.Key(), r, w.Echo(now)
		out.Day = math.Round(100*b.Day(r.TakenAt)) / 100
		if r.Lab == nil && words.Text == "" {
			out.Notes = append(out.Notes, fmt.Sprintf("a colour for %s/%d° has no value for D65/2° without its spectrum; it is kept, but no curve can use it", r.Illuminant, r.Observer))
		}
		if r.Lab != nil {
			out.Hex, out.Name = r.Lab.Hex(), r.Lab.Name().Text
			if before != nil {
				d := math.Round(100*cie.DeltaE00(*before, *r.Lab)) / 100
				out.SinceLast = &d
			}
		}
		return nil
	})
	return out, err
}

// bled notes what words said of bleeding as an event, where it is counted.
func (a *App) bled(ctx context.Context, tx *store.Tx, b *observations.Batch, p *observations.Portion, r *observations.Reading, w observations.Words, now time.Time) error {
	e := observations.Event{Kind: observations.Bleed, At: r.TakenAt, Clock: r.Clock, Batter: p.Batter, Portion: p.Key()}
	if w.BledMM > 0 {
		e.Value = &w.BledMM
	}
	if err := e.Check(b, now); err != nil {
		return err
	}
	_, err := tx.AddEvent(ctx, b.ID, e)
	return err
}

// read turns what was typed into a reading without its time.
func (q ReadingQuery) read() (observations.Reading, observations.Words, error) {
	var r observations.Reading
	var words observations.Words
	kinds := 0
	for _, given := range []bool{len(q.Lab) > 0, len(q.XYZ) > 0, len(q.Hex) > 0, q.Words != ""} {
		if given {
			kinds++
		}
	}
	if kinds != 1 {
		return r, words, errors.New(`give one of --lab 62.1,-3.2,14, --xyz 52.1,54.0,40.3, --hex "#4a6180" or --words "a little duller"`)
	}
	face, err := observations.ParseFace(q.Face)
	if err != nil {
		return r, words, err
	}
	il, err := cie.ParseIlluminant("D65")
	if q.Illuminant != "" && err == nil {
		if len(q.Lab)+len(q.XYZ) == 0 {
			return r, words, errors.New("an illuminant goes with --lab or --xyz alone; a hex colour is for D65 by its definition")
		}
		il, err = cie.ParseIlluminant(q.Illuminant)
	}
	if err != nil {
		return r, words, err
	}
	r.Way = observations.Way{Method: observations.ByInstrument, Illuminant: il.Name, Observer: il.Observer, Face: face, Instrument: strings.TrimSpace(q.Instrument)}
	r.Note = strings.TrimSpace(q.Note)
	if len(r.Instrument) > 200 {
		return r, words, errors.New("the name of the instrument is too long")
	}
	if q.Words != "" {
		r.Method = observations.ByEye
		words, err = observations.ParseWords(q.Words)
		r.Words = words.Text
		return r, words, err
	}
	if q.Method != "" {
		r.Method = strings.ToLower(strings.TrimSpace(q.Method))
		if len(r.Method) > 40 || r.Method == observations.ByEye {
			return r, words, fmt.Errorf("method %q is not understood; say instrument, SCI, SCE, hex or photo", clipped(q.Method))
		}
	}
	var spots []cie.Lab
	original := ""
	for _, s := range q.Lab {
		c, err := cie.ParseLab(s)
		if err != nil {
			return r, words, err
		}
		spots = append(spots, c)
	}
	for _, s := range q.XYZ {
		c, err := cie.ParseXYZ(s)
		if err != nil {
			return r, words, err
		}
		spots = append(spots, c.Lab(il.White))
		original = "XYZ " + strings.TrimSpace(s)
	}
	for _, s := range q.Hex {
		c, err := cie.ParseHex(s)
		if err != nil {
			return r, words, err
		}
		spots = append(spots, c)
		original = strings.ToLower(strings.TrimSpace(s))
		if q.Method == "" {
			r.Method = observations.ByHex
		}
	}
	mean, spread, err := observations.Average(spots)
	if err != nil {
		return r, words, err
	}
	r.Spread = spread
	if len(spots) > 1 {
		r.Spots, original = len(spots), ""
	}
	d65, err := il.ToD65(mean)
	switch {
	case err != nil:
		original = fmt.Sprintf("Lab %.4g,%.4g,%.4g %s", mean.L, mean.A, mean.B, il)
	case il.Name == "D65":
		r.Lab = &d65
	default:
		original = fmt.Sprintf("Lab %.4g,%.4g,%.4g %s", mean.L, mean.A, mean.B, il)
		r.Lab = &d65
	}
	r.Original = original
	return r, words, nil
}

// portionOf finds the portion of a reading; a batch of one portion needs no name.
func portionOf(b *observations.Batch, rest string) (*observations.Portion, error) {
	if rest == "" && len(b.Portions) == 1 {
		return &b.Portions[0], nil
	}
	if rest == "" {
		var keys []string
		for i := range b.Portions {
			keys = append(keys, b.Code+"/"+b.Portions[i].Name)
		}
		return nil, invalid("name it like "+quoted(keys), "%s has %d portions; which one?", b.Code, len(b.Portions))
	}
	p, err := b.Portion(rest)
	if err != nil {
		return nil, &Error{Kind: ErrNotFound, Msg: err.Error()}
	}
	return p, nil
}

// lastReading is the latest colour of a portion up to a moment, nil without one.
func lastReading(ctx context.Context, tx *store.Tx, p *observations.Portion, until time.Time) (*cie.Lab, error) {
	list, _, err := tx.Readings(ctx, p.ID, mostRead)
	if err != nil {
		return nil, err
	}
	var last *cie.Lab
	for _, r := range observations.Live(list) {
		if !r.TakenAt.After(until) {
			last = r.Lab
		}
	}
	return last, nil
}

// bareColour is the soap alone: the latest reading of a bare portion, else what was
// forecast for one; nil where there is none.
func bareColour(ctx context.Context, tx *store.Tx, b *observations.Batch) (*cie.Lab, error) {
	for i := range b.Portions {
		p := &b.Portions[i]
		if !p.Bare() {
			continue
		}
		c, err := lastReading(ctx, tx, p, time.Unix(1<<40, 0))
		if err != nil || c != nil {
			return c, err
		}
		return p.Settled, nil
	}
	return nil, nil
}

// ReadingsQuery asks for a list of readings.
type ReadingsQuery struct {
	// Target is a batch, a batter or a portion.
	Target string
	// Struck lists those that were struck out too.
	Struck bool
}

// ReadingShown is a reading in a list.
type ReadingShown struct {
	Batch   string `json:"batch"`
	Portion string `json:"portion"`
	observations.Reading
	Day float64 `json:"day"`
	Hex string  `json:"hex,omitempty"`
}

// ReadingList is what a list shows; of a long series a sample.
type ReadingList struct {
	Readings []ReadingShown `json:"readings"`
	// Sampled names portions of which only a sample over time is listed.
	Sampled []string `json:"sampled"`
}

// Readings lists readings by portion and time.
func (a *App) Readings(ctx context.Context, q ReadingsQuery) (*ReadingList, error) {
	code, rest := splitTarget(q.Target)
	out := &ReadingList{Readings: []ReadingShown{}, Sampled: []string{}}
	err := a.readBatch(ctx, code, func(tx *store.Tx, b *observations.Batch) error {
		where, err := placeOf(b, rest)
		if err != nil {
			return err
		}
		for i := range b.Portions {
			p := &b.Portions[i]
			if !where.has(p) {
				continue
			}
			list, all, err := tx.Readings(ctx, p.ID, mostShown)
			if err != nil {
				return err
			}
			if !all {
				out.Sampled = append(out.Sampled, p.Key())
			}
			for _, r := range list {
				if r.Struck == "" || q.Struck {
					out.Readings = append(out.Readings, shown(b, p, r))
				}
			}
		}
		return nil
	})
	return out, err
}

func shown(b *observations.Batch, p *observations.Portion, r observations.Reading) ReadingShown {
	s := ReadingShown{Batch: b.Code, Portion: p.Key(), Reading: r, Day: math.Round(100*b.Day(r.TakenAt)) / 100}
	if r.Lab != nil {
		s.Hex = r.Lab.Hex()
	}
	return s
}

// StrikeReading notes that a reading no longer counts, with the reason. It stays in
// the book.
func (a *App) StrikeReading(ctx context.Context, id int64, why string) (*ReadingShown, error) {
	why = strings.TrimSpace(why)
	if why == "" || len(why) > 2000 {
		return nil, invalid(`write it like lyefast reading strike 14 --why "wrong jug"`, "a reading is struck out with a reason")
	}
	find := func(tx *store.Tx) (*ReadingShown, error) {
		portion, r, err := tx.Reading(ctx, id)
		if errors.Is(err, store.ErrNotFound) {
			return nil, noReading(id)
		}
		if err != nil {
			return nil, err
		}
		code, err := tx.BatchOf(ctx, portion)
		if err != nil {
			return nil, err
		}
		b, err := tx.Batch(ctx, code)
		if err != nil {
			return nil, err
		}
		for i := range b.Portions {
			if b.Portions[i].ID == portion {
				s := shown(&b, &b.Portions[i], r)
				return &s, nil
			}
		}
		return nil, noReading(id)
	}
	var out *ReadingShown
	if err := a.read(ctx, func(tx *store.Tx) (err error) {
		out, err = find(tx)
		return err
	}); err != nil {
		return nil, err
	}
	if out == nil {
		return nil, noReading(id)
	}
	err := a.change(ctx, fmt.Sprintf("strike reading %d of %s/%s", id, out.Batch, out.Portion), func(tx *store.Tx) error {
		return tx.Strike(ctx, id, why)
	})
	if errors.Is(err, store.ErrExists) {
		return nil, &Error{Kind: ErrExists, Msg: fmt.Sprintf("reading %d is struck out already: %s", id, out.Struck)}
	}
	out.Struck = why
	return out, err
}

func noReading(id int64) error {
	return &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("there is no reading %d", id), Tip: "see `lyefast reading list BATCH` for their numbers"}
}
