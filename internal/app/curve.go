package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/kinetics"
	"lyefast/internal/observations"
	"lyefast/internal/plan"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// CurveQuery asks how the colours of a batch have gone and go on.
type CurveQuery struct {
	// Target is a batch, or one portion of it.
	Target string
}

// CurveSaid is what readings say of a batch.
type CurveSaid struct {
	Batch    string    `json:"batch"`
	Title    string    `json:"title"`
	PouredAt time.Time `json:"poured_at"`
	// Today is the day of the cure at the time of asking.
	Today    float64        `json:"today_day"`
	Portions []PortionCurve `json:"portions"`
}

// PortionCurve is one portion's readings and the curve fitted to them.
type PortionCurve struct {
	Batch   string `json:"batch"`
	Portion string `json:"portion"`
	// Readings are those the curve was fitted to, Early the cups from the jug.
	Readings []CurvePoint `json:"readings"`
	Early    []CurvePoint `json:"early"`
	// Reference is what change is counted from, with where it comes from.
	Reference      *cie.Lab `json:"reference_lab"`
	ReferenceBasis string   `json:"reference_basis"`
	// Days are the path, with ΔE00 from the reference.
	Days    []CurveDay   `json:"days"`
	Pattern *PatternSaid `json:"pattern"`
	Likely  string       `json:"likely_pattern"`
	Settled *SettledSaid `json:"settled"`
	Late    *SettledSaid `json:"day_180"`
	// Planned is the settled colour that was forecast at the pour, Target what the plan
	// aimed at, each with ΔE00 from where the readings settle; nil where there was none.
	Planned    *cie.Lab      `json:"planned_settled_lab"`
	PlannedOff *float64      `json:"planned_off_delta_e00"`
	Target     *cie.Lab      `json:"target_lab"`
	TargetOff  *float64      `json:"target_off_delta_e00"`
	Moving     string        `json:"still_moving"` // why it moves on after day 42
	Next       *NextReading  `json:"next_reading"`
	Words      string        `json:"words"` // why there is no curve
	Taken      string        `json:"corrected_for"`
	Colours    []VerdictLine `json:"verdicts"`
}

// StripDay is one step of a portion's strip of colours. What is "read", "between" (two
// readings) or "forecast".
type StripDay struct {
	CurveDay
	What string
}

// Strip gives the days worth showing, in order: those past day 42 only where the colour
// still moves then. It is empty where there is no curve.
func (q *PortionCurve) Strip() []StripDay {
	var last float64
	for _, x := range q.Readings {
		last = max(last, x.Day)
	}
	var out []StripDay
	for _, d := range q.Days {
		if d.Day > 42 && q.Late == nil {
			continue
		}
		what := "forecast"
		switch {
		case d.Read:
			what = "read"
		case d.Day <= last:
			what = "between"
		}
		out = append(out, StripDay{d, what})
	}
	return out
}

// CurvePoint is one reading on the curve.
type CurvePoint struct {
	Day   float64 `json:"day"`
	Lab   cie.Lab `json:"lab"`
	Hex   string  `json:"hex"`
	ByEye bool    `json:"by_eye,omitempty"`
}

// CurveDay is the curve on one day: a central 90 % band of the noise-free colour.
type CurveDay struct {
	Day    float64 `json:"day"`
	Median cie.Lab `json:"median"`
	P05    cie.Lab `json:"p05"`
	P95    cie.Lab `json:"p95"`
	Hex    string  `json:"hex"`
	// Delta is ΔE00 of the median from the reference, DeltaLow and DeltaHigh about
	// its band; nil without a reference.
	Delta     *float64 `json:"delta_e00"`
	DeltaLow  *float64 `json:"delta_e00_p05"`
	DeltaHigh *float64 `json:"delta_e00_p95"`
	// Read tells that a reading stands within half a day.
	Read bool `json:"read"`
}

// PatternSaid holds the probabilities of the four patterns.
type PatternSaid struct {
	Holds   float64 `json:"holds"`
	Returns float64 `json:"returns"`
	Settles float64 `json:"settles"`
	Fades   float64 `json:"fades"`
}

