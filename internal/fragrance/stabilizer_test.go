package fragrance

import (
	"math"
	"strings"
	"testing"

	"lyefast/internal/unit"
)

func grams(v float64) unit.Grams { return unit.Grams(v) }

func estimateOf(t *testing.T, d Dose, s Stabilizer, ratio float64, given *unit.Grams) StabilizerEstimate {
	t.Helper()
	e, err := Estimate(d, s, ratio, given)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// The printed doses of worked case 4.
func TestEstimateAsPrinted(t *testing.T) {
	d := doseOf(t, Fragrance{Vanillin: percent(8), EthylVanillin: percent(3)}, useOf(1000, 4))
	sulfite := estimateOf(t, d, Stabilizer{Name: "Quiet Tide", Active: SodiumSulfite, Strength: percent(20)}, 1.5, nil)
	within(t, "floor", float64(sulfite.FloorActive), 3.56, 0.005)
	within(t, "r 1.5", float64(sulfite.SuggestedActive), 5.34, 0.005)
	within(t, "product", float64(sulfite.SuggestedProduct), 5.34/0.2, 0.03)
	within(t, "floor product", float64(sulfite.FloorProduct), 3.56/0.2, 0.03)
	within(t, "ratio", sulfite.Ratio, 1.5, 1e-9)
	within(t, "SO2", float64(*sulfite.SO2), 0.206, 0.0005)
	within(t, "lye", float64(sulfite.LyeBound), 0, 0)
	within(t, "water", float64(sulfite.Water), 0.8*float64(sulfite.Product), 1e-9)
	if !hasWord(sulfite.Warnings, "SO2 comes to 0.21 %") {
		t.Errorf("no warning of SO2: %q", sulfite.Warnings)
	}
	meta := estimateOf(t, d, Stabilizer{Name: "Quiet Tide", Active: SodiumMetabisulfite, Strength: percent(100)}, 1.5, nil)
	within(t, "metabisulfite", float64(meta.SuggestedActive), 4.03, 0.005)
	within(t, "its lye", float64(meta.LyeBound), 1.70, 0.005)
	within(t, "its SO2", float64(*meta.SO2), 0.206, 0.0005)
	within(t, "no water in a powder", float64(meta.Water), 0, 1e-12)
}

// 0.2 % of free SO2 is 3.94 g sodium sulfite or 2.97 g metabisulfite per kg of soap;
// with that cap vanillin up to 0.48 % of the bar can be met 1:1, 0.32 % at 1.5:1.
func TestSulfurDioxide(t *testing.T) {
	d := Dose{Known: true, Vanillin: 4.75, Bar: 1000, Fragrance: 50}
	for a, g := range map[Active]float64{SodiumSulfite: 3.94, SodiumMetabisulfite: 2.97} {
		given := grams(g)
		e := estimateOf(t, d, Stabilizer{Name: "x", Active: a, Strength: percent(100)}, 1, &given)
		within(t, string(a), float64(*e.SO2), 0.2, 0.0005)
	}
	for ratio, vanillin := range map[float64]float64{1: 4.75, 1.5: 3.17} {
		d.Vanillin = grams(vanillin)
		e := estimateOf(t, d, Stabilizer{Name: "x", Active: SodiumSulfite, Strength: percent(100)}, ratio, nil)
		within(t, "vanillin at the cap", float64(*e.SO2), 0.2, 0.0005)
	}
	e := estimateOf(t, d, Stabilizer{Name: "x", Active: SodiumThiosulfate, Strength: percent(100)}, 1, nil)
	if e.SO2 != nil {
		t.Error("a thiosulfate is no sulfite")
	}
}

// Equal parts by weight are r = 1 for a 10 % vanillin oil if the liquid holds 8.3 %
// sodium sulfite.
func TestEqualParts(t *testing.T) {
	d := doseOf(t, Fragrance{Vanillin: percent(10)}, useOf(1000, 5))
	for _, s := range []Stabilizer{{}, {Name: "Quiet Tide"}, {Name: "Quiet Tide", Active: SodiumMetabisulfite}} {
		e := estimateOf(t, d, s, 0, nil)
		if !e.StrengthAssumed || !hasWord(e.Warnings, "strength unknown") {
			t.Errorf("%+v: the assumption is not said", s)
		}
		within(t, "equal parts", float64(e.SuggestedProduct), 50, 1e-9)
		within(t, "r", e.Ratio, 1, 0.005)
		within(t, "r by grams", RatioFromGrams(d, s, 50), e.Ratio, 1e-12)
	}
	// The same moles as metabisulfite still bind their lye.
	e := estimateOf(t, d, Stabilizer{Name: "Quiet Tide", Active: SodiumMetabisulfite}, 0, nil)
	within(t, "lye", float64(e.LyeBound), 50*0.083*0.6247/0.8284*0.4208, 0.002)
}

func TestEstimateWithGivenGrams(t *testing.T) {
	d := doseOf(t, Fragrance{Vanillin: percent(8), EthylVanillin: percent(3)}, useOf(1000, 4))
	s := Stabilizer{Name: "Quiet Tide", Active: SodiumSulfite, Strength: percent(20)}
	given := grams(10)
	e := estimateOf(t, d, s, 1.5, &given)
	within(t, "product", float64(e.Product), 10, 0)
	within(t, "suggestion stands", float64(e.SuggestedActive), 5.34, 0.005)
	within(t, "ratio", e.Ratio, 2/3.5606, 0.001)
	if !hasWord(e.Warnings, "below the stoichiometric floor") {
		t.Errorf("%q", e.Warnings)
	}
	none := grams(0)
	if e := estimateOf(t, d, s, 1.5, &none); e.Ratio != 0 || e.LyeBound != 0 {
		t.Errorf("no grams: %+v", e)
	}
}

// Other browners use up the salt as well, so less of it is left per browner.
func TestRatioCountsOthers(t *testing.T) {
	s := Stabilizer{Name: "x", Active: SodiumSulfite, Strength: percent(100)}
	plain := doseOf(t, Fragrance{Vanillin: percent(2)}, useOf(1000, 5))
	spiced := doseOf(t, Fragrance{Vanillin: percent(2), Others: []Share{{"eugenol", 8}}}, useOf(1000, 5))
	within(t, "halved", RatioFromGrams(spiced, s, 1), RatioFromGrams(plain, s, 1)/2, 1e-12)
	clove := doseOf(t, Fragrance{Vanillin: percent(0), Others: []Share{{"eugenol", 80}}}, useOf(1000, 3))
	e := estimateOf(t, clove, s, 0, nil)
	if e.SuggestedProduct != 0 || !hasWord(e.Warnings, "nothing to hold back") {
		t.Errorf("eugenol alone: %+v", e)
	}
}

func TestEstimateWithoutVanillinStated(t *testing.T) {
	d := doseOf(t, Fragrance{}, useOf(1000, 4))
	e := estimateOf(t, d, Stabilizer{Name: "x", Active: SodiumSulfite, Strength: percent(20)}, 0, nil)
	if e.Ratio != 0 || e.SuggestedProduct != 40 || !hasWord(e.Warnings, "not stated") {
		t.Errorf("%+v", e)
	}
}

func TestEstimateRefuses(t *testing.T) {
	d := doseOf(t, Fragrance{Vanillin: percent(5)}, useOf(1000, 4))
	bad := grams(math.NaN())
	for _, c := range []struct {
		s     Stabilizer
		ratio float64
		given *unit.Grams
	}{
		{Stabilizer{}, -1, nil}, {Stabilizer{}, 11, nil}, {Stabilizer{}, math.NaN(), nil}, {Stabilizer{}, 0, &bad},
		{Stabilizer{Name: "x", Active: "sodium borohydride"}, 0, nil}, {Stabilizer{Name: "x", Strength: percent(10)}, 0, nil},
		{Stabilizer{Name: "x", Active: SodiumSulfite, Strength: percent(0)}, 0, nil},
	} {
		if _, err := Estimate(d, c.s, c.ratio, c.given); err == nil {
			t.Errorf("%+v was taken", c)
		}
	}
}

func TestSaltTable(t *testing.T) {
	d := doseOf(t, Fragrance{Vanillin: percent(8), EthylVanillin: percent(3)}, useOf(1000, 4))
	for _, line := range SaltTable(d, 0) {
		if strings.Contains(string(line.Active), "boro") {
			t.Error("borohydride is suggested")
		}
		if line.Active == SodiumMetabisulfite {
			within(t, "metabisulfite", float64(line.Suggested), 4.03, 0.005)
			within(t, "its lye", float64(line.LyeBound), 1.70, 0.005)
		}
	}
}

// hasWord reports whether one of the texts contains the words.
func hasWord(texts []string, words string) bool {
	for _, t := range texts {
		if strings.Contains(t, words) {
			return true
		}
	}
	return false
}

func TestParseActive(t *testing.T) {
	for text, want := range map[string]Active{
		"": ActiveUnknown, "unknown": ActiveUnknown, "sodium sulfite": SodiumSulfite, "Sodium Sulphite": SodiumSulfite,
		"Na2SO3": SodiumSulfite, "E 223": SodiumMetabisulfite, "disodium metabisulphite": SodiumMetabisulfite,
		"sodium pyrosulfite": SodiumMetabisulfite, "Na2S2O3·5H2O": SodiumThiosulfatePentahydrate,
		"sodium thiosulfate pentahydrate": SodiumThiosulfatePentahydrate, "sodium hydrosulfite": SodiumDithionite,
		"sodium hydrogen sulfite": SodiumBisulfite, "thiosulphate": SodiumThiosulfate,
	} {
		if got, err := ParseActive(text); err != nil || got != want {
			t.Errorf("%q: %q, %v; want %q", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"sodium sulfit": `did you mean "sodium sulfite"`, "sodium metabisulfate": `did you mean "sodium metabisulfite"`,
		"sodium sulfate": "did you mean", "sodium borohydride": "hydrogen", "NaBH4": "refused", "Sodium-Boro-Hydride": "refused",
		"magic": "use one of", strings.Repeat("x", 300): "too long", "²": "use one of",
	} {
		if got, err := ParseActive(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %q, %v; want %q", text, got, err, want)
		}
	}
}

func FuzzParseActive(f *testing.F) {
	for _, s := range []string{"sodium sulfite", "NaBH4", "sodum bisulphite", "", "E223", "\xff", "Na₂SO₃"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseActive(s)
		if err != nil {
			return
		}
		if a == ActiveUnknown {
			return
		}
		if _, ok := saltOf(a); !ok {
			t.Fatalf("%q gives %q, which is no salt", s, a)
		}
		if again, err := ParseActive(string(a)); err != nil || again != a {
			t.Fatalf("%q does not read itself back", a)
		}
	})
}
