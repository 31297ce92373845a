package exchange

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/pattern"
	"runtime"
	"sync"
)

// delimiters in the order in which they are preferred when equally good.
var delimiters = []rune{';', '\t', ',', '|'}

func delimiterName(d rune) string {
	if d == '\t' {
		return "tab"
	}
	return string(d)
}

// grid is delimited text.
type grid struct {
	data  []byte
	delim rune
	first int // number of lines before data
	note  rune
}

// stop ends a walk through the rows without being an error.
var stop = &Declined{}

// rows hands each row to f, cells tidied, with the line it begins on. Rows
// without any content are left out. The slice is used again for the next row.
func (g grid) rows(f func(line int, cells []string) *Declined) *Declined {
	r := csv.NewReader(bytes.NewReader(g.data))
	r.Comma, r.Comment = g.delim, g.note
	r.FieldsPerRecord = -1
	r.ReuseRecord = true
	for {
		row, err := r.Read()
		if err == io.EOF {
			return nil
		}
		var bad *csv.ParseError
		switch {
		case errors.As(err, &bad) && errors.Is(bad.Err, csv.ErrQuote):
			return decline(g.first+bad.StartLine, "close the quotation mark, and double one inside a text", "a quotation mark is not closed, or stands inside a quoted text")
		case errors.As(err, &bad):
			return decline(g.first+bad.Line, `put the whole cell in quotation marks and double the one inside`, "a quotation mark stands in the middle of a cell")
		case err != nil:
			return decline(0, "", "%s", err)
		}
		line, _ := r.FieldPos(0)
		content := false
		for i, c := range row {
			row[i] = tidy(c)
			content = content || row[i] != ""
		}
		if !content {
			continue
		}
		if err := f(g.first+line, row); err != nil {
			return err
		}
	}
}

// bounded refuses text with too many rows or columns before it is taken apart.
func (g grid) bounded() *Declined {
	quoted := false
	columns, rows, line := 1, 1, 1
	for _, b := range g.data {
		switch {
		case b == '"':
			quoted = !quoted
		case b == '\n':
			line++
			if !quoted {
				rows++
				columns = 1
			}
		case !quoted && b == byte(g.delim):
			columns++
			if columns > MaxColumns {
				return decline(g.first+line, "leave out the columns that are not needed", "it has more than %d columns", MaxColumns)
			}
		}
	}
	if rows > MaxRows+1000 {
		return decline(0, "split it", "it has more than %d rows", MaxRows)
	}
	return nil
}

// maxCell is the longest cell in bytes.
const maxCell = 64 << 10

// longCell finds text that runs on without any sign that could part columns or
// lines, which no table does.
func longCell(text []byte) *Declined {
	run, line := 0, 1
	for _, b := range text {
		switch b {
		case '\n':
			line++
			run = 0
		case ';', ',', '\t', '|':
			run = 0
		default:
			if run++; run > maxCell {
				return decline(line, "", "a cell is longer than %d KiB", maxCell>>10)
			}
		}
	}
	return nil
}

// firstLines gives the first n lines of data.
func firstLines(data []byte, n int) []byte {
	for i := range data {
		if data[i] == '\n' {
			if n--; n == 0 {
				return data[:i+1]
			}
		}
	}
	return data
}

// sniffLines is how far down the header may stand.
const sniffLines = 200

// headerHint takes the line "sep=;" that spreadsheets write and obey.
var headerHint = pattern.New(`^(?i:sep)=([;,|\t])[;,|\t]*\n`)

// sniffed is the best way found to part a text into columns.
type sniffed struct {
	grid
	header   *header
	preamble [][]string // the rows above the header
}

