package exchange

import (
	"fmt"
	"math"
	"sort"

	"lyefast/internal/cie"
)

// Spectrum is a reflectance as measured: R[i] (1 for the perfect diffuser, a
// little below 0 by noise, above 1 with brighteners) at NM[i] nanometres, rising.
type Spectrum struct {
	NM []float64 `json:"nm"`
	R  []float64 `json:"r"`
}

// newSpectrum sorts the points and joins doubled wavelengths. Two values of one
// wavelength that differ by more than 0.005 (half a per cent, the repeatability
// of a hand-held instrument; common practice, no source) are a contradiction.
func newSpectrum(nm, r []float64) (*Spectrum, error) {
	if len(nm) > maxSpectrum {
		return nil, fmt.Errorf("a spectrum of %d wavelengths is longer than %d", len(nm), maxSpectrum)
	}
	order := make([]int, len(nm))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return nm[order[i]] < nm[order[j]] })
	s := &Spectrum{}
	for k := 0; k < len(order); {
		w, sum, n := nm[order[k]], 0.0, 0
		lo, hi := math.Inf(1), math.Inf(-1)
		for ; k < len(order) && nm[order[k]] == w; k++ {
			v := r[order[k]]
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("the reflectance at %s nm is not a number", plain(w))
			}
			lo, hi = min(lo, v), max(hi, v)
			sum += v
			n++
		}
		if hi-lo > 0.005*max(1, hi) { // in per cent the values are a hundred times as large
			return nil, fmt.Errorf("%s nm stands twice with different values, %s and %s", plain(w), plain(lo), plain(hi))
		}
		s.NM = append(s.NM, w)
		s.R = append(s.R, sum/float64(n))
	}
	return s, nil
}

// Range of a spectrum that a colour can be had from. Outside 420–680 nm lie 2 %
// of the weight of each of X, Y and Z at most, so the ends may be held there;
// steps up to 20 nm are those of ordinary instruments (ASTM E308).
const (
	needFrom, needTo = 420.0, 680.0
	maxStep          = 20.0
)

// Resample gives the spectrum at 380, 390 … 730 nm: the value itself where the
// instrument has that wavelength, else the cubic through the two points on
// either side (the interpolation of ASTM E2022), and beyond the ends the last
// value. Small negative values, which are noise, become 0.
//
// Figures for this, on smooth reflectances under D65, 2° (see the tests): from
// 400–700 nm by 10 the colour is within ΔE00 0.3 of that from 380–730, from
// 20 nm steps within 0.5, from 5 nm steps within 0.1.
//
// It fails where the spectrum does not reach from 420 to 680 nm, has a gap of
// more than 20 nm there, or holds a value below -0.05.
func (s *Spectrum) Resample() (cie.Spectrum, error) {
	var out cie.Spectrum
	n := len(s.NM)
	if n < 2 || s.NM[0] > needFrom || s.NM[n-1] < needTo {
		return out, fmt.Errorf("the spectrum does not reach from %g to %g nm", needFrom, needTo)
	}
	for i, v := range s.R {
		if v < -0.05 {
			return out, fmt.Errorf("the reflectance at %s nm is %s, far below 0", plain(s.NM[i]), plain(v))
		}
		if i > 0 && s.NM[i]-s.NM[i-1] > maxStep && s.NM[i] > needFrom && s.NM[i-1] < needTo {
			return out, fmt.Errorf("the spectrum has a gap from %s to %s nm", plain(s.NM[i-1]), plain(s.NM[i]))
		}
	}
	for i := range out {
		out[i] = max(0, s.at(cie.Wavelength(i)))
	}
	return out, nil
}

// at interpolates by Lagrange's cubic through the four nearest points (fewer at
// an end), and holds the ends. It never leaves the range of its two neighbours
// by more than half their distance, so that one bad point does not spread.
func (s *Spectrum) at(w float64) float64 {
	n := len(s.NM)
	switch {
	case w <= s.NM[0]:
		return s.R[0]
	case w >= s.NM[n-1]:
		return s.R[n-1]
	}
	k := sort.SearchFloat64s(s.NM, w)
	if s.NM[k] == w {
		return s.R[k]
	}
	from, to := max(0, k-2), min(n, k+2)
	sum := 0.0
	for i := from; i < to; i++ {
		l := s.R[i]
		for j := from; j < to; j++ {
			if j != i {
				l *= (w - s.NM[j]) / (s.NM[i] - s.NM[j])
			}
		}
		sum += l
	}
	lo, hi := min(s.R[k-1], s.R[k]), max(s.R[k-1], s.R[k])
	half := (hi - lo) / 2
	return min(max(sum, lo-half), hi+half)
}

