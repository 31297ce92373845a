package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sort"
	"strconv"
	"strings"
)

// migrationFiles are the steps from one format to the next. A released file is
// never edited; a new noun adds a file.
//
//go:embed migrations/*.sql
var migrationFiles embed.FS

var migrations = func() fs.FS {
	sub, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	return sub
}()

// step is one numbered SQL file, "0001_shelf.sql".
type step struct {
	version int
	name    string
}

// listSteps lists the files in order. Numbers start at 1 and leave no gap.
func listSteps(dir fs.FS) ([]step, error) {
	names, err := fs.Glob(dir, "*.sql")
	if err != nil {
		return nil, err
	}
	sort.Strings(names)
	list := make([]step, len(names))
	for i, name := range names {
		number, _, _ := strings.Cut(name, "_")
		v, err := strconv.Atoi(number)
		if err != nil || v != i+1 {
			return nil, fmt.Errorf("migration %q is not number %d", name, i+1)
		}
		list[i] = step{v, name}
	}
	return list, nil
}

// migrate brings the book to the newest format. Each step is one transaction
// together with its number, so a kill between two leaves a book that the next
// opening can go on with. A book that holds something is copied first.
func (b *Book) migrate(ctx context.Context, dir fs.FS, steps []step, create bool) error {
	latest := len(steps)
	have, err := userVersion(ctx, b.db)
	switch {
	case err != nil:
		return wrap("open book", b.path, err)
	case have == latest:
		return nil
	case have > latest:
		return newer("open book", b.path, have, latest)
	case have == 0 && !create:
		// Another process is making it at this moment, or was killed while at it.
		return &Error{Op: "open book", Path: b.path, Kind: ErrNoBook}
	case have > 0:
		if err := sound(ctx, b.db); err != nil {
			return wrap("migrate book", b.path, err)
		}
		to, err := b.copyBefore(ctx, have)
		if err != nil {
			return err
		}
		b.migrated = to
	}
	for _, s := range steps[have:] {
		sql, err := fs.ReadFile(dir, s.name)
		if err != nil {
			return wrap("migrate book", b.path, err)
		}
		if err := b.apply(ctx, s, string(sql)); err != nil {
			return wrap(fmt.Sprintf("bring book to format %d", s.version), b.path, err)
		}
	}
	return nil
}

// apply runs one step, unless another process has run it meanwhile.
func (b *Book) apply(ctx context.Context, s step, script string) error {
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	have, err := userVersion(ctx, tx)
	if err != nil || have >= s.version {
		return err
	}
	if err := dropTriggers(ctx, tx); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, script); err != nil {
		return err
	}
	if err := makeTriggers(ctx, tx); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf(`PRAGMA user_version = %d; PRAGMA application_id = %d`, s.version, applicationID)); err != nil {
		return err
	}
	return tx.Commit()
}

// copyBefore keeps the book as it is, beside it, before a migration.
func (b *Book) copyBefore(ctx context.Context, version int) (string, error) {
	base := fmt.Sprintf("%s.format%d-%s", b.path, version, b.now().UTC().Format("20060102T150405Z"))
	for n := 1; ; n++ {
		to := base
		if n > 1 {
			to = fmt.Sprintf("%s-%d", base, n)
		}
		if _, err := os.Lstat(to); err == nil {
			continue
		}
		err := b.Backup(ctx, to)
		if errors.Is(err, ErrExists) {
			continue
		}
		return to, err
	}
}

// sound refuses a book that SQLite finds damaged.
func sound(ctx context.Context, q querier) error {
	var first string
	if err := q.QueryRowContext(ctx, `PRAGMA integrity_check(1)`).Scan(&first); err != nil {
		return err
	}
	if first != "ok" {
		return &Error{Op: "check book", Kind: ErrDamaged, Err: errors.New(first)}
	}
	return nil
}

// querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

func userVersion(ctx context.Context, q querier) (int, error) {
	var v int
	err := q.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&v)
	return v, err
}
