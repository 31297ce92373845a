package sheet

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"lyefast/internal/testkit"
	"lyefast/internal/unit"
)

// nasty is what a name may try on a page.
const nasty = `<script>alert(1)</script>&"'`

var printed = time.Date(2026, 11, 20, 6, 45, 30, 0, time.UTC)

// bench is a sheet with so many pots of four jugs.
func bench(title string, pots int) *Bench {
	b := &Bench{Title: title, Printed: printed, Step: 0.1, PourDate: "2026-11-20 (Friday)", Grounds: "guess", Cautions: []string{"Lye burns skin and eyes."}, Readings: []Date{{1, "Sat 21 Nov"}}, Notes: []string{"note"}}
	for range pots {
		line := func(name string) Line { return Line{Name: name, Grams: 144.1, Amount: "144.1 g", Note: "of 98 %"} }
		p := Pot{Name: "slab " + title, When: "later", Total: line("in all"), Lye: Lye{NaOH: 144.1, Water: 256, Words: "NaOH 144.1 g in 256.0 g water, 36 %"}}
		for range 4 {
			sum := line("sum")
			p.Steps = append(p.Steps, Step{Title: "Oils", Lines: []Line{line("Olive oil"), line("Palm oil")}, Sum: &sum, Cautions: []string{"never the reverse"}, Say: []string{"20 °C ± 1, ΔE00 2 – 3"}, Blanks: []string{"oils °C", "clear at"}})
		}
		for range 4 {
			p.Jugs = append(p.Jugs, Jug{Name: "shore", Lines: []Line{line("batter"), line("Chalk White")}, Pour: &Colour{Hex: "#f1ede4", Name: "yellowish white"}, Settled: &Colour{Hex: "#e2d1b8", Name: "pale pink", Band: 12}, Judge: "Mon 23 Nov (day 3)", Why: title})
		}
		b.Pots = append(b.Pots, p)
	}
	return b
}

func report(name string) *Report {
	c := &Colour{Hex: "#e2d1b8", Name: name}
	return &Report{
		Code: name, Title: name, Printed: printed, Facts: []Fact{{name, name}}, Lessons: []string{name}, Closing: []string{name}, Weights: []Fact{{name, name}},
		Bar:      &Bar{Views: []string{name, "later"}, Layers: []Layer{{name, 0.98, []*Colour{c, nil}}, {"thin", 0.01, []*Colour{c, c}}, {"top", 0.01, []*Colour{c, c}}}, Note: name},
		Pots:     []ReportPot{{name, []Fact{{name, name}}, []Fact{{name, name}}}},
		Portions: []ReportPortion{{Name: name, Holds: name, Days: []ReportDay{{1, *c, "read"}}, Forecast: c, Said: []string{name}}},
	}
}

// Pages load nothing, run nothing, and show every name as it is.
func TestPagesEscapeAndStandAlone(t *testing.T) {
	foreign := regexp.MustCompile(`https?://|src=|href=|@import|url\((?:[^#]|#[^bu])`)
	for name, make := range map[string]func() ([]byte, error){"bench": bench(nasty, 2).HTML, "report": report(nasty).HTML} {
		page, err := make()
		if err != nil {
			t.Fatal(err)
		}
		s := strings.ReplaceAll(string(page), `xmlns="http://www.w3.org/2000/svg"`, "")
		if strings.Contains(s, "<script") {
			t.Errorf("%s: a name became a script", name)
		}
		if !strings.Contains(s, "&lt;script&gt;alert(1)&lt;/script&gt;") {
			t.Errorf("%s does not show the name", name)
		}
		if m := foreign.FindString(s); m != "" {
			t.Errorf("%s loads something: %q", name, m)
		}
	}
}

func TestNoStyleButAColour(t *testing.T) {
	for in, want := range map[string]string{"#a1b2c3": "#a1b2c3", "red;background:url(x)": "#ffffff", "#a1b2c": "#ffffff", "#a1b2cg": "#ffffff", "#A1B2C3": "#ffffff", "": "#ffffff"} {
		if got := string(cssColour(in)); got != want {
			t.Errorf("%q gives %q", in, got)
		}
	}
}

