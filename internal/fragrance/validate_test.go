package fragrance

import (
	"math"
	"strings"
	"testing"

	"lyefast/internal/unit"
)

func TestFragranceValidate(t *testing.T) {
	good := Fragrance{
		Name: "Harbour Amber", Vanillin: percent(5), EthylVanillin: percent(0), Others: []Share{{"eugenol", 2}},
		Allergens: []Share{{"Linalool", 8}}, FlashPoint: celsius(93), MaxUse: &MaxUse{Percent: 3, Category: "9", Amendment: "51"},
		Claims: []string{"no discolouration"}, Moves: Slow,
	}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for want, spoil := range map[string]func(*Fragrance){
		"no name":          func(f *Fragrance) { f.Name = " " },
		"too long":         func(f *Fragrance) { f.Name = strings.Repeat("a", 300) },
		"control":          func(f *Fragrance) { f.Name = "a\tb" },
		"vanillin -1":      func(f *Fragrance) { f.Vanillin = percent(-1) },
		"ethyl vanillin N": func(f *Fragrance) { f.EthylVanillin = percent(math.NaN()) },
		"add up to 101":    func(f *Fragrance) { f.Vanillin = percent(99) },
		"listed twice":     func(f *Fragrance) { f.Others = []Share{{"eugenol", 1}, {"Eugenol ", 1}} },
		"field of its own": func(f *Fragrance) { f.Others = []Share{{"Ethyl Vanillin", 1}} },
		"allergen":         func(f *Fragrance) { f.Allergens = []Share{{"Linalool", 101}} },
		"allergens of":     func(f *Fragrance) { f.Allergens = []Share{{"Linalool", 60}, {"Limonene", 60}} },
		"flash point":      func(f *Fragrance) { f.FlashPoint = celsius(900) },
		"maximum use":      func(f *Fragrance) { f.MaxUse = &MaxUse{Percent: 3, Amendment: "new"} },
		"speed":            func(f *Fragrance) { f.Moves = "brisk" },
		"more than 300":    func(f *Fragrance) { f.Claims = make([]string, 301) },
		"are too long":     func(f *Fragrance) { f.Note = strings.Repeat("a", 30_000) },
	} {
		bad := good
		spoil(&bad)
		if err := bad.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

func TestStabilizerValidate(t *testing.T) {
	for _, s := range []Stabilizer{
		{Name: "Quiet Tide"}, {Name: "Quiet Tide", Active: SodiumSulfite}, {Name: "Quiet Tide", Active: SodiumBisulfite, Strength: percent(40)},
	} {
		if err := s.Validate(); err != nil {
			t.Errorf("%+v: %v", s, err)
		}
	}
	for want, s := range map[string]Stabilizer{
		"no name":                       {},
		"hydrogen gas":                  {Name: "x", Active: "sodium borohydride"},
		`did you mean "sodium sulfite"`: {Name: "x", Active: "sodium sulfit"},
		"as the notebook keeps it":      {Name: "x", Active: "Sodium Sulphite"},
		"strength 0 %":                  {Name: "x", Active: SodiumSulfite, Strength: percent(0)},
		"but no active":                 {Name: "x", Strength: percent(10)},
		"note":                          {Name: "x", Note: strings.Repeat("a", 30_000)},
	} {
		if err := s.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

func FuzzFragranceValidate(f *testing.F) {
	f.Add("Harbour Amber", "eugenol", 5.0, 2.0, "9", "51", "slow")
	f.Add("", "\xff", math.Inf(1), -1.0, "9A", "48th", "")
	f.Fuzz(func(t *testing.T, name, other string, vanillin, share float64, category, amendment, speed string) {
		fr := Fragrance{
			Name: name, Vanillin: percent(vanillin), Others: []Share{{other, unit.Percent(share)}},
			MaxUse: &MaxUse{Percent: unit.Percent(share), Category: category, Amendment: amendment}, Moves: Speed(speed), Claims: []string{other},
		}
		if fr.Validate() != nil {
			return
		}
		// What passes can be asked about.
		if _, err := Answer(Question{Fragrance: fr, Rate: 4, Oils: 1000}); err != nil {
			t.Fatalf("%+v: %v", fr, err)
		}
	})
}
