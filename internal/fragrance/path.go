package fragrance

import (
	"errors"
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// Browning adds one absorber to a base that scatters (Kubelka–Munk). Its strength
// falls exponentially with wavelength, the usual shape for humic and lignin-type
// colour:
//
//	k(λ) = k_base(λ) + u·exp(−s·(λ−560))      k = K/S
//	R    = 0.02 + 0.98·(1 + k − √(k² + 2k))
//
// The base itself is c0 + c1·exp(−0.012·(λ−450)), solved for its L* and b*; what
// that form cannot reach, a* above all, is carried along as an offset.
//
// The shape was checked at two points only: the one measured opaque bar that was
// found in print (Chryssou, Stassinopoulou, Lampi) and the standard colour name
// "moderate yellowish brown". Real vanillin browns may be redder, which is what
// the prior on Params.Red is for.
const (
	// BrownSlope is s of the brown absorber, per nm.
	BrownSlope = 0.011
	// brownPivot is the wavelength where the absorber equals u, nm.
	brownPivot = 560
	// surfaceFloor is the light that comes back from surface and haze (assumed).
	surfaceFloor = 0.02
	// baseSlope and basePivot shape the yellow of a bare base, per nm and nm.
	baseSlope, basePivot = 0.012, 450
	// maxStrength bounds u where a colour is worked back: nothing darkens beyond it.
	maxStrength = 1000
)

// DefaultBase is the colour of a bare, pale, opaque bar where none was read
// (assumed).
var DefaultBase = cie.Lab{L: 90, A: -0.5, B: 8}

// Base is a bare bar ready to be browned. Make one with [NewBase].
type Base struct {
	lab cie.Lab
	k   cie.Spectrum
	off cie.Lab
}

// NewBase solves the spectrum of a bare bar for its colour (D65, 2°), which must pass
// [cie.Lab.Check] and not be black itself.
func NewBase(lab cie.Lab) (Base, error) {
	if err := lab.Check(); err != nil {
		return Base{}, fmt.Errorf("base colour: %w", err)
	}
	if lab.L == 0 {
		return Base{}, errors.New("base colour of L* 0 is black: it cannot brown; read the bare bar")
	}
	c := fitBase(lab, opaque)
	b := Base{lab: lab, k: baseSpectrum(c)}
	r := b.reflectance(0, BrownSlope)
	b.off = lab.Sub(r.Lab())
	return b, nil
}

// Lab gives the colour of the bare bar.
func (b *Base) Lab() cie.Lab { return b.lab }

// Path gives the colour after browning of strength u ≥ 0 (K/S at 560 nm, no unit)
// with the prior shape of the absorber.
func (b *Base) Path(u float64) cie.Lab { return b.path(u, BrownSlope, 0) }

// path is [Base.Path] for an absorber of slope s per nm, with red·x added to a*,
// where x is the share of lightness lost.
func (b *Base) path(u, s, red float64) cie.Lab {
	r := b.reflectance(u, s)
	c := r.Lab().Add(b.off)
	c.L = math.Min(100, math.Max(0, c.L))
	c.A += red * (b.lab.L - c.L) / b.lab.L
	return c
}

func (b *Base) reflectance(u, s float64) (r cie.Spectrum) {
	// Ten nanometres further the absorber is weaker by one and the same factor.
	e, step := u*math.Exp(-s*(cie.Wavelength(0)-brownPivot)), math.Exp(-10*s)
	for i, k := range b.k {
		r[i] = opaque(k + e)
		e *= step
	}
	return r
}

// Strength works u back from a lightness on the path, by bisection. At or above
// the base's own lightness it is 0, at or below the darkest the path reaches it
// is 1000.
func (b *Base) Strength(lightness float64) float64 {
	if lightness >= b.lab.L {
		return 0
	}
	lo, hi := 0.0, float64(maxStrength)
	if lightness <= b.Path(hi).L {
		return hi
	}
	for range 60 {
		// The square root keeps the relative error alike over five decades of u.
		mid := math.Pow((math.Sqrt(lo)+math.Sqrt(hi))/2, 2)
		if b.Path(mid).L > lightness {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// opaque is the reflectance of an opaque layer of K/S k with the surface floor.
func opaque(k float64) float64 {
	return surfaceFloor + (1-surfaceFloor)*kubelkaMunk(k)
}

// kubelkaMunk is R∞ of a layer of K/S k ≥ 0, 1 + k − √(k² + 2k) written so that a
// dark layer keeps its digits.
func kubelkaMunk(k float64) float64 { return 1 / (1 + k + math.Sqrt(k*(k+2))) }

// baseSpectrum spreads c0 and c1 over the wavelengths; absorption is never negative.
func baseSpectrum(c [2]float64) (k cie.Spectrum) {
	for i := range k {
		k[i] = math.Max(0, c[0]+c[1]*math.Exp(-baseSlope*(cie.Wavelength(i)-basePivot)))
	}
	return k
}

// fitBase finds c0 and c1 for the L* and b* of a bare bar under a given surface,
// by damped least squares from the default base. Where no such spectrum has that
// colour it ends at the nearest.
func fitBase(lab cie.Lab, surface func(float64) float64) [2]float64 {
	miss := func(c [2]float64) (m [2]float64) {
		k := baseSpectrum(c)
		for i, v := range k {
			k[i] = surface(v)
		}
		got := k.Lab()
		return [2]float64{got.L - lab.L, got.B - lab.B}
	}
	square := func(m [2]float64) float64 { return m[0]*m[0] + m[1]*m[1] }

	c := [2]float64{0.016, 0.075}
	m := miss(c)
	const step = 1e-6
	damp := 1e-3
	// A pale bar is there after a dozen rounds; a colour no such spectrum has would
	// creep on for ever.
	for range 200 {
		if square(m) < 1e-18 || damp > 1e9 {
			break
		}
		var j [2][2]float64 // derivative of each miss by each coefficient
		for n := range c {
			moved := c
			moved[n] += step
			d := miss(moved)
			j[0][n], j[1][n] = (d[0]-m[0])/step, (d[1]-m[1])/step
		}
		// Normal equations, two by two, with the diagonal damped.
		a00 := (j[0][0]*j[0][0] + j[1][0]*j[1][0]) * (1 + damp)
		a11 := (j[0][1]*j[0][1] + j[1][1]*j[1][1]) * (1 + damp)
		a01 := j[0][0]*j[0][1] + j[1][0]*j[1][1]
		g0 := j[0][0]*m[0] + j[1][0]*m[1]
		g1 := j[0][1]*m[0] + j[1][1]*m[1]
		det := a00*a11 - a01*a01
		if det == 0 {
			break
		}
		next := [2]float64{c[0] - (a11*g0-a01*g1)/det, c[1] - (a00*g1-a01*g0)/det}
		if d := miss(next); square(d) < square(m) {
			c, m, damp = next, d, damp/10
		} else {
			damp *= 10
		}
	}
	return c
}

// The short form of the path for [DefaultBase], fitted to the spectral sum for u
// from 0 to 16, where it errs by at most 0.51 in L*, 0.17 in a*, 0.49 in b*. It
// needs no spectrum and serves to check the sum.
const shortOffset = 0.0383

// ShortPath is the short form: the colour of the default base browned by u.
func ShortPath(u float64) cie.Lab {
	l := 116*math.Cbrt(opaque(shortOffset+u)) - 16
	x := (90 - l) / 90
	return cie.Lab{
		L: l,
		A: -0.5 + x*(18.719+x*(47.142+x*(-97.723+x*18.740))),
		B: 8 + x*(121.448+x*(-246.389+x*(174.139-x*83.667))),
	}
}

// ShortStrength is the way back from a reading's L* on the short form: 0 where it
// is paler than the base, 1000 where it is darker than the path ever gets.
func ShortStrength(lightness float64) float64 {
	r := (math.Pow((lightness+16)/116, 3) - surfaceFloor) / (1 - surfaceFloor)
	if r <= 0 {
		return maxStrength
	}
	u := (1-r)*(1-r)/(2*r) - shortOffset
	return math.Min(maxStrength, math.Max(0, u))
}

// EngineStrength turns a browning strength u of this package into the strength u′
// to use beside pigments, where the mixing engine's surface holds,
// R = 0.02 + 0.98·0.6R∞/(1 − 0.4R∞), in place of this package's: u′ = 0.50·u^1.02.
// The inner reflection of that surface lengthens the light's way, so less absorber
// gives the same brown. On the default base, its whole colour in its spectrum,
// the two paths stay within one ΔE00 of each other for u from 0 to 16.
func EngineStrength(u float64) float64 {
	if u <= 0 {
		return 0
	}
	return 0.50 * math.Pow(u, 1.02)
}
