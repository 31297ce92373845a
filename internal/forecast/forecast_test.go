package forecast

import (
	"math"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %g", what, got, want, tol)
	}
}

// The channel-wise mixing of bare soaps against a worked case: the second bar is
// the measured one of Chryssou, Stassinopoulou and Lampi (2018), the first invented.
// The case is printed to three decimals for the E308 white; ours follows from xy,
// which moves b* by up to 0.014.
func TestMixBareWorkedCase(t *testing.T) {
	a, b := cie.Lab{L: 90, A: -0.5, B: 8}, cie.Lab{L: 63.98, A: 6.30, B: 26.11}
	for _, c := range []struct {
		wa, wb float64
		want   cie.Lab
	}{
		{75, 25, cie.Lab{L: 78.271, A: 3.615, B: 19.508}},
		{50, 50, cie.Lab{L: 72.015, A: 4.995, B: 23.228}},
	} {
		got := MixBare([]Part{{a, c.wa}, {b, c.wb}})
		near(t, "L*", got.L, c.want.L, 0.02)
		near(t, "a*", got.A, c.want.A, 0.02)
		near(t, "b*", got.B, c.want.B, 0.02)
	}
	if got := MixBare(nil); got != (cie.Lab{}) {
		t.Errorf("nothing mixed to %v", got)
	}
}

func TestBaseFromOilsNamesItsClass(t *testing.T) {
	pale := BaseFromOils([]TintWeight{{formula.NearWhite, 1}})
	green := BaseFromOils([]TintWeight{{formula.Green, 3}, {formula.NearWhite, 1}})
	if pale.Class != formula.NearWhite || green.Class != formula.Green {
		t.Errorf("classes %q and %q", pale.Class, green.Class)
	}
	if pale.Measured || pale.Basis == "" {
		t.Errorf("a guess must say so: %+v", pale)
	}
	if read := BaseFromReading(formula.BareReading{Lab: pale.Lab, AgeDays: 42}); read.SD.L >= pale.SD.L || !read.Measured {
		t.Errorf("a reading must be surer than a class: %+v", read)
	}
}

func swatch(hex string, sd float64) *Swatch {
	c, err := cie.ParseHex(hex)
	if err != nil {
		panic(err)
	}
	return &Swatch{Lab: c, SD: cie.Lab{L: sd, A: sd, B: sd}, Dose: 2, Basis: "test"}
}

func plainInput() Input {
	return Input{
		Base: Base{Lab: PaleBase, SD: cie.Lab{L: 1, A: 0.5, B: 1}, Measured: true},
		Colorants: map[string]Colorant{
			"Slate": {Name: "Slate", Own: swatch("#5a6a78", 2), Pattern: Pattern{Holds: 1}},
			"Lamp":  {Name: "Lamp", Own: swatch("#e6a56c", 2), Fresh: swatch("#d2875c", 2), Pattern: Pattern{Returns: 1}},
			"Dusk":  {Name: "Dusk", Own: swatch("#7a4f86", 2), Lands: swatch("#a58f78", 4), Pattern: Pattern{Settles: 1}},
			"Leaf":  {Name: "Leaf", Own: swatch("#8a9a5a", 2), Pattern: Pattern{Fades: 1}},
			"Blank": {Name: "Blank", Pattern: Pattern{Holds: 1}},
			"Scale": {Name: "Scale", Clear: true},
		},
		Conditions: fragrance.Conditions{Gel: fragrance.GelNone},
		Priors:     fragrance.DefaultPriors(),
	}
}

func one(t *testing.T, in Input, q Portion) Outcome {
	t.Helper()
	q.Batter = "slab"
	in.Portions = []Portion{q}
	r, err := Run(in)
	if err != nil {
		t.Fatal(err)
	}
	return r.Outcomes[0]
}

func at(o Outcome, day float64) *Colour {
	for _, d := range o.Days {
		if d.Day == day {
			return d.Colour
		}
	}
	return nil
}

