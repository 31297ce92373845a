package colorants

import (
	"fmt"
	"slices"
	"strings"
)

// Reading is what an ingredient list says of a product's colours.
type Reading struct {
	// Tokens are the colours named, in label order, each once.
	Tokens []Token `json:"tokens"`
	// Unresolved is text that looks like a colour and could not be matched, as
	// printed. It is never read as something else.
	Unresolved []string `json:"unresolved"`
	// Suggestions holds, for each unresolved text, what it may have meant; often nothing.
	Suggestions [][]string `json:"suggestions"`
	// Worst is the most severe behaviour over all rows that the label may mean: a
	// product behaves as the worst colourant on its list. Unresolved text counts as
	// unknown, and so does a label that names no colour at all.
	Worst Behaviour `json:"worst_behaviour"`
	// WorstToken is the token, or the unresolved text, that decides, "" if there is
	// none; WorstRow the key of the row behind it; WorstReason says why in a sentence.
	WorstToken  string `json:"worst_token"`
	WorstRow    string `json:"worst_row"`
	WorstReason string `json:"worst_reason"`
	// Notes say what a person should look at: a name and a number that contradict
	// each other, a label that was cut.
	Notes []string `json:"notes"`
}

// Token is one colour of a label.
type Token struct {
	// Token is the Colour Index number without the letters (with its sub-number where
	// the name fixes it), or the key of a row that has no number, or
	// "iron_oxides_any"; then the flags +lake, +may and +nano.
	Token string `json:"token"`
	// RowIDs are the rows that it may mean, more than one where the label leaves it open.
	RowIDs []string `json:"row_ids"`
	// Printed is the text it was read from.
	Printed string `json:"printed"`
	// Behaviour is the worst of its rows.
	Behaviour Behaviour `json:"behaviour"`
	// Lake: sold as a lake. May: inside a may-contain block. Nano: "[nano]" is printed.
	Lake bool `json:"lake"`
	May  bool `json:"may_contain"`
	Nano bool `json:"nano"`
	// Carrier marks aluminium hydroxide as a coating or flake, whose own
	// dissolving in lye costs no colour; it is left out of the worst behaviour.
	Carrier bool `json:"carrier"`

	rows []int
	base string
}

// ironOxides is the token of "Iron Oxides" without a number.
const ironOxides = "iron_oxides_any"

// Read reads an ingredient list. It understands Colour Index numbers in their usual
// spellings, names of the EU and US lists, generic names, E numbers, plants by INCI
// name, lakes, "may contain" in the languages of the EU, and "[nano]"; it skips what
// is no colour, and reports what looks like one and is not known. Rules: EU
// 1223/2009 Art. 19(1)(g) for numbers and may-contain; 21 CFR 73, 74 and 82 for US
// names. Of a label of more than 64 KiB the first part is read and a note says so.
func Read(label string) Reading {
	t, note := readText(label)
	r := &reader{text: t, x: names(), list: facts()}
	b := &builder{r: r, seen: map[string]bool{}, out: Reading{Tokens: []Token{}, Unresolved: []string{}, Suggestions: [][]string{}, Notes: []string{}}}
	if note != "" {
		b.out.Notes = append(b.out.Notes, note)
	}
	scan := scanner{t: &r.text}
	items, _ := scan.items(0, false)
	b.list(items)
	b.out.Notes = append(b.out.Notes, r.notes...)
	b.finish()
	return b.out
}

// item is one ingredient: its words, and what stands in brackets behind or between them.
type item struct {
	heads    [][2]int
	brackets [][]item
	may      bool
	heading  bool // a colon follows
	stop     bool // more than a comma follows: ; newline, full stop, the end
}

func (it *item) empty() bool { return len(it.heads) == 0 && len(it.brackets) == 0 }

// scanner parts a label into items.
type scanner struct {
	t   *text
	pos int
}

// maxDepth bounds brackets within brackets; deeper ones part items like commas.
const maxDepth = 20

