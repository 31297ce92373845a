package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"
)

// Problem is one thing wrong with a book, and what to do about it.
type Problem struct {
	Where string `json:"where"` // table and row, or "file"
	What  string `json:"what"`
	Try   string `json:"try"`
}

// Report is what a check of a book found.
type Report struct {
	Path   string `json:"path"`
	Format int    `json:"format"`
	// Newest is the format this program writes; an older book is migrated when it is next opened.
	Newest   int       `json:"newest_format"`
	Bytes    int64     `json:"bytes"`
	Changes  int64     `json:"changes"`
	Problems []Problem `json:"problems"`

	tell func(string)
}

const (
	tryBackup = "copy the file away as it is, then put back your last backup"
	tryEdit   = "put the value right with the noun's edit command, or take the change back with `lyefast undo`"
)

// mostProblems bounds how much of a thoroughly damaged file is listed.
const mostProblems = 50

// Check looks a book over without writing to it: SQLite's own check of the file,
// references that lead nowhere, a journal that does not fit, values that cannot
// be. A damaged book gives a report with problems, not an error; an error means
// that there is no book there, or that it may not be read. nouns looks at what
// only the nouns themselves can judge; it is called if the format is the newest.
func Check(ctx context.Context, path string, now func() time.Time, nouns func(*Tx) ([]Problem, error)) (Report, error) {
	return CheckTelling(ctx, path, now, nouns, nil)
}

// CheckTelling is [Check] that says, if tell is not nil, what it is about to look at:
// in a book of a million readings a look takes seconds.
func CheckTelling(ctx context.Context, path string, now func() time.Time, nouns func(*Tx) ([]Problem, error), tell func(string)) (Report, error) {
	if tell == nil {
		tell = func(string) {}
	}
	r := Report{Path: path, Problems: []Problem{}, tell: tell}
	steps, err := listSteps(migrations)
	if err != nil {
		return r, err
	}
	r.Newest = len(steps)
	state, err := look(path, r.Newest)
	if err != nil {
		return r, err
	}
	if state == missing {
		return r, &Error{Op: "check book", Path: path, Kind: ErrNoBook}
	}
	if info, err := os.Stat(path); err == nil {
		r.Bytes = info.Size()
	}
	// First without any right to write, so that a damaged file stays as it is. Such
	// a connection passes over CHECK constraints, hence a second look at a sound one.
	for _, mode := range []string{"ro", "rw"} {
		tell(map[string]string{"ro": "the file", "rw": "the file again, with its constraints"}[mode])
		err := r.open(ctx, mode, now, nouns)
		if mode == "ro" && cutShort(err) {
			continue // only a connection that may write can take back half a change
		}
		if err != nil {
			return r, err
		}
		if len(r.Problems) > 0 {
			break
		}
	}
	return r, nil
}

// open looks the file over on a connection of its own. Damage is a problem found,
// not an error.
func (r *Report) open(ctx context.Context, mode string, now func() time.Time, nouns func(*Tx) ([]Problem, error)) error {
	db, err := sql.Open("sqlite", dsn(r.Path, mode, false)+"&_query_only=1")
	if err != nil {
		return wrap("check book", r.Path, err)
	}
	defer db.Close()
	err = wrap("check book", r.Path, r.look(ctx, db, now, nouns))
	if errors.Is(err, ErrDamaged) {
		var own *Error
		errors.As(err, &own)
		r.add(Problem{"file", own.Err.Error(), tryBackup})
		return nil
	}
	return err
}

func (r *Report) add(p Problem) {
	if len(r.Problems) < mostProblems {
		r.Problems = append(r.Problems, p)
	}
}

func (r *Report) look(ctx context.Context, db *sql.DB, now func() time.Time, nouns func(*Tx) ([]Problem, error)) error {
	sqlTx, err := db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer sqlTx.Rollback()
	tx := &Tx{tx: sqlTx, now: now()}
	if r.Format, err = userVersion(ctx, sqlTx); err != nil {
		return err
	}
	if r.Format > r.Newest {
		return newer("check book", r.Path, r.Format, r.Newest)
	}
	lines, err := texts(ctx, sqlTx, fmt.Sprintf(`PRAGMA integrity_check(%d)`, mostProblems))
	if err != nil {
		return err
	}
	for _, line := range lines {
		switch {
		case line == "ok":
		case strings.HasPrefix(line, "CHECK constraint failed in "):
			r.add(Problem{"table " + strings.TrimPrefix(line, "CHECK constraint failed in "), "a value that cannot be", tryEdit})
		default:
			r.add(Problem{"file", line, tryBackup})
		}
	}
	if r.Format == 0 {
		return nil // its making was cut short; there is nothing in it
	}
	for _, look := range []struct {
		what string
		at   func(context.Context, *Tx) error
	}{{"what refers to what", r.references}, {"the journal", r.journal}, {"names", r.names}, {"readings", r.readings}, {"batches", r.batches}} {
		r.tell(look.what)
		if err := look.at(ctx, tx); err != nil {
			return err
		}
	}
	if r.Format == r.Newest && nouns != nil {
		found, err := nouns(tx)
		if err != nil {
			return err
		}
		for _, p := range found {
			r.add(p)
		}
	}
	return nil
}

