package plan

// recipe passes on what the arithmetic of the recipe noticed without stopping.
func recipe(in *Input) []Finding {
	var out []Finding
	for _, p := range in.Problems {
		f := Finding{Portion: p.Field, Line: p.Line, Severity: Caution, Grounds: Arithmetic,
			Title: p.Message, Because: p.Message, Try: p.Hint}
		if p.Fatal {
			f.Severity = Risk
		}
		out = append(out, f)
	}
	return out
}
