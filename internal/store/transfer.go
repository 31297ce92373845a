package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"
)

// Sheet is one table of the book as it is carried out of it and in again.
type Sheet struct {
	Name    string
	Columns []SheetColumn
	live    bool // only rows that were not taken back
}

// SheetColumn is one column. A row holds for it int64, float64, string or []byte by
// its Kind, INTEGER, REAL, TEXT or BLOB, or nil if it may be NULL.
type SheetColumn struct {
	Name, Kind string
	Nullable   bool
}

// Sheets lists the tables of a view, in the order of their names: all that is the
// maker's, with the journal if asked for, without what can be worked out again.
func (tx *Tx) Sheets(ctx context.Context, journal bool) ([]Sheet, error) {
	names, err := tables(ctx, tx.tx)
	if err != nil {
		return nil, err
	}
	if journal {
		names = append(names, "change", "change_row")
	}
	var list []Sheet
	for _, name := range names {
		if name == "worked_out" {
			continue
		}
		s := Sheet{Name: name, live: !journal}
		if err := tx.each(ctx, `SELECT name, type, NOT "notnull" AND NOT pk FROM pragma_table_info(?) ORDER BY cid`, []any{name}, func(rows *sql.Rows) error {
			var c SheetColumn
			err := rows.Scan(&c.Name, &c.Kind, &c.Nullable)
			s.Columns = append(s.Columns, c)
			return err
		}); err != nil {
			return nil, err
		}
		list = append(list, s)
	}
	return list, nil
}

// liveRows are the conditions for rows that no trigger journals to count.
var liveRows = map[string]string{
	"reading":         `WHERE intake_id IN (SELECT id FROM intake)`,
	"history_portion": `WHERE intake_id IN (SELECT id FROM history_intake)`,
	"history_dose":    `WHERE portion_id IN (SELECT id FROM history_portion WHERE intake_id IN (SELECT id FROM history_intake))`,
}

// EachRow calls f for the rows of a sheet in the order of their numbers; f may keep
// the row. Readings and past portions that were taken back are there only with the
// journal, which can bring them back.
func (tx *Tx) EachRow(ctx context.Context, s Sheet, f func([]any) error) error {
	names := make([]string, len(s.Columns))
	for i, c := range s.Columns {
		names[i] = "r." + quote(c.Name)
	}
	where := ""
	if s.live {
		where = liveRows[s.Name]
	}

	return tx.each(ctx, `SELECT `+strings.Join(names, ", ")+` FROM `+quote(s.Name)+` AS r `+where+` ORDER BY id`, nil, func(rows *sql.Rows) error {
		row := make([]any, len(names))
		into := make([]any, len(names))
		for i := range row {
			into[i] = &row[i]
		}
		if err := rows.Scan(into...); err != nil {
			return err
		}
		return f(row)
	})
}

// Format is the number of the book's format.
func (tx *Tx) Format(ctx context.Context) (int, error) { return userVersion(ctx, tx.tx) }

// upTo shows the migrations up to a format.
type upTo struct {
	fs.FS
	format int
}

// Glob lists the files of the first formats.
func (u upTo) Glob(pattern string) ([]string, error) {
	names, err := fs.Glob(u.FS, pattern)
	if err != nil {
		return nil, err
	}
	slices.Sort(names)
	return names[:min(u.format, len(names))], nil
}

// Filler takes the rows of a book that is being built.
type Filler struct {
	ctx    context.Context
	tx     *Tx
	sheets map[string]Sheet
}

// Sheet tells how a table of the book being built must look; false if there is none.
func (f *Filler) Sheet(name string) (Sheet, bool) {
	s, ok := f.sheets[name]
	return s, ok
}

// Clear takes away what the making of a book put into a table.
func (f *Filler) Clear(name string) error {
	if _, ok := f.sheets[name]; !ok {
		return fmt.Errorf("a book of this format has no table %q", name)
	}
	_, err := f.tx.exec(f.ctx, `DELETE FROM `+quote(name))
	return err
}

// Put adds a row to a table, with a value for every column of its sheet.
func (f *Filler) Put(name string, row []any) error {
	s, ok := f.sheets[name]
	if !ok || len(row) != len(s.Columns) {
		return fmt.Errorf("a book of this format has no table %q with %d columns", name, len(row))
	}
	names := make([]string, len(row))
	for i, c := range s.Columns {
		names[i] = quote(c.Name)
	}
	_, err := f.tx.exec(f.ctx, `INSERT INTO `+quote(name)+` (`+strings.Join(names, ", ")+`) VALUES (?`+strings.Repeat(", ?", len(names)-1)+`)`, row...)
	return err
}

// Build makes a book of a format in a file that does not exist yet, from rows that
// fill puts in, 0 meaning the newest format. Rows that the constraints of the book
// refuse, or a book that [Check] finds fault with, leave no file.
func Build(ctx context.Context, path string, format int, now func() time.Time, fill func(*Filler) error) error {
	steps, err := listSteps(migrations)
	if err != nil {
		return err
	}
	switch {
	case format == 0:
		format = len(steps)
	case format > len(steps):
		return newer("build book", path, format, len(steps))
	case format < 0:
		return &Error{Op: "build book", Path: path, Err: fmt.Errorf("there is no format %d", format)}
	}
	return newFile("build book", path, func(part string) error {
		b, err := open(ctx, part, now, true, upTo{migrations, format})
		if err != nil {
			return err
		}
		err = b.fill(ctx, fill)
		if closing := b.Close(); err == nil {
			err = closing
		}
		if err != nil {
			return err
		}
		r, err := Check(ctx, part, now, nil)
		if err != nil {
			return err
		}
		if len(r.Problems) > 0 {
			p := r.Problems[0]
			return &Error{Op: "build book", Path: path, Err: fmt.Errorf("%s: %s", p.Where, p.What), Tip: "nothing was written; export it again, or put it right there"}
		}
		// One file, whatever the system left of the log.
		for _, tail := range []string{"-wal", "-shm"} {
			if err := os.Remove(part + tail); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return wrap("build book", part, err)
			}
		}
		return nil
	})
}

// fill puts rows in as they are, past the journal, and checks how they fit at the end.
func (b *Book) fill(ctx context.Context, fill func(*Filler) error) error {
	sqlTx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return wrap("build book", b.path, err)
	}
	defer sqlTx.Rollback()
	tx := &Tx{tx: sqlTx, now: b.now()}
	if _, err := tx.exec(ctx, `PRAGMA defer_foreign_keys = on`); err != nil {
		return wrap("build book", b.path, err)
	}
	if err := dropTriggers(ctx, sqlTx); err != nil {
		return wrap("build book", b.path, err)
	}
	f := &Filler{ctx: ctx, tx: tx, sheets: map[string]Sheet{}}
	list, err := tx.Sheets(ctx, true)
	if err != nil {
		return wrap("build book", b.path, err)
	}
	for _, s := range list {
		f.sheets[s.Name] = s
	}
	if err := fill(f); err != nil {
		return wrap("build book", b.path, err)
	}
	if err := makeTriggers(ctx, sqlTx); err != nil {
		return wrap("build book", b.path, err)
	}
	return wrap("build book", b.path, sqlTx.Commit())
}
