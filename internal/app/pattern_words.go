package app

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Words says the probabilities, the likeliest first, without those below half a
// hundredth; "" for the pattern of nothing.
func (p *PatternSaid) Words() string {
	if p == nil {
		return ""
	}
	type share struct {
		word string
		p    float64
	}
	list := []share{{"holds", p.Holds}, {"returns", p.Returns}, {"settles elsewhere", p.Settles}, {"fades", p.Fades}}
	slices.SortStableFunc(list, func(x, y share) int { return cmp.Compare(y.p, x.p) })
	var parts []string
	for _, s := range list {
		if s.p >= 0.005 {
			parts = append(parts, fmt.Sprintf("%s %.0f %%", s.word, 100*s.p))
		}
	}
	return strings.Join(parts, ", ")
}
