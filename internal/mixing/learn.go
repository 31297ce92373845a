package mixing

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"lyefast/internal/cie"
)

// Sizes of the errors the fit allows for beside the noise of the readings.
const (
	// discrepancyMean is what the formula itself is off, as a share of the ΔE from the
	// base, before the readings have their say; discrepancyWeight is what that belief
	// counts, in readings of one coordinate.
	discrepancyMean, discrepancyWeight = 0.03, 15
	discrepancyLow, discrepancyHigh    = 0.003, 0.1
	chromaStretch                      = 0.02 // discrepancy of a* and b* grows with chroma, as ΔE00 forgives it
	// shapeWeight is what the prior belief in shapeSD counts, in shape coefficients.
	shapeWeight = 20
)

// Shelf is what the portions taught: each colourant's absorption and scattering, the
// strength of browning, and how far all of it can be trusted. It is not changed by use and
// may be shared between goroutines.
type Shelf struct {
	names  []string
	index  map[string]int
	scents map[string]int
	reads  []int     // portions of each colourant
	most   []float64 // largest dose read of each, its swatch included
	m      *model
	family *family

	group   []int // of each parameter: -1 the main group, else the colourant known by its swatch only
	hinv    []float64
	main    []int // parameters of the main group
	pos     []int // place of a parameter in its group
	singles map[int][]float64

	rel   float64 // share of ΔE the formula is off
	scale float64 // of all variances, from readings left out
	res   residual
	rows  []*row
	made  []string // names of the portions, in the order of rows
}

// fit is a shelf in the making.
type fit struct {
	*Shelf
	rowsOf [][]*row // rows by colourant
}

// Learn fits one shelf to all portions with a settled colour and to the swatches of the
// prior: a penalised least-squares fit in Lab (Levenberg–Marquardt; D. W. Marquardt, J.
// SIAM 11 (1963) 431). The size of the formula's own error and the roughness of the spectra
// are set by how many effective parameters the portions determine (D. J. C. MacKay, Neural
// Computation 4 (1992) 415); then that error is taken as shared between portions of
// like composition, which gives the fit its last turn and the forecast a correction where
// there is data enough. k and s stay positive throughout. Portions are given oldest first;
// order matters only beyond the last few hundred, which alone share that error.
//
// Errors name the portion that makes no sense, or wrap [ErrTooMuch].
func Learn(portions []Portion, prior Prior) (*Shelf, error) {
	f, err := newFit(portions, prior)
	if err != nil {
		return nil, err
	}
	mainRows := f.mainRows()
	f.levels()
	f.swatches()
	f.solve(f.main, mainRows, 50)
	for range 3 {
		if !f.weighEvidence(mainRows) {
			break
		}
		f.solve(f.main, mainRows, 20)
	}
	if err := f.closeMain(mainRows); err != nil {
		return nil, err
	}
	for c := range f.names {
		if f.reads[c] == 0 {
			if err := f.closeSingle(c); err != nil {
				return nil, err
			}
		}
	}
	return f.Shelf, nil
}

