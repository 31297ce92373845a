package formula

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lyefast/internal/unit"
)

// dawn is a whole plan: a slab and a smaller topping from one recipe.
func dawn() Plan {
	return Plan{
		Title: "Harbour Dawn", Superfat: 5, SuperfatGiven: true, SuperfatLine: 2,
		Lye: Lye{NaOHPurity: ptr(unit.Percent(98)), Concentration: ptr(unit.Percent(33)), AlkaliGiven: true, Line: 3},
		Oils: []OilUse{
			{Name: "olive, refined", Share: ptr(unit.Percent(45)), Line: 6}, {Name: "coconut", Share: ptr(unit.Percent(25)), Line: 7},
			{Name: "palm", Share: ptr(unit.Percent(25)), Line: 8}, {Name: "castor", Share: ptr(unit.Percent(5)), Line: 9},
		},
		Fragrance: &FragranceUse{Name: "Amber Tonka", Rate: 4, Vanillin: ptr(unit.Percent(5)), Stabilizer: StabilizerUse{Mode: "auto"}, Line: 11},
		Batters: []Batter{
			{Name: "slab", Oils: ptr(unit.Grams(1000)), Line: 20, Portions: []Portion{
				{Name: "shore", Parts: 4, Scented: true, Colorants: []ColorantUse{{Name: "Chalk White", Dose: Dose{3, PerKgOils, "3 g/kg"}, Line: 24}}},
				{Name: "tide", Parts: 2, Scented: true},
				{Name: "sky", Parts: 1, Colorants: []ColorantUse{{Name: "Buoy Blue", Dose: Dose{1, TspPerPound, "1 tsp/lb"}, TeaspoonGrams: 2.7, Wet: "sunflower", WetGrams: 8}}},
			}},
			{Name: "topping", Oils: ptr(unit.Grams(250)), Line: 40, Portions: []Portion{{Name: "foam", Parts: 1, Scented: true}}},
		},
	}
}

func fatal(t testing.TB, p Plan, field, message string) Problem {
	t.Helper()
	r, problems := Compute(p, BuiltIn(), Lookups{})
	for _, q := range problems {
		if q.Fatal && strings.Contains(q.Field, field) && strings.Contains(q.Message, message) {
			if len(r.Pots) != 0 {
				t.Errorf("weights in spite of %q", q.Message)
			}
			return q
		}
	}
	t.Errorf("no fatal problem at %q with %q, got %+v", field, message, problems)
	return Problem{}
}

func remarked(t testing.TB, p Plan, message string) {
	t.Helper()
	_, problems := Compute(p, BuiltIn(), Lookups{})
	found := false
	for _, q := range problems {
		if q.Fatal {
			t.Errorf("fatal: %s: %s", q.Field, q.Message)
		}
		found = found || strings.Contains(q.Message, message)
	}
	if !found {
		t.Errorf("no remark with %q, got %+v", message, problems)
	}
}

func TestEveryBatterIsItsOwnPot(t *testing.T) {
	r := compute(t, dawn())
	slab, topping := r.Pots[0], r.Pots[1]
	for _, w := range []struct {
		what       string
		slab, topg float64
	}{
		{"oils", float64(slab.Oils), float64(topping.Oils)}, {"NaOH", float64(slab.NaOH), float64(topping.NaOH)},
		{"water", float64(slab.Water), float64(topping.Water)}, {"fragrance", float64(slab.Fragrance), float64(topping.Fragrance)},
		{"castor", float64(slab.PerOil[3].Grams), float64(topping.PerOil[3].Grams)},
	} {
		near4(t, w.what, w.topg*4, w.slab, 1e-12)
		if w.topg <= 0 {
			t.Errorf("no %s in the topping", w.what)
		}
	}
	near4(t, "concentration", float64(topping.LyeConcentration), 33, 1e-12)
	near4(t, "fragrance", float64(slab.Fragrance), 40, 1e-12)
	// 8 g of sunflower in one portion of the slab only.
	if !(slab.Discount > topping.Discount && topping.Discount > 5) {
		t.Errorf("discounts %g and %g", slab.Discount, topping.Discount)
	}
}

// The true discount by hand: 5 % on the recipe; 40 g of scent with 5 % vanillin bind
// 2 x 0.26288 g of NaOH (vanillin facts); 8 g of sunflower (SV 190.5) need lye.
func TestTrueDiscountByHand(t *testing.T) {
	slab := compute(t, dawn()).Pots[0]
	need := 450*NaOHPerGram(190) + 250*NaOHPerGram(256.5) + 250*NaOHPerGram(199.5) + 50*NaOHPerGram(181.5)
	near4(t, "pure NaOH", float64(slab.PureNaOH), 0.95*need, 1e-12)
	want := 100 * (1 - (0.95*need-2*39.997/152.149)/(need+8*NaOHPerGram(190.5)))
	near4(t, "discount", float64(slab.Discount), want, 1e-9)
	low := 450*NaOHPerGram(184) + 250*NaOHPerGram(248) + 250*NaOHPerGram(190) + 50*NaOHPerGram(176) + 8*NaOHPerGram(187)
	near4(t, "low end", float64(slab.DiscountLow), 100*(1-(0.95*need-2*39.997/152.149)/low), 1e-9)
	if len(slab.ExtraOils) != 1 || slab.ExtraOils[0].Why != "wets Buoy Blue in sky" {
		t.Errorf("%+v", slab.ExtraOils)
	}
}

