package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lyefast/internal/observations"
)

// Merged is what merging another book brought.
type Merged struct {
	Other string `json:"other"`
	// Added counts what the book did not have, by noun.
	Added []Counted `json:"added"`
	// Conflicts are what the two books said differently, and how that was settled.
	Conflicts []Conflict `json:"conflicts"`
}

// Counted is how many things of a noun.
type Counted struct {
	Noun  string `json:"noun"`
	Count int    `json:"count"`
}

// Conflict is one thing of which two books say different things.
type Conflict struct {
	What  string `json:"what"`
	Field string `json:"field"`
	// Here and There are what the two books say; Kept is what stands now, and
	// Besides says where the other value is still to be found.
	Here    string `json:"here"`
	There   string `json:"there"`
	Kept    string `json:"kept"`
	Besides string `json:"besides"`
}

// errTry ends a change that was only tried.
var errTry = errors.New("only tried")

// Merge brings what another book has and this one has not into this one, as one
// change. The other book is left as it is.
//
// The result does not depend on which of two books is merged into which, and a
// second merge adds nothing:
//
//   - Things on the shelf are the same if their names are. If they differ in
//     anything else, the one changed last keeps the name; the other is kept beside
//     it, retired, under its name with "(other 3f9a)" behind.
//   - Batches are the same if code and what was frozen at the pour are the same, the
//     moment it was written down included. What may change later is taken from the book that
//     has it; if both have it, from the one changed last, and the other value becomes
//     a note among the batch's events. Two different batches with one code: the older
//     keeps it.
//   - Events, weighings, lessons, readings: those of both books, each as often as the
//     book that has it oftener. Of two strikes of one reading the earlier stands.
//   - Rows of a learned table are the same if their keys are.
//
// What was taken back in one book and still stands in the other comes back. Each
// book keeps its own journal and identity. try changes nothing and only reports.
func (b *Book) Merge(ctx context.Context, other string, try bool) (Merged, error) {
	out := Merged{Other: other, Added: []Counted{}, Conflicts: []Conflict{}}
	if same(b.path, other) {
		return out, &Error{Op: "merge book", Path: other, Err: errors.New("it is the book itself"), Tip: "name another book, or a copy"}
	}
	dir, err := os.MkdirTemp("", "lyefast-merge")
	if err != nil {
		return out, wrap("merge book", other, err)
	}
	defer os.RemoveAll(dir)
	// A copy is brought to this program's format, not the other book.
	theirs := filepath.Join(dir, "other.db")
	if _, err := copyOther(ctx, other, theirs, "merge book", readBack); err != nil {
		return out, err
	}
	from, err := Open(ctx, theirs, b.now)
	if err != nil {
		return out, err
	}
	defer from.Close()
	r, err := Check(ctx, theirs, b.now, nil)
	if err != nil {
		return out, err
	}
	if len(r.Problems) > 0 {
		p := r.Problems[0]
		return out, &Error{Op: "merge book", Path: other, Kind: ErrDamaged, Err: fmt.Errorf("%s: %s", p.Where, p.What),
			Tip: fmt.Sprintf("see `lyefast book check --book %s`; nothing was taken from it", other)}
	}
	err = b.Change(ctx, "merge "+filepath.Base(other), func(to *Tx) error {
		return from.Read(ctx, func(from *Tx) error {
			m := &merger{ctx: ctx, to: to, from: from, out: &out, added: map[string]int{}}
			if err := m.run(); err != nil {
				return err
			}
			if try {
				return errTry
			}
			return nil
		})
	})
	if errors.Is(err, errTry) {
		err = nil
	}
	return out, err
}

// same tells whether two paths name one file.
func same(x, y string) bool {
	a, err1 := os.Stat(x)
	b, err2 := os.Stat(y)
	return err1 == nil && err2 == nil && os.SameFile(a, b)
}

// record is a row as it stands, by column, with the rows that hang on it.
type record struct {
	id       int64
	value    map[string]any
	children []*record
}

func (r *record) text(column string) string { s, _ := r.value[column].(string); return s }

// loader reads rows of one table.
type loader struct {
	table   string
	columns []column
	query   string
}

