package mixing

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"lyefast/internal/cie"
)

// harbour is an invented maker: true spectra known, so what is learned can be compared.
// Each k is a hump in ln k of the kind pigments have.
type harbour struct {
	names []string
	k     []cie.Spectrum
	s     []float64
	power float64
}

func newHarbour() *harbour {
	hump := func(level, height, centre, width float64) (k cie.Spectrum) {
		for i := range k {
			d := (cie.Wavelength(i) - centre) / width
			k[i] = math.Exp(level + height*math.Exp(-d*d/2))
		}
		return k
	}
	return &harbour{
		names: []string{"chalk", "dusk", "rope", "rust", "tide"},
		k: []cie.Spectrum{
			flat(0.002), hump(-3, 3, 560, 60), hump(-3.5, 3, 430, 60), hump(-3.2, 4, 470, 70), hump(-3, 3.2, 610, 60),
		},
		s:     []float64{0.3, 0.03, 0.05, 0.1, 0.02},
		power: 1.3,
	}
}

func (h *harbour) colour(t testing.TB, q Recipe) cie.Lab {
	base, err := BaseFromLab(q.Base, SoapSurface)
	if err != nil {
		t.Fatal(err)
	}
	var d []Dosed
	for _, a := range q.Doses {
		i := slices.Index(h.names, a.Colorant)
		s := flat(h.s[i])
		d = append(d, Dosed{a.Dose, &h.k[i], &s})
	}
	u := 0.0
	if q.Brown > 0 {
		u = 0.7 * math.Pow(q.Brown, h.power)
	}
	return Mix(&base, d, u, SoapSurface)
}

func (h *harbour) recipe(rng *rand.Rand) Recipe {
	q := Recipe{Base: cie.Lab{L: 89 + rng.NormFloat64(), A: -0.5, B: 10 + 3*rng.NormFloat64()}}
	order := rng.Perm(len(h.names))
	for _, i := range order[:1+rng.IntN(3)] {
		q.Doses = append(q.Doses, Amount{h.names[i], 0.5 * math.Exp(2.3*rng.Float64())})
	}
	if rng.IntN(3) == 0 {
		q.Brown = 0.2 + rng.Float64()
	}
	return q
}

func (h *harbour) portions(t testing.TB, rng *rand.Rand, n int, noise float64) (out []Portion) {
	for i := range n {
		p := Portion{Recipe: h.recipe(rng), Name: fmt.Sprintf("portion %d", i+1), SD: cie.Lab{L: noise, A: noise, B: noise}}
		p.Lab = h.colour(t, p.Recipe).Add(cie.Lab{L: noise * rng.NormFloat64(), A: noise * rng.NormFloat64(), B: noise * rng.NormFloat64()})
		out = append(out, p)
	}
	return out
}

var harbourPrior = Prior{Colorants: map[string]ColorantPrior{"chalk": {Kind: White}}}

// Sixty noisy portions give back the colours of a hundred others: the median error lies
// below the noise of one reading (0.5 each way, 0.87 in ΔE), and 90 % bands hold at least
// 85 % of the true colours (three binomial standard deviations below 0.9 for 300).
func TestLearnRecoversTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 5))
	h := newHarbour()
	shelf, err := Learn(h.portions(t, rng, 60, 0.5), harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	var off []float64
	held := 0
	for range 100 {
		q := h.recipe(rng)
		p, err := shelf.Predict(q)
		if err != nil || !p.Known() {
			t.Fatal(err, p)
		}
		truth := h.colour(t, q)
		off = append(off, cie.DeltaE00(p.Lab, truth))
		lo, hi, y := vec(p.P05), vec(p.P95), vec(truth)
		for c := range y {
			if y[c] >= lo[c] && y[c] <= hi[c] {
				held++
			}
		}
	}
	t.Logf("median ΔE00 %.2f, 90th %.2f, bands hold %d of 300", quantile(off, 0.5), quantile(off, 0.9), held)
	if m := quantile(off, 0.5); m > 0.87 {
		t.Errorf("median ΔE00 %.2f", m)
	}
	if held < 255 {
		t.Errorf("90 %% bands hold %d of 300", held)
	}
	for i, name := range h.names {
		l, ok := shelf.Colorant(name)
		if !ok || l.Reads == 0 {
			t.Fatalf("%s was not learned", name)
		}
		top := 0
		for b, v := range h.k[i] {
			if !(l.K[b] >= 0 && l.S[b] >= 0) {
				t.Fatalf("%s: k %g, s %g", name, l.K[b], l.S[b])
			}
			if v > h.k[i][top] {
				top = b
			}
		}
		if name == "chalk" {
			continue // what a white absorbs is too little to be seen
		}
		if d := math.Abs(math.Log(l.K[top] / h.k[i][top])); d > 4*l.LnSD+0.1 {
			t.Errorf("%s: ln k at its peak off by %.2f, deviation %.2f", name, d, l.LnSD)
		}
	}
	// Browning: strength and power of the dose.
	got, want := shelf.Brown(0.8, ""), 0.7*math.Pow(0.8, 1.3)
	if math.Abs(math.Log(got[18]/want)) > 0.15 {
		t.Errorf("browning of 0.8 gives u %.3f, truth %.3f", got[18], want)
	}
}