func TestPortions(t *testing.T) {
	slab := compute(t, dawn()).Pots[0]
	shore, tide, sky := slab.Portions[0], slab.Portions[1], slab.Portions[2]
	near4(t, "oils", float64(shore.Oils), 1000*4/7., 1e-12)
	near4(t, "white", float64(shore.Colorants[0].Grams), 3*4/7., 1e-12)
	// A teaspoon per pound of oils: 2.7 g per 453.59 g.
	near4(t, "blue", float64(sky.Colorants[0].Grams), 2.7*1000/7/453.59237, 1e-9)
	near4(t, "blue by kg", float64(sky.Colorants[0].PerKg), 2.7*1000/453.59237, 1e-9)
	near4(t, "teaspoons", sky.Colorants[0].Teaspoons, 1000/7.0/453.59237, 1e-9)
	near4(t, "scent of shore", float64(shore.Fragrance), 40*4/6., 1e-12)
	near4(t, "its rate", float64(shore.FragranceRate), 4*7/6., 1e-12) // all the scent in six sevenths
	if sky.Fragrance != 0 || sky.Scented || slab.FragranceInPot {
		t.Errorf("scent in the bare portion: %+v", sky)
	}
	if got, want := float64(shore.Grams+tide.Grams+sky.Grams), math.Round(float64(slab.Total)*10)/10; math.Abs(got-want) > 1e-9 {
		t.Errorf("portions add up to %.10g of %.10g", got, want)
	}
	if d := float64(shore.Grams - shore.Pour); math.Abs(d-40*4/6.) > 0.1 {
		t.Errorf("the jug holds %g less than the portion, scent %g", d, shore.Fragrance)
	}
	if top := compute(t, dawn()).Pots[1]; !top.FragranceInPot || top.Portions[0].Pour != top.Portions[0].Grams {
		t.Errorf("a pot that is scented throughout: %+v", top.Portions[0])
	}
	near4(t, "all of it", float64(slab.Poured), float64(slab.Total)+float64(shore.Colorants[0].Grams+sky.Colorants[0].Grams)+8, 1e-12)
}

func TestWorkedBackFromAnOldRecipe(t *testing.T) {
	asked := one(t, threeOils(6.5, Lye{NaOHPurity: ptr(unit.Percent(97))}))
	p := threeOils(0, Lye{NaOH: &asked.NaOH, NaOHPurity: ptr(unit.Percent(97))})
	p.SuperfatGiven = false
	near4(t, "its discount", float64(one(t, p).Superfat), 6.5, 1e-9)
	p.Batters = []Batter{{Name: "half", Oils: ptr(unit.Grams(500))}, {Name: "quarter", Oils: ptr(unit.Grams(250))}}
	for i, pot := range compute(t, p).Pots {
		near4(t, "NaOH follows the oils", float64(pot.NaOH), float64(asked.NaOH)/float64([]int{2, 4}[i]), 1e-12)
		near4(t, "its discount", float64(pot.Discount), 6.5, 1e-9)
	}
	koh := unit.Grams(220)
	p = threeOils(0, Lye{KOH: &koh, KOHPurity: ptr(unit.Percent(90))})
	near4(t, "KOH", float64(one(t, p).Discount), 100*(1-198/211.8), rel)
	lot := unit.Grams(200)
	p.Lye = Lye{NaOH: &lot}
	fatal(t, p, "lye", "more than the oils take")
	few := unit.Grams(20)
	p.Lye = Lye{NaOH: &few}
	fatal(t, p, "lye", "less than the oils take")
	shares := dawn()
	shares.Lye.NaOH = &few
	fatal(t, shares, "lye", "no grams of oils")
}

func TestAcidsGetTheirOwnLye(t *testing.T) {
	plain := one(t, threeOils(5, Lye{NaOHPurity: ptr(unit.Percent(98))}))
	p := threeOils(5, Lye{NaOHPurity: ptr(unit.Percent(98))})
	p.Additives = []AdditiveUse{{Name: "citric acid", Dose: Dose{1, PercentOils, "1 %"}}}
	pot := one(t, p)
	near4(t, "more NaOH", float64(pot.NaOH-plain.NaOH), 10*3*39.997/192.123/0.98, 1e-6)
	near4(t, "told", float64(pot.ExtraAlkali), 10*3*39.997/192.123/0.98, 1e-6)
	near4(t, "per additive", float64(pot.Additives[0].ExtraAlkali), float64(pot.ExtraAlkali), 1e-12)
	near4(t, "discount stays", float64(pot.Discount), 5, 1e-9)
	near4(t, "interval stays", float64(pot.DiscountLow), float64(plain.DiscountLow), 1e-9)
	// An old recipe's lye is not touched, so the acid shows in its discount.
	p.Lye.NaOH = &plain.NaOH
	old := one(t, p)
	near4(t, "old: superfat", float64(old.Superfat), 5, 1e-9)
	near4(t, "old: true", float64(old.Discount), 100*(1-(143.4417-6.2456)/150.9913), rel)
	if old.ExtraAlkali != 0 || old.NaOH != plain.NaOH {
		t.Errorf("old lye changed by %g", old.ExtraAlkali)
	}
}

