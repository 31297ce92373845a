package sheet

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"
	"time"
)

// Report is a batch as it went: what was planned, what happened at the pot, and what
// became of its colours.
type Report struct {
	Code    string    `json:"code"`
	Title   string    `json:"title"`
	Printed time.Time `json:"printed_at"`
	// Facts are the head of the report, from the pour to the note.
	Facts []Fact `json:"facts"`
	// Bar is the picture, nil where no colour of it is known.
	Bar      *Bar            `json:"bar"`
	Pots     []ReportPot     `json:"batters"`
	Portions []ReportPortion `json:"portions"`
	Weights  []Fact          `json:"weights"`
	Lessons  []string        `json:"lessons"`
	// Closing says what the report does not.
	Closing []string `json:"closing"`
}

// Fact is a name with what is to be said of it.
type Fact struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// ReportPot is one batter as weighed, and what was noted at it.
type ReportPot struct {
	Name   string `json:"name"`
	Facts  []Fact `json:"facts"`
	Events []Fact `json:"events"`
}

// ReportPortion is one portion's colours.
type ReportPortion struct {
	Name  string `json:"name"`
	Holds string `json:"holds"`
	// Days are its colours by day, read or fitted.
	Days []ReportDay `json:"days"`
	// Forecast was said before the pour, Settled is what the readings say, Target what was wanted.
	Forecast *Colour `json:"forecast"`
	Settled  *Colour `json:"settled"`
	Target   *Colour `json:"target"`
	// Said compares them, and gives the verdicts on the colourants.
	Said []string `json:"said"`
	// SVG and PNG are its curve, empty without readings.
	SVG template.HTML `json:"-"`
	PNG []byte        `json:"-"`
}

// ReportDay is the colour on one day.
type ReportDay struct {
	Day    float64 `json:"day"`
	Colour Colour  `json:"colour"`
	// Basis is "read", "fitted" between readings, or "forecast".
	Basis string `json:"basis"`
}

// Bar is a bar of soap seen from its cut face at several ages.
type Bar struct {
	// Views are the ages, each with a colour of every layer.
	Views []string `json:"views"`
	// Layers lie from the bottom up.
	Layers []Layer `json:"layers"`
	// Note says what the picture leaves out.
	Note string `json:"note"`
}

// Layer is one portion in the bar.
type Layer struct {
	Name string `json:"name"`
	// Share is its part of the height, 0–1.
	Share float64 `json:"share"`
	// Colours are those of the views, nil where one is not known.
	Colours []*Colour `json:"colours"`
}

// Sizes of the picture in pixels: of one view, and of the bar in it.
const (
	viewWidth = 300
	barWidth  = 150
	barHeight = 200
	barTop    = 34
)

// spread puts labels of a height at their layers' middles without overlap, from the
// bottom up within the bar's height.
func (b *Bar) spread(height, label float64) []float64 {
	at := make([]float64, len(b.Layers))
	y := height
	for i, l := range b.Layers {
		h := l.Share * height
		at[i] = y - h/2
		y -= h
		if i > 0 {
			at[i] = math.Min(at[i], at[i-1]-label)
		}
	}
	// Where they ran out at the top, push down again.
	for i := len(at) - 1; i >= 0; i-- {
		low := label / 2
		if i < len(at)-1 {
			low = at[i+1] + label
		}
		at[i] = math.Max(at[i], low)
	}
	return at
}

// SVG draws the bar with the name and hex of every layer beside it.
func (b *Bar) SVG() template.HTML {
	var s strings.Builder
	const label = 27.0
	height := math.Max(barHeight, label*float64(len(b.Layers)))
	w, h := viewWidth*len(b.Views), barTop+height+12
	fmt.Fprintf(&s, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %.0f" font-family="sans-serif" role="img"><title>the bar: %s</title>`+"\n", w, h, html.EscapeString(strings.Join(b.Views, ", ")))
	s.WriteString(`<defs><pattern id="unknown" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#ffffff"/><path d="M0 8L8 0" stroke="#777777"/></pattern></defs>` + "\n")
	at := b.spread(height, label)
	for v, view := range b.Views {
		x := float64(v*viewWidth) + 8
		fmt.Fprintf(&s, `<text x="%.0f" y="22" font-size="16" font-weight="bold">%s</text>`+"\n", x, html.EscapeString(view))
		fmt.Fprintf(&s, `<clipPath id="bar%d"><rect x="%.0f" y="%d" width="%d" height="%.0f" rx="9"/></clipPath><g clip-path="url(#bar%d)">`+"\n", v, x, barTop, barWidth, height, v)
		y := barTop + height
		for _, l := range b.Layers {
			lh := l.Share * height
			y -= lh
			fill := "url(#unknown)"
			if c := l.Colours[v]; c != nil {
				fill = string(cssColour(c.Hex))
			}
			fmt.Fprintf(&s, `<rect x="%.0f" y="%.1f" width="%d" height="%.1f" fill="%s"/>`+"\n", x, y, barWidth, lh+0.5, fill)
		}
		fmt.Fprintf(&s, `</g><rect x="%.0f" y="%d" width="%d" height="%.0f" rx="9" fill="none" stroke="#333333" stroke-width="1.5"/>`+"\n", x, barTop, barWidth, height)
		y = barTop + height
		for i, l := range b.Layers {
			lh := l.Share * height
			mid := y - lh/2
			y -= lh
			hex, name := "not known", ""
			if c := l.Colours[v]; c != nil {
				hex, name = c.Hex, c.Name
			}
			fmt.Fprintf(&s, `<path d="M%.0f %.1fL%.0f %.1f" stroke="#999999" fill="none"/>`, x+barWidth, mid, x+barWidth+8, barTop+at[i])
			fmt.Fprintf(&s, `<text x="%.0f" y="%.1f" font-size="12">%s %s</text><text x="%.0f" y="%.1f" font-size="10" fill="#444444">%s</text>`+"\n",
				x+barWidth+11, barTop+at[i]-1, html.EscapeString(clip(l.Name, 9)), hex, x+barWidth+11, barTop+at[i]+10, html.EscapeString(clip(name, 26)))
		}
	}
	s.WriteString("</svg>\n")
	return template.HTML(s.String())
}

// clip shortens a text to so many letters.
func clip(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}
