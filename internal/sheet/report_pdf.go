package sheet

import (
	"bytes"
	"fmt"

	"codeberg.org/go-pdf/fpdf"
)

// PDF writes the report for paper.
func (r *Report) PDF(p Paper) ([]byte, error) {
	d := newPage(r.Code+" "+r.Title, p, r.Printed, 1)
	d.para(20, true, r.Title+"  "+r.Code)
	d.facts(r.Facts)
	if r.Bar != nil {
		d.bar(r.Bar)
	}
	d.heading("Colours")
	for i := range r.Portions {
		d.portion(&r.Portions[i], i)
	}
	d.heading("At the pot")
	for _, t := range r.Pots {
		d.need(14)
		d.para(11, true, t.Name)
		d.facts(t.Facts)
		d.facts(t.Events)
	}
	if len(r.Weights) > 0 {
		d.heading("Weights")
		d.facts(r.Weights)
	}
	if len(r.Lessons) > 0 {
		d.heading("Lessons")
		for _, s := range r.Lessons {
			d.para(10, false, "– "+s)
		}
	}
	d.Ln(3)
	for _, s := range r.Closing {
		d.para(8, false, s)
	}
	return d.bytes()
}

func (d *page) heading(s string) {
	d.need(25)
	d.Ln(4)
	d.para(14, true, s)
	d.rule(0.3)
	d.Ln(1.5)
}

// facts writes names with their texts beside them.
func (d *page) facts(list []Fact) {
	const column = 38.0
	for _, f := range list {
		d.need(5)
		y := d.GetY()
		d.face(9.5, true)
		d.CellFormat(column, 4.6, d.fit(spell(f.Name), column), "", 0, "L", false, 0, "")
		d.face(9.5, false)
		d.SetXY(margin+column, y)
		d.MultiCell(d.width-column, 4.6, spell(f.Text), "", "L", false)
		d.SetX(margin)
	}
	d.Ln(1)
}

// bar draws the bar at its ages, side by side.
func (d *page) bar(b *Bar) {
	const label = 7.5
	height := max(50, label*float64(len(b.Layers)))
	d.need(height + 16)
	d.Ln(2)
	top := d.GetY() + 6
	each := d.width / float64(len(b.Views))
	wide := each * 0.45
	at := b.spread(height, label)
	for v, view := range b.Views {
		x := margin + float64(v)*each
		d.SetXY(x-1, top-6)
		d.face(10, true)
		d.CellFormat(each, 5, d.fit(spell(view), each), "", 0, "L", false, 0, "")
		y := top + height
		for i, l := range b.Layers {
			h := l.Share * height
			y -= h
			d.SetFillColor(255, 255, 255)
			hex, name := "not known", ""
			if c := l.Colours[v]; c != nil {
				d.SetFillColor(c.rgb())
				hex, name = c.Hex, c.Name
			}
			d.Rect(x, y, wide, h, "F")
			d.SetLineWidth(0.1)
			d.Line(x+wide, y+h/2, x+wide+2.5, top+at[i])
			d.SetXY(x+wide+2, top+at[i]-label/2)
			d.face(8, false)
			d.CellFormat(each-wide-2, label/2, d.fit(spell(l.Name+" "+hex), each-wide-2), "", 2, "L", false, 0, "")
			d.face(7, false)
			d.CellFormat(each-wide-2, label/2, d.fit(spell(name), each-wide-2), "", 0, "L", false, 0, "")
		}
		d.SetLineWidth(0.4)
		d.RoundedRect(x, top, wide, height, 0.8, "1234", "D")
	}
	d.SetXY(margin, top+height+1.5)
	d.para(8, false, b.Note)
}

// portion writes one portion's colours and its curve.
func (d *page) portion(q *ReportPortion, n int) {
	const field = 9.0
	cell := max(17, min(23.5, d.width/float64(max(1, len(q.Days)))))
	d.need(45)
	d.Ln(1.5)
	d.para(11, true, q.Name)
	d.para(8.5, false, q.Holds)
	x := margin
	y := d.GetY() + 1
	for _, day := range q.Days {
		if x+cell > margin+d.width+1 {
			x, y = margin, y+field+13
			d.SetY(y)
			d.need(field + 13)
			y = d.GetY()
		}
		d.swatch(day.Colour, x, y, cell-2, field)
		d.SetXY(x-1, y+field+0.3)
		for _, s := range []string{fmt.Sprintf("day %.3g", day.Day), day.Colour.Hex, day.Basis} {
			d.face(7, false)
			d.CellFormat(cell, 3.1, d.fit(spell(s), cell), "", 2, "L", false, 0, "")
		}
		x += cell
	}
	d.SetXY(margin, y)
	if len(q.Days) > 0 {
		d.SetXY(margin, y+field+11)
	}
	for _, c := range []worded{{"forecast before the pour", q.Forecast}, {"settles on, by the readings", q.Settled}, {"target", q.Target}} {
		if c.Colour == nil {
			continue
		}
		d.need(6)
		at := d.GetY()
		d.swatch(*c.Colour, margin, at+0.6, 11, 4)
		text := fmt.Sprintf("%s: %s %s", c.Word, c.Colour.Hex, c.Colour.Name)
		if c.Colour.Band > 0 {
			text += fmt.Sprintf(" ±%.1f", c.Colour.Band)
		}
		d.SetXY(margin+12, at)
		d.face(9, false)
		d.CellFormat(d.width-12, 5.2, d.fit(spell(text), d.width-12), "", 1, "L", false, 0, "")
	}
	for _, s := range q.Said {
		d.para(9, false, "– "+s)
	}
	if len(q.PNG) == 0 {
		return
	}
	name := fmt.Sprintf("curve%d", n)
	info := d.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "PNG"}, bytes.NewReader(q.PNG))
	if d.Err() {
		return // [page.bytes] tells it
	}
	h := d.width * info.Height() / info.Width()
	d.need(h + 5)
	d.para(8, false, "left: the path in a* (across) and b* (up); right: ΔE00 from the reference over the days since the pour, the band 90 %")
	d.ImageOptions(name, margin, d.GetY(), d.width, h, false, fpdf.ImageOptions{}, 0, "")
	d.SetY(d.GetY() + h + 1)
}
