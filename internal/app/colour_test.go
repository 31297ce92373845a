package app

import (
	"errors"
	"math"
	"testing"
)

// Published values through the call that the command and the page make: pairs 1, 7
// and 10 of Sharma, Wu and Dalal (2005), Color Res. Appl. 30(1), 21–30.
func TestColourDiff(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want float64
	}{
		{"50,2.6772,-79.7751", "50,0,-82.7485", 2.0425},
		{"50,0,0", "50,-1,2", 2.3669},
		{"50,2.49,-0.001", "50,-2.49,0.0010", 7.1792},
	} {
		d, err := ColourDiff(c.a, c.b)
		if err != nil || math.Abs(d.DeltaE00-c.want) > 1e-4 {
			t.Errorf("%s and %s: got %.4f (%v), want %.4f", c.a, c.b, d.DeltaE00, err, c.want)
		}
		back, err := ColourDiff(c.b, c.a)
		if err != nil || math.Abs(back.DeltaE00-d.DeltaE00) > 1e-12 || back.DeltaL != -d.DeltaL || math.Abs(math.Abs(back.DeltaH)-math.Abs(d.DeltaH)) > 1e-12 {
			t.Errorf("%s and %s: the way back differs: %+v, %v", c.a, c.b, back, err)
		}
		// Opposite hues, as in pair 10, can be turned to either way.
		if c.want != 7.1792 && back.DeltaH*d.DeltaH > 0 {
			t.Errorf("%s and %s: hue turns the same way there and back", c.a, c.b)
		}
		// ΔE² = ΔL² + ΔC² + ΔH², the definition of ΔH*.
		if sum := math.Sqrt(d.DeltaL*d.DeltaL + d.DeltaC*d.DeltaC + d.DeltaH*d.DeltaH); math.Abs(sum-d.DeltaE76) > 1e-9 {
			t.Errorf("%s and %s: the parts make %.6f, not %.6f", c.a, c.b, sum, d.DeltaE76)
		}
	}
	same, err := ColourDiff("#4a6180", "4a6180")
	if err != nil || same.DeltaE00 != 0 || same.GreyScale != 5 || same.GreyStep != "5" {
		t.Errorf("a colour and itself: %+v, %v", same, err)
	}
}

// The mid grey of lab-conversion-checks.csv (computed there by two independent
// programs): #777777 is L* 50.0344.
func TestColourConvert(t *testing.T) {
	f, err := ColourConvert("#777777")
	if err != nil || math.Abs(f.Lab.L-50.0344) > 5e-4 || math.Abs(f.XYZ[1]-100*math.Pow((f.Lab.L+16)/116, 3)) > 1e-9 || f.RGB != [3]uint8{119, 119, 119} || !f.InSRGB {
		t.Errorf("got %+v, %v", f, err)
	}
	if f, err = ColourConvert("50,100,-100"); err != nil || f.InSRGB || f.Hex == "" {
		t.Errorf("got %+v, %v", f, err)
	}
}

func TestWhatIsNoColour(t *testing.T) {
	for _, text := range []string{"", "#12345", "plum", "624,0,0", "1,2", "nan,0,0", "#gggggg"} {
		for _, err := range []error{second(ColourConvert(text)), second(ColourName(text)), second(ColourDiff(text, "#fff")), second(ColourDiff("#fff", text))} {
			if !errors.Is(err, ErrInvalid) {
				t.Errorf("%q: got %v, want ErrInvalid", text, err)
			}
		}
	}
}