// items reads a list to its closing bracket. onlyMay is true when it holds nothing
// but the words "may contain".
func (s *scanner) items(depth int, may bool) (out []item, onlyMay bool) {
	var cur item
	cur.may = may
	start := s.pos
	sawMay := false
	head := func() {
		for start < s.pos && blankByte(s.t.plain[start]) {
			start++
		}
		if start < s.pos {
			cur.heads = append(cur.heads, [2]int{start, s.pos})
		}
	}
	flush := func(stop bool) {
		head()
		if !cur.empty() {
			cur.stop = stop
			out = append(out, cur)
		} else if stop && len(out) > 0 {
			out[len(out)-1].stop = true
		}
		cur = item{may: may}
	}
	for s.pos < len(s.t.plain) {
		if n := s.t.may[s.pos]; n > 0 {
			flush(true)
			s.pos += n
			start = s.pos
			may, sawMay = true, true
			cur.may = true
			continue
		}
		switch b := s.t.plain[s.pos]; {
		case b == ',' || b == ';':
			flush(b == ';')
			s.pos++
			start = s.pos
		case b == ':' && !s.t.subNumber(s.pos):
			head()
			heading := cur.heads
			if len(heading) > 0 {
				if resets(s.t, heading) && depth == 0 {
					may = false
				}
				cur.heading = true
			}
			s.pos++
			start = s.pos
			if !cur.empty() {
				out = append(out, cur)
			}
			cur = item{may: may}
		case b == '\n' && s.blankLine():
			flush(true)
			s.pos++
			start = s.pos
		case (b == '(' || b == '[' || b == '{') && depth < maxDepth:
			head()
			s.pos++
			sub, only := s.items(depth+1, false)
			start = s.pos
			switch {
			case only && !cur.empty() && s.itemEnds():
				cur.may = true
			case only:
				flush(true)
				may, sawMay = true, true
				cur.may = true
			case len(sub) > 0 && sub[0].may:
				flush(true)
				out = append(out, sub...)
			case len(sub) > 0:
				for i := range sub {
					sub[i].may = sub[i].may || cur.may
				}
				cur.brackets = append(cur.brackets, sub)
				if n := s.softEnd(); n > 0 {
					flush(s.t.plain[s.pos] == '.' || s.t.plain[s.pos] == '\n')
					s.pos += n
					start = s.pos
				}
			}
		case b == '(' || b == '[' || b == '{':
			flush(false)
			s.pos++
			start = s.pos
		case b == ')' || b == ']' || b == '}':
			flush(depth > 0)
			s.pos++
			if depth > 0 {
				return out, sawMay && len(out) == 0
			}
			start = s.pos
		default:
			s.pos++
		}
	}
	flush(true)
	return out, sawMay && len(out) == 0
}

// blankLine says whether the newline at pos is followed by an empty line.
func (s *scanner) blankLine() bool {
	for i := s.pos + 1; i < len(s.t.plain); i++ {
		switch s.t.plain[i] {
		case '\n':
			return true
		case ' ', skipped:
		default:
			return false
		}
	}
	return false
}

// itemEnds says whether a separator, a bracket or the end comes next.
func (s *scanner) itemEnds() bool {
	for i := s.pos; i < len(s.t.plain); i++ {
		switch s.t.plain[i] {
		case ' ', skipped:
		case ',', ';', '.', '\n', ')', ']', '}':
			return true
		default:
			return false
		}
	}
	return true
}

// goesOn are words that a line may start with and still belong to the ingredient
// before its bracket.
var goesOn = setOf("seed seeds oil butter lake aluminum aluminium powder root leaf flower fruit extract kernel juice bark wood peel")

// softEnd says how many bytes to skip when a soft separator ends the item after
// its bracket, 0 if the item goes on.
func (s *scanner) softEnd() int {
	i := s.pos
	for i < len(s.t.plain) && (s.t.plain[i] == ' ' || s.t.plain[i] == skipped) {
		i++
	}
	if i >= len(s.t.plain) {
		return 0
	}
	switch s.t.plain[i] {
	case '/', '&', '+', '.', '-':
		return i + 1 - s.pos
	case '\n':
		ws := s.t.lex(i+1, min(i+40, len(s.t.plain)))
		if len(ws) > 0 && goesOn.has(ws[0].text) {
			return 0
		}
		return i + 1 - s.pos
	}
	return 0
}

// openers are headings that begin a list of what certainly is inside.
var openers = setOf("ingredients ingredient inci contains contents composition zutaten inhaltsstoffe bestandteile ingredientes ingredienti ingredienten")

// resets says whether a heading ends a may-contain block.
func resets(t *text, heads [][2]int) bool {
	for _, h := range heads {
		for _, w := range t.lex(h[0], h[1]) {
			if openers.has(w.text) {
				return true
			}
		}
	}
	return false
}

