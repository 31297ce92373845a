package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/forecast"
	"lyefast/internal/observations"
	"lyefast/internal/sheet"
	"lyefast/internal/unit"
)

// BatchReport is a batch with all that a report of it shows.
type BatchReport struct {
	sheet.Report
	// Curves are what its pictures are drawn from.
	Curves *CurveSaid `json:"curves"`
}

// The days of the picture of a bar: the cut, the sale and half a year.
var barDays = []struct {
	day   float64
	words string
}{{1, "at the cut"}, {DefaultCure, "at the sale, day 42"}, {forecast.Late, "at six months"}}

// BatchReport gathers a batch: plan, pot notes, colours by day, weights, and what
// was expected against what came.
func (a *App) BatchReport(ctx context.Context, code string) (*BatchReport, error) {
	b, err := a.Batch(ctx, code)
	if err != nil {
		return nil, err
	}
	curves, err := a.Curve(ctx, CurveQuery{Target: b.Code})
	if err != nil {
		return nil, err
	}
	// The plan as poured, weighed again for its parts; where the shelf has lost what it
	// names, what was frozen then is all there is.
	e, _, err := a.evaluated(ctx, []byte(b.Plan), b.Code)
	if err != nil {
		e = nil
	}
	now := a.Now()
	r := &BatchReport{Curves: curves, Report: sheet.Report{
		Code: b.Code, Title: b.Title, Printed: now, Facts: reportFacts(b), Pots: reportPots(b), Weights: []sheet.Fact{}, Lessons: []string{},
		Portions: []sheet.ReportPortion{},
		Closing: []string{
			"Colours are CIELAB for D65, 2°, shown as hex; a screen or a printer shows them nearly, not exactly. ± is CIEDE2000, 9 in 10.",
			"Made with lyefast on " + now.Format("2 January 2006") + ".",
		},
	}}
	for i := range b.Portions {
		q := &b.Portions[i]
		for j := range curves.Portions {
			if curves.Portions[j].Portion == q.Key() {
				r.Portions = append(r.Portions, reportPortion(q, &curves.Portions[j]))
			}
		}
	}
	r.Bar = reportBar(b, curves, e)
	for _, d := range b.Dryness {
		name := d.Batter
		if d.Bar != "" {
			name += ", bar " + d.Bar
		}
		text := fmt.Sprintf("%s on day %.0f", d.Fresh, d.FreshDay)
		for _, s := range d.Steps {
			if s.Impossible {
				text += fmt.Sprintf("; %s on day %.0f (%s)", s.Grams, s.Day, s.Note)
				continue
			}
			text += fmt.Sprintf("; %s on day %.0f, %s of the water gone", s.Grams, s.Day, s.Gone)
		}
		r.Weights = append(r.Weights, sheet.Fact{Name: name, Text: text})
	}
	for _, l := range b.Lessons {
		r.Lessons = append(r.Lessons, l.Text)
	}
	return r, nil
}

func reportFacts(b *BatchShown) []sheet.Fact {
	facts := []sheet.Fact{{Name: "poured", Text: b.PouredAt.Format("2 January 2006")}}
	add := func(name, text string) {
		if text != "" {
			facts = append(facts, sheet.Fact{Name: name, Text: text})
		}
	}
	if b.CutAt != nil {
		add("cut", b.CutAt.Format("2 January 2006"))
	}
	add("gel", string(b.Gel))
	place := strings.TrimSuffix(string(b.Storage)+", "+b.Place, ", ")
	if b.CureAt != nil {
		place += fmt.Sprintf(", %.3g °C", float64(*b.CureAt))
	}
	add("cures in", place)
	if b.ClosedAt != nil {
		add("closed", b.ClosedAt.Format("2 January 2006"))
	}
	add("note", b.Note)
	return facts
}

