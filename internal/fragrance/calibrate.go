package fragrance

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"lyefast/internal/cie"
)

// Method says how a colour was read; it sets the doubt of a reading.
type Method string

// The methods.
const (
	Colorimeter Method = "colorimeter"
	PhoneCard   Method = "phone" // phone picture with a grey card beside the bar
	Eye         Method = "eye"   // by eye against named chips
)

// SD gives the standard deviation of one reading in L*, a*, b* (assumed), false
// for an unknown method.
func (m Method) SD() (cie.Lab, bool) {
	switch m {
	case Colorimeter:
		return cie.Lab{L: 1.5, A: 0.8, B: 1.5}, true
	case PhoneCard:
		return cie.Lab{L: 4, A: 3, B: 4}, true
	case Eye:
		return cie.Lab{L: 6, A: 4, B: 6}, true
	}
	return cie.Lab{}, false
}

// Reading is one colour of an uncoloured scented bar, with what browned it.
type Reading struct {
	Fragrance  string // tells the fragrances apart
	Dose       float64
	Base       cie.Lab // the bare bar
	Day        float64 // since the pour
	Conditions Conditions
	Ratio      float64 // of the stabiliser, 0 = none
	Lab        cie.Lab // as read, D65, 2°
	Method     Method
	// SD overrides the method's where all three are above 0.
	SD cie.Lab
}

// Limits of one calibration.
const (
	maxReadings   = 50_000
	maxFragrances = 500
)

// maxDay bounds the age of a bar, days since the pour: a hundred years.
const maxDay = 36525

// shared lists the coordinates that all fragrances have in common; each fragrance
// adds its own LnEta behind them.
var shared = [...]Coordinate{LnA, Power, LnTau, Beta, Slope, Red}

// Posterior is what the maker's readings leave of the priors. Nothing of it needs
// to be stored: fit again from the priors and all readings.
type Posterior struct {
	priors Priors
	index  map[string]int // of each fragrance's LnEta in theta
	theta  []float64
	cov    *mat.SymDense
	// Readings counts what was used.
	Readings int
}

// For gives the beliefs to forecast that fragrance with. A fragrance without
// readings keeps the prior of its own strength and shares the rest.
func (p *Posterior) For(fragrance string) Priors {
	at := map[Coordinate]int{}
	for i, c := range shared {
		at[c] = i
	}
	if i, ok := p.index[fragrance]; ok {
		at[LnEta] = i
	}
	out := p.priors
	var cov [learned][learned]float64
	for a := range cov {
		i, ok := at[Coordinate(a)]
		if !ok {
			cov[a][a] = p.priors.sd(Coordinate(a)) * p.priors.sd(Coordinate(a))
			continue
		}
		out.Mean[a] = p.theta[i]
		for b := range cov {
			if j, ok := at[Coordinate(b)]; ok {
				cov[a][b] = p.cov.At(i, j)
			}
		}
	}
	for a := range cov {
		out.Factor[a] = Coords{}
		for b := 0; b <= a; b++ {
			v := cov[a][b]
			for k := range b {
				v -= out.Factor[a][k] * out.Factor[b][k]
			}
			if a == b {
				out.Factor[a][a] = math.Sqrt(math.Max(0, v))
			} else if out.Factor[b][b] > 0 {
				out.Factor[a][b] = v / out.Factor[b][b]
			}
		}
	}
	return out
}

// Strength gives A·η of a fragrance, the strength u∞ it reaches at 0.20 % of the
// bar, and the sd of its logarithm.
func (p *Posterior) Strength(fragrance string) (value, sdLn float64) {
	q := p.For(fragrance)
	var v float64
	for k := range q.Factor[LnA] {
		v += math.Pow(q.Factor[LnA][k]+q.Factor[LnEta][k], 2)
	}
	return math.Exp(q.Mean[LnA] + q.Mean[LnEta]), math.Sqrt(v)
}

// sd is the standard deviation of one coordinate by itself.
func (p *Priors) sd(c Coordinate) float64 {
	var v float64
	for _, f := range p.Factor[c] {
		v += f * f
	}
	return math.Sqrt(v)
}

// Calibrate moves the priors by the maker's readings of uncoloured scented bars:
// regularised least squares in CIELAB over ln A, n, ln τ, β, s, red and one ln η a
// fragrance, by Gauss–Newton with finite differences. The weights are those of
// reading and model together. Gel, light, stabiliser and temperature keep their
// priors, and so does everything where the list is empty. Correlations within the
// priors are not carried over: give the priors, never an earlier posterior.
//
// An error says which reading cannot be used, and why.
func Calibrate(readings []Reading, priors Priors) (Posterior, error) {
	if len(readings) > maxReadings {
		return Posterior{}, fmt.Errorf("%d readings are more than the %d one calibration takes; leave out the oldest", len(readings), maxReadings)
	}
	f := fit{priors: priors, index: map[string]int{}, bases: map[cie.Lab]*Base{}}
	for _, c := range shared {
		f.mean = append(f.mean, priors.Mean[c])
		f.sd = append(f.sd, priors.sd(c))
	}
	for i, r := range readings {
		if err := f.add(r); err != nil {
			return Posterior{}, fmt.Errorf("reading %d of %q: %w", i+1, r.Fragrance, err)
		}
	}
	for i, sd := range f.sd {
		if !(sd > 0) || math.IsInf(sd, 0) || math.IsNaN(f.mean[i]) {
			return Posterior{}, errors.New("a prior has no spread; give every learned coordinate a standard deviation above 0")
		}
	}
	return f.solve()
}

