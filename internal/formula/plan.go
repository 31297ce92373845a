package formula

import (
	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

// Plan is a recipe as written in a plan file, not yet resolved against the shelf.
// Line numbers are those of the file, 0 where the plan did not come from one.
type Plan struct {
	File  string
	Title string
	// Superfat is the lye discount in % unless Lye.NaOH or Lye.KOH is given.
	Superfat unit.Percent
	// SuperfatGiven tells a stated 0 % from a missing line.
	SuperfatGiven bool
	SuperfatLine  int
	Lye           Lye
	Oils          []OilUse
	// Base is the maker's reading of a bare bar of these oils, nil if none.
	Base      *BareReading
	Fragrance *FragranceUse
	Pour      Pour
	Additives []AdditiveUse
	Batters   []Batter
	Note      string
}

// Lye is how the recipe asks for its alkali and water.
type Lye struct {
	// KOHShare is the share of hydroxide moles that comes from KOH: 0 for NaOH soap, 100 for KOH soap.
	KOHShare unit.Percent
	// AlkaliGiven says that the plan names its alkali, which tells a batter's own NaOH
	// from a batter that leaves the alkali to the recipe.
	AlkaliGiven bool
	// NaOHPurity and KOHPurity are the assay of the lot, nil where not stated.
	NaOHPurity, KOHPurity *unit.Percent
	// Exactly one of these gives the water; all nil means the default, which is then said.
	Concentration *unit.Percent // alkali as weighed ÷ (alkali + water)
	WaterRatio    *float64      // water ÷ alkali as weighed, g/g
	WaterOfOils   *unit.Percent // water as % of oils, as old recipes have it
	// NaOH and KOH are weighed grams of an old recipe, whose discount is then worked back.
	NaOH, KOH *unit.Grams
	// Temperature of the lye when it meets the oils.
	Temperature *unit.Celsius
	Line        int
}

// OilUse is one oil of the recipe, by share of all oils or by weight.
type OilUse struct {
	Name  string
	Share *unit.Percent
	Grams *unit.Grams
	// SV overrides the table with the certificate of the lot, mg KOH/g; nil = none.
	SV   *float64
	Line int
}

// FragranceUse is the scent of a recipe, by name from the shelf or described in place.
type FragranceUse struct {
	Name string
	// Rate is % of the batter's oils.
	Rate unit.Percent
	// Inline facts, nil or empty where the shelf is to be asked.
	Vanillin, EthylVanillin *unit.Percent
	MaxUse                  *unit.Percent
	Amendment, Category     string
	Claims                  []string
	Moves                   string
	// Stabilizer is "auto", "none" or a named product with grams.
	Stabilizer StabilizerUse
	Line       int
}

// StabilizerUse is what the plan asks of a colour stabiliser.
type StabilizerUse struct {
	Mode string // "auto", "none" or "given"
	Name string
	// Grams for the whole plan is shared among scented batters by fragrance weight.
	Grams *unit.Grams
	// Active and Strength describe it in place.
	Active   string
	Strength *unit.Percent
	Line     int
}

// Pour is how the batter is to be used.
type Pour struct {
	Technique string        // "layers", "swirl", "piped", "single" …; empty = not said
	Minutes   *float64      // working minutes the design needs
	BatterAt  *unit.Celsius // temperature of the batter
	Gel       string        // "none", "full", "partial", "unsure"; empty = not said
	Light     string        // "room", "window", "dark"; empty = room
	CureAt    *unit.Celsius // temperature of the cure place
	Line      int
}

// AdditiveUse is milk, honey, sugar, salt, citric acid, lactate and the like.
type AdditiveUse struct {
	Name string
	Dose Dose
	// Into is "lye", "oils", "batter" or "water"; empty = the usual place.
	Into string
	// Batter limits it to one batter; empty = all.
	Batter string
	Line   int
}

// Batter is one pot: it is weighed, mixed and poured by itself.
type Batter struct {
	Name string
	// Exactly one of Oils and Mould is given.
	Oils  *unit.Grams
	Mould *unit.Millilitres
	// Superfat, Lye, Rate and Scented override the recipe's; nil = as the recipe.
	Superfat *unit.Percent
	Lye      *Lye
	Rate     *unit.Percent
	Portions []Portion
	Line     int
}

// Portion is a share of a batter with its own colour.
type Portion struct {
	Name      string
	Parts     float64 // > 0
	Target    *cie.Lab
	TargetHex string // the target as written, for echo
	Scented   bool
	Colorants []ColorantUse
	Beside    []string // names of neighbours in the bar, "batter/portion" or "portion"
	Line      int
	// TargetLine and BesideLine are the lines of those keys, 0 where absent.
	TargetLine, BesideLine int
}

// ColorantUse is one colourant in a portion.
type ColorantUse struct {
	Name string
	Dose Dose
	// Label and Swatch describe a colourant that is not on the shelf, in place.
	Label  string
	Swatch *cie.Lab
	// TeaspoonGrams weighs a teaspoon of it, for doses by volume; 0 = ask the shelf.
	TeaspoonGrams unit.Grams
	// Wet is the liquid it is stirred into before it meets the batter; "" = none.
	Wet      string
	WetGrams unit.Grams
	Line     int
}

// Dose is an amount as the maker writes it; it means nothing without the oils it is for.
type Dose struct {
	Value float64
	Unit  DoseUnit
	Text  string // as written
}

// DoseUnit is the unit of a [Dose].
type DoseUnit string

// The dose units.
const (
	PerKgOils   DoseUnit = "g/kg"
	PercentOils DoseUnit = "%"
	GramsTotal  DoseUnit = "g"
	TspPerPound DoseUnit = "tsp/lb"
	TspPerKg    DoseUnit = "tsp/kg"
	TspTotal    DoseUnit = "tsp"
)