// SettledSaid is the colour a portion is heading for.
type SettledSaid struct {
	Lab  cie.Lab `json:"lab"`
	P05  cie.Lab `json:"p05"`
	P95  cie.Lab `json:"p95"`
	Hex  string  `json:"hex"`
	Name string  `json:"name"`
	// Radius is about the ΔE00 that 90 % stay within of Lab.
	Radius float64 `json:"band_delta_e00"`
}

// NextReading is the next one of the schedule and what it would tell.
type NextReading struct {
	At  time.Time `json:"at"`
	Day float64   `json:"day"`
	// Now and Then are the band's radius without and with it.
	Now  float64 `json:"band_now_delta_e00"`
	Then float64 `json:"band_then_delta_e00"`
	// Enough says that it would not change anything any more.
	Enough bool `json:"enough"`
}

// VerdictLine is the verdict on one colourant of the portion, in short.
type VerdictLine struct {
	Colorant string  `json:"colorant"`
	Verdict  string  `json:"verdict"`
	P        float64 `json:"probability"`
	Batches  int     `json:"batches"`
	Grounds  string  `json:"grounds"`
}

// curveDays are the days a curve is said for.
var curveDays = []float64{0, 1, 2, 4, 7, 14, 21, 28, 42, 180}

// batchKnown is what the book and the shelf say of one batch beside its readings.
type batchKnown struct {
	batch     *observations.Batch
	colorants map[string]plan.Colorant
	control   *kinetics.Curve
}

// colorantsOf joins what a poured plan says of its colourants with the shelf.
func (s *Shelf) colorantsOf(b *observations.Batch) map[string]plan.Colorant {
	uses := map[string]formula.ColorantUse{}
	if p, err := formula.ReadPlan([]byte(b.Plan), b.Code); err == nil {
		for _, t := range p.Batters {
			for _, q := range t.Portions {
				for _, u := range q.Colorants {
					if have, ok := uses[store.NameKey(u.Name)]; !ok || have.Label == "" && have.Swatch == nil {
						uses[store.NameKey(u.Name)] = u
					}
				}
			}
		}
	}
	out := map[string]plan.Colorant{}
	for i := range b.Portions {
		for _, d := range b.Portions[i].Colorants {
			u, ok := uses[store.NameKey(d.Name)]
			if !ok {
				u = formula.ColorantUse{Name: d.Name}
			}
			out[store.NameKey(d.Name)] = s.colorant(u)
		}
	}
	return out
}

// know gathers what a batch's portions are judged with, its bare control among it.
func (s *Shelf) know(ctx context.Context, tx *store.Tx, b *observations.Batch) (*batchKnown, error) {
	if s.seenIn != tx {
		s.seen, s.seenIn = map[int64]*batchKnown{}, tx
	}
	if k := s.seen[b.ID]; k != nil {
		return k, nil
	}
	k := &batchKnown{batch: b, colorants: s.colorantsOf(b)}
	for i := range b.Portions {
		p := &b.Portions[i]
		if !p.Bare() {
			continue
		}
		list, _, err := tx.Readings(ctx, p.ID, mostRead)
		if err != nil {
			return nil, err
		}
		pts := points(b, list)
		if len(pts) < minControl {
			continue
		}
		if c, err := kinetics.Fit(pts, barePrior()); err == nil {
			k.control = &c
			break
		}
	}
	s.seen[b.ID] = k
	return k, nil
}

// minControl is how many readings of a bare control are enough to take its change off
// the coloured portions.
const minControl = 3

// barePrior is for soap without colourant: it whitens and settles or keeps; it neither
// returns nor goes on fading (common practice, no source).
func barePrior() kinetics.Prior {
	p := kinetics.DefaultPrior()
	p.Weight = [4]float64{0.45, 0.05, 0.45, 0.05}
	return p
}

// mostFitted bounds how many points a curve is fitted to, so that a logged series
// costs no more than a read one.
const mostFitted = 40

// points turns the readings of a portion into what a curve is fitted to. Faces are
// not mixed: of several, the one read most often counts.
func points(b *observations.Batch, list []observations.Reading) []kinetics.Point {
	live := oneFace(observations.Live(list))
	pts := make([]kinetics.Point, 0, len(live))
	for i := range live {
		pts = append(pts, kinetics.Point{Day: min(max(b.Day(live[i].TakenAt), 0), kinetics.MaxDay), Lab: *live[i].Lab, SD: live[i].SD()})
	}
	return thinned(pts)
}

