package exchange

import (
	"fmt"
	"strconv"
	"strings"

	"lyefast/internal/pattern"
)

// quantity is what a column holds.
type quantity string

const (
	qName       quantity = "sample name"
	qID         quantity = "sample number"
	qDate       quantity = "date"
	qTime       quantity = "time"
	qIlluminant quantity = "illuminant"
	qObserver   quantity = "observer"
	qCondition  quantity = "illuminant and observer"
	qMode       quantity = "measuring mode"
	qInstrument quantity = "instrument"
	qRowKind    quantity = "kind of row"
	qL          quantity = "L*"
	qA          quantity = "a*"
	qB          quantity = "b*"
	qC          quantity = "C*"
	qH          quantity = "hue angle"
	qX          quantity = "X"
	qY          quantity = "Y"
	qZ          quantity = "Z"
	qBand       quantity = "reflectance"
	qDelta      quantity = "ignored: a colour difference"
	qReference  quantity = "ignored: a standard or a limit, not the reading"
	qUnknown    quantity = "ignored: not known"
)

// heading is a header cell as understood.
type heading struct {
	text string
	what quantity
	nm   float64   // of a band
	cond condition // what the cell says of its measurement
	note string    // other words in brackets, which keep two sets of columns apart
	rank int       // among several columns of one kind the lowest counts
}

// plainHeadings are cells that mean one thing, in lower case, words parted by
// single blanks. The number ranks several columns of one kind.
var plainHeadings = map[string]struct {
	what quantity
	rank int
}{
	"name": {qName, 0}, "sample name": {qName, 0}, "samplename": {qName, 0}, "portion": {qName, 1}, "bezeichnung": {qName, 1},
	"data name": {qName, 1}, "title": {qName, 2}, "label": {qName, 2}, "sample": {qName, 3}, "probe": {qName, 3}, "messung": {qName, 3},
	"probenname": {qName, 1}, "nom": {qName, 1}, "nombre": {qName, 1}, "muestra": {qName, 3}, "échantillon": {qName, 3}, "campione": {qName, 3},
	"measurement": {qName, 4}, "reading": {qName, 4}, "swatch": {qName, 3}, "bar": {qName, 3}, "series": {qName, 4}, "target name": {qName, 5},
	"id": {qID, 1}, "sample id": {qID, 0}, "sampleid": {qID, 0}, "no": {qID, 2}, "nr": {qID, 2}, "number": {qID, 2}, "#": {qID, 3},
	"sample no": {qID, 1}, "data no": {qID, 1}, "index": {qID, 3}, "n°": {qID, 2}, "sample number": {qID, 1},

	"date": {qDate, 1}, "datum": {qDate, 1}, "fecha": {qDate, 1}, "timestamp": {qDate, 0}, "date time": {qDate, 0}, "datetime": {qDate, 0},
	"date/time": {qDate, 0}, "date & time": {qDate, 0}, "date and time": {qDate, 0}, "datum/uhrzeit": {qDate, 0}, "datum/zeit": {qDate, 0}, "zeitstempel": {qDate, 0},
	"taken at": {qDate, 0}, "read at": {qDate, 0}, "measured at": {qDate, 0}, "measured": {qDate, 2}, "measurement date": {qDate, 1},
	"measurement time": {qTime, 1}, "meas date": {qDate, 1}, "meas time": {qTime, 1}, "created": {qDate, 3}, "date measured": {qDate, 1}, "measure date": {qDate, 1},
	"time": {qTime, 0}, "uhrzeit": {qTime, 0}, "zeit": {qTime, 0}, "heure": {qTime, 0}, "hora": {qTime, 0}, "ora": {qTime, 0}, "time of day": {qTime, 0},

	"illuminant": {qIlluminant, 0}, "lichtart": {qIlluminant, 0}, "light source": {qIlluminant, 0}, "illum": {qIlluminant, 0}, "ill": {qIlluminant, 0}, "illumination": {qIlluminant, 1},
	"observer": {qObserver, 0}, "beobachter": {qObserver, 0}, "obs": {qObserver, 0}, "observer angle": {qObserver, 0}, "standard observer": {qObserver, 0}, "normalbeobachter": {qObserver, 0}, "angle": {qObserver, 1},
	"illuminant/observer": {qCondition, 0}, "observer/illuminant": {qCondition, 0}, "ill/obs": {qCondition, 0}, "obs/ill": {qCondition, 0}, "observer/light source": {qCondition, 0}, "condition": {qCondition, 1}, "conditions": {qCondition, 1}, "light source/observer": {qCondition, 0},
	"mode": {qMode, 0}, "modus": {qMode, 0}, "measurement mode": {qMode, 0}, "measuring mode": {qMode, 0}, "messmodus": {qMode, 0}, "sci/sce": {qMode, 0}, "specular": {qMode, 0}, "specular component": {qMode, 0}, "gloss": {qMode, 1},
	"instrument": {qInstrument, 0}, "device": {qInstrument, 0}, "instrument name": {qInstrument, 0}, "gerät": {qInstrument, 0}, "messgerät": {qInstrument, 0}, "model": {qInstrument, 1}, "model name": {qInstrument, 1}, "serial number": {qInstrument, 2}, "serial no": {qInstrument, 2}, "instrument serial number": {qInstrument, 2},
	"type": {qRowKind, 0}, "typ": {qRowKind, 0}, "art": {qRowKind, 0}, "kind": {qRowKind, 0}, "measurement type": {qRowKind, 0},
}

