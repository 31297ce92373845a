package kinetics

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"lyefast/internal/lsq"
	"lyefast/internal/unit"
)

// Weighing is a bar's weight on a day after the pour.
type Weighing struct {
	Day   float64
	Grams unit.Grams
}

// Drying is m(t) = End + (Start − End)·e^(−t/Days), fitted to a bar's weights
// (model; soap loses weight in storage by water alone).
type Drying struct {
	// Start is the weight at the pour, End the one it comes to rest at.
	Start, End unit.Grams
	// Days is the time T in which the rest of the loss falls to 1/e.
	Days float64
	// EndSD and DaysSD are standard deviations; EndSD is 0 where End stands at the
	// water-free weight.
	EndSD  unit.Grams
	DaysSD float64
	// Residual is the standard deviation of a weighing about the curve.
	Residual unit.Grams
}

// Errors of FitDrying; compare with errors.Is.
var (
	ErrWeighing = errors.New("not a weighing")
	// ErrDryingUnknown: the weights do not show a curve that levels off.
	ErrDryingUnknown = errors.New("no drying curve in these weights")
)

// leastWeighings is what three figures and one degree of freedom ask for.
const leastWeighings = 4

// FitDrying fits a drying curve to at least four weighings on four different days.
// End does not go below waterFree, the weight of the bar without any water (0
// where that is not known). Errors: ErrWeighing for a figure that is no weight or
// no day, ErrDryingUnknown for too few weighings or a bar that does not lose
// weight or shows no sign of levelling off.
func FitDrying(weighings []Weighing, waterFree unit.Grams) (Drying, error) {
	if !(waterFree >= 0) || math.IsInf(float64(waterFree), 0) {
		return Drying{}, fmt.Errorf("water-free weight %g g: %w", float64(waterFree), ErrWeighing)
	}
	ws := slices.Clone(weighings)
	for _, w := range ws {
		if !(w.Day >= 0 && w.Day <= MaxDay) || !(w.Grams > 0 && w.Grams <= 1e6) {
			return Drying{}, fmt.Errorf("%g g on day %g: %w", float64(w.Grams), w.Day, ErrWeighing)
		}
	}
	slices.SortFunc(ws, func(a, b Weighing) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Grams, b.Grams))
	})
	days := 0
	for i, w := range ws {
		if i == 0 || w.Day != ws[i-1].Day {
			days++
		}
	}
	if days < leastWeighings {
		return Drying{}, fmt.Errorf("weighed on %d days, %d are needed: %w", days, leastWeighings, ErrDryingUnknown)
	}
	free, err := fitDrying(ws, math.NaN())
	if err == nil && free.End < waterFree {
		free, err = fitDrying(ws, float64(waterFree))
	}
	return free, err
}

// fitDrying fits with the end free (NaN) or given. A grid of times with the
// weights solved linearly finds the start, least squares the rest.
func fitDrying(ws []Weighing, end float64) (Drying, error) {
	free := math.IsNaN(end)
	y := make([]float64, len(ws))
	for i, w := range ws {
		y[i] = float64(w.Grams)
		if !free {
			y[i] -= end
		}
	}
	span := ws[len(ws)-1].Day
	best, start := math.Inf(1), []float64(nil)
	for days := span / 100; days <= 30*span; days *= 1.3 {
		ones, fall := make([]float64, len(ws)), make([]float64, len(ws))
		for i, w := range ws {
			ones[i], fall[i] = 1, math.Exp(-w.Day/days)
		}
		cols := [][]float64{fall, ones}
		if !free {
			cols = cols[:1]
		}
		x, rss, err := lsq.Linear(cols, y)
		if err == nil && rss < best {
			best, start = rss, append([]float64{math.Log(days)}, x...)
		}
	}
	if start == nil {
		return Drying{}, ErrDryingUnknown
	}
	model := func(p []float64, day float64) float64 {
		m := p[1] * math.Exp(-day/math.Exp(p[0]))
		if free {
			m += p[2]
		}
		return m
	}
	fit, err := lsq.Fit(lsq.Residuals{Count: len(ws), Eval: func(p, out []float64) {
		for i, w := range ws {
			out[i] = y[i] - model(p, w.Day)
		}
	}}, start, lsq.Options{})
	days := math.Exp(fit.Params[0])
	d := Drying{Days: days, DaysSD: days * fit.SD(0)}
	loss := fit.Params[1]
	if free {
		end = fit.Params[2]
		d.EndSD = unit.Grams(fit.SD(2))
	}
	d.Start, d.End = unit.Grams(end+loss), unit.Grams(end)
	d.Residual = unit.Grams(math.Sqrt(fit.RSS / float64(len(ws)-len(start))))
	switch {
	case err != nil || fit.Cov == nil || math.IsInf(days, 0):
		return Drying{}, fmt.Errorf("%w: the loss does not level off yet; weigh again in a week or two", ErrDryingUnknown)
	case !(loss > 0):
		return Drying{}, fmt.Errorf("%w: the bar does not lose weight; check the days and the scale", ErrDryingUnknown)
	case !(d.DaysSD < days):
		return Drying{}, fmt.Errorf("%w: the weights scatter too much to tell how fast it dries", ErrDryingUnknown)
	case free && !(d.EndSD < unit.Grams(loss)):
		return Drying{}, fmt.Errorf("%w: the final weight is known to ±%s only, out of a loss of %s; weigh again in a week or two", ErrDryingUnknown, d.EndSD, unit.Grams(loss))
	}
	return d, nil
}

// At is the weight on a day (≥ 0).
func (d Drying) At(day float64) unit.Grams {
	return d.End + (d.Start-d.End)*unit.Grams(math.Exp(-day/d.Days))
}
