package main

import (
	"fmt"
	"strings"

	"lyefast/internal/app"
	"lyefast/internal/term"
)

// showTaught draws what the maker's own portions taught of a colourant.
func (p *program) showTaught(c *app.ColorantTaught) {
	if c == nil {
		return
	}
	w := p.out
	w.Printf("\n%s  %s, read to %s\n", w.Bold("Learned"), count(c.Portions, "portion"), perKg(c.MaxDose))
	for i, s := range c.Ladder {
		name := ""
		if i == 0 {
			name = "by dose"
		}
		text := fmt.Sprintf("%s %s ±%.1f %s", perKg(s.Dose), w.Swatch(s.Lab), s.Band, s.Name)
		if !s.Read {
			text += ", more than was read"
		}
		w.Field(name, text, 13)
	}
	if q := c.Prior; q != nil {
		w.Field("before", fmt.Sprintf("%s at %s, %s; learned %s, ΔE00 %.1f from it", w.Swatch(q.Before.Lab), perKg(q.Dose), q.Basis, w.Swatch(q.Learned.Lab), q.Delta), 13)
		if q.Poured != nil {
			w.Field("over time", fmt.Sprintf("poured %s → settled %s", w.Swatch(q.Poured.Lab), w.Swatch(q.Learned.Lab)), 13)
		}
	}
	rows := make([][]string, len(c.Evidence))
	for i, e := range c.Evidence {
		from := e.Batch
		if from == "" {
			from = "past table"
		}
		rows[i] = []string{w.Text(from), w.Text(e.Portion), perKg(e.Dose), w.Text(strings.Join(e.With, ", ")), w.Swatch(e.Settled), fmt.Sprintf("%.1f", e.Off)}
	}
	// A table of fixed texts cannot fail but by the writer, which tells it later.
	_ = w.Table([]term.Column{{Title: "batch"}, {Title: "portion", Wrap: true}, {Title: "dose", Right: true}, {Title: "with", Wrap: true}, {Title: "settled"}, {Title: "off fit", Right: true}}, rows)
	if c.More > 0 {
		w.Printf(" and %s before those\n", count(c.More, "portion"))
	}
	p.showMisfits(c.Misfits)
}
