package fragrance

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

func useOf(oils, usage float64) Use {
	return Use{Oils: unit.Grams(oils), Fragrance: unit.Grams(oils * usage / 100)}
}

// linear gives the colour at the centre of the beliefs and its sd by propagation of
// the learned coordinates.
func linear(p Priors, b *Base, day, dose float64, c Conditions) (centre, sd cie.Lab) {
	at := func(z Coords) cie.Lab {
		q := p.Apply(z)
		return b.path(q.U(day, dose, c, 0), q.Slope, q.Red)
	}
	centre = at(Coords{})
	for k := range learned {
		var z Coords
		z[k] = 1e-4
		d := at(z).Sub(centre).Scale(1e4)
		sd = cie.Lab{L: math.Hypot(sd.L, d.L), A: math.Hypot(sd.A, d.A), B: math.Hypot(sd.B, d.B)}
	}
	return centre, sd
}

// Case 2 (5 % vanillin at 5 % usage) after no reading, one phone picture, one
// colorimeter reading and three of them, as printed. a* and b* of the three were not
// printed and are put on the path.
func TestCalibrateAsPrinted(t *testing.T) {
	base := baseOf(t, DefaultBase)
	dose := doseOf(t, Fragrance{Vanillin: percent(5)}, useOf(1000, 5)).Percent
	read := func(day float64, m Method, lab cie.Lab) Reading {
		return Reading{Fragrance: "amber", Dose: dose, Base: DefaultBase, Day: day, Conditions: ungelled, Lab: lab, Method: m}
	}
	onPath := func(l float64) cie.Lab { return base.Path(base.Strength(l)) }
	once := cie.Lab{L: 70, A: 5, B: 22}
	for _, c := range []struct {
		name                   string
		readings               []Reading
		strength, sdLn         float64
		l14, sd14, l42, sd42   float64
		tolL                   float64
		final                  cie.Lab // whole colour on day 42 where printed
		checkFinal, betterThan bool
	}{
		{"none", nil, 1.20, 0.61, 62.6, 8.0, 58.8, 7.9, 0.1, cie.Lab{}, false, false},
		{"one phone", []Reading{read(14, PhoneCard, once)}, 0.77, 0.36, 68.5, 3.6, 64.5, 4.0, 0.1, cie.Lab{L: 64.5, A: 6.1, B: 24.9}, true, true},
		{"one colorimeter", []Reading{read(14, Colorimeter, once)}, 0.72, 0.29, 69.4, 2.2, 65.4, 2.8, 0.15, cie.Lab{}, false, true},
		{"three", []Reading{read(7, Colorimeter, onPath(73.5)), read(14, Colorimeter, onPath(70)), read(42, Colorimeter, onPath(66.5))},
			0.68, 0.19, 69.7, 1.4, 66.0, 1.8, 0.1, cie.Lab{}, false, true},
	} {
		post, err := Calibrate(c.readings, DefaultPriors())
		if err != nil {
			t.Fatal(err)
		}
		a, sd := post.Strength("amber")
		within(t, c.name+": A·η", a, c.strength, 0.006)
		within(t, c.name+": sd of its ln", sd, c.sdLn, 0.006)
		beliefs := post.For("amber")
		got14, sd14 := linear(beliefs, base, 14, dose, ungelled)
		got42, sd42 := linear(beliefs, base, 42, dose, ungelled)
		within(t, c.name+": L* day 14", got14.L, c.l14, c.tolL)
		within(t, c.name+": sd day 14", sd14.L, c.sd14, 0.07)
		within(t, c.name+": L* day 42", got42.L, c.l42, c.tolL)
		within(t, c.name+": sd day 42", sd42.L, c.sd42, 0.07)
		if c.checkFinal {
			within(t, c.name+": a* day 42", got42.A, c.final.A, 0.3) // printed with the observer fits
			within(t, c.name+": b* day 42", got42.B, c.final.B, 0.1)
			if w := Word(got42.L); w != "tan" {
				t.Errorf("%s: %s on day 42", c.name, w)
			}
		}
	}
}

// The sum on paper, with the figures of its printed example. That example says L*
// 68.2 for u 0.506; its own short form gives 68.0.
func TestScalarShift(t *testing.T) {
	priors := DefaultPriors()
	dose := doseOf(t, Fragrance{Vanillin: percent(5)}, useOf(1000, 5)).Percent
	u := ShortStrength(70)
	within(t, "u observed", u, 0.424, 0.0005)
	slope := (math.Log(ShortStrength(69.99)) - math.Log(ShortStrength(70.01))) / 0.02
	s := priors.Shift(u, slope, 4, 14, dose, ungelled, 0)
	within(t, "z", s.Z, -0.609, 0.001)
	within(t, "sd before", s.PriorSD, 0.648, 0.0006)
	within(t, "sd of the reading", s.ReadingSD, 0.413, 0.0006)
	within(t, "weight", s.Weight, 0.711, 0.0006)
	within(t, "shift", s.Shift, -0.433, 0.0006)
	p := priors.Centre()
	predicted := p.U(14, dose, ungelled, 0)
	within(t, "u predicted", predicted, 0.780, 0.0006)
	within(t, "u after", predicted*math.Exp(s.Shift), 0.506, 0.0006)
	within(t, "L* after", ShortPath(predicted*math.Exp(s.Shift)).L, 68.2, 0.2)

	// Nothing to compare before the lag is over, nor at the base itself.
	if s := priors.Shift(u, slope, 4, 3, dose, ungelled, 1.5); s != (Shift{}) {
		t.Errorf("before the lag: %+v", s)
	}
	if s := priors.Shift(0, slope, 4, 14, dose, ungelled, 0); s != (Shift{}) {
		t.Errorf("no browning read: %+v", s)
	}
}