func (tx *Tx) loader(ctx context.Context, table, rest string) (*loader, error) {
	columns, err := columnsOf(ctx, tx.tx, table)
	if err != nil {
		return nil, err
	}
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = "t." + quote(c.name)
	}
	return &loader{table, columns, `SELECT ` + strings.Join(names, ", ") + ` FROM ` + quote(table) + ` AS t ` + rest}, nil
}

// each calls f for every row; the record is f's to keep.
func (l *loader) each(ctx context.Context, tx *Tx, args []any, f func(*record) error) error {
	cells := make([]any, len(l.columns))
	into := make([]any, len(l.columns))
	for i := range cells {
		into[i] = &cells[i]
	}
	return tx.each(ctx, l.query, args, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		r := &record{value: make(map[string]any, len(cells))}
		for i, c := range l.columns {
			r.value[c.name] = cells[i]
		}
		r.id, _ = r.value["id"].(int64)
		return f(r)
	})
}

func (tx *Tx) records(ctx context.Context, table, rest string, args ...any) ([]*record, error) {
	l, err := tx.loader(ctx, table, rest)
	if err != nil {
		return nil, err
	}
	var list []*record
	err = l.each(ctx, tx, args, func(r *record) error {
		list = append(list, r)
		return nil
	})
	return list, err
}

// print is a digest of a record's content, whatever its number: all columns but
// those left out, and its children.
type print [16]byte

func (p print) short() string { return hex.EncodeToString(p[:2]) }

func (r *record) print(leave ...string) print {
	var b bytes.Buffer
	r.write(&b, leave)
	sum := sha256.Sum256(b.Bytes())
	return print(sum[:16])
}

func (r *record) write(b *bytes.Buffer, leave []string) {
	for _, name := range sortedKeys(r.value) {
		if name == "id" || slices.Contains(leave, name) {
			continue
		}
		// %x of a float is exact; a text holds no zero byte.
		switch x := r.value[name].(type) {
		case float64:
			fmt.Fprintf(b, "%s=%x\x00", name, x)
		default:
			fmt.Fprintf(b, "%s=%T:%v\x00", name, x, x)
		}
	}
	for _, c := range r.children {
		b.WriteByte(1)
		c.write(b, []string{"batch_id", "portion_id", "fragrance_id"})
		b.WriteByte(2)
	}
}

