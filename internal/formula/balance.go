package formula

import (
	"fmt"

	"lyefast/internal/unit"
)

// Balance is what a batter consists of once the lye is used up and nothing has dried.
type Balance struct {
	Soap         unit.Grams `json:"soap_g"`
	Glycerol     unit.Grams `json:"glycerol_g"`
	Water        unit.Grams `json:"water_g"`
	UnreactedOil unit.Grams `json:"unreacted_oil_g"` // with the alcohols that wax esters leave
	Impurity     unit.Grams `json:"alkali_impurity_g"`
	Rest         unit.Grams `json:"rest_g"` // fragrance, stabiliser, additives without their water, and the alkali these bind
	Total        unit.Grams `json:"total_g"`
	// FattyAcids is what is bound as soap, counted as acids.
	FattyAcids unit.Grams `json:"fatty_acids_g"`
}

// WaterFraction is the share of water in the fresh batter, 0-1, for [CureWater].
func (b Balance) WaterFraction() float64 {
	if b.Total <= 0 {
		return 0
	}
	return float64(b.Water / b.Total)
}

// FattyMatter is bound acids and free oil as % of the fresh batter.
func (b Balance) FattyMatter() unit.Percent {
	if b.Total <= 0 {
		return 0
	}
	return unit.Percent(100 * (b.FattyAcids + b.UnreactedOil) / b.Total)
}

// waxAlcohol is the share of a saponified wax ester that stays behind as fatty
// alcohol: about half its mass (handbook, from memory).
const waxAlcohol = 0.5

// saponify adds the reaction of one oil to the balance (E11): mol of hydroxide, of
// which kohShare is KOH, turn the reacted g of oil into soap, with glycerol from
// glycerides, an alcohol from wax esters and water from free acids.
func (b *Balance) saponify(kind OilKind, reacted unit.Grams, mol, kohShare float64) {
	metal := mol * ((1-kohShare)*saltGainNa + kohShare*saltGainK)
	alkali := mol * ((1-kohShare)*MolarNaOH + kohShare*MolarKOH)
	soap := float64(reacted) + alkali
	switch kind {
	case WaxEster:
		alcohol := waxAlcohol * float64(reacted)
		b.UnreactedOil += unit.Grams(alcohol)
		soap -= alcohol
	case FreeAcid:
		b.Water += unit.Grams(mol * MolarWater)
		soap -= mol * MolarWater
	default:
		glycerol := mol / 3 * MolarGlycerol
		b.Glycerol += unit.Grams(glycerol)
		soap -= glycerol
	}
	b.Soap += unit.Grams(soap)
	b.FattyAcids += unit.Grams(soap - metal)
}

// Cure is how far a bar has dried.
type Cure struct {
	Lost       float64      `json:"lost"`               // share of the fresh weight that is gone, 0-1
	Water      unit.Percent `json:"water_percent"`      // water left, % of the bar now
	Gone       unit.Percent `json:"water_gone_percent"` // share of the water that has left
	Least      unit.Grams   `json:"least_g"`            // weight of the bar without any water
	Impossible bool         `json:"impossible,omitempty"`
	// Note says what an impossible weight means.
	Note string `json:"note,omitempty"`
}

// CureWater gives the water left in a bar from its weights (E12), taking it that
// only water leaves: fresh is the share of water when it was poured, 0-1, see
// [Balance.WaterFraction]. A weight below the water-free bar, or above the fresh
// one, is impossible and noted; the water is then 0 or as poured.
func CureWater(fresh float64, freshWeight, now unit.Grams) (Cure, error) {
	if !finite(fresh, float64(freshWeight), float64(now)) || fresh <= 0 || fresh >= 1 {
		return Cure{}, fmt.Errorf("a fresh water share of %g is outside 0-1", fresh)
	}
	if freshWeight <= 0 || now <= 0 {
		return Cure{}, fmt.Errorf("a bar of %g g now and %g g fresh cannot be", float64(now), float64(freshWeight))
	}
	lost := float64((freshWeight - now) / freshWeight)
	c := Cure{Lost: lost, Least: freshWeight * unit.Grams(1-fresh)}
	switch {
	case now > freshWeight:
		c.Impossible, c.Water = true, unit.Percent(100*fresh)
		c.Note = fmt.Sprintf("%s is more than the fresh %s: was the scale set to zero, or has the bar drawn water", now, freshWeight)
	case now < c.Least:
		c.Impossible, c.Gone = true, 100
		c.Note = fmt.Sprintf("%s is below the water-free %s: a slip in a weight, or scent has left as well", now, c.Least)
	default:
		c.Water = unit.Percent(100 * (fresh - lost) / (1 - lost))
		c.Gone = unit.Percent(100 * lost / fresh)
	}
	return c, nil
}
