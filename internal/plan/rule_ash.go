package plan

import "fmt"

// ash adds up what leaves white carbonate on the faces: much water, a cool batter, no gel.
func ash(in *Input) []Finding {
	var out []Finding
	gel := in.Plan.Pour.Gel
	for _, pot := range in.Recipe.Pots {
		var why []string
		if pot.LyeConcentration > 0 && pot.LyeConcentration <= 30 {
			why = append(why, fmt.Sprintf("much water (lye %.0f %%)", pot.LyeConcentration))
		}
		if t := in.Plan.Pour.BatterAt; t != nil && *t < 30 {
			why = append(why, fmt.Sprintf("a cool batter (%.0f °C)", *t))
		}
		if gel == "none" {
			why = append(why, "no gel")
		}
		if len(why) < 2 {
			continue
		}
		f := Finding{Portion: pot.Name, Line: in.Plan.Pour.Line, Severity: Note, Grounds: Practice,
			Title:   "soda ash is likely on the faces",
			Because: join(why) + " leave lye at the surface long enough to meet the air",
			Try:     "lye at 33–35 %, cover the mould, let it gel or cut late; read colours on a planed face, not on ash"}
		if len(why) == 3 {
			f.Severity = Caution
		}
		out = append(out, f)
	}
	return out
}
