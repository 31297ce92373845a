package kinetics

import (
	"math"
)

// Lesson is what one portion says about a pattern, supposing that it follows it.
type Lesson struct {
	// Probability is that of the pattern.
	Probability float64
	// Change is the settled shift, the widest excursion, the fade by day 42 or the
	// small drift, as the pattern has it.
	Change Normal
	// HalfLife, in days, is that of the way to the settled colour or of the return;
	// zero for patterns without one.
	HalfLife LogNormal
	// Departure, in days, is the half-life an excursion left with; zero for the
	// other patterns.
	Departure LogNormal
}

// Lesson gives what the curve says about a pattern. It still holds the prior that
// the curve was fitted with; [Learn] takes that out before it adds batches up.
func (c Curve) Lesson(p Pattern) Lesson { return c.lessons[p] }

// lessons are the moments, over the nodes of each pattern, of amplitudes and of
// logarithms of half-lives.
func lessons(nodes []node) (out [4]Lesson) {
	for p := range out {
		out[p] = lessonOf(nodes, Pattern(p))
	}
	return out
}

func lessonOf(nodes []node, p Pattern) Lesson {
	var sum float64
	var change, spread [3]float64
	var back, away moments
	for i := range nodes {
		n := &nodes[i]
		if n.pattern != p {
			continue
		}
		sum += n.weight
		for ch := range 3 {
			m := n.mean[ch][1]
			change[ch] += n.weight * m
			spread[ch] += n.weight * (m*m + n.cov[ch][at(1, 1)])
		}
		if p == Settles || p == Returns {
			back.add(n.weight, math.Log(math.Ln2/n.k1))
		}
		if p == Returns {
			away.add(n.weight, math.Log(math.Ln2/n.k2))
		}
	}
	if sum == 0 {
		return Lesson{}
	}
	for ch := range 3 {
		change[ch] /= sum
		spread[ch] = math.Sqrt(max(0, spread[ch]/sum-change[ch]*change[ch]))
	}
	return Lesson{sum, Normal{labOf(change), labOf(spread)}, back.logNormal(), away.logNormal()}
}

// moments gathers weighted first and second moments.
type moments struct{ weight, first, second float64 }

func (m *moments) add(w, x float64) {
	m.weight += w
	m.first += w * x
	m.second += w * x * x
}

func (m *moments) logNormal() LogNormal {
	if m.weight == 0 {
		return LogNormal{}
	}
	mean := m.first / m.weight
	return LogNormal{math.Exp(mean), math.Sqrt(max(0, m.second/m.weight-mean*mean))}
}

// Spread from batch to batch of one colourant, once dose is allowed for. The
// figures are those of the worked examples of pooling that come with the
// simulated cure series.
const (
	betweenChange   = 2.0  // units of a coordinate
	betweenHalfLife = 0.35 // of the natural logarithm
	doseExponent    = 0.5  // change ∝ dose^0.5
)

// Earlier is one earlier batch of a colourant, for [Learn].
type Earlier struct {
	Curve Curve
	// DoseRatio is the dose asked about divided by the dose of that batch; 0 is
	// taken as 1.
	DoseRatio float64
}

// Learn narrows a prior by earlier batches of the same colourant, to fit the next
// one with: the weights of the patterns as soft counts, of which the given prior
// is worth so many batches (1 where nothing is known, 2 where a label speaks),
// and changes and half-lives by normal partial pooling. A batch teaches about
// change and rate as far as it followed the pattern. Always start from the same
// prior and all batches; a result is not to be learned from again.
func Learn(prior Prior, worth float64, batches []Earlier) Prior {
	out := prior
	counts := Dirichlet{}
	var total float64
	for _, w := range prior.Weight {
		total += w
	}
	for i, w := range prior.Weight {
		counts.Alpha[i] = worth * w / total
	}
	for _, b := range batches {
		counts.Add(b.Curve.pattern)
	}
	if len(batches) > 0 {
		out.Weight = counts.Mean()
	}
	// The drift of a colour that holds is noise, not a habit.
	out.Excursion = poolChange(prior.Excursion, Returns, batches)
	out.Shift = poolChange(prior.Shift, Settles, batches)
	out.Fade = poolChange(prior.Fade, Fades, batches)
	out.SettleHalfLife = poolHalfLife(prior.SettleHalfLife, Settles, batches, func(l Lesson) LogNormal { return l.HalfLife })
	out.ReturnHalfLife = poolHalfLife(prior.ReturnHalfLife, Returns, batches, func(l Lesson) LogNormal { return l.HalfLife })
	out.DepartureHalfLife = poolHalfLife(prior.DepartureHalfLife, Returns, batches, func(l Lesson) LogNormal { return l.Departure })
	return out
}