func TestMilkBringsWaterAndFat(t *testing.T) {
	lye := Lye{NaOHPurity: ptr(unit.Percent(98)), Concentration: ptr(unit.Percent(33))}
	plain := one(t, threeOils(5, lye))
	p := threeOils(5, lye)
	p.Additives = []AdditiveUse{{Name: "coconut milk", Dose: Dose{100, GramsTotal, "100 g"}}}
	pot := one(t, p)
	near4(t, "water", float64(plain.Water-pot.Water), 73, 1e-9)
	near4(t, "asked", float64(pot.WaterAsked), float64(plain.WaterAsked), 1e-12)
	near4(t, "concentration", float64(pot.LyeConcentration), 33, 1e-12)
	near4(t, "in the jug too, as it goes into the lye", float64(pot.JugConcentration), 33, 1e-9)
	// 21 g of coconut fat, SV 256.5, without lye of its own.
	near4(t, "discount", float64(pot.Discount), 100*(1-0.95*211.8/(211.8+21*.2565)), 1e-6)
	near4(t, "mass", float64(pot.Total-plain.Total), 27, 1e-9)
	p.Additives[0].Into = "batter"
	at := one(t, p)
	if at.JugConcentration <= 33 || at.Water != pot.Water {
		t.Errorf("at trace: jug %g, water %g", at.JugConcentration, at.Water)
	}
	p.Additives[0].Dose = Dose{210, GramsTotal, "210 g"}
	fatal(t, p, "lye", "does not dissolve")
	p.Additives[0].Dose = Dose{450, GramsTotal, "450 g"}
	fatal(t, p, "lye", "more than the")
}

func TestStabilizerAndLookups(t *testing.T) {
	p := dawn()
	p.Fragrance.Stabilizer = StabilizerUse{Mode: "given", Name: "Slack Water", Grams: ptr(unit.Grams(50))}
	p.Fragrance.Vanillin = nil
	p.Batters[0].Portions[2].Colorants[0].TeaspoonGrams = 0
	var asked []StabilizerAsk
	ctx := Lookups{
		TeaspoonGrams: func(name string) (unit.Grams, bool) { return 2.5, name == "Buoy Blue" },
		FragranceNaOH: func(FragranceUse) (float64, bool) { return 0.01, true },
		Stabilizer: func(a StabilizerAsk) (StabilizerDose, bool) {
			asked = append(asked, a)
			return StabilizerDose{Name: a.Use.Name, Grams: a.Grams, BindsNaOH: a.Grams * 0.1, Water: a.Grams * 0.6}, true
		},
	}
	r, problems := Compute(p, BuiltIn(), ctx)
	if len(r.Pots) != 2 {
		t.Fatal(problems)
	}
	slab, topping := r.Pots[0], r.Pots[1]
	near4(t, "slab's share", float64(slab.Stabilizer.Grams), 40, 1e-12)
	near4(t, "topping's share", float64(topping.Stabilizer.Grams), 10, 1e-12)
	near4(t, "water credited", float64(slab.WaterAsked-slab.Water), 24, 1e-12)
	near4(t, "teaspoon from the shelf", float64(slab.Portions[2].Colorants[0].PerKg), 2500/453.59237, 1e-9)
	near4(t, "in the scented portions", float64(slab.Portions[0].Stabilizer+slab.Portions[1].Stabilizer), 40, 1e-12)
	need := slab.Hydroxide / 0.95 * MolarNaOH
	sunflower := 8 * NaOHPerGram(190.5)
	near4(t, "discount", float64(slab.Discount), 100*(1-(0.95*need-0.4-4)/(need+sunflower)), 1e-9)
	if len(asked) == 0 || asked[0].Fragrance != 40 || asked[0].Oils != 1000 {
		t.Errorf("asked %+v", asked)
	}
	// Without anyone to ask, the given grams are weighed and the doubt is said.
	p.Batters[0].Portions[2].Colorants = nil
	r = compute(t, p)
	near4(t, "grams without a shelf", float64(r.Pots[0].Stabilizer.Grams), 40, 1e-12)
	notes := strings.Join(r.Pots[0].Notes, "\n")
	if !strings.Contains(notes, "stabiliser's strength is not known") || !strings.Contains(notes, "vanillin of the fragrance is not known") {
		t.Errorf("notes: %s", notes)
	}
}

func TestAssumptionsAreSaid(t *testing.T) {
	pot := one(t, threeOils(5, Lye{}))
	if !pot.PurityAssumed || !pot.WaterAssumed {
		t.Errorf("%+v", pot)
	}
	near4(t, "least lye", float64(pot.NaOH), 143.4417, 1e-6)
	near4(t, "30 %", float64(pot.LyeConcentration), 30, 1e-12)
	notes := strings.Join(pot.Notes, "\n")
	// NaOH of 98 %: 1 - 0.95 x 0.98 = 6.9 %.
	if !strings.Contains(notes, "6.9 %") || !strings.Contains(notes, "30 % lye") {
		t.Errorf("notes: %s", notes)
	}
	if known := case14(t); known.PurityAssumed || known.WaterAssumed || len(known.Notes) != 0 {
		t.Errorf("%+v", known.Notes)
	}
	if both := one(t, threeOils(5, Lye{KOHShare: 10, NaOHPurity: ptr(unit.Percent(98))})); !both.PurityAssumed {
		t.Error("unknown KOH passed for known")
	}
}

