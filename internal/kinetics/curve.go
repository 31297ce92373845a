package kinetics

import (
	"math"
	"sort"

	"lyefast/internal/cie"
)

// The error of the curves themselves (reference method): a quarter of a unit, and
// this share of what is forecast to happen after the nearest reading.
const (
	modelSD    = 0.25
	modelShare = 0.15
)

// Curve is a fitted portion: a mixture of curves with their probabilities. It
// comes from [Fit] and is never changed; for no readings it comes from Fit too,
// since the zero Curve knows nothing, not even the prior.
type Curve struct {
	nodes   []node
	pattern [4]float64
	lessons [4]Lesson
	before  [4]Lesson // what the prior alone says on the same grid
	days    []float64 // of the readings, ascending
	drifts  []Drift
}

// Band is a central 90 % interval of the noise-free colour about its median,
// coordinate by coordinate: P05 ≤ Median ≤ P95.
type Band struct{ Median, P05, P95 cie.Lab }

// Readings is how many different readings stand behind the curve.
func (c Curve) Readings() int { return len(c.days) }

// Pattern gives the probability of each pattern; they sum to 1.
func (c Curve) Pattern() (holds, returns, settles, fades float64) {
	return c.pattern[Holds], c.pattern[Returns], c.pattern[Settles], c.pattern[Fades]
}

// Likely is the most probable pattern and its probability.
func (c Curve) Likely() (Pattern, float64) {
	best := Holds
	for p := Returns; p <= Fades; p++ {
		if c.pattern[p] > c.pattern[best] {
			best = p
		}
	}
	return best, c.pattern[best]
}

// At gives the colour on a day. Days outside 0–MaxDay are taken as the nearest one
// within. L* stays within 0–100.
func (c Curve) At(day float64) Band {
	if !(day >= 0) {
		day = 0
	}
	day = min(day, MaxDay)
	var median, low, high [3]float64
	parts := c.parts(day)
	for ch := range 3 {
		low[ch], median[ch], high[ch] = parts.quantile(ch, 0.05), parts.quantile(ch, 0.5), parts.quantile(ch, 0.95)
		low[ch], high[ch] = min(low[ch], median[ch]), max(high[ch], median[ch])
	}
	for _, v := range []*[3]float64{&low, &median, &high} {
		v[0] = min(max(v[0], 0), 100)
	}
	return Band{labOf(median), labOf(low), labOf(high)}
}

// Settled is the colour the portion is heading for: At(SettledDay).
func (c Curve) Settled() Band { return c.At(SettledDay) }

// part is one normal component of the colour on a day.
type part struct {
	pattern  Pattern
	weight   float64
	mean, sd [3]float64
}

type mixture []part

// parts gives the components of the colour on a day, the curves' own error
// included. How much is yet to happen counts from the nearest reading.
func (c Curve) parts(day float64) mixture {
	near := c.nearest(day)
	var drift, since []cie.Lab
	for _, d := range c.drifts {
		m := d.Path(day)
		drift = append(drift, m.Sub(d.Path(0)))
		since = append(since, m.Sub(d.Path(near)))
	}
	out := make(mixture, len(c.nodes))
	for i := range c.nodes {
		n := &c.nodes[i]
		p := &out[i]
		p.pattern, p.weight = n.pattern, n.weight
		f, g := n.at(day), n.at(near)
		for ch := range 3 {
			variance, change := modelSD*modelSD, 0.0
			for t := range n.terms() {
				p.mean[ch] += f[t] * n.mean[ch][t]
				change += (f[t] - g[t]) * n.mean[ch][t]
				for u := range t {
					variance += 2 * f[t] * f[u] * n.cov[ch][at(t, u)]
				}
				variance += f[t] * f[t] * n.cov[ch][at(t, t)]
			}
			variance += modelShare * change * modelShare * change
			if drift != nil {
				p.mean[ch] += coordinate(drift[n.drift], ch)
				brown := modelShare * coordinate(since[n.drift], ch)
				variance += brown * brown
			}
			p.sd[ch] = math.Sqrt(variance)
		}
	}
	return out
}

// nearest is the day of the reading nearest to a day, the pour if there is none.
func (c Curve) nearest(day float64) float64 {
	i := sort.SearchFloat64s(c.days, day)
	switch {
	case len(c.days) == 0:
		return 0
	case i == len(c.days):
		return c.days[i-1]
	case i > 0 && day-c.days[i-1] <= c.days[i]-day:
		return c.days[i-1]
	}
	return c.days[i]
}

// moments gives mean and standard deviation of a coordinate.
func (m mixture) moments(ch int) (mean, sd float64) {
	var sum float64
	for i := range m {
		mean += m[i].weight * m[i].mean[ch]
		sum += m[i].weight
	}
	mean /= sum
	var v float64
	for i := range m {
		d := m[i].mean[ch] - mean
		v += m[i].weight * (d*d + m[i].sd[ch]*m[i].sd[ch])
	}
	return mean, math.Sqrt(v / sum)
}

// quantile finds where the mixture's distribution function is q, by Newton's
// method kept inside a shrinking bracket, to 1e-9 in probability.
func (m mixture) quantile(ch int, q float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range m {
		low = min(low, m[i].mean[ch]-6*m[i].sd[ch])
		high = max(high, m[i].mean[ch]+6*m[i].sd[ch])
	}
	mean, sd := m.moments(ch)
	x := mean + sd*math.Sqrt2*math.Erfinv(2*q-1)
	for range 80 {
		if !(x > low && x < high) {
			x = (low + high) / 2
		}
		excess, slope := -q, 0.0
		for i := range m {
			u := (x - m[i].mean[ch]) / m[i].sd[ch]
			switch {
			case u > 7:
				excess += m[i].weight
			case u > -7:
				excess += m[i].weight * 0.5 * math.Erfc(-u/math.Sqrt2)
				slope += m[i].weight * math.Exp(-u*u/2) / m[i].sd[ch]
			}
		}
		if excess < 0 {
			low = x
		} else {
			high = x
		}
		if math.Abs(excess) < 1e-9 || high-low < 1e-8 {
			break
		}
		x -= excess * math.Sqrt(2*math.Pi) / slope
	}
	return x
}