func sortedKeys[V any](m map[string]V) []string {
	list := make([]string, 0, len(m))
	for k := range m {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

// put writes a record as a new row, with some columns set anew, and gives its number.
func (tx *Tx) put(ctx context.Context, table string, r *record, set map[string]any) (int64, error) {
	var names, marks []string
	var args []any
	for _, name := range sortedKeys(r.value) {
		if name == "id" {
			continue
		}
		v := r.value[name]
		if other, ok := set[name]; ok {
			v = other
		}
		names = append(names, quote(name))
		marks = append(marks, "?")
		args = append(args, v)
	}
	return tx.insert(ctx, `INSERT INTO `+quote(table)+` (`+strings.Join(names, ", ")+`) VALUES (`+strings.Join(marks, ", ")+`)`, args...)
}

// alter writes some columns of a row.
func (tx *Tx) alter(ctx context.Context, table string, id int64, set map[string]any) error {
	var sets []string
	var args []any
	for _, name := range sortedKeys(set) {
		sets = append(sets, quote(name)+" = ?")
		args = append(args, set[name])
	}
	return altered(tx.exec(ctx, `UPDATE `+quote(table)+` SET `+strings.Join(sets, ", ")+` WHERE id = ?`, append(args, id)...))
}

// merger brings what one view has into another.
type merger struct {
	ctx      context.Context
	to, from *Tx
	out      *Merged
	added    map[string]int
}

// mergedApart are the tables that a merge treats by name, or leaves to each book.
// Every other table must hang on a batch or a portion and is united row by row.
var mergedApart = map[string]bool{
	"colorant": true, "fragrance": true, "fragrance_share": true, "fragrance_claim": true, "stabilizer": true, "oil": true, "card": true,
	"batch": true, "batter": true, "portion": true, "portion_colorant": true,
	"intake": true, "reading_way": true, "reading": true, "strike": true,
	"history_intake": true, "history_portion": true, "history_dose": true,
	"identity": true, "worked_out": true,
}

func (m *merger) run() error {
	for _, s := range []struct {
		table, noun string
		children    []string
	}{
		{"colorant", "colourant", nil}, {"fragrance", "fragrance", []string{"fragrance_share", "fragrance_claim"}},
		{"stabilizer", "stabiliser", nil}, {"oil", "oil", nil}, {"card", "card", nil},
	} {
		if err := m.shelf(s.table, s.noun, s.children); err != nil {
			return err
		}
	}
	if err := m.batches(); err != nil {
		return err
	}
	if err := m.history(); err != nil {
		return err
	}
	for _, noun := range sortedKeys(m.added) {
		m.out.Added = append(m.out.Added, Counted{noun, m.added[noun]})
	}
	return nil
}

func (m *merger) conflict(c Conflict) { m.out.Conflicts = append(m.out.Conflicts, c) }

// shelfRows loads a noun's rows by name, children in their order.
func (m *merger) shelfRows(tx *Tx, table string, children []string) (map[string]*record, []*record, error) {
	list, err := tx.records(m.ctx, table, `ORDER BY name_key`)
	if err != nil {
		return nil, nil, err
	}
	named, numbered := map[string]*record{}, map[int64]*record{}
	for _, r := range list {
		named[r.text("name_key")], numbered[r.id] = r, r
	}
	for _, child := range children {
		parent := table + "_id"
		rest := `ORDER BY ` + quote(parent) + `, position`
		if child == "fragrance_share" {
			rest = `ORDER BY fragrance_id, role, position`
		}
		rows, err := tx.records(m.ctx, child, rest)
		if err != nil {
			return nil, nil, err
		}
		for _, c := range rows {
			c.value["\x00table"] = child
			id, _ := c.value[parent].(int64)
			if r := numbered[id]; r != nil {
				r.children = append(r.children, c)
			}
		}
	}
	return named, list, nil
}

// shelfLeave is what two things of one name may differ in without a conflict of content.
var shelfLeave = []string{"name", "name_key", "retired", "created_at", "changed_at"}

func (m *merger) shelf(table, noun string, children []string) error {
	here, _, err := m.shelfRows(m.to, table, children)
	if err != nil {
		return err
	}
	there, list, err := m.shelfRows(m.from, table, children)
	if err != nil {
		return err
	}
	for _, r := range list {
		mine := here[r.text("name_key")]
		if mine == nil {
			m.added[noun]++
			if err := m.putShelf(table, r, nil); err != nil {
				return err
			}
			continue
		}
		if err := m.shelfPair(table, noun, mine, r, here, there); err != nil {
			return err
		}
	}
	return nil
}

// putShelf adds a thing with what hangs on it.
func (m *merger) putShelf(table string, r *record, set map[string]any) error {
	id, err := m.to.put(m.ctx, table, r, set)
	if err != nil {
		return err
	}
	return m.putChildren(table, id, r)
}

func (m *merger) putChildren(table string, id int64, r *record) error {
	for _, c := range r.children {
		child, plain := c.text("\x00table"), &record{value: map[string]any{}}
		for k, v := range c.value {
			if k != "\x00table" {
				plain.value[k] = v
			}
		}
		if _, err := m.to.put(m.ctx, child, plain, map[string]any{table + "_id": id}); err != nil {
			return err
		}
	}
	return nil
}

// shelfPair settles two things of one name.
func (m *merger) shelfPair(table, noun string, mine, theirs *record, here, there map[string]*record) error {
	p, q := mine.print(shelfLeave...), theirs.print(shelfLeave...)
	later := cmp.Or(cmp.Compare(mine.text("changed_at"), theirs.text("changed_at")), bytes.Compare(p[:], q[:]),
		cmp.Compare(mine.value["retired"].(int64), theirs.value["retired"].(int64)), cmp.Compare(mine.text("name"), theirs.text("name")))
	what := noun + " " + mine.text("name")
	stands, loses := mine, theirs
	if later < 0 {
		stands, loses = theirs, mine
	}
	if p == q {
		if stands == mine || mine.value["retired"] == theirs.value["retired"] && mine.text("name") == theirs.text("name") {
			return nil
		}
		if mine.value["retired"] != theirs.value["retired"] {
			m.conflict(Conflict{What: what, Field: "retired", Here: retiredWord(mine), There: retiredWord(theirs), Kept: retiredWord(stands),
				Besides: "the later change stands"})
		}
		return m.to.alter(m.ctx, table, mine.id, map[string]any{"name": theirs.value["name"], "retired": theirs.value["retired"], "changed_at": theirs.value["changed_at"]})
	}
	lp := loses.print(shelfLeave...)
	name := otherName(loses.text("name"), lp)
	key := NameKey(name)
	known := here[key] != nil || there[key] != nil
	if !known || stands == theirs {
		fields := differing(mine, theirs)
		m.conflict(Conflict{What: what, Field: strings.Join(fields, ", "), Here: shown(mine, fields), There: shown(theirs, fields),
			Kept: shown(stands, fields), Besides: fmt.Sprintf("the other is kept, retired, as %q", name)})
	}
	if !known {
		set := map[string]any{"name": name, "name_key": key, "retired": int64(1)}
		if _, ok := loses.value["key"]; ok {
			set["key"] = key
		}
		if err := m.putShelf(table, loses, set); err != nil {
			return err
		}
		here[key] = &record{} // the name is taken now
		m.added[noun+" kept beside another of its name"]++
	}
	if stands == mine {
		return nil
	}
	set := map[string]any{}
	for k, v := range theirs.value {
		if k != "id" && k != "created_at" {
			set[k] = v
		}
	}
	if err := m.to.alter(m.ctx, table, mine.id, set); err != nil {
		return err
	}
	for _, c := range mine.children {
		if _, err := m.to.exec(m.ctx, `DELETE FROM `+quote(c.text("\x00table"))+` WHERE id = ?`, c.id); err != nil {
			return err
		}
	}
	return m.putChildren(table, mine.id, theirs)
}

func retiredWord(r *record) string {
	if r.value["retired"] == int64(1) {
		return "retired"
	}
	return "in use"
}

// longestName is as many letters as a name on the shelf may have.
const longestName = 80

// otherName is under which name a thing stands beside another of its name.
func otherName(name string, p print) string {
	tail := " (other " + p.short() + ")"
	r := []rune(name)
	return strings.TrimSpace(string(r[:min(len(r), longestName-len(tail))])) + tail
}

// differing lists the columns in which two things say different things.
func differing(x, y *record) (fields []string) {
	for _, name := range sortedKeys(x.value) {
		if name != "id" && !slices.Contains(shelfLeave, name) && x.value[name] != y.value[name] {
			fields = append(fields, name)
		}
	}
	if (&record{children: x.children}).print() != (&record{children: y.children}).print() {
		fields = append(fields, "papers")
	}
	return fields
}

// shown writes the columns for a person.
func shown(r *record, fields []string) string {
	var parts []string
	for _, f := range fields {
		switch v := r.value[f].(type) {
		case nil:
			if f == "papers" {
				parts = append(parts, fmt.Sprintf("%d lines of papers", len(r.children)))
			} else {
				parts = append(parts, "unknown")
			}
		case string:
			parts = append(parts, fmt.Sprintf("%q", v))
		case float64:
			parts = append(parts, fmt.Sprintf("%.6g", v))
		default:
			parts = append(parts, fmt.Sprint(v))
		}
	}
	return strings.Join(parts, ", ")
}

// pair is one batch in either book, or in both.
type pair struct {
	here, there *record
	print       print
	code        string
}

func (p *pair) either() *record {
	if p.here != nil {
		return p.here
	}
	return p.there
}

// laterFields are what of a batch may change after the pour.
var laterFields = []string{"gel", "storage", "place", "cure_c", "cut_at", "schedule", "closed_at", "note"}

func frozenPrint(r *record) print {
	return r.print(append([]string{"code", "code_key", "changed_at"}, laterFields...)...)
}

// batchRows loads batches with pots, portions and doses.
func (m *merger) batchRows(tx *Tx) ([]*record, error) {
	list, err := tx.records(m.ctx, "batch", `ORDER BY code_key`)
	if err != nil {
		return nil, err
	}
	batches, portions := map[int64]*record{}, map[int64]*record{}
	for _, r := range list {
		batches[r.id] = r
	}
	for _, s := range []struct {
		table, parent string
		of            map[int64]*record
	}{{"batter", "batch_id", batches}, {"portion", "batch_id", batches}, {"portion_colorant", "portion_id", portions}} {
		rows, err := tx.records(m.ctx, s.table, `ORDER BY `+s.parent+`, position`)
		if err != nil {
			return nil, err
		}
		for _, c := range rows {
			id, _ := c.value[s.parent].(int64)
			if p := s.of[id]; p != nil {
				p.children = append(p.children, c)
			}
			if s.table == "portion" {
				portions[c.id] = c
			}
		}
	}
	return list, nil
}

// ownCode is the code a batch had before a merge gave it another: two poured from one
// plan and written down in one second differ by nothing else.
func ownCode(key string, p print) string {
	tail := "-" + p.short()
	if i := strings.LastIndex(key, tail); i > 0 && (i+len(tail) == len(key) || key[i+len(tail)] == '.') {
		key = key[:i]
	}
	// A long one was cut to make room for the tail.
	r := []rune(key)
	return string(r[:min(len(r), observations.MaxCode-2*len(tail))])
}

// pairs finds which batches of the two books are the same, and gives each its code.
func pairs(here, there []*record) []*pair {
	type group struct{ here, there []*record }
	type mark struct {
		print print
		code  string
	}
	groups := map[mark]*group{}
	for i, list := range [][]*record{here, there} {
		for _, r := range list {
			p := frozenPrint(r)
			m := mark{p, ownCode(r.text("code_key"), p)}
			g := groups[m]
			if g == nil {
				g = &group{}
				groups[m] = g
			}
			if i == 0 {
				g.here = append(g.here, r)
			} else {
				g.there = append(g.there, r)
			}
		}
	}
	var out []*pair
	for m, g := range groups {
		p := m.print
		// One of them may have been given its code by a merge: the same code first, the
		// rest in order.
		for i := 0; i < len(g.here); i++ {
			j := slices.IndexFunc(g.there, func(r *record) bool { return r.text("code_key") == g.here[i].text("code_key") })
			if j >= 0 {
				out = append(out, &pair{here: g.here[i], there: g.there[j], print: p})
				g.here, g.there = slices.Delete(g.here, i, i+1), slices.Delete(g.there, j, j+1)
				i--
			}
		}
		for i := range max(len(g.here), len(g.there)) {
			x := &pair{print: p}
			if i < len(g.here) {
				x.here = g.here[i]
			}
			if i < len(g.there) {
				x.there = g.there[i]
			}
			out = append(out, x)
		}
	}
	assignCodes(out)
	return out
}

// assignCodes gives every batch a code of its own: the older ones first, each one it
// has already if that is still free.
func assignCodes(list []*pair) {
	candidates := func(p *pair) []string {
		var codes []string
		for _, r := range []*record{p.here, p.there} {
			if r != nil && !slices.Contains(codes, r.text("code")) {
				codes = append(codes, r.text("code"))
			}
		}
		slices.SortFunc(codes, func(x, y string) int { return cmp.Or(len(x)-len(y), cmp.Compare(x, y)) })
		return codes
	}
	slices.SortFunc(list, func(x, y *pair) int {
		return cmp.Or(cmp.Compare(x.either().text("created_at"), y.either().text("created_at")), bytes.Compare(x.print[:], y.print[:]),
			cmp.Compare(candidates(x)[0], candidates(y)[0]))
	})
	wanted, taken := map[string]bool{}, map[string]bool{}
	for _, p := range list {
		for _, c := range candidates(p) {
			wanted[NameKey(c)] = true
		}
	}
	for _, p := range list {
		for _, c := range candidates(p) {
			if !taken[NameKey(c)] {
				p.code = c
				break
			}
		}
		for i := 1; p.code == ""; i++ {
			tail := "-" + p.print.short()
			if i > 1 {
				tail += fmt.Sprintf(".%d", i)
			}
			r := []rune(candidates(p)[0])
			code := string(r[:min(len(r), observations.MaxCode-len(tail))]) + tail
			if key := NameKey(code); !taken[key] && !wanted[key] {
				p.code = code
			}
		}
		taken[NameKey(p.code)] = true
	}
}

func (m *merger) batches() error {
	here, err := m.batchRows(m.to)
	if err != nil {
		return err
	}
	there, err := m.batchRows(m.from)
	if err != nil {
		return err
	}
	list := pairs(here, there)
	notes := map[*pair][]*record{}
	renamed := map[*pair]string{}
	for _, p := range list {
		if p.here == nil {
			continue
		}
		set := map[string]any{}
		if p.there != nil {
			notes[p] = m.laterPair(p, set)
		}
		if old := p.here.text("code"); old != p.code {
			// Two may change places: out of the way first.
			renamed[p] = old
			away := fmt.Sprintf("~%d", p.here.id)
			if err := m.to.alter(m.ctx, "batch", p.here.id, map[string]any{"code": away, "code_key": away}); err != nil {
				return err
			}
		}
		if len(set) > 0 {
			set["changed_at"] = max(p.here.text("changed_at"), p.there.text("changed_at"))
			if err := m.to.alter(m.ctx, "batch", p.here.id, set); err != nil {
				return err
			}
		}
	}
	for _, p := range list {
		if old, ok := renamed[p]; ok {
			m.recode(p, old, "here")
			if err := m.to.alter(m.ctx, "batch", p.here.id, map[string]any{"code": p.code, "code_key": NameKey(p.code)}); err != nil {
				return err
			}
		}
	}
	w := &readingMerge{merger: m, intakes: map[int64]int64{}, counts: map[int64]int{}}
	if err := w.open(); err != nil {
		return err
	}
	defer w.close()
	hang, err := m.hanging()
	if err != nil {
		return err
	}
	for _, p := range list {
		if p.there == nil {
			continue
		}
		if err := m.batch(p, notes[p], hang, w); err != nil {
			return err
		}
	}
	return w.finish()
}

func (m *merger) recode(p *pair, old, where string) {
	m.conflict(Conflict{What: "batch " + old, Field: "code", Here: p.code, There: old, Kept: p.code,
		Besides: fmt.Sprintf("another batch, written down earlier, has the code %s; the one %s poured %s is %s now", old, where, p.either().text("poured_at"), p.code)})
}

// laterPair settles what may change after the pour: set is filled with what the book
// takes over; the values that give way come back as notes, where neither book has
// such a note yet.
func (m *merger) laterPair(p *pair, set map[string]any) (notes []*record) {
	x, y := p.here, p.there
	for _, f := range laterFields {
		a, b := x.value[f], y.value[f]
		if a == b {
			continue
		}
		empty := func(v any) bool { return v == nil || v == "" }
		if f != "closed_at" && (empty(a) || empty(b)) {
			if empty(a) {
				set[f] = b
			}
			continue
		}
		gives, stands := y, x
		if cmp.Or(cmp.Compare(x.text("changed_at"), y.text("changed_at")), cmp.Compare(fmt.Sprint(a), fmt.Sprint(b))) < 0 {
			gives, stands = x, y
			set[f] = b
		}
		said := shown(gives, []string{f})
		if f == "closed_at" && gives.value[f] == nil {
			said = "open"
		}
		notes = append(notes, &record{value: map[string]any{
			"kind": string(observations.Remark), "at": gives.value["changed_at"], "clock": int64(1), "after_min": nil, "batter": "", "portion": "", "value": nil,
			"note": fmt.Sprintf("another book had %s: %s", strings.TrimSuffix(strings.TrimSuffix(f, "_at"), "_c"), said),
			// For the report; no column.
			"\x00conflict": Conflict{What: "batch " + p.code, Field: f, Here: shown(x, []string{f}), There: shown(y, []string{f}), Kept: shown(stands, []string{f}),
				Besides: "the other value is a note among its events"},
		}})
	}
	return notes
}

// hanging lists the tables whose rows hang on a batch or a portion and are united.
func (m *merger) hanging() (map[string]string, error) {
	names, err := tables(m.ctx, m.to.tx)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, name := range names {
		if mergedApart[name] {
			continue
		}
		columns, err := columnsOf(m.ctx, m.to.tx, name)
		if err != nil {
			return nil, err
		}
		for _, parent := range []string{"portion_id", "batch_id"} {
			if slices.Contains(columns, column{parent, "INTEGER"}) && out[name] == "" {
				out[name] = parent
			}
		}
		if out[name] == "" {
			return nil, fmt.Errorf("table %q cannot be merged: it hangs neither on a batch nor on a portion", name)
		}
	}
	return out, nil
}

// batch brings one batch of the other book.
func (m *merger) batch(p *pair, notes []*record, hang map[string]string, w *readingMerge) error {
	isNew := p.here == nil
	id := int64(0)
	portions := map[int64]int64{} // by their numbers there
	if isNew {
		if old := p.there.text("code"); old != p.code {
			m.recode(p, old, "there")
		}
		m.added["batch"]++
		var err error
		if id, err = m.to.put(m.ctx, "batch", p.there, map[string]any{"code": p.code, "code_key": NameKey(p.code)}); err != nil {
			return err
		}
		for _, c := range p.there.children {
			table := "batter"
			if _, ok := c.value["batter"]; ok {
				table = "portion"
			}
			child, err := m.to.put(m.ctx, table, c, map[string]any{"batch_id": id})
			if err != nil {
				return err
			}
			if table == "portion" {
				portions[c.id] = child
			}
			for _, d := range c.children {
				if _, err := m.to.put(m.ctx, "portion_colorant", d, map[string]any{"portion_id": child}); err != nil {
					return err
				}
			}
		}
	} else {
		id = p.here.id
		for i, c := range p.there.children {
			if _, ok := c.value["batter"]; ok {
				portions[c.id] = p.here.children[i].id // the same in the same order, or they would be no pair
			}
		}
	}
	for _, table := range sortedKeys(hang) {
		if hang[table] == "batch_id" {
			var more []*record
			if table == "event" {
				more = notes
			}
			if err := m.unite(table, "batch_id", id, p.there.id, more); err != nil {
				return err
			}
			continue
		}
		for _, there := range sortedNumbers(portions) {
			if err := m.unite(table, "portion_id", portions[there], there, nil); err != nil {
				return err
			}
		}
	}
	for _, there := range sortedNumbers(portions) {
		if err := w.portion(portions[there], there, isNew, "batch "+p.code); err != nil {
			return err
		}
	}
	return nil
}

func sortedNumbers(m map[int64]int64) []int64 {
	list := make([]int64, 0, len(m))
	for k := range m {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

// unite adds the rows under a parent that the other book has and this one has not,
// and those of more that neither has.
func (m *merger) unite(table, parent string, here, there int64, more []*record) error {
	rest := `WHERE ` + quote(parent) + ` = ? ORDER BY id`
	mine, err := m.to.records(m.ctx, table, rest, here)
	if err != nil {
		return err
	}
	theirs, err := m.from.records(m.ctx, table, rest, there)
	if err != nil {
		return err
	}
	left, had := map[print]int{}, map[print]bool{}
	for _, r := range mine {
		left[r.print(parent)]++
		had[r.print(parent)] = true
	}
	for _, r := range theirs {
		p := r.print(parent)
		had[p] = true
		if left[p] > 0 {
			left[p]--
			continue
		}
		m.added[table]++
		if _, err := m.to.put(m.ctx, table, r, map[string]any{parent: here}); err != nil {
			return err
		}
	}
	for _, r := range more {
		c := r.value["\x00conflict"].(Conflict)
		delete(r.value, "\x00conflict")
		r.value[parent] = here
		if had[r.print(parent)] {
			continue
		}
		m.conflict(c)
		m.added["note of what the other book had"]++
		if _, err := m.to.put(m.ctx, table, r, nil); err != nil {
			return err
		}
	}
	return nil
}

// history brings the rows of learned tables.
func (m *merger) history() error {
	list, err := m.from.History(m.ctx)
	if err != nil {
		return err
	}
	bySource := map[string][]HistoryPortion{}
	var order []string
	for _, h := range list {
		if _, ok := bySource[h.Source]; !ok {
			order = append(order, h.Source)
		}
		bySource[h.Source] = append(bySource[h.Source], h)
	}
	for _, source := range order {
		n, err := m.to.AddHistory(m.ctx, source, bySource[source])
		if err != nil {
			return err
		}
		if n > 0 {
			m.added["learned row"] += n
		}
	}
	return nil
}
