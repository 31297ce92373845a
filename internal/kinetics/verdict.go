package kinetics

import (
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// Standing is the word a maker gets about a colourant.
type Standing string

// The four standings. Stable: holds. Shifting: moves, but the maker can plan on
// it, because it returns or lands on the same other colour every time.
// Unreliable: fades, bleeds, or lands elsewhere each time. Unknown: none of them
// is more probable than not.
const (
	Stable     Standing = "stable"
	Shifting   Standing = "shifting"
	Unreliable Standing = "unreliable"
	Unknown    Standing = "unknown"
)

// Batch is one portion with the colourant, for [Judge].
type Batch struct {
	// Curve is its fitted curve, corrected for the bare control or for browning.
	Curve Curve
	// Reference is the colour the portion would have had if nothing had happened
	// to the colourant; nil where there is none.
	Reference *cie.Lab
	// Lands is the settled colour brought to a dose and base common to all
	// batches; nil means the curve's own.
	Lands *cie.Lab
	// Bled tells that the colour was seen to spread into its neighbours.
	Bled bool
}

// Chemistry is what the label says of a colourant; the zero value says nothing.
type Chemistry struct {
	// Weight is the probability of each pattern by label and chemistry; all zero
	// where they say nothing.
	Weight [4]float64
	// Lands is the other colour it is known to settle on; nil where that is not
	// known.
	Lands *cie.Lab
	// Destroyed tells that the substance breaks down: then settling elsewhere is
	// unreliable, unless two own batches agree on where.
	Destroyed bool
	// Bleeds is the probability, 0–1, that it spreads into its neighbours.
	Bleeds float64
}

// Verdict is what all batches and the label say of a colourant together.
type Verdict struct {
	// Standing is the word, Probability that of its being so in the next batch.
	// For Unknown it is the highest probability that any of the others reached.
	Standing    Standing
	Probability float64
	// Pattern is the probability of each pattern in the next batch, the reference
	// colour allowed for: a colour that lies flat where it does not belong has
	// settled elsewhere.
	Pattern [4]float64
	// Lands is where the colour lands; nil where nobody can say.
	Lands *cie.Lab
	// Batches is how many batches were decided enough to count, Bled in how many
	// of all the colour bled.
	Batches, Bled int
	// Refused says why there is no verdict; empty for the others.
	Refused string
	// Windows are the drift rules' answers, batch by batch.
	Windows []Windows
}

// labelWorth is how many batches a label that speaks is worth, and ignorance how
// many the even prior is worth that stands in for one that does not: the first
// is that of the worked examples of pooling, the second Perks' prior, one count
// spread over the classes.
const (
	labelWorth = 2
	ignorance  = 1
)

// Judge gives the verdict on a colourant from its batches and its label. Batches
// whose curve is known too coarsely on days 3 and 28, or that brown, are shown in
// Windows and not counted. The pattern probabilities of the rest are soft counts
// beside what the label says. P(shifting) is P(returns), and P(settles) as far as
// the label or batches that agree say where; settling elsewhere each time is
// unreliable, and where there is only one batch to go by it stays open. Own
// batches outrank the label. A colour that bleeds is unreliable by as much,
// whatever its curve.
func Judge(batches []Batch, label Chemistry) Verdict {
	var v Verdict
	counts, speaks := priorCounts(label)
	var landings []landing
	var settled [4][]landing
	for _, b := range batches {
		w := Classify(b.Curve, b.Reference)
		v.Windows = append(v.Windows, w)
		if b.Bled {
			v.Bled++
		}
		if reason := uncounted(b, w, label); reason != "" {
			v.Refused = reason
			continue
		}
		p := b.Curve.seen(b.Reference)
		counts.Add(p)
		v.Batches++
		at := b.Curve.Settled().Median
		if b.Lands != nil {
			at = *b.Lands
		}
		for q := range settled {
			settled[q] = append(settled[q], landing{at, p[q]})
		}
		if p[Settles] >= 0.5 {
			landings = append(landings, landing{at, p[Settles]})
		}
	}
	if len(batches) == 0 && !speaks {
		v.Refused = "no batch with this colourant and nothing on its label"
	}
	v.Pattern = counts.Mean()
	p := map[Standing]float64{}
	if v.Batches > 0 || speaks {
		v.Refused = ""
		same, apart, where := together(landings)
		if len(landings) < 2 && label.Destroyed {
			same, apart = 0, 1
		} else if len(landings) < 2 && label.Lands != nil {
			same, where = 1, label.Lands
			if len(landings) == 1 {
				where = &landings[0].at
			}
		}
		p[Stable] = v.Pattern[Holds]
		p[Shifting] = v.Pattern[Returns] + same*v.Pattern[Settles]
		p[Unreliable] = v.Pattern[Fades] + apart*v.Pattern[Settles]
		v.stand(p, label.Bleeds, len(batches))
		v.land(settled, where)
		if v.Standing == Unknown {
			v.Refused = v.undecided(same+apart > 0)
		}
		return v
	}
	v.stand(p, label.Bleeds, len(batches))
	return v
}

// undecided says why nothing was more probable than not.
func (v *Verdict) undecided(placed bool) string {
	if !placed && v.Pattern[Settles] >= 0.5 {
		return "it settles elsewhere, but neither the label nor two batches say where"
	}
	return fmt.Sprintf("nothing is more probable than not: holds %.2f, returns %.2f, settles elsewhere %.2f, fades %.2f",
		v.Pattern[Holds], v.Pattern[Returns], v.Pattern[Settles], v.Pattern[Fades])
}

// priorCounts are the counts before any batch, and whether the label speaks.
func priorCounts(label Chemistry) (d Dirichlet, speaks bool) {
	var sum float64
	for _, w := range label.Weight {
		sum += w
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return Dirichlet{[4]float64{ignorance / 4.0, ignorance / 4.0, ignorance / 4.0, ignorance / 4.0}}, false
	}
	for i, w := range label.Weight {
		d.Alpha[i] = labelWorth * w / sum
	}
	return d, true
}

// uncounted says why a batch does not count, if it does not. Without a reference
// a batch still counts if the label vouches that nothing jumps within the hour, or
// if the curve shows a fade, which needs no reference.
func uncounted(b Batch, w Windows, label Chemistry) string {
	switch {
	case !(w.Noise <= coarsest), w.Kind == Browning:
		return w.Because
	case b.Reference == nil && !(label.Weight[Holds] > 0.5) && !(b.Curve.pattern[Fades] >= 0.5):
		return w.Because
	}
	return ""
}

// seen are the pattern probabilities with the reference allowed for: of the
// probability that the colour holds or returns, the part whose day 28 does not
// pass for the reference has settled elsewhere. The colour of each pattern on
// day 28 is taken as normal, on three Gauss–Hermite nodes a coordinate.
func (c Curve) seen(reference *cie.Lab) [4]float64 {
	p := c.pattern
	if reference == nil {
		return p
	}
	parts := c.parts(28)
	for _, q := range []Pattern{Holds, Returns} {
		var of mixture
		for _, part := range parts {
			if part.pattern == q {
				of = append(of, part)
			}
		}
		if len(of) == 0 {
			continue
		}
		elsewhere := p[q] * (1 - of.near(*reference))
		p[q] -= elsewhere
		p[Settles] += elsewhere
	}
	return p
}

// near is the probability that a colour of the mixture passes for the reference.
func (m mixture) near(reference cie.Lab) float64 {
	nodes := [3]struct{ z, weight float64 }{{-math.Sqrt(3), 1.0 / 6}, {0, 2.0 / 3}, {math.Sqrt(3), 1.0 / 6}}
	var mean, sd [3]float64
	for ch := range 3 {
		mean[ch], sd[ch] = m.moments(ch)
	}
	var sum float64
	for _, l := range nodes {
		for _, a := range nodes {
			for _, b := range nodes {
				at := cie.Lab{L: mean[0] + l.z*sd[0], A: mean[1] + a.z*sd[1], B: mean[2] + b.z*sd[2]}
				if Near(at, reference) {
					sum += l.weight * a.weight * b.weight
				}
			}
		}
	}
	return sum
}

// landing is where a batch settled, and how much it counts.
type landing struct {
	at     cie.Lab
	weight float64
}

// together gives the share of landings that lie in one place, two batches at
// least, the share that lie elsewhere, and the place. A single landing decides
// neither.
func together(landings []landing) (same, apart float64, where *cie.Lab) {
	if len(landings) < 2 {
		return 0, 0, nil
	}
	var total, best float64
	var group []landing
	for _, centre := range landings {
		total += centre.weight
		var sum float64
		var with []landing
		for _, l := range landings {
			if Agree(centre.at, l.at) {
				sum += l.weight
				with = append(with, l)
			}
		}
		if len(with) > 1 && sum > best {
			best, group = sum, with
		}
	}
	return best / total, 1 - best/total, meanOf(group)
}

func meanOf(ls []landing) *cie.Lab {
	var sum cie.Lab
	var weight float64
	for _, l := range ls {
		sum = sum.Add(l.at.Scale(l.weight))
		weight += l.weight
	}
	if weight == 0 {
		return nil
	}
	m := sum.Scale(1 / weight)
	return &m
}

// stand takes bleeding into account and chooses the word. Bleeding that neither
// the label expects nor anyone saw takes nothing away; seen in k of n batches it
// has the mean of a Beta posterior, from the label or from Jeffreys' prior.
func (v *Verdict) stand(p map[Standing]float64, label float64, batches int) {
	if v.Bled > 0 || label > 0 {
		yes, worth := 0.5, 1.0
		if label > 0 {
			yes, worth = labelWorth*min(label, 1), labelWorth
		}
		bleeds := (yes + float64(v.Bled)) / (worth + float64(batches))
		for s := range p {
			p[s] *= 1 - bleeds
		}
		p[Unreliable] += bleeds
	}
	v.Standing = Unknown
	for _, s := range []Standing{Stable, Shifting, Unreliable} {
		if p[s] > v.Probability {
			v.Probability = p[s]
			if p[s] >= 0.5 {
				v.Standing, v.Refused = s, ""
			}
		}
	}
}

// land says where the colour lands: the common place of the batches that settled
// elsewhere, or the mean of the batches weighed by how far they followed the
// pattern that carries the verdict.
func (v *Verdict) land(settled [4][]landing, where *cie.Lab) {
	switch {
	case v.Standing == Stable:
		v.Lands = meanOf(settled[Holds])
	case v.Standing == Shifting && v.Pattern[Returns] > v.Pattern[Settles]:
		v.Lands = meanOf(settled[Returns])
	case v.Standing == Shifting:
		v.Lands = where
	case v.Standing == Unknown && len(settled[Settles]) == 1 && v.Pattern[Settles] >= 0.5:
		v.Lands = meanOf(settled[Settles]) // provisional: one batch
	}
}
