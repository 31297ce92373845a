package kinetics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"lyefast/internal/lsq"
)

// Estimate is a figure with its standard deviation.
type Estimate struct{ Mean, SD float64 }

// Pooled is what several batches say together.
type Pooled struct {
	// Mean and SD are of the colourant's own typical value.
	Mean, SD float64
	// NextSD is that of the next batch: SD and the spread between batches together.
	NextSD float64
}

// z90 is the normal quantile of 0.95, for central 90 % intervals.
const z90 = 1.6448536269514722

// Next is the central 90 % interval of the next batch.
func (p Pooled) Next() (p05, p95 float64) { return p.Mean - z90*p.NextSD, p.Mean + z90*p.NextSD }

// Scaled multiplies all three figures, as a change of dose does to a shift.
func (p Pooled) Scaled(k float64) Pooled {
	return Pooled{k * p.Mean, math.Abs(k) * p.SD, math.Abs(k) * p.NextSD}
}

// Pool is normal partial pooling: batches differ from each other by between (a
// standard deviation ≥ 0) and each is known to its own SD (> 0), so each counts
// with 1/(SD² + between²) beside the prior (Gelman et al., Bayesian Data Analysis,
// section 5.4, with the spread between batches given). Rates are pooled on their
// logarithms.
func Pool(prior Estimate, between float64, batches []Estimate) Pooled {
	weight := 1 / (prior.SD * prior.SD)
	sum := weight * prior.Mean
	for _, b := range batches {
		w := 1 / (b.SD*b.SD + between*between)
		weight += w
		sum += w * b.Mean
	}
	return Pooled{sum / weight, math.Sqrt(1 / weight), math.Sqrt(1/weight + between*between)}
}

// PoolLogNormal is [Pool] on logarithms, for half-lives and rates. The prior is
// that of any one batch, so the spread between batches (of the logarithm, ≥ 0) is
// taken out of it first; it gives the colourant's own typical value and the belief
// about its next batch. Without batches the latter is the prior.
func PoolLogNormal(prior LogNormal, between float64, batches []LogNormal) (typical, next LogNormal) {
	if prior.SDLn == 0 || len(batches) == 0 {
		return prior, prior
	}
	own := prior.SDLn*prior.SDLn - between*between
	// A prior narrower than the spread between batches was learned: leave it half.
	own = max(own, prior.SDLn*prior.SDLn/4)
	var seen []Estimate
	for _, b := range batches {
		seen = append(seen, Estimate{math.Log(b.Median), b.SDLn})
	}
	p := Pool(Estimate{math.Log(prior.Median), math.Sqrt(own)}, between, seen)
	median := math.Exp(p.Mean)
	return LogNormal{median, p.SD}, LogNormal{median, p.NextSD}
}

// Interval is the central 90 % interval.
func (l LogNormal) Interval() (p05, p95 float64) {
	return l.Median * math.Exp(-z90*l.SDLn), l.Median * math.Exp(z90*l.SDLn)
}

// Dirichlet counts patterns softly: Alpha is the count of each, prior and batches
// together, in the order of the Pattern constants.
type Dirichlet struct{ Alpha [4]float64 }

// Add counts a batch by its pattern probabilities.
func (d *Dirichlet) Add(probabilities [4]float64) {
	for i, p := range probabilities {
		d.Alpha[i] += p
	}
}

func (d Dirichlet) total() (sum float64) {
	for _, a := range d.Alpha {
		sum += a
	}
	return sum
}

// Mean is the probability of each pattern in the next batch. At least one count
// must be positive.
func (d Dirichlet) Mean() (p [4]float64) {
	sum := d.total()
	for i, a := range d.Alpha {
		p[i] = a / sum
	}
	return p
}

// Interval is the central 90 % interval of a pattern's probability.
func (d Dirichlet) Interval(p Pattern) (p05, p95 float64) {
	return Beta{d.Alpha[p], d.total() - d.Alpha[p]}.Interval()
}

// Beta counts yes and no, prior and batches together; both counts are > 0.
type Beta struct{ Yes, No float64 }

// Mean is the probability of yes in the next batch.
func (b Beta) Mean() float64 { return b.Yes / (b.Yes + b.No) }