// Over simulated single readings the sum on paper stays near the full fit: 0.5 in L*
// at the median, 2.2 at the 90th percentile, 5 at worst were published for 54.
func TestScalarNearFullFit(t *testing.T) {
	priors := DefaultPriors()
	base := baseOf(t, DefaultBase)
	rng := rand.New(rand.NewPCG(54, 2))
	var apart []float64
	for range 54 {
		var z Coords
		for k := range learned {
			z[k] = rng.NormFloat64()
		}
		truth := priors.Apply(z)
		dose := 0.05 * math.Pow(10, rng.Float64())
		day := []float64{7, 14, 28}[rng.IntN(3)]
		lab := base.path(truth.U(day, dose, ungelled, 0), truth.Slope, truth.Red)
		lab = lab.Add(cie.Lab{L: 1.5 * rng.NormFloat64(), A: 0.8 * rng.NormFloat64(), B: 1.5 * rng.NormFloat64()})
		if lab.L > 86 {
			continue // under 3 L* from the base a reading says little of u
		}
		post, err := Calibrate([]Reading{{Fragrance: "x", Dose: dose, Base: DefaultBase, Day: day, Conditions: ungelled, Lab: lab, Method: Colorimeter}}, priors)
		if err != nil {
			t.Fatal(err)
		}
		beliefs := post.For("x")
		full, _ := linear(beliefs, base, day, dose, ungelled)
		s := priors.Shift(base.Strength(lab.L), base.StrengthSlope(lab.L), 1.5, day, dose, ungelled, 0)
		centre := priors.Centre()
		paper := base.Path(centre.U(day, dose, ungelled, 0) * math.Exp(s.Shift))
		apart = append(apart, math.Abs(full.L-paper.L))
	}
	slices.Sort(apart)
	t.Logf("%d readings: median %.2f, 90 %% %.2f, worst %.2f", len(apart), quantile(apart, 0.5), quantile(apart, 0.9), apart[len(apart)-1])
	if quantile(apart, 0.5) > 1 || quantile(apart, 0.9) > 3 || apart[len(apart)-1] > 6 {
		t.Errorf("median %.2f, 90 %% %.2f, worst %.2f", quantile(apart, 0.5), quantile(apart, 0.9), apart[len(apart)-1])
	}
}

// Recovery: with readings of two fragrances at doses a factor of eight apart, nine in
// ten of the true numbers lie within two posterior sds, and the sds have shrunk.
func TestCalibrateRecovers(t *testing.T) {
	priors := DefaultPriors()
	base := baseOf(t, DefaultBase)
	outside, checks := 0, 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 99))
		var z Coords
		for k := range learned {
			z[k] = rng.NormFloat64()
		}
		names := []string{"amber", "tonka"}
		etas := []float64{z[LnEta], rng.NormFloat64()}
		var readings []Reading
		for i, name := range names {
			z[LnEta] = etas[i]
			truth := priors.Apply(z)
			for _, dose := range []float64{0.05, 0.4} {
				for _, day := range []float64{1, 3, 7, 14, 28, 42} {
					lab := base.path(truth.U(day, dose, ungelled, 0), truth.Slope, truth.Red)
					lab = lab.Add(cie.Lab{L: 2.5 * rng.NormFloat64(), A: 1.7 * rng.NormFloat64(), B: 2.5 * rng.NormFloat64()})
					lab.L = clamp(lab.L, 0, 100)
					readings = append(readings, Reading{Fragrance: name, Dose: dose, Base: DefaultBase, Day: day, Conditions: ungelled, Lab: lab, Method: Colorimeter})
				}
			}
		}
		post, err := Calibrate(readings, priors)
		if err != nil {
			t.Fatal(err)
		}
		for i, name := range names {
			beliefs := post.For(name)
			z[LnEta] = etas[i]
			want := priors.Mean
			for k := range learned {
				want[k] += priors.Factor[k][k] * z[k]
			}
			want[Power], want[Beta] = clamp(want[Power], minPower, maxPower), clamp(want[Beta], minBeta, maxBeta)
			for k := range learned {
				sd := beliefs.sd(Coordinate(k))
				if sd > priors.sd(Coordinate(k))*1.0001 {
					t.Errorf("seed %d, %s: readings widened %s", seed, name, priorTable[k].Name)
				}
				checks++
				if math.Abs(beliefs.Mean[k]-want[k]) > 2*sd {
					outside++
				}
			}
			if sd := beliefs.sd(Power); sd > 0.6*priors.sd(Power) {
				t.Errorf("seed %d: doses a factor of 8 apart must tell the exponent, sd %.3f", seed, sd)
			}
		}
	}
	// Two sds hold 95 % if the fit is honest; clamped tails and the curvature of the
	// model allow a little more outside.
	t.Logf("%d of %d numbers beyond two sds", outside, checks)
	if outside*100 > checks*10 {
		t.Errorf("%d of %d numbers lie beyond two sds", outside, checks)
	}
}

