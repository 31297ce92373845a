package mixing

import (
	"errors"
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// ErrUnreachable is returned beside the nearest spectrum when no reflectance between
// the surface's floor and 1 has the colour asked for.
var ErrUnreachable = errors.New("no reflectance between 0 and 1 has this colour")

// labTolerance is how close (ΔE*ab) a spectrum must come to count as having the colour:
// a tenth of the 1e-3 to which the published check colours are given.
const labTolerance = 1e-4

// zMax bounds the variable z: (tanh z + 1)/2 is then within 1e-8 of 0 or 1, where L* is
// within 1e-5 of black or white.
const zMax = 9.2

// Smoothest gives the reflectance, as seen through the surface, which has this Lab and
// whose inside varies least with wavelength: R∞ = (tanh z + 1)/2 with the sum of squared
// differences of z least ("least hyperbolic tangent slope squared", S. A. Burns, Color
// Res. Appl. 45 (2020) 45, after C. van Trigt, J. Opt. Soc. Am. A 7 (1990) 1891). The
// form keeps every value inside the bounds.
//
// A colour out of reach gives the nearest spectrum found together with
// [ErrUnreachable]; a colour that is not finite gives only an error.
func Smoothest(lab cie.Lab, surface Surface) (cie.Spectrum, error) {
	inside, err := smoothestInside(lab, surface)
	for i, r := range inside {
		inside[i] = surface.Seen(r)
	}
	return inside, err
}

// smoothestInside is [Smoothest] before the surface: R∞.
func smoothestInside(lab cie.Lab, surface Surface) (cie.Spectrum, error) {
	if err := checkLab("smoothest spectrum", lab); err != nil {
		return cie.Spectrum{}, err
	}
	p := newSmoother(lab, surface)
	p.run()
	return p.result()
}

func checkLab(what string, lab cie.Lab) error {
	if lab.Finite() && math.Abs(lab.L) <= 1000 && math.Abs(lab.A) <= 1000 && math.Abs(lab.B) <= 1000 {
		return nil
	}
	return fmt.Errorf("%s of L* %g a* %g b* %g: not a colour; L* is 0–100, a* and b* within about ±130", what, lab.L, lab.A, lab.B)
}

func (p *smoother) run() {
	if !p.newton() && !p.approach() {
		p.nearest()
	}
}

func (p *smoother) result() (cie.Spectrum, error) {
	lab := p.want
	if d := p.miss(); d > labTolerance {
		return p.inside(), fmt.Errorf("colour L* %.1f a* %.1f b* %.1f (missed by ΔE %.2g): %w", lab.L, lab.A, lab.B, d, ErrUnreachable)
	}
	return p.inside(), nil
}

type smoother struct {
	surface Surface
	want    cie.Lab
	xyz     [3]float64            // wanted
	start   float64               // flat z of the wanted Y
	z       [cie.Bands]float64    // the variable
	m       [cie.Bands]float64    // reflectance seen
	m1, m2  [cie.Bands]float64    // its first and second derivative in z
	diag    [cie.Bands]float64    // work: tridiagonal matrix, off-diagonal is −scale
	rhs     [4][cie.Bands]float64 // work: solutions for the three constraints and the gradient
	lambda  [3]float64            // multipliers of the three constraints
	rows    [3][cie.Bands]float64 // work: constraint gradients
}

func newSmoother(lab cie.Lab, surface Surface) *smoother {
	p := &smoother{surface: surface, want: lab}
	c := lab.XYZ(cie.D65)
	p.xyz = [3]float64{c.X, c.Y, c.Z}
	y := math.Min(1-1e-8, math.Max(1e-8, surface.Inside(math.Min(1, math.Max(surface.Floor, c.Y)))))
	p.start = math.Max(-zMax, math.Min(zMax, 0.5*math.Log(y/(1-y))))
	p.flat()
	return p
}

func (p *smoother) flat() {
	for i := range p.z {
		p.z[i] = p.start
	}
	p.eval()
}

// eval fills the reflectance and its derivatives from z.
func (p *smoother) eval() {
	a := (1 - p.surface.Floor) * (1 - p.surface.Internal)
	b := p.surface.Internal
	for i, z := range p.z {
		r := 1 / (1 + math.Exp(-2*z))
		q := 1 / (1 - b*r)
		r1 := 2 * r / (1 + math.Exp(2*z))
		r2 := 2 * r1 * (1 - 2*r)
		f1 := a * q * q
		f2 := 2 * b * f1 * q
		p.m[i] = p.surface.Floor + a*r*q
		p.m1[i] = f1 * r1
		p.m2[i] = f2*r1*r1 + f1*r2
	}
}

func (p *smoother) inside() (r cie.Spectrum) {
	for i, z := range p.z {
		r[i] = 1 / (1 + math.Exp(-2*z))
	}
	return r
}

func (p *smoother) lab() cie.Lab {
	s := cie.Spectrum(p.m)
	return s.Lab()
}

func (p *smoother) miss() float64 { return norm(p.lab().Sub(p.want)) }

func norm(d cie.Lab) float64 { return math.Sqrt(d.L*d.L + d.A*d.A + d.B*d.B) }

// slope is row i of the matrix of squared differences times z.
func (p *smoother) slope(i int) float64 {
	var g float64
	if i > 0 {
		g += p.z[i] - p.z[i-1]
	}
	if i < cie.Bands-1 {
		g += p.z[i] - p.z[i+1]
	}
	return g
}

// solve runs the tridiagonal matrix (diagonal p.diag, off-diagonals −off) over all four
// right-hand sides at once. It reports how many pivots were negative and
// whether none vanished.
func (p *smoother) solve(off float64) (negative int, ok bool) {
	var c [cie.Bands]float64
	for i := range p.diag {
		piv := p.diag[i]
		if i > 0 {
			piv += off * c[i-1]
		}
		if math.Abs(piv) < 1e-12 {
			return 0, false
		}
		if piv < 0 {
			negative++
		}
		inv := 1 / piv
		c[i] = -off * inv
		for k := range p.rhs {
			v := p.rhs[k][i]
			if i > 0 {
				v += off * p.rhs[k][i-1]
			}
			p.rhs[k][i] = v * inv
		}
	}
	for i := cie.Bands - 2; i >= 0; i-- {
		for k := range p.rhs {
			p.rhs[k][i] -= c[i] * p.rhs[k][i+1]
		}
	}
	return negative, true
}

// newton solves the stationarity conditions of the constrained problem by Newton's
// method on z and the three multipliers. The Hessian is tridiagonal, so a step costs a
// few hundred operations. It reports whether the colour was met with the slope at rest.
func (p *smoother) newton() bool {
	p.lambda = [3]float64{}
	return p.iterate(25)
}

// approach walks the wanted colour out from the grey of the same Y, each Newton solve
// starting where the last one ended: for saturated colours, where the way from a flat
// spectrum is too far for one.
func (p *smoother) approach() bool {
	want, full := p.want, p.xyz
	p.lambda = [3]float64{}
	p.flat()
	s := cie.Spectrum(p.m)
	from := s.XYZ()
	const steps = 12
	for i := 1; i <= steps; i++ {
		t := float64(i) / steps
		p.xyz = [3]float64{
			from.X + t*(full[0]-from.X), from.Y + t*(full[1]-from.Y), from.Z + t*(full[2]-from.Z),
		}
		p.want = cie.XYZ{X: p.xyz[0], Y: p.xyz[1], Z: p.xyz[2]}.Lab(cie.D65)
		if !p.iterate(25) {
			break
		}
	}
	reached := p.xyz == full
	p.want, p.xyz = want, full
	return reached && p.miss() < labTolerance
}

func (p *smoother) iterate(limit int) bool {
	for range limit {
		var res [3]float64
		for c := range res {
			res[c] = -p.xyz[c]
		}
		for i := range p.m {
			w := &cie.WeightsD65[i]
			for c := range res {
				res[c] += w[c] * p.m[i]
				p.rows[c][i] = w[c] * p.m1[i]
			}
		}
		lambda, ok := p.kkt(&res)
		if !ok {
			return false
		}
		p.lambda = lambda
		var step float64
		var dz [cie.Bands]float64
		for i := range dz {
			dz[i] = p.rhs[3][i] - lambda[0]*p.rhs[0][i] - lambda[1]*p.rhs[1][i] - lambda[2]*p.rhs[2][i]
			step = math.Max(step, math.Abs(dz[i]))
		}
		if math.IsNaN(step) {
			return false
		}
		scale := 1.0
		if step > 1.5 {
			scale = 1.5 / step
		}
		for i := range p.z {
			p.z[i] = math.Max(-zMax, math.Min(zMax, p.z[i]+scale*dz[i]))
		}
		p.eval()
		if step < 1e-5 && p.miss() < labTolerance {
			return true
		}
	}
	return false
}

// byLab gives ∂z/∂(L, a, b) of the wanted colour at the solution, from the same system as
// a Newton step; zero where the colour was not met.
func (p *smoother) byLab() (d [3][cie.Bands]float64) {
	if p.miss() > labTolerance {
		return d
	}
	const h = 1e-3
	for c, step := range [3]cie.Lab{{L: h}, {A: h}, {B: h}} {
		to := p.want.Add(step).XYZ(cie.D65)
		res := [3]float64{p.xyz[0] - to.X, p.xyz[1] - to.Y, p.xyz[2] - to.Z}
		for i := range p.m {
			w := &cie.WeightsD65[i]
			for r := range p.rows {
				p.rows[r][i] = w[r] * p.m1[i]
			}
		}
		lambda, ok := p.kkt(&res)
		if !ok {
			return [3][cie.Bands]float64{}
		}
		for i := range d[c] {
			d[c][i] = (p.rhs[3][i] - lambda[0]*p.rhs[0][i] - lambda[1]*p.rhs[1][i] - lambda[2]*p.rhs[2][i]) / h
		}
	}
	return d
}

// kkt solves one Newton step: the new multipliers come back, the parts of the step in z
// stand in p.rhs. Where the step would lead to a saddle (the matrix has not exactly three
// negative eigenvalues) the diagonal is raised until it leads downhill.
func (p *smoother) kkt(res *[3]float64) (lambda [3]float64, ok bool) {
	// The smallest raise keeps the level of z, which has no slope, solvable.
	for raise := 1e-6; raise < 100; raise = math.Max(0.02, 4*raise) {
		for i := range p.z {
			w := &cie.WeightsD65[i]
			p.diag[i] = 2 + raise + (p.lambda[0]*w[0]+p.lambda[1]*w[1]+p.lambda[2]*w[2])*p.m2[i]
			for c := range res {
				p.rhs[c][i] = p.rows[c][i]
			}
			p.rhs[3][i] = -p.slope(i)
		}
		p.diag[0]--
		p.diag[cie.Bands-1]--
		negative, ok := p.solve(1)
		if !ok {
			continue
		}
		var s [3][3]float64
		t := *res
		for a := range s {
			for b := range s {
				s[a][b] = dot(&p.rows[a], &p.rhs[b])
			}
			t[a] += dot(&p.rows[a], &p.rhs[3])
		}
		if negative != negatives3(&s) || !solve3(&s, &t) {
			continue
		}
		return t, true
	}
	return lambda, false
}

// negatives3 counts the negative eigenvalues of a symmetric matrix by the signs of its
// leading minors (Sylvester); -1 where one vanishes.
func negatives3(s *[3][3]float64) (n int) {
	d1 := s[0][0]
	d2 := s[0][0]*s[1][1] - s[0][1]*s[1][0]
	d3 := s[0][0]*(s[1][1]*s[2][2]-s[1][2]*s[2][1]) -
		s[0][1]*(s[1][0]*s[2][2]-s[1][2]*s[2][0]) +
		s[0][2]*(s[1][0]*s[2][1]-s[1][1]*s[2][0])
	last := 1.0
	for _, d := range [3]float64{d1, d2, d3} {
		if d == 0 {
			return -1
		}
		if (d < 0) != (last < 0) {
			n++
		}
		last = d
	}
	return n
}

// nearest minimises the squared Lab miss plus a very small multiple of the slope, by
// damped Gauss–Newton steps: where the colour cannot be met this ends at the closest.
func (p *smoother) nearest() {
	const tau = 1e-7
	p.flat()
	cost := func() float64 {
		var s float64
		for i := 1; i < cie.Bands; i++ {
			d := p.z[i] - p.z[i-1]
			s += d * d
		}
		d := p.miss()
		return d*d + tau*s
	}
	now, mu := cost(), 1e-2
	for range 200 {
		lab, jac := labGradient(&p.m)
		res := lab.Sub(p.want)
		r := [3]float64{res.L, res.A, res.B}
		for i := range p.z {
			g := tau * p.slope(i)
			d := 2 * tau
			if i == 0 || i == cie.Bands-1 {
				d = tau
			}
			p.diag[i] = d + mu
			for c := range r {
				p.rows[c][i] = jac[c][i] * p.m1[i]
				p.rhs[c][i] = p.rows[c][i]
				g += p.rows[c][i] * r[c]
			}
			p.rhs[3][i] = -g
		}
		if _, ok := p.solve(tau); !ok {
			return
		}
		// (H + JᵀJ)⁻¹ by the Sherman–Morrison–Woodbury identity.
		var s [3][3]float64
		var t [3]float64
		for a := range s {
			for b := range s {
				s[a][b] = dot(&p.rows[a], &p.rhs[b])
			}
			s[a][a]++
			t[a] = dot(&p.rows[a], &p.rhs[3])
		}
		if !solve3(&s, &t) {
			return
		}
		old := p.z
		for i := range p.z {
			dz := p.rhs[3][i] - t[0]*p.rhs[0][i] - t[1]*p.rhs[1][i] - t[2]*p.rhs[2][i]
			p.z[i] = math.Max(-zMax, math.Min(zMax, p.z[i]+math.Max(-1.5, math.Min(1.5, dz))))
		}
		p.eval()
		if next := cost(); next < now {
			done := now-next < 1e-12+1e-9*now
			now, mu = next, math.Max(mu/4, 1e-9)
			if done {
				return
			}
			continue
		}
		p.z = old
		p.eval()
		if mu *= 8; mu > 1e9 {
			return
		}
	}
}

func dot(a, b *[cie.Bands]float64) (s float64) {
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// solve3 solves a·x = b in place (x in b) by elimination with row exchanges.
func solve3(a *[3][3]float64, b *[3]float64) bool {
	for c := range 3 {
		best := c
		for r := c + 1; r < 3; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[best][c]) {
				best = r
			}
		}
		if !(math.Abs(a[best][c]) > 1e-300) {
			return false
		}
		a[c], a[best] = a[best], a[c]
		b[c], b[best] = b[best], b[c]
		for r := c + 1; r < 3; r++ {
			f := a[r][c] / a[c][c]
			for k := c; k < 3; k++ {
				a[r][k] -= f * a[c][k]
			}
			b[r] -= f * b[c]
		}
	}
	for c := 2; c >= 0; c-- {
		for k := c + 1; k < 3; k++ {
			b[c] -= a[c][k] * b[k]
		}
		b[c] /= a[c][c]
	}
	return true
}

