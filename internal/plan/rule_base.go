package plan

import (
	"fmt"

	"lyefast/internal/cie"
)

// baseColour warns where the oils themselves are too yellow or too green for a
// pale target: what the bar would be without scent already misses it.
func baseColour(in *Input) []Finding {
	var out []Finding
	base := in.Forecast.Base
	for _, j := range in.jugs() {
		t := j.plan.Target
		if t == nil {
			continue
		}
		if p := t.LCh(); p.L < 82 || p.C > 22 {
			continue
		}
		bare, what := base.Lab, "the bare soap"
		if o := j.outcome; o != nil && o.Settled != nil {
			bare, what = o.Settled.Lab, "even with its colourants the portion"
			if o.Without != nil {
				bare, what = o.Without.Lab, "even unscented the portion"
			}
			if len(j.plan.Colorants) == 0 {
				what = "the bare soap"
			}
		}
		if base.Lab.B-t.B < 4 && base.Lab.A-t.A > -3 {
			continue // the oils are not to blame
		}
		off := cie.DeltaE00(bare, *t)
		yellow, green := bare.B-t.B, t.A-bare.A
		if off < noticeable || yellow < 3 && green < 2.5 {
			continue
		}
		hue := "yellow"
		if green > 2.5 && green > yellow/2 {
			hue = "green"
		}
		f := Finding{Portion: j.key, Line: j.plan.TargetLine, Severity: Caution,
			Title: fmt.Sprintf("the oils are too %s for %s", hue, j.plan.TargetHex),
			Because: fmt.Sprintf("%s would be near %s (b* %.0f, target %.0f), ΔE00 %.1f off; base: %s, %s",
				what, bare.Hex(), bare.B, t.B, off, base.Class, base.Basis)}
		f.Grounds = OwnReadings
		if !base.Measured {
			f.Grounds = Priors
			if off < 2*noticeable {
				f.Severity = Note
			}
		}
		f.Try = "refined instead of virgin or unrefined oils, more coconut, palm kernel, lard or tallow, or a warmer target such as " + bare.Hex()
		if p, ok := in.proposal(j, off); ok {
			f.Try += fmt.Sprintf("; %s settles %.1f from the target", p.Words(), p.Delta)
		}
		if !base.Measured {
			f.Try += "; one reading of a bare bar of these oils replaces the guess"
		}
		out = append(out, f)
	}
	return out
}
