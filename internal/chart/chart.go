// Package chart draws curves of colours over the cure: the path in the a*b* plane
// with every point in its own colour, and the change in ΔE00 over the days.
//
// Start at [SVG] and [PNG]. Both are drawn by one plan of lines, discs and texts, so
// that they show the same; the SVG holds its texts as text, the PNG leaves out all
// but the digits of its axes, since it carries no font.
package chart

import (
	"fmt"
	"html"
	"math"
	"strings"

	"lyefast/internal/cie"
)

// Curve is one portion's readings and fitted path.
type Curve struct {
	Title string
	// Reference is what change is counted from, nil if there is none.
	Reference *cie.Lab
	Readings  []Reading
	// Path is by rising day.
	Path []Step
	// Today is the day of drawing, Next that of the next reading; 0 for none.
	Today, Next float64
}

// Reading is one colour read.
type Reading struct {
	Day float64
	Lab cie.Lab
}

// Step is the fitted colour on a day with its ΔE00 from the reference and that one's band.
type Step struct {
	Day              float64
	Lab              cie.Lab
	Delta, Low, High float64
}

// Visible is the ΔE00 up to which a change passes for acceptable, drawn as a line:
// 1.8, R. D. Paravina et al., J. Esthet. Restor. Dent. 27 (2015) S1.
const Visible = 1.8

// Sizes in pixels.
const (
	width  = 960
	height = 360 // of one portion
	margin = 48
)

// canvas is what a curve is drawn on.
type canvas interface {
	line(x1, y1, x2, y2, w float64, c string, dashed bool)
	disc(x, y, r float64, fill, rim string)
	area(xy [][2]float64, fill string)
	text(x, y float64, s, anchor string, size float64)
}

const (
	ink   = "#333333"
	faint = "#cccccc"
	band  = "#dfe6ea"
	warn  = "#a03020"
)

// paint puts the curves below each other.
func paint(c canvas, curves []Curve) {
	for i := range curves {
		top := float64(i * height)
		c.text(margin, top+22, curves[i].Title, "start", 16)
		plane(c, &curves[i], margin, top+36, height-36-margin)
		days(c, &curves[i], 2*margin+height-36-margin+20, top+36, width-margin, top+height-margin)
	}
}

// plane draws the path in a* and b*, on one scale for both.
func plane(c canvas, k *Curve, x, y, size float64) {
	lowA, highA, lowB, highB := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	see := func(l cie.Lab) {
		lowA, highA = math.Min(lowA, l.A), math.Max(highA, l.A)
		lowB, highB = math.Min(lowB, l.B), math.Max(highB, l.B)
	}
	for _, s := range k.Path {
		see(s.Lab)
	}
	for _, r := range k.Readings {
		see(r.Lab)
	}
	if k.Reference != nil {
		see(*k.Reference)
	}
	if lowA > highA {
		return
	}
	span := math.Max(8, 1.2*math.Max(highA-lowA, highB-lowB))
	a0, b0 := (lowA+highA-span)/2, (lowB+highB-span)/2
	at := func(l cie.Lab) (float64, float64) { return x + (l.A-a0)/span*size, y + size - (l.B-b0)/span*size }
	step := nice(span / 4)
	for v := math.Ceil(a0/step) * step; v <= a0+span; v += step {
		px := x + (v-a0)/span*size
		c.line(px, y, px, y+size, 1, faint, false)
		c.text(px, y+size+16, plain(v), "middle", 12)
	}
	for v := math.Ceil(b0/step) * step; v <= b0+span; v += step {
		py := y + size - (v-b0)/span*size
		c.line(x, py, x+size, py, 1, faint, false)
		c.text(x-6, py+4, plain(v), "end", 12)
	}
	c.text(x+size/2, y+size+32, "a*  greener – redder", "middle", 12)
	c.text(x+4, y+14, "b*", "start", 12)
	for i := 1; i < len(k.Path); i++ {
		x1, y1 := at(k.Path[i-1].Lab)
		x2, y2 := at(k.Path[i].Lab)
		c.line(x1, y1, x2, y2, 2, ink, false)
	}
	if k.Reference != nil {
		px, py := at(*k.Reference)
		c.line(px-8, py, px+8, py, 1.5, ink, false)
		c.line(px, py-8, px, py+8, 1.5, ink, false)
	}
	for _, s := range k.Path {
		px, py := at(s.Lab)
		c.disc(px, py, 5, s.Lab.Hex(), faint)
	}
	for _, r := range k.Readings {
		px, py := at(r.Lab)
		c.disc(px, py, 9, r.Lab.Hex(), ink)
	}
}

