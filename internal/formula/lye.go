package formula

import (
	"fmt"
	"math"
	"slices"

	"lyefast/internal/unit"
)

// Limits of the lye. Water at 20 °C takes about 1.09 g of NaOH per g, 52 % by mass
// (CRC Handbook, from memory); a lye past 50 % leaves grains. Below 20 % the batter
// may part and the bar warps (common practice, no source).
const (
	strongestLye = 50.0 // %
	weakestLye   = 20.0 // %
	// assumedLye is taken where a plan says nothing of the water: a weak lye traces
	// slowly and dissolves safely (common practice, no source).
	assumedLye = 30.0 // %
	// assumedPurity gives the least lye, so an unknown lot never leaves less superfat than planned.
	assumedPurity = 100.0 // %
	// maxDiscount is beyond any soap; a larger figure is a slip of the pen.
	maxDiscount = 40.0 // %
)

// mergeLye lays a batter's own lye over the recipe's: what it states wins, and the
// water is taken whole from whichever states any.
func mergeLye(recipe Lye, own *Lye) Lye {
	if own == nil {
		return recipe
	}
	l := recipe
	if own.Line > 0 {
		l.Line = own.Line
	}
	if own.KOHShare > 0 || own.AlkaliGiven {
		l.KOHShare = own.KOHShare
	}
	if own.NaOHPurity != nil {
		l.NaOHPurity = own.NaOHPurity
	}
	if own.KOHPurity != nil {
		l.KOHPurity = own.KOHPurity
	}
	if own.Concentration != nil || own.WaterRatio != nil || own.WaterOfOils != nil {
		l.Concentration, l.WaterRatio, l.WaterOfOils = own.Concentration, own.WaterRatio, own.WaterOfOils
	}
	if own.NaOH != nil || own.KOH != nil {
		l.NaOH, l.KOH = own.NaOH, own.KOH
	}
	if own.Temperature != nil {
		l.Temperature = own.Temperature
	}
	return l
}

// judge names what is impossible or odd in a lye, before anything is weighed.
func (l Lye) judge(field string) []Problem {
	var out []Problem
	add := func(fatal bool, key, msg, hint string) {
		if key != "" {
			key = ": " + key
		}
		out = append(out, Problem{Line: l.Line, Field: field + key, Message: msg, Hint: hint, Fatal: fatal})
	}
	if !(l.KOHShare >= 0 && l.KOHShare <= 100) {
		add(true, "koh_share", fmt.Sprintf("a KOH share of %g %% is outside 0-100", float64(l.KOHShare)), "")
	}
	for _, p := range []struct {
		key    string
		purity *unit.Percent
		usual  float64 // USP: NaOH not less than 95.0 %, KOH not less than 85.0 % total alkali
	}{{"naoh_purity", l.NaOHPurity, 95}, {"koh_purity", l.KOHPurity, 85}} {
		if p.purity == nil {
			continue
		}
		switch v := float64(*p.purity); {
		case v > 0 && v <= 1.005:
			add(true, p.key, fmt.Sprintf("a purity of %g %% leaves no alkali", v), fmt.Sprintf("did you mean \"%g %%\"?", math.Round(v*1e4)/100))
		case !(v >= 50 && v <= 100.5):
			add(true, p.key, fmt.Sprintf("a purity of %g %% is outside 50-100.5", v), "take the assay from the label or certificate of the lot")
		case v < p.usual:
			add(false, p.key, fmt.Sprintf("a purity of %g %% is below the %g %% of pharmacopoeia grade", v, p.usual), "old lye draws water and carbonate: check the label of the lot")
		}
	}
	given := 0
	if l.Concentration != nil {
		given++
		if v := float64(*l.Concentration); !(v > 0 && v < 100) {
			add(true, "concentration", fmt.Sprintf("a lye concentration of %g %% cannot be", v), "write it like \"33 %\"")
		}
	}
	if l.WaterRatio != nil {
		given++
		if v := *l.WaterRatio; !(v > 0 && v < 1e3) {
			add(true, "water_ratio", fmt.Sprintf("%g g of water per g of alkali cannot be", v), "write it like \"2 : 1\"")
		}
	}
	if l.WaterOfOils != nil {
		given++
		if v := float64(*l.WaterOfOils); !(v > 0 && v <= 200) {
			add(true, "water", fmt.Sprintf("water of %g %% of the oils cannot be", v), "write it like \"30 %\"")
		}
	}
	if given > 1 {
		add(true, "", "the water is given more than once", "keep one of concentration, water_ratio and water")
	}
	total := 0.0
	for _, g := range []*unit.Grams{l.NaOH, l.KOH} {
		if g == nil {
			continue
		}
		if !finite(float64(*g)) || *g < 0 {
			add(true, "naoh", fmt.Sprintf("%g g of alkali cannot be", float64(*g)), "")
			return out
		}
		total += float64(*g)
	}
	if (l.NaOH != nil || l.KOH != nil) && total == 0 {
		add(true, "naoh", "no alkali at all makes no soap", "write the grams of the old recipe, or a superfat instead")
	}
	return out
}

