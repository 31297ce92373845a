package formula

import (
	"math"
	"slices"

	"lyefast/internal/near"
	"lyefast/internal/unit"
)

// Additive is what a maker puts into a batter beside oils, lye, scent and colour.
// The figures of composition are from memory of food tables (USDA) and handbooks;
// what it binds is computed from its formula; place and use are common practice.
type Additive struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	INCI string `json:"inci,omitempty"`
	// Aliases are other names it answers to.
	Aliases []string `json:"aliases"`
	// Water is the share of its mass that is water.
	Water unit.Percent `json:"water_percent"`
	// Fat needs lye that the recipe does not give it, so it raises the discount.
	Fat      unit.Percent `json:"fat_percent,omitempty"`
	FatSVMin float64      `json:"fat_sv_min_mg_koh_per_g,omitempty"`
	FatSVMax float64      `json:"fat_sv_max_mg_koh_per_g,omitempty"`
	// BindsNaOH is g NaOH per g of it; extra alkali is weighed to make up for it.
	BindsNaOH float64 `json:"binds_naoh_g_per_g,omitempty"`
	// Into is the usual place: "lye", "oils", "batter" or "water".
	Into string `json:"into"`
	// Heats: sugars in it warm the batter. Amines: it can colour with vanillin.
	Heats  bool `json:"heats,omitempty"`
	Amines bool `json:"amines,omitempty"`
	// TeaspoonGrams weighs a level teaspoon of 5 ml (common practice for powders).
	TeaspoonGrams unit.Grams `json:"teaspoon_g,omitempty"`
	// Note says what the maker should know, with its basis.
	Note string `json:"note,omitempty"`
}

// acid computes what an acid of this formula takes, mol NaOH per mol, at a share
// of the product by mass.
func acid(formula string, equivalents, share float64) float64 {
	return share * boundNaOH(mustMolar(formula), equivalents)
}

// Butterfat, coconut fat and their ranges: CXS 280 and textbook figures for milk
// fat from memory; coconut as in the table of oils.
const (
	milkFatSVMin, milkFatSVMax       = 218, 235
	goatFatSVMin, goatFatSVMax       = 225, 245
	coconutFatSVMin, coconutFatSVMax = 248, 265
)

const milkNote = "sugars and protein brown and warm the lye: freeze it and add the lye slowly (common practice, no source); " +
	"lye taken up by lactose and protein is not counted"

