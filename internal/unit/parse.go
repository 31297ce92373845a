package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lyefast/internal/pattern"
)

// Bounds on what is taken for a quantity.
const (
	maxText   = 80  // runes
	maxNumber = 1e9 // no figure at a bench comes near
)

// quantities are typed, or pasted from pages and spreadsheets, with all sorts of
// blanks, minus signs and fractions.
var clean = strings.NewReplacer(
	"\t", " ", "\u00a0", " ", "\u2007", " ", "\u2009", " ", "\u202f", " ", // no-break, figure and thin spaces
	"−", "-",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅓", " 1/3", "⅔", " 2/3", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
	"⁄", "/", // fraction slash
	"℃", "°C", "℉", "°F", "º", "°", "˚", "°",
)

var (
	decimal  = pattern.New(`^[+-]?(\d+[.,]?\d*|[.,]\d+)$`)
	grouped  = pattern.New(`^[+-]?[1-9]\d{0,2}( \d{3})+([.,]\d+)?$`)
	fraction = pattern.New(`^([+-]?)(?:(\d+) +)?(\d{1,2})/(\d{1,2})$`)
	// A comma before three digits is a thousand here and a decimal there, unless
	// nothing but a 0 stands before it. Comma and point together are no clearer.
	thousands = pattern.New(`^[+-]?[1-9]\d{0,2}(,\d{3})+$`)
	mixed     = pattern.New(`^[+-]?[1-9]\d{0,2}(?:(?:,\d{3})+\.\d+|(?:\.\d{3})+,\d+)$`)
)

// ParseNumber reads a decimal with a point or a comma ("2.5", "2,5"), digits in
// groups of three parted by blanks ("1 000"), or a fraction ("½", "1 1/2"). "1,000"
// is refused as ambiguous, and so are NaN, infinities, hexadecimal, exponents and
// anything beyond a thousand million.
func ParseNumber(s string) (float64, error) {
	if len(s) > 4*maxText {
		return 0, fmt.Errorf("%s is too long for a number", quote(s))
	}
	return parseNumber(s, strings.TrimSpace(clean.Replace(s)))
}

// parseNumber reads t, the cleaned part of what was typed as s.
func parseNumber(s, t string) (float64, error) {
	var v float64
	switch m := fraction.FindStringSubmatch(t); {
	case t == "":
		return 0, fmt.Errorf("no number given")
	case m != nil:
		top, _ := strconv.Atoi(m[3])
		bottom, _ := strconv.Atoi(m[4])
		if top < 1 || top >= bottom {
			return 0, fmt.Errorf("%s is not a fraction below one; write it as a decimal", quote(s))
		}
		whole, err := strconv.ParseFloat("0"+m[2], 64)
		if err != nil {
			return 0, fmt.Errorf("%s is too large", quote(s))
		}
		if v = whole + float64(top)/float64(bottom); m[1] == "-" {
			v = -v
		}
	case thousands.MatchString(t):
		first, _, _ := strings.Cut(t, ",")
		if strings.Count(t, ",") > 1 {
			return 0, fmt.Errorf("%s has commas between its digits; write %s", quote(s), strings.ReplaceAll(t, ",", ""))
		}
		return 0, fmt.Errorf("%s could be a thousand or a decimal; write %s or %s.%s",
			quote(s), strings.ReplaceAll(t, ",", ""), first, t[len(first)+1:])
	case mixed.MatchString(t):
		last := strings.LastIndexAny(t, ".,")
		return 0, fmt.Errorf("%s has both points and commas; write %s.%s", quote(s),
			strings.NewReplacer(".", "", ",", "").Replace(t[:last]), t[last+1:])
	case decimal.MatchString(t) || grouped.MatchString(t):
		t = strings.Replace(strings.ReplaceAll(t, " ", ""), ",", ".", 1)
		var err error
		if v, err = strconv.ParseFloat(t, 64); err != nil {
			return 0, fmt.Errorf("%s is not a number", quote(s))
		}
	default:
		return 0, fmt.Errorf("%s is not a number", quote(s))
	}
	if math.Abs(v) > maxNumber {
		return 0, fmt.Errorf("%s is too large", quote(s))
	}
	if v == 0 {
		v = 0 // not −0
	}
	return v, nil
}

// Split parts "1 tsp/lb" into its number and its unit, the unit in lower case
// without blanks, for quantities that this package does not know. The unit is ""
// where there is none.
func Split(s string) (value float64, unit string, err error) {
	if len([]rune(s)) > maxText {
		return 0, "", fmt.Errorf("%s is too long for a quantity", quote(s))
	}
	t := strings.TrimSpace(clean.Replace(s))
	end := 0
	for end < len(t) && strings.IndexByte("0123456789.,+- /", t[end]) >= 0 {
		if t[end] == '/' && (end+1 == len(t) || t[end+1] < '0' || t[end+1] > '9') {
			break // "2 /kg": a unit, not a fraction
		}
		end++
	}
	if value, err = parseNumber(s, strings.TrimSpace(t[:end])); err != nil {
		return 0, "", err
	}
	unit = strings.ToLower(strings.Join(strings.Fields(t[end:]), ""))
	return value, strings.TrimSuffix(unit, "."), nil
}

