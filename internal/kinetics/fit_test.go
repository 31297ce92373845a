package kinetics

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"lyefast/internal/cie"
)

// nominal are days on which a keen maker reads.
var nominal = []float64{0, 1, 2, 4, 7, 14, 21, 28, 42}

// draw makes a portion out of the prior itself: a pattern, rates, amplitudes and
// noise, and gives its readings and its noise-free colour.
func draw(r *rand.Rand, prior Prior) (points []Point, truth func(day float64) cie.Lab, p Pattern) {
	p = Pattern(r.IntN(4))
	z := func(reach float64) float64 {
		for {
			if v := r.NormFloat64(); math.Abs(v) < reach {
				return v
			}
		}
	}
	f := form{pattern: p}
	switch p {
	case Settles:
		f.k1 = prior.SettleHalfLife.rate(z(settleReach))
	case Returns:
		for f.k2 < slowestDeparture*f.k1 || f.k1 == 0 {
			f.k1, f.k2 = prior.ReturnHalfLife.rate(z(returnReach)), prior.DepartureHalfLife.rate(z(departureReach))
		}
		f.peak = pulsePeak(f.k1, f.k2)
	}
	var amplitude [3][3]float64
	start := [3]float64{40 + 40*r.Float64(), 20 * r.NormFloat64(), 20 * r.NormFloat64()}
	for ch := range 3 {
		amplitude[ch][0] = start[ch]
		for t := 1; t < f.terms(); t++ {
			belief := prior.amplitudes(p)[t]
			amplitude[ch][t] = coordinate(belief.Mean, ch) + coordinate(belief.SD, ch)*r.NormFloat64()
		}
	}
	truth = func(day float64) cie.Lab {
		g := f.at(day)
		var v [3]float64
		for ch := range 3 {
			for t := range f.terms() {
				v[ch] += g[t] * amplitude[ch][t]
			}
		}
		return labOf(v)
	}
	factor := math.Exp(prior.Noise.SDLn * r.NormFloat64())
	for _, day := range nominal {
		at := truth(day)
		points = append(points, Point{Day: day, Lab: cie.Lab{
			L: min(max(at.L+factor*prior.Noise.Median.L*r.NormFloat64(), 0), 100),
			A: at.A + factor*prior.Noise.Median.A*r.NormFloat64(),
			B: at.B + factor*prior.Noise.Median.B*r.NormFloat64(),
		}})
	}
	return points, truth, p
}

// TestRecovery: on portions drawn from the prior, known to any day, the 90 % band
// covers the settled colour 90–97 % of the time (its allowance for curves that are
// not quite of these forms makes it a little wide), and the pattern probabilities
// mean what they say: of the portions given 0.7–0.9, that share is right.
func TestRecovery(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	prior := DefaultPrior()
	var said, right, sure float64
	for _, known := range []int{2, 4, 6, 9} {
		var s score
		for range 150 {
			points, truth, p := draw(r, prior)
			c := mustFit(t, points[:known], prior)
			likely, probability := c.Likely()
			s.add(c.Settled(), likely, p, truth(SettledDay))
			if probability > 0.7 && probability < 0.9 {
				sure++
				said += probability
				if likely == p {
					right++
				}
			}
		}
		t.Logf("%d readings: %v", known, &s)
		// 450 intervals, three of a portion together: a standard error of about 2 %.
		if s.coverage() < 86 || s.coverage() > 98.5 {
			t.Errorf("%d readings: coverage %.1f %%", known, s.coverage())
		}
	}
	t.Logf("%.0f portions at 0.7–0.9: mean probability %.2f, right %.2f", sure, said/sure, right/sure)
	if math.Abs(said-right)/sure > 0.1 {
		t.Errorf("probability %.2f, right %.2f", said/sure, right/sure)
	}
}

var one = []Point{
	{Day: 0, Lab: cie.Lab{L: 81, A: -10, B: 9}},
	{Day: 1, Lab: cie.Lab{L: 77.6, A: -9.4, B: 11.7}},
	{Day: 4, Lab: cie.Lab{L: 73.5, A: -7.9, B: 13.7}},
	{Day: 14, Lab: cie.Lab{L: 72.9, A: -7.7, B: 15.2}},
}

func equal(a, b Curve) bool {
	for day := range 60 {
		if a.At(float64(day)) != b.At(float64(day)) {
			return false
		}
	}
	return a.pattern == b.pattern
}

