package exchange

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// harbour is a table with every type and every awkward value.
func harbour() Table {
	east := time.FixedZone("", 5*3600+1800)
	return Table{
		Name: "readings", Description: "Colours of the harbour at dawn",
		Columns: []Column{
			{"portion", String, "", "its name"}, {"weight_g", Number, "g", ""}, {"day", Integer, "d", "since the pour"},
			{"struck", Boolean, "", ""}, {"poured_on", Date, "", ""}, {"taken_at", DateTime, "", ""},
		},
		Rows: [][]any{
			{"shore", 12.5, 0, true, dawn, dawn},
			{"=1+1", -0.1, -7, false, dawn.AddDate(0, 0, 1), dawn.In(east)},
			{"'=x", 1.0 / 3, math.MaxInt64, nil, nil, nil},
			{"@tide\t;,\"quoted\"\n second line ", 1e-300, 1, true, nil, dawn.Add(123456789)},
			{"", math.MaxFloat64, nil, nil, nil, nil},
			{"-", nil, nil, nil, nil, nil},
			{"'", 5e-324, nil, nil, nil, nil},
			{"''+", 1e15, nil, nil, nil, nil},
			{" море 🌊 ", 123456.789, nil, nil, nil, nil},
			{"\tx", 0.0, nil, nil, nil, nil},
			{"\uFEFFmark", 4, nil, nil, nil, nil},
		},
	}
}

func sameRows(t *testing.T, got, want [][]any) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d rows, want %d", len(got), len(want))
	}
	for i := range want {
		for k, w := range want[i] {
			g := got[i][k]
			switch x := w.(type) {
			case time.Time:
				if y, ok := g.(time.Time); !ok || k == 5 && (!y.Equal(x) || y.Format(time.RFC3339) != x.Format(time.RFC3339)) || k == 4 && y.Format("2006-01-02") != x.Format("2006-01-02") {
					t.Errorf("row %d: got %v, want %v", i, g, w)
				}
			case int:
				if k == 1 {
					w = float64(x)
				}
				same(t, fmt.Sprint("row ", i), g, w)
			default:
				same(t, fmt.Sprint("row ", i), g, w)
			}
		}
	}
}

func TestTableRoundTrip(t *testing.T) {
	tab := harbour()
	for _, mark := range []bool{false, true} {
		data, err := tab.CSV(mark)
		if err != nil {
			t.Fatal(err)
		}
		same(t, "mark", strings.HasPrefix(string(data), "\uFEFF"), mark)
		back, err := ReadTable(data, tab.Name, tab.Columns)
		if err != nil {
			t.Fatal(err)
		}
		sameRows(t, back.Rows, tab.Rows)
		// No cell of text that a spreadsheet would run, and no number with an apostrophe.
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(data), "\uFEFF"))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows[1:] {
			if r[0] != "" && strings.ContainsAny(r[0][:1], "=+-@\t\r") {
				t.Errorf("%q would be run", r[0])
			}
			if strings.HasPrefix(r[1], "'") {
				t.Errorf("number %q", r[1])
			}
		}
		same(t, "negative number", rows[2][1], "-0.1")
	}
	// A column of blanks alone keeps its rows.
	one := Table{Name: "x", Columns: []Column{{Name: "n", Type: Number}}, Rows: [][]any{{nil}, {1.0}, {nil}}}
	data, err := one.CSV(false)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadTable(data, "x", one.Columns)
	if err != nil {
		t.Fatal(err)
	}
	sameRows(t, back.Rows, one.Rows)
	// Line ends inside a text become line feeds, and what no file can hold goes.
	odd := Table{Name: "x", Columns: []Column{{Name: "s", Type: String}}, Rows: [][]any{{"a\r\nb\rc\x00\xff"}}}
	data, err = odd.CSV(false)
	if err != nil {
		t.Fatal(err)
	}
	back, err = ReadTable(data, "x", odd.Columns)
	if err != nil || back.Rows[0][0] != "a\nb\nc\ufffd" {
		t.Errorf("%q %v", back.Rows, err)
	}
}

