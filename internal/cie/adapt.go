package cie

import (
	"fmt"
	"strings"
)

// The Bradford matrix (Lam 1985, as in ICC.1 Annex E) takes XYZ to sharpened cone
// responses; its inverse is by arithmetic.
var (
	bradford = [3][3]float64{
		{0.8951, 0.2664, -0.1614},
		{-0.7502, 1.7135, 0.0367},
		{0.0389, -0.0685, 1.0296},
	}
	bradfordInverse = [3][3]float64{
		{0.98699290546671219, -0.1470542564209901, 0.15996265166373124},
		{0.43230526972339451, 0.51836027153677754, 0.049291228212855612},
		{-0.0085286645751773312, 0.040042821654084864, 0.96848669578754998},
	}
)

func mul(m *[3][3]float64, c XYZ) XYZ {
	return XYZ{
		m[0][0]*c.X + m[0][1]*c.Y + m[0][2]*c.Z,
		m[1][0]*c.X + m[1][1]*c.Y + m[1][2]*c.Z,
		m[2][0]*c.X + m[2][1]*c.Y + m[2][2]*c.Z,
	}
}

// Adapt gives the colour that looks under the white to as c looks under the white
// from: full Bradford adaptation. Both whites must be for the observer c was
// measured with; no adaptation turns 10° values into 2° ones.
func Adapt(c, from, to XYZ) XYZ {
	if from == to {
		return c
	}
	r, f, t := mul(&bradford, c), mul(&bradford, from), mul(&bradford, to)
	return mul(&bradfordInverse, XYZ{r.X * t.X / f.X, r.Y * t.Y / f.Y, r.Z * t.Z / f.Z})
}

// To re-expresses a colour measured against the white from for the white to, by
// Bradford adaptation, as in [Adapt].
func (c Lab) To(from, to XYZ) Lab {
	if from == to {
		return c
	}
	return Adapt(c.XYZ(from), from, to).Lab(to)
}

// Illuminant is a standard illuminant seen by a standard observer.
type Illuminant struct {
	// Name is "A", "C", "D50", "D55", "D65", "D75", "F2", "F7" or "F11".
	Name string
	// Observer is 2 (CIE 1931) or 10 (CIE 1964), in degrees.
	Observer int
	// White is the perfect diffuser under it, Y = 1.
	White XYZ
}

// String gives "D50/2°".
func (il Illuminant) String() string { return fmt.Sprintf("%s/%d°", il.Name, il.Observer) }

// ToD65 converts a colour measured under this illuminant to D65, 2°. It fails for
// the 10° observer, whose values become 2° ones only by way of the spectrum.
func (il Illuminant) ToD65(c Lab) (Lab, error) {
	if il.Observer != 2 {
		return Lab{}, fmt.Errorf("a colour for %s cannot be turned into D65/2° without its spectrum; export spectra, or set the instrument to the 2° observer", il)
	}
	return c.To(il.White, D65), nil
}

// illuminants holds the white points of ASTM E308 (10 nm tables), but for D65 and
// D50 with the 2° observer, which are [D65] and [D50] from their chromaticities:
// E308 has 95.047, 108.883 and 96.422, 82.521 for them, 0.014 in b* of white.
var illuminants = []Illuminant{
	{"A", 2, XYZ{1.09850, 1, 0.35585}}, {"A", 10, XYZ{1.11144, 1, 0.35200}},
	{"C", 2, XYZ{0.98074, 1, 1.18232}}, {"C", 10, XYZ{0.97285, 1, 1.16145}},
	{"D50", 2, D50}, {"D50", 10, XYZ{0.96720, 1, 0.81427}},
	{"D55", 2, XYZ{0.95682, 1, 0.92149}}, {"D55", 10, XYZ{0.95799, 1, 0.90926}},
	{"D65", 2, D65}, {"D65", 10, XYZ{0.94811, 1, 1.07304}},
	{"D75", 2, XYZ{0.94972, 1, 1.22638}}, {"D75", 10, XYZ{0.94416, 1, 1.20641}},
	{"F2", 2, XYZ{0.99187, 1, 0.67395}}, {"F2", 10, XYZ{1.03280, 1, 0.69026}},
	{"F7", 2, XYZ{0.95044, 1, 1.08755}}, {"F7", 10, XYZ{0.95792, 1, 1.07687}},
	{"F11", 2, XYZ{1.00966, 1, 0.64370}}, {"F11", 10, XYZ{1.03866, 1, 0.65627}},
}

// Illuminants lists the illuminants known, each for both observers.
func Illuminants() []Illuminant { return append([]Illuminant(nil), illuminants...) }

// ParseIlluminant reads "D65", "D50/2", "D65/10°", "d65 10" or "F11 (10 deg)". The
// observer is 2° when none is given.
func ParseIlluminant(s string) (Illuminant, error) {
	if len(s) > maxColourText {
		return Illuminant{}, fmt.Errorf("%s is too long for an illuminant; write it like D65/10°", quote(s))
	}
	words := strings.FieldsFunc(strings.ToUpper(s), func(r rune) bool {
		return strings.ContainsRune(" \t\u00a0/,;()_-", r)
	})
	refused := fmt.Errorf("%s is not an illuminant; write it like D65, D50/2° or D65/10° (known: A, C, D50, D55, D65, D75, F2, F7, F11)", quote(s))
	if len(words) == 0 {
		return Illuminant{}, refused
	}
	name, observer := words[0], 2
	if strings.HasPrefix(name, "FL") {
		name = "F" + name[2:] // CIE 15 writes FL2 for F2
	}
	switch strings.Join(words[1:], "") {
	case "", "2", "2°", "2º", "2DEG", "2DEGREE", "2DEGREES":
	case "10", "10°", "10º", "10DEG", "10DEGREE", "10DEGREES":
		observer = 10
	default:
		return Illuminant{}, refused
	}
	for _, il := range illuminants {
		if il.Name == name && il.Observer == observer {
			return il, nil
		}
	}
	return Illuminant{}, refused
}