func TestOrderDoesNotMatter(t *testing.T) {
	want := mustFit(t, one, DefaultPrior())
	shuffled := slices.Clone(one)
	slices.Reverse(shuffled)
	if !equal(mustFit(t, shuffled, DefaultPrior()), want) || shuffled[0] != one[3] {
		t.Error("another order gives another curve, or Fit changed its argument")
	}
	if twice := append(slices.Clone(one), one...); !equal(mustFit(t, twice, DefaultPrior()), want) {
		t.Error("readings entered twice changed the curve")
	}
}

func width(b Band) float64 {
	d := b.P95.Sub(b.P05)
	return d.L + d.A + d.B
}

func TestSameDayReadingsCount(t *testing.T) {
	more := append(slices.Clone(one), Point{Day: 14, Lab: cie.Lab{L: 73.2, A: -7.5, B: 15.0}})
	if a, b := mustFit(t, one, DefaultPrior()), mustFit(t, more, DefaultPrior()); width(b.Settled()) >= width(a.Settled()) || b.Readings() != 5 {
		t.Errorf("a second reading of day 14 left the band at %.2f, was %.2f", width(b.Settled()), width(a.Settled()))
	}
}

// TestFewReadings: none give the prior, one gives its own colour on its day and a
// band that is not yet surer of the end than the priors of change allow.
func TestFewReadings(t *testing.T) {
	none := mustFit(t, nil, DefaultPrior())
	if h, r, s, f := none.Pattern(); math.Abs(h-0.25)+math.Abs(r-0.25)+math.Abs(s-0.25)+math.Abs(f-0.25) > 1e-12 {
		t.Error("patterns without a reading", h, r, s, f)
	}
	// The start is N(55, 40²), cut at black and white.
	b := none.At(0)
	if math.Abs(b.Median.L-55) > 0.1 || b.P05.L != 0 || b.P95.L != 100 || math.Abs(b.P95.A-40*z90) > 0.1 {
		t.Errorf("colour at the pour without a reading: %+v", b)
	}
	c := mustFit(t, one[:1], DefaultPrior())
	now, end := c.At(0), c.Settled()
	if distance(now.Median, one[0].Lab) > 0.1 || width(now) > 8 || width(end) < 20 {
		t.Errorf("one reading: now %+v, settled %+v", now, end)
	}
	// On any other day than the pour a single reading is no surer.
	late := mustFit(t, []Point{{Day: 42, Lab: one[3].Lab}}, DefaultPrior())
	if distance(late.Settled().Median, one[3].Lab) > 0.1 || width(late.At(0)) < 20 {
		t.Errorf("one reading on day 42: %+v", late.Settled())
	}
}

func TestStatedNoise(t *testing.T) {
	with := func(sd float64) Curve {
		points := slices.Clone(one)
		for i := range points {
			points[i].SD = each(sd)
		}
		return mustFit(t, points, DefaultPrior())
	}
	instrument, eye := with(0.2), with(3)
	if a, b := width(instrument.Settled()), width(eye.Settled()); a > 0.6*b {
		t.Errorf("band from an instrument %.2f, from the eye %.2f", a, b)
	}
	if instrument.pattern[Settles] < 0.95 || eye.pattern[Settles] > 0.9 {
		t.Errorf("P(settles) from an instrument %.3f, from the eye %.3f", instrument.pattern[Settles], eye.pattern[Settles])
	}
	// A wild reading by eye hardly moves what an instrument saw that day.
	wild := Point{Day: 14, Lab: cie.Lab{L: 60, A: 0, B: 25}, SD: each(6)}
	exact := Point{Day: 14, Lab: one[3].Lab, SD: each(0.2)}
	c := mustFit(t, append(slices.Clone(one[:3]), exact, wild), DefaultPrior())
	if d := distance(c.At(14).Median, one[3].Lab); d > 0.5 {
		t.Errorf("day 14 moved by %.2f towards the eye's reading", d)
	}
	// Perfect agreement is not believed.
	if w := width(mustFit(t, []Point{{Lab: one[0].Lab, SD: each(1e-9)}}, DefaultPrior()).At(0)); w < 3*2*z90*modelSD {
		t.Errorf("a reading of no noise gives a band of %.3f", w)
	}
}

