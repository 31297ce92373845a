// Package forecast joins the shelf's knowledge with a plan: what colour each
// portion will be on each day from pour to settled, with an honest band.
//
// Start at [Run]. The forward model is two-constant Kubelka–Munk on latent
// spectra (package mixing) with absorptions that change in time: a colourant
// moves along its pattern, and vanillin adds a brown absorber of growing strength
// (package fragrance). Everything uncertain is drawn together, so that two
// portions of one plan share their base, their scent and their colourants in each
// draw and can be compared.
//
// Colours are CIELAB D65/2°. Days count from the pour. No clock, no store: values
// in, values out.
package forecast

import (
	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

// The days a plan is forecast for, in days since the pour. Settled is the day the
// bar is judged; Late is given beside it where the colour still moves.
const (
	AtPour  = 0.0
	Settled = 42.0
	Late    = 180.0
)

// Days lists the days of a plan's forecast in order.
var Days = []float64{AtPour, 2, 14, Settled, Late}

// Swatch is a colour a colourant is known to give.
type Swatch struct {
	Lab cie.Lab
	// SD is its doubt, one standard deviation per coordinate.
	SD cie.Lab
	// Dose at which it gives that colour, g/kg of oils, more than 0.
	Dose unit.GramsPerKg
	// Basis says where it comes from.
	Basis string
}

// Pattern holds the probabilities of the four courses a colour can take; they sum to 1.
type Pattern struct {
	Holds   float64 `json:"holds"`
	Returns float64 `json:"returns"`
	Settles float64 `json:"settles"`
	Fades   float64 `json:"fades"`
}

// Likeliest names the most probable course; ties go to the first of holds,
// returns, settles, fades.
func (p Pattern) Likeliest() Course {
	best, at := p.Holds, Holds
	for c, v := range [...]float64{Returns: p.Returns, Settles: p.Settles, Fades: p.Fades} {
		if v > best {
			best, at = v, Course(c)
		}
	}
	return at
}

// at picks the course at quantile q (0–1) of the distribution.
func (p Pattern) at(q float64) Course {
	for _, step := range []struct {
		p float64
		c Course
	}{{p.Holds, Holds}, {p.Returns, Returns}, {p.Settles, Settles}} {
		if q < step.p {
			return step.c
		}
		q -= step.p
	}
	return Fades
}

// Course is what a colour does over the cure.
type Course int

// The four courses.
const (
	Holds Course = iota
	Returns
	Settles
	Fades
)

// Colorant is what is known of one colourant before the pour.
type Colorant struct {
	Name string
	// Own is the colour it is bought for; nil = behaviour known, colour not.
	Own *Swatch
	// Lands is the colour it ends on where it settles elsewhere; nil = cannot be said.
	Lands *Swatch
	// Fresh is the colour of its excursion in strong alkali; nil = cannot be said.
	Fresh *Swatch
	// Pattern as expected from label and chemistry, or from the maker's readings.
	Pattern Pattern
	// HalfLife of the change, days; 0 takes the default of the course.
	HalfLife float64
	// White is true for an opaque white, whose scattering is free.
	White bool
	// MaxDose is the largest dose it was ever read at; 0 takes the swatch's dose.
	MaxDose unit.GramsPerKg
	// Clear marks a carrier that colours nothing by itself (uncoated mica, silica, talc).
	Clear bool
}

// Use is a colourant at a dose in a portion.
type Use struct {
	Colorant string
	Dose     unit.GramsPerKg
}

// Portion is one portion to forecast.
type Portion struct {
	Batter, Name string
	Colorants    []Use
	// BrownDose is vanillin-equivalent % of this portion's cured bar; 0 = unscented.
	BrownDose unit.Percent
	// Ratio is mol of stabiliser active per mol of vanillin-type aldehyde in it.
	Ratio float64
	// Lightness shift and the like do not enter here: the target is only compared.
	Target *cie.Lab
}

// Key gives "batter/portion".
func (p Portion) Key() string { return p.Batter + "/" + p.Name }

// Colour is a forecast colour. Lab lies between P05 and P95 in each coordinate.
type Colour struct {
	Lab  cie.Lab `json:"lab"`
	P05  cie.Lab `json:"p05"`
	P95  cie.Lab `json:"p95"`
	Hex  string  `json:"hex"`
	Name string  `json:"name"`
	// Band is the ΔE00 that 90 % of the draws stay within of Lab.
	Band float64 `json:"band_delta_e00"`
}

// DayColour is a forecast for one day; Colour is nil where no number can be given.
type DayColour struct {
	Day float64 `json:"day"`
	*Colour
}

// Outcome is the forecast of one portion.
type Outcome struct {
	Batter string
	Name   string
	Days   []DayColour
	// Settled is the colour on day 42, nil where it cannot be said.
	Settled *Colour
	// IfGelled and IfNot are given when the plan leaves gel open.
	IfGelled, IfNot *Colour
	// TargetDelta is the ΔE00 of Settled from the target, nil without either.
	TargetDelta *float64
	// Near gives the probability of ending within 1.8, 3 and 5 ΔE00 of the target.
	Near *Within
	// Best, Likely and Worst are draws at the 5th, 50th and 95th percentile of
	// distance from the target, or from dark to light without one.
	Best, Likely, Worst *cie.Lab
	// Brown is ΔE00 between the settled colour with and without the scent.
	BrownDelta float64
	// Without is the settled colour this portion would have unscented, nil as Settled.
	Without *Colour
	// Unknown says why no number is given, empty when one is.
	Unknown []string
	// Extrapolates is true when a dose is beyond four times the largest one read.
	Extrapolates bool

	settled []cie.Lab // draws of day 42, in the order of the plan's draws
	pour    []cie.Lab
	last    []cie.Lab // draws of the day worked out last
}

// Within holds probabilities of ending within a ΔE00 of the target: 1.8 is the
// acceptability threshold of R. D. Paravina et al., J. Esthet. Restor. Dent. 27
// (2015) S1; 3 and 5 are a plain and a large change.
type Within struct {
	E18 float64 `json:"p_within_1_8"`
	E3  float64 `json:"p_within_3"`
	E5  float64 `json:"p_within_5"`
}

// Result is the forecast of a whole plan.
type Result struct {
	Base     Base
	Outcomes []Outcome
	// Priors counts the colourants and scents whose figures come from the label or
	// from class alone; Unknown those of which no colour can be said; Learned those that
	// the maker's own portions taught.
	Priors, Unknown, Learned int
}
