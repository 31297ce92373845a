package formula

import "lyefast/internal/unit"

// Balance is what a batter consists of once the lye is used up and nothing has dried.
type Balance struct {
	Soap         unit.Grams `json:"soap_g"`
	Glycerol     unit.Grams `json:"glycerol_g"`
	Water        unit.Grams `json:"water_g"`
	UnreactedOil unit.Grams `json:"unreacted_oil_g"` // with the alcohols that wax esters leave
	Impurity     unit.Grams `json:"alkali_impurity_g"`
	Rest         unit.Grams `json:"rest_g"` // fragrance, stabiliser and additives without their water
	Total        unit.Grams `json:"total_g"`
	// FattyAcids is what is bound as soap, counted as acids.
	FattyAcids unit.Grams `json:"fatty_acids_g"`
}
