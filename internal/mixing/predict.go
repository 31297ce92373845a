package mixing

import (
	"fmt"
	"math"
	"slices"

	"lyefast/internal/cie"
)

// Extrapolation is how far beyond the largest dose ever read of a colourant a forecast
// still gives a number.
const Extrapolation = 4

// Prediction is the settled colour of a recipe, without the noise of reading it. Where
// Extrapolates names a colourant there is no number: the other fields are zero.
type Prediction struct {
	Lab      cie.Lab
	P05, P95 cie.Lab       // central 90 % of each coordinate
	Cov      [3][3]float64 // of Lab: what the portions left open, the formula's own error, the base
	Shift    cie.Lab       // part of Lab that comes from portions of like composition
	Own      [3][3]float64 // part of Cov: the formula's own error

	Extrapolates []string // colourants never read, or dosed beyond Extrapolation times the largest dose read
}

// Known reports whether there is a number.
func (p *Prediction) Known() bool { return len(p.Extrapolates) == 0 }

// Within reports the squared distance of a reading from the prediction in units of their
// joint covariance, sd being the reading's standard deviation per coordinate: below 6.25
// for 90 % of readings (χ², three degrees of freedom).
func (p *Prediction) Within(reading, sd cie.Lab) float64 {
	cov := p.Cov
	for c, v := range vec(sd) {
		cov[c][c] += v * v
	}
	d := vec(reading.Sub(p.Lab))
	x := d
	if !solve3(&cov, &x) {
		return math.Inf(1)
	}
	return d[0]*x[0] + d[1]*x[1] + d[2]*x[2]
}

// outlook is a recipe as the fitted shelf sees it.
type outlook struct {
	r     *row
	lab   cie.Lab // by the formula
	shift [3]float64
	share [3][]float64 // K*, to each near row
	cross [3][]float64 // J* − K*·W·J over the main parameters
	own   [3][3]float64
	param [3][3]float64
	base  [3][3]float64
}

// Predict gives the settled colour of a recipe. The error is for a recipe that makes no
// sense; a colourant or dose out of reach is no error, see Extrapolates.
func (s *Shelf) Predict(q Recipe) (Prediction, error) {
	return s.predict(newBases(s.family), q)
}

func (s *Shelf) predict(b *bases, q Recipe) (Prediction, error) {
	if out, err := s.beyond(&q); err != nil || len(out) > 0 {
		return Prediction{Extrapolates: out}, err
	}
	o, err := s.look(b, &q)
	if err != nil {
		return Prediction{}, err
	}
	p := Prediction{
		Lab:   o.lab.Add(cie.Lab{L: o.shift[0], A: o.shift[1], B: o.shift[2]}),
		Shift: cie.Lab{L: o.shift[0], A: o.shift[1], B: o.shift[2]},
		Own:   o.own,
	}
	for c := range p.Cov {
		for d := range p.Cov {
			p.Cov[c][d] = o.own[c][d] + o.param[c][d] + o.base[c][d]
		}
	}
	p.P05, p.P95 = s.band(o, &p)
	return p, nil
}

func (s *Shelf) beyond(q *Recipe) ([]string, error) {
	if err := q.check(); err != nil {
		return nil, err
	}
	var out []string
	for _, a := range q.Doses {
		if a.Dose == 0 {
			continue
		}
		if i, ok := s.index[a.Colorant]; !ok || a.Dose > Extrapolation*s.most[i] {
			out = append(out, a.Colorant)
		}
	}
	return out, nil
}

func (s *Shelf) look(b *bases, q *Recipe) (*outlook, error) {
	r, err := s.row(b, q)
	if err != nil {
		return nil, err
	}
	o := &outlook{r: r, lab: s.m.differentiate(r)}
	r.y = o.lab
	r.dE = norm(o.lab.Sub(q.Base))
	r.stretch = 1 + chromaStretch*math.Hypot(o.lab.A, o.lab.B)

	slope := s.m.baseSlope(r)
	n, k := len(s.main), len(s.res.near)
	x := s.composition(r)
	for c := range o.share {
		own := s.off(r, c)
		share, cross := make([]float64, k), make([]float64, n)
		for i, p := range r.params {
			if s.group[p] < 0 {
				cross[s.pos[p]] = r.jac[c][i]
			}
		}
		for i, near := range s.res.near {
			v := own * s.off(near, c) * likeness(x, s.res.x[i])
			share[i] = v
			if v == 0 {
				continue
			}
			o.shift[c] += v * s.res.alpha[c][i]
			for p, w := range s.res.wj[c][i*n : (i+1)*n] {
				cross[p] -= v * w
			}
		}
		left := own * own
		for i, v := range share {
			left -= v * inner(s.res.w[c][i*k:(i+1)*k], share)
		}
		o.own[c][c] = s.scale * math.Max(left, 0.05*own*own)
		o.share[c], o.cross[c] = share, cross
	}
	t := make([]float64, n)
	for c := range o.param {
		for p := range t {
			t[p] = inner(s.hinv[p*n:(p+1)*n], o.cross[c])
		}
		for d := range o.param {
			o.param[c][d] = s.scale*inner(t, o.cross[d]) + s.scale*s.singleCov(r, c, d)
			o.base[c][d] = quadratic(&slope[c], &r.baseV, &slope[d])
		}
	}
	return o, nil
}

