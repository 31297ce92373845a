// Package near finds the names that someone may have meant: the same words in
// another dress first (case, accents, hyphens, plural, order), then names a slip
// or two of the keyboard away, then longer names that hold the words asked for.
//
// Start at [Near]. It only suggests; taking a suggestion is left to a person.
package near

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
)

// The bounds keep the work small whatever is typed.
const (
	maxRunes = 80 // of a name; what is longer is compared by its first 80 runes
	maxShown = 3
)

// Fold gives the words of a name for comparing: each rune as [Plain] has it,
// punctuation and hyphens taken for blanks, a plural "s" dropped from words longer
// than three letters. Two names with the same words mean the same thing.
func Fold(name string) []string {
	var b strings.Builder
	for _, r := range clip(name) {
		switch r = Plain(r); {
		case unicode.Is(unicode.Mn, r) || r == '\'':
			continue
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(r)
		default:
			b.WriteByte(' ')
		}
	}
	words := strings.Fields(b.String())
	for i, w := range words {
		if len(w) > 3 && strings.HasSuffix(w, "s") && !strings.HasSuffix(w, "ss") {
			words[i] = w[:len(w)-1]
		}
	}
	return words
}

// latin lists letters with their marks behind the plain letter, as they stand in
// the names of western and central European languages.
const latin = "aàáâãäåāăą cçćĉċč dďđ eèéêëēĕėęě gĝğġģ iìíîïĩīĭįı lĺļľł nñńņňŋ oòóôõöøōŏő " +
	"rŕŗř sśŝşšß tţťŧ uùúûüũūŭůűų wŵ yýÿŷ zźżž"

// plainOf maps the marked letters to plain ones.
var plainOf = func() map[rune]rune {
	m := map[rune]rune{'’': '\'', '‘': '\'', 'ʼ': '\'', 'æ': 'a', 'œ': 'o'}
	for _, group := range strings.Fields(latin) {
		for _, r := range group[1:] {
			m[r] = rune(group[0])
		}
	}
	return m
}()

// Plain gives a rune as it counts in a name: lower case, full-width forms narrow,
// Latin letters without their marks, typographic apostrophes and hyphens plain. One
// rune gives one rune, so that places in a text stay what they were.
func Plain(r rune) rune {
	switch {
	case r < 0x80:
		if 'A' <= r && r <= 'Z' {
			r += 'a' - 'A'
		}
		return r
	case 0xFF01 <= r && r <= 0xFF5E:
		return Plain(r - 0xFEE0)
	case 0x2010 <= r && r <= 0x2015 || r == 0x2212 || r == 0xFE63:
		return '-'
	}
	r = unicode.ToLower(r)
	if p, ok := plainOf[r]; ok {
		return p
	}
	return r
}

// clip cuts a name to maxRunes runes.
func clip(s string) string {
	n := 0
	for i := range s {
		if n == maxRunes {
			return s[:i]
		}
		n++
	}
	return s
}

// Near gives up to three of have that want may have meant, the likeliest first, in
// their own spelling and without repeats; empty if nothing comes near. The order of
// have decides between equals. A name of n letters may be off by n/4 slips, at
// least one from three letters on.
func Near(want string, have []string) []string {
	asked := Fold(want)
	if len(asked) == 0 {
		return nil
	}
	askedText := strings.Join(asked, " ")
	type hit struct {
		name string
		cost float64
	}
	var hits []hit
	seen := map[string]bool{}
	for _, name := range have {
		if seen[name] {
			continue
		}
		seen[name] = true
		if c, ok := cost(asked, askedText, name); ok {
			hits = append(hits, hit{name, c})
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int { return cmp.Compare(a.cost, b.cost) })
	if len(hits) > maxShown {
		hits = hits[:maxShown]
	}
	out := make([]string, len(hits))
	for i, h := range hits {
		out[i] = h.name
	}
	return out
}

// cost ranks a name against what was asked: 0 the same words, below 1 slips as a
// share of the length, from 1 on a name that holds the words.
func cost(asked []string, askedText, name string) (float64, bool) {
	words := Fold(name)
	if len(words) == 0 {
		return 0, false
	}
	text := strings.Join(words, " ")
	if text == askedText {
		return 0, true
	}
	if len(words) == len(asked) && slices.Equal(slices.Sorted(slices.Values(words)), slices.Sorted(slices.Values(asked))) {
		return 0.05, true
	}
	n := len([]rune(askedText))
	if allowed := max(n/4, min(1, n/3)); allowed > 0 {
		if d := Distance(askedText, text); d <= allowed {
			return float64(d) / float64(n), true
		}
	}
	// Every word asked for is, or begins, a word of the name: "ultramarine" finds
	// "Ultramarine blue". One letter begins too much.
	if n < 3 {
		return 0, false
	}
	for _, a := range asked {
		if !slices.ContainsFunc(words, func(w string) bool { return strings.HasPrefix(w, a) }) {
			return 0, false
		}
	}
	return 1 + float64(len(text)-len(askedText))/100, true
}

// Distance counts the slips between two names: a letter put in, left out or
// changed, or two neighbours swapped (optimal string alignment, Damerau 1964,
// Commun. ACM 7(3), 171–176). Only the first 80 runes count.
func Distance(a, b string) int {
	x, y := []rune(clip(a)), []rune(clip(b))
	if len(x) < len(y) {
		x, y = y, x
	}
	before, above, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range above {
		above[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row[0] = i
		for j := 1; j <= len(y); j++ {
			change := 1
			if x[i-1] == y[j-1] {
				change = 0
			}
			row[j] = min(above[j]+1, row[j-1]+1, above[j-1]+change)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, above, row = above, row, before
	}
	return above[len(y)]
}