func newFit(portions []Portion, prior Prior) (*fit, error) {
	if len(portions) > MaxPortions {
		return nil, fmt.Errorf("%d portions, at most %d: %w", len(portions), MaxPortions, ErrTooMuch)
	}
	if err := prior.check(); err != nil {
		return nil, err
	}
	if prior.Brown == (BrownPrior{}) {
		prior.Brown = DefaultBrown
	}
	s := &Shelf{index: map[string]int{}, scents: map[string]int{}, scale: 1, rel: discrepancyMean, singles: map[int][]float64{}}
	reads, most := map[string]int{}, map[string]float64{}
	for i := range portions {
		p := &portions[i]
		if err := p.check(); err != nil {
			return nil, fmt.Errorf("portion %d %q: %w", i+1, p.Name, err)
		}
		for _, a := range p.Doses {
			if a.Dose > 0 {
				reads[a.Colorant]++
				most[a.Colorant] = math.Max(most[a.Colorant], a.Dose)
			}
		}
		if _, ok := s.scents[p.Scent]; !ok && p.Brown > 0 && p.Scent != "" {
			s.scents[p.Scent] = len(s.scents)
		}
	}
	if len(reads) > MaxLearned {
		return nil, fmt.Errorf("portions of %d colourants, at most %d: %w", len(reads), MaxLearned, ErrTooMuch)
	}
	for name, c := range prior.Colorants {
		if c.Swatch != nil {
			most[name] = math.Max(most[name], c.Swatch.Dose)
		}
	}
	for name := range most {
		s.names = append(s.names, name)
	}
	slices.Sort(s.names)
	var kinds []Kind
	for i, name := range s.names {
		s.index[name] = i
		s.reads = append(s.reads, reads[name])
		s.most = append(s.most, most[name])
		kinds = append(kinds, prior.Colorants[name].Kind)
	}
	s.m = newModel(kinds, len(s.scents), prior.Brown)
	s.family = newFamily(portions)
	known := newBases(s.family)
	f := &fit{Shelf: s, rowsOf: make([][]*row, len(s.names))}
	for i := range portions {
		p := &portions[i]
		r, err := s.row(known, &p.Recipe)
		if err != nil {
			return nil, fmt.Errorf("portion %d %q: %w", i+1, p.Name, err)
		}
		f.add(r, p.Name, p.Base, p.Lab, p.SD)
	}
	for i, name := range s.names {
		w := prior.Colorants[name].Swatch
		if w == nil {
			continue
		}
		r, err := s.row(known, &Recipe{Base: w.Base, Doses: []Amount{{name, w.Dose}}})
		if err != nil {
			return nil, fmt.Errorf("swatch of %q: %w", s.names[i], err)
		}
		r.swatch = true
		sd := w.SD
		if sd == (cie.Lab{}) {
			sd = SwatchSD
		}
		f.add(r, "swatch of "+name, w.Base, w.Lab, sd)
	}
	s.group = make([]int, len(s.m.theta))
	s.pos = make([]int, len(s.m.theta))
	return f, nil
}

// row makes a recipe ready. Every colourant must be known.
func (s *Shelf) row(b *bases, q *Recipe) (*row, error) {
	base, left, err := b.of(q.Base, q.BaseSD)
	if err != nil {
		return nil, err
	}
	r := &row{ks: base.KS, lnKS: &base.lnKS, baseV: left, base: q.Base, brown: q.Brown, scent: -1}
	for _, a := range q.Doses {
		if a.Dose > 0 {
			r.use = append(r.use, use{s.index[a.Colorant], a.Dose})
		}
	}
	slices.SortFunc(r.use, func(a, b use) int { return a.c - b.c })
	if i, ok := s.scents[q.Scent]; ok && q.Brown > 0 {
		r.scent = i
	}
	r.listParams(s.m)
	return r, nil
}

func (f *fit) add(r *row, name string, base, lab, sd cie.Lab) {
	r.y = lab
	r.dE = norm(lab.Sub(base))
	r.stretch = 1 + chromaStretch*math.Hypot(lab.A, lab.B)
	for c, v := range vec(sd) {
		v = math.Max(v, minSD)
		r.noise[c] = v * v
		r.fromBase[c] = r.baseV[c][c]
	}
	f.rows = append(f.rows, r)
	f.made = append(f.made, name)
	for _, u := range r.use {
		f.rowsOf[u.c] = append(f.rowsOf[u.c], r)
	}
}

// mainRows are the rows of the main group: all portions, and the swatches of colourants
// which have portions.
func (f *fit) mainRows() (rows []*row) {
	for _, r := range f.rows {
		if !r.swatch || f.reads[r.use[0].c] > 0 {
			rows = append(rows, r)
		}
	}
	return rows
}

// levels sets the prior mean of each colour's level and the start of the fit: the
// smallest ln k that the lightness of any portion leaves to it, as if it were grey and
// alone in it.
func (f *fit) levels() {
	for c, rows := range f.rowsOf {
		if f.m.kinds[c] == White {
			continue
		}
		least := math.Inf(1)
		for _, r := range rows {
			for _, u := range r.use {
				if u.c != c {
					continue
				}
				y := math.Min(0.98, math.Max(SoapSurface.Floor+0.004, r.y.XYZ(cie.D65).Y))
				yb := math.Min(0.98, math.Max(SoapSurface.Floor+0.004, r.base.XYZ(cie.D65).Y))
				k := math.Max(0.01, KSFromR(SoapSurface.Inside(y))-KSFromR(SoapSurface.Inside(yb)))
				least = math.Min(least, math.Log(k/u.dose))
			}
		}
		f.m.mean[c*perColorant] = least
	}
	copy(f.m.theta, f.m.mean)
}

