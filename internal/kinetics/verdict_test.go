package kinetics

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lyefast/internal/cie"
)

// portion reads a made-up path on the given days with a little noise.
func portion(t testing.TB, seed uint64, sd float64, days []float64, path func(day float64) cie.Lab) Curve {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 2))
	var points []Point
	for _, d := range days {
		noise := cie.Lab{L: sd * r.NormFloat64(), A: sd * r.NormFloat64(), B: sd * r.NormFloat64()}
		points = append(points, Point{Day: d, Lab: path(d).Add(noise)})
	}
	return mustFit(t, points, DefaultPrior())
}

var (
	slate  = cie.Lab{L: 55, A: -6, B: -18} // a blue of the quay
	rust   = cie.Lab{L: 48, A: 24, B: 20}
	dawn   = cie.Lab{L: 78, A: 18, B: 14}
	steady = func(float64) cie.Lab { return slate }
)

func goesOff(by cie.Lab) func(float64) cie.Lab {
	return func(day float64) cie.Lab { return slate.Add(by.Scale(Pulse(day, 0.5, 0.1))) }
}

func lands(on cie.Lab, half float64) func(float64) cie.Lab {
	return func(day float64) cie.Lab { return on.Add(slate.Sub(on).Scale(Decay(day, half))) }
}

func loses(c cie.Lab, share float64) func(float64) cie.Lab {
	return func(day float64) cie.Lab {
		k := 1 - share*day/SettledDay
		return cie.Lab{L: c.L + (1-k)*12, A: c.A * k, B: c.B * k}
	}
}

var keen = []float64{0.1, 0.25, 0.5, 1, 2, 3, 7, 14, 28, 42}

// TestClassify: the four kinds of the drift rules, browning, and the refusals.
func TestClassify(t *testing.T) {
	fromCut := keen[4:]
	browning := func(day float64) cie.Lab { m := brown(1); return slate.Add(m(day)).Sub(m(0)) }
	for _, c := range []struct {
		name      string
		days      []float64
		path      func(float64) cie.Lab
		sd        float64
		reference *cie.Lab
		want      Kind
	}{
		{"holds", keen, steady, 0.4, &slate, Steady},
		{"returns", keen, goesOff(cie.Lab{L: -6, A: 14, B: 12}), 0.4, &slate, CameBack},
		{"lands elsewhere", keen, lands(rust, 0.5), 0.4, &slate, Elsewhere},
		{"jumped within the hour, then flat", keen, func(float64) cie.Lab { return rust }, 0.4, &slate, Elsewhere},
		{"fades", keen, loses(dawn, 0.7), 0.4, &dawn, Fading},
		{"fades, no reference", keen, loses(dawn, 0.7), 0.4, nil, Fading},
		{"browns", keen, browning, 0.4, &slate, Browning},
		{"flat, but no reference", keen, steady, 0.4, nil, NotEnough},
		{"read from the cut on", fromCut, steady, 0.4, &slate, Steady},
		{"read from the second week on: the first was not seen", keen[7:], steady, 0.4, &slate, NotEnough},
		{"read from the cut on, landed elsewhere", fromCut, func(float64) cie.Lab { return rust }, 0.4, &slate, Elsewhere},
		{"a week only", keen[:6], lands(rust, 2), 0.4, &slate, NotEnough},
		{"by eye, not said", keen, steady, 5, &slate, NotEnough},
		{"nothing read", nil, steady, 0, &slate, NotEnough},
	} {
		w := Classify(portion(t, 3, c.sd, c.days, c.path), c.reference)
		if w.Kind != c.want || w.Because == "" {
			t.Errorf("%s: %q (%s), noise %.1f, moved %.1f, excursion %.1f; want %q", c.name, w.Kind, w.Because, w.Noise, w.Moved, w.Excursion, c.want)
		}
	}
}

