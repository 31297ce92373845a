package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"lyefast/internal/sheet"
	"lyefast/internal/unit"
)

// threeOils is a batch of coconut 300 g, palm 300 g and low-erucic rapeseed 400 g with
// 98 % NaOH; its lye was worked by hand from the middles of the Codex ranges.
const threeOils = `title = "Three oils"
superfat = "%s"
lye = { purity = "98 %%", concentration = "33 %%" }
[oils]
coconut = "300 g"
palm = "300 g"
"rapeseed" = "400 g"
[[batter]]
name = "slab"
[[batter.portion]]
name = "plain"
%s`

func benchOf(t *testing.T, q SheetQuery) (*sheet.Bench, error) {
	t.Helper()
	return session(t).BenchSheet(context.Background(), q)
}

func harbour(t *testing.T) []byte {
	t.Helper()
	data, err := os.ReadFile("../../testdata/plans/harbour-dawn.toml")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// The lye of the three oils: NaOH 146.3691 g of 98 % for a 5 % discount at the middle,
// 150.9913 g of pure NaOH for none (Codex CXS 210 midpoints, IUPAC weights); at the
// ends of the ranges 204.200 and 219.400 g of KOH. Rounded down to 146.3 g that is a
// discount of 5.045 % (1.511 to 8.334), to 146 g 5.240 %.
func TestTheSheetsDiscountIsThatOfItsWeights(t *testing.T) {
	for _, c := range []struct {
		step         unit.Grams
		naoh         unit.Grams
		mid, lo, top float64
	}{{0.1, 146.3, 5.045, 1.511, 8.334}, {1, 146, 5.240, 1.713, 8.522}} {
		b, err := benchOf(t, SheetQuery{Data: fmt.Appendf(nil, threeOils, "5 %", ""), File: "three.toml", Step: c.step})
		if err != nil {
			t.Fatal(err)
		}
		l := b.Pots[0].Lye
		if l.NaOH != c.naoh {
			t.Errorf("step %v: NaOH %v, want %v", c.step, l.NaOH, c.naoh)
		}
		// The sheet gives hundredths.
		for _, x := range [][2]float64{{float64(l.Discount), c.mid}, {float64(l.Low), c.lo}, {float64(l.High), c.top}} {
			if math.Abs(x[0]-x[1]) > 0.006 {
				t.Errorf("step %v: discount %.3f, want %.3f", c.step, x[0], x[1])
			}
		}
	}
}

// Whatever the scale, what is printed adds up: oils to their sum, a pot's lines to its
// total, the jugs to the pot; and no line is further from the exact weight than a step.
func TestSheetSumsAgree(t *testing.T) {
	busy := append(harbour(t), `
[[batter.portion]]
name = "night"
scented = false
[[batter]]
name = "stamp"
oils = "40 g"
[[batter.portion]]
name = "ink"
[[additive]]
name = "sodium lactate 60 %"
dose = "2 %"
[[additive]]
name = "kaolin"
dose = "1 %"
[[additive]]
name = "honey"
dose = "1 %"
[[additive]]
name = "shea"
dose = "3 %"
into = "batter"
`...)
	for _, plan := range [][]byte{harbour(t), busy} {
		sumsAgree(t, plan)
	}
}

func sumsAgree(t *testing.T, plan []byte) {
	exact := must(t, func() (*PlanCheck, error) {
		return session(t).CheckPlan(context.Background(), CheckQuery{Data: plan, File: "h.toml"})
	})
	for _, step := range steps {
		b, err := benchOf(t, SheetQuery{Data: plan, File: "h.toml", Step: step})
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range b.Pots {
			sum, jugs := unit.Grams(0), unit.Grams(0)
			for _, s := range p.Steps {
				own := unit.Grams(0)
				for _, l := range s.Lines {
					own += l.Grams
					if l.Amount != sheet.MassTo(l.Grams, step) {
						t.Errorf("%s %s is printed as %q", p.Name, l.Name, l.Amount)
					}
				}
				if s.Sum != nil && math.Abs(float64(s.Sum.Grams-own)) > 1e-9 {
					t.Errorf("step %v: %s %s: lines add up to %v, printed %v", step, p.Name, s.Title, own, s.Sum.Grams)
				}
				sum += own
			}
			for _, j := range p.Jugs {
				for _, l := range j.Lines {
					if l.Name == "batter" || strings.HasPrefix(l.Name, "scent") {
						jugs += l.Grams
					}
				}
			}
			if math.Abs(float64(sum-p.Total.Grams)) > 1e-6 || math.Abs(float64(jugs-p.Total.Grams)) > 1e-6 {
				t.Errorf("step %v: %s: lines %v, jugs %v, total %v", step, p.Name, sum, jugs, p.Total.Grams)
			}
			want := exact.Batters[i]
			if d := want.NaOH - p.Lye.NaOH; d < -0.051 || d > step+0.051 { // the check is rounded itself
				t.Errorf("step %v: %s: NaOH %v, exactly %v", step, p.Name, p.Lye.NaOH, want.NaOH)
			}
			if p.Lye.Discount < want.Discount-0.01 {
				t.Errorf("step %v: %s: rounding took the discount from %v to %v", step, p.Name, want.Discount, p.Lye.Discount)
			}
		}
	}
}

func TestSheetRefusesUnsafeLye(t *testing.T) {
	flake := `colorants = [{ name = "Mirror Flake", dose = "2 g/kg", label = "Aluminum Powder (CI 77000)" }]`
	strong := strings.Replace(threeOils, "33 %%", "48 %%", 1)
	for _, c := range []struct {
		name, plan string
		accept     bool
		want       string // "" = a sheet is made
	}{
		{"sound", fmt.Sprintf(threeOils, "5 %", ""), false, ""},
		{"low end", fmt.Sprintf(threeOils, "3 %", ""), false, "at the low end of the oils' published ranges"},
		{"low end accepted", fmt.Sprintf(threeOils, "3 %", ""), true, ""},
		{"none left", fmt.Sprintf(threeOils, "0 %", ""), true, "leaves lye in the bar"},
		{"metal", fmt.Sprintf(threeOils, "5 %", flake), false, "holds metal that lye attacks"},
		{"metal accepted", fmt.Sprintf(threeOils, "3 %", flake), true, "holds metal that lye attacks"},
		{"too strong", fmt.Sprintf(strong, "5 %", ""), true, "too strong to handle safely"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, err := benchOf(t, SheetQuery{Data: []byte(c.plan), File: "p.toml", AcceptLowEnd: c.accept})
			if c.want == "" {
				if err != nil {
					t.Fatal(err)
				}
				if told := strings.Contains(strings.Join(b.Notes, " "), "ACCEPTED"); told != c.accept {
					t.Errorf("the sheet tells of an accepted risk: %v", told)
				}
				return
			}
			if !errors.Is(err, ErrInvalid) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
	for _, step := range []unit.Grams{-1, 0.001, 0.3, 10, unit.Grams(math.NaN())} {
		if _, err := benchOf(t, SheetQuery{Data: harbour(t), File: "h.toml", Step: step}); err == nil {
			t.Errorf("a step of %v is taken", step)
		}
	}
}

// The second pot says when; a colour that leaves and returns has its date; whites of
// the first day have none.
func TestSheetSaysWhen(t *testing.T) {
	b, err := benchOf(t, SheetQuery{Data: harbour(t), File: "h.toml", Pour: "2026-12-30"})
	if err != nil {
		t.Fatal(err)
	}
	if b.Pots[0].When != "" || !strings.Contains(b.Pots[1].When, "holds a dent") || strings.Contains(b.Pots[1].When, "ungelled") {
		t.Errorf("when: %q, %q", b.Pots[0].When, b.Pots[1].When)
	}
	if j := b.Pots[0].Jugs; j[0].Judge != "" || j[2].Judge != "Sat 2 Jan 2027 (day 3)" {
		t.Errorf("judge %q and %q", j[0].Judge, j[2].Judge)
	}
	piped := strings.Replace(string(harbour(t)), `technique = "layers"`, `technique = "piped top"`, 1)
	if b, err = benchOf(t, SheetQuery{Data: []byte(piped), File: "h.toml"}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.Pots[1].When, "Piped tops stay ungelled and look paler") {
		t.Errorf("piped: %q", b.Pots[1].When)
	}
}

// Whatever a plan says, a sheet is refused or safe and adds up; a label and a shopping
// list are refused or come without a figure that is none.
func FuzzPlanToPaper(f *testing.F) {
	plan, err := os.ReadFile("../../testdata/plans/harbour-dawn.toml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(plan), 0.1)
	f.Add(fmt.Sprintf(threeOils, "5 %", ""), 1.0)
	f.Add(strings.Replace(fmt.Sprintf(threeOils, "5 %", ""), "400 g", "0.02 g", 1), 5.0)
	f.Add(strings.Replace(fmt.Sprintf(threeOils, "14 %", `colorants = [{ name = "Fog", dose = "1 tsp/lb", wet = "5 g water" }]`), "lye = {", `lye = { koh_share = "100 %",`, 1), 0.5)
	a := New(f.TempDir()+"/none.db", func() time.Time { return dawn })
	f.Fuzz(func(t *testing.T, plan string, step float64) {
		ctx, data := context.Background(), []byte(plan)
		b, err := a.BenchSheet(ctx, SheetQuery{Data: data, File: "f.toml", Step: unit.Grams(step)})
		if err == nil {
			for _, p := range b.Pots {
				if !(p.Lye.Low > 0) {
					t.Errorf("a sheet with a discount of %v at the low end", p.Lye.Low)
				}
				sum := unit.Grams(0)
				for _, s := range p.Steps {
					for _, l := range s.Lines {
						sum += l.Grams
					}
				}
				if d := float64(sum - p.Total.Grams); !(math.Abs(d) < 1e-6*(1+float64(sum))) {
					t.Errorf("lines of %v, total %v", sum, p.Total.Grams)
				}
			}
			if _, err := b.PDF(sheet.A4); err != nil {
				t.Error(err)
			}
		}
		if l, err := a.PlanLabel(ctx, LabelQuery{Data: data, File: "f.toml", Form: SaponifiedForm}); err == nil {
			for _, x := range append(l.Poured, l.Saponified...) {
				if !(x.Grams >= 0) || !(x.Share >= 0 && x.Share <= 100) {
					t.Errorf("%+v", x)
				}
			}
		}
		if s, err := a.Shop(ctx, ShopQuery{Plans: []PlanFile{{data, "f.toml"}}, Bar: 100}); err == nil {
			for _, l := range s.Lines {
				if !(l.Need > 0) || !(l.Buy >= 0) {
					t.Errorf("%+v", l)
				}
			}
		}
	})
}