// scaleSpectra brings the spectra of a file, which share one scale, to 0–1. More
// than 2 (200 %) is no reflectance of soap, so such a file is in per cent. A
// file of dark colours may stay below 2 in per cent as well: there the L*
// beside the spectrum decides, where there is one.
func scaleSpectra(samples []Sample) (percent bool) {
	high := 0.0
	for i := range samples {
		if s := samples[i].Spectrum; s != nil {
			for _, v := range s.R {
				high = max(high, v)
			}
		}
	}
	percent = high > 2
	if !percent && high > 0 {
		var whole, hundredth float64
		n := 0
		for i := range samples {
			s := &samples[i]
			if s.Spectrum == nil || s.fromSpectrum {
				continue
			}
			r, err := s.Spectrum.Resample()
			if err != nil {
				continue
			}
			whole += math.Abs(r.Lab().L - s.Lab.L)
			for j := range r {
				r[j] /= 100
			}
			hundredth += math.Abs(r.Lab().L - s.Lab.L)
			if n++; n == 100 {
				break
			}
		}
		percent = n > 0 && hundredth < whole
	}
	if percent {
		for i := range samples {
			if s := samples[i].Spectrum; s != nil {
				for j := range s.R {
					s.R[j] /= 100
				}
			}
		}
	}
	return percent
}

// daylight holds the components S0, S1, S2 of CIE daylight, 380–730 nm by 10 nm
// (CIE 15, Table T.2), from which the power of D50, D55, D65 and D75 follows.
var daylight = [cie.Bands][3]float64{
	{63.4, 38.5, 3.0}, {65.8, 35.0, 1.2}, {94.8, 43.4, -1.1}, {104.8, 46.3, -0.5},
	{105.9, 43.9, -0.7}, {96.8, 37.1, -1.2}, {113.9, 36.7, -2.6}, {125.6, 35.9, -2.9},
	{125.5, 32.6, -2.8}, {121.3, 27.9, -2.6}, {121.3, 24.3, -2.6}, {113.5, 20.1, -1.8},
	{113.1, 16.2, -1.5}, {110.8, 13.2, -1.3}, {106.5, 8.6, -1.2}, {108.8, 6.1, -1.0},
	{105.3, 4.2, -0.5}, {104.4, 1.9, -0.3}, {100.0, 0.0, 0.0}, {96.0, -1.6, 0.2},
	{95.1, -3.5, 0.5}, {89.1, -3.5, 2.1}, {90.5, -5.8, 3.2}, {90.3, -7.2, 4.1},
	{88.4, -8.6, 4.7}, {84.0, -9.5, 5.1}, {85.1, -10.9, 6.7}, {81.9, -10.7, 7.3},
	{82.6, -12.0, 8.6}, {84.9, -14.0, 9.8}, {81.3, -13.6, 10.2}, {71.9, -12.0, 8.3},
	{74.3, -13.3, 9.6}, {76.4, -12.9, 8.5}, {63.3, -10.6, 7.0}, {71.7, -11.6, 7.6},
}

// cmf1964 is the CIE 1964 10° observer, 380–730 nm by 10 nm (CIE 15, Table T.5).
// Typed from memory; the whites that follow from it for D50 and D65 agree with
// those of ASTM E308 (see the tests).
var cmf1964 = [cie.Bands][3]float64{
	{0.000160, 0.000017, 0.000705}, {0.002362, 0.000253, 0.010482},
	{0.019110, 0.002004, 0.086011}, {0.084736, 0.008756, 0.389366},
	{0.204492, 0.021391, 0.972542}, {0.314679, 0.038676, 1.553480},
	{0.383734, 0.062077, 1.967280}, {0.370702, 0.089456, 1.994800},
	{0.302273, 0.128201, 1.745370}, {0.195618, 0.185190, 1.317560},
	{0.080507, 0.253589, 0.772125}, {0.016172, 0.339133, 0.415254},
	{0.003816, 0.460777, 0.218502}, {0.037465, 0.606741, 0.112044},
	{0.117749, 0.761757, 0.060709}, {0.236491, 0.875211, 0.030451},
	{0.376772, 0.961988, 0.013676}, {0.529826, 0.991761, 0.003988},
	{0.705224, 0.997340, 0}, {0.878655, 0.955552, 0},
	{1.014160, 0.868934, 0}, {1.118520, 0.777405, 0},
	{1.123990, 0.658341, 0}, {1.030480, 0.527963, 0},
	{0.856297, 0.398057, 0}, {0.647467, 0.283493, 0},
	{0.431567, 0.179828, 0}, {0.268329, 0.107633, 0},
	{0.152568, 0.060281, 0}, {0.081261, 0.031800, 0},
	{0.040851, 0.015905, 0}, {0.019941, 0.007749, 0},
	{0.009577, 0.003718, 0}, {0.004553, 0.001768, 0},
	{0.002175, 0.000846, 0}, {0.001045, 0.000407, 0},
}

