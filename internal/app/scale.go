package app

import (
	"context"

	"lyefast/internal/formula"
	"lyefast/internal/unit"
)

// ScaleQuery asks for a plan in another size. Exactly one of the sizes is given.
type ScaleQuery struct {
	Data []byte
	File string
	// Oils and Total are masses over all pots together, 0 = not asked.
	Oils, Total unit.Grams
	// Moulds are to be filled by all pots together.
	Moulds []unit.Millilitres
	// LeftOil is the oil of which Left is to be used up.
	LeftOil string
	Left    unit.Grams
}

// Scaled is a plan in another size.
type Scaled struct {
	Title  string       `json:"title"`
	Factor float64      `json:"factor"`
	Before []BatterSaid `json:"before"`
	After  []BatterSaid `json:"after"`
	// Plan is the scaled plan file.
	Plan string `json:"plan_toml"`
}

// ScalePlan scales a plan; shares, discount, lye concentration and rates stay.
func (a *App) ScalePlan(ctx context.Context, q ScaleQuery) (*Scaled, error) {
	p, err := readPlan(q.Data, q.File)
	if err != nil {
		return nil, err
	}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	before, err := s.evaluate(p)
	if err != nil {
		return nil, err
	}
	r := before.in.Recipe
	var scaled formula.Plan
	out := &Scaled{Title: p.Title}
	switch {
	case q.Oils > 0:
		scaled, out.Factor, err = formula.ScaleToOils(p, r, q.Oils)
	case q.Total > 0:
		scaled, out.Factor, err = formula.ScaleToTotal(p, r, q.Total)
	case len(q.Moulds) > 0:
		scaled, out.Factor, err = formula.ScaleToMoulds(p, r, q.Moulds...)
	default:
		scaled, out.Factor, err = formula.ScaleToOilLeft(p, r, q.LeftOil, q.Left)
	}
	if err != nil {
		return nil, &Error{Kind: ErrInvalid, Msg: err.Error()}
	}
	after, err := s.evaluate(scaled)
	if err != nil {
		return nil, err
	}
	out.Before, out.After = before.said().Batters, after.said().Batters
	out.Plan = string(formula.WritePlan(scaled))
	return out, nil
}
