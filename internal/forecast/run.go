package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"lyefast/internal/cie"
	"lyefast/internal/fragrance"
	"lyefast/internal/kinetics"
	"lyefast/internal/mixing"
)

// draws is how many joint samples stand behind each band. They come in antithetic
// pairs from a fixed seed: the same plan always gives the same figures. At 96 the
// 5 % point of a normal band has a standard error of a seventh of its width.
const draws = 96

// Extrapolation is how far beyond the largest dose ever read a number is still
// given; farther out the absorption is not known well enough to say anything.
const Extrapolation = 4.0

// discrepancy is the model's own error: standard deviation as a share of the
// distance from the base. Known noise alone gives bands which promise too much.
const discrepancy = 0.05

// halfLives are the default half-lives in days (our assumption, from trade words:
// a destroyed colour goes within hours, a fading one over weeks, one that returns
// is back within about two days; common practice, no source).
var halfLives = [...]float64{Returns: 0.5, Settles: 0.25, Fades: 14}

// leaveShare is how much faster a colour leaves than it returns.
const leaveShare = 0.4 / 3

// PaleBase is the pale opaque soap that a swatch is understood to be taken in; it
// is also the default base of the browning model.
var PaleBase = cie.Lab{L: 90, A: -0.5, B: 8}

// fadedShare is what is left of a fading colourant's absorption in the end.
const fadedShare = 0.3

// Input is everything a forecast needs.
type Input struct {
	Base      Base
	Colorants map[string]Colorant
	Portions  []Portion
	// Conditions of the bar. With gel unsure both outcomes are given beside the forecast.
	Conditions fragrance.Conditions
	Priors     fragrance.Priors
	// Learned is what the maker's own portions taught, nil = nothing.
	Learned *Guesses
}

// Run forecasts every portion of a plan. The outcomes come in the order of the
// portions. An error means that the input is not a plan (a colourant that is not
// described, a base that is no colour).
func Run(in Input) (Result, error) {
	base, err := mixing.BaseFromLab(in.Base.Lab, mixing.SoapSurface)
	if err != nil {
		return Result{}, fmt.Errorf("base colour: %w", err)
	}
	pale, err := mixing.BaseFromLab(PaleBase, mixing.SoapSurface)
	if err != nil {
		return Result{}, fmt.Errorf("pale base: %w", err)
	}
	p := &planRun{in: in, base: base, pale: pale, res: Result{Base: in.Base, Outcomes: make([]Outcome, len(in.Portions))}}
	for _, q := range in.Portions {
		if len(q.Colorants) > maxPerPortion {
			return Result{}, fmt.Errorf("portion %q holds %d colourants; at most %d are reckoned with", q.Key(), len(q.Colorants), maxPerPortion)
		}
		if in.Learned != nil && !in.Learned.Fits() {
			return Result{}, fmt.Errorf("what was learned does not hold %d draws", draws)
		}
		for _, u := range q.Colorants {
			if _, ok := in.Colorants[u.Colorant]; !ok {
				return Result{}, fmt.Errorf("portion %q uses %q, which is not described", q.Key(), u.Colorant)
			}
		}
	}
	p.prepare()
	var wg sync.WaitGroup
	for i := range in.Portions {
		wg.Go(func() { p.res.Outcomes[i] = p.portion(in.Portions[i]) })
	}
	wg.Wait()
	for _, name := range p.names {
		c := in.Colorants[name]
		switch {
		case c.Clear:
		case p.known[name].learned != nil:
			p.res.Learned++
		case c.Own == nil:
			p.res.Unknown++
		default:
			p.res.Priors++
		}
	}
	return p.res, nil
}

// planRun holds what all portions of a plan share.
type planRun struct {
	in    Input
	base  mixing.Base
	pale  mixing.Base // what swatches are taken in
	names []string
	known map[string]*states
	bases [draws]mixing.Base
	brown [draws]fragrance.Params
	mid   fragrance.Params
	res   Result
}