func TestBatterOverrides(t *testing.T) {
	p := dawn()
	p.Lye = Lye{KOHShare: 20, AlkaliGiven: true, NaOHPurity: ptr(unit.Percent(98)), KOHPurity: ptr(unit.Percent(90)), WaterRatio: ptr(2.0)}
	p.Batters[1].Lye = &Lye{Concentration: ptr(unit.Percent(28))}
	p.Batters[1].Superfat = ptr(unit.Percent(8))
	p.Batters[1].Rate = ptr(unit.Percent(2))
	r := compute(t, p)
	a, b := r.Pots[0], r.Pots[1]
	near4(t, "recipe's ratio", float64(a.Water/(a.NaOH+a.KOH)), 2, 1e-12)
	near4(t, "own concentration", float64(b.LyeConcentration), 28, 1e-12)
	near4(t, "own superfat", float64(b.Superfat), 8, 1e-12)
	near4(t, "own rate", float64(b.Fragrance), 5, 1e-12)
	if b.KOH == 0 || b.KOHPurity != 90 {
		t.Errorf("the recipe's alkali was lost: %g g KOH", b.KOH)
	}
	p.Batters[1].Lye = &Lye{AlkaliGiven: true}
	if b = compute(t, p).Pots[1]; b.KOH != 0 {
		t.Errorf("a batter of NaOH holds %g g KOH", b.KOH)
	}
}

func TestCertificate(t *testing.T) {
	p := threeOils(5, Lye{NaOHPurity: ptr(unit.Percent(98))})
	for i, sv := range []float64{257, 199, 188} {
		p.Oils[i].SV = ptr(sv)
	}
	pot := one(t, p)
	near4(t, "no width", float64(pot.DiscountHigh), float64(pot.DiscountLow), 1e-12)
	near4(t, "need", float64(pot.PureNaOH), 0.95*NaOHPerGram(300*257+300*199+400*188), 1e-9)
	p.Oils[0].SV = ptr(256.5 * MolarNaOH / MolarKOH) // a certificate in NaOH
	remarked(t, p, "lies outside the published 248-265")
	_, problems := Compute(p, BuiltIn(), Lookups{})
	if !strings.Contains(problems[0].Hint, "256 mg KOH/g") && !strings.Contains(problems[0].Hint, "257 mg KOH/g") {
		t.Errorf("hint %q", problems[0].Hint)
	}
}

