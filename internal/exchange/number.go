package exchange

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lyefast/internal/pattern"
)

// missing lists what instruments write where there is no value.
var missingMarks = map[string]bool{
	"": true, "-": true, "--": true, "---": true, "----": true, "–": true, "—": true,
	"n/a": true, "na": true, "n.a.": true, "nan": true, "#n/a": true, "null": true,
	"none": true, "*": true, "**": true, "***": true, "****": true, "?": true, "k.a.": true,
}

func missing(s string) bool {
	if s != "" && isDigit(s[0]) { // spares nearly every cell the look-up
		return false
	}
	return missingMarks[strings.ToLower(s)]
}

// tidy trims a cell, no-break spaces and the apostrophe that spreadsheets are
// kept from running a formula with (see [Table.CSV]).
func tidy(s string) string {
	if n := len(s); n > 0 && plainEnd(s[0]) && plainEnd(s[n-1]) { // nearly every cell
		return s
	}
	return unguard(strings.Trim(s, " \t\u00a0\u202f\ufeff"))
}

// plainEnd tells a byte that is neither trimmed nor a guard's, at either end.
func plainEnd(c byte) bool { return c > ' ' && c < 0x80 && c != '\'' }

var (
	pointGroups = pattern.New(`^[+-]?\d{1,3}(,\d{3})+(\.\d*)?$`)
	commaGroups = pattern.New(`^[+-]?\d{1,3}(\.\d{3})+(,\d*)?$`)
)

// isNumber reports whether s is a decimal number without groups: sign, digits,
// at most one decimal sign, at least one digit, and perhaps an exponent.
func isNumber(s string, decimal byte) bool {
	i, digits := 0, 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	for ; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
		digits++
	}
	if i < len(s) && s[i] == decimal {
		for i++; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
			digits++
		}
	}
	if digits == 0 {
		return false
	}
	if i < len(s) && s[i] == 'e' {
		i++
		if i < len(s) && (s[i] == '+' || s[i] == '-') {
			i++
		}
		from := i
		for ; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
		}
		if i == from {
			return false
		}
	}
	return i == len(s)
}

// number reads a cell under the file's decimal sign, '.' or ','. Groups of three
// may be parted by the other sign.
func number(s string, decimal byte) (float64, error) {
	t := strings.ToLower(strings.ReplaceAll(s, "−", "-"))
	switch {
	case isNumber(t, decimal):
		if decimal == ',' {
			t = strings.Replace(t, ",", ".", 1)
		}
	case decimal == '.' && pointGroups.MatchString(t):
		t = strings.ReplaceAll(t, ",", "")
	case decimal == ',' && commaGroups.MatchString(t):
		t = strings.Replace(strings.ReplaceAll(t, ".", ""), ",", ".", 1)
	default:
		return 0, fmt.Errorf("%q is not a number", s)
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return v + 0, nil // +0 makes a zero of −0
}

// decimalEvidence settles the decimal sign of one file. 62,412 and 1.056 may be
// thousands, so they are only weak signs.
type decimalEvidence struct {
	point, comma, weakPoint, weakComma int // first line that shows each; 0 if none
}

func (e *decimalEvidence) see(line int, cell string) {
	dot, comma := strings.LastIndexByte(cell, '.'), strings.LastIndexByte(cell, ',')
	var at *int
	switch {
	case dot == comma: // neither
		return
	case comma > dot && pointGroups.MatchString(cell):
		at = &e.weakComma
	case comma > dot:
		at = &e.comma
	case commaGroups.MatchString(cell):
		at = &e.weakPoint
	default:
		at = &e.point
	}
	if *at == 0 {
		*at = line
	}
}

// sign is the decimal sign. A comma cannot be one where it parts the columns.
func (e *decimalEvidence) sign(delimiter rune) (byte, *Declined) {
	point, comma := e.point, e.comma
	if point == 0 && comma == 0 {
		point, comma = e.weakPoint, e.weakComma
	}
	switch {
	case delimiter == ',' || comma == 0:
		return '.', nil
	case point == 0:
		return ',', nil
	}
	return 0, decline(max(point, comma), "write all numbers the same way",
		"its numbers contradict each other: line %d has a decimal point, line %d a decimal comma", point, comma)
}
