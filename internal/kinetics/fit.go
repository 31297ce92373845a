package kinetics

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"lyefast/internal/cie"
)

const (
	// statedTrust is how far a stated standard deviation is believed, as the sd of
	// its logarithm: to about a fifth. A portion whose readings scatter more than
	// stated widens it.
	statedTrust = 0.2
	// leastSD is the smallest standard deviation that is believed: readings that
	// agree better than this were rounded, not perfect.
	leastSD = 0.05
	// negligible is the probability of the curves that are left out of the mixture.
	negligible = 1e-6
)

// Drift is a change that the bar goes through whatever the colourant does, such as
// modelled browning at one assumed strength.
type Drift struct {
	// Weight is the probability of this strength beside the other ones given.
	Weight float64
	// Path is the colour of the portion, with its pigments frozen, on a day. It
	// must be finite on every day from 0 to MaxDay and the same whenever asked.
	Path func(day float64) cie.Lab
}

// ErrDrift: a drift with a weight that is not positive, or a path that is missing
// or not a number somewhere. Compare with errors.Is.
var ErrDrift = errors.New("not a usable drift")

// node is one curve of the mixture: a form, a drift, and the normal posterior of
// the amplitudes, coordinate by coordinate.
type node struct {
	form
	drift  int // index into Curve.drifts, if there are any
	weight float64
	mean   [3][3]float64 // coordinate, term
	cov    [3]symmetric
}

// Fit finds which curves the readings leave possible, each with its probability.
// Order does not matter, and no readings at all give the prior. A reading equal to
// another in every figure counts once; two different readings of one day count as
// two. A stated standard deviation is believed to about a fifth, an unstated one
// is estimated from the readings and the prior.
//
// The errors are ErrPrior, ErrMany and ErrPoint (a day outside 0–MaxDay, L*
// outside 0–100 by more than noise, a* or b* beyond ±200, or not a number).
func Fit(points []Point, prior Prior) (Curve, error) { return FitWithDrift(points, prior, nil) }

// FitWithDrift is [Fit] for a portion that also drifts: the drift M is taken off
// the readings, y − M(t) + M(0), the curves are fitted to the rest, and [Curve.At]
// puts M back. With several drifts (five strengths of brown, say) each is weighed
// by its own probability and by how well the readings then fit. No drifts at all
// make it Fit. The error may also be ErrDrift.
func FitWithDrift(points []Point, prior Prior, drifts []Drift) (Curve, error) {
	if err := prior.check(); err != nil {
		return Curve{}, err
	}
	points, err := checked(points)
	if err != nil {
		return Curve{}, err
	}
	if err := checkDrifts(drifts, points); err != nil {
		return Curve{}, err
	}
	c := Curve{drifts: slices.Clone(drifts), before: prior.lessons()}
	for _, p := range points {
		c.days = append(c.days, p.Day)
	}
	forms, readings := prior.forms(), driftless(points, drifts)
	nodes, edge := weigh(&prior, forms, prior.noises(points, noiseReach), points, readings, drifts)
	if edge > pressing {
		// The readings are noisier than the grid reaches: let it go on.
		nodes, _ = weigh(&prior, forms, prior.noises(points, noiseFar), points, readings, drifts)
	}
	c.take(nodes)
	return c, nil
}

// weigh gives every node its posterior and its share of the probability, and the
// share of those at the noisy end of the grid.
func weigh(prior *Prior, forms []weighedForm, noises []noiseNode, points []Point, readings [][3][]float64, drifts []Drift) (nodes []node, edge float64) {
	nodes = make([]node, 0, len(forms)*len(noises)*len(readings))
	f := make([][3]float64, len(points))
	top := math.Inf(-1)
	for _, w := range forms {
		for i, p := range points {
			f[i] = w.at(p.Day)
		}
		amplitudes := prior.amplitudes(w.pattern)
		for d, y := range readings {
			log := w.log
			if len(drifts) > 0 {
				log += math.Log(drifts[d].Weight)
			}
			for k := range noises {
				nodes = append(nodes, node{form: w.form, drift: d, weight: log + noises[k].log})
				n := &nodes[len(nodes)-1]
				for ch := range 3 {
					n.weight += n.update(ch, &amplitudes, f, y[ch], noises[k].precision[ch])
				}
				top = max(top, n.weight)
			}
		}
	}
	var sum float64
	for i := range nodes {
		nodes[i].weight = math.Exp(nodes[i].weight - top)
		sum += nodes[i].weight
	}
	for i := range nodes {
		nodes[i].weight /= sum
		if len(noises) > 1 && i%len(noises) == len(noises)-1 {
			edge += nodes[i].weight
		}
	}
	return nodes, edge
}

