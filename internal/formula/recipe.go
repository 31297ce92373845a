package formula

import "lyefast/internal/unit"

// Recipe is a plan turned into weights. It holds no pots while a problem is fatal.
type Recipe struct {
	Title string `json:"title"`
	// Oils are the resolved oils with their share of all oils, in the order of the plan.
	Oils []OilWeight `json:"oils"`
	// Tint is the coarse class of the bare bar's colour, with what it rests on.
	Tint      Tint   `json:"tint,omitempty"`
	TintBasis string `json:"tint_basis,omitempty"`
	// Acids is the fatty acid make-up of the oils, as far as tables know it.
	Acids Profile  `json:"acids"`
	Pots  []Pot    `json:"batters"`
	Notes []string `json:"notes"`
}

// Pot is one batter's worth to weigh. Everything in it is for this batter alone:
// two pours never share one lye.
type Pot struct {
	Name string `json:"name"`
	Line int    `json:"-"`
	// Oils is the mass of the recipe's oils, without late or wetting oils.
	Oils   unit.Grams  `json:"oils_g"`
	PerOil []OilWeight `json:"per_oil"`

	// NaOH and KOH are as weighed, impurities included.
	NaOH unit.Grams `json:"naoh_g"`
	KOH  unit.Grams `json:"koh_g"`
	// PureNaOH and PureKOH are the alkali in them; Hydroxide is their sum in mol.
	PureNaOH  unit.Grams `json:"pure_naoh_g"`
	PureKOH   unit.Grams `json:"pure_koh_g"`
	Hydroxide float64    `json:"hydroxide_mol"`
	// NaOHPurity and KOHPurity are 0 for an alkali that is not in use.
	NaOHPurity unit.Percent `json:"naoh_purity_percent,omitempty"`
	KOHPurity  unit.Percent `json:"koh_purity_percent,omitempty"`
	// PurityAssumed says that no assay was stated for an alkali in use: 100 % is then
	// taken, which gives the least lye and so never less superfat than planned.
	PurityAssumed bool `json:"purity_assumed,omitempty"`
	// ExtraAlkali is how much of NaOH + KOH (as weighed) was added for acids among
	// the additives, so that the discount stays as asked.
	ExtraAlkali unit.Grams `json:"extra_alkali_g"`

	// Water is what to add; WaterAsked is what the lye was to have in all; the rest
	// comes with milk, stabiliser solution and the like (WaterBrought).
	Water        unit.Grams `json:"water_g"`
	WaterAsked   unit.Grams `json:"water_asked_g"`
	WaterBrought unit.Grams `json:"water_brought_g"`
	// WaterAssumed says that the plan gave no water and 30 % lye was taken.
	WaterAssumed bool `json:"water_assumed,omitempty"`
	// LyeConcentration is alkali as weighed ÷ (alkali + WaterAsked).
	LyeConcentration unit.Percent `json:"lye_concentration_percent"`
	// JugConcentration is the strength while the alkali dissolves: only the water
	// added and that of additives which go into the lye.
	JugConcentration unit.Percent `json:"jug_concentration_percent"`

	FragranceName string       `json:"fragrance,omitempty"`
	FragranceRate unit.Percent `json:"fragrance_rate_percent"` // % of Oils
	Fragrance     unit.Grams   `json:"fragrance_g"`
	// FragranceInPot says that every portion is scented, so that the fragrance can
	// go into the pot before it is split.
	FragranceInPot bool           `json:"fragrance_in_pot,omitempty"`
	Stabilizer     StabilizerDose `json:"stabilizer"`

	Additives []PotAdditive `json:"additives"`
	// ExtraOils need lye but were given none: late oils and the oils that wet colourants.
	ExtraOils []ExtraOil `json:"extra_oils"`

	// Superfat is the lye discount on the recipe's oils: as asked, or worked back from
	// an old recipe's alkali (SuperfatWorkedBack).
	Superfat           unit.Percent `json:"superfat_percent"`
	SuperfatWorkedBack bool         `json:"superfat_worked_back,omitempty"`
	// Discount is the true lye discount at the middle of the saponification ranges,
	// with everything that binds lye and every added oil counted; DiscountLow and
	// DiscountHigh are what the ends of the ranges make of it. A low end that is not
	// positive may leave free lye.
	Discount     unit.Percent `json:"discount_percent"`
	DiscountLow  unit.Percent `json:"discount_low_percent"`
	DiscountHigh unit.Percent `json:"discount_high_percent"`

	// Total is the batter before colourants and what wets them: oils, alkali, water,
	// additives, late oils, fragrance and stabiliser. The portions' Grams add up to it.
	Total unit.Grams `json:"total_g"`
	// Poured is Total with the colourants and what wets them.
	Poured unit.Grams `json:"poured_g"`
	// Cured estimates the mass after cure: Poured without its water, but for 0.14 g
	// per g of oils that a bar keeps (an assumption).
	Cured unit.Grams `json:"cured_g"`
	// Volume of the poured batter, if volumes add; Mould is the mould it was sized for, 0 if none.
	Volume unit.Millilitres `json:"volume_ml"`
	Mould  unit.Millilitres `json:"mould_ml,omitempty"`
	// Fresh is the make-up of the batter once the lye is used up, before any drying.
	Fresh Balance `json:"fresh"`

	Portions []PortionWeight `json:"portions"`
	Notes    []string        `json:"notes"`
}

// OilWeight is an oil with its share of all oils and its grams in a pot.
type OilWeight struct {
	Oil   Oil          `json:"oil"`
	Share unit.Percent `json:"share_percent"`
	Grams unit.Grams   `json:"grams"` // 0 in Recipe.Oils unless the plan gave weights
}

