package formula

import (
	"fmt"
	"slices"
	"strings"

	"lyefast/internal/unit"
)

// ScaleToOils gives the plan for so many g of oils in all pots together, and the
// factor. As with every scaling here, shares, parts, discount, lye concentration
// and rates stay; every weight of the plan grows by the factor, and pots that were
// sized by a mould are sized by their oils. r is the plan's own recipe.
func ScaleToOils(p Plan, r Recipe, oils unit.Grams) (Plan, float64, error) {
	sum := unit.Grams(0)
	for _, pot := range r.Pots {
		sum += pot.Oils
	}
	return scaled(p, r, float64(oils), float64(sum), "g of oils")
}

// ScaleToTotal scales to a total mass of batter, with colourants, over all pots.
func ScaleToTotal(p Plan, r Recipe, total unit.Grams) (Plan, float64, error) {
	sum := unit.Grams(0)
	for _, pot := range r.Pots {
		sum += pot.Poured
	}
	return scaled(p, r, float64(total), float64(sum), "g of batter")
}

// ScaleToMoulds scales to fill the moulds with all pots together, in ml.
func ScaleToMoulds(p Plan, r Recipe, moulds ...unit.Millilitres) (Plan, float64, error) {
	want, have := unit.Millilitres(0), unit.Millilitres(0)
	for _, m := range moulds {
		if !finite(float64(m)) || m <= 0 {
			return Plan{}, 0, fmt.Errorf("scale %q: a mould of %g ml cannot be", p.Title, float64(m))
		}
		want += m
	}
	for _, pot := range r.Pots {
		have += pot.Volume
	}
	return scaled(p, r, float64(want), float64(have), "ml of mould")
}

// ScaleToOilLeft scales to use up so many g of one oil, named as in the plan or as
// [FindOil] would find it; late oils and the oil that wets colourants count.
func ScaleToOilLeft(p Plan, r Recipe, oil string, left unit.Grams) (Plan, float64, error) {
	var used []Oil
	grams := map[string]unit.Grams{}
	note := func(o Oil, g unit.Grams) {
		if _, seen := grams[o.label()]; !seen {
			used = append(used, o)
		}
		grams[o.label()] += g
	}
	for _, pot := range r.Pots {
		for _, o := range pot.PerOil {
			note(o.Oil, o.Grams)
		}
		for _, e := range pot.ExtraOils {
			note(e.Oil, e.Grams)
		}
	}
	o, err := FindOil(oil, used)
	if err != nil {
		var names []string
		for _, u := range used {
			names = append(names, u.label())
		}
		return Plan{}, 0, fmt.Errorf("scale %q: %w among the oils of the plan: %s", p.Title, err, strings.Join(names, ", "))
	}
	return scaled(p, r, float64(left), float64(grams[o.label()]), "g of "+o.label())
}

func scaled(p Plan, r Recipe, want, have float64, what string) (Plan, float64, error) {
	if !finite(want) || want <= 0 {
		return Plan{}, 0, fmt.Errorf("scale %q: %g %s cannot be", p.Title, want, what)
	}
	if !finite(have) || have <= 0 {
		return Plan{}, 0, fmt.Errorf("scale %q: the plan has no %s to scale from", p.Title, what)
	}
	k := want / have
	return scale(p, r, k), k, nil
}

// scale multiplies every weight of a plan; what is relative stays.
func scale(p Plan, r Recipe, k float64) Plan {
	grow := func(g *unit.Grams) *unit.Grams {
		if g == nil {
			return nil
		}
		v := *g * unit.Grams(k)
		return &v
	}
	dose := func(d Dose) Dose {
		if d.Total() {
			d.Value *= k
			d.Text = fmt.Sprintf("%.4g %s", d.Value, d.Unit)
		}
		return d
	}
	lye := func(l Lye) Lye {
		l.NaOH, l.KOH = grow(l.NaOH), grow(l.KOH)
		return l
	}
	p.Lye = lye(p.Lye)
	p.Oils = slices.Clone(p.Oils)
	for i := range p.Oils {
		p.Oils[i].Grams = grow(p.Oils[i].Grams)
	}
	if p.Fragrance != nil {
		f := *p.Fragrance
		f.Stabilizer.Grams = grow(f.Stabilizer.Grams)
		p.Fragrance = &f
	}
	p.Additives = slices.Clone(p.Additives)
	for i := range p.Additives {
		p.Additives[i].Dose = dose(p.Additives[i].Dose)
	}
	p.Batters = slices.Clone(p.Batters)
	for i := range p.Batters {
		b := &p.Batters[i]
		if i < len(r.Pots) {
			b.Oils, b.Mould = grow(&r.Pots[i].Oils), nil
		}
		if b.Lye != nil {
			own := lye(*b.Lye)
			b.Lye = &own
		}
		b.Portions = slices.Clone(b.Portions)
		for i := range b.Portions {
			q := &b.Portions[i]
			q.Colorants = slices.Clone(q.Colorants)
			for c := range q.Colorants {
				q.Colorants[c].Dose = dose(q.Colorants[c].Dose)
				q.Colorants[c].WetGrams = *grow(&q.Colorants[c].WetGrams)
			}
		}
	}
	return p
}
