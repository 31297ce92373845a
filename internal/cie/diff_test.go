package cie

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/lucasb-eyer/go-colorful"
)

// sharma is Table I of Sharma, Wu and Dalal (2005), "The CIEDE2000 color-difference
// formula: implementation notes, supplementary test data, and mathematical
// observations", Color Res. Appl. 30(1), 21–30: two colours and ΔE00 as printed.
// The hues of pairs 10 and 14 are exactly 180° apart.
var sharma = [34][7]float64{
	{50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425},
	{50, 3.1571, -77.2803, 50, 0, -82.7485, 2.8615},
	{50, 2.8361, -74.0200, 50, 0, -82.7485, 3.4412},
	{50, -1.3802, -84.2814, 50, 0, -82.7485, 1.0000},
	{50, -1.1848, -84.8006, 50, 0, -82.7485, 1.0000},
	{50, -0.9009, -85.5211, 50, 0, -82.7485, 1.0000},
	{50, 0, 0, 50, -1, 2, 2.3669},
	{50, -1, 2, 50, 0, 0, 2.3669},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0009, 7.1792},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0010, 7.1792},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0011, 7.2195},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0012, 7.2195},
	{50, -0.0010, 2.4900, 50, 0.0009, -2.4900, 4.8045},
	{50, -0.0010, 2.4900, 50, 0.0010, -2.4900, 4.8045},
	{50, -0.0010, 2.4900, 50, 0.0011, -2.4900, 4.7461},
	{50, 2.5, 0, 50, 0, -2.5, 4.3065},
	{50, 2.5, 0, 73, 25, -18, 27.1492},
	{50, 2.5, 0, 61, -5, 29, 22.8977},
	{50, 2.5, 0, 56, -27, -3, 31.9030},
	{50, 2.5, 0, 58, 24, 15, 19.4535},
	{50, 2.5, 0, 50, 3.1736, 0.5854, 1.0000},
	{50, 2.5, 0, 50, 3.2972, 0, 1.0000},
	{50, 2.5, 0, 50, 1.8634, 0.5757, 1.0000},
	{50, 2.5, 0, 50, 3.2592, 0.3350, 1.0000},
	{60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644},
	{63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630},
	{61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731},
	{35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645},
	{22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373},
	{36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146},
	{90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441},
	{90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381},
	{6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377},
	{2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082},
}

func TestDeltaE00AgainstSharma(t *testing.T) {
	for i, r := range sharma {
		a, b := Lab{r[0], r[1], r[2]}, Lab{r[3], r[4], r[5]}
		// The table is printed to four decimals, so half a unit of the last is the doubt.
		for _, got := range []float64{DeltaE00(a, b), DeltaE00(b, a), DeltaE00K(a, b, 1, 1, 1), plainDE00(a, b, 1, 1, 1)} {
			if math.Abs(got-r[6]) > 0.5e-4 {
				t.Errorf("pair %d: ΔE00 %.6f, printed %.4f", i+1, got, r[6])
			}
		}
	}
}

