package colorants

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"lyefast/internal/near"
)

// maxLabel bounds a label in bytes. The longest ingredient lists in print are a few
// kilobytes.
const maxLabel = 64 << 10

// Bytes with a meaning of their own in [text.plain].
const (
	skipped   = 0x00 // belongs to its word but is not read: an accent, a soft hyphen
	plusMinus = 0x02 // the sign ±
	otherWord = 0x1a // a letter of another script
)

// text is a label twice over: as printed, and in plain lower-case ASCII, one byte
// for every rune, so that what is found in the one can be quoted from the other.
type text struct {
	printed []rune
	plain   []byte
	// may marks where the words "may contain" or "+/-" begin, with their length.
	may map[int]int
}

// patterns are what is taken out or unified before a label is split: the tags of a
// label copied from a page, registry numbers, percentages, "FD&C", "(and)", the
// charge of an ion, "CI" before a number, and "may contain".
type patterns struct {
	markup, registry, percent, fdc, dc, and, charge, index, comma, misread, plus, may *regexp.Regexp
}

// mayContain lists the words for "may contain" on labels of the EU and the US, in
// plain letters; EU 1223/2009 Art. 19(1)(g) has "may contain" or "+/-". From memory.
var mayContain = []string{
	"may (?:also )?contain", "might contain", "can contain",
	"peu(?:t|vent)(?: aussi| egalement)? contenir", "pouvant contenir", "susceptibles? de contenir",
	"k(?:a|o)nn(?:en)?(?: auch)? enthalten", "pued(?:e|en)(?: tambien)? contener",
	"(?:puo\\x00?|possono)(?: anche)? contenere", "pod(?:e|em) conter", "kan (?:eventueel )?bevatten", "kunnen bevatten",
	"kan innehalla", "kan indeholde", "kan inneholde", "saattaa sisaltaa", "voi sisaltaa", "moze zawierac",
	"m(?:u|o)ze obsahovat", "poate contine", "tartalmazhat", "lahko vsebuje", "moze sadrzavati", "icerebilir",
}

// mayStems are what a label that says "may contain" holds at least one of.
var mayStems = []string{"cont", "enthalten", "bevatten", "innehalla", "indeholde", "inneholde", "sisalta", "zawierac", "obsahovat", "tartalmaz", "vsebuje", "sadrzavati", "icerebilir"}

var pattern = sync.OnceValue(func() *patterns {
	re := regexp.MustCompile
	figure := `\d{1,3}(?:[.,]\d{1,4})?\s*`
	may := strings.ReplaceAll(strings.Join(mayContain, "|"), " ", `\s+`)
	return &patterns{
		markup: re(`(?i)</?(?:br|p|div|span|li|ul|ol|b|i|em|strong|sub|sup|td|tr|table|font|a)(?:\s[^<>]{0,300})?/?>`),
		// CAS and EC numbers; the first part of a CAS number may have five digits.
		registry: re(`\b(?:(?:cas|ec|einecs)(?:[\s-]*(?:no|nr|number)\b\.?)?[\s:.#]*)?(?:\d{2,7}-\d{2}-\d|\d{3}-\d{3}-\d)\b`),
		percent:  re(`(^|[^0-9a-z.])((?:[<>=]\s*)*(?:` + figure + `(?:-|to\b|bis\b)\s*)?` + figure + `%(?:\s*[mwv]/[mwv]\b)?)`),
		fdc:      re(`\bf\.?\s?d\.?\s?(?:&|and|\+)?\s?c\b\.?`),
		dc:       re(`\bd\.?\s?(?:&|and|\+)\s?c\b\.?`),
		and:      re(`[(\[{]\s*(?:and|&|\+|et|und|y|e|en|og|och|oraz)\s*[)\]}]`),
		charge:   re(`[a-z]\s?\((?:\d\+|[iv]{1,3}(?:\s?,\s?[iv]{1,3})?)\)`),
		index:    re(`(\b(?:colou?r\s+index|c\.?[ ]?i\.?)(?:\s*(?:no|nr|num|number|n)\b\.?)?[\s:.#-]*)\d`),
		comma:    re(`ci\x00*\d\d(,)\d{3}\b`),
		misread:  re(`\bc(?:l[\s:.#-]*|[1|][\s:.#-]+)(?:\d{5}|\d\d[ .-]\d{3})\b`),
		plus:     re(`\+\s*/?\s*-|-\s*/\s*\+`),
		may:      re(`\b(?:` + may + `)\b`),
	}
})

// separators are printed marks that part ingredients as surely as a comma.
const separators = "•·∙‧◦●▪■|、，；¦"

// readText prepares a label: cut to its bound, entities and tags resolved, plain
// letters beside the printed ones, figures that are not Colour Index numbers
// blanked, spellings of "FD&C" and "CI" unified. The note says what was cut.
func readText(label string) (t text, note string) {
	if len(label) > maxLabel {
		n := maxLabel
		for n > 0 && !utf8.RuneStart(label[n]) {
			n--
		}
		label = label[:n]
		note = fmt.Sprintf("the label is longer than %d KiB; only that much was read", maxLabel>>10)
	}
	p := pattern()
	label = strings.ToValidUTF8(label, "�")
	label = html.UnescapeString(label)
	if strings.ContainsRune(label, '<') {
		label = p.markup.ReplaceAllString(label, "\n")
	}
	t = newText(strings.ReplaceAll(label, "\r\n", "\n"))
	t.normalise(p)
	return t, note
}