func TestLearnFromSwatchesOnly(t *testing.T) {
	base := cie.Lab{L: 88, A: 0, B: 14}
	want := map[string]cie.Lab{"tide": {L: 42, A: 8, B: -42}, "rust": {L: 40, A: 36, B: 26}, "chalk": {L: 95, A: -0.5, B: 3}}
	prior := Prior{Colorants: map[string]ColorantPrior{}}
	for name, lab := range want {
		c := ColorantPrior{Swatch: &Swatch{Lab: lab, Dose: 2, Base: base}}
		if name == "chalk" {
			c.Kind = White
		}
		prior.Colorants[name] = c
	}
	shelf, err := Learn(nil, prior)
	if err != nil {
		t.Fatal(err)
	}
	for name, lab := range want {
		p, err := shelf.Predict(Recipe{Base: base, Doses: []Amount{{name, 2}}})
		if err != nil || !p.Known() {
			t.Fatal(err, p)
		}
		if d := cie.DeltaE00(p.Lab, lab); d > 0.5 {
			t.Errorf("%s forecasts %.1f at the dose of its swatch %.1f", name, p.Lab, lab)
		}
		// A swatch is good for (6, 4, 6); the band says at least three quarters of it
		// in all, and not more than half as much again.
		sd := math.Sqrt(p.Cov[0][0] + p.Cov[1][1] + p.Cov[2][2])
		if full := norm(SwatchSD); sd > 1.5*full || sd < 0.4*full {
			t.Errorf("%s: deviation %.1f, a swatch has %.1f", name, sd, full)
		}
		if p.P05.L > p.Lab.L || p.P95.L < p.Lab.L || p.P05.B > p.Lab.B || p.P95.B < p.Lab.B {
			t.Errorf("%s: %v not within %v and %v", name, p.Lab, p.P05, p.P95)
		}
		who, err := shelf.Explain(Recipe{Base: base, Doses: []Amount{{name, 2}}}, 3)
		if err != nil || len(who) == 0 || who[0].Portion != "swatch of "+name {
			t.Errorf("%s is explained by %v, %v", name, who, err)
		}
	}
}

// Readings outweigh a wrong swatch.
func TestReadingsOutweighSwatch(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	h := newHarbour()
	portions := h.portions(t, rng, 45, 0.5)
	prior := Prior{Colorants: map[string]ColorantPrior{"chalk": {Kind: White},
		"tide": {Swatch: &Swatch{Lab: cie.Lab{L: 50, A: 30, B: 40}, Dose: 2, Base: cie.Lab{L: 88, A: 0, B: 14}}}}}
	shelf, err := Learn(portions, prior)
	if err != nil {
		t.Fatal(err)
	}
	q := Recipe{Base: cie.Lab{L: 89, A: -0.5, B: 10}, Doses: []Amount{{"tide", 2}}}
	p, err := shelf.Predict(q)
	if err != nil {
		t.Fatal(err)
	}
	if d := cie.DeltaE00(p.Lab, h.colour(t, q)); d > 3 {
		t.Errorf("off by %.1f after 45 portions against one wrong swatch", d)
	}
}

func TestLearnIgnoresOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	h := newHarbour()
	portions := h.portions(t, rng, 30, 0.5)
	a, err := Learn(portions, harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	rng.Shuffle(len(portions), func(i, j int) { portions[i], portions[j] = portions[j], portions[i] })
	b, err := Learn(portions, harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	for range 20 {
		q := h.recipe(rng)
		pa, _ := a.Predict(q)
		pb, _ := b.Predict(q)
		if d := norm(pa.Lab.Sub(pb.Lab)); d > 0.05 { // both stop within 0.001 of the least cost
			t.Errorf("order moves %v by %.3f", q, d)
		}
	}
}

func TestExplainAndExtrapolate(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	h := newHarbour()
	portions := h.portions(t, rng, 40, 0.5)
	shelf, err := Learn(portions, harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	q := Recipe{Base: cie.Lab{L: 89, A: -0.5, B: 10}, Doses: []Amount{{"dusk", 1.5}}}
	who, err := shelf.Explain(q, 5)
	if err != nil {
		t.Fatal(err)
	}
	if len(who) != 5 {
		t.Fatalf("%d portions explain, want 5", len(who))
	}
	sum := 0.0
	for i, w := range who {
		sum += w.Weight
		if i > 0 && w.Weight > who[i-1].Weight {
			t.Errorf("not heaviest first: %v", who)
		}
	}
	if sum > 1 {
		t.Errorf("weights add to %.2f", sum)
	}
	with := 0
	for _, w := range who[:3] {
		i := slices.IndexFunc(portions, func(p Portion) bool { return p.Name == w.Portion })
		if slices.ContainsFunc(portions[i].Doses, func(a Amount) bool { return a.Colorant == "dusk" }) {
			with++
		}
	}
	if with < 2 {
		t.Errorf("of the three heaviest portions %d hold the colourant: %v", with, who)
	}
	most := 0.0
	for _, p := range portions {
		for _, a := range p.Doses {
			if a.Colorant == "dusk" {
				most = math.Max(most, a.Dose)
			}
		}
	}
	for _, c := range []struct {
		dose float64
		name string
		want bool
	}{{3.9 * most, "dusk", false}, {4.1 * most, "dusk", true}, {0.1, "fog", true}, {0, "fog", false}} {
		q.Doses = []Amount{{c.name, c.dose}}
		p, err := shelf.Predict(q)
		if err != nil {
			t.Fatal(err)
		}
		if p.Known() == c.want {
			t.Errorf("%g of %s: extrapolates %v", c.dose, c.name, p.Extrapolates)
		}
		if !p.Known() && p.Lab != (cie.Lab{}) {
			t.Errorf("gives a number %v where it knows nothing", p.Lab)
		}
	}
}

func TestMisfitFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	h := newHarbour()
	portions := h.portions(t, rng, 40, 0.5)
	clean, err := Learn(portions, harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	if m := clean.Misfits(); len(m) > 2 {
		t.Errorf("%d honest portions called misfits", len(m))
	}
	portions[17].Lab.B = -portions[17].Lab.B - 20 // a lost sign
	shelf, err := Learn(portions, harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	m := shelf.Misfits()
	if len(m) == 0 || m[0].Portion != "portion 18" {
		t.Errorf("misfits: %v", m)
	}
}

// Draws scatter as the prediction's covariance says, to first order, and their mean is the
// prediction.
func TestSamplerAgreesWithPredict(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	h := newHarbour()
	shelf, err := Learn(h.portions(t, rng, 40, 0.5), harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	white := cie.Lab{L: 89, A: -0.5, B: 10}
	recipes := []Recipe{
		{Base: white, Doses: []Amount{{"tide", 2}, {"rust", 1}}, Brown: 0.5},
		{Base: white, Doses: []Amount{{"rust", 3}, {"chalk", 1}}},
	}
	sampler, err := shelf.Sampler(recipes)
	if err != nil {
		t.Fatal(err)
	}
	base, _ := BaseFromLab(white, SoapSurface)
	for i, q := range recipes {
		p, err := shelf.Predict(q)
		if err != nil {
			t.Fatal(err)
		}
		var mean, square cie.Lab
		const n = 2000
		var d Drawn
		for range n {
			sampler.Draw(rng, &d)
			var mix []Dosed
			for _, a := range q.Doses {
				at := slices.Index(sampler.Names(), a.Colorant)
				s := flat(d.S[at])
				mix = append(mix, Dosed{a.Dose, &d.K[at], &s})
			}
			r := MixSpectrum(&base, mix, 1, &d.Brown[i], SoapSurface)
			off := r.Lab().Add(d.Shift[i]).Sub(p.Lab)
			mean = mean.Add(off.Scale(1.0 / n))
			square = square.Add(cie.Lab{L: off.L * off.L, A: off.A * off.A, B: off.B * off.B}.Scale(1.0 / n))
		}
		if norm(mean) > 0.2 {
			t.Errorf("recipe %d: draws lie %v from the prediction", i, mean)
		}
		for c, v := range vec(square) {
			if want := p.Cov[c][c]; v < 0.7*want || v > 1.5*want {
				t.Errorf("recipe %d, coordinate %d: draws have variance %.3f, the prediction %.3f", i, c, v, want)
			}
		}
	}
	if _, err := shelf.Sampler([]Recipe{{Base: white, Doses: []Amount{{"fog", 1}}}}); err == nil {
		t.Error("drew a colourant never read")
	}
}

func TestLearnRefuses(t *testing.T) {
	good := Portion{Recipe: Recipe{Base: cie.Lab{L: 88, A: 0, B: 14}, Doses: []Amount{{"tide", 1}}}, Name: "p", Lab: cie.Lab{L: 60, A: -5, B: -10}}
	if _, err := Learn([]Portion{good}, Prior{}); err != nil {
		t.Fatal(err)
	}
	for what, spoil := range map[string]func(*Portion){
		"negative dose":   func(p *Portion) { p.Doses = []Amount{{"tide", -1}} },
		"dose not finite": func(p *Portion) { p.Doses = []Amount{{"tide", math.Inf(1)}} },
		"dosed twice":     func(p *Portion) { p.Doses = []Amount{{"tide", 1}, {"tide", 2}} },
		"colour NaN":      func(p *Portion) { p.Lab.A = math.NaN() },
		"base absurd":     func(p *Portion) { p.Base.L = 1e7 },
		"negative sd":     func(p *Portion) { p.SD.L = -1 },
		"negative brown":  func(p *Portion) { p.Brown = -0.1 },
	} {
		p := good
		spoil(&p)
		if _, err := Learn([]Portion{good, p}, Prior{}); err == nil {
			t.Errorf("%s: learned", what)
		}
		if what == "colour NaN" || what == "negative sd" {
			continue
		}
		shelf, _ := Learn([]Portion{good}, Prior{})
		if _, err := shelf.Predict(p.Recipe); err == nil {
			t.Errorf("%s: predicted", what)
		}
	}
	many := make([]Portion, MaxLearned+1)
	for i := range many {
		many[i] = good
		many[i].Doses = []Amount{{fmt.Sprint("colourant ", i), 1}}
	}
	if _, err := Learn(many, Prior{}); !errors.Is(err, ErrTooMuch) {
		t.Errorf("too many colourants: %v", err)
	}
	bad := Prior{Colorants: map[string]ColorantPrior{"tide": {Swatch: &Swatch{Lab: cie.Lab{L: 50}, Dose: 0}}}}
	if _, err := Learn(nil, bad); err == nil {
		t.Error("swatch without a dose: learned")
	}
}

// Whatever numbers come in, either an error or finite colours within ordered bands.
func FuzzLearn(f *testing.F) {
	f.Add(88.0, 14.0, 50.0, 20.0, -10.0, 2.0, 0.3, 0.5, uint8(1))
	f.Add(0.0, 0.0, 100.0, 0.0, 0.0, 1e-9, 0.0, 0.0, uint8(2))
	f.Add(100.0, -120.0, 0.0, 120.0, 120.0, 1e4, 1e4, 900.0, uint8(3))
	f.Add(-900.0, 900.0, 900.0, -900.0, 900.0, 1e-300, 1e-300, 1e-300, uint8(0))
	f.Fuzz(func(t *testing.T, l, b, pl, pa, pb, dose, brown, sd float64, kind uint8) {
		prior := Prior{Colorants: map[string]ColorantPrior{"tide": {Kind: Kind(kind & 1)}, "rust": {}}}
		if kind&2 != 0 {
			prior.Colorants["tide"] = ColorantPrior{Kind: Kind(kind & 1), Swatch: &Swatch{Lab: cie.Lab{L: pa, A: pb, B: pl}, Dose: dose, Base: cie.Lab{L: l, B: b}}}
		}
		base := cie.Lab{L: l, A: 0, B: b}
		portions := []Portion{
			{Recipe: Recipe{Base: base, BaseSD: cie.Lab{L: sd}, Doses: []Amount{{"tide", dose}}, Brown: brown}, Lab: cie.Lab{L: pl, A: pa, B: pb}, SD: cie.Lab{L: sd, A: sd, B: sd}},
			{Recipe: Recipe{Base: base, Doses: []Amount{{"rust", dose / 2}, {"tide", 1}}, Scent: "mist", Brown: brown}, Lab: cie.Lab{L: pa, A: pb, B: pl}},
		}
		shelf, err := Learn(portions, prior)
		if err != nil {
			return
		}
		p, err := shelf.Predict(Recipe{Base: base, Doses: []Amount{{"tide", dose}, {"rust", dose}}, Brown: brown, Scent: "mist"})
		if err != nil {
			return
		}
		if !p.Lab.Finite() || !p.P05.Finite() || !p.P95.Finite() || p.P05.A > p.Lab.A || p.P95.A < p.Lab.A {
			t.Errorf("%+v", p)
		}
	})
}

// The colours a swatch or a base may have come from files: an error or a finite spectrum.
func FuzzSwatch(f *testing.F) {
	f.Add(50.0, 10.0, -20.0, 2.0, 88.0, 14.0)
	f.Add(100.0, 0.0, 0.0, 1e-12, 0.0, 0.0)
	f.Add(53.0, 80.0, 67.0, 1e4, 100.0, -100.0)
	f.Fuzz(func(t *testing.T, l, a, b, dose, bl, bb float64) {
		base, err := BaseFromLab(cie.Lab{L: bl, A: 0, B: bb}, SoapSurface)
		if err != nil {
			return
		}
		for i, k := range base.KS {
			if !(k >= 0) || math.IsInf(k, 0) {
				t.Fatalf("base K/S %g in band %d", k, i)
			}
		}
		for _, kind := range []Kind{Colour, White} {
			c, err := FromSwatch(cie.Lab{L: l, A: a, B: b}, dose, base, kind, SoapSurface)
			if err != nil {
				return
			}
			k, s := c.Perturbed(cie.Lab{L: 5, A: -5, B: 5}, 0.3)
			lab := Mix(&base, []Dosed{{dose, &k, &s}}, 0.1, SoapSurface)
			if !lab.Finite() || !c.Reached.Finite() {
				t.Fatalf("colour %v, reached %v", lab, c.Reached)
			}
		}
	})
}

// BenchmarkLearn gives the cost of a year's portions as a multiple of the rival that adds
// Lab differences.
func BenchmarkLearn(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	portions := newHarbour().portions(b, rng, 96, 0.5)
	against(b, "×additive", func() { learnAdditive(portions) }, func() {
		if _, err := Learn(portions, harbourPrior); err != nil {
			b.Fatal(err)
		}
	})
}

// against runs f as the benchmark and reports its time as a multiple of the peer's.
func against(b *testing.B, unit string, peer, f func()) {
	b.Helper()
	peer()
	start := time.Now()
	const runs = 200
	for range runs {
		peer()
	}
	one := float64(time.Since(start)) / runs
	for b.Loop() {
		f()
	}
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/one, unit)
}

func BenchmarkPredict(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	h := newHarbour()
	shelf, err := Learn(h.portions(b, rng, 96, 0.5), harbourPrior)
	if err != nil {
		b.Fatal(err)
	}
	q := h.recipe(rng)
	base, _ := BaseFromLab(q.Base, SoapSurface)
	var d []Dosed
	for _, a := range q.Doses {
		i := slices.Index(h.names, a.Colorant)
		s := flat(h.s[i])
		d = append(d, Dosed{a.Dose, &h.k[i], &s})
	}
	against(b, "×mix", func() { Mix(&base, d, q.Brown, SoapSurface) }, func() { _, _ = shelf.Predict(q) })
}

func BenchmarkDraw(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	shelf, err := Learn(newHarbour().portions(b, rng, 30, 0.5), harbourPrior)
	if err != nil {
		b.Fatal(err)
	}
	sampler, err := shelf.Sampler([]Recipe{{Base: cie.Lab{L: 89, A: -0.5, B: 10}, Doses: []Amount{{"rust", 1}, {"tide", 2}}, Brown: 0.5}})
	if err != nil {
		b.Fatal(err)
	}
	var d Drawn
	for b.Loop() { // peer: BenchmarkMix, which every draw is followed by
		sampler.Draw(rng, &d)
	}
}
