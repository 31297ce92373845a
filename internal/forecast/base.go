package forecast

import (
	"math"

	"lyefast/internal/cie"
	"lyefast/internal/formula"
)

// Base is the colour of the bare soap that a forecast starts from.
type Base struct {
	Lab cie.Lab `json:"lab"`
	// SD is the doubt about it, one standard deviation for L*, a* and b*.
	SD cie.Lab `json:"sd"`
	// Class is the coarse class of colour, always said beside a guess.
	Class formula.Tint `json:"class"`
	// Basis says where it comes from: "reading of a bare bar" or "class of the oils".
	Basis string `json:"basis"`
	// Measured is true when the maker read a bare bar.
	Measured bool `json:"measured"`
}

// tintColours are the typical colours of the classes. No published table leads
// from an oil to the L*a*b* of its bare soap, so the centres are our assumption,
// set from trade words ("near white", "cream" …) and given wide bands. The
// yellowest measured bar found, (63.98, 6.30, 26.11) of Chryssou et al. (2018),
// lies between yellow and orange.
var tintColours = map[formula.Tint]struct{ lab, sd cie.Lab }{
	formula.NearWhite: {cie.Lab{L: 91, A: -0.5, B: 6}, cie.Lab{L: 3, A: 1, B: 3}},
	formula.Cream:     {cie.Lab{L: 88, A: -0.5, B: 11}, cie.Lab{L: 4, A: 1.5, B: 4}},
	formula.Yellow:    {cie.Lab{L: 83, A: 0.5, B: 25}, cie.Lab{L: 5, A: 2.5, B: 7}},
	formula.Orange:    {cie.Lab{L: 73, A: 14, B: 48}, cie.Lab{L: 7, A: 5, B: 10}},
	formula.Green:     {cie.Lab{L: 78, A: -6, B: 24}, cie.Lab{L: 6, A: 3, B: 7}},
}

// Part is a share of a bare soap with a colour of its own. Weight is any positive
// measure of mass.
type Part struct {
	Lab    cie.Lab
	Weight float64
}

// MixBare gives the colour of a bare soap made of parts whose own bare colours are
// known: one-constant Kubelka–Munk by mass in each of the three tristimulus
// channels (P. Kubelka and F. Munk, Z. techn. Physik 12 (1931) 593). Channel-wise
// mixing approximates the spectral law and is far nearer to it than a mean of
// L*a*b*. No weight at all gives the zero Lab.
func MixBare(parts []Part) cie.Lab {
	var ks [3]float64
	total := 0.0
	white := [3]float64{cie.D65.X, cie.D65.Y, cie.D65.Z}
	for _, p := range parts {
		c := p.Lab.XYZ(cie.D65)
		for i, v := range [3]float64{c.X, c.Y, c.Z} {
			r := math.Min(1, math.Max(1e-4, v/white[i]))
			ks[i] += p.Weight * (1 - r) * (1 - r) / (2 * r)
		}
		total += p.Weight
	}
	if total <= 0 {
		return cie.Lab{}
	}
	var xyz [3]float64
	for i, k := range ks {
		k /= total
		xyz[i] = white[i] * (1 + k - math.Sqrt(k*k+2*k))
	}
	return cie.XYZ{X: xyz[0], Y: xyz[1], Z: xyz[2]}.Lab(cie.D65)
}

// TintWeight is the mass of oils of one class in a recipe.
type TintWeight struct {
	Tint   formula.Tint
	Weight float64
}

// BaseFromOils guesses the bare colour from the oils' classes. An oil without a
// class counts as cream. The result is a class with a wide band, and says so.
func BaseFromOils(oils []TintWeight) Base {
	var parts []Part
	var sd cie.Lab
	total := 0.0
	for _, o := range oils {
		t, ok := tintColours[o.Tint]
		if !ok {
			t = tintColours[formula.Cream]
		}
		parts = append(parts, Part{t.lab, o.Weight})
		sd = sd.Add(t.sd.Scale(o.Weight))
		total += o.Weight
	}
	b := Base{Basis: "class of the oils"}
	if total <= 0 {
		t := tintColours[formula.Cream]
		b.Lab, b.SD, b.Class = t.lab, t.sd, formula.Cream
		return b
	}
	b.Lab, b.SD = MixBare(parts), sd.Scale(1/total)
	b.Class = ClassOf(b.Lab)
	return b
}

// BaseFromReading takes the maker's own bare bar. A bar read young is still
// whitening, which widens the band (common practice, no source).
func BaseFromReading(r formula.BareReading) Base {
	b := Base{Lab: r.Lab, SD: cie.Lab{L: 1.5, A: 0.8, B: 1.5}, Class: ClassOf(r.Lab), Basis: "reading of a bare bar", Measured: true}
	if r.AgeDays > 0 && r.AgeDays < 14 {
		b.SD.L = 3
	}
	return b
}

// ClassOf names the class whose centre is nearest by CIEDE2000.
func ClassOf(lab cie.Lab) formula.Tint {
	best, at := math.Inf(1), formula.Cream
	for _, t := range []formula.Tint{formula.NearWhite, formula.Cream, formula.Yellow, formula.Orange, formula.Green} {
		if d := cie.DeltaE00(lab, tintColours[t].lab); d < best {
			best, at = d, t
		}
	}
	return at
}