// newText sets the plain bytes beside the printed runes.
func newText(s string) text {
	t := text{printed: []rune(s)}
	t.plain = make([]byte, len(t.printed))
	for i, r := range t.printed {
		t.plain[i] = plainByte(r)
	}
	return t
}

// plainByte gives the byte that stands for a rune.
func plainByte(r rune) byte {
	if 'a' <= r && r <= 'z' || '0' <= r && r <= '9' || r == ' ' {
		return byte(r)
	}
	if strings.ContainsRune(separators, r) {
		return ','
	}
	switch r {
	case '\r', '\v', '\f', '\t', 0x85, 0x2028, 0x2029:
		return '\n'
	case '±':
		return plusMinus
	case '~', '≤', '≥':
		return '<'
	case '⁄', '∕':
		return '/'
	case '【', '「', '〔':
		return '['
	case '】', '」', '〕':
		return ']'
	case '。':
		return '.'
	case '№':
		return '#'
	case 'β':
		return 'b'
	case 0xAD, 0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, 0:
		return skipped
	}
	if '₀' <= r && r <= '₉' {
		return byte('0' + r - '₀')
	}
	switch p := near.Plain(r); {
	case p == '\'' || unicode.Is(unicode.Mn, p):
		return skipped
	case p < ' ' && p != '\n' || p == 0x7f:
		return ' '
	case p < 0x80:
		return byte(p)
	case unicode.IsLetter(p) || unicode.Is(unicode.Nd, p):
		return otherWord
	}
	return ' '
}

// blank overwrites a stretch; keep says what it becomes, filled up with with.
func (t *text) blank(from, to int, keep string, with byte) {
	n := copy(t.plain[from:to], keep)
	for i := from + n; i < to; i++ {
		t.plain[i] = with
	}
}

// normalise works on the plain bytes in place, so that no place moves.
func (t *text) normalise(p *patterns) {
	// A word broken at the end of a line is joined again.
	for i := 1; i+2 < len(t.plain); i++ {
		if t.plain[i] == '-' && letter(t.plain[i-1]) {
			j := i + 1
			for j < len(t.plain) && t.plain[j] == ' ' {
				j++
			}
			if j+1 < len(t.plain) && t.plain[j] == '\n' && letter(t.plain[j+1]) {
				t.blank(i, j+1, "", skipped)
			}
		}
	}
	// Most labels lack most of what follows; looking for a telling letter first is
	// many times cheaper than the pattern.
	has := func(any ...string) bool {
		return slices.ContainsFunc(any, func(s string) bool { return bytes.Contains(t.plain, []byte(s)) })
	}
	all := func(re *regexp.Regexp, with func(m []int)) {
		for _, m := range re.FindAllSubmatchIndex(t.plain, -1) {
			with(m)
		}
	}
	if has("-") {
		all(p.registry, func(m []int) { t.blank(m[0], m[1], "", ' ') })
	}
	if has("%") {
		all(p.percent, func(m []int) { t.blank(m[4], m[5], "", ' ') })
	}
	if has("&", "fd", "f.", "f d", "d+", "d +", "d and", "d. ", "d.and") {
		all(p.fdc, func(m []int) { t.blank(m[0], m[1], "fdc", skipped) })
		all(p.dc, func(m []int) { t.blank(m[0], m[1], "dc", skipped) })
	}
	if has("(", "[", "{") {
		all(p.and, func(m []int) { t.blank(m[0], m[1], ",", ' ') })
		all(p.charge, func(m []int) {
			for i := m[0]; i < m[1]; i++ {
				if !word(t.plain[i]) {
					t.plain[i] = ' '
				}
			}
		})
	}
	if bytes.ContainsAny(t.plain, "0123456789") {
		all(p.index, func(m []int) { t.blank(m[2], m[3], "ci", skipped) })
		all(p.comma, func(m []int) { t.plain[m[2]] = ' ' }) // two digits alone are never a number
		all(p.misread, func(m []int) { t.blank(m[0], m[0]+2, "ci", ' ') })
	}
	t.may = map[int]int{}
	if has("+") {
		all(p.plus, func(m []int) { t.may[m[0]] = m[1] - m[0] })
	}
	if has(mayStems...) {
		all(p.may, func(m []int) { t.may[m[0]] = m[1] - m[0] })
	}
	for i, b := range t.plain {
		if b == plusMinus {
			t.may[i] = 1
		}
	}
}

func letter(b byte) bool { return 'a' <= b && b <= 'z' || b == otherWord }

func digit(b byte) bool { return '0' <= b && b <= '9' }

func word(b byte) bool { return letter(b) || digit(b) }

