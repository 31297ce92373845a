package sheet

import (
	"fmt"
)

// scales are tried from the largest: a sheet goes on two pages where type that can
// still be read at arm's length allows it.
var scales = []float64{1, 0.94, 0.88, 0.82, 0.76}

// PDF writes the sheet for paper, on two pages if it goes on two.
func (b *Bench) PDF(p Paper) ([]byte, error) {
	var d *page
	for _, k := range scales {
		if d = b.pdf(p, k); d.PageCount() <= 2 {
			break
		}
	}
	return d.bytes()
}

func (b *Bench) pdf(p Paper, k float64) *page {
	d := newPage(b.Title, p, b.Printed, k)
	d.para(20, true, b.Title)
	d.para(10, false, fmt.Sprintf("Pour %s  ·  scale %s  ·  batch __________   %s", b.PourDate, Mass(b.Step), b.Grounds))
	d.Ln(1.2 * k)
	for _, c := range b.Cautions {
		d.caution(9.5, c)
	}
	for i := range b.Pots {
		d.pot(&b.Pots[i])
	}
	d.need(30 * k)
	d.Ln(2.5 * k)
	d.para(12, true, "After the pour")
	var days []string
	for _, r := range b.Readings {
		days = append(days, fmt.Sprintf("day %d %s", r.Day, r.Date))
	}
	if len(days) > 0 {
		d.flow(9.5, append([]string{"Read the bar:"}, days...))
	}
	for _, n := range b.Notes {
		d.para(8, false, n)
	}
	d.labels(b)
	return d
}

// pot lays one batter out.
func (d *page) pot(p *Pot) {
	d.need(60 * d.k)
	d.Ln(2.5 * d.k)
	d.para(15, true, p.Name+"   "+p.Total.Amount+" before colours")
	d.rule(0.7)
	d.Ln(1.2 * d.k)
	if p.When != "" {
		d.para(10, true, p.When)
	}
	for i := range p.Steps {
		d.step(&p.Steps[i])
	}
	for i := range p.Jugs {
		d.jug(&p.Jugs[i])
	}
}

func (d *page) step(s *Step) {
	h := 6.5 + 7.2*float64(len(s.Lines))
	d.need((h + 8) * d.k)
	d.Ln(1.2 * d.k)
	d.para(10.5, true, s.Title)
	for _, c := range s.Cautions {
		d.caution(9, c)
	}
	for _, l := range s.Lines {
		d.line(l, true)
	}
	if s.Sum != nil {
		d.rule(0.35)
		d.line(*s.Sum, false)
	}
	for _, t := range s.Say {
		d.para(9.5, false, t)
	}
	d.blanks(s.Blanks, 19)
}

// line is one amount in large type behind its box.
func (d *page) line(l Line, tick bool) {
	h := 7.0 * d.k
	d.need(h)
	y := d.GetY()
	if tick {
		d.SetLineWidth(0.45)
		d.Rect(margin+0.5, y+1.5*d.k, 4*d.k, 4*d.k, "D")
	}
	d.SetXY(margin+6*d.k, y)
	d.face(15, tick)
	d.CellFormat(34*d.k, h, spell(l.Amount), "", 0, "R", false, 0, "")
	d.face(12, false)
	name := spell(l.Name)
	room := d.width - 42*d.k
	w := d.GetStringWidth(name) + 4
	if w > room || l.Note == "" {
		w = room
	}
	d.SetX(margin + 42*d.k)
	d.CellFormat(w, h, d.fit(name, w), "", 0, "L", false, 0, "")
	if l.Note != "" && w < room {
		d.face(8.5, false)
		note := spell(l.Note)
		if rows := d.SplitText(note, room-w-2); len(rows) > 1 {
			d.SetXY(margin+42*d.k+w, y+0.4*d.k)
			d.face(7.5, false)
			d.MultiCell(room-w, h*0.45, note, "", "L", false)
		} else {
			d.CellFormat(room-w, h, note, "", 0, "L", false, 0, "")
		}
	}
	d.SetXY(margin, max(y+h, d.GetY()))
	if d.GetY() < y { // the note ran onto a new page
		d.SetX(margin)
	}
}

