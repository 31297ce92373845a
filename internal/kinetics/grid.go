package kinetics

import "math"

// The grids of the reference method: nodes, and how far they reach in standard
// deviations. A grid 2.5 times finer in every direction moves class probabilities
// by at most 0.013 and medians by at most 0.26 (the README of the series).
const (
	settleNodes, settleReach       = 25, 2.5
	returnNodes, returnReach       = 13, 2.4
	departureNodes, departureReach = 9, 2.2
	noiseNodes, noiseReach         = 7, 2.0
	// slowestDeparture keeps a pulse a pulse: k2 is at least this times k1.
	slowestDeparture = 1.3
	// noiseFar is how far the noise axis goes on, at the same pitch, where more than
	// a share of pressing lies at its noisy end: eight times the median, as in
	// readings by eye whose quality nobody stated.
	noiseFar = 14.0 / 3
	pressing = 0.5
)

// gridNode is a place on the axis of a standard normal quantity, with the
// logarithm of its share of the probability.
type gridNode struct{ z, log float64 }

// axis lays n nodes over ±reach, their weights in proportion to the density. A
// quantity that is known exactly (sd 0) needs one.
func axis(n int, reach, sd float64) []gridNode {
	if sd == 0 {
		return []gridNode{{}}
	}
	out := make([]gridNode, n)
	var sum float64
	for i := range out {
		z := reach * (2*float64(i)/float64(n-1) - 1)
		out[i] = gridNode{z, -z * z / 2}
		sum += math.Exp(out[i].log)
	}
	for i := range out {
		out[i].log -= math.Log(sum)
	}
	return out
}

// noiseAxis is the axis of the noise, going on at the noisy end up to far.
func noiseAxis(far, sd float64) []gridNode {
	out := axis(noiseNodes, noiseReach, sd)
	if sd == 0 {
		return out
	}
	pitch, centre := out[1].z-out[0].z, out[noiseNodes/2].log
	for z := noiseReach + pitch; z <= far+pitch/2; z += pitch {
		out = append(out, gridNode{z, centre - z*z/2})
	}
	return out
}

// rate is the rate constant, per day, of a half-life z standard deviations faster
// than its median.
func (h LogNormal) rate(z float64) float64 { return math.Ln2 / h.Median * math.Exp(z*h.SDLn) }

// lessons is what the prior says about each pattern, on the grid it is laid out
// on: what a [Lesson] is without readings.
func (p *Prior) lessons() (out [4]Lesson) {
	var nodes []node
	for _, w := range p.forms() {
		nodes = append(nodes, node{form: w.form, weight: math.Exp(w.log)})
	}
	out = lessons(nodes)
	for q := range out {
		out[q].Change = p.amplitudes(Pattern(q))[1]
	}
	return out
}

type weighedForm struct {
	form
	log float64 // logarithm of the prior probability
}

// forms lays out every curve to be tried, with its prior probability.
func (p *Prior) forms() []weighedForm {
	var out []weighedForm
	total := p.Weight[Holds] + p.Weight[Returns] + p.Weight[Settles] + p.Weight[Fades]
	weight := func(q Pattern) float64 { return math.Log(p.Weight[q] / total) }
	if p.Weight[Holds] > 0 {
		out = append(out, weighedForm{form{pattern: Holds}, weight(Holds)})
	}
	if p.Weight[Fades] > 0 {
		out = append(out, weighedForm{form{pattern: Fades}, weight(Fades)})
	}
	if p.Weight[Settles] > 0 {
		for _, n := range axis(settleNodes, settleReach, p.SettleHalfLife.SDLn) {
			out = append(out, weighedForm{form{pattern: Settles, k1: p.SettleHalfLife.rate(n.z)}, weight(Settles) + n.log})
		}
	}
	if p.Weight[Returns] == 0 {
		return out
	}
	first, kept := len(out), 0.0
	for _, back := range axis(returnNodes, returnReach, p.ReturnHalfLife.SDLn) {
		k1 := p.ReturnHalfLife.rate(back.z)
		for _, away := range axis(departureNodes, departureReach, p.DepartureHalfLife.SDLn) {
			k2 := p.DepartureHalfLife.rate(away.z)
			if k2 < slowestDeparture*k1 {
				continue
			}
			out = append(out, weighedForm{
				form{pattern: Returns, k1: k1, k2: k2, peak: pulsePeak(k1, k2)},
				weight(Returns) + back.log + away.log,
			})
			kept += math.Exp(back.log + away.log)
		}
	}
	for i := range out[first:] {
		out[first+i].log -= math.Log(kept)
	}
	return out
}

// symmetric is the lower triangle of a symmetric 3 × 3 matrix, row by row:
// 00, 10, 11, 20, 21, 22.
type symmetric [6]float64

func at(i, j int) int { return i*(i+1)/2 + j } // j ≤ i

// cholesky gives L with L·Lᵀ the leading n × n part of a.
func (a symmetric) cholesky(n int) (l symmetric) {
	for i := range n {
		for j := 0; j <= i; j++ {
			s := a[at(i, j)]
			for k := range j {
				s -= l[at(i, k)] * l[at(j, k)]
			}
			if i == j {
				l[at(i, i)] = math.Sqrt(s)
			} else {
				l[at(i, j)] = s / l[at(j, j)]
			}
		}
	}
	return l
}

// inverse gives (L·Lᵀ)⁻¹ for a lower triangle l.
func (l symmetric) inverse(n int) (out symmetric) {
	var m symmetric // L⁻¹
	for j := range n {
		m[at(j, j)] = 1 / l[at(j, j)]
		for i := j + 1; i < n; i++ {
			var s float64
			for k := j; k < i; k++ {
				s -= l[at(i, k)] * m[at(k, j)]
			}
			m[at(i, j)] = s / l[at(i, i)]
		}
	}
	for i := range n {
		for j := 0; j <= i; j++ {
			for k := i; k < n; k++ {
				out[at(i, j)] += m[at(k, i)] * m[at(k, j)]
			}
		}
	}
	return out
}

// solve gives x with L·Lᵀ·x = b, and bᵀ(L·Lᵀ)⁻¹b.
func (l symmetric) solve(n int, b [3]float64) (x [3]float64, square float64) {
	for i := range n {
		for k := range i {
			b[i] -= l[at(i, k)] * b[k]
		}
		b[i] /= l[at(i, i)]
		square += b[i] * b[i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= l[at(k, i)] * x[k]
		}
		x[i] = b[i] / l[at(i, i)]
	}
	return x, square
}
