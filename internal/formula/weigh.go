package formula

import (
	"fmt"
	"math"

	"lyefast/internal/unit"
)

// heldWater is what a cured bar keeps of its water, g per g of oils. It is an
// assumption, as is the make-up of a cured bar: oils 1, NaOH 0.138, water 0.14.
const heldWater = 0.14

// Densities that only fill a mould, g/ml: perfume oils lie between 0.85 and 1.1,
// pigments between 2 and 5 (handbooks, from memory).
const (
	fragranceDensity = 1.0
	colorantDensity  = 3.0
)

// need is hydroxide in mol at the middle and the ends of the saponification ranges.
type need struct{ mid, low, high float64 }

func (n *need) add(o Oil, g unit.Grams) {
	mid, low, high := hydroxideNeed(o, g)
	n.mid += mid
	n.low += low
	n.high += high
}

// discount is the lye discount in % that so much hydroxide leaves of a need.
func discount(available, need float64) unit.Percent {
	return unit.Percent(100 * (1 - available/need))
}

// weigh does the arithmetic of one pot whose oils are set; all is the oils of the
// whole plan, over which total doses are shared.
func (j *job) weigh(q *potJob, all unit.Grams) Pot {
	pot := Pot{
		Name: q.b.Name, Line: q.b.Line, Oils: q.oils,
		PerOil: []OilWeight{}, Additives: []PotAdditive{}, ExtraOils: []ExtraOil{},
		Portions: []PortionWeight{}, Notes: []string{},
	}
	var recipe need // the recipe's own oils
	oilML := 0.0
	for _, o := range j.oils {
		g := o.Share.Of(q.oils)
		pot.PerOil = append(pot.PerOil, OilWeight{Oil: o.Oil, Share: o.Share, Grams: g})
		recipe.add(o.Oil, g)
		rho, _ := Density(o.Oil)
		oilML += float64(g) / rho
	}
	if q.b.Mould != nil {
		pot.Mould = *q.b.Mould
	}

	// What comes in beside the recipe's oils, and what it binds.
	whole := recipe // with every added oil
	var acidMol float64
	var jugWater, solids, extra unit.Grams
	for _, a := range q.additives {
		oils := q.oils
		g, err := a.use.Dose.Grams(oils, a.fact.TeaspoonGrams)
		if err != nil {
			continue // refused before
		}
		if a.shared {
			g *= oils / all
			pot.Notes = append(pot.Notes, fmt.Sprintf("%s of %s is for the whole plan, shared among the batters by their oils", a.use.Dose.written(), a.use.Name))
		}
		if a.oil != nil {
			pot.ExtraOils = append(pot.ExtraOils, ExtraOil{Oil: *a.oil, Grams: g, Why: "late oil"})
			whole.add(*a.oil, g)
			rho, _ := Density(*a.oil)
			oilML += float64(g) / rho
			extra += g
			continue
		}
		f := a.fact
		p := PotAdditive{
			Name: f.Name, INCI: f.INCI, Grams: g, Dose: a.use.Dose.written(), Into: a.into,
			BindsNaOH: g * unit.Grams(f.BindsNaOH), Water: f.Water.Of(g), Fat: f.Fat.Of(g),
			Heats: f.Heats, Amines: f.Amines, Note: f.Note,
		}
		if p.Fat > 0 {
			mid, low, high := f.fatSV()
			k := float64(p.Fat) / 1000 / MolarKOH
			whole.mid, whole.low, whole.high = whole.mid+mid*k, whole.low+low*k, whole.high+high*k
		}
		acidMol += float64(p.BindsNaOH) / MolarNaOH
		pot.WaterBrought += p.Water
		if a.into == "lye" || a.into == "water" {
			jugWater += p.Water
		}
		solids += g - p.Water
		pot.Additives = append(pot.Additives, p)
	}
	for _, w := range q.wets {
		c := q.b.Portions[w.portion].Colorants[w.colorant]
		if w.oil != nil {
			pot.ExtraOils = append(pot.ExtraOils, ExtraOil{Oil: *w.oil, Grams: c.WetGrams,
				Why: fmt.Sprintf("wets %s in %s", c.Name, q.b.Portions[w.portion].Name)})
			whole.add(*w.oil, c.WetGrams)
		}
	}

	// Scent and its stabiliser.
	otherMol := 0.0
	if q.fragrance != nil {
		pot.FragranceName, pot.FragranceRate = q.fragrance.Name, q.rate
		pot.Fragrance = q.rate.Of(q.oils)
		perGram, known := j.fragranceNaOH(*q.fragrance)
		if !known && pot.Fragrance > 0 {
			pot.Notes = append(pot.Notes, "the vanillin of the fragrance is not known: what it binds of the lye is not counted")
		}
		otherMol += float64(pot.Fragrance) * perGram / MolarNaOH
		pot.Stabilizer = q.stab
		otherMol += float64(q.stab.BindsNaOH) / MolarNaOH
		pot.WaterBrought += q.stab.Water
		if mode := q.fragrance.Stabilizer.Mode; !q.stabKnown && q.rate > 0 && (mode == "auto" || mode == "given") {
			pot.Notes = append(pot.Notes, "the stabiliser's strength is not known: what it binds of the lye is not counted")
		}
	}

	// Lye.
	pureNaOH, pureKOH, assumed := q.lye.purities()
	if assumed {
		pot.PurityAssumed = true
	}
	extraShare := 0.0 // of the alkali that is there for acids
	if q.old {
		pot.NaOH = unit.Grams(q.naohPerG) * q.oils
		pot.KOH = unit.Grams(q.kohPerG) * q.oils
		pot.PureNaOH, pot.PureKOH = pot.NaOH*unit.Grams(pureNaOH), pot.KOH*unit.Grams(pureKOH)
		pot.Hydroxide = float64(pot.PureNaOH)/MolarNaOH + float64(pot.PureKOH)/MolarKOH
		pot.Superfat, pot.SuperfatWorkedBack = discount(pot.Hydroxide, recipe.mid), true
	} else {
		pot.Superfat = q.superfat
		pot.Hydroxide = recipe.mid*(1-float64(q.superfat)/100) + acidMol
		pot.PureNaOH, pot.PureKOH = SplitByMoles(pot.Hydroxide, q.lye.KOHShare)
		pot.NaOH, pot.KOH = pot.PureNaOH/unit.Grams(pureNaOH), pot.PureKOH/unit.Grams(pureKOH)
		extraShare = acidMol / pot.Hydroxide
	}
	if pot.NaOH > 0 {
		pot.NaOHPurity = unit.Percent(100 * pureNaOH)
	}
	if pot.KOH > 0 {
		pot.KOHPurity = unit.Percent(100 * pureKOH)
	}
	alkali := pot.NaOH + pot.KOH
	pot.ExtraAlkali = alkali * unit.Grams(extraShare)
	if acidMol > 0 {
		for i, a := range pot.Additives {
			pot.Additives[i].ExtraAlkali = pot.ExtraAlkali * unit.Grams(float64(a.BindsNaOH)/MolarNaOH/acidMol)
		}
		if q.old {
			pot.Notes = append(pot.Notes, fmt.Sprintf("the acids bind %s of NaOH, which the old recipe's lye is not raised for", unit.Grams(acidMol*MolarNaOH)))
		} else {
			pot.Notes = append(pot.Notes, fmt.Sprintf("%s of the alkali is there for the acids, so that the discount stays", pot.ExtraAlkali))
		}
	}
	available := pot.Hydroxide - acidMol - otherMol
	pot.Discount = discount(available, whole.mid)
	pot.DiscountLow, pot.DiscountHigh = discount(available, whole.low), discount(available, whole.high)

	if pot.PurityAssumed {
		pot.Notes = append(pot.Notes, fmt.Sprintf("the purity of the alkali is not stated: 100 %% is taken, the least lye; with NaOH of %g %% or KOH of %g %% the discount would be %s",
			usualNaOH, usualKOH, discount(available-assumedLoss(q, &pot), whole.mid)))
	}

	// Water.
	pot.WaterAsked, pot.WaterAssumed = q.lye.water(alkali, q.oils)
	if pot.WaterAssumed {
		pot.Notes = append(pot.Notes, fmt.Sprintf("the plan gives no water: a %g %% lye is taken", assumedLye))
	}
	pot.Water = pot.WaterAsked - pot.WaterBrought
	pot.LyeConcentration = Concentration(alkali, pot.WaterAsked)
	pot.JugConcentration = Concentration(alkali, pot.Water+jugWater)

	pot.Total = q.oils + alkali + pot.Water + pot.WaterBrought + solids + extra + pot.Fragrance + (pot.Stabilizer.Grams - pot.Stabilizer.Water)
	j.split(q, &pot)

	// Mass balance, cured mass and volume.
	pot.Fresh = balance(q, &pot, whole.mid, available)
	pigment, wet, wetML := unit.Grams(0), unit.Grams(0), 0.0
	for _, p := range pot.Portions {
		for _, c := range p.Colorants {
			pigment += c.Grams
			wet += c.WetGrams
		}
	}
	pot.Poured = pot.Total + pigment + wet
	for _, e := range pot.ExtraOils {
		if e.Why != "late oil" {
			rho, _ := Density(e.Oil)
			wetML += float64(e.Grams) / rho
			wet -= e.Grams
		}
	}
	wetML += float64(wet) // what wets without being an oil, near 1 g/ml
	kept := unit.Grams(math.Min(heldWater*float64(q.oils), float64(pot.Fresh.Water)))
	pot.Cured = pot.Total - pot.Fresh.Water + kept + pigment
	for _, e := range pot.ExtraOils {
		if e.Why != "late oil" {
			pot.Cured += e.Grams
		}
	}
	rest := solids + pot.Stabilizer.Grams - pot.Stabilizer.Water
	pot.Volume = unit.Millilitres(oilML + wetML +
		float64(alkali+pot.WaterAsked)/LyeDensity(pot.NaOH, pot.KOH, pot.WaterAsked) +
		float64(pot.Fragrance)/fragranceDensity + float64(rest)/solidsDensity + float64(pigment)/colorantDensity)
	return pot
}