// Additives lists the known additives.
func Additives() []Additive {
	return []Additive{
		{Key: "cow milk", Name: "Cow's milk, whole", INCI: "Lac", Aliases: []string{"milk", "whole milk", "cows milk", "cow's milk"},
			Water: 88, Fat: 3.3, FatSVMin: milkFatSVMin, FatSVMax: milkFatSVMax, Into: "lye", Heats: true, Amines: true, TeaspoonGrams: 5.2, Note: milkNote},
		{Key: "goat milk", Name: "Goat's milk", INCI: "Caprae Lac", Aliases: []string{"goats milk", "goat's milk"},
			Water: 87, Fat: 4.1, FatSVMin: goatFatSVMin, FatSVMax: goatFatSVMax, Into: "lye", Heats: true, Amines: true, TeaspoonGrams: 5.2, Note: milkNote},
		{Key: "goat milk powder", Name: "Goat's milk powder", INCI: "Caprae Lac Powder", Aliases: []string{"powdered goat milk", "milk powder", "goats milk powder"},
			Water: 3, Fat: 28, FatSVMin: goatFatSVMin, FatSVMax: goatFatSVMax, Into: "oils", Heats: true, Amines: true, TeaspoonGrams: 2.5, Note: milkNote},
		{Key: "coconut milk", Name: "Coconut milk", INCI: "Cocos Nucifera Fruit Extract", Aliases: []string{"canned coconut milk"},
			Water: 73, Fat: 21, FatSVMin: coconutFatSVMin, FatSVMax: coconutFatSVMax, Into: "lye", Heats: true, Amines: true, TeaspoonGrams: 5, Note: milkNote},
		{Key: "oat milk", Name: "Oat milk", INCI: "Avena Sativa Kernel Extract", Water: 90, Into: "lye", Heats: true, Amines: true, TeaspoonGrams: 5.1, Note: milkNote},
		{Key: "honey", Name: "Honey", INCI: "Mel", Aliases: []string{"mel"}, Water: 17, Into: "batter", Heats: true, Amines: true, TeaspoonGrams: 7,
			Note: "its sugars warm and darken the batter (common practice, no source); lye taken up by them is not counted"},
		{Key: "sugar", Name: "Sugar", INCI: "Sucrose", Aliases: []string{"sucrose", "white sugar", "table sugar"}, Into: "water", Heats: true, TeaspoonGrams: 4,
			Note: "dissolve it in the water before the lye; it warms the batter (common practice, no source)"},
		{Key: "sorbitol 70 %", Name: "Sorbitol solution, 70 %", INCI: "Sorbitol", Aliases: []string{"sorbitol", "sorbitol solution"}, Water: 30, Into: "water", TeaspoonGrams: 6.4},
		{Key: "salt", Name: "Salt", INCI: "Sodium Chloride", Aliases: []string{"sodium chloride", "table salt", "sea salt"}, Into: "water", TeaspoonGrams: 6,
			Note: "hardens; above a few % of the oils it goes in at trace (common practice, no source)"},
		{Key: "sodium lactate 60 %", Name: "Sodium lactate solution, 60 %", INCI: "Sodium Lactate", Aliases: []string{"sodium lactate", "lactate"}, Water: 40, Into: "lye", TeaspoonGrams: 6.6,
			Note: "goes into the cooled lye (common practice, no source)"},
		{Key: "lactic acid 80 %", Name: "Lactic acid, 80 %", INCI: "Lactic Acid", Aliases: []string{"lactic acid"}, Water: 20, BindsNaOH: acid("C3H6O3", 1, 0.80), Into: "water", TeaspoonGrams: 6,
			Note: "becomes sodium lactate; stir it into the water, never into strong lye"},
		{Key: "citric acid", Name: "Citric acid, anhydrous", INCI: "Citric Acid", Aliases: []string{"citric acid anhydrous", "anhydrous citric acid"}, BindsNaOH: acid("C6H8O7", 3, 1), Into: "water", TeaspoonGrams: 4.5,
			Note: "becomes sodium citrate; dissolve it in the water before the lye; the monohydrate binds 8.6 % less"},
		{Key: "citric acid monohydrate", Name: "Citric acid monohydrate", INCI: "Citric Acid", Aliases: []string{"monohydrate citric acid"},
			Water: unit.Percent(100 * MolarWater / mustMolar("C6H10O8")), BindsNaOH: acid("C6H10O8", 3, 1), Into: "water", TeaspoonGrams: 4.5,
			Note: "becomes sodium citrate; dissolve it in the water before the lye"},
		{Key: "sodium citrate", Name: "Sodium citrate dihydrate", INCI: "Sodium Citrate", Aliases: []string{"trisodium citrate"},
			Water: unit.Percent(100 * 2 * MolarWater / mustMolar("C6H9Na3O9")), Into: "water", TeaspoonGrams: 4.5},
		{Key: "vinegar 5 %", Name: "Vinegar, 5 % acetic acid", INCI: "Acetum", Aliases: []string{"vinegar", "white vinegar"}, Water: 95, BindsNaOH: acid("C2H4O2", 1, 0.05), Into: "water", TeaspoonGrams: 5},
		{Key: "tetrasodium edta", Name: "Tetrasodium EDTA", INCI: "Tetrasodium EDTA", Aliases: []string{"edta tetrasodium"}, Into: "water", TeaspoonGrams: 3.5},
		{Key: "aloe juice", Name: "Aloe juice", INCI: "Aloe Barbadensis Leaf Juice", Aliases: []string{"aloe", "aloe vera", "aloe vera juice"}, Water: 99, Into: "water", TeaspoonGrams: 5},
		{Key: "beer", Name: "Beer, flat", INCI: "Beer", Aliases: []string{"flat beer", "ale"}, Water: 93, Into: "lye", Heats: true, Amines: true, TeaspoonGrams: 5,
			Note: "boil it flat and chill it: gas and alcohol make the lye foam over (common practice, no source)"},
		{Key: "tea", Name: "Tea, brewed", INCI: "Camellia Sinensis Leaf Water", Aliases: []string{"brewed tea", "black tea"}, Water: 99.5, Into: "water", TeaspoonGrams: 5},
		{Key: "coffee", Name: "Coffee, brewed", INCI: "Coffea Arabica Seed Extract", Aliases: []string{"brewed coffee"}, Water: 99, Into: "water", TeaspoonGrams: 5},
		{Key: "oat", Name: "Oat, ground fine", INCI: "Avena Sativa Kernel Flour", Aliases: []string{"oats", "colloidal oat", "colloidal oatmeal", "oatmeal", "oat flour"}, Water: 9, Into: "batter", Amines: true, TeaspoonGrams: 2},
		{Key: "silk", Name: "Silk fibre", INCI: "Silk", Aliases: []string{"tussah silk", "silk fibre", "silk fiber"}, Water: 10, Into: "lye", Amines: true,
			Note: "dissolves in the hot lye; lye taken up by its protein is not counted"},
		{Key: "kaolin", Name: "Kaolin clay", INCI: "Kaolin", Aliases: []string{"kaolin clay", "white clay"}, Into: "oils", TeaspoonGrams: 2.5,
			Note: "do not raise dust"},
		{Key: "bentonite", Name: "Bentonite clay", INCI: "Bentonite", Aliases: []string{"bentonite clay"}, Into: "oils", TeaspoonGrams: 3,
			Note: "takes up water and thickens the batter (common practice, no source); do not raise dust"},
		{Key: "glycerin", Name: "Glycerin", INCI: "Glycerin", Aliases: []string{"glycerine", "glycerol"}, Into: "batter", TeaspoonGrams: 6.3},
		{Key: "tocopherol", Name: "Tocopherol", INCI: "Tocopherol", Aliases: []string{"vitamin e", "mixed tocopherols"}, Into: "oils", TeaspoonGrams: 4.7},
		{Key: "rosemary extract", Name: "Rosemary extract", INCI: "Rosmarinus Officinalis Leaf Extract", Aliases: []string{"rosemary oleoresin", "roe"}, Into: "oils", TeaspoonGrams: 4.7},
	}
}

