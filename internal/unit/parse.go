package unit

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

var thousands = regexp.MustCompile(`^[+-]?\d{1,3}(,\d{3})+$`)

// ParseNumber reads a plain decimal with a point or a comma. "1,000" is refused
// as ambiguous, and so are NaN, infinities, hexadecimal and exponents.
func ParseNumber(s string) (float64, error) {
	t := strings.TrimSpace(s)
	if t == "" {
		return 0, fmt.Errorf("no number given")
	}
	if thousands.MatchString(t) {
		return 0, fmt.Errorf("%q could be a thousand or a decimal; write %s or %s",
			s, strings.ReplaceAll(t, ",", ""), strings.Replace(t, ",", ".", 1))
	}
	for _, r := range t {
		if (r < '0' || r > '9') && r != '.' && r != ',' && r != '-' && r != '+' {
			return 0, fmt.Errorf("%q is not a number", s)
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(t, ",", ".", 1), 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return v, nil
}

// split parts "12.5 g/kg" into its number and its unit; the unit comes back in
// lower case without blanks.
func split(s string) (float64, string, error) {
	t := strings.TrimSpace(strings.ReplaceAll(s, " ", " "))
	i := strings.IndexFunc(t, func(r rune) bool {
		return (r < '0' || r > '9') && r != '.' && r != ',' && r != '-' && r != '+' && r != ' '
	})
	if i < 0 {
		i = len(t)
	}
	v, err := ParseNumber(t[:i])
	if err != nil {
		return 0, "", err
	}
	return v, strings.ToLower(strings.Join(strings.Fields(t[i:]), "")), nil
}

// Split parts "1 tsp/lb" into its number and its unit, the unit in lower case
// without blanks, for quantities that this package does not know.
func Split(s string) (float64, string, error) { return split(s) }

// ParseMass reads "1000 g", "1 kg", "250 mg", "2 lb" or "8 oz". It must not be
// negative.
func ParseMass(s string) (Grams, error) {
	v, u, err := split(s)
	if err != nil {
		return 0, err
	}
	k, ok := map[string]float64{
		"g": 1, "gram": 1, "grams": 1, "gr": 1, "kg": 1000, "mg": 0.001,
		"lb": GramsPerPound, "lbs": GramsPerPound, "oz": GramsPerOunce,
	}[u]
	switch {
	case u == "":
		return 0, fmt.Errorf("%q has no unit; write it like \"%s g\"", s, strings.TrimSpace(s))
	case !ok:
		return 0, fmt.Errorf("%q is not a mass; use g, kg, oz or lb", s)
	case v < 0:
		return 0, fmt.Errorf("%q is negative", s)
	}
	return Grams(v * k), nil
}

// ParsePercent reads "5 %" or "5%"; per mille and plain shares are refused. Any
// finite value passes: the caller knows the range.
func ParsePercent(s string) (Percent, error) {
	v, u, err := split(s)
	if err != nil {
		return 0, err
	}
	if u != "%" && u != "percent" && u != "pct" {
		if u == "" {
			return 0, fmt.Errorf("%q has no unit; write it like \"%s %%\"", s, strings.TrimSpace(s))
		}
		return 0, fmt.Errorf("%q is not a percentage; write it like \"5 %%\"", s)
	}
	return Percent(v), nil
}

// ParseCelsius reads "35 °C", "35 C" or "95 °F".
func ParseCelsius(s string) (Celsius, error) {
	v, u, err := split(s)
	if err != nil {
		return 0, err
	}
	switch strings.TrimPrefix(u, "°") {
	case "c":
		return Celsius(v), nil
	case "f":
		return Celsius((v - 32) / 1.8), nil
	}
	return 0, fmt.Errorf("%q is not a temperature; write it like \"35 °C\"", s)
}

// ParseLength reads "25 cm", "250 mm" or "10 in" and gives centimetres, more than 0.
func ParseLength(s string) (cm float64, err error) {
	v, u, err := split(s)
	if err != nil {
		return 0, err
	}
	k, ok := map[string]float64{"cm": 1, "mm": 0.1, "in": 2.54, "inch": 2.54}[u]
	if !ok {
		return 0, fmt.Errorf("%q is not a length; use cm, mm or in", s)
	}
	if v <= 0 {
		return 0, fmt.Errorf("%q must be more than zero", s)
	}
	return v * k, nil
}

// ParseBox reads the inside of a mould, "25 x 8 x 7 cm", and gives its volume in ml.
func ParseBox(s string) (Millilitres, error) {
	parts := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == 'x' || r == '×' || r == '*' })
	if len(parts) != 3 {
		return 0, fmt.Errorf("%q is not a mould; write it like \"25 x 8 x 7 cm\"", s)
	}
	_, u, err := split(parts[2])
	if err != nil {
		return 0, err
	}
	vol := 1.0
	for _, p := range parts {
		v, own, err := split(p)
		if err != nil {
			return 0, err
		}
		if own == "" {
			own = u
		}
		cm, err := ParseLength(strconv.FormatFloat(v, 'f', -1, 64) + own)
		if err != nil {
			return 0, err
		}
		vol *= cm
	}
	return Millilitres(vol), nil
}