// outcome is what one item says.
type outcome struct {
	elements []element
	doubts   []doubt
	fat      bool
	infused  bool
	hues     [][]string
	nano     bool
	lake     bool
	printed  string
	// trailing is true when the last words, next to the bracket, are the last doubt.
	trailing bool
}

// head reads the words of an item: stretch by stretch between soft separators, the
// longest run of stretches that is one name first, since a line may break inside a
// name and a name may hold a slash.
func (r *reader) head(heads [][2]int) (o outcome) {
	var stretches [][]lexeme
	var joints []byte // the separator before each stretch
	fresh := true
	joint := byte(0)
	for _, h := range heads {
		for _, w := range r.lex(h[0], h[1]) {
			if w.soft != 0 {
				fresh, joint = true, w.soft
				continue
			}
			if fresh {
				stretches = append(stretches, nil)
				joints = append(joints, joint)
				fresh = false
			}
			stretches[len(stretches)-1] = append(stretches[len(stretches)-1], w)
		}
	}
	if len(heads) > 0 {
		o.printed = r.quote(heads[0][0], heads[len(heads)-1][1])
	}
	const window, longest = 6, 14
	for i := 0; i < len(stretches); {
		took := 1
		var p piece
		reach := 1
		for reach < min(window, len(stretches)-i) && !leans(stretches[i+reach], joints[i+reach]) {
			reach++
		}
		r.trying = true
		for n := reach; n > 1; n-- {
			joined := slices.Concat(stretches[i : i+n]...)
			if len(joined) > longest || slices.ContainsFunc(stretches[i:i+n], hidesOnly) && !r.isName(joined) {
				continue
			}
			if q := r.classify(joined); r.oneThing(q) {
				p, took = q, n
				break
			}
		}
		r.trying = false
		if took == 1 {
			ws := stretches[i]
			if e, ok := r.carriedOn(ws, joints[i], o.elements); ok {
				p.elements = []element{e}
			} else {
				p = r.classify(ws)
			}
		}
		if joints[i] == '-' && len(p.elements) > 0 && len(o.elements) == 0 {
			o.doubts = nil // "Dawn Blue Mica - Mica, CI 77891": a title says no more than its list
		}
		i += took
		o.elements = append(o.elements, p.elements...)
		o.doubts = append(o.doubts, p.doubts...)
		o.fat = o.fat || p.fat
		o.infused = o.infused || p.infused
		if p.hues != nil {
			o.hues = append(o.hues, p.hues)
		}
		o.nano = p.nano || o.nano
		o.lake = p.lake || o.lake
		o.trailing = len(p.doubts) > 0 && len(p.elements) == 0
	}
	return o
}

// hidesOnly says whether a stretch only says that there is a colour: then it is an
// ingredient by itself.
func hidesOnly(ws []lexeme) bool {
	return !slices.ContainsFunc(ws, func(w lexeme) bool { return !hiding.has(w.text) })
}

// isName says whether the very words are a name.
func (r *reader) isName(ws []lexeme) bool {
	strict, _ := r.x.find(texts(ws))
	return strict != nil
}

// oneThing says whether joined stretches make one name, or one fat.
func (r *reader) oneThing(p piece) bool {
	return p.known && len(p.doubts) == 0 && (len(p.elements) == 1 || p.fat && len(p.elements) == 0) ||
		len(p.doubts) == 1 && p.doubts[0].plain && p.known && len(p.elements) == 0
}

// leans says whether a stretch behind a slash or "and" is a short figure that leaves
// out what stands before it, as in "CI 77491/2/9" and "Yellow 5 and 6 Lake".
func leans(ws []lexeme, joint byte) bool {
	return (joint == '/' || joint == '&' || joint == '+') && figure(ws[0].text) && len(ws[0].text) <= 2 &&
		(len(ws) == 1 || lakeAt(texts(ws[1:])) == len(ws)-1)
}

// carriedOn reads a stretch that [leans] on what was read before.
func (r *reader) carriedOn(ws []lexeme, joint byte, before []element) (element, bool) {
	if len(before) == 0 || !leans(ws, joint) {
		return element{}, false
	}
	last := &before[len(before)-1]
	e := element{printed: r.quote(ws[0].from, ws[len(ws)-1].to), lake: len(ws) > 1}
	switch digits := ws[0].text; {
	case len(last.number) == 5:
		e.number = last.number[:5-len(digits)] + digits
		e.strict, e.loose = r.x.byNumber[e.number], r.looseNumber(e.number)
	case last.hue != "":
		e.strict = r.x.dyes[last.hue+"|"+strings.TrimLeft(digits, "0")]
		e.loose, e.named, e.hue = e.strict, true, last.hue
	}
	return e, e.strict != nil
}

