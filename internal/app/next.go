package app

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"lyefast/internal/kinetics"
	"lyefast/internal/mixing"
	"lyefast/internal/observations"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// NextQuery asks what to try next for plans.
type NextQuery struct {
	// Plans; none takes those of the open batches.
	Plans []NextPlan
	// Most is how many test pours to name, 0 = 3.
	Most int
	// Progress is told how far it is, if not nil.
	Progress func(done, all int)
}

// mostOpen bounds how many plans of open batches are looked at, the latest.
const mostOpen = 5

// openPlans takes the plans of the batches that still cure, each plan once.
func (a *App) openPlans(ctx context.Context, q *NextQuery) error {
	list, err := a.Batches(ctx, false)
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	slices.SortStableFunc(list, func(x, y observations.Batch) int { return y.PouredAt.Compare(x.PouredAt) })
	for i := range list {
		b := &list[i]
		if !seen[b.Plan] && len(q.Plans) < mostOpen {
			seen[b.Plan] = true
			q.Plans = append(q.Plans, NextPlan{Data: []byte(b.Plan), File: b.Code})
		}
	}
	if len(q.Plans) == 0 {
		return invalid("such as lyefast shelf next harbour.toml", "no batch is open; name the plans to narrow the bands of")
	}
	return nil
}

// NextPlan is one open plan.
type NextPlan struct {
	Data []byte
	File string
}

// NextSaid names test pours.
type NextSaid struct {
	Grounds string `json:"grounds"`
	// Now is the mean band of the plans' portions, about the ΔE00 that 90 % stay within;
	// After with all pours named here. nil where no portion has a number.
	Now   *float64   `json:"band_now_delta_e00"`
	After *float64   `json:"band_after_delta_e00"`
	Pours []TestPour `json:"pours"`
	// Enough says that no pour would narrow a band by a tenth.
	Enough bool `json:"enough"`
}

// TestPour is a portion of bare base with one colourant.
type TestPour struct {
	Colorant string          `json:"colorant"`
	Dose     unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	// Now and Then are the mean bands of the portions that hold it, without and with the
	// pour read; nil where there is no number yet, because its colour is not known at all.
	Now  *float64 `json:"band_now_delta_e00"`
	Then *float64 `json:"band_then_delta_e00"`
	// Portions are those, "batter/portion", or "file: batter/portion" with several plans.
	Portions []string `json:"portions"`
	Because  string   `json:"because"`
}

// nextPortion is a portion of an open plan.
type nextPortion struct {
	name   string
	recipe mixing.Recipe
}

// mostTried bounds how many colourants are tried out, those with the most portions first.
const mostTried = 12

// worthPouring is the share by which a pour must narrow the bands to be named (assumed).
const worthPouring = 0.1

// Next names the few small test pours that would narrow the bands of the plans most: it
// learns once more as if each had been poured and read at the colour forecast for it.
func (a *App) Next(ctx context.Context, q NextQuery) (*NextSaid, error) {
	if len(q.Plans) == 0 {
		if err := a.openPlans(ctx, &q); err != nil {
			return nil, err
		}
	}
	if q.Most == 0 {
		q.Most = 3
	}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := a.learned(ctx, &s)
	if err != nil {
		return nil, err
	}
	mine := *kept.learning
	mine.names, mine.prior.Colorants = maps.Clone(kept.names), maps.Clone(kept.prior.Colorants)
	l := &mine
	var open []nextPortion
	for _, f := range q.Plans {
		list, err := s.open(l, f, len(q.Plans) > 1)
		if err != nil {
			return nil, err
		}
		open = append(open, list...)
	}
	k, err := a.fitOf(l, l.content())
	if err != nil {
		return nil, err
	}
	return k.next(ctx, a, open, q)
}

// open lists the portions of a plan and adds what it describes in place to what is known.
func (s *Shelf) open(l *learning, f NextPlan, several bool) ([]nextPortion, error) {
	p, err := readPlan(f.Data, f.File)
	if err != nil {
		return nil, err
	}
	e, err := s.evaluate(p)
	if err != nil {
		return nil, err
	}
	for name, c := range e.in.Colorants {
		key := store.NameKey(name)
		if _, ok := l.prior.Colorants[key]; !ok {
			l.prior.Colorants[key], l.names[key] = priorOf(c), name
		}
	}
	var out []nextPortion
	for _, ask := range e.asks(&e.asked) {
		if len(ask.Recipe.Doses) == 0 {
			continue
		}
		n := nextPortion{name: ask.Key, recipe: ask.Recipe}
		n.recipe.BaseSD = readSD
		if several {
			n.name = f.File + ": " + n.name
		}
		out = append(out, n)
	}
	return out, nil
}

// candidate is a pour that is tried out, with the bands it leaves.
type candidate struct {
	key    string
	dose   float64
	bands  []float64 // of every portion, NaN = no number
	gain   float64   // mean fall of the bands of all portions
	unseen bool      // no colour is known: nothing can be reckoned
}

