package chart

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"

	"lyefast/internal/cie"
)

// dusk is a curve that settles, with a reading of a colour that stands nowhere else.
func dusk() Curve {
	c := Curve{Title: `HD-01 <dusk> & "co"`, Reference: &cie.Lab{L: 40, A: 28, B: -23}, Today: 9, Next: 15}
	for _, day := range []float64{0, 1, 2, 4, 7, 14, 42} {
		k := math.Exp(-day / 3)
		lab := cie.Lab{L: 57 - 17*k, A: 4 + 24*k, B: 8 - 31*k}
		d := cie.DeltaE00(lab, *c.Reference)
		c.Path = append(c.Path, Step{Day: day, Lab: lab, Delta: d, Low: d - 1, High: d + 1})
	}
	c.Readings = []Reading{{Day: 2, Lab: cie.Lab{L: 60, A: 50, B: 40}}}
	return c
}

func TestSVGIsWellFormedAndShowsWhatItMust(t *testing.T) {
	c := dusk()
	s := SVG([]Curve{c, {Title: "HD-01 bare\x00\xff"}})
	dec := xml.NewDecoder(strings.NewReader(s))
	var texts []string
	circles := 0
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("not XML: %v\n%s", err, s)
		}
		switch x := tok.(type) {
		case xml.CharData:
			texts = append(texts, string(x))
		case xml.StartElement:
			if x.Name.Local == "circle" {
				circles++
			}
			if x.Name.Local == "script" || x.Name.Local == "image" {
				t.Errorf("the picture holds a %s", x.Name.Local)
			}
		}
	}
	all := strings.Join(texts, "\n")
	for _, want := range []string{`HD-01 <dusk> & "co"`, "next reading", "seen from here on", "days since the pour", "ΔE00", "HD-01 bare"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is missing", want)
		}
	}
	// Every point of the path once, every reading in both halves.
	if want := len(c.Path) + 2*len(c.Readings); circles != want {
		t.Errorf("%d discs, want %d", circles, want)
	}
	if !strings.Contains(s, c.Readings[0].Lab.Hex()) {
		t.Error("the reading is not in its own colour")
	}
}

func TestPNGShowsTheSame(t *testing.T) {
	c := dusk()
	data, err := PNG([]Curve{c})
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if b := img.Bounds(); b.Dx() != width || b.Dy() != height {
		t.Errorf("the size is %v", b)
	}
	// The reading's own colour fills its two discs, of radius 9.
	r, g, b := c.Readings[0].Lab.RGB()
	n := 0
	for y := range height {
		for x := range width {
			R, G, B, _ := img.At(x, y).RGBA()
			if uint8(R>>8) == r && uint8(G>>8) == g && uint8(B>>8) == b {
				n++
			}
		}
	}
	if area := 2 * math.Pi * 81; math.Abs(float64(n)-area) > 0.2*area {
		t.Errorf("%d pixels have the reading's colour, two discs have %.0f", n, area)
	}
	if _, err := PNG(make([]Curve, maxCurves+1)); err == nil {
		t.Error("a picture of any size is drawn")
	}
	if _, err := PNG(nil); err != nil {
		t.Error(err)
	}
}

func TestNice(t *testing.T) {
	for v, want := range map[float64]float64{0.9: 1, 1: 1, 1.2: 2, 3: 5, 5.1: 10, 13: 20, 0.03: 0.05} {
		if got := nice(v); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: %v, want %v", v, got, want)
		}
	}
}
