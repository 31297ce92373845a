package mixing

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"lyefast/internal/cie"
)

// Amount is a dose of a named colourant, g per kg of oils, ≥ 0.
type Amount struct {
	Colorant string
	Dose     float64
}

// Recipe is what decides the settled colour of a portion: the base it goes into, the
// colourants and the browning.
type Recipe struct {
	Base   cie.Lab // the uncoloured, unscented soap
	BaseSD cie.Lab // standard deviation of each coordinate of Base; 0 = exact
	Doses  []Amount
	Brown  float64 // expected strength of browning, ≥ 0, in the unit of Prior.Brown; 0 = none
	Scent  string  // whose browning; scents differ from what their label lets expect. May be empty
}

// Portion is a recipe that was made, with the settled colour read from it.
type Portion struct {
	Recipe
	Name string  // as shown by Explain and Misfits
	Lab  cie.Lab // settled colour
	SD   cie.Lab // standard deviation of each coordinate; below 0.2 it counts as 0.2
}

// Swatch is the colour a colourant gives at a dose (g/kg) in a base, as its seller or the
// maker's eye has it.
type Swatch struct {
	Lab  cie.Lab
	Dose float64
	Base cie.Lab
	SD   cie.Lab // 0 takes [SwatchSD]
}

// SwatchSD is how far a swatch is trusted: one standard deviation per coordinate.
var SwatchSD = cie.Lab{L: 6, A: 4, B: 6}

// ColorantPrior is what is known of a colourant before any portion.
type ColorantPrior struct {
	Kind   Kind
	Swatch *Swatch // nil = none
}

// BrownPrior is the prior of browning: K/S at 560 nm of an absorber of shape [BrownShape],
// u = exp(LnScale)·brown^Power, brown being [Recipe.Brown]. The zero value takes
// DefaultBrown.
type BrownPrior struct {
	LnScale, LnScaleSD float64
	Power, PowerSD     float64
	ScentSD            float64 // of ln u from scent to scent, about the common scale
}

// DefaultBrown is for a Recipe.Brown which already is the strength u that chemistry lets
// expect: scale and power one, with the doubt of label figures.
var DefaultBrown = BrownPrior{LnScale: 0, LnScaleSD: 0.6, Power: 1, PowerSD: 0.2, ScentSD: 0.35}

// VanillinBrown is for a Recipe.Brown that is the vanillin in g per kg of oils: 3 g/kg are
// about 0.2 % of a bar, where the prior of browning expects u about 1 with power 1.4.
var VanillinBrown = BrownPrior{LnScale: -1.5, LnScaleSD: 1, Power: 1.4, PowerSD: 0.25, ScentSD: 0.35}

// Prior is all that is known before the portions. Colourants not named here count as
// Colour without a swatch.
type Prior struct {
	Colorants map[string]ColorantPrior
	Brown     BrownPrior
}

// Bounds of what [Learn] takes in.
const (
	MaxPortions  = 20000
	MaxColorants = 1000 // on the shelf
	MaxLearned   = 120  // with portions of their own
	maxDose      = 1e4  // g/kg
	maxBrown     = 1e4
	minSD        = 0.2 // repeatability of a good hand-held instrument
)

// ErrTooMuch says that a history is larger than Learn handles.
var ErrTooMuch = errors.New("history too large to learn from at once")

func (r *Recipe) check() error {
	if err := checkLab("base", r.Base); err != nil {
		return err
	}
	if !goodSD(r.BaseSD) {
		return fmt.Errorf("standard deviation of the base %v: must be finite and not negative", r.BaseSD)
	}
	if !(r.Brown >= 0 && r.Brown <= maxBrown) {
		return fmt.Errorf("browning strength %g: must be from 0 to %g", r.Brown, float64(maxBrown))
	}
	for i, a := range r.Doses {
		if !(a.Dose >= 0 && a.Dose <= maxDose) {
			return fmt.Errorf("dose of %q %g g/kg: must be from 0 to %g", a.Colorant, a.Dose, float64(maxDose))
		}
		if slices.ContainsFunc(r.Doses[:i], func(b Amount) bool { return b.Colorant == a.Colorant }) {
			return fmt.Errorf("colourant %q is dosed twice; add the doses", a.Colorant)
		}
	}
	return nil
}

func (p *Portion) check() error {
	if err := p.Recipe.check(); err != nil {
		return err
	}
	if err := checkLab("colour", p.Lab); err != nil {
		return err
	}
	if !goodSD(p.SD) {
		return fmt.Errorf("standard deviation of the colour %v: must be finite and not negative", p.SD)
	}
	return nil
}

func goodSD(sd cie.Lab) bool {
	return sd.Finite() && sd.L >= 0 && sd.A >= 0 && sd.B >= 0 && math.Max(sd.L, math.Max(sd.A, sd.B)) <= 1000
}

func (p *Prior) check() error {
	if len(p.Colorants) > MaxColorants {
		return fmt.Errorf("%d colourants, at most %d: %w", len(p.Colorants), MaxColorants, ErrTooMuch)
	}
	b := p.Brown
	for _, v := range []float64{b.LnScaleSD, b.PowerSD, b.ScentSD, 10 - math.Abs(b.LnScale), 10 - math.Abs(b.Power)} {
		if !(v >= 0 && v < 1e6) {
			return fmt.Errorf("prior of browning %+v: deviations must not be negative, scale and power lie within ±10", b)
		}
	}
	for name, c := range p.Colorants {
		if c.Kind != Colour && c.Kind != White {
			return fmt.Errorf("colourant %q: unknown kind %d", name, c.Kind)
		}
		s := c.Swatch
		if s == nil {
			continue
		}
		if err := checkLab("swatch", s.Lab); err != nil {
			return fmt.Errorf("colourant %q: %w", name, err)
		}
		if err := checkLab("base of the swatch", s.Base); err != nil {
			return fmt.Errorf("colourant %q: %w", name, err)
		}
		if !(s.Dose > 0 && s.Dose <= maxDose) || !goodSD(s.SD) {
			return fmt.Errorf("colourant %q: swatch at %g g/kg with deviation %v; the dose must be above 0 and at most %g", name, s.Dose, s.SD, float64(maxDose))
		}
	}
	return nil
}