// references finds rows that belong to nothing.
func (r *Report) references(ctx context.Context, tx *Tx) error {
	return tx.each(ctx, `SELECT "table", coalesce(rowid, 0), parent FROM pragma_foreign_key_check()`, nil, func(rows *sql.Rows) error {
		var table, parent string
		var id int64
		if err := rows.Scan(&table, &id, &parent); err != nil {
			return err
		}
		r.add(Problem{fmt.Sprintf("table %s, row %d", table, id), "it belongs to a row of " + parent + " that is not there", tryBackup})
		return nil
	})
}

// journal finds entries that undo could not follow.
func (r *Report) journal(ctx context.Context, tx *Tx) error {
	if err := tx.each(ctx, `SELECT count(*) FROM change`, nil, func(rows *sql.Rows) error {
		return rows.Scan(&r.Changes)
	}); err != nil {
		return err
	}
	names, err := tables(ctx, tx.tx)
	if err != nil {
		return err
	}
	known := map[string]bool{}
	for _, name := range names {
		known[name] = true
		have, err := texts(ctx, tx.tx, `SELECT name FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?
			AND name LIKE 'journal\_%' ESCAPE '\'`, name)
		if err != nil {
			return err
		}
		if len(have) != 3 && !unjournalled[name] {
			r.add(Problem{"table " + name, "changes to it are not journalled", tryBackup})
		}
	}
	if err := tx.each(ctx, `SELECT id, tbl FROM change_row GROUP BY tbl`, nil, func(rows *sql.Rows) error {
		var id int64
		var table string
		if err := rows.Scan(&id, &table); err != nil {
			return err
		}
		if !known[table] {
			r.add(Problem{fmt.Sprintf("journal, row %d", id), fmt.Sprintf("it speaks of a table %q that is not there", table), tryBackup})
		}
		return nil
	}); err != nil {
		return err
	}
	return tx.each(ctx, `SELECT c.id FROM change AS c LEFT JOIN change AS u ON u.id = c.undone_by
		WHERE c.undone_by IS NOT NULL AND u.undoes IS NOT c.id
		UNION SELECT id FROM change WHERE kind <> 'change' AND undoes IS NULL`, nil, func(rows *sql.Rows) error {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return err
		}
		r.add(Problem{fmt.Sprintf("journal, entry %d", id), "what it took back, or what took it back, does not fit", tryBackup})
		return nil
	})
}

// names finds names that a look-up would miss, in every table that has names.
func (r *Report) names(ctx context.Context, tx *Tx) error {
	list, err := texts(ctx, tx.tx, `SELECT m.name FROM sqlite_schema AS m JOIN pragma_table_info(m.name) AS c
		WHERE m.type = 'table' AND c.name = 'name_key' ORDER BY m.name`)
	if err != nil {
		return err
	}
	for _, table := range list {
		if err := tx.each(ctx, `SELECT id, name, name_key FROM `+quote(table), nil, func(rows *sql.Rows) error {
			var id int64
			var name, key string
			if err := rows.Scan(&id, &name, &key); err != nil {
				return err
			}
			if key != NameKey(name) {
				r.add(Problem{fmt.Sprintf("table %s, row %d", table, id), fmt.Sprintf("%q is filed under %q and cannot be found", name, key), tryBackup})
			}
			return nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// readings finds colours that cannot be, and readings of no portion or way: their
// table has no constraints of its own, for speed.
func (r *Report) readings(ctx context.Context, tx *Tx) error {
	columns, err := columnsOf(ctx, tx.tx, "reading")
	if err != nil || len(columns) == 0 {
		return err
	}
	return tx.each(ctx, `SELECT id, portion_id IN (SELECT id FROM portion) AND way_id IN (SELECT id FROM reading_way) FROM reading
		WHERE intake_id IN (SELECT id FROM intake) AND (
			portion_id NOT IN (SELECT id FROM portion) OR way_id NOT IN (SELECT id FROM reading_way)
			OR (l IS NULL) <> (a IS NULL) OR (l IS NULL) <> (b IS NULL)
			OR l NOT BETWEEN 0 AND 100 OR a NOT BETWEEN -150 AND 150 OR b NOT BETWEEN -150 AND 150)
		LIMIT ?`, []any{mostProblems}, func(rows *sql.Rows) error {
		var id int64
		var placed bool
		if err := rows.Scan(&id, &placed); err != nil {
			return err
		}
		what := "a value that cannot be"
		if !placed {
			what = "it belongs to a portion or a way of reading that is not there"
		}
		r.add(Problem{fmt.Sprintf("table reading, row %d", id), what, "strike it out with `lyefast reading strike`, or put back your last backup"})
		return nil
	})
}
