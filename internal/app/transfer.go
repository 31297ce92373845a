package app

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"lyefast/internal/exchange"
	"lyefast/internal/pattern"
	"lyefast/internal/store"
)

// ExportBookQuery asks for the book as files in a folder.
type ExportBookQuery struct {
	// Dir is made if it is not there; no file in it is replaced.
	Dir string
	// Package writes a Data Package of the whole book, journal included; else there is
	// one CSV file for each table, for a spreadsheet.
	Package bool
	// Mark puts a byte order mark at the head of each CSV file. A package has none.
	Mark bool
}

// Exported is what was written.
type Exported struct {
	Dir   string         `json:"dir"`
	Files []ExportedFile `json:"files"`
}

// ExportedFile is one file.
type ExportedFile struct {
	Name  string `json:"name"`
	Rows  int    `json:"rows"`
	Bytes int    `json:"bytes"`
}

// rowsAFile is how many rows go into one file: few enough that any reader takes it.
const rowsAFile = 200_000

// jsonMark stands before a text that is written as a JSON string, because a CSV file
// could not hold it as it is.
const jsonMark = "json:"

// secondsColumns hold moments as whole seconds in the book and are written as times.
var secondsColumns = map[string]string{"reading": "taken_at", "history_portion": "made_at"}

// carried describes a sheet as columns of a table for exchange.
func carried(s store.Sheet) []exchange.Column {
	columns := make([]exchange.Column, len(s.Columns))
	for i, c := range s.Columns {
		t := exchange.Column{Name: c.Name}
		switch {
		case secondsColumns[s.Name] == c.Name:
			t.Type = exchange.DateTime
		case c.Kind == "INTEGER":
			t.Type = exchange.Integer
		case c.Kind == "REAL":
			t.Type = exchange.Number
		case c.Kind == "BLOB":
			t.Type, t.Description = exchange.String, "bytes in hexadecimal"
		default:
			t.Type, t.Description = exchange.String, `a text that begins with "`+jsonMark+`" is a JSON string`
		}
		columns[i] = t
	}
	return columns
}

// outward gives the value of a cell as it is carried.
func outward(c store.SheetColumn, t exchange.Type, v any) (any, error) {
	switch x := v.(type) {
	case nil, float64:
		return x, nil
	case int64:
		if t == exchange.DateTime {
			return time.Unix(x, 0).UTC(), nil
		}
		return int(x), nil
	case []byte:
		return hex.EncodeToString(x), nil
	case string:
		if strings.ContainsRune(x, '\r') || strings.HasPrefix(x, jsonMark) || x == "" && c.Nullable {
			text, err := json.Marshal(x)
			return jsonMark + string(text), err
		}
		return x, nil
	}
	return nil, fmt.Errorf("column %q holds a %T", c.Name, v)
}

// inward is the way back.
func inward(c store.SheetColumn, v any) (any, error) {
	switch x := v.(type) {
	case time.Time:
		return x.Unix(), nil
	case int:
		return int64(x), nil
	case string:
		if rest, ok := strings.CutPrefix(x, jsonMark); ok && c.Kind == "TEXT" {
			var text string
			if err := json.Unmarshal([]byte(rest), &text); err != nil {
				return nil, fmt.Errorf("column %q: %s is no JSON string", c.Name, clipped(rest))
			}
			return text, nil
		}
		if x == "" && c.Nullable {
			return nil, nil
		}
		if c.Kind == "BLOB" {
			b, err := hex.DecodeString(x)
			if err != nil {
				return nil, fmt.Errorf("column %q: %q is not hexadecimal", c.Name, clipped(x))
			}
			return b, nil
		}
		return x, nil
	}
	return v, nil
}

