package mixing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"lyefast/internal/cie"
)

// bigShelf is an invented shelf of n colourants known by swatches of all hues, a tenth of
// them whites.
func bigShelf(t testing.TB, n int) *Shelf {
	rng := rand.New(rand.NewPCG(40, 3))
	base := cie.Lab{L: 88, A: 0, B: 14}
	prior := Prior{Colorants: map[string]ColorantPrior{}}
	for i := range n {
		h := 2 * math.Pi * float64(i) / float64(n)
		c := 10 + 45*rng.Float64()
		p := ColorantPrior{Swatch: &Swatch{Lab: cie.Lab{L: 30 + 45*rng.Float64(), A: c * math.Cos(h), B: c * math.Sin(h)}, Dose: 1 + 6*rng.Float64(), Base: base}}
		if i%10 == 9 {
			p.Kind = White
			p.Swatch.Lab = cie.Lab{L: 92 + 4*rng.Float64(), A: -0.5, B: 3 + 3*rng.Float64()}
		}
		prior.Colorants[fmt.Sprintf("colour %02d", i)] = p
	}
	shelf, err := Learn(nil, prior)
	if err != nil {
		t.Fatal(err)
	}
	return shelf
}

func randomTarget(rng *rand.Rand) cie.Lab {
	h, c := 2*math.Pi*rng.Float64(), 60*math.Sqrt(rng.Float64())
	return cie.Lab{L: 25 + 68*rng.Float64(), A: c * math.Cos(h), B: c * math.Sin(h)}
}

var pot = Recipe{Base: cie.Lab{L: 88, A: 0, B: 14}}

// On targets all over the colour space, none is missed by 0.3 ΔE00 more than where every
// subset of up to three of the 40 colourants is polished, from two starts each. Targets
// from which everything stays more than 10 away are passed over: CIEDE2000 was made for
// small differences and has no order to keep out there.
func TestReachAgainstPolishingAll(t *testing.T) {
	shelf := bigShelf(t, 40)
	rng := rand.New(rand.NewPCG(200, 200))
	targets := 10
	if everything() {
		targets = 200
	}
	far := 0
	worst, worstFar, spent := 0.0, 0.0, time.Duration(0)
	for range targets {
		target := randomTarget(rng)
		h, err := shelf.newHunt(target, pot, ReachOptions{})
		if err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		quick := h.search()
		spent += time.Since(start)
		var all [3]float64
		for i := range all {
			all[i] = math.Inf(1)
		}
		both := func(f found) {
			h.polish(&h.fine, &f, fully, 0.03, 1.0/3)
			all[f.n-1] = math.Min(all[f.n-1], f.off)
		}
		for i := range int32(40) {
			both(found{n: 1, at: [3]int32{i}})
			for j := range i {
				both(found{n: 2, at: [3]int32{j, i}})
				for k := range j {
					both(found{n: 3, at: [3]int32{k, j, i}})
				}
			}
		}
		for n, list := range quick {
			// Three colourants contain every pair, a pair every single one.
			got := list[0].off
			for _, fewer := range quick[:n] {
				got = math.Min(got, fewer[0].off)
			}
			want := slices.Min(all[:n+1])
			if want > 10 {
				far++
				worstFar = math.Max(worstFar, got-want)
				continue
			}
			worst = math.Max(worst, got-want)
			if got > want+0.3 {
				t.Errorf("target %.1f: %d colourants reach %.2f, all subsets polished %.2f", target, n+1, got, want)
			}
		}
	}
	t.Logf("worst regret %.3f ΔE00 over %d targets (%d of %d bests too far, there %.3f); search took %v on average", worst, targets, far, 3*targets, worstFar, spent/time.Duration(targets))
	if far > targets {
		t.Errorf("%d of %d bests out of reach: the targets test little", far, 3*targets)
	}
}

