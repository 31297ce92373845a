package exchange

import (
	"math"
	"strings"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/testkit"
)

// White points of ASTM E308 (10 nm tables), Y = 100: the whites that follow from
// the daylight components, the formula of illuminant A and the two observers
// must agree with them. CIE 15 and E308 themselves differ by 0.02; the cut at
// 730 nm and the 10 nm step leave 0.12 at most.
func TestWhitesOfTheWeights(t *testing.T) {
	n := 0
	for _, r := range testkit.Table(t, testkit.Shared(t, "reference/illuminants-and-adaptation.csv")) {
		if r["kind"] != "whitepoint" || r["source"] != "ASTM E308" {
			continue
		}
		g := weights[seen{r["name"], observerDegrees(r["observer_or_row"])}]
		if g == nil {
			continue
		}
		n++
		for _, c := range []struct {
			column string
			got    float64
		}{{"v1", g.white.X}, {"v2", g.white.Y}, {"v3", g.white.Z}} {
			want, err := number(r[c.column], '.')
			if err != nil {
				t.Fatal(err)
			}
			near(t, r["name"]+"/"+r["observer_or_row"]+" "+c.column, 100*c.got, want, 0.12)
		}
	}
	if n != 10 {
		t.Errorf("compared %d white points, want 5 illuminants under 2 observers", n)
	}
}

// The measured spectra of the CxF sample (colour-cxf test data, BSD-3-Clause)
// stand beside L*a*b* for D50, 2° that the measuring program computed. Ours from
// the same spectra agree within ΔE00 0.15, though they end at 680 nm; the largest is a near-black.
func TestSpectraAgreeWithTheirOwnLab(t *testing.T) {
	im, err := Read(sharedFile(t, "cxf/lab_spectrum_12_objects.cxf"), "", Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range im.Readings {
		r, err := s.Spectrum.Resample()
		if err != nil {
			t.Fatal(err)
		}
		c, ok := labUnder(&r, seen{"D50", 2})
		if d := cie.DeltaE00(c, s.Lab); !ok || d > 0.15 {
			t.Errorf("%s: %v from the spectrum, %v in the file, ΔE00 %.3f", s.Name, c, s.Lab, d)
		}
	}
}

// smooth gives a reflectance like those of pigments in a pale base: a step, a
// bump or a dip.
func smooth(kind int, nm float64) float64 {
	switch kind {
	case 0:
		return 0.08 + 0.7/(1+math.Exp(-(nm-590)/18))
	case 1:
		return 0.15 + 0.5*math.Exp(-math.Pow((nm-455)/45, 2))
	case 2:
		return 0.85 - 0.6*math.Exp(-math.Pow((nm-550)/40, 2))
	}
	return 0.9 - 0.3*math.Exp(-(nm-380)/90)
}

func sampled(kind int, from, to, step float64) *Spectrum {
	s := &Spectrum{}
	for w := from; w <= to; w += step {
		s.NM, s.R = append(s.NM, w), append(s.R, smooth(kind, w))
	}
	return s
}

// Other ranges and steps than 380–730 by 10: the figures that Resample's
// comment gives.
func TestResampleOtherRanges(t *testing.T) {
	for _, c := range []struct {
		from, to, step, limit float64
	}{
		{400, 700, 10, 0.3}, {380, 780, 5, 0.1}, {360, 740, 10, 1e-9}, {360, 760, 20, 0.5},
		{380, 730, 3.5, 0.1}, {400, 700, 20, 0.5}, {420, 680, 10, 0.6}, {340, 850, 1, 1e-9},
	} {
		for kind := range 4 {
			full, err := sampled(kind, 380, 730, 10).Resample()
			if err != nil {
				t.Fatal(err)
			}
			got, err := sampled(kind, c.from, c.to, c.step).Resample()
			if err != nil {
				t.Fatalf("%v: %v", c, err)
			}
			if d := cie.DeltaE00(full.Lab(), got.Lab()); d > c.limit {
				t.Errorf("%g–%g by %g, kind %d: ΔE00 %.3f, want at most %g", c.from, c.to, c.step, kind, d, c.limit)
			}
		}
	}
}

func TestResampleRefuses(t *testing.T) {
	for _, c := range []struct {
		s    *Spectrum
		want string
	}{
		{sampled(0, 430, 700, 10), "does not reach"},
		{sampled(0, 400, 670, 10), "does not reach"},
		{&Spectrum{}, "does not reach"},
		{sampled(0, 380, 740, 30), "gap from 410 to 440"},
	} {
		if _, err := c.s.Resample(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
	dark := sampled(0, 380, 730, 10)
	dark.R[3] = -0.2
	if _, err := dark.Resample(); err == nil || !strings.Contains(err.Error(), "far below 0") {
		t.Errorf("got %v", err)
	}
	dark.R[3] = -0.004 // noise of a dark sample
	r, err := dark.Resample()
	if err != nil || r[3] != 0 {
		t.Errorf("got %v, %v", r[3], err)
	}
}

func TestNewSpectrumOrderAndDoubles(t *testing.T) {
	s, err := newSpectrum([]float64{500, 400, 600, 500}, []float64{0.5, 0.4, 0.6, 0.502})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.NM) != 3 || s.NM[0] != 400 || s.NM[1] != 500 || s.NM[2] != 600 || math.Abs(s.R[1]-0.501) > 1e-12 {
		t.Errorf("got %v %v", s.NM, s.R)
	}
	if _, err := newSpectrum([]float64{500, 500}, []float64{0.5, 0.6}); err == nil {
		t.Error("two values of one wavelength: no error")
	}
	if _, err := newSpectrum([]float64{500}, []float64{math.NaN()}); err == nil {
		t.Error("not a number: no error")
	}
}

// One bad point must not spread beyond its neighbours.
func TestInterpolationStaysNear(t *testing.T) {
	s := &Spectrum{NM: []float64{380, 400, 420, 440, 460}, R: []float64{0.1, 0.1, 0.9, 0.1, 0.1}}
	for w := 380.0; w <= 460; w++ {
		if v := s.at(w); v < -0.31 || v > 1.31 {
			t.Errorf("%g nm: %g", w, v)
		}
	}
}