// A swatch at its own dose in the pale base must come back as that swatch.
func TestHoldingColourIsItsSwatch(t *testing.T) {
	in := plainInput()
	o := one(t, in, Portion{Name: "quay", Colorants: []Use{{"Slate", 2}}})
	for _, day := range Days {
		near(t, "ΔE00 from the swatch", cie.DeltaE00(at(o, day).Lab, in.Colorants["Slate"].Own.Lab), 0, 0.1)
	}
	if bare := one(t, in, Portion{Name: "bare"}); cie.DeltaE00(bare.Settled.Lab, PaleBase) > 0.05 {
		t.Errorf("a bare portion is %v, not the base", bare.Settled.Lab)
	}
	if o := one(t, in, Portion{Name: "mica", Colorants: []Use{{"Scale", 5}}}); cie.DeltaE00(o.Settled.Lab, PaleBase) > 0.05 {
		t.Errorf("a bare carrier colours: %v", o.Settled.Lab)
	}
}

// Common practice, no source: a colourant that leaves and returns is back within
// about two days, and that tells it from one that never returns and one that holds.
func TestCoursesAreToldApart(t *testing.T) {
	in := plainInput()
	lamp := one(t, in, Portion{Name: "lamp", Colorants: []Use{{"Lamp", 2}}})
	own := in.Colorants["Lamp"].Own.Lab
	// 70 % of the excursion gone is what "back" means.
	widest := cie.DeltaE00(in.Colorants["Lamp"].Fresh.Lab, own)
	if d := cie.DeltaE00(at(lamp, 2).Lab, own); d > 0.3*widest {
		t.Errorf("two days on, the returning colour is still ΔE00 %.1f of %.1f away", d, widest)
	}
	near(t, "returned by day 14, ΔE00", cie.DeltaE00(at(lamp, 14).Lab, own), 0, 0.2)
	dusk := one(t, in, Portion{Name: "dusk", Colorants: []Use{{"Dusk", 2}}})
	near(t, "at the pour it is itself", cie.DeltaE00(at(dusk, 0).Lab, in.Colorants["Dusk"].Own.Lab), 0, 0.2)
	near(t, "it settles on what it becomes", cie.DeltaE00(dusk.Settled.Lab, in.Colorants["Dusk"].Lands.Lab), 0, 0.2)
	leaf := one(t, in, Portion{Name: "leaf", Colorants: []Use{{"Leaf", 2}}})
	if a, b, c := at(leaf, 0).Lab.LCh().C, at(leaf, 14).Lab.LCh().C, leaf.Settled.Lab.LCh().C; !(a > b && b > c) {
		t.Errorf("a fading colour must lose chroma: %.1f, %.1f, %.1f", a, b, c)
	}
}

func TestNoNumberWithoutGrounds(t *testing.T) {
	in := plainInput()
	o := one(t, in, Portion{Name: "x", Colorants: []Use{{"Blank", 2}}})
	if o.Settled != nil || len(o.Unknown) == 0 || at(o, 0) != nil {
		t.Errorf("a colour was given for an unknown colourant: %+v", o)
	}
	o = one(t, in, Portion{Name: "x", Colorants: []Use{{"Slate", 8.01}}})
	if o.Settled != nil || !o.Extrapolates {
		t.Errorf("beyond four times the dose read: %+v", o)
	}
	if o = one(t, in, Portion{Name: "x", Colorants: []Use{{"Slate", 8}}}); o.Settled == nil {
		t.Errorf("four times the dose read is still inside: %v", o.Unknown)
	}
	in.Portions = []Portion{{Name: "x", Colorants: []Use{{"Nobody", 1}}}}
	if _, err := Run(in); err == nil {
		t.Error("a colourant that is not described passed")
	}
}

func TestBandsHoldTheirMiddle(t *testing.T) {
	in := plainInput()
	q := Portion{Name: "q", Colorants: []Use{{"Slate", 1}, {"Lamp", 1}}, BrownDose: 0.1}
	o := one(t, in, q)
	for _, d := range o.Days {
		c := d.Colour
		for _, v := range [][3]float64{{c.P05.L, c.Lab.L, c.P95.L}, {c.P05.A, c.Lab.A, c.P95.A}, {c.P05.B, c.Lab.B, c.P95.B}} {
			if !(v[0] <= v[1] && v[1] <= v[2]) {
				t.Errorf("day %g: band %v does not hold its middle", d.Day, v)
			}
		}
	}
	if again := one(t, in, q); *again.Settled != *o.Settled {
		t.Error("the same plan gave another forecast")
	}
	wide := in
	wide.Base.SD = cie.Lab{L: 5, A: 3, B: 6}
	if w := one(t, wide, Portion{Name: "q"}); w.Settled.Band <= one(t, in, Portion{Name: "q"}).Settled.Band {
		t.Error("more doubt about the base must widen the band")
	}
}

