package app

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"lyefast/internal/kinetics"
	"lyefast/internal/observations"
	"lyefast/internal/store"
	"lyefast/internal/unit"
	"lyefast/internal/when"
)

// EventQuery notes something at the pot or the rack.
type EventQuery struct {
	// Target is "HD-07", "HD-07/slab" or "HD-07/slab/tide".
	Target string
	// Kind in the maker's words; "no gel", "partial gel" and "full gel" say how far.
	Kind string
	// At in human words; empty is now. After is minutes after the fragrance instead,
	// "about 6 min".
	At, After string
	// Value is a temperature, a scent of 0–5 or mm bled, with its unit; empty = none.
	Value string
	Note  string
}

// EventNoted is an event as it went into the book.
type EventNoted struct {
	Batch string `json:"batch"`
	observations.Event
	// Understood is the moment in words.
	Understood string `json:"understood"`
	// Note that the cut or the gel of the batch was set by it.
	Set string `json:"set,omitempty"`
}

// AddEvent notes an event.
func (a *App) AddEvent(ctx context.Context, q EventQuery) (*EventNoted, error) {
	code, rest := splitTarget(q.Target)
	out := &EventNoted{}
	err := a.changeBatch(ctx, code, "note "+clipped(q.Kind), func(tx *store.Tx, b *observations.Batch) error {
		return a.addEvent(ctx, tx, b, rest, q, out)
	})
	return out, err
}

// addEvent reads and writes one event within a change.
func (a *App) addEvent(ctx context.Context, tx *store.Tx, b *observations.Batch, rest string, q EventQuery, out *EventNoted) error {
	bad := func(err error) error {
		return &Error{Kind: ErrInvalid, Msg: "note event of " + b.Code, Err: err}
	}
	e := observations.Event{Note: strings.TrimSpace(q.Note)}
	at, err := placeOf(b, rest)
	if err != nil {
		return err
	}
	if e.Batter = at.batter; at.portion != nil {
		e.Portion = at.portion.Key()
	}
	gel, isGel, err := gelWord(q.Kind)
	if err != nil {
		return bad(err)
	}
	if isGel {
		e.Kind = observations.Gelling
		if e.Note == "" {
			e.Note = string(gel)
		}
	} else if e.Kind, err = observations.ParseKind(q.Kind); err != nil {
		return bad(err)
	}
	if atThePot(e.Kind) && e.Batter == "" {
		t, err := b.Batter("")
		if err != nil {
			return &Error{Kind: ErrInvalid, Msg: "note event of " + b.Code, Err: err, Tip: fmt.Sprintf("name it like %s/%s", b.Code, b.Batters[0].Name)}
		}
		e.Batter = t.Name
	}
	now := a.Now()
	w, err := a.momentOf(b, q.At)
	if err != nil {
		return bad(err)
	}
	if q.At == "" && q.After != "" {
		w = when.When{Time: b.PouredAt, Clock: false}
	}
	e.At, e.Clock = w.Time.UTC().Truncate(time.Second), w.Clock
	if q.After != "" {
		m, _, err := observations.ParseMinutes(q.After)
		if err != nil {
			return bad(err)
		}
		e.AfterMinutes = &m
	}
	if q.Value != "" {
		v, err := observations.ParseValue(e.Kind, q.Value)
		if err != nil {
			return bad(err)
		}
		e.Value = &v
	}
	if err := e.Check(b, now); err != nil {
		return bad(err)
	}
	if e.ID, err = tx.AddEvent(ctx, b.ID, e); err != nil {
		return err
	}
	out.Batch, out.Event = b.Code, e
	if q.After != "" {
		out.Understood = fmt.Sprintf("%g min after the fragrance", *e.AfterMinutes)
	} else {
		out.Understood = w.Echo(now)
	}
	return a.eventSets(ctx, tx, b, e, gel, isGel, out)
}

// eventSets lets an event set what it says of the whole batch: the cut, or the gel.
func (a *App) eventSets(ctx context.Context, tx *store.Tx, b *observations.Batch, e observations.Event, gel observations.Gel, isGel bool, out *EventNoted) error {
	switch {
	case isGel:
		b.Gel = gel
		out.Set = "gel: " + string(gel)
	case e.Kind == observations.Cutting, e.Kind == observations.Unmould && b.CutAt == nil:
		at := e.At
		b.CutAt = &at
		out.Set = "readings are counted from this day"
	default:
		return nil
	}
	return tx.UpdateBatch(ctx, b)
}

