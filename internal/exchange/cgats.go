package exchange

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"lyefast/internal/cie"
)

// isCGATS reports whether a line of the text begins a data block of CGATS.17 or
// ISO 28178.
func isCGATS(text []byte) bool {
	for len(text) > 0 {
		line, rest, _ := bytes.Cut(text, []byte("\n"))
		text = rest
		line = bytes.TrimLeft(line, " \t\ufeff")
		if bytes.HasPrefix(line, []byte("BEGIN_DATA")) {
			return true
		}
	}
	return false
}

// tokens parts a line at blanks and tabs, keeping quoted text together, and
// drops a comment that "#" begins outside quotes. closed is false where a
// quotation mark is not.
func tokens(line string) (out []string, closed bool) {
	for i := 0; i < len(line); {
		switch c := line[i]; {
		case c == ' ' || c == '\t' || c == '\f' || c == '\v':
			i++
		case c == '#':
			return out, true
		case c == '"':
			var b strings.Builder
			i++
			for {
				j := strings.IndexByte(line[i:], '"')
				if j < 0 {
					b.WriteString(line[i:])
					return append(out, b.String()), false
				}
				b.WriteString(line[i : i+j])
				i += j + 1
				if i < len(line) && line[i] == '"' { // a doubled mark stands for itself
					b.WriteByte('"')
					i++
					continue
				}
				break
			}
			out = append(out, b.String())
		default:
			j := strings.IndexAny(line[i:], " \t\f\v#\"")
			if j < 0 {
				j = len(line) - i
			}
			out = append(out, line[i:i+j])
			i += j
		}
	}
	return out, true
}

// cgats is the state of reading one file.
type cgats struct {
	*Import
	opts   Options
	fields []string
	// What the keywords say, the more particular first: the weighting of the
	// computation, the illuminant and observer, the source of the measurement.
	weighting, stated, source condition
	white                     *cie.XYZ
	device                    string
	declaredFields, declared  int // as the file says, −1 where it does not
	ownCondition              bool
	tables                    int
	skipped                   string // why a table gave no readings
}

// dataLine is a line of a data block.
type dataLine struct {
	line int
	text string
}

// readCGATS reads CGATS.17, ISO 28178, IT8.7 and their kin. Blocks are trusted,
// counts are only checked.
func (im *Import) readCGATS(text []byte, opts Options) *Declined {
	c := &cgats{Import: im, opts: opts, declaredFields: -1, declared: -1}
	const (
		inHead = iota
		inFormat
		inData
	)
	state, began := inHead, 0
	var data []dataLine
	line := 0
	for len(text) > 0 {
		raw, rest, _ := bytes.Cut(text, []byte("\n"))
		text = rest
		line++
		if len(raw) > 1<<20 {
			return decline(line, "", "the line is longer than a mebibyte")
		}
		s := strings.TrimSpace(strings.TrimPrefix(string(raw), "\ufeff"))
		if s == "" || s[0] == '#' {
			continue
		}
		switch state {
		case inHead:
			words, closed := tokens(s)
			if len(words) == 0 {
				continue
			}
			if !closed {
				im.warn("line %d: a quotation mark is not closed", line)
			}
			switch words[0] {
			case "BEGIN_DATA_FORMAT":
				state, began, c.fields = inFormat, line, append([]string(nil), words[1:]...)
			case "BEGIN_DATA":
				if len(c.fields) == 0 {
					return decline(line, "export it again with the field names", "data begin before any BEGIN_DATA_FORMAT names the fields")
				}
				state, began, data = inData, line, data[:0]
			case "END_DATA", "END_DATA_FORMAT":
				return decline(line, "", "%s stands where nothing has begun", words[0])
			default:
				if err := c.keyword(line, words); err != nil {
					return err
				}
			}
		case inFormat:
			words, _ := tokens(s)
			for _, w := range words {
				if w == "END_DATA_FORMAT" {
					state = inHead
					break
				}
				c.fields = append(c.fields, w)
			}
			if len(c.fields) > MaxColumns {
				return decline(line, "", "it has more than %d fields", MaxColumns)
			}
		case inData:
			if strings.HasPrefix(s, "END_DATA") {
				if err := c.table(data); err != nil {
					return err
				}
				state = inHead
				continue
			}
			if len(data) >= 4*MaxRows {
				return decline(line, "split it", "it has more than %d rows", MaxRows)
			}
			data = append(data, dataLine{line, strings.Trim(string(raw), " \r\f\v")})
		}
	}
	switch state {
	case inFormat:
		return decline(began, "", "BEGIN_DATA_FORMAT has no END_DATA_FORMAT")
	case inData:
		im.warn("the data that begin in line %d have no END_DATA; the file may have been cut short", began)
		if err := c.table(data); err != nil {
			return err
		}
	}
	if len(im.Readings) == 0 && len(im.Skipped) == 0 && c.skipped != "" {
		return decline(0, "export L*a*b*, XYZ or reflectance", "%s", c.skipped)
	}
	scaleXYZ(im)
	return nil
}

