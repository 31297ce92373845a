package lsq

import "math"

const (
	// dependent is the condition number, after the columns were brought to unit
	// length, from which parameters count as not separately determined.
	dependent = 1e11
	// aligned is how nearly the residuals must stand at right angles to every
	// column of the Jacobian at a minimum: the largest cosine. Differences carry
	// about ten digits, so much less cannot be asked for.
	aligned = 1e-9
)

// way is one manner of going downhill.
type way struct {
	damping float64 // first damping, in units of the scaled Jacobian's columns
	memory  bool    // unit of a parameter from the longest column met so far (Moré 1978), else from the present one
	bySize  bool    // unit of a parameter from its own size instead of from the Jacobian
}

// ways in the order they are tried. The first is the usual one; the others take
// shorter first steps, which keeps rates and widths from leaping out of the
// region where they mean anything.
var ways = []way{
	{damping: 1e-3, memory: true},
	{damping: 1e2, memory: true},
	{damping: 1e2},
	{damping: 1, bySize: true},
	{damping: 1e4, bySize: true},
}

// descent is one run from the start downhill.
type descent struct {
	f       Residuals
	p       []float64 // where it is
	typical []float64 // size of each parameter, for difference steps
	res     []float64
	rss     float64
	jac     columns
	settled bool
	iter    int

	condition float64 // of the scaled Jacobian where the run ended
}

func newDescent(f Residuals, start []float64) *descent {
	d := &descent{
		f:   f,
		p:   append([]float64(nil), start...),
		res: make([]float64, f.Count),
		jac: newColumns(f.Count, len(start)),

		condition: math.Inf(1),
	}
	for _, v := range start {
		d.typical = append(d.typical, math.Abs(v))
	}
	d.rss = d.eval(d.p, d.res)
	return d
}

// eval gives the sum of squares, +Inf where any residual is not a number.
func (d *descent) eval(p, res []float64) float64 {
	d.f.Eval(p, res)
	s := norm(res)
	if s *= s; math.IsNaN(s) {
		return math.Inf(1)
	}
	return s
}

// sound tells whether the run ended at a minimum where every parameter counts.
func (d *descent) sound() bool { return d.settled && d.condition < dependent }

func (d *descent) better(other *descent) bool {
	// Sums of squares that differ by rounding only are equal: then prefer the
	// point whose parameters are determined.
	if math.Abs(d.rss-other.rss) <= 1e-9*other.rss {
		return d.sound() && !other.sound()
	}
	return d.rss < other.rss
}

// differentiate fills the Jacobian; fine asks for the fourth-order differences.
// It reports whether all entries are numbers.
func (d *descent) differentiate(fine bool) bool {
	if d.f.Jacobian != nil {
		d.f.Jacobian(d.p, d.jac)
	} else {
		d.differences(fine)
	}
	for _, c := range d.jac {
		if s := norm(c); math.IsNaN(s) || math.IsInf(s, 0) {
			return false
		}
	}
	return true
}

// Difference steps relative to the parameter: the cube root of the rounding unit
// for central differences, its fifth root for fourth-order ones, where the error
// of the formula and that of rounding balance (Press et al., Numerical Recipes,
// section 5.7).
const (
	centralStep = 6e-6
	fineStep    = 7e-4
)

func (d *descent) differences(fine bool) {
	near, far := make([]float64, d.f.Count), make([]float64, d.f.Count)
	wide, work := make([]float64, d.f.Count), append([]float64(nil), d.p...)
	central := func(j int, h float64, out []float64) {
		work[j] = d.p[j] + h
		up := work[j]
		d.f.Eval(work, out)
		work[j] = d.p[j] - h
		h2 := up - work[j] // what the arithmetic made of 2h
		d.f.Eval(work, far)
		work[j] = d.p[j]
		for i := range out {
			out[i] = (out[i] - far[i]) / h2
		}
	}
	for j, col := range d.jac {
		size := math.Abs(d.p[j])
		if size < 1e-3*d.typical[j] {
			size = 1e-3 * d.typical[j]
		}
		if size == 0 {
			size = 1e-3
		}
		if !fine {
			central(j, centralStep*size, col)
			continue
		}
		central(j, fineStep*size, near)
		central(j, 2*fineStep*size, wide)
		var gap float64
		for i := range near {
			gap = max(gap, math.Abs(near[i]-wide[i]))
		}
		if top := norm(near); !(gap <= 1e-2*top) {
			// Too curved for so wide a step: the narrow difference is better.
			central(j, centralStep*size, col)
			continue
		}
		for i := range col {
			col[i] = (4*near[i] - wide[i]) / 3
		}
	}
}

