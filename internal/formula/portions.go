package formula

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"lyefast/internal/unit"
)

// ShownStep is the finest weight that a portion is given in, g.
const ShownStep unit.Grams = 0.1

// ShareOut splits a total by weights into multiples of step that add up to the
// total rounded to step: each gets its share rounded down, and what is left goes
// to the largest remainders, the earlier first where they tie. It gives nil unless
// total, step and weights are finite, no weight is negative and one is positive.
func ShareOut(total unit.Grams, weights []float64, step unit.Grams) []unit.Grams {
	sum := 0.0
	for _, w := range weights {
		if !finite(w) || w < 0 {
			return nil
		}
		sum += w
	}
	units := math.Round(float64(total / step))
	if !finite(sum, float64(total), units) || sum <= 0 || total < 0 || step <= 0 {
		return nil
	}
	whole := make([]float64, len(weights))
	order := make([]int, len(weights))
	rest := make([]float64, len(weights))
	left := units
	for i, w := range weights {
		share := units * (w / sum)
		whole[i] = math.Floor(share + 1e-9)
		rest[i] = share - whole[i]
		order[i] = i
		left -= whole[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rest[b], rest[a]) })
	for i := 0; left >= 0.5 && i < len(order); i++ {
		whole[order[i]]++
		left--
	}
	out := make([]unit.Grams, len(weights))
	for i, n := range whole {
		out[i] = toStep(unit.Grams(n)*step, step)
	}
	return out
}

// toStep rounds to a multiple of step without the tail that binary fractions leave.
func toStep(g, step unit.Grams) unit.Grams {
	n := math.Round(float64(g / step))
	if inverse := math.Round(float64(1 / step)); inverse >= 1 && math.Abs(inverse*float64(step)-1) < 1e-12 {
		return unit.Grams(n / inverse)
	}
	return unit.Grams(n) * step
}

// ByVolume says whether the dose needs the weight of a teaspoon.
func (d Dose) ByVolume() bool {
	return d.Unit == TspPerPound || d.Unit == TspPerKg || d.Unit == TspTotal
}

// Total says whether the dose is the whole amount, whatever the oils.
func (d Dose) Total() bool { return d.Unit == GramsTotal || d.Unit == TspTotal }

// Grams turns a dose into g for the oils it refers to. teaspoon is the mass of
// one level teaspoon, needed for doses by volume only.
func (d Dose) Grams(oils, teaspoon unit.Grams) (unit.Grams, error) {
	if !finite(d.Value) || d.Value < 0 {
		return 0, fmt.Errorf("a dose of %g cannot be", d.Value)
	}
	if d.ByVolume() && teaspoon <= 0 {
		return 0, fmt.Errorf("%q is by volume and the weight of a teaspoon is not known", d.written())
	}
	v := unit.Grams(d.Value)
	switch d.Unit {
	case PerKgOils:
		return v * oils / 1000, nil
	case PercentOils:
		return v * oils / 100, nil
	case GramsTotal:
		return v, nil
	case TspPerPound:
		return v * teaspoon * oils / unit.GramsPerPound, nil
	case TspPerKg:
		return v * teaspoon * oils / 1000, nil
	case TspTotal:
		return v * teaspoon, nil
	}
	return 0, fmt.Errorf("%q is not a dose unit; use g/kg, %%, g, tsp/lb, tsp/kg or tsp", string(d.Unit))
}

// written is the dose as the maker wrote it, or as it would be written.
func (d Dose) written() string {
	if d.Text != "" {
		return d.Text
	}
	return strings.TrimSpace(fmt.Sprintf("%g %s", d.Value, d.Unit))
}
