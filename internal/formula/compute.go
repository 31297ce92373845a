package formula

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lyefast/internal/near"
	"lyefast/internal/unit"
)

// job is a plan under way: names resolved, nothing weighed yet.
type job struct {
	plan     Plan
	ctx      Lookups
	oils     []OilWeight // shares add up to 100
	weighed  unit.Grams  // sum of the plan's weights, 0 where it gives shares
	pots     []potJob
	problems []Problem
}

// potJob is one batter under way.
type potJob struct {
	b         Batter
	field     string // "batter slab"
	lyeField  string // "lye", or "batter slab: lye"
	lye       Lye
	superfat  unit.Percent // used unless alkali is set
	naohPerG  float64      // g per g of oils of an old recipe, as weighed
	kohPerG   float64
	old       bool
	rate      unit.Percent
	fragrance *FragranceUse // nil = no scent in this pot
	additives []additiveJob
	wets      []wetJob
	spoons    [][]unit.Grams // by portion and colourant
	oils      unit.Grams     // as sized
	stab      StabilizerDose
	stabKnown bool
}

type additiveJob struct {
	use    AdditiveUse
	fact   Additive
	oil    *Oil // a late oil instead of an additive
	into   string
	shared bool // a total dose shared among all pots by oils
}

// wetJob is the liquid that a colourant is stirred into.
type wetJob struct {
	portion, colorant int
	oil               *Oil // nil for water, glycerin and alcohol
}

// report keeps a problem, once: what is wrong with the recipe shows in every pot.
func (j *job) report(p Problem) {
	if !slices.Contains(j.problems, p) {
		j.problems = append(j.problems, p)
	}
}

func (j *job) fatal(line int, field, hint, format string, args ...any) {
	j.report(Problem{Line: line, Field: field, Message: fmt.Sprintf(format, args...), Hint: hint, Fatal: true})
}

func (j *job) remark(line int, field, hint, format string, args ...any) {
	j.report(Problem{Line: line, Field: field, Message: fmt.Sprintf(format, args...), Hint: hint})
}

func (j *job) stopped() bool {
	return slices.ContainsFunc(j.problems, func(p Problem) bool { return p.Fatal })
}

// Compute turns a plan into weights, pot by pot. oils are those it may name, the
// built-in table and the maker's own together.
//
// How the lye is set: the discount asked for is on the recipe's oils at the middle
// of their saponification ranges. Acids among the additives get alkali of their own
// on top, so that the discount stays. Vanillin, a stabiliser, the fat in milk, late
// oils and the oils that wet colourants get none: they raise the true discount,
// which is given beside the one asked for, as are the ends of the ranges. Where the
// plan gives grams of alkali, the discount is worked back and nothing is added.
//
// Problems come in the order of the plan. While one is fatal the recipe holds no
// pots. A discount whose low end is not positive is no problem here: it stands in
// [Pot.DiscountLow] for the plan's rules to judge.
func Compute(p Plan, oils []Oil, ctx Lookups) (Recipe, []Problem) {
	j := &job{plan: p, ctx: ctx}
	j.resolveOils(oils)
	j.resolvePots(oils)
	r := Recipe{Title: p.Title, Oils: []OilWeight{}, Acids: ProfileOf(nil), Pots: []Pot{}, Notes: []string{}}
	if j.stopped() {
		return r, j.problems
	}
	pots := j.size()
	if !j.stopped() {
		for i := range pots {
			j.judge(&j.pots[i], &pots[i])
		}
	}
	if j.stopped() {
		return r, j.problems
	}
	r.Oils, r.Pots = j.oils, pots
	r.Acids = ProfileOf(j.oils)
	r.Tint, r.TintBasis = baseTint(j.oils)
	for _, o := range j.oils {
		if _, assumed := Density(o.Oil); assumed && slices.ContainsFunc(j.pots, func(q potJob) bool { return q.b.Mould != nil }) {
			r.Notes = append(r.Notes, fmt.Sprintf("the density of %s is not known; %.3f of water taken for the mould", o.Oil.Name, assumedDensity))
		}
	}
	return r, j.problems
}

