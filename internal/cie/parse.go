package cie

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// maxColourText bounds what is taken for a colour, in bytes.
const maxColourText = 100

// Check reports whether a colour lies where measured colours lie: L* 0–100, a* and
// b* within ±150. The error names the coordinate.
func (c Lab) Check() error {
	if !(c.L >= 0 && c.L <= 100) {
		return fmt.Errorf("L* is 0–100, got %s", plain(c.L))
	}
	for _, v := range []struct {
		name  string
		value float64
	}{{"a*", c.A}, {"b*", c.B}} {
		if !(v.value >= -150 && v.value <= 150) {
			return fmt.Errorf("%s is -150 to 150, got %s", v.name, plain(v.value))
		}
	}
	return nil
}

// ParseLab reads L*, a*, b* as "62.1,-3.2,14", "62.1 -3.2 14" or "62.1; -3.2; 14".
// A decimal comma is understood between semicolons or blanks ("62,1 -3,2 14").
// Values outside the bounds of [Lab.Check] are refused, with a suggestion where a
// decimal point seems to have been lost.
func ParseLab(s string) (Lab, error) {
	f, v, err := triple(s, "a Lab colour", "62.1,-3.2,14")
	if err != nil {
		return Lab{}, err
	}
	c := Lab{v[0], v[1], v[2]}
	if err := c.Check(); err != nil {
		return Lab{}, fmt.Errorf("%w%s", err, lostPoint(f, v))
	}
	return c, nil
}

// lostPoint suggests "did you mean 62.4?" where one whole number of the triple is
// out of bounds and a tenth of it is not.
func lostPoint(f [3]string, v [3]float64) string {
	for i, limit := range []struct{ low, high float64 }{{0, 100}, {-150, 150}, {-150, 150}} {
		if v[i] >= limit.low && v[i] <= limit.high {
			continue
		}
		if strings.ContainsAny(f[i], ".,") || v[i]/10 < limit.low || v[i]/10 > limit.high {
			return ""
		}
		return fmt.Sprintf("; did you mean %s?", plain(v[i]/10))
	}
	return ""
}

// ParseColor reads a colour as sRGB hex, with "#" or of exactly six digits, or as
// the L*, a*, b* that [ParseLab] reads.
func ParseColor(s string) (Lab, error) {
	t := strings.TrimSpace(s)
	if strings.HasPrefix(t, "#") || len(t) == 6 && isHex(t) {
		return ParseHex(t)
	}
	if t == "" || !strings.ContainsAny(t, ",; \t\u00a0") {
		return Lab{}, fmt.Errorf("%s is not a colour; write it like #efe0c4 or 62.1,-3.2,14", quote(s))
	}
	return ParseLab(t)
}

func isHex(s string) bool {
	for _, r := range s {
		if !strings.ContainsRune("0123456789abcdefABCDEF", r) {
			return false
		}
	}
	return true
}

// ParseXYZ reads X, Y, Z, separated as for [ParseLab], on the scale where the
// perfect diffuser has Y = 100, and gives them on the scale of 1. A triple that
// never passes 1.2 is refused, unless it is 0,0,0: it could be a near black, and is
// much more likely to be on the scale of 1.
func ParseXYZ(s string) (XYZ, error) {
	_, v, err := triple(s, "an XYZ colour", "52.1,54.0,40.3")
	if err != nil {
		return XYZ{}, err
	}
	top := max(v[0], v[1], v[2])
	for i, limit := range []struct {
		name string
		high float64
	}{{"X", 130}, {"Y", 100}, {"Z", 130}} {
		if v[i] < 0 || v[i] > limit.high {
			return XYZ{}, fmt.Errorf("%s is 0–%g on the scale where white has Y 100, got %s", limit.name, limit.high, plain(v[i]))
		}
	}
	if top > 0 && top <= 1.2 {
		return XYZ{}, fmt.Errorf("%s is either on the scale where white has Y 1 or almost black; XYZ is read with white at Y 100, so write %s,%s,%s for the former, or give the Lab values",
			quote(s), plain(100*v[0]), plain(100*v[1]), plain(100*v[2]))
	}
	return XYZ{v[0] / 100, v[1] / 100, v[2] / 100}, nil
}

// triple parts three numbers and gives each as text and value.
func triple(s, what, example string) (f [3]string, v [3]float64, err error) {
	refuse := func(why string) error {
		return fmt.Errorf("%s is not %s: %s; write it like %s", quote(s), what, why, example)
	}
	if len(s) > maxColourText {
		return f, v, refuse("too long")
	}
	t := strings.Map(func(r rune) rune {
		switch r {
		case '−': // minus sign
			return '-'
		case '\t', '\u00a0', '\u2009', '\u202f': // no-break and thin spaces
			return ' '
		}
		return r
	}, s)

	var parts []string
	decimalComma := false
	switch blanks := strings.Fields(t); {
	case strings.Contains(t, ";"):
		parts = strings.Split(t, ";")
		decimalComma = true
	case len(blanks) == 3: // "62,1 -3,2 14", or "62.1, -3.2, 14"
		parts = blanks
		if strings.HasSuffix(parts[0], ",") && strings.HasSuffix(parts[1], ",") {
			parts[0], parts[1] = parts[0][:len(parts[0])-1], parts[1][:len(parts[1])-1]
		}
		decimalComma = true
	default:
		parts = strings.Split(t, ",")
	}
	if len(parts) != 3 {
		if strings.Count(t, ",") > 2 {
			return f, v, refuse("with decimal commas the numbers must be parted by ; or a blank")
		}
		return f, v, refuse(fmt.Sprintf("it needs three numbers, got %d", len(parts)))
	}
	if decimalComma && strings.Contains(t, ".") && strings.Contains(strings.Join(parts, " "), ",") {
		return f, v, refuse("decimal points and decimal commas are mixed")
	}
	for i, p := range parts {
		f[i] = strings.TrimSpace(p)
		n := f[i]
		if decimalComma {
			n = strings.Replace(n, ",", ".", 1)
		}
		// No exponents, hexadecimals, "NaN" or "Inf": nobody writes a colour so.
		if strings.Trim(n, "+-.0123456789") != "" || strings.LastIndexAny(n, "+-") > 0 {
			return f, v, refuse(fmt.Sprintf("%q is not a number", f[i]))
		}
		if v[i], err = strconv.ParseFloat(n, 64); err != nil {
			return f, v, refuse(fmt.Sprintf("%q is not a number", f[i]))
		}
		if v[i] == 0 {
			v[i] = 0 // not −0
		}
	}
	return f, v, nil
}

// plain writes a number without trailing zeros, to six decimals.
func plain(v float64) string {
	if math.Abs(v) >= 1e11 {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(round(v, 1e6), 'f', -1, 64)
}

// quote quotes what was typed, cut to a length fit for a message.
func quote(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return strconv.Quote(string(r[:most])) + " …"
	}
	return strconv.Quote(s)
}
