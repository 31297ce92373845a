package kinetics

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"lyefast/internal/unit"
)

func dries(end, loss, days float64, on []float64, sd float64, seed uint64) []Weighing {
	r := rand.New(rand.NewPCG(seed, 4))
	var out []Weighing
	for _, d := range on {
		out = append(out, Weighing{d, unit.Grams(end + loss*math.Exp(-d/days) + sd*r.NormFloat64())})
	}
	return out
}

var weekly = []float64{1, 4, 7, 14, 21, 28, 35, 42}

// TestDryingRecovery: simulated weights give their end and time back within three
// of the standard deviations that come with them.
func TestDryingRecovery(t *testing.T) {
	for seed := range uint64(20) {
		d, err := FitDrying(dries(96, 16, 12, weekly, 0.1, seed), 0)
		if err != nil {
			t.Fatal(err)
		}
		if e := float64(d.End - 96); math.Abs(e) > 3*float64(d.EndSD) || math.Abs(e) > 1 {
			t.Errorf("seed %d: end %.2f ± %.2f, truth 96", seed, float64(d.End), float64(d.EndSD))
		}
		if math.Abs(d.Days-12) > 3*d.DaysSD || d.DaysSD > 2 {
			t.Errorf("seed %d: T %.2f ± %.2f, truth 12", seed, d.Days, d.DaysSD)
		}
		if math.Abs(float64(d.At(0)-d.Start)) > 1e-9 || math.Abs(float64(d.At(1e4)-d.End)) > 1e-9 {
			t.Errorf("seed %d: ends of the curve %v, %v", seed, d.At(0), d.At(1e4))
		}
	}
}

// TestDryingExact: without noise four weighings are enough for eight digits.
func TestDryingExact(t *testing.T) {
	d, err := FitDrying(dries(96, 16, 12, []float64{0, 7, 14, 28}, 0, 0), 0)
	if err != nil || math.Abs(float64(d.End)-96) > 1e-6 || math.Abs(d.Days-12) > 1e-6 || math.Abs(float64(d.Start)-112) > 1e-6 {
		t.Errorf("%+v, %v", d, err)
	}
}

// TestDryingFloor: the end does not go below the water-free weight.
func TestDryingFloor(t *testing.T) {
	ws := dries(96, 16, 12, weekly, 0.02, 1)
	d, err := FitDrying(ws, 97.5)
	if err != nil || d.End != 97.5 || d.EndSD != 0 {
		t.Errorf("%+v, %v", d, err)
	}
	free, _ := FitDrying(ws, 90)
	if loose, _ := FitDrying(ws, 0); loose != free || free.Residual >= d.Residual {
		t.Errorf("a floor below the end changed the fit: %+v, %+v", free, loose)
	}
}

func TestDryingRefused(t *testing.T) {
	good := dries(96, 16, 12, weekly, 0.1, 1)
	for name, c := range map[string]struct {
		ws   []Weighing
		free unit.Grams
		want error
	}{
		"none":                    {nil, 0, ErrDryingUnknown},
		"three":                   {good[:3], 0, ErrDryingUnknown},
		"four on one day":         {[]Weighing{{1, 100}, {1, 101}, {1, 102}, {1, 103}}, 0, ErrDryingUnknown},
		"growing":                 {[]Weighing{{1, 100}, {2, 104}, {5, 107}, {9, 108}, {20, 108.5}}, 0, ErrDryingUnknown},
		"a straight line":         {[]Weighing{{0, 112}, {7, 110}, {14, 108}, {21, 106}, {28, 104}}, 0, ErrDryingUnknown},
		"not changing":            {[]Weighing{{0, 100}, {7, 100}, {14, 100}, {21, 100}}, 0, ErrDryingUnknown},
		"no weight":               {append([]Weighing{{3, 0}}, good...), 0, ErrWeighing},
		"NaN":                     {append([]Weighing{{3, unit.Grams(math.NaN())}}, good...), 0, ErrWeighing},
		"before the pour":         {append([]Weighing{{-3, 100}}, good...), 0, ErrWeighing},
		"a ton":                   {append([]Weighing{{3, 1e7}}, good...), 0, ErrWeighing},
		"negative dry weight":     {good, -1, ErrWeighing},
		"dry weight not known":    {good, unit.Grams(math.NaN()), ErrWeighing},
		"drier than it can be":    {good, 120, ErrDryingUnknown},
		"wild, with no clear end": {[]Weighing{{0, 100}, {1, 93}, {2, 99}, {3, 92}, {4, 98}}, 0, ErrDryingUnknown},
	} {
		if d, err := FitDrying(c.ws, c.free); !errors.Is(err, c.want) {
			t.Errorf("%s: %+v, %v; want %v", name, d, err, c.want)
		}
	}
}

// FuzzFitDrying: any weights are refused or give a curve that loses weight.
func FuzzFitDrying(f *testing.F) {
	f.Add(0.0, 112.0, 7.0, 104.0, 14.0, 100.0, 28.0, 97.0, 60.0)
	f.Add(0.0, 1e-300, 1e-300, 1.0, 3650.0, 1.0, 5.0, 1e6, 0.0)
	f.Add(1.0, 100.0, 2.0, 100.0, 3.0, 100.0, 4.0, 100.0, 100.0)
	f.Fuzz(func(t *testing.T, d0, g0, d1, g1, d2, g2, d3, g3, free float64) {
		ws := []Weighing{{d0, unit.Grams(g0)}, {d1, unit.Grams(g1)}, {d2, unit.Grams(g2)}, {d3, unit.Grams(g3)}}
		d, err := FitDrying(ws, unit.Grams(free))
		if err != nil {
			return
		}
		sum := float64(d.Start+d.End+d.EndSD+d.Residual) + d.Days + d.DaysSD
		if math.IsNaN(sum) || math.IsInf(sum, 0) || d.Start <= d.End || d.Days <= 0 || d.End < unit.Grams(free) {
			t.Fatalf("%+v", d)
		}
	})
}