// What lots usually hold, %: NaOH pearls and KOH flakes of trade (common practice, no source).
const usualNaOH, usualKOH = 98.0, 90.0

// assumedLoss is the hydroxide, mol, that is missing if alkali without a stated
// purity is of the usual one.
func assumedLoss(q *potJob, pot *Pot) float64 {
	lost := 0.0
	if q.lye.NaOHPurity == nil {
		lost += float64(pot.PureNaOH) / MolarNaOH * (1 - usualNaOH/100)
	}
	if q.lye.KOHPurity == nil {
		lost += float64(pot.PureKOH) / MolarKOH * (1 - usualKOH/100)
	}
	return lost
}

// balance follows the lye into the oils, each taking its share of what is
// available; wetting oils are left out, since Total is without them.
func balance(q *potJob, pot *Pot, needMid, available float64) Balance {
	koh := 0.0
	if pot.Hydroxide > 0 {
		koh = float64(pot.PureKOH) / MolarKOH / pot.Hydroxide
	}
	reacted := available / needMid
	b := Balance{Total: pot.Total}
	take := func(o Oil, g unit.Grams) {
		mol, _, _ := hydroxideNeed(o, g)
		b.saponify(o.Kind, g*unit.Grams(reacted), mol*reacted, koh)
		b.UnreactedOil += g * unit.Grams(1-reacted)
	}
	for _, o := range pot.PerOil {
		take(o.Oil, o.Grams)
	}
	for _, e := range pot.ExtraOils {
		if e.Why == "late oil" {
			take(e.Oil, e.Grams)
		}
	}
	// What a KOH lot holds beside KOH is nearly all water; of NaOH it is carbonate.
	b.Water += pot.WaterAsked + pot.KOH - pot.PureKOH
	b.Impurity = pot.NaOH - pot.PureNaOH
	b.Rest = b.Total - b.Soap - b.Glycerol - b.Water - b.UnreactedOil - b.Impurity
	return b
}

