package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"lyefast/internal/cie"
)

// Tx is one view of the book, or one change to it. It must not outlive the
// function it was given to.
type Tx struct {
	tx  *sql.Tx
	now time.Time
}

// Read runs f on one consistent view of the book. What others write meanwhile is
// not seen, and does not wait.
func (b *Book) Read(ctx context.Context, f func(*Tx) error) error {
	tx, err := b.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return wrap("read book", b.path, err)
	}
	defer tx.Rollback()
	return wrap("read book", b.path, f(&Tx{tx: tx, now: b.now()}))
}

// Change runs f as one change, journalled under what ("add colourant Tide Blue").
// If f fails, or the process dies, nothing of it stays. A change that alters no
// row leaves no trace in the journal.
func (b *Book) Change(ctx context.Context, what string, f func(*Tx) error) error {
	return b.change(ctx, "change", what, func(tx *Tx, _ int64) error { return f(tx) })
}

// change opens the transaction, notes it in the journal and runs f with the
// number of the change.
func (b *Book) change(ctx context.Context, kind, what string, f func(*Tx, int64) error) error {
	sqlTx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return wrap("write to book", b.path, err)
	}
	defer sqlTx.Rollback()
	tx := &Tx{tx: sqlTx, now: b.now()}
	id, err := tx.insert(ctx, `INSERT INTO change (at, kind, what) VALUES (?, ?, ?)`, tx.now, kind, what)
	if err != nil {
		return wrap("write to book", b.path, err)
	}
	if err := f(tx, id); err != nil {
		return wrap("write to book", b.path, err)
	}
	if _, err := tx.exec(ctx, `DELETE FROM change WHERE id = ? AND kind = 'change'
		AND NOT EXISTS (SELECT 1 FROM change_row WHERE change_id = change.id)`, id); err != nil {
		return wrap("write to book", b.path, err)
	}
	return wrap("write to book", b.path, sqlTx.Commit())
}

// Now is the moment of the change.
func (tx *Tx) Now() time.Time { return tx.now }

// run runs one statement. Every value is checked first: SQLite would turn NaN into
// NULL, and the driver would write a time as debug text.
func (tx *Tx) run(ctx context.Context, query string, args []any) (sql.Result, error) {
	args, err := clean(args)
	if err != nil {
		return nil, err
	}
	return tx.tx.ExecContext(ctx, query, args...)
}

// exec runs a statement and gives the number of rows it met.
func (tx *Tx) exec(ctx context.Context, query string, args ...any) (int64, error) {
	r, err := tx.run(ctx, query, args)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// insert runs an INSERT and gives the new row's id.
func (tx *Tx) insert(ctx context.Context, query string, args ...any) (int64, error) {
	r, err := tx.run(ctx, query, args)
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// each runs a query and calls scan for every row.
func (tx *Tx) each(ctx context.Context, query string, args []any, scan func(*sql.Rows) error) error {
	args, err := clean(args)
	if err != nil {
		return err
	}
	rows, err := tx.tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// clean brings values into the form they are kept in and refuses what SQLite
// would silently change.
func clean(args []any) ([]any, error) {
	out := make([]any, len(args))
	for i, a := range args {
		v, err := driver.DefaultParameterConverter.ConvertValue(a)
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrValue, err)
		}
		switch x := v.(type) {
		case float64:
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, fmt.Errorf("%w: %v is not a finite number", ErrValue, x)
			}
		case string:
			if !utf8.ValidString(x) {
				return nil, fmt.Errorf("%w: text %q is not UTF-8", ErrValue, x)
			}
			if strings.ContainsRune(x, 0) {
				return nil, fmt.Errorf("%w: text %q holds a zero byte", ErrValue, x)
			}
		case time.Time:
			v = Timestamp(x)
		}
		out[i] = v
	}
	return out, nil
}

// Timestamp is how moments are kept: RFC 3339 in UTC, to the second, so that text
// order is time order.
func Timestamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05Z") }

// NameKey is what makes two names the same: letter case, Unicode composition and
// the number of blanks do not count.
func NameKey(name string) string {
	return strings.ToLower(norm.NFC.String(strings.Join(strings.Fields(name), " ")))
}

// labColumns gives the three columns of a colour, NULL where there is none.
func labColumns(c *cie.Lab) (l, a, b any) {
	if c == nil {
		return nil, nil, nil
	}
	return c.L, c.A, c.B
}

// labOf is the way back.
func labOf(l, a, b *float64) *cie.Lab {
	if l == nil || a == nil || b == nil {
		return nil
	}
	return &cie.Lab{L: *l, A: *a, B: *b}
}

// taken tells a name that is in use already from other failures.
func taken(err error, noun, name string) error {
	switch fullCode(err) {
	case codeUnique, codePrimaryKey:
		return &Error{Op: fmt.Sprintf("add %s %q", noun, name), Kind: ErrExists}
	}
	return err
}

// altered makes sure that an UPDATE met its row.
func altered(rows int64, err error) error {
	if err == nil && rows != 1 {
		return ErrNotFound
	}
	return err
}
