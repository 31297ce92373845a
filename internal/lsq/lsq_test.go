package lsq

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"

	"lyefast/internal/testkit"
)

// digits is the log relative error, the number of digits that agree, capped at
// the eleven that are certified.
func digits(got, want float64) float64 {
	if got == want {
		return 11
	}
	d := -math.Log10(math.Abs(got-want) / math.Abs(want))
	if math.IsNaN(d) {
		return 0
	}
	return min(d, 11)
}

// byRate puts the terms of a sum of exponentials (amplitude, rate, amplitude,
// rate …) in the order of their rates: the model does not tell them apart.
func byRate(params, sd []float64) {
	type term struct{ amplitude, rate, amplitudeSD, rateSD float64 }
	var terms []term
	for j := 0; j < len(params); j += 2 {
		terms = append(terms, term{params[j], params[j+1], sd[j], sd[j+1]})
	}
	slices.SortFunc(terms, func(a, b term) int { return cmp.Compare(a.rate, b.rate) })
	for i, u := range terms {
		params[2*i], params[2*i+1], sd[2*i], sd[2*i+1] = u.amplitude, u.rate, u.amplitudeSD, u.rateSD
	}
}

// TestCertified: nine digits of the sum of squares and seven of the parameters,
// more than the six and eight digits usually asked for on these sets, from both
// published starts and with differences for derivatives. Lanczos1 has no noise:
// there only the parameters mean anything.
func TestCertified(t *testing.T) {
	for _, p := range problems {
		for s, start := range p.starts {
			t.Run(fmt.Sprintf("%s/%d", p.name, s+1), func(t *testing.T) {
				res, err := Fit(p.residuals(), start, Options{})
				if err != nil {
					t.Fatal(err)
				}
				params := slices.Clone(res.Params)
				sd := make([]float64, len(params))
				for j := range sd {
					sd[j] = res.SD(j)
				}
				if len(p.x) == len(lanczosX) {
					byRate(params, sd)
				}
				worst, worstSD := 11.0, 11.0
				for j, want := range p.certified {
					worst = min(worst, digits(params[j], want))
					if p.sd != nil {
						worstSD = min(worstSD, digits(sd[j], p.sd[j]))
					}
				}
				t.Logf("digits: parameters %.1f, their sd %.1f, residual sum of squares %.1f; %d steps",
					worst, worstSD, max(0, digits(res.RSS, p.rss)), res.Iter)
				if worst < 7 {
					t.Errorf("parameters %v, certified %v", params, p.certified)
				}
				if worstSD < 7 {
					t.Errorf("standard deviations %v, certified %v", sd, p.sd)
				}
				if p.rss > 0 && digits(res.RSS, p.rss) < 9 {
					t.Errorf("sum of squares %.11g, certified %.11g", res.RSS, p.rss)
				}
			})
		}
	}
}

// TestTypedAsPublished holds the typed tables against the published files.
func TestTypedAsPublished(t *testing.T) {
	raw, err := os.ReadFile(testkit.Shared(t, "reference/nist-strd/certified.json"))
	if err != nil {
		t.Fatal(err)
	}
	var published struct {
		Cases []struct {
			Name      string
			Starts    [][]float64
			Certified []float64
			SDs       []float64 `json:"standard_deviations"`
			RSS       float64   `json:"residual_sum_of_squares"`
		}
	}
	if err := json.Unmarshal(raw, &published); err != nil {
		t.Fatal(err)
	}
	for _, c := range published.Cases {
		i := slices.IndexFunc(problems, func(p problem) bool { return p.name == c.Name })
		if i < 0 {
			t.Errorf("%s is published but not typed", c.Name)
			continue
		}
		p := problems[i]
		if !slices.Equal(p.certified, c.Certified) || !slices.Equal(p.sd, c.SDs) || p.rss != c.RSS ||
			!slices.Equal(p.starts[0], c.Starts[0]) || !slices.Equal(p.starts[1], c.Starts[1]) {
			t.Errorf("%s: starts or certified values differ from the published ones", c.Name)
		}
		rows := testkit.Table(t, testkit.Shared(t, "reference/nist-strd/"+c.Name+".csv"))
		if len(rows) != len(p.x) {
			t.Fatalf("%s: %d rows published, %d typed", c.Name, len(rows), len(p.x))
		}
		for i, row := range rows {
			x, _ := strconv.ParseFloat(row["x"], 64)
			y, _ := strconv.ParseFloat(row["y"], 64)
			if x != p.x[i] || y != p.y[i] {
				t.Errorf("%s row %d: typed (%g, %g), published (%g, %g)", c.Name, i+1, p.x[i], p.y[i], x, y)
			}
		}
	}
}