func (j *job) resolveOils(known []Oil) {
	if len(j.plan.Oils) == 0 {
		j.fatal(0, "oils", "write each oil with its share, like coconut = \"25 %\"", "no oils given")
		return
	}
	shares, weights := 0, 0
	sum := 0.0
	for _, u := range j.plan.Oils {
		field := "oils: " + u.Name
		o, err := FindOil(u.Name, known)
		if err != nil {
			j.nameError(u.Line, field, err)
			continue
		}
		if u.SV != nil {
			o.CertificateSV = *u.SV
		}
		if err := Validate(o); err != nil {
			j.fatal(u.Line, field, "", "%s", strings.TrimPrefix(err.Error(), fmt.Sprintf("oil %q: ", o.label())))
			continue
		}
		j.certificate(u.Line, field, o)
		amount := 0.0
		switch {
		case u.Share != nil && u.Grams != nil:
			j.fatal(u.Line, field, "keep one", "both a share and a weight are given")
			continue
		case u.Share != nil:
			shares++
			amount = float64(*u.Share)
		case u.Grams != nil:
			weights++
			amount = float64(*u.Grams)
		default:
			j.fatal(u.Line, field, "write it like \"25 %\" or \"250 g\"", "no amount given")
			continue
		}
		if !finite(amount) || amount < 0 {
			j.fatal(u.Line, field, "", "an amount of %g cannot be", amount)
			continue
		}
		if amount == 0 {
			j.remark(u.Line, field, "leave the line out", "none of it is used")
			continue
		}
		sum += amount
		w := OilWeight{Oil: o, Share: unit.Percent(amount)}
		if u.Grams != nil {
			w.Grams = *u.Grams
		}
		j.oils = append(j.oils, w)
	}
	if j.stopped() {
		return
	}
	switch {
	case shares > 0 && weights > 0:
		j.fatal(j.plan.Oils[0].Line, "oils", "write all of them in % or all of them in g", "%d oils are given by share and %d by weight", shares, weights)
	case sum == 0:
		j.fatal(j.plan.Oils[0].Line, "oils", "", "the oils add up to nothing")
	case shares > 0 && math.Abs(sum-100) > 0.0105: // 3 × 33.33 % passes, 3 × 33.3 % does not
		what, by := "short", 100-sum
		if by < 0 {
			what, by = "too much", -by
		}
		j.fatal(j.plan.Oils[0].Line, "oils", "change one share, or write the weights in g", "the shares add up to %s %%, %s %% %s", trim(sum), trim(by), what)
	}
	for i := range j.oils {
		j.oils[i].Share *= unit.Percent(100 / sum)
	}
	if weights > 0 {
		j.weighed = unit.Grams(sum)
	}
}

// trim words a figure with at most two decimals.
func trim(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v), "0"), ".")
}

func (j *job) nameError(line int, field string, err error) {
	hint := ""
	if e, ok := err.(*NameError); ok {
		hint = e.Hint()
	}
	j.fatal(line, field, hint, "%s", err)
}

// certificate compares a lot's figure with the published range. Figures in NaOH
// are the usual mistake: they lie at 71 % of the range.
func (j *job) certificate(line int, field string, o Oil) {
	sv := o.CertificateSV
	if sv == 0 || o.SVMin == 0 || sv >= o.SVMin*0.99 && sv <= o.SVMax*1.01 {
		return
	}
	hint := "check the certificate; the figure is used as it stands"
	if asKOH := sv * MolarKOH / MolarNaOH; asKOH >= o.SVMin*0.99 && asKOH <= o.SVMax*1.01 {
		hint = fmt.Sprintf("as mg NaOH/g it would be %.0f mg KOH/g, inside the range", asKOH)
	}
	j.remark(line, field, hint, "a saponification value of %g mg KOH/g lies outside the published %g-%g", sv, o.SVMin, o.SVMax)
}

