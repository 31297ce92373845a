package kinetics

import (
	"errors"
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// Normal is a normal belief about a colour or a change of colour, the three
// coordinates independent. SD must be > 0.
type Normal struct{ Mean, SD cie.Lab }

// LogNormal is a belief about a positive quantity whose natural logarithm is
// normal, with mean ln Median and standard deviation SDLn ≥ 0.
type LogNormal struct{ Median, SDLn float64 }

// Noise is a belief about the standard deviation of readings of unknown quality:
// its median for each coordinate, and the spread of a factor common to the three.
type Noise struct {
	Median cie.Lab
	SDLn   float64
}

// Prior is what is believed before the first reading. [DefaultPrior] is the one
// for a colourant of which nothing is known; [Learn] narrows it by the maker's
// own earlier batches.
type Prior struct {
	// Weight is the probability of each pattern before any reading, in the order
	// of the Pattern constants; it is brought to a sum of 1.
	Weight [4]float64
	// Start is the colour at the pour.
	Start Normal
	// Drift is the small change, at its end, of a colour that holds.
	Drift Normal
	// Shift is the change of a colour that settles, from the pour to the end.
	Shift Normal
	// Excursion is the widest departure of a colour that returns, Residue what
	// stays of it.
	Excursion, Residue Normal
	// Fade is the change of a fading colour by day 42.
	Fade Normal
	// SettleHalfLife, ReturnHalfLife and DepartureHalfLife are in days. An
	// excursion leaves with the last and comes back with the one before.
	SettleHalfLife, ReturnHalfLife, DepartureHalfLife LogNormal
	// Noise is that of a reading whose standard deviation is not stated.
	Noise Noise
}

func each(v float64) cie.Lab { return cie.Lab{L: v, A: v, B: v} }

// DefaultPrior is the prior of the reference method of the simulated cure series
// (their README): the four patterns alike, settling by about 7 units per
// coordinate with a half-life of 2.5 days, excursions of about 6 units that leave
// in 0.4 and return in 3 days, fading by about 5 units in 42 days, readings good
// to about 0.65, which is split 0.62 : 0.48 : 0.62 between L*, a* and b* as the
// same README has it.
func DefaultPrior() Prior {
	return Prior{
		Weight:            [4]float64{0.25, 0.25, 0.25, 0.25},
		Start:             Normal{cie.Lab{L: 55, A: 0, B: 10}, each(40)},
		Drift:             Normal{SD: each(0.5)},
		Shift:             Normal{SD: each(7)},
		Excursion:         Normal{SD: each(6)},
		Residue:           Normal{SD: each(0.6)},
		Fade:              Normal{SD: each(5)},
		SettleHalfLife:    LogNormal{2.5, 0.9},
		ReturnHalfLife:    LogNormal{3, 0.6},
		DepartureHalfLife: LogNormal{0.4, 0.7},
		Noise:             Noise{cie.Lab{L: 0.70, A: 0.54, B: 0.70}, 0.45},
	}
}

// ErrPrior: the prior is not a set of beliefs, as when a weight is negative or a
// spread is not positive and finite. Compare with errors.Is.
var ErrPrior = errors.New("not a usable prior")

func (p Prior) check() error {
	var sum float64
	for i, w := range p.Weight {
		if !(w >= 0 && w <= math.MaxFloat32) {
			return fmt.Errorf("weight of %q is %g: %w", Pattern(i), w, ErrPrior)
		}
		sum += w
	}
	if sum == 0 {
		return fmt.Errorf("every pattern has weight 0: %w; start from the default prior", ErrPrior)
	}
	for _, n := range []struct {
		name string
		Normal
	}{
		{"start", p.Start}, {"drift", p.Drift}, {"shift", p.Shift},
		{"excursion", p.Excursion}, {"residue", p.Residue}, {"fade", p.Fade},
	} {
		for ch := range 3 {
			if m, s := coordinate(n.Mean, ch), coordinate(n.SD, ch); !(math.Abs(m) <= 1000 && s >= 1e-3 && s <= 1000) {
				return fmt.Errorf("%s %g ± %g: %w", n.name, m, s, ErrPrior)
			}
		}
	}
	for _, n := range []struct {
		name   string
		median float64
		sdLn   float64
	}{
		{"settling half-life", p.SettleHalfLife.Median, p.SettleHalfLife.SDLn},
		{"return half-life", p.ReturnHalfLife.Median, p.ReturnHalfLife.SDLn},
		{"departure half-life", p.DepartureHalfLife.Median, p.DepartureHalfLife.SDLn},
		{"noise in L*", p.Noise.Median.L, p.Noise.SDLn},
		{"noise in a*", p.Noise.Median.A, p.Noise.SDLn},
		{"noise in b*", p.Noise.Median.B, p.Noise.SDLn},
	} {
		if !(n.median >= 1e-3 && n.median <= 1e3 && n.sdLn >= 0 && n.sdLn <= 2) {
			return fmt.Errorf("%s %g, sd of its logarithm %g: %w", n.name, n.median, n.sdLn, ErrPrior)
		}
	}
	return nil
}

// coordinate gives L*, a* or b* by number, so that loops over the three can be
// written once.
func coordinate(c cie.Lab, i int) float64 {
	switch i {
	case 0:
		return c.L
	case 1:
		return c.A
	}
	return c.B
}

func labOf(v [3]float64) cie.Lab { return cie.Lab{L: v[0], A: v[1], B: v[2]} }
