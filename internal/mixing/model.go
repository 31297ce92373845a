package mixing

import (
	"math"
	"slices"

	"lyefast/internal/cie"
)

// The parameters of a colourant: the level of ln k, the coefficients of its shape along
// the spectrum, and ln ρ (ln s for a white). The parameters of browning: ln of the scale,
// the power of the dose, a few shape coefficients on top of BrownShape, then one ln factor
// for each scent.
const (
	learnShapes = 6
	perColorant = learnShapes + 2
	brownShapes = 3
	brownFixed  = 2 + brownShapes
)

// brownShapeSD is the doubt about the shape of browning, of its coefficients: it covers a
// slope uncertain by 0.0015 per nm and a redness of some units of a*.
const brownShapeSD = 0.3

// model is the forward formula with parameters: what the fit moves.
type model struct {
	kinds  []Kind
	scents int
	theta  []float64
	mean   []float64 // prior
	prec   []float64 // prior, 1/variance

	k     []cie.Spectrum
	s     []float64
	ds    [][perColorant]float64 // ∂s by the colourant's own parameters
	brown cie.Spectrum           // K/S of browning of dose 1
}

func newModel(kinds []Kind, scents int, brown BrownPrior) *model {
	n := len(kinds)*perColorant + brownFixed + scents
	m := &model{
		kinds: kinds, scents: scents,
		theta: make([]float64, n), mean: make([]float64, n), prec: make([]float64, n),
		k: make([]cie.Spectrum, len(kinds)), s: make([]float64, len(kinds)), ds: make([][perColorant]float64, len(kinds)),
	}
	for c, kind := range kinds {
		p := c * perColorant
		level, lnS := p, p+perColorant-1
		m.mean[level], m.prec[level] = -1, precision(levelSD)
		m.mean[lnS], m.prec[lnS] = lnRhoMean, precision(lnRhoSD)
		if kind == White {
			m.mean[level], m.prec[level] = whiteLevelMean, precision(whiteLevelSD)
			m.mean[lnS], m.prec[lnS] = whiteLnSMean, precision(whiteLnSSD)
		}
		for j := 1; j <= learnShapes; j++ {
			m.prec[p+j] = 1
		}
	}
	b := m.brownAt()
	m.mean[b], m.prec[b] = brown.LnScale, precision(brown.LnScaleSD)
	m.mean[b+1], m.prec[b+1] = brown.Power, precision(brown.PowerSD)
	for j := range brownShapes {
		m.prec[b+2+j] = precision(brownShapeSD)
	}
	for j := range scents {
		m.prec[b+brownFixed+j] = precision(brown.ScentSD)
	}
	return m
}

// precision is 1/sd², bounded so that "known exactly" stays solvable.
func precision(sd float64) float64 {
	sd = math.Max(sd, 1e-4)
	return 1 / (sd * sd)
}

// clone is a copy whose parameters and spectra may be moved without moving these.
func (m *model) clone() *model {
	c := *m
	c.theta = slices.Clone(m.theta)
	c.k, c.s, c.ds = slices.Clone(m.k), slices.Clone(m.s), slices.Clone(m.ds)
	return &c
}

func (m *model) brownAt() int { return len(m.kinds) * perColorant }

// unpack fills spectra and scattering from the parameters.
func (m *model) unpack() {
	for c := range m.kinds {
		m.unpackColorant(c)
	}
	m.unpackBrown()
}

func (m *model) unpackColorant(c int) {
	basis := shapeBasis()
	th := m.theta[c*perColorant : (c+1)*perColorant]
	k := &m.k[c]
	*k = spectrumOf(th[0], th[1:1+learnShapes])
	var mean float64
	for _, v := range k {
		mean += v
	}
	mean /= cie.Bands
	ds := &m.ds[c]
	*ds = [perColorant]float64{}
	m.s[c] = math.Exp(math.Max(-30, math.Min(30, th[perColorant-1])))
	if m.kinds[c] == Colour {
		rho := m.s[c]
		m.s[c] *= mean
		ds[0] = m.s[c]
		for j := range learnShapes {
			ds[1+j] = rho * dot((*[cie.Bands]float64)(k), (*[cie.Bands]float64)(&basis[j])) / cie.Bands
		}
	}
	ds[perColorant-1] = m.s[c]
}

func (m *model) unpackBrown() {
	b := m.brownAt()
	m.brown = spectrumOf(m.theta[b], m.theta[b+2:b+2+brownShapes])
	for i, v := range BrownShape {
		m.brown[i] *= v
	}
}

// spectrumOf is exp(level + Σ shape_j·basis_j).
func spectrumOf(level float64, shape []float64) (k cie.Spectrum) {
	basis := shapeBasis()
	for i := range k {
		k[i] = level
	}
	for j, c := range shape {
		b := &basis[j]
		for i := range k {
			k[i] += c * b[i]
		}
	}
	for i, v := range k {
		k[i] = math.Exp(math.Max(-40, math.Min(40, v)))
	}
	return k
}