// A colour made of known doses is found again.
func TestReachFindsRecipe(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	h := newHarbour()
	shelf, err := Learn(h.portions(t, rng, 50, 0.3), harbourPrior)
	if err != nil {
		t.Fatal(err)
	}
	scented := Recipe{Base: cie.Lab{L: 89, A: -0.5, B: 10}, Brown: 0.4}
	for range 10 {
		q := scented
		for _, i := range rng.Perm(len(h.names))[:2] {
			q.Doses = append(q.Doses, Amount{h.names[i], 0.5 + 3*rng.Float64()})
		}
		target := h.colour(t, q)
		got, err := shelf.Reach(target, scented, ReachOptions{Step: 0.05})
		if err != nil {
			t.Fatal(err)
		}
		if len(got) == 0 {
			t.Fatalf("nothing for %v", target)
		}
		last := got[len(got)-1] // each is nearer than those of fewer colourants
		if last.DeltaE00 > 0.7 {
			t.Errorf("target %v: nearest is %.2f away with %v", target, last.DeltaE00, last.Doses)
		}
		// What the doses really give.
		made := scented
		made.Doses = last.Doses
		if off := cie.DeltaE00(h.colour(t, made), target); off > 2 {
			t.Errorf("made at the bench it is %.2f away", off)
		}
		for _, c := range got {
			sum := 0.0
			for _, a := range c.Doses {
				sum += a.Dose
				if l, _ := shelf.Colorant(a.Colorant); a.Dose > l.MaxDose {
					t.Errorf("%g of %s, read up to %g only", a.Dose, a.Colorant, l.MaxDose)
				}
				if steps := a.Dose / 0.05; math.Abs(steps-math.Round(steps)) > 1e-6 {
					t.Errorf("%g g/kg is no whole step", a.Dose)
				}
			}
			near(t, "g per kg", c.PerKg, sum, 1e-9)
			if !(c.Probability >= 0 && c.Probability <= 1) || c.Rank < c.DeltaE00 {
				t.Errorf("probability %g, rank %g, ΔE00 %g", c.Probability, c.Rank, c.DeltaE00)
			}
		}
	}
}

