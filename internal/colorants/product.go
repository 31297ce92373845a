// Package colorants knows what a colourant's label says and what strong alkali
// does to each substance on it.
//
// Start at [Read], which turns an ingredient list into Colour Index numbers and
// names, and at [Fact], one row of the built-in knowledge: the behaviour expected
// in cold-process soap with its mechanism, source and confidence. A [Product] is
// what stands on the maker's shelf. The maker's own readings always outrank the
// label; this package only says what the label leads one to expect.
package colorants

import (
	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

// Kind is the sort of material a product is; it sets the usual dose and the
// weight of a teaspoon when the maker has not said.
type Kind string

// The kinds of product.
const (
	KindMica        Kind = "mica"
	KindOxide       Kind = "oxide"
	KindUltramarine Kind = "ultramarine"
	KindCarbon      Kind = "carbon"
	KindClay        Kind = "clay"
	KindWhite       Kind = "white"
	KindDye         Kind = "dye"
	KindPlant       Kind = "plant"
	KindGlitter     Kind = "glitter"
	KindOther       Kind = "other"
)

// Product is one colourant on the shelf.
type Product struct {
	ID   int64  `json:"id,omitempty"`
	Name string `json:"name"`
	// Label is the ingredient list as printed.
	Label string `json:"label,omitempty"`
	// Kind is guessed from the label when empty.
	Kind Kind `json:"kind,omitempty"`
	// Swatch is the colour the product gives at SwatchDose in a pale opaque base, D65/2°.
	Swatch *cie.Lab `json:"swatch_lab,omitempty"`
	// SwatchBasis says where the swatch comes from, "maker" or "assumed".
	SwatchBasis string `json:"swatch_basis,omitempty"`
	// SwatchDose is the dose the swatch shows; 0 means the usual dose.
	SwatchDose unit.GramsPerKg `json:"swatch_dose_g_per_kg,omitempty"`
	// UsualDose is the maker's; 0 means the usual dose of its kind.
	UsualDose unit.GramsPerKg `json:"usual_dose_g_per_kg,omitempty"`
	// TeaspoonGrams is the mass of one level teaspoon (5 ml), weighed once; 0 = not known.
	TeaspoonGrams unit.Grams `json:"teaspoon_g,omitempty"`
	// Claim is what the supplier says of it. It is kept as a claim.
	Claim string `json:"claim,omitempty"`
	Lot   string `json:"lot,omitempty"`
	Note  string `json:"note,omitempty"`
	// BuiltIn marks a generic pigment that no maker entered.
	BuiltIn bool `json:"built_in,omitempty"`
	Retired bool `json:"retired,omitempty"`
}
