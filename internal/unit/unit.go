// Package unit gives the quantities of the bench a type each, so that grams
// cannot stand where a percentage belongs, and reads them as makers write them:
// "1000 g", "1 kg", "2.5 lb", "8 oz", "5 %", "30 °C", "25 x 8 x 7 cm".
//
// A number is never taken without its unit: the parsers refuse a bare one. Both
// a decimal point and a decimal comma are understood; "1,000" is refused, since
// it means one thing to half the world and another to the rest.
package unit

// Grams is a mass in g.
type Grams float64

// Percent is a share in hundredths: 3 means 3 %, never 0.03.
type Percent float64

// Of gives that share of a mass.
func (p Percent) Of(g Grams) Grams { return g * Grams(p) / 100 }

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