// plainDE00 is the formula as printed, step by step, for comparison.
func plainDE00(p, q Lab, kL, kC, kH float64) float64 {
	deg := func(rad float64) float64 { return rad * 180 / math.Pi }
	rad := func(deg float64) float64 { return deg * math.Pi / 180 }
	share := func(c float64) float64 { return math.Sqrt(math.Pow(c, 7) / (math.Pow(c, 7) + math.Pow(25, 7))) }
	hue := func(a, b float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		if h := deg(math.Atan2(b, a)); h < 0 {
			return h + 360
		} else {
			return h
		}
	}
	g := 0.5 * (1 - share((math.Hypot(p.A, p.B)+math.Hypot(q.A, q.B))/2))
	a1, a2 := (1+g)*p.A, (1+g)*q.A
	c1, c2 := math.Hypot(a1, p.B), math.Hypot(a2, q.B)
	h1, h2 := hue(a1, p.B), hue(a2, q.B)

	var dh, hm float64
	switch apart := math.Abs(h1-h2) - 1e-9; { // slack in degrees, for the exact ties
	case c1*c2 == 0:
		dh, hm = 0, h1+h2
	case apart <= 180:
		dh, hm = h2-h1, (h1+h2)/2
	case h2 > h1:
		dh, hm = h2-h1-360, (h1+h2+360)/2
	default:
		dh, hm = h2-h1+360, (h1+h2+360)/2
	}
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(rad(dh/2))
	lm, cm := (p.L+q.L)/2, (c1+c2)/2
	t := 1 - 0.17*math.Cos(rad(hm-30)) + 0.24*math.Cos(rad(2*hm)) +
		0.32*math.Cos(rad(3*hm+6)) - 0.20*math.Cos(rad(4*hm-63))
	for hm >= 360 {
		hm -= 360
	}
	theta := 30 * math.Exp(-math.Pow((hm-275)/25, 2))
	sL := 1 + 0.015*math.Pow(lm-50, 2)/math.Sqrt(20+math.Pow(lm-50, 2))
	l, c, h := (q.L-p.L)/(kL*sL), (c2-c1)/(kC*(1+0.045*cm)), dH/(kH*(1+0.015*cm*t))
	rT := -math.Sin(rad(2*theta)) * 2 * share(cm)
	return math.Sqrt(l*l + c*c + h*h + rT*c*h)
}

// pairs gives n pairs of colours of all sorts from a fixed seed: far and near,
// neutral, and with the hues that make trouble.
func pairs(n int) [][2]Lab {
	r := rand.New(rand.NewPCG(2, 7))
	colour := func() Lab {
		return LCh{100 * r.Float64(), 140 * r.Float64(), 360 * r.Float64()}.Lab()
	}
	out := make([][2]Lab, n)
	for i := range out {
		p, q := colour(), colour()
		switch i % 8 {
		case 1: // near
			q = p.Add(Lab{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()})
		case 2: // hardly apart
			q = p.Add(Lab{1e-5 * r.NormFloat64(), 1e-5 * r.NormFloat64(), 1e-5 * r.NormFloat64()})
		case 3: // one neutral
			q.A, q.B = 0, 0
		case 4: // hues 180° apart, nearly or very nearly
			k := 0.2 + r.Float64()
			q.A, q.B = -k*p.A, -k*p.B+[3]float64{1e-9, 1e-4, 0.1}[r.IntN(3)]*r.NormFloat64()
		case 5: // on both sides of hue 0
			p, q = LCh{p.L, 60 * r.Float64(), 359.9 + 0.1*r.Float64()}.Lab(), LCh{q.L, 60 * r.Float64(), 0.1 * r.Float64()}.Lab()
		case 6: // around blue
			p, q = LCh{p.L, 120 * r.Float64(), 230 + 90*r.Float64()}.Lab(), LCh{q.L, 120 * r.Float64(), 230 + 90*r.Float64()}.Lab()
		case 7: // almost neutral
			p.A, p.B, q.A, q.B = p.A/1e3, p.B/1e3, q.A/1e3, q.B/1e3
		}
		out[i] = [2]Lab{p, q}
	}
	return out
}

func TestDeltaE00AgainstThePlainFormula(t *testing.T) {
	worst := 0.0
	for _, p := range pairs(200_000) {
		want := plainDE00(p[0], p[1], 1, 1, 1)
		got := DeltaE00(p[0], p[1])
		worst = math.Max(worst, math.Abs(got-want))
		if !(math.Abs(got-want) <= 1e-9) {
			t.Fatalf("%v: %.12f, plain formula %.12f", p, got, want)
		}
		if back := DeltaE00(p[1], p[0]); math.Abs(back-got) > 1e-12 {
			t.Fatalf("%v: %v one way, %v the other", p, got, back)
		}
		if d := DeltaE00(p[0], p[0]); d != 0 {
			t.Fatalf("%v is %v from itself", p[0], d)
		}
		if got, want := DeltaE00K(p[0], p[1], 2, 1.5, 0.8), plainDE00(p[0], p[1], 2, 1.5, 0.8); !(math.Abs(got-want) <= 1e-9) {
			t.Fatalf("%v with factors: %.12f, plain formula %.12f", p, got, want)
		}
	}
	t.Logf("largest departure %.1e", worst)
}

