package fragrance

import (
	"fmt"

	"lyefast/internal/cie"
	"lyefast/internal/near"
	"lyefast/internal/unit"
)

// Question asks what a fragrance does at a rate in a batter.
type Question struct {
	Fragrance Fragrance
	Rate      unit.Percent // of the batter's oils, > 0 … 100
	Oils      unit.Grams   // of the batter, > 0
	// ScentedShare is the share of the batter that takes all of it, %; 0 = all.
	ScentedShare unit.Percent
	// Bar is the cured mass of the whole batter; 0 = reckoned.
	Bar unit.Grams
	// Base is the bare bar's colour, nil = [DefaultBase], which is then said.
	Base       *cie.Lab
	Conditions Conditions
	// Stabilizer is the one on the shelf, nil = a sulfite type of unknown strength.
	Stabilizer *Stabilizer
	// StabilizerGrams is what the maker means to use, nil = as suggested.
	StabilizerGrams *unit.Grams
	// Ratio is the r a suggestion aims at; 0 = [DefaultRatio].
	Ratio float64
	// Beliefs are the priors or a [Posterior.For]; nil = [DefaultPriors].
	Beliefs *Priors
	// Readings counts the maker's own readings behind Beliefs.
	Readings int
	// Days since the pour to speak of, 0 to 36525; none = 3, 14, 42 and 180.
	Days []float64
	// Handling adds what is known of the batter; its Rate is filled in.
	Handling Handling
}

// reportDays are the days a report speaks of unless asked for others; with a
// stabiliser the browning still moves after six weeks, so [SettledDay] stands beside.
var reportDays = []float64{3, 14, 42, SettledDay}

// DayColour is the colour of the bar on a day. Lab triples are [L*, a*, b*], D65, 2°.
type DayColour struct {
	Day float64    `json:"day"`
	Lab [3]float64 `json:"lab"`
	// P05 and P95 bound the central 90 % band, each coordinate by itself.
	P05 [3]float64 `json:"p05"`
	P95 [3]float64 `json:"p95"`
	Hex string     `json:"hex"`
	// Name is the ISCC–NBS name of Lab, Word the trade's word for the browning.
	Name string `json:"name"`
	Word string `json:"word"`
	// WordPale and WordDark are the words at the ends of the band of lightness.
	WordPale string `json:"word_pale"`
	WordDark string `json:"word_dark"`
	// DeltaE00 is the change from the bare bar.
	DeltaE00 float64 `json:"delta_e00_from_base"`
}

// LyeBound is the NaOH that scent and stabiliser take up, to be counted with the
// lye discount.
type LyeBound struct {
	ByVanillin   unit.Grams `json:"by_vanillin_naoh_g"`
	ByStabilizer unit.Grams `json:"by_stabilizer_naoh_g"`
	Total        unit.Grams `json:"total_naoh_g"`
	// DiscountPoints is about how much it adds to the lye discount, in percentage
	// points, at 0.138 g of NaOH per gram of oils.
	DiscountPoints unit.Percent `json:"discount_points"`
}

// ClaimCheck holds one kind of claim against what is reckoned here.
type ClaimCheck struct {
	Claim        string `json:"claim"`
	Contradicted bool   `json:"contradicted"`
	Because      string `json:"because"`
}

// Report is everything to be said of a fragrance at a rate.
type Report struct {
	Fragrance    string       `json:"fragrance"`
	Rate         unit.Percent `json:"rate_percent_of_oils"`
	Oils         unit.Grams   `json:"oils_g"`
	ScentedShare unit.Percent `json:"scented_share_percent"`
	// Grounds says what the forecast stands on.
	Grounds string `json:"grounds"`
	Dose    Dose   `json:"dose"`
	// VanillinPercent is vanillin in % of the scented bar, nil where not stated.
	VanillinPercent *unit.Percent `json:"vanillin_percent_of_bar"`
	BaseLab         [3]float64    `json:"base_lab"`
	BaseAssumed     bool          `json:"base_assumed"`
	Conditions      Conditions    `json:"conditions"`
	// Days are the colours without a stabiliser, WithStabilizer those with it; both
	// empty where the papers state nothing that browns.
	Days           []DayColour        `json:"days"`
	WithStabilizer []DayColour        `json:"days_with_stabilizer"`
	Stabilizer     StabilizerEstimate `json:"stabilizer"`
	Salts          []SaltLine         `json:"salts"`
	LyeBound       LyeBound           `json:"lye_bound"`
	Ceiling        Ceiling            `json:"ceiling"`
	Allergens      []AllergenLine     `json:"allergens"`
	Moves          Risk               `json:"moves"`
	Claims         []ClaimCheck       `json:"claims"`
	FlashPoint     *unit.Celsius      `json:"flash_point_c"`
	Notes          []string           `json:"notes"`
	Cautions       []string           `json:"cautions"`
}

