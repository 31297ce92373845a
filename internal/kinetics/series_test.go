package kinetics

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/lsq"
	"lyefast/internal/testkit"
)

// series is one of the simulated cure series that come with a scored reference
// method. No real soap was measured for them.
type series struct {
	id, colorant string
	dose         float64
	label        Pattern
	settled      cie.Lab // noise-free, day 42
	points       []Point
}

var labels = map[string]Pattern{"holds": Holds, "returns": Returns, "settles": Settles, "fades": Fades}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func cureSeries(t testing.TB) []series {
	t.Helper()
	table := func(name string) []map[string]string {
		return testkit.Table(t, testkit.Shared(t, "reference/cure-series/"+name))
	}
	var out []series
	at := map[string]int{}
	for _, r := range table("series.csv") {
		at[r["series_id"]] = len(out)
		out = append(out, series{id: r["series_id"], colorant: r["colourant_id"], dose: number(t, r["dose"])})
	}
	for _, r := range table("truth.csv") {
		s := &out[at[r["series_id"]]]
		s.label = labels[r["label"]]
		s.settled = cie.Lab{L: number(t, r["L42"]), A: number(t, r["a42"]), B: number(t, r["b42"])}
	}
	for _, r := range table("readings.csv") {
		s := &out[at[r["series_id"]]]
		s.points = append(s.points, Point{Day: number(t, r["day"]),
			Lab: cie.Lab{L: number(t, r["L"]), A: number(t, r["a"]), B: number(t, r["b"])}})
	}
	return out
}

// known gives the readings up to a nominal day, with the room for jitter that the
// scoring rules allow.
func (s series) known(day float64) []Point {
	var out []Point
	for _, p := range s.points {
		if p.Day <= day+0.6 {
			out = append(out, p)
		}
	}
	return out
}

// score adds up forecasts of the noise-free settled colour as the README of the
// series has it.
type score struct {
	n, right                int
	covered, width, penalty float64
	miss                    []float64
}

func (s *score) add(b Band, likely, label Pattern, truth cie.Lab) {
	s.n++
	if likely == label {
		s.right++
	}
	for ch := range 3 {
		low, high, v := coordinate(b.P05, ch), coordinate(b.P95, ch), coordinate(truth, ch)
		s.width += high - low
		switch {
		case v < low:
			s.penalty += 20 * (low - v)
		case v > high:
			s.penalty += 20 * (v - high)
		default:
			s.covered++
		}
	}
	s.miss = append(s.miss, cie.DeltaE76(b.Median, truth))
}

func (s *score) coverage() float64 { return 100 * s.covered / float64(3*s.n) }
func (s *score) meanWidth() float64 {
	return s.width / float64(3*s.n)
}
func (s *score) interval() float64 { return (s.width + s.penalty) / float64(3*s.n) }
func (s *score) accuracy() float64 { return 100 * float64(s.right) / float64(s.n) }
func (s *score) meanMiss() float64 {
	var sum float64
	for _, m := range s.miss {
		sum += m
	}
	return sum / float64(len(s.miss))
}

func (s *score) quantileMiss(q float64) float64 {
	slices.Sort(s.miss)
	at := q * float64(len(s.miss)-1)
	i := int(at)
	if i+1 == len(s.miss) {
		return s.miss[i]
	}
	return s.miss[i] + (at-float64(i))*(s.miss[i+1]-s.miss[i])
}

func (s *score) String() string {
	return fmt.Sprintf("%5.1f %6.2f %6.2f   %.2f / %.2f / %.2f   %5.1f", s.coverage(), s.meanWidth(), s.interval(),
		s.quantileMiss(0.5), s.meanMiss(), s.quantileMiss(0.9), s.accuracy())
}