// keyword takes one line of the head of a table.
func (c *cgats) keyword(line int, words []string) *Declined {
	key := strings.ToUpper(words[0])
	value := strings.Join(strings.Fields(strings.Join(words[1:], " ")), " ")
	switch key {
	case "NUMBER_OF_FIELDS", "NUMBER_OF_SETS":
		n, err := strconv.Atoi(value)
		if err != nil || n < 0 {
			c.warn("line %d: %s is %q, not a count", line, key, value)
			n = -1
		}
		if key == "NUMBER_OF_FIELDS" {
			c.declaredFields = n
		} else {
			c.declared = n
		}
	case "CREATED":
		if c.Created == "" {
			c.Created = value
		}
	case "INSTRUMENTATION", "INSTRUMENT", "TARGET_INSTRUMENT":
		c.device = value
	case "DEVICE_CLASS":
		if v := strings.ToUpper(value); v == "DISPLAY" || v == "EMISINPUT" {
			return decline(line, "", "it is of a screen or a lamp (DEVICE_CLASS %q), not of an object", value)
		}
	case "ILLUMINATION_NAME", "ILLUMINANT", "ILLUMINATION", "ILLUMINANT_NAME":
		c.begin()
		got, ok := parseCondition(value)
		if !ok {
			got = condition{illuminant: strings.ToUpper(value)}
		}
		c.stated = got.or(c.stated)
	case "OBSERVER_ANGLE", "OBSERVER", "STANDARD_OBSERVER":
		c.begin()
		if d := observerDegrees(value); d != 0 {
			c.stated.observer = d
		} else {
			c.warn("line %d: the observer %q is not understood", line, value)
		}
	case "WEIGHTING_FUNCTION":
		c.begin()
		kind, what, _ := strings.Cut(value, ",")
		switch kind = strings.ToUpper(strings.TrimSpace(kind)); {
		case strings.HasPrefix(kind, "ILLUM"):
			if got, ok := parseCondition(what); ok && got.illuminant != "" {
				c.weighting = got.or(c.weighting)
			} else {
				c.weighting.illuminant = strings.ToUpper(strings.TrimSpace(what))
			}
		case strings.HasPrefix(kind, "OBSERVER"):
			if d := observerDegrees(what); d != 0 {
				c.weighting.observer = d
			} else {
				c.warn("line %d: the observer %q is not understood", line, what)
			}
		default:
			c.warn("line %d: WEIGHTING_FUNCTION %q is not understood", line, value)
		}
	case "MEASUREMENT_SOURCE":
		c.begin()
		for _, part := range strings.FieldsFunc(value, func(r rune) bool { return r == ' ' || r == ';' || r == ',' }) {
			k, v, ok := strings.Cut(part, "=")
			if !ok {
				continue
			}
			switch strings.ToUpper(k) {
			case "ILLUMINATION", "ILLUMINANT":
				c.source.illuminant = illuminantName(v)
			case "OBSERVERANGLE", "OBSERVER":
				c.source.observer = observerDegrees(v)
			}
		}
	case "WHITE_POINT", "WHITEPOINT", "WHITE_XYZ", "WHITE_POINT_XYZ", "ILLUMINANT_XYZ", "ILLUMINANT_WHITE_POINT":
		c.begin()
		var v []float64
		for _, f := range strings.Fields(strings.NewReplacer(",", " ", ";", " ").Replace(value)) {
			if x, err := number(f, '.'); err == nil {
				v = append(v, x)
			}
		}
		if len(v) == 3 && v[0] > 0 && v[1] > 0 && v[2] > 0 {
			c.white = &cie.XYZ{X: v[0] / v[1], Y: 1, Z: v[2] / v[1]}
			c.whiteY = v[1]
		} else if got, ok := parseCondition(value); ok {
			c.stated = got.or(c.stated)
		} else {
			c.warn("line %d: the white point %q is not understood", line, value)
		}
	}
	return nil
}

