package colorants

import (
	"slices"
	"strings"

	"lyefast/internal/near"
)

// element is one colour that a label names, by number, by name or by both.
type element struct {
	strict, loose []int  // rows it means, and rows that any list calls so
	number        string // as printed, without CI and blanks; "" for a name
	named         bool   // a name fixes the rows
	lake, nano    bool
	may           bool
	words         []string // of the name, to be read together with a hue word
	from, to      int
	printed       string
	hue           string // of a US colour name, for "Yellow 5 and 6"
}

// doubt is text that looks like a colour and cannot be matched.
type doubt struct {
	printed string
	try     []string
	// number is set for a figure, base the rows of the figure it may be a salt of.
	number bool
	base   []int
	// plain is set where the text only says that there is a colour.
	plain bool
}

// piece is what a stretch of a label without separators says.
type piece struct {
	elements []element
	doubts   []doubt
	// known is true when no word was left that nothing is known of.
	known bool
	// fat is true when it names an oil, butter or the like.
	fat bool
	// infused is true when it names something that a plant was steeped in.
	infused bool
	// hues are its words when it has no other.
	hues []string
	// nano, lake: it says nothing else.
	nano, lake bool
	// statement: it says that there is no colour, or it is a scent.
	statement bool
}

// reader reads one label.
type reader struct {
	text
	x     *index
	list  []Fact
	notes []string
	// trying is true while stretches are joined on trial, when no suggestion is wanted.
	trying bool
}

// classify reads the words of a stretch.
func (r *reader) classify(words []lexeme) piece {
	words = r.withoutNumberWord(words)
	if len(words) == 0 {
		return piece{known: true}
	}
	if p, ok := r.statement(words); ok {
		return p
	}
	if try, ok := hints[strings.Join(texts(words), " ")]; ok {
		d := doubt{printed: r.quote(words[0].from, words[len(words)-1].to)}
		if try != "" {
			d.try = []string{try}
		}
		return piece{doubts: []doubt{d}}
	}
	if p, ok := r.whole(words); ok {
		return p
	}
	return r.cover(words)
}

// statement recognises scents, and sentences that say that there is no colour.
func (r *reader) statement(words []lexeme) (piece, bool) {
	refused, hides := false, false
	for _, w := range words {
		if scents.has(w.text) {
			return piece{statement: true}, true
		}
		refused = refused || refusing.has(w.text)
		hides = hides || hiding.has(w.text)
	}
	return piece{statement: true}, refused && hides
}

