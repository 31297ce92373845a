package plan

import (
	"fmt"

	"lyefast/internal/colorants"
)

// veins adds up what draws clear veins through a white: white pigment, water and gel.
func veins(in *Input) []Finding {
	var out []Finding
	if g := in.Plan.Pour.Gel; g == "none" {
		return nil
	}
	for _, j := range in.jugs() {
		if j.pot.LyeConcentration > 31 || j.pot.LyeConcentration == 0 {
			continue
		}
		pigment, name := 0.0, ""
		for _, c := range j.weight.Colorants {
			if in.Colorants[c.Name].Product.Kind == colorants.KindWhite {
				pigment, name = pigment+float64(c.PerKg), c.Name
			}
		}
		if pigment < 1.5 {
			continue
		}
		f := Finding{Portion: j.key, Line: j.plan.Line, Severity: Note, Grounds: Practice,
			Title:   "clear veins are likely if it gels",
			Because: fmt.Sprintf("%s g/kg of %s, lye at only %.0f %% and gel draw translucent veins through a white", compact(pigment), name, j.pot.LyeConcentration),
			Try:     "lye at 33–35 %, half the white pigment, or keep it from gelling"}
		if in.Plan.Pour.Gel == "full" {
			f.Severity = Caution
		}
		out = append(out, f)
	}
	return out
}