// update gives a node's amplitudes of one coordinate their posterior and returns
// the logarithm of the evidence, less what is common to all nodes. y are the
// readings, f the shape functions and precision the inverse variances.
func (n *node) update(ch int, amplitudes *[3]Normal, f [][3]float64, y, precision []float64) float64 {
	terms := n.terms()
	var a symmetric
	var b, prior [3]float64
	var squares float64
	spread := 1.0 // root of the ratio of the determinants, posterior to prior precision
	for i := range terms {
		sd := coordinate(amplitudes[i].SD, ch)
		prior[i] = coordinate(amplitudes[i].Mean, ch)
		a[at(i, i)] = 1 / (sd * sd)
		spread *= sd
	}
	for i, w := range precision {
		rest := y[i]
		for t := range terms {
			rest -= prior[t] * f[i][t]
		}
		squares += w * rest * rest
		for t := range terms {
			wf := w * f[i][t]
			b[t] += wf * rest
			for u := 0; u <= t; u++ {
				a[at(t, u)] += wf * f[i][u]
			}
		}
	}
	l := a.cholesky(terms)
	x, explained := l.solve(terms, b)
	for i := range terms {
		spread *= l[at(i, i)]
		n.mean[ch][i] = prior[i] + x[i]
	}
	n.cov[ch] = l.inverse(terms)
	return -math.Log(spread) - (squares-explained)/2
}

// noiseNode is one assumption about how good the readings are.
type noiseNode struct {
	log       float64      // prior share and the readings' own normalisation
	precision [3][]float64 // inverse variance by coordinate and reading
}

func (p *Prior) noises(points []Point, reach float64) []noiseNode {
	var out []noiseNode
	for _, g := range noiseAxis(reach, p.Noise.SDLn) {
		n := noiseNode{log: g.log}
		for ch := range 3 {
			n.precision[ch] = make([]float64, len(points))
			for i, pt := range points {
				sd := coordinate(pt.SD, ch)
				if sd == 0 {
					sd = coordinate(p.Noise.Median, ch) * math.Exp(p.Noise.SDLn*g.z)
				} else {
					sd = max(sd, leastSD) * math.Exp(statedTrust*g.z)
				}
				n.precision[ch][i] = 1 / (sd * sd)
				n.log -= math.Log(sd)
			}
		}
		out = append(out, n)
	}
	return out
}

// driftless gives the readings by coordinate, once for every drift and with that
// drift taken off, or once as they are.
func driftless(points []Point, drifts []Drift) [][3][]float64 {
	out := make([][3][]float64, max(1, len(drifts)))
	for d := range out {
		for _, p := range points {
			lab := p.Lab
			if len(drifts) > 0 {
				lab = lab.Sub(drifts[d].Path(p.Day)).Add(drifts[d].Path(0))
			}
			for ch := range 3 {
				out[d][ch] = append(out[d][ch], coordinate(lab, ch))
			}
		}
	}
	return out
}

func checkDrifts(drifts []Drift, points []Point) error {
	const most = 32
	if len(drifts) > most {
		return fmt.Errorf("%d drifts, at most %d: %w", len(drifts), most, ErrDrift)
	}
	for i, d := range drifts {
		if !(d.Weight > 0 && d.Weight <= math.MaxFloat32) || d.Path == nil {
			return fmt.Errorf("drift %d has weight %g or no path: %w", i+1, d.Weight, ErrDrift)
		}
		days := []float64{0, SettledDay, MaxDay}
		for _, p := range points {
			days = append(days, p.Day)
		}
		for _, day := range days {
			// A drift is a colour too; beyond ±1000 it is a mistake.
			if m := d.Path(day); !(math.Abs(m.L) <= 1000 && math.Abs(m.A) <= 1000 && math.Abs(m.B) <= 1000) {
				return fmt.Errorf("drift %d is %v on day %g: %w", i+1, m, day, ErrDrift)
			}
		}
	}
	return nil
}

// take notes what all nodes say about the patterns and keeps the likely ones.
func (c *Curve) take(nodes []node) {
	for i := range nodes {
		c.pattern[nodes[i].pattern] += nodes[i].weight
	}
	var sum float64
	for _, p := range c.pattern {
		sum += p
	}
	for i := range c.pattern {
		c.pattern[i] /= sum // a thousand roundings make it one only nearly
	}
	c.lessons = lessons(nodes)
	order := make([]int, len(nodes))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(cmp.Compare(nodes[j].weight, nodes[i].weight), cmp.Compare(i, j))
	})
	var kept float64
	for _, i := range order {
		kept += nodes[i].weight
		c.nodes = append(c.nodes, nodes[i])
		if kept >= 1-negligible {
			break
		}
	}
	for i := range c.nodes {
		c.nodes[i].weight /= kept
	}
}