func oneFace(list []observations.Reading) []observations.Reading {
	n := map[observations.Face]int{}
	for i := range list {
		n[list[i].Face]++
	}
	best := observations.Face("")
	for _, f := range []observations.Face{observations.CutFace, observations.TopFace, observations.SideFace} {
		if n[f] > n[best] || best == "" && n[f] > 0 {
			best = f
		}
	}
	return slices.DeleteFunc(list, func(r observations.Reading) bool { return r.Face != "" && r.Face != best })
}

// thinned averages points that lie close in time once there are more than a curve needs.
func thinned(pts []kinetics.Point) []kinetics.Point {
	if len(pts) <= mostFitted {
		return pts
	}
	slices.SortStableFunc(pts, func(x, y kinetics.Point) int { return cmp.Compare(x.Day, y.Day) })
	last := pts[len(pts)-1].Day
	var out []kinetics.Point
	i := 0
	for n := 1; n <= mostFitted && i < len(pts); n++ {
		x := float64(n) / mostFitted
		until := last * x * x
		j := i
		var sum, sd cie.Lab
		day := 0.0
		for j < len(pts) && (pts[j].Day <= until || n == mostFitted) {
			sum, sd, day = sum.Add(pts[j].Lab), sd.Add(pts[j].SD), day+pts[j].Day
			j++
		}
		if k := float64(j - i); k > 0 {
			out = append(out, kinetics.Point{Day: day / k, Lab: sum.Scale(1 / k), SD: sd.Scale(1 / k)})
		}
		i = j
	}
	return out
}

// drifts are what the bar does whatever its colourant does: the change of its bare
// control, and browning by its scent at five strengths. what says which in words.
// Strengths that the readings rule out, because soap without them would be lighter
// than white, are left out.
func (k *batchKnown) drifts(p *observations.Portion, pts []kinetics.Point) (list []kinetics.Drift, what string) {
	control := func(float64) cie.Lab { return cie.Lab{} }
	if k.control != nil && !p.Bare() {
		start := k.control.At(0).Median
		control = func(day float64) cie.Lab { return k.control.At(day).Median.Sub(start) }
		what = "the bare control"
	}
	if p.BrownDose != nil && *p.BrownDose > 0 {
		if base, err := fragrance.NewBase(pts[0].Lab); err == nil {
			priors := fragrance.DefaultPriors()
			cond := conditions(k.batch)
			for z := -2.0; z <= 2; z++ {
				// The doubt of a dose's effect and of this scent's strength, together.
				m := priors.Apply(fragrance.Coords{fragrance.LnA: z / math.Sqrt2, fragrance.LnEta: z / math.Sqrt2})
				path := func(day float64) cie.Lab {
					return base.Path(m.U(day, float64(*p.BrownDose), cond, p.Ratio)).Add(control(day))
				}
				if _, ok := without(pts, path); ok {
					list = append(list, kinetics.Drift{Weight: math.Exp(-z * z / 2), Path: path})
				}
			}
			if len(list) > 0 {
				return list, strings.TrimPrefix(what+" and modelled browning", " and ")
			}
		}
	}
	if _, ok := without(pts, control); ok && what != "" {
		return []kinetics.Drift{{Weight: 1, Path: control}}, what
	}
	return nil, ""
}

// conditions are those a batch cures under, for its browning.
func conditions(b *observations.Batch) fragrance.Conditions {
	c := fragrance.Conditions{Gel: fragrance.GelNotSure, Light: fragrance.Light(b.Storage), CureAt: b.CureAt}
	if b.Gel != observations.GelUnknown {
		c.Gel = fragrance.Gel(b.Gel)
	}
	return c
}

// labelWorth is how many batches a label's word is worth, and floorWeight what stays
// for each pattern that it does not name.
const (
	labelWorth  = 2
	floorWeight = 0.03
)

// prior is what is believed of a portion's curve before its first reading, by label.
func (k *batchKnown) prior(p *observations.Portion) kinetics.Prior {
	if len(p.Colorants) == 0 {
		return barePrior()
	}
	prior := kinetics.DefaultPrior()
	var w [4]float64
	for _, d := range p.Colorants {
		c := weights(k.colorants[store.NameKey(d.Name)].Expect)
		for i := range w {
			w[i] += c[i]
		}
	}
	sum := w[0] + w[1] + w[2] + w[3]
	if sum <= 0 {
		return prior
	}
	for i := range w {
		prior.Weight[i] = w[i]/sum + floorWeight
	}
	return prior
}

