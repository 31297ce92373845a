package colorants

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"lyefast/internal/near"
	"lyefast/internal/unit"
)

// Kinds lists the kinds of product in the order of their constants.
func Kinds() []Kind {
	return []Kind{KindMica, KindOxide, KindUltramarine, KindCarbon, KindClay, KindWhite, KindDye, KindPlant, KindGlitter, KindOther}
}

// nameWords are words of a product's name that tell its kind, in the order asked.
var nameWords = []struct {
	kind  Kind
	words []string
}{
	{KindGlitter, []string{"glitter"}},
	{KindMica, []string{"mica", "pearl", "shimmer"}},
	{KindUltramarine, []string{"ultramarine"}},
	{KindClay, []string{"clay", "kaolin", "bentonite", "rhassoul"}},
	{KindCarbon, []string{"charcoal", "carbon", "carbo"}},
	{KindDye, []string{"dye", "lake", "lakes", "dyes"}},
	{KindWhite, []string{"white", "titanium", "titania"}},
	{KindOxide, []string{"oxide", "oxides"}},
}

// GuessKind tells the kind of a product from its label, else from the words of its
// name; [KindOther] where neither says.
func GuessKind(p Product) Kind {
	for _, text := range []string{p.Label, p.Name} {
		if k := kindOf(Read(text)); k != KindOther {
			return k
		}
	}
	words := near.Fold(p.Name)
	for _, n := range nameWords {
		if slices.ContainsFunc(n.words, func(w string) bool { return slices.Contains(words, w) }) {
			return n.kind
		}
	}
	return KindOther
}

// kindOf tells the kind from what a label names.
func kindOf(r Reading) Kind {
	count := map[Kind]int{}
	flakes := 0
	for _, t := range r.Tokens {
		f, _ := FactByID(t.RowIDs[0])
		switch {
		case f.Form == "glitter":
			return KindGlitter
		case f.ID == "mica" || f.ID == "synthetic_fluorphlogopite" || f.ID == "borosilicate_flake" || f.Form == "pearl":
			flakes++
		case f.Form == "clay":
			count[KindClay]++
		case f.carrier():
		case whites[f.ID]:
			count[KindWhite]++
		case strings.HasPrefix(f.ID, "ultramarine"):
			count[KindUltramarine]++
		case f.ID == "carbon_black" || f.ID == "bone_black" || f.ID == "vegetable_carbon":
			count[KindCarbon]++
		case f.Form == "water_dye" || f.Form == "oil_dye" || f.Form == "toner" || t.Lake:
			count[KindDye]++
		case f.plant() || f.ID == "carmine" || f.ID == "indigo":
			count[KindPlant]++
		case f.Form == "al_lake":
			count[KindDye]++
		case f.Form == "pigment":
			count[KindOxide]++
		default:
			return KindOther // metals and neon resins
		}
	}
	if flakes > 0 {
		return KindMica
	}
	// The first that is there: a clay tinted with oxide is a clay, whatever is
	// lightened with white is what it is lightened from.
	for _, k := range []Kind{KindClay, KindDye, KindPlant, KindOxide, KindUltramarine, KindCarbon, KindWhite} {
		if count[k] > 0 {
			return k
		}
	}
	return KindOther
}

// UsualDose is the dose that makers use of a kind, g per kg of oils. Common
// practice, no source.
func UsualDose(k Kind) unit.GramsPerKg {
	switch k {
	case KindOxide, KindUltramarine:
		return 2
	case KindCarbon:
		return 0.7
	case KindClay, KindPlant:
		return 10
	case KindWhite:
		return 3
	case KindDye:
		return 0.5
	}
	return 5 // mica, glitter, what is not known
}

// Dose is the product's usual dose, g per kg of oils: the maker's, else that of its kind.
func (p Product) Dose() unit.GramsPerKg {
	if p.UsualDose > 0 {
		return p.UsualDose
	}
	k := p.Kind
	if k == "" {
		k = GuessKind(p)
	}
	return UsualDose(k)
}

// Teaspoon is the mass of a level teaspoon (5 ml) of a kind, in g. How a powder
// packs differs from product to product more than the middle suggests.
type Teaspoon struct {
	Low    unit.Grams `json:"low_g"`
	Middle unit.Grams `json:"middle_g"`
	High   unit.Grams `json:"high_g"`
	// Note asks for the one weighing that replaces the guess.
	Note string `json:"note"`
}

