package plan

import (
	"fmt"
	"strings"

	"lyefast/internal/fragrance"
	"lyefast/internal/unit"
)

// ceiling compares the fragrance with its certificate, pot by pot and portion by
// portion: the limit holds for what a person holds in the hand.
func ceiling(in *Input) []Finding {
	if in.Scent == nil || in.Plan.Fragrance == nil {
		return nil
	}
	fr := in.Scent.Fragrance
	line := in.Plan.Fragrance.Line
	if fr.MaxUse == nil {
		return []Finding{{Severity: Note, Line: line, Grounds: Papers,
			Title:   "no highest level of use is known for this fragrance",
			Because: fmt.Sprintf("no certificate figure stands with %s", fr.Name),
			Try:     "take the figure for soap from the supplier's certificate of the current amendment: max_use = \"… %\" with category and amendment"}}
	}
	var out []Finding
	for bi := range in.Recipe.Pots {
		pot := &in.Recipe.Pots[bi]
		if pot.Fragrance <= 0 {
			continue
		}
		c, err := fragrance.CheckCeiling(fr.MaxUse, fragrance.Use{Oils: pot.Oils, Fragrance: pot.Fragrance})
		if err != nil || !c.Comparable || c.OfOils == nil {
			why := strings.Join(c.Notes, "; ")
			if err != nil {
				why = err.Error()
			}
			return []Finding{{Severity: Caution, Line: line, Grounds: Papers,
				Title: "the certificate cannot be used as it is", Because: why,
				Try: "ask the supplier for the certificate of the current amendment, category 9 for bar soap"}}
		}
		limit := *c.OfOils
		said := fmt.Sprintf("the certificate allows %s %% of the finished bar, which is %s %% of the oils", compact(float64(fr.MaxUse.Percent)), compact(float64(limit)))
		f := Finding{Portion: pot.Name, Line: line, Severity: Risk, Grounds: Papers}
		if pot.FragranceRate > limit*1.0001 {
			f.Title = "the fragrance is over its ceiling"
			f.Because = fmt.Sprintf("%s %% of the oils in %s; %s", compact(float64(pot.FragranceRate)), pot.Name, said)
			f.Try = fmt.Sprintf("%s g at most in this pot; the certificate is a safety limit, not advice on dose, and local rules decide", grams(limit.Of(pot.Oils)))
			out = append(out, f)
			continue
		}
		for _, w := range pot.Portions {
			if w.FragranceRate <= limit*1.0001 {
				continue
			}
			f.Portion, f.Line = pot.Name+"/"+w.Name, w.Line
			f.Title = "its share of the fragrance is over the ceiling, though the batter's is not"
			f.Because = fmt.Sprintf("all of the pot's scent goes into part of it: %s %% of this portion's oils, %s %% on average; %s",
				compact(float64(w.FragranceRate)), compact(float64(pot.FragranceRate)), said)
			f.Try = fmt.Sprintf("%s g for this pot instead of %s g, or scent more of its portions", grams(pot.Fragrance*unit.Grams(limit/w.FragranceRate)), grams(pot.Fragrance))
			out = append(out, f)
		}
	}
	return out
}