// singleCov is the covariance from colourants known by their swatch only.
func (s *Shelf) singleCov(r *row, c, d int) (v float64) {
	for at, u := range r.use {
		h := s.singles[u.c]
		if h == nil {
			continue
		}
		jc, jd := r.jac[c][at*perColorant:(at+1)*perColorant], r.jac[d][at*perColorant:(at+1)*perColorant]
		for i := range perColorant {
			v += jc[i] * inner(h[i*perColorant:(i+1)*perColorant], jd)
		}
	}
	return v
}

// band gives the central 90 % of each coordinate. What the parameters contribute is not
// symmetric (no k makes a colour lighter than none at all), so the formula is asked at both
// ends of the parameters' likeliest way towards a change in that coordinate.
func (s *Shelf) band(o *outlook, p *Prediction) (lo, hi cie.Lab) {
	const z = 1.6449
	var ends [2][3]float64
	var m *model
	for c := range 3 {
		sd := math.Sqrt(math.Max(0, o.param[c][c]))
		other := math.Sqrt(o.own[c][c] + math.Max(0, o.base[c][c]))
		for e, sign := range [2]float64{-1, 1} {
			reach := z * sd
			if sd > 1 { // below, the curve is straight
				if m == nil {
					m = s.m.clone()
				}
				reach = math.Abs(s.displaced(m, o, c, sign*z/sd) - vec(o.lab)[c])
				reach = math.Max(0.3*z*sd, math.Min(2*z*sd, reach))
			}
			ends[e][c] = sign * math.Hypot(reach, z*other)
		}
	}
	lo = p.Lab.Add(cie.Lab{L: ends[0][0], A: ends[0][1], B: ends[0][2]})
	hi = p.Lab.Add(cie.Lab{L: ends[1][0], A: ends[1][1], B: ends[1][2]})
	lo.L, hi.L = math.Max(lo.L, 0), math.Min(hi.L, 100)
	lo.L, hi.L = math.Min(lo.L, p.Lab.L), math.Max(hi.L, p.Lab.L)
	return lo, hi
}

// displaced is coordinate c of the formula with the parameters of the recipe moved by
// step·Σ·J_c; m is a copy of the model to do it in.
func (s *Shelf) displaced(m *model, o *outlook, c int, step float64) float64 {
	n := len(s.main)
	for at, p := range o.r.params {
		m.theta[p] = s.m.theta[p]
		if s.group[p] < 0 {
			m.theta[p] += step * s.scale * inner(s.hinv[s.pos[p]*n:(s.pos[p]+1)*n], o.cross[c])
			continue
		}
		first := at - s.pos[p]
		m.theta[p] += step * s.scale * inner(s.singles[s.group[p]][s.pos[p]*perColorant:(s.pos[p]+1)*perColorant], o.r.jac[c][first:first+perColorant])
	}
	for _, u := range o.r.use {
		m.unpackColorant(u.c)
	}
	if o.r.brown > 0 {
		m.unpackBrown()
	}
	return vec(m.colour(o.r))[c]
}

// Influence is how much one portion weighs in a prediction.
type Influence struct {
	Portion string
	Weight  float64 // share of all influence, 0–1
}

// Explain names the portions that weigh most in the prediction of a recipe, heaviest
// first, at most limit of them. The weight of a portion is how far the prediction would
// follow a small error of its reading, as a share of the sum over all portions.
func (s *Shelf) Explain(q Recipe, limit int) ([]Influence, error) {
	if out, err := s.beyond(&q); err != nil {
		return nil, err
	} else if len(out) > 0 {
		return nil, fmt.Errorf("nothing to explain: %q was never read near this dose", out[0])
	}
	o, err := s.look(newBases(s.family), &q)
	if err != nil {
		return nil, err
	}
	n, k := len(s.main), len(s.res.near)
	var t [3][]float64 // (J* − K*WJ)·H⁻¹
	for c := range t {
		t[c] = make([]float64, n)
		for p := range t[c] {
			t[c][p] = inner(s.hinv[p*n:(p+1)*n], o.cross[c])
		}
	}
	place := make(map[*row]int, k)
	for i, r := range s.res.near {
		place[r] = i
	}
	var all []Influence
	var total float64
	for at, r := range s.rows {
		var sum float64
		i, isNear := place[r]
		for c := range t {
			for d := range t {
				var a float64
				switch {
				case isNear:
					a = inner(t[c], s.res.wj[d][i*n:(i+1)*n])
					if c == d {
						a += inner(o.share[c], s.res.w[c][i*k:(i+1)*k])
					}
				case r.swatch && s.reads[r.use[0].c] == 0:
					a = s.singleInfluence(o.r, r, c, d)
				default:
					for j, p := range r.params {
						a += t[c][s.pos[p]] * r.jac[d][j] / r.v[d]
					}
				}
				sum += a * a
			}
		}
		w := math.Sqrt(sum)
		total += w
		all = append(all, Influence{s.made[at], w})
	}
	slices.SortStableFunc(all, func(a, b Influence) int {
		switch {
		case a.Weight > b.Weight:
			return -1
		case a.Weight < b.Weight:
			return 1
		}
		return 0
	})
	all = all[:min(len(all), max(limit, 0))]
	for i := range all {
		if total > 0 {
			all[i].Weight /= total
		}
	}
	return all, nil
}

func (s *Shelf) singleInfluence(q, swatch *row, c, d int) (v float64) {
	for at, u := range q.use {
		if u.c != swatch.use[0].c {
			continue
		}
		h := s.singles[u.c]
		for i, a := range q.jac[c][at*perColorant : (at+1)*perColorant] {
			v += a * inner(h[i*perColorant:(i+1)*perColorant], swatch.jac[d]) / swatch.v[d]
		}
	}
	return v
}