// item reads an ingredient with its brackets.
func (r *reader) item(it *item) outcome {
	o := r.head(it.heads)
	for i := range o.elements {
		o.elements[i].may = it.may
	}
	var inside outcome
	for _, list := range it.brackets {
		for i := range list {
			in := r.item(&list[i])
			if o.fat && !in.infused {
				// "Safflower Oil (Carthamus Tinctorius)" names the plant of an oil.
				in.elements = slices.DeleteFunc(in.elements, func(e element) bool { return e.number == "" && r.plant(e.strict) })
			}
			inside.elements = append(inside.elements, in.elements...)
			inside.doubts = append(inside.doubts, in.doubts...)
			inside.hues = append(inside.hues, in.hues...)
			inside.nano = inside.nano || in.nano
			inside.lake = inside.lake || in.lake
		}
	}
	if len(it.brackets) == 0 {
		return o
	}
	return r.join(o, inside)
}

// join brings an ingredient and its brackets together. A number and a name that can
// mean one substance are one; a name over several rows is narrowed; a number that
// fixes another row than the name is noted.
func (r *reader) join(o, in outcome) outcome {
	if len(o.elements) == 0 && len(o.doubts) == 0 {
		in.fat, in.printed, in.infused = o.fat, o.printed, o.infused
		in.hues = nil // what a bracket says of an ingredient that is no colour
		return in
	}
	// The misprint of a number whose base the other side names is no misprint.
	agrees := func(d doubt, with []element) bool {
		return slices.ContainsFunc(with, func(e element) bool { return len(common(d.base, e.loose)) > 0 })
	}
	if len(in.elements) > 0 {
		if n := len(o.doubts); o.trailing && (!o.doubts[n-1].number || agrees(o.doubts[n-1], in.elements)) {
			o.doubts = o.doubts[:n-1] // the bracket says what it is
		}
	}
	for _, d := range in.doubts {
		if len(o.elements) > 0 && (d.number && agrees(d, o.elements) || d.plain || !d.number && len(d.try) > 0) {
			continue
		}
		o.doubts = append(o.doubts, d)
	}
	met := make([][]element, len(o.elements))
	var extra []element
	for i := range in.elements {
		e := &in.elements[i]
		best := -1
		for h := range o.elements {
			if compatible(&o.elements[h], e) && (best < 0 || len(met[best]) > 0 && len(met[h]) == 0) {
				best = h
			}
		}
		if best < 0 {
			extra = append(extra, *e)
			continue
		}
		met[best] = append(met[best], refine(&o.elements[best], e))
	}
	if len(o.elements) == 1 && len(met[0]) == 0 && len(extra) > 0 {
		r.contradiction(&o.elements[0], extra)
	}
	var out []element
	for h := range o.elements {
		e := o.elements[h]
		e.nano, e.lake = e.nano || in.nano, e.lake || in.lake
		if len(met[h]) > 0 {
			for _, m := range met[h] {
				m.nano, m.lake = m.nano || in.nano, m.lake || in.lake
				out = append(out, m)
			}
			continue
		}
		if hued := r.huedBy(&e, in.hues); hued != nil {
			out = append(out, hued...)
			continue
		}
		out = append(out, e)
	}
	o.elements = append(out, extra...)
	return o
}

// huedBy splits a name over several rows by hue words in its bracket: "iron oxides
// (red, black)".
func (r *reader) huedBy(e *element, hues [][]string) (out []element) {
	for _, ws := range hues {
		for _, w := range ws {
			if rows := r.hued(e, w); rows != nil {
				c := *e
				c.strict = rows
				out = append(out, c)
			}
		}
	}
	return out
}

// contradiction notes a name and a number that mean different substances. A carrier
// may well have a colour's number in its bracket: that is what coats it.
func (r *reader) contradiction(head *element, inside []element) {
	carrier := func(e *element) bool {
		return !slices.ContainsFunc(e.strict, func(i int) bool { return !r.list[i].carrier() })
	}
	for i := range inside {
		e := &inside[i]
		if (head.number == "") == (e.number == "") || carrier(head) || carrier(e) {
			continue
		}
		r.notes = append(r.notes, fmt.Sprintf("%q and %q mean different colourants (%s and %s); both are counted, ask the supplier which it is",
			head.printed, e.printed, r.list[head.strict[0]].Name(), r.list[e.strict[0]].Name()))
	}
}