func (j *job) resolvePots(known []Oil) {
	batters := slices.Clone(j.plan.Batters)
	if len(batters) == 0 {
		batters = []Batter{{Name: "batch"}}
	}
	seen := map[string]bool{}
	for _, b := range batters {
		field := "batter " + b.Name
		if name := strings.ToLower(strings.TrimSpace(b.Name)); seen[name] {
			j.fatal(b.Line, field, "give each pot its own name", "a second batter is called %q", b.Name)
		} else {
			seen[name] = true
		}
		q := potJob{b: b, field: field}
		j.resolveSize(&q, len(batters))
		j.resolveLye(&q, len(batters))
		j.resolvePortions(&q, known)
		j.pots = append(j.pots, q)
	}
	j.resolveAdditives(known)
}

func (j *job) resolveSize(q *potJob, batters int) {
	b := q.b
	switch {
	case b.Oils != nil && b.Mould != nil:
		j.fatal(b.Line, q.field, "keep one: the mould sets the oils", "both oils and a mould are given")
	case b.Oils != nil:
		if !finite(float64(*b.Oils)) || *b.Oils <= 0 || *b.Oils > maxOils {
			j.fatal(b.Line, q.field+": oils", "write it like \"1000 g\"", "%g g of oils cannot be", float64(*b.Oils))
		}
		q.oils = *b.Oils
	case b.Mould != nil:
		if !finite(float64(*b.Mould)) || *b.Mould <= 0 || *b.Mould > maxOils {
			j.fatal(b.Line, q.field+": mould", "write its inside like \"25 x 8 x 7 cm\"", "a mould of %g ml cannot be", float64(*b.Mould))
		}
		q.oils = unit.Grams(*b.Mould) * 0.7 // where the search begins
	case j.weighed > 0 && batters == 1:
		q.oils = j.weighed
	default:
		j.fatal(b.Line, q.field, "write oils = \"1000 g\" or mould = \"25 x 8 x 7 cm\"", "neither oils nor a mould are given")
	}
}

// maxOils bounds a pot, g or ml: a tonne is beyond any bench.
const maxOils = 1e6

func (j *job) resolveLye(q *potJob, batters int) {
	b := q.b
	q.lye = mergeLye(j.plan.Lye, b.Lye)
	q.lyeField = "lye"
	if b.Lye != nil {
		q.lyeField = q.field + ": lye"
	}
	for _, p := range q.lye.judge(q.lyeField) {
		j.report(p)
	}
	ownGrams := b.Lye != nil && b.Lye.old()
	q.old = ownGrams || q.lye.old() && b.Superfat == nil
	if q.old {
		basis := j.weighed
		switch {
		case b.Oils != nil && (ownGrams || j.weighed == 0 && batters == 1):
			basis = *b.Oils
		case j.weighed == 0:
			j.fatal(q.lye.Line, q.lyeField, "write the oils of the old recipe in g, or the alkali into the batter it is for", "grams of alkali, and no grams of oils that they were for")
			return
		}
		if q.lye.NaOH != nil {
			q.naohPerG = float64(*q.lye.NaOH / basis)
		}
		if q.lye.KOH != nil {
			q.kohPerG = float64(*q.lye.KOH / basis)
		}
		if j.plan.SuperfatGiven && !ownGrams {
			j.remark(j.plan.SuperfatLine, "superfat", "keep one of them", "not used: the grams of alkali set the discount")
		}
	} else {
		q.lye.NaOH, q.lye.KOH = nil, nil
		line, given := j.plan.SuperfatLine, j.plan.SuperfatGiven
		q.superfat = j.plan.Superfat
		if b.Superfat != nil {
			q.superfat, line, given = *b.Superfat, b.Line, true
		}
		switch v := float64(q.superfat); {
		case !given && v == 0:
			j.fatal(line, "superfat", "write superfat = \"5 %\", or the NaOH of an old recipe in [lye]", "no superfat (lye discount) given")
		case !(v >= 0):
			j.fatal(line, "superfat", "a discount below 0 leaves lye in the bar; write 3 % or more", "a superfat of %g %% cannot be", v)
		case v > maxDiscount:
			j.fatal(line, "superfat", "usual discounts are 3 to 8 %", "a superfat of %g %% is above %g", v, maxDiscount)
		}
	}
	if f := j.plan.Fragrance; f != nil {
		q.rate = f.Rate
		if b.Rate != nil {
			q.rate = *b.Rate
		}
		if v := float64(q.rate); !(v >= 0 && v <= 30) {
			j.fatal(f.Line, q.field+": rate", "write it as % of the oils, like \"4 %\"", "a fragrance rate of %g %% is outside 0-30", v)
		}
	} else if b.Rate != nil {
		j.remark(b.Line, q.field+": rate", "write a [fragrance]", "a rate, but the plan has no fragrance")
	}
}

