package main

import (
	"math"
	"testing"

	"lyefast/internal/unit"
)

func TestParseSVRange(t *testing.T) {
	for text, want := range map[string][2]float64{
		"184-196": {184, 196}, "184 – 196": {184, 196}, "184 to 196": {184, 196}, "189.5—196,5 mg KOH/g": {189.5, 196.5}, "190-190": {190, 190},
	} {
		if low, high, err := parseSVRange(text); err != nil || low != want[0] || high != want[1] {
			t.Errorf("%q: got %v–%v, %v", text, low, high, err)
		}
	}
	for _, text := range []string{"", "190", "196-184", "184-196 %", "-184-196", "a-b", "184-", "1,000-2,000"} {
		if low, high, err := parseSVRange(text); err == nil {
			t.Errorf("%q gave %v–%v", text, low, high)
		}
	}
}

func TestParsePerKg(t *testing.T) {
	for text, want := range map[string]unit.GramsPerKg{"5 g/kg": 5, "0.5 %": 5, "2,5g/kg": 2.5, "0 g/kg": 0} {
		if got, err := parsePerKg(text); err != nil || got != want {
			t.Errorf("%q: got %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "5", "5 g", "-1 g/kg", "1 tsp/lb", "five g/kg"} {
		if got, err := parsePerKg(text); err == nil {
			t.Errorf("%q gave %v", text, got)
		}
	}
}

// Whatever a flag is given, it is a finite figure or an error.
func FuzzFlags(f *testing.F) {
	for _, s := range []string{"184-196", "184–196 mg KOH/g", "5 g/kg", "0,5 %", "1e400-2", "NaN", "to", "--", "1-2-3", "\u00a05 %"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if low, high, err := parseSVRange(text); err == nil && !(low <= high && low >= 0 && !math.IsInf(high, 0)) {
			t.Errorf("%q gave %v–%v", text, low, high)
		}
		if d, err := parsePerKg(text); err == nil && !(d >= 0 && !math.IsInf(float64(d), 0)) {
			t.Errorf("%q gave %v", text, d)
		}
	})
}
