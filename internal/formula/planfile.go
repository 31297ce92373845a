package formula

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"lyefast/internal/cie"
	"lyefast/internal/near"
	"lyefast/internal/unit"
)

// maxPlanBytes bounds a plan file. A plan is a page or two of text; a file
// beyond this is something else.
const maxPlanBytes = 1 << 20

// maxEntries bounds each list of a plan, so that a hostile file cannot ask for
// more work than a bench could hold.
const maxEntries = 200

// maxColorants bounds the colourants of one portion, and maxPortions the portions of
// a plan over all its pots: a forecast takes time for each.
const (
	maxColorants = 24
	maxPortions  = 200
)

// PlanError carries everything that is wrong with a plan file. Its text is one
// line for each fault, with file, line and field.
type PlanError struct {
	File     string
	Problems []Problem
}

func (e *PlanError) Error() string {
	var b strings.Builder
	for i, p := range e.Problems {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(p.Where(e.File))
		b.WriteString(": ")
		if p.Field != "" {
			b.WriteString(p.Field)
			b.WriteString(": ")
		}
		b.WriteString(p.Message)
		if p.Hint != "" {
			b.WriteString("; ")
			b.WriteString(p.Hint)
		}
	}
	return b.String()
}

// Where gives "file:line", or what is known of it.
func (p Problem) Where(file string) string {
	if file == "" {
		file = "plan"
	}
	if p.Line <= 0 {
		return file
	}
	return fmt.Sprintf("%s:%d", file, p.Line)
}