// power is the relative spectral power of a daylight of the given nominal
// colour temperature in K (CIE 15, formulae 3.3–3.5; the nominal temperatures
// are older than today's second radiation constant, hence the factor).
func power(nominal float64) (p [cie.Bands]float64) {
	t := nominal * 1.4388 / 1.4380
	x := -4.6070e9/(t*t*t) + 2.9678e6/(t*t) + 0.09911e3/t + 0.244063
	if t > 7000 {
		x = -2.0064e9/(t*t*t) + 1.9018e6/(t*t) + 0.24748e3/t + 0.237040
	}
	y := -3*x*x + 2.870*x - 0.275
	m := 0.0241 + 0.2562*x - 0.7341*y
	m1 := (-1.3515 - 1.7703*x + 5.9114*y) / m
	m2 := (0.0300 - 31.4424*x + 30.0717*y) / m
	for i, s := range daylight {
		p[i] = s[0] + m1*s[1] + m2*s[2]
	}
	return p
}

// incandescent is the relative power of illuminant A (ISO/CIE 11664-2).
func incandescent() (p [cie.Bands]float64) {
	for i := range p {
		w := cie.Wavelength(i)
		p[i] = 100 * math.Pow(560/w, 5) * math.Expm1(1.435e7/(2848*560)) / math.Expm1(1.435e7/(2848*w))
	}
	return p
}

// seen is the condition a colour is seen under.
type seen struct {
	illuminant string
	observer   int
}

// weighting turns a spectrum into XYZ, with the XYZ of the perfect diffuser.
type weighting struct {
	w     [cie.Bands][3]float64
	white cie.XYZ
}

func newWeighting(w [cie.Bands][3]float64) *weighting {
	g := &weighting{w: w}
	var one cie.Spectrum
	for i := range one {
		one[i] = 1
	}
	white := g.xyz(&one)
	g.white = cie.XYZ{X: white.X / white.Y, Y: 1, Z: white.Z / white.Y}
	for i := range g.w {
		for c := range 3 {
			g.w[i][c] /= white.Y
		}
	}
	return g
}

func (g *weighting) xyz(r *cie.Spectrum) (c cie.XYZ) {
	for i, v := range r {
		c.X += g.w[i][0] * v
		c.Y += g.w[i][1] * v
		c.Z += g.w[i][2] * v
	}
	return c
}

// weights are the conditions that this package knows the spectra of. They serve
// to compute L*a*b* where a file gives spectra only, and to check a spectrum
// against the L*a*b* beside it; the colour for D65, 2° always comes from package
// cie.
var weights = makeWeights()

func makeWeights() map[seen]*weighting {
	d65 := power(6500)
	out := map[seen]*weighting{}
	for name, p := range map[string][cie.Bands]float64{
		"D50": power(5000), "D55": power(5500), "D65": d65, "D75": power(7500), "A": incandescent(),
	} {
		var two, ten [cie.Bands][3]float64
		for i := range p {
			for c := range 3 {
				two[i][c] = cie.WeightsD65[i][c] * p[i] / d65[i]
				ten[i][c] = cmf1964[i][c] * p[i]
			}
		}
		out[seen{name, 2}], out[seen{name, 10}] = newWeighting(two), newWeighting(ten)
	}
	return out
}

// labUnder computes the colour of a spectrum under a condition, against the
// white of the same sums, so that a grey comes out neutral; false where the
// condition's power is not known here.
func labUnder(r *cie.Spectrum, at seen) (cie.Lab, bool) {
	if at == (seen{"D65", 2}) {
		return r.Lab(), true
	}
	g := weights[at]
	if g == nil {
		return cie.Lab{}, false
	}
	return g.xyz(r).Lab(g.white), true
}
