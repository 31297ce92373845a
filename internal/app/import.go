package app

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"lyefast/internal/exchange"
	"lyefast/internal/observations"
	"lyefast/internal/store"
	"lyefast/internal/when"
)

// ImportQuery takes the readings of a file.
type ImportQuery struct {
	Data []byte
	// File is the name for messages and for the book's record, without its folder.
	File string
	// Options settle what the file leaves open.
	Options exchange.Options
	// Batch is where names in the file are portions of; To takes every row for one
	// portion; Names maps names of the file to portions. Without any of them a name
	// says batch and portion itself, "HD-07/tide".
	Batch, To string
	Names     map[string]string
	// At dates rows that have no date.
	At string
	// Face of the bar, Early for cups from the jug.
	Face  string
	Early bool
	// LeaveOut takes the rest of a file some of whose rows cannot be right.
	LeaveOut bool
	// Progress is told how far it is, if not nil.
	Progress func(done, all int)
}

// ImportSaid is what a file held and what of it went into the book.
type ImportSaid struct {
	File      string                   `json:"file"`
	Format    string                   `json:"format"`
	Encoding  string                   `json:"encoding"`
	Delimiter string                   `json:"delimiter,omitempty"`
	Decimal   string                   `json:"decimal,omitempty"`
	Read      int                      `json:"readings"`
	Added     int                      `json:"added"`
	Known     int                      `json:"in_the_book_already"`
	NoD65     int                      `json:"without_d65_value"`
	Portions  []Placed                 `json:"portions"`
	Columns   []exchange.ColumnMeaning `json:"columns"`
	Skipped   []exchange.Skip          `json:"skipped"`
	Warnings  []string                 `json:"warnings"`
}

// Placed tells which portion a name of the file was taken for.
type Placed struct {
	Name     string `json:"name"`
	Portion  string `json:"portion"`
	Readings int    `json:"readings"`
}

// ReadFile reads a file of readings without taking it, for a dry run.
func (a *App) ReadFile(q ImportQuery) (exchange.Import, error) {
	if q.Options.Location == nil {
		q.Options.Location = a.Now().Location()
	}
	im, err := exchange.Read(q.Data, q.File, q.Options)
	return im, declined(err)
}

// declined gives a refused file its kind and its advice.
func declined(err error) error {
	var d *exchange.Declined
	switch {
	case err == nil:
		return nil
	case errors.As(err, &d):
		return &Error{Kind: ErrInvalid, Msg: d.Error(), Tip: d.Hint}
	}
	return &Error{Kind: ErrInvalid, Msg: err.Error()}
}

// Import takes a file whole or not at all. Taking it again adds nothing.
func (a *App) Import(ctx context.Context, q ImportQuery) (*ImportSaid, error) {
	im, err := a.ReadFile(q)
	if err != nil {
		return nil, err
	}
	out := &ImportSaid{
		File: q.File, Format: string(im.Format), Encoding: im.Encoding, Delimiter: im.Delimiter, Decimal: im.Decimal, Read: len(im.Readings),
		Columns: im.Columns, Skipped: im.Skipped, Warnings: slices.Concat([]string{}, im.Warnings), Portions: []Placed{},
	}
	if out.Columns == nil {
		out.Columns = []exchange.ColumnMeaning{}
	}
	if out.Skipped == nil {
		out.Skipped = []exchange.Skip{}
	}
	if n := im.Rejected(); n > 0 && !q.LeaveOut {
		for _, s := range im.Skipped {
			if s.Rejected {
				return nil, invalid("put it right in the file, or take the rest with --leave-out-bad-rows",
					"%s: %d rows cannot be right, so nothing was taken; the first is line %d: %s", q.File, n, s.Line, s.Reason)
			}
		}
	}
	face, err := observations.ParseFace(q.Face)
	if err != nil {
		return nil, &Error{Kind: ErrInvalid, Msg: err.Error()}
	}
	if len(im.Readings) == 0 {
		return nil, invalid("see `lyefast reading import --dry-run` for how its columns were understood", "%s holds no reading", q.File)
	}
	// Asked before the book is made: a file for nobody makes none.
	if err := a.read(ctx, func(tx *store.Tx) error {
		_, err := a.places(ctx, tx, q, im.Readings)
		return err
	}); err != nil {
		return nil, err
	}
	err = a.change(ctx, fmt.Sprintf("import %d readings from %s", len(im.Readings), clipped(q.File)), func(tx *store.Tx) error {
		places, err := a.places(ctx, tx, q, im.Readings)
		if err != nil {
			return err
		}
		list, err := a.placed(q, im.Readings, im.Digests(), places, face, out)
		if err != nil {
			return err
		}
		im.Readings = nil
		_, out.Added, err = tx.AddReadings(ctx, sourceName(q.File), list, q.Progress)
		return err
	})
	if err != nil {
		return nil, err
	}
	out.Known = out.Read - out.Added
	return out, nil
}