// split shares a pot among its portions.
func (j *job) split(q *potJob, pot *Pot) {
	all, scented := 0.0, 0.0
	for _, p := range q.b.Portions {
		all += p.Parts
		if p.Scented {
			scented += p.Parts
		}
	}
	pot.FragranceInPot = pot.Fragrance > 0 && scented == all
	inJug := pot.Fragrance + pot.Stabilizer.Grams
	plain := pot.Total - inJug
	var parts, full []float64
	for _, p := range q.b.Portions {
		share := unit.Grams(p.Parts / all)
		w := PortionWeight{
			Name: p.Name, Parts: p.Parts, Scented: p.Scented && pot.Fragrance > 0, Line: p.Line,
			Share: unit.Percent(100 * share), Oils: q.oils * share, Colorants: []ColorantWeight{},
		}
		if w.Scented {
			own := unit.Grams(p.Parts / scented)
			w.Fragrance, w.Stabilizer = pot.Fragrance*own, pot.Stabilizer.Grams*own
			w.FragranceRate = unit.Percent(100 * w.Fragrance / w.Oils)
		}
		for ci, c := range p.Colorants {
			spoon := q.spoons[len(pot.Portions)][ci]
			g, err := c.Dose.Grams(w.Oils, spoon)
			if err != nil {
				continue // refused before
			}
			cw := ColorantWeight{Name: c.Name, Grams: g, PerKg: unit.GramsPerKg(1000 * g / w.Oils), Dose: c.Dose.written(), Line: c.Line}
			if spoon > 0 {
				cw.Teaspoons = float64(g / spoon)
			}
			if c.Wet != "" {
				cw.Wet, cw.WetGrams, cw.WetIsOil = c.Wet, c.WetGrams, !watery(c.Wet)
			}
			w.Full += cw.Grams + cw.WetGrams
			w.Colorants = append(w.Colorants, cw)
		}
		parts = append(parts, p.Parts)
		full = append(full, float64(plain*share+w.Fragrance+w.Stabilizer))
		pot.Portions = append(pot.Portions, w)
	}
	grams, pour := ShareOut(pot.Total, full, ShownStep), ShareOut(plain, parts, ShownStep)
	for i := range pot.Portions {
		p := &pot.Portions[i]
		if len(grams) == 0 || len(pour) == 0 {
			break // a pot with less than no water, refused by judge
		}
		p.Grams, p.Pour = grams[i], pour[i]
		if pot.FragranceInPot {
			p.Pour = p.Grams
		}
		p.Full += p.Grams
	}
}