func reportPots(b *BatchShown) []sheet.ReportPot {
	out := []sheet.ReportPot{}
	for i := range b.Batters {
		t := &b.Batters[i]
		p := sheet.ReportPot{Name: t.Name, Events: []sheet.Fact{}, Facts: []sheet.Fact{
			{Name: "weighed", Text: fmt.Sprintf("%s of oils, %s of water, %s in all", t.Oils, t.Water, t.Total)},
			{Name: "lye", Text: fmt.Sprintf("%s, discount %s", t.Concentration, t.Discount)},
		}}
		if t.Fragrance != "" {
			text := fmt.Sprintf("%s, %s of the oils", t.Fragrance, t.FragranceRate)
			if t.StabilizerG > 0 {
				text += fmt.Sprintf(", with %s of %s", t.StabilizerG, t.Stabilizer)
			}
			p.Facts = append(p.Facts, sheet.Fact{Name: "scent", Text: text})
		}
		for _, x := range b.Pots {
			if x.Batter != t.Name {
				continue
			}
			if m, ok := x.Workable(); ok {
				p.Facts = append(p.Facts, sheet.Fact{Name: "workable", Text: fmt.Sprintf("%.3g minutes from the scent on", m)})
			}
		}
		for _, e := range b.Events {
			if e.Batter != t.Name && !(e.Batter == "" && len(b.Batters) == 1) {
				continue
			}
			p.Events = append(p.Events, reportEvent(b, e))
		}
		out = append(out, p)
	}
	if len(b.Batters) > 1 {
		rest := sheet.ReportPot{Name: "the whole batch", Facts: []sheet.Fact{}, Events: []sheet.Fact{}}
		for _, e := range b.Events {
			if e.Batter == "" {
				rest.Events = append(rest.Events, reportEvent(b, e))
			}
		}
		if len(rest.Events) > 0 {
			out = append(out, rest)
		}
	}
	return out
}

func reportEvent(b *BatchShown, e observations.Event) sheet.Fact {
	at := fmt.Sprintf("day %.0f", math.Floor(b.Day(e.At)))
	switch {
	case e.AfterMinutes != nil:
		at = fmt.Sprintf("%.3g min after the scent", *e.AfterMinutes)
	case e.Clock && b.Day(e.At) < 1:
		at = e.At.Format("15:04")
	}
	text := string(e.Kind)
	if e.Portion != "" {
		text += " of " + e.Portion
	}
	if e.Value != nil {
		text += fmt.Sprintf(" %.3g %s", *e.Value, e.Kind.Measure())
	}
	if e.Note != "" {
		text += ": " + e.Note
	}
	return sheet.Fact{Name: at, Text: text}
}

func labColour(c *cie.Lab, band float64) *sheet.Colour {
	if c == nil {
		return nil
	}
	return &sheet.Colour{Hex: c.Hex(), Name: c.Name().Text, Band: band}
}

// reportPortion sets what was expected against what was read.
func reportPortion(q *observations.Portion, c *PortionCurve) sheet.ReportPortion {
	p := sheet.ReportPortion{Name: q.Key(), Holds: PortionWords(q), Days: []sheet.ReportDay{}, Said: []string{}, Forecast: labColour(q.Settled, 0), Target: labColour(q.Target, 0)}
	if len(c.Readings) == 0 {
		p.Said = append(p.Said, cmp.Or(c.Words, "not read yet"))
		return p
	}
	last := 0.0
	for _, x := range c.Readings {
		last = max(last, x.Day)
	}
	for _, d := range c.Days {
		basis := "forecast"
		switch {
		case d.Read:
			basis = "read"
		case d.Day <= last:
			basis = "fitted"
		}
		p.Days = append(p.Days, sheet.ReportDay{Day: d.Day, Colour: *labColour(&d.Median, 0), Basis: basis})
	}
	if s := c.Settled; s != nil {
		p.Settled = labColour(&s.Lab, s.Radius)
		for _, x := range []struct {
			lab  *cie.Lab
			what string
		}{{q.Settled, "the forecast made before the pour"}, {q.Target, "the target"}} {
			if x.lab != nil {
				p.Said = append(p.Said, fmt.Sprintf("settles ΔE00 %.1f from %s, %s (the readings leave ±%.1f)", cie.DeltaE00(*x.lab, s.Lab), x.what, x.lab.Hex(), s.Radius))
			}
		}
	}
	if c.Pattern != nil {
		text := fmt.Sprintf("%s, by %d readings", c.Likely, len(c.Readings))
		if c.Taken != "" {
			text += ", corrected for " + c.Taken
		}
		p.Said = append(p.Said, text)
	}
	for _, v := range c.Colours {
		text := fmt.Sprintf("%s: %s, probability %.2f, by %s", v.Colorant, v.Verdict, v.P, v.Grounds)
		if v.Batches > 0 {
			text += fmt.Sprintf(" of %d", v.Batches)
			text += map[bool]string{true: " batch", false: " batches"}[v.Batches == 1]
		}
		p.Said = append(p.Said, text)
	}
	return p
}