// The picture is sound XML with a field for each layer and view, and its labels keep
// clear of each other within the bar.
func TestBarPicture(t *testing.T) {
	bar := report(nasty).Bar
	d := xml.NewDecoder(strings.NewReader(string(bar.SVG())))
	rects, hatched := 0, 0
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := tok.(xml.StartElement)
		if !ok || e.Name.Local != "rect" {
			continue
		}
		for _, a := range e.Attr {
			if a.Name.Local == "fill" && (strings.HasPrefix(a.Value, "#e2d1b8") || a.Value == "url(#unknown)") {
				rects++
				if a.Value == "url(#unknown)" {
					hatched++
				}
			}
		}
	}
	if rects != 6 || hatched != 1 {
		t.Errorf("%d fields, %d of them unknown; want 6 and 1", rects, hatched)
	}
	for n := 1; n <= 7; n++ {
		for shape := range 3 {
			b := &Bar{}
			for i := range n {
				share := 1 / float64(n)
				switch {
				case shape == 1 && i == 0, shape == 2 && i == n-1:
					share = 1 - 0.01*float64(n-1)
				case shape > 0:
					share = 0.01
				}
				b.Layers = append(b.Layers, Layer{Share: share})
			}
			at := b.spread(200, 27)
			for i, y := range at {
				if y < 13.4 || y > 200 || i > 0 && at[i-1]-y < 26.9 {
					t.Errorf("%d layers, shape %d: labels at %v", n, shape, at)
					break
				}
			}
		}
	}
}

// pageCount counts the pages of a PDF in its own objects.
func pageCount(data []byte) int { return bytes.Count(data, []byte("/Type /Page\n")) }

// An ordinary plan goes on two pages of either paper; a large one takes more and
// loses nothing. The same sheet makes the same file.
func TestBenchPDFPages(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		for pots, want := range map[int]int{1: 2, 2: 4} { // pots of four steps and four jugs each
			data, err := bench("Harbour Dawn", pots).PDF(paper)
			if err != nil {
				t.Fatal(err)
			}
			again, _ := bench("Harbour Dawn", pots).PDF(paper)
			if n := pageCount(data); n == 0 || n > want || !bytes.Equal(data, again) {
				t.Errorf("%s, %d pots: %d pages, at most %d; the same again: %v", paper, pots, n, want, bytes.Equal(data, again))
			}
		}
		if data, err := report("HD-01").PDF(paper); err != nil || pageCount(data) == 0 {
			t.Errorf("%s: report: %v", paper, err)
		}
	}
	bad := report("HD-01")
	bad.Portions[0].PNG = []byte("no picture")
	if _, err := bad.PDF(A4); err == nil {
		t.Error("a broken picture is not told of")
	}
}

// What a reader other than ours finds in the PDF: the signs of units, names whole, and
// a mark for letters that the font has not.
func TestBenchPDFText(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		testkit.Need(t, "pdftotext is not on this machine")
	}
	data, err := bench("Møle Dåwn 日 "+nasty, 1).PDF(A4)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	text := string(out)
	for _, want := range []string{"Møle Dåwn ? <script>alert(1)</script>&\"'", "20 °C ± 1, ΔE00 2 – 3", "144.1 g", "LYE – slab", "Do not judge before Mon 23 Nov (day 3)", "#e2d1b8 ±12"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in the PDF", want)
		}
	}
}

func TestParsePaper(t *testing.T) {
	for in, want := range map[string]Paper{"a4": A4, " LETTER": Letter, "A5": "", "": ""} {
		if got, err := ParsePaper(in); got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v", in, got, err)
		}
	}
}

func TestMassTo(t *testing.T) {
	for _, c := range []struct {
		g, step float64
		want    string
	}{{450, 0.1, "450.0 g"}, {450, 1, "450 g"}, {0.38, 1, "0.38 g"}, {36.75, 0.1, "36.75 g"}, {0, 0.1, "0.0 g"}} {
		if got := MassTo(unit.Grams(c.g), unit.Grams(c.step)); got != c.want {
			t.Errorf("%v on a scale of %v is %q, want %q", c.g, c.step, got, c.want)
		}
	}
	if c := (Colour{Hex: "#0a141e"}); sumRGB(c) != 10+20+30 {
		t.Errorf("%v is read as %d", c, sumRGB(c))
	}
}

func sumRGB(c Colour) int {
	r, g, b := c.rgb()
	return r + g + b
}