// fit is one calibration at work. theta, mean and sd hold the shared coordinates
// first, then ln η of each fragrance.
type fit struct {
	priors   Priors
	index    map[string]int
	bases    map[cie.Lab]*Base
	readings []Reading
	weights  [][3]float64 // square roots of the weights
	mean, sd []float64
}

func (f *fit) add(r Reading) error {
	if !(r.Dose >= 0 && r.Dose <= 100) {
		return fmt.Errorf("dose %.4g %% of the bar is out of range, 0–100", r.Dose)
	}
	if !(r.Day >= 0 && r.Day <= maxDay) {
		return fmt.Errorf("day %.4g is out of range, count days since the pour", r.Day)
	}
	if !(r.Ratio >= 0 && r.Ratio <= 1000) {
		return fmt.Errorf("stabiliser ratio %.4g is out of range, 0–1000", r.Ratio)
	}
	if err := r.Lab.Check(); err != nil {
		return fmt.Errorf("colour: %w", err)
	}
	if err := r.Conditions.Validate(); err != nil {
		return err
	}
	sd := r.SD
	if !(sd.Finite() && sd.L > 0 && sd.A > 0 && sd.B > 0) {
		var ok bool
		if sd, ok = r.Method.SD(); !ok {
			return fmt.Errorf("method %q is not known; use colorimeter, phone or eye, or state the reading's standard deviation", r.Method)
		}
	}
	if f.bases[r.Base] == nil {
		b, err := NewBase(r.Base)
		if err != nil {
			return err
		}
		f.bases[r.Base] = &b
	}
	if _, ok := f.index[r.Fragrance]; !ok {
		if len(f.index) == maxFragrances {
			return fmt.Errorf("more than %d fragrances in one calibration; fit the ones in use", maxFragrances)
		}
		f.index[r.Fragrance] = len(f.mean)
		f.mean = append(f.mean, f.priors.Mean[LnEta])
		f.sd = append(f.sd, f.priors.sd(LnEta))
	}
	var w [3]float64
	for ch, s := range triple(sd) {
		w[ch] = 1 / math.Hypot(s, triple(modelSD)[ch])
	}
	f.readings = append(f.readings, r)
	f.weights = append(f.weights, w)
	return nil
}

// predict gives the colour of a reading at theta.
func (f *fit) predict(r *Reading, theta []float64) [3]float64 {
	t := f.priors.Mean
	for i, c := range shared {
		t[c] = theta[i]
	}
	t[LnEta] = theta[f.index[r.Fragrance]]
	p := t.params()
	return triple(f.bases[r.Base].path(p.U(r.Day, r.Dose, r.Conditions, r.Ratio), p.Slope, p.Red))
}

func (f *fit) cost(theta []float64) (v float64) {
	for i := range theta {
		d := (theta[i] - f.mean[i]) / f.sd[i]
		v += d * d
	}
	for i := range f.readings {
		h, y := f.predict(&f.readings[i], theta), triple(f.readings[i].Lab)
		for ch, w := range f.weights[i] {
			d := w * (y[ch] - h[ch])
			v += d * d
		}
	}
	return v
}

// normal gives H = P0⁻¹ + ΣJᵀWJ and g = P0⁻¹(μ0−θ) + ΣJᵀW(y−h). A reading
// touches the shared coordinates and its own fragrance only.
func (f *fit) normal(theta []float64) (*mat.SymDense, *mat.VecDense) {
	n := len(theta)
	hess, grad := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range theta {
		w := 1 / (f.sd[i] * f.sd[i])
		hess.SetSym(i, i, w)
		grad.SetVec(i, w*(f.mean[i]-theta[i]))
	}
	at := make([]int, len(shared)+1)
	for i := range shared {
		at[i] = i
	}
	jac := make([][3]float64, len(at))
	moved := append([]float64(nil), theta...)
	for k := range f.readings {
		r := &f.readings[k]
		at[len(shared)] = f.index[r.Fragrance]
		h, y := f.predict(r, theta), triple(r.Lab)
		for a, i := range at {
			step := 1e-4 * f.sd[i]
			moved[i] = theta[i] + step
			up := f.predict(r, moved)
			moved[i] = theta[i]
			for ch, w := range f.weights[k] {
				jac[a][ch] = w * (up[ch] - h[ch]) / step
			}
		}
		for a, i := range at {
			for ch, w := range f.weights[k] {
				grad.SetVec(i, grad.AtVec(i)+jac[a][ch]*w*(y[ch]-h[ch]))
			}
			for b := 0; b <= a; b++ {
				dot := jac[a][0]*jac[b][0] + jac[a][1]*jac[b][1] + jac[a][2]*jac[b][2]
				hess.SetSym(i, at[b], hess.At(i, at[b])+dot)
			}
		}
	}
	return hess, grad
}