func poolChange(prior Normal, p Pattern, batches []Earlier) Normal {
	var mean, sd [3]float64
	for ch := range 3 {
		var seen []Estimate
		for _, b := range batches {
			c := b.Curve
			before := c.before[p].Change
			e, ok := without(
				Estimate{coordinate(c.lessons[p].Change.Mean, ch), coordinate(c.lessons[p].Change.SD, ch)},
				Estimate{coordinate(before.Mean, ch), coordinate(before.SD, ch)},
				c.lessons[p].Probability)
			if !ok {
				continue
			}
			scale := 1.0
			if b.DoseRatio > 0 {
				scale = math.Pow(b.DoseRatio, doseExponent)
			}
			seen = append(seen, Estimate{e.Mean * scale, e.SD * scale})
		}
		pooled := Pool(Estimate{coordinate(prior.Mean, ch), coordinate(prior.SD, ch)}, betweenChange, seen)
		mean[ch], sd[ch] = pooled.Mean, pooled.NextSD
		if len(seen) == 0 {
			sd[ch] = coordinate(prior.SD, ch)
		}
	}
	return Normal{labOf(mean), labOf(sd)}
}

func poolHalfLife(prior LogNormal, p Pattern, batches []Earlier, of func(Lesson) LogNormal) LogNormal {
	var seen []LogNormal
	for _, b := range batches {
		before, after := of(b.Curve.before[p]), of(b.Curve.lessons[p])
		if !(before.Median > 0 && after.Median > 0) {
			continue
		}
		if e, ok := without(Estimate{math.Log(after.Median), after.SDLn}, Estimate{math.Log(before.Median), before.SDLn},
			b.Curve.lessons[p].Probability); ok {
			seen = append(seen, LogNormal{math.Exp(e.Mean), e.SD})
		}
	}
	_, next := PoolLogNormal(prior, betweenHalfLife, seen)
	return next
}

// without takes the prior out of a normal posterior and weakens what is left by
// the probability that it applies at all. It reports false where the readings
// added nothing.
func without(after, before Estimate, probability float64) (Estimate, bool) {
	const leastProbability = 0.05 // below it a batch has nothing to say about the pattern
	if !(probability > leastProbability) || !(after.SD > 0) || !(before.SD > 0) {
		return Estimate{}, false
	}
	a, b := 1/(after.SD*after.SD), 1/(before.SD*before.SD)
	if a < 1.02*b { // within rounding, nothing was learned
		return Estimate{}, false
	}
	mean := (a*after.Mean - b*before.Mean) / (a - b)
	return Estimate{mean, math.Sqrt(1 / ((a - b) * probability))}, true
}

// Change gives the settled shift of a curve with its standard deviation, whatever
// the pattern: the moments of the colour on SettledDay less that at the pour.
func (c Curve) Change() Normal {
	var mean, sd [3]float64
	for ch := range 3 {
		var m moments
		for i := range c.nodes {
			n := &c.nodes[i]
			f := n.at(SettledDay)
			var change, variance float64
			for t := 1; t < n.terms(); t++ {
				change += f[t] * n.mean[ch][t]
				for u := 1; u < n.terms(); u++ {
					variance += f[t] * f[u] * n.cov[ch][at(max(t, u), min(t, u))]
				}
			}
			m.weight += n.weight
			m.first += n.weight * change
			m.second += n.weight * (change*change + variance)
		}
		mean[ch] = m.first / m.weight
		sd[ch] = math.Sqrt(max(0, m.second/m.weight-mean[ch]*mean[ch]))
	}
	return Normal{labOf(mean), labOf(sd)}
}
