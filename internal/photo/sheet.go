package photo

import (
	"math"
	"slices"

	"lyefast/internal/lsq"
)

const (
	// fewestSpots on a sheet tell a slope of the light, fewestCurved a curved one.
	fewestSpots, fewestCurved = 6, 10
	// slopePull holds the shape where the spots leave it open, as when they lie in a
	// line: the noise of a spot (2 % of its light) over the slope to be expected from
	// the middle to the farthest spot (20 %).
	slopePull = 0.1
)

// shading is how the light falls off over the picture: the logarithm of linear light
// on an even sheet as a polynomial of the second degree at most in the place.
type shading struct {
	middle Point
	reach  float64
	shape  []float64 // of x, y and, if curved, x², xy, y²
	lo, hi Point     // where spots lie
}

// newShading fits one shape for all channels to spots on one sheet. It weighs down
// spots that stand out, as a stain does. ok is false with fewer than six spots.
func newShading(spots []Sample, sp *space) (s shading, ok bool) {
	n := len(spots)
	if n < fewestSpots {
		return s, false
	}
	s.lo, s.hi = spots[0].At, spots[0].At
	for _, p := range spots {
		s.middle.X += p.At.X / float64(n)
		s.middle.Y += p.At.Y / float64(n)
		s.lo = Point{math.Min(s.lo.X, p.At.X), math.Min(s.lo.Y, p.At.Y)}
		s.hi = Point{math.Max(s.hi.X, p.At.X), math.Max(s.hi.Y, p.At.Y)}
	}
	for _, p := range spots {
		s.reach = math.Max(s.reach, math.Max(math.Abs(p.At.X-s.middle.X), math.Abs(p.At.Y-s.middle.Y)))
	}
	if s.reach < 1 {
		return s, false
	}
	s.shape = make([]float64, 2)
	if n >= fewestCurved {
		s.shape = make([]float64, 5)
	}
	k := len(s.shape)
	weight := slices.Repeat([]float64{1}, n)
	for range 4 {
		cols := make([][]float64, k+3)
		for j := range cols {
			cols[j] = make([]float64, 3*n+k)
		}
		y := make([]float64, 3*n+k)
		for i, p := range spots {
			v := sp.linear(p.Code)
			var b [5]float64
			s.terms(p.At, &b)
			for c := range 3 {
				row, w := 3*i+c, weight[i]
				for j := range k {
					cols[j][row] = w * b[j]
				}
				cols[k+c][row] = w
				y[row] = w * math.Log(math.Max(darkest, v[c]))
			}
		}
		for j := range k {
			cols[j][3*n+j] = slopePull
		}
		x, _, err := lsq.Linear(cols, y)
		if err != nil {
			return s, false
		}
		copy(s.shape, x)
		// Weights for the next round, by each spot's largest error against the middle one.
		off := make([]float64, n)
		for i := range off {
			for c := range 3 {
				e := y[3*i+c]
				for j := range cols {
					e -= cols[j][3*i+c] * x[j]
				}
				off[i] = math.Max(off[i], math.Abs(e)/weight[i])
			}
		}
		sorted := slices.Sorted(slices.Values(off))
		limit := 3 * math.Max(0.005, sorted[n/2])
		for i := range off {
			weight[i] = math.Min(1, math.Sqrt(limit/math.Max(off[i], 1e-9)))
		}
	}
	return s, true
}

func (s *shading) terms(p Point, b *[5]float64) {
	x, y := (p.X-s.middle.X)/s.reach, (p.Y-s.middle.Y)/s.reach
	*b = [5]float64{x, y, x * x, x * y, y * y}
}

// gain is what light at a place is multiplied by to be as in the middle of the
// spots. Beyond the spots it stays as at their edge: there a curve would run off.
func (s *shading) gain(p Point) float64 {
	var b [5]float64
	s.terms(Point{math.Max(s.lo.X, math.Min(s.hi.X, p.X)), math.Max(s.lo.Y, math.Min(s.hi.Y, p.Y))}, &b)
	sum := 0.0
	for j, v := range s.shape {
		sum += v * b[j]
	}
	return math.Exp(-sum)
}

// covers tells whether a place lies among the spots, or not far out.
func (s *shading) covers(p Point) bool {
	far := 0.1 * s.reach
	return p.X >= s.lo.X-far && p.X <= s.hi.X+far && p.Y >= s.lo.Y-far && p.Y <= s.hi.Y+far
}
