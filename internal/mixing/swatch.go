package mixing

import (
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// Kind tells how a colourant scatters.
type Kind int

const (
	// Colour scatters in proportion to its absorption: s = ρ·mean k, ln ρ about −2.
	Colour Kind = iota
	// White has a scattering of its own, however little it absorbs (titanium dioxide,
	// zinc oxide, kaolin).
	White
)

// Prior knowledge of level and scattering, per g/kg, base S = 1. The ratio ρ is what is
// common among artists' pigments. A white absorbs next to nothing and by an unknown
// amount; 1 g/kg of titanium dioxide brightens like some tenths of the soap's own
// scattering. Levels are broad because a dose may be a mica's or a carbon's.
const (
	lnRhoMean, lnRhoSD           = -2, 1
	levelSD                      = 3
	whiteLevelMean, whiteLevelSD = -6, 3
	whiteLnSMean, whiteLnSSD     = -1, 1.5
	logStepLimit                 = 3 // largest change of ln k or ln s by Perturbed
)

// Colorant is a colourant with its absorption and scattering per g/kg in each band and,
// to first order, how they hang on the swatch they were derived from.
type Colorant struct {
	Kind    Kind
	K, S    cie.Spectrum
	Dose    float64 // g/kg at which the swatch was taken
	Swatch  cie.Lab // asked for
	Reached cie.Lab // what K and S really give at Dose; differs where no K, S can give Swatch

	lnK [cie.Bands][3]float64 // ∂ ln k/∂(L, a, b) of the swatch
	lnS [3]float64            // ∂ ln s/∂(L, a, b), whites only
	rho cie.Spectrum          // ∂ ln k/∂ ln ρ at constant swatch
}

// FromSwatch derives a colourant from one colour: the smoothest ln k (by the prior of the
// spectrum) which with its scattering gives the swatch at this dose (g/kg, > 0) in this
// base under this surface. A colour keeps ρ = exp(−2); where no k ≥ 0 explains the swatch,
// as when it is lighter than the base, ρ moves as little as it must. A white has free s.
// Compare Reached with Swatch: they differ where nothing explains the colour, for example
// one darker than the surface. The error is for a dose or a colour that is none.
func FromSwatch(swatch cie.Lab, dose float64, base Base, kind Kind, surface Surface) (Colorant, error) {
	if !(dose > 0 && dose <= maxDose) {
		return Colorant{}, fmt.Errorf("swatch dose of %g g/kg: must be above 0 and at most %g", dose, float64(maxDose))
	}
	if err := checkLab("swatch", swatch); err != nil {
		return Colorant{}, err
	}
	f := solveSwatch(&base.KS, swatch, dose, kind, surface)
	return f.colorant(), nil
}

func solveSwatch(base *cie.Spectrum, swatch cie.Lab, dose float64, kind Kind, surface Surface) *swatchFit {
	f := swatchFit{base: base, dose: dose, surface: surface, want: swatch, kind: kind}
	f.run(kind == White)
	if kind == Colour && norm(f.lab.Sub(swatch)) > 0.03 {
		held := f
		f.run(true)
		if norm(f.lab.Sub(swatch)) > norm(held.lab.Sub(swatch))-0.01 {
			f = held
		}
	}
	return &f
}

// swatchFit parameters: level, maxShape shape coefficients, then ln ρ (ln s for a white).
const swatchParams = maxShape + 2

type swatchFit struct {
	base    *cie.Spectrum // K/S
	dose    float64
	surface Surface
	want    cie.Lab
	kind    Kind

	theta, mean, sd [swatchParams]float64
	k               cie.Spectrum
	s               float64
	lab             cie.Lab
	jac             [3][swatchParams]float64
}

// run finds the parameters nearest to their prior mean which give the colour, by
// Gauss–Newton steps in the three-dimensional space of the colour. The wanted closeness
// tightens from step to step, which keeps the first steps short. freeS lets the last
// parameter move.
func (f *swatchFit) run(freeS bool) {
	for j := range f.sd {
		f.mean[j], f.sd[j] = 0, 1
	}
	last := swatchParams - 1
	f.mean[last], f.sd[last] = lnRhoMean, lnRhoSD
	f.sd[0] = levelSD
	f.mean[0] = f.greyLevel()
	if f.kind == White {
		f.mean[0], f.sd[0] = whiteLevelMean, whiteLevelSD
		f.mean[last], f.sd[last] = whiteLnSMean, whiteLnSSD
	}
	if !freeS {
		f.sd[last] = 0
	}
	f.theta = f.mean
	f.eval()
	best := *f
	for step, sigma := 0, 4.0; step < 60; step++ {
		sigma = math.Max(sigma/2, 1e-3)
		from := &f.mean
		if step >= 30 { // slow to settle: from here on, the nearest point that has the colour
			from = &f.theta
		}
		d := f.want.Sub(f.lab)
		var a [3][3]float64
		b := [3]float64{d.L, d.A, d.B}
		for r := range a {
			for c := range a {
				for j, sd := range f.sd {
					a[r][c] += f.jac[r][j] * sd * sd * f.jac[c][j]
				}
			}
			a[r][r] += sigma * sigma
			for j := range f.theta {
				b[r] += f.jac[r][j] * (f.theta[j] - from[j])
			}
		}
		if !solve3(&a, &b) {
			break
		}
		var move [swatchParams]float64
		var size float64
		for j, sd := range f.sd {
			move[j] = from[j] - f.theta[j] + sd*sd*(f.jac[0][j]*b[0]+f.jac[1][j]*b[1]+f.jac[2][j]*b[2])
			size = math.Max(size, math.Abs(move[j]))
		}
		scale := 1.0
		if size > 1 {
			scale = 1 / size
		}
		for j := range f.theta {
			f.theta[j] += scale * move[j]
		}
		f.eval()
		if norm(f.lab.Sub(f.want)) < norm(best.lab.Sub(best.want)) {
			best = *f
		}
		if size < 1e-4 && sigma <= 1e-3 {
			break
		}
	}
	*f = best
}

// greyLevel is the ln k of a grey with the swatch's lightness.
func (f *swatchFit) greyLevel() float64 {
	y := math.Min(0.999, math.Max(f.surface.Floor+0.002, f.want.XYZ(cie.D65).Y))
	ks := KSFromR(f.surface.Inside(y))
	k := (ks - f.base[18]) / f.dose
	if k *= 1 / math.Max(0.05, 1-math.Exp(lnRhoMean)*ks); k < 1e-3/f.dose {
		k = 1e-3 / f.dose
	}
	return math.Log(k)
}

func (f *swatchFit) eval() {
	basis := shapeBasis()
	last := swatchParams - 1
	var mean float64
	for i := range f.k {
		v := f.theta[0]
		for j := range basis {
			v += f.theta[1+j] * basis[j][i]
		}
		f.k[i] = math.Exp(math.Max(-60, math.Min(60, v)))
		mean += f.k[i] / cie.Bands
	}
	f.s = math.Exp(f.theta[last])
	var ds [swatchParams]float64 // ∂s/∂θ
	if f.kind == Colour {
		rho := f.s
		f.s *= mean
		ds[0] = f.s
		for j := range basis {
			ds[1+j] = rho * dot((*[cie.Bands]float64)(&f.k), (*[cie.Bands]float64)(&basis[j])) / cie.Bands
		}
	}
	ds[last] = f.s
	den := 1 + f.dose*f.s
	var seen, slope [cie.Bands]float64
	var byS [3]float64
	var byK [3][cie.Bands]float64
	for i := range seen {
		q := (f.base[i] + f.dose*f.k[i]) / den
		seen[i], slope[i] = f.surface.seenSlope(q)
	}
	lab, grad := labGradient(&seen)
	f.lab = lab
	for c := range grad {
		for i, g := range grad[c] {
			g *= slope[i] * f.dose / den
			byK[c][i] = g * f.k[i]
			byS[c] -= g * (f.base[i] + f.dose*f.k[i]) / den
		}
		f.jac[c] = [swatchParams]float64{}
		for _, g := range byK[c] {
			f.jac[c][0] += g
		}
		for j := range basis {
			f.jac[c][1+j] = dot(&byK[c], (*[cie.Bands]float64)(&basis[j]))
		}
		for j := range ds {
			f.jac[c][j] += byS[c] * ds[j]
		}
	}
}

// colorant closes the fit: the gains tell how the parameters would follow a slightly
// different swatch. Noise of one unit in the swatch keeps them finite where the colour
// hardly answers.
func (f *swatchFit) colorant() Colorant {
	c := Colorant{Kind: f.kind, K: f.k, S: flatSpectrum(f.s), Dose: f.dose, Swatch: f.want, Reached: f.lab}
	last := swatchParams - 1
	var gain [swatchParams][3]float64
	for col := range 3 {
		var a [3][3]float64
		for r := range a {
			for q := range a {
				for j, sd := range f.sd {
					a[r][q] += f.jac[r][j] * sd * sd * f.jac[q][j]
				}
			}
			a[r][r]++
		}
		var b [3]float64
		b[col] = 1
		if !solve3(&a, &b) {
			continue
		}
		for j, sd := range f.sd {
			gain[j][col] = sd * sd * (f.jac[0][j]*b[0] + f.jac[1][j]*b[1] + f.jac[2][j]*b[2])
		}
	}
	basis := shapeBasis()
	for i := range c.lnK {
		for col := range 3 {
			v := gain[0][col]
			for j := range basis {
				v += gain[1+j][col] * basis[j][i]
			}
			c.lnK[i][col] = v
			c.rho[i] -= v * f.jac[col][last]
		}
	}
	if f.kind == White {
		c.lnS = gain[last]
		c.rho = cie.Spectrum{}
	}
	return c
}

// Perturbed gives the K and S which a swatch off by dLab, and a scattering off by dLnRho
// (natural log; of s itself for a white), would have led to, to first order in ln k and
// ln s: what a forecast draws to show how wide a swatch's word is. Changes beyond a factor
// of exp(3) are held there, where first order says nothing any more.
func (c *Colorant) Perturbed(dLab cie.Lab, dLnRho float64) (k, s cie.Spectrum) {
	var before, after float64
	for i := range k {
		g := &c.lnK[i]
		k[i] = c.K[i] * math.Exp(clampLog(g[0]*dLab.L+g[1]*dLab.A+g[2]*dLab.B+c.rho[i]*dLnRho))
		before += c.K[i]
		after += k[i]
	}
	var scale float64
	if c.Kind == White {
		scale = math.Exp(clampLog(c.lnS[0]*dLab.L + c.lnS[1]*dLab.A + c.lnS[2]*dLab.B + dLnRho))
	} else {
		scale = math.Exp(clampLog(dLnRho)) * after / before
	}
	for i := range s {
		s[i] = c.S[i] * scale
	}
	return k, s
}

func clampLog(v float64) float64 { return math.Max(-logStepLimit, math.Min(logStepLimit, v)) }

func flatSpectrum(v float64) (s cie.Spectrum) {
	for i := range s {
		s[i] = v
	}
	return s
}