// swatches starts each colourant that has a swatch from the smoothest spectrum that gives
// it, and centres the prior there: without portions the forecast is the swatch itself, and
// how far it is trusted is the business of its row.
func (f *fit) swatches() {
	m := f.m
	for _, r := range f.rows {
		if !r.swatch {
			continue
		}
		c := r.use[0].c
		w := solveSwatch(&r.ks, r.y, r.use[0].dose, m.kinds[c], SoapSurface)
		params := make([]int, perColorant)
		for j := range params {
			params[j] = c*perColorant + j
			m.theta[params[j]] = w.theta[j]
		}
		m.theta[params[perColorant-1]] = w.theta[swatchParams-1]
		for j, p := range params {
			m.mean[p] = m.theta[p]
			f.group[p], f.pos[p] = c, j
		}
		// Fewer shape coefficients than the swatch was solved with: close the gap.
		noise := r.noise
		r.noise = [3]float64{0.01, 0.01, 0.01}
		m.unpackColorant(c)
		f.solve(params, []*row{r}, 10)
		r.noise = noise
		for _, p := range params {
			m.mean[p] = m.theta[p]
		}
	}
	m.unpack()
	f.assign()
}

// assign sorts the parameters into their groups.
func (s *Shelf) assign() {
	s.main = s.main[:0]
	for p := range s.group {
		c := p / perColorant
		if c < len(s.names) && s.reads[c] == 0 {
			s.group[p], s.pos[p] = c, p%perColorant
			continue
		}
		s.group[p], s.pos[p] = -1, len(s.main)
		s.main = append(s.main, p)
	}
}

// weigh sets the variances of a row for the present size of the discrepancy.
func (s *Shelf) weigh(r *row) {
	for c := range r.v {
		d := s.off(r, c)
		r.v[c] = r.noise[c] + r.fromBase[c] + d*d
	}
}

// off is the standard deviation of the formula's own error in coordinate c.
func (s *Shelf) off(r *row, c int) float64 {
	d := s.rel * r.dE
	if c > 0 {
		d *= r.stretch
	}
	return d
}