var (
	blanks     = pattern.New(`[\s_.\x{a0}]+`)
	brackets   = pattern.New(`[(\[{]([^)\]}]*)[)\]}]`)
	deltaStart = pattern.New(`(?i)^(?:delta|[dΔδ∆])[ _]?(?:l|a|b|c|h|e)(?:\*|00|94|76|2000|ab|cmc|$|[^a-z])`)
	filterWord = pattern.New(`(?i)^m[0-3]$`) // measurement conditions of ISO 13655
	bandName   = pattern.New(`(?i)^(?:spectral[_ ]?nm|spectral|spec|refl(?:ectance)?|nm|r|sp)?[_ ]?(\d{3,4}(?:\.\d{1,3})?)[_ ]?(?:nm)?[_ ]?(?:[(\[]?(?:%|nm)[)\]]?)?$`)
)

// readHeading understands one header cell.
func readHeading(cell string) heading {
	h := heading{text: cell, what: qUnknown}
	key := strings.TrimSpace(strings.TrimRight(strings.ToLower(strings.TrimSpace(blanks.ReplaceAllString(cell, " "))), ": "))
	if p, ok := plainHeadings[key]; ok {
		h.what, h.rank = p.what, p.rank
		return h
	}
	if nm, ok := bandOf(cell); ok {
		h.what, h.nm = qBand, nm
		return h
	}
	if m := brackets.FindStringSubmatch(key); m != nil { // Date (dd/mm/yyyy), Observer (°)
		if p, ok := plainHeadings[strings.TrimSpace(strings.Replace(key, m[0], "", 1))]; ok {
			h.what, h.rank, h.note = p.what, p.rank, m[1]
			return h
		}
	}
	if deltaStart.MatchString(strings.TrimSpace(cell)) {
		h.what = qDelta
		return h
	}
	outside := cell
	for _, m := range brackets.FindAllStringSubmatch(cell, -1) {
		outside = strings.Replace(outside, m[0], " ", 1)
		c, ok := parseCondition(m[1])
		switch {
		case ok:
			h.cond = h.cond.or(c)
		case strings.Trim(m[1], " °%-") == "" || strings.EqualFold(strings.TrimSpace(m[1]), "cie"):
		case isReference(m[1]):
			h.what = qReference
			return h
		default:
			h.note = strings.ToLower(strings.TrimSpace(m[1]))
		}
	}
	what := qUnknown
	for _, w := range conditionWords(strings.ReplaceAll(outside, "*", "* ")) {
		q := colourWord(w)
		switch {
		case q != qUnknown && what == qUnknown:
			what = q
		case isReference(w):
			h.what = qReference
			return h
		case filterWord.MatchString(w):
			h.note = strings.ToLower(w)
		case strings.EqualFold(w, "cie"), strings.EqualFold(w, "cielab"), strings.EqualFold(w, "lab"), strings.EqualFold(w, "ab"),
			strings.EqualFold(w, "value"), strings.EqualFold(w, "val"), strings.EqualFold(w, "mean"), strings.EqualFold(w, "average"), strings.EqualFold(w, "avg"):
		default:
			c, ok := parseCondition(w)
			if !ok {
				return h
			}
			h.cond = h.cond.or(c)
		}
	}
	h.what = what
	return h
}