// sniff finds the delimiter and the header row: the pair under which the most
// columns make sense. It gives no header where there is none.
func sniff(text []byte) (sniffed, *Declined) {
	best := sniffed{grid: grid{data: text, delim: ','}}
	try := delimiters
	skipped := 0
	if m := headerHint.FindSubmatch(text); m != nil {
		try = []rune{rune(m[1][0])}
		text = text[len(m[0]):]
		skipped = 1
	}
	top := -1
	var refused *Declined
	head := firstLines(text, sniffLines)
	for _, d := range try {
		s := sniffed{grid: grid{data: head, delim: d, first: skipped}}
		if err := s.bounded(); err != nil {
			if refused == nil {
				refused = err
			}
			continue
		}
		var above []string
		var no *Declined
		// A row cut off at the end of head may end in an open quotation mark; by
		// then the header is found or there is none.
		_ = s.rows(func(line int, cells []string) *Declined {
			h, err := readHeader(line, cells, above)
			if err != nil {
				no = err
				return err
			}
			if h != nil {
				s.header = h
				return stop
			}
			above = append([]string(nil), cells...)
			s.preamble = append(s.preamble, above)
			return nil
		})
		if no != nil && refused == nil {
			refused = no
		}
		if s.header == nil {
			continue
		}
		score := len(s.header.bands)
		for i := range s.header.cells {
			if s.header.uses(i) {
				score++
			}
		}
		if score > top {
			top, best = score, s
		}
	}
	if best.header == nil && refused != nil {
		return best, refused
	}
	best.data = text
	return best, nil
}

// lightWords are first cells of rows that a meter of light writes.
var lightWords = map[string]bool{
	"lux": true, "fc": true, "cct": true, "duv": true, "cri": true, "lv": true, "ev": true, "irr": true, "ppfd": true,
	"ra": true, "tlci": true, "rf": true, "rg": true, "lambdap": true, "cd/m2": true, "cd/m²": true, "luminance": true, "illuminance": true,
}

// noHeader says why a text without a header of colours cannot be taken.
func noHeader(text []byte) *Declined {
	best, columns := grid{data: firstLines(text, sniffLines), delim: ','}, 0
	light := map[string]bool{}
	for _, d := range delimiters {
		g := grid{data: best.data, delim: d}
		if g.bounded() != nil {
			continue
		}
		_ = g.rows(func(_ int, cells []string) *Declined {
			if len(cells) > columns {
				columns, best = len(cells), g
			}
			for _, c := range cells {
				if w := strings.ToLower(c); lightWords[w] {
					light[c] = true
				}
			}
			return nil
		})
	}
	if len(light) >= 2 {
		var found []string
		for _, w := range []string{"LUX", "CCT", "Duv", "CRI", "Lux", "lux", "cct", "Lv", "IRR", "PPFD", "Luminance", "Illuminance"} {
			if light[w] && len(found) < 3 {
				found = append(found, w)
			}
		}
		return decline(0, "measure the soap with an instrument that gives L*a*b* or reflectance",
			"it is from a meter of light (%s): it holds the colour of a lamp, not of an object, and no L*, a*, b* columns", strings.Join(found, ", "))
	}
	var first string
	_ = best.rows(func(_ int, cells []string) *Declined {
		first = strings.Join(cells, " | ")
		return stop
	})
	if r := []rune(first); len(r) > 80 {
		first = string(r[:80]) + " …"
	}
	return decline(0, "give it a row of headings such as Name, Date, L*, a*, b*",
		"it has no row of headings with L*, a*, b* (or L*, C*, h, or X, Y, Z, or wavelengths); it begins with %q", first)
}

// readCSV reads what hand-held instruments export.
func (im *Import) readCSV(text []byte, opts Options) *Declined {
	if err := longCell(text); err != nil {
		return err
	}
	s, err := sniff(text)
	if err != nil {
		return err
	}
	if s.header == nil {
		return noHeader(text)
	}
	if err := s.bounded(); err != nil {
		return err
	}
	im.Delimiter = delimiterName(s.delim)
	im.Columns = s.header.meanings()
	t := table{Import: im, sniffed: s, opts: opts}
	if len(s.header.groups) > 0 && s.header.bands == nil {
		for _, c := range s.header.cells {
			if lightWords[strings.ToLower(c.text)] && s.header.groups[0].space() == "XYZ" {
				return decline(s.header.line, "", "it is from a meter of light (%s): XYZ of a lamp, no object colour", c.text)
			}
		}
	}
	t.readPreamble()
	if err := t.settle(); err != nil {
		return err
	}
	im.Decimal = string(t.decimal)
	if err := t.takeAll(); err != nil {
		return err
	}
	if _, ok := s.header.best[qName]; !ok {
		im.warn("no column gives a name")
	}
	if _, ok := s.header.best[qDate]; !ok && !t.dated {
		im.warn("no column gives a date")
	}
	for _, o := range s.header.others {
		im.warn("columns of %s stand beside those that are used and are left out", o)
	}
	if t.undated > 0 && t.dated {
		im.warn("%s no date", count(t.undated, "reading has", "readings have"))
	}
	if t.noTime > 0 {
		im.warn("%s a date and no time; noon is taken, with half a day's doubt", count(t.noTime, "reading has", "readings have"))
	}
	scaleXYZ(im)
	return nil
}