// weights are the pattern probabilities a label leads one to expect; all zero where it
// says nothing.
func weights(e colorants.Expectation) [4]float64 {
	if e.Verdict == colorants.VerdictUnknown || e.Verdict == "" {
		return [4]float64{}
	}
	return [4]float64{e.Pattern.Holds, e.Pattern.Returns, e.Pattern.Settles, e.Pattern.Fades}
}

// reference is what change is counted from: an early cup of the first hours, else the
// colour forecast at the pour, else the first reading.
func reference(p *observations.Portion, early []CurvePoint, first *cie.Lab) (*cie.Lab, string) {
	if len(early) > 0 && early[0].Day <= 0.25 {
		return &early[0].Lab, "a cup from the jug"
	}
	if p.AtPour != nil {
		return p.AtPour, "the colour forecast at the pour"
	}
	if first != nil {
		return first, "the first reading"
	}
	return nil, ""
}

// fit fits a portion's curve.
func (k *batchKnown) fit(p *observations.Portion, pts []kinetics.Point, prior kinetics.Prior) (kinetics.Curve, string, error) {
	if len(pts) == 0 {
		c, err := kinetics.Fit(nil, prior)
		return c, "", err
	}
	drifts, what := k.drifts(p, pts)
	c, err := kinetics.FitWithDrift(pts, prior, drifts)
	return c, what, err
}

// without takes a drift off readings, y − M(t) + M(0). ok is false where that leaves a
// lightness no bar has: the drift was not so strong.
func without(pts []kinetics.Point, path func(float64) cie.Lab) (out []kinetics.Point, ok bool) {
	out = slices.Clone(pts)
	start := path(0)
	for i := range out {
		out[i].Lab = out[i].Lab.Sub(path(out[i].Day)).Add(start)
		if out[i].Lab.Check() != nil {
			return nil, false
		}
	}
	return out, true
}

// Curve says how the colours of a batch have gone and go on.
func (a *App) Curve(ctx context.Context, q CurveQuery) (*CurveSaid, error) {
	code, rest := splitTarget(q.Target)
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	now := a.Now()
	var out *CurveSaid
	err = a.readBatch(ctx, code, func(tx *store.Tx, b *observations.Batch) error {
		where, err := placeOf(b, rest)
		if err != nil {
			return err
		}
		k, err := s.know(ctx, tx, b)
		if err != nil {
			return err
		}
		out = &CurveSaid{Batch: b.Code, Title: b.Title, PouredAt: b.PouredAt, Today: math.Round(10*b.Day(now)) / 10, Portions: []PortionCurve{}}
		verdicts := map[string]*Verdict{}
		for i := range b.Portions {
			p := &b.Portions[i]
			if !where.has(p) {
				continue
			}
			var lines []VerdictLine
			prior := k.prior(p)
			for _, d := range p.Colorants {
				key := store.NameKey(d.Name)
				v := verdicts[key]
				if v == nil {
					if v, err = s.judge(ctx, tx, d.Name); err != nil {
						return err
					}
					verdicts[key] = v
				}
				lines = append(lines, VerdictLine{v.Colorant, v.Verdict, v.Probability, v.Batches, v.Grounds})
				if dose, alone := k.alone(p, key); alone {
					prior = narrowed(prior, v, b.Code, dose)
				}
			}
			c, err := k.curve(ctx, tx, p, prior, now)
			if err != nil {
				return err
			}
			c.Colours = append(c.Colours, lines...)
			out.Portions = append(out.Portions, *c)
		}
		return nil
	})
	return out, err
}

// narrowed narrows a prior by the other batches of a colourant, as far as they were read.
func narrowed(prior kinetics.Prior, v *Verdict, code string, dose unit.GramsPerKg) kinetics.Prior {
	var earlier []kinetics.Earlier
	for i, e := range v.Portions {
		if e.Batch == code || e.Readings < minControl {
			continue
		}
		x := kinetics.Earlier{Curve: v.curves[i]}
		if e.Dose > 0 && dose > 0 {
			x.DoseRatio = float64(dose / e.Dose)
		}
		earlier = append(earlier, x)
	}
	if len(earlier) == 0 {
		return prior
	}
	return kinetics.Learn(prior, labelWorth, earlier)
}