func TestCalibrateOrderDoesNotMatter(t *testing.T) {
	base := baseOf(t, DefaultBase)
	readings := []Reading{
		{Fragrance: "a", Dose: 0.1, Base: DefaultBase, Day: 7, Lab: base.Path(0.3), Method: PhoneCard},
		{Fragrance: "b", Dose: 0.3, Base: cie.Lab{L: 84, A: -2, B: 14}, Day: 28, Lab: cie.Lab{L: 45, A: 9, B: 24}, Method: Eye, Conditions: Conditions{Gel: GelFull}},
		{Fragrance: "a", Dose: 0.1, Base: DefaultBase, Day: 40, Lab: base.Path(0.5), SD: cie.Lab{L: 1, A: 1, B: 1}, Ratio: 1},
	}
	one, err := Calibrate(readings, DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	readings[0], readings[1], readings[2] = readings[2], readings[0], readings[1]
	two, err := Calibrate(readings, DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"a", "b", "never seen"} {
		p, q := one.For(name), two.For(name)
		for k := range p.Mean {
			within(t, name, p.Mean[k], q.Mean[k], 1e-6)
			within(t, name, p.sd(Coordinate(k)), q.sd(Coordinate(k)), 1e-6)
		}
	}
	unseen := one.For("never seen")
	within(t, "strength of an unread fragrance", unseen.sd(LnEta), 0.35, 1e-9)
	if unseen.sd(LnA) >= 0.5 {
		t.Error("what is shared must pass on to an unread fragrance")
	}
}

func TestCalibrateRefuses(t *testing.T) {
	good := Reading{Fragrance: "a", Dose: 0.1, Base: DefaultBase, Day: 7, Lab: cie.Lab{L: 70, A: 5, B: 22}, Method: PhoneCard}
	for want, spoil := range map[string]func(*Reading){
		"dose":       func(r *Reading) { r.Dose = -1 },
		"day":        func(r *Reading) { r.Day = math.NaN() },
		"ratio":      func(r *Reading) { r.Ratio = math.Inf(1) },
		"colour":     func(r *Reading) { r.Lab.L = 624 },
		"method":     func(r *Reading) { r.Method = "guess" },
		"base":       func(r *Reading) { r.Base = cie.Lab{} },
		"gel":        func(r *Reading) { r.Conditions.Gel = "maybe" },
		"reading 2 ": func(r *Reading) { r.Dose = 101 },
	} {
		bad := good
		spoil(&bad)
		if _, err := Calibrate([]Reading{good, bad}, DefaultPriors()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: error %v", want, err)
		}
	}
	if _, err := Calibrate([]Reading{good}, Priors{}); err == nil {
		t.Error("priors without spread were taken")
	}
	if _, err := Calibrate(make([]Reading, maxReadings+1), DefaultPriors()); err == nil {
		t.Error("too many readings were taken")
	}
}

// Whatever is read, the calibration ends with finite numbers or says why not.
func FuzzCalibrate(f *testing.F) {
	f.Add(0.1883, 14.0, 70.0, 5.0, 22.0, 0.0, 90.0, 8.0)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 100.0, 0.0)
	f.Add(100.0, 36525.0, 100.0, -128.0, 128.0, 1000.0, 1.0, 128.0)
	f.Add(10.0, 21915.0, 13.0, -10.67, 128.0, 1000.0, 16.0, 2.444) // a base no spectrum reaches once hung the solver
	f.Fuzz(func(t *testing.T, dose, day, l, a, b, r, baseL, baseB float64) {
		reading := Reading{Fragrance: "x", Dose: dose, Day: day, Ratio: r, Lab: cie.Lab{L: l, A: a, B: b}, Base: cie.Lab{L: baseL, B: baseB}, Method: Colorimeter}
		post, err := Calibrate([]Reading{reading, reading}, DefaultPriors())
		if err != nil {
			return
		}
		beliefs := post.For("x")
		for k := range beliefs.Mean {
			if v := beliefs.Mean[k] + beliefs.sd(Coordinate(k)); math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v: coordinate %d is %v", reading, k, v)
			}
		}
	})
}

func BenchmarkCalibrate(b *testing.B) {
	base := baseOf(b, DefaultBase)
	var readings []Reading
	for i := range 1000 {
		readings = append(readings, Reading{Fragrance: string(rune('a' + i%20)), Dose: 0.02 * float64(1+i%20), Base: DefaultBase, Day: float64(i % 60), Lab: base.Path(float64(i%60) / 40), Method: PhoneCard})
	}
	for b.Loop() {
		if _, err := Calibrate(readings, DefaultPriors()); err != nil {
			b.Fatal(err)
		}
	}
}