func TestTableRefuses(t *testing.T) {
	col := func(ty Type) []Column { return []Column{{Name: "x", Type: ty}} }
	for _, c := range []struct {
		tab  Table
		word string
	}{
		{Table{}, "0 columns"},
		{Table{Columns: col("colour")}, "unknown type"},
		{Table{Columns: []Column{{Type: Number}}}, "no usable name"},
		{Table{Columns: append(col(Number), col(Number)...)}, "two columns"},
		{Table{Columns: col(Number), Rows: [][]any{{1.0, 2.0}}}, "row 1 has 2 values"},
		{Table{Columns: col(Number), Rows: [][]any{{math.NaN()}}}, "NaN"},
		{Table{Columns: col(Number), Rows: [][]any{{math.Inf(1)}}}, "Inf"},
		{Table{Columns: col(Number), Rows: [][]any{{"1"}}}, "cannot hold a string"},
		{Table{Columns: col(Integer), Rows: [][]any{{1.5}}}, "cannot hold a float64"},
		{Table{Columns: col(DateTime), Rows: [][]any{{time.Date(12000, 1, 1, 0, 0, 0, 0, time.UTC)}}}, "year 12000"},
	} {
		for _, write := range []func() ([]byte, error){func() ([]byte, error) { return c.tab.CSV(false) }, c.tab.JSON} {
			if _, err := write(); err == nil || !strings.Contains(err.Error(), c.word) {
				t.Errorf("got %v, want %q", err, c.word)
			}
		}
	}
	cols := []Column{{Name: "a", Type: Number}, {Name: "b", Type: Boolean}}
	for text, word := range map[string]string{
		"": "empty", "a,c\n": "heading 2", "a\n": "1 cells for 2", "a,b\n1,true,\n": "3 cells for 2", "a,b\nx,true\n": `"x" is not of type number`, "a,b\n1,yes\n": `"yes" is not of type boolean`,
		"a,b\n\"1,true\n": "\"",
	} {
		_, err := ReadTable([]byte(text), "harbour", cols)
		refused(t, err, word, "harbour")
	}
}

func TestTableJSON(t *testing.T) {
	tab := harbour()
	data, err := tab.JSON()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]any
	if err := json.Unmarshal(data, &rows); err != nil {
		t.Fatal(err)
	}
	same(t, "rows", len(rows), len(tab.Rows))
	for i, r := range rows {
		same(t, "keys", len(r), len(tab.Columns))
		same(t, "text as it is", r["portion"], tab.Rows[i][0])
		if f, ok := tab.Rows[i][1].(float64); ok {
			same(t, "number", r["weight_g"], f)
		}
	}
	same(t, "time", rows[1]["taken_at"], "2026-01-05T14:42:00+05:30")
	same(t, "null", rows[2]["taken_at"], nil)
	if !strings.HasPrefix(string(data), "[\n {\"portion\": \"shore\", \"weight_g\": 12.5, \"day\": 0,") {
		t.Errorf("order of keys: %.80s", data)
	}
	tab.Rows = nil
	data, err = tab.JSON()
	if err != nil || string(data) != "[]\n" {
		t.Errorf("no rows: %q %v", data, err)
	}
}

func TestPackage(t *testing.T) {
	info := PackageInfo{Name: "harbour-book", Title: "Harbour at dawn", Description: "Two tables", Created: dawn}
	other := Table{Name: "batches", Columns: []Column{{Name: "batch", Type: String}}, Rows: [][]any{{"first"}}}
	files, err := Package(info, []Table{harbour(), other})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "files", files[0].Name+" "+files[1].Name+" "+files[2].Name, "datapackage.json readings.csv batches.csv")
	// The descriptor, read without our own structs: what the standard asks for.
	var d map[string]any
	if err := json.Unmarshal(files[0].Data, &d); err != nil {
		t.Fatal(err)
	}
	same(t, "profile", d["$schema"], "https://datapackage.org/profiles/2.0/datapackage.json")
	same(t, "created", d["created"], "2026-01-05T09:12:00Z")
	first := d["resources"].([]any)[0].(map[string]any)
	for key, want := range map[string]any{"name": "readings", "type": "table", "path": "readings.csv", "format": "csv", "mediatype": "text/csv", "encoding": "utf-8", "bytes": float64(len(files[1].Data))} {
		same(t, key, first[key], want)
	}
	weight := first["schema"].(map[string]any)["fields"].([]any)[1].(map[string]any)
	same(t, "field", fmt.Sprint(weight["name"], weight["type"], weight["unit"]), "weight_gnumberg")

	files[0], files[2] = files[2], files[0] // the order does not matter
	back, tables, err := ReadPackage(files)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "info", fmt.Sprint(back), fmt.Sprint(info))
	same(t, "description", tables[0].Description, harbour().Description)
	same(t, "columns", fmt.Sprint(tables[0].Columns), fmt.Sprint(harbour().Columns))
	sameRows(t, tables[0].Rows, harbour().Rows)
	sameRows(t, tables[1].Rows, other.Rows)

	changed := append([]File(nil), files...)
	changed[1].Data = append([]byte(nil), changed[1].Data...)
	changed[1].Data[len(changed[1].Data)-2] ^= 1
	_, _, err = ReadPackage(changed)
	refused(t, err, "readings.csv", "changed after it was written")
	_, _, err = ReadPackage(files[:2])
	refused(t, err, "datapackage.json", "not among the files")
	for text, word := range map[string]string{
		"{": "not a description", "{} {}": "follows", "{}": "0 tables", `{"resources":[{"name":"a","path":"../a.csv"}]}`: "path", `{"resources":[{"name":"a","path":"a.csv"}]}`: "not among",
		`{"created":"dawn","resources":[]}`: "not a time",
	} {
		_, _, err := ReadPackage([]File{{"datapackage.json", []byte(text)}})
		refused(t, err, word)
	}
	for _, name := range []string{"", "Harbour", "a/b", "..", "a b"} {
		if _, err := Package(PackageInfo{Name: name}, []Table{other}); err == nil {
			t.Errorf("package name %q", name)
		}
		if _, err := Package(info, []Table{{Name: name, Columns: other.Columns}}); err == nil {
			t.Errorf("table name %q", name)
		}
	}
	if _, err := Package(info, nil); err == nil {
		t.Error("no tables")
	}
	if _, err := Package(info, []Table{other, other}); err == nil {
		t.Error("one name twice")
	}
}

