package kinetics

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"lyefast/internal/cie"
)

// Point is one reading of a portion.
type Point struct {
	// Day counts from the pour, 0 to MaxDay.
	Day float64
	// Lab is the colour read.
	Lab cie.Lab
	// SD is the standard deviation of the reading per coordinate, repeats and
	// placing included; 0 where it is not known.
	SD cie.Lab
}

// Limits of what Fit takes.
const (
	// MaxDay is the latest day after the pour: ten years.
	MaxDay = 3650.0
	// MaxPoints is the largest number of readings of one portion.
	MaxPoints = 1000
)

// Errors of Fit about its readings; compare with errors.Is.
var (
	ErrPoint = errors.New("not a reading of a bar")
	ErrMany  = errors.New("too many readings of one portion")
)

// checked refuses what no reading can be and gives the rest in order of day, each
// only once: a reading written twice tells no more than a reading written once.
func checked(points []Point) ([]Point, error) {
	if len(points) > MaxPoints {
		return nil, fmt.Errorf("%d readings, at most %d: %w", len(points), MaxPoints, ErrMany)
	}
	for _, p := range points {
		switch {
		case !(p.Day >= 0 && p.Day <= MaxDay):
			return nil, fmt.Errorf("day %g is not within 0–%g after the pour: %w", p.Day, MaxDay, ErrPoint)
		case !(p.Lab.L >= -5 && p.Lab.L <= 105): // a little room for the noise of white and black
			return nil, fmt.Errorf("day %g: L* is 0–100, got %g: %w", p.Day, p.Lab.L, ErrPoint)
		case !(math.Abs(p.Lab.A) <= 200 && math.Abs(p.Lab.B) <= 200):
			return nil, fmt.Errorf("day %g: a* and b* lie within ±200, got %g and %g: %w", p.Day, p.Lab.A, p.Lab.B, ErrPoint)
		}
		for ch := range 3 {
			if s := coordinate(p.SD, ch); !(s >= 0 && s <= 100) {
				return nil, fmt.Errorf("day %g: a standard deviation is 0–100, got %g: %w", p.Day, s, ErrPoint)
			}
		}
	}
	out := slices.Clone(points)
	slices.SortFunc(out, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), compareLab(a.Lab, b.Lab), compareLab(a.SD, b.SD))
	})
	return slices.Compact(out), nil
}

func compareLab(a, b cie.Lab) int {
	return cmp.Or(cmp.Compare(a.L, b.L), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B))
}