func (j *job) resolvePortions(q *potJob, known []Oil) {
	if len(q.b.Portions) == 0 {
		q.b.Portions = []Portion{{Name: "whole", Parts: 1, Scented: j.plan.Fragrance != nil, Line: q.b.Line}}
	}
	seen := map[string]bool{}
	for pi, p := range q.b.Portions {
		field := q.field + ": portion " + p.Name
		if name := strings.ToLower(strings.TrimSpace(p.Name)); seen[name] {
			j.fatal(p.Line, field, "give each portion its own name", "a second portion of this batter is called %q", p.Name)
		} else {
			seen[name] = true
		}
		if !finite(p.Parts) || p.Parts <= 0 || p.Parts > 1e6 {
			j.fatal(p.Line, field+": parts", "parts are shares of the batter, more than 0", "%g parts cannot be", p.Parts)
		}
		if p.Scented && j.plan.Fragrance != nil {
			q.fragrance = j.plan.Fragrance
		} else if p.Scented {
			j.fatal(p.Line, field, "write a [fragrance], or scented = false", "scented, but the plan has no fragrance")
		}
		var spoons []unit.Grams
		for ci, c := range p.Colorants {
			spoons = append(spoons, j.spoon(c))
			j.checkDose(c.Line, field+": "+c.Name, c.Dose, spoons[ci], highColorant,
				"weigh a level teaspoon once and write teaspoon = \"2.7 g\", or the dose in g/kg")
			if c.Wet == "" {
				continue
			}
			if !finite(float64(c.WetGrams)) || c.WetGrams < 0 || c.WetGrams > maxOils {
				j.fatal(c.Line, field+": "+c.Name+": wet", "write it like \"10 g sunflower\"", "%g g of %s cannot be", float64(c.WetGrams), c.Wet)
				continue
			}
			if c.WetGrams == 0 {
				j.remark(c.Line, field+": "+c.Name+": wet", "write it like \"10 g sunflower\"", "the grams of %s are not given, so they are not counted", c.Wet)
				continue
			}
			w := wetJob{portion: pi, colorant: ci}
			if !watery(c.Wet) {
				o, err := FindOil(c.Wet, known)
				if err != nil {
					j.nameError(c.Line, field+": "+c.Name+": wet", liquidError(err))
					continue
				}
				w.oil = &o
			}
			q.wets = append(q.wets, w)
		}
		q.spoons = append(q.spoons, spoons)
	}
}

// liquids take no lye: a colourant stirred into them brings only their mass.
var liquids = []string{"water", "distilled water", "glycerin", "glycerine", "glycerol", "alcohol", "ethanol", "isopropyl alcohol"}

func watery(name string) bool {
	return slices.ContainsFunc(liquids, func(l string) bool { return sameWords(near.Fold(l), near.Fold(name)) })
}

// liquidError says of a name that was looked for among the oils that water and
// the like would do as well.
func liquidError(err error) error {
	e, ok := err.(*NameError)
	if !ok || len(e.Several) > 0 {
		return err
	}
	return &NameError{Kind: "oil or liquid", Name: e.Name, Near: append(near.Near(e.Name, liquids), e.Near...)}
}

