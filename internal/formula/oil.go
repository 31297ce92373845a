// Package formula is the arithmetic of a recipe: oils, lye and water, batters and
// portions, doses and additives, with the doubt that published saponification
// ranges leave in every lye figure.
//
// Start at [Plan], a recipe as the maker wrote it, and at [Compute], which turns
// it into weights pot by pot. Alkali figures follow from saponification values in
// mg KOH per g of oil; see the comment at each formula for its source.
package formula

import (
	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

// OilKind tells how an oil takes up lye.
type OilKind string

// The kinds of oil. A wax ester leaves about half its mass unsaponified; a free
// acid takes lye by its acid value and makes water, no glycerol.
const (
	Triglyceride OilKind = "triglyceride"
	WaxEster     OilKind = "wax ester"
	FreeAcid     OilKind = "free acid"
)

// Tint is the coarse class of colour an oil lends a bare soap.
type Tint string

// The classes of base-colour knowledge: no oil's table gives a bar's L*a*b*.
const (
	NearWhite Tint = "near white"
	Cream     Tint = "cream"
	Yellow    Tint = "yellow"
	Orange    Tint = "orange"
	Green     Tint = "green"
)

// Oil is one fat, wax or fatty acid, from the built-in table or the maker's shelf.
type Oil struct {
	ID   int64  `json:"id,omitempty"`
	Key  string `json:"key"`  // short name, lower case
	Name string `json:"name"` // common name
	INCI string `json:"inci,omitempty"`
	// SVMin and SVMax are the published saponification range, mg KOH/g.
	SVMin float64 `json:"sv_min_mg_koh_per_g"`
	SVMax float64 `json:"sv_max_mg_koh_per_g"`
	// CertificateSV is the figure of the lot in the cupboard, mg KOH/g; 0 = none. It overrides the range.
	CertificateSV float64 `json:"certificate_sv_mg_koh_per_g,omitempty"`
	// Unsaponifiable is the largest share that no lye touches, %; 0 = not stated.
	Unsaponifiable unit.Percent `json:"unsaponifiable_max_percent,omitempty"`
	Kind           OilKind      `json:"kind"`
	Tint           Tint         `json:"tint,omitempty"`
	Source         string       `json:"source,omitempty"`
	Lot            string       `json:"lot,omitempty"`
	Note           string       `json:"note,omitempty"`
	BuiltIn        bool         `json:"built_in,omitempty"`
	Retired        bool         `json:"retired,omitempty"`
}

// SV gives the value to compute with and the range it stands in, mg KOH/g: the
// certificate's where there is one (range of no width), else the midpoint.
func (o Oil) SV() (mid, low, high float64) {
	if o.CertificateSV > 0 {
		return o.CertificateSV, o.CertificateSV, o.CertificateSV
	}
	return (o.SVMin + o.SVMax) / 2, o.SVMin, o.SVMax
}

// BareReading is the colour of a bar without colourant and scent, read by the maker.
type BareReading struct {
	Lab     cie.Lab `json:"lab"`
	AgeDays float64 `json:"age_days,omitempty"` // age of the bar at the reading, 0 = not said
}