func TestReachBeyondAndLimits(t *testing.T) {
	shelf := bigShelf(t, 10)
	deep := cie.Lab{L: 30, A: 20, B: -35}
	inside, err := shelf.Reach(deep, pot, ReachOptions{AtMost: 1})
	if err != nil {
		t.Fatal(err)
	}
	beyond, err := shelf.Reach(deep, pot, ReachOptions{AtMost: 1, Beyond: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(inside) != 1 || len(beyond) != 1 {
		t.Fatalf("%d and %d candidates, want one each", len(inside), len(beyond))
	}
	if beyond[0].DeltaE00 > inside[0].DeltaE00+1e-6 {
		t.Errorf("larger doses reach %.2f, smaller %.2f", beyond[0].DeltaE00, inside[0].DeltaE00)
	}
	only, err := shelf.Reach(deep, pot, ReachOptions{Colorants: []string{"colour 03", "colour 04"}, Per: 4})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range only {
		for _, a := range c.Doses {
			if a.Colorant != "colour 03" && a.Colorant != "colour 04" {
				t.Errorf("used %s", a.Colorant)
			}
		}
	}
	twice, err := shelf.Reach(deep, pot, ReachOptions{Colorants: []string{"colour 03", "colour 03"}})
	if err != nil || len(twice) != 1 {
		t.Errorf("one colourant named twice gives %v, %v", twice, err)
	}
	for what, o := range map[string]ReachOptions{
		"unknown":   {Colorants: []string{"fog"}},
		"four":      {AtMost: 4},
		"step":      {Step: -1},
		"tolerance": {Tolerance: math.NaN()},
	} {
		if _, err := shelf.Reach(deep, pot, o); err == nil {
			t.Errorf("%s: no error", what)
		}
	}
	empty, err := Learn(nil, Prior{})
	if err != nil {
		t.Fatal(err)
	}
	if got, err := empty.Reach(deep, pot, ReachOptions{}); err != nil || len(got) != 0 {
		t.Errorf("an empty shelf reaches %v, %v", got, err)
	}
}

func TestWhitestAndGamut(t *testing.T) {
	shelf := bigShelf(t, 20)
	w, err := shelf.Whitest(pot, ReachOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if w.Lab.L < pot.Base.L+2 {
		t.Errorf("whitest is %v with %v", w.Lab, w.Doses)
	}
	brown := pot
	brown.Brown = 0.5
	b, err := shelf.Whitest(brown, ReachOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if b.Lab.L >= w.Lab.L {
		t.Errorf("whitest under a browning scent %v, without %v", b.Lab, w.Lab)
	}
	g, err := shelf.Gamut(pot, ReachOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Edges) < 18 {
		t.Errorf("%d sectors of 24 reached by colours of all hues", len(g.Edges))
	}
	for _, e := range g.Edges {
		c := e.Lab.LCh()
		d := math.Abs(c.H - e.Hue)
		if math.Min(d, 360-d) > 7.6 {
			t.Errorf("sector %g holds hue %g", e.Hue, c.H)
		}
		if e.Lab.L > g.Lightest.Lab.L || e.Lab.L < g.Darkest.Lab.L {
			t.Errorf("edge %v outside %v to %v", e.Lab, g.Darkest.Lab, g.Lightest.Lab)
		}
	}
}

// Any target and pot: an error, or finite candidates within the doses read.
func FuzzReach(f *testing.F) {
	shelf := bigShelf(f, 8)
	f.Add(50.0, 20.0, -30.0, 88.0, 14.0, 0.3, 0.1)
	f.Add(100.0, 0.0, 0.0, 20.0, -20.0, 1e4, 0.0)
	f.Add(-500.0, 900.0, 0.0, 1000.0, 1000.0, 0.0, 1e-9)
	f.Fuzz(func(t *testing.T, l, a, b, baseL, baseB, brown, step float64) {
		in := Recipe{Base: cie.Lab{L: baseL, A: 0, B: baseB}, Brown: brown}
		got, err := shelf.Reach(cie.Lab{L: l, A: a, B: b}, in, ReachOptions{Step: step, Per: 2})
		if err != nil {
			return
		}
		for _, c := range got {
			if !c.Lab.Finite() || !(c.DeltaE00 >= 0) || !(c.Probability >= 0 && c.Probability <= 1) {
				t.Errorf("%+v", c)
			}
			for _, d := range c.Doses {
				if l, _ := shelf.Colorant(d.Colorant); !(d.Dose > 0 && d.Dose <= l.MaxDose*(1+1e-9)) {
					t.Errorf("dose %g of %s, read up to %g", d.Dose, d.Colorant, l.MaxDose)
				}
			}
		}
	})
}

// BenchmarkReach is a whole search on a shelf of 40, as a multiple of mixing its 10 700
// subsets once each.
func BenchmarkReach(b *testing.B) {
	shelf := bigShelf(b, 40)
	rng := rand.New(rand.NewPCG(200, 200))
	var targets []cie.Lab
	for range 50 {
		targets = append(targets, randomTarget(rng))
	}
	base, _ := BaseFromLab(pot.Base, SoapSurface)
	s := flat(0.1)
	mix := []Dosed{{1, &shelf.m.k[0], &s}, {1, &shelf.m.k[1], &s}, {1, &shelf.m.k[2], &s}}
	i := 0
	against(b, "×mixing_all_once", func() {
		for range 10700 / 200 {
			Mix(&base, mix, 0, SoapSurface)
		}
	}, func() {
		if _, err := shelf.Reach(targets[i%len(targets)], pot, ReachOptions{Step: 0.1}); err != nil {
			b.Fatal(err)
		}
		i++
	})
}