// TeaspoonGrams guesses the mass of a level teaspoon of a kind: mica 2–3.5 g, oxides
// more, charcoal less. Common practice, no source.
func TeaspoonGrams(k Kind) Teaspoon {
	t := Teaspoon{Note: "a guess from its kind; weigh a level teaspoon of yours once"}
	switch k {
	case KindMica:
		t.Low, t.Middle, t.High = 2, 2.7, 3.5
	case KindOxide:
		t.Low, t.Middle, t.High = 2.5, 3.8, 6
	case KindWhite:
		t.Low, t.Middle, t.High = 2.5, 3.8, 6
	case KindUltramarine:
		t.Low, t.Middle, t.High = 2, 3, 4.5
	case KindCarbon:
		t.Low, t.Middle, t.High = 0.8, 1.4, 2.2
	case KindClay:
		t.Low, t.Middle, t.High = 2, 3, 4.5
	case KindPlant:
		t.Low, t.Middle, t.High = 1.5, 2.4, 3.5
	case KindGlitter:
		t.Low, t.Middle, t.High = 3, 4, 6
	default:
		t.Low, t.Middle, t.High = 1.5, 3, 6
	}
	return t
}

// The bounds of [Validate].
const (
	maxName     = 200
	maxDose     = 200 // g/kg of oils, a fifth of the oils
	maxTeaspoon = 25  // g; gold powder would weigh more, no colourant does
)

// Validate says whether a product may stand on the shelf, and if not, what is wrong
// with which field and what would be right.
func Validate(p Product) error {
	name := strings.TrimSpace(p.Name)
	switch {
	case name == "":
		return fmt.Errorf("a colourant needs a name")
	case len(p.Name) > maxName:
		return fmt.Errorf("the name is %d bytes long; use at most %d", len(p.Name), maxName)
	case strings.ContainsFunc(p.Name, unicode.IsControl):
		return fmt.Errorf("the name %q holds control characters; write it in one line", p.Name)
	case len(p.Label) > maxLabel:
		return fmt.Errorf("the label of %q is %d bytes long; give the ingredient list alone, at most %d", name, len(p.Label), maxLabel)
	case p.Kind != "" && !slices.Contains(Kinds(), p.Kind):
		return fmt.Errorf("%q: no kind is called %q; use one of %s", name, p.Kind, kindList())
	case p.Swatch != nil && !p.Swatch.Finite():
		return fmt.Errorf("%q: the swatch is not a colour", name)
	case p.Swatch != nil && (p.Swatch.L < 0 || p.Swatch.L > 100):
		return fmt.Errorf("%q: L* of the swatch is 0–100, got %g", name, p.Swatch.L)
	case p.Swatch != nil && max(math.Abs(p.Swatch.A), math.Abs(p.Swatch.B)) > 200:
		return fmt.Errorf("%q: a* and b* of the swatch are within ±200, got %g and %g", name, p.Swatch.A, p.Swatch.B)
	case p.SwatchBasis != "" && p.SwatchBasis != SwatchMaker && p.SwatchBasis != SwatchAssumed:
		return fmt.Errorf("%q: the basis of a swatch is %q or %q, got %q", name, SwatchMaker, SwatchAssumed, p.SwatchBasis)
	}
	for _, v := range []struct {
		what   string
		value  float64
		atMost float64
		unit   string
	}{
		{"the usual dose", float64(p.UsualDose), maxDose, "g/kg of oils"},
		{"the dose of the swatch", float64(p.SwatchDose), maxDose, "g/kg of oils"},
		{"the weight of a teaspoon", float64(p.TeaspoonGrams), maxTeaspoon, "g"},
	} {
		if math.IsNaN(v.value) || v.value < 0 || v.value > v.atMost {
			return fmt.Errorf("%q: %s is 0–%g %s, got %g", name, v.what, v.atMost, v.unit, v.value)
		}
	}
	return nil
}

// The bases of a swatch.
const (
	SwatchMaker   = "maker"   // given or read by the maker
	SwatchAssumed = "assumed" // from memory of the generic pigment, in a wide band
)

func kindList() string {
	var names []string
	for _, k := range Kinds() {
		names = append(names, string(k))
	}
	return strings.Join(names, ", ")
}

// Find finds a product by name, whatever its case, hyphens, accents and plural, and
// without what stands in brackets. A maker's own product outranks a built-in one,
// one in use a retired one. When nothing fits, near gives up to three names that may
// be meant.
func Find(name string, list []Product) (p Product, nearest []string, ok bool) {
	want := strings.Join(near.Fold(name), " ")
	best := -1
	rank := func(q Product) (r int) {
		if q.Retired {
			r += 2
		}
		if q.BuiltIn {
			r++
		}
		return r
	}
	var have []string
	for i, q := range list {
		have = append(have, q.Name)
		head, _, _ := strings.Cut(q.Name, "(")
		if want == "" || strings.Join(near.Fold(q.Name), " ") != want && strings.Join(near.Fold(head), " ") != want {
			continue
		}
		if best < 0 || rank(q) < rank(list[best]) {
			best = i
		}
	}
	if best >= 0 {
		return list[best], nil, true
	}
	return Product{}, near.Near(name, have), false
}