// withoutNumberWord drops "No." before a figure.
func (r *reader) withoutNumberWord(words []lexeme) []lexeme {
	out := make([]lexeme, 0, len(words))
	for i, w := range words {
		switch w.text {
		case "no", "nr", "number", "n":
			if i+1 < len(words) && digit(words[i+1].text[0]) {
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

// texts gives the bare words.
func texts(words []lexeme) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = w.text
	}
	return out
}

// whole reads a stretch that is one name with harmless words around, in any order
// of its words.
func (r *reader) whole(words []lexeme) (piece, bool) {
	if len(words) > 8 || len(words) > 1 && genera.has(words[0].text) && hues.has(words[1].text) && r.x.exact[strings.Join(texts(words), "")] == nil {
		return piece{}, false // "food red 40" is not "red 40"
	}
	core := slices.Clone(words)
	trim := func(w lexeme) bool { return harmless.has(w.text) && !hues.has(w.text) && !genera.has(w.text) }
	for pass := range 2 {
		if pass == 1 {
			core = slices.DeleteFunc(core, trim)
		}
		if len(core) == 0 {
			return piece{}, false
		}
		ws := texts(core)
		strict, loose := r.x.find(ws)
		if strict == nil && len(core) > 1 {
			if rows := r.x.sorted[sortedKey(ws)]; rows != nil {
				strict, loose = rows, rows
			}
		}
		if strict == nil {
			continue
		}
		if len(ws) == 1 && (singular(ws[0]) == "mica" || hues.has(ws[0])) && len(words) > 1 {
			return piece{}, false // what stands beside these matters
		}
		e := r.name(strict, loose, ws, core)
		e.nano = slices.ContainsFunc(words, func(w lexeme) bool { return w.text == "nano" })
		return piece{elements: []element{e}, known: true, infused: containsAny(words, infusing)}, true
	}
	return piece{}, false
}

func containsAny(words []lexeme, set *wordSet) bool {
	return slices.ContainsFunc(words, func(w lexeme) bool { return set.has(w.text) })
}

// name makes an element of a name.
func (r *reader) name(strict, loose []int, ws []string, at []lexeme) element {
	from, to := at[0].from, at[len(at)-1].to
	e := element{strict: strict, loose: loose, named: true, words: ws, from: from, to: to, printed: r.quote(from, to)}
	e.lake = slices.ContainsFunc(ws, func(w string) bool { return strings.HasSuffix(w, "lake") })
	if key, ok := dyeOf(ws); ok && len(at) > 1 {
		e.hue = key[:strings.LastIndexByte(key, '|')]
	}
	return e
}

// cover reads a stretch from left to right: the longest names first, Colour Index
// numbers, US colours, "lake" and "nano" for what stands before them.
func (r *reader) cover(words []lexeme) (p piece) {
	var left []lexeme // words that are no part of a name
	var lake, nano bool
	bare := allFigures(words)
	for i := 0; i < len(words); {
		rest := words[i:]
		ws := texts(rest[:min(len(rest), r.x.maxWords+3)])
		if n := lakeAt(ws); n > 0 {
			if k := len(p.elements); k > 0 {
				e := &p.elements[k-1]
				e.lake, e.to = true, rest[n-1].to
				e.printed = r.quote(e.from, e.to)
			} else {
				lake = true
			}
			i += n
			continue
		}
		if ws[0] == "nano" {
			if k := len(p.elements); k > 0 {
				p.elements[k-1].nano = true
			} else {
				nano = true
			}
			i++
			continue
		}
		if ws[0] == "ci" || digit(ws[0][0]) && (i == 0 || !counters.has(words[i-1].text)) {
			if n := r.numbers(rest, bare, &p); n > 0 {
				i += n
				continue
			}
		}
		if ws[0] == "e" && len(rest) > 1 && digit(ws[1][0]) {
			rest = slices.Concat([]lexeme{{text: "e" + ws[1], from: rest[0].from, to: rest[1].to}}, rest[2:])
			ws = texts(rest[:min(len(rest), r.x.maxWords+3)])
			words = slices.Concat(words[:i], rest)
		}
		if code := strings.TrimRight(ws[0], "0123456789:"); code != ws[0] && pigmentCodes[code] != "" {
			generic := []string{"pigment", pigmentCodes[code], ws[0][len(code):]}
			if strict, loose := r.x.find(generic); strict != nil {
				p.elements = append(p.elements, r.name(strict, loose, generic, rest[:1]))
			} else {
				p.doubts = append(p.doubts, doubt{printed: r.quote(rest[0].from, rest[0].to), try: r.suggest(generic)})
			}
			i++
			continue
		}
		if len(ws) > 1 && genera.has(ws[0]) && (hues.has(ws[1]) || ws[1] == "metal") && len(ws) > 2 && digit(ws[2][0]) {
			if strict, loose := r.x.find(ws[:3]); strict != nil {
				p.elements = append(p.elements, r.name(strict, loose, ws[:3], rest[:3]))
			} else {
				p.doubts = append(p.doubts, doubt{printed: r.quote(rest[0].from, rest[2].to), try: r.suggest(ws[:3])})
			}
			i += 3
			continue
		}
		if key, n := dyeAt(ws); n > 0 {
			if rows := r.x.dyes[key]; rows != nil {
				p.elements = append(p.elements, r.name(rows, rows, ws[:n], rest[:n]))
			} else {
				to := rest[n-1].to
				if m := lakeAt(ws[n:]); m > 0 {
					to = rest[n+m-1].to
					n += m
				}
				p.doubts = append(p.doubts, doubt{printed: r.quote(rest[0].from, to), try: r.suggest(ws[:n])})
			}
			i += n
			continue
		}
		n := min(len(ws), r.x.maxWords)
		for ; n > 0; n-- {
			if strict, loose := r.x.find(ws[:n]); strict != nil {
				p.elements = append(p.elements, r.name(strict, loose, ws[:n], rest[:n]))
				break
			}
		}
		if n == 0 {
			left = append(left, rest[0])
			n = 1
		}
		i += n
	}
	return r.judge(p, words, left, lake, nano)
}

// judge weighs the names found against the words beside them.
func (r *reader) judge(p piece, words, left []lexeme, lake, nano bool) piece {
	if len(p.elements) > 0 {
		p.elements[0].lake = p.elements[0].lake || lake
		p.elements[0].nano = p.elements[0].nano || nano
	} else if len(p.doubts) == 0 && len(left) == 0 {
		p.lake, p.nano, p.known = lake, nano, true
		return p
	}
	p.infused = containsAny(left, infusing)
	unknown := false
	allHues := len(p.elements) == 0 && len(p.doubts) == 0
	for i, w := range left {
		if fats.has(w.text) && !p.infused && !(i+1 < len(left) && (left[i+1].text == "soluble" || strings.HasPrefix(left[i+1].text, "dispers") || left[i+1].text == "based")) {
			p.fat = true
		}
		if !harmless.has(w.text) && !hues.has(w.text) && !fats.has(w.text) && !figure(w.text) {
			unknown = true
		}
		allHues = allHues && hues.has(w.text)
	}
	p.known = !unknown
	whole := func() string { return r.quote(words[0].from, words[len(words)-1].to) }
	if p.fat {
		p.elements = slices.DeleteFunc(p.elements, func(e element) bool {
			said := strings.Join(e.words, "")
			return e.number == "" && (r.plant(e.strict) || insideOthers.has(said) || vague.has(said))
		})
	}
	// "Gold mica", "mica blend", "silver pigment": something colours it, and nobody says what.
	one := func(e element, is func(string) bool) bool {
		return e.number == "" && len(e.words) == 1 && is(singular(e.words[0]))
	}
	isMica := func(w string) bool { return w == "mica" }
	isHue := func(w string) bool { return hues.has(w) }
	mica := slices.ContainsFunc(p.elements, func(e element) bool { return one(e, isMica) })
	metal := slices.ContainsFunc(p.elements, func(e element) bool { return one(e, isHue) })
	if mica && (metal || containsOther(left, besideMica)) || metal && (containsAny(left, hiding) || containsAny(left, hueBearers)) {
		p.elements = slices.DeleteFunc(p.elements, func(e element) bool { return one(e, isMica) || one(e, isHue) })
		p.doubts = append(p.doubts, doubt{printed: whole(), plain: true})
		return p
	}
	var dropped []string
	if unknown {
		p.elements = slices.DeleteFunc(p.elements, func(e element) bool {
			if e.number != "" {
				return false
			}
			said := strings.Join(e.words, "")
			if vague.has(said) {
				dropped = append(dropped, said)
				return true
			}
			return insideOthers.has(said)
		})
	}
	p.elements = r.withHue(p.elements, left)
	p.elements = r.adjacent(p.elements)
	switch {
	case len(p.elements) > 0 || len(p.doubts) > 0 || p.fat && !containsAny(words, hiding):
	case dropped != nil:
		p.doubts = append(p.doubts, doubt{printed: whole(), try: dropped})
	default:
		if d, ok := r.looksLikeColour(texts(words)); ok {
			d.printed = whole()
			p.doubts = append(p.doubts, d)
		}
	}
	if allHues {
		p.hues = texts(left)
	}
	return p
}

// plant says whether all rows are plant matter or extracts.
func (r *reader) plant(rows []int) bool {
	return !slices.ContainsFunc(rows, func(i int) bool { return !r.list[i].plant() })
}

func containsOther(words []lexeme, set *wordSet) bool {
	return slices.ContainsFunc(words, func(w lexeme) bool { return !set.has(w.text) && !figure(w.text) })
}

// figure says whether a word starts with a digit.
func figure(w string) bool { return digit(w[0]) }

// allFigures says whether a stretch is nothing but figures.
func allFigures(words []lexeme) bool {
	return !slices.ContainsFunc(words, func(w lexeme) bool { return !figure(w.text) && w.text != "ci" })
}

// lakeAt counts the words of "[aluminum] lake" at the start, 0 if there is none.
func lakeAt(ws []string) int {
	for i, w := range ws {
		if w == "lake" {
			return i + 1
		}
		if !lakeMetals.has(w) || i == 2 {
			return 0
		}
	}
	return 0
}

// withHue narrows a name that covers several rows by a hue beside it, as in
// "deep blue ultramarine".
func (r *reader) withHue(elements []element, left []lexeme) []element {
	for _, w := range left {
		if !hues.has(w.text) {
			continue
		}
		for i := range elements {
			if rows := r.hued(&elements[i], w.text); rows != nil {
				elements[i].strict = rows
			}
		}
	}
	return elements
}

// hued gives the row among those of a name that the name and a hue word mean
// together, nil if there is none.
func (r *reader) hued(e *element, hue string) []int {
	if e.number != "" || len(e.loose) < 2 {
		return nil
	}
	return common(r.x.folded[foldKey(append(slices.Clone(e.words), hue))], e.loose)
}

// adjacent joins a name and the number that stands beside it for the same thing:
// "CI 77891 Titanium Dioxide".
func (r *reader) adjacent(elements []element) []element {
	var out []element
	for i := 0; i < len(elements); i++ {
		e := elements[i]
		if e.number == "" {
			var met []element
			for i+1 < len(elements) && elements[i+1].number != "" && compatible(&e, &elements[i+1]) {
				met = append(met, refine(&e, &elements[i+1]))
				i++
			}
			if met == nil {
				met = []element{e}
			}
			out = append(out, met...)
			continue
		}
		if i+1 < len(elements) && elements[i+1].number == "" && compatible(&e, &elements[i+1]) {
			e = refine(&e, &elements[i+1])
			i++
		}
		out = append(out, e)
	}
	return out
}

// compatible says whether two ways of naming can mean one substance.
func compatible(a, b *element) bool {
	return len(common(a.strict, b.loose)) > 0 || len(common(a.loose, b.strict)) > 0
}

// refine joins two compatible ways of naming: what the one leaves open the other fixes.
func refine(a, b *element) element {
	out := *a
	if out.number == "" {
		out.number = b.number
	}
	for _, rows := range [][]int{common(a.strict, b.strict), common(a.strict, b.loose), common(a.loose, b.strict)} {
		if len(rows) > 0 {
			out.strict = rows
			break
		}
	}
	out.loose = union(a.loose, b.loose)
	out.named = a.named || b.named
	out.lake = a.lake || b.lake
	out.nano = a.nano || b.nano
	out.may = a.may || b.may
	if a.printed != b.printed {
		out.printed = a.printed + " (" + b.printed + ")"
	}
	return out
}

// numbers reads Colour Index numbers at the start of the words: after "ci" any
// figures, else five digits that the table knows, or that stand alone. It says how
// many words it took.
func (r *reader) numbers(words []lexeme, bare bool, p *piece) int {
	n := 0
	ci := words[0].text == "ci"
	if ci {
		n = 1
	}
	start := n
	for n < len(words) && (figure(words[n].text) || ci && n == start && misreadFigure(words[n].text)) {
		n++
	}
	if n == start {
		if ci && len(words) == 1 {
			p.doubts = append(p.doubts, doubt{printed: r.quote(words[0].from, words[0].to), plain: true})
		}
		return n // "ci" alone, as before a generic name, is taken silently
	}
	if !ci && !bare {
		// A figure inside other words counts only as it stands and where the table knows it.
		if rows := r.x.byNumber[words[0].text]; rows != nil && len(words[0].text) >= 5 {
			r.addNumber(p, words[0].text, words[:1])
			return 1
		}
		return 0
	}
	for i := start; i < n; {
		number, took := joinFigures(words[i:n])
		at := words[i : i+took]
		if i == start && ci {
			at = words[:i+took]
		}
		digits := strings.ReplaceAll(number, ":", "")
		switch {
		case r.x.byNumber[number] != nil:
			r.addNumber(p, number, at)
		case i > start && len(digits) < 5:
			// A stray figure behind a full number: a footnote, a quantity without its unit.
		case ci || len(digits) >= 5 && len(digits) <= 7:
			if len(digits) < 5 {
				took = n - i
				at = words[:n]
			}
			p.doubts = append(p.doubts, r.unknownNumber(number, at))
		}
		i += took
	}
	return n
}

// misreadFigure says whether a word could be a figure with letters read for digits.
func misreadFigure(w string) bool {
	return len(w) >= 4 && len(w) <= 7 && strings.Trim(w, "0123456789olisb") == "" && strings.ContainsAny(w, "0123456789")
}

// joinFigures puts together a number printed in parts, "77 891", and says how many
// words it took.
func joinFigures(words []lexeme) (string, int) {
	joined := words[0].text
	if len(joined) >= 5 || strings.Contains(joined, ":") {
		return joined, 1
	}
	for i := 1; i < len(words); i++ {
		next := words[i].text
		head, sub, _ := strings.Cut(next, ":")
		if len(joined)+len(head) > 5 {
			break
		}
		joined += head
		if len(joined) == 5 {
			if sub != "" {
				joined += ":" + sub
			}
			return joined, i + 1
		}
	}
	return words[0].text, 1
}

// addNumber takes in a number that the table knows.
func (r *reader) addNumber(p *piece, number string, at []lexeme) {
	rows := r.x.byNumber[number]
	from, to := at[0].from, at[len(at)-1].to
	p.elements = append(p.elements, element{
		strict: rows, loose: r.looseNumber(number), number: number, from: from, to: to, printed: r.quote(from, to),
	})
}

// looseNumber gives the rows that may stand behind a number once a name is beside
// it: those that bear it at all, as main or further number, and among clays those
// that a list calls by the name of one of them, since tinted kaolin bears kaolin's.
func (r *reader) looseNumber(number string) []int {
	rows := r.x.numbered[number]
	for _, i := range r.x.byNumber[number] {
		f := &r.list[i]
		if f.CI != number || f.Form != "clay" {
			continue
		}
		for _, a := range f.Aliases {
			rows = union(rows, r.x.second[foldKey(plainWords(a))])
		}
	}
	return rows
}

// unknownNumber reports a number that the table does not know.
func (r *reader) unknownNumber(number string, at []lexeme) doubt {
	d := doubt{printed: r.quote(at[0].from, at[len(at)-1].to), number: true}
	base, _, sub := strings.Cut(number, ":")
	if sub && r.x.byNumber[base] != nil {
		d.base = r.x.numbered[base]
		d.try = []string{"CI " + base}
		return d
	}
	for n, rows := range r.x.byNumber {
		if head, _, ok := strings.Cut(n, ":"); ok && head == number {
			d.base = union(d.base, rows)
			d.try = append(d.try, "CI "+n)
		}
	}
	if d.try == nil {
		d.try = r.nearNumbers(number)
	}
	slices.Sort(d.try)
	return d
}

// nearNumbers gives the known numbers one slip away from a misprint.
func (r *reader) nearNumbers(number string) (out []string) {
	if r.trying {
		return nil
	}
	fixed := strings.NewReplacer("o", "0", "l", "1", "i", "1", "s", "5", "b", "8").Replace(number)
	for n := range r.x.byNumber {
		if near.Distance(n, fixed) <= 1 {
			out = append(out, "CI "+n)
		}
	}
	slices.Sort(out)
	if len(out) > 6 {
		out = out[:6]
	}
	return out
}

// suggest gives names of the table that come near the words.
func (r *reader) suggest(words []string) (out []string) {
	if r.trying {
		return nil
	}
	said := strings.Join(words, " ")
	best := 3
	for _, s := range r.x.spoken {
		if n := len(s.plain) - len(said); n > 2 || n < -2 {
			continue
		}
		switch d := near.Distance(s.plain, said); {
		case d < best:
			best, out = d, []string{s.alias}
		case d == best && d < 3 && len(out) < 3:
			out = append(out, s.alias)
		}
	}
	return out
}

// looksLikeColour says whether words that match nothing may yet be a colour.
func (r *reader) looksLikeColour(ws []string) (doubt, bool) {
	bears := false
	hue := false
	for i, w := range ws {
		switch {
		case hiding.has(w) && !(i+1 < len(ws) && (ws[i+1] == "free" || ws[i+1] == "safe" || ws[i+1] == "fast" || ws[i+1] == "may")):
			return doubt{plain: true, try: r.misspelt(ws)}, true
		case w == "fdc" || w == "dc" && (len(ws) == 1 || hues.has(ws[min(i+1, len(ws)-1)])):
			return doubt{}, true
		case w == "oxide" && i > 0 && oxideMetals.has(ws[i-1]):
			return doubt{try: r.begun(ws)}, true
		case len(w) >= 4 && len(w) <= 6 && w[0] == 'e' && w[1] == '1' && digit(w[2]) && digit(w[3]):
			return doubt{}, true
		}
		bears = bears || hueBearers.has(w)
		hue = hue || hues.has(w)
	}
	last := ws[len(ws)-1]
	switch {
	case hue && bears, last == "lake" && len(ws) > 1 && hue, singular(last) == "clay":
		return doubt{try: r.misspelt(ws)}, true
	case len(ws) == 1 && sureHues.has(ws[0]):
		return doubt{plain: true}, true
	case len(ws) == 2 && dyeHues.has(ws[0]) && figure(ws[1]) && len(ws[1]) <= 3:
		return doubt{try: r.suggest(ws)}, true
	}
	if try := r.misspelt(ws); try != nil {
		return doubt{try: try}, true
	}
	if try := r.begun(ws); try != nil {
		return doubt{try: try}, true
	}
	return doubt{}, false
}

// begun gives the alias that two words or more are the beginning of.
func (r *reader) begun(ws []string) []string {
	if len(ws) >= 2 {
		if a := r.x.prefixes[strings.Join(ws, " ")]; a != "" {
			return []string{a}
		}
	}
	return nil
}

// misspelt gives aliases that the words are a slip away from, one slip up to nine
// letters, two above, with the first letter right. Shorter words than six letters
// come near too much else.
func (r *reader) misspelt(ws []string) (out []string) {
	if r.trying {
		return nil
	}
	core := slices.DeleteFunc(slices.Clone(ws), func(w string) bool { return harmless.has(w) && !hues.has(w) })
	said := strings.Join(core, " ")
	if len(said) < 6 || len(said) > 60 || notMisspelt[said] {
		return nil
	}
	allowed := 1
	if len(said) > 9 {
		allowed = 2
	}
	for _, s := range r.x.spoken {
		if s.plain[0] != said[0] || len(s.plain) < 5 || figures(s.plain) != figures(said) {
			continue // another figure is another substance, no slip
		}
		if n := len(s.plain) - len(said); n > allowed || n < -allowed {
			continue
		}
		switch d := near.Distance(s.plain, said); {
		case d < allowed:
			allowed, out = d, []string{s.alias}
		case d == allowed && len(out) < 3:
			out = append(out, s.alias)
		}
	}
	return out
}

// figures gives the digits of a text.
func figures(s string) string {
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, s)
}
