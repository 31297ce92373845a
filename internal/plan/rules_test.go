package plan_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lyefast/internal/app"
	"lyefast/internal/plan"
	"lyefast/internal/testkit"
)

// check runs a plan against an empty shelf.
func check(t *testing.T, text []byte, name string) *app.PlanCheck {
	t.Helper()
	a := app.New(filepath.Join(t.TempDir(), "book.db"), time.Now)
	c, err := a.CheckPlan(context.Background(), app.CheckQuery{Data: text, File: name})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return c
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Each rule has a plan that makes it speak and a golden file with what it says.
// What the numbers should be is asserted elsewhere; the golden guards the words.
func TestEveryRuleSpeaks(t *testing.T) {
	for _, r := range plan.Rules {
		t.Run(r.ID, func(t *testing.T) {
			c := check(t, read(t, filepath.Join("testdata", "rules", r.ID+".toml")), r.ID+".toml")
			var b strings.Builder
			for _, f := range c.Findings {
				if f.Rule != r.ID {
					continue
				}
				fmt.Fprintf(&b, "%s %s (line %d): %s\n  because %s\n  try %s\n  grounds %s\n", f.Severity, f.Portion, f.Line, f.Title, f.Because, f.Try, f.Grounds)
				if f.Title == "" || f.Because == "" || f.Try == "" || f.Grounds == "" {
					t.Errorf("a finding must have title, because, try and grounds: %+v", f)
				}
				if f.Line == 0 {
					t.Errorf("%q points at no line of the plan", f.Title)
				}
			}
			if b.Len() == 0 {
				t.Fatal("the rule said nothing")
			}
			testkit.Golden(t, filepath.Join("testdata", "golden", r.ID+".golden"), b.String())
		})
	}
	testkit.Orphans(t, filepath.Join("testdata", "golden"))
}

func TestQuietPlanHasNoFindings(t *testing.T) {
	c := check(t, read(t, "testdata/rules/quiet.toml"), "quiet.toml")
	for _, f := range c.Findings {
		t.Errorf("%s %s: %s (%s)", f.Severity, f.Rule, f.Title, f.Because)
	}
}

func TestRuleNamesAreUnique(t *testing.T) {
	var ids []string
	for _, r := range plan.Rules {
		if slices.Contains(ids, r.ID) || r.ID == "" || r.About == "" {
			t.Errorf("rule %q is doubled or says nothing of itself", r.ID)
		}
		ids = append(ids, r.ID)
	}
}

func settled(t *testing.T, c *app.PlanCheck, name string) app.PortionSaid {
	t.Helper()
	for _, q := range c.Portions {
		if q.Name == name {
			return q
		}
	}
	t.Fatalf("no portion %q", name)
	return app.PortionSaid{}
}

func has(c *app.PlanCheck, rule, portion string) bool {
	return slices.ContainsFunc(c.Findings, func(f plan.Finding) bool { return f.Rule == rule && strings.HasSuffix(f.Portion, portion) })
}

// Common practice, no source: 3.5 % vanillin with an equal weight of stabiliser
// still tinges a bright white; a warm cream on yellowish oils gets no such word,
// and its forecast is at most half as far off.
func TestWhiteAndCreamWithEqualParts(t *testing.T) {
	const text = `title = "Two lights"
superfat = "5 %"
[lye]
purity = "98 %"
concentration = "33 %"
[oils]
olive_virgin = "45 %"
coconut = "25 %"
palm = "25 %"
castor = "5 %"
[base]
colour = "84,0,24"
age_days = 42
[fragrance]
name = "Lantern Amber"
rate = "4 %"
vanillin = "3.5 %"
stabilizer = { grams = "40 g" }
[[batter]]
name = "slab"
oils = "1000 g"
[[batter.portion]]
name = "white"
target = "#f7f5f0"
[[batter.portion]]
name = "cream"
target = "#eddcb0"
`
	c := check(t, []byte(text), "two.toml")
	if !has(c, "white-tinges", "slab/white") {
		t.Error("the white got no finding")
	}
	if has(c, "white-tinges", "slab/cream") {
		t.Error("the cream got a white's finding")
	}
	w, m := settled(t, c, "white"), settled(t, c, "cream")
	if *m.TargetDelta > *w.TargetDelta/2 {
		t.Errorf("cream is %.1f off, white %.1f", *m.TargetDelta, *w.TargetDelta)
	}
}

// The same recipe at a smaller size for a topping has the same shares, lye
// concentration and discount (common practice, no source).
func TestToppingIsTheSameRecipe(t *testing.T) {
	c := check(t, read(t, "../../testdata/plans/harbour-dawn.toml"), "harbour-dawn.toml")
	slab, top := c.Batters[0], c.Batters[1]
	k := float64(top.Oils / slab.Oils)
	if d := float64(top.NaOH) - k*float64(slab.NaOH); d > 0.06 || d < -0.06 {
		t.Errorf("lye of the topping is off by %.2f g", d)
	}
	if d := slab.LyeConcentration - top.LyeConcentration; d > 0.02 || d < -0.02 {
		t.Errorf("lye concentrations %.2f and %.2f", slab.LyeConcentration, top.LyeConcentration)
	}
	// The scent binds a little lye in the slab, so its discount is a shade higher.
	if d := slab.Discount - top.Discount; d < 0 || d > 0.5 {
		t.Errorf("discounts %.2f and %.2f", slab.Discount, top.Discount)
	}
}

func TestPortionsAddUpToTheBatter(t *testing.T) {
	c := check(t, read(t, "../../testdata/plans/harbour-dawn.toml"), "harbour-dawn.toml")
	for _, b := range c.Batters {
		sum := 0.0
		for _, q := range c.Portions {
			if q.Batter == b.Name {
				sum += float64(q.Grams)
			}
		}
		if d := sum - float64(b.Total); d > 1e-6 || d < -1e-6 {
			t.Errorf("%s: portions add up to %.1f g of %.1f g", b.Name, sum, float64(b.Total))
		}
	}
}

// A plan with five deliberate faults gets each named with its line and a remedy.
func TestFiveFaultsAreNamed(t *testing.T) {
	text := read(t, "../../testdata/plans/five-faults.toml")
	c := check(t, text, "five-faults.toml")
	lines := strings.Split(string(text), "\n")
	for _, want := range []struct{ rule, portion, line string }{
		{"lye-danger", "slab", "superfat"},
		{"ceiling", "slab", "[fragrance]"},
		{"white-tinges", "slab/gull", "target"},
		{"breaks-down", "slab/buoy", "Deep Blue"},
		{"lye-danger", "slab/buoy", "Tin Spark"},
	} {
		i := slices.IndexFunc(c.Findings, func(f plan.Finding) bool {
			return f.Rule == want.rule && f.Portion == want.portion && f.Line > 0 && strings.Contains(lines[f.Line-1], want.line)
		})
		if i < 0 {
			t.Errorf("no finding %s for %s at %q", want.rule, want.portion, want.line)
		} else if c.Findings[i].Try == "" {
			t.Errorf("%s has no remedy", want.rule)
		}
	}
}