// sourceName is what a file is remembered by; a file always has a name, since an
// empty one stands for what was typed.
func sourceName(file string) string {
	if file == "" {
		return "a file"
	}
	return file
}

// placing is the portion a name stands for.
type placing struct {
	batch   *observations.Batch
	portion *observations.Portion
	slots   []observations.Slot
	n       int
}

// places finds the portion of every name in a file, or says which it cannot.
func (a *App) places(ctx context.Context, tx *store.Tx, q ImportQuery, list []exchange.Sample) (map[string]*placing, error) {
	out := map[string]*placing{}
	batches := map[string]*observations.Batch{}
	var unknown []string
	var why error
	last := "\x00"
	for i := range list {
		name := list[i].Name
		if name == last {
			continue
		}
		last = name
		if _, done := out[name]; done {
			continue
		}
		p, err := a.place(ctx, tx, q, name, batches)
		var own *Error
		switch {
		case err == nil:
			out[name] = p
		case errors.As(err, &own):
			out[name] = nil
			unknown = append(unknown, name)
			if why == nil {
				why = err
			}
		default:
			return nil, err
		}
	}
	if len(unknown) > 0 {
		say := unknown
		more := ""
		if len(say) > 5 {
			say, more = say[:5], fmt.Sprintf(" and %d more", len(unknown)-5)
		}
		return nil, &Error{Kind: ErrNotFound, Err: why, Msg: fmt.Sprintf("%s: it is not clear which portion %s%s is; nothing was taken", q.File, quoted(say), more),
			Tip: `say it with --batch HD-07 (names are its portions), --to HD-07/tide (all rows) or --name "Sample 1=HD-07/tide"`}
	}
	return out, nil
}

// place finds the portion one name of a file stands for.
func (a *App) place(ctx context.Context, tx *store.Tx, q ImportQuery, name string, batches map[string]*observations.Batch) (*placing, error) {
	target := q.To
	for from, to := range q.Names {
		if store.NameKey(from) == store.NameKey(name) {
			target = to
		}
	}
	if target == "" && q.Batch != "" {
		target = q.Batch + "/" + name
	}
	if target == "" {
		target = name
	}
	code, rest := splitTarget(target)
	// In a batch of its own a name may repeat the code.
	if q.Batch != "" && target == q.Batch+"/"+name {
		if c, r := splitTarget(name); r != "" && store.NameKey(c) == store.NameKey(q.Batch) {
			rest = r
		}
	}
	b := batches[store.NameKey(code)]
	if b == nil {
		found, err := findBatch(ctx, tx, code)
		if err != nil {
			return nil, err
		}
		b = &found
		batches[store.NameKey(code)] = b
	}
	p, err := portionOf(b, rest)
	if err != nil {
		return nil, err
	}
	return &placing{batch: b, portion: p, slots: b.Slots(a.Now().Location())}, nil
}

