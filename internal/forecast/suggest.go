package forecast

import (
	"cmp"
	"math"
	"slices"

	"lyefast/internal/cie"
	"lyefast/internal/fragrance"
	"lyefast/internal/mixing"
	"lyefast/internal/unit"
)

// Suggestion is a set of colourants for a portion and what it settles on.
type Suggestion struct {
	Uses    []Use
	Settled cie.Lab
	// Delta is ΔE00 of Settled from the portion's target.
	Delta float64
}

// Shelf is what may be suggested: colourants whose colour is known and that keep
// it or come back to it. It is prepared once for all portions of a plan.
type Shelf struct {
	base    mixing.Base
	brown   fragrance.Params
	cond    fragrance.Conditions
	choices []choice
}

type choice struct {
	name  string
	c     mixing.Colorant
	doses []float64
}

// suggestDoses are steps of the dose that a swatch shows: from a tint to double,
// never beyond, since the swatch is all that is known of it.
var suggestDoses = []float64{0.1, 0.17, 0.3, 0.5, 0.75, 1, 1.5, 2}

// firstPicks is how many single colourants go on to be tried in pairs.
const firstPicks = 8

// NewShelf prepares the colourants that may be suggested for this plan.
func NewShelf(in Input, colorants []Colorant) (*Shelf, error) {
	base, err := mixing.BaseFromLab(in.Base.Lab, mixing.SoapSurface)
	if err != nil {
		return nil, err
	}
	pale, err := mixing.BaseFromLab(PaleBase, mixing.SoapSurface)
	if err != nil {
		return nil, err
	}
	s := &Shelf{base: base, brown: in.Priors.Centre(), cond: in.Conditions}
	for _, c := range colorants {
		if c.Own == nil || c.Own.Dose <= 0 || c.Clear || c.Pattern.Holds+c.Pattern.Returns < 0.7 {
			continue
		}
		kind := mixing.Colour
		if c.White {
			kind = mixing.White
		}
		m, err := mixing.FromSwatch(c.Own.Lab, float64(c.Own.Dose), pale, kind, mixing.SoapSurface)
		if err != nil {
			continue
		}
		ch := choice{name: c.Name, c: m}
		for _, f := range suggestDoses {
			ch.doses = append(ch.doses, benchDose(f*float64(c.Own.Dose)))
		}
		s.choices = append(s.choices, ch)
	}
	return s, nil
}

// benchDose rounds to two significant digits, what a bench scale can follow.
func benchDose(d float64) float64 {
	if d <= 0 {
		return 0
	}
	step := math.Pow(10, math.Floor(math.Log10(d))-1)
	return math.Round(d/step) * step
}

// For finds the one or two colourants that bring a portion nearest to its target
// when settled, with its scent. ok is false without a target or without choices.
func (s *Shelf) For(q Portion) (best Suggestion, ok bool) {
	if q.Target == nil || len(s.choices) == 0 {
		return Suggestion{}, false
	}
	u := 0.0
	if q.BrownDose > 0 {
		u = fragrance.EngineStrength(s.brown.U(Settled, float64(q.BrownDose), s.cond, q.Ratio))
	}
	best.Delta = math.Inf(1)
	try := func(extra float64, uses ...mixing.Dosed) float64 {
		lab := mixing.Mix(&s.base, uses, u, mixing.SoapSurface)
		d := cie.DeltaE00(lab, *q.Target)
		// A second colourant must earn its place on the scale.
		if d+extra < best.Delta {
			best.Delta, best.Settled = d+extra, lab
			return d
		}
		return d
	}
	type single struct {
		i     int
		delta float64
	}
	singles := make([]single, len(s.choices))
	for i := range s.choices {
		ch := &s.choices[i]
		singles[i] = single{i, math.Inf(1)}
		for _, d := range ch.doses {
			before := best.Delta
			got := try(0, mixing.Dosed{Dose: d, K: &ch.c.K, S: &ch.c.S})
			singles[i].delta = math.Min(singles[i].delta, got)
			if best.Delta < before {
				best.Uses = []Use{{ch.name, unit.GramsPerKg(d)}}
			}
		}
	}
	slices.SortFunc(singles, func(a, b single) int { return cmp.Or(cmp.Compare(a.delta, b.delta), cmp.Compare(a.i, b.i)) })
	const penalty = 0.5
	for x := range min(firstPicks, len(singles)) {
		for y := range s.choices {
			if singles[x].i == y {
				continue
			}
			a, b := &s.choices[singles[x].i], &s.choices[y]
			for _, da := range a.doses {
				for k := 0; k < len(b.doses); k += 2 {
					before := best.Delta
					try(penalty, mixing.Dosed{Dose: da, K: &a.c.K, S: &a.c.S}, mixing.Dosed{Dose: b.doses[k], K: &b.c.K, S: &b.c.S})
					if best.Delta < before {
						best.Uses = []Use{{a.name, unit.GramsPerKg(da)}, {b.name, unit.GramsPerKg(b.doses[k])}}
					}
				}
			}
		}
	}
	if len(best.Uses) == 2 {
		best.Delta -= penalty
	}
	return best, true
}