// TestClassifyTable repeats the synthetic check of the drift rules at the noise of
// a mean of three readings, 0.4 an axis: all four kinds are told apart.
func TestClassifyTable(t *testing.T) {
	for seed := range uint64(15) {
		r := rand.New(rand.NewPCG(seed, 9))
		turn := 0.7 + 0.6*r.Float64()
		for want, path := range map[Kind]func(float64) cie.Lab{
			Steady:    steady,
			CameBack:  goesOff(cie.Lab{L: -8, A: 18, B: 15}.Scale(turn)),
			Elsewhere: lands(rust, 0.4*turn),
			Fading:    loses(dawn, 0.7*turn),
		} {
			reference := slate
			if want == Fading {
				reference = dawn
			}
			if w := Classify(portion(t, seed, 0.4/math.Sqrt(3), keen, path), &reference); w.Kind != want {
				t.Errorf("seed %d: %q (%s), want %q", seed, w.Kind, w.Because, want)
			}
		}
	}
}

func TestNear(t *testing.T) {
	for _, c := range []struct {
		name string
		c    cie.Lab
		want bool
	}{
		{"itself", slate, true},
		{"a little lighter", cie.Lab{L: 60, A: -6, B: -18}, true},
		{"a third of its chroma", cie.Lab{L: 55, A: -2, B: -6}, false},
		{"hue turned by 30 degrees", func() cie.Lab { h := slate.LCh(); h.H += 30; return h.Lab() }(), false},
		{"hue turned by 15 degrees", func() cie.Lab { h := slate.LCh(); h.H -= 15; return h.Lab() }(), true},
		{"another lightness altogether", cie.Lab{L: 95, A: -6, B: -18}, false},
	} {
		if Near(c.c, slate) != c.want {
			t.Errorf("%s: %v", c.name, !c.want)
		}
	}
	grey := cie.Lab{L: 60, A: 1, B: 1}
	if !Near(cie.Lab{L: 60, A: -1, B: 1}, grey) || Near(cie.Lab{L: 60, A: -8, B: 1}, grey) {
		t.Error("near a grey, the distance alone decides")
	}
	// The hue circle closes at 360°.
	if !Near(cie.LCh{L: 50, C: 30, H: 355}.Lab(), cie.LCh{L: 50, C: 30, H: 5}.Lab()) {
		t.Error("10 degrees across red are 10 degrees")
	}
}

func TestBleeds(t *testing.T) {
	plain := cie.Lab{L: 88, A: 0, B: 10}
	stained := cie.Lab{L: 82, A: -3, B: 0}
	if !Bleeds(plain, plain, stained, plain, slate, 0.5) {
		t.Error("plain soap grew blue beside slate")
	}
	if Bleeds(plain, plain, plain, plain, slate, 0.5) || Bleeds(stained, plain, stained, plain, slate, 0.5) ||
		Bleeds(plain, plain, cie.Lab{L: 70, A: 6, B: 25}, plain, slate, 0.5) || Bleeds(plain, plain, stained, plain, slate, 5) {
		t.Error("no change, an old stain, a stain of another colour and coarse readings are no bleeding")
	}
}

func batchOf(t testing.TB, seed uint64, path func(float64) cie.Lab) Batch {
	return Batch{Curve: portion(t, seed, 0.3, keen, path), Reference: &slate}
}

