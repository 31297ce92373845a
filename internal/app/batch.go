package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"lyefast/internal/formula"
	"lyefast/internal/near"
	"lyefast/internal/observations"
	"lyefast/internal/store"
	"lyefast/internal/unit"
	"lyefast/internal/when"
)

// PourQuery freezes a plan into the book.
type PourQuery struct {
	// Data is the plan file's content, File its name for messages.
	Data []byte
	File string
	// At is when it was poured, in human words; empty is now.
	At string
	// Code is the batch's short name; empty makes one from the title.
	Code string
	// Gel, Storage, Place and CureAt are as on [observations.Batch]. Where they are
	// empty the plan's own word holds, then the room.
	Gel, Storage, Place string
	CureAt              *unit.Celsius
	// Schedule is days after the cut, "0,1,3,7"; empty is the default.
	Schedule string
	// Control names the batter of a bare control portion; empty pours none.
	Control string
	// Lots gives lots of colourants by name, over those of the shelf.
	Lots map[string]string
	Note string
}

// Pour is what pouring a plan made.
type Pour struct {
	Batch observations.Batch `json:"batch"`
	// ControlOffer is the one-time offer of a bare control with its reason, "" where
	// there is one or nothing to compare with it.
	ControlOffer string              `json:"control_offer,omitempty"`
	Due          []observations.Item `json:"due"`
	// Notes say what was assumed.
	Notes []string `json:"notes"`
}

// ControlWords offer a bare control portion.
const ControlWords = "a bare control (a little of the batter without colourant and scent, beside the bars) tells a change of the soap itself from a change of a colourant; without it whitening and tanning are only modelled"

// WantsControl tells whether a plan has something to compare and no bare portion.
func WantsControl(p formula.Plan) bool {
	coloured := false
	for _, b := range p.Batters {
		for _, q := range b.Portions {
			scented := q.Scented && p.Fragrance != nil && (b.Rate == nil || *b.Rate > 0)
			if len(q.Colorants) == 0 && !scented {
				return false
			}
			coloured = true
		}
	}
	return coloured
}

// PourPlan freezes a plan into the book: weights, doses, lots, what was forecast, and
// when to read.
func (a *App) PourPlan(ctx context.Context, q PourQuery) (*Pour, error) {
	p, err := readPlan(q.Data, q.File)
	if err != nil {
		return nil, err
	}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	e, err := s.evaluate(p)
	if err != nil {
		return nil, err
	}
	now := a.Now()
	b, notes, err := e.frozen(s, q, now)
	if err != nil {
		return nil, err
	}
	err = a.change(ctx, "pour "+p.Title, func(tx *store.Tx) error {
		codes, err := tx.BatchCodes(ctx)
		if err != nil {
			return err
		}
		if b.Code == "" {
			b.Code = observations.NewCode(b.Title, func(code string) bool {
				return slices.ContainsFunc(codes, func(c string) bool { return store.NameKey(c) == store.NameKey(code) })
			})
		}
		return tx.AddBatch(ctx, &b)
	})
	if errors.Is(err, store.ErrExists) {
		return nil, &Error{Kind: ErrExists, Msg: fmt.Sprintf("there is a batch %s already", b.Code), Tip: "choose another --code, or leave it out"}
	}
	if err != nil {
		return nil, err
	}
	r := &Pour{Batch: b, Notes: notes, Due: observations.Due(&b, now, func(*observations.Portion, observations.Slot) bool { return false })}
	if r.Due == nil {
		r.Due = []observations.Item{}
	}
	if q.Control == "" && WantsControl(p) {
		r.ControlOffer = ControlWords
	}
	return r, nil
}

