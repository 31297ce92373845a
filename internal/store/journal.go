package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Change is one entry of the journal.
type Change struct {
	ID   int64     `json:"id"`
	At   time.Time `json:"at"`
	Kind string    `json:"kind"` // "change", "undo" or "redo"
	What string    `json:"what"`
	// Undone tells that it has been taken back.
	Undone bool `json:"undone"`
}

// column is one column of a table.
type column struct{ name, kind string }

// tables lists the tables that hold the maker's data, in the order of their names;
// the journal itself is none of them.
func tables(ctx context.Context, q querier) ([]string, error) {
	return texts(ctx, q, `SELECT name FROM sqlite_schema WHERE type = 'table'
		AND name NOT LIKE 'sqlite\_%' ESCAPE '\' AND name NOT IN ('change', 'change_row') ORDER BY name`)
}

func texts(ctx context.Context, q querier, query string, args ...any) ([]string, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rows.Err()
}

// columnsOf lists a table's columns as it stands now; none means no such table.
func columnsOf(ctx context.Context, q querier, table string) ([]column, error) {
	rows, err := q.QueryContext(ctx, `SELECT name, type FROM pragma_table_info(?) ORDER BY cid`, table)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []column
	for rows.Next() {
		var c column
		if err := rows.Scan(&c.name, &c.kind); err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, rows.Err()
}

const triggerPrefix = "journal_"

// unjournalled names the tables whose rows come too many at a time for a journal
// entry each. A row of theirs counts only while the journalled row it belongs to is
// there, so undo and redo reach it all the same. What was worked out is not the maker's
// and is no part of what can be taken back.
var unjournalled = map[string]bool{"reading": true, "history_portion": true, "history_dose": true, "worked_out": true}

// dropTriggers takes the journal's triggers away, so that a migration which
// rewrites rows is not taken for something the maker did.
func dropTriggers(ctx context.Context, tx *sql.Tx) error {
	names, err := texts(ctx, tx, `SELECT name FROM sqlite_schema WHERE type = 'trigger' AND name LIKE 'journal\_%' ESCAPE '\'`)
	if err != nil {
		return err
	}
	for _, name := range names {
		if _, err := tx.ExecContext(ctx, `DROP TRIGGER `+quote(name)); err != nil {
			return err
		}
	}
	return nil
}

// makeTriggers journals every table: the id of a row that was added, the whole
// row as it was where one was altered or removed.
func makeTriggers(ctx context.Context, tx *sql.Tx) error {
	names, err := tables(ctx, tx)
	if err != nil {
		return err
	}
	for _, table := range names {
		if unjournalled[table] {
			continue
		}
		columns, err := columnsOf(ctx, tx, table)
		if err != nil {
			return err
		}
		if len(columns) == 0 || columns[0] != (column{"id", "INTEGER"}) {
			return fmt.Errorf("table %q does not start with id INTEGER PRIMARY KEY", table)
		}
		for _, script := range triggers(table, columns) {
			if _, err := tx.ExecContext(ctx, script); err != nil {
				return fmt.Errorf("journal table %q: %w", table, err)
			}
		}
	}
	return nil
}

// triggers gives the three triggers of a table. An update that alters nothing but
// the note of when it happened is no change.
func triggers(table string, columns []column) []string {
	var pairs, differ []string
	for _, c := range columns {
		old := "OLD." + quote(c.name)
		if c.kind == "BLOB" {
			pairs = append(pairs, fmt.Sprintf("'%s', hex(%s)", c.name, old))
		} else {
			pairs = append(pairs, fmt.Sprintf("'%s', %s", c.name, old))
		}
		if c.name != "created_at" && c.name != "changed_at" {
			differ = append(differ, fmt.Sprintf("%s IS NOT NEW.%s", old, quote(c.name)))
		}
	}
	before := "json_object(" + strings.Join(pairs, ", ") + ")"
	trigger := func(op, when, row, before string) string {
		return fmt.Sprintf(`CREATE TRIGGER %s AFTER %s ON %s %s BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), '%s', %s.id, '%s', %s);
END`, quote(triggerPrefix+table+"_"+op), strings.ToUpper(op), quote(table), when, table, row, op, before)
	}
	return []string{
		trigger("insert", "", "NEW", "NULL"),
		trigger("update", "WHEN "+strings.Join(differ, " OR "), "OLD", before),
		trigger("delete", "", "OLD", before),
	}
}

func quote(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

// Undo takes back the last change that still stands, whatever it was, and gives
// it. Called again it takes back the one before. [ErrNothingLeft] means that
// none is left.
func (b *Book) Undo(ctx context.Context) (Change, error) {
	return b.reverse(ctx, "undo", `SELECT id, at, kind, what, FALSE FROM change
		WHERE kind = 'change' AND undone_by IS NULL ORDER BY id DESC LIMIT 1`)
}

// Redo takes back the last undo, as long as nothing was changed since.
func (b *Book) Redo(ctx context.Context) (Change, error) {
	return b.reverse(ctx, "redo", `SELECT id, at, kind, what, FALSE FROM change AS u
		WHERE kind = 'undo' AND undone_by IS NULL
		AND NOT EXISTS (SELECT 1 FROM change WHERE kind = 'change' AND id > u.id)
		ORDER BY id DESC LIMIT 1`)
}

// reverse finds a change and undoes its rows, last first, as a change of its own.
func (b *Book) reverse(ctx context.Context, kind, find string) (Change, error) {
	var target Change
	err := b.change(ctx, kind, kind, func(tx *Tx, id int64) error {
		list, err := tx.changes(ctx, find)
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return &Error{Op: kind, Kind: ErrNothingLeft}
		}
		target = list[0]
		// Rows come back one by one; whether they fit together is asked at the end.
		if _, err := tx.exec(ctx, `PRAGMA defer_foreign_keys = on`); err != nil {
			return err
		}
		if err := tx.restore(ctx, target.ID); err != nil {
			return fmt.Errorf("take back %q: %w", target.What, err)
		}
		if _, err := tx.exec(ctx, `UPDATE change SET what = ?, undoes = ? WHERE id = ?`, target.What, target.ID, id); err != nil {
			return err
		}
		if kind == "redo" {
			// What had been undone stands again.
			if _, err := tx.exec(ctx, `UPDATE change SET undone_by = NULL WHERE undone_by = ?`, target.ID); err != nil {
				return err
			}
		}
		_, err = tx.exec(ctx, `UPDATE change SET undone_by = ? WHERE id = ?`, id, target.ID)
		return err
	})
	if err != nil {
		return Change{}, err
	}
	return target, nil
}

// restore brings every row that a change touched back to what it was before.
func (tx *Tx) restore(ctx context.Context, change int64) error {
	type row struct {
		table, op, before string
		id                int64
	}
	var list []row
	err := tx.each(ctx, `SELECT tbl, row_id, op, coalesce(before, '') FROM change_row
		WHERE change_id = ? ORDER BY id DESC`, []any{change}, func(rows *sql.Rows) error {
		var r row
		err := rows.Scan(&r.table, &r.id, &r.op, &r.before)
		list = append(list, r)
		return err
	})
	if err != nil {
		return err
	}
	known := map[string][]column{}
	for _, r := range list {
		columns, ok := known[r.table]
		if !ok {
			if columns, err = columnsOf(ctx, tx.tx, r.table); err != nil {
				return err
			}
			if len(columns) == 0 {
				return fmt.Errorf("this format of the book has no table %q any more", r.table)
			}
			known[r.table] = columns
		}
		var n int64
		if r.op == "insert" {
			n, err = tx.exec(ctx, `DELETE FROM `+quote(r.table)+` WHERE id = ?`, r.id)
		} else {
			n, err = tx.putBack(ctx, r.table, r.op, r.id, columns, r.before)
		}
		if err != nil {
			return err
		}
		if n != 1 {
			return fmt.Errorf("row %d of table %q is not as the change left it", r.id, r.table)
		}
	}
	return nil
}

// putBack writes one row as the journal kept it. Columns that a later format has
// added keep their default, those it has dropped are passed over.
func (tx *Tx) putBack(ctx context.Context, table, op string, id int64, columns []column, before string) (int64, error) {
	dec := json.NewDecoder(strings.NewReader(before))
	dec.UseNumber()
	var kept map[string]any
	if err := dec.Decode(&kept); err != nil {
		return 0, fmt.Errorf("the journal of row %d of table %q cannot be read: %w", id, table, err)
	}
	var names, marks, sets []string
	var args []any
	for _, c := range columns {
		v, ok := kept[c.name]
		if !ok {
			continue
		}
		v, err := kindOf(v, c.kind)
		if err != nil {
			return 0, fmt.Errorf("the journal of row %d of table %q, column %q: %w", id, table, c.name, err)
		}
		names = append(names, quote(c.name))
		marks = append(marks, "?")
		sets = append(sets, quote(c.name)+" = ?")
		args = append(args, v)
	}
	if op == "delete" {
		return tx.exec(ctx, `INSERT INTO `+quote(table)+` (`+strings.Join(names, ", ")+`)
			VALUES (`+strings.Join(marks, ", ")+`)`, args...)
	}
	return tx.exec(ctx, `UPDATE `+quote(table)+` SET `+strings.Join(sets, ", ")+` WHERE id = ?`, append(args, id)...)
}

// kindOf gives a JSON value the column's type back.
func kindOf(v any, kind string) (any, error) {
	switch x := v.(type) {
	case nil:
		return nil, nil
	case json.Number:
		if kind == "INTEGER" {
			return x.Int64()
		}
		return x.Float64()
	case string:
		if kind == "BLOB" {
			return hex.DecodeString(x)
		}
		return x, nil
	}
	return nil, fmt.Errorf("unexpected %T", v)
}

// Changes lists the journal's newest entries, newest first, at most limit of them.
func (tx *Tx) Changes(ctx context.Context, limit int) ([]Change, error) {
	return tx.changes(ctx, `SELECT id, at, kind, what, undone_by IS NOT NULL FROM change ORDER BY id DESC LIMIT ?`, limit)
}

func (tx *Tx) changes(ctx context.Context, query string, args ...any) ([]Change, error) {
	list := []Change{}
	err := tx.each(ctx, query, args, func(rows *sql.Rows) error {
		var c Change
		var at string
		if err := rows.Scan(&c.ID, &at, &c.Kind, &c.What, &c.Undone); err != nil {
			return err
		}
		var err error
		if c.At, err = time.Parse(time.RFC3339, at); err != nil {
			return fmt.Errorf("journal entry %d: %w", c.ID, err)
		}
		list = append(list, c)
		return nil
	})
	return list, err
}