func mustFit(t testing.TB, points []Point, prior Prior) Curve {
	t.Helper()
	c, err := Fit(points, prior)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestAgainstReference prints the scores beside the reference method's and holds
// ours to them: coverage of the 90 % band 86–96 %, interval score and mean miss
// within 3 %, class accuracy no more than 2 points less, and bands that grow
// narrower with every further reading day.
func TestAgainstReference(t *testing.T) {
	all := cureSeries(t)
	reference := map[float64]struct{ coverage, width, interval, miss, accuracy float64 }{
		7:  {92.5, 6.04, 7.17, 2.16, 80.0},
		14: {94.2, 3.56, 4.35, 1.49, 80.0},
		21: {90.8, 2.48, 4.15, 1.20, 85.0},
		42: {96.7, 1.59, 1.73, 0.61, 97.5},
	}
	t.Log("day   cov %  width     IS   dE median / mean / p90   class %   (reference method: cov, width, IS, dE mean, class)")
	last := math.Inf(1)
	for _, day := range []float64{0, 1, 2, 4, 7, 14, 21, 28, 42} {
		var s score
		for _, one := range all {
			c := mustFit(t, one.known(day), DefaultPrior())
			likely, _ := c.Likely()
			s.add(c.Settled(), likely, one.label, one.settled)
		}
		row := fmt.Sprintf("%3g   %s", day, &s)
		want, scored := reference[day]
		if scored {
			row += fmt.Sprintf("   (%.1f, %.2f, %.2f, %.2f, %.1f)", want.coverage, want.width, want.interval, want.miss, want.accuracy)
		}
		t.Log(row)
		if s.meanWidth() >= last {
			t.Errorf("day %g: mean width %.3f, one reading earlier %.3f", day, s.meanWidth(), last)
		}
		last = s.meanWidth()
		if !scored {
			continue
		}
		if day < 42 && (s.coverage() < 86 || s.coverage() > 96) {
			t.Errorf("day %g: coverage %.1f %%, wanted 86–96", day, s.coverage())
		}
		if s.interval() > 1.03*want.interval || s.meanMiss() > 1.03*want.miss || s.accuracy() < want.accuracy-2 {
			t.Errorf("day %g: interval score %.2f, mean miss %.2f, accuracy %.1f; the reference has %.2f, %.2f, %.1f",
				day, s.interval(), s.meanMiss(), s.accuracy(), want.interval, want.miss, want.accuracy)
		}
	}
}

// TestReferenceForecasts: with the reference's own assumption on noise (0.65 for
// each coordinate) its published forecasts come out to the digits it gives.
func TestReferenceForecasts(t *testing.T) {
	byID := map[string]series{}
	for _, s := range cureSeries(t) {
		byID[s.id] = s
	}
	prior := DefaultPrior()
	prior.Noise.Median = each(0.65)
	for _, r := range testkit.Table(t, testkit.Shared(t, "reference/cure-series/reference_forecasts.csv")) {
		where := r["series_id"] + " known to day " + r["known_to_day"]
		c := mustFit(t, byID[r["series_id"]].known(number(t, r["known_to_day"])), prior)
		if got := strconv.Itoa(c.Readings()); got != r["n_readings"] {
			t.Errorf("%s: %s readings, not %s", where, got, r["n_readings"])
		}
		for p, got := range c.pattern {
			// Four decimals are given.
			if want := number(t, r["p_"+[]string{"holds", "returns", "settles", "fades"}[p]]); math.Abs(got-want) > 6e-5 {
				t.Errorf("%s: P(%v) = %.5f, reference %.4f", where, Pattern(p), got, want)
			}
		}
		b := c.Settled()
		for ch, name := range []string{"L", "a", "b"} {
			for _, v := range []struct{ got, want float64 }{
				{coordinate(b.Median, ch), number(t, r[name+"_med"])},
				{coordinate(b.P05, ch), number(t, r[name+"_lo90"])},
				{coordinate(b.P95, ch), number(t, r[name+"_hi90"])},
			} {
				// Two decimals are given; L* is kept within 0–100 here only.
				if math.Abs(v.got-min(v.want, 100)) > 6e-3 && (ch > 0 || v.want > 0) {
					t.Errorf("%s: %s %.4f, reference %.2f", where, name, v.got, v.want)
				}
			}
		}
	}
}

// TestLearnFromBatches: the fourth batch of a colourant is forecast better when
// its three other batches have been learned from, early on most of all. Each of
// the 40 series is left out in turn.
func TestLearnFromBatches(t *testing.T) {
	all := cureSeries(t)
	full := map[string]Curve{}
	for _, s := range all {
		full[s.id] = mustFit(t, s.points, DefaultPrior())
	}
	for _, day := range []float64{0, 1, 2, 4} {
		var alone, taught score
		for _, s := range all {
			var earlier []Earlier
			for _, o := range all {
				if o.colorant == s.colorant && o.id != s.id {
					earlier = append(earlier, Earlier{Curve: full[o.id], DoseRatio: s.dose / o.dose})
				}
			}
			for _, way := range []struct {
				prior Prior
				into  *score
			}{{DefaultPrior(), &alone}, {Learn(DefaultPrior(), 1, earlier), &taught}} {
				c := mustFit(t, s.known(day), way.prior)
				likely, _ := c.Likely()
				way.into.add(c.Settled(), likely, s.label, s.settled)
			}
		}
		t.Logf("day %g alone   %v", day, &alone)
		t.Logf("day %g learned %v", day, &taught)
		if taught.interval() > 0.8*alone.interval() || taught.meanMiss() > 0.8*alone.meanMiss() || taught.coverage() < 86 {
			t.Errorf("day %g: learned interval score %.2f, miss %.2f, coverage %.1f; alone %.2f, %.2f", day,
				taught.interval(), taught.meanMiss(), taught.coverage(), alone.interval(), alone.meanMiss())
		}
	}
}

// leastSquares is the rival method: every model by nonlinear least squares, the
// best by AICc, without priors. It gives the forecast of day 42 and the pattern.
func leastSquares(t testing.TB, points []Point) (cie.Lab, Pattern) {
	t.Helper()
	n := 3 * len(points)
	best, winner, forecast := math.Inf(1), Holds, cie.Lab{}
	for _, m := range []struct {
		pattern Pattern
		rates   []float64 // starting half-lives
		terms   int
	}{{Holds, nil, 1}, {Fades, nil, 2}, {Settles, []float64{2.5}, 2}, {Returns, []float64{3, 0.4}, 3}} {
		k := len(m.rates) + 3*m.terms
		if n-k-2 <= 0 {
			continue
		}
		curve := func(p []float64, day float64, ch int) float64 {
			f := form{pattern: m.pattern}
			if len(m.rates) > 0 {
				f.k1 = math.Ln2 / math.Exp(p[0])
			}
			if len(m.rates) > 1 {
				f.k2 = math.Ln2 / math.Exp(p[1])
				f.peak = pulsePeak(f.k1, f.k2)
			}
			v, g := 0.0, f.at(day)
			for i := range m.terms {
				v += g[i] * p[len(m.rates)+m.terms*ch+i]
			}
			return v
		}
		start := make([]float64, k)
		for i, h := range m.rates {
			start[i] = math.Log(h)
		}
		for ch := range 3 {
			start[len(m.rates)+m.terms*ch] = coordinate(points[0].Lab, ch)
			if m.terms > 1 {
				start[len(m.rates)+m.terms*ch+1] = 1
			}
		}
		fit, _ := lsq.Fit(lsq.Residuals{Count: n, Eval: func(p, out []float64) {
			for i, pt := range points {
				for ch := range 3 {
					out[3*i+ch] = coordinate(pt.Lab, ch) - curve(p, pt.Day, ch)
				}
			}
		}}, start, lsq.Options{MaxIter: 100})
		if fit.Params == nil {
			continue
		}
		kk := float64(k + 1)
		aicc := float64(n)*math.Log(fit.RSS/float64(n)) + 2*kk + 2*kk*(kk+1)/(float64(n)-kk-1)
		if aicc < best {
			best, winner = aicc, m.pattern
			forecast = cie.Lab{L: curve(fit.Params, SettledDay, 0), A: curve(fit.Params, SettledDay, 1), B: curve(fit.Params, SettledDay, 2)}
		}
	}
	return forecast, winner
}

// TestBeatsLeastSquares: known to day 14, the median forecast is nearer than that
// of the usual way and than the last reading carried forward, and more patterns
// are told right. The rival's figures are those of the published table, 1.85 and
// 60 %, so it is a fair one.
func TestBeatsLeastSquares(t *testing.T) {
	var ours, theirs, carried score
	for _, s := range cureSeries(t) {
		known := s.known(14)
		c := mustFit(t, known, DefaultPrior())
		likely, _ := c.Likely()
		ours.add(c.Settled(), likely, s.label, s.settled)
		lab, p := leastSquares(t, known)
		theirs.add(Band{lab, lab, lab}, p, s.label, s.settled)
		last := known[len(known)-1].Lab
		carried.add(Band{last, last, last}, Holds, s.label, s.settled)
	}
	t.Logf("mean dE: ours %.2f, least squares by AICc %.2f, last reading carried %.2f; class %% %.1f and %.1f",
		ours.meanMiss(), theirs.meanMiss(), carried.meanMiss(), ours.accuracy(), theirs.accuracy())
	if math.Abs(theirs.meanMiss()-1.85) > 0.05 || theirs.accuracy() != 60 {
		t.Errorf("the rival is not the one of the table: %.2f, %.1f %%", theirs.meanMiss(), theirs.accuracy())
	}
	if ours.meanMiss() > min(theirs.meanMiss(), carried.meanMiss()) || ours.accuracy() <= theirs.accuracy() {
		t.Error("not better than the simple ways")
	}
}

// BenchmarkFit fits one series with all its readings and asks for the settled
// band; the peer is least squares by AICc on the same readings, the same models
// and this program's own damped least squares. Reported as peer-ratio: our time
// over the peer's.
func BenchmarkFit(b *testing.B) {
	known := cureSeries(b)[0].points
	benchmarkAgainst(b, func() {
		c, err := Fit(known, DefaultPrior())
		if err != nil {
			b.Fatal(err)
		}
		c.Settled()
	}, func() { leastSquares(b, known) })
}
