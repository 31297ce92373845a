// Package fragrance knows what a scent does to a bar's colour: its vanillin and
// other browning substances, the browning they cause over time, what a
// stabiliser can and cannot do about it, and how much of the scent may be used.
//
// Start at [Fragrance], what stands on the shelf, at [Dose], the browning dose it
// puts into a bar, and at [Answer], everything to be said of a fragrance at a rate.
// [Priors.Forecast] gives colours by day, [Calibrate] moves the priors by the maker's
// readings, [Draws] and [Priors.Apply] let a joint forecast draw the same parameters.
//
// The constants are priors, not measurements; see [PriorTable] and the comment at
// each. Percentages are [unit.Percent], 3 meaning 3 %; masses are in grams; the
// browning dose is in % of the cured bar; days count from the pour.
package fragrance

import "lyefast/internal/unit"

// Fragrance is one scent on the shelf, as its papers describe it.
type Fragrance struct {
	ID   int64  `json:"id,omitempty"`
	Name string `json:"name"`
	// Vanillin and EthylVanillin are % of the fragrance; nil means not stated, which is not zero.
	Vanillin      *unit.Percent `json:"vanillin_percent"`
	EthylVanillin *unit.Percent `json:"ethyl_vanillin_percent"`
	// Others are further substances that colour soap, % of the fragrance.
	Others []Share `json:"other_browners"`
	// Allergens come from its allergen sheet, % of the fragrance.
	Allergens []Share `json:"allergens"`
	// FlashPoint in °C, a fire figure, no soaping limit.
	FlashPoint *unit.Celsius `json:"flash_point_c,omitempty"`
	// MaxUse is the certificate's ceiling, nil when no certificate was entered.
	MaxUse *MaxUse `json:"max_use,omitempty"`
	// Claims are the supplier's words, kept as claims ("no discolouration", "no acceleration").
	Claims []string `json:"claims"`
	// Moves is how the maker or the supplier says it moves the batter.
	Moves   Speed  `json:"moves,omitempty"`
	Lot     string `json:"lot,omitempty"`
	Note    string `json:"note,omitempty"`
	Retired bool   `json:"retired,omitempty"`
}

// Share is a named substance and its share of the fragrance.
type Share struct {
	Name    string       `json:"name"`
	Percent unit.Percent `json:"percent"`
}

// MaxUse is a certificate's highest level of the fragrance in the finished
// product, % by weight, for one product category of one amendment.
type MaxUse struct {
	Percent   unit.Percent `json:"percent_of_product"`
	Category  string       `json:"category,omitempty"`
	Amendment string       `json:"amendment,omitempty"`
	Date      string       `json:"date,omitempty"` // ISO 8601, as printed on the certificate
}

// Speed is how a fragrance moves the batter.
type Speed string

// The speeds; the empty Speed means nothing is known.
const (
	Slow   Speed = "slow"
	Normal Speed = "normal"
	Fast   Speed = "fast"
	Seizes Speed = "seizes"
)

// Stabilizer is one colour stabiliser on the shelf.
type Stabilizer struct {
	ID   int64  `json:"id,omitempty"`
	Name string `json:"name"`
	// Active is the reducing salt it holds.
	Active Active `json:"active,omitempty"`
	// Strength is the share of active in the product by weight; nil = unknown.
	Strength *unit.Percent `json:"strength_percent"`
	Note     string        `json:"note,omitempty"`
	Retired  bool          `json:"retired,omitempty"`
}

// Active names the reducing salt of a stabiliser.
type Active string

// The salts with a stoichiometric floor. Borohydride is left out on purpose: it
// turns vanillin into a scentless alcohol, is corrosive and makes hydrogen.
const (
	ActiveUnknown                 Active = ""
	SodiumSulfite                 Active = "sodium sulfite"
	SodiumBisulfite               Active = "sodium bisulfite"
	SodiumMetabisulfite           Active = "sodium metabisulfite"
	SodiumThiosulfate             Active = "sodium thiosulfate"
	SodiumThiosulfatePentahydrate Active = "sodium thiosulfate pentahydrate"
	SodiumDithionite              Active = "sodium dithionite"
)
