package sheet

import (
	"bytes"
	"fmt"
	"strings"
	"sync"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
)

// Paper is a size of paper.
type Paper string

// The papers.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// ParsePaper reads "A4" or "Letter", in any case.
func ParsePaper(s string) (Paper, error) {
	for _, p := range []Paper{A4, Letter} {
		if strings.EqualFold(strings.TrimSpace(s), string(p)) {
			return p, nil
		}
	}
	return "", fmt.Errorf("paper %q is not known; use A4 or Letter", s)
}

// margin of a page in mm, within what desk printers reach.
const margin = 11.0

// page is a PDF in the making. Lengths are in mm, type sizes in points; k scales both
// where a sheet would else not fit its pages.
type page struct {
	*fpdf.Fpdf
	k     float64
	width float64 // between the margins
}

// newPage opens a document with its font: the Go fonts, which are free, are part of
// the program, and hold Latin, Greek and Cyrillic with the signs of units.
func newPage(title string, p Paper, made time.Time, k float64) *page {
	d := &page{Fpdf: fpdf.New("P", "mm", string(p), ""), k: k}
	d.AddUTF8FontFromBytes("go", "", goregular.TTF)
	d.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	d.SetMargins(margin, margin, margin)
	d.SetAutoPageBreak(true, margin+4)
	d.SetCatalogSort(true)
	d.SetCreationDate(made)
	d.SetModificationDate(made)
	d.SetTitle(title, true)
	d.SetProducer("lyefast", true)
	w, _ := d.GetPageSize()
	d.width = w - 2*margin
	d.SetFooterFunc(func() {
		d.SetY(-margin - 1)
		d.face(8, false)
		d.CellFormat(0, 4, spell(title)+fmt.Sprintf("  ·  page %d", d.PageNo()), "", 0, "C", false, 0, "")
	})
	d.AddPage()
	return d
}

func (d *page) face(points float64, bold bool) {
	style := ""
	if bold {
		style = "B"
	}
	d.SetFont("go", style, points*d.k)
}

// bytes closes the document.
func (d *page) bytes() ([]byte, error) {
	var b bytes.Buffer
	if err := d.Output(&b); err != nil {
		return nil, fmt.Errorf("lay out the PDF: %w", err)
	}
	return b.Bytes(), nil
}

// need starts a new page where h mm are no longer left on this one.
func (d *page) need(h float64) {
	_, height := d.GetPageSize()
	if d.GetY()+h > height-margin-4 {
		d.AddPage()
	}
}

// para writes text across the page.
func (d *page) para(points float64, bold bool, text string) {
	if text == "" {
		return
	}
	d.face(points, bold)
	d.MultiCell(d.width, points*d.k*0.46, spell(text), "", "L", false)
}

// lines is how many lines a text takes.
func (d *page) lines(points float64, bold bool, text string, width float64) int {
	d.face(points, bold)
	return max(1, len(d.SplitText(spell(text), width)))
}

// caution writes a warning with its sign in a bar of its own.
func (d *page) caution(points float64, text string) {
	d.face(points, true)
	h := points * d.k * 0.46
	n := d.lines(points, true, text, d.width-5)
	d.need(float64(n) * h)
	x, y := d.GetX(), d.GetY()
	d.SetFillColor(17, 17, 17)
	d.Rect(x, y, 4, float64(n)*h, "F")
	d.SetTextColor(255, 255, 255)
	d.SetXY(x, y)
	d.CellFormat(4, h, "!", "", 0, "C", false, 0, "")
	d.SetTextColor(0, 0, 0)
	d.SetXY(x+5, y)
	d.MultiCell(d.width-5, h, spell(text), "", "L", false)
	d.Ln(0.7 * d.k)
}

// flow writes items after each other, none broken between lines.
func (d *page) flow(points float64, items []string) {
	d.face(points, false)
	h, x := points*d.k*0.46, margin
	for _, s := range items {
		w := d.GetStringWidth(spell(s)) + 5
		if x+w-3 > margin+d.width {
			x = margin
			d.Ln(h)
		}
		d.SetX(x)
		d.CellFormat(w, h, spell(s), "", 0, "L", false, 0, "")
		x += w
	}
	d.Ln(h)
}

// rule draws a line across.
func (d *page) rule(w float64) {
	d.SetLineWidth(w)
	d.Line(margin, d.GetY(), margin+d.width, d.GetY())
}

// swatch fills a field of the paper with a colour, rimmed so that a white one shows.
func (d *page) swatch(c Colour, x, y, w, h float64) {
	d.SetFillColor(c.rgb())
	d.SetLineWidth(0.2)
	d.Rect(x, y, w, h, "FD")
}

// blanks leaves room to write in.
func (d *page) blanks(names []string, room float64) {
	if len(names) == 0 {
		return
	}
	h := 7.0 * d.k
	d.need(h)
	d.face(9, false)
	x, y := margin, d.GetY()
	d.SetLineWidth(0.2)
	for _, n := range names {
		w := d.GetStringWidth(spell(n)) + 2
		if x+w+room > margin+d.width {
			x, y = margin, y+h
			d.need(2 * h)
			if d.GetY() < y-h { // a new page
				y = d.GetY()
			}
		}
		d.SetXY(x, y+h*0.35)
		d.CellFormat(w, h*0.6, spell(n), "", 0, "L", false, 0, "")
		d.Line(x+w, y+h*0.92, x+w+room, y+h*0.92)
		x += w + room + 4
	}
	d.SetXY(margin, y+h+0.8*d.k)
}

var drawable = sync.OnceValue(func() *sfnt.Font {
	f, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		panic("sheet: the program's own font cannot be read: " + err.Error())
	}
	return f
})

// spell leaves out of a text what the font has no letter for: "?" stands there. Line
// breaks become blanks, other control characters go.
func spell(s string) string {
	var buf sfnt.Buffer
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == 0xa0:
			return ' '
		case r < ' ' || r == 0x7f:
			return -1
		case r < 0x7f:
			return r
		}
		if i, err := drawable().GlyphIndex(&buf, r); err != nil || i == 0 {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}