// TestJudge: the mapping from patterns to standings.
func TestJudge(t *testing.T) {
	held := batchOf(t, 1, steady)
	came := batchOf(t, 2, goesOff(cie.Lab{L: -6, A: 14, B: 12}))
	toRust, toRust2 := batchOf(t, 3, lands(rust, 0.8)), batchOf(t, 4, lands(rust.Add(cie.Lab{L: 1, A: 1}), 0.7))
	toDawn := batchOf(t, 5, lands(dawn, 0.8))
	jumped := batchOf(t, 6, func(float64) cie.Lab { return rust })
	faded := batchOf(t, 7, loses(slate, 0.8))
	bled := held
	bled.Bled = true
	coarse := Batch{Curve: portion(t, 8, 0.3, keen[:4], steady), Reference: &slate}
	bare := held
	bare.Reference = nil
	inert := Chemistry{Weight: [4]float64{0.94, 0.02, 0.02, 0.02}}
	shifter := Chemistry{Weight: [4]float64{0.1, 0.05, 0.8, 0.05}, Lands: &rust}
	fragile := Chemistry{Weight: [4]float64{0.05, 0.05, 0.6, 0.3}, Destroyed: true}
	for _, c := range []struct {
		name    string
		batches []Batch
		label   Chemistry
		want    Standing
		lands   *cie.Lab
		refused string
	}{
		{"one that held", []Batch{held}, Chemistry{}, Stable, &slate, ""},
		{"one that came back", []Batch{came}, Chemistry{}, Shifting, &slate, ""},
		{"one that landed elsewhere", []Batch{toRust}, Chemistry{}, Unknown, &rust, "neither the label nor two batches"},
		{"two that landed together", []Batch{toRust, toRust2}, Chemistry{}, Shifting, &rust, ""},
		{"two that landed apart", []Batch{toRust, toDawn}, Chemistry{}, Unreliable, nil, ""},
		{"one that landed, and a label that knows where", []Batch{toRust}, shifter, Shifting, &rust, ""},
		{"a label that knows where, no batch", nil, shifter, Shifting, &rust, ""},
		{"a label that says it breaks down", nil, fragile, Unreliable, nil, ""},
		{"it breaks down, but twice to the same colour", []Batch{toRust, toRust2}, fragile, Shifting, &rust, ""},
		{"jumped within the hour, twice alike", []Batch{jumped, jumped}, Chemistry{}, Shifting, &rust, ""},
		{"one that faded", []Batch{faded}, Chemistry{}, Unreliable, nil, ""},
		{"held but bled", []Batch{bled}, inert, Unreliable, nil, ""},
		{"a label that expects bleeding", nil, Chemistry{Weight: inert.Weight, Bleeds: 0.8}, Unreliable, nil, ""},
		{"too early to say", []Batch{coarse}, Chemistry{}, Unknown, nil, "known to ±"},
		{"nothing known", nil, Chemistry{}, Unknown, nil, "no batch"},
		{"no reference", []Batch{bare}, Chemistry{}, Unknown, nil, "no reference colour"},
		{"no reference, but an inert pigment", []Batch{bare}, inert, Stable, &slate, ""},
		{"an inert pigment, no batch", nil, inert, Stable, nil, ""},
		{"half and half", []Batch{held, toRust}, Chemistry{}, Unknown, nil, "more probable than not"},
	} {
		v := Judge(c.batches, c.label)
		if v.Standing != c.want || (v.Refused == "") != (c.refused == "") || !strings.Contains(v.Refused, c.refused) {
			t.Errorf("%s: %q %.2f, refused %q, patterns %.2f; want %q", c.name, v.Standing, v.Probability, v.Refused, v.Pattern, c.want)
		}
		if (v.Standing != Unknown) != (v.Probability >= 0.5) {
			t.Errorf("%s: %q at probability %.2f", c.name, v.Standing, v.Probability)
		}
		if (v.Lands == nil) != (c.lands == nil) || c.lands != nil && !Agree(*v.Lands, *c.lands) {
			t.Errorf("%s: lands on %v, want %v", c.name, v.Lands, c.lands)
		}
		if len(v.Windows) != len(c.batches) {
			t.Errorf("%s: %d windows for %d batches", c.name, len(v.Windows), len(c.batches))
		}
	}
}

// TestMoreBatchesMakeSurer: agreeing batches raise the probability, one that
// disagrees lowers it.
func TestMoreBatchesMakeSurer(t *testing.T) {
	var batches []Batch
	last := 0.0
	for seed := range uint64(4) {
		batches = append(batches, batchOf(t, seed, steady))
		v := Judge(batches, Chemistry{})
		if v.Probability <= last || v.Batches != len(batches) {
			t.Errorf("%d batches: %.3f, one less %.3f", v.Batches, v.Probability, last)
		}
		last = v.Probability
	}
	if v := Judge(append(batches, batchOf(t, 9, lands(rust, 1))), Chemistry{}); v.Probability >= last || v.Standing != Stable {
		t.Errorf("with one that landed elsewhere: %q %.3f", v.Standing, v.Probability)
	}
}