// builder gathers the tokens.
type builder struct {
	r    *reader
	out  Reading
	seen map[string]bool // unresolved texts in lower case
}

// list reads items in order. What a heading names ("Red 7 Lake: CI 15850") is read
// with what follows it; a heading that only says "Colour" is reported when nothing
// that follows says which.
func (b *builder) list(items []item) {
	for i := 0; i < len(items); i++ {
		it := &items[i]
		o := b.r.item(it)
		if !it.heading {
			// "Iron Oxide, Red, Black" and "Beeswax, yellow": a hue behind a comma
			// belongs to what stands before it.
			var inverted outcome
			for i+1 < len(items) && !items[i+1].heading {
				next := b.r.item(&items[i+1])
				narrows := len(o.elements) == 1 && b.r.huedBy(&o.elements[0], next.hues) != nil
				if len(next.elements) > 0 || next.hues == nil || !narrows && !(o.fat && len(o.elements) == 0) {
					break
				}
				inverted.hues = append(inverted.hues, next.hues...)
				i++
			}
			b.add(b.r.join(o, inverted))
			continue
		}
		end := i + 1
		for end < len(items) && !items[end].heading {
			end++
			if items[end-1].stop {
				break
			}
		}
		var inside outcome
		first := ""
		for k := i + 1; k < end; k++ {
			in := b.r.item(&items[k])
			if first == "" {
				first = in.printed
			}
			inside.elements = append(inside.elements, in.elements...)
			inside.doubts = append(inside.doubts, in.doubts...)
			inside.hues = append(inside.hues, in.hues...)
		}
		i = end - 1
		if len(o.elements) > 0 {
			b.add(b.r.join(o, inside))
			continue
		}
		if len(inside.elements) == 0 && len(inside.doubts) == 0 {
			for _, d := range o.doubts {
				if d.plain && first != "" {
					d.printed += ": " + first
				}
				inside.doubts = append(inside.doubts, d)
			}
		}
		b.add(inside)
	}
}

// add takes in what an item said. "[nano]" or "lake" alone belong to what stands before.
func (b *builder) add(o outcome) {
	if len(o.elements) == 0 && len(o.doubts) == 0 && len(b.out.Tokens) > 0 && (o.nano || o.lake) {
		last := &b.out.Tokens[len(b.out.Tokens)-1]
		last.Nano = last.Nano || o.nano
		last.Lake = last.Lake || o.lake
		return
	}
	for _, e := range o.elements {
		b.element(e)
	}
	for _, d := range o.doubts {
		b.doubt(d)
	}
}

func (b *builder) doubt(d doubt) {
	key := strings.ToLower(d.printed)
	if key == "" || b.seen[key] {
		return
	}
	b.seen[key] = true
	if d.try == nil {
		d.try = []string{}
	}
	b.out.Unresolved = append(b.out.Unresolved, d.printed)
	b.out.Suggestions = append(b.out.Suggestions, d.try)
}

// element turns what was read into a token, or merges it with the same one before.
func (b *builder) element(e element) {
	rows := e.strict
	if e.lake {
		rows = b.lakes(rows)
	}
	base := b.base(e, rows)
	for i := range b.out.Tokens {
		t := &b.out.Tokens[i]
		if t.base != base || t.Lake != e.lake {
			continue
		}
		t.May = t.May && e.may
		t.Nano = t.Nano || e.nano
		switch {
		case within(t.rows, rows):
		case within(rows, t.rows):
			t.rows = rows
		default:
			t.rows = union(t.rows, rows)
		}
		return
	}
	b.out.Tokens = append(b.out.Tokens, Token{base: base, rows: rows, Printed: e.printed, Lake: e.lake, May: e.may, Nano: e.nano})
}

// lakes gives the rows of the lakes of a dye; a substance without a lake row stands
// for its lake too.
func (b *builder) lakes(rows []int) []int {
	var out []int
	for _, i := range rows {
		for _, j := range b.r.x.byNumber[b.r.list[i].CI] {
			if b.r.list[j].Form == "al_lake" {
				out = union(out, []int{j})
			}
		}
	}
	if out == nil {
		return rows
	}
	return out
}