// states holds a colourant's absorptions: central ones, and one set for each draw.
type states struct {
	Colorant
	own, lands, fresh *path
	// learned is where it settles by the maker's own portions, whatever its course;
	// nil where it was not read. It stands before own and lands.
	learned   *path
	likeliest Course
	course    [draws]Course
	half      [draws]float64 // factor on the half-life
}

type path struct {
	mid  mixing.Colorant
	k, s [draws]cie.Spectrum
}

// prepare draws everything that portions share. The order of draws is fixed by
// the sorted names, so that adding a portion does not change another's figures.
func (p *planRun) prepare() {
	for name := range p.in.Colorants {
		p.names = append(p.names, name)
	}
	slices.Sort(p.names)

	rng := rand.New(rand.NewPCG(0x6c796566, 0x617374))
	normals := func(n int) (z [][draws]float64) {
		z = make([][draws]float64, n)
		for i := range z {
			for d := 0; d < draws; d += 2 {
				v := rng.NormFloat64()
				z[i][d], z[i][d+1] = v, -v
			}
		}
		return z
	}

	p.drawBases(normals(3))
	zb := normals(int(fragrance.Coordinates))
	p.mid = p.in.Priors.Centre()
	for d := range p.brown {
		var at fragrance.Coords
		for i := range at {
			at[i] = zb[i][d]
		}
		p.brown[d] = p.in.Priors.Apply(at)
	}
	p.known = make(map[string]*states, len(p.names))
	var wg sync.WaitGroup
	for _, name := range p.names {
		st := &states{Colorant: p.in.Colorants[name]}
		p.known[name] = st
		z := normals(9)
		step := 2*rng.IntN(draws/2) + 1 // odd: a step that visits every draw
		wg.Go(func() { p.fill(st, z, step) })
	}
	wg.Wait()
}

// fill works out everything about one colourant that its portions share.
func (p *planRun) fill(st *states, z [][draws]float64, step int) {
	st.likeliest = st.Pattern.Likeliest()
	start := 0.5 * (1 + math.Erf(z[7][0]/math.Sqrt2))
	for d := range draws {
		// Stratified over the draws: each course gets its share exactly, however rare.
		q := (float64(d*step%draws) + 0.5) / draws
		st.course[d] = st.Pattern.at(math.Mod(q+start, 1))
		st.half[d] = math.Exp(0.6 * z[8][d])
	}
	// A draw needs only the states its own course passes through.
	on := func(courses ...Course) func(int) bool {
		return func(d int) bool { return slices.Contains(courses, st.course[d]) }
	}
	if p.in.Learned != nil {
		st.learned = p.in.Learned.path(st.Name)
	}
	st.own = p.states(st.Own, st.White, z[0:3], &z[6], func(int) bool { return true })
	st.lands = p.states(st.Lands, false, z[3:6], &z[6], on(Settles, Fades))
	st.fresh = p.states(st.Fresh, false, z[3:6], &z[6], on(Returns, Settles))
}

// drawBases spreads the base's colour. The spectrum of each draw follows from the
// central one by a linear step in ln K/S: exact enough for the few units of a
// band, and a hundred times cheaper than a smoothest spectrum for each.
func (p *planRun) drawBases(z [][draws]float64) {
	lab, sd := p.in.Base.Lab, p.in.Base.SD
	var slope [3]cie.Spectrum
	for c, step := range []cie.Lab{{L: -sd.L}, {A: sd.A}, {B: sd.B}} {
		if step == (cie.Lab{}) {
			continue
		}
		b, err := mixing.BaseFromLab(lab.Add(step), mixing.SoapSurface)
		if err != nil {
			continue
		}
		for i := range slope[c] {
			if b.KS[i] > 0 && p.base.KS[i] > 0 {
				slope[c][i] = math.Log(b.KS[i] / p.base.KS[i])
			}
		}
	}
	for d := range p.bases {
		// Against the direction of the step: a lighter base has the smaller K/S.
		zl := math.Max(-2.5, math.Min(2.5, -z[0][d]))
		ks := p.base.KS
		for i := range ks {
			ks[i] *= math.Exp(zl*slope[0][i] + z[1][d]*slope[1][i] + z[2][d]*slope[2][i])
		}
		seen := mixing.MixSpectrum(&mixing.Base{KS: ks}, nil, 0, nil, mixing.SoapSurface)
		got := seen.Lab()
		p.bases[d] = mixing.Base{KS: ks, Lab: got, Reached: got}
	}
}