// cost of the parameters in the rows given, each with its variances.
func (f *fit) cost(params []int, rows []*row) float64 {
	m := f.m
	f.unpack(params)
	var sum float64
	for _, r := range rows {
		d := vec(r.y.Sub(m.colour(r)))
		for c, v := range d {
			sum += v * v / r.v[c]
		}
	}
	for _, p := range params {
		d := m.theta[p] - m.mean[p]
		sum += d * d * m.prec[p]
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// unpack recomputes only the spectra that the parameters touch.
func (f *fit) unpack(params []int) {
	last := -1
	for _, p := range params {
		c := p / perColorant
		if c >= len(f.names) {
			f.m.unpackBrown()
			return
		}
		if c != last {
			f.m.unpackColorant(c)
			last = c
		}
	}
}

// eachRow shares the rows among the cores. The work may read the model and write its own row
// only, so that the sums made from the rows afterwards do not depend on the number of cores.
func eachRow(rows []*row, work func(*row)) {
	share := max(32, (len(rows)+runtime.GOMAXPROCS(0)-1)/runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for part := range slices.Chunk(rows, share) {
		wg.Go(func() {
			for _, r := range part {
				work(r)
			}
		})
	}
	wg.Wait()
}

// normal fills the lower triangle of JᵀV⁻¹J + prior and the gradient, in the order of
// params.
func (f *fit) normal(params []int, rows []*row, a, g []float64) {
	m, n := f.m, len(params)
	clear(a)
	for i, p := range params {
		a[i*n+i] = m.prec[p]
		g[i] = -m.prec[p] * (m.theta[p] - m.mean[p])
	}
	eachRow(rows, func(r *row) { r.res = vec(r.y.Sub(m.differentiate(r))) })
	for _, r := range rows {
		for c := range r.jac {
			jac := r.jac[c]
			w := 1 / r.v[c]
			for i, p := range r.params {
				ip := f.pos[p]
				v := jac[i] * w
				g[ip] += v * r.res[c]
				line := a[ip*n : ip*n+ip+1]
				for j, q := range r.params[:i+1] {
					line[f.pos[q]] += v * jac[j]
				}
			}
		}
	}
}

// solve is a Levenberg–Marquardt descent over the parameters given.
func (f *fit) solve(params []int, rows []*row, limit int) {
	m, n := f.m, len(params)
	for _, r := range rows {
		f.weigh(r)
	}
	a, b := make([]float64, n*n), make([]float64, n*n)
	g, x, old := make([]float64, n), make([]float64, n), make([]float64, n)
	now, mu := f.cost(params, rows), 1e-2
	for range limit {
		f.normal(params, rows, a, g)
		for i, p := range params {
			old[i] = m.theta[p]
		}
		gain := 0.0
		for range 12 {
			copy(b, a)
			for i, p := range params {
				b[i*n+i] += mu * math.Max(a[i*n+i], m.prec[p])
			}
			copy(x, g)
			if cholesky(b, n) {
				forward(b, n, x)
				backward(b, n, x)
				for i, p := range params {
					m.theta[p] = old[i] + math.Max(-1.5, math.Min(1.5, x[i]))
				}
				if next := f.cost(params, rows); next < now {
					gain, now = now-next, next
					break
				}
			}
			mu *= 6
		}
		if gain == 0 {
			for i, p := range params {
				m.theta[p] = old[i]
			}
			break
		}
		mu = math.Max(mu/6, 1e-7)
		if gain < 1e-3 {
			break
		}
	}
	f.unpack(params)
}

// weighEvidence resets the size of the formula's own error and the roughness of spectra
// from the number of effective parameters. It reports false when nothing changed much.
func (f *fit) weighEvidence(rows []*row) bool {
	if len(rows) == 0 {
		return false
	}
	m, n := f.m, len(f.main)
	a, g := make([]float64, n*n), make([]float64, n)
	f.normal(f.main, rows, a, g)
	if !cholesky(a, n) {
		return false
	}
	variances := inverseDiagonal(a, n)
	var effective, shapes, squares float64
	for i, p := range f.main {
		e := 1 - m.prec[p]*variances[i]
		effective += e
		if p < m.brownAt() {
			if j := p % perColorant; j >= 1 && j <= learnShapes && m.mean[p] == 0 {
				shapes += e
				squares += m.theta[p] * m.theta[p]
			}
		}
	}
	before := f.rel
	lo, hi := discrepancyLow, discrepancyHigh
	want := 3*float64(len(rows)) - effective + discrepancyWeight
	for range 30 {
		f.rel = math.Sqrt(lo * hi)
		q := discrepancyMean / f.rel
		chi := discrepancyWeight * q * q
		for _, r := range rows {
			f.weigh(r)
			for c, v := range r.res {
				chi += v * v / r.v[c]
			}
		}
		if chi > want {
			lo = f.rel
		} else {
			hi = f.rel
		}
	}
	prec := (shapes + shapeWeight) / (squares + shapeWeight)
	was := 1.0
	for p := range m.brownAt() {
		if j := p % perColorant; j >= 1 && j <= learnShapes {
			was, m.prec[p] = m.prec[p], prec
		}
	}
	for _, r := range rows {
		slope := m.baseSlope(r)
		for c := range slope {
			r.fromBase[c] = quadratic(&slope[c], &r.baseV, &slope[c])
		}
	}
	return math.Abs(math.Log(f.rel/before)) > 0.02 || math.Abs(math.Log(prec/was)) > 0.02
}

func quadratic(a *[3]float64, m *[3][3]float64, b *[3]float64) (s float64) {
	for i, v := range a {
		for j, w := range b {
			s += v * m[i][j] * w
		}
	}
	return s
}