func TestProblems(t *testing.T) {
	type edit func(*Plan)
	for _, w := range []struct {
		field, message string
		edit           edit
	}{
		{"oils", "no oils given", func(p *Plan) { p.Oils = nil }},
		{"oils", "the shares add up to 99 %, 1 % short", func(p *Plan) { p.Oils[3].Share = ptr(unit.Percent(4)) }},
		{"oils", "the shares add up to 100.5 %, 0.5 % too much", func(p *Plan) { p.Oils[3].Share = ptr(unit.Percent(5.5)) }},
		{"oils", "3 oils are given by share and 1 by weight", func(p *Plan) { p.Oils[3] = OilUse{Name: "castor", Grams: ptr(unit.Grams(50))} }},
		{"oils: castro", "no oil is called", func(p *Plan) { p.Oils[3].Name = "castro" }},
		{"oils: castor", "no amount", func(p *Plan) { p.Oils[3].Share = nil }},
		{"oils: castor", "saponification value of 0.13", func(p *Plan) { p.Oils[3].SV = ptr(0.13) }},
		{"oils: castor", "amount of NaN", func(p *Plan) { p.Oils[3].Share = ptr(unit.Percent(math.NaN())) }},
		{"superfat", "no superfat", func(p *Plan) { p.Superfat, p.SuperfatGiven = 0, false }},
		{"superfat", "superfat of -2", func(p *Plan) { p.Superfat = -2 }},
		{"superfat", "is above 40", func(p *Plan) { p.Superfat = 50 }},
		{"superfat", "cannot be", func(p *Plan) { p.Superfat = unit.Percent(math.NaN()) }},
		{"superfat", "leaves lye in the bar", func(p *Plan) {
			p.Superfat, p.Fragrance = 0, nil
			p.Batters = p.Batters[1:]
			p.Batters[0].Portions = nil
		}},
		{"purity", "leaves no alkali", func(p *Plan) { p.Lye.NaOHPurity = ptr(unit.Percent(0.98)) }},
		{"purity", "outside 50-100.5", func(p *Plan) { p.Lye.NaOHPurity = ptr(unit.Percent(120)) }},
		{"koh_share", "outside 0-100", func(p *Plan) { p.Lye.KOHShare = 101 }},
		{"lye", "does not dissolve", func(p *Plan) { p.Lye.Concentration = ptr(unit.Percent(55)) }},
		{"lye", "cannot be", func(p *Plan) { p.Lye.Concentration = ptr(unit.Percent(0)) }},
		{"lye", "more than once", func(p *Plan) { p.Lye.WaterRatio = ptr(2.0) }},
		{"batter slab", "neither oils nor a mould", func(p *Plan) { p.Batters[0].Oils = nil }},
		{"batter slab", "both oils and a mould", func(p *Plan) { p.Batters[0].Mould = ptr(unit.Millilitres(1000)) }},
		{"batter slab: oils", "cannot be", func(p *Plan) { p.Batters[0].Oils = ptr(unit.Grams(-1)) }},
		{"batter Slab", "a second batter", func(p *Plan) { p.Batters[1].Name = "Slab" }},
		{"portion tide: parts", "0 parts cannot be", func(p *Plan) { p.Batters[0].Portions[1].Parts = 0 }},
		{"portion shore", "a second portion", func(p *Plan) { p.Batters[0].Portions[1].Name = "shore" }},
		{"Buoy Blue", "weight of a teaspoon is not known", func(p *Plan) { p.Batters[0].Portions[2].Colorants[0].TeaspoonGrams = 0 }},
		{"Chalk White", "is not a dose unit", func(p *Plan) { p.Batters[0].Portions[0].Colorants[0].Dose = Dose{Value: 1, Unit: "pinch"} }},
		{"Chalk White", "per kg of oils", func(p *Plan) { p.Batters[0].Portions[0].Colorants[0].Dose = Dose{300, PercentOils, "300 %"} }},
		{"wet", "no oil or liquid is called", func(p *Plan) { p.Batters[0].Portions[2].Colorants[0].Wet = "seawater" }},
		{"additive driftwood", "no additive is called", func(p *Plan) { p.Additives = []AdditiveUse{{Name: "driftwood", Dose: Dose{1, PercentOils, ""}}} }},
		{"additive salt: into", "is no place", func(p *Plan) {
			p.Additives = []AdditiveUse{{Name: "salt", Into: "mould", Dose: Dose{1, PercentOils, ""}}}
		}},
		{"additive castor: into", "does not go into the lye", func(p *Plan) {
			p.Additives = []AdditiveUse{{Name: "castor", Into: "lye", Dose: Dose{1, PercentOils, ""}}}
		}},
		{"additive salt: batter", "no batter is called", func(p *Plan) {
			p.Additives = []AdditiveUse{{Name: "salt", Batter: "pier", Dose: Dose{1, PercentOils, ""}}}
		}},
		{"rate", "outside 0-30", func(p *Plan) { p.Fragrance.Rate = 400 }},
		{"portion shore", "the plan has no fragrance", func(p *Plan) { p.Fragrance = nil }},
		{"mould", "too small", func(p *Plan) { p.Batters[0].Oils, p.Batters[0].Mould = nil, ptr(unit.Millilitres(5)) }},
		{"mould", "cannot be", func(p *Plan) { p.Batters[0].Oils, p.Batters[0].Mould = nil, ptr(unit.Millilitres(math.Inf(1))) }},
	} {
		p := dawn()
		w.edit(&p)
		q := fatal(t, p, w.field, w.message)
		if q.Message != "" && (strings.HasSuffix(q.Message, ".") || q.Message[0] >= 'A' && q.Message[0] <= 'Z') {
			t.Errorf("style: %q", q.Message)
		}
	}
	for message, e := range map[string]edit{
		"is weak":                func(p *Plan) { p.Lye.Concentration = ptr(unit.Percent(15)) },
		"below the 95 %":         func(p *Plan) { p.Lye.NaOHPurity = ptr(unit.Percent(90)) },
		"120.0 g per kg of oils": func(p *Plan) { p.Batters[0].Portions[0].Colorants[0].Dose = Dose{12, PercentOils, "12 %"} },
		"are not given":          func(p *Plan) { p.Batters[0].Portions[2].Colorants[0].WetGrams = 0 },
		"acid poured into strong lye": func(p *Plan) {
			p.Additives = []AdditiveUse{{Name: "citric acid", Into: "lye", Dose: Dose{1, PercentOils, ""}}}
		},
		"none of it is used":             func(p *Plan) { p.Oils = append(p.Oils, OilUse{Name: "shea", Share: ptr(unit.Percent(0))}) },
		"but the plan has no fragrance":  func(p *Plan) { *p = threeOils(5, Lye{}); p.Batters = []Batter{{Name: "a", Rate: ptr(unit.Percent(2))}} },
		"the grams of alkali set the di": func(p *Plan) { *p = threeOils(5, Lye{NaOH: ptr(unit.Grams(140))}) },
	} {
		p := dawn()
		e(&p)
		remarked(t, p, message)
	}
	third := unit.Percent(33.33)
	p := threeOils(5, Lye{})
	p.Batters = []Batter{{Name: "a", Oils: ptr(unit.Grams(900))}}
	for i := range p.Oils {
		p.Oils[i].Grams, p.Oils[i].Share = nil, &third
	}
	near4(t, "thirds", float64(one(t, p).PerOil[0].Grams), 300, 1e-12)
	// A fault of the recipe is told once, however many pots there are.
	p = dawn()
	p.Lye.NaOHPurity = ptr(unit.Percent(120))
	if _, problems := Compute(p, BuiltIn(), Lookups{}); len(problems) != 1 {
		t.Errorf("told %d times: %+v", len(problems), problems)
	}
}