// TestSimulatedStRD tries the models of the NIST sets whose data are too long to
// type, from their published starts (both typed from memory), on data simulated
// at their certified parameters: Gauss2, Hahn1, Kirby2, Bennett5. The fit must
// find the minimum that a fit from the truth itself finds.
func TestSimulatedStRD(t *testing.T) {
	peak := func(h, c, w, x float64) float64 { z := (x - c) / w; return h * math.Exp(-z*z) }
	for _, p := range []struct {
		problem
		noise float64
	}{
		{problem{name: "Gauss2", x: grid(1, 1, 250),
			model: func(b []float64, x float64) float64 {
				return b[0]*math.Exp(-b[1]*x) + peak(b[2], b[3], b[4], x) + peak(b[5], b[6], b[7], x)
			},
			starts: [2][]float64{{96, 0.009, 103, 106, 18, 72, 151, 18}, {98, 0.0105, 103, 105, 20, 73, 150, 20}},
			certified: []float64{99.018328406, 0.010994945399, 101.88022528, 107.03095519, 23.578584029,
				72.045589471, 153.27010194, 19.525972636}}, 2.5},
		{problem{name: "Hahn1", x: grid(14.13, 3.5, 236),
			model: func(b []float64, x float64) float64 {
				return (b[0] + x*(b[1]+x*(b[2]+x*b[3]))) / (1 + x*(b[4]+x*(b[5]+x*b[6])))
			},
			starts: [2][]float64{{10, -1, 0.05, -1e-5, -0.05, 1e-3, -1e-6}, {1, -0.1, 5e-3, -1e-6, -5e-3, 1e-4, -1e-7}},
			certified: []float64{1.0776351733, -0.12269296921, 4.0863750610e-3, -1.4262662514e-6,
				-5.7609940901e-3, 2.4053735503e-4, -1.2314450199e-7}}, 0.08},
		{problem{name: "Kirby2", x: grid(9.65, 2.4, 151),
			model: func(b []float64, x float64) float64 {
				return (b[0] + x*(b[1]+x*b[2])) / (1 + x*(b[3]+x*b[4]))
			},
			starts:    [2][]float64{{2, -0.1, 0.003, -0.001, 1e-5}, {1.5, -0.15, 0.0025, -0.001, 2e-5}},
			certified: []float64{1.6745063063, -0.13927397867, 2.5961181191e-3, -1.7241811870e-3, 2.1664802578e-5}}, 0.16},
		{problem{name: "Bennett5", x: grid(7.447, 0.031, 154),
			model:     func(b []float64, x float64) float64 { return b[0] * math.Pow(b[1]+x, -1/b[2]) },
			starts:    [2][]float64{{-2000, 50, 0.8}, {-1500, 45, 0.85}},
			certified: []float64{-2523.5058043, 46.736564644, 0.93218483193}}, 0.0018},
	} {
		r := rand.New(rand.NewPCG(7, 1))
		for _, x := range p.x {
			p.y = append(p.y, p.model(p.certified, x)+p.noise*r.NormFloat64())
		}
		truth, err := Fit(p.residuals(), p.certified, Options{})
		if err != nil {
			t.Fatalf("%s from the truth: %v", p.name, err)
		}
		for s, start := range p.starts {
			res, err := Fit(p.residuals(), start, Options{})
			if err != nil {
				t.Errorf("%s from start %d: %v", p.name, s+1, err)
				continue
			}
			for j := range res.Params {
				// Seven digits, as on the certified sets.
				if digits(res.Params[j], truth.Params[j]) < 7 {
					t.Errorf("%s from start %d: parameter %d is %g, from the truth %g", p.name, s+1, j+1, res.Params[j], truth.Params[j])
				}
			}
		}
	}
}