// Answer works the report out. An error says which part of the question cannot be.
func Answer(q Question) (Report, error) {
	if !(q.Rate > 0 && q.Rate <= 100) {
		return Report{}, fmt.Errorf("rate %.4g %% of oils is out of range; usual are 3 to 6 %%", float64(q.Rate))
	}
	if err := q.Conditions.Validate(); err != nil {
		return Report{}, err
	}
	if len(q.Days) == 0 {
		q.Days = reportDays
	}
	for _, day := range q.Days {
		if !(day >= 0 && day <= maxDay) {
			return Report{}, fmt.Errorf("day %.4g is out of range; count days since the pour, 0–%d", day, maxDay)
		}
	}
	use := Use{Oils: q.Oils, Fragrance: q.Rate.Of(q.Oils), ScentedShare: q.ScentedShare, Bar: q.Bar}
	dose, err := q.Fragrance.Dose(use)
	if err != nil {
		return Report{}, err
	}
	lab := DefaultBase
	if q.Base != nil {
		lab = *q.Base
	}
	base, err := NewBase(lab)
	if err != nil {
		return Report{}, err
	}
	beliefs := q.Beliefs
	if beliefs == nil {
		p := DefaultPriors()
		beliefs = &p
	}
	var stabilizer Stabilizer
	if q.Stabilizer != nil {
		stabilizer = *q.Stabilizer
	}
	estimate, err := Estimate(dose, stabilizer, q.Ratio, q.StabilizerGrams)
	if err != nil {
		return Report{}, err
	}
	ceiling, err := CheckCeiling(q.Fragrance.MaxUse, use)
	if err != nil {
		return Report{}, err
	}
	q.Handling.Rate = dose.Rate
	moves, err := Moves(q.Fragrance, q.Handling)
	if err != nil {
		return Report{}, err
	}
	r := Report{
		Fragrance: q.Fragrance.Name, Rate: q.Rate, Oils: q.Oils, ScentedShare: 100, Dose: dose,
		BaseLab: triple(lab), BaseAssumed: q.Base == nil, Conditions: q.Conditions,
		Days: []DayColour{}, WithStabilizer: []DayColour{},
		Stabilizer: estimate, Salts: SaltTable(dose, q.Ratio), Ceiling: ceiling,
		Allergens: q.Fragrance.AllergensInBar(dose), Moves: moves, FlashPoint: q.Fragrance.FlashPoint,
	}
	if q.ScentedShare > 0 {
		r.ScentedShare = q.ScentedShare
	}
	if q.Fragrance.Vanillin != nil {
		v := dose.VanillinPercent()
		r.VanillinPercent = &v
	}
	r.LyeBound = lyeBound(dose, estimate, q.Oils)
	if dose.Known {
		r.Days = dayColours(base, beliefs.Forecast(&base, dose.Percent, q.Days, q.Conditions, 0))
		if estimate.Ratio > 0 {
			r.WithStabilizer = dayColours(base, beliefs.Forecast(&base, dose.Percent, q.Days, q.Conditions, estimate.Ratio))
		}
	}
	r.Grounds = grounds(q.Readings)
	r.Notes = notes(q, dose)
	r.Claims = r.checkClaims(q.Fragrance.Claims)
	r.Cautions = cautions(r, len(q.Fragrance.Allergens) > 0)
	return r, nil
}

func grounds(readings int) string {
	if readings > 0 {
		return fmt.Sprintf("own readings: %d of scented bars, with assumed priors beneath", readings)
	}
	return "guess from the label, none of your batches: the constants are assumptions, the 80 % range of a mid brown is about ±10 L* until you log a reading"
}

// lyePerOil is the usual NaOH per gram of oils, for judging what a loss of lye means.
const lyePerOil = 0.138

func lyeBound(d Dose, e StabilizerEstimate, oils unit.Grams) LyeBound {
	b := LyeBound{ByVanillin: LyeBoundByVanillin(d.Vanillin, d.EthylVanillin), ByStabilizer: e.LyeBound}
	b.Total = b.ByVanillin + b.ByStabilizer
	b.DiscountPoints = unit.Percent(100 * float64(b.Total) / (lyePerOil * float64(oils)))
	return b
}

func dayColours(base Base, bands []ColourBand) []DayColour {
	days := make([]DayColour, len(bands))
	for i, b := range bands {
		days[i] = DayColour{
			Day: b.Day, Lab: triple(b.Median), P05: triple(b.P05), P95: triple(b.P95),
			Hex: b.Median.Hex(), Name: b.Median.Name().Text, Word: b.Word, WordPale: b.Pale, WordDark: b.Dark,
			DeltaE00: cie.DeltaE00(base.lab, b.Median),
		}
	}
	return days
}

