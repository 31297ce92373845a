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
// it or come back to it. It serves all portions of a plan.
type Shelf struct {
	base    mixing.Base
	pale    mixing.Base
	brown   fragrance.Params
	cond    fragrance.Conditions
	choices []choice
}

type choice struct {
	Colorant
	k     mixing.Colorant
	doses []float64 // empty until the choice is first looked at
	dead  bool      // no absorption explains its swatch
}

// suggestDoses are steps of the dose that a swatch shows: from a tint to double,
// never beyond, since the swatch is all that is known of it. Pairs are tried on
// pairDoses of them.
var (
	suggestDoses = []float64{0.1, 0.17, 0.3, 0.5, 0.75, 1, 1.5, 2}
	pairDoses    = []int{1, 3, 5, 7}
)

// How many colourants are looked at for a target, and how many of the best go on
// to be tried first in a pair. A second colourant must earn its place on the
// scale: it has to come nearer by pairCost.
const (
	lookedAt   = 10
	firstPicks = 4
	pairCost   = 0.5
)

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
	s := &Shelf{base: base, pale: pale, brown: in.Priors.Centre(), cond: in.Conditions}
	for _, c := range colorants {
		if c.Own != nil && c.Own.Dose > 0 && !c.Clear && c.Pattern.Holds+c.Pattern.Returns >= 0.7 {
			s.choices = append(s.choices, choice{Colorant: c})
		}
	}
	return s, nil
}

// ready derives a choice's absorption the first time it is wanted.
func (s *Shelf) ready(c *choice) bool {
	if c.dead || len(c.doses) > 0 {
		return !c.dead
	}
	kind := mixing.Colour
	if c.White {
		kind = mixing.White
	}
	m, err := mixing.FromSwatch(c.Own.Lab, float64(c.Own.Dose), s.pale, kind, mixing.SoapSurface)
	if c.dead = err != nil; c.dead {
		return false
	}
	c.k = m
	for _, f := range suggestDoses {
		c.doses = append(c.doses, benchDose(f*float64(c.Own.Dose)))
	}
	return true
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
	cost := math.Inf(1)
	try := func(extra float64, uses ...part) float64 {
		var dosed [2]mixing.Dosed
		for i, p := range uses {
			dosed[i] = mixing.Dosed{Dose: p.dose, K: &p.c.k.K, S: &p.c.k.S}
		}
		lab := mixing.Mix(&s.base, dosed[:len(uses)], u, mixing.SoapSurface)
		d := cie.DeltaE00(lab, *q.Target)
		if d+extra < cost {
			cost, best = d+extra, Suggestion{Settled: lab, Delta: d}
			for _, p := range uses {
				best.Uses = append(best.Uses, Use{p.c.Name, unit.GramsPerKg(p.dose)})
			}
		}
		return d
	}
	near := s.nearest(*q.Target)
	single := map[*choice]float64{}
	for _, c := range near {
		single[c] = math.Inf(1)
		for _, d := range c.doses {
			single[c] = math.Min(single[c], try(0, part{c, d}))
		}
	}
	slices.SortStableFunc(near, func(a, b *choice) int { return cmp.Compare(single[a], single[b]) })
	for x := range min(firstPicks, len(near)) {
		for y := x + 1; y < len(near); y++ {
			a, b := near[x], near[y]
			if a.White && b.White {
				continue
			}
			for _, i := range pairDoses {
				for _, j := range pairDoses {
					try(pairCost, part{a, a.doses[i]}, part{b, b.doses[j]})
				}
			}
		}
	}
	return best, len(best.Uses) > 0
}

type part struct {
	c    *choice
	dose float64
}

// nearest picks the choices worth a look: those whose swatch is nearest to the
// target, and every white and black, which lighten and darken anything.
func (s *Shelf) nearest(target cie.Lab) []*choice {
	type ranked struct {
		c *choice
		d float64
	}
	rank := make([]ranked, len(s.choices))
	for i := range s.choices {
		c := &s.choices[i]
		rank[i] = ranked{c, cie.DeltaE00(c.Own.Lab, target)}
		if c.White || c.Own.Lab.LCh().C < 5 {
			rank[i].d *= 0.5
		}
	}
	slices.SortStableFunc(rank, func(a, b ranked) int { return cmp.Compare(a.d, b.d) })
	var out []*choice
	for _, r := range rank {
		if len(out) == lookedAt {
			break
		}
		if s.ready(r.c) {
			out = append(out, r.c)
		}
	}
	return out
}
