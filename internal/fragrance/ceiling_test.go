package fragrance

import (
	"math"
	"strings"
	"testing"

	"lyefast/internal/unit"
)

func TestCeilingOfOils(t *testing.T) {
	for c, want := range map[unit.Percent]float64{1: 1.29, 2: 2.61, 3: 3.95, 5: 6.73, 0: 0} {
		got := CeilingOfOils(c)
		within(t, "of oils", float64(got), want, 0.005)
		// And back: that much fragrance is just the ceiling of the bar.
		f := float64(got) / 100
		within(t, "of the bar", 100*f/(barPerOil+f), float64(c), 1e-9)
	}
	if !math.IsInf(float64(CeilingOfOils(100)), 1) {
		t.Error("100 % of the product is no ceiling")
	}
}

func TestCheckCeiling(t *testing.T) {
	check := func(m *MaxUse, u Use) Ceiling {
		t.Helper()
		c, err := CheckCeiling(m, u)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	current := &MaxUse{Percent: 3, Category: "9", Amendment: "51st"}
	c := check(current, useOf(1000, 3))
	if !c.Comparable || c.Over || c.OfOils == nil {
		t.Fatalf("%+v", c)
	}
	within(t, "of oils", float64(*c.OfOils), 3.95, 0.005)
	within(t, "in the bar", float64(c.InBar), 100*30.0/1308, 1e-9)
	if c = check(current, useOf(1000, float64(CeilingOfOils(3)))); c.Over {
		t.Error("the ceiling itself is allowed")
	}
	if c = check(current, useOf(1000, 4)); !c.Over || !hasWord(c.Notes, "3.95 %") {
		t.Errorf("%+v", c)
	}
	// All of it in half the soap is a double rate there.
	if c = check(current, Use{Oils: 1000, Fragrance: 30, ScentedShare: 50}); !c.Over {
		t.Errorf("%+v", c)
	}
	within(t, "rate", float64(c.Rate), 6, 1e-9)
	// A weighed, drier bar is the finished product.
	if c = check(current, Use{Oils: 1000, Fragrance: 37, Bar: 1200}); !c.Over {
		t.Errorf("%+v", c)
	}

	for note, m := range map[string]*MaxUse{
		"amendment 48":                {Percent: 3, Category: "9A", Amendment: "48th Amendment"},
		"9A belongs to the 48th":      {Percent: 3, Category: "Category 9A"},
		"category 4 is not the one":   {Percent: 3, Category: "4", Amendment: "51"},
		"no certificate was entered:": nil,
	} {
		c := check(m, useOf(1000, 20))
		if c.Comparable || c.Over || c.OfOils != nil || !hasWord(c.Notes, note) {
			t.Errorf("%s: %+v", note, c)
		}
	}
	for note, m := range map[string]*MaxUse{
		"amendment is not stated": {Percent: 3, Category: "Cat. 9"},
		"category is not stated":  {Percent: 3, Amendment: "49"},
		"52 is newer":             {Percent: 3, Category: "category 9", Amendment: "52"},
	} {
		c := check(m, useOf(1000, 3))
		if !c.Comparable || !hasWord(c.Notes, note) {
			t.Errorf("%s: %+v", note, c)
		}
	}
	if c := check(&MaxUse{Percent: 100, Category: "9", Amendment: "51"}, useOf(1000, 30)); c.Over || c.OfOils != nil {
		t.Errorf("no limit: %+v", c)
	}
	if _, err := CheckCeiling(&MaxUse{Percent: 101}, useOf(1000, 3)); err == nil {
		t.Error("101 % was taken")
	}
}

func TestParseAmendment(t *testing.T) {
	for text, want := range map[string]int{
		"51": 51, "49th": 49, "IFRA 50th Amendment": 50, "Amendment 51 (2023)": 51, "51ST, June 2023": 51, "48": 48,
	} {
		if got, err := ParseAmendment(text); err != nil || got != want {
			t.Errorf("%q: %d, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "latest", "2023", "49th or 51st", "0", "51x", strings.Repeat("5", 300)} {
		if got, err := ParseAmendment(text); err == nil {
			t.Errorf("%q gave %d", text, got)
		}
	}
}

func FuzzParseAmendment(f *testing.F) {
	for _, s := range []string{"51", "49th amendment", "2023", "", "IFRA 51/2023", "\xff51"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if n, err := ParseAmendment(s); err == nil && (n < 1 || n > 99) {
			t.Fatalf("%q gives %d", s, n)
		}
	})
}

// Vanillin crosses the EU threshold of 0.01 % of a rinse-off bar at 0.27 % of the
// fragrance for 5 % usage and 0.44 % for 3 %.
func TestAllergens(t *testing.T) {
	within(t, "5 %", float64(VanillinCrossing(5)), 0.27, 0.005)
	within(t, "3 %", float64(VanillinCrossing(3)), 0.44, 0.005)
	within(t, "none", float64(VanillinCrossing(0)), 100, 0)

	f := Fragrance{
		Name: "Harbour Amber", Vanillin: percent(0.27), Others: []Share{{"piperonal", 5}, {"cinnamaldehyde", 0.2}},
		Allergens: []Share{{"Linalool", 8}, {"Cinnamal", 0.3}, {"Limonene", 0.1}},
	}
	d := doseOf(t, f, useOf(1000, 5))
	lines := f.AllergensInBar(d)
	want := []struct {
		name string
		bar  float64
		over bool
	}{{"Linalool", 8 * 50 / 1328.0, true}, {"Cinnamal", 0.3 * 50 / 1328, true}, {"Vanillin", 0.27 * 50 / 1328, true}, {"Limonene", 0.1 * 50 / 1328, false}}
	if len(lines) != len(want) {
		t.Fatalf("%+v", lines)
	}
	for i, w := range want {
		if lines[i].Name != w.name || lines[i].OverThreshold != w.over {
			t.Errorf("line %d: %+v, want %+v", i, lines[i], w)
		}
		within(t, w.name, float64(lines[i].PercentOfBar), w.bar, 1e-9)
	}
	if lines := (Fragrance{}).AllergensInBar(d); lines == nil || len(lines) != 0 {
		t.Errorf("none listed: %v", lines)
	}
}
