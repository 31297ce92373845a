package mixing

import (
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/testkit"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.7g, want %.7g ± %.1g", what, got, want, tol)
	}
}

func num(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Kubelka and Munk's function by hand; internal reflection from Saunderson's formula by hand.
func TestScalars(t *testing.T) {
	near(t, "K/S at R 0.5", KSFromR(0.5), 0.25, 1e-12)
	near(t, "K/S at R 0.25", KSFromR(0.25), 1.125, 1e-12)
	near(t, "K/S at R 0.1", KSFromR(0.1), 4.05, 1e-12)
	near(t, "R at K/S 1", RFromKS(1), 0.267949, 5e-7) // 2 − √3
	near(t, "internal reflection", Surface{Internal: 0.6}.Seen(0.5), 0.285714, 5e-7)
	near(t, "soap surface", SoapSurface.Seen(0.5), 0.02+0.98*0.6*0.5/(1-0.4*0.5), 1e-12)
	for r := 0.001; r <= 1; r += 0.013 {
		near(t, "R back from K/S", RFromKS(KSFromR(r)), r, 1e-12)
		near(t, "inside back from seen", SoapSurface.Inside(SoapSurface.Seen(r)), r, 1e-12)
		near(t, "one-step seen", SoapSurface.seenFromKS(KSFromR(r)), SoapSurface.Seen(r), 1e-12)
	}
	near(t, "white stays white", SoapSurface.Seen(1), 1, 1e-12)
	near(t, "R at a huge K/S", RFromKS(1e12)*2e12, 1, 1e-6)
}

func flat(v float64) (s cie.Spectrum) {
	for i := range s {
		s[i] = v
	}
	return s
}

// Worked by hand: (0.05 + 0.3·2)/(1 + 0.3·0.5) = 0.565217 and the formulae of Kubelka,
// Munk and CIELAB for a grey.
func TestFlatSpectrum(t *testing.T) {
	base := Base{KS: flat(0.05)}
	k, s := flat(2), flat(0.5)
	d := []Dosed{{0.3, &k, &s}}
	ks := MixKS(&base, d, 0, nil)
	near(t, "K/S", ks[17], 0.565217, 1e-6)
	r := MixSpectrum(&base, d, 0, nil, NoSurface)
	near(t, "R", r[17], 0.361097, 1e-5)
	lab := Mix(&base, d, 0, NoSurface)
	near(t, "L*", lab.L, 66.604, 1e-3)
	near(t, "a*", lab.A, 0, 1e-9)

	// A pigment half way back from k 4 to k 2, with a flat brown of 0.2.
	alt, shape := flat(4), flat(1)
	kt := KAt(&k, &alt, 0.5)
	d[0].K = &kt
	ks = MixKS(&base, d, 0.2, &shape)
	near(t, "K/S on the day", ks[3], 1, 1e-9)
	r = MixSpectrum(&base, d, 0.2, &shape, NoSurface)
	near(t, "L* on the day", r.Lab().L, 58.784, 1e-3)
	near(t, "brown at 560", BrownShape[18], 1, 1e-12)
	near(t, "brown at 460", BrownShape[8], math.Exp(1.1), 1e-12)
}

// The 40 published conversion checks, black and white among them, through no surface;
// through the soap's surface those it can show.
func TestSmoothestMeetsCheckColours(t *testing.T) {
	rows := testkit.Table(t, testkit.Shared(t, "reference/lab-conversion-checks.csv"))
	if len(rows) != 40 {
		t.Fatalf("%d rows, want 40", len(rows))
	}
	for _, row := range rows {
		want := cie.Lab{L: num(t, row["L_d65"]), A: num(t, row["a_d65"]), B: num(t, row["b_d65"])}
		s, err := Smoothest(want, NoSurface)
		if err != nil && row["hex"] != "000000" && row["hex"] != "ffffff" {
			t.Errorf("%s: %v", row["hex"], err)
		}
		if d := norm(s.Lab().Sub(want)); d > 1e-3 {
			t.Errorf("%s: misses its Lab by %.2g", row["hex"], d)
		}
		for i, r := range s {
			if !(r > 0 && r < 1) {
				t.Errorf("%s: reflectance %g in band %d", row["hex"], r, i)
			}
		}
		s, err = Smoothest(want, SoapSurface)
		if err != nil {
			if !errors.Is(err, ErrUnreachable) {
				t.Error(err)
			}
			t.Logf("soap surface, %s: %v", row["description"], err)
		} else if d := norm(s.Lab().Sub(want)); d > 1e-3 {
			t.Errorf("%s: misses its Lab by %.2g through the surface", row["hex"], d)
		}
	}
}

// Colours of random smooth reflectances: always met, and never rougher than the
// spectrum they came from (the definition of smoothest).
func TestSmoothestIsSmoothest(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	slope := func(s *cie.Spectrum) (sum float64) {
		for i := 1; i < len(s); i++ {
			d := math.Atanh(2*s[i]-1) - math.Atanh(2*s[i-1]-1)
			sum += d * d
		}
		return sum
	}
	for range 300 {
		var r cie.Spectrum
		a, b, c := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		for i := range r {
			x := float64(i) / 35
			r[i] = 0.5 * (math.Tanh(a+b*math.Sin(5*x)+c*math.Cos(7*x)) + 1)
		}
		s, err := Smoothest(r.Lab(), NoSurface)
		if err != nil {
			t.Fatal(err)
		}
		if slope(&s) > slope(&r)*(1+1e-6)+1e-9 {
			t.Errorf("slope %.5g, the original has %.5g", slope(&s), slope(&r))
		}
	}
}

func TestUnreachable(t *testing.T) {
	b, err := BaseFromLab(cie.Lab{L: 8, A: 0, B: 0}, SoapSurface)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "darkest L* of the surface", b.Reached.L, 15.4870, 1e-3) // 116·∛0.02 − 16
	b, err = BaseFromLab(cie.Lab{L: 103, A: 1, B: 2}, SoapSurface)
	if err != nil {
		t.Fatal(err)
	}
	if b.Reached.L < 97 || b.Reached.L > 100 {
		t.Errorf("brighter than white became %+v", b.Reached)
	}
	for _, bad := range []cie.Lab{{L: math.NaN()}, {L: 50, A: math.Inf(1)}, {L: 1e9}} {
		if _, err := BaseFromLab(bad, SoapSurface); err == nil {
			t.Errorf("%+v made a base", bad)
		}
	}
}

