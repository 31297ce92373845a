package exchange

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// Type is the type of a column: a type of the Table Schema standard.
type Type string

// The types of a [Column], and what a row may hold under each besides nil.
const (
	String   Type = "string"   // string; nil is written and read back as ""
	Number   Type = "number"   // float64 or int, finite
	Integer  Type = "integer"  // int
	Boolean  Type = "boolean"  // bool
	Date     Type = "date"     // time.Time, of which the day counts
	DateTime Type = "datetime" // time.Time
)

// Column describes one column of a [Table].
type Column struct {
	// Name is the heading, and the key in JSON; it carries its unit where a reader
	// could guess wrong ("oils_g").
	Name string
	Type Type
	// Unit ("g", "%", "d") and Description may be empty.
	Unit, Description string
}

// Table is what is exported: one noun's records. A row has one value for each
// column, of the Go type that [Type] names, or nil for none.
type Table struct {
	// Name is also the name of its file: small letters, digits, "-", "_".
	Name        string
	Description string
	Columns     []Column
	Rows        [][]any
}

// check refuses a table that no file could hold.
func (t *Table) check() error {
	if len(t.Columns) == 0 || len(t.Columns) > MaxColumns {
		return fmt.Errorf("table %q has %d columns, and 1 to %d can be written", t.Name, len(t.Columns), MaxColumns)
	}
	seen := map[string]bool{}
	for i, c := range t.Columns {
		switch c.Type {
		case String, Number, Integer, Boolean, Date, DateTime:
		default:
			return fmt.Errorf("table %q, column %q has the unknown type %q", t.Name, c.Name, c.Type)
		}
		if c.Name == "" || c.Name != cleanText(c.Name) || strings.HasPrefix(c.Name, "\ufeff") {
			return fmt.Errorf("table %q, column %d has no usable name, %q", t.Name, i+1, c.Name)
		}
		if seen[c.Name] {
			return fmt.Errorf("table %q has two columns %q", t.Name, c.Name)
		}
		seen[c.Name] = true
	}
	for i, row := range t.Rows {
		if len(row) != len(t.Columns) {
			return fmt.Errorf("table %q, row %d has %d values for %d columns", t.Name, i+1, len(row), len(t.Columns))
		}
		for k, v := range row {
			if err := t.Columns[k].holds(v); err != nil {
				return fmt.Errorf("table %q, row %d: %w", t.Name, i+1, err)
			}
		}
	}
	return nil
}

func (c Column) holds(v any) error {
	ok := v == nil
	switch x := v.(type) {
	case string:
		ok = c.Type == String
	case float64:
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("column %q holds %v, which is no number", c.Name, x)
		}
		ok = c.Type == Number
	case int:
		ok = c.Type == Integer || c.Type == Number
	case bool:
		ok = c.Type == Boolean
	case time.Time:
		if x.Year() < 0 || x.Year() > 9999 {
			return fmt.Errorf("column %q holds the year %d", c.Name, x.Year())
		}
		ok = c.Type == Date || c.Type == DateTime
	}
	if !ok {
		return fmt.Errorf("column %q of type %s cannot hold a %T", c.Name, c.Type, v)
	}
	return nil
}

// guardNeeded are the first characters that make a spreadsheet run a cell as a
// formula.
const guardNeeded = "=+-@\t\r"

// guard puts an apostrophe before a text that a spreadsheet would run as a
// formula, and before one that only a guard would explain, so that [unguard]
// gives the text back.
func guard(s string) string {
	if t := strings.TrimLeft(s, "'"); t != "" && strings.IndexByte(guardNeeded, t[0]) >= 0 {
		return "'" + s
	}
	return s
}

// unguard takes the apostrophe of guard away.
func unguard(s string) string {
	if s == "" || s[0] != '\'' {
		return s
	}
	if t := strings.TrimLeft(s, "'"); t != "" && strings.IndexByte(guardNeeded, t[0]) >= 0 {
		return s[1:]
	}
	return s
}

// cleanText makes text fit for a file: line feeds only, valid UTF-8, no NUL.
func cleanText(s string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\ufffd"), "\x00", "")
}

// writeCell gives the text of a value under its column's type.
func (c Column) writeCell(v any) string {
	switch x := v.(type) {
	case string:
		return guard(cleanText(x))
	case float64:
		if a := math.Abs(x); a != 0 && (a < 1e-6 || a >= 1e15) {
			return strconv.FormatFloat(x, 'g', -1, 64)
		}
		return strconv.FormatFloat(x, 'f', -1, 64)
	case int:
		return strconv.Itoa(x)
	case bool:
		return strconv.FormatBool(x)
	case time.Time:
		if c.Type == Date {
			return x.Format("2006-01-02")
		}
		return instant(x)
	}
	return ""
}

// instant writes a time with its offset; offsets with seconds, which the format
// cannot hold, become UTC.
func instant(x time.Time) string {
	if _, offset := x.Zone(); offset%60 != 0 {
		x = x.UTC()
	}
	return x.Format(time.RFC3339Nano)
}

