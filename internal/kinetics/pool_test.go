package kinetics

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"testing"

	"lyefast/internal/testkit"
)

// TestPoolingExamples: the worked numbers that come with the simulated cure
// series, to the digits they are given with.
func TestPoolingExamples(t *testing.T) {
	raw, err := os.ReadFile(testkit.Shared(t, "reference/cure-series/pooling_worked_examples.json"))
	if err != nil {
		t.Fatal(err)
	}
	var w struct {
		Beta struct {
			Held       float64
			NotHeld    float64 `json:"not_held"`
			PriorAlpha float64 `json:"prior_alpha"`
			PriorBeta  float64 `json:"prior_beta"`
			Mean       float64
			Both       float64 `json:"p_next_two_hold"`
			Q05, Q95   float64
		} `json:"beta_holds"`
		Covariates struct {
			Dose, Gel     []float64
			LnShift       []float64  `json:"ln_shift"`
			PriorMean     [3]float64 `json:"prior_mean"`
			PriorSD       [3]float64 `json:"prior_sd"`
			PosteriorMean [3]float64 `json:"posterior_mean"`
			PosteriorSD   [3]float64 `json:"posterior_sd"`
			PredictDose   float64    `json:"predict_dose"`
			MeanLn        float64    `json:"predict_mean_ln"`
			Median        float64    `json:"predict_median_shift"`
			SDLn          float64    `json:"predict_sd_ln"`
		} `json:"covariates_ln_magnitude"`
		Dirichlet struct {
			Batches   [][4]float64 `json:"batch_class_probabilities"`
			Q05       float64      `json:"p_settles_q05"`
			Q95       float64      `json:"p_settles_q95"`
			Alpha     [4]float64   `json:"posterior_alpha"`
			Mean      [4]float64   `json:"posterior_mean"`
			PriorMean [4]float64   `json:"prior_mean"`
			Weight    float64      `json:"prior_weight"`
		} `json:"dirichlet_class"`
		Rate struct {
			HalfLife  []float64 `json:"batch_half_life_d"`
			SDLn      []float64 `json:"batch_sd_ln"`
			Between   float64   `json:"between_batch_sd_ln"`
			Q05       float64   `json:"next_batch_half_life_q05"`
			Q95       float64   `json:"next_batch_half_life_q95"`
			NextSD    float64   `json:"next_batch_sd_ln"`
			LnK       float64   `json:"posterior_ln_k"`
			Median    float64   `json:"posterior_median_half_life_d"`
			PriorHalf float64   `json:"prior_half_life_d"`
			PriorSDLn float64   `json:"prior_sd_ln"`
		} `json:"lognormal_rate"`
		Shift struct {
			Shift      []float64 `json:"batch_shift"`
			SD         []float64 `json:"batch_shift_sd"`
			Between    float64   `json:"between_batch_sd"`
			Exponent   float64   `json:"dose_exponent"`
			Ratio      float64   `json:"dose_ratio"`
			Q05        float64   `json:"next_batch_q05"`
			Q95        float64   `json:"next_batch_q95"`
			NextSD     float64   `json:"next_batch_sd"`
			Mean       float64   `json:"posterior_mean"`
			PosterSD   float64   `json:"posterior_sd"`
			PriorMean  float64   `json:"prior_mean"`
			PriorSD    float64   `json:"prior_sd"`
			ScaledMean float64   `json:"scaled_mean"`
			ScaledNext float64   `json:"scaled_next_batch_sd"`
		} `json:"normal_settled_shift"`
	}
	if err := json.Unmarshal(raw, &w); err != nil {
		t.Fatal(err)
	}
	same := func(name string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-9*max(1, math.Abs(want))) {
			t.Errorf("%s: %.15g, want %.15g", name, got, want)
		}
	}

	b := Beta{w.Beta.PriorAlpha + w.Beta.Held, w.Beta.PriorBeta + w.Beta.NotHeld}
	low, high := b.Interval()
	same("beta mean", b.Mean(), w.Beta.Mean)
	same("two in a row", b.Both(), w.Beta.Both)
	same("beta 5 %", low, w.Beta.Q05)
	same("beta 95 %", high, w.Beta.Q95)

	var d Dirichlet
	for i, m := range w.Dirichlet.PriorMean {
		d.Alpha[i] = w.Dirichlet.Weight * m
	}
	for _, p := range w.Dirichlet.Batches {
		d.Add(p)
	}
	mean := d.Mean()
	for i := range d.Alpha {
		same("alpha", d.Alpha[i], w.Dirichlet.Alpha[i])
		same("class mean", mean[i], w.Dirichlet.Mean[i])
	}
	low, high = d.Interval(Settles)
	same("P(settles) 5 %", low, w.Dirichlet.Q05)
	same("P(settles) 95 %", high, w.Dirichlet.Q95)

	var seen []Estimate
	for i := range w.Shift.Shift {
		seen = append(seen, Estimate{w.Shift.Shift[i], w.Shift.SD[i]})
	}
	p := Pool(Estimate{w.Shift.PriorMean, w.Shift.PriorSD}, w.Shift.Between, seen)
	low, high = p.Next()
	same("shift", p.Mean, w.Shift.Mean)
	same("shift sd", p.SD, w.Shift.PosterSD)
	same("next shift sd", p.NextSD, w.Shift.NextSD)
	same("next shift 5 %", low, w.Shift.Q05)
	same("next shift 95 %", high, w.Shift.Q95)
	s := p.Scaled(math.Pow(w.Shift.Ratio, w.Shift.Exponent))
	same("scaled shift", s.Mean, w.Shift.ScaledMean)
	same("scaled next sd", s.NextSD, w.Shift.ScaledNext)

	// A half-life and its rate have the same spread of the logarithm.
	var halves []LogNormal
	for i, h := range w.Rate.HalfLife {
		halves = append(halves, LogNormal{h, w.Rate.SDLn[i]})
	}
	typical, following := PoolLogNormal(LogNormal{w.Rate.PriorHalf, w.Rate.PriorSDLn}, w.Rate.Between, halves)
	low, high = following.Interval()
	same("ln k", math.Log(math.Ln2/typical.Median), w.Rate.LnK)
	same("half-life", typical.Median, w.Rate.Median)
	same("next ln k sd", following.SDLn, w.Rate.NextSD)
	same("next half-life 5 %", low, w.Rate.Q05)
	same("next half-life 95 %", high, w.Rate.Q95)

	var prior [3]Estimate
	for i := range prior {
		prior[i] = Estimate{w.Covariates.PriorMean[i], w.Covariates.PriorSD[i]}
	}
	var sizes []Magnitude
	for i, v := range w.Covariates.LnShift {
		sizes = append(sizes, Magnitude{Change: math.Exp(v), Dose: w.Covariates.Dose[i], Gelled: w.Covariates.Gel[i] == 1})
	}
	h, err := PoolMagnitudes(prior, 0.15, sizes)
	if err != nil {
		t.Fatal(err)
	}
	for i := range h.Coef {
		same("coefficient", h.Coef[i], w.Covariates.PosteriorMean[i])
		same("its sd", math.Sqrt(h.Cov[i][i]), w.Covariates.PosteriorSD[i])
	}
	next := h.Predict(w.Covariates.PredictDose, true)
	same("predicted ln", math.Log(next.Median), w.Covariates.MeanLn)
	same("predicted size", next.Median, w.Covariates.Median)
	same("predicted sd", next.SDLn, w.Covariates.SDLn)
}