// frozen makes a batch of an evaluated plan.
func (e *evaluation) frozen(s Shelf, q PourQuery, now time.Time) (observations.Batch, []string, error) {
	p := e.in.Plan
	b := observations.Batch{
		Code: strings.TrimSpace(q.Code), Title: p.Title, Plan: string(q.Data), Place: strings.TrimSpace(q.Place), CureAt: q.CureAt,
		Note: q.Note, Batters: []observations.Batter{}, Portions: []observations.Portion{},
	}
	notes := []string{}
	bad := func(err error) (observations.Batch, []string, error) {
		return b, nil, &Error{Kind: ErrInvalid, Msg: "pour " + p.Title, Err: err}
	}
	if b.Code != "" {
		if err := observations.CheckCode(b.Code); err != nil {
			return bad(err)
		}
	}
	at := when.When{Time: now, Clock: true}
	if q.At != "" {
		var err error
		if at, err = when.Parse(q.At, now); err != nil {
			return bad(err)
		}
	}
	if at.Time.After(now.Add(time.Minute)) && (at.Clock || when.Days(now, at.Time) > 0) {
		return bad(fmt.Errorf("%s is in the future; a batch is entered when it has been poured", at.Echo(now)))
	}
	b.PouredAt, b.PouredClock = at.Time.UTC().Truncate(time.Second), at.Clock
	if !at.Clock {
		notes = append(notes, "the time of the pour is not known; noon is taken, so days are right to half a day")
	}
	var err error
	if b.Gel, err = observations.ParseGel(q.Gel); err != nil {
		return bad(err)
	}
	light := q.Storage
	if light == "" {
		light = p.Pour.Light
	}
	if b.Storage, err = observations.ParseStorage(light); err != nil {
		return bad(err)
	}
	if b.CureAt == nil {
		b.CureAt = p.Pour.CureAt
	}
	if b.CureAt != nil && !(*b.CureAt >= -20 && *b.CureAt <= 80) {
		return bad(fmt.Errorf("a cure place of %g °C is outside -20–80 °C", float64(*b.CureAt)))
	}
	if len(b.Place) > 200 || len(b.Note) > 2000 {
		return bad(errors.New("the place or the note is too long"))
	}
	if b.Schedule, err = observations.ParseSchedule(q.Schedule); err != nil {
		return bad(err)
	}
	n := 0
	for i := range e.in.Recipe.Pots {
		pot := &e.in.Recipe.Pots[i]
		t := observations.Batter{
			Name: pot.Name, Oils: pot.Oils, Water: pot.Water, Total: pot.Total, Concentration: pot.LyeConcentration, Discount: pot.Discount,
			FreshWater: pot.Fresh.WaterFraction(), BatterAt: p.Pour.BatterAt, Stabilizer: pot.Stabilizer.Name, StabilizerG: pot.Stabilizer.Grams,
		}
		if pot.Fragrance > 0 {
			t.Fragrance, t.FragranceGrams, t.FragranceRate = pot.FragranceName, pot.Fragrance, pot.FragranceRate
		}
		if t.StabilizerG > 0 && t.Stabilizer == "" {
			t.Stabilizer = "stabiliser"
		}
		b.Batters = append(b.Batters, t)
		for j := range pot.Portions {
			b.Portions = append(b.Portions, e.frozenPortion(s, q, i, j, n))
			n++
		}
	}
	if q.Control != "" {
		t, err := b.Batter(q.Control)
		if err != nil {
			return bad(fmt.Errorf("control: %w", err))
		}
		c := observations.Portion{Batter: t.Name, Name: "bare", Control: true, Colorants: []observations.PortionDose{}}
		if _, err := b.Portion(c.Key()); err == nil {
			c.Name = "bare control"
		}
		base := e.in.Forecast.Base.Lab
		c.AtPour, c.Settled = &base, &base
		b.Portions = append(b.Portions, c)
	}
	return b, notes, nil
}

func (e *evaluation) frozenPortion(s Shelf, q PourQuery, i, j, n int) observations.Portion {
	pot := &e.in.Recipe.Pots[i]
	w := &pot.Portions[j]
	o := observations.Portion{Batter: pot.Name, Name: w.Name, Grams: w.Grams, Target: e.in.Plan.Batters[i].Portions[j].Target, Colorants: []observations.PortionDose{}}
	if w.Fragrance > 0 {
		o.Fragrance, o.FragranceRate = pot.FragranceName, w.FragranceRate
		if sc := e.in.Scent; sc != nil && i < len(sc.Pots) && j < len(sc.Pots[i].Portions) {
			o.Ratio = sc.Pots[i].Ratio
			if f := sc.Fragrance; f.Vanillin != nil || f.EthylVanillin != nil {
				d := unit.Percent(sc.Pots[i].Portions[j].Dose)
				o.BrownDose = &d
			}
		}
	}
	if n < len(e.in.Forecast.Outcomes) {
		f := &e.in.Forecast.Outcomes[n]
		if f.Settled != nil {
			o.Settled = &f.Settled.Lab
		}
		if len(f.Days) > 0 && f.Days[0].Colour != nil {
			o.AtPour = &f.Days[0].Colour.Lab
		}
	}
	for _, c := range w.Colorants {
		d := observations.PortionDose{Name: c.Name, Dose: c.PerKg, Grams: c.Grams, Lot: e.in.Colorants[c.Name].Product.Lot}
		for name, lot := range q.Lots {
			if store.NameKey(name) == store.NameKey(c.Name) {
				d.Lot = lot
			}
		}
		o.Colorants = append(o.Colorants, d)
	}
	return o
}