// placed turns samples into readings of their portions.
func (a *App) placed(q ImportQuery, samples []exchange.Sample, sums [][16]byte, places map[string]*placing, face observations.Face, out *ImportSaid) ([]store.Placed, error) {
	now := a.Now()
	readings := make([]observations.Reading, len(samples))
	list := make([]store.Placed, len(samples))
	var at when.When
	for i := range samples {
		s := &samples[i]
		pl := places[s.Name]
		pl.n++
		r := &readings[i]
		r.Way = observations.Way{Method: s.Method(), Illuminant: s.Illuminant, Observer: s.Observer, Instrument: s.Instrument, Face: face, Clock: s.TakenAt.TimeKnown}
		r.TakenAt = s.TakenAt.Time
		if !s.TakenAt.DateKnown {
			if q.At == "" {
				return nil, invalid(`give --at "2026-11-24" for rows without a date`, "%s, line %d: it is not known when %q was read; nothing was taken", q.File, s.Line, clipped(s.Name))
			}
			if at.Time.IsZero() {
				var err error
				if at, err = when.ParseDay(q.At, pl.batch.PouredAt, now); err != nil {
					return nil, &Error{Kind: ErrInvalid, Msg: "--at: " + err.Error()}
				}
			}
			r.TakenAt, r.Clock = at.Time, at.Clock
		}
		r.TakenAt = r.TakenAt.UTC().Truncate(time.Second)
		if !r.Clock && r.TakenAt.Before(pl.batch.PouredAt) && when.Days(pl.batch.PouredAt, r.TakenAt) == 0 {
			r.TakenAt = pl.batch.PouredAt
		}
		r.Early = q.Early || len(pl.slots) > 0 && r.TakenAt.Before(pl.slots[0].From)
		if r.Lab = s.LabD65; r.Lab == nil {
			out.NoD65++
		}
		if s.LabD65From != "as measured" {
			r.Original = fmt.Sprintf("Lab %.5g,%.5g,%.5g %s/%d°", s.Lab.L, s.Lab.A, s.Lab.B, s.Illuminant, s.Observer)
		}
		if err := r.Check(pl.batch, now); err != nil {
			return nil, &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("%s, line %d: nothing was taken", q.File, s.Line), Err: err}
		}
		// Half of the digest is enough to tell the readings of one portion at one moment apart.
		r.Key = int64(binary.BigEndian.Uint64(sums[i][:]))
		list[i] = store.Placed{Portion: pl.portion.ID, Reading: r}
	}
	for _, name := range sortedNames(places) {
		pl := places[name]
		out.Portions = append(out.Portions, Placed{Name: name, Portion: pl.batch.Code + "/" + pl.portion.Key(), Readings: pl.n})
	}
	if out.NoD65 > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("%d readings have no value for D65/2° (a 10° observer without spectra); they are kept, but no curve can use them", out.NoD65))
	}
	return list, nil
}