// keepInside holds the exponent and the stretching within their bounds.
func keepInside(theta []float64) {
	for i, c := range shared {
		switch c {
		case Power:
			theta[i] = clamp(theta[i], minPower, maxPower)
		case Beta:
			theta[i] = clamp(theta[i], minBeta, maxBeta)
		}
	}
}

func (f *fit) solve() (Posterior, error) {
	theta := append([]float64(nil), f.mean...)
	cost := f.cost(theta)
	next := make([]float64, len(theta))
	// Five or six rounds settle ordinary readings; the bound is for the others.
	for range 40 {
		hess, grad := f.normal(theta)
		var chol mat.Cholesky
		if !chol.Factorize(hess) {
			return Posterior{}, errors.New("readings and priors contradict each other beyond arithmetic; look for a mistyped reading")
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, grad); err != nil {
			return Posterior{}, fmt.Errorf("solve the calibration: %w; look for a mistyped reading", err)
		}
		// The full step, or the largest half of it that does not make things worse.
		share, better := 1.0, false
		for ; share > 1e-4; share /= 2 {
			for i := range next {
				next[i] = theta[i] + share*step.AtVec(i)
			}
			keepInside(next)
			if c := f.cost(next); c <= cost {
				better, cost = true, c
				break
			}
		}
		if !better {
			break
		}
		var largest float64
		for i := range next {
			largest = math.Max(largest, math.Abs(next[i]-theta[i])/f.sd[i])
		}
		copy(theta, next)
		if largest < 1e-9 {
			break
		}
	}
	hess, _ := f.normal(theta)
	var chol mat.Cholesky
	cov := mat.NewSymDense(len(theta), nil)
	if !chol.Factorize(hess) {
		return Posterior{}, errors.New("readings and priors contradict each other beyond arithmetic; look for a mistyped reading")
	}
	if err := chol.InverseTo(cov); err != nil {
		return Posterior{}, fmt.Errorf("invert the calibration: %w; look for a mistyped reading", err)
	}
	return Posterior{priors: f.priors, index: f.index, theta: theta, cov: cov, Readings: len(f.readings)}, nil
}

// Shift is what one reading does to ln u by the scalar form of the calibration, a
// sum on paper that stands in for the full fit: over simulated single readings
// the two differ by 0.5 in L* at the median.
type Shift struct {
	Z         float64 // ln u observed − ln u predicted
	PriorSD   float64 // of ln u before the reading
	ReadingSD float64 // of ln u from the reading
	Weight    float64 // of the reading, 0–1
	Shift     float64 // of ln u
}

// Shift weighs a reading of strength u > 0 against the prediction. slope is
// |d ln u/dL*| where the reading stands (see [Base.StrengthSlope]), sd the reading's
// own in L*. The zero Shift comes back where there is nothing to compare.
func (p *Priors) Shift(u, slope, sd, day, dose float64, c Conditions, r float64) Shift {
	q := p.Centre()
	predicted := q.U(day, dose, c, r)
	if !(u > 0 && predicted > 0) {
		return Shift{}
	}
	x := math.Pow((q.Clock(day, c)-math.Min(maxLag, q.Lag*r))/q.Tau, q.Beta)
	bySpeed := q.Beta * x * math.Exp(-x) / -math.Expm1(-x) // |d ln F/d ln τ|
	v0 := math.Pow(p.sd(LnA), 2) + math.Pow(p.sd(LnEta), 2) +
		math.Pow(p.sd(Power)*math.Log(dose/ReferenceDose), 2) +
		math.Pow(p.sd(LnTau)*bySpeed, 2)
	vm := (sd*sd + modelSD.L*modelSD.L) * slope * slope
	s := Shift{Z: math.Log(u / predicted), PriorSD: math.Sqrt(v0), ReadingSD: math.Sqrt(vm)}
	s.Weight = v0 / (v0 + vm)
	s.Shift = s.Z * s.Weight
	return s
}

// StrengthSlope gives |d ln u/dL*| on the path at that lightness: about 0.08 at L*
// 40–65, 0.15 at 80, and beyond all bounds at the base itself.
func (b *Base) StrengthSlope(lightness float64) float64 {
	u := b.Strength(lightness)
	if u <= 0 || u >= maxStrength {
		return math.Inf(1)
	}
	const step = 1e-4
	return 2 * step / math.Abs(b.Path(u*math.Exp(step)).L-b.Path(u*math.Exp(-step)).L)
}