// spoon gives the mass of a level teaspoon of a colourant, 0 if nobody knows.
func (j *job) spoon(c ColorantUse) unit.Grams {
	g := c.TeaspoonGrams
	if g <= 0 && j.ctx.TeaspoonGrams != nil {
		g, _ = j.ctx.TeaspoonGrams(c.Name)
	}
	if !finite(float64(g)) || g < 0 {
		return 0
	}
	return g
}

// Doses above these, g per kg of oils, are remarked on: colourants are dosed at 1
// to 20; a salt bar holds as much salt as oils. Past maxDose the unit is wrong.
const (
	highColorant = 100
	highAdditive = 1000
	maxDose      = 2000
)

// checkDose refuses a dose that cannot be weighed and remarks on a high one.
func (j *job) checkDose(line int, field string, d Dose, spoon unit.Grams, high unit.Grams, spoonHint string) {
	g, err := d.Grams(1000, spoon)
	switch {
	case err != nil && d.ByVolume() && spoon <= 0:
		j.fatal(line, field, spoonHint, "%s", err)
	case err != nil:
		j.fatal(line, field, "write it like \"3 g/kg\", \"0.3 %\", \"3 g\" or \"1 tsp/lb\"", "%s", err)
	case d.Total() && g > maxOils:
		j.fatal(line, field, "is the unit right?", "%s is more than a bench holds", d.written())
	case !d.Total() && g > maxDose:
		j.fatal(line, field, "is the unit right?", "%s is %s per kg of oils", d.written(), g)
	case !d.Total() && g > high:
		j.remark(line, field, "is the unit right?", "%s is %s per kg of oils", d.written(), g)
	}
}

func (j *job) resolveAdditives(known []Oil) {
	for _, u := range j.plan.Additives {
		field := "additive " + u.Name
		a := additiveJob{use: u, into: u.Into}
		fact, err := FindAdditive(u.Name)
		switch {
		case err == nil:
			a.fact = fact
			if a.into == "" {
				a.into = fact.Into
			}
		default:
			o, oilErr := FindOil(u.Name, known)
			if oilErr != nil {
				if e, ok := err.(*NameError); ok {
					if oe, ok := oilErr.(*NameError); ok {
						e.Near = append(e.Near, oe.Near...)
					}
				}
				j.nameError(u.Line, field, err)
				continue
			}
			a.oil = &o
			if a.into == "" {
				a.into = "batter"
			}
		}
		if !slices.Contains([]string{"lye", "oils", "batter", "water"}, a.into) {
			j.fatal(u.Line, field+": into", "use lye, oils, batter or water", "%q is no place for it", u.Into)
			continue
		}
		if a.oil != nil && (a.into == "lye" || a.into == "water") {
			j.fatal(u.Line, field+": into", "use oils or batter", "an oil does not go into the %s", a.into)
			continue
		}
		if a.fact.BindsNaOH > 0 && a.into == "lye" {
			j.remark(u.Line, field+": into", "dissolve it in the water before the alkali", "an acid poured into strong lye spits")
		}
		j.checkDose(u.Line, field, u.Dose, a.fact.TeaspoonGrams, highAdditive, "weigh it, and write the dose in g/kg or g")
		a.shared = u.Dose.Total() && u.Batter == "" && len(j.pots) > 1
		hit := false
		for i := range j.pots {
			if u.Batter == "" || strings.EqualFold(strings.TrimSpace(u.Batter), strings.TrimSpace(j.pots[i].b.Name)) {
				j.pots[i].additives = append(j.pots[i].additives, a)
				hit = true
			}
		}
		if !hit {
			var names []string
			for _, q := range j.pots {
				names = append(names, q.b.Name)
			}
			j.fatal(u.Line, field+": batter", "batters here: "+strings.Join(names, ", "), "no batter is called %q", u.Batter)
		}
	}
}

