package fragrance

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"lyefast/internal/cie"
)

// The fixed draws are standard normal: each margin by construction, and no two
// coordinates correlate by more than 0.1 (random draws would reach 0.14).
func TestDraws(t *testing.T) {
	d := Draws()
	if len(d) != DrawCount {
		t.Fatalf("%d draws", len(d))
	}
	for a := range int(Coordinates) {
		var mean, square float64
		for _, z := range d {
			mean += z[a]
			square += z[a] * z[a]
		}
		within(t, "mean", mean/DrawCount, 0, 1e-12)
		within(t, "variance", square/DrawCount, 1, 0.01) // the outermost slices are cut
		for b := range a {
			var dot float64
			for _, z := range d {
				dot += z[a] * z[b]
			}
			within(t, "correlation", dot/DrawCount, 0, 0.1)
		}
	}
	d[0][0] = 99
	if Draws()[0][0] == 99 {
		t.Error("a caller's change reached the set")
	}
}

// The band of 400 fixed draws is that of twenty thousand random ones.
func TestForecastBand(t *testing.T) {
	priors := DefaultPriors()
	base := baseOf(t, DefaultBase)
	rng := rand.New(rand.NewPCG(3, 1))
	for _, c := range []struct {
		dose, day, r float64
		conditions   Conditions
	}{{0.1883, 14, 0, ungelled}, {0.1883, 42, 1.5, Conditions{}}, {0.02, 3, 0, Conditions{Gel: GelFull}}, {0.9, 42, 0, Conditions{Light: LightDark}}} {
		band := priors.Forecast(base, c.dose, []float64{c.day}, c.conditions, c.r)[0]
		l := make([]float64, 20000)
		for i := range l {
			var z Coords
			for k := range z {
				z[k] = rng.NormFloat64()
			}
			p := priors.Apply(z)
			got := base.path(p.U(c.day, c.dose, c.conditions, c.r), p.Slope, p.Red)
			l[i] = got.L
		}
		slices.Sort(l)
		low := band.Median.L - math.Hypot(band.Median.L-quantile(l, 0.05), z95*modelSD.L)
		high := math.Min(100, band.Median.L+math.Hypot(quantile(l, 0.95)-band.Median.L, z95*modelSD.L))
		within(t, "5 % of L*", band.P05.L, low, 1.2)
		within(t, "95 % of L*", band.P95.L, high, 1.2)
		for ch, m := range triple(band.Median) {
			if !(triple(band.P05)[ch] <= m && m <= triple(band.P95)[ch]) {
				t.Errorf("coordinate %d: %v not within its band", ch, band)
			}
		}
	}
}

func TestForecastIsFixed(t *testing.T) {
	priors := DefaultPriors()
	base := baseOf(t, DefaultBase)
	days := []float64{3, 14, 42}
	a := priors.Forecast(base, 0.1, days, Conditions{}, 0)
	if b := priors.Forecast(base, 0.1, days, Conditions{}, 0); !slices.Equal(a, b) {
		t.Error("two forecasts of the same bar differ")
	}
	one := priors.Forecast(base, 0.1, days[1:2], Conditions{}, 0)
	if one[0] != a[1] {
		t.Error("a day's band depends on the days beside it")
	}
}

// Doubt about gel widens the band beyond that of either case.
func TestUnsureGelSpansBoth(t *testing.T) {
	priors := DefaultPriors()
	base := baseOf(t, DefaultBase)
	at := func(g Gel) ColourBand {
		return priors.Forecast(base, 0.19, []float64{3}, Conditions{Gel: g}, 0)[0]
	}
	none, full, unsure := at(GelNone), at(GelFull), at(GelNotSure)
	if !(full.Median.L < unsure.Median.L && unsure.Median.L < none.Median.L) {
		t.Errorf("medians %v, %v, %v", full.Median, unsure.Median, none.Median)
	}
	if unsure.P95.L-unsure.P05.L < none.P95.L-none.P05.L {
		t.Error("not knowing whether it gelled narrowed the band")
	}
}

// Common practice, no source: a 3.5 % vanillin scent with an equal weight of
// stabiliser only tinges the bar. With the default prior it settles at L* 78 (4 %
// usage) and 75 (5 %), a light tan in place of tan and light brown without.
func TestEqualPartsOnlyTinge(t *testing.T) {
	priors := DefaultPriors()
	p := priors.Centre()
	base := baseOf(t, DefaultBase)
	for _, c := range []struct{ usage, with, without float64 }{{4, 77.7, 68.0}, {5, 75.0, 64.5}} {
		d := doseOf(t, Fragrance{Vanillin: percent(3.5)}, useOf(1000, c.usage))
		e, err := Estimate(d, Stabilizer{}, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		within(t, "equal parts", float64(e.SuggestedProduct), float64(d.Fragrance), 1e-9)
		within(t, "r", e.Ratio, 2.863, 0.001)
		with := base.Path(p.Settled(d.Percent, ungelled, e.Ratio))
		without := base.Path(p.Settled(d.Percent, ungelled, 0))
		within(t, "settled with", with.L, c.with, 0.3)
		within(t, "settled without", without.L, c.without, 0.3)
		if w := Word(with.L); w != "light tan" {
			t.Errorf("%v %% usage: settles %s", c.usage, w)
		}
		day42 := base.Path(p.U(42, d.Percent, ungelled, e.Ratio))
		t.Logf("%v %% usage: D %.4f %%, r %.2f, day 42 L* %.1f, settled L* %.1f, without %.1f", c.usage, d.Percent, e.Ratio, day42.L, with.L, without.L)
	}
}

func TestWord(t *testing.T) {
	for l, want := range map[float64]string{
		100: "off-white", 86: "off-white", 85.99: "cream", 80: "cream", 79.9: "light tan", 70: "light tan",
		69.9: "tan", 60: "tan", 59.9: "light brown", 50: "light brown", 49.9: "mid brown", 42: "mid brown",
		41.9: "dark brown", 33: "dark brown", 32.9: "near black", 0: "near black",
	} {
		if got := Word(l); got != want {
			t.Errorf("L* %v: %q, want %q", l, got, want)
		}
	}
	if got := Describe(DefaultBase, DefaultBase.Add(cie.Lab{L: -0.6, A: 0.6})); got != NoChange {
		t.Errorf("a change nobody sees is %q", got)
	}
}

// BenchmarkForecast is three days of one bar; beside it the same by one day and one
// draw at a time, from a spectrum summed with fresh exponentials.
func BenchmarkForecast(b *testing.B) {
	priors := DefaultPriors()
	base := baseOf(b, DefaultBase)
	days := []float64{3, 14, 42}
	b.Run("draws", func(b *testing.B) {
		for b.Loop() {
			priors.Forecast(base, 0.1883, days, Conditions{}, 1.5)
		}
	})
	b.Run("naive", func(b *testing.B) {
		for b.Loop() {
			for _, day := range days {
				for _, z := range Draws() {
					p := priors.Apply(z)
					u := p.U(day, 0.1883, Conditions{}, 1.5)
					var r cie.Spectrum
					for i, k := range base.k {
						r[i] = opaque(k + u*math.Exp(-p.Slope*(cie.Wavelength(i)-brownPivot)))
					}
					_ = r.Lab()
				}
			}
		}
	})
}
