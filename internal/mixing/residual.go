package mixing

import (
	"errors"
	"math"
)

// The formula's own error is not new in every portion: portions of like composition are
// off alike. It is taken as a Gaussian process over composition (C. E. Rasmussen and C. K.
// I. Williams, Gaussian Processes for Machine Learning, 2006, section 2.7: a process on
// top of explicit basis functions), and what is shared this way corrects the forecast.
const (
	sharing     = 300 // portions, the latest, between which the error is shared
	shareLength = 2   // of composition, ln(1 + 5·dose·(mean k + s)), over which likeness fades
	shareOf     = 0.7 // of the error's variance that like portions have in common
	leftOutHold = 6   // portions' worth of belief that the bands are right as they are
)

var errSingular = errors.New("the fit has no unique answer; check the portions for absurd doses or colours")

// residual holds the shared error: W is the inverse covariance of the near rows in each
// coordinate, α = W·residual.
type residual struct {
	near  []*row
	x     [][]float64
	w     [3][]float64
	wj    [3][]float64 // W·J, near rows by main parameters
	alpha [3][]float64
}

// composition places a row among the others: how much each colourant, and browning, adds
// to what the base absorbs and scatters by itself.
func (s *Shelf) composition(r *row) []float64 {
	x := make([]float64, len(s.names)+1)
	for _, u := range r.use {
		var mean float64
		for _, v := range s.m.k[u.c] {
			mean += v
		}
		x[u.c] = math.Log1p(5 * u.dose * (mean/float64(len(s.m.brown)) + s.m.s[u.c]))
	}
	if r.brown > 0 {
		x[len(s.names)] = math.Log1p(5 * s.m.strength(r) * s.m.brown[18])
	}
	return x
}

func likeness(a, b []float64) float64 {
	var d float64
	for i, v := range a {
		v -= b[i]
		d += v * v
	}
	return shareOf * math.Exp(-d/(2*shareLength*shareLength))
}

// closeMain gives the main group its last turn with the shared error, its covariance and
// the scale of the bands.
func (f *fit) closeMain(rows []*row) error {
	m, n := f.m, len(f.main)
	q := &f.res
	var far []*row
	made := 0
	for _, r := range rows {
		if !r.swatch {
			made++
		}
	}
	for i, r := range rows { // swatches stand behind the portions
		f.weigh(r)
		if !r.swatch && i >= made-sharing {
			q.near = append(q.near, r)
			q.x = append(q.x, f.composition(r))
		} else {
			far = append(far, r)
		}
	}
	k := len(q.near)
	for c := range q.w {
		cov := make([]float64, k*k)
		for i, r := range q.near {
			di := f.off(r, c)
			for j := range i {
				cov[i*k+j] = di * f.off(q.near[j], c) * likeness(q.x[i], q.x[j])
			}
			cov[i*k+i] = r.v[c]
		}
		if !cholesky(cov, k) {
			return errSingular
		}
		q.w[c] = inverse(cov, k)
		q.wj[c] = make([]float64, k*n)
		q.alpha[c] = make([]float64, k)
	}
	cost := func() (sum float64) {
		f.unpack(f.main)
		for _, r := range q.near {
			r.res = vec(r.y.Sub(m.colour(r)))
		}
		for c := range q.w {
			for i := range q.near {
				line := q.w[c][i*k : (i+1)*k]
				var v float64
				for j, r := range q.near {
					v += line[j] * r.res[c]
				}
				q.alpha[c][i] = v
				sum += v * q.near[i].res[c]
			}
		}
		for _, r := range far {
			r.res = vec(r.y.Sub(m.colour(r)))
			for c, v := range r.res {
				sum += v * v / r.v[c]
			}
		}
		for _, p := range f.main {
			d := m.theta[p] - m.mean[p]
			sum += d * d * m.prec[p]
		}
		return sum
	}
	h := make([]float64, n*n)
	g, x, old := make([]float64, n), make([]float64, n), make([]float64, n)
	now := cost()
	for round := 0; ; round++ {
		f.normal(f.main, far, h, g)
		for _, r := range q.near {
			m.differentiate(r)
		}
		for c := range q.w {
			wj := q.wj[c]
			clear(wj)
			for j, r := range q.near {
				for i := range k {
					w := q.w[c][i*k+j]
					line := wj[i*n : (i+1)*n]
					for a, p := range r.params {
						line[f.pos[p]] += w * r.jac[c][a]
					}
				}
			}
			for i, r := range q.near {
				line := wj[i*n : (i+1)*n]
				for a, p := range r.params {
					at, v := f.pos[p], r.jac[c][a]
					g[at] += v * q.alpha[c][i]
					for b, w := range line[:at+1] {
						h[at*n+b] += v * w
					}
				}
			}
		}
		if !cholesky(h, n) {
			return errSingular
		}
		if round == 3 {
			break
		}
		copy(x, g)
		forward(h, n, x)
		backward(h, n, x)
		for i, p := range f.main {
			old[i] = m.theta[p]
		}
		gain := 0.0
		for step := 1.0; step > 0.05; step /= 3 {
			for i, p := range f.main {
				m.theta[p] = old[i] + step*math.Max(-1.5, math.Min(1.5, x[i]))
			}
			if next := cost(); next < now {
				gain, now = now-next, next
				break
			}
		}
		if gain == 0 {
			for i, p := range f.main {
				m.theta[p] = old[i]
			}
			now = cost()
		}
		if gain < 0.01 {
			round = 2
		}
	}
	f.hinv = inverse(h, n)
	f.scaleBands()
	return nil
}

// scaleBands compares every portion of the near rows with what the others say of it. By
// the algebra of linear models leaving one out needs no new fit: with C the covariance of
// all readings, the residual left out is (C⁻¹)ᵢᵢ⁻¹·(C⁻¹r)ᵢ and its covariance (C⁻¹)ᵢᵢ⁻¹.
func (f *fit) scaleBands() {
	sum := 3.0 * leftOutHold
	for i := range f.res.near {
		b := f.leftOut(i)
		a := [3]float64{f.res.alpha[0][i], f.res.alpha[1][i], f.res.alpha[2][i]}
		x := a
		if !solve3(&b, &x) {
			continue
		}
		sum += math.Min(60, a[0]*x[0]+a[1]*x[1]+a[2]*x[2])
	}
	f.scale = sum / (3 * float64(leftOutHold+len(f.res.near)))
}

// leftOut is block i of C⁻¹: W_ii − (WJ)_i·H⁻¹·(WJ)_iᵀ.
func (s *Shelf) leftOut(i int) (b [3][3]float64) {
	q, n, k := &s.res, len(s.main), len(s.res.near)
	t := make([]float64, n)
	for c := range b {
		line := q.wj[c][i*n : (i+1)*n]
		for p := range t {
			t[p] = inner(s.hinv[p*n:(p+1)*n], line)
		}
		for d := range b {
			b[c][d] = -inner(t, q.wj[d][i*n:(i+1)*n])
		}
		b[c][c] += q.w[c][i*k+i]
	}
	return b
}

// closeSingle fits a colourant known by its swatch only.
func (f *fit) closeSingle(c int) error {
	params := make([]int, perColorant)
	for j := range params {
		params[j] = c*perColorant + j
	}
	rows := f.rowsOf[c]
	f.m.unpackColorant(c)
	f.solve(params, rows, 40)
	a, g := make([]float64, perColorant*perColorant), make([]float64, perColorant)
	f.normal(params, rows, a, g)
	if !cholesky(a, perColorant) {
		return errSingular
	}
	f.singles[c] = inverse(a, perColorant)
	return nil
}
