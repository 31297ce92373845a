package plan

import (
	"fmt"

	"lyefast/internal/colorants"
)

// bleeds names colourants that keep their hue and do not keep their place, and the
// neighbour they travel into.
func bleeds(in *Input) []Finding {
	beside := map[string][]string{}
	for _, n := range in.neighbours() {
		beside[n[0].key] = append(beside[n[0].key], n[1].key)
		beside[n[1].key] = append(beside[n[1].key], n[0].key)
	}
	var out []Finding
	for _, j := range in.jugs() {
		for _, u := range j.plan.Colorants {
			c := in.Colorants[u.Name]
			t := bleeder(c)
			if t == nil {
				continue
			}
			f := Finding{Portion: j.key, Line: u.Line, Severity: Note, Grounds: Chemistry,
				Because: fmt.Sprintf("its label lists %s: %s; %s (bleeding %s)", t.Printed, t.Fact.Cured, t.Fact.Evidence, t.Fact.BleedRisk),
				Try:     "a pigment of that hue (iron oxide, ultramarine, chromium green, carbon) stays where it is poured"}
			if next := beside[j.key]; len(next) > 0 {
				f.Severity = Caution
				f.Title = fmt.Sprintf("%s will bleed into %s", u.Name, join(next))
				f.Because += "; it may travel 1–2 mm in a day and up to 10 mm in four weeks (diffusion, assumed constant)"
				f.Try += fmt.Sprintf("; else part it from %s by a thick plain layer, or pour the whole bar in that hue", join(next))
			} else {
				f.Title = u.Name + " bleeds: its edges and the lather will colour"
				if len(in.jugs()) > 1 {
					f.Try += "; name its neighbours in beside to have them checked"
				}
			}
			out = append(out, f)
		}
	}
	return out
}

// bleeder gives the substance on a label most likely to travel, nil if none is.
func bleeder(c Colorant) *substance {
	for _, s := range c.substances() {
		if s.May {
			continue
		}
		if s.Behaviour == colorants.Bleeds || s.Behaviour != colorants.BreaksDown && s.Fact.BleedRisk == "high" {
			return &s
		}
	}
	return nil
}