// states derives a colourant's absorption from the colour it gives, and one for
// each draw of the doubt about that colour. nil stays nil.
func (p *planRun) states(s *Swatch, white bool, z [][draws]float64, zRho *[draws]float64, wanted func(int) bool) *path {
	if s == nil || s.Dose <= 0 {
		return nil
	}
	kind := mixing.Colour
	if white {
		kind = mixing.White
	}
	c, err := mixing.FromSwatch(s.Lab, float64(s.Dose), p.pale, kind, mixing.SoapSurface)
	if err != nil {
		return nil
	}
	out := &path{mid: c}
	for d := range draws {
		if !wanted(d) {
			continue
		}
		shift := cie.Lab{L: s.SD.L * z[0][d], A: s.SD.A * z[1][d], B: s.SD.B * z[2][d]}
		out.k[d], out.s[d] = c.Perturbed(shift, zRho[d])
	}
	return out
}

// excursion is the share of the other colour on a day, for a course.
func excursion(c Course, day, halfLife float64) float64 {
	switch c {
	case Returns:
		return kinetics.Pulse(day, halfLife, halfLife*leaveShare)
	case Settles, Fades:
		return kinetics.Decay(day, halfLife)
	}
	return 0
}

// at gives absorption and scattering of the colourant on a day along a course;
// draw −1 is the central path. known is false where the colour it would have
// cannot be said.
func (st *states) at(course Course, day float64, draw int) (k, s cie.Spectrum, known bool) {
	pick := func(p *path) (cie.Spectrum, cie.Spectrum) {
		if draw < 0 {
			return p.mid.K, p.mid.S
		}
		return p.k[draw], p.s[draw]
	}
	half := st.HalfLife
	if half == 0 {
		half = halfLives[course]
	}
	if draw >= 0 {
		half *= st.half[draw]
	}
	g := excursion(course, day, half)
	own, lands := st.own, st.lands
	if st.learned != nil {
		switch course {
		case Holds, Returns:
			own = st.learned
		default:
			lands = st.learned
		}
		if own == nil {
			own = st.learned // how it looked before cannot be said
		}
	}
	switch course {
	case Holds:
		if own == nil {
			return k, s, false
		}
		k, s = pick(own)
		return k, s, true
	case Returns:
		if own == nil {
			return k, s, false
		}
		k, s = pick(own)
		if g < 0.02 {
			return k, s, true
		}
		if st.fresh == nil {
			// Gone without a colour of its own: most of the absorption leaves.
			k = scaled(&k, 1-0.7*g)
			return k, s, true
		}
		alt, altS := pick(st.fresh)
		return mixing.KAt(&k, &alt, g), mixing.KAt(&s, &altS, g), true
	case Settles:
		if lands == nil {
			return k, s, false
		}
		k, s = pick(lands)
		if g < 0.02 {
			return k, s, true
		}
		start := own
		if start == nil {
			start = st.fresh
		}
		if start == nil {
			return k, s, false
		}
		alt, altS := pick(start)
		return mixing.KAt(&k, &alt, g), mixing.KAt(&s, &altS, g), true
	}
	if own == nil {
		return k, s, false
	}
	k, s = pick(own)
	if lands != nil {
		end, endS := pick(lands)
		return mixing.KAt(&end, &k, g), mixing.KAt(&endS, &s, g), true
	}
	return scaled(&k, fadedShare+(1-fadedShare)*g), s, true
}

func scaled(k *cie.Spectrum, f float64) (out cie.Spectrum) {
	for i, v := range k {
		out[i] = f * v
	}
	return out
}

// bench is the scratch space of one goroutine.
type bench struct {
	k, s  [maxPerPortion]cie.Spectrum
	dosed [maxPerPortion + 1]mixing.Dosed
	brown cie.Spectrum
	plain [draws]float64 // L* of each draw unbrowned, 0 = not yet known
}