func TestHintsAndJSON(t *testing.T) {
	p := dawn()
	p.Lye.NaOHPurity = ptr(unit.Percent(0.98))
	if q := fatal(t, p, "purity", "leaves no alkali"); !strings.Contains(q.Hint, `"98 %"`) {
		t.Errorf("hint %q", q.Hint)
	}
	for _, plan := range []Plan{dawn(), p} {
		r, _ := Compute(plan, BuiltIn(), Lookups{})
		out, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(out), "null") {
			t.Errorf("null in %s", out)
		}
	}
}

func TestTint(t *testing.T) {
	share := func(name string, s unit.Percent) OilWeight { return OilWeight{Oil: mustOil(t, name), Share: s} }
	for _, w := range []struct {
		want Tint
		oils []OilWeight
	}{
		{NearWhite, []OilWeight{share("coconut", 80), share("lard", 20)}},
		{Cream, []OilWeight{share("coconut", 40), share("olive_refined", 60)}},
		{Green, []OilWeight{share("olive_virgin", 60), share("coconut", 40)}},
		{Yellow, []OilWeight{share("rice_bran", 40), share("coconut", 60)}},
		{Orange, []OilWeight{{Oil: Oil{Key: "raw palm", Tint: Orange}, Share: 25}, share("olive_virgin", 75)}},
		{"", []OilWeight{{Oil: Oil{Key: "unknown"}, Share: 25}, share("coconut", 75)}},
	} {
		if got, basis := baseTint(w.oils); got != w.want || basis == "" {
			t.Errorf("%v: %q (%s), want %q", w.oils, got, basis, w.want)
		}
	}
	if b := TintBasis(mustOil(t, "hemp")); b != "common practice, no source" {
		t.Errorf("basis %q", b)
	}
	if b := TintBasis(Oil{Key: "own", Tint: Green}); b != "the maker's entry" {
		t.Errorf("basis %q", b)
	}
}

// random gives a plan of random oils, alkalis, additives and portions.
func random(rng *rand.Rand) Plan {
	all := BuiltIn()
	p := Plan{Superfat: unit.Percent(3 + 10*rng.Float64()), SuperfatGiven: true, Lye: Lye{
		KOHShare: unit.Percent(100 * rng.Float64()), NaOHPurity: ptr(unit.Percent(95 + 5*rng.Float64())), KOHPurity: ptr(unit.Percent(85 + 15*rng.Float64())),
		Concentration: ptr(unit.Percent(25 + 12*rng.Float64()))}}
	for range 1 + rng.IntN(7) {
		p.Oils = append(p.Oils, OilUse{Name: all[rng.IntN(len(all))].Key, Grams: ptr(unit.Grams(1 + 500*rng.Float64()))})
	}
	b := Batter{Name: "pot", Oils: ptr(unit.Grams(50 + 3000*rng.Float64()))}
	p.Fragrance = &FragranceUse{Name: "Wet Rope", Rate: unit.Percent(6 * rng.Float64()), Vanillin: ptr(unit.Percent(12 * rng.Float64()))}
	for i := range 1 + rng.IntN(6) {
		b.Portions = append(b.Portions, Portion{Name: string(rune('a' + i)), Parts: 0.1 + 5*rng.Float64(), Scented: rng.IntN(2) == 0,
			Colorants: []ColorantUse{{Name: "Silt", Dose: Dose{10 * rng.Float64(), PerKgOils, ""}}}})
	}
	for _, name := range []string{"citric acid", "goat milk", "honey", "salt", "castor"} {
		if rng.IntN(3) == 0 {
			p.Additives = append(p.Additives, AdditiveUse{Name: name, Dose: Dose{2 * rng.Float64(), PercentOils, ""}})
		}
	}
	p.Batters = []Batter{b}
	return p
}

func TestProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 7))
	for range 400 {
		p := random(rng)
		pot := one(t, p)
		if !(pot.DiscountLow <= pot.Discount && pot.Discount <= pot.DiscountHigh) {
			t.Fatalf("interval %g %g %g", pot.DiscountLow, pot.Discount, pot.DiscountHigh)
		}
		if pot.Discount < pot.Superfat-1e-9 {
			t.Fatalf("true discount %g below the %g asked for", pot.Discount, pot.Superfat)
		}
		near4(t, "moles", float64(pot.PureNaOH)/MolarNaOH+float64(pot.PureKOH)/MolarKOH, pot.Hydroxide, 1e-12)
		near4(t, "KOH share", 100*float64(pot.PureKOH)/MolarKOH/pot.Hydroxide+1, float64(p.Lye.KOHShare)+1, 1e-9)
		sum, full := 0.0, 0.0
		for _, q := range pot.Portions {
			sum += float64(q.Grams)
			full += float64(q.Full)
		}
		if math.Abs(sum-math.Round(float64(pot.Total)*10)/10) > 1e-6 || math.Abs(full-float64(pot.Poured)) > 0.051 {
			t.Fatalf("portions %g and %g of %g and %g", sum, full, pot.Total, pot.Poured)
		}
		f := pot.Fresh
		near4(t, "balance", float64(f.Soap+f.Glycerol+f.Water+f.UnreactedOil+f.Impurity+f.Rest), float64(pot.Total), 1e-12)
		if f.Rest < -1e-6 || f.Soap <= 0 || pot.Cured <= 0 || pot.Cured > pot.Poured || pot.Volume <= 0 {
			t.Fatalf("%+v, cured %g of %g, %g ml", f, pot.Cured, pot.Poured, pot.Volume)
		}
		// Linearity: half the oils, half of everything; shares, strength and discount stay.
		half := p
		half.Batters = []Batter{p.Batters[0]}
		half.Batters[0].Oils = ptr(*p.Batters[0].Oils / 2)
		small := one(t, half)
		for what, pair := range map[string][2]float64{
			"NaOH": {2 * float64(small.NaOH), float64(pot.NaOH)}, "KOH": {2 * float64(small.KOH), float64(pot.KOH)},
			"water": {2 * float64(small.Water), float64(pot.Water)}, "volume": {2 * float64(small.Volume), float64(pot.Volume)},
			"discount": {float64(small.Discount), float64(pot.Discount)}, "low": {float64(small.DiscountLow) + 100, float64(pot.DiscountLow) + 100},
			"strength": {float64(small.LyeConcentration), float64(pot.LyeConcentration)}, "cured": {2 * float64(small.Cured), float64(pot.Cured)},
		} {
			near4(t, what, pair[0], pair[1], 1e-9)
		}
	}
}