// To first order a perturbed base is the base of the perturbed colour; the second order
// of ln K/S near white is what the tolerance leaves room for.
func TestBasePerturbed(t *testing.T) {
	for _, lab := range []cie.Lab{{L: 88, A: 0, B: 14}, {L: 70, A: 10, B: 30}, {L: 93, A: -1, B: 6}} {
		b, err := BaseFromLab(lab, SoapSurface)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range []cie.Lab{{L: 1}, {A: 1}, {B: 1}, {L: -1, B: 2}} {
			p := b.Perturbed(d)
			got := Mix(&p, nil, 0, SoapSurface)
			if off := norm(got.Sub(lab.Add(d))); off > 0.25 {
				t.Errorf("%v moved by %v reads %v", lab, d, got)
			}
		}
	}
}

func BenchmarkBaseFromLab(b *testing.B) {
	for b.Loop() {
		_, _ = BaseFromLab(cie.Lab{L: 88, A: 0, B: 14}, SoapSurface)
	}
}

func BenchmarkSmoothest(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	var labs []cie.Lab
	for range 64 {
		labs = append(labs, cie.Lab{L: 30 + 60*rng.Float64(), A: 20 * rng.NormFloat64(), B: 20 * rng.NormFloat64()})
	}
	for i := 0; b.Loop(); i++ {
		_, _ = Smoothest(labs[i%64], SoapSurface)
	}
}