// table is a CSV while it is being read.
type table struct {
	*Import
	sniffed
	opts    Options
	above   condition // what the preamble says
	device  string
	decimal byte
	order   DateOrder
	utc     bool      // a heading says that times are UTC
	nm      []float64 // wavelengths of header.bands

	dated           bool
	undated, noTime int
	noTile          string // the last name that was no row of a calibration
}

// readPreamble takes what stands above the header: key and value in two cells,
// or in one with a colon or an equals sign between.
func (t *table) readPreamble() {
	for _, row := range t.preamble {
		key, value := row[0], ""
		for _, c := range row[1:] {
			if c != "" {
				value = c
				break
			}
		}
		if value == "" {
			if k, v, ok := strings.Cut(key, ":"); ok {
				key, value = k, v
			} else if k, v, ok := strings.Cut(key, "="); ok {
				key, value = k, v
			}
			value = strings.TrimSpace(value)
		}
		if value == "" {
			continue
		}
		switch readHeading(strings.TrimSpace(key)).what {
		case qIlluminant, qObserver, qCondition, qMode:
			switch c, ok := t.cellCondition(readHeading(key).what, value); {
			case ok:
				t.above = t.above.or(c)
			default:
				t.warn("what stands above the table, %q, is not understood", key+": "+value)
			}
		case qInstrument:
			if t.device != "" {
				value = t.device + " " + value
			}
			t.device = strings.Clone(value)
		case qDate:
			if t.Created == "" {
				t.Created = strings.Clone(value)
			}
		}
	}
}

// cellCondition reads the cell of an illuminant, observer or mode column.
func (t *table) cellCondition(what quantity, cell string) (condition, bool) {
	switch what {
	case qIlluminant:
		if c, ok := parseCondition(cell); ok && c.illuminant != "" {
			return c, true
		}
		return condition{}, false
	case qObserver:
		if d := observerDegrees(cell); d != 0 {
			return condition{observer: d}, true
		}
		return condition{}, false
	case qMode:
		if m := modeName(cell); m != "" {
			return condition{mode: m}, true
		}
		return condition{}, false
	}
	return parseCondition(cell)
}