func TestScaling(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	for range 60 {
		p := random(rng)
		first := *p.Oils[0].Grams
		p.Additives = append(p.Additives, AdditiveUse{Name: "kaolin", Dose: Dose{12, GramsTotal, "12 g"}})
		r := compute(t, p)
		pot := r.Pots[0]
		oil := pot.PerOil[0].Oil.Key
		used := unit.Grams(0)
		for _, o := range pot.PerOil {
			if o.Oil.Key == oil {
				used += o.Grams
			}
		}
		for _, e := range pot.ExtraOils {
			if e.Oil.Key == oil {
				used += e.Grams
			}
		}
		for what, scale := range map[string]func() (Plan, float64, error){
			"oils":  func() (Plan, float64, error) { return ScaleToOils(p, r, pot.Oils*1.7) },
			"total": func() (Plan, float64, error) { return ScaleToTotal(p, r, pot.Poured*1.7) },
			"mould": func() (Plan, float64, error) { return ScaleToMoulds(p, r, pot.Volume, pot.Volume*0.7) },
			"left":  func() (Plan, float64, error) { return ScaleToOilLeft(p, r, oil, used*1.7) },
		} {
			scaled, k, err := scale()
			if err != nil {
				t.Fatal(what, err)
			}
			near4(t, what+" factor", k, 1.7, 1e-9)
			big := one(t, scaled)
			near4(t, what+" oils", float64(big.Oils), 1.7*float64(pot.Oils), 1e-9)
			near4(t, what+" poured", float64(big.Poured), 1.7*float64(pot.Poured), 1e-9)
			near4(t, what+" volume", float64(big.Volume), 1.7*float64(pot.Volume), 1e-9)
			near4(t, what+" discount", float64(big.Discount), float64(pot.Discount), 1e-9)
			near4(t, what+" strength", float64(big.LyeConcentration), float64(pot.LyeConcentration), 1e-9)
			for i := range pot.PerOil {
				near4(t, what+" share", float64(big.PerOil[i].Share), float64(pot.PerOil[i].Share), 1e-9)
			}
		}
		if *p.Oils[0].Grams != first {
			t.Fatal("the plan itself was changed")
		}
	}
	p := dawn()
	r := compute(t, p)
	for what, f := range map[string]func() (Plan, float64, error){
		"zero":      func() (Plan, float64, error) { return ScaleToOils(p, r, 0) },
		"NaN":       func() (Plan, float64, error) { return ScaleToTotal(p, r, unit.Grams(math.NaN())) },
		"no mould":  func() (Plan, float64, error) { return ScaleToMoulds(p, r) },
		"bad mould": func() (Plan, float64, error) { return ScaleToMoulds(p, r, 1000, -5) },
		"not in it": func() (Plan, float64, error) { return ScaleToOilLeft(p, r, "lard", 100) },
		"no recipe": func() (Plan, float64, error) { return ScaleToOils(p, Recipe{}, 100) },
	} {
		if _, _, err := f(); err == nil {
			t.Errorf("%s was taken", what)
		}
	}
	// The oil that wets a colourant counts as used.
	_, k, err := ScaleToOilLeft(p, r, "sunflower", 16)
	if err != nil {
		t.Fatal(err)
	}
	near4(t, "sunflower", k, 2, 1e-12)
}

func TestMouldWithEverything(t *testing.T) {
	p := dawn()
	p.Additives = []AdditiveUse{{Name: "salt", Dose: Dose{100, GramsTotal, "100 g"}}, {Name: "goat milk", Dose: Dose{5, PercentOils, "5 %"}}}
	for i, ml := range []unit.Millilitres{25 * 8 * 7, 300} {
		p.Batters[i].Oils, p.Batters[i].Mould = nil, ptr(ml)
	}
	r := compute(t, p)
	for i, pot := range r.Pots {
		near4(t, "filled", float64(pot.Volume), float64(*p.Batters[i].Mould), 1e-8)
	}
	salt := r.Pots[0].Additives[0].Grams + r.Pots[1].Additives[0].Grams
	near4(t, "salt of the whole plan", float64(salt), 100, 1e-9)
}