// ReadPlan reads a plan file (TOML 1.0). The file name is used in messages only.
// On a fault the error is a [*PlanError] which names every fault found, each with
// its line; the plan is then not usable.
func ReadPlan(data []byte, file string) (Plan, error) {
	fail := func(line int, msg, hint string) (Plan, error) {
		return Plan{}, &PlanError{file, []Problem{{Line: line, Message: msg, Hint: hint, Fatal: true}}}
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	switch {
	case len(data) > maxPlanBytes:
		return fail(0, fmt.Sprintf("%.1f MB is too large for a plan", float64(len(data))/1e6), "a plan is a page of text; is this the right file?")
	case len(bytes.TrimSpace(data)) == 0:
		return fail(0, "the file is empty", "`lyefast plan new` writes one to fill in")
	case bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")):
		return fail(0, "the file is UTF-16 text", "save it as UTF-8")
	case bytes.IndexByte(data, 0) >= 0:
		return fail(0, "the file is binary, not a plan", "a plan is a text file; `lyefast plan new` writes one")
	case !utf8.Valid(data):
		return fail(lineOfInvalid(data), "the text is not UTF-8", "save the file as UTF-8")
	}
	root := map[string]any{}
	md, err := toml.Decode(string(data), &root)
	if err != nil {
		var perr toml.ParseError
		if errors.As(err, &perr) {
			msg := perr.Message
			if msg == "" {
				msg = strings.TrimPrefix(perr.Error(), "toml: ")
			}
			return fail(perr.Position.Line, "this is not a plan file: "+msg, "text values stand in quotes, like superfat = \"5 %\"")
		}
		return fail(0, "this is not a plan file: "+err.Error(), "")
	}
	r := planReader{lines: indexLines(string(data)), md: md}
	p := r.plan(root)
	p.File = file
	if len(r.problems) > 0 {
		slices.SortStableFunc(r.problems, func(a, b Problem) int { return a.Line - b.Line })
		return Plan{}, &PlanError{file, r.problems}
	}
	return p, nil
}

func lineOfInvalid(data []byte) int {
	line := 1
	for len(data) > 0 {
		c, n := utf8.DecodeRune(data)
		if c == utf8.RuneError && n <= 1 {
			return line
		}
		if c == '\n' {
			line++
		}
		data = data[n:]
	}
	return line
}

// planReader turns decoded TOML into a Plan and collects every fault on the way.
type planReader struct {
	lines    lineIndex
	md       toml.MetaData
	problems []Problem
}

func (r *planReader) fault(path, msg, hint string) {
	r.problems = append(r.problems, Problem{Line: r.lines.at(path), Field: path, Message: msg, Hint: hint, Fatal: true})
}

func (r *planReader) err(path string, err error) {
	if err != nil {
		r.fault(path, err.Error(), "")
	}
}

// planTable is one TOML table with the keys that may stand in it.
type planTable struct {
	r    *planReader
	path string
	m    map[string]any
}

func (t planTable) sub(key string) string { return join(t.path, key) }

// keys faults every key of the table that is not among the known ones.
func (t planTable) keys(known ...string) {
	for key := range t.m {
		if slices.Contains(known, key) {
			continue
		}
		hint := "known here: " + strings.Join(known, ", ")
		if n := near.Near(key, known); len(n) > 0 {
			hint = fmt.Sprintf("did you mean %q?", n[0])
		}
		t.r.fault(t.sub(key), "unknown key", hint)
	}
}

func (t planTable) has(key string) bool { _, ok := t.m[key]; return ok }

func (t planTable) line(key string) int {
	if t.has(key) {
		return t.r.lines.at(t.sub(key))
	}
	return 0
}

// text reads a string; "" when absent.
func (t planTable) text(key string) string {
	v, ok := t.m[key]
	if !ok {
		return ""
	}
	s, ok := v.(string)
	if !ok {
		t.r.fault(t.sub(key), fmt.Sprintf("%v is no text", v), "put it in quotes")
		return ""
	}
	return strings.TrimSpace(s)
}

// quantity reads a string with a unit and parses it.
func quantity[T any](t planTable, key, example string, parse func(string) (T, error)) *T {
	v, ok := t.m[key]
	if !ok {
		return nil
	}
	s, ok := v.(string)
	if !ok {
		t.r.fault(t.sub(key), fmt.Sprintf("%v has no unit", v), "write it like "+example)
		return nil
	}
	x, err := parse(s)
	if err != nil {
		hint := "write it like " + example
		if strings.Contains(err.Error(), "write ") {
			hint = "" // the parser has said what to write
		}
		t.r.fault(t.sub(key), err.Error(), hint)
		return nil
	}
	return &x
}

func (t planTable) percent(key string, lo, hi float64) *unit.Percent {
	p := quantity(t, key, `"5 %"`, unit.ParsePercent)
	if p != nil && (float64(*p) < lo || float64(*p) > hi) {
		t.r.fault(t.sub(key), fmt.Sprintf("%v is outside %g–%g %%", *p, lo, hi), "")
		return nil
	}
	return p
}

// number reads a plain number, or a string that holds one; def when absent.
func (t planTable) number(key string, def float64) float64 {
	var v float64
	switch x := t.m[key].(type) {
	case nil:
		return def
	case int64:
		v = float64(x)
	case float64:
		v = x
	case string:
		n, err := unit.ParseNumber(x)
		if err != nil {
			t.r.fault(t.sub(key), err.Error(), "")
			return def
		}
		v = n
	default:
		t.r.fault(t.sub(key), fmt.Sprintf("%v is not a number", x), "")
		return def
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		t.r.fault(t.sub(key), "not a finite number", "")
		return def
	}
	return v
}

func (t planTable) boolean(key string, def bool) bool {
	v, ok := t.m[key]
	if !ok {
		return def
	}
	b, ok := v.(bool)
	if !ok {
		t.r.fault(t.sub(key), fmt.Sprintf("%v is neither true nor false", v), "write true or false without quotes")
		return def
	}
	return b
}

// one reads a word out of a list.
func (t planTable) one(key string, words ...string) string {
	s := strings.ToLower(t.text(key))
	if s == "" || slices.Contains(words, s) {
		return s
	}
	t.r.fault(t.sub(key), fmt.Sprintf("%q is not known here", s), "use "+strings.Join(words, ", "))
	return ""
}

func (t planTable) table(key string) (planTable, bool) {
	v, ok := t.m[key]
	if !ok {
		return planTable{}, false
	}
	m, ok := v.(map[string]any)
	if !ok {
		t.r.fault(t.sub(key), "this must be a table", fmt.Sprintf("write [%s] on a line of its own, or %s = { … }", key, key))
		return planTable{}, false
	}
	return planTable{t.r, t.sub(key), m}, true
}

// tables reads [[key]] or an array of inline tables.
func (t planTable) tables(key string) []planTable {
	v, ok := t.m[key]
	if !ok {
		return nil
	}
	var list []any
	switch x := v.(type) {
	case []map[string]any:
		for _, m := range x {
			list = append(list, m)
		}
	case []any:
		list = x
	default:
		t.r.fault(t.sub(key), "this must be a list of tables", fmt.Sprintf("write [[%s]], or %s = [{ … }]", t.sub(key), key))
		return nil
	}
	if len(list) > maxEntries {
		t.r.fault(t.sub(key), fmt.Sprintf("%d entries are too many", len(list)), fmt.Sprintf("at most %d", maxEntries))
		return nil
	}
	var out []planTable
	for i, e := range list {
		path := fmt.Sprintf("%s[%d]", t.sub(key), i)
		m, ok := e.(map[string]any)
		if !ok {
			t.r.fault(path, fmt.Sprintf("%v is not a table", e), `write { name = "…" }`)
			continue
		}
		out = append(out, planTable{t.r, path, m})
	}
	return out
}

func (t planTable) texts(key string) []string {
	v, ok := t.m[key]
	if !ok {
		return nil
	}
	if s, ok := v.(string); ok {
		return []string{strings.TrimSpace(s)}
	}
	list, ok := v.([]any)
	if !ok {
		t.r.fault(t.sub(key), "this must be a list of names", fmt.Sprintf(`write %s = ["…"]`, key))
		return nil
	}
	var out []string
	for i, e := range list {
		s, ok := e.(string)
		if !ok {
			t.r.fault(fmt.Sprintf("%s[%d]", t.sub(key), i), fmt.Sprintf("%v is no text", e), "put it in quotes")
			continue
		}
		out = append(out, strings.TrimSpace(s))
	}
	return out
}

func (r *planReader) plan(root map[string]any) Plan {
	t := planTable{r, "", root}
	t.keys("title", "note", "superfat", "lye", "oils", "base", "fragrance", "pour", "additive", "batter")
	p := Plan{Title: t.text("title"), Note: t.text("note")}
	if s := t.percent("superfat", -5, 40); s != nil {
		p.Superfat, p.SuperfatGiven, p.SuperfatLine = *s, true, t.line("superfat")
	}
	if l, ok := t.table("lye"); ok {
		p.Lye = l.lye()
	}
	p.Oils = r.oils(t)
	if b, ok := t.table("base"); ok {
		p.Base = b.base()
	}
	if f, ok := t.table("fragrance"); ok {
		p.Fragrance = f.fragrance()
	}
	if b, ok := t.table("pour"); ok {
		p.Pour = b.pour()
	}
	for _, a := range t.tables("additive") {
		p.Additives = append(p.Additives, a.additive())
	}
	names := map[string]bool{}
	for _, b := range t.tables("batter") {
		bt := b.batter(p.Fragrance != nil)
		if bt.Name == "" {
			bt.Name = fmt.Sprintf("pot %d", len(p.Batters)+1)
		}
		if names[strings.ToLower(bt.Name)] {
			r.fault(b.path, fmt.Sprintf("a second batter is called %q", bt.Name), "give each pot its own name")
		}
		names[strings.ToLower(bt.Name)] = true
		p.Batters = append(p.Batters, bt)
	}
	if len(p.Batters) == 0 && len(r.problems) == 0 {
		r.fault("", "no [[batter]] in the plan", "a plan needs at least one pot, with its oils or its mould")
	}
	if !t.has("superfat") && p.Lye.NaOH == nil && p.Lye.KOH == nil && !everyBatterSetsLye(p.Batters) {
		r.fault("", "no superfat (lye discount) given", `write superfat = "5 %", or the NaOH of an old recipe in [lye]`)
	}
	total := 0
	for _, b := range p.Batters {
		total += len(b.Portions)
	}
	if total > maxPortions {
		r.fault("batter", fmt.Sprintf("%d portions are too many for one plan", total), fmt.Sprintf("at most %d; write several plans", maxPortions))
		return p
	}
	r.neighbours(p)
	r.sizes(&p, root)
	return p
}

func everyBatterSetsLye(bs []Batter) bool {
	for _, b := range bs {
		if b.Superfat == nil && (b.Lye == nil || b.Lye.NaOH == nil && b.Lye.KOH == nil) {
			return false
		}
	}
	return len(bs) > 0
}

// sizes settles how much oil each batter has: its own figure, its mould, or, in a
// recipe by weight with one pot, the sum of the recipe.
func (r *planReader) sizes(p *Plan, root map[string]any) {
	sum, weighed := unit.Grams(0), len(p.Oils) > 0
	for _, o := range p.Oils {
		if o.Grams == nil {
			weighed = false
			break
		}
		sum += *o.Grams
	}
	for i := range p.Batters {
		b := &p.Batters[i]
		if b.Oils != nil || b.Mould != nil {
			continue
		}
		if weighed && len(p.Batters) == 1 {
			b.Oils = &sum
			continue
		}
		if sizeGiven(root, i) {
			continue // its own fault has been told
		}
		r.fault(fmt.Sprintf("batter[%d]", i), fmt.Sprintf("%q says neither oils nor mould", b.Name), `write oils = "1000 g" or mould = "25 x 8 x 7 cm"`)
	}
}

// sizeGiven tells whether a batter states a size at all, readable or not.
func sizeGiven(root map[string]any, i int) bool {
	list, _ := root["batter"].([]map[string]any)
	if i >= len(list) {
		return false
	}
	for _, key := range []string{"oils", "mould", "mold"} {
		if _, ok := list[i][key]; ok {
			return true
		}
	}
	return false
}

func (r *planReader) oils(t planTable) []OilUse {
	o, ok := t.table("oils")
	if !ok {
		if len(r.problems) == 0 {
			r.fault("oils", "no oils given", `write [oils] and a line like "olive, refined" = "45 %" for each`)
		}
		return nil
	}
	var out []OilUse
	for _, key := range r.md.Keys() { // keeps the order of the file, which a map does not
		if len(key) != 2 || key[0] != "oils" {
			continue
		}
		name := key[1]
		path := o.sub(name)
		u := OilUse{Name: name, Line: r.lines.at(path)}
		amount := o.m[name]
		if m, ok := amount.(map[string]any); ok {
			ot := planTable{r, path, m}
			ot.keys("share", "amount", "sv")
			if sv := ot.number("sv", 0); sv != 0 {
				if sv < 20 || sv > 500 {
					r.fault(ot.sub("sv"), fmt.Sprintf("a saponification value of %g mg KOH/g is outside 20–500", sv), "take it from the certificate of the lot")
				}
				u.SV = &sv
			}
			amount = m["amount"]
			if amount == nil {
				amount = m["share"]
			}
		}
		s, ok := amount.(string)
		if !ok {
			r.fault(path, fmt.Sprintf("%v has no unit", amount), `write a share like "45 %" or a weight like "450 g"`)
			continue
		}
		if pc, err := unit.ParsePercent(s); err == nil {
			u.Share = &pc
			if pc < 0 || pc > 100 {
				r.fault(path, fmt.Sprintf("%v is outside 0–100 %%", pc), "")
			}
		} else if g, gerr := unit.ParseMass(s); gerr == nil {
			u.Grams = &g
		} else if strings.Contains(s, "%") {
			r.err(path, err)
		} else {
			r.fault(path, fmt.Sprintf("%q is neither a share nor a weight", s), `write a share like "45 %" or a weight like "450 g"`)
		}
		out = append(out, u)
	}
	if len(out) > maxEntries {
		r.fault("oils", fmt.Sprintf("%d oils are too many", len(out)), "")
		return nil
	}
	if len(out) == 0 && len(r.problems) == 0 {
		r.fault("oils", "no oils given", `write a line like "olive, refined" = "45 %" for each`)
	}
	return out
}

func (t planTable) lye() Lye {
	t.keys("alkali", "purity", "naoh_purity", "koh_purity", "koh_share", "concentration", "water_ratio", "water", "naoh", "koh", "temperature")
	l := Lye{Line: t.r.lines.at(t.path)}
	alkali := t.one("alkali", "naoh", "koh", "both")
	l.AlkaliGiven = alkali != ""
	purity := t.percent("purity", 0, 100)
	l.NaOHPurity, l.KOHPurity = t.percent("naoh_purity", 0, 100), t.percent("koh_purity", 0, 100)
	share := t.percent("koh_share", 0, 100)
	switch alkali {
	case "koh":
		l.KOHShare = 100
		if l.KOHPurity == nil {
			l.KOHPurity = purity
		}
		if share != nil && *share != 100 {
			t.r.fault(t.sub("koh_share"), "alkali is KOH alone", `write alkali = "both" to mix`)
		}
	case "both":
		if share == nil {
			t.r.fault(t.sub("alkali"), "both alkalis without koh_share", `write koh_share = "10 %" (of the hydroxide, by moles)`)
		} else {
			l.KOHShare = *share
		}
		if purity != nil {
			t.r.fault(t.sub("purity"), "which alkali has this purity?", "write naoh_purity and koh_purity")
		}
	default:
		if share != nil {
			l.KOHShare = *share
		}
		if l.NaOHPurity == nil {
			l.NaOHPurity = purity
		}
	}
	l.Concentration = t.percent("concentration", 0, 100)
	if t.has("water_ratio") {
		l.WaterRatio = t.ratio("water_ratio")
	}
	l.WaterOfOils = t.percent("water", 0, 200)
	n := 0
	for _, set := range []bool{l.Concentration != nil, l.WaterRatio != nil, l.WaterOfOils != nil} {
		if set {
			n++
		}
	}
	if n > 1 {
		t.r.fault(t.path, "the water is given more than once", "keep one of concentration, water_ratio and water")
	}
	l.NaOH, l.KOH = quantity(t, "naoh", `"144 g"`, unit.ParseMass), quantity(t, "koh", `"144 g"`, unit.ParseMass)
	l.Temperature = quantity(t, "temperature", `"35 °C"`, unit.ParseCelsius)
	return l
}

// ratio reads "2 : 1", "2.0" or a plain number.
func (t planTable) ratio(key string) *float64 {
	if s, ok := t.m[key].(string); ok {
		a, b, colon := strings.Cut(s, ":")
		if !colon {
			b = "1"
		}
		x, err := unit.ParseNumber(a)
		y, err2 := unit.ParseNumber(b)
		if err != nil || err2 != nil || x <= 0 || y <= 0 {
			t.r.fault(t.sub(key), fmt.Sprintf("%q is not a ratio", s), `write water to alkali like "2 : 1"`)
			return nil
		}
		v := x / y
		return &v
	}
	v := t.number(key, 0)
	if v <= 0 {
		t.r.fault(t.sub(key), fmt.Sprintf("a ratio of %g is not possible", v), `write water to alkali like "2 : 1"`)
		return nil
	}
	return &v
}

func (t planTable) colour(key string) *cie.Lab {
	s := t.text(key)
	if s == "" {
		return nil
	}
	c, err := cie.ParseColor(s)
	if err != nil {
		t.r.err(t.sub(key), err)
		return nil
	}
	return &c
}

func (t planTable) base() *BareReading {
	t.keys("colour", "color", "lab", "age_days")
	var b BareReading
	for _, key := range []string{"lab", "colour", "color"} {
		if c := t.colour(key); c != nil {
			b.Lab = *c
		}
	}
	if b.Lab == (cie.Lab{}) {
		t.r.fault(t.path, "the colour of the bare bar is missing", `write colour = "88,-0.5,12" (L*, a*, b*) or a hex colour`)
		return nil
	}
	b.AgeDays = t.number("age_days", 0)
	return &b
}

func (t planTable) fragrance() *FragranceUse {
	t.keys("name", "rate", "vanillin", "ethyl_vanillin", "max_use", "category", "amendment", "claims", "moves", "stabilizer", "stabiliser")
	f := FragranceUse{Name: t.text("name"), Line: t.r.lines.at(t.path)}
	if rate := t.percent("rate", 0, 30); rate != nil {
		f.Rate = *rate
	} else if !t.has("rate") {
		t.r.fault(t.path, "no rate given", `write rate = "4 %" (of the oils)`)
	}
	f.Vanillin, f.EthylVanillin = t.percent("vanillin", 0, 100), t.percent("ethyl_vanillin", 0, 100)
	f.MaxUse = t.percent("max_use", 0, 100)
	f.Category, f.Amendment = t.loose("category"), t.loose("amendment")
	f.Claims = t.texts("claims")
	f.Moves = t.one("moves", "slow", "normal", "fast", "seizes")
	if f.Name == "" && f.Vanillin == nil && f.EthylVanillin == nil {
		t.r.fault(t.path, "the fragrance has neither a name nor a vanillin figure", `write name = "…" as on the shelf, or vanillin = "4 %" from its papers`)
	}
	if f.Name == "" {
		f.Name = "fragrance"
	}
	f.Stabilizer = t.stabilizer()
	return &f
}

// loose reads a text that people also write as a bare number, such as a category.
func (t planTable) loose(key string) string {
	if n, ok := t.m[key].(int64); ok {
		return fmt.Sprint(n)
	}
	return t.text(key)
}

func (t planTable) stabilizer() StabilizerUse {
	for _, key := range []string{"stabilizer", "stabiliser"} {
		v, ok := t.m[key]
		if !ok {
			continue
		}
		s := StabilizerUse{Line: t.r.lines.at(t.sub(key))}
		if word, ok := v.(string); ok {
			s.Mode = strings.ToLower(strings.TrimSpace(word))
			if s.Mode != "auto" && s.Mode != "none" {
				t.r.fault(t.sub(key), fmt.Sprintf("%q is not known here", word), `use "auto", "none" or { name = "…", grams = "20 g" }`)
			}
			return s
		}
		st, ok := t.table(key)
		if !ok {
			return s
		}
		st.keys("name", "grams", "active", "strength")
		s.Mode, s.Name, s.Active = "given", st.text("name"), st.text("active")
		s.Grams = quantity(st, "grams", `"20 g"`, unit.ParseMass)
		s.Strength = st.percent("strength", 0, 100)
		return s
	}
	return StabilizerUse{Mode: "none"}
}

func (t planTable) pour() Pour {
	t.keys("technique", "minutes", "batter", "gel", "light", "cure")
	p := Pour{Line: t.r.lines.at(t.path), Technique: strings.ToLower(t.text("technique"))}
	if t.has("minutes") {
		m := t.number("minutes", 0)
		if m < 0 || m > 24*60 {
			t.r.fault(t.sub("minutes"), fmt.Sprintf("%g minutes cannot be", m), "")
		}
		p.Minutes = &m
	}
	p.BatterAt = t.temperature("batter", 0, 100)
	p.CureAt = t.temperature("cure", -10, 60)
	p.Gel = t.one("gel", "none", "full", "partial", "unsure")
	p.Light = t.one("light", "room", "window", "dark")
	return p
}

func (t planTable) temperature(key string, lo, hi unit.Celsius) *unit.Celsius {
	c := quantity(t, key, `"35 °C"`, unit.ParseCelsius)
	if c != nil && (*c < lo || *c > hi) {
		t.r.fault(t.sub(key), fmt.Sprintf("%.4g °C is outside %g–%g °C", float64(*c), float64(lo), float64(hi)), "")
		return nil
	}
	return c
}

func (t planTable) additive() AdditiveUse {
	t.keys("name", "dose", "into", "batter")
	a := AdditiveUse{Name: t.text("name"), Batter: t.text("batter"), Line: t.r.lines.at(t.path)}
	a.Into = t.one("into", "lye", "oils", "batter", "water")
	if a.Name == "" {
		t.r.fault(t.path, "an additive without a name", "")
	}
	a.Dose = t.dose()
	return a
}

func (t planTable) dose() Dose {
	if !t.has("dose") {
		t.r.fault(t.path, "no dose given", `write dose = "3 g/kg" (g/kg of oils, %, g, tsp/lb)`)
		return Dose{}
	}
	d := quantity(t, "dose", `"3 g/kg", "0.3 %", "3 g" or "1 tsp/lb"`, ParseDose)
	if d == nil {
		return Dose{}
	}
	return *d
}

// ParseDose reads "3 g/kg" (of oils), "0.3 %" (of oils), "3 g", "1 tsp/lb",
// "2 tsp/kg" or "1 tsp". A bare number is refused.
func ParseDose(s string) (Dose, error) {
	v, u, err := unit.Split(s)
	if err != nil {
		return Dose{}, err
	}
	d := Dose{Value: v, Text: strings.TrimSpace(s)}
	switch u {
	case "g/kg", "gperkg", "g/kgoils", "‰":
		d.Unit = PerKgOils
	case "%", "percent":
		d.Unit = PercentOils
	case "g", "gram", "grams":
		d.Unit = GramsTotal
	case "mg":
		d.Unit, d.Value = GramsTotal, v/1000
	case "kg":
		d.Unit, d.Value = GramsTotal, v*1000
	case "oz":
		d.Unit, d.Value = GramsTotal, v*unit.GramsPerOunce
	case "tsp/lb", "tspperlb", "teaspoon/lb", "tspppo":
		d.Unit = TspPerPound
	case "tsp/kg", "tspperkg", "teaspoon/kg":
		d.Unit = TspPerKg
	case "tsp", "teaspoon", "teaspoons":
		d.Unit = TspTotal
	case "":
		return Dose{}, fmt.Errorf("%q has no unit", s)
	default:
		return Dose{}, fmt.Errorf("%q is not a dose", s)
	}
	if v < 0 {
		return Dose{}, fmt.Errorf("%q is negative", s)
	}
	return d, nil
}

func (t planTable) batter(scent bool) Batter {
	t.keys("name", "oils", "mould", "mold", "superfat", "lye", "rate", "portion")
	b := Batter{Name: t.text("name"), Line: t.r.lines.at(t.path)}
	b.Oils = quantity(t, "oils", `"1000 g"`, unit.ParseMass)
	if b.Oils != nil && (*b.Oils <= 0 || *b.Oils > 1e6) {
		t.r.fault(t.sub("oils"), fmt.Sprintf("%v of oils cannot be", *b.Oils), "")
		b.Oils = nil
	}
	for _, key := range []string{"mould", "mold"} {
		if m := quantity(t, key, `"25 x 8 x 7 cm"`, unit.ParseBox); m != nil {
			b.Mould = m
		}
	}
	if b.Oils != nil && b.Mould != nil {
		t.r.fault(t.path, "both oils and a mould are given", "keep one: the mould sets the oils")
	}
	b.Superfat = t.percent("superfat", -5, 40)
	if l, ok := t.table("lye"); ok {
		own := l.lye()
		b.Lye = &own
	}
	b.Rate = t.percent("rate", 0, 30)
	seen := map[string]bool{}
	for _, pt := range t.tables("portion") {
		p := pt.portion(scent)
		if p.Name == "" {
			p.Name = fmt.Sprintf("portion %d", len(b.Portions)+1)
		}
		if seen[strings.ToLower(p.Name)] {
			t.r.fault(pt.path, fmt.Sprintf("a second portion of this batter is called %q", p.Name), "")
		}
		seen[strings.ToLower(p.Name)] = true
		b.Portions = append(b.Portions, p)
	}
	if len(b.Portions) == 0 {
		b.Portions = []Portion{{Name: "whole", Parts: 1, Scented: scent, Line: b.Line}}
	}
	return b
}

func (t planTable) portion(scent bool) Portion {
	t.keys("name", "parts", "target", "scented", "colorants", "colourants", "beside")
	p := Portion{Name: t.text("name"), Line: t.r.lines.at(t.path)}
	p.Parts = t.number("parts", 1)
	if p.Parts <= 0 || p.Parts > 1e6 {
		t.r.fault(t.sub("parts"), fmt.Sprintf("%g parts cannot be", p.Parts), "parts are shares of the batter, more than 0")
	}
	p.Target, p.TargetHex, p.TargetLine = t.colour("target"), t.text("target"), t.line("target")
	p.Scented = t.boolean("scented", scent)
	if p.Scented && !scent {
		t.r.fault(t.sub("scented"), "scented, but the plan has no [fragrance]", "")
	}
	for _, key := range []string{"colorants", "colourants"} {
		for _, c := range t.tables(key) {
			p.Colorants = append(p.Colorants, c.colorant())
		}
	}
	if len(p.Colorants) > maxColorants {
		t.r.fault(t.path, fmt.Sprintf("%d colourants are too many for one portion", len(p.Colorants)), fmt.Sprintf("at most %d", maxColorants))
	}
	p.Beside, p.BesideLine = t.texts("beside"), t.line("beside")
	return p
}

func (t planTable) colorant() ColorantUse {
	t.keys("name", "dose", "label", "swatch", "teaspoon", "wet")
	c := ColorantUse{Name: t.text("name"), Label: t.text("label"), Line: t.r.lines.at(t.path)}
	if c.Name == "" {
		t.r.fault(t.path, "a colourant without a name", "")
	}
	c.Dose = t.dose()
	c.Swatch = t.colour("swatch")
	if g := quantity(t, "teaspoon", `"2.7 g"`, unit.ParseMass); g != nil {
		c.TeaspoonGrams = *g
	}
	if s := t.text("wet"); s != "" {
		amount, liquid, ok := strings.Cut(s, " g ")
		g, err := unit.ParseMass(amount + " g")
		if !ok || err != nil || strings.TrimSpace(liquid) == "" {
			t.r.fault(t.sub("wet"), fmt.Sprintf("%q is not understood", s), `write it like wet = "10 g sunflower"`)
		} else {
			c.Wet, c.WetGrams = strings.TrimSpace(liquid), g
		}
	}
	return c
}

// neighbours checks that every portion named in beside exists and is another one.
func (r *planReader) neighbours(p Plan) {
	var names []string
	for _, b := range p.Batters {
		for _, q := range b.Portions {
			names = append(names, b.Name+"/"+q.Name)
		}
	}
	for bi, b := range p.Batters {
		for qi, q := range b.Portions {
			for _, n := range q.Beside {
				path := fmt.Sprintf("batter[%d].portion[%d].beside", bi, qi)
				ob, oq, err := p.FindPortion(n, b.Name)
				switch {
				case err != nil:
					hint := "portions here: " + strings.Join(names, ", ")
					if s := near.Near(n, names); len(s) > 0 {
						hint = fmt.Sprintf("did you mean %q?", s[0])
					}
					r.fault(path, err.Error(), hint)
				case ob == bi && oq == qi:
					r.fault(path, fmt.Sprintf("%q lies beside itself", n), "name its neighbours in the bar")
				}
			}
		}
	}
}

// FindPortion resolves "batter/portion", or a portion's name alone, which is
// looked for in the home batter first. It gives the indices of both.
func (p Plan) FindPortion(name, home string) (batter, portion int, err error) {
	pot, q, slash := strings.Cut(name, "/")
	if !slash {
		pot, q = "", name
	}
	var hits [][2]int
	for i, b := range p.Batters {
		if pot != "" && !strings.EqualFold(b.Name, strings.TrimSpace(pot)) {
			continue
		}
		for j, x := range b.Portions {
			if strings.EqualFold(x.Name, strings.TrimSpace(q)) {
				if pot == "" && strings.EqualFold(b.Name, home) {
					return i, j, nil
				}
				hits = append(hits, [2]int{i, j})
			}
		}
	}
	switch len(hits) {
	case 0:
		return 0, 0, fmt.Errorf("no portion is called %q", name)
	case 1:
		return hits[0][0], hits[0][1], nil
	}
	return 0, 0, fmt.Errorf("%q is in several batters; write batter/portion", name)
}
