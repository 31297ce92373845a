package colorants

import (
	"math"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/cie"
)

func TestGuessKind(t *testing.T) {
	for _, c := range []struct {
		p    Product
		want Kind
	}{
		{Product{Name: "Quay", Label: "Mica (CI 77019), CI 77891, CI 77491"}, KindMica},
		{Product{Name: "Quay", Label: "Synthetic Fluorphlogopite, CI 77007"}, KindMica},
		{Product{Name: "Quay", Label: "CI 77491, CI 77891"}, KindOxide},
		{Product{Name: "Quay", Label: "Ultramarines"}, KindUltramarine},
		{Product{Name: "Quay", Label: "CI 77891"}, KindWhite},
		{Product{Name: "Quay", Label: "Charcoal Powder"}, KindCarbon},
		{Product{Name: "Quay", Label: "Kaolin, CI 77491"}, KindClay},
		{Product{Name: "Quay", Label: "Red 40 Lake"}, KindDye},
		{Product{Name: "Quay", Label: "Curcuma Longa Root Powder"}, KindPlant},
		{Product{Name: "Quay", Label: "Polyethylene Terephthalate, CI 77000"}, KindGlitter},
		{Product{Name: "Quay", Label: "Aluminum Powder"}, KindOther},
		{Product{Name: "Dawn shimmer mica"}, KindMica},
		{Product{Name: "Harbour clays"}, KindClay},
		{Product{Name: "Iron oxide, red"}, KindOxide},
		{Product{Name: "Ultramarine of the bay"}, KindUltramarine},
		{Product{Name: "Chalk White"}, KindWhite},
		{Product{Name: "Fog"}, KindOther},
		{Product{Name: "Fog mica", Label: "Aqua"}, KindMica},
	} {
		if got := GuessKind(c.p); got != c.want {
			t.Errorf("%+v is of kind %q, want %q", c.p, got, c.want)
		}
	}
}

// TestUsualDoses retypes the doses of common practice and keeps teaspoons in order.
func TestUsualDoses(t *testing.T) {
	for k, want := range map[Kind]float64{KindMica: 5, KindOxide: 2, KindUltramarine: 2, KindCarbon: 0.7, KindClay: 10} {
		if got := UsualDose(k); float64(got) != want {
			t.Errorf("usual dose of %s is %g, want %g", k, got, want)
		}
	}
	for _, k := range Kinds() {
		ts := TeaspoonGrams(k)
		if UsualDose(k) <= 0 || !(0 < ts.Low && ts.Low < ts.Middle && ts.Middle < ts.High && ts.High < maxTeaspoon) || !strings.Contains(ts.Note, "once") {
			t.Errorf("%s: dose %g, teaspoon %+v", k, UsualDose(k), ts)
		}
	}
	mica := TeaspoonGrams(KindMica)
	if mica.Low != 2 || mica.High != 3.5 || TeaspoonGrams(KindOxide).Middle <= mica.Middle || TeaspoonGrams(KindCarbon).Middle >= mica.Middle {
		t.Errorf("a teaspoon of mica weighs 2–3.5 g, oxides more, charcoal less: %+v", mica)
	}
	if d := (Product{Name: "Rust", Label: "CI 77491"}).Dose(); d != 2 {
		t.Errorf("dose of an oxide by its label is %g", d)
	}
	if d := (Product{Name: "Rust", Label: "CI 77491", UsualDose: 3.5}).Dose(); d != 3.5 {
		t.Errorf("the maker's dose gives %g", d)
	}
}

func TestValidate(t *testing.T) {
	good := Product{Name: "Quay Slate", Label: "CI 77499", Kind: KindOxide, Swatch: &cie.Lab{L: 40, A: 0, B: 2}, SwatchBasis: SwatchMaker, UsualDose: 2, TeaspoonGrams: 3}
	if err := Validate(good); err != nil {
		t.Fatalf("a sound product: %v", err)
	}
	for _, c := range []struct {
		in     string
		change func(*Product)
	}{
		{"needs a name", func(p *Product) { p.Name = "  " }},
		{"at most 200", func(p *Product) { p.Name = strings.Repeat("q", 201) }},
		{"control characters", func(p *Product) { p.Name = "a\nb" }},
		{"at most 65536", func(p *Product) { p.Label = strings.Repeat("q", maxLabel+1) }},
		{"use one of mica, oxide", func(p *Product) { p.Kind = "paint" }},
		{"L* of the swatch is 0–100, got 624", func(p *Product) { p.Swatch = &cie.Lab{L: 624} }},
		{"not a colour", func(p *Product) { p.Swatch = &cie.Lab{L: math.NaN()} }},
		{"within ±200", func(p *Product) { p.Swatch = &cie.Lab{L: 50, A: -201} }},
		{"basis", func(p *Product) { p.SwatchBasis = "guess" }},
		{"usual dose", func(p *Product) { p.UsualDose = -1 }},
		{"dose of the swatch", func(p *Product) { p.SwatchDose = 201 }},
		{"teaspoon", func(p *Product) { p.TeaspoonGrams = 26 }},
	} {
		p := good
		c.change(&p)
		if err := Validate(p); err == nil || !strings.Contains(err.Error(), c.in) {
			t.Errorf("want an error with %q, got %v", c.in, err)
		}
	}
}

