package colorants

import (
	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

// generic is one built-in pigment: its name, what its label would say, its kind, and
// the colour it gives at the usual dose in a pale opaque soap.
type generic struct {
	name, label string
	kind        Kind
	dose        float64 // g/kg of oils, 0 = as usual for the kind
	swatch      *cie.Lab
}

func at(l, a, b float64) *cie.Lab { return &cie.Lab{L: l, A: a, B: b} }

// generics are pigments by their Colour Index names, all of them expected to hold.
// The swatches are from memory of how such soaps look, not measured; every one is
// marked as assumed and deserves a wide band. Carriers have none: they colour nothing.
var generics = []generic{
	{"Titanium dioxide (CI 77891)", "CI 77891 (Titanium Dioxide)", KindWhite, 0, at(93, -1, 7)},
	{"Zinc oxide (CI 77947)", "CI 77947 (Zinc Oxide)", KindWhite, 0, at(92, -1, 8)},
	{"Mica, uncoated (CI 77019)", "CI 77019 (Mica)", KindMica, 0, nil},
	{"White pearl mica (CI 77019, CI 77891)", "CI 77019 (Mica), CI 77891 (Titanium Dioxide)", KindMica, 0, at(91, -1, 8)},
	{"Kaolin (CI 77004)", "CI 77004 (Kaolin)", KindClay, 0, at(88, 0, 11)},
	{"Bentonite (CI 77004)", "CI 77004 (Bentonite)", KindClay, 0, at(84, 1, 13)},
	{"Red clay (CI 77015)", "CI 77015 (Red Clay)", KindClay, 0, at(58, 20, 22)},
	{"Rose clay", "Rose Clay", KindClay, 0, at(72, 11, 13)},
	{"French green clay", "French Green Clay", KindClay, 0, at(72, -3, 16)},
	{"Yellow clay", "Yellow Clay", KindClay, 0, at(76, 6, 30)},
	{"Rhassoul clay", "Moroccan Lava Clay", KindClay, 0, at(64, 5, 17)},
	{"Iron oxide red (CI 77491)", "CI 77491 (Iron Oxide Red)", KindOxide, 0, at(48, 30, 22)},
	{"Iron oxide yellow (CI 77492)", "CI 77492 (Iron Oxide Yellow)", KindOxide, 0, at(70, 12, 46)},
	{"Iron oxide black (CI 77499)", "CI 77499 (Iron Oxide Black)", KindOxide, 0, at(38, 0, 2)},
	{"Iron oxide orange-brown (CI 77489)", "CI 77489 (Orange Iron Oxide)", KindOxide, 0, at(56, 24, 36)},
	{"Ultramarine blue (CI 77007)", "CI 77007 (Ultramarine Blue)", KindUltramarine, 0, at(62, 4, -32)},
	{"Ultramarine violet (CI 77007)", "CI 77007 (Ultramarine Violet)", KindUltramarine, 0, at(63, 15, -17)},
	{"Ultramarine pink (CI 77007)", "CI 77007 (Ultramarine Pink)", KindUltramarine, 0, at(75, 17, -1)},
	{"Chromium oxide green (CI 77288)", "CI 77288 (Chromium Oxide Greens)", KindOxide, 0, at(62, -14, 20)},
	{"Hydrated chromium oxide green (CI 77289)", "CI 77289 (Hydrated Chromium Oxide)", KindOxide, 0, at(60, -26, 3)},
	{"Cobalt blue (CI 77346)", "CI 77346 (Cobalt Blue)", KindOxide, 0, at(62, 0, -32)},
	{"Carbon black (CI 77266)", "CI 77266 (Carbon Black)", KindCarbon, 0, at(38, 0, 0)},
	{"Vegetable carbon, charcoal (CI 77268:1)", "CI 77268:1 (Vegetable Carbon)", KindCarbon, 0, at(47, 0, 3)},
	{"Phthalocyanine blue (CI 74160)", "CI 74160 (Copper Phthalocyanine)", KindOther, 0.5, at(64, -16, -34)},
	{"Phthalocyanine green (CI 74260)", "CI 74260 (Pigment Green 7)", KindOther, 0.5, at(70, -36, 2)},
	{"Quinacridone magenta (CI 73915)", "CI 73915 (Pigment Red 122)", KindOther, 0.5, at(68, 36, -10)},
	{"Dioxazine violet (CI 51319)", "CI 51319 (Pigment Violet 23)", KindOther, 0.3, at(58, 22, -32)},
	{"Indigo powder (CI 73000)", "CI 73000 (Indigofera Tinctoria Leaf Powder)", KindPlant, 2, at(54, -5, -12)},
	{"Annatto (CI 75120)", "CI 75120 (Annatto)", KindPlant, 2, at(78, 16, 50)},
}

// BuiltIn gives generic pigments by their Colour Index names, so that a plan can be
// checked before anything stands on the shelf. All swatches are assumed.
func BuiltIn() []Product {
	list := make([]Product, 0, len(generics))
	for _, g := range generics {
		p := Product{Name: g.name, Label: g.label, Kind: g.kind, UsualDose: UsualDose(g.kind), BuiltIn: true}
		if g.dose > 0 {
			p.UsualDose = unit.GramsPerKg(g.dose)
		}
		if g.swatch != nil {
			s := *g.swatch
			p.Swatch, p.SwatchBasis = &s, SwatchAssumed
		}
		list = append(list, p)
	}
	return list
}