// dateHint reads the order and the zone that a date's heading may give in
// brackets: (dd/mm/yyyy), (MM-DD-YY), (UTC).
func (h heading) dateHint() (order DateOrder, utc bool) {
	switch note := strings.ToLower(h.note); {
	case note == "utc" || note == "gmt":
		return "", true
	case strings.HasPrefix(note, "dd") || strings.HasPrefix(note, "d/m") || strings.HasPrefix(note, "tt"):
		return DayFirst, false
	case strings.HasPrefix(note, "mm/") || strings.HasPrefix(note, "mm-") || strings.HasPrefix(note, "m/d"):
		return MonthFirst, false
	}
	return "", false
}

func isReference(s string) bool {
	for _, w := range conditionWords(strings.ToLower(s)) {
		switch w {
		case "std", "standard", "target", "ref", "reference", "tol", "tolerance", "limit", "min", "max", "sd", "stdev", "stddev", "stabw",
			"bezug", "referenz", "soll", "toleranz":
			return true
		}
	}
	return false
}

// colourWord reads a bare colour coordinate. X, Y and Z are capital: small they
// are chromaticities.
func colourWord(w string) quantity {
	switch w {
	case "X":
		return qX
	case "Y":
		return qY
	case "Z":
		return qZ
	}
	t := strings.ToLower(w)
	if rest, ok := strings.CutPrefix(t, "cie"); ok && rest != "" {
		t = rest
	}
	switch t {
	case "l", "l*", "lightness":
		return qL
	case "a", "a*":
		return qA
	case "b", "b*":
		return qB
	case "c", "c*", "c*ab", "cab", "chroma":
		return qC
	case "h", "h*", "h°", "hº", "hab", "hue":
		return qH
	}
	return qUnknown
}

// bandOf reads the heading of a wavelength: SPECTRAL_NM400, SPECTRAL_400,
// SPEC_400, nm400, 400nm, "R 400 nm", 400; 300 to 1100 nm.
func bandOf(cell string) (float64, bool) {
	m := bandName.FindStringSubmatch(strings.TrimSpace(cell))
	if m == nil {
		return 0, false
	}
	nm, err := strconv.ParseFloat(m[1], 64)
	return nm, err == nil && nm >= 300 && nm <= 1100
}

// group is one set of columns that make a colour; −1 where there is none.
type group struct {
	cond    condition
	note    string
	at      map[quantity]int
	doubled map[quantity]bool
}

func (g *group) has(qs ...quantity) bool {
	for _, q := range qs {
		if _, ok := g.at[q]; !ok {
			return false
		}
	}
	return true
}

// space names the colour coordinates of a group, best first.
func (g *group) space() string {
	switch {
	case g.has(qL, qA, qB):
		return "Lab"
	case g.has(qL, qC, qH):
		return "LCh"
	case g.has(qX, qY, qZ):
		return "XYZ"
	}
	return ""
}

// preference ranks a group: its condition first, then L*a*b* before L*C*h.
func (g *group) preference() int {
	return 4*g.cond.preference() + map[string]int{"Lab": 2, "LCh": 1}[g.space()]
}

