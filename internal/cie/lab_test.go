package cie

import (
	"math"
	"strconv"
	"testing"

	"lyefast/internal/testkit"
)

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func near(a, b Lab, tol float64) bool {
	return math.Abs(a.L-b.L) <= tol && math.Abs(a.A-b.A) <= tol && math.Abs(a.B-b.B) <= tol
}

type conversion struct {
	hex      string
	d65, d50 Lab
}

// conversions are sRGB colours with their Lab for D65 and, after Bradford
// adaptation, for D50 (2°, whites from the chromaticities), computed with culori
// 4.0.2 (MIT) and agreeing with colorjs.io 0.7.1 (MIT) to 4.2e-5.
var conversions = []conversion{
	{"000000", Lab{0, 0, 0}, Lab{0, 0, 0}},
	{"ffffff", Lab{100, 0, 0}, Lab{100, 0, 0}},
	{"0a0a0a", Lab{2.7417, 0, 0}, Lab{2.7417, 0, 0}},
	{"808080", Lab{53.5850, 0, 0}, Lab{53.5850, 0, 0}},
	{"fff8e7", Lab{97.6983, -0.4971, 8.9900}, Lab{97.7876, 0.3178, 9.0699}},
	{"d9b98a", Lab{76.8517, 4.8805, 28.1284}, Lab{77.1363, 7.0314, 28.3879}},
	{"6b4226", Lab{32.1741, 14.7260, 24.1993}, Lab{32.4679, 16.0854, 24.5702}},
	{"e0708f", Lab{61.1514, 46.7464, 3.6414}, Lab{61.5380, 46.8137, 4.5212}},
	{"ff0000", Lab{53.2371, 80.0901, 67.2033}, Lab{54.2905, 80.8049, 69.8910}},
	{"00ff00", Lab{87.7355, -86.1816, 83.1866}, Lab{87.8185, -79.2711, 80.9946}},
	{"0000ff", Lab{32.3009, 79.1953, -107.8555}, Lab{29.5683, 68.2874, -112.0297}},
	{"2f5f8a", Lab{38.9386, -1.9367, -28.6728}, Lab{38.5105, -5.8003, -29.2444}},
}

func TestConversions(t *testing.T) { checkConversions(t, conversions) }

func TestConversionsOfTheTable(t *testing.T) {
	var all []conversion
	for _, r := range testkit.Table(t, testkit.Shared(t, "reference/lab-conversion-checks.csv")) {
		all = append(all, conversion{
			r["hex"],
			Lab{number(t, r["L_d65"]), number(t, r["a_d65"]), number(t, r["b_d65"])},
			Lab{number(t, r["L_d50"]), number(t, r["a_d50"]), number(t, r["b_d50"])},
		})
	}
	if len(all) != 40 {
		t.Fatalf("%d rows, want 40", len(all))
	}
	checkConversions(t, all)
}

// checkConversions allows 5e-4: values are printed to four decimals, and the
// reference rounds its matrices.
func checkConversions(t *testing.T, list []conversion) {
	t.Helper()
	for _, c := range list {
		got, err := ParseHex(c.hex)
		if err != nil || !near(got, c.d65, 5e-4) {
			t.Errorf("%s: %v (%v), want %v", c.hex, got, err, c.d65)
		}
		if d50 := got.To(D65, D50); !near(d50, c.d50, 5e-4) {
			t.Errorf("%s for D50: %v, want %v", c.hex, d50, c.d50)
		}
		if back := c.d50.To(D50, D65); !near(back, c.d65, 1e-3) {
			t.Errorf("%s from D50: %v, want %v", c.hex, back, c.d65)
		}
		if c.d65.Hex() != "#"+c.hex {
			t.Errorf("%v is %s, want #%s", c.d65, c.d65.Hex(), c.hex)
		}
	}
}

func TestLabArithmetic(t *testing.T) {
	for _, p := range pairs(2000) {
		c := p[0]
		if back := c.LCh().Lab(); !near(back, c, 1e-11) {
			t.Fatalf("%v comes back from LCh as %v", c, back)
		}
		if h := c.LCh().H; h < 0 || h >= 360 {
			t.Fatalf("%v has hue %v", c, h)
		}
		if back := c.XYZ(D50).Lab(D50); !near(back, c, 1e-9) {
			t.Fatalf("%v comes back from XYZ as %v", c, back)
		}
		if got := c.Add(p[1]).Sub(p[1]).Scale(2).Scale(0.5); !near(got, c, 1e-11) {
			t.Fatalf("%v comes back from arithmetic as %v", c, got)
		}
	}
	// A hue a hair below 0 must not come out as 360.
	if h := (Lab{50, 10, -1e-300}).LCh().H; h < 0 || h >= 360 {
		t.Errorf("hue %v, want 0 ≤ h < 360", h)
	}
	if h := (Lab{50, 0, 0}).LCh(); h.H != 0 || h.C != 0 {
		t.Errorf("a grey is %v", h)
	}
	for _, c := range []Lab{{math.NaN(), 0, 0}, {0, math.Inf(1), 0}, {0, math.Inf(1), math.Inf(-1)}} {
		if c.Finite() {
			t.Errorf("%v is called finite", c)
		}
	}
	if !(Lab{50, -3, 4}).Finite() {
		t.Error("an ordinary colour is called not finite")
	}
}
