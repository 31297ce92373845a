package plan

import (
	"cmp"
	"fmt"
	"slices"
)

// creepFrom is the vanillin dose, % of the bar, from which a tan edge in an
// unscented neighbour has been seen (common practice, no source for the figure).
const creepFrom = 0.03

// creep warns that vanillin does not stop at the border of its portion. One word
// for each unscented portion, naming the neighbour with most vanillin first.
func creep(in *Input) []Finding {
	if in.Scent == nil {
		return nil
	}
	type source struct {
		key  string
		dose float64
	}
	from := map[string][]source{}
	for _, n := range in.neighbours() {
		for k, j := range n {
			o := n[1-k]
			p := in.scentPot(o.batter)
			if j.plan.Scented || !o.plan.Scented || p == nil || o.index >= len(p.Portions) || p.Portions[o.index].Dose < creepFrom {
				continue
			}
			from[j.key] = append(from[j.key], source{o.key, p.Portions[o.index].Dose})
		}
	}
	var out []Finding
	for _, j := range in.jugs() {
		sources := from[j.key]
		if len(sources) == 0 {
			continue
		}
		slices.SortStableFunc(sources, func(a, b source) int { return cmp.Compare(b.dose, a.dose) })
		var names []string
		for _, s := range sources {
			names = append(names, s.key)
		}
		f := Finding{Portion: j.key, Line: j.plan.Line, Severity: Note, Grounds: Practice,
			Title:   "vanillin will creep in from " + join(names),
			Because: fmt.Sprintf("it is unscented, but beside it stands up to %.2g %% vanillin-type browning; over weeks that wanders a few millimetres and leaves a tan edge", sources[0].dose),
			Try:     "judge this portion in its middle, make the layer thicker than 10 mm, or part the two with an unscented layer that may tan"}
		if t := j.plan.Target; t != nil && white(*t) {
			f.Severity = Caution
		}
		out = append(out, f)
	}
	return out
}
