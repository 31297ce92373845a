package plan

import (
	"fmt"

	"lyefast/internal/colorants"
)

// shifts tells apart a colour that leaves and returns, with the day until which it
// must not be judged, and one that settles elsewhere for good.
func shifts(in *Input) []Finding {
	var out []Finding
	for _, j := range in.jugs() {
		for _, u := range j.plan.Colorants {
			c := in.Colorants[u.Name]
			w := c.worst()
			if w == nil || w.Behaviour != colorants.Shifts && w.Behaviour != colorants.Indicator {
				continue
			}
			f := Finding{Portion: j.key, Line: u.Line, Grounds: Chemistry}
			because := fmt.Sprintf("its label lists %s: in fresh batter %s, in the cured bar %s; %s", w.Printed, w.Fact.Fresh, w.Fact.Cured, w.Fact.Evidence)
			if c.Expect.Pattern.Returns >= c.Expect.Pattern.Settles {
				f.Severity = Note
				f.Title = fmt.Sprintf("do not judge %s before day %.0f", u.Name, c.Expect.JudgeFromDay)
				f.Because = because
				f.Try = fmt.Sprintf("leave it until day %.0f: a colour that leaves and returns is back within about two days, one that never returns is another matter", c.Expect.JudgeFromDay)
				out = append(out, f)
				continue
			}
			f.Severity = Caution
			f.Title = fmt.Sprintf("%s will settle on another colour", u.Name)
			f.Because = because
			if o := j.outcome; o != nil && o.Settled != nil {
				f.Because += fmt.Sprintf("; here it settles on %s %s", o.Settled.Hex, o.Settled.Name)
				if o.TargetDelta != nil {
					f.Because += fmt.Sprintf(", ΔE00 %.0f from the target", *o.TargetDelta)
				}
			}
			f.Try = in.instead(j, "plan with the colour it lands on, and pour a small portion first")
			out = append(out, f)
		}
	}
	return out
}

// spoiled tells whether another rule already explains why a portion misses its target.
func (in *Input) spoiled(j jug) bool {
	for _, u := range j.plan.Colorants {
		c := in.Colorants[u.Name]
		if w := c.worst(); w != nil && w.Behaviour != colorants.Stable && w.Behaviour != colorants.Unknown && w.Behaviour != colorants.Bleeds {
			return true
		}
	}
	return false
}