// mustMolar is for the formulas of this program's own tables.
func mustMolar(formula string) float64 {
	m, err := Molar(formula)
	if err != nil {
		panic("formula: " + err.Error())
	}
	return m
}

// FindAdditive finds an additive by key, name or alias, whatever the case,
// punctuation and order of words. The error is a [*NameError].
func FindAdditive(name string) (Additive, error) {
	fail := &NameError{Kind: "additive", Name: name}
	want := near.Fold(name)
	if head, long := tooLong(name); long {
		fail.Name = head
		return Additive{}, fail
	}
	if len(want) == 0 {
		return Additive{}, fail
	}
	var have []string
	for _, a := range Additives() {
		names := append([]string{a.Key, a.Name}, a.Aliases...)
		if slices.ContainsFunc(names, func(n string) bool { return sameWords(near.Fold(n), want) }) {
			return a, nil
		}
		have = append(have, names...)
	}
	fail.Near = near.Near(name, have)
	return Additive{}, fail
}

// fatSV gives the middle and the ends of the saponification value of its fat.
func (a Additive) fatSV() (mid, low, high float64) {
	return (a.FatSVMin + a.FatSVMax) / 2, a.FatSVMin, a.FatSVMax
}

// solidsDensity stands for what is left of an additive without its water, g/ml:
// salt 2.2, sugar 1.6, honey sugars 1.5, clay 2.6, fat 0.9. It only fills a mould.
const solidsDensity = 1.5

func finite(vs ...float64) bool {
	for _, v := range vs {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