// TestRateGrid: sums of exponentials need no start values. A grid of rates with
// the amplitudes solved linearly finds where to begin (variable projection,
// Golub and Pereyra 1973, on a grid).
func TestRateGrid(t *testing.T) {
	column := func(x []float64, f func(float64) float64) []float64 {
		c := make([]float64, len(x))
		for i, v := range x {
			c[i] = f(v)
		}
		return c
	}
	misra := problems[0]
	best, start := math.Inf(1), []float64(nil)
	for rate := 1e-6; rate < 1; rate *= 1.5 {
		a, rss, err := Linear([][]float64{column(misra.x, func(x float64) float64 { return -math.Expm1(-rate * x) })}, misra.y)
		if err == nil && rss < best {
			best, start = rss, []float64{a[0], rate}
		}
	}
	res, err := Fit(misra.residuals(), start, Options{})
	if err != nil || digits(res.Params[1], misra.certified[1]) < 8 {
		t.Errorf("Misra1a from a grid: %v, %v", res.Params, err)
	}

	lanczos := problems[2]
	var rates []float64
	for r := 0.5; r < 9; r *= 1.3 {
		rates = append(rates, r)
	}
	best = math.Inf(1)
	for i := range rates {
		for j := range i {
			for k := range j {
				var cols [][]float64
				for _, r := range []float64{rates[k], rates[j], rates[i]} {
					cols = append(cols, column(lanczos.x, func(x float64) float64 { return math.Exp(-r * x) }))
				}
				if a, rss, err := Linear(cols, lanczos.y); err == nil && rss < best {
					best, start = rss, []float64{a[0], rates[k], a[1], rates[j], a[2], rates[i]}
				}
			}
		}
	}
	res, err = Fit(lanczos.residuals(), start, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for j, want := range lanczos.certified {
		if digits(res.Params[j], want) < 7 {
			t.Errorf("Lanczos3 from a grid: parameter %d is %.11g, certified %.11g", j+1, res.Params[j], want)
		}
	}
}

// TestJacobian: derivatives from the caller lead to the same place as
// differences.
func TestJacobian(t *testing.T) {
	p := problems[0]
	f := p.residuals()
	f.Jacobian = func(b []float64, cols [][]float64) {
		for i, x := range p.x {
			cols[0][i] = math.Expm1(-b[1] * x)
			cols[1][i] = -b[0] * x * math.Exp(-b[1]*x)
		}
	}
	res, err := Fit(f, p.starts[0], Options{})
	if err != nil {
		t.Fatal(err)
	}
	for j, want := range p.certified {
		if digits(res.Params[j], want) < 9 || digits(res.SD(j), p.sd[j]) < 9 {
			t.Errorf("parameter %d: %.11g ± %.11g, certified %.11g ± %.11g", j+1, res.Params[j], res.SD(j), want, p.sd[j])
		}
	}
}

// TestUnitNoise: with residuals in units of their noise, the covariance of a
// straight line is the textbook (XᵀX)⁻¹.
func TestUnitNoise(t *testing.T) {
	x, y := []float64{0, 1, 2, 3}, []float64{1, 3.1, 4.9, 7}
	f := Residuals{Count: 4, Eval: func(b, out []float64) {
		for i := range x {
			out[i] = (y[i] - b[0] - b[1]*x[i]) / 0.5
		}
	}}
	res, err := Fit(f, []float64{0, 0}, Options{UnitNoise: true})
	if err != nil {
		t.Fatal(err)
	}
	// n = 4, Σx = 6, Σx² = 14, determinant 20: variances 14/20 and 4/20 of 0.25,
	// covariance −6/20 of it. Differences carry about ten digits.
	want := [][]float64{{0.175, -0.075}, {-0.075, 0.05}}
	for i := range want {
		for j := range want {
			if math.Abs(res.Cov[i][j]-want[i][j]) > 1e-9 {
				t.Errorf("cov %v, want %v", res.Cov, want)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	line := func(b, out []float64) {
		for i := range out {
			out[i] = b[0] - float64(i)
		}
	}
	hole := func(b, out []float64) { out[0], out[1] = math.NaN(), 0 }
	for _, c := range []struct {
		name  string
		f     Residuals
		start []float64
		want  error
	}{
		{"no parameters", Residuals{Count: 3, Eval: line}, nil, ErrShape},
		{"too few residuals", Residuals{Count: 1, Eval: line}, []float64{1, 2}, ErrShape},
		{"NaN start", Residuals{Count: 3, Eval: line}, []float64{math.NaN()}, ErrNonFinite},
		{"infinite start", Residuals{Count: 3, Eval: line}, []float64{math.Inf(1)}, ErrNonFinite},
		{"NaN residual at the start", Residuals{Count: 2, Eval: hole}, []float64{1}, ErrNonFinite},
	} {
		if _, err := Fit(c.f, c.start, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	for _, c := range []struct {
		cols [][]float64
		y    []float64
		want error
	}{
		{nil, []float64{1}, ErrShape},
		{[][]float64{{1, 2}}, []float64{1}, ErrShape},
		{[][]float64{{1, 2}, {2, 4}}, []float64{1, 2}, ErrSingular},
		{[][]float64{{0, 0}}, []float64{1, 2}, ErrSingular},
		{[][]float64{{1, math.NaN()}}, []float64{1, 2}, ErrNonFinite},
		{[][]float64{{1, 1}}, []float64{1, math.Inf(-1)}, ErrNonFinite},
	} {
		if _, _, err := Linear(c.cols, c.y); !errors.Is(err, c.want) {
			t.Errorf("Linear(%v, %v): %v, want %v", c.cols, c.y, err, c.want)
		}
	}
}

// TestUndetermined: two parameters that only count as a sum give the right sum
// and no covariance, rather than a made-up one.
func TestUndetermined(t *testing.T) {
	f := Residuals{Count: 3, Eval: func(b, out []float64) {
		for i := range out {
			out[i] = b[0] + b[1] - float64(i)
		}
	}}
	res, err := Fit(f, []float64{5, 9}, Options{})
	if err != nil || res.Cov != nil || math.Abs(res.Params[0]+res.Params[1]-1) > 1e-9 {
		t.Errorf("%+v, %v; want a sum of 1 and no covariance", res, err)
	}
}

// TestDescendsToNowhere: exp(b) has its infimum at −∞. The fit must come back.
func TestDescendsToNowhere(t *testing.T) {
	calls := 0
	f := Residuals{Count: 1, Eval: func(b, out []float64) { calls++; out[0] = math.Exp(b[0]) }}
	res, _ := Fit(f, []float64{0}, Options{MaxIter: 50})
	if math.IsNaN(res.Params[0]) || res.RSS > 1 || calls > 10000 {
		t.Errorf("%+v after %d evaluations", res, calls)
	}
}

func TestSameAnswerTwice(t *testing.T) {
	p := problems[3]
	a, _ := Fit(p.residuals(), p.starts[0], Options{})
	b, _ := Fit(p.residuals(), p.starts[0], Options{})
	if !slices.Equal(a.Params, b.Params) || a.RSS != b.RSS || a.Iter != b.Iter {
		t.Errorf("%+v, then %+v", a, b)
	}
}

// FuzzFit: whatever the data, the start and the model, the fit ends, its
// parameters are numbers, and it is no worse than the start.
func FuzzFit(f *testing.F) {
	f.Add(uint8(0), 1.0, 1.0, 1.0, 2.0, 3.0)
	f.Add(uint8(1), 1e-300, -1e300, 1e10, -5.0, 0.0)
	f.Add(uint8(2), 0.0, 0.0, 0.0, 0.0, 0.0)
	f.Add(uint8(3), 5.0, -3.0, 1e-8, 1e8, 1e155)
	f.Fuzz(func(t *testing.T, kind uint8, b0, b1, y0, y1, y2 float64) {
		y := []float64{y0, y1, y2}
		models := []func(b []float64, x float64) float64{
			func(b []float64, x float64) float64 { return b[0] * math.Exp(-b[1]*x) },
			func(b []float64, x float64) float64 { return b[0] / (x + b[1]) },
			func(b []float64, x float64) float64 { return b[0] * math.Pow(x, b[1]) },
			func(b []float64, x float64) float64 { return b[0] * math.Log(b[1]*x) },
		}
		p := problem{x: []float64{1, 2, 3}, y: y, model: models[int(kind)%len(models)]}
		start := []float64{b0, b1}
		before := make([]float64, 3)
		p.residuals().Eval(start, before)
		res, err := Fit(p.residuals(), start, Options{MaxIter: 60})
		if err != nil && !errors.Is(err, ErrNoConvergence) {
			return
		}
		for _, v := range res.Params {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("parameters %v", res.Params)
			}
		}
		if s := norm(before); !(res.RSS <= s*s*(1+1e-9)) {
			t.Fatalf("sum of squares %g, at the start %g", res.RSS, s*s)
		}
	})
}

// BenchmarkLinear solves a dense 60 × 6 problem; the peer is the QR of gonum/mat.
// Reported as peer-ratio: our time over the peer's.
func BenchmarkLinear(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 1))
	const m, n = 60, 6
	cols, dense, y := newColumns(m, n), mat.NewDense(m, n, nil), make([]float64, m)
	for i := range m {
		y[i] = r.NormFloat64()
		for j := range n {
			cols[j][i] = r.NormFloat64()
			dense.Set(i, j, cols[j][i])
		}
	}
	var ours, peer time.Duration
	for b.Loop() {
		begin := time.Now()
		if _, _, err := Linear(cols, y); err != nil {
			b.Fatal(err)
		}
		middle := time.Now()
		var qr mat.QR
		var x mat.VecDense
		qr.Factorize(dense)
		if err := qr.SolveVecTo(&x, false, mat.NewVecDense(m, y)); err != nil {
			b.Fatal(err)
		}
		ours += middle.Sub(begin)
		peer += time.Since(middle)
	}
	b.ReportMetric(ours.Seconds()/peer.Seconds(), "peer-ratio")
}

// BenchmarkFit fits Misra1a from its second start.
func BenchmarkFit(b *testing.B) {
	p := problems[0]
	f := p.residuals()
	for b.Loop() {
		if _, err := Fit(f, p.starts[1], Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