// preference ranks a condition: what can be turned into D65, 2° comes first.
func (c condition) preference() int {
	p := 0
	switch c.observer {
	case 2:
		p = 300
	case 0:
		p = 200
	case 10:
		p = 100
	}
	switch c.illuminant {
	case "D65":
		p += 30
	case "":
		p += 25
	case "D50":
		p += 20
	default:
		p += 10
	}
	return p
}

// header is the row of headings and what follows from it.
type header struct {
	line  int
	cells []heading
	best  map[quantity]int // the column that counts for a name, a date, …
	// groups are the sets of columns that are read, one for each measuring mode.
	groups []*group
	bands  []int // columns of wavelengths, in the order of the file
	others []string
}

// minBands is the least number of wavelengths that makes a spectrum.
const minBands = 8

// readHeader tries a row as the header. above is the row before it, which may
// name the condition of a whole set of columns. It gives nil where the row has
// no colour.
func readHeader(line int, row, above []string) (*header, *Declined) {
	h := &header{line: line, best: map[quantity]int{}}
	over := spread(above, row)
	coloured := 0
	for i, cell := range row {
		c := readHeading(cell)
		if i < len(over) {
			switch c.what {
			case qL, qA, qB, qC, qH, qX, qY, qZ:
				c.cond = c.cond.or(over[i])
			}
		}
		switch c.what {
		case qL, qA, qB, qC, qH, qX, qY, qZ:
			coloured++
		case qBand:
			h.bands = append(h.bands, i)
		case qUnknown, qDelta, qReference:
		default:
			if old, ok := h.best[c.what]; !ok || h.cells[old].rank > c.rank {
				h.best[c.what] = i
			}
		}
		h.cells = append(h.cells, c)
	}
	if len(h.bands) < minBands {
		h.bands = nil
	}
	if coloured < 3 && h.bands == nil {
		return nil, nil
	}
	dropRGB(h.cells)
	inherit(h.cells)
	all := h.gather()
	if len(all) == 0 && h.bands == nil {
		return nil, nil
	}
	if err := h.choose(all); err != nil {
		return nil, err
	}
	if _, ok := h.best[qName]; !ok {
		if id, ok := h.best[qID]; ok {
			h.best[qName] = id
		}
	}
	return h, nil
}

// spread carries a condition that stands once above a set of columns to the
// empty cells on its right.
func spread(above, row []string) []condition {
	out := make([]condition, len(row))
	found := false
	var now condition
	for i := range row {
		if i < len(above) && above[i] != "" {
			c, ok := parseCondition(above[i])
			if !ok {
				c = condition{}
			}
			found = found || ok
			now = c
		}
		out[i] = now
	}
	if !found {
		return nil
	}
	return out
}

// dropRGB takes the three cells R, G, B, standing in a row, out of the colour
// columns, so that the blue of a screen is not taken for b*.
func dropRGB(cells []heading) {
	for i := 0; i+2 < len(cells); i++ {
		if strings.EqualFold(cells[i].text, "r") && strings.EqualFold(cells[i+1].text, "g") && strings.EqualFold(cells[i+2].text, "b") {
			cells[i+2].what = qUnknown
		}
	}
}

// inherit lets a*, b* follow the condition of the L* before them, where no L*
// goes without one: L*(D65), a*, b*.
func inherit(cells []heading) {
	for _, c := range cells {
		if c.what == qL && c.cond == (condition{}) && c.note == "" {
			return
		}
	}
	var last *heading
	for i := range cells {
		switch c := &cells[i]; c.what {
		case qL:
			last = c
		case qA, qB, qC, qH:
			if last != nil && c.cond == (condition{}) && c.note == "" {
				c.cond, c.note = last.cond, last.note
			}
		}
	}
}