// days draws ΔE00 from the reference over the days, on a root scale: colours move
// fast at first.
func days(c canvas, k *Curve, x1, y1, x2, y2 float64) {
	if len(k.Path) == 0 {
		return
	}
	last, top := 42.0, 4.0
	for _, s := range k.Path {
		last, top = math.Max(last, s.Day), math.Max(top, 1.1*s.High)
	}
	if k.Reference != nil {
		for _, r := range k.Readings {
			last, top = math.Max(last, r.Day), math.Max(top, 1.1*cie.DeltaE00(*k.Reference, r.Lab))
		}
	}
	px := func(day float64) float64 { return x1 + math.Sqrt(math.Max(day, 0)/last)*(x2-x1) }
	py := func(d float64) float64 { return y2 - d/top*(y2-y1) }
	step := nice(top / 5)
	for v := 0.0; v <= top; v += step {
		c.line(x1, py(v), x2, py(v), 1, faint, false)
		c.text(x1-6, py(v)+4, plain(v), "end", 12)
	}
	for _, d := range []float64{0, 1, 3, 7, 14, 28, 42, 90, 180, 365} {
		if d <= last {
			c.line(px(d), y1, px(d), y2, 1, faint, false)
			c.text(px(d), y2+16, plain(d), "middle", 12)
		}
	}
	c.text((x1+x2)/2, y2+32, "days since the pour", "middle", 12)
	c.text(x1+4, y1+14, "ΔE00", "start", 12)
	var ring [][2]float64
	for _, s := range k.Path {
		ring = append(ring, [2]float64{px(s.Day), py(s.High)})
	}
	for i := len(k.Path) - 1; i >= 0; i-- {
		ring = append(ring, [2]float64{px(k.Path[i].Day), py(k.Path[i].Low)})
	}
	c.area(ring, band)
	for i := 1; i < len(k.Path); i++ {
		c.line(px(k.Path[i-1].Day), py(k.Path[i-1].Delta), px(k.Path[i].Day), py(k.Path[i].Delta), 2, ink, k.Path[i].Day > k.Today)
	}
	if py(Visible) > y1 {
		c.line(x1, py(Visible), x2, py(Visible), 1.5, warn, true)
		c.text(x2, py(Visible)-5, "seen from here on", "end", 12)
	}
	if k.Next > 0 && k.Next <= last {
		c.line(px(k.Next), y1, px(k.Next), y2, 1.5, "#24506b", true)
		c.text(px(k.Next), y1-4, "next reading", "middle", 12)
	}
	if k.Reference == nil {
		return
	}
	for _, r := range k.Readings {
		c.disc(px(r.Day), py(cie.DeltaE00(*k.Reference, r.Lab)), 9, r.Lab.Hex(), ink)
	}
}

// nice rounds a step up to 1, 2 or 5 times a power of ten.
func nice(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if v <= m*p {
			return m * p
		}
	}
	return 10 * p
}

func plain(v float64) string {
	if math.Abs(v) < 1e-9 {
		v = 0
	}
	return fmt.Sprintf("%g", math.Round(v*100)/100)
}

// SVG draws curves as SVG 1.1.
func SVG(curves []Curve) string {
	s := &svg{}
	h := max(1, len(curves)) * height
	fmt.Fprintf(s, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d" font-family="sans-serif">`+"\n", width, h, width, h)
	fmt.Fprintf(s, `<rect width="%d" height="%d" fill="#ffffff"/>`+"\n", width, h)
	paint(s, curves)
	s.WriteString("</svg>\n")
	return s.String()
}

type svg struct{ strings.Builder }

func (s *svg) line(x1, y1, x2, y2, w float64, c string, dashed bool) {
	dash := ""
	if dashed {
		dash = ` stroke-dasharray="6 5"`
	}
	fmt.Fprintf(s, `<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="%s" stroke-width="%.1f"%s/>`+"\n", x1, y1, x2, y2, c, w, dash)
}

func (s *svg) disc(x, y, r float64, fill, rim string) {
	fmt.Fprintf(s, `<circle cx="%.1f" cy="%.1f" r="%.1f" fill="%s" stroke="%s" stroke-width="1.5"><title>%s</title></circle>`+"\n", x, y, r, fill, rim, fill)
}

func (s *svg) area(xy [][2]float64, fill string) {
	s.WriteString(`<polygon points="`)
	for _, p := range xy {
		fmt.Fprintf(s, "%.1f,%.1f ", p[0], p[1])
	}
	fmt.Fprintf(s, `" fill="%s"/>`+"\n", fill)
}

func (s *svg) text(x, y float64, t, anchor string, size float64) {
	t = strings.Map(func(r rune) rune {
		if r < ' ' { // no control character may stand in XML
			return -1
		}
		return r
	}, strings.ToValidUTF8(t, ""))
	fmt.Fprintf(s, `<text x="%.1f" y="%.1f" font-size="%.0f" text-anchor="%s" fill="%s">%s</text>`+"\n", x, y, size, anchor, ink, html.EscapeString(t))
}
