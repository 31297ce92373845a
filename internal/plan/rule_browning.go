package plan

import (
	"fmt"

	"lyefast/internal/cie"
)

// noticeable is the ΔE00 from which browning is worth a word: twice the
// acceptability threshold of 1.8 (R. D. Paravina et al., J. Esthet. Restor. Dent.
// 27 (2015) S1), a plain change.
const noticeable = 3.6

// browning tells which portions vanillin moves away from their target, or, where
// no target is set, moves far.
func browning(in *Input) []Finding {
	var out []Finding
	for _, j := range in.jugs() {
		o := j.outcome
		if o == nil || o.Settled == nil || o.Without == nil || o.BrownDelta < noticeable {
			continue
		}
		if j.plan.Target != nil && white(*j.plan.Target) {
			continue // the white has a rule of its own
		}
		f := Finding{Portion: j.key, Line: j.plan.Line, Grounds: Priors}
		dose := in.vanillinWords(j)
		if j.plan.Target == nil {
			f.Severity = Note
			f.Title = fmt.Sprintf("will brown from %s to %s", o.Without.Name, o.Settled.Name)
			f.Because = fmt.Sprintf("%s, which takes it ΔE00 %.0f away by day 42, from %s to %s", dose, o.BrownDelta, o.Without.Hex, o.Settled.Hex)
			f.Try = "plan with that colour, or pour this portion unscented"
			out = append(out, f)
			continue
		}
		plain := cie.DeltaE00(o.Without.Lab, *j.plan.Target)
		off := *o.TargetDelta
		if off < noticeable || off < plain+1.8 {
			continue
		}
		f.Severity = Caution
		if off >= 10 && o.Near != nil && o.Near.E5 < 0.1 {
			f.Severity = Risk
		}
		f.Line = j.plan.TargetLine
		f.Title = fmt.Sprintf("browning takes it ΔE00 %.0f off its target", off)
		f.Because = fmt.Sprintf("%s; it settles on %s %s instead of %s (%s). Unscented it would be %.1f off. Within ΔE00 5 of the target: %.0f %%",
			dose, o.Settled.Hex, o.Settled.Name, j.plan.TargetHex, cie.Words(off), plain, 100*o.Near.E5)
		f.Try = in.brownRemedies(j, plain)
		out = append(out, f)
	}
	return out
}

// vanillinWords says how much vanillin stands in a portion, "vanillin 0.17 % of the bar".
func (in *Input) vanillinWords(j jug) string {
	s := fmt.Sprintf("%s at %s %% of its oils", in.Scent.Fragrance.Name, compact(float64(j.weight.FragranceRate)))
	if j.pot != nil && j.weight.FragranceRate > j.pot.FragranceRate*1.02 {
		s += fmt.Sprintf(" (the pot's scent goes into %.0f %% of it)", 100*float64(j.pot.FragranceRate/j.weight.FragranceRate))
	}
	if p := in.scentPot(j.batter); p != nil && j.index < len(p.Portions) {
		s += fmt.Sprintf(" puts %.2g %% vanillin-type browning into the bar", p.Portions[j.index].Dose)
	}
	return s
}

// brownRemedies lists what keeps a portion nearer to what was wanted, with numbers.
func (in *Input) brownRemedies(j jug, unscented float64) string {
	s := fmt.Sprintf("pour this portion unscented (%.1f off then), or plan for %s", unscented, j.outcome.Settled.Hex)
	if p, ok := in.proposal(j, *j.outcome.TargetDelta); ok {
		s += fmt.Sprintf("; %s would settle %.1f from the target with this scent", p.Words(), p.Delta)
	}
	return s
}

// proposal asks for other colourants and keeps the answer only if it is clearly better.
func (in *Input) proposal(j jug, off float64) (Proposal, bool) {
	if in.Reach == nil {
		return Proposal{}, false
	}
	p, ok := in.Reach(j.key)
	return p, ok && p.Delta < 0.7*off
}

func (in *Input) scentPot(batter int) *ScentPot {
	if in.Scent == nil || batter >= len(in.Scent.Pots) {
		return nil
	}
	return &in.Scent.Pots[batter]
}