// PortionWords says what is in a portion: colourants with their doses and lots, and scent.
func PortionWords(q *observations.Portion) string {
	var parts []string
	for _, d := range q.Colorants {
		s := fmt.Sprintf("%s %.3g g/kg", d.Name, float64(d.Dose))
		if d.Lot != "" {
			s += " (lot " + d.Lot + ")"
		}
		parts = append(parts, s)
	}
	if q.Fragrance != "" {
		parts = append(parts, fmt.Sprintf("%s %s", q.Fragrance, q.FragranceRate))
	}
	if len(parts) == 0 {
		return "bare soap"
	}
	return strings.Join(parts, ", ")
}

// reportBar draws the bar: pots from the bottom up as they were poured, their
// portions by weight. Colours come from readings where there are some, else from the
// plan. It is nil where no weight or no colour is known.
func reportBar(b *BatchShown, curves *CurveSaid, e *evaluation) *sheet.Bar {
	bar := &sheet.Bar{Layers: []sheet.Layer{}}
	for _, v := range barDays {
		bar.Views = append(bar.Views, v.words)
	}
	total := unit.Grams(0)
	for i := range b.Portions {
		if !b.Portions[i].Control {
			total += b.Portions[i].Grams
		}
	}
	if total <= 0 {
		return nil
	}
	read, known := false, false
	for i := range b.Portions {
		q := &b.Portions[i]
		if q.Control {
			continue
		}
		l := sheet.Layer{Name: q.Name, Share: float64(q.Grams / total)}
		var c *PortionCurve
		for j := range curves.Portions {
			if curves.Portions[j].Portion == q.Key() && len(curves.Portions[j].Days) > 0 {
				c, read = &curves.Portions[j], true
			}
		}
		for _, v := range barDays {
			colour := labColour(barLab(q, c, e, v.day), 0)
			known = known || colour != nil
			l.Colours = append(l.Colours, colour)
		}
		bar.Layers = append(bar.Layers, l)
	}
	if !known {
		return nil
	}
	bar.Note = "Layers by weight, in the order of the plan; a swirl or a piped top looks otherwise. "
	if read {
		bar.Note += "Colours by the curves of the readings, where there are some, else as forecast from the plan."
	} else {
		bar.Note += "Colours as forecast from the plan: no bar was read yet."
	}
	return bar
}

// barLab is a portion's colour on a day, nil where nobody can say.
func barLab(q *observations.Portion, c *PortionCurve, e *evaluation, day float64) *cie.Lab {
	if c != nil {
		best := -1
		for i := range c.Days {
			if best < 0 || math.Abs(c.Days[i].Day-day) < math.Abs(c.Days[best].Day-day) {
				best = i
			}
		}
		return &c.Days[best].Median
	}
	if e != nil {
		for i := range e.in.Forecast.Outcomes {
			o := &e.in.Forecast.Outcomes[i]
			if o.Batter != q.Batter || o.Name != q.Name {
				continue
			}
			var at *forecast.DayColour
			for i := range o.Days {
				if d := &o.Days[i]; d.Colour != nil && (at == nil || math.Abs(d.Day-day) < math.Abs(at.Day-day)) {
					at = d
				}
			}
			if at != nil {
				return &at.Lab
			}
		}
	}
	if day <= 1 {
		return q.AtPour
	}
	return q.Settled
}