// row is a recipe ready for the formula, with what was read from it if it was made.
type row struct {
	ks     cie.Spectrum // of the base
	lnKS   *[cie.Bands][3]float64
	baseV  [3][3]float64 // covariance of the base's Lab
	use    []use
	brown  float64
	scent  int   // -1 = none
	params []int // that the colour hangs on, ascending

	base, y  cie.Lab
	noise    [3]float64 // variance of the reading
	fromBase [3]float64 // variance that comes from the base
	dE       float64    // of y from the base
	stretch  float64    // 1 + 0.02·chroma of y, for the chroma parts of the discrepancy
	v        [3]float64 // whole variance, at the present size of the discrepancy
	jac      [3][]float64
	res      [3]float64
	swatch   bool
}

type use struct {
	c    int
	dose float64
}

// listParams fills params from use, brown and scent.
func (r *row) listParams(m *model) {
	r.params = r.params[:0]
	for _, u := range r.use {
		for j := range perColorant {
			r.params = append(r.params, u.c*perColorant+j)
		}
	}
	if r.brown > 0 {
		for j := range brownFixed {
			r.params = append(r.params, m.brownAt()+j)
		}
		if r.scent >= 0 {
			r.params = append(r.params, m.brownAt()+brownFixed+r.scent)
		}
	}
	for c := range r.jac {
		if cap(r.jac[c]) < len(r.params) {
			r.jac[c] = make([]float64, len(r.params))
		}
		r.jac[c] = r.jac[c][:len(r.params)]
	}
}

// strength is the factor on m.brown in this row.
func (m *model) strength(r *row) float64 {
	b := m.brownAt()
	ln := m.theta[b+1] * math.Log(r.brown)
	if r.scent >= 0 {
		ln += m.theta[b+brownFixed+r.scent]
	}
	return math.Exp(math.Max(-40, math.Min(40, ln)))
}

// mix gives numerator and denominator of K/S.
func (m *model) mix(r *row) (num cie.Spectrum, den, brown float64) {
	num, den = r.ks, 1
	for _, u := range r.use {
		k := &m.k[u.c]
		for i := range num {
			num[i] += u.dose * k[i]
		}
		den += u.dose * m.s[u.c]
	}
	if r.brown > 0 {
		brown = m.strength(r)
		for i := range num {
			num[i] += brown * m.brown[i]
		}
	}
	return num, den, brown
}

// colour is the colour of the row.
func (m *model) colour(r *row) cie.Lab {
	num, den, _ := m.mix(r)
	inv := 1 / den
	for i, v := range num {
		num[i] = SoapSurface.seenFromKS(v * inv)
	}
	return num.Lab()
}

// differentiate gives the colour of the row and fills r.jac, its derivatives by r.params.
func (m *model) differentiate(r *row) cie.Lab {
	basis := shapeBasis()
	num, den, brown := m.mix(r)
	inv := 1 / den
	var seen, slope [cie.Bands]float64
	for i, v := range num {
		seen[i], slope[i] = SoapSurface.seenSlope(v * inv)
	}
	lab, g := labGradient(&seen)
	for c := range g {
		gc := &g[c]
		var byDen float64
		for i := range gc {
			gc[i] *= slope[i] * inv
			byDen -= gc[i] * num[i]
		}
		byDen *= inv
		jac := r.jac[c]
		at := 0
		for _, u := range r.use {
			k := &m.k[u.c]
			var byLnK [cie.Bands]float64
			var level float64
			for i := range byLnK {
				byLnK[i] = gc[i] * k[i] * u.dose
				level += byLnK[i]
			}
			ds := &m.ds[u.c]
			byS := byDen * u.dose
			jac[at] = level + byS*ds[0]
			for j := range learnShapes {
				jac[at+1+j] = dot(&byLnK, (*[cie.Bands]float64)(&basis[j])) + byS*ds[1+j]
			}
			jac[at+1+learnShapes] = byS * ds[1+learnShapes]
			at += perColorant
		}
		if r.brown > 0 {
			var byLnU [cie.Bands]float64
			var level float64
			for i := range byLnU {
				byLnU[i] = gc[i] * m.brown[i] * brown
				level += byLnU[i]
			}
			jac[at], jac[at+1] = level, level*math.Log(r.brown)
			for j := range brownShapes {
				jac[at+2+j] = dot(&byLnU, (*[cie.Bands]float64)(&basis[j]))
			}
			if r.scent >= 0 {
				jac[at+brownFixed] = level
			}
		}
	}
	return lab
}

// baseSlope gives ∂Lab/∂Lab of the base: how much of a doubt about the base shows
// through.
func (m *model) baseSlope(r *row) (d [3][3]float64) {
	num, den, _ := m.mix(r)
	var seen, slope [cie.Bands]float64
	for i, v := range num {
		seen[i], slope[i] = SoapSurface.seenSlope(v / den)
	}
	_, g := labGradient(&seen)
	for c := range d {
		for i, v := range g[c] {
			v *= slope[i] / den * r.ks[i]
			for b := range 3 {
				d[c][b] += v * r.lnKS[i][b]
			}
		}
	}
	return d
}