// ExtraOil is an oil that came in beside the recipe's own.
type ExtraOil struct {
	Oil   Oil        `json:"oil"`
	Grams unit.Grams `json:"grams"`
	Why   string     `json:"why"` // "late oil", or "wets Chalk White in shore"
}

// PotAdditive is an additive weighed for one pot.
type PotAdditive struct {
	Name  string     `json:"name"`
	INCI  string     `json:"inci,omitempty"`
	Grams unit.Grams `json:"grams"`
	Dose  string     `json:"dose"` // as written in the plan
	Into  string     `json:"into"` // "lye", "oils", "batter" or "water"
	// BindsNaOH is the pure NaOH it takes out of the lye (as NaOH also where the
	// alkali is KOH); ExtraAlkali is what was weighed on top to make up for it.
	BindsNaOH   unit.Grams `json:"binds_naoh_g"`
	ExtraAlkali unit.Grams `json:"extra_alkali_g"`
	// Water and Fat are what it brings; its fat counts in the discount like a late oil.
	Water unit.Grams `json:"water_g"`
	Fat   unit.Grams `json:"fat_g"`
	// Heats says that sugars in it warm the batter; Amines that it can colour with vanillin.
	Heats  bool   `json:"heats,omitempty"`
	Amines bool   `json:"amines,omitempty"`
	Note   string `json:"note,omitempty"`
}

// PortionWeight is one jug of a pot.
type PortionWeight struct {
	Name    string  `json:"name"`
	Parts   float64 `json:"parts"`
	Scented bool    `json:"scented"`
	// Share is the portion's part of the pot, %.
	Share unit.Percent `json:"share_percent"`
	// Grams is the portion without its colourants, in steps of [ShownStep]; the
	// portions of a pot add up to its Total rounded to that step.
	Grams unit.Grams `json:"grams"`
	// Pour is what to weigh into the jug when the pot is split: Grams where the
	// fragrance is already in the pot, else Grams less what is stirred in at the jug.
	Pour unit.Grams `json:"pour_g"`
	// Oils is its share of the pot's oils, the mass that doses per oils refer to.
	Oils unit.Grams `json:"oils_g"`
	// Fragrance and Stabilizer: the scented portions share the whole of the pot's.
	Fragrance  unit.Grams `json:"fragrance_g"`
	Stabilizer unit.Grams `json:"stabilizer_g"`
	// FragranceRate is Fragrance as % of this portion's oils; all of a pot's fragrance
	// in half of it is a double rate there.
	FragranceRate unit.Percent     `json:"fragrance_rate_percent"`
	Colorants     []ColorantWeight `json:"colorants"`
	// Full is the portion with colourants and what wets them.
	Full unit.Grams `json:"full_g"`
	Line int        `json:"-"`
}

// ColorantWeight is one colourant weighed for one portion.
type ColorantWeight struct {
	Name  string          `json:"name"`
	Grams unit.Grams      `json:"grams"`
	PerKg unit.GramsPerKg `json:"g_per_kg_oils"`
	// Teaspoons is the level teaspoons it makes, 0 where a teaspoon's grams are not known.
	Teaspoons float64 `json:"teaspoons,omitempty"`
	Dose      string  `json:"dose"` // as written in the plan
	// Wet is the liquid it is stirred into; WetIsOil says that it needs lye.
	Wet      string     `json:"wet,omitempty"`
	WetGrams unit.Grams `json:"wet_g,omitempty"`
	WetIsOil bool       `json:"wet_is_oil,omitempty"`
	Line     int        `json:"-"`
}

// Problem is something in a plan that stops the arithmetic (Fatal) or that the
// maker should know. Message is lower case without a full stop; Hint says what to try.
type Problem struct {
	Line    int    `json:"line,omitempty"` // of the plan file, 0 = no line
	Field   string `json:"field"`          // as in the plan file, "oils", "batter slab: mould"
	Message string `json:"message"`
	Hint    string `json:"hint,omitempty"`
	Fatal   bool   `json:"fatal"`
}

// Lookups is what the caller knows from the shelf. Every function may be nil:
// nothing is then known, and the recipe says so where it matters.
type Lookups struct {
	// TeaspoonGrams weighs a level teaspoon (5 ml) of a colourant.
	TeaspoonGrams func(colorant string) (g unit.Grams, known bool)
	// FragranceNaOH gives the g of NaOH that 1 g of the fragrance binds (vanillin 0.2629 g/g of it).
	FragranceNaOH func(f FragranceUse) (gPerGram float64, known bool)
	// Stabilizer doses the stabiliser of one pot.
	Stabilizer func(ask StabilizerAsk) (dose StabilizerDose, known bool)
}

// StabilizerAsk is what a stabiliser is dosed for.
type StabilizerAsk struct {
	Batter        string
	Use           StabilizerUse
	FragranceName string
	Fragrance     unit.Grams // in this pot
	Oils          unit.Grams // of this pot
	// Grams is this pot's share of the plan's own figure, 0 where the plan gave none.
	Grams unit.Grams
}

// StabilizerDose is the stabiliser of one pot.
type StabilizerDose struct {
	Name  string     `json:"name,omitempty"`
	Grams unit.Grams `json:"grams"`
	// BindsNaOH is the NaOH it takes (metabisulfite 0.4208 g/g of active); Water is
	// what it brings as a solution.
	BindsNaOH unit.Grams `json:"binds_naoh_g"`
	Water     unit.Grams `json:"water_g"`
}