// readCell is the inverse of writeCell; an empty cell is nil, or "" as a string.
func (c Column) readCell(s string) (any, error) {
	if c.Type == String {
		return unguard(s), nil
	}
	if s == "" {
		return nil, nil
	}
	var v any
	var err error
	switch c.Type {
	case Number:
		v, err = number(s, '.')
	case Integer:
		v, err = strconv.Atoi(s)
	case Boolean:
		if v = s == "true"; s != "true" && s != "false" {
			err = errors.New("not true or false")
		}
	case Date:
		v, err = time.Parse("2006-01-02", s)
	default:
		v, err = time.Parse(time.RFC3339Nano, s)
	}
	if err != nil {
		return nil, fmt.Errorf("column %q: %q is not of type %s", c.Name, s, c.Type)
	}
	return v, nil
}

// CSV writes the table as comma-separated UTF-8 with a row of headings. mark puts
// a byte order mark in front, which some spreadsheets need to see that it is
// UTF-8. A text that a spreadsheet would run as a formula (it begins with =, +,
// -, @ or a tab) gets an apostrophe in front; numbers never do. [ReadTable] gives
// back the same rows, line ends inside texts as line feeds.
func (t Table) CSV(mark bool) ([]byte, error) {
	if err := t.check(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if mark {
		b.WriteString("\ufeff")
	}
	w := csv.NewWriter(&b)
	cells := make([]string, len(t.Columns))
	write := func() error {
		if len(cells) == 1 && cells[0] == "" { // else an empty line, which readers pass over
			w.Flush()
			b.WriteString("\"\"\n")
			return nil
		}
		return w.Write(cells)
	}
	for i, c := range t.Columns {
		cells[i] = guard(c.Name)
	}
	if err := write(); err != nil {
		return nil, fmt.Errorf("write table %q: %w", t.Name, err)
	}
	for _, row := range t.Rows {
		for i, c := range t.Columns {
			cells[i] = c.writeCell(row[i])
		}
		if err := write(); err != nil {
			return nil, fmt.Errorf("write table %q: %w", t.Name, err)
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// ReadTable reads what [Table.CSV] wrote, given the columns. Numbers come back as
// float64 and integers as int. The error is a *[Declined].
func ReadTable(data []byte, name string, columns []Column) (Table, error) {
	t := Table{Name: name, Columns: columns}
	if err := t.check(); err != nil {
		return Table{}, err
	}
	fail := func(line int, format string, args ...any) (Table, error) {
		d := decline(line, "export it again", format, args...)
		d.Name = name
		return Table{}, d
	}
	if len(data) > MaxBytes {
		return fail(0, "it has %d MiB, more than the %d that are read", len(data)>>20, MaxBytes>>20)
	}
	text, _, bad := decode(data)
	if bad != nil {
		return fail(bad.Line, "%s", bad.Reason)
	}
	if bad := (grid{data: text, delim: ','}).bounded(); bad != nil {
		return fail(bad.Line, "%s", bad.Reason)
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord = -1
	r.ReuseRecord = true
	for n := 0; ; n++ {
		row, err := r.Read()
		if err == io.EOF && n > 0 {
			return t, nil
		}
		if err == io.EOF {
			return fail(0, "it is empty")
		}
		var broken *csv.ParseError
		if errors.As(err, &broken) {
			return fail(broken.Line, "%s", broken.Err)
		}
		if err != nil {
			return fail(0, "%s", err)
		}
		line, _ := r.FieldPos(0)
		if len(row) != len(columns) {
			return fail(line, "it has %d cells for %d columns", len(row), len(columns))
		}
		if n == 0 {
			for i, c := range columns {
				if unguard(row[i]) != c.Name {
					return fail(line, "heading %d is %q, want %q", i+1, row[i], c.Name)
				}
			}
			continue
		}
		values := make([]any, len(columns))
		for i, c := range columns {
			if values[i], err = c.readCell(row[i]); err != nil {
				return fail(line, "%s", err)
			}
		}
		t.Rows = append(t.Rows, values)
	}
}

// JSON writes the rows as an array of objects, keys in the order of the columns,
// null for what is not known; no rows give [].
func (t Table) JSON() ([]byte, error) {
	if err := t.check(); err != nil {
		return nil, err
	}
	keys := make([][]byte, len(t.Columns))
	for i, c := range t.Columns {
		keys[i] = jsonText(c.Name)
	}
	var b bytes.Buffer
	b.WriteByte('[')
	for n, row := range t.Rows {
		if n > 0 {
			b.WriteByte(',')
		}
		b.WriteString("\n {")
		for i, v := range row {
			if i > 0 {
				b.WriteString(", ")
			}
			b.Write(keys[i])
			b.WriteString(": ")
			switch x := v.(type) {
			case nil:
				b.WriteString("null")
			case string:
				b.Write(jsonText(x))
			case time.Time:
				b.Write(jsonText(t.Columns[i].writeCell(x)))
			default: // numbers and booleans are written alike in both
				b.WriteString(t.Columns[i].writeCell(x))
			}
		}
		b.WriteByte('}')
	}
	if len(t.Rows) > 0 {
		b.WriteByte('\n')
	}
	b.WriteString("]\n")
	return b.Bytes(), nil
}

// jsonText quotes a text without turning < and > into escapes.
func jsonText(s string) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	_ = e.Encode(s) // a string and a buffer give no error
	return bytes.TrimRight(b.Bytes(), "\n")
}