// base gives the token without its flags.
func (b *builder) base(e element, rows []int) string {
	x := b.r.x
	if len(rows) == 1 {
		own := x.own[rows[0]]
		f := &b.r.list[rows[0]]
		switch {
		case e.number == "" || f.CI == "":
			return own
		case e.named && e.number == f.CI:
			return own // the name adds the sub-number
		}
		return e.number
	}
	if e.number != "" {
		return e.number
	}
	first := b.r.list[rows[0]]
	for _, i := range rows[1:] {
		if b.r.list[i].CI != first.CI {
			return ironOxides
		}
	}
	return first.CI
}

// finish fills in what follows from the rows, and finds the worst.
func (b *builder) finish() {
	out := &b.out
	carried := b.carriesDye()
	out.Worst = Unknown
	if len(out.Tokens) > 0 && len(out.Unresolved) == 0 {
		out.Worst = Stable
	}
	worst := -1
	var row int
	for i := range out.Tokens {
		t := &out.Tokens[i]
		t.Token = t.base
		for _, flag := range []struct {
			on   bool
			word string
		}{{t.Lake, "+lake"}, {t.May, "+may"}, {t.Nano, "+nano"}} {
			if flag.on {
				t.Token += flag.word
			}
		}
		t.Behaviour = Stable
		at := t.rows[0]
		for _, j := range t.rows {
			f := &b.r.list[j]
			t.RowIDs = append(t.RowIDs, f.ID)
			if f.Behaviour.severity() > t.Behaviour.severity() {
				t.Behaviour, at = f.Behaviour, j
			}
		}
		t.Carrier = t.RowIDs[0] == "aluminium_hydroxide" && len(out.Tokens) > 1 && !carried
		if t.Carrier {
			continue
		}
		if t.Behaviour.severity() > out.Worst.severity() || worst < 0 && t.Behaviour == out.Worst && len(out.Unresolved) == 0 {
			out.Worst, worst, row = t.Behaviour, i, at
		}
	}
	switch {
	case worst >= 0:
		f := &b.r.list[row]
		out.WorstToken, out.WorstRow = out.Tokens[worst].Token, f.ID
		out.WorstReason = reason(f)
	case len(out.Unresolved) > 0:
		out.WorstToken = out.Unresolved[0]
		out.WorstReason = fmt.Sprintf("%q looks like a colour that is not in the table; ask the supplier for the full list", out.Unresolved[0])
	default:
		out.WorstReason = "the label names no colour"
	}
}

// carriesDye says whether the label holds a dye that aluminium hydroxide could be
// the lake base of; without one it is a coating on titanium dioxide or mica.
func (b *builder) carriesDye() bool {
	return slices.ContainsFunc(b.out.Tokens, func(t Token) bool {
		return t.Lake || slices.ContainsFunc(t.rows, func(i int) bool {
			return b.r.list[i].Form == "al_lake" || b.r.list[i].Form == "water_dye"
		})
	})
}

// reason says in a sentence why a row behaves as it does.
func reason(f *Fact) string {
	s := fmt.Sprintf("%s %s", f.Name(), f.Behaviour.Words())
	if f.Behaviour != Stable {
		if f.Fresh != "" {
			s += "; in the batter: " + f.Fresh
		}
		if f.Cured != "" {
			s += "; in the cured bar: " + f.Cured
		}
	}
	return s
}

// Canonical writes the tokens as a label that reads back to the same tokens.
func (r Reading) Canonical() string {
	x, list := names(), facts()
	var parts []string
	for _, t := range r.Tokens {
		write := func(s string) {
			if t.Lake {
				s += " Lake"
			}
			if t.Nano {
				s += " [nano]"
			}
			if t.May {
				s = "[+/- " + s + "]"
			}
			parts = append(parts, s)
		}
		switch rows := x.byNumber[t.base]; {
		case t.base == ironOxides && len(t.rows) > 1:
			write("Iron Oxides")
		case slices.Equal(rows, t.rows) || t.Lake && rows != nil && len(t.rows) == 1 && list[t.rows[0]].Form == "al_lake":
			write("CI " + t.base)
		default:
			for _, i := range t.rows {
				if rows == nil {
					write(list[i].Name())
				} else {
					write("CI " + t.base + " (" + list[i].Name() + ")")
				}
			}
		}
	}
	return strings.Join(parts, ", ")
}
