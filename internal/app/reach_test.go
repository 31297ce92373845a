package app

import (
	"context"
	"math"
	"slices"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

func reached(t *testing.T, a *App, q ReachQuery) *ReachSaid {
	t.Helper()
	q.Data, q.File = []byte(duskPlan), "dusk.toml"
	r, err := a.Reach(context.Background(), q)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestReachIsWhatMixSays: a proposal is a mixture which mix, asked for its doses, gives the
// same colour, of doses that can be weighed and were read.
func TestReachIsWhatMixSays(t *testing.T) {
	a := newBook(t)
	learnTable(t, a, pastTable(t, 30, false))
	base := cie.Lab{L: 89, A: -0.5, B: 9}
	r := reached(t, a, ReachQuery{Base: &base})
	if len(r.Portions) != 1 || r.Portions[0].Name != "tide" || r.Generic || r.Colorants != 3 {
		t.Fatalf("%+v", r)
	}
	q := r.Portions[0]
	if len(q.Candidates) == 0 || q.Whitest == nil {
		t.Fatalf("nothing found: %+v", q)
	}
	k, err := a.knowledge(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	last := math.Inf(1)
	for _, c := range append(q.Candidates, *q.Whitest) {
		var doses []MixDose
		sum := unit.Grams(0)
		for _, d := range c.Colorants {
			if steps := 10 * float64(d.Grams); math.Abs(steps-math.Round(steps)) > 1e-6 || steps == 0 {
				t.Errorf("%v g of %s cannot be weighed on a scale of 0.1 g", d.Grams, d.Name)
			}
			key, err := k.find(d.Name)
			if err != nil {
				t.Fatal(err)
			}
			if l, _ := k.shelf.Colorant(key); float64(d.Dose) > l.MaxDose+1e-6 {
				t.Errorf("%v of %s, read to %v", d.Dose, d.Name, l.MaxDose)
			}
			doses, sum = append(doses, MixDose{d.Name, d.Dose}), sum+d.Grams
		}
		if math.Abs(float64(sum-c.Grams)) > 1e-9 {
			t.Errorf("%v g in all, want %v", c.Grams, sum)
		}
		m, err := a.Mix(context.Background(), MixQuery{Base: &base, Doses: doses})
		if err != nil {
			t.Fatal(err)
		}
		if d := cie.DeltaE00(*m.Mixtures[0].Lab, c.Lab); d > 0.05 {
			t.Errorf("%s: mix says %v, reach %v", c.Words(), *m.Mixtures[0].Lab, c.Lab)
		}
	}
	for _, c := range q.Candidates {
		if math.Abs(c.Delta-cie.DeltaE00(c.Lab, *q.Target)) > 0.01 || c.Delta >= last {
			t.Errorf("%s: off by %.2f after %.2f", c.Words(), c.Delta, last)
		}
		last = c.Delta
	}
	if q.Whitest.Lab.L <= q.Browned.Lab.L-0.5 {
		t.Errorf("the whitest white %v is darker than the bare soap %v", q.Whitest.Lab, q.Browned.Lab)
	}
}

// TestReachOptions: one colourant at most, a coarse scale, doses beyond, a palette.
func TestReachOptions(t *testing.T) {
	a := newBook(t)
	learnTable(t, a, pastTable(t, 30, false))
	dark := cie.Lab{L: 25, A: 3, B: -35}
	one := reached(t, a, ReachQuery{Target: &dark, AtMost: 1})
	far := reached(t, a, ReachQuery{Target: &dark, AtMost: 1, Beyond: true, Palette: true})
	if len(one.Portions) != 1 {
		t.Errorf("two alike portions are said %d times", len(one.Portions))
	}
	x, y := one.Portions[0].Candidates, far.Portions[0].Candidates
	if len(x) != 1 || len(x[0].Colorants) != 1 || y[0].Delta >= x[0].Delta {
		t.Errorf("inside what was read %+v, beyond %+v", x, y)
	}
	p := far.Portions[0].Palette
	if p == nil || len(p.Edges) == 0 || p.Lightest.Lab.L <= p.Darkest.Lab.L {
		t.Fatalf("palette %+v", p)
	}
	// A blue and a red on pale soap reach blues and reds and no green.
	hues := func(from, to float64) bool {
		return slices.ContainsFunc(p.Edges, func(e GamutEdge) bool {
			return e.Hue >= from && e.Hue <= to && math.Hypot(e.Lab.A, e.Lab.B) > 20
		})
	}
	if !hues(0, 60) || !hues(240, 300) || hues(120, 180) {
		t.Errorf("palette %+v", p.Edges)
	}
	for _, q := range []ReachQuery{{AtMost: 4}, {Scale: -1}} {
		q.Data, q.File = []byte(duskPlan), "dusk.toml"
		if _, err := a.Reach(context.Background(), q); err == nil {
			t.Errorf("%+v was taken", q)
		}
	}
}

// TestReachEmptyBook: without a colourant of one's own the generic pigments are tried, and
// that is said.
func TestReachEmptyBook(t *testing.T) {
	r := reached(t, newBook(t), ReachQuery{AtMost: 1})
	if !r.Generic || r.Colorants == 0 || r.Grounds != GuessWords || len(r.Portions[0].Candidates) != 1 {
		t.Errorf("%+v", r)
	}
}