// curve works one portion out.
func (k *batchKnown) curve(ctx context.Context, tx *store.Tx, p *observations.Portion, prior kinetics.Prior, now time.Time) (*PortionCurve, error) {
	b := k.batch
	out := &PortionCurve{Batch: b.Code, Portion: p.Key(), Readings: []CurvePoint{}, Early: []CurvePoint{}, Days: []CurveDay{}, Colours: []VerdictLine{}}
	out.Planned, out.Target = p.Settled, p.Target
	list, _, err := tx.Readings(ctx, p.ID, mostRead)
	if err != nil {
		return nil, err
	}
	for _, r := range list {
		if r.Early && r.Struck == "" && r.Lab != nil {
			out.Early = append(out.Early, curvePoint(b, &r))
		}
	}
	for _, r := range oneFace(observations.Live(list)) {
		out.Readings = append(out.Readings, curvePoint(b, &r))
	}
	pts := points(b, list)
	var first *cie.Lab
	if len(pts) > 0 {
		first = &pts[0].Lab
	}
	out.Reference, out.ReferenceBasis = reference(p, out.Early, first)
	if len(pts) == 0 {
		out.Words = "no reading of the bar yet; the plan's forecast is all there is"
		out.Next = k.next(ctx, tx, p, now, nil, nil, kinetics.Prior{})
		return out, nil
	}
	c, what, err := k.fit(p, pts, prior)
	if err != nil {
		return nil, fmt.Errorf("fit %s/%s: %w", b.Code, p.Key(), err)
	}
	out.Taken = what
	w := PatternSaid{}
	w.Holds, w.Returns, w.Settles, w.Fades = c.Pattern()
	likely, _ := c.Likely()
	out.Pattern, out.Likely = &w, likely.String()
	for _, day := range curveDays {
		out.Days = append(out.Days, curveDay(c, day, out.Reference, pts))
	}
	if !slices.Contains(curveDays, math.Floor(b.Day(now))) && b.Day(now) < 180 && b.Day(now) > 0 {
		out.Days = append(out.Days, curveDay(c, math.Floor(b.Day(now)), out.Reference, pts))
		slices.SortFunc(out.Days, func(x, y CurveDay) int { return cmp.Compare(x.Day, y.Day) })
	}
	out.Settled = settledSaid(c.Settled())
	out.PlannedOff, out.TargetOff = offBy(p.Settled, out.Settled.Lab), offBy(p.Target, out.Settled.Lab)
	late := c.At(fragrance.SettledDay)
	if d := cie.DeltaE00(late.Median, out.Settled.Lab); d >= movesOn {
		out.Late = settledSaid(late)
		out.Moving = fmt.Sprintf("ΔE00 %.1f more from day 42 to day 180%s", d, whyMoving(b, p, likely))
	}
	out.Next = k.next(ctx, tx, p, now, &c, pts, prior)
	return out, nil
}

// offBy is ΔE00 between a colour that was wanted and the one that came, nil without the former.
func offBy(wanted *cie.Lab, came cie.Lab) *float64 {
	if wanted == nil {
		return nil
	}
	d := math.Round(100*cie.DeltaE00(*wanted, came)) / 100
	return &d
}

// movesOn is the ΔE00 between days 42 and 180 from which a colour is said to move on:
// less is not seen (R. D. Paravina et al., J. Esthet. Restor. Dent. 27 (2015) S1:
// acceptability 1.8; half of it is noise of such a forecast).
const movesOn = 1.8

func whyMoving(b *observations.Batch, p *observations.Portion, likely kinetics.Pattern) string {
	switch {
	case p.BrownDose != nil && *p.BrownDose > 0 && p.Ratio >= 1:
		return ": a heavy stabiliser delays browning"
	case p.BrownDose != nil && *p.BrownDose > 0:
		return ": its scent goes on browning"
	case b.Storage == observations.Window:
		return ": it stands in the light"
	case likely == kinetics.Fades:
		return ": it fades"
	}
	return ""
}