func TestRefused(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for name, p := range map[string]Point{
		"before the pour":  {Day: -0.1},
		"NaN day":          {Day: nan},
		"a century later":  {Day: 36500},
		"L* of 624":        {Lab: cie.Lab{L: 624}},
		"negative L*":      {Lab: cie.Lab{L: -20}},
		"infinite a*":      {Lab: cie.Lab{L: 50, A: inf}},
		"NaN b*":           {Lab: cie.Lab{L: 50, B: nan}},
		"b* of 1e300":      {Lab: cie.Lab{L: 50, B: 1e300}},
		"negative sd":      {Lab: cie.Lab{L: 50}, SD: cie.Lab{A: -1}},
		"infinite sd":      {Lab: cie.Lab{L: 50}, SD: cie.Lab{A: inf}},
		"not a number, sd": {Lab: cie.Lab{L: 50}, SD: cie.Lab{L: nan}},
	} {
		if _, err := Fit([]Point{p}, DefaultPrior()); !errors.Is(err, ErrPoint) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Fit(make([]Point, MaxPoints+1), DefaultPrior()); !errors.Is(err, ErrMany) {
		t.Errorf("too many: %v", err)
	}
	for name, spoil := range map[string]func(*Prior){
		"no weights":         func(p *Prior) { p.Weight = [4]float64{} },
		"negative weight":    func(p *Prior) { p.Weight[1] = -1 },
		"NaN weight":         func(p *Prior) { p.Weight[0] = nan },
		"no spread":          func(p *Prior) { p.Shift.SD.A = 0 },
		"infinite mean":      func(p *Prior) { p.Fade.Mean.B = inf },
		"no half-life":       func(p *Prior) { p.ReturnHalfLife.Median = 0 },
		"NaN half-life":      func(p *Prior) { p.SettleHalfLife.SDLn = nan },
		"noiseless readings": func(p *Prior) { p.Noise.Median.L = 0 },
		"everything":         func(p *Prior) { *p = Prior{} },
	} {
		prior := DefaultPrior()
		spoil(&prior)
		if _, err := Fit(one, prior); !errors.Is(err, ErrPrior) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestOnePattern: a pattern of weight 0 stays impossible, and a rate known exactly
// needs no grid.
func TestOnePattern(t *testing.T) {
	prior := DefaultPrior()
	prior.Weight = [4]float64{0, 0, 3, 0}
	prior.SettleHalfLife.SDLn = 0
	c := mustFit(t, one, prior)
	if c.pattern != [4]float64{0, 0, 1, 0} || c.Lesson(Settles).HalfLife.SDLn > 1e-6 || math.Abs(c.Lesson(Settles).HalfLife.Median-2.5) > 1e-9 {
		t.Errorf("%v, %+v", c.pattern, c.Lesson(Settles))
	}
	if c.Lesson(Fades) != (Lesson{}) {
		t.Errorf("a lesson about an impossible pattern: %+v", c.Lesson(Fades))
	}
}

// TestQuantiles holds the mixture's quantiles against its distribution function.
func TestQuantiles(t *testing.T) {
	for known := range len(one) + 1 {
		m := mustFit(t, one[:known], DefaultPrior()).parts(30)
		for ch := range 3 {
			for _, q := range []float64{0.05, 0.5, 0.95} {
				x, p := m.quantile(ch, q), 0.0
				for _, part := range m {
					p += part.weight * 0.5 * math.Erfc((part.mean[ch]-x)/part.sd[ch]/math.Sqrt2)
				}
				if math.Abs(p-q) > 1e-7 {
					t.Errorf("%d readings, coordinate %d: quantile %g stands at %.9f", known, ch, q, p)
				}
			}
		}
	}
}

// TestBetweenReadings: close to a reading the band is narrow, far from any it is
// wide, and days out of range are taken as the nearest within.
func TestBetweenReadings(t *testing.T) {
	c := mustFit(t, one, DefaultPrior())
	if width(c.At(4)) > width(c.At(100)) || c.At(-3) != c.At(0) || c.At(1e9) != c.At(MaxDay) || c.At(math.NaN()) != c.At(0) {
		t.Error("bands", width(c.At(4)), width(c.At(100)))
	}
}

// TestShapes: closed forms at a few places.
func TestShapes(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"decay, none", Decay(0, 3), 1},
		{"decay, one half-life", Decay(3, 3), 0.5},
		{"decay, two", Decay(6, 3), 0.25},
		{"pulse at the pour", Pulse(0, 3, 0.4), 0},
		// The widest place of e^(−k1 t) − e^(−k2 t) is ln(k2/k1)/(k2 − k1).
		{"pulse at its widest", Pulse(math.Log(7.5)/(math.Ln2/0.4-math.Ln2/3), 3, 0.4), 1},
		// Late, only the slow term is left: 2^(−t/back)/peak halves in one half-life.
		{"pulse, late", Pulse(33, 3, 0.4) / Pulse(30, 3, 0.4), 0.5},
		{"pulse of equal rates", Pulse(3/math.Ln2, 3, 3), 1},
		{"planned pulse at the pour", PlannedPulse(0), 0},
		{"planned pulse, a half-life later", PlannedPulse(4.5) / PlannedPulse(4), 0.5},
		{"fade on day 21", fadeShape(21), 0.5},
		{"fade on day 42", fadeShape(42), 1},
		{"fade slope past day 56", (fadeShape(56+1e-6) - fadeShape(56)) / 1e-6 * 42, 1},
		{"fade, the end", fadeShape(1e5), 56.0/42 + 1/math.Ln2},
	} {
		if math.Abs(c.got-c.want) > 1e-6 {
			t.Errorf("%s: %.9f, want %.9f", c.name, c.got, c.want)
		}
	}
	for _, d := range []float64{0.1, 0.5, 1, 3, 10} {
		if near := Pulse(d, 3, 3*(1-1e-5)); math.Abs(near-Pulse(d, 3, 3)) > 1e-4 {
			t.Errorf("day %g: pulse of almost equal rates %.6f", d, near)
		}
	}
}

// brown is a stand-in for modelled browning over a pale bar: a stretched clock of
// two weeks, darker and yellower, full strength at 1.
func brown(strength float64) func(float64) cie.Lab {
	return func(day float64) cie.Lab {
		u := strength * -math.Expm1(-math.Pow(day/14, 0.8))
		return cie.Lab{L: 85 - 28*u/(1+0.3*u), A: 1 + 8*u, B: 12 + 16*u/(1+0.5*u)}
	}
}

// TestDrift: portions that settle, return, hold or fade, and brown on top. With the
// path of browning given at five strengths the band covers as promised; unaided
// the four patterns cannot follow.
func TestDrift(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	var drifts []Drift
	for _, g := range axis(5, 2, 1) {
		drifts = append(drifts, Drift{Weight: math.Exp(g.log), Path: brown(0.8 * math.Exp(0.35*g.z))})
	}
	var aided, unaided score
	for range 60 {
		points, truth, p := draw(r, DefaultPrior())
		m := brown(0.8 * math.Exp(0.35*r.NormFloat64()))
		for i := range points {
			points[i].Lab = points[i].Lab.Add(m(points[i].Day)).Sub(m(0))
			points[i].Lab.L = min(max(points[i].Lab.L, 0), 100)
		}
		end := truth(SettledDay).Add(m(SettledDay)).Sub(m(0))
		known := points[:6] // to day 14
		c, err := FitWithDrift(known, DefaultPrior(), drifts)
		if err != nil {
			t.Fatal(err)
		}
		likely, _ := c.Likely()
		aided.add(c.Settled(), likely, p, end)
		plain := mustFit(t, known, DefaultPrior())
		likely, _ = plain.Likely()
		unaided.add(plain.Settled(), likely, p, end)
	}
	t.Logf("browning taken off: %v", &aided)
	t.Logf("unaided:            %v", &unaided)
	// 180 intervals, three of a portion together: a standard error of about 3 %.
	if aided.coverage() < 84 || unaided.coverage() > 70 || aided.meanMiss() > 0.7*unaided.meanMiss() {
		t.Errorf("coverage %.1f %% and mean miss %.2f with the drift, %.1f %% and %.2f without",
			aided.coverage(), aided.meanMiss(), unaided.coverage(), unaided.meanMiss())
	}
}

// TestDriftIsTakenOff: a drift known exactly and nothing else leaves a colour that
// holds, and the forecast follows the drift.
func TestDriftIsTakenOff(t *testing.T) {
	m := brown(1)
	var points []Point
	for _, day := range nominal[:6] {
		points = append(points, Point{Day: day, Lab: m(day), SD: each(0.3)})
	}
	c, err := FitWithDrift(points, DefaultPrior(), []Drift{{1, m}})
	if err != nil {
		t.Fatal(err)
	}
	if d := distance(c.Settled().Median, m(SettledDay)); d > 0.5 || c.pattern[Holds] < 0.7 {
		t.Errorf("%.2f from the drift on day 42, %v", d, c.pattern)
	}
	same, err := FitWithDrift(points, DefaultPrior(), nil)
	if err != nil || !equal(same, mustFit(t, points, DefaultPrior())) {
		t.Error("no drift is not the plain fit")
	}
	nan := func(float64) cie.Lab { return cie.Lab{L: math.NaN()} }
	for name, d := range map[string][]Drift{
		"no weight": {{0, m}}, "no path": {{1, nil}}, "not a number": {{1, nan}}, "NaN weight": {{math.NaN(), m}},
		"too many": make([]Drift, 100),
	} {
		if _, err := FitWithDrift(points, DefaultPrior(), d); !errors.Is(err, ErrDrift) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestChange: the settled shift of a portion that settles is its change of colour.
func TestChange(t *testing.T) {
	c := mustFit(t, one, DefaultPrior())
	got := c.Change()
	want := c.Settled().Median.Sub(c.At(0).Median)
	for ch := range 3 {
		if math.Abs(coordinate(got.Mean, ch)-coordinate(want, ch)) > 0.3 || !(coordinate(got.SD, ch) > 0.1 && coordinate(got.SD, ch) < 2) {
			t.Errorf("coordinate %d: %.2f ± %.2f, medians differ by %.2f", ch, coordinate(got.Mean, ch), coordinate(got.SD, ch), coordinate(want, ch))
		}
	}
}

// FuzzFit: any readings at all are refused or give numbers in order, and
// probabilities that sum to one. The first byte chooses between plain floating
// point numbers, most of them absurd, and readings that a bar could give.
func FuzzFit(f *testing.F) {
	add := func(vs ...float64) {
		raw := []byte{0}
		for _, v := range vs {
			raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(v))
		}
		f.Add(raw, 42.0)
	}
	add()
	add(0, 81, -10, 9, 0)
	add(0, 81, -10, 9, 0, 0, 81, -10, 9, 0, 0, 20, 100, -100, 1e-300)
	add(3650, 100, 200, -200, 100, 0, 0, -200, 200, 0.01)
	add(1e-300, 50, 0, 0, 0, 42, 50, 1e-300, 0, 0)
	add(math.NaN(), 0, 0, 0, 0)
	f.Add([]byte("\x01 a bar read by lamplight, then by day, then not at all"), 3.0)
	f.Add([]byte("\x03\x00\x00\x80\x10\x20\x00\x00\x40\x80\x90\xa0\x05"), -1.0)
	f.Fuzz(func(t *testing.T, raw []byte, day float64) {
		var mode byte
		if len(raw) > 0 {
			mode, raw = raw[0], raw[1:]
		}
		points := absurd(raw)
		if mode&1 == 1 {
			points = plausible(raw)
		}
		var drifts []Drift
		if mode&2 == 2 {
			drifts = []Drift{{1, brown(0.5)}, {2, brown(1)}}
		}
		c, err := FitWithDrift(points, DefaultPrior(), drifts)
		if err != nil {
			if !errors.Is(err, ErrPoint) || mode&1 == 1 {
				t.Fatal(err)
			}
			return
		}
		for _, b := range []Band{c.At(day), c.Settled(), c.At(MaxDay)} {
			if !b.Median.Finite() || !b.P05.Finite() || !b.P95.Finite() {
				t.Fatalf("%+v", b)
			}
			for ch := range 3 {
				if m := coordinate(b.Median, ch); coordinate(b.P05, ch) > m || m > coordinate(b.P95, ch) {
					t.Fatalf("out of order: %+v", b)
				}
			}
		}
		h, r, s, d := c.Pattern()
		if math.Abs(h+r+s+d-1) > 1e-9 || min(h, r, s, d) < 0 {
			t.Fatal(h, r, s, d)
		}
		if n := c.Change(); !n.Mean.Finite() || !n.SD.Finite() {
			t.Fatalf("%+v", n)
		}
		Judge([]Batch{{Curve: c, Reference: &cie.Lab{L: 50}}}, Chemistry{})
		if _, err := Fit(points, Learn(DefaultPrior(), 1, []Earlier{{Curve: c}, {Curve: c, DoseRatio: 2}})); err != nil {
			t.Fatal(err)
		}
	})
}

func absurd(raw []byte) (points []Point) {
	for ; len(raw) >= 40 && len(points) < 12; raw = raw[40:] {
		var v [5]float64
		for i := range v {
			v[i] = math.Float64frombits(binary.LittleEndian.Uint64(raw[8*i:]))
		}
		points = append(points, Point{Day: v[0], Lab: cie.Lab{L: v[1], A: v[2], B: v[3]}, SD: each(v[4])})
	}
	return points
}

func plausible(raw []byte) (points []Point) {
	for ; len(raw) >= 6 && len(points) < 12; raw = raw[6:] {
		points = append(points, Point{
			Day: float64(binary.LittleEndian.Uint16(raw)) / 20,
			Lab: cie.Lab{L: float64(raw[2]) / 2.55, A: float64(int8(raw[3])), B: float64(int8(raw[4]))},
			SD:  each(float64(raw[5]/64) * 0.7),
		})
	}
	return points
}