// run goes downhill until the minimum is reached to rounding or the steps are
// used up.
func (d *descent) run(w way, maxIter int) {
	n := len(d.p)
	scale := make([]float64, n)
	scaled := newColumns(d.f.Count, n)
	augmented := newColumns(2*n, n)
	rhs, b := make([]float64, d.f.Count), make([]float64, 2*n)
	step, trial := make([]float64, n), make([]float64, n)
	trialRes := make([]float64, d.f.Count)
	lambda, growth := w.damping, 2.0
	fine := false
	for d.iter < maxIter {
		if !d.differentiate(fine) {
			return
		}
		d.rescale(w, scale)
		for j, c := range d.jac {
			for i, v := range c {
				scaled[j][i] = v / scale[j]
			}
		}
		cosine := d.cosine()
		if cosine < aligned && !fine {
			fine = true
			continue
		}
		for i, v := range d.res {
			rhs[i] = -v
		}
		triangle(scaled, rhs)
		if cosine < aligned || d.rss == 0 {
			break
		}
		moved := false
		for ; d.iter < maxIter && !moved; d.iter++ {
			damped(scaled, rhs, lambda, augmented, b)
			backSubstitute(augmented, b, step)
			var predicted, reach, size float64
			for j, z := range step {
				trial[j] = d.p[j] + z/scale[j]
				reach = max(reach, math.Abs(z/scale[j])/(math.Abs(d.p[j])+1e-3*d.typical[j]+1e-300))
				size += z * z
			}
			// ‖r‖² − ‖r + J·s‖², in terms of R and Qᵀr.
			for i := range step {
				var rz float64
				for j := i; j < n; j++ {
					rz += scaled[j][i] * step[j]
				}
				predicted += rz * (2*rhs[i] - rz)
			}
			if reach < 1e-15 || !(predicted > 1e-17*d.rss) {
				if fine || d.f.Jacobian != nil {
					d.finish(scale, true)
					return
				}
				fine, moved = true, true // one more round with the better differences
				continue
			}
			rss := d.eval(trial, trialRes)
			if gain := (d.rss - rss) / predicted; gain > 1e-4 {
				copy(d.p, trial)
				copy(d.res, trialRes)
				if d.rss-rss < 1e-7*d.rss {
					fine = true
				}
				d.rss = rss
				lambda *= max(1.0/3, 1-math.Pow(2*gain-1, 3))
				lambda = max(lambda, 1e-16)
				growth, moved = 2, true
			} else {
				lambda *= growth
				growth *= 2
				if lambda > 1e30 {
					// No step, however short, goes down: as good as rounding allows.
					d.finish(scale, true)
					return
				}
			}
		}
	}
	d.finish(scale, d.iter < maxIter || d.cosine() < aligned)
}

// damped writes the triangle of [R; √λ·I] into r and the right-hand side into b.
func damped(tri columns, rhs []float64, lambda float64, r columns, b []float64) {
	n := len(tri)
	for j := range r {
		clear(r[j])
		copy(r[j][:j+1], tri[j][:j+1])
		r[j][n+j] = math.Sqrt(lambda)
	}
	clear(b)
	copy(b, rhs[:n])
	triangle(r, b)
}

// rescale chooses the unit of each parameter.
func (d *descent) rescale(w way, scale []float64) {
	for j, c := range d.jac {
		length := norm(c)
		switch {
		case w.bySize:
			length = 1 / max(d.typical[j], math.Abs(d.p[j])*1e-3, 1e-12)
			length *= math.Sqrt(d.rss)
		case w.memory:
			length = max(length, scale[j])
		}
		if length == 0 {
			length = 1
		}
		scale[j] = length
	}
}

// cosine is the largest cosine between the residuals and a column of the
// Jacobian: zero at a minimum.
func (d *descent) cosine() float64 {
	length, top := math.Sqrt(d.rss), 0.0
	for _, c := range d.jac {
		if s := norm(c) * length; s > 0 {
			top = max(top, math.Abs(dot(c, d.res))/s)
		}
	}
	return top
}