func notes(q Question, d Dose) []string {
	n := []string{}
	say := func(format string, args ...any) { n = append(n, fmt.Sprintf(format, args...)) }
	switch {
	case !d.Known:
		say("neither vanillin nor another browner is stated: no colour can be forecast; ask the supplier for the vanillin content")
	case d.AtLeast:
		say("the vanillin is not stated and counts as none: the bar will be at least this dark")
	case q.Fragrance.EthylVanillin == nil:
		say("ethyl vanillin is not stated and counts as none")
	}
	for _, b := range d.OffPath {
		say("%s tints %s, off the brown path: not in the forecast", b.Name, b.Hue)
	}
	for _, name := range d.Unknown {
		hint := ""
		if n := near.Near(plainName(name), brownerNames()); len(n) > 0 {
			hint = fmt.Sprintf("; did you mean %q?", n[0])
		}
		say("%q is not a browner this notebook knows: not in the forecast%s", name, hint)
	}
	if q.ScentedShare > 0 && q.ScentedShare < 100 {
		say("all the fragrance goes into %.4g %% of the batter: there the rate is %.4g %% of the oils; vanillin also creeps a few millimetres into unscented neighbours", float64(q.ScentedShare), float64(d.Rate))
	}
	if q.Base == nil {
		say("no bare bar was read: the base colour is assumed")
	}
	if q.Conditions.Gel == "" || q.Conditions.Gel == GelNotSure {
		say("gel is not sure: the band spans bars that gel and bars that do not")
	}
	if q.Rate > 6 {
		say("%.4g %% of oils is above the usual 3 to 6 %% (common practice)", float64(q.Rate))
	}
	if q.Fragrance.FlashPoint != nil {
		say("the flash point is a figure for fire and transport, no limit for soaping")
	}
	return n
}

// visibleChange is the ΔE00 from the bare bar at which a claim of no discolouration is
// contradicted: far more than side-by-side visibility, so that no shade is argued over.
const visibleChange = 5

// fastChance is the chance of acceleration, %, at which a claim of none is
// contradicted.
const fastChance = 50

func (r *Report) checkClaims(claims []string) []ClaimCheck {
	checks := []ClaimCheck{}
	if ClaimsNoDiscolouration(claims) {
		c := ClaimCheck{Claim: "no discolouration", Because: "no browner is stated, so there is nothing to hold the claim against"}
		if len(r.Days) > 0 {
			last := r.Days[0]
			for _, d := range r.Days {
				if d.Day > last.Day {
					last = d
				}
			}
			c.Contradicted = last.DeltaE00 >= visibleChange
			c.Because = fmt.Sprintf("%.3g %% of the bar browns like vanillin: forecast %s, ΔE00 %.1f from the bare bar on day %.4g", r.Dose.Percent, last.Word, last.DeltaE00, last.Day)
		}
		checks = append(checks, c)
	}
	if ClaimsNoAcceleration(claims) {
		checks = append(checks, ClaimCheck{
			Claim: "no acceleration", Contradicted: r.Moves.Accelerates.Percent >= fastChance,
			Because: fmt.Sprintf("chance of acceleration %.0f %%: %s", float64(r.Moves.Accelerates.Percent), r.Moves.Basis[0]),
		})
	}
	return checks
}

// cautions lists the usual ones in general words; they are no legal advice.
func cautions(r Report, sheet bool) []string {
	c := []string{
		"keep undiluted fragrance off skin and eyes; scent allergens can sensitise",
		"the supplier's certificate sets the highest use; local rules and a licensed safety assessor outrank this notebook",
		"EU and UK: a safety report and notification stand before the sale of a cosmetic; elsewhere check the local rules",
	}
	over := false
	for _, a := range r.Allergens {
		over = over || a.OverThreshold
	}
	if over {
		c = append(c, "EU: name listed allergens above 0.01 % of a rinse-off bar; for the newly listed, vanillin among them, from 31 July 2026 (new products) and 31 July 2028 (all); check before you print a label")
	}
	if !sheet {
		c = append(c, "no allergen sheet was entered; no lines here does not mean no allergens")
	}
	if r.Stabilizer.Product > 0 {
		c = append(c, "sulfites: never together with an acid (SO2 gas), no dust in the air, mind people with asthma; limits differ by country")
	}
	if r.LyeBound.Total > 0 {
		c = append(c, "the lye bound here raises the lye discount; the recipe counts it, never add lye by guess: lye burns skin and eyes, wear goggles and gloves")
	}
	return c
}
