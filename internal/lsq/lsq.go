// Package lsq fits parameters by least squares: [Fit] where the model is curved,
// [Linear] where it is straight.
//
// Fit is a damped Gauss–Newton method (Levenberg 1944, Marquardt 1963) on an
// orthogonal factorisation of the Jacobian, so the normal equations are never
// formed and about as many digits survive as the data hold. It is checked on
// the nonlinear regression problems of the NIST Statistical Reference Datasets.
//
// It is deterministic, every loop is bounded, and a residual or a parameter that
// stops being a number is an error or a refused step, never a result. The package
// knows no colours and no soap, and has no bounds on parameters: a caller that
// needs a positive quantity fits its logarithm.
package lsq

import (
	"errors"
	"fmt"
	"math"
)

// Errors that Fit and Linear give; compare with errors.Is.
var (
	// ErrShape: no parameters, no residuals, or fewer residuals than parameters.
	ErrShape = errors.New("fewer residuals than parameters")
	// ErrNonFinite: the start, the data or the residuals at the start are not
	// ordinary numbers.
	ErrNonFinite = errors.New("not a finite number")
	// ErrSingular: the data do not determine every parameter.
	ErrSingular = errors.New("the data do not determine every parameter")
	// ErrNoConvergence: the iterations ran out. The Result that comes with it is
	// the best point found.
	ErrNoConvergence = errors.New("no minimum found within the iterations allowed")
)

// Residuals is a problem: Count residuals, functions of the parameters, whose sum
// of squares is to be made small. Weights and penalties are rows of their own.
type Residuals struct {
	// Count is the number of residuals.
	Count int
	// Eval writes the residuals at params into out (length Count). It may write
	// NaN or ±Inf where params make no sense: the step there is refused.
	Eval func(params, out []float64)
	// Jacobian, if given, writes ∂residual i/∂parameter j into cols[j][i]. Without
	// it differences are used: central ones on the way and fourth-order ones at
	// the end, which cost 2 and 4 evaluations a parameter.
	Jacobian func(params []float64, cols [][]float64)
}

// Options tunes Fit; the zero value is meant for use.
type Options struct {
	// MaxIter bounds the steps tried on one descent; 0 means 400.
	MaxIter int
	// UnitNoise says that the residuals are already divided by their standard
	// deviation, so Cov is (JᵀJ)⁻¹. Otherwise the noise is estimated from the fit
	// and Cov is RSS/(Count−n)·(JᵀJ)⁻¹.
	UnitNoise bool
}

// Result is where a fit ended.
type Result struct {
	// Params are the parameters at the smallest sum of squares found.
	Params []float64
	// Cov is their covariance, n × n; nil where it cannot be had (dependent
	// parameters, or no degree of freedom left to estimate the noise from).
	Cov [][]float64
	// RSS is the sum of squared residuals at Params.
	RSS float64
	// Iter counts the steps tried, over all descents.
	Iter int
}

// SD is the standard deviation of parameter j: the root of its diagonal entry in
// Cov, NaN where there is no Cov.
func (r Result) SD(j int) float64 {
	if r.Cov == nil {
		return math.NaN()
	}
	return math.Sqrt(r.Cov[j][j])
}

// Fit minimises the sum of squared residuals from the given start. Where the
// first descent ends somewhere suspicious (iterations used up, or parameters that
// no longer matter separately, as when a rate has run off to infinity) the
// problem is tried again from the same start with shorter first steps and other
// scalings, and the best point found is taken.
//
// The error is ErrShape or ErrNonFinite for a problem that cannot be begun,
// ErrNoConvergence beside the best point where no descent settled, nil otherwise.
// Neither a global minimum nor a full set of determined parameters is promised:
// look at Cov.
func Fit(f Residuals, start []float64, opts Options) (Result, error) {
	n := len(start)
	if n == 0 || f.Count < n {
		return Result{}, fmt.Errorf("fit of %d parameters to %d residuals: %w", n, f.Count, ErrShape)
	}
	for j, v := range start {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Result{}, fmt.Errorf("start of parameter %d: %w", j+1, ErrNonFinite)
		}
	}
	if opts.MaxIter <= 0 {
		opts.MaxIter = 400
	}
	var best *descent
	tried := 0
	for _, way := range ways {
		d := newDescent(f, start)
		if math.IsInf(d.rss, 1) {
			return Result{}, fmt.Errorf("residuals at the start: %w; try another start", ErrNonFinite)
		}
		d.run(way, opts.MaxIter)
		tried += d.iter
		if best == nil || d.better(best) {
			best = d
		}
		if best.sound() {
			break
		}
	}
	best.iter = tried
	res := best.result(opts.UnitNoise)
	if !best.settled {
		return res, fmt.Errorf("after %d steps: %w; try another start", tried, ErrNoConvergence)
	}
	return res, nil
}

// Linear solves min ‖A·x − y‖ for a matrix given by its columns, by Householder
// QR on columns brought to unit length. It gives x and the residual sum of
// squares; ErrShape, ErrNonFinite or ErrSingular otherwise. Its arguments are
// left as they were.
func Linear(cols [][]float64, y []float64) (x []float64, rss float64, err error) {
	n, m := len(cols), len(y)
	if n == 0 || m < n {
		return nil, 0, fmt.Errorf("%d columns for %d values: %w", n, m, ErrShape)
	}
	a, scale := newColumns(m, n), make([]float64, n)
	for j, c := range cols {
		if len(c) != m {
			return nil, 0, fmt.Errorf("column %d has %d rows, not %d: %w", j+1, len(c), m, ErrShape)
		}
		scale[j] = norm(c)
		if math.IsNaN(scale[j]) || math.IsInf(scale[j], 0) {
			return nil, 0, fmt.Errorf("column %d: %w", j+1, ErrNonFinite)
		}
		if scale[j] == 0 {
			return nil, 0, fmt.Errorf("column %d is all zero: %w", j+1, ErrSingular)
		}
		for i, v := range c {
			a[j][i] = v / scale[j]
		}
	}
	b := append([]float64(nil), y...)
	if s := norm(b); math.IsNaN(s) || math.IsInf(s, 0) {
		return nil, 0, fmt.Errorf("values: %w", ErrNonFinite)
	}
	triangle(a, b)
	if conditionOf(a) > dependent {
		return nil, 0, ErrSingular
	}
	x = make([]float64, n)
	backSubstitute(a, b, x)
	for j := range x {
		x[j] /= scale[j]
	}
	return x, dot(b[n:], b[n:]), nil
}