func (k *knowledge) next(ctx context.Context, a *App, open []nextPortion, q NextQuery) (*NextSaid, error) {
	out := &NextSaid{Grounds: k.grounds(), Pours: []TestPour{}}
	if len(open) == 0 {
		out.Enough = true
		return out, nil
	}
	now := k.bands(open)
	out.Now = meanOf(now, nil)
	var tries []candidate
	for _, key := range used(open) {
		var doses []float64
		for _, n := range open {
			for _, d := range n.recipe.Doses {
				if d.Colorant == key && !slices.Contains(doses, d.Dose) {
					doses = append(doses, d.Dose)
				}
			}
		}
		slices.Sort(doses)
		middle := round2(doses[len(doses)/2])
		if c, ok := k.shelf.Colorant(key); !ok || c.MaxDose == 0 {
			tries = append(tries, candidate{key: key, dose: middle, unseen: true})
			continue
		}
		for _, dose := range slices.Compact([]float64{middle, round2(2 * middle)}) {
			tries = append(tries, candidate{key: key, dose: dose})
		}
	}
	err := inOrder(ctx, len(tries), func(i int) (candidate, error) {
		c := tries[i]
		if c.unseen {
			return c, nil
		}
		more, err := k.poured(a, open[0].recipe, c)
		if err != nil || more == nil {
			return c, err
		}
		c.bands = more.bands(open)
		for j := range c.bands {
			if d := now[j] - c.bands[j]; d > 0 {
				c.gain += d / float64(len(open))
			}
		}
		return c, nil
	}, func(i int, c candidate) error {
		tries[i] = c
		if q.Progress != nil {
			q.Progress(i+1, len(tries))
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	// A colourant of which nothing is known comes first; of each the better dose.
	slices.SortStableFunc(tries, func(x, y candidate) int {
		if x.unseen != y.unseen {
			return map[bool]int{true: -1, false: 1}[x.unseen]
		}
		return cmp.Compare(y.gain, x.gain)
	})
	var chosen []candidate
	seen := map[string]bool{}
	for _, c := range tries {
		if seen[c.key] || len(chosen) == q.Most {
			continue
		}
		seen[c.key] = true
		if pour, ok := k.pour(c, open, now); ok {
			chosen, out.Pours = append(chosen, c), append(out.Pours, pour)
		}
	}
	out.Enough = len(chosen) == 0
	if all, err := k.poured(a, open[0].recipe, chosen...); err != nil {
		return nil, err
	} else if all != nil {
		out.After = meanOf(all.bands(open), now)
	}
	return out, nil
}

func round2(v float64) float64 { return math.Round(100*v) / 100 }

// used lists the colourants of the portions, those in most of them first.
func used(open []nextPortion) []string {
	n := map[string]int{}
	for _, p := range open {
		for _, d := range p.recipe.Doses {
			n[d.Colorant]++
		}
	}
	keys := slices.Sorted(maps.Keys(n))
	slices.SortStableFunc(keys, func(x, y string) int { return n[y] - n[x] })
	return keys[:min(len(keys), mostTried)]
}

// poured learns as if pours had been read at the colours forecast for them; nil if none
// of them has one.
func (k *knowledge) poured(a *App, in mixing.Recipe, pours ...candidate) (*knowledge, error) {
	l := *k.learning
	l.portions, l.sources, l.held = slices.Clone(l.portions), slices.Clone(l.sources), slices.Clone(l.held)
	before := len(l.portions)
	for _, c := range pours {
		r := mixing.Recipe{Base: in.Base, BaseSD: readSD, Doses: []mixing.Amount{{Colorant: c.key, Dose: c.dose}}}
		p, err := k.shelf.Predict(r)
		if err != nil {
			return nil, err
		}
		if p.Known() {
			lab := p.Lab
			lab.L = min(lab.L, 100)
			l.add(mixing.Portion{Recipe: r, Name: "test pour", Lab: lab, SD: readSD}, source{portion: "test pour"}, 0)
		}
	}
	if len(l.portions) == before {
		return nil, nil
	}
	return a.fit(&l)
}

// bands are about the ΔE00 that 90 % of each portion's colours stay within; NaN where
// there is no number.
func (k *knowledge) bands(open []nextPortion) []float64 {
	out := make([]float64, len(open))
	for i, n := range open {
		out[i] = math.NaN()
		if p, err := k.shelf.Predict(n.recipe); err == nil && p.Known() {
			out[i] = radius(kinetics.Band{Median: p.Lab, P05: p.P05, P95: p.P95})
		}
	}
	return out
}

// meanOf is the mean of what is a number, and is one in like too unless that is nil.
func meanOf(list, like []float64) *float64 {
	sum, n := 0.0, 0
	for i, v := range list {
		if !math.IsNaN(v) && (like == nil || !math.IsNaN(like[i])) {
			sum += v
			n++
		}
	}
	if n == 0 {
		return nil
	}
	mean := round2(sum / float64(n))
	return &mean
}

// pour says what a pour would bring to the portions that hold its colourant; ok is false
// where that is not worth a pour.
func (k *knowledge) pour(c candidate, open []nextPortion, now []float64) (TestPour, bool) {
	out := TestPour{Colorant: k.names[c.key], Dose: unit.GramsPerKg(c.dose), Portions: []string{}}
	var before, after []float64
	for i, n := range open {
		if slices.ContainsFunc(n.recipe.Doses, func(d mixing.Amount) bool { return d.Colorant == c.key }) {
			out.Portions = append(out.Portions, n.name)
			before = append(before, now[i])
			if c.bands != nil {
				after = append(after, c.bands[i])
			}
		}
	}
	if c.unseen {
		out.Because = "its colour is not known: without a reading there is no forecast of these portions"
		return out, true
	}
	out.Now, out.Then = meanOf(before, nil), meanOf(after, nil)
	if l, ok := k.shelf.Colorant(c.key); ok && l.Reads == 0 {
		out.Because = "it is known by its swatch only"
	} else {
		out.Because = fmt.Sprintf("it was read in %s", portionsWord(l.Reads))
	}
	if out.Now == nil && out.Then != nil {
		return out, true // the pour brings a number
	}
	return out, out.Now != nil && out.Then != nil && *out.Then <= (1-worthPouring)**out.Now
}
