package plan

import (
	"fmt"

	"lyefast/internal/cie"
)

// offTarget speaks where a portion misses its target though no other rule has
// said why: the doses or the colourants themselves do not lead there.
func offTarget(in *Input) []Finding {
	var out []Finding
	for _, j := range in.jugs() {
		o := j.outcome
		if o == nil || o.TargetDelta == nil || *o.TargetDelta < 5.4 {
			continue
		}
		if o.BrownDelta >= noticeable || in.spoiled(j) {
			continue
		}
		f := Finding{Portion: j.key, Line: j.plan.TargetLine, Severity: Note, Grounds: Priors,
			Title: fmt.Sprintf("settles ΔE00 %.0f from its target", *o.TargetDelta),
			Because: fmt.Sprintf("these doses lead to %s %s (%s), not to %s; it ends within ΔE00 5 of the target with probability %.0f %%",
				o.Settled.Hex, o.Settled.Name, cie.Words(*o.TargetDelta), j.plan.TargetHex, 100*o.Near.E5),
			Try: "change the dose, or take " + o.Settled.Hex + " as the target"}
		if p, ok := in.proposal(j, *o.TargetDelta); ok {
			f.Try = fmt.Sprintf("%s settles %.1f from it", p.Words(), p.Delta)
		}
		out = append(out, f)
	}
	return out
}
