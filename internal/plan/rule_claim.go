package plan

import (
	"fmt"

	"lyefast/internal/fragrance"
)

// claim sets a supplier's "does not discolour" against the vanillin in its own papers.
func claim(in *Input) []Finding {
	if in.Scent == nil || !fragrance.ClaimsNoDiscolouration(in.Scent.Fragrance.Claims) {
		return nil
	}
	f := in.Scent.Fragrance
	share := 0.0
	if f.Vanillin != nil {
		share += float64(*f.Vanillin)
	}
	if f.EthylVanillin != nil {
		share += float64(*f.EthylVanillin)
	}
	if share <= 0 {
		return nil
	}
	worst, where := 0.0, ""
	for _, j := range in.jugs() {
		if j.outcome != nil && j.outcome.BrownDelta > worst {
			worst, where = j.outcome.BrownDelta, j.key
		}
	}
	out := Finding{Severity: Caution, Grounds: "its papers, against the " + Claim,
		Title:   "the supplier says it does not discolour; its vanillin says otherwise",
		Because: fmt.Sprintf("%s holds %s %% vanillin and ethyl vanillin", f.Name, compact(share)),
		Try:     "believe the vanillin figure until a bar of your own says otherwise; pour a small unscented control beside it"}
	if in.Plan.Fragrance != nil {
		out.Line = in.Plan.Fragrance.Line
	}
	if worst >= 0.8 {
		out.Because += fmt.Sprintf("; %s moves by ΔE00 %.1f", where, worst)
	}
	return []Finding{out}
}
