// Package cie is the colour arithmetic everything else stands on: CIE XYZ,
// CIELAB and its cylinder, chromatic adaptation, colour differences, reflectance
// spectra under D65, the grey scale for change in colour and the ISCC–NBS
// colour names.
//
// Start at [Lab]. L* runs 0–100; unless a name says otherwise a Lab value is for
// illuminant D65 and the CIE 1931 2° observer, with the white that follows from
// x 0.3127, y 0.3290. XYZ is on the scale where the perfect diffuser has Y = 1.
//
// The package knows nothing of soap, of devices or of text layout. sRGB hex is
// read and written at the border by go-colorful (see [ParseHex] and [Lab.Hex]).
package cie

import "math"

// Lab is a CIELAB colour (ISO/CIE 11664-4). L runs 0–100, A and B are in CIELAB
// units and rarely leave ±130. D65, 2° unless the context says otherwise.
type Lab struct{ L, A, B float64 }

// LCh is the cylinder of a [Lab]: lightness 0–100, chroma ≥ 0, hue angle in
// degrees 0 ≤ H < 360 (0 for a neutral).
type LCh struct{ L, C, H float64 }

// XYZ holds tristimulus values with Y = 1 for the perfect diffuser.
type XYZ struct{ X, Y, Z float64 }

// White points, Y = 1, 2° observer. D65 and D50 follow from their published
// chromaticities (x 0.3127 y 0.3290 and x 0.3457 y 0.3585, ISO/CIE 11664-2 and
// W3C CSS Color 4); the ASTM E308 tables differ in the fourth digit.
var (
	D65 = fromXY(0.3127, 0.3290)
	D50 = fromXY(0.3457, 0.3585)
)

func fromXY(x, y float64) XYZ { return XYZ{x / y, 1, (1 - x - y) / y} }

// The two constants of ISO/CIE 11664-4 in their exact form.
const (
	labEpsilon = 216.0 / 24389.0
	labKappa   = 24389.0 / 27.0
)

func labF(t float64) float64 {
	if t > labEpsilon {
		return math.Cbrt(t)
	}
	return (labKappa*t + 16) / 116
}

func labFInv(f float64) float64 {
	if t := f * f * f; t > labEpsilon {
		return t
	}
	return (116*f - 16) / labKappa
}

// Lab converts to CIELAB against the given white (Y = 1). No adaptation takes
// place: white must be the white xyz was measured under.
func (c XYZ) Lab(white XYZ) Lab {
	fx, fy, fz := labF(c.X/white.X), labF(c.Y/white.Y), labF(c.Z/white.Z)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

// XYZ is the inverse of [XYZ.Lab].
func (c Lab) XYZ(white XYZ) XYZ {
	fy := (c.L + 16) / 116
	return XYZ{
		white.X * labFInv(fy+c.A/500),
		white.Y * labFInv(fy),
		white.Z * labFInv(fy-c.B/200),
	}
}

// LCh gives lightness, chroma and hue angle in degrees.
func (c Lab) LCh() LCh {
	h := math.Atan2(c.B, c.A) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	if h >= 360 { // a hair below 0
		h = 0
	}
	return LCh{c.L, math.Hypot(c.A, c.B), h}
}

// Lab is the inverse of [Lab.LCh].
func (c LCh) Lab() Lab {
	s, k := math.Sincos(c.H * math.Pi / 180)
	return Lab{c.L, c.C * k, c.C * s}
}

// Finite reports whether all three coordinates are ordinary numbers.
func (c Lab) Finite() bool {
	sum := c.L + c.A + c.B
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// Add returns c + d coordinate by coordinate.
func (c Lab) Add(d Lab) Lab { return Lab{c.L + d.L, c.A + d.A, c.B + d.B} }

// Sub returns c − d coordinate by coordinate.
func (c Lab) Sub(d Lab) Lab { return Lab{c.L - d.L, c.A - d.A, c.B - d.B} }

// Scale returns k·c coordinate by coordinate.
func (c Lab) Scale(k float64) Lab { return Lab{k * c.L, k * c.A, k * c.B} }