func blankByte(b byte) bool { return b == ' ' || b == '\n' || b == skipped }

// quote gives what is printed between two places, blanks run together and stray
// separators trimmed.
func (t *text) quote(from, to int) string {
	s := strings.Join(strings.Fields(string(t.printed[from:to])), " ")
	return strings.Trim(s, " ,;:/+&*-")
}

// lexeme is a word of the label or a mark that may part ingredients.
type lexeme struct {
	text     string // plain letters and digits, "" for a soft separator
	from, to int    // places in the label
	soft     byte   // the separator: / \n - & + . =
}

// shortened are abbreviations, whose full stop ends nothing.
var shortened = setOf("no nr ext al ca ba zr ci pigm nat")

// lex reads the words in a stretch, with the soft separators between them. A
// figure keeps a sub-number, "15850:1".
func (t *text) lex(from, to int) []lexeme {
	var out []lexeme
	soft := func(i int, b byte) { out = append(out, lexeme{from: i, to: i + 1, soft: b}) }
	for i := from; i < to; {
		b := t.plain[i]
		switch {
		case word(b):
			start := i
			var w []byte
			for i < to {
				if b := t.plain[i]; word(b) {
					w = append(w, b)
				} else if b == ':' && t.subNumber(i) {
					w = append(w, b)
					for i+1 < to && !digit(t.plain[i+1]) {
						i++
					}
				} else if colon := t.colonAfter(i, to); digit(w[len(w)-1]) && colon > i && t.subNumber(colon) {
					i = colon - 1
				} else if b != skipped {
					break
				}
				i++
			}
			out = appendWords(out, string(w), start, i)
			continue
		case b == '/' || b == '+' || b == '&' || b == '=':
			soft(i, b)
		case b == '\n':
			soft(i, '\n')
		case b == '-' && i > from && blankByte(t.plain[i-1]) && (i+1 >= to || blankByte(t.plain[i+1])):
			soft(i, '-')
		case b == '.' && (i+1 >= to || blankByte(t.plain[i+1])) && !(len(out) > 0 && shortened.has(out[len(out)-1].text)):
			soft(i, '.')
		}
		i++
	}
	return out
}

// colonAfter gives the place of a colon behind blanks, -1 if there is none.
func (t *text) colonAfter(i, to int) int {
	for i < to && t.plain[i] == ' ' {
		i++
	}
	if i < to && t.plain[i] == ':' {
		return i
	}
	return -1
}

// subNumber says whether the colon at i stands between a figure and its sub-number
// of one or two digits: hard between them, or with blanks where the table knows the
// number so made.
func (t *text) subNumber(i int) bool {
	gap := func(j, step int) int {
		for j >= 0 && j < len(t.plain) && (t.plain[j] == ' ' || t.plain[j] == skipped) {
			j += step
		}
		return j
	}
	run := func(j, step int) int {
		for j >= 0 && j < len(t.plain) && digit(t.plain[j]) {
			j += step
		}
		return j
	}
	end, start := gap(i-1, -1), gap(i+1, 1)
	first, last := run(end, -1), run(start, 1)
	if first == end || last == start || last-start > 2 {
		return false
	}
	if end == i-1 && start == i+1 {
		return true
	}
	number := string(t.plain[first+1:end+1]) + ":" + string(t.plain[start:last])
	return names().numbered[number] != nil
}

// appendWords splits what is run together, "ci77891", "red40", "77891nano".
func appendWords(out []lexeme, w string, from, to int) []lexeme {
	cut := strings.IndexFunc(w, func(r rune) bool { return r >= '0' && r <= ':' })
	switch {
	case cut > 0 && (w[:cut] == "ci" || hues.has(w[:cut])):
	case cut == 0:
		if cut = strings.IndexFunc(w, func(r rune) bool { return r < '0' || r > ':' }); cut < 5 || w[cut:] == "" {
			cut = -1
		}
	default:
		cut = -1
	}
	if cut > 0 {
		mid := from + cut
		if to-from != len(w) { // accents or soft hyphens inside: quote the parts together
			mid = from
			out = append(out, lexeme{text: w[:cut], from: from, to: to})
		} else {
			out = append(out, lexeme{text: w[:cut], from: from, to: mid})
		}
		return appendWords(out, w[cut:], mid, to)
	}
	switch w {
	case "and", "und", "et", "og", "och", "oraz", "y":
		return append(out, lexeme{from: from, to: to, soft: '&'})
	}
	if s, ok := spellings[w]; ok {
		w = s
	}
	return append(out, lexeme{text: w, from: from, to: to})
}

// spellings brings variants of one word together.
var spellings = map[string]string{
	"aluminium": "aluminum", "sulphate": "sulfate", "sulphide": "sulfide",
	"colour": "color", "colours": "colors", "colourant": "colorant", "colourants": "colorants",
	"colouring": "coloring", "colourings": "colorings", "coloured": "colored", "grey": "gray",
	"external": "ext", "micronised": "micronized", "lakes": "lake", "hydrolysed": "hydrolyzed",
}