// Colours common among soap colourants (hex by eye) in a pale base at a usual dose: met
// closely, with k and s ≥ 0; and again when perturbed, to first order.
func TestFromSwatch(t *testing.T) {
	base, err := BaseFromLab(cie.Lab{L: 88, A: 0, B: 14}, SoapSurface)
	if err != nil {
		t.Fatal(err)
	}
	cases := []struct {
		name string
		lab  cie.Lab
		dose float64
		kind Kind
	}{
		{"ultramarine blue", cie.Lab{L: 42, A: 8, B: -42}, 2, Colour},
		{"oxide red", cie.Lab{L: 40, A: 36, B: 26}, 2, Colour},
		{"oxide green", cie.Lab{L: 55, A: -16, B: 15}, 2, Colour},
		{"carbon", cie.Lab{L: 28, A: 0, B: 0}, 0.7, Colour},
		{"pink mica", cie.Lab{L: 70, A: 30, B: 2}, 5, Colour},
		{"violet", cie.Lab{L: 48, A: 24, B: -28}, 3, Colour},
		{"gold mica", cie.Lab{L: 72, A: 8, B: 42}, 5, Colour},
		{"neon yellow", cie.Lab{L: 88, A: -14, B: 85}, 3, Colour},
		{"teal", cie.Lab{L: 58, A: -28, B: -8}, 4, Colour},
		{"pearl, lighter than the base", cie.Lab{L: 92, A: 0, B: 8}, 5, Colour},
		{"ivory, just lighter", cie.Lab{L: 88.5, A: 1, B: 16}, 5, Colour},
		{"white clay", cie.Lab{L: 90, A: 0, B: 9}, 10, White},
		{"titanium dioxide", cie.Lab{L: 95, A: -0.5, B: 3}, 5, White},
	}
	for _, c := range cases {
		got, err := FromSwatch(c.lab, c.dose, base, c.kind, SoapSurface)
		if err != nil {
			t.Fatal(err)
		}
		mixed := Mix(&base, []Dosed{{c.dose, &got.K, &got.S}}, 0, SoapSurface)
		if d := norm(mixed.Sub(c.lab)); d > 0.05 {
			t.Errorf("%s: reads %.3f, off by %.3f", c.name, mixed, d)
		}
		if d := norm(mixed.Sub(got.Reached)); d > 1e-9 {
			t.Errorf("%s: says it reaches %v, mixes to %v", c.name, got.Reached, mixed)
		}
		for i := range got.K {
			if !(got.K[i] >= 0 && got.S[i] >= 0) {
				t.Fatalf("%s: k %g, s %g in band %d", c.name, got.K[i], got.S[i], i)
			}
		}
		if c.lab.L > 86 {
			continue // hardly any slope towards lighter or yellower: first order says little
		}
		for _, d := range []cie.Lab{{L: -1}, {L: 1}, {A: 2}, {B: 2}, {B: -2}} {
			k, s := got.Perturbed(d, 0)
			moved := Mix(&base, []Dosed{{c.dose, &k, &s}}, 0, SoapSurface).Sub(mixed)
			if off := norm(moved.Sub(d)); off > 0.5*norm(d)+0.4 {
				t.Errorf("%s: asked to move by %v, moved by %.2f", c.name, d, moved)
			}
		}
		k, s := got.Perturbed(cie.Lab{}, 0.3)
		if moved := norm(Mix(&base, []Dosed{{c.dose, &k, &s}}, 0, SoapSurface).Sub(mixed)); moved > 2.5 {
			t.Errorf("%s: more scattering at the same swatch moved the colour by %.2f", c.name, moved)
		}
		if !(s[0] > got.S[0]) {
			t.Errorf("%s: more scattering asked, got %g after %g", c.name, s[0], got.S[0])
		}
	}
	// No pigment makes the surface darker: the nearest, and told so.
	got, err := FromSwatch(cie.Lab{L: 5}, 5, base, Colour, SoapSurface)
	if err != nil {
		t.Fatal(err)
	}
	if got.Reached.L < 15 || got.Reached.L > 25 {
		t.Errorf("blacker than black reached %v", got.Reached)
	}
	for _, dose := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := FromSwatch(cie.Lab{L: 50}, dose, base, Colour, SoapSurface); err == nil {
			t.Errorf("dose %g made a colourant", dose)
		}
	}
}

func BenchmarkFromSwatch(b *testing.B) {
	base, _ := BaseFromLab(cie.Lab{L: 88, A: 0, B: 14}, SoapSurface)
	for b.Loop() {
		_, _ = FromSwatch(cie.Lab{L: 55, A: -16, B: 15}, 2, base, Colour, SoapSurface)
	}
}

func BenchmarkPerturbed(b *testing.B) {
	base, _ := BaseFromLab(cie.Lab{L: 88, A: 0, B: 14}, SoapSurface)
	c, _ := FromSwatch(cie.Lab{L: 55, A: -16, B: 15}, 2, base, Colour, SoapSurface)
	for b.Loop() {
		c.Perturbed(cie.Lab{L: 3, A: 2, B: 1}, 0.5)
	}
}

func BenchmarkMix(b *testing.B) {
	base, _ := BaseFromLab(cie.Lab{L: 88, A: 0, B: 14}, SoapSurface)
	k, s := flat(1), flat(0.1)
	d := []Dosed{{1, &k, &s}, {2, &k, &s}, {0.5, &k, &s}}
	seen := MixSpectrum(&base, d, 0.1, nil, SoapSurface)
	against(b, "×integration", func() { seen.Lab() }, func() { Mix(&base, d, 0.1, SoapSurface) })
}
