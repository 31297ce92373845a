package main

import (
	"math"
	"testing"
)

func TestParsePrice(t *testing.T) {
	for in, want := range map[string]float64{"4.20/kg": 0.0042, "4,20 / 1 kg": 0.0042, "6/50 g": 0.12, "0/kg": 0, "3/lb": 3 / 453.59237} {
		if got, err := parsePrice(in); err != nil || math.Abs(got-want) > 1e-12 {
			t.Errorf("%q: %v, %v; want %v", in, got, err, want)
		}
	}
	for _, in := range []string{"", "4.20", "/kg", "4/", "4/0 g", "-4/kg", "4/kg/kg", "4/cup", "1e300/kg", "NaN/kg"} {
		if got, err := parsePrice(in); err == nil {
			t.Errorf("%q is taken for %v", in, got)
		}
	}
}

// A price is refused or is money per gram that can be reckoned with.
func FuzzParsePrice(f *testing.F) {
	for _, s := range []string{"4.20/kg", "6/50 g", "4,20 / 1 kg", "1e300/kg", "4/0.000000001 mg", "∞/kg", "4/\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := parsePrice(s); err == nil && (v < 0 || math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Errorf("%q is %v", s, v)
		}
	})
}

func TestParseCure(t *testing.T) {
	for in, want := range map[string]int{"42d": 42, "6 weeks": 42, " 6W ": 42, "1 day": 1} {
		if got, err := parseCure(in); err != nil || got != want {
			t.Errorf("%q: %d, %v", in, got, err)
		}
	}
	for _, in := range []string{"", "42", "d", "0d", "-3d", "9999999999999999999d", "4000d", "6 months"} {
		if got, err := parseCure(in); err == nil {
			t.Errorf("%q is taken for %d days", in, got)
		}
	}
}
