package plan

import (
	"fmt"

	"lyefast/internal/colorants"
)

// glitter warns of sparkle and neon that are sold for craft and not for skin.
func glitter(in *Input) []Finding {
	var out []Finding
	for _, j := range in.jugs() {
		for _, u := range j.plan.Colorants {
			for _, t := range in.Colorants[u.Name].substances() {
				f := Finding{Portion: j.key, Line: u.Line, Severity: Caution, Grounds: Chemistry}
				switch t.Fact.Form {
				case "glitter":
					f.Title = u.Name + " is no cosmetic colour"
					f.Because = fmt.Sprintf("%s: craft or plastic glitter is not a cosmetic colour; in the EU loose plastic glitter is barred since 17 October 2023 with exceptions, in rinse-off products from 17 October 2027 (Regulation (EU) 2023/2055)", t.Printed)
					f.Try = "a mica of that hue, or mineral glitter sold for cosmetics; check your local rules"
				case "resin":
					f.Title = u.Name + " may not be allowed on skin"
					f.Because = fmt.Sprintf("%s: most neon pigments are on no list of cosmetic colours, and their dye may leach", t.Printed)
					f.Try = "ask for the Colour Index number and the permission for cosmetics; check your local rules"
				default:
					continue
				}
				out = append(out, f)
			}
		}
	}
	return out
}

// isMetal tells metal powders, which have a finding of their own.
func isMetal(s *substance) bool { return s.Fact.Form == "metal" }

// metal gives the metal powder on a label that lye attacks.
func (c Colorant) metal() (substance, bool) {
	for _, s := range c.substances() {
		if isMetal(&s) && s.Fact.Behaviour != colorants.Stable {
			return s, true
		}
	}
	return substance{}, false
}