func curvePoint(b *observations.Batch, r *observations.Reading) CurvePoint {
	return CurvePoint{Day: math.Round(1000*b.Day(r.TakenAt)) / 1000, Lab: *r.Lab, Hex: r.Lab.Hex(), ByEye: !r.Sharp()}
}

func curveDay(c kinetics.Curve, day float64, ref *cie.Lab, pts []kinetics.Point) CurveDay {
	band := c.At(day)
	d := CurveDay{Day: day, Median: band.Median, P05: band.P05, P95: band.P95, Hex: band.Median.Hex()}
	d.Read = slices.ContainsFunc(pts, func(p kinetics.Point) bool { return math.Abs(p.Day-day) <= 0.5 })
	if ref != nil {
		e, r := cie.DeltaE00(*ref, band.Median), radius(band)
		low, high := math.Max(0, e-r), e+r
		for _, v := range []*float64{&e, &low, &high} {
			*v = math.Round(100**v) / 100
		}
		d.Delta, d.DeltaLow, d.DeltaHigh = &e, &low, &high
	}
	return d
}

// radius is about the ΔE00 that 90 % of a band stay within of its median: the root
// of the squares of its half widths along L*, a* and b*, which supposes the three
// to be independent.
func radius(b kinetics.Band) float64 {
	sum := 0.0
	half := b.P95.Sub(b.P05).Scale(0.5)
	for _, h := range []cie.Lab{{L: half.L}, {A: half.A}, {B: half.B}} {
		up, down := cie.DeltaE00(b.Median, b.Median.Add(h)), cie.DeltaE00(b.Median, b.Median.Sub(h))
		sum += up * down
	}
	return math.Sqrt(sum)
}

func settledSaid(b kinetics.Band) *SettledSaid {
	return &SettledSaid{Lab: b.Median, P05: b.P05, P95: b.P95, Hex: b.Median.Hex(), Name: b.Median.Name().Text, Radius: math.Round(100*radius(b)) / 100}
}

// A reading would not change anything any more when the settled colour is known as
// well as an eye sees, or when the next one narrows the band by less than a tenth.
const (
	knownEnough = 1.8 // ΔE00, the widest acceptability figure (Paravina 2015)
	tooLittle   = 0.1
)

// next is the schedule's next reading of a portion, with what it would tell. c is nil
// without a curve.
func (k *batchKnown) next(ctx context.Context, tx *store.Tx, p *observations.Portion, now time.Time, c *kinetics.Curve, pts []kinetics.Point, prior kinetics.Prior) *NextReading {
	b := k.batch
	if b.ClosedAt != nil {
		return nil
	}
	for _, s := range b.Slots(now.Location()) {
		if now.After(s.Until) {
			continue
		}
		if done, err := tx.ReadWithin(ctx, p.ID, s.From, s.Until); err != nil || done {
			continue
		}
		n := &NextReading{At: s.At, Day: math.Round(10*b.Day(s.At)) / 10}
		if c == nil {
			return n
		}
		n.Now, n.Then, n.Enough = k.gain(p, *c, pts, prior, b.Day(s.At))
		return n
	}
	return nil
}

// gain fits the curve again with a reading at its own median on a day: the radius of
// the settled band now and then.
func (k *batchKnown) gain(p *observations.Portion, c kinetics.Curve, pts []kinetics.Point, prior kinetics.Prior, day float64) (now, then float64, enough bool) {
	now = radius(c.Settled())
	then = now
	day = min(max(day, 0), kinetics.MaxDay)
	more := append(slices.Clone(pts), kinetics.Point{Day: day, Lab: c.At(day).Median})
	if c2, _, err := k.fit(p, more, prior); err == nil {
		then = math.Min(now, radius(c2.Settled()))
	}
	_, probable := c.Likely()
	idle := now-then < tooLittle*now
	enough = len(pts) >= 4 && (now <= knownEnough && (idle || probable >= 0.9) || idle && probable >= 0.9)
	// A bar that moves on after it counts as settled is worth reading late.
	if day > kinetics.SettledDay+2*halfDay && cie.DeltaE00(c.At(fragrance.SettledDay).Median, c.Settled().Median) >= movesOn {
		enough = false
	}
	return math.Round(100*now) / 100, math.Round(100*then) / 100, enough
}
