package mixing

import (
	"math"

	"lyefast/internal/cie"
)

// Base is an uncoloured soap as the mixing formula sees it: its K/S in each band, with
// S taken as 1. Reached is the colour the spectrum really has; it differs from Lab, the
// colour asked for, only where the surface or nature allows no such colour.
type Base struct {
	KS      cie.Spectrum
	Lab     cie.Lab
	Reached cie.Lab

	lnKS [cie.Bands][3]float64 // ∂ ln K/S/∂(L, a, b) of the colour
}

// BaseFromLab gives the base with this colour as seen through the surface: the smoothest
// spectrum (see [Smoothest]). A colour out of reach, such as one darker than the surface
// alone, gives the nearest base; compare Reached with Lab. The error is for a Lab which
// is not finite or absurd.
func BaseFromLab(lab cie.Lab, surface Surface) (Base, error) {
	if err := checkLab("base colour", lab); err != nil {
		return Base{}, err
	}
	p := newSmoother(lab, surface)
	p.run()
	b := Base{Lab: lab, Reached: p.lab()}
	inside := p.inside()
	by := p.byLab()
	for i, r := range inside {
		b.KS[i] = KSFromR(r)
		// ln K/S = 2 ln(1−r) − ln 2r and dr/dz = 2r(1−r): the slope in z is −2(1+r).
		for c := range by {
			b.lnKS[i][c] = -2 * (1 + r) * by[c][i]
		}
	}
	return b, nil
}

// Perturbed gives the base for a colour off by d, to first order in ln K/S: what a
// forecast draws where the base is known with some doubt only.
func (b *Base) Perturbed(d cie.Lab) Base {
	out := Base{Lab: b.Lab.Add(d), Reached: b.Reached.Add(d), lnKS: b.lnKS}
	for i, v := range b.KS {
		g := &b.lnKS[i]
		out.KS[i] = v * math.Exp(clampLog(g[0]*d.L+g[1]*d.A+g[2]*d.B))
	}
	return out
}

// Dosed is one colourant in a portion: dose in g per kg of oils (≥ 0, finite) and its
// absorption and scattering per g/kg relative to the base's scattering.
type Dosed struct {
	Dose float64
	K, S *cie.Spectrum
}

// Mix gives the colour of a portion: in each band
//
//	K/S = (K_base + Σ dᵢ·kᵢ + u·exp(−0.011·(λ−560))) / (1 + Σ dᵢ·sᵢ)
//
// (D. R. Duncan, Proc. Phys. Soc. 52 (1940) 390, with a fixed absorber for browning), the
// internal reflectance from it, seen through the surface under D65. brown is u ≥ 0.
func Mix(base *Base, colorants []Dosed, brown float64, surface Surface) cie.Lab {
	// One pass over the bands: a forecast asks for thousands of these.
	var c cie.XYZ
	for i, k := range base.KS {
		k += brown * BrownShape[i]
		s := 1.0
		for j := range colorants {
			p := &colorants[j]
			k += p.Dose * p.K[i]
			s += p.Dose * p.S[i]
		}
		r := surface.seenFromKS(k / s)
		w := &cie.WeightsD65[i]
		c.X += w[0] * r
		c.Y += w[1] * r
		c.Z += w[2] * r
	}
	return c.Lab(cie.D65)
}

// MixSpectrum is [Mix] up to the reflectance seen; shape replaces [BrownShape] unless nil.
func MixSpectrum(base *Base, colorants []Dosed, brown float64, shape *cie.Spectrum, surface Surface) cie.Spectrum {
	k := MixKS(base, colorants, brown, shape)
	for i, v := range k {
		k[i] = surface.seenFromKS(v)
	}
	return k
}

// MixKS is [Mix] up to K/S.
func MixKS(base *Base, colorants []Dosed, brown float64, shape *cie.Spectrum) cie.Spectrum {
	k := base.KS
	if brown != 0 {
		if shape == nil {
			shape = &BrownShape
		}
		for i, v := range shape {
			k[i] += brown * v
		}
	}
	var s cie.Spectrum
	for i := range s {
		s[i] = 1
	}
	for _, c := range colorants {
		d := c.Dose
		ck, cs := c.K, c.S
		for i := range k {
			k[i] += d * ck[i]
			s[i] += d * cs[i]
		}
	}
	for i := range k {
		k[i] /= s[i]
	}
	return k
}

// KAt gives the absorption of a colourant on its way between two states, g being the
// share of alt: k = k_settled + (k_alt − k_settled)·g. g outside 0–1 is taken at the
// nearer end.
func KAt(settled, alt *cie.Spectrum, g float64) cie.Spectrum {
	g = math.Min(1, math.Max(0, g))
	k := *settled
	for i := range k {
		k[i] += (alt[i] - settled[i]) * g
	}
	return k
}
