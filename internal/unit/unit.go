// Package unit gives the quantities of the bench a type each, so that grams
// cannot stand where a percentage belongs, and reads them as makers write them:
// "1000 g", "1 kg", "2.5 lb", "8 oz", "5 %", "30 °C", "25 x 8 x 7 cm".
//
// A number is never taken without its unit: the parsers refuse a bare one. Both
// a decimal point and a decimal comma are understood; "1,000" is refused, since
// it means one thing to half the world and another to the rest.
package unit

import (
	"math"
	"strconv"
	"strings"
)

// Grams is a mass in g.
type Grams float64

// String writes a mass as a bench scale shows it: "1.24 g" below 10 g, "12.4 g" and
// "124.0 g" below 1000 g, "1000 g" from there on. What rounds to nothing is not
// written as nothing: "< 0.01 g".
func (g Grams) String() string {
	if g > 0 && g < 0.005 {
		return "< 0.01 g"
	}
	v, decimals := float64(g), 2
	// The limits are where the figure would round up to the next form.
	switch size := math.Abs(v); {
	case size >= 999.95:
		decimals = 0
	case size >= 9.995:
		decimals = 1
	}
	return fixed(v, decimals) + " g"
}

// Percent is a share in hundredths: 3 means 3 %, never 0.03.
type Percent float64

// Of gives that share of a mass.
func (p Percent) Of(g Grams) Grams { return g * Grams(p) / 100 }

// String writes "3 %", "12.5 %" or "0.25 %": a tenth from 10 % up, a hundredth from
// 1 %, a thousandth below, without trailing zeros.
func (p Percent) String() string {
	decimals := 3
	switch size := math.Abs(float64(p)); {
	case size >= 9.995:
		decimals = 1
	case size >= 0.9995:
		decimals = 2
	}
	return trim(fixed(float64(p), decimals)) + " %"
}

// GramsPerKg is a dose in g per kg of oils.
type GramsPerKg float64

// Of gives the mass of a dose in the given oils.
func (d GramsPerKg) Of(oils Grams) Grams { return oils * Grams(d) / 1000 }

// Celsius is a temperature in °C.
type Celsius float64

// Millilitres is a volume in ml.
type Millilitres float64

// Mass conversions, exact by definition (international yard and pound agreement, 1959).
const (
	GramsPerPound = 453.59237
	GramsPerOunce = GramsPerPound / 16
)

// fixed writes v with that many decimals, and no minus before a zero.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// trim takes trailing zeros off the decimals.
func trim(s string) string {
	if strings.Contains(s, ".") {
		return strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
