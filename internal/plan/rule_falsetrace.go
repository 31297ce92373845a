package plan

import "fmt"

// falseTrace warns of hard fats setting in a cool batter, which looks like trace
// and is none: palmitic and stearic fats set below about 32 °C (common practice).
func falseTrace(in *Input) []Finding {
	t := in.Plan.Pour.BatterAt
	acids := in.Recipe.Acids
	if t == nil || acids.Known < 50 {
		return nil
	}
	hard := acids.Acids["C16:0"] + acids.Acids["C18:0"] + acids.Acids["C20:0"]
	if hard < 22 || *t >= 32 || hard < 32 && *t >= 28 {
		return nil
	}
	f := Finding{Severity: Note, Grounds: Practice, Line: in.Plan.Pour.Line,
		Title:   "false trace is likely",
		Because: fmt.Sprintf("palmitic and stearic acid are %.0f %% of the fatty acids and the batter is at %.0f °C: hard fat may set and look like trace", hard, *t),
		Try:     "oils and lye at 35–40 °C until the emulsion holds; if it thickens early, warm it gently and blend again before judging"}
	if hard >= 40 && *t < 28 {
		f.Severity = Caution
	}
	return []Finding{f}
}
