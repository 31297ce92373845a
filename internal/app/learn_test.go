package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/fragrance"
	"lyefast/internal/kinetics"
	"lyefast/internal/mixing"
	"lyefast/internal/plan"
	"lyefast/internal/unit"
)

// clockAt is a stopped clock.
func clockAt(s string) func() time.Time {
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return func() time.Time { return at }
}

func newBook(t *testing.T) *App {
	t.Helper()
	a := New(filepath.Join(t.TempDir(), "book.db"), clockAt("2026-11-20T06:45:00Z"))
	t.Cleanup(func() { a.Close() })
	return a
}

// pastTable simulates a maker's table: three invented colourants, of which one a white,
// mixed by the formula itself with noise of sd 0.5. The columns stand in the order asked
// for, the rows in the order of seed.
func pastTable(t *testing.T, rows int, reversed bool) []byte {
	t.Helper()
	names := []string{"Tide Blue", "Rope Red", "Chalk White"}
	base, err := mixing.BaseFromLab(cie.Lab{L: 89, A: -0.5, B: 9}, mixing.SoapSurface)
	if err != nil {
		t.Fatal(err)
	}
	var known []mixing.Colorant
	for i, lab := range []cie.Lab{{L: 45, A: 2, B: -30}, {L: 52, A: 28, B: 22}, {L: 95, A: -0.5, B: 3}} {
		kind := mixing.Colour
		if i == 2 {
			kind = mixing.White
		}
		c, err := mixing.FromSwatch(lab, 2, base, kind, mixing.SoapSurface)
		if err != nil {
			t.Fatal(err)
		}
		known = append(known, c)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	lines := make([]string, rows)
	for i := range rows {
		var d [3]float64
		d[i%3] = 0.5 + 3*rng.Float64()
		d[(i+1)%3] = 0.5 + 2*rng.Float64()
		var dosed []mixing.Dosed
		for j := range d {
			d[j] = math.Round(100*d[j]) / 100
			dosed = append(dosed, mixing.Dosed{Dose: d[j], K: &known[j].K, S: &known[j].S})
		}
		vanillin := 0.0
		if i%4 == 3 {
			vanillin = 2
		}
		lab := mixing.Mix(&base, dosed, 0.5*vanillin, mixing.SoapSurface)
		noise := func() float64 { return 0.5 * rng.NormFloat64() }
		lines[i] = fmt.Sprintf("89,-0.5,9,%g,%g,%g,%g,%.2f,%.2f,%.2f,p%d", d[0], d[1], d[2], vanillin, lab.L+noise(), lab.A+noise(), lab.B+noise(), i+1)
	}
	if reversed {
		for i, j := 0, rows-1; i < j; i, j = i+1, j-1 {
			lines[i], lines[j] = lines[j], lines[i]
		}
	}
	head := "base_L,base_a,base_b"
	for _, n := range names {
		head += ",dose_" + n
	}
	return []byte(head + ",dose_vanillin,L,a,b,portion\n" + strings.Join(lines, "\n") + "\n")
}

func learnTable(t *testing.T, a *App, data []byte) *HistorySaid {
	t.Helper()
	r, err := a.LearnHistory(context.Background(), HistoryQuery{Data: data, File: "past.csv", SD: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

var blueAndRed = MixQuery{Doses: []MixDose{{"tide blue", 1.5}, {"Rope Red", 1}}, Vanillin: 1.5, Base: &cie.Lab{L: 89, A: -0.5, B: 9}}

func mixOf(t *testing.T, a *App) MixSaid {
	t.Helper()
	r, err := a.Mix(context.Background(), blueAndRed)
	if err != nil {
		t.Fatal(err)
	}
	return r.Mixtures[0]
}

// TestHistoryTwice takes a table, takes it again, and takes it back.
func TestHistoryTwice(t *testing.T) {
	ctx := context.Background()
	a := newBook(t)
	table := pastTable(t, 24, false)
	dry, err := a.LearnHistory(ctx, HistoryQuery{Data: table, File: "past.csv", SD: 0.5, DryRun: true})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Mix(ctx, blueAndRed); err == nil {
		t.Error("a dry run has put colourants on the shelf")
	}
	fits := a.fits.Load()
	first := learnTable(t, a, table)
	if n := a.fits.Load() - fits; n != 1 {
		t.Errorf("%d fits to take a table", n)
	}
	if first.Added != 24 || len(first.NewColorants) != 3 || first.Learned.Portions != 24 || first.Learned.Browned != 6 {
		t.Errorf("first: %+v", first)
	}
	if fmt.Sprint(dry.Learned) != fmt.Sprint(first.Learned) {
		t.Errorf("the dry run promised %+v, it became %+v", dry.Learned, first.Learned)
	}
	before := mixOf(t, a)
	if again := learnTable(t, a, table); again.Added != 0 || again.Known != 24 || len(again.NewColorants) != 0 {
		t.Errorf("again: %+v", again)
	}
	// Some known rows and some new ones.
	if more := learnTable(t, a, pastTable(t, 30, true)); more.Added != 6 || more.Known != 24 {
		t.Errorf("more: %+v", more)
	}
	if *mixOf(t, a).Lab == *before.Lab {
		t.Error("six more portions changed nothing")
	}
	if _, err := a.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	if got := mixOf(t, a); *got.Lab != *before.Lab {
		t.Errorf("after undo %v, before %v", *got.Lab, *before.Lab)
	}
	if _, err := a.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Mix(ctx, blueAndRed); err == nil {
		t.Error("undo left the colourants of the table on the shelf")
	}
}

// TestOrderDoesNotMatter learns the same rows in the opposite order, and in two files.
func TestOrderDoesNotMatter(t *testing.T) {
	a, b, c := newBook(t), newBook(t), newBook(t)
	learnTable(t, a, pastTable(t, 30, false))
	learnTable(t, b, pastTable(t, 30, true))
	learnTable(t, c, pastTable(t, 10, false))
	learnTable(t, c, pastTable(t, 30, false))
	x, y, z := mixOf(t, a), mixOf(t, b), mixOf(t, c)
	if *x.Lab != *y.Lab || *x.P95 != *y.P95 || *x.Lab != *z.Lab {
		t.Errorf("%v, in the opposite order %v, in two files %v", *x.Lab, *y.Lab, *z.Lab)
	}
}

// TestHistoryRefused names what is wrong and takes nothing.
func TestHistoryRefused(t *testing.T) {
	for _, c := range []struct{ data, want string }{
		{"base_L,base_a,base_b,dose_X,L,a,b\n90,0,8,1,50,0\n", "line 2"},
		{"base_L,base_a,base_b,dose_X,L,a,b\n90,0,8,-1,50,0,0\n", "outside 0..1000"},
		{"base_L,base_a,base_b,dose_X y,dose_x  y,L,a,b\n90,0,8,1,1,50,0,0\n", "dose the same colourant"},
		{"base_L,base_a,base_b,dose_X\n90,0,8,1\n", "no row has a settled colour"},
		{"base_L,base_a,base_b,dose_-f,L,a,b\n90,0,8,1,50,0,0\n", "taken for a flag"},
		{manyColourants(130), "at most 120"},
		{"", ""},
	} {
		a := newBook(t)
		_, err := a.LearnHistory(context.Background(), HistoryQuery{Data: []byte(c.data), File: "past.csv"})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.data, err, c.want)
		}
		if list, _ := a.Colorants(context.Background(), true); len(list) > 0 && !list[0].BuiltIn {
			t.Errorf("%q: left %q on the shelf", c.data, list[0].Name)
		}
	}
}

// manyColourants is a table of as many colourants, each in a portion of its own.
func manyColourants(n int) string {
	head, rows := "base_L,base_a,base_b,L,a,b", ""
	for i := range n {
		head += fmt.Sprintf(",dose_jar %d", i)
		rows += "89,0,8,60,5,5" + strings.Repeat(",", i+1) + "1" + strings.Repeat(",", n-i-1) + "\n"
	}
	return head + "\n" + rows
}

// FuzzHistory: no table makes it panic, and what is taken can be learned from.
func FuzzHistory(f *testing.F) {
	f.Add([]byte("base_L,base_a,base_b,dose_X,dose_vanillin,L,a,b\n90,0,8,1,2,50,0,0\n"))
	f.Add([]byte("base_L;base_a;base_b;dose_X;L;a;b;date\n90;0;8;0,5;50;0;0;2026-01-05\n"))
	f.Add([]byte("base_L,base_a,base_b,dose_titanium white,stabilizer,dose_vanillin,L,a,b\n0,0,0,1000,1000,1000,100,0,0\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		a := New(filepath.Join(t.TempDir(), "none.db"), clockAt("2026-11-20T06:45:00Z"))
		defer a.Close()
		if len(data) > 4000 {
			return
		}
		_, _ = a.LearnHistory(context.Background(), HistoryQuery{Data: data, File: "f.csv", DryRun: true})
	})
}

// TestTruthRecovered predicts unseen mixtures of the simulated colourants; 24 portions with
// noise 0.5 should give them to about that noise.
func TestTruthRecovered(t *testing.T) {
	a := newBook(t)
	learnTable(t, a, pastTable(t, 24, false))
	all := pastTable(t, 60, false)
	lines := bytes.Split(bytes.TrimSpace(all), []byte("\n"))
	unseen := bytes.Join(append([][]byte{lines[0]}, lines[25:]...), []byte("\n"))
	r, err := a.Mix(context.Background(), MixQuery{Data: unseen, File: "unseen.csv"})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for i, m := range r.Mixtures {
		cells := strings.Split(string(lines[25+i]), ",")
		var v [3]float64
		for j := range v {
			if _, err := fmt.Sscan(cells[7+j], &v[j]); err != nil {
				t.Fatal(err)
			}
		}
		if m.Lab == nil || m.Portion != cells[10] {
			t.Fatalf("row %d: %+v", i, m)
		}
		sum += cie.DeltaE00(*m.Lab, cie.Lab{L: v[0], A: v[1], B: v[2]})
	}
	if mean := sum / float64(len(r.Mixtures)); mean > 1.5 {
		t.Errorf("mean ΔE00 %.2f", mean)
	}
}

// TestExtrapolation: beyond four times the largest dose read there is no number.
func TestExtrapolation(t *testing.T) {
	a := newBook(t)
	learnTable(t, a, pastTable(t, 24, false))
	k, err := a.knowledge(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	c, _ := k.shelf.Colorant("tide blue")
	for _, far := range []bool{false, true} {
		dose := 3.99 * c.MaxDose
		if far {
			dose = 4.01 * c.MaxDose
		}
		r, err := a.Mix(context.Background(), MixQuery{Doses: []MixDose{{"Tide Blue", unit.GramsPerKg(dose)}}})
		if err != nil {
			t.Fatal(err)
		}
		if m := r.Mixtures[0]; m.Extrapolates != far || (m.Lab == nil) != far {
			t.Errorf("%.1f g/kg, read to %.1f: %+v", dose, c.MaxDose, m)
		}
	}
}

const duskPlan = `title = "Harbour Dawn"
superfat = "5 %"
lye = { alkali = "NaOH", purity = "98 %", concentration = "33 %" }
[oils]
coconut = "50 %"
palm = "50 %"
[[batter]]
name = "slab"
oils = "1000 g"
[[batter.portion]]
name = "tide"
parts = 1
target = "#46607f"
colorants = [{ name = "Tide Blue", dose = "1 g/kg" }]
[[batter.portion]]
name = "quay"
parts = 1
colorants = [{ name = "Rope Red", dose = "1 g/kg" }, { name = "Chalk White", dose = "1 g/kg" }]
`

func checked(t *testing.T, a *App) *PlanCheck {
	t.Helper()
	c, err := a.CheckPlan(context.Background(), CheckQuery{Data: []byte(duskPlan), File: "dusk.toml"})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestPlanNotLearnedAgain: a plan checked again costs no fit, in a session of its own,
// as long as nothing that matters has changed; then it does.
func TestPlanNotLearnedAgain(t *testing.T) {
	ctx := context.Background()
	a := newBook(t)
	if c := checked(t, a); c.Grounds != GuessWords || c.Portions[0].Settled != nil {
		t.Errorf("before: %q, %v", c.Grounds, c.Portions[0].Settled)
	}
	learnTable(t, a, pastTable(t, 30, false))
	fresh := func() *App {
		b := New(a.Path(), a.now)
		t.Cleanup(func() { b.Close() })
		return b
	}
	one := fresh()
	first := checked(t, one)
	if !strings.HasPrefix(first.Grounds, "own readings, 30 portions") {
		t.Errorf("grounds %q", first.Grounds)
	}
	if one.fits.Load() != 1 {
		t.Errorf("%d fits the first time", one.fits.Load())
	}
	two := fresh()
	second := checked(t, two)
	if two.fits.Load() != 0 {
		t.Error("fitted again though nothing had changed")
	}
	if *second.Portions[0].Settled != *first.Portions[0].Settled || *second.Portions[0].Near != *first.Portions[0].Near {
		t.Errorf("kept %+v, fitted %+v", second.Portions[0].Settled, first.Portions[0].Settled)
	}
	// A change to the book that teaches nothing.
	if _, err := a.AddStabilizer(ctx, fragrance.Stabilizer{Name: "Harbour Salt"}); err != nil {
		t.Fatal(err)
	}
	three := fresh()
	checked(t, three)
	if three.fits.Load() != 0 {
		t.Error("fitted again though nothing that teaches had changed")
	}
	if _, err := a.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	// Taking the table back.
	if _, err := a.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	if c := checked(t, fresh()); c.Grounds != GuessWords || c.Portions[0].Settled != nil {
		t.Errorf("after undo: %q", c.Grounds)
	}
}

// TestForecastLearned: the plan's forecast agrees with the mixture's, and its band with
// the doubt of the base, which the plan knows by its oils only.
func TestForecastLearned(t *testing.T) {
	a := newBook(t)
	learnTable(t, a, pastTable(t, 30, false))
	c := checked(t, a)
	for i, doses := range [][]MixDose{{{"Tide Blue", 1}}, {{"Rope Red", 1}, {"Chalk White", 1}}} {
		r, err := a.Mix(context.Background(), MixQuery{Base: &c.Base.Lab, Doses: doses})
		if err != nil {
			t.Fatal(err)
		}
		got, want := c.Portions[i].Settled, r.Mixtures[0]
		// Kept in single precision.
		if got == nil || cie.DeltaE76(got.Lab, *want.Lab) > 0.01 {
			t.Fatalf("portion %d: plan %+v, mixture %v", i, got, *want.Lab)
		}
		if w := want.P95.Sub(*want.P05); got.P95.L-got.P05.L < 0.7*w.L {
			t.Errorf("portion %d: the plan's band %.2f is narrower than the mixture's %.2f", i, got.P95.L-got.P05.L, w.L)
		}
	}
}

// TestVanillinBrown: the brown expected of vanillin falls with a stabiliser, and without one
// and under ordinary conditions is the vanillin itself.
func TestVanillinBrown(t *testing.T) {
	if b, r := vanillinBrown(2, 0); math.Abs(b-2) > 1e-9 || r != 0 {
		t.Errorf("2 g/kg: %g, ratio %g", b, r)
	}
	last := 2.0
	for _, g := range []float64{5, 20, 80} {
		b, r := vanillinBrown(2, g)
		if !(b < last) || !(r > 0) || !(b > 0) {
			t.Errorf("with %g g/kg stabiliser: %g after %g, ratio %g", g, b, last, r)
		}
		last = b
	}
	cold := equivalent(0.2, 2.6, fragrance.Conditions{Gel: fragrance.GelNone, Light: fragrance.LightDark}, 0)
	if !(cold < 2.6) {
		t.Errorf("in the dark and ungelled as much as %g of 2.6", cold)
	}
}

// TestBeyond: tail probabilities of χ² with three degrees of freedom; 6.251, 11.345 and
// 16.266 are its 90, 99 and 99.9 % points in any table of it.
func TestBeyond(t *testing.T) {
	for x, want := range map[float64]float64{6.251: 0.1, 11.345: 0.01, 16.266: 0.001} {
		if got := beyond(x); math.Abs(got-want) > 0.001*want+2e-6 {
			t.Errorf("%g: %g, want %g", x, got, want)
		}
	}
}

// pouredBook has a batch of the dusk plan with readings over six weeks: tide holds on a
// blue, quay on a red, both beside a bare control.
func pouredBook(t *testing.T) *App {
	t.Helper()
	ctx := context.Background()
	a := newBook(t)
	a.now = clockAt("2026-10-01T18:00:00Z")
	for _, c := range []colorants.Product{
		{Name: "Tide Blue", Label: "CI 77007 (Ultramarines)", Swatch: &cie.Lab{L: 45, A: 2, B: -30}, SwatchBasis: colorants.SwatchMaker},
		{Name: "Rope Red", Label: "CI 77491 (Iron Oxides)", Swatch: &cie.Lab{L: 52, A: 28, B: 22}, SwatchBasis: colorants.SwatchMaker},
		{Name: "Chalk White", Label: "CI 77891 (Titanium Dioxide)", Swatch: &cie.Lab{L: 95, A: -0.5, B: 3}, SwatchBasis: colorants.SwatchMaker},
	} {
		if _, err := a.AddColorant(ctx, c); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := a.PourPlan(ctx, PourQuery{Data: []byte(duskPlan), File: "dusk.toml", Code: "HD-01", Control: "slab"}); err != nil {
		t.Fatal(err)
	}
	if _, err := a.AddEvent(ctx, EventQuery{Target: "HD-01", Kind: "cut", At: "2026-10-02 18:00"}); err == nil {
		t.Fatal("an event of tomorrow was taken")
	}
	a.now = clockAt("2026-11-20T18:00:00Z")
	if _, err := a.AddEvent(ctx, EventQuery{Target: "HD-01", Kind: "cut", At: "2026-10-02 18:00"}); err != nil {
		t.Fatal(err)
	}
	for _, day := range []string{"2026-10-03", "2026-10-08", "2026-10-20", "2026-11-12"} {
		read(t, a, "HD-01/bare", "88.5,-0.4,10", day)
		read(t, a, "HD-01/tide", "63,-4,-17", day)
		read(t, a, "HD-01/quay", "70,16,15", day)
	}
	return a
}

func read(t *testing.T, a *App, target, lab, day string) int64 {
	t.Helper()
	r, err := a.AddReading(context.Background(), ReadingQuery{Target: target, Lab: []string{lab}, At: day + " 18:00"})
	if err != nil {
		t.Fatal(err)
	}
	return r.ID
}

// TestStruckReadingTeachesNothing: a wrong reading changes the forecast; struck out, it is
// as if it had never been there.
func TestStruckReadingTeachesNothing(t *testing.T) {
	ctx := context.Background()
	a := pouredBook(t)
	before := checked(t, a)
	if !strings.HasPrefix(before.Grounds, "own readings, 2 portions (HD-01)") {
		t.Errorf("grounds %q", before.Grounds)
	}
	if d := cie.DeltaE00(before.Portions[0].Settled.Lab, cie.Lab{L: 63, A: -4, B: -17}); d > 4 {
		t.Errorf("four readings say 63,-4,-17, the forecast %v", before.Portions[0].Settled.Lab)
	}
	// Verdicts are kept too, and kept ones say the same.
	again := New(a.Path(), a.now)
	defer again.Close()
	x, err := json.Marshal(before)
	if err != nil {
		t.Fatal(err)
	}
	y, err := json.Marshal(checked(t, again))
	if err != nil {
		t.Fatal(err)
	}
	if again.fits.Load() != 0 || !bytes.Equal(x, y) {
		t.Errorf("%d fits; checked again it says\n%s\nbefore\n%s", again.fits.Load(), y, x)
	}
	mixed := mixOf(t, a)
	id := read(t, a, "HD-01/tide", "40,30,20", "2026-11-15")
	if wrong := checked(t, a); wrong.Portions[0].Settled.Lab == before.Portions[0].Settled.Lab {
		t.Error("a wrong reading changed nothing")
	}
	if _, err := a.StrikeReading(ctx, id, "wrong jug"); err != nil {
		t.Fatal(err)
	}
	after := checked(t, a)
	for i := range before.Portions {
		x, y := before.Portions[i].Settled, after.Portions[i].Settled
		if *x != *y {
			t.Errorf("portion %d: %+v before, %+v with the wrong reading struck out", i, *x, *y)
		}
	}
	if *mixOf(t, a).Lab != *mixed.Lab {
		t.Error("a mixture still follows the struck reading")
	}
}

// TestReadingsNarrow: after a batch the band is narrower than from swatches alone.
func TestReadingsNarrow(t *testing.T) {
	a := pouredBook(t)
	learned := checked(t, a)
	b := newBook(t)
	for _, c := range []string{"Tide Blue", "Rope Red", "Chalk White"} {
		p, err := a.Colorant(context.Background(), c)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := b.AddColorant(context.Background(), p); err != nil {
			t.Fatal(err)
		}
	}
	guessed := checked(t, b)
	for i := range guessed.Portions {
		if x, y := learned.Portions[i].Settled.Band, guessed.Portions[i].Settled.Band; x >= y {
			t.Errorf("%s: band %.1f with readings, %.1f without", guessed.Portions[i].Name, x, y)
		}
	}
}

// BenchmarkLearn takes 1000 portions of 60 colourants. Its peer is the reading of the same
// portions' table: learning from them costs so many times as much.
func BenchmarkLearn(b *testing.B) {
	const colourants, portions = 60, 1000
	rng := rand.New(rand.NewPCG(3, 4))
	base, err := mixing.BaseFromLab(cie.Lab{L: 89, A: -0.5, B: 9}, mixing.SoapSurface)
	if err != nil {
		b.Fatal(err)
	}
	var known []mixing.Colorant
	for len(known) < colourants {
		hue, chroma := 2*math.Pi*rng.Float64(), 10+25*rng.Float64()
		c, err := mixing.FromSwatch(cie.Lab{L: 45 + 30*rng.Float64(), A: chroma * math.Cos(hue), B: chroma * math.Sin(hue)}, 2, base, mixing.Colour, mixing.SoapSurface)
		if err != nil {
			b.Fatal(err)
		}
		known = append(known, c)
	}
	var table strings.Builder
	table.WriteString("base_L,base_a,base_b,L,a,b,dose_vanillin")
	for i := range colourants {
		fmt.Fprintf(&table, ",dose_jar %d", i+1)
	}
	for i := range portions {
		var d [colourants]float64
		d[i%colourants], d[(7*i+3)%colourants] = 0.5+4*rng.Float64(), 0.5+2*rng.Float64()
		dosed := make([]mixing.Dosed, colourants)
		for j := range d {
			dosed[j] = mixing.Dosed{Dose: d[j], K: &known[j].K, S: &known[j].S}
		}
		lab := mixing.Mix(&base, dosed, 0.3*float64(i%3), mixing.SoapSurface)
		noise := func() float64 { return 0.8 * rng.NormFloat64() }
		fmt.Fprintf(&table, "\n89,-0.5,9,%.2f,%.2f,%.2f,%d", lab.L+noise(), lab.A+noise(), lab.B+noise(), i%3)
		for _, dose := range d {
			if table.WriteByte(','); dose > 0 {
				fmt.Fprintf(&table, "%.2f", dose)
			}
		}
	}
	q := HistoryQuery{Data: []byte(table.String()), File: "past.csv", SD: HistorySD}
	a := New(filepath.Join(b.TempDir(), "book.db"), clockAt("2026-11-20T06:45:00Z"))
	defer a.Close()
	s, err := a.Shelf(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	var reading, learning time.Duration
	for b.Loop() {
		start := time.Now()
		m, err := readHistory(q)
		if err != nil {
			b.Fatal(err)
		}
		reading += time.Since(start)
		start = time.Now()
		l, err := s.gather(context.Background(), nil, nil, pastPortions(&m, q))
		if err != nil {
			b.Fatal(err)
		}
		if _, err := a.fit(l); err != nil {
			b.Fatal(err)
		}
		learning += time.Since(start)
	}
	b.ReportMetric(float64(learning)/float64(reading), "×reading-the-table")
	b.ReportMetric(learning.Seconds()/float64(b.N), "s-learning")
}

// TestTaught shows what a batch taught of a colourant: the ladder darkens with the dose, the
// evidence cites the batch, the prior is the swatch.
func TestTaught(t *testing.T) {
	a := pouredBook(t)
	c, err := a.Taught(context.Background(), "tide blue")
	if err != nil {
		t.Fatal(err)
	}
	if c == nil || c.Portions != 1 || len(c.Ladder) < 3 || len(c.Evidence) != 1 || c.Evidence[0].Batch != "HD-01" || c.Evidence[0].Portion != "slab/tide" {
		t.Fatalf("%+v", c)
	}
	for i, s := range c.Ladder {
		if i > 0 && (s.Dose <= c.Ladder[i-1].Dose || s.Lab.L >= c.Ladder[i-1].Lab.L) {
			t.Errorf("%v g/kg has L* %.1f after %.1f", s.Dose, s.Lab.L, c.Ladder[i-1].Lab.L)
		}
		if s.Read != (s.Dose <= c.MaxDose) {
			t.Errorf("%v g/kg of %v: read %v", s.Dose, c.MaxDose, s.Read)
		}
	}
	if c.Prior == nil || c.Prior.Basis != "your swatch" || c.Prior.Before.Lab != (cie.Lab{L: 45, A: 2, B: -30}) || c.Prior.Delta == 0 {
		t.Errorf("prior %+v", c.Prior)
	}
	if none, err := a.Taught(context.Background(), "Zinc oxide (CI 77947)"); none != nil || err != nil {
		t.Errorf("never read: %+v, %v", none, err)
	}
}

// TestMisfit: a portion with a slip in it is named first, with its colourants.
func TestMisfit(t *testing.T) {
	a := newBook(t)
	rows := strings.Split(strings.TrimSpace(string(pastTable(t, 40, false))), "\n")
	cells := strings.Split(rows[20], ",")
	cells[9] = "55" // b* of a red and a blue
	rows[20] = strings.Join(cells, ",")
	r := learnTable(t, a, []byte(strings.Join(rows, "\n")+"\n"))
	// One of its like may be dragged along, far less unlikely.
	if n := len(r.Learned.Misfits); n == 0 || n > 2 || r.Learned.Misfits[0].Portion != "p20" {
		t.Fatalf("%+v", r.Learned.Misfits)
	}
	at := slices.IndexFunc(checked(t, a).Findings, func(f plan.Finding) bool { return f.Rule == "unlike" && strings.Contains(f.Title, "p20") })
	if at < 0 {
		t.Error("a plan with its colourants does not say so")
	}
	if m := r.Learned.Misfits[0]; m.Delta < 10 || !(m.Chance < 0.001) || len(m.Colorants) != 2 {
		t.Errorf("%+v", m)
	}
}

// TestStabilizerLearned: portions whose stabiliser holds back three quarters of the brown
// move the estimate from what chemistry expects towards that.
func TestStabilizerLearned(t *testing.T) {
	base, err := mixing.BaseFromLab(cie.Lab{L: 89, A: -0.5, B: 9}, mixing.SoapSurface)
	if err != nil {
		t.Fatal(err)
	}
	table := "base_L,base_a,base_b,dose_vanillin,stabilizer,L,a,b,portion\n"
	for i := range 12 {
		vanillin, stabilizer := 1+0.3*float64(i%6), 0.0
		u := 0.25 * math.Pow(vanillin, 1.4)
		if i >= 6 {
			stabilizer = 12 * vanillin
			u *= 0.25
		}
		lab := mixing.Mix(&base, nil, u, mixing.SoapSurface)
		table += fmt.Sprintf("89,-0.5,9,%g,%g,%.2f,%.2f,%.2f,bar %d\n", vanillin, stabilizer, lab.L, lab.A, lab.B, i+1)
	}
	r := learnTable(t, newBook(t), []byte(table))
	s := r.Learned.Stabilizer
	if s == nil || s.With != 6 || s.Without != 6 {
		t.Fatalf("%+v", s)
	}
	if math.Abs(s.Held-0.75) > 0.1 || s.Expected > 0.7 {
		t.Errorf("held back %.2f, want about 0.75; expected %.2f", s.Held, s.Expected)
	}
}

// TestNext: the pour proposed for colourants known by swatch only narrows their bands, and
// having really read it does about what was said.
func TestNext(t *testing.T) {
	ctx := context.Background()
	a := newBook(t)
	for _, c := range []colorants.Product{
		{Name: "Tide Blue", Label: "CI 77007 (Ultramarines)", Swatch: &cie.Lab{L: 45, A: 2, B: -30}, SwatchBasis: colorants.SwatchMaker},
		{Name: "Rope Red", Label: "CI 77491 (Iron Oxides)", Swatch: &cie.Lab{L: 52, A: 28, B: 22}, SwatchBasis: colorants.SwatchMaker},
	} {
		if _, err := a.AddColorant(ctx, c); err != nil {
			t.Fatal(err)
		}
	}
	q := NextQuery{Plans: []NextPlan{{[]byte(duskPlan), "dusk.toml"}}, Most: 1}
	r, err := a.Next(ctx, q)
	if err != nil {
		t.Fatal(err)
	}
	// Nothing is known of the white, so it comes first.
	if len(r.Pours) != 1 || r.Pours[0].Colorant != "Chalk White" || r.Pours[0].Now != nil {
		t.Fatalf("%+v", r)
	}
	q.Most = 3
	if r, err = a.Next(ctx, q); err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(r.Pours, func(p TestPour) bool { return p.Colorant == "Tide Blue" })
	if at < 0 || r.Enough {
		t.Fatalf("%+v", r)
	}
	pour := r.Pours[at]
	if *pour.Then > 0.7**pour.Now {
		t.Errorf("a pour at the very dose narrows ±%.1f to ±%.1f only", *pour.Now, *pour.Then)
	}
	// Pour it: the reading is where the swatch puts it.
	c := checked(t, a)
	m, err := a.Mix(ctx, MixQuery{Base: &c.Base.Lab, Doses: []MixDose{{"Tide Blue", pour.Dose}}})
	if err != nil {
		t.Fatal(err)
	}
	lab := m.Mixtures[0].Lab
	table := fmt.Sprintf("base_L,base_a,base_b,dose_Tide Blue,L,a,b\n%g,%g,%g,%g,%g,%g,%g\n", c.Base.Lab.L, c.Base.Lab.A, c.Base.Lab.B, float64(pour.Dose), lab.L, lab.A, lab.B)
	if _, err := a.LearnHistory(ctx, HistoryQuery{Data: []byte(table), File: "pour.csv"}); err != nil {
		t.Fatal(err)
	}
	after, err := a.Mix(ctx, MixQuery{Base: &c.Base.Lab, Doses: []MixDose{{"Tide Blue", 1}}})
	if err != nil {
		t.Fatal(err)
	}
	got := radius(kinetics.Band{Median: *after.Mixtures[0].Lab, P05: *after.Mixtures[0].P05, P95: *after.Mixtures[0].P95})
	if math.Abs(got-*pour.Then) > 0.1**pour.Then {
		t.Errorf("±%.2f was said, ±%.2f it became", *pour.Then, got)
	}
	if _, err := a.Next(ctx, NextQuery{}); err == nil {
		t.Error("no plan and no batch was taken")
	}
	open, err := pouredBook(t).Next(ctx, NextQuery{})
	if err != nil || open.Now == nil {
		t.Errorf("the plan of an open batch: %+v, %v", open, err)
	}
}

// scentedPlan is the sixth case of the browning model's table: D 0.1883 % of the bar on a
// base of 90, -0.5, 8, ungelled, no stabiliser. Its prior settles on L* 58.8; one phone
// reading of 70, 5, 22 on day 14 makes that 64.5.
const scentedPlan = `title = "Pale Buoy"
superfat = "5 %"
lye = { purity = "98 %", concentration = "33 %" }
[oils]
coconut = "50 %"
palm = "50 %"
[base]
colour = "90,-0.5,8"
age_days = 42
[fragrance]
name = "Lantern Amber"
vanillin = "5 %"
rate = "5 %"
stabilizer = "none"
[pour]
gel = "none"
[[batter]]
name = "slab"
oils = "1000 g"
[[batter.portion]]
name = "buoy"
parts = 1
colorants = []
`

// TestOneReadingOfAScent: one reading of a scented bar moves what a plan with that scent is
// forecast to settle on most of the way that full re-calibration goes, and narrows its band.
// The forecast takes the reading's settled estimate as a portion, which is another way to
// the same end, hence the tolerance of 3 in L*.
func TestOneReadingOfAScent(t *testing.T) {
	ctx := context.Background()
	a := newBook(t)
	a.now = clockAt("2026-10-01T18:00:00Z")
	look := func() *ColourSaid {
		c, err := a.CheckPlan(ctx, CheckQuery{Data: []byte(scentedPlan), File: "buoy.toml"})
		if err != nil {
			t.Fatal(err)
		}
		return c.Portions[0].Settled
	}
	before := look()
	if math.Abs(before.Lab.L-58.8) > 2 {
		t.Errorf("before any reading L* %.1f, the table has 58.8", before.Lab.L)
	}
	if _, err := a.PourPlan(ctx, PourQuery{Data: []byte(scentedPlan), File: "buoy.toml", Code: "PB-01"}); err != nil {
		t.Fatal(err)
	}
	a.now = clockAt("2026-10-16T18:00:00Z")
	if _, err := a.AddEvent(ctx, EventQuery{Target: "PB-01", Kind: "cut", At: "2026-10-02 18:00"}); err != nil {
		t.Fatal(err)
	}
	if _, err := a.AddReading(ctx, ReadingQuery{Target: "PB-01/buoy", Lab: []string{"70,5,22"}, Method: "photo", At: "2026-10-15 18:00"}); err != nil {
		t.Fatal(err)
	}
	after := look()
	if math.Abs(after.Lab.L-64.5) > 3 || after.Band >= before.Band {
		t.Errorf("L* %.1f ±%.1f, before %.1f ±%.1f; the table has 64.5", after.Lab.L, after.Band, before.Lab.L, before.Band)
	}
	t.Logf("L* %.1f ±%.1f before, %.1f ±%.1f after", before.Lab.L, before.Band, after.Lab.L, after.Band)
}

// TestScentFor: which readings speak for a scent with a stabiliser.
func TestScentFor(t *testing.T) {
	of := func(scents ...string) *knowledge {
		k := &knowledge{learning: &learning{}}
		for _, s := range scents {
			k.portions = append(k.portions, mixing.Portion{Recipe: mixing.Recipe{Brown: 1, Scent: s}})
		}
		return k
	}
	for _, c := range []struct {
		read       []string
		asks, want string
	}{
		{[]string{"amber", "amber" + stabilised}, "amber" + stabilised, "amber" + stabilised},
		{[]string{"amber", stabilised}, "amber" + stabilised, "amber"},
		{[]string{"", stabilised}, "amber" + stabilised, stabilised},
		{[]string{""}, "amber" + stabilised, "amber" + stabilised},
		{[]string{"", stabilised}, "amber", "amber"},
	} {
		if got := of(c.read...).scentFor(c.asks); got != c.want {
			t.Errorf("read %q, asked %q: %q, want %q", c.read, c.asks, got, c.want)
		}
	}
}