// BatchShown is a batch with everything noted of it.
type BatchShown struct {
	observations.Batch
	Events   []observations.Event    `json:"events"`
	Dryness  []observations.Dryness  `json:"drying"`
	Lessons  []observations.Lesson   `json:"lessons"`
	Pots     []observations.Pot      `json:"at_the_pot"`
	Weights  []observations.Weighing `json:"weighings"`
	Readings map[string]int          `json:"readings"` // by portion, at most [mostShown] counted
}

// Batches lists the batches by the time of the pour; closed ones only if asked for.
func (a *App) Batches(ctx context.Context, closed bool) ([]observations.Batch, error) {
	list := []observations.Batch{}
	err := a.read(ctx, func(tx *store.Tx) (err error) {
		list, err = tx.Batches(ctx, store.WhichBatches{Open: !closed})
		return err
	})
	return list, err
}

// Batch shows one batch.
func (a *App) Batch(ctx context.Context, code string) (*BatchShown, error) {
	var r *BatchShown
	err := a.readBatch(ctx, code, func(tx *store.Tx, b *observations.Batch) error {
		r = &BatchShown{Batch: *b, Readings: map[string]int{}}
		var err error
		if r.Events, err = tx.Events(ctx, b.ID); err != nil {
			return err
		}
		if r.Weights, err = tx.Weighings(ctx, b.ID); err != nil {
			return err
		}
		if r.Lessons, err = tx.Lessons(ctx, b.ID); err != nil {
			return err
		}
		for i := range b.Portions {
			list, _, err := tx.Readings(ctx, b.Portions[i].ID, mostShown)
			if err != nil {
				return err
			}
			r.Readings[b.Portions[i].Key()] = len(list)
		}
		r.Dryness = observations.WaterOf(b, r.Weights)
		r.Pots = observations.PotsOf(b, r.Events)
		return nil
	})
	return r, err
}

// mostShown bounds how many readings of a portion are listed, mostRead how many are
// looked at for a curve.
const (
	mostShown = 500
	mostRead  = 120
)

// readBatch runs f on a batch found by its code.
func (a *App) readBatch(ctx context.Context, code string, f func(*store.Tx, *observations.Batch) error) error {
	found := false
	err := a.read(ctx, func(tx *store.Tx) error {
		b, err := findBatch(ctx, tx, code)
		if err != nil {
			return err
		}
		found = true
		return f(tx, &b)
	})
	if err == nil && !found {
		err = noBatch(code, nil)
	}
	return err
}

// changeBatch runs f on a batch found by its code, as one change. The book is not
// made just to find nothing in it.
func (a *App) changeBatch(ctx context.Context, code, what string, f func(*store.Tx, *observations.Batch) error) error {
	if err := a.readBatch(ctx, code, func(_ *store.Tx, b *observations.Batch) error {
		code = b.Code
		return nil
	}); err != nil {
		return err
	}
	return a.change(ctx, code+": "+what, func(tx *store.Tx) error {
		b, err := findBatch(ctx, tx, code)
		if err != nil {
			return err
		}
		return f(tx, &b)
	})
}

func findBatch(ctx context.Context, tx *store.Tx, code string) (observations.Batch, error) {
	b, err := tx.Batch(ctx, strings.TrimSpace(code))
	if errors.Is(err, store.ErrNotFound) {
		codes, err := tx.BatchCodes(ctx)
		if err != nil {
			return b, err
		}
		return b, noBatch(code, codes)
	}
	return b, err
}

func noBatch(code string, have []string) error {
	tip := "see `lyefast batch list --closed`; `lyefast batch pour PLAN` makes one"
	if close := near.Near(code, have); len(close) > 0 {
		tip = "did you mean " + quoted(close) + "?"
	}
	return &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("no batch is called %q", clipped(code)), Tip: tip}
}

// BatchChange is what of a batch may be put right after the pour; nil leaves it.
type BatchChange struct {
	Gel, Storage, Place, Schedule, Note *string
	CureAt                              *unit.Celsius
}