// settle goes through the file once to fix the decimal sign and the order of
// the dates, which hold for all of it.
func (t *table) settle() *Declined {
	var decimals decimalEvidence
	var dates orderEvidence
	numeric := []int{}
	for i, c := range t.header.cells {
		if t.header.uses(i) && (c.what == qBand || c.what == qL || c.what == qA || c.what == qB || c.what == qC || c.what == qH || c.what == qX || c.what == qY || c.what == qZ) {
			numeric = append(numeric, i)
		}
	}
	for _, i := range t.header.bands {
		t.nm = append(t.nm, t.header.cells[i].nm)
	}
	rows := 0
	err := t.sniffed.rows(func(line int, cells []string) *Declined {
		if line <= t.header.line {
			return nil
		}
		if rows++; rows > MaxRows {
			return decline(line, "split it", "it has more than %d rows", MaxRows)
		}
		for _, i := range numeric {
			if i < len(cells) && !missing(cells[i]) && plausibleNumber(cells[i]) {
				decimals.see(line, cells[i])
			}
		}
		for _, q := range []quantity{qDate, qTime} {
			if i, ok := t.header.best[q]; ok && i < len(cells) && !missing(cells[i]) {
				dates.see(line, cells[i])
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	// Room for what is to come, so that a long list is not copied again and again.
	t.Readings = slices.Grow(t.Readings, rows)
	if t.decimal, err = decimals.sign(t.delim); err != nil {
		return err
	}
	asked := t.opts.DateOrder
	for _, q := range []quantity{qDate, qTime} {
		if i, ok := t.header.best[q]; ok {
			order, utc := t.header.cells[i].dateHint()
			if order != "" {
				asked = order // the file itself has the word
			}
			t.utc = t.utc || utc
		}
	}
	if t.order, err = dates.settle(asked); err != nil {
		return err
	}
	if i, ok := t.header.best[qDate]; ok && dates != (orderEvidence{}) {
		t.Columns[i].Meaning += map[DateOrder]string{DayFirst: ", day before month", MonthFirst: ", month before day"}[t.order]
	}
	return nil
}

// plausibleNumber keeps headings that stand a second time, and words, from
// voting on the decimal sign.
func plausibleNumber(s string) bool {
	for _, r := range s {
		if (r < '0' || r > '9') && !strings.ContainsRune("+-−.,eE", r) {
			return false
		}
	}
	return true
}

var (
	tileRow = pattern.New(`(?i)\b(calibrat\w*|cal(ibration)? (tile|plate|white|black)|white (tile|plate|standard|cal)|black (trap|cal)|zero cal|kalibr\w*|wei(ß|ss)(kachel|standard|abgleich)|schwarz(falle|abgleich))\b|Weißkachel|Weißstandard|^(cal|tile|check tile)$`)
	summary = pattern.New(`(?i)^(average|mean|median|mittelwert|std\.? ?dev\.?|st\.?dev\.?|standard deviation|standardabweichung|min\.?|max\.?|minimum|maximum|range|moyenne|media)$`)
)

// mayBeTile spares most rows the pattern.
func mayBeTile(s string) bool {
	s = strings.ToLower(s)
	for _, part := range [...]string{"cal", "kalibr", "tile", "white", "black", "wei", "schwarz"} {
		if strings.Contains(s, part) {
			return true
		}
	}
	return false
}

// splitFrom is the size of text from which it is worth several processors.
const splitFrom = 1 << 20

// split parts a text into n of about equal size between lines. With a quotation mark
// in it a line's end may be inside a cell, so it then stays whole.
func (g grid) split(n int) []grid {
	if n < 2 || len(g.data) < splitFrom || bytes.IndexByte(g.data, '"') >= 0 {
		return []grid{g}
	}
	var parts []grid
	rest, size := g, len(g.data)/n+1
	for len(rest.data) > size {
		end := bytes.IndexByte(rest.data[size:], '\n')
		if end < 0 {
			break
		}
		part := rest
		part.data = rest.data[:size+end+1]
		parts = append(parts, part)
		rest.data = rest.data[len(part.data):]
		rest.first += bytes.Count(part.data, []byte{'\n'})
	}
	return append(parts, rest)
}

// takeAll reads every row. A row's meaning depends on no other, so a large text is
// read in parts at the same time, and what they found is put together in order.
func (t *table) takeAll() *Declined {
	grids := t.split(runtime.GOMAXPROCS(0))
	if len(grids) == 1 {
		return t.rows(t.take)
	}
	parts := make([]table, len(grids))
	declined := make([]*Declined, len(grids))
	room := t.Readings[:0]
	var wg sync.WaitGroup
	for i := range parts {
		p, found := &parts[i], *t.Import
		*p, found.Warnings, found.Skipped, found.unsaid = *t, nil, nil, 0
		// Each part writes its readings where they will stay, if it has as many as lines.
		lines := min(bytes.Count(grids[i].data, []byte{'\n'}), cap(room))
		found.Readings, room = room[:0:lines], room[lines:lines]
		p.Import, p.grid = &found, grids[i]
		wg.Go(func() { declined[i] = p.rows(p.take) })
	}
	wg.Wait()
	for i := range parts {
		if declined[i] != nil {
			return declined[i]
		}
		p := &parts[i]
		t.Readings = append(t.Readings, p.Readings...)
		t.Skipped = append(t.Skipped, p.Skipped...)
		for _, w := range p.Warnings {
			t.warn("%s", w)
		}
		t.unsaid += p.unsaid
		t.dated = t.dated || p.dated
		t.undated += p.undated
		t.noTime += p.noTime
	}
	return nil
}

// take reads one row.
func (t *table) take(line int, cells []string) *Declined {
	if line <= t.header.line {
		return nil
	}
	cell := func(q quantity) string {
		i, ok := t.header.best[q]
		if !ok || i >= len(cells) {
			return ""
		}
		return cells[i]
	}
	if t.repeated(cells) {
		t.skip(line, "the headings stand here a second time")
		return nil
	}
	name := cell(qName)
	for _, q := range []quantity{qName, qRowKind, qMode} {
		c := cell(q)
		if c == t.noTile {
			continue
		}
		if mayBeTile(c) && tileRow.MatchString(c) {
			t.skip(line, "%q is a row of the instrument's calibration, not a reading", c)
			return nil
		}
		if q == qName {
			t.noTile = strings.Clone(c)
		}
	}
	if missing(cell(qDate)) && summary.MatchString(name) {
		t.skip(line, "%q is a row of statistics, not a reading", name)
		return nil
	}
	for _, extra := range cells[min(len(cells), len(t.header.cells)):] {
		if extra != "" {
			hint := ""
			if t.delim == ',' {
				hint = "; a decimal comma needs another sign between the columns, such as a semicolon"
			}
			t.reject(line, "it has %d cells under %d headings%s", len(cells), len(t.header.cells), hint)
			return nil
		}
	}

	base := Sample{Name: strings.Clone(name), Line: line, Instrument: t.device}
	if id := cell(qID); id != "" {
		base.ID = strings.Clone(id)
	}
	if c := cell(qInstrument); c != "" {
		base.Instrument = strings.Clone(c)
	}
	row := condition{}
	for _, q := range []quantity{qIlluminant, qObserver, qCondition, qMode} {
		c := cell(q)
		if missing(c) {
			continue
		}
		got, ok := t.cellCondition(q, c)
		switch {
		case ok:
		case q == qIlluminant: // a lamp that is not known here is kept in the file's words
			got = condition{illuminant: strings.ToUpper(strings.Clone(c))}
		case q == qMode:
			base.Geometry = strings.Clone(c)
		default:
			t.reject(line, "the %s %q is not understood", q, c)
			return nil
		}
		row = row.or(got)
	}
	if !t.when(&base, line, cell(qDate), cell(qTime)) {
		return nil
	}

	spectrum, problem := t.spectrum(cells)
	taken, blank := 0, true
	if spectrum != nil {
		blank = false
	}
	for _, g := range t.header.groups {
		s := base
		c, filled, err := t.colour(&s, g, cells)
		if err != nil {
			t.reject(line, "%s", err)
			return nil
		}
		if !filled {
			continue
		}
		blank = false
		if clash(g.cond, row) {
			t.reject(line, "the heading says %s and the row %s", g.cond, row)
			return nil
		}
		s.setCondition(g.cond.or(row).or(t.above))
		if c != nil {
			if p := labProblem(*c); p != "" {
				t.reject(line, "%s", p)
				return nil
			}
			s.Lab = *c
		}
		s.Spectrum = spectrum
		t.Readings = append(t.Readings, s)
		taken++
	}
	if problem != "" {
		if taken == 0 {
			t.reject(line, "%s", problem)
			return nil
		}
		t.warn("line %d: %s; L*a*b* is used", line, problem)
	}
	if taken == 0 && spectrum != nil {
		s := base
		s.setCondition(row.or(t.above))
		s.Spectrum, s.fromSpectrum = spectrum, true
		t.Readings = append(t.Readings, s)
		taken++
	}
	if taken == 0 && blank {
		t.skip(line, "it holds no colour")
	}
	return nil
}

// repeated reports whether the row is the header once more, as in files that
// were put together from several.
func (t *table) repeated(cells []string) bool {
	same := 0
	for i, c := range t.header.cells {
		if i < len(cells) && cells[i] != "" && cells[i] == c.text && t.header.uses(i) {
			same++
		}
	}
	return same >= 3
}

// when reads date and time into s. False means that the row is rejected.
func (t *table) when(s *Sample, line int, date, clock string) bool {
	if missing(date) {
		date = ""
	}
	if missing(clock) {
		clock = ""
	}
	if date == "" && clock != "" {
		if _, err := takeApart(clock); err == nil { // a column "Time" that holds both
			date, clock = clock, ""
		}
	}
	if date == "" {
		t.undated++
		return true
	}
	w, err := takeApart(date)
	loc := t.opts.location()
	if t.utc {
		loc = time.UTC
	}
	if err == nil {
		s.TakenAt, err = w.moment(t.order, clock, loc)
		s.TakenAt.ZoneKnown = s.TakenAt.ZoneKnown || t.utc && s.TakenAt.TimeKnown
	}
	if err != nil {
		t.reject(line, "%s", err)
		return false
	}
	t.dated = true
	if !s.TakenAt.TimeKnown {
		t.noTime++
	}
	return true
}

// colour reads one set of columns. XYZ go into the sample, and no colour comes
// back. filled is false where all cells are blank.
func (t *table) colour(s *Sample, g *group, cells []string) (c *cie.Lab, filled bool, err error) {
	var v [3]float64
	gaps, gap := 0, ""
	for k, q := range coordinates[g.space()] {
		i := g.at[q]
		if i >= len(cells) || missing(cells[i]) {
			gaps++
			gap = t.header.cells[i].text
			continue
		}
		if v[k], err = number(cells[i], t.decimal); err != nil {
			return nil, true, fmt.Errorf("%s: %w%s", t.header.cells[i].text, err, t.otherSign(cells[i]))
		}
	}
	switch {
	case gaps == 3:
		return nil, false, nil
	case gaps > 0:
		return nil, true, fmt.Errorf("%s is missing", gap)
	}
	switch g.space() {
	case "Lab":
		return &cie.Lab{L: v[0], A: v[1], B: v[2]}, true, nil
	case "LCh":
		if v[1] < 0 {
			return nil, true, fmt.Errorf("C* %s is negative", plain(v[1]))
		}
		lab := cie.LCh{L: v[0], C: v[1], H: v[2]}.Lab()
		return &lab, true, nil
	}
	s.XYZ = &cie.XYZ{X: v[0], Y: v[1], Z: v[2]}
	return nil, true, nil
}

// otherSign explains a number that would be one under the other decimal sign.
func (t *table) otherSign(cell string) string {
	other, sign := byte(','), "point"
	if t.decimal == ',' {
		other, sign = '.', "comma"
	}
	if _, err := number(cell, other); err != nil {
		return ""
	}
	return ", this file has a decimal " + sign
}

// spectrum reads the wavelengths of a row; nil where all are blank, a problem
// in words where it is not whole.
func (t *table) spectrum(cells []string) (*Spectrum, string) {
	if t.header.bands == nil {
		return nil, ""
	}
	r := make([]float64, 0, len(t.nm))
	nm := make([]float64, 0, len(t.nm))
	for k, i := range t.header.bands {
		if i >= len(cells) || missing(cells[i]) {
			continue
		}
		v, err := number(strings.TrimSuffix(cells[i], "%"), t.decimal)
		if err != nil {
			return nil, fmt.Sprintf("%s: %s", t.header.cells[i].text, err)
		}
		nm, r = append(nm, t.nm[k]), append(r, v)
	}
	if len(r) == 0 {
		return nil, ""
	}
	if len(r) < len(t.nm) {
		return nil, fmt.Sprintf("%d of %d wavelengths are missing", len(t.nm)-len(r), len(t.nm))
	}
	s, err := newSpectrum(nm, r)
	if err != nil {
		return nil, err.Error()
	}
	return s, ""
}

// clash reports whether two conditions contradict each other.
func clash(a, b condition) bool {
	return a.illuminant != "" && b.illuminant != "" && a.illuminant != b.illuminant ||
		a.observer != 0 && b.observer != 0 && a.observer != b.observer ||
		a.mode != "" && b.mode != "" && a.mode != b.mode
}

// scaleXYZ brings XYZ to Y = 1 for the perfect diffuser. A file keeps one scale:
// that of the white it gives, else Y above 1.5 can only be that of 100.
func scaleXYZ(im *Import) {
	high := 0.0
	n := 0
	for i := range im.Readings {
		if c := im.Readings[i].XYZ; c != nil {
			high = max(high, c.Y)
			n++
		}
	}
	if n == 0 {
		return
	}
	switch {
	case im.whiteY > 0 && im.whiteY <= 1.5:
		return
	case im.whiteY == 0 && high <= 1.5:
		im.warn("XYZ are taken on the scale where white has Y = 1, since no Y is above %s", plain(high))
		return
	}
	for i := range im.Readings {
		if c := im.Readings[i].XYZ; c != nil {
			c.X, c.Y, c.Z = c.X/100, c.Y/100, c.Z/100
		}
	}
}