// atThePot tells the kinds that belong to one batter.
func atThePot(k observations.Kind) bool {
	switch k {
	case observations.Emulsion, observations.FragranceIn, observations.LightTrace, observations.MediumTrace, observations.ThickTrace,
		observations.FalseTrace, observations.Ricing, observations.Seizing, observations.Separation, observations.Acceleration:
		return true
	}
	return false
}

// gelWord reads how far a batch gelled. The bare word says only that there was some,
// which is not enough.
func gelWord(kind string) (observations.Gel, bool, error) {
	switch store.NameKey(strings.ReplaceAll(kind, "-", " ")) {
	case "no gel", "did not gel", "ungelled", "gel none":
		return observations.GelNone, true, nil
	case "partial gel", "gel ring", "gel partial", "partly gelled":
		return observations.GelPartial, true, nil
	case "full gel", "gel full", "fully gelled":
		return observations.GelFull, true, nil
	case "gel", "gelled", "gelling", "gel phase":
		return "", false, fmt.Errorf(`how far did it gel? say "no gel", "partial gel" or "full gel"`)
	}
	return "", false, nil
}

// WeighQuery notes a bar's weight.
type WeighQuery struct {
	// Target is "HD-07", or "HD-07/slab" for a batch of several batters.
	Target string
	Grams  unit.Grams
	// Bar tells bars apart, in the maker's words.
	Bar  string
	At   string
	Note string
}

// Weighed is a weight with what it says of the water.
type Weighed struct {
	Batch string `json:"batch"`
	observations.Weighing
	Understood string `json:"understood"`
	// Drying is the bar's record with this weighing in it.
	Drying observations.Dryness `json:"drying"`
	// Fit is the drying curve, nil before four weighings or where they show none.
	Fit *DryingFit `json:"fit"`
}

// AddWeighing notes a weight.
func (a *App) AddWeighing(ctx context.Context, q WeighQuery) (*Weighed, error) {
	code, rest := splitTarget(q.Target)
	out := &Weighed{}
	err := a.changeBatch(ctx, code, "weigh", func(tx *store.Tx, b *observations.Batch) error {
		bad := func(err error) error { return &Error{Kind: ErrInvalid, Msg: "weigh " + b.Code, Err: err} }
		pot, err := b.Batter(rest)
		if err != nil {
			return bad(err)
		}
		now := a.Now()
		w, err := a.momentOf(b, q.At)
		if err != nil {
			return bad(err)
		}
		g := observations.Weighing{At: w.Time.UTC().Truncate(time.Second), Clock: w.Clock, Batter: pot.Name, Bar: strings.TrimSpace(q.Bar), Grams: q.Grams, Note: q.Note}
		if err := g.Check(b, now); err != nil {
			return bad(err)
		}
		if g.ID, err = tx.AddWeighing(ctx, b.ID, g); err != nil {
			return err
		}
		list, err := tx.Weighings(ctx, b.ID)
		if err != nil {
			return err
		}
		out.Batch, out.Weighing, out.Understood = b.Code, g, w.Echo(now)
		for _, d := range observations.WaterOf(b, list) {
			if d.Batter == g.Batter && d.Bar == g.Bar {
				out.Drying = d
				out.Fit = fitDrying(d, pot.FreshWater)
			}
		}
		return nil
	})
	return out, err
}

// DryingFit is a bar's drying curve.
type DryingFit struct {
	End  unit.Grams `json:"end_g"`
	Days float64    `json:"time_constant_days"`
	// ToGo is what the bar will still lose from its last weighing on.
	ToGo unit.Grams `json:"to_go_g"`
}

// fitDrying fits the drying curve of a bar; nil before four weighings or where they
// show none.
func fitDrying(d observations.Dryness, water float64) *DryingFit {
	list := []kinetics.Weighing{{Day: d.FreshDay, Grams: d.Fresh}}
	for _, s := range d.Steps {
		if s.Impossible {
			return nil
		}
		list = append(list, kinetics.Weighing{Day: s.Day, Grams: s.Grams})
	}
	f, err := kinetics.FitDrying(list, d.Fresh*unit.Grams(1-water))
	if err != nil {
		return nil
	}
	togo := list[len(list)-1].Grams - f.End
	return &DryingFit{End: tenth(f.End), Days: math.Round(10*f.Days) / 10, ToGo: tenth(max(0, togo))}
}
