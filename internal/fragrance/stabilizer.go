package fragrance

import (
	"fmt"

	"lyefast/internal/unit"
)

// DefaultRatio is the ratio r aimed at: one and a half times the stoichiometric
// floor (assumed).
const DefaultRatio = 1.5

// AssumedStrength is what a stabiliser of unknown strength is taken to hold: 8.3 %
// sodium sulfite. With it, equal parts by weight are r = 1 for a fragrance of 10 %
// vanillin, which is why the trade's rule of thumb makes chemical sense.
const AssumedStrength unit.Percent = 8.3

// sulfurDioxideLimit is the level of free SO2 in the bar to warn above, %: the EU
// limit for inorganic sulfites as preservatives (Annex V; from memory). Other uses
// have limits of their own.
const sulfurDioxideLimit = 0.2

// StabilizerEstimate says how much of a stabiliser a batter's fragrance takes and
// what else that does. Grams are for the whole batter.
type StabilizerEstimate struct {
	Name     string        `json:"name,omitempty"`
	Active   Active        `json:"active,omitempty"`
	Strength *unit.Percent `json:"strength_percent"`
	// StrengthAssumed marks that the strength is unknown: the suggestion is then
	// equal parts by weight, and ratio, lye and SO2 are reckoned as if it held as
	// much as 8.3 % sodium sulfite.
	StrengthAssumed bool `json:"strength_assumed"`
	// RatioWanted is the r the suggestion aims at, mol of active per mol of aldehyde.
	RatioWanted float64 `json:"ratio_wanted"`
	// Floor is 1:1 by the stoichiometry, less than a working dose.
	FloorActive      unit.Grams `json:"floor_active_g"`
	FloorProduct     unit.Grams `json:"floor_g"`
	SuggestedActive  unit.Grams `json:"suggested_active_g"`
	SuggestedProduct unit.Grams `json:"suggested_g"`
	// EqualParts is the mass of the fragrance, the trade's rule where nothing is known.
	EqualParts unit.Grams `json:"equal_parts_g"`
	// Product is what the rest is reckoned for: the grams given, else the suggestion.
	Product unit.Grams `json:"product_g"`
	// Ratio is the r that Product reaches against all that browns; 0 where nothing does
	// or the vanillin is not stated.
	Ratio float64 `json:"ratio"`
	// Water is what Product brings beside its active, taken as water; 0 for a powder.
	Water unit.Grams `json:"water_g"`
	// LyeBound is the NaOH that Product takes up.
	LyeBound unit.Grams `json:"lye_bound_naoh_g"`
	// SO2 is the free sulfur dioxide of Product in the cured scented bar, %; nil for a
	// thiosulfate, which is no sulfite and has no figure.
	SO2      *unit.Percent `json:"so2_percent_of_bar"`
	Warnings []string      `json:"warnings"`
}

// assumed gives the active and strength to compute with. A named salt of unknown
// strength is taken as strong, mol for mol, as 8.3 % sodium sulfite.
func (s Stabilizer) assumed() (Active, unit.Percent, bool) {
	active := s.Active
	if active == ActiveUnknown {
		active = SodiumSulfite
	}
	if s.Strength != nil && s.Active != ActiveUnknown {
		return active, *s.Strength, false
	}
	own, _, _ := active.Floor()
	sulfite, _, _ := SodiumSulfite.Floor()
	return active, AssumedStrength * unit.Percent(own/sulfite), true
}

// BrownerMoles counts what browns in mol, other browners as the vanillin they weigh
// up to. Without such others it is [Dose.AldehydeMoles].
func (d Dose) BrownerMoles() float64 {
	n := d.AldehydeMoles()
	for _, c := range d.Counted {
		n += float64(c.AsVanillin) / MolarMassVanillin
	}
	return n
}

// RatioFromGrams gives the ratio r that grams of a stabiliser reach against all that
// browns in the dose, mol per mol; 0 where nothing browns or the vanillin is not
// stated. An unknown strength is taken as equal to 8.3 % sodium sulfite.
func RatioFromGrams(d Dose, s Stabilizer, product unit.Grams) float64 {
	n := d.BrownerMoles()
	if n <= 0 || product <= 0 || d.AtLeast {
		return 0
	}
	active, strength, _ := s.assumed()
	perVanillin, _, ok := active.Floor()
	if !ok {
		return 0
	}
	return float64(strength.Of(product)) / (perVanillin * MolarMassVanillin * n)
}