// labGradient gives the Lab of a reflectance and its derivative by each band.
func labGradient(m *[cie.Bands]float64) (cie.Lab, [3][cie.Bands]float64) {
	s := cie.Spectrum(*m)
	lab, d := labWithSlopes(s.XYZ())
	var j [3][cie.Bands]float64
	for i := range m {
		w := &cie.WeightsD65[i]
		fx, fy, fz := d[0]*w[0], d[1]*w[1], d[2]*w[2]
		j[0][i], j[1][i], j[2][i] = 116*fy, 500*(fx-fy), 200*(fy-fz)
	}
	return lab, j
}

// labWithSlopes gives Lab and the derivatives of the CIELAB function f by X, Y and Z (ISO/CIE
// 11664-4), which share their cube roots.
func labWithSlopes(c cie.XYZ) (cie.Lab, [3]float64) {
	f := func(v, white float64) (f, slope float64) {
		t := v / white
		if t > 216.0/24389.0 {
			q := math.Cbrt(t)
			return q, q / (3 * v)
		}
		return (24389.0/27.0*t + 16) / 116, 24389.0 / 27.0 / 116 / white
	}
	fx, dx := f(c.X, cie.D65.X)
	fy, dy := f(c.Y, cie.D65.Y)
	fz, dz := f(c.Z, cie.D65.Z)
	return cie.Lab{L: 116*fy - 16, A: 500 * (fx - fy), B: 200 * (fy - fz)}, [3]float64{dx, dy, dz}
}
