package plan

import (
	"fmt"

	"lyefast/internal/colorants"
)

// breaksDown names colourants that lye destroys, with what is left of them.
func breaksDown(in *Input) []Finding {
	var out []Finding
	for _, j := range in.jugs() {
		for _, u := range j.plan.Colorants {
			c := in.Colorants[u.Name]
			w := c.worst()
			if w == nil || w.Behaviour != colorants.BreaksDown || isMetal(w) {
				continue
			}
			f := Finding{Portion: j.key, Line: u.Line, Severity: Risk, Grounds: Chemistry,
				Title:   fmt.Sprintf("%s will not stay %s", u.Name, hueOf(c)),
				Because: fmt.Sprintf("its label lists %s, which %s: %s; %s (%s confidence)", w.Printed, w.Behaviour.Words(), w.Fact.Fresh, w.Fact.Evidence, w.Fact.Confidence)}
			if w.Fact.Confidence == "low" {
				f.Severity = Caution
			}
			if o := j.outcome; o != nil && o.TargetDelta != nil {
				f.Because += fmt.Sprintf("; it settles on %s %s, ΔE00 %.0f from the target", o.Settled.Hex, o.Settled.Name, *o.TargetDelta)
			} else if b := c.Expect.Becomes; b != nil {
				f.Because += "; it becomes " + b.Words
			}
			f.Try = in.instead(j, "plan with what it becomes, or keep it out of lye (melt-and-pour bases, packaging)")
			out = append(out, f)
		}
	}
	return out
}

// hueOf names the colour a product is bought for.
func hueOf(c Colorant) string {
	if s := c.Product.Swatch; s != nil {
		return s.Name().Text
	}
	if w := c.worst(); w != nil && w.Fact.Hue != "" {
		return w.Fact.Hue
	}
	return "as it is"
}

// instead names other colourants that reach the portion's target, or the words given.
func (in *Input) instead(j jug, otherwise string) string {
	if in.Reach != nil && j.plan.Target != nil {
		off := 1e9
		if j.outcome != nil && j.outcome.TargetDelta != nil {
			off = *j.outcome.TargetDelta
		}
		if p, ok := in.proposal(j, off); ok {
			return fmt.Sprintf("%s settles %.1f from the target (%s); check that it is permitted where you sell", p.Words(), p.Delta, p.Hex)
		}
	}
	return otherwise
}
