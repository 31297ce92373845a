package unit

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// check asks a reader for the values in good, and for the words in bad of what it refuses.
func check[T ~float64](t *testing.T, read func(string) (T, error), good map[string]float64, bad map[string]string) {
	t.Helper()
	for s, want := range good {
		if got, err := read(s); err != nil || math.Abs(float64(got)-want) > 1e-12*math.Abs(want) {
			t.Errorf("%q: %v, %v, want %v", s, float64(got), err, want)
		}
	}
	for s, says := range bad {
		if got, err := read(s); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, %v, want %q", s, float64(got), err, says)
		}
	}
}

func TestParseNumber(t *testing.T) {
	check(t, ParseNumber, map[string]float64{
		"1": 1, "2.5": 2.5, "2,5": 2.5, " -3.25 ": -3.25, "−3": -3, "+4": 4, "0,125": 0.125, ".5": 0.5, "5.": 5,
		"1 000": 1000, "1\u00a0000": 1000, "12\u202f345,6": 12345.6, "1 234 567": 1234567, "1.000": 1,
		"½": 0.5, "1½": 1.5, "1 ½": 1.5, "1 1/2": 1.5, "3/4": 0.75, "2⅓": 2 + 1.0/3, "-1/2": -0.5, "1⁄4": 0.25,
	}, map[string]string{
		"": "no number given", " ": "no number given", "\u00a0": "no number given",
		"1,000":         `"1,000" could be a thousand or a decimal; write 1000 or 1.000`,
		"-12,500":       "write -12500 or -12.500",
		"1,000,000":     "write 1000000",
		"1,000.5":       "write 1000.5",
		"1.000,5":       "write 1000.5",
		"12.345.678,90": "write 12345678.90",
		"NaN":           "is not a number", "Inf": "is not a number", "1e3": "is not a number", "0x10": "is not a number",
		"1_000": "is not a number", "--1": "is not a number", "1-2": "is not a number", "1 00": "is not a number",
		"0 500": "is not a number", "1.2.3": "is not a number", ".": "is not a number", "-": "is not a number", "½½": "is not a number",
		"3/0": "fraction below one", "5/4": "fraction below one", "٣": "is not a number", "five": "is not a number",
		"2000000000":             "is too large",
		strings.Repeat("1", 70):  "is too large",
		strings.Repeat("9", 400): "is too long",
	})
}

func TestParseMass(t *testing.T) {
	check(t, ParseMass, map[string]float64{
		"1000 g": 1000, "1 kg": 1000, "250 mg": 0.25, "1 000 g": 1000, "1\u202f000 g": 1000, "12,5 g": 12.5, "1.2kg": 1200,
		"½ kg": 500, "0 g": 0, "20 GRAMS": 20, "-0 g": 0,
		// 1 lb = 453.59237 g and 16 oz, by the agreement of 1959.
		"1 lb": 453.59237, "2.5 lbs": 2.5 * 453.59237, "8 oz": 226.796185, "8 oz.": 226.796185,
		"2 lb 4 oz": 2.25 * 453.59237, "1 lb. 8½ oz": 453.59237 * (1 + 8.5/16), "1 pound, 2 ounces": 453.59237 * 1.125,
	}, map[string]string{
		"1000": `has no unit; write it like "1000 g"`, "5 %": "is not a mass", "5 ml": "is not a mass", "-5 g": "is negative",
		"8 fl oz": "is not a mass", "g": "no number given", "1,000 g": "could be a thousand", "5 g/kg": "is not a mass",
		"1 2 g": "is not a number", "2 lb 20 oz": "more than 15 ounces", "lb 4 oz": "no number given", "-2 lb 4 oz": "is negative",
		"5 g 3 g": "is not a mass", "1e3 g": "is not a mass", strings.Repeat("1 g ", 30): "too long",
	})
}

func TestParsePercent(t *testing.T) {
	check(t, ParsePercent, map[string]float64{
		"5 %": 5, "5%": 5, "3,5\u00a0%": 3.5, "-2 %": -2, "½ %": 0.5, "5 percent": 5, "5 per cent": 5, "5 pct.": 5,
	}, map[string]string{
		"0.05": `has no unit; write it like "0.05 %"`, "5 ‰": "is not a percentage", "5 g": "is not a percentage",
		"% 5": "no number given", "5 % %": "is not a percentage", "3–5 %": "is not a percentage", "3-5 %": "is not a number",
	})
}

func TestParseCelsius(t *testing.T) {
	check(t, ParseCelsius, map[string]float64{
		"35 °C": 35, "35C": 35, "35 deg C": 35, "35℃": 35, "35 ºC": 35, "−5 °C": -5, "32 °F": 0, "212 F": 100, "95 °f": 35,
	}, map[string]string{
		"35": "is not a temperature", "35 K": "is not a temperature", "35 °": "is not a temperature", "-300 °C": "below absolute zero",
	})
}

func TestParseLength(t *testing.T) {
	check(t, ParseLength, map[string]float64{
		"25 cm": 25, "250 mm": 25, "10 in": 25.4, `2½"`: 6.35, "0.25 m": 25, "3 inches": 7.62,
	}, map[string]string{
		"25": `has no unit; write it like "25 cm"`, "25 ft": "is not a length", "0 cm": "more than zero", "-1 cm": "more than zero",
	})
}