// Readings that were exported come back through the reader of instruments'
// files with the same values, names and moments.
func TestExportedReadingsImport(t *testing.T) {
	tab := Table{Name: "readings", Columns: []Column{
		{Name: "name", Type: String}, {Name: "taken_at", Type: DateTime}, {Name: "illuminant", Type: String}, {Name: "observer", Type: Integer}, {Name: "mode", Type: String},
		{Name: "L", Type: Number}, {Name: "a", Type: Number}, {Name: "b", Type: Number},
	}}
	for i, name := range []string{"shore", "=tide", "-7 °C, \"cold\"", "'@x", "море"} {
		tab.Rows = append(tab.Rows, []any{name, dawn.Add(time.Duration(i) * time.Hour), "D65", 2, "SCI", 50 + 1.0/3, -12.25, float64(i) / 7})
	}
	data, err := tab.CSV(true)
	if err != nil {
		t.Fatal(err)
	}
	im := read(t, string(data), Options{})
	same(t, "readings", len(im.Readings), len(tab.Rows))
	for i, s := range im.Readings {
		row := tab.Rows[i]
		same(t, "row", fmt.Sprint(s.Name, s.TakenAt, s.Illuminant, s.Observer, s.Mode, s.Lab.L, s.Lab.A, s.Lab.B),
			fmt.Sprint(row[0], row[1].(time.Time).Format(time.RFC3339), row[2], row[3], row[4], row[5], row[6], row[7]))
	}
}

func FuzzTable(f *testing.F) {
	for _, s := range []string{"", "'", "=1", "''=1", "\t", "a\r\nb", "\"", "\uFEFF", " x ", "-1", "\x00", "\xff"} {
		f.Add(s, 1.5)
	}
	f.Fuzz(func(t *testing.T, s string, v float64) {
		cols := []Column{{Name: "s", Type: String}, {Name: "v", Type: Number}}
		tab := Table{Name: "x", Columns: cols, Rows: [][]any{{s, v}, {nil, nil}}}
		data, err := tab.CSV(len(s)%2 == 0)
		if err != nil {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				t.Fatal(err)
			}
			return
		}
		back, err := ReadTable(data, "x", cols)
		if err != nil {
			t.Fatal(err)
		}
		if len(back.Rows) != 2 || back.Rows[0][0] != cleanText(s) || back.Rows[0][1] != v || back.Rows[1][0] != "" || back.Rows[1][1] != nil {
			t.Fatalf("wrote %q %v, read %q", s, v, back.Rows)
		}
		if js, err := tab.JSON(); err != nil || !json.Valid(js) {
			t.Fatalf("%s %v", js, err)
		}
	})
}

func FuzzReadPackage(f *testing.F) {
	files, err := Package(PackageInfo{Name: "x"}, []Table{{Name: "a", Columns: []Column{{Name: "s", Type: String}}, Rows: [][]any{{"y"}}}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(files[0].Data, files[1].Data)
	f.Add([]byte(`{"resources":[{"name":"a","path":"a.csv","schema":{"fields":[{"name":"s","type":"any"}]}}]}`), []byte("s\n"))
	f.Fuzz(func(t *testing.T, d, csv []byte) {
		if _, _, err := ReadPackage([]File{{"datapackage.json", d}, {"a.csv", csv}}); err != nil {
			refused(t, err)
		}
	})
}
