// Package mixing turns doses into colours and colours back into doses: two-constant
// Kubelka–Munk mixing on a spectrum of 36 wavelengths (380–730 nm by 10 nm), the fit
// which learns each colourant's absorption and scattering from portions made, and the
// search for doses which reach a wanted colour.
//
// Start at [BaseFromLab] (the uncoloured soap), [FromSwatch] (a colourant known by one
// colour only), [Mix] (forward) and [Learn] (a whole shelf from readings). All scattering
// is relative to the base, whose S is 1; doses are in g per kg of oils unless a function
// says otherwise, and k and s are per g/kg. Every Lab is D65, 2° (see package cie).
//
// The package knows nothing of time, labels or storage: a colourant that changes is mixed
// with the k of its day ([KAt]), browning comes in as the strength u of one absorber
// ([BrownShape]).
package mixing

import (
	"math"

	"lyefast/internal/cie"
)

// Surface is what happens between the reflectance inside the material (R∞, what
// Kubelka–Munk speaks of) and the reflectance seen from outside:
//
//	R = Floor + (1−Floor)·(1−Internal)·R∞ / (1 − Internal·R∞)
//
// the correction of J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727, written so that a
// perfect white stays a perfect white. Both fields lie in 0 ≤ x < 1.
type Surface struct {
	Floor    float64 // share of light returned by the surface itself, and haze
	Internal float64 // share of the light thrown back inside
}

var (
	// NoSurface sees R∞ itself.
	NoSurface = Surface{}
	// SoapSurface is the one surface all forecasts use: 2 % at the surface, 0.4 inside.
	// Chosen because it lowers the error on measured and semi-real mixtures and carries
	// the path of browning; a smooth bar by theory has 4 % and 0.6.
	SoapSurface = Surface{Floor: 0.02, Internal: 0.4}
)

// Seen gives the reflectance seen from outside for the internal reflectance rInf (0–1).
func (s Surface) Seen(rInf float64) float64 {
	return s.Floor + (1-s.Floor)*(1-s.Internal)*rInf/(1-s.Internal*rInf)
}

// Inside is the inverse of [Surface.Seen]. A reflectance at or below Floor, which no
// material under this surface can show, gives 0 or less.
func (s Surface) Inside(r float64) float64 {
	t := (r - s.Floor) / (1 - s.Floor)
	return t / (1 - s.Internal + s.Internal*t)
}

// KSFromR gives K/S of an opaque layer of internal reflectance 0 < r ≤ 1:
// (1−r)²/2r (P. Kubelka and F. Munk, Z. tech. Phys. 12 (1931) 593).
func KSFromR(r float64) float64 { return (1 - r) * (1 - r) / (2 * r) }

// RFromKS is the inverse of [KSFromR] for ks ≥ 0. It is written as 1/(1+ks+√(ks²+2ks))
// because the usual difference loses all digits for a dark colour.
func RFromKS(ks float64) float64 { return 1 / (1 + ks + math.Sqrt(ks*(ks+2))) }

// seenFromKS is Seen(RFromKS(ks)) with one division instead of two.
func (s Surface) seenFromKS(ks float64) float64 {
	return s.Floor + (1-s.Floor)*(1-s.Internal)/(1+ks+math.Sqrt(ks*(ks+2))-s.Internal)
}

// seenSlope gives seenFromKS and its derivative by ks, for one division.
func (s Surface) seenSlope(ks float64) (seen, slope float64) {
	root := math.Sqrt(ks*(ks+2)) + 1e-12
	h := 1 + ks + root - s.Internal
	a := (1 - s.Floor) * (1 - s.Internal)
	inv := 1 / (root * h)
	q := root * inv // 1/h
	return s.Floor + a*q, -a * q * q * (1 + (ks+1)*h*inv)
}

// BrownShape is the absorber of browning, exp(−0.011·(λ−560 nm)): 1 at 560 nm. The slope
// lies between those published for melanoidins and for a measured opaque soap bar.
var BrownShape = func() (b cie.Spectrum) {
	for i := range b {
		b[i] = math.Exp(-0.011 * (cie.Wavelength(i) - 560))
	}
	return b
}()