// old says that the alkali is given in grams.
func (l Lye) old() bool { return l.NaOH != nil || l.KOH != nil }

// purities gives both assays as shares and says whether one in use was assumed.
func (l Lye) purities() (naoh, koh float64, assumed bool) {
	naoh, koh = assumedPurity/100, assumedPurity/100
	usesNaOH, usesKOH := l.KOHShare < 100, l.KOHShare > 0
	if l.old() {
		usesNaOH, usesKOH = l.NaOH != nil, l.KOH != nil
	}
	if l.NaOHPurity != nil {
		naoh = float64(*l.NaOHPurity) / 100
	} else if usesNaOH {
		assumed = true
	}
	if l.KOHPurity != nil {
		koh = float64(*l.KOHPurity) / 100
	} else if usesKOH {
		assumed = true
	}
	return naoh, koh, assumed
}

// SplitByMoles shares hydroxide between the two alkalis by moles and gives g of
// each, pure. kohShare is 0-100.
func SplitByMoles(mol float64, kohShare unit.Percent) (naoh, koh unit.Grams) {
	k := float64(kohShare) / 100
	return unit.Grams(mol * (1 - k) * MolarNaOH), unit.Grams(mol * k * MolarKOH)
}

// WaterFor gives the water for a lye of the given concentration by mass (E10):
// alkali as weighed, or pure if the concentration is meant so; 0 < c < 100.
func WaterFor(alkali unit.Grams, c unit.Percent) unit.Grams {
	return alkali * unit.Grams((100-c)/c)
}

// Concentration gives alkali ÷ (alkali + water) in %, 0 without alkali.
func Concentration(alkali, water unit.Grams) unit.Percent {
	if alkali <= 0 {
		return 0
	}
	return unit.Percent(100 * alkali / (alkali + water))
}

// water gives what the plan asks for in all.
func (l Lye) water(alkali, oils unit.Grams) (water unit.Grams, assumed bool) {
	switch {
	case l.Concentration != nil:
		return WaterFor(alkali, *l.Concentration), false
	case l.WaterRatio != nil:
		return alkali * unit.Grams(*l.WaterRatio), false
	case l.WaterOfOils != nil:
		return l.WaterOfOils.Of(oils), false
	}
	return WaterFor(alkali, assumedLye), true
}

// hydroxideNeed gives the mol of hydroxide that saponify g of an oil, at the
// middle and the ends of its range (E3).
func hydroxideNeed(o Oil, g unit.Grams) (mid, low, high float64) {
	m, l, h := o.SV()
	k := float64(g) / 1000 / MolarKOH
	return m * k, l * k, h * k
}

// Densities of aqueous lye, g/ml by % of mass: Perry's Handbook, NaOH at 20 °C and
// KOH at 15 °C, from memory (1.3490 at 32 % and 1.3696 at 34 % NaOH agree with a
// second recollection; table values at 25 °C that were read lie 0.3 % lower).
var (
	naohDensity = []point{{0, 0.9982}, {4, 1.0428}, {8, 1.0869}, {12, 1.1309}, {16, 1.1751}, {20, 1.2191}, {24, 1.2629},
		{28, 1.3064}, {30, 1.3279}, {32, 1.3490}, {34, 1.3696}, {36, 1.3900}, {38, 1.4101}, {40, 1.4300}, {44, 1.4685}, {48, 1.5065}, {50, 1.5253}}
	kohDensity = []point{{0, 0.9991}, {10, 1.0918}, {20, 1.1884}, {30, 1.2905}, {40, 1.3991}, {50, 1.5143}}
)

type point struct{ x, y float64 }

// interpolate reads a table with ascending x; beyond its ends the end slope goes on.
func interpolate(table []point, x float64) float64 {
	i, _ := slices.BinarySearchFunc(table, x, func(p point, x float64) int {
		switch {
		case p.x < x:
			return -1
		case p.x > x:
			return 1
		}
		return 0
	})
	i = min(max(i, 1), len(table)-1)
	a, b := table[i-1], table[i]
	return a.y + (x-a.x)*(b.y-a.y)/(b.x-a.x)
}

// LyeDensity gives the density of a lye in g/ml at about 20 °C: naoh and koh are
// the alkali as weighed; mixed lyes by the volumes of their parts.
func LyeDensity(naoh, koh, water unit.Grams) float64 {
	alkali := naoh + koh
	if alkali <= 0 {
		return waterAt20
	}
	c := float64(Concentration(alkali, water))
	share := float64(koh / alkali)
	return 1 / ((1-share)/interpolate(naohDensity, c) + share/interpolate(kohDensity, c))
}
