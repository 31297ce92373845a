package lsq

import "math"

// finish walks the last digits with undamped steps, which the sum of squares can
// no longer tell apart, and notes how well the parameters are determined.
func (d *descent) finish(scale []float64, settled bool) {
	n := len(d.p)
	d.settled = settled
	scaled := newColumns(d.f.Count, n)
	rhs := make([]float64, d.f.Count)
	step, trial := make([]float64, n), make([]float64, n)
	trialRes := make([]float64, d.f.Count)
	last := math.Inf(1)
	for range 60 {
		if !d.differentiate(true) {
			return
		}
		d.rescale(way{}, scale)
		for j, c := range d.jac {
			for i, v := range c {
				scaled[j][i] = v / scale[j]
			}
		}
		for i, v := range d.res {
			rhs[i] = -v
		}
		triangle(scaled, rhs)
		d.condition = conditionOf(scaled)
		if !settled || d.condition > dependent {
			return
		}
		backSubstitute(scaled, rhs, step)
		length := norm(step)
		if !(length < 0.9*last) {
			return
		}
		last = length
		moved := false
		for j, z := range step {
			trial[j] = d.p[j] + z/scale[j]
			moved = moved || trial[j] != d.p[j]
		}
		rss := d.eval(trial, trialRes)
		if !moved || !(rss <= d.rss*(1+1e-9)) {
			return
		}
		copy(d.p, trial)
		copy(d.res, trialRes)
		d.rss = rss
	}
}

func (d *descent) result(unitNoise bool) Result {
	res := Result{Params: d.p, RSS: d.rss, Iter: d.iter}
	free := float64(d.f.Count - len(d.p))
	if d.condition > dependent || free == 0 && !unitNoise || !d.differentiate(true) {
		return res
	}
	scale := make([]float64, len(d.p))
	d.rescale(way{}, scale)
	for j, c := range d.jac {
		for i := range c {
			c[i] /= scale[j]
		}
	}
	triangle(d.jac, nil)
	cov, ok := inverseNormal(d.jac)
	if !ok {
		return res
	}
	variance := 1.0
	if !unitNoise {
		variance = d.rss / free
	}
	for i := range cov {
		for k := range cov {
			cov[i][k] *= variance / (scale[i] * scale[k])
		}
	}
	res.Cov = cov
	return res
}