// Browning over pigment is not browning over white: the darker portion moves less.
// Gel darkens, stabiliser lightens.
func TestBrowning(t *testing.T) {
	in := plainInput()
	white := one(t, in, Portion{Name: "w", BrownDose: 0.15})
	dark := one(t, in, Portion{Name: "d", Colorants: []Use{{"Slate", 4}}, BrownDose: 0.15})
	if !(white.BrownDelta > dark.BrownDelta && dark.BrownDelta > 0) {
		t.Errorf("white moved %.1f, slate %.1f", white.BrownDelta, dark.BrownDelta)
	}
	held := one(t, in, Portion{Name: "w", BrownDose: 0.15, Ratio: 2})
	if held.BrownDelta >= white.BrownDelta {
		t.Errorf("stabiliser did not lighten: %.1f against %.1f", held.BrownDelta, white.BrownDelta)
	}
	in.Conditions.Gel = fragrance.GelNotSure
	o := one(t, in, Portion{Name: "w", BrownDose: 0.15})
	if o.IfGelled == nil || o.IfNot == nil || o.IfGelled.Lab.L >= o.IfNot.Lab.L {
		t.Errorf("with gel unsure both are due, the gelled one darker: %+v %+v", o.IfGelled, o.IfNot)
	}
	if p := one(t, plainInput(), Portion{Name: "w"}); p.BrownDelta != 0 || p.Without != nil {
		t.Errorf("an unscented portion browned: %+v", p)
	}
}

func TestApartAndTargets(t *testing.T) {
	in := plainInput()
	target := in.Colorants["Slate"].Own.Lab
	in.Portions = []Portion{
		{Batter: "s", Name: "a", Colorants: []Use{{"Slate", 2}}, Target: &target},
		{Batter: "s", Name: "b", Colorants: []Use{{"Slate", 2}}, Target: &PaleBase},
		{Batter: "s", Name: "c", Colorants: []Use{{"Lamp", 2}}},
	}
	r, err := Run(in)
	if err != nil {
		t.Fatal(err)
	}
	_, same, ok := Apart(&r.Outcomes[0], &r.Outcomes[1], 5)
	_, other, _ := Apart(&r.Outcomes[0], &r.Outcomes[2], 5)
	if !ok || same > 0.15 || other < 0.99 {
		t.Errorf("twins stay apart %.2f, strangers %.2f", same, other)
	}
	a, b := r.Outcomes[0], r.Outcomes[1]
	if *a.TargetDelta > 0.1 || *b.TargetDelta < 20 || a.Near.E5 < 0.5 || b.Near.E5 > 0 {
		t.Errorf("targets: %.2f %.2f %+v %+v", *a.TargetDelta, *b.TargetDelta, a.Near, b.Near)
	}
	if cie.DeltaE00(*a.Best, target) > cie.DeltaE00(*a.Worst, target) {
		t.Error("best is farther from the target than worst")
	}
}

func TestSuggestFindsTheColourItself(t *testing.T) {
	in := plainInput()
	var all []Colorant
	for _, c := range in.Colorants {
		all = append(all, c)
	}
	shelf, err := NewShelf(in, all)
	if err != nil {
		t.Fatal(err)
	}
	target := in.Colorants["Slate"].Own.Lab
	s, ok := shelf.For(Portion{Target: &target})
	if !ok || len(s.Uses) != 1 || s.Uses[0].Colorant != "Slate" || s.Delta > 0.2 {
		t.Errorf("for the slate swatch: %+v", s)
	}
	if _, ok := shelf.For(Portion{}); ok {
		t.Error("a suggestion without a target")
	}
}

func BenchmarkRun(b *testing.B) {
	in := plainInput()
	in.Conditions.Gel = fragrance.GelNotSure
	for _, n := range []string{"shore", "quay", "lamp", "dusk"} {
		in.Portions = append(in.Portions, Portion{Batter: "slab", Name: n, Colorants: []Use{{"Slate", 1}, {"Lamp", 1}}, BrownDose: 0.1, Target: &PaleBase})
	}
	for b.Loop() {
		if _, err := Run(in); err != nil {
			b.Fatal(err)
		}
	}
}
