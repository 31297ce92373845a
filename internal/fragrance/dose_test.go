package fragrance

import (
	"math"
	"strings"
	"testing"
)

func TestDose(t *testing.T) {
	// Worked case 4: 8 % vanillin and 3 % ethyl vanillin at 4 % of 1000 g.
	d := doseOf(t, Fragrance{Vanillin: percent(8), EthylVanillin: percent(3)}, useOf(1000, 4))
	within(t, "vanillin", float64(d.Vanillin), 3.2, 1e-9)
	within(t, "ethyl vanillin", float64(d.EthylVanillin), 1.2, 1e-9)
	within(t, "aldehyde", 1000*d.AldehydeMoles(), 28.25, 0.005)
	within(t, "bar", float64(d.Bar), 1318, 1e-9)
	within(t, "phenols bind", float64(LyeBoundByVanillin(d.Vanillin, d.EthylVanillin)), 1.13, 0.005)
	within(t, "D", d.Percent, 0.3262, 0.00005)

	// Milled soap with 1 % perfume of 5 % vanillin: D 0.05 % of the bar, final L* about
	// 78 by the model; J. Soc. Cosmet. Chem. 9 (1958) calls it "a certain
	// discolouration".
	milled := doseOf(t, Fragrance{Vanillin: percent(5)}, Use{Oils: 1000, Fragrance: 10, Bar: 1000})
	within(t, "milled soap D", milled.Percent, 0.05, 1e-9)
	priors := DefaultPriors()
	within(t, "milled soap L*", ShortPath(priors.Centre().UInf(0.05)).L, 78, 0.5)
}

func TestDoseCountsOthers(t *testing.T) {
	f := Fragrance{Vanillin: percent(2), Others: []Share{
		{"Eugenol", 4}, {"Piperonal (CAS 120-57-0)", 10}, {"Indole", 0.5}, {"methyl  anthranilate", 1}, {"Cinnamal", 1}, {"musk ketone", 3},
	}}
	d := doseOf(t, f, useOf(1000, 5))
	// 1 g vanillin, 2 g eugenol × 0.25, 5 g heliotropin × 0.05, 0.5 g cinnamal × 0.15.
	within(t, "D", d.Percent, 100*(1+0.5+0.25+0.075)/1328, 1e-9)
	if len(d.Counted) != 3 || d.Counted[1].Name != "heliotropin" {
		t.Errorf("counted %+v", d.Counted)
	}
	if len(d.OffPath) != 2 || d.OffPath[0].Name != "indole" || d.OffPath[1].Name != "methyl anthranilate" {
		t.Errorf("off the path %+v", d.OffPath)
	}
	if len(d.Unknown) != 1 || d.Unknown[0] != "musk ketone" {
		t.Errorf("not counted %v", d.Unknown)
	}
	if !d.Known || d.AtLeast {
		t.Error("vanillin is stated, so the dose is known")
	}
}

func TestNotStatedIsNotZero(t *testing.T) {
	if d := doseOf(t, Fragrance{}, useOf(1000, 5)); d.Known || d.Percent != 0 {
		t.Errorf("nothing stated: %+v", d)
	}
	if d := doseOf(t, Fragrance{Others: []Share{{"indole", 1}}}, useOf(1000, 5)); d.Known {
		t.Error("an off-path hue alone makes no dose")
	}
	if d := doseOf(t, Fragrance{Vanillin: percent(0)}, useOf(1000, 5)); !d.Known || d.AtLeast || d.Percent != 0 {
		t.Errorf("stated zero: %+v", d)
	}
	if d := doseOf(t, Fragrance{EthylVanillin: percent(3)}, useOf(1000, 5)); !d.Known || !d.AtLeast {
		t.Errorf("only ethyl vanillin stated: %+v", d)
	}
}

// All of a batter's fragrance in half its soap is a double rate there.
func TestScentedShare(t *testing.T) {
	f := Fragrance{Vanillin: percent(5)}
	half := Use{Oils: 1000, Fragrance: 30, ScentedShare: 50}
	d, double := doseOf(t, f, half), doseOf(t, f, useOf(500, 6))
	within(t, "rate", float64(d.Rate), 6, 1e-12)
	within(t, "D", d.Percent, double.Percent, 1e-12)
	within(t, "grams", float64(d.Vanillin), 1.5, 1e-12)
	// A weighed batch counts by what the scented part weighs.
	half.Bar = 1308
	within(t, "D of a weighed batch", doseOf(t, f, half).Percent, double.Percent, 1e-12)
}

func TestUseValidate(t *testing.T) {
	for want, u := range map[string]Use{
		"oils":      {Fragrance: 30},
		"fragrance": {Oils: 1000, Fragrance: 1001},
		"share":     {Oils: 1000, Fragrance: 30, ScentedShare: 101},
		"portions":  {Oils: 1000, Fragrance: 30, ScentedShare: 1},
		"cured":     {Oils: 1000, Fragrance: 30, Bar: 20},
	} {
		if _, err := (Fragrance{Name: "x"}).Dose(u); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

func TestBrowners(t *testing.T) {
	for _, b := range Browners() {
		if !(b.Low <= b.Weight && b.Weight <= b.High) || b.Hue == "" {
			t.Errorf("%+v", b)
		}
		for _, name := range append(b.also, b.Name) {
			if got, ok := FindBrowner("  " + strings.ToUpper(name) + " "); !ok || got.Name != b.Name {
				t.Errorf("%q finds %+v", name, got)
			}
		}
	}
}

// Any numbers and any name end in a dose without NaN or in an error.
func FuzzDose(f *testing.F) {
	f.Add("eugenol", 5.0, 3.0, 1000.0, 50.0, 0.0, 0.0)
	f.Add("Clove Oil (leaf)", 0.0, 100.0, 1e9, 1e9, 100.0, 0.0)
	f.Add("", -1.0, 2.0, 0.0, 0.0, 50.0, 3.0)
	f.Fuzz(func(t *testing.T, name string, vanillin, other, oils, scent, share, bar float64) {
		fr := Fragrance{Name: "x", Vanillin: percent(vanillin), Others: []Share{{name, *percent(other)}}, Allergens: []Share{{name, *percent(other)}}}
		use := Use{Oils: grams(oils), Fragrance: grams(scent), ScentedShare: *percent(share), Bar: grams(bar)}
		d, err := fr.Dose(use)
		if err != nil {
			return
		}
		if math.IsNaN(d.Percent) || d.Percent < 0 || math.IsInf(d.Percent, 0) || !(d.Bar > 0) {
			t.Fatalf("%+v gives %+v", use, d)
		}
		for _, a := range fr.AllergensInBar(d) {
			if math.IsNaN(float64(a.PercentOfBar)) || a.PercentOfBar < 0 {
				t.Fatalf("%+v gives %+v", use, a)
			}
		}
	})
}