// judge looks at a weighed pot for what cannot be or should not be.
func (j *job) judge(q *potJob, pot *Pot) {
	lyeLine, superfatLine := q.lye.Line, j.plan.SuperfatLine
	if q.b.Superfat != nil {
		superfatLine = q.b.Line
	}
	switch {
	case pot.Discount <= 1e-9 && q.old:
		j.fatal(lyeLine, q.lyeField, "lower the alkali, or check the oils and the unit",
			"%s of alkali is %.1f %% more than the oils take at the middle of their saponification ranges", pot.NaOH+pot.KOH, -float64(pot.Discount))
	case pot.Discount <= 1e-9:
		j.fatal(superfatLine, "superfat", "write 3 % or more", "a discount of %.2f %% at the middle of the saponification ranges leaves lye in the bar", float64(pot.Discount))
	case q.old && float64(pot.Superfat) > maxDiscount:
		j.fatal(lyeLine, q.lyeField, "check the alkali, the oils and the unit", "this alkali is %.1f %% less than the oils take", float64(pot.Superfat))
	}
	field := q.field + ": lye" // water differs from pot to pot
	switch {
	case pot.Water < -1e-9:
		j.fatal(lyeLine, field, "use less of it, or a weaker lye",
			"additives bring %s of water, more than the %s the lye is to have", pot.WaterBrought, pot.WaterAsked)
	case pot.JugConcentration > strongestLye+0.05 && pot.WaterBrought > 0:
		j.fatal(lyeLine, field, "use less milk at trace, put it into the lye, or take a weaker lye",
			"%s of the water comes with additives, which leaves a lye of %.1f %% to mix: it does not dissolve", pot.WaterBrought, float64(pot.JugConcentration))
	case pot.JugConcentration > strongestLye+0.05:
		j.fatal(lyeLine, field, "take 25 to 40 %", "a lye of %.1f %% does not dissolve", float64(pot.JugConcentration))
	case pot.LyeConcentration < weakestLye-0.05:
		j.remark(lyeLine, field, "take 25 to 40 %", "a lye of %.1f %% is weak: the batter may part and the bars shrink and warp", float64(pot.LyeConcentration))
	}
}