// size finds the oils of the pots that fill a mould and weighs all of them. Each
// round scales a pot by mould ÷ volume; all but what is given in plain grams grows
// with the oils, so a few rounds do.
func (j *job) size() []Pot {
	const rounds = 200
	pots := make([]Pot, len(j.pots))
	for round := range rounds {
		all, scent := unit.Grams(0), unit.Grams(0)
		for _, q := range j.pots {
			all += q.oils
			if q.fragrance != nil {
				scent += q.rate.Of(q.oils)
			}
		}
		settled := true
		for i := range j.pots {
			q := &j.pots[i]
			j.doseStabilizer(q, scent)
			pots[i] = j.weigh(q, all)
			if q.b.Mould == nil {
				continue
			}
			k := float64(*q.b.Mould / pots[i].Volume)
			if math.Abs(k-1) > 1e-10 {
				settled = false
				q.oils *= unit.Grams(k)
			}
		}
		if settled || round == rounds-1 {
			for _, q := range j.pots {
				if q.b.Mould != nil && (!settled || q.oils < 10) {
					j.fatal(q.b.Line, q.field+": mould", "check the length, width and height", "a mould of %g ml is too small for this recipe", math.Round(float64(*q.b.Mould)))
				}
			}
			break
		}
	}
	return pots
}

func (j *job) doseStabilizer(q *potJob, scent unit.Grams) {
	q.stab, q.stabKnown = StabilizerDose{}, false
	f := q.fragrance
	if f == nil || q.rate == 0 || f.Stabilizer.Mode == "" || f.Stabilizer.Mode == "none" {
		return
	}
	ask := StabilizerAsk{Batter: q.b.Name, Use: f.Stabilizer, FragranceName: f.Name, Fragrance: q.rate.Of(q.oils), Oils: q.oils}
	if g := f.Stabilizer.Grams; g != nil && finite(float64(*g)) && *g >= 0 && scent > 0 {
		ask.Grams = *g * ask.Fragrance / scent
	}
	if j.ctx.Stabilizer != nil {
		q.stab, q.stabKnown = j.ctx.Stabilizer(ask)
	}
	if !q.stabKnown {
		q.stab = StabilizerDose{Name: f.Stabilizer.Name, Grams: ask.Grams}
	}
}

// vanillinNaOH is what the phenols of a scent bind, g NaOH per g of fragrance, from
// facts in the plan itself: vanillin C8H8O3 and ethyl vanillin C9H10O3, 1 mol per mol.
func vanillinNaOH(f FragranceUse) (gPerGram float64, known bool) {
	if f.Vanillin != nil {
		gPerGram += float64(*f.Vanillin) / 100 * boundNaOH(mustMolar("C8H8O3"), 1)
	}
	if f.EthylVanillin != nil {
		gPerGram += float64(*f.EthylVanillin) / 100 * boundNaOH(mustMolar("C9H10O3"), 1)
	}
	return gPerGram, f.Vanillin != nil || f.EthylVanillin != nil
}

func (j *job) fragranceNaOH(f FragranceUse) (gPerGram float64, known bool) {
	if j.ctx.FragranceNaOH != nil {
		if g, ok := j.ctx.FragranceNaOH(f); ok && finite(g) && g >= 0 {
			return g, true
		}
	}
	return vanillinNaOH(f)
}

// baseTint gives the class of a bare bar. The strongest colour wins once there is
// enough of it; the shares are our assumption, made from common practice.
func baseTint(oils []OilWeight) (Tint, string) {
	share := map[Tint]float64{}
	for _, o := range oils {
		share[o.Oil.Tint] += float64(o.Share)
	}
	const basis = "common practice: refined or unrefined oils and their shares; read a bare bar for better"
	switch {
	case share[""] > 10:
		return "", fmt.Sprintf("%.0f %% of the oils have no known colour", share[""])
	case share[Orange] >= 5:
		return Orange, basis
	case share[Green] >= 20:
		return Green, basis
	case share[Yellow]+share[Orange]+share[Green] >= 30:
		return Yellow, basis
	case share[NearWhite] <= 70:
		return Cream, basis
	}
	return NearWhite, basis
}