// gather collects the complete sets of colour columns.
func (h *header) gather() []*group {
	type key struct {
		condition
		note string
	}
	byKey := map[key]*group{}
	var all []*group
	for i, c := range h.cells {
		switch c.what {
		case qL, qA, qB, qC, qH, qX, qY, qZ:
		default:
			continue
		}
		k := key{c.cond, c.note}
		g := byKey[k]
		if g == nil {
			g = &group{cond: c.cond, note: c.note, at: map[quantity]int{}, doubled: map[quantity]bool{}}
			byKey[k] = g
			all = append(all, g)
		}
		if _, ok := g.at[c.what]; ok {
			g.doubled[c.what] = true
			continue
		}
		g.at[c.what] = i
	}
	complete := all[:0]
	for _, g := range all {
		if g.space() != "" {
			complete = append(complete, g)
		}
	}
	return complete
}

// choose keeps the best set for each measuring mode and names the others. Two
// sets that differ in nothing a reader could go by are declined.
func (h *header) choose(all []*group) *Declined {
	for _, g := range all {
		for _, q := range coordinates[g.space()] {
			if g.doubled[q] {
				return decline(h.line, "keep one set of columns, or write the illuminant into the headings like L*(D65)",
					"it has two columns of %s and does not say what sets them apart", q)
			}
		}
	}
	for _, g := range all {
		at := -1
		for i, old := range h.groups {
			if old.cond.mode == g.cond.mode {
				at = i
			}
		}
		if at < 0 {
			h.groups = append(h.groups, g)
			continue
		}
		old := h.groups[at]
		if old.space() == g.space() && old.preference() == g.preference() && old.cond == g.cond {
			return decline(h.line, "keep one set of columns", "it has two sets of L*, a*, b*: %q and %q", old.note, g.note)
		}
		if g.preference() > old.preference() {
			h.groups[at] = g
		}
	}
	for _, g := range all {
		if !h.reads(g) {
			h.others = append(h.others, fmt.Sprintf("%s for %s", g.space(), g.cond))
		}
	}
	return nil
}

func (h *header) reads(g *group) bool {
	for _, used := range h.groups {
		if used == g {
			return true
		}
	}
	return false
}

// uses reports whether column i is read.
func (h *header) uses(i int) bool {
	switch c := h.cells[i]; c.what {
	case qUnknown, qDelta, qReference:
		return false
	case qBand:
		return h.bands != nil
	case qL, qA, qB, qC, qH, qX, qY, qZ:
		for _, g := range h.groups {
			for _, q := range coordinates[g.space()] {
				if at, ok := g.at[q]; ok && at == i {
					return true
				}
			}
		}
		return false
	default:
		return h.best[c.what] == i || c.what == qID && h.best[qName] == i
	}
}

var coordinates = map[string][3]quantity{
	"Lab": {qL, qA, qB}, "LCh": {qL, qC, qH}, "XYZ": {qX, qY, qZ},
}

// meanings tells the maker how each column is understood.
func (h *header) meanings() []ColumnMeaning {
	out := make([]ColumnMeaning, 0, len(h.cells))
	for i, c := range h.cells {
		m := ColumnMeaning{Column: i + 1, Header: c.text, Meaning: string(c.what)}
		switch {
		case c.what == qBand && h.uses(i):
			m.Meaning = fmt.Sprintf("reflectance at %s nm", plain(c.nm))
		case c.what == qBand:
			m.Meaning = string(qUnknown)
		case !h.uses(i) && !strings.HasPrefix(m.Meaning, "ignored"):
			m.Meaning = "ignored: another column is used for the " + string(c.what)
			switch c.what {
			case qC, qH, qX, qY, qZ, qL, qA, qB:
				m.Meaning = "ignored: another set of columns gives the colour"
				if len(h.groups) == 0 {
					m.Meaning = "ignored: not a whole set of colour columns"
				}
			}
		case c.cond != condition{}:
			m.Meaning += " for " + c.cond.String()
		}
		out = append(out, m)
	}
	return out
}
