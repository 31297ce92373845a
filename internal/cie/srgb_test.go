package cie

import (
	"fmt"
	"math"
	"regexp"
	"testing"
)

func TestHexRoundTrip(t *testing.T) {
	// Every 5th step of each channel and both ends: 52³ colours.
	for r := 0; r < 256; r += 5 {
		for g := 0; g < 256; g += 5 {
			for b := 0; b < 256; b += 5 {
				hex := fmt.Sprintf("#%02x%02x%02x", r, g, b)
				c, err := ParseHex(hex)
				if err != nil {
					t.Fatal(err)
				}
				if !c.InSRGB() || c.Hex() != hex {
					t.Fatalf("%s becomes %v and then %s (shown: %v)", hex, c, c.Hex(), c.InSRGB())
				}
			}
		}
	}
	short, err := ParseHex("edc")
	long, _ := ParseHex("#EEDDCC")
	if err != nil || short != long {
		t.Errorf("edc is %v (%v), #EEDDCC is %v", short, err, long)
	}
}

func TestOutOfGamutKeepsHue(t *testing.T) {
	shown := 0
	for l := 20.0; l <= 90; l += 10 {
		for h := 0.0; h < 360; h += 7 {
			c := LCh{l, 130, h}.Lab()
			if c.InSRGB() {
				continue
			}
			got, err := ParseHex(c.Hex())
			if err != nil {
				t.Fatal(err)
			}
			cut := got.LCh()
			// Eight bits leave about half a unit of a* and b*.
			if math.Abs(cut.L-l) > 0.5 {
				t.Errorf("%v is shown with L* %v", c, cut.L)
			}
			off := math.Remainder(cut.H-h, 360) * math.Pi / 180 * cut.C
			if math.Abs(off) > 0.8 {
				t.Errorf("hue %v, L* %v is shown with hue %v, chroma %v", h, l, cut.H, cut.C)
			}
			shown++
		}
	}
	if shown < 300 {
		t.Fatalf("only %d colours were out of gamut", shown)
	}
}

func TestColoursThatAreNoColours(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []Lab{{nan, 0, 0}, {50, nan, 0}, {inf, 0, 0}, {50, inf, -inf}} {
		if c.InSRGB() || c.Hex() != "#777777" {
			t.Errorf("%v is shown as %s", c, c.Hex())
		}
	}
	for c, want := range map[Lab]string{
		{-20, 0, 0}: "#000000", {140, 0, 0}: "#ffffff", {140, 60, 60}: "#ffffff", {50, 1e200, 1e200}: "#777777",
	} {
		if c.Hex() != want {
			t.Errorf("%v is shown as %s, want %s", c, c.Hex(), want)
		}
	}
}

func FuzzParseHex(f *testing.F) {
	for _, s := range []string{"#efe0c4", "efe0c4", "#edc", "", "#", "#+1+2+3", "#12345g", "#ééé", " #EFE0C4 ", "##edc", "0x1234", "#1_2"} {
		f.Add(s)
	}
	valid := regexp.MustCompile(`^\s*#?([0-9a-fA-F]{3}|[0-9a-fA-F]{6})\s*$`)
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseHex(s)
		if err != nil {
			if valid.MatchString(s) {
				t.Fatalf("%q refused: %v", s, err)
			}
			return
		}
		if !c.Finite() || !c.InSRGB() || c.Check() != nil {
			t.Fatalf("%q gives %v", s, c)
		}
		back, err := ParseHex(c.Hex())
		if err != nil || back != c {
			t.Fatalf("%q gives %v, its hex %s gives %v (%v)", s, c, c.Hex(), back, err)
		}
	})
}
