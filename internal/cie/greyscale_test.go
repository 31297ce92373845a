package cie

import (
	"math"
	"testing"

	"lyefast/internal/testkit"
)

func TestGreyScale(t *testing.T) {
	// The first row is a grey pair, whose ΔE_F is ΔE*ab and whose rating 4 is the
	// nominal step of ISO 105-A02. The rest were worked from the formulae of ISO
	// 105-A05 apart from this code, to four decimals.
	for _, c := range []struct {
		a, b         Lab
		e76, ef, gsc float64
		step         string
	}{
		{Lab{60, 0, 0}, Lab{61.7, 0, 0}, 1.7, 1.7, 4, "4"},
		{Lab{88, 1, 14}, Lab{85, 3, 19}, 6.1644, 5.7249, 2.2483, "2-3"},
		{Lab{88, 1, 14}, Lab{70, 8, 26}, 22.7376, 21.6494, 1, "1"},
		{Lab{60, 20, -12}, Lab{62, 17, -9}, 4.6904, 4.1194, 2.7231, "2-3"},
		{Lab{45, 12, 20}, Lab{44.6, 12.3, 20.5}, 0.7071, 0.6223, 4.6339, "4-5"},
		{Lab{38.9, -1.9, -28.7}, Lab{40.5, -2.5, -24}, 5.0010, 3.2871, 3.0664, "3"},
	} {
		r := GreyScale(c.a, c.b)
		if math.Abs(r.DeltaEF-c.ef) > 0.5001e-4 || math.Abs(r.Rating-c.gsc) > 0.5001e-4 || r.Step != c.step {
			t.Errorf("%v → %v: %+v, want %v %v %s", c.a, c.b, r, c.ef, c.gsc, c.step)
		}
		if d := DeltaE76(c.a, c.b); math.Abs(d-c.e76) > 0.5001e-4 {
			t.Errorf("%v → %v: ΔE*ab %v, want %v", c.a, c.b, d, c.e76)
		}
	}
}

// TestGreySteps takes the nine pairs of greys of ISO 105-A02:1993: each must be
// rated as the step it stands for, by eye and by instrument.
func TestGreySteps(t *testing.T) {
	for _, s := range []struct {
		word             string
		number, e76, tol float64
	}{
		{"5", 5, 0, 0.2}, {"4-5", 4.5, 0.8, 0.2}, {"4", 4, 1.7, 0.3}, {"3-4", 3.5, 2.5, 0.35},
		{"3", 3, 3.4, 0.4}, {"2-3", 2.5, 4.8, 0.5}, {"2", 2, 6.8, 0.6}, {"1-2", 1.5, 9.6, 0.7}, {"1", 1, 13.6, 1},
	} {
		r := GreyScale(Lab{41, 0, 0}, Lab{41 + s.e76, 0, 0})
		// The formula rounds the nominals' ratings: 0.8 gives 4.53.
		if r.Step != s.word || math.Abs(r.Rating-s.number) > 0.04 {
			t.Errorf("step %s: %+v", s.word, r)
		}
		for _, e := range []float64{s.e76, s.e76 + 0.99*s.tol} {
			if got := GreyStep(e); got != s.word {
				t.Errorf("ΔE*ab %v is step %q, want %q", e, got, s.word)
			}
		}
	}
}

func TestGreyStepsAgainstTheTable(t *testing.T) {
	rows := testkit.Table(t, testkit.Shared(t, "reference/grey-scale-iso105a05.csv"))
	if len(rows) != len(greySteps) {
		t.Fatalf("%d steps in the table, %d here", len(rows), len(greySteps))
	}
	for i, row := range rows {
		s := greySteps[i]
		if row["rating"] != s.word || number(t, row["a02_dEab_nominal"]) != s.nominal || number(t, row["a05_dEF_from"]) != s.from {
			t.Errorf("step %s: table %v", s.word, row)
		}
	}
}

// TestGreyScaleHoldsTogether asks of the rating what any difference must keep: no
// side, nothing for equal colours, no jump at the neutral axis or at hue 0.
func TestGreyScaleHoldsTogether(t *testing.T) {
	for _, p := range pairs(20_000) {
		there, back := GreyScale(p[0], p[1]), GreyScale(p[1], p[0])
		if math.Abs(there.DeltaEF-back.DeltaEF) > 1e-9 {
			t.Fatalf("%v: %v one way, %v the other", p, there, back)
		}
		if same := GreyScale(p[0], p[0]); same.DeltaEF != 0 || same.Rating != 5 || same.Step != "5" {
			t.Fatalf("%v from itself: %+v", p[0], same)
		}
		if there.Rating < 1 || there.Rating > 5 || there.Step == "" {
			t.Fatalf("%v: %+v", p, there)
		}
	}
	for _, hue := range []float64{0, 90, 180, 270, 300} {
		c := LCh{60, 30, hue}.Lab()
		at := GreyScale(Lab{60, 0, 0}, c).DeltaEF
		near := GreyScale(LCh{60, 1e-9, hue}.Lab(), c).DeltaEF
		if math.Abs(at-near) > 1e-6 {
			t.Errorf("hue %v: from a neutral %v, from nearly a neutral of that hue %v", hue, at, near)
		}
	}
	if d := math.Abs(GreyScale(LCh{60, 30, 359.9999}.Lab(), LCh{60, 20, 10}.Lab()).DeltaEF -
		GreyScale(LCh{60, 30, 0}.Lab(), LCh{60, 20, 10}.Lab()).DeltaEF); d > 1e-3 {
		t.Errorf("a jump of %v at hue 0", d)
	}
	if r := GreyScale(Lab{math.NaN(), 0, 0}, Lab{}); !math.IsNaN(r.Rating) || r.Step != "" || GreyStep(math.NaN()) != "" {
		t.Errorf("NaN gives %+v", r)
	}
}