// maxPerPortion bounds the colourants of one portion; nobody weighs more.
const maxPerPortion = 24

// sample is the colour of a portion in one draw (or on the central path, draw −1).
func (p *planRun) sample(w *bench, q *Portion, day float64, draw int, gel fragrance.Gel, scented bool) (cie.Lab, bool) {
	base, params := &p.base, &p.mid
	if draw >= 0 {
		base, params = &p.bases[draw], &p.brown[draw]
	}
	n := 0
	for _, u := range q.Colorants {
		st := p.known[u.Colorant]
		if st.Clear {
			continue
		}
		course := st.likeliest
		if draw >= 0 {
			course = st.course[draw]
		}
		var known bool
		if w.k[n], w.s[n], known = st.at(course, day, draw); !known {
			return cie.Lab{}, false
		}
		w.dosed[n] = mixing.Dosed{Dose: float64(u.Dose), K: &w.k[n], S: &w.s[n]}
		n++
	}
	dosed := w.dosed[:n]
	own, shift := p.learned(q, draw)
	if !scented || q.BrownDose <= 0 {
		return mixing.Mix(base, dosed, 0, mixing.SoapSurface).Add(shift), true
	}
	cond := p.in.Conditions
	cond.Gel = gel
	if len(own.Brown) > 0 {
		// The strength is known of the settled bar; how it gets there is modelled.
		full := params.U(Settled, float64(q.BrownDose), p.in.Conditions, q.Ratio)
		part := 0.0
		if full > 0 {
			part = params.U(day, float64(q.BrownDose), cond, q.Ratio) / full
		}
		w.brown = wide(&p.in.Learned.Brown[draw+1])
		w.dosed[n] = mixing.Dosed{Dose: part * float64(own.Brown[draw+1]), K: &w.brown, S: &clear}
		return mixing.Mix(base, w.dosed[:n+1], 0, mixing.SoapSurface).Add(shift), true
	}
	u := fragrance.EngineStrength(params.U(day, float64(q.BrownDose), cond, q.Ratio))
	c := mixing.Mix(base, dosed, u, mixing.SoapSurface)
	if draw >= 0 && u > 0 {
		// Real vanillin browns may be redder than the path; the doubt grows with the
		// loss of lightness, reckoned from what the draw was before any browning.
		if w.plain[draw] == 0 {
			w.plain[draw] = max(1, mixing.Mix(base, dosed, 0, mixing.SoapSurface).L)
		}
		c.A += params.Red * (w.plain[draw] - c.L) / w.plain[draw]
	}
	return c.Add(shift), true
}

// clear scatters nothing.
var clear cie.Spectrum

// learned is what was learned of a portion as a whole, and what that shifts its colour
// by in one draw.
func (p *planRun) learned(q *Portion, draw int) (own GuessedPortion, shift cie.Lab) {
	if p.in.Learned == nil {
		return own, shift
	}
	own = p.in.Learned.Portions[q.Key()]
	if len(own.Shift) > 0 {
		shift = own.Shift[draw+1]
	}
	return own, shift
}

// portion forecasts one portion on all days.
func (p *planRun) portion(q Portion) Outcome {
	out := Outcome{Batter: q.Batter, Name: q.Name}
	for _, u := range q.Colorants {
		c := p.in.Colorants[u.Colorant]
		limit := c.MaxDose
		if limit == 0 && c.Own != nil {
			limit = c.Own.Dose
		}
		if limit == 0 && c.Lands != nil {
			limit = c.Lands.Dose
		}
		switch {
		case c.Clear:
		case c.Own == nil && c.Lands == nil && p.known[u.Colorant].learned == nil:
			out.Unknown = append(out.Unknown, fmt.Sprintf("the colour of %s is not known", u.Colorant))
		case limit > 0 && float64(u.Dose) > Extrapolation*float64(limit)*(1+1e-9):
			out.Extrapolates = true
			out.Unknown = append(out.Unknown, fmt.Sprintf("%.3g g/kg of %s is beyond four times the %.3g g/kg its colour is known at", u.Dose, u.Colorant, limit))
		}
	}
	w := &bench{}
	for _, day := range Days {
		dc := DayColour{Day: day}
		if len(out.Unknown) == 0 {
			dc.Colour = p.colour(w, &q, day, &out)
		}
		out.Days = append(out.Days, dc)
	}
	if len(out.Unknown) == 0 && out.Settled == nil {
		out.Unknown = append(out.Unknown, "what its colour settles on cannot be said")
	}
	p.judge(w, &q, &out)
	return out
}

