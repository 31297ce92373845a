package plan

import (
	"fmt"

	"lyefast/internal/cie"
	"lyefast/internal/forecast"
)

// Two layers read as two colours when they are about apart ΔE00 from each other
// (three times the acceptability threshold), and plainly so at clear.
const (
	apart = 5.4
	clear = 10.0
)

// contrast finds neighbours which part company at the pour and run together later.
func contrast(in *Input) []Finding {
	var out []Finding
	for _, n := range in.neighbours() {
		a, b := n[0], n[1]
		if a.outcome == nil || b.outcome == nil || a.outcome.Settled == nil || b.outcome.Settled == nil {
			continue
		}
		end := cie.DeltaE00(a.outcome.Settled.Lab, b.outcome.Settled.Lab)
		start, from := 0.0, ""
		if pa, pb := a.outcome.Days[0].Colour, b.outcome.Days[0].Colour; pa != nil && pb != nil {
			start, from = cie.DeltaE00(pa.Lab, pb.Lab), "at the pour"
		}
		if ta, tb := a.plan.Target, b.plan.Target; ta != nil && tb != nil {
			if d := cie.DeltaE00(*ta, *tb); d > start {
				start, from = d, "as planned"
			}
		}
		if from == "" || start < apart || end > 0.6*start {
			continue
		}
		_, stay, ok := forecast.Apart(a.outcome, b.outcome, apart)
		if !ok || end >= clear || end >= apart && stay > 0.75 {
			continue
		}
		f := Finding{Portion: a.key, Line: a.plan.BesideLine, Severity: Caution, Grounds: Priors,
			Title: fmt.Sprintf("loses its contrast with %s", b.key),
			Because: fmt.Sprintf("ΔE00 %.0f apart %s, %.1f when settled (%s and %s); they stay %.1f apart with probability %.0f %%",
				start, from, end, a.outcome.Settled.Hex, b.outcome.Settled.Hex, apart, 100*stay)}
		if end < 1.8 {
			f.Severity = Risk
		}
		f.Try = contrastRemedy(in, a, b)
		out = append(out, f)
	}
	return out
}

func contrastRemedy(in *Input, a, b jug) string {
	for _, j := range []jug{a, b} {
		other := a
		if j.key == a.key {
			other = b
		}
		if j.outcome.Without == nil {
			continue
		}
		if d := cie.DeltaE00(j.outcome.Without.Lab, other.outcome.Settled.Lab); d >= apart {
			return fmt.Sprintf("leave %s unscented: %.0f apart then; or make one of them much darker", j.key, d)
		}
	}
	for _, j := range []jug{a, b} {
		if p, ok := in.proposal(j, 1e9); ok && j.outcome.TargetDelta != nil && p.Delta < *j.outcome.TargetDelta {
			return fmt.Sprintf("%s in %s settles %.1f from its target; or make one of the two much darker", p.Words(), j.key, p.Delta)
		}
	}
	return "make one of the two much darker, or part them with a line of carbon or mica"
}