// Estimate works out a stabiliser for the fragrance of a batter. ratio is the r
// aimed at, 0 = [DefaultRatio]; given is the mass the maker means to use, nil = the
// suggestion. The zero Stabilizer stands for a sulfite type of unknown strength.
//
//	active  = r·floor·(m_van + 0.9156·m_ev)      product = active / strength
//	SO2 %   = 100·64.058·mol S(IV) / m_bar
//
// An error says which figure is out of range.
func Estimate(d Dose, s Stabilizer, ratio float64, given *unit.Grams) (StabilizerEstimate, error) {
	if ratio == 0 {
		ratio = DefaultRatio
	}
	if !(ratio > 0 && ratio <= 10) {
		return StabilizerEstimate{}, fmt.Errorf("stabiliser ratio %.4g is out of range; use 1 to 2, at most 10 mol per mol", ratio)
	}
	if s.Name != "" || s.Strength != nil || s.Active != ActiveUnknown {
		if s.Name == "" {
			s.Name = "stabiliser"
		}
		if err := s.Validate(); err != nil {
			return StabilizerEstimate{}, err
		}
	}
	if given != nil && !(*given >= 0 && *given <= 10*d.Bar) {
		return StabilizerEstimate{}, fmt.Errorf("stabiliser of %.4g g is out of range for %.4g g of soap", float64(*given), float64(d.Bar))
	}
	active, strength, assumed := s.assumed()
	perVanillin, perEthyl, _ := active.Floor()
	e := StabilizerEstimate{
		Name: s.Name, Active: s.Active, Strength: s.Strength, StrengthAssumed: assumed, RatioWanted: ratio,
		EqualParts: d.Fragrance,
	}
	e.FloorActive = unit.Grams(perVanillin)*d.Vanillin + unit.Grams(perEthyl)*d.EthylVanillin
	e.SuggestedActive = unit.Grams(ratio) * e.FloorActive
	share := unit.Grams(strength) / 100
	e.FloorProduct = e.FloorActive / share
	e.SuggestedProduct = e.SuggestedActive / share
	nothing := d.Known && !d.AtLeast && d.AldehydeMoles() == 0
	if (assumed || e.FloorActive == 0) && !nothing {
		e.SuggestedProduct = e.EqualParts
		e.SuggestedActive = strength.Of(e.EqualParts)
	}
	e.Product = e.SuggestedProduct
	if given != nil {
		e.Product = *given
	}
	used := strength.Of(e.Product)
	e.Ratio = RatioFromGrams(d, s, e.Product)
	e.Water = e.Product - used
	e.LyeBound = used * unit.Grams(active.LyeBound())
	if salt, _ := saltOf(active); salt.sulfite && d.Bar > 0 {
		sulfur := float64(used) / salt.atoms.molarMass() * salt.atoms.s
		v := unit.Percent(100 * MolarMassSulfurDioxide * sulfur / float64(d.Bar))
		e.SO2 = &v
	}
	e.Warnings = e.warnings(d, active, nothing)
	return e, nil
}

func (e StabilizerEstimate) warnings(d Dose, active Active, nothing bool) []string {
	w := []string{}
	say := func(format string, args ...any) { w = append(w, fmt.Sprintf(format, args...)) }
	switch {
	case nothing:
		say("the fragrance states no vanillin or ethyl vanillin: a stabiliser has nothing to hold back")
	case !d.Known || d.AtLeast:
		say("the vanillin is not stated, so neither floor nor ratio is known; equal parts by weight are common practice")
	}
	if e.StrengthAssumed {
		say("strength unknown: equal parts by weight, reckoned as if it were %.1f %% sodium sulfite; the safety sheet may give the strength", float64(AssumedStrength))
	}
	if !nothing {
		say("it delays and lightens the browning and does not stop it; expect the bar to darken later")
	}
	switch active {
	case SodiumDithionite:
		say("dithionite does not last at the pH of soap; a sulfite fits better")
	case SodiumThiosulfate, SodiumThiosulfatePentahydrate:
		say("no adduct of vanillin with thiosulfate is known; its floor is nominal, and so is the forecast with it")
	}
	if e.Product > 0 && e.Ratio > 0 && e.Ratio < 1 {
		say("%.4g g reach only %.2f mol per mol of what browns, below the stoichiometric floor", float64(e.Product), e.Ratio)
	}
	if e.SO2 != nil && *e.SO2 > sulfurDioxideLimit {
		say("free SO2 comes to %.2f %% of the bar, above %.1f %%, the EU limit for sulfites as preservatives; other uses have other limits: check the rules where you sell", float64(*e.SO2), sulfurDioxideLimit)
	}
	if e.Product > 0 {
		say("never bring a sulfite together with an acid: it gives off SO2 gas; some people with asthma react to sulfites")
		say("stir it into the fragrance before the fragrance meets the batter (common practice)")
	}
	return w
}

// SaltLine is floor and suggestion for one salt taken pure.
type SaltLine struct {
	Active    Active     `json:"active"`
	Reaction  string     `json:"reaction"`
	Floor     unit.Grams `json:"floor_active_g"`
	Suggested unit.Grams `json:"suggested_active_g"`
	LyeBound  unit.Grams `json:"lye_bound_naoh_g"`
}

// SaltTable gives floor, suggestion at the ratio (0 = [DefaultRatio]) and lye bound
// by that suggestion for each salt, in grams of the pure salt for the batter.
func SaltTable(d Dose, ratio float64) []SaltLine {
	if ratio <= 0 {
		ratio = DefaultRatio
	}
	table := make([]SaltLine, 0, len(salts))
	for _, s := range salts {
		perVanillin, perEthyl, _ := s.active.Floor()
		floor := unit.Grams(perVanillin)*d.Vanillin + unit.Grams(perEthyl)*d.EthylVanillin
		use := unit.Grams(ratio) * floor
		table = append(table, SaltLine{s.active, s.reaction, floor, use, use * unit.Grams(s.active.LyeBound())})
	}
	return table
}
