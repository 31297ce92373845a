package plan

import (
	"fmt"

	"lyefast/internal/formula"
	"lyefast/internal/unit"
)

// Lye cautions stand with every lye finding (general words; the corrosive class is
// from the CLP listing of sodium hydroxide, Skin Corr. 1A, H314; the order of
// mixing is common practice).
const lyeCare = "lye burns skin and eyes: goggles, gloves, fresh air, lye into water and never the reverse, children away"

// lyeDanger tells of metal that lye dissolves, and of a discount that the
// published ranges of the oils can use up.
func lyeDanger(in *Input) []Finding {
	var out []Finding
	for _, j := range in.jugs() {
		for _, c := range j.plan.Colorants {
			metal, ok := in.Colorants[c.Name].metal()
			if !ok {
				continue
			}
			out = append(out, Finding{Portion: j.key, Line: c.Line, Severity: Risk, Grounds: Chemistry,
				Title:   fmt.Sprintf("DANGER: %s holds metal that lye attacks", c.Name),
				Because: fmt.Sprintf("%s: %s; %s", metal.Printed, metal.Fact.Fresh, metal.Fact.Evidence),
				Try:     "leave it out; never put aluminium, zinc or an unknown metal powder near lye: it makes hydrogen and heat"})
		}
	}
	for i := range in.Recipe.Pots {
		pot := &in.Recipe.Pots[i]
		line := in.Plan.SuperfatLine
		if line == 0 {
			line = pot.Line
		}
		switch {
		case pot.Discount <= 0:
			out = append(out, Finding{Portion: pot.Name, Line: line, Severity: Risk, Grounds: Arithmetic,
				Title:   "this lye is more than the oils can take: do not pour it",
				Because: fmt.Sprintf("at the middle of the oils' published ranges the discount is %.1f %% (%.1f to %.1f)", pot.Discount, pot.DiscountLow, pot.DiscountHigh),
				Try:     safeDiscount(pot) + "; " + lyeCare})
		case pot.DiscountLow <= 0:
			out = append(out, Finding{Portion: pot.Name, Line: line, Severity: Risk, Grounds: Arithmetic,
				Title:   "the lye may not be used up",
				Because: fmt.Sprintf("the discount is %.1f %% in the middle, but %.1f to %.1f over the published ranges of these oils", pot.Discount, pot.DiscountLow, pot.DiscountHigh),
				Try:     safeDiscount(pot) + ", or the saponification value on the certificate of your lots, which narrows the range; " + lyeCare})
		}
	}
	return out
}

// safeDiscount names the smallest whole discount whose low end stays positive.
func safeDiscount(pot *formula.Pot) string {
	width := float64(pot.Discount - pot.DiscountLow)
	for s := 1.0; s <= 15; s++ {
		// What binds lye besides the oils stays; the interval scales with the lye.
		mid := s + float64(pot.Discount-pot.Superfat)
		if low := mid - width*(100-mid)/(100-float64(pot.Discount)); low > 0.25 {
			return fmt.Sprintf("superfat = \"%.0f %%\" keeps the low end at %.1f %%", s, low)
		}
	}
	return "a larger discount"
}

// lyeStrength looks at water and assay.
func lyeStrength(in *Input) []Finding {
	var out []Finding
	for i := range in.Recipe.Pots {
		pot := &in.Recipe.Pots[i]
		line := in.Plan.Lye.Line
		if line == 0 {
			line = pot.Line
		}
		f := Finding{Portion: pot.Name, Line: line, Severity: Caution, Grounds: Arithmetic}
		switch c := pot.LyeConcentration; {
		case c > 45:
			f.Severity = Risk
			f.Title = "the lye is too strong to handle safely"
			f.Because = fmt.Sprintf("%.0f %% alkali; near 50 %% it no longer dissolves fully and boils when it does", c)
			f.Try = fmt.Sprintf("33 %% lye: %s g of water instead of %s g; %s", grams(waterFor(pot, 33)), grams(pot.Water), lyeCare)
			out = append(out, f)
		case c > 40:
			f.Title = "strong lye: hot, fast, little time"
			f.Because = fmt.Sprintf("%.0f %% alkali gives a batter that thickens early", c)
			f.Try = fmt.Sprintf("33–36 %% lye: %s to %s g of water", grams(waterFor(pot, 36)), grams(waterFor(pot, 33)))
			f.Grounds = Practice
			out = append(out, f)
		case c >= 20 && c < 25: // weaker still, the weighing itself objects
			f.Title = "weak lye: slow, soft, ash and veins"
			f.Because = fmt.Sprintf("%.0f %% alkali is %s g of water for %s g of oils", c, grams(pot.WaterAsked), grams(pot.Oils))
			f.Try = fmt.Sprintf("30–33 %% lye: %s to %s g of water", grams(waterFor(pot, 33)), grams(waterFor(pot, 30)))
			f.Grounds = Practice
			out = append(out, f)
		}
		if pot.JugConcentration > 50 && pot.LyeConcentration <= 45 {
			out = append(out, Finding{Portion: pot.Name, Line: line, Severity: Risk, Grounds: Arithmetic,
				Title:   "too little water in the lye jug to dissolve the alkali",
				Because: fmt.Sprintf("part of the water comes later, so the jug holds %.0f %% lye", pot.JugConcentration),
				Try:     "dissolve the alkali in at least its own weight of water and add the rest afterwards; " + lyeCare})
		}
	}
	if n := len(in.Recipe.Pots); n > 0 {
		pot := &in.Recipe.Pots[0]
		line := in.Plan.Lye.Line
		if line == 0 {
			line = pot.Line
		}
		if pot.PurityAssumed {
			weak := 100 - (100-float64(pot.Discount))*0.95
			out = append(out, Finding{Line: line, Severity: Note, Grounds: Arithmetic,
				Title:   "the purity of the alkali is not stated",
				Because: fmt.Sprintf("100 %% is taken, the safe side; a lot of 95 %% makes the discount %.1f %% instead of %.1f", weak, pot.Discount),
				Try:     `purity = "98 %" in [lye], from the label or certificate of the lot`})
		}
		if pot.WaterAssumed {
			out = append(out, Finding{Line: line, Severity: Note, Grounds: Practice,
				Title:   "no water is stated",
				Because: fmt.Sprintf("lye of %.0f %% is taken", pot.LyeConcentration),
				Try:     `concentration = "33 %" in [lye]`})
		}
	}
	return out
}

// waterFor gives the water that makes this pot's alkali a lye of c %.
func waterFor(pot *formula.Pot, c float64) unit.Grams {
	return (pot.NaOH + pot.KOH) * unit.Grams((100-c)/c)
}