func TestShareOut(t *testing.T) {
	for _, w := range []struct {
		total   unit.Grams
		weights []float64
		step    unit.Grams
		want    []unit.Grams
	}{
		{100, []float64{1, 1, 1}, 1, []unit.Grams{34, 33, 33}},
		{1443.5427, []float64{4, 2, 1}, 0.1, []unit.Grams{824.9, 412.4, 206.2}},
		{10, []float64{0, 1}, 1, []unit.Grams{0, 10}},
		{0, []float64{1, 2}, 1, []unit.Grams{0, 0}},
		{0.3, []float64{1, 1, 1}, 0.1, []unit.Grams{0.1, 0.1, 0.1}},
		{25, []float64{1, 1}, 5, []unit.Grams{15, 10}},
	} {
		got := ShareOut(w.total, w.weights, w.step)
		for i := range w.want {
			if len(got) != len(w.want) || got[i] != w.want[i] {
				t.Errorf("%v in %v: %v, want %v", w.total, w.weights, got, w.want)
				break
			}
		}
	}
	for _, got := range [][]unit.Grams{
		ShareOut(1, nil, 1), ShareOut(1, []float64{0}, 1), ShareOut(1, []float64{-1, 2}, 1), ShareOut(1, []float64{1}, 0),
		ShareOut(-1, []float64{1}, 1), ShareOut(1, []float64{math.NaN()}, 1), ShareOut(unit.Grams(math.Inf(1)), []float64{1}, 1),
	} {
		if got != nil {
			t.Errorf("shared out: %v", got)
		}
	}
}

func FuzzShareOut(f *testing.F) {
	f.Add(1443.5427, 4.0, 2.0, 1.0, 0.1)
	f.Add(100.0, 1.0, 1.0, 1.0, 1.0)
	f.Add(1e5, 1e-9, 1e9, 0.3, 0.01)
	f.Fuzz(func(t *testing.T, total, a, b, c, step float64) {
		got := ShareOut(unit.Grams(total), []float64{a, b, c}, unit.Grams(step))
		if got == nil {
			return
		}
		units := total / step
		if units > 1e12 || units*step > 1e12 {
			return // beyond what float64 holds to a step
		}
		sum := 0.0
		for _, g := range got {
			if g < 0 {
				t.Fatalf("negative share %g", g)
			}
			sum += float64(g)
		}
		if math.Abs(sum-math.Round(units)*step) > 1e-6*math.Max(step, math.Abs(total)*1e-6) {
			t.Fatalf("%g in %g, %g, %g by %g: %v adds up to %g", total, a, b, c, step, got, sum)
		}
	})
}

func FuzzCompute(f *testing.F) {
	f.Add("coconut", 100.0, 5.0, 33.0, 98.0, 1000.0, 4.0, "honey", 1.0, "%", 1.0)
	f.Add("jojoba", 99.0, 0.0, 50.0, 100.0, -5.0, 40.0, "citric acid", 1e9, "tsp/lb", 0.0)
	f.Add("stearic acid", math.NaN(), 3.0, 1e-300, 50.0, 1e300, 30.0, "castor", 5.0, "g", math.Inf(1))
	oils := BuiltIn()
	f.Fuzz(func(t *testing.T, oil string, share, superfat, conc, purity, size, rate float64, additive string, dose float64, unitOf string, parts float64) {
		p := Plan{
			Superfat: unit.Percent(superfat), SuperfatGiven: true,
			Lye:       Lye{Concentration: ptr(unit.Percent(conc)), NaOHPurity: ptr(unit.Percent(purity)), KOHShare: unit.Percent(rate)},
			Oils:      []OilUse{{Name: oil, Share: ptr(unit.Percent(share))}, {Name: "palm", Share: ptr(unit.Percent(100 - share))}},
			Fragrance: &FragranceUse{Rate: unit.Percent(rate), Vanillin: ptr(unit.Percent(share))},
			Additives: []AdditiveUse{{Name: additive, Dose: Dose{Value: dose, Unit: DoseUnit(unitOf)}}},
			Batters: []Batter{
				{Name: "a", Oils: ptr(unit.Grams(size)), Portions: []Portion{{Name: "x", Parts: parts, Scented: true}, {Name: "y", Parts: 1, Colorants: []ColorantUse{{Name: additive, Dose: Dose{Value: dose, Unit: DoseUnit(unitOf)}, TeaspoonGrams: unit.Grams(dose), Wet: oil, WetGrams: unit.Grams(dose)}}}}},
				{Name: "b", Mould: ptr(unit.Millilitres(size))},
			},
		}
		r, problems := Compute(p, oils, Lookups{})
		if len(r.Pots) == 0 {
			for _, q := range problems {
				if q.Fatal {
					return
				}
			}
			t.Fatalf("no pots and no reason: %+v", problems)
		}
		for _, pot := range r.Pots {
			if !finite(float64(pot.NaOH), float64(pot.KOH), float64(pot.Water), float64(pot.Total), float64(pot.Discount), float64(pot.DiscountLow), float64(pot.Volume), float64(pot.Cured)) ||
				pot.NaOH < 0 || pot.KOH < 0 || pot.Water < -1e-6 || pot.Discount <= 0 || pot.DiscountLow > pot.Discount {
				t.Fatalf("%+v", pot)
			}
		}
	})
}