// colour is the forecast of one day over all draws.
func (p *planRun) colour(w *bench, q *Portion, day float64, out *Outcome) *Colour {
	gel := p.in.Conditions.Gel
	if n := len(out.Days); n > 1 && day > Settled/4 && q.BrownDose <= 0 && p.still(q, out.Days[n-1].Day) {
		if day == Settled {
			out.Settled, out.settled = out.Days[n-1].Colour, out.last
		}
		return out.Days[n-1].Colour
	}
	mid, ok := p.sample(w, q, day, -1, gel, true)
	if !ok {
		return nil
	}
	labs := p.spread(w, q, day, gel, 1)
	out.last = labs
	c := summarise(mid, labs)
	if c == nil {
		return nil
	}
	switch day {
	case AtPour:
		out.pour = labs
	case Settled:
		out.Settled, out.settled = c, labs
		if q.BrownDose > 0 && (gel == "" || gel == fragrance.GelNotSure) {
			out.IfNot, out.IfGelled = p.withGel(w, q, fragrance.GelNone), p.withGel(w, q, fragrance.GelFull)
		}
	}
	return c
}

// still tells whether nothing in an unscented portion moves any more after a day:
// every colourant holds, or its change is over in all but a trace.
func (p *planRun) still(q *Portion, day float64) bool {
	for _, u := range q.Colorants {
		st := p.known[u.Colorant]
		if st.Clear || st.Pattern.Holds == 1 {
			continue
		}
		if st.Pattern.Fades > 0 {
			return false
		}
		half := st.HalfLife
		if half == 0 {
			half = max(halfLives[Returns], halfLives[Settles])
		}
		if day < 12*half {
			return false
		}
	}
	return true
}

// withGel is the settled colour for one outcome of an open question.
func (p *planRun) withGel(w *bench, q *Portion, gel fragrance.Gel) *Colour {
	mid, ok := p.sample(w, q, Settled, -1, gel, true)
	if !ok {
		return nil
	}
	return summarise(mid, p.spread(w, q, Settled, gel, gelStep))
}

// unsaid marks a draw whose course leads to a colour that cannot be said.
var unsaid = cie.Lab{L: math.NaN(), A: math.NaN(), B: math.NaN()}

// gelStep takes every third draw where a gelled and an ungelled bar are set side by side.
const gelStep = 3

// spread evaluates every step-th draw, in order. The model's own error is one for
// each draw and portion, the same on all days. A draw whose course has no known colour
// is unsaid: the band then speaks of the courses that can be said.
func (p *planRun) spread(w *bench, q *Portion, day float64, gel fragrance.Gel, step int) []cie.Lab {
	rng := rand.New(rand.NewPCG(0x736f6170, hash(q.Key())))
	labs := make([]cie.Lab, draws/step)
	own, _ := p.learned(q, -1)
	for i := range labs {
		d := i * step
		c, ok := p.sample(w, q, day, d, gel, true)
		e := cie.Lab{L: rng.NormFloat64(), A: rng.NormFloat64(), B: rng.NormFloat64()}
		if !ok {
			labs[i] = unsaid
			continue
		}
		if len(own.Shift) == 0 { // else it holds the model's own error
			sd := discrepancy * cie.DeltaE76(c, p.bases[d].Lab) / math.Sqrt(3)
			c = c.Add(e.Scale(sd))
		}
		c.L = math.Min(100, math.Max(0, c.L))
		labs[i] = c
	}
	return labs
}

// hash is FNV-1a, to give each portion its own stream of model error.
func hash(s string) uint64 {
	h := uint64(14695981039346656037)
	for i := range len(s) {
		h = (h ^ uint64(s[i])) * 1099511628211
	}
	return h
}