// Both is the probability of yes in each of the next two batches.
func (b Beta) Both() float64 {
	n := b.Yes + b.No
	return b.Yes / n * (b.Yes + 1) / (n + 1)
}

// Interval is the central 90 % interval of the probability of yes.
func (b Beta) Interval() (p05, p95 float64) {
	if !(b.Yes > 0) || !(b.No > 0) { // the limit of ever smaller counts
		return b.Mean(), b.Mean()
	}
	return mathext.InvRegIncBeta(b.Yes, b.No, 0.05), mathext.InvRegIncBeta(b.Yes, b.No, 0.95)
}

// Habit is how the size of a colourant's change depends on dose and gel:
// ln |change| = Mu + Gamma·ln dose + Delta·gel, with the gel 0 or 1.
type Habit struct {
	// Coef are Mu, Gamma and Delta, Cov their covariance.
	Coef [3]float64
	Cov  [3][3]float64
	// Residual is the standard deviation of ln |change| from batch to batch.
	Residual float64
}

// Magnitude is one batch's |change| (> 0) at a dose (> 0, relative to the usual
// one), gelled or not.
type Magnitude struct {
	Change, Dose float64
	Gelled       bool
}

// ErrMagnitude: a change or a dose that is not positive. Compare with errors.Is.
var ErrMagnitude = errors.New("not a positive change at a positive dose")

// PoolMagnitudes is the regression of ln |change| on ln dose and gel with normal
// priors for the three coefficients and a given residual sd (> 0), by least
// squares with the priors as rows. Without batches it gives the prior.
func PoolMagnitudes(prior [3]Estimate, residual float64, batches []Magnitude) (Habit, error) {
	var y []float64
	var cols [3][]float64
	for i, p := range prior {
		for j := range cols {
			cols[j] = append(cols[j], 0)
		}
		cols[i][i] = 1 / p.SD
		y = append(y, p.Mean/p.SD)
	}
	for i, b := range batches {
		row := b.row()
		v := math.Log(b.Change)
		if !(b.Change > 0 && b.Dose > 0) || math.IsInf(v+row[1], 0) {
			return Habit{}, fmt.Errorf("batch %d, change %g at dose %g: %w", i+1, b.Change, b.Dose, ErrMagnitude)
		}
		for j := range cols {
			cols[j] = append(cols[j], row[j]/residual)
		}
		y = append(y, v/residual)
	}
	f := lsq.Residuals{
		Count: len(y),
		Eval: func(b, out []float64) {
			for i := range out {
				out[i] = y[i] - cols[0][i]*b[0] - cols[1][i]*b[1] - cols[2][i]*b[2]
			}
		},
		Jacobian: func(_ []float64, jac [][]float64) {
			for j := range jac {
				for i := range jac[j] {
					jac[j][i] = -cols[j][i]
				}
			}
		},
	}
	fit, err := lsq.Fit(f, []float64{prior[0].Mean, prior[1].Mean, prior[2].Mean}, lsq.Options{UnitNoise: true})
	if err != nil || fit.Cov == nil {
		return Habit{}, fmt.Errorf("regression of change on dose and gel: %w", errors.Join(err, lsq.ErrSingular))
	}
	h := Habit{Residual: residual}
	for i := range h.Coef {
		h.Coef[i] = fit.Params[i]
		copy(h.Cov[i][:], fit.Cov[i])
	}
	return h, nil
}

func (b Magnitude) row() [3]float64 {
	row := [3]float64{1, math.Log(b.Dose), 0}
	if b.Gelled {
		row[2] = 1
	}
	return row
}

// Predict gives |change| of the next batch at a dose (> 0): the median, and the
// spread of its logarithm with the scatter between batches in it.
func (h Habit) Predict(dose float64, gelled bool) LogNormal {
	row := Magnitude{Dose: dose, Gelled: gelled}.row()
	mean, variance := 0.0, h.Residual*h.Residual
	for i, u := range row {
		mean += u * h.Coef[i]
		for j, v := range row {
			variance += u * v * h.Cov[i][j]
		}
	}
	return LogNormal{math.Exp(mean), math.Sqrt(variance)}
}
