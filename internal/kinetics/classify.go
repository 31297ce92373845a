package kinetics

import (
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// The thresholds of the drift rules (a proposal resting on published visibility
// figures): 1.8 is the widest acceptability figure in ΔE00, 1.7 is grade 4 of the
// grey scale, 5 is grade 2–3.
const (
	visible       = 2.0   // least change that counts
	clear         = 5.0   // least excursion that counts
	coarsest      = 3.0   // readings coarser than this decide nothing
	flat          = 1.5   // a colour moving less than this many thresholds is flat
	nearHue       = 20.0  // degrees
	nearChroma    = 0.6   // share of the reference's chroma
	nearDistance  = 10.0  // ΔE00
	neutralChroma = 8.0   // below it a hue means nothing,
	nearNeutral   = 5.0   // and the distance alone decides
	fadeSlope     = 0.005 // of −ln C*, per day: 13 % of the chroma in 28 days
	fastFade      = 0.02
	lateShare     = 0.25 // of the movement from day 3 to 28 that weeks of change leave for after day 14
	agreement     = 5.0  // ΔE00 between batches that land on the same colour
)

// distance is CIEDE2000 with kL = 2.
func distance(a, b cie.Lab) float64 { return cie.DeltaE00K(a, b, 2, 1, 1) }

// Near tells whether a colour still passes for the reference: hue within 20°, at
// least 60 % of its chroma, and within 10 ΔE00 (kL = 2); within 5 where the
// reference has a C* below 8.
func Near(c, reference cie.Lab) bool {
	d := distance(c, reference)
	want := reference.LCh()
	if want.C < neutralChroma {
		return d <= nearNeutral
	}
	got := c.LCh()
	turn := math.Abs(math.Remainder(got.H-want.H, 360))
	return turn <= nearHue && got.C >= nearChroma*want.C && d <= nearDistance
}

// Agree tells whether two batches land on the same colour: within 5 ΔE00.
func Agree(a, b cie.Lab) bool { return cie.DeltaE00(a, b) <= agreement }

// Kind is what the drift rules make of one portion.
type Kind string

// The answers of the rules, first that fits. Bleeding is asked apart: [Bleeds].
const (
	NotEnough  Kind = "not enough to say"
	Browning   Kind = "browning"
	Fading     Kind = "fades"
	Elsewhere  Kind = "settles elsewhere"
	CameBack   Kind = "returns"
	Steady     Kind = "holds"
	NoneOfThem Kind = "unclear"
)

// Windows is what the drift rules saw of a fitted curve on days 1, 3 and 28.
// Differences are ΔE00 with kL = 2.
type Windows struct {
	Kind Kind
	// Because says why, with the numbers.
	Because string
	// Day1, Day3 and Day28 are the curve on those days.
	Day1, Day3, Day28 Band
	// Noise is the difference that 95 % of pairs of equally possible colours keep
	// within, on the worse known of days 3 and 28.
	Noise float64
	// Moved is the difference between days 3 and 28, Excursion the larger one
	// between the pour or day 1 and day 3, as far as those days are known.
	Moved, Excursion float64
	// Near tells whether day 3 passes for the reference; false without one.
	Near bool
	// BackBy48h tells of an excursion that was 70 % gone on day 2.
	BackBy48h bool
	// Fast tells of a fade of 2 % of the chroma a day or more.
	Fast bool
}

// Classify asks the drift rules of a fitted curve: day 0 is the pour, and the
// windows are days 1, 3 and 28 of the curve, so readings may start at the cut.
// Where the band is too wide on a day that a rule needs the answer is NotEnough.
// The reference is the colourant's own colour, dispersed in a little oil or the
// maker's swatch; without one only fading and browning can be told.
func Classify(c Curve, reference *cie.Lab) Windows {
	w := Windows{Day1: c.At(1), Day3: c.At(3), Day28: c.At(28)}
	w.Noise = max(noiseOf(w.Day3), noiseOf(w.Day28))
	threshold := max(visible, 2*w.Noise)
	w.Moved = distance(w.Day3.Median, w.Day28.Median)
	if !(w.Noise <= coarsest) {
		w.Kind = NotEnough
		day := "28"
		if noiseOf(w.Day3) == w.Noise {
			day = "3"
		}
		w.Because = fmt.Sprintf("the colour on day %s is known to ±%.1f ΔE00 only, and more than %.0f decides nothing; read again about then", day, w.Noise, coarsest)
		return w
	}
	before, after := w.Day3.Median, w.Day28.Median
	l, b := after.L-before.L, after.B-before.B
	c3, c28 := before.LCh().C, after.LCh().C
	slope := math.Log(c3/c28) / 25
	// What fades or browns goes on for weeks; a colour on its way to another one has
	// little left to do after a fortnight, though it may take longer than day 3.
	moving := w.Moved > threshold && distance(c.At(14).Median, after) >= lateShare*w.Moved
	switch {
	// Browning first: a fading colour does not grow darker and yellower, but a
	// browning blue loses chroma.
	case moving && b > 0 && l < 0 && math.Hypot(b, l) > threshold:
		w.Kind = Browning
		w.Because = fmt.Sprintf("from day 3 to 28 L* fell by %.1f and b* rose by %.1f; think of scent, sugar or oil before the colourant", -l, b)
		return w
	case moving && slope >= fadeSlope && c3-c28 >= max(visible, 2*w.Noise):
		w.Kind, w.Fast = Fading, slope >= fastFade
		w.Because = fmt.Sprintf("from day 3 to 28 the colour moved by %.1f ΔE00 and lost %.0f %% of its chroma", w.Moved, 100*(1-c28/c3))
		return w
	case reference == nil:
		w.Kind = NotEnough
		w.Because = "no reference colour: one that jumped within the hour and then stayed flat would look as if it had held; give the colourant's own colour, stirred into a little oil"
		return w
	}
	w.Near = Near(before, *reference)
	day0 := c.At(0)
	if noiseOf(day0) <= coarsest {
		w.Excursion = distance(day0.Median, before)
	}
	if noiseOf(w.Day1) <= coarsest {
		w.Excursion = max(w.Excursion, distance(w.Day1.Median, before))
	}
	wide := max(clear, 3*w.Noise)
	switch still := w.Moved <= flat*threshold; {
	case !w.Near && still:
		w.Kind = Elsewhere
		w.Because = fmt.Sprintf("on day 3 it was %.1f ΔE00 from its reference, and it moved by %.1f more until day 28", distance(before, *reference), w.Moved)
	case w.Near && w.Excursion >= wide:
		w.Kind = CameBack
		w.BackBy48h = distance(c.At(2).Median, before) <= 0.3*w.Excursion
		w.Because = fmt.Sprintf("on the first day it was off by %.1f ΔE00, on day 3 it was back near its reference", w.Excursion)
	case w.Near && still && noiseOf(w.Day1) > coarsest:
		w.Kind = NotEnough
		w.Because = fmt.Sprintf("from day 3 on it is near its reference and moved by %.1f ΔE00, but day 1 was not seen, so it may have gone off and come back", w.Moved)
	case w.Near && still:
		w.Kind = Steady
		w.Because = fmt.Sprintf("it is near its reference, was off by %.1f ΔE00 at most on the first day and moved by %.1f from day 3 to 28", w.Excursion, w.Moved)
	default:
		w.Kind = NoneOfThem
		w.Because = fmt.Sprintf("it moved by %.1f ΔE00 from day 3 to 28 without losing chroma", w.Moved)
	}
	return w
}

// noiseOf is the ΔE00 (kL = 2) that 95 % of pairs of colours drawn from a band keep
// within: 2.795, the 95 % point of the length of a standard normal vector in three
// dimensions, for pairs √2 wider, spread evenly over the axes.
func noiseOf(b Band) float64 {
	var sum float64
	for ch := range 3 {
		half := (coordinate(b.P95, ch) - coordinate(b.P05, ch)) / 2 / z90
		step := [3]float64{}
		step[ch] = half / 2
		d := distance(b.Median.Sub(labOf(step)), b.Median.Add(labOf(step)))
		sum += d * d
	}
	return 2.795 / math.Sqrt(3) * math.Sqrt2 * math.Sqrt(sum)
}

// Bleeds is the drift rule for bleeding: the plain soap 2–3 mm from the border of
// a coloured portion differs from plain soap 15 mm away by more than the
// threshold, did so by that much less after a day, and differs towards the
// coloured side. noise is the ΔE00 between repeated readings of one spot (≥ 0).
func Bleeds(near24h, far24h, near28d, far28d, coloured cie.Lab, noise float64) bool {
	threshold := max(visible, 2*noise)
	then, now := distance(near24h, far24h), distance(near28d, far28d)
	if now <= threshold || now-then <= threshold {
		return false
	}
	spread, towards := near28d.Sub(far28d), coloured.Sub(far28d)
	along := spread.A*towards.A + spread.B*towards.B
	return along >= 0.8*math.Hypot(spread.A, spread.B)*math.Hypot(towards.A, towards.B) && along > 0
}