// EditBatch changes what of a batch may change after the pour.
func (a *App) EditBatch(ctx context.Context, code string, c BatchChange) (observations.Batch, error) {
	var out observations.Batch
	err := a.changeBatch(ctx, code, "edit", func(tx *store.Tx, b *observations.Batch) error {
		var err error
		if c.Gel != nil {
			b.Gel, err = observations.ParseGel(*c.Gel)
		}
		if c.Storage != nil && err == nil {
			b.Storage, err = observations.ParseStorage(*c.Storage)
		}
		if c.Schedule != nil && err == nil {
			b.Schedule, err = observations.ParseSchedule(*c.Schedule)
		}
		if c.Place != nil && err == nil {
			if b.Place = strings.TrimSpace(*c.Place); len(b.Place) > 200 {
				err = errors.New("the place is too long")
			}
		}
		if c.Note != nil && err == nil {
			if b.Note = *c.Note; len(b.Note) > 2000 {
				err = errors.New("the note is too long")
			}
		}
		if c.CureAt != nil && err == nil {
			if b.CureAt = c.CureAt; !(*c.CureAt >= -20 && *c.CureAt <= 80) {
				err = fmt.Errorf("a cure place of %g °C is outside -20–80 °C", float64(*c.CureAt))
			}
		}
		if err != nil {
			return &Error{Kind: ErrInvalid, Msg: "edit " + b.Code, Err: err}
		}
		out = *b
		return tx.UpdateBatch(ctx, b)
	})
	return out, err
}

// CloseBatch ends a batch's reminders, or opens it again.
func (a *App) CloseBatch(ctx context.Context, code string, open bool) (observations.Batch, error) {
	var out observations.Batch
	verb := "close"
	if open {
		verb = "open again"
	}
	err := a.changeBatch(ctx, code, verb, func(tx *store.Tx, b *observations.Batch) error {
		switch {
		case open && b.ClosedAt == nil:
			return invalid("", "%s is open already", b.Code)
		case !open && b.ClosedAt != nil:
			return invalid("", "%s was closed on %s already", b.Code, b.ClosedAt.Format(time.DateOnly))
		case open:
			b.ClosedAt = nil
		default:
			at := tx.Now().UTC().Truncate(time.Second)
			b.ClosedAt = &at
		}
		out = *b
		return tx.UpdateBatch(ctx, b)
	})
	return out, err
}

// PlanOf gives the plan a batch was poured from, for a new plan of the same.
func (a *App) PlanOf(ctx context.Context, code string) (string, error) {
	var text string
	err := a.readBatch(ctx, code, func(_ *store.Tx, b *observations.Batch) error {
		text = b.Plan
		return nil
	})
	return text, err
}

// place is what "HD-07", "HD-07/slab" or "HD-07/slab/tide" names.
type place struct {
	batter  string
	portion *observations.Portion
}

// has tells whether a portion lies in the place; the zero place is the whole batch.
func (w place) has(p *observations.Portion) bool {
	return (w.portion == nil || p == w.portion) && (w.batter == "" || p.Batter == w.batter)
}

// momentOf reads when something of a batch happened; nothing said is now.
func (a *App) momentOf(b *observations.Batch, at string) (when.When, error) {
	if at == "" {
		return when.When{Time: a.Now(), Clock: true}, nil
	}
	return when.ParseDay(at, b.PouredAt, a.Now())
}

// placeOf finds what follows the code of a batch: nothing, a batter or a portion.
func placeOf(b *observations.Batch, rest string) (place, error) {
	if rest == "" {
		return place{}, nil
	}
	for i := range b.Batters {
		if store.NameKey(b.Batters[i].Name) == store.NameKey(rest) {
			return place{batter: b.Batters[i].Name}, nil
		}
	}
	p, err := b.Portion(rest)
	if err != nil {
		return place{}, &Error{Kind: ErrNotFound, Msg: err.Error()}
	}
	return place{batter: p.Batter, portion: p}, nil
}

// splitTarget parts "HD-07/slab/tide" into the code and the rest; a blank does as
// well as the first stroke.
func splitTarget(target string) (code, rest string) {
	target = strings.TrimSpace(target)
	i := strings.IndexAny(target, "/ ")
	if i < 0 {
		return target, ""
	}
	return target[:i], strings.TrimSpace(target[i+1:])
}