func TestMagnitudesRefused(t *testing.T) {
	prior := [3]Estimate{{2, 1}, {0.5, 0.25}, {0, 0.2}}
	for _, m := range []Magnitude{{0, 1, false}, {3, -1, true}, {math.NaN(), 1, false}, {math.Inf(1), 1, false}} {
		if _, err := PoolMagnitudes(prior, 0.15, []Magnitude{m}); !errors.Is(err, ErrMagnitude) {
			t.Errorf("%+v: %v", m, err)
		}
	}
	h, err := PoolMagnitudes(prior, 0.15, nil)
	if err != nil || math.Abs(h.Coef[1]-0.5) > 1e-12 || math.Abs(h.Cov[2][2]-0.04) > 1e-12 {
		t.Errorf("no batches: %+v, %v", h, err)
	}
}

// TestLearnNothing: no batches, or batches without a reading, change nothing but
// what soft counts of an even prior change: nothing.
func TestLearnNothing(t *testing.T) {
	if got := Learn(DefaultPrior(), 1, nil); got != DefaultPrior() {
		t.Errorf("%+v", got)
	}
	empty := mustFit(t, nil, DefaultPrior())
	got := Learn(DefaultPrior(), 1, []Earlier{{Curve: empty}, {Curve: empty}})
	for i := range got.Weight {
		if math.Abs(got.Weight[i]-0.25) > 1e-9 {
			t.Errorf("weights %v", got.Weight)
		}
	}
	got.Weight = DefaultPrior().Weight
	if got != DefaultPrior() {
		t.Errorf("learned from nothing: %+v", got)
	}
}

// TestLearnNotTwice: what a batch teaches does not depend on the prior that it was
// fitted with, since that prior is taken out again.
func TestLearnNotTwice(t *testing.T) {
	var plain []Earlier
	for range 3 {
		plain = append(plain, Earlier{Curve: mustFit(t, one, DefaultPrior())})
	}
	learned := Learn(DefaultPrior(), 1, plain)
	again := mustFit(t, one, learned)
	a := Learn(DefaultPrior(), 1, plain[:1])
	b := Learn(DefaultPrior(), 1, []Earlier{{Curve: again}})
	for ch := range 3 {
		x, y := coordinate(a.Shift.Mean, ch), coordinate(b.Shift.Mean, ch)
		// The rate and the noise are known better too, which moves the shift a little.
		if math.Abs(x-y) > 0.3 {
			t.Errorf("shift from one batch %.2f, fitted with what three had taught %.2f", x, y)
		}
	}
}