func TestParseBox(t *testing.T) {
	check(t, ParseBox, map[string]float64{
		"25 x 8 x 7 cm": 1400, "25x8x7cm": 1400, "25 × 8 × 7 cm": 1400, "250 mm X 8 cm * 7 cm": 1400, "10 x 3½ x 2 in": 70 * 2.54 * 2.54 * 2.54,
	}, map[string]string{
		"25 x 8 cm": "is not the inside of a mould", "25 x 8 x 7": `write it like "25 x 8 x 7 cm"`, "25 cm x 8 x 7": `write it like "25 cm x 8 x 7 cm"`,
		"25 xx 8 x 7 cm": "is not the inside of a mould", "25 x  x 7 cm": "no number given", "25 x 8 x 7 g": "is not a length",
		"25 x 0 x 7 cm": "more than zero", "1000000 x 1000000 x 1000000 cm": "is too large", "": "is not the inside of a mould", "25|8|7 cm": "is not the inside",
	})
}

func TestSplit(t *testing.T) {
	for s, want := range map[string]struct {
		v float64
		u string
	}{
		"1 tsp/lb": {1, "tsp/lb"}, "½ TSP / kg": {0.5, "tsp/kg"}, "1/2 tsp/lb": {0.5, "tsp/lb"}, "3 g/kg": {3, "g/kg"},
		"3/kg": {3, "/kg"}, "7": {7, ""}, "2 Tsp.": {2, "tsp"},
	} {
		if v, u, err := Split(s); err != nil || v != want.v || u != want.u {
			t.Errorf("%q: %v, %q, %v", s, v, u, err)
		}
	}
}

func TestOf(t *testing.T) {
	if g := Percent(3).Of(1200); g != 36 {
		t.Errorf("3 %% of 1200 g is %v", g)
	}
	if g := GramsPerKg(3).Of(1500); g != 4.5 {
		t.Errorf("3 g/kg in 1500 g is %v", g)
	}
}

func TestString(t *testing.T) {
	for g, want := range map[Grams]string{
		0: "0.00 g", 0.003: "< 0.01 g", 0.005: "0.01 g", 1.24: "1.24 g", 9.994: "9.99 g", 9.996: "10.0 g", 12.4: "12.4 g", 124: "124.0 g",
		999.94: "999.9 g", 999.96: "1000 g", 1000: "1000 g", 12345.6: "12346 g", -3.2: "-3.20 g", -0.001: "0.00 g",
	} {
		if got := g.String(); got != want {
			t.Errorf("%v is written %q, want %q", float64(g), got, want)
		}
	}
	for p, want := range map[Percent]string{
		0: "0 %", 3: "3 %", 3.5: "3.5 %", 12.5: "12.5 %", 0.25: "0.25 %", 0.0996: "0.1 %", 33.333: "33.3 %", 99.96: "100 %", 1.234: "1.23 %",
		0.9996: "1 %", -4: "-4 %", -0.0001: "0 %", 100: "100 %",
	} {
		if got := p.String(); got != want {
			t.Errorf("%v is written %q, want %q", float64(p), got, want)
		}
	}
}

// FuzzParse asks of every reader that it gives a finite value or says why not, and
// that what it read it reads again when written plainly.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"1000 g", "1 000 g", "½ kg", "1 1/2 tsp/lb", "2 lb 4 oz", "−5 °C", "25 x 8 x 7 cm", "1,000", "1e9 g", "5 %", "\xff g", "1/0 g",
		"9999999999 kg", "x", "xx", "lb oz", "0x1p4 g", "1\u00a0000,5\u202fg", "٣ g",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		again := func(v float64, unit string, read func(string) (float64, error)) {
			if math.IsNaN(v) || math.Abs(v) > 1e12 {
				t.Fatalf("%q gives %v", s, v)
			}
			if math.Abs(v) > maxNumber {
				return // in kg or lb it passed, in g it is too large
			}
			text := strconv.FormatFloat(v, 'f', 12, 64) + unit
			if back, err := read(text); err != nil || math.Abs(back-v) > 1e-9*(1+math.Abs(v)) {
				t.Fatalf("%q gives %v, %q gives %v (%v)", s, v, text, back, err)
			}
		}
		if v, err := ParseNumber(s); err == nil {
			again(v, "", ParseNumber)
		}
		if v, err := ParseMass(s); err == nil {
			if v < 0 {
				t.Fatalf("%q gives %v", s, v)
			}
			again(float64(v), " g", func(s string) (float64, error) { g, err := ParseMass(s); return float64(g), err })
		}
		if v, err := ParsePercent(s); err == nil {
			again(float64(v), "%", func(s string) (float64, error) { p, err := ParsePercent(s); return float64(p), err })
		}
		if v, err := ParseCelsius(s); err == nil {
			again(float64(v), " °C", func(s string) (float64, error) { c, err := ParseCelsius(s); return float64(c), err })
		}
		if v, err := ParseBox(s); err == nil && !(v > 0 && v <= maxNumber) {
			t.Fatalf("%q gives %v", s, v)
		}
		if v, err := ParseLength(s); err == nil && !(v > 0) {
			t.Fatalf("%q gives %v", s, v)
		}
	})
}