// begin forgets the conditions of the table before as soon as a table states
// its own; a table that states none keeps them.
func (c *cgats) begin() {
	if !c.ownCondition && c.tables > 0 {
		c.weighting, c.stated, c.source, c.white = condition{}, condition{}, condition{}, nil
	}
	c.ownCondition = true
}

// cgatsNames are the fields that are read, besides wavelengths.
var cgatsNames = map[string]quantity{
	"SAMPLE_NAME": qName, "SAMPLENAME": qName, "SAMPLE_ID": qID, "SAMPLEID": qID,
	"LAB_L": qL, "LAB_A": qA, "LAB_B": qB, "LAB_C": qC, "LAB_H": qH, "LCH_L": qL, "LCH_C": qC, "LCH_H": qH,
	"XYZ_X": qX, "XYZ_Y": qY, "XYZ_Z": qZ,
	"XYY_X": qSmallX, "XYY_Y": qSmallY, "XYY_CAPY": qY,
	"SAMPLE_LOC": qPlace, "SAMPLELOC": qPlace, "SAMPLE_LOCATION": qPlace,
}

const (
	qSmallX quantity = "x"
	qSmallY quantity = "y"
	qPlace  quantity = "place on the chart"
	qDevice quantity = "ignored: the numbers of a printer or a screen"
)

// table reads the rows of one data block.
func (c *cgats) table(data []dataLine) *Declined {
	c.tables++
	defer func() { c.ownCondition, c.declaredFields, c.declared = false, -1, -1 }()
	n := len(c.fields)
	if c.declaredFields >= 0 && c.declaredFields != n {
		c.warn("NUMBER_OF_FIELDS says %d, and %d are named; the names are trusted", c.declaredFields, n)
	}
	at := map[quantity]int{}
	xyY := map[quantity]int{}
	var bands []int
	var nm []float64
	for i, f := range c.fields {
		m := ColumnMeaning{Column: i + 1, Header: f, Meaning: string(qUnknown)}
		up := strings.ToUpper(f)
		q, ok := cgatsNames[up]
		w, isBand := bandOf(f)
		target := at
		if strings.HasPrefix(up, "XYY_") {
			target = xyY
		}
		switch {
		case ok:
			if _, twice := target[q]; twice {
				m.Meaning = "ignored: another column is used for the " + string(q)
				break
			}
			target[q] = i
			m.Meaning = string(q)
		case isBand:
			bands, nm = append(bands, i), append(nm, w)
			m.Meaning = fmt.Sprintf("reflectance at %s nm", plain(w))
		case strings.HasPrefix(up, "RGB_") || strings.HasPrefix(up, "CMYK_") || strings.HasPrefix(up, "CMY_"):
			m.Meaning = string(qDevice)
		}
		c.Columns = append(c.Columns, m)
	}
	if len(bands) < minBands {
		bands = nil
	}
	g := group{at: at}
	space := g.space()
	if space == "" && len(xyY) == 3 {
		space = "xyY"
	}
	if space == "" && bands == nil {
		c.skipped = fmt.Sprintf("its fields are no colours of objects: %s", short(c.fields))
		return nil
	}
	rows, err := c.parted(data)
	if err != nil {
		return err
	}
	if c.declared >= 0 && c.declared != len(rows) {
		c.warn("NUMBER_OF_SETS says %d, and %d rows were found; the rows are trusted", c.declared, len(rows))
	}
	if len(c.Readings)+len(rows) > MaxRows {
		return decline(0, "split it", "it has more than %d rows", MaxRows)
	}
	cond := c.weighting.or(c.stated).or(c.source)
	if clash(c.weighting, c.stated) {
		c.warn("WEIGHTING_FUNCTION says %s and the other keywords %s; the former is used", c.weighting, c.stated)
	}
	decimal, err := c.decimal(rows, at, xyY, bands)
	if err != nil {
		return err
	}
	for _, row := range rows {
		c.row(row, rowPlan{space: space, at: at, xyY: xyY, bands: bands, nm: nm, cond: cond, decimal: decimal})
	}
	return nil
}