func TestDeltaE00OddValues(t *testing.T) {
	grey := Lab{50, 0, 0}
	if d := DeltaE00(grey, Lab{60, 0, 0}); math.Abs(d-plainDE00(grey, Lab{60, 0, 0}, 1, 1, 1)) > 1e-12 {
		t.Errorf("two greys: %v", d)
	}
	for _, bad := range []Lab{{math.NaN(), 0, 0}, {50, math.NaN(), 3}, {50, 3, math.NaN()}} {
		if d := DeltaE00(bad, Lab{50, 2, 2}); !math.IsNaN(d) {
			t.Errorf("%v gives %v", bad, d)
		}
	}
	for _, tiny := range []Lab{{50, 1e-150, 1e-150}, {50, -1e-40, 1e-40}, {50, 0, -5e-324}} {
		if got, want := DeltaE00(tiny, Lab{50, 1e-150, -1e-151}), 0.0; math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: %v", tiny, got)
		}
	}
	for _, far := range []Lab{{50, 1e30, -1e30}, {1e30, 5, 5}, {50, 1e-200, 1e-200}} {
		DeltaE00(far, Lab{50, 2, 2}) // any number will do, a crash will not
	}
}

func TestDeltaE76(t *testing.T) {
	// By hand: differences 3, 4 and 12.
	if d := DeltaE76(Lab{60, 10, -5}, Lab{57, 14, 7}); d != 13 {
		t.Errorf("ΔE*ab %v, want 13", d)
	}
}

// BenchmarkDeltaE00 times ΔE00 on Lab values, and in the same run go-colorful's,
// whose only entry point takes its own colours, made beforehand and not counted,
// and the printed formula. The figures "x-…" say how many times as long they take.
func BenchmarkDeltaE00(b *testing.B) {
	b.Run("any", func(b *testing.B) { benchmarkDeltaE00(b, false) })
	b.Run("near", func(b *testing.B) { benchmarkDeltaE00(b, true) })
}

var sink float64

func benchmarkDeltaE00(b *testing.B, near bool) {
	r := rand.New(rand.NewPCG(1, 1))
	const size = 1024
	var ours [size][2]Lab
	var theirs [size][2]colorful.Color
	for i := range ours {
		p := LCh{20 + 70*r.Float64(), 80 * r.Float64(), 360 * r.Float64()}.Lab()
		q := LCh{20 + 70*r.Float64(), 80 * r.Float64(), 360 * r.Float64()}.Lab()
		if near {
			q = p.Add(Lab{3 * r.NormFloat64(), 3 * r.NormFloat64(), 3 * r.NormFloat64()})
		}
		ours[i] = [2]Lab{p, q}
		for k, c := range ours[i] {
			theirs[i][k] = colorful.Lab(c.L/100, c.A/100, c.B/100)
		}
	}
	all := func(f func(i int) float64) func() {
		return func() {
			for i := range size {
				sink += f(i)
			}
		}
	}
	own := all(func(i int) float64 { return DeltaE00(ours[i][0], ours[i][1]) })
	for b.Loop() {
		own()
	}
	best := takeTurns(own,
		all(func(i int) float64 { return theirs[i][0].DistanceCIEDE2000(theirs[i][1]) }),
		all(func(i int) float64 { return plainDE00(ours[i][0], ours[i][1], 1, 1, 1) }))
	b.ReportMetric(best[0]/size, "ns/colour-pair")
	b.ReportMetric(best[1]/best[0], "x-go-colorful")
	b.ReportMetric(best[2]/best[0], "x-plain-formula")
}

// takeTurns gives the best of 30 short turns of each, in ns, taken by turns so that
// other work on the machine hits all alike.
func takeTurns(contenders ...func()) []float64 {
	best := make([]float64, len(contenders))
	for turn := range 30 {
		for k, f := range contenders {
			start := time.Now()
			f()
			if d := float64(time.Since(start).Nanoseconds()); turn == 0 || d < best[k] {
				best[k] = d
			}
		}
	}
	return best
}
