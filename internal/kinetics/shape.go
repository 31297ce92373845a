package kinetics

import "math"

// Pattern is the kind of curve a colourant follows after the pour.
type Pattern int

// The four patterns, in the order of every [4]float64 of this package.
const (
	Holds   Pattern = iota // no change to speak of
	Returns                // goes off colour and comes back
	Settles                // lands on another colour for good
	Fades                  // goes on changing week after week
)

// String gives the pattern's word.
func (p Pattern) String() string {
	return [...]string{"holds", "returns", "settles elsewhere", "fades"}[p]
}

// SettledDay is the day from the pour on which a colour counts as settled;
// amplitudes of slow changes are reckoned at it too.
const SettledDay = 42.0

// driftRate, per day, is how fast the small drift of a colour that holds runs
// out (reference method): a half-life of three and a half days.
const driftRate = 0.2

// Decay is what is left on a day (≥ 0) of a departure that halves every halfLife
// days (> 0): 2^(−day/halfLife). A planned colour that settles or fades follows
// it, from its colour at the pour (1) to the one it is heading for (0).
func Decay(day, halfLife float64) float64 { return math.Exp2(-day / halfLife) }

// Pulse is the path of a colour that goes off and returns: the difference of two
// exponentials, 0 at the pour, 1 where the excursion is widest, and back to 0 with
// the half-life back, having left with the half-life away (days, 0 < away ≤ back;
// equal ones give the limit k·t·e^(1−k·t)).
func Pulse(day, back, away float64) float64 {
	k1, k2 := math.Ln2/back, math.Ln2/away
	if k2/k1-1 < 1e-6 {
		return k1 * day * math.Exp(1-k1*day)
	}
	return (math.Exp(-k1*day) - math.Exp(-k2*day)) / pulsePeak(k1, k2)
}

// PlannedPulse is the excursion to reckon with in a plan until the colourant's own
// is learned: back with a half-life of half a day, having left as much faster as
// in [DefaultPrior] (common practice has such changes over in two or three days;
// no source).
func PlannedPulse(day float64) float64 { return Pulse(day, 0.5, 0.5*0.4/3) }

// pulsePeak is the largest value of e^(−k1·t) − e^(−k2·t), at
// t = ln(k2/k1)/(k2−k1).
func pulsePeak(k1, k2 float64) float64 {
	t := math.Log(k2/k1) / (k2 - k1)
	return math.Exp(-k1*t) - math.Exp(-k2*t)
}

// fadeShape is the part of its day-42 change that a fading colour has gone
// through: day/42 for as long as series were ever watched (56 days), then ever
// slower, half as fast after every further 42 days, because what can fade runs
// out. The slope has no step.
func fadeShape(day float64) float64 {
	const watched = 56.0
	if day <= watched {
		return day / SettledDay
	}
	return watched/SettledDay + (1-math.Exp2(-(day-watched)/SettledDay))/math.Ln2
}

// form is a pattern with its rates (per day) fixed: k1 alone, or k1 of the return
// and k2 of the departure.
type form struct {
	pattern Pattern
	k1, k2  float64
	peak    float64 // of the pulse
}

// terms is how many amplitudes a form has, the colour at the pour included.
func (f form) terms() int {
	if f.pattern == Returns {
		return 3
	}
	return 2
}

// at gives the shape functions on a day; the curve is their sum, each times its
// amplitude.
func (f form) at(day float64) [3]float64 {
	switch f.pattern {
	case Holds:
		return [3]float64{1, -math.Expm1(-driftRate * day)}
	case Settles:
		return [3]float64{1, -math.Expm1(-f.k1 * day)}
	case Fades:
		return [3]float64{1, fadeShape(day)}
	}
	slow, fast := math.Exp(-f.k1*day), math.Exp(-f.k2*day)
	return [3]float64{1, (slow - fast) / f.peak, 1 - slow}
}

// amplitudes are the beliefs about the factors of the shape functions.
func (p *Prior) amplitudes(pattern Pattern) [3]Normal {
	switch pattern {
	case Holds:
		return [3]Normal{p.Start, p.Drift}
	case Settles:
		return [3]Normal{p.Start, p.Shift}
	case Fades:
		return [3]Normal{p.Start, p.Fade}
	}
	return [3]Normal{p.Start, p.Excursion, p.Residue}
}