var grams = map[string]float64{
	"g": 1, "gr": 1, "gram": 1, "grams": 1, "gramme": 1, "grammes": 1,
	"kg": 1000, "kilo": 1000, "kilos": 1000, "kilogram": 1000, "kilograms": 1000, "mg": 0.001,
	"lb": GramsPerPound, "lbs": GramsPerPound, "pound": GramsPerPound, "pounds": GramsPerPound,
	"oz": GramsPerOunce, "ounce": GramsPerOunce, "ounces": GramsPerOunce,
}

var poundsAndOunces = pattern.New(`(?i)^(.*?)(?:lbs?|pounds?)\.?,?\s*(\d.*?)\s*(?:oz|ounces?)\.?$`)

// ParseMass reads "1000 g", "1 kg", "250 mg", "2 lb", "8 oz" or "2 lb 4 oz". It must
// not be negative.
func ParseMass(s string) (Grams, error) {
	if m := poundsAndOunces.FindStringSubmatch(clean.Replace(strings.TrimSpace(s))); m != nil && len(s) <= maxText {
		lb, err := ParseMass(m[1] + " lb")
		if err != nil {
			return 0, err
		}
		oz, err := ParseMass(m[2] + " oz")
		if err != nil {
			return 0, err
		}
		if oz >= GramsPerPound {
			return 0, fmt.Errorf("%s has more than 15 ounces beside its pounds", quote(s))
		}
		return lb + oz, nil
	}
	v, u, err := Split(s)
	if err != nil {
		return 0, err
	}
	k, ok := grams[u]
	switch {
	case u == "":
		return 0, noUnit(s, "g")
	case !ok:
		return 0, fmt.Errorf("%s is not a mass; use g, kg, oz or lb", quote(s))
	case v < 0:
		return 0, fmt.Errorf("%s is negative", quote(s))
	}
	return Grams(v * k), nil
}

// ParsePercent reads "5 %" or "5%"; per mille and plain shares are refused. Any
// finite value passes: the caller knows the range.
func ParsePercent(s string) (Percent, error) {
	v, u, err := Split(s)
	switch {
	case err != nil:
		return 0, err
	case u == "":
		return 0, noUnit(s, "%")
	case u != "%" && u != "percent" && u != "pct":
		return 0, fmt.Errorf("%s is not a percentage; write it like \"5 %%\"", quote(s))
	}
	return Percent(v), nil
}

// ParseCelsius reads "35 °C", "35 C", "35 deg C" or "95 °F".
func ParseCelsius(s string) (Celsius, error) {
	v, u, err := Split(s)
	if err != nil {
		return 0, err
	}
	switch strings.TrimPrefix(strings.TrimPrefix(u, "°"), "deg") {
	case "c", "celsius":
	case "f", "fahrenheit":
		v = (v - 32) / 1.8
	default:
		return 0, fmt.Errorf("%s is not a temperature; write it like \"35 °C\"", quote(s))
	}
	if v < -273.15 {
		return 0, fmt.Errorf("%s is below absolute zero", quote(s))
	}
	return Celsius(v), nil
}

var centimetres = map[string]float64{"cm": 1, "mm": 0.1, "m": 100, "in": 2.54, "inch": 2.54, "inches": 2.54, `"`: 2.54}

// ParseLength reads "25 cm", "250 mm" or "10 in" and gives centimetres, more than 0.
func ParseLength(s string) (cm float64, err error) {
	v, u, err := Split(s)
	if err != nil {
		return 0, err
	}
	return length(s, v, u)
}

func length(s string, v float64, u string) (cm float64, err error) {
	k, ok := centimetres[u]
	switch {
	case u == "":
		return 0, noUnit(s, "cm")
	case !ok:
		return 0, fmt.Errorf("%s is not a length; use cm, mm or in", quote(s))
	case v <= 0:
		return 0, fmt.Errorf("%s must be more than zero", quote(s))
	}
	return v * k, nil
}

// ParseBox reads the inside of a mould, "25 x 8 x 7 cm", and gives its volume in
// ml. A side without a unit has that of the last.
func ParseBox(s string) (Millilitres, error) {
	sides := strings.Split(strings.NewReplacer("X", "x", "×", "x", "*", "x").Replace(s), "x")
	if len(sides) != 3 {
		return 0, fmt.Errorf("%s is not the inside of a mould; write it like \"25 x 8 x 7 cm\"", quote(s))
	}
	_, last, err := Split(sides[2])
	switch {
	case err != nil:
		return 0, fmt.Errorf("%s: %w", quote(s), err)
	case last == "":
		return 0, noUnit(s, "cm")
	}
	volume := 1.0
	for _, side := range sides {
		v, u, err := Split(side)
		if err == nil {
			if u == "" {
				u = last
			}
			v, err = length(strings.TrimSpace(side), v, u)
		}
		if err != nil {
			return 0, fmt.Errorf("%s: %w", quote(s), err)
		}
		volume *= v
	}
	if volume > maxNumber {
		return 0, fmt.Errorf("%s is too large", quote(s))
	}
	return Millilitres(volume), nil
}

func noUnit(s, u string) error {
	return fmt.Errorf("%s has no unit; write it like \"%s %s\"", quote(s), strings.TrimSpace(s), u)
}

// quote quotes what was typed, cut to a length fit for a message.
func quote(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		return strconv.Quote(string(r[:most])) + " …"
	}
	return strconv.Quote(s)
}