func short(words []string) string {
	if len(words) > 8 {
		return strings.Join(words[:8], " ") + " …"
	}
	return strings.Join(words, " ")
}

type dataRow struct {
	line  int
	cells []string
}

// parted parts a data block into rows. Most often each line is one. Else, where
// every line has the right number of cells between tabs (cells may be empty,
// names may hold blanks), tabs part it. Else rows are wrapped and tokens are
// counted; each row must then begin on a line of its own, unless the number of
// sets bears the count out.
func (c *cgats) parted(data []dataLine) ([]dataRow, *Declined) {
	n := len(c.fields)
	all := make([][]string, len(data))
	plainLines, tabLines := true, n > 1
	total := 0
	for i, d := range data {
		words, closed := tokens(d.text)
		if !closed {
			c.warn("line %d: a quotation mark is not closed", d.line)
		}
		all[i] = words
		total += len(words)
		plainLines = plainLines && (len(words) == n || len(words) == 0)
		tabLines = tabLines && strings.Count(strings.TrimRight(d.text, "\t"), "\t") <= n-1 && strings.Count(d.text, "\t") >= n-1
	}
	var rows []dataRow
	if !plainLines && tabLines {
		c.warn("some cells are empty or hold blanks; the columns were parted at tabs only")
		for _, d := range data {
			cells := strings.Split(d.text, "\t")[:n]
			for i := range cells {
				cells[i] = strings.Trim(cells[i], ` "`)
			}
			rows = append(rows, dataRow{d.line, cells})
		}
		return rows, nil
	}
	var now dataRow
	straddles := false
	for i, words := range all {
		for k, w := range words {
			if len(now.cells) == 0 {
				now.line = data[i].line
				straddles = straddles || k > 0
			}
			now.cells = append(now.cells, strings.TrimSpace(w))
			if len(now.cells) == n {
				rows = append(rows, now)
				now = dataRow{}
			}
		}
	}
	if len(now.cells) == 0 && (!straddles || c.declared == len(rows)) {
		return rows, nil
	}
	for i, words := range all {
		if len(words) != n {
			return nil, decline(data[i].line, "put names with blanks into quotation marks, and a dash where a value is missing",
				"the data do not come out even: %d values for %d fields, of which this line has %d", total, n, len(words))
		}
	}
	return rows, nil
}

// decimal settles the decimal sign of a data block.
func (c *cgats) decimal(rows []dataRow, at, xyY map[quantity]int, bands []int) (byte, *Declined) {
	var e decimalEvidence
	see := func(r dataRow, i int) {
		if s := r.cells[i]; !missing(s) && plausibleNumber(s) {
			e.see(r.line, s)
		}
	}
	for _, r := range rows {
		for q, i := range at {
			if q != qName && q != qID && q != qPlace {
				see(r, i)
			}
		}
		for _, i := range xyY {
			see(r, i)
		}
		for _, i := range bands {
			see(r, i)
		}
	}
	return e.sign(' ')
}