// TestBuiltIn: every generic pigment is sound, is read without a doubt, is expected
// to hold, and is of the kind it says.
func TestBuiltIn(t *testing.T) {
	list := BuiltIn()
	if len(list) < 25 {
		t.Errorf("only %d", len(list))
	}
	seen := map[string]bool{}
	for _, p := range list {
		if err := Validate(p); err != nil || !p.BuiltIn || seen[p.Name] {
			t.Errorf("%+v: %v", p, err)
		}
		seen[p.Name] = true
		e := Expect(p)
		if e.Verdict != VerdictStable || len(e.Reading.Unresolved) > 0 || len(e.Reading.Notes) > 0 {
			t.Errorf("%s: %s, %+v", p.Name, e.Verdict, e.Reading)
		}
		for _, tok := range e.Reading.Tokens {
			if len(tok.RowIDs) != 1 {
				t.Errorf("%s: %s leaves open which of %q", p.Name, tok.Token, tok.RowIDs)
			}
		}
		if k := GuessKind(Product{Label: p.Label}); p.Kind != KindOther && k != p.Kind {
			t.Errorf("%s is called %s and guessed %s", p.Name, p.Kind, k)
		}
		if e.Clear != (p.Swatch == nil) || p.Swatch != nil && (p.SwatchBasis != SwatchAssumed || !p.Swatch.InSRGB()) || p.UsualDose <= 0 {
			t.Errorf("%s: swatch %v (%s), clear %v, dose %g", p.Name, p.Swatch, p.SwatchBasis, e.Clear, p.UsualDose)
		}
	}
	list[0].Swatch.L = 1
	if BuiltIn()[0].Swatch.L == 1 {
		t.Error("a change reaches the built-in list")
	}
}

func TestFind(t *testing.T) {
	shelf := append(BuiltIn(), Product{ID: 1, Name: "Quay Slate", Retired: true}, Product{ID: 2, Name: "quay slates"}, Product{ID: 3, Name: "Ultramarine Blue", Label: "CI 77007"})
	for name, want := range map[string]int64{"QUAY-SLATE": 2, "ultramarine blue": 3, "Ultramarine Blue (CI 77007)": 0} {
		p, _, ok := Find(name, shelf)
		if !ok || p.ID != want {
			t.Errorf("%q finds %+v, want number %d", name, p, want)
		}
	}
	if p, _, ok := Find("iron oxide red", shelf); !ok || p.Name != "Iron oxide red (CI 77491)" {
		t.Errorf("without its bracket: %+v", p)
	}
	if _, nearest, ok := Find("Quai Slate", shelf); ok || !slices.Contains(nearest, "Quay Slate") {
		t.Errorf("a slip: %q, %v", nearest, ok)
	}
	for _, name := range []string{"", "(", "lighthouse keeper"} {
		if p, nearest, ok := Find(name, shelf); ok || len(nearest) > 0 {
			t.Errorf("%q finds %+v, near %q", name, p, nearest)
		}
	}
}

func TestCautions(t *testing.T) {
	keys := func(label string) map[string]Caution {
		m := map[string]Caution{}
		for _, c := range Cautions(Read(label)) {
			if _, twice := m[c.Key]; twice {
				t.Errorf("%q: %q comes twice", label, c.Key)
			}
			m[c.Key] = c
		}
		return m
	}
	for label, want := range map[string][]string{
		"Aluminum Powder":          {"metal-powder", "dust", "permission"},
		"Ultramarines":             {"ultramarine-acid", "lips-eyes", "dust"},
		"Ferric Ferrocyanide":      {"ferrocyanide-acid", "lips-eyes"},
		"Manganese Violet":         {"ammonia"},
		"Titanium Dioxide":         {"titanium-dioxide-class", "dust"},
		"Glitter":                  {"glitter", "metallised-film"},
		"Fluorescent Pigment":      {"neon"},
		"Carmine":                  {"carmine-named", "sensitiser"},
		"Carbon Black":             {"us-black"},
		"Charcoal, Red Clay":       {"us-natural", "us-not-listed"},
		"Spirulina":                {"plant-powder", "eu-not-listed"},
		"Mica, Colourant":          {"hidden-colour", "permission"},
		"Red 3":                    {"delisted"},
		"Henna":                    {"hair-only"},
		"Luminescent Zinc Sulfide": {"sulfide-acid"},
		"Yellow 5":                 {"sensitiser"},
		"Silver":                   {"nails-only"},
	} {
		got := keys(label)
		for _, k := range want {
			if _, ok := got[k]; !ok {
				t.Errorf("%q lacks %q", label, k)
			}
		}
	}
	metal := Cautions(Read("Mica, CI 77891, Aluminium Powder"))[0]
	if metal.Key != "metal-powder" || metal.Severity != SeverityRisk || !strings.Contains(metal.Text, "DANGER") || !strings.Contains(metal.Text, "hydrogen") {
		t.Errorf("the gravest first: %+v", metal)
	}
	for _, none := range []string{"metal-powder", "neon", "carmine-named"} {
		if c, ok := keys("Mica, CI 77891")[none]; ok {
			t.Errorf("mica and white need no %+v", c)
		}
	}
	if c := Cautions(Read("Aqua")); c == nil || len(c) != 0 {
		t.Errorf("water needs no caution: %+v", c)
	}
}
