package cie

import (
	"math"
	"os"
	"regexp"
	"strings"
	"testing"

	"lyefast/internal/testkit"
)

func flat(v float64) (r Spectrum) {
	for i := range r {
		r[i] = v
	}
	return r
}

func TestFlatSpectraAreNeutral(t *testing.T) {
	white := flat(1)
	if x := white.XYZ(); math.Abs(x.X-D65.X)+math.Abs(x.Y-1)+math.Abs(x.Z-D65.Z) > 1e-12 {
		t.Errorf("the perfect diffuser is %v, want %v", x, D65)
	}
	// L* of Y = 0.5 and 0.361097, from the definition of CIELAB (ISO/CIE 11664-4).
	for _, c := range []struct{ r, l float64 }{{1, 100}, {0.5, 76.0693}, {0.361097, 66.604}, {0, 0}} {
		grey := flat(c.r)
		if got := grey.Lab(); !near(got, Lab{c.l, 0, 0}, 5e-4) {
			t.Errorf("reflectance %v: %v, want L* %v", c.r, got, c.l)
		}
	}
}

// TestTablesOfObserverAndIlluminant catches a mistyped figure in the long tables.
func TestTablesOfObserverAndIlluminant(t *testing.T) {
	var observer, d65 [3]float64
	for i, row := range cmf1931 {
		for c := range observer {
			observer[c] += row[c]
			d65[c] += row[c] * spdD65[i]
		}
	}
	// The three curves of the 1931 observer have the same area (CIE 15).
	for c := range observer {
		if math.Abs(observer[c]/observer[1]-1) > 1e-3 {
			t.Errorf("curve %d has the area %v, ȳ has %v", c, observer[c], observer[1])
		}
	}
	// White point of D65, 2°, by 10 nm: ASTM E308, 95.047, 100, 108.883. The tables
	// here end at 730 nm and are summed without E308's correction of bandwidth.
	if x, z := d65[0]/d65[1], d65[2]/d65[1]; math.Abs(x-0.95047) > 5e-4 || math.Abs(z-1.08883) > 1e-3 {
		t.Errorf("the table's white is %.5f, 1, %.5f", x, z)
	}
	if Wavelength(0) != 380 || Wavelength(Bands-1) != 730 {
		t.Errorf("bands run %v–%v nm", Wavelength(0), Wavelength(Bands-1))
	}
}

// TestMeasuredSpectra integrates twelve measured inks, whose Lab for D50, 2° the
// instrument gave beside the spectrum, and compares under D65. Full agreement is
// not to be had: adaptation stands for the change of light, and the spectra end at
// 680 nm. A table out of step by 10 nm is 4 to 20 away.
func TestMeasuredSpectra(t *testing.T) {
	data, err := os.ReadFile(testkit.Shared(t, "reference/exchange/cxf/lab_spectrum_12_objects.cxf"))
	if err != nil {
		t.Fatal(err)
	}
	object := regexp.MustCompile(`(?s)<cc:L>([^<]*)</cc:L>\s*<cc:A>([^<]*)</cc:A>\s*<cc:B>([^<]*)</cc:B>.*?<cc:ReflectanceSpectrum[^>]*>([^<]*)<`)
	found := object.FindAllStringSubmatch(string(data), -1)
	if len(found) != 12 {
		t.Fatalf("%d objects with a spectrum, want 12", len(found))
	}
	sum := 0.0
	for i, m := range found {
		want := Lab{number(t, m[1]), number(t, m[2]), number(t, m[3])}.To(D50, D65)
		var r Spectrum
		values := strings.Fields(m[4])
		for k := range r {
			r[k] = number(t, values[min(k, len(values)-1)])
		}
		d := DeltaE00(r.Lab(), want)
		sum += d
		if d > 2 {
			t.Errorf("object %d: %v from its spectrum, %v from its Lab: ΔE00 %.2f", i+1, r.Lab(), want, d)
		}
	}
	if sum/12 > 1.2 {
		t.Errorf("mean ΔE00 %.2f, want at most 1.2", sum/12)
	}
}