type rowPlan struct {
	space   string
	at, xyY map[quantity]int
	bands   []int
	nm      []float64
	cond    condition
	decimal byte
}

// row reads one set.
func (c *cgats) row(r dataRow, p rowPlan) {
	s := Sample{Line: r.line, Instrument: c.device}
	text := func(q quantity) string {
		if i, ok := p.at[q]; ok {
			return strings.Clone(r.cells[i])
		}
		return ""
	}
	s.ID, s.Name = text(qID), text(qName)
	if s.Name == "" {
		s.Name = text(qPlace)
	}
	if s.Name == "" {
		s.Name = s.ID
	}
	s.setCondition(p.cond)

	values := func(at map[quantity]int, qs ...quantity) (v [3]float64, gaps int, ok bool) {
		for k, q := range qs {
			cell := r.cells[at[q]]
			if missing(cell) {
				gaps++
				continue
			}
			var err error
			if v[k], err = number(cell, p.decimal); err != nil {
				c.reject(r.line, "%s: %s", c.fields[at[q]], err)
				return v, gaps, false
			}
		}
		if gaps == 1 || gaps == 2 {
			c.reject(r.line, "the colour is not whole: %d of 3 values are missing", gaps)
			return v, gaps, false
		}
		return v, gaps, true
	}
	coloured := false
	switch p.space {
	case "Lab", "LCh", "XYZ":
		qs := coordinates[p.space]
		v, gaps, ok := values(p.at, qs[:]...)
		if !ok {
			return
		}
		coloured = gaps == 0
		switch {
		case !coloured:
		case p.space == "Lab":
			s.Lab = cie.Lab{L: v[0], A: v[1], B: v[2]}
		case p.space == "LCh":
			if v[1] < 0 {
				c.reject(r.line, "C* %s is negative", plain(v[1]))
				return
			}
			s.Lab = cie.LCh{L: v[0], C: v[1], H: v[2]}.Lab()
		default:
			s.XYZ = &cie.XYZ{X: v[0], Y: v[1], Z: v[2]}
		}
	case "xyY":
		v, gaps, ok := values(p.xyY, qSmallX, qSmallY, qY)
		if !ok {
			return
		}
		if gaps == 0 {
			if v[1] <= 0 {
				c.reject(r.line, "XYY_Y is %s, and must be more than 0", plain(v[1]))
				return
			}
			coloured = true
			s.XYZ = &cie.XYZ{X: v[0] * v[2] / v[1], Y: v[2], Z: (1 - v[0] - v[1]) * v[2] / v[1]}
		}
	}
	if s.XYZ != nil && c.white != nil {
		s.white = c.white
	}
	if coloured && s.XYZ == nil {
		if problem := labProblem(s.Lab); problem != "" {
			c.reject(r.line, "%s", problem)
			return
		}
	}
	if p.bands != nil {
		var v []float64
		var nm []float64
		for k, i := range p.bands {
			if missing(r.cells[i]) {
				continue
			}
			x, err := number(strings.TrimSuffix(r.cells[i], "%"), p.decimal)
			if err != nil {
				c.reject(r.line, "%s: %s", c.fields[i], err)
				return
			}
			v, nm = append(v, x), append(nm, p.nm[k])
		}
		switch {
		case len(v) == 0:
		case len(v) < len(p.bands) && coloured:
			c.warn("line %d: %d of %d wavelengths are missing; L*a*b* is used", r.line, len(p.bands)-len(v), len(p.bands))
		case len(v) < len(p.bands):
			c.reject(r.line, "%d of %d wavelengths are missing", len(p.bands)-len(v), len(p.bands))
			return
		default:
			sp, err := newSpectrum(nm, v)
			if err != nil {
				c.reject(r.line, "%s", err)
				return
			}
			s.Spectrum = sp
			s.fromSpectrum = !coloured
		}
	}
	if !coloured && s.Spectrum == nil {
		c.skip(r.line, "it holds no colour")
		return
	}
	c.Readings = append(c.Readings, s)
}