// ExportBook writes the book into a folder.
func (a *App) ExportBook(ctx context.Context, q ExportBookQuery) (*Exported, error) {
	if q.Package && q.Mark {
		return nil, invalid("leave out --bom", "a data package is UTF-8 and has no byte order mark")
	}
	if _, err := a.open(ctx, false); err != nil {
		return nil, noBook(err, a.path, "there is nothing to export")
	}
	var tables []exchange.Table
	info := exchange.PackageInfo{Title: "A soap maker's book", Created: a.Now().UTC().Truncate(time.Second)}
	err := a.read(ctx, func(tx *store.Tx) error {
		format, err := tx.Format(ctx)
		if err != nil {
			return err
		}
		info.Name = fmt.Sprintf("lyefast-book-format%d", format)
		sheets, err := tx.Sheets(ctx, q.Package)
		if err != nil {
			return err
		}
		for _, s := range sheets {
			columns := carried(s)
			part := exchange.Table{Name: s.Name, Columns: columns, Rows: [][]any{}}
			n := 1
			if err := tx.EachRow(ctx, s, func(row []any) error {
				if len(part.Rows) == rowsAFile {
					tables = append(tables, part)
					n++
					part = exchange.Table{Name: fmt.Sprintf("%s-%d", s.Name, n), Columns: columns}
				}
				for i := range row {
					var err error
					if row[i], err = outward(s.Columns[i], columns[i].Type, row[i]); err != nil {
						return fmt.Errorf("table %s: %w", s.Name, err)
					}
				}
				part.Rows = append(part.Rows, row)
				return nil
			}); err != nil {
				return err
			}
			tables = append(tables, part)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	var files []exchange.File
	if q.Package {
		if files, err = exchange.Package(info, tables); err != nil {
			return nil, err
		}
	} else {
		for _, t := range tables {
			data, err := t.CSV(q.Mark)
			if err != nil {
				return nil, err
			}
			files = append(files, exchange.File{Name: t.Name + ".csv", Data: data})
		}
	}
	out := &Exported{Dir: q.Dir, Files: []ExportedFile{}}
	for _, f := range files {
		rows := 0
		for _, t := range tables {
			if t.Name+".csv" == f.Name {
				rows = len(t.Rows)
			}
		}
		out.Files = append(out.Files, ExportedFile{f.Name, rows, len(f.Data)})
	}
	return out, writeFolder(q.Dir, files)
}

// writeFolder writes files into a folder that has none of them.
func writeFolder(dir string, files []exchange.File) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return &Error{Msg: "export", Err: err}
	}
	for _, f := range files {
		if _, err := os.Lstat(filepath.Join(dir, f.Name)); err == nil {
			return &Error{Kind: ErrExists, Msg: fmt.Sprintf("%q is there already; nothing was written", filepath.Join(dir, f.Name)), Tip: "name an empty folder"}
		}
	}
	for _, f := range files {
		w, err := os.OpenFile(filepath.Join(dir, f.Name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if err == nil {
			_, err = w.Write(f.Data)
			err = errors.Join(err, w.Close())
		}
		if err != nil {
			return &Error{Msg: "export", Err: err, Tip: "what was written so far is not whole; remove the folder and try again"}
		}
	}
	return nil
}

// ImportedBook is what an export that was read held.
type ImportedBook struct {
	Dir  string `json:"dir"`
	Book string `json:"book"`
	Rows int    `json:"rows"`
	// New tells that the book was made by it; else Merged says what came to it.
	New    bool          `json:"new"`
	Merged *store.Merged `json:"merged"`
}

// ImportBook reads a folder that [App.ExportBook] wrote. Where there is no book yet it
// becomes one; else what the folder has and the book has not is merged into the book
// as one change. try only reports.
func (a *App) ImportBook(ctx context.Context, dir string, try bool) (*ImportedBook, error) {
	files, err := readFolder(dir)
	if err != nil {
		return nil, err
	}
	path, err := filepath.Abs(a.path)
	if err != nil {
		return nil, err
	}
	out := &ImportedBook{Dir: dir, Book: path}
	temp, err := os.MkdirTemp("", "lyefast-import")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(temp)
	made := filepath.Join(temp, filepath.Base(dir))
	if out.Rows, err = buildBook(ctx, made, files, a.now); err != nil {
		return nil, err
	}
	book, err := a.open(ctx, false)
	switch {
	case err == nil:
		r, err := book.Merge(ctx, made, try)
		r.Other = dir
		out.Merged = &r
		return out, ours(err)
	case !errors.Is(err, store.ErrNoBook):
		return nil, err
	}
	if out.New = true; try {
		return out, nil
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, &Error{Msg: "make the book's folder", Err: err}
	}
	_, err = store.Restore(ctx, made, path)
	return out, err
}

// readFolder reads the files of an export, within bounds.
func readFolder(dir string) ([]exchange.File, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("there is no folder %q", dir)}
	}
	if err != nil {
		return nil, &Error{Msg: "read export", Err: err}
	}
	var files []exchange.File
	for _, e := range entries {
		if e.IsDir() || e.Name() != "datapackage.json" && filepath.Ext(e.Name()) != ".csv" {
			continue
		}
		if len(files) == 1000 {
			return nil, invalid("", "there are more than 1000 files in %q", dir)
		}
		f, err := os.Open(filepath.Join(dir, e.Name()))
		if err != nil {
			return nil, &Error{Msg: "read export", Err: err}
		}
		data, err := io.ReadAll(io.LimitReader(f, exchange.MaxBytes+1))
		f.Close()
		if err != nil {
			return nil, &Error{Msg: "read export", Err: err}
		}
		files = append(files, exchange.File{Name: e.Name(), Data: data})
	}
	if len(files) == 0 {
		return nil, invalid("name the folder that `lyefast book export` wrote", "there is no export in %q", dir)
	}
	return files, nil
}

var (
	packageName = pattern.New(`^lyefast-book-format(\d{1,3})$`)
	partName    = pattern.New(`^([a-z_]+)(-\d+)?$`)
)

// buildBook makes a book from the files of an export and gives the number of rows.
func buildBook(ctx context.Context, path string, files []exchange.File, now func() time.Time) (rows int, err error) {
	if !slices.ContainsFunc(files, func(f exchange.File) bool { return f.Name == "datapackage.json" }) {
		return buildFromCSV(ctx, path, files, now)
	}
	info, tables, err := exchange.ReadPackage(files)
	if err != nil {
		return 0, declined(err)
	}
	m := packageName.FindStringSubmatch(info.Name)
	if m == nil {
		return 0, invalid("name a folder that `lyefast book export --package` wrote", "the data package %q is no book", clipped(info.Name))
	}
	format, err := strconv.Atoi(m[1])
	if err != nil || format < 1 {
		return 0, invalid("", "there is no format %s of a book", m[1])
	}
	err = store.Build(ctx, path, format, now, func(f *store.Filler) error {
		cleared := map[string]bool{}
		for _, t := range tables {
			name := tableOf(t.Name)
			s, ok := f.Sheet(name)
			if !ok || !slices.Equal(columnNames(carried(s)), columnNames(t.Columns)) {
				return invalid("export it again", "%s.csv has not the columns of a book of format %d", t.Name, format)
			}
			// The types are the book's, whatever the description says of them.
			for i, c := range carried(s) {
				if t.Columns[i].Type != c.Type {
					return invalid("export it again", "%s.csv, column %q: type %q, and %q was expected", t.Name, c.Name, t.Columns[i].Type, c.Type)
				}
			}
			n, err := putRows(f, s, t, cleared, nil)
			rows += n
			if err != nil {
				return err
			}
		}
		return nil
	})
	return rows, refusedRows(err)
}

// buildFromCSV makes a book of the newest format from plain CSV files, which a
// spreadsheet may have written meanwhile: what follows from a name, and the moments of
// making, need not be filled in.
func buildFromCSV(ctx context.Context, path string, files []exchange.File, now func() time.Time) (rows int, err error) {
	err = store.Build(ctx, path, 0, now, func(f *store.Filler) error {
		cleared := map[string]bool{}
		for _, file := range files {
			name := strings.TrimSuffix(file.Name, ".csv")
			s, ok := f.Sheet(tableOf(name))
			if !ok || s.Name == "change" || s.Name == "change_row" {
				return invalid("leave only the files of `lyefast book export --csv` in the folder", "%s is no table of a book", file.Name)
			}
			t, err := exchange.ReadTable(file.Data, file.Name, carried(s))
			if err != nil {
				return declined(err)
			}
			t.Name = name
			n, err := putRows(f, s, t, cleared, func(row []any) { complete(s, row, now()) })
			rows += n
			if err != nil {
				return err
			}
		}
		return nil
	})
	return rows, refusedRows(err)
}

// complete fills in what follows from the rest of a row.
func complete(s store.Sheet, row []any, now time.Time) {
	at := func(name string) int {
		return slices.IndexFunc(s.Columns, func(c store.SheetColumn) bool { return c.Name == name })
	}
	for key, of := range map[string]string{"name_key": "name", "code_key": "code"} {
		if i, j := at(key), at(of); i >= 0 && j >= 0 {
			if text, ok := row[j].(string); ok {
				row[i] = store.NameKey(text)
			}
		}
	}
	for _, name := range []string{"created_at", "changed_at"} {
		if i := at(name); i >= 0 && row[i] == "" {
			row[i] = store.Timestamp(now)
		}
	}
}

// putRows adds the rows of one file.
func putRows(f *store.Filler, s store.Sheet, t exchange.Table, cleared map[string]bool, finish func([]any)) (int, error) {
	if !cleared[s.Name] {
		cleared[s.Name] = true
		if err := f.Clear(s.Name); err != nil {
			return 0, err
		}
	}
	for n, row := range t.Rows {
		for i := range row {
			var err error
			if row[i], err = inward(s.Columns[i], row[i]); err != nil {
				return n, invalid("export it again, or put it right", "%s.csv, row %d: %s", t.Name, n+1, err)
			}
		}
		if finish != nil {
			finish(row)
		}
		if err := f.Put(s.Name, row); err != nil {
			return n, invalid("export it again, or put it right", "%s.csv, row %d cannot be so: %s", t.Name, n+1, err)
		}
	}
	return len(t.Rows), nil
}

// refusedRows lets a fault of the files speak for itself.
func refusedRows(err error) error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	if err != nil {
		return &Error{Kind: ErrInvalid, Msg: "the export cannot be read", Err: err, Tip: "export it again; nothing was written"}
	}
	return nil
}

func tableOf(name string) string {
	if m := partName.FindStringSubmatch(name); m != nil {
		return m[1]
	}
	return name
}

func columnNames(list []exchange.Column) []string {
	names := make([]string, len(list))
	for i, c := range list {
		names[i] = c.Name
	}
	return names
}