// fit shortens a text to a width.
func (d *page) fit(s string, w float64) string {
	r := []rune(s)
	for len(r) > 1 && d.GetStringWidth(string(r)) > w-2 {
		r = r[:len(r)-1]
	}
	if len(r) < len([]rune(s)) {
		r[len(r)-1] = '…'
	}
	return string(r)
}

func (d *page) jug(j *Jug) {
	d.need((6 + 7*float64(len(j.Lines)) + 22) * d.k)
	d.Ln(1.2 * d.k)
	d.para(10.5, true, "Jug: "+j.Name)
	for _, l := range j.Lines {
		d.line(l, true)
	}
	x, y := margin, d.GetY()+0.8*d.k
	h := 6.0 * d.k
	for _, c := range []worded{{"at the pour", j.Pour}, {"settled", j.Settled}, {"target", j.Target}} {
		if c.Colour == nil {
			continue
		}
		d.face(8, false)
		text := c.Word + " " + c.Colour.Hex
		if c.Colour.Band > 0 {
			text += fmt.Sprintf(" ±%.0f", c.Colour.Band)
		}
		d.swatch(*c.Colour, x, y, 12*d.k, h)
		d.SetXY(x+12.5*d.k, y)
		w := d.width/3 - 13*d.k
		d.CellFormat(w, h/2, d.fit(spell(text), w+2), "", 2, "L", false, 0, "")
		d.CellFormat(w, h/2, d.fit(spell(c.Colour.Name), w+2), "", 0, "L", false, 0, "")
		x += d.width / 3
	}
	d.SetXY(margin, y)
	if x > margin {
		d.SetXY(margin, y+h+1.2*d.k)
	}
	d.para(9, false, j.Unknown)
	if j.Judge != "" {
		d.para(9.5, true, "Do not judge before "+j.Judge)
	}
	d.para(8, false, j.Why)
	d.blanks([]string{"trace", "poured at", "notes"}, 34)
}

// labels are torn off along the dashes and taped to the lye jugs; notes take what is
// left of the page above them.
func (d *page) labels(b *Bench) {
	const perRow = 2
	h := 31 * d.k
	rows := (len(b.Pots) + perRow - 1) / perRow
	d.need(float64(rows)*(h+3) + 14*d.k)
	_, height := d.GetPageSize()
	top := height - margin - 5 - float64(rows)*(h+3)
	d.Ln(1.5 * d.k)
	d.face(9, false)
	d.CellFormat(14, 5*d.k, "Notes", "", 1, "L", false, 0, "")
	d.SetLineWidth(0.15)
	for y := d.GetY() + 4*d.k; y < top-5 && y < d.GetY()+60; y += 7 {
		d.Line(margin, y, margin+d.width, y)
	}
	d.SetDashPattern([]float64{2, 1.5}, 0)
	d.SetLineWidth(0.4)
	d.Line(0, top-2.5, d.width+2*margin, top-2.5)
	d.SetDashPattern([]float64{}, 0)
	w := (d.width - 4) / perRow
	for i := range b.Pots {
		p := &b.Pots[i]
		x, y := margin+float64(i%perRow)*(w+4), top+float64(i/perRow)*(h+3)
		d.SetLineWidth(0.8)
		d.Rect(x, y, w, h, "D")
		d.SetXY(x+2, y+1.5)
		d.face(15, true)
		d.CellFormat(w-4, 7*d.k, d.fit(spell("LYE – "+p.Name), w-4), "", 2, "L", false, 0, "")
		d.face(9, true)
		d.CellFormat(w-4, 4.6*d.k, d.fit(spell(p.Lye.Words), w-4), "", 2, "L", false, 0, "")
		d.face(8, false)
		d.MultiCell(w-4, 3.6*d.k, "Burns skin and eyes: goggles, gloves. Never add water. Keep away from children. Splash: rinse with much water; eyes: rinse long, call a doctor.", "", "L", false)
		d.SetXY(x+2, y+h-5.5*d.k)
		d.CellFormat(w-4, 4*d.k, d.fit(spell("mixed at ________  date ________  "+b.Title), w-4), "", 0, "L", false, 0, "")
	}
}
