package fragrance

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/testkit"
	"lyefast/internal/unit"
)

func percent(v float64) *unit.Percent { p := unit.Percent(v); return &p }
func celsius(v float64) *unit.Celsius { c := unit.Celsius(v); return &c }

// asPrinted are the priors of the printed worked cases, whose stabiliser does less
// than the default says.
func asPrinted() Priors { return DefaultPriors().With(Stabiliser, 0.45, 0.15) }

func doseOf(t testing.TB, f Fragrance, use Use) Dose {
	t.Helper()
	if f.Name == "" {
		f.Name = "Harbour Amber"
	}
	d, err := f.Dose(use)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// workedCase is one printed line: 1000 g of oils, the default base.
type workedCase struct {
	name            string
	vanillin, ethyl float64 // % of the fragrance
	usage           float64 // % of oils
	conditions      Conditions
	r, day          float64
	dose, uInf      float64
	lab             cie.Lab
	low, high       float64 // central 80 % of L*
	word            string
}

var ungelled = Conditions{Gel: GelNone}

var workedCases = []workedCase{
	{"1", 1, 0, 3, ungelled, 0, 28, 0.0229, 0.058, cie.Lab{L: 85.2, A: 0.6, B: 13.8}, 80, 88, "cream"},
	{"2, day 3", 5, 0, 5, ungelled, 0, 3, 0.1883, 1.102, cie.Lab{L: 73.2, A: 4.0, B: 23.1}, 63, 81, "light tan"},
	{"2, day 14", 5, 0, 5, ungelled, 0, 14, 0.1883, 1.102, cie.Lab{L: 62.8, A: 6.9, B: 26.3}, 52, 73, "tan"},
	{"2, day 42", 5, 0, 5, ungelled, 0, 42, 0.1883, 1.102, cie.Lab{L: 58.9, A: 7.8, B: 26.5}, 48, 69, "light brown"},
	{"3", 12, 0, 5, Conditions{Gel: GelFull}, 0, 42, 0.4518, 4.694, cie.Lab{L: 39.4, A: 9.4, B: 21.0}, 31, 51, "dark brown"},
	{"4, day 7", 8, 3, 4, ungelled, 1.5, 7, 0.3262, 1.650, cie.Lab{L: 90.0, A: -0.5, B: 8.0}, 67, 90, NoChange},
	{"4, day 28", 8, 3, 4, ungelled, 1.5, 28, 0.3262, 1.650, cie.Lab{L: 56.0, A: 8.4, B: 26.4}, 45, 73, "light brown"},
	{"4, day 28, without", 8, 3, 4, ungelled, 0, 28, 0.3262, 2.380, cie.Lab{L: 49.4, A: 9.3, B: 25.2}, 0, 0, "mid brown"},
	{"5", 20, 0, 6, Conditions{Gel: GelNone, Light: LightWindow, CureAt: celsius(28)}, 0, 28, 0.8969, 9.807, cie.Lab{L: 30.8, A: 7.9, B: 15.2}, 23, 41, "near black"},
}

func TestWorkedCases(t *testing.T) {
	priors := asPrinted()
	centre := priors.Centre()
	rng := rand.New(rand.NewPCG(7, 1907))
	for _, c := range workedCases {
		d := doseOf(t, Fragrance{Vanillin: percent(c.vanillin), EthylVanillin: percent(c.ethyl)},
			Use{Oils: 1000, Fragrance: unit.Grams(10 * c.usage)})
		within(t, c.name+": D", d.Percent, c.dose, 0.00006)
		within(t, c.name+": u∞", centre.Settled(d.Percent, c.conditions, c.r), c.uInf, 0.0016)
		u := centre.U(c.day, d.Percent, c.conditions, c.r)
		got := ShortPath(u)
		if u == 0 {
			got = DefaultBase // the short form errs by 0.03 at the base itself
		}
		within(t, c.name+": L*", got.L, c.lab.L, 0.051)
		within(t, c.name+": a*", got.A, c.lab.A, 0.051)
		within(t, c.name+": b*", got.B, c.lab.B, 0.051)
		if w := Describe(DefaultBase, got); w != c.word {
			t.Errorf("%s: word %q, want %q", c.name, w, c.word)
		}
		if c.high == 0 {
			continue
		}
		// Two sets of draws: 4000 at random as in print, and the fixed set of the
		// forecasts. The printed intervals are whole numbers from random draws.
		random := make([]float64, 4000)
		for i := range random {
			var z Coords
			for k := range z {
				z[k] = rng.NormFloat64()
			}
			p := priors.Apply(z)
			random[i] = ShortPath(p.U(c.day, d.Percent, c.conditions, c.r)).L
		}
		fixed := priors.samples(baseOf(t, DefaultBase), d.Percent, []float64{c.day}, c.conditions, c.r)[0][0]
		for what, v := range map[string][]float64{"4000 random draws": random, "the fixed draws": fixed} {
			slices.Sort(v)
			within(t, c.name+": 10 % of L*, "+what, quantile(v, 0.1), c.low, 2)
			within(t, c.name+": 90 % of L*, "+what, quantile(v, 0.9), c.high, 2)
		}
	}
}

// The path of twenty-two doses as kept in the shared data: final colour, and L* on
// day 28, by the short form with ungelled bars in room light.
func TestModelRows(t *testing.T) {
	centre := func() Params { p := asPrinted(); return p.Centre() }()
	seen := 0
	for _, row := range testkit.Table(t, testkit.Shared(t, "reference/vanillin-browning-practice.csv")) {
		if row["kind"] != "model" {
			continue
		}
		seen++
		id := row["id"]
		vanillin := number(t, strings.Fields(row["item"])[0])
		usage := number(t, strings.Fields(row["condition"])[1])
		d := doseOf(t, Fragrance{Vanillin: percent(vanillin)}, Use{Oils: 1000, Fragrance: unit.Grams(10 * usage)})
		within(t, id+" D", d.Percent, number(t, row["low"]), 0.00006)
		u := centre.Settled(d.Percent, ungelled, 0)
		within(t, id+" u∞", u, number(t, row["high"]), 0.0006)
		got := ShortPath(u)
		within(t, id+" L*", got.L, number(t, row["L"]), 0.051)
		within(t, id+" a*", got.A, number(t, row["a"]), 0.051)
		within(t, id+" b*", got.B, number(t, row["b"]), 0.051)
		if w := Word(got.L); w != row["colour_words"] {
			t.Errorf("%s: word %q, want %q", id, w, row["colour_words"])
		}
		note := strings.TrimPrefix(row["note"], "day 28 L* ")
		note, _, _ = strings.Cut(note, ";")
		within(t, id+" L* on day 28", ShortPath(centre.U(28, d.Percent, ungelled, 0)).L, number(t, note), 0.051)
	}
	if seen != 22 {
		t.Errorf("%d rows compared, want 22", seen)
	}
}

// The table that is shown is the table that is drawn from.
func TestPriorTable(t *testing.T) {
	priors := DefaultPriors()
	p := priors.Centre()
	table := PriorTable()
	for i, want := range []float64{p.A, p.N, p.Tau, p.Beta, p.Eta, p.Slope, p.Red, p.Energy, p.Gel, p.GelDays, p.Light, p.Chelate, p.Phi, p.Lag} {
		within(t, table[i].Name, table[i].Value, want, 1e-12)
		within(t, table[i].Name, table[i].Doubt, priors.sd(Coordinate(i)), 1e-12)
		if table[i].Basis == "" {
			t.Errorf("%s has no basis", table[i].Name)
		}
	}
	if len(table) != 14 {
		t.Errorf("%d lines", len(table))
	}
}

// Share of the final strength by day, and the two times in the table of priors:
// half after 7.1 days, 90 % after 29.
func TestShareByDay(t *testing.T) {
	priors := DefaultPriors()
	p := priors.Centre()
	for day, want := range map[float64]float64{1: 12, 3: 28, 7: 49, 14: 71, 21: 82, 28: 89, 42: 96, 56: 98} {
		within(t, "share", 100*p.Share(p.Clock(day, ungelled), 0), want, 0.55)
	}
	within(t, "half", p.Share(7.1, 0), 0.5, 0.005)
	within(t, "90 %", p.Share(29, 0), 0.9, 0.005)
}

func TestClock(t *testing.T) {
	priors := DefaultPriors()
	p := priors.Centre()
	within(t, "20 °C", p.Clock(10, ungelled), 10, 1e-9)
	// 50 kJ/mol is a Q10 of 1.97 between 20 and 30 °C, and 4 h at 70 °C are 3.3 days.
	within(t, "Q10", p.Clock(1, Conditions{Gel: GelNone, CureAt: celsius(30)}), 1.97, 0.005)
	kelvin := func(c float64) float64 { return 273.15 + c }
	within(t, "4 h at 70 °C", 4.0/24*math.Exp(-50000/gasConstant*(1/kelvin(70)-1/kelvin(20))), 3.3, 0.07)
	within(t, "window", p.Clock(10, Conditions{Gel: GelNone, Light: LightWindow}), 15, 1e-9)
	within(t, "dark", p.Clock(10, Conditions{Gel: GelNone, Light: LightDark}), 5, 1e-9)
	within(t, "chelator", p.Clock(10, Conditions{Gel: GelNone, Chelator: true}), 8, 1e-9)
	within(t, "gel", p.Clock(10, Conditions{Gel: GelFull}), 13, 1e-9)
	within(t, "partial", p.Clock(10, Conditions{Gel: GelPartial}), 11.5, 1e-9)
	within(t, "unsure at the centre", p.Clock(10, Conditions{}), 11.5, 1e-9)
	within(t, "before the pour", p.Clock(-1, Conditions{Gel: GelFull}), 0, 0)
}

func TestStabiliserTerms(t *testing.T) {
	priors := DefaultPriors()
	p := priors.Centre()
	within(t, "no stabiliser", p.Held(0), 0, 0)
	within(t, "r 0.7", p.Held(0.7), 0.4, 1e-12)
	within(t, "r 1.5", p.Held(1.5), 0.8*1.5/2.2, 1e-12)
	// Six days of lag per unit of r, at most thirty.
	within(t, "just before", p.Share(9, 1.5), 0, 0)
	if p.Share(9.01, 1.5) <= 0 {
		t.Error("browning must start after the lag of 9 days")
	}
	if p.Share(30.01, 50) <= 0 {
		t.Error("no stabiliser holds the start back more than 30 days")
	}
}

// Properties: more scent, more days, warmth, light and gel never pale the bar; a
// stabiliser never darkens it. For any draw, not for the centre alone.
func TestBrowningIsMonotone(t *testing.T) {
	priors := DefaultPriors()
	warm := Conditions{Gel: GelFull, Light: LightWindow, CureAt: celsius(30)}
	for _, z := range Draws()[:100] {
		p := priors.Apply(z)
		for _, day := range []float64{0.5, 3, 14, 42, 180} {
			for _, dose := range []float64{0, 0.01, 0.2, 1} {
				u := p.U(day, dose, ungelled, 0)
				switch {
				case !(u >= 0) || math.IsInf(u, 0):
					t.Fatalf("u %v for %+v", u, p)
				case p.U(day+1, dose, ungelled, 0) < u:
					t.Fatalf("paler a day later: %+v", p)
				case p.U(day, dose*1.1, ungelled, 0) < u:
					t.Fatalf("paler with more scent: %+v", p)
				case p.U(day, dose, ungelled, 1) > u:
					t.Fatalf("darker with a stabiliser: %+v", p)
				case p.Clock(day, Conditions{Gel: GelNone, CureAt: celsius(30)}) < p.Clock(day, ungelled):
					t.Fatalf("slower when warm: %+v", p)
				case p.Clock(day, warm) < p.Clock(day, Conditions{Gel: GelNone, Light: LightWindow}):
					t.Fatalf("slower when warm and gelled: %+v", p)
				}
			}
		}
	}
}

func TestConditionsValidate(t *testing.T) {
	for _, c := range []Conditions{{}, ungelled, {Gel: GelPartial, Light: LightDark, CureAt: celsius(8), Chelator: true}} {
		if err := c.Validate(); err != nil {
			t.Errorf("%+v: %v", c, err)
		}
	}
	for _, c := range []Conditions{{Gel: "yes"}, {Light: "sun"}, {CureAt: celsius(95)}, {CureAt: celsius(math.NaN())}} {
		if err := c.Validate(); err == nil {
			t.Errorf("%+v was taken", c)
		}
	}
}