// summarise makes the central 90 % of the draws, coordinate by coordinate; nil
// where less than half of them can be said.
func summarise(mid cie.Lab, all []cie.Lab) *Colour {
	labs := said(all)
	if 2*len(labs) < len(all) {
		return nil
	}
	var lo, hi [3]float64
	v := make([]float64, len(labs))
	for c := range 3 {
		for i, l := range labs {
			v[i] = [3]float64{l.L, l.A, l.B}[c]
		}
		slices.Sort(v)
		m := [3]float64{mid.L, mid.A, mid.B}[c]
		lo[c], hi[c] = math.Min(m, Quantile(v, 0.05)), math.Max(m, Quantile(v, 0.95))
	}
	for i, l := range labs {
		v[i] = cie.DeltaE00(mid, l)
	}
	slices.Sort(v)
	return &Colour{
		Lab: mid, Hex: mid.Hex(), Name: mid.Name().Text, Band: Quantile(v, 0.9),
		P05: cie.Lab{L: lo[0], A: lo[1], B: lo[2]}, P95: cie.Lab{L: hi[0], A: hi[1], B: hi[2]},
	}
}

func said(all []cie.Lab) []cie.Lab {
	out := make([]cie.Lab, 0, len(all))
	for _, l := range all {
		if l.Finite() {
			out = append(out, l)
		}
	}
	return out
}

// Quantile of sorted values, linear between order statistics. No values give NaN.
func Quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	x := q * float64(len(sorted)-1)
	i := int(x)
	if i >= len(sorted)-1 {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}

// judge compares the settled colour with the target and with the portion unscented.
func (p *planRun) judge(w *bench, q *Portion, out *Outcome) {
	if out.Settled == nil {
		return
	}
	if q.BrownDose > 0 {
		from, _ := p.sample(w, q, Settled, -1, p.in.Conditions.Gel, false)
		out.BrownDelta = cie.DeltaE00(from, out.Settled.Lab)
		out.Without = &Colour{Lab: from, P05: from, P95: from, Hex: from.Hex(), Name: from.Name().Text}
	}
	type ranked struct {
		lab cie.Lab
		d   float64
	}
	settled := said(out.settled)
	rank := make([]ranked, len(settled))
	for i, l := range settled {
		rank[i] = ranked{l, l.L}
		if q.Target != nil {
			rank[i].d = cie.DeltaE00(l, *q.Target)
		}
	}
	slices.SortFunc(rank, func(a, b ranked) int {
		switch {
		case a.d < b.d:
			return -1
		case a.d > b.d:
			return 1
		}
		return 0
	})
	pick := func(f float64) *cie.Lab { return &rank[int(f*float64(len(rank)-1))].lab }
	out.Best, out.Worst = pick(0.05), pick(0.95)
	out.Likely = &out.Settled.Lab
	if q.Target == nil {
		out.Best, out.Worst = pick(0.95), pick(0.05)
		return
	}
	d := cie.DeltaE00(out.Settled.Lab, *q.Target)
	out.TargetDelta = &d
	share := func(limit float64) float64 {
		n := 0
		for _, r := range rank {
			if r.d <= limit {
				n++
			}
		}
		return float64(n) / float64(len(rank))
	}
	out.Near = &Within{share(1.8), share(3), share(5)}
}

// Apart gives the probability that two portions of one forecast stay at least
// limit (ΔE00) apart at the pour and when settled, pairing their draws, since they
// share base and scent. ok is false where either colour cannot be said.
func Apart(a, b *Outcome, limit float64) (pour, settled float64, ok bool) {
	share := func(x, y []cie.Lab) float64 {
		n, far := 0, 0
		for i := range min(len(x), len(y)) {
			if !x[i].Finite() || !y[i].Finite() {
				continue
			}
			n++
			if cie.DeltaE00(x[i], y[i]) >= limit {
				far++
			}
		}
		return float64(far) / float64(n) // 0/0 is NaN: nothing to compare
	}
	pour, settled = share(a.pour, b.pour), share(a.settled, b.settled)
	return pour, settled, !math.IsNaN(settled)
}
