package plan

import (
	"lyefast/internal/fragrance"
	"lyefast/internal/unit"
)

// ScentPot is the scent of one pot: what it carries and what stands against it.
type ScentPot struct {
	Batter    string
	Fragrance unit.Grams
	// Grams of stabiliser in the pot, 0 = none.
	Grams unit.Grams
	// StrengthAssumed is true where the product's strength is not known.
	StrengthAssumed bool
	// Ratio is mol of active per mol of vanillin-type aldehyde.
	Ratio float64
	// SO2Percent is the SO2 equivalent of those grams, % of the scented bar.
	SO2Percent float64
	// Estimate says what this pot's scent would want.
	Estimate fragrance.StabilizerEstimate
	Portions []ScentPortion
}

// ScentPortion is the browning dose of one portion.
type ScentPortion struct {
	// Dose is vanillin-equivalent % of the portion's cured bar, 0 = unscented.
	Dose float64
}
