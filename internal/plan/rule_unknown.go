package plan

import (
	"fmt"
	"slices"
	"strings"

	"lyefast/internal/colorants"
)

// unknown names what the check cannot judge: a colourant or a scent that nobody
// has described, a label that cannot be read, a colour that is not known.
func unknown(in *Input) []Finding {
	var out []Finding
	seen := map[string]bool{}
	for _, j := range in.jugs() {
		for _, u := range j.plan.Colorants {
			c := in.Colorants[u.Name]
			if seen[u.Name] {
				continue
			}
			seen[u.Name] = true
			f := Finding{Portion: j.key, Line: u.Line, Severity: Caution, Grounds: Chemistry}
			switch {
			case !c.Known:
				f.Title = fmt.Sprintf("%s is not known", u.Name)
				f.Because = "it is neither on the shelf nor described in the plan, so nothing can be said of it"
				f.Try = fmt.Sprintf("lyefast colorant add %q --label \"…\" --swatch \"#…\", or label and swatch in the plan", u.Name)
				if len(c.Near) > 0 {
					f.Try = fmt.Sprintf("did you mean %q? Else ", c.Near[0]) + f.Try
				}
			case c.Product.Label == "":
				f.Title = fmt.Sprintf("%s has no ingredient list", u.Name)
				f.Because = "without it nothing says how its colour meets lye; a pretty name and a claim are no evidence"
				f.Try = "copy the list from the label: label = \"Mica (CI 77019), …\""
			case len(c.Label.Unresolved) > 0:
				f.Title = fmt.Sprintf("part of the label of %s cannot be read", u.Name)
				f.Because = fmt.Sprintf("not understood: %s", strings.Join(c.Label.Unresolved, "; "))
				f.Try = "ask the supplier for the Colour Index numbers"
				if s := slices.Concat(c.Label.Suggestions...); len(s) > 0 {
					f.Try = "did you mean " + strings.Join(s, " or ") + "? Else " + f.Try
				}
			case c.Label.Worst == colorants.Unknown:
				f.Title = fmt.Sprintf("how %s meets lye is not known", u.Name)
				f.Because = "no source was found for " + worstName(c)
				f.Try = "a test cup of 50 g at the planned dose, read on days 1, 3 and 28"
			case c.Product.Swatch == nil && !c.Expect.Clear:
				f.Severity = Note
				f.Title = fmt.Sprintf("behaviour of %s known, colour not", u.Name)
				f.Because = "no swatch and no reading say what colour it gives at a known dose, so no number is given for this portion"
				f.Try = "swatch = \"#…\" as it looks at its usual dose in a pale soap, or one reading at a known dose"
			default:
				continue
			}
			out = append(out, f)
		}
	}
	out = append(out, in.spoons()...)
	if s := in.Scent; s != nil && s.Fragrance.Vanillin == nil && s.Fragrance.EthylVanillin == nil {
		f := Finding{Severity: Caution, Grounds: Papers, Line: in.Plan.Fragrance.Line,
			Title:   fmt.Sprintf("the vanillin in %s is not known", s.Fragrance.Name),
			Because: "no figure stands on the shelf or in the plan, so browning cannot be forecast; not stated is not zero",
			Try:     "ask the supplier for vanillin and ethyl vanillin in %, or read a scented test cup for four weeks"}
		if !s.Known && len(s.Near) > 0 {
			f.Try = fmt.Sprintf("did you mean %q? Else ", s.Near[0]) + f.Try
		}
		out = append(out, f)
	}
	return out
}

func worstName(c Colorant) string {
	if w := c.worst(); w != nil {
		return w.Printed
	}
	return "what its label lists"
}

// spoons names each colourant that is dosed by the spoon without ever having been weighed.
func (in *Input) spoons() []Finding {
	var out []Finding
	seen := map[string]bool{}
	for _, j := range in.jugs() {
		for _, u := range j.plan.Colorants {
			g := in.Colorants[u.Name].Teaspoon
			if g == nil || !u.Dose.ByVolume() || seen[u.Name] {
				continue
			}
			seen[u.Name] = true
			out = append(out, Finding{Portion: j.key, Line: u.Line, Severity: Note, Grounds: Practice,
				Title:   fmt.Sprintf("the weight of a teaspoon of %s is a guess", u.Name),
				Because: fmt.Sprintf("%s is dosed as %s and %.3g g a level teaspoon is taken; its kind weighs %.3g to %.3g g", u.Name, u.Dose.Text, float64(g.Middle), float64(g.Low), float64(g.High)),
				Try:     "weigh a level teaspoon once: teaspoon = \"… g\" here, or --teaspoon on the shelf; or write the dose in g/kg"})
		}
	}
	return out
}
