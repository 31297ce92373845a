package plan

import (
	"fmt"
	"strings"

	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
)

// fluid techniques need a batter that still runs, with the minutes one usually
// wants for them (common practice, no source).
var fluid = map[string]float64{
	"swirl": 15, "marble": 15, "feather": 15, "drop": 12, "pour": 10, "layers": 12, "lines": 15, "spoon": 8,
}

// needs gives the working minutes a plan's technique needs and whether it needs a
// fluid batter at all.
func needs(p formula.Pour) (minutes float64, ok bool) {
	for word, m := range fluid {
		if strings.Contains(p.Technique, word) && m > minutes {
			minutes, ok = m, true
		}
	}
	if p.Minutes != nil {
		return *p.Minutes, true
	}
	return minutes, ok
}

// fastMover adds up what thickens the batter against a technique that needs it fluid.
func fastMover(in *Input) []Finding {
	minutes, ok := needs(in.Plan.Pour)
	if !ok {
		return nil
	}
	var why []string
	score := 0.0
	if s := in.Scent; s != nil {
		switch {
		case s.Fragrance.Moves == fragrance.Seizes:
			why, score = append(why, s.Fragrance.Name+" is known to seize"), score+3
		case s.Fragrance.Moves == fragrance.Fast:
			why, score = append(why, s.Fragrance.Name+" is known to move fast"), score+2
		case s.Fragrance.Moves == "" && s.Movement.Accelerates.Percent >= 45:
			why, score = append(why, fmt.Sprintf("%s may accelerate (chance about %.0f %%: %s)", s.Fragrance.Name, s.Movement.Accelerates.Percent, strings.Join(s.Movement.Basis, "; "))), score+1
		}
	}
	if t := in.Plan.Pour.BatterAt; t != nil && *t > 43 {
		why, score = append(why, fmt.Sprintf("the batter is warm (%.0f °C)", *t)), score+1
	}
	for _, pot := range in.Recipe.Pots {
		if pot.LyeConcentration > 38 {
			why, score = append(why, fmt.Sprintf("%s has strong lye (%.0f %%)", pot.Name, pot.LyeConcentration)), score+1
			break
		}
	}
	for _, j := range in.jugs() {
		for _, c := range j.weight.Colorants {
			kind := in.Colorants[c.Name].Product.Kind
			if kind == colorants.KindClay && c.PerKg >= 10 || kind == colorants.KindCarbon && c.PerKg >= 3 {
				why, score = append(why, fmt.Sprintf("%s g/kg of %s thickens %s", compact(float64(c.PerKg)), c.Name, j.key)), score+1
			}
		}
	}
	if score < 1 {
		return nil
	}
	f := Finding{Severity: Note, Grounds: Practice, Line: in.Plan.Pour.Line,
		Title:   "the batter may thicken before the pour is done",
		Because: fmt.Sprintf("%s, and %s wants about %.0f fluid minutes", join(why), technique(in.Plan.Pour), minutes),
		Try:     "batter at 27–35 °C, lye near 30 %, the fragrance last and by hand, clay wetted in water beforehand, or a design that bears a thick batter"}
	if score >= 2 {
		f.Severity = Caution
	}
	if score >= 3 {
		f.Severity = Risk
	}
	return []Finding{f}
}

func technique(p formula.Pour) string {
	if p.Technique == "" {
		return "this design"
	}
	return `"` + p.Technique + `"`
}