func sortedNames(m map[string]*placing) []string {
	names := make([]string, 0, len(m))
	for n := range m {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// ExportQuery asks for readings to be written.
type ExportQuery struct {
	// Target is a batch, a batter or a portion; "" is everything.
	Target string
	// Struck writes those that were struck out too.
	Struck bool
}

// exportColumns describe the table of readings.
var exportColumns = []exchange.Column{
	{Name: "id", Type: exchange.Integer}, {Name: "batch", Type: exchange.String}, {Name: "portion", Type: exchange.String},
	{Name: "taken_at", Type: exchange.DateTime, Description: "at noon where only the date is known"}, {Name: "clock_known", Type: exchange.Boolean},
	{Name: "day", Type: exchange.Number, Unit: "d", Description: "since the pour"},
	{Name: "L", Type: exchange.Number, Description: "CIELAB, D65, 2°"}, {Name: "a", Type: exchange.Number}, {Name: "b", Type: exchange.Number},
	{Name: "spots", Type: exchange.Integer}, {Name: "sd_L", Type: exchange.Number}, {Name: "sd_a", Type: exchange.Number}, {Name: "sd_b", Type: exchange.Number},
	{Name: "method", Type: exchange.String}, {Name: "illuminant", Type: exchange.String, Description: "of the value as measured"}, {Name: "observer_deg", Type: exchange.Integer},
	{Name: "instrument", Type: exchange.String}, {Name: "face", Type: exchange.String}, {Name: "early_cup", Type: exchange.Boolean},
	{Name: "original", Type: exchange.String, Description: "the value as measured or typed, where it is another"}, {Name: "words", Type: exchange.String},
	{Name: "note", Type: exchange.String}, {Name: "struck", Type: exchange.String, Description: "why it no longer counts"}, {Name: "source", Type: exchange.String},
}

// ExportReadings gives the readings as a table, by batch, portion and time.
func (a *App) ExportReadings(ctx context.Context, q ExportQuery) (*exchange.Table, error) {
	t := &exchange.Table{Name: "readings", Description: "Colours of soap over the cure, CIELAB for D65, 2°", Columns: exportColumns, Rows: [][]any{}}
	code, rest := splitTarget(q.Target)
	one := func(tx *store.Tx, b *observations.Batch) error {
		where, err := placeOf(b, rest)
		if err != nil {
			return err
		}
		for i := range b.Portions {
			p := &b.Portions[i]
			if !where.has(p) {
				continue
			}
			if err := tx.EachReading(ctx, p.ID, func(r observations.Reading) error {
				if r.Struck == "" || q.Struck {
					t.Rows = append(t.Rows, exportRow(b, p, &r))
				}
				return nil
			}); err != nil {
				return err
			}
		}
		return nil
	}
	if code != "" {
		return t, a.readBatch(ctx, code, one)
	}
	err := a.read(ctx, func(tx *store.Tx) error {
		list, err := tx.Batches(ctx, store.WhichBatches{})
		for i := range list {
			if err == nil {
				err = one(tx, &list[i])
			}
		}
		return err
	})
	return t, err
}

func exportRow(b *observations.Batch, p *observations.Portion, r *observations.Reading) []any {
	row := []any{int(r.ID), b.Code, p.Key(), r.TakenAt, r.Clock, float64(int(1000*b.Day(r.TakenAt)+0.5)) / 1000}
	if r.Lab != nil {
		row = append(row, r.Lab.L, r.Lab.A, r.Lab.B)
	} else {
		row = append(row, nil, nil, nil)
	}
	if r.Spots > 0 {
		row = append(row, r.Spots)
	} else {
		row = append(row, nil)
	}
	if r.Spread != nil {
		row = append(row, r.Spread.L, r.Spread.A, r.Spread.B)
	} else {
		row = append(row, nil, nil, nil)
	}
	return append(row, r.Method, r.Illuminant, r.Observer, r.Instrument, string(r.Face), r.Early, r.Original, r.Words, r.Note, r.Struck, r.Source)
}

// Reminders are the coming readings of the open batches as a calendar; nil where
// there is nothing to remind of.
func (a *App) Reminders(ctx context.Context) ([]byte, int, error) {
	now := a.Now()
	var events []exchange.Reminder
	err := a.read(ctx, func(tx *store.Tx) error {
		list, err := tx.Batches(ctx, store.WhichBatches{Open: true})
		if err != nil {
			return err
		}
		book, err := tx.BookID(ctx)
		if err != nil {
			return err
		}
		for i := range list {
			b := &list[i]
			_, assumed := b.Cut()
			revision, changed, err := tx.Revision(ctx, b.ID)
			if err != nil {
				return err
			}
			for _, s := range b.Slots(now.Location()) {
				if now.After(s.Until) {
					continue
				}
				var names []string
				for j := range b.Portions {
					done, err := tx.ReadWithin(ctx, b.Portions[j].ID, s.From, s.Until)
					if err != nil {
						return err
					}
					if !done {
						names = append(names, b.Portions[j].Key())
					}
				}
				if len(names) == 0 {
					continue
				}
				text := "Read " + strings.Join(names, ", ")
				if assumed {
					text += "\nThe cut has not been noted; it is taken to be a day after the pour."
				}
				events = append(events, exchange.Reminder{
					// The day after the cut names the reminder, so that it keeps its name when
					// the cut is noted and the date moves.
					UID: exchange.ReminderUID(book, b.Code, s.AfterCut), Day: s.At, Summary: fmt.Sprintf("Read %s, %d days after the cut", b.Code, s.AfterCut),
					Description: text, Sequence: revision - 1, Modified: changed,
				})
			}
		}
		return nil
	})
	if err != nil {
		return nil, 0, err
	}
	return exchange.Calendar(events, now), len(events), nil
}
