package observations

import (
	"fmt"
	"strings"
	"unicode"
)

// MaxCode is the largest number of letters in a batch code.
const MaxCode = 20

// NewCode makes a short code from a title, "Harbour Dawn" → "HD-01", the next
// number that no batch has: taken tells of a code whether it is in use.
func NewCode(title string, taken func(code string) bool) string {
	prefix := initials(title)
	for n := 1; ; n++ {
		code := fmt.Sprintf("%s-%02d", prefix, n)
		if !taken(code) {
			return code
		}
	}
}

// initials are the first letters of up to three words; of a single word, its first
// two letters.
func initials(title string) string {
	var out []rune
	words := strings.FieldsFunc(title, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for _, w := range words {
		r := []rune(w)
		switch {
		case len(out) == 3:
		case len(words) == 1 && len(r) > 1:
			out = append(out, r[0], r[1])
		default:
			out = append(out, r[0])
		}
	}
	if len(out) == 0 {
		return "B"
	}
	return strings.ToUpper(string(out))
}

// CheckCode refuses a code that could not be typed back or would be taken for a
// portion or a flag.
func CheckCode(code string) error {
	if code == "" || len([]rune(code)) > MaxCode {
		return fmt.Errorf("a batch code has 1 to %d signs, got %s", MaxCode, quote(code))
	}
	for i, r := range code {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || i > 0 && strings.ContainsRune("-_.", r) {
			continue
		}
		return fmt.Errorf("batch code %s: letters, digits, hyphens and points only, beginning with a letter or digit", quote(code))
	}
	return nil
}
