package plan

import (
	"fmt"

	"lyefast/internal/cie"
)

// white tells a bright white target from a cream or a pale colour. The edges are
// those of the ISCC–NBS whites (lightness) drawn in until a cream, b* 12 and up,
// lies outside.
func white(c cie.Lab) bool {
	p := c.LCh()
	return p.L >= 89 && p.C <= 8.5
}

// whiteTinges says that a white will not stay white beside vanillin, stabiliser
// or not: the eye sees the first trace of yellow on a white.
func whiteTinges(in *Input) []Finding {
	var out []Finding
	for _, j := range in.jugs() {
		o := j.outcome
		if j.plan.Target == nil || !white(*j.plan.Target) || o == nil || o.Settled == nil || o.Without == nil {
			continue
		}
		if o.BrownDelta < 0.8 { // below what half of all observers see
			continue
		}
		f := Finding{Portion: j.key, Line: j.plan.TargetLine, Severity: Caution, Grounds: Priors}
		if o.BrownDelta >= noticeable*2 {
			f.Severity = Risk
		}
		f.Title = "this white will tinge"
		with := "there is no stabiliser"
		if p := in.scentPot(j.batter); p != nil && p.Grams > 0 {
			f.Title = "this white will tinge even with stabiliser"
			with = fmt.Sprintf("%.0f g of stabiliser delays and lightens it, no more", p.Grams)
		}
		plain := cie.DeltaE00(o.Without.Lab, *j.plan.Target)
		f.Because = fmt.Sprintf("%s; %s. It settles on %s %s, ΔE00 %.1f from %s (%.1f unscented)",
			in.vanillinWords(j), with, o.Settled.Hex, o.Settled.Name, *o.TargetDelta, j.plan.TargetHex, plain)
		f.Try = fmt.Sprintf("pour this portion unscented, or take a warm target such as %s", o.Settled.Hex)
		if p, ok := in.proposal(j, *o.TargetDelta); ok {
			f.Try += fmt.Sprintf("; the nearest to it here is %s with %s (%.1f off)", p.Hex, p.Words(), p.Delta)
		}
		out = append(out, f)
	}
	return out
}
