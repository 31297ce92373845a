package plan

import (
	"fmt"
	"strings"

	"lyefast/internal/unit"
)

// stabiliser looks at each scented pot: does a browning scent stand there without
// stabiliser, with less than the chemistry's floor, or with one of unknown strength?
func stabiliser(in *Input) []Finding {
	var out []Finding
	if in.Scent == nil {
		return nil
	}
	line := 0
	if in.Plan.Fragrance != nil {
		if line = in.Plan.Fragrance.Stabilizer.Line; line == 0 {
			line = in.Plan.Fragrance.Line
		}
	}
	for i := range in.Scent.Pots {
		p := &in.Scent.Pots[i]
		e := p.Estimate
		if p.Fragrance <= 0 || e.FloorActive <= 0 {
			continue
		}
		f := Finding{Portion: p.Batter, Line: line, Grounds: Arithmetic}
		doses := fmt.Sprintf("%s g is the chemical floor, %s g a working dose, %s g equal parts",
			grams(e.FloorProduct), grams(e.SuggestedProduct), grams(e.EqualParts))
		switch {
		case p.Grams <= 0:
			worst := 0.0
			for _, j := range in.jugs() {
				if j.batter == i && j.outcome != nil {
					worst = max(worst, j.outcome.BrownDelta)
				}
			}
			if worst < noticeable {
				continue
			}
			f.Severity, f.Title = Caution, "no stabiliser in a scent that browns"
			f.Because = fmt.Sprintf("vanillin moves its portions by up to ΔE00 %.0f; %s", worst, doses)
			f.Try = "stabilizer = \"auto\", stirred into the fragrance before it meets the batter; it delays and lightens, it does not prevent"
		case p.Grams < e.FloorProduct*0.98:
			f.Severity, f.Title = Caution, "too little stabiliser to meet the vanillin"
			f.Because = fmt.Sprintf("%s g given; %s", grams(p.Grams), doses)
			f.Try = fmt.Sprintf("%s g, or pour more of it unscented", grams(e.SuggestedProduct))
		case p.StrengthAssumed:
			f.Severity, f.Title, f.Grounds = Note, "the stabiliser's strength is not known", Practice
			f.Because = fmt.Sprintf("%s g are counted as a liquid with 8.3 %% sodium sulfite; equal parts by weight with the fragrance is the usual answer then", grams(p.Grams))
			f.Try = "look for the share of active on its safety sheet and give it as strength"
		default:
			continue
		}
		out = append(out, f)
	}
	for i := range in.Scent.Pots {
		p := &in.Scent.Pots[i]
		if p.Grams > 0 && p.SO2Percent > 0.2 {
			out = append(out, Finding{Portion: p.Batter, Line: line, Severity: Caution, Grounds: Arithmetic,
				Title:   "much sulfite in the bar",
				Because: fmt.Sprintf("%s g of stabiliser leave up to %.2f %% SO2 equivalent in the bar; 0.2 %% is the EU limit for sulfites as preservative (from memory; other uses have their own)", grams(p.Grams), p.SO2Percent),
				Try:     fmt.Sprintf("%s g at most, less fragrance, or more of the pot unscented; some people with asthma react to sulfites: check your local rules", grams(p.Grams*unit.Grams(0.2/p.SO2Percent)))})
		}
	}
	return out
}

// grams writes a mass for a sentence: "7.1", "40".
func grams[T ~float64](g T) string {
	if g >= 10 {
		return fmt.Sprintf("%.0f", float64(g))
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", float64(g)), ".0")
}
