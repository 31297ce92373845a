// Package store keeps the book: one SQLite file with the maker's shelf and, as
// nouns are added, batches and readings. It only fetches and saves; what is valid
// and what follows from it is for others to say.
//
// Start at [Open] and [Create]. Reading goes through [Book.Read], one consistent
// view; writing through [Book.Change], one transaction that is either there whole
// or not at all, and that [Book.Undo] can take back. Each noun has a file of its
// own with methods on [Tx], and a numbered SQL file under migrations.
//
// A table needs nothing but "id INTEGER PRIMARY KEY" to be journalled: triggers
// made by the migrator record every row that a change touches, whichever code
// touched it.
package store

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	_ "modernc.org/sqlite" // the database driver
)

// applicationID marks a SQLite file as a book ("LyeF", big endian, at byte 68).
const applicationID = 0x4c796546

// busyTimeout is how long one process waits for another's change to end.
const busyTimeout = 5 * time.Second

// Book is an open book. It may be used by several goroutines.
type Book struct {
	db   *sql.DB
	path string
	now  func() time.Time
	// migrated names the copy made before an older book was changed, "" if none was needed.
	migrated string
}

// Open opens a book that exists. Where there is none it gives [ErrNoBook] and
// writes nothing, so that a command which only reads can serve an empty shelf.
// A book of an older format is copied and then migrated; one of a newer format is
// refused; a damaged one is refused and left alone.
func Open(ctx context.Context, path string, now func() time.Time) (*Book, error) {
	return open(ctx, path, now, false, migrations)
}

// Create opens a book as [Open] does, and makes it, with its folder, where there
// is none.
func Create(ctx context.Context, path string, now func() time.Time) (*Book, error) {
	return open(ctx, path, now, true, migrations)
}

func open(ctx context.Context, path string, now func() time.Time, create bool, steps fs.FS) (*Book, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, &Error{Op: "open book", Path: path, Err: err}
	}
	list, err := listSteps(steps)
	if err != nil {
		return nil, err
	}
	state, err := look(path, len(list))
	if err != nil {
		return nil, err
	}
	if state == missing {
		if !create {
			return nil, &Error{Op: "open book", Path: path, Kind: ErrNoBook}
		}
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return nil, wrap("make book", path, err)
		}
	}
	if state == nameless {
		// No mark in the file: another program's database, or a book whose making
		// was cut short. Ask before any setting of ours is written into it.
		blank, err := nothingIn(ctx, path)
		if err != nil {
			return nil, err
		}
		if blank && !create {
			return nil, &Error{Op: "open book", Path: path, Kind: ErrNoBook}
		}
	}
	mode := "rw"
	if create {
		mode = "rwc"
	}
	db, err := connect(ctx, path, mode)
	if err != nil {
		return nil, err
	}
	b := &Book{db: db, path: path, now: now}
	if err := b.migrate(ctx, steps, list, create); err != nil {
		db.Close()
		return nil, err
	}
	return b, nil
}

// connect opens the file with the settings every connection must have. Two
// processes that make a book at the same moment can collide while the journal
// mode is set, where SQLite does not wait by itself; so this does.
func connect(ctx context.Context, path, mode string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, mode, true))
	if err != nil {
		return nil, wrap("open book", path, err)
	}
	deadline := time.Now().Add(busyTimeout)
	for {
		err = db.PingContext(ctx)
		if code(err) != codeBusy || time.Now().After(deadline) {
			break
		}
		select {
		case <-ctx.Done():
		case <-time.After(10 * time.Millisecond):
		}
	}
	if err != nil {
		db.Close()
		return nil, wrap("open book", path, err)
	}
	return db, nil
}

// dsn names the file and the settings. The path is escaped by net/url, because a
// "?" or "#" in it would open another file. Misspelt keys are ignored by the
// driver without a word, so a test reads every setting back.
func dsn(path, mode string, wal bool) string {
	q := url.Values{
		"mode":          {mode},
		"_busy_timeout": {fmt.Sprint(busyTimeout.Milliseconds())},
		"_foreign_keys": {"on"},
		"_txlock":       {"immediate"},
		"_dqs":          {"0"},
		"_defensive":    {"1"},
		"_pragma":       {"trusted_schema(0)"},
	}
	if wal {
		q.Set("_journal_mode", "WAL")
	}
	slashed := filepath.ToSlash(path)
	if filepath.VolumeName(path) != "" {
		slashed = "/" + slashed // file:///C:/…
	}
	u := url.URL{Scheme: "file", OmitHost: true, Path: slashed, RawQuery: q.Encode()}
	return u.String()
}

// state is what stands at a path, seen without opening a database.
type state int

const (
	missing  state = iota // nothing, or an empty file
	nameless              // a SQLite file without any program's mark
	marked                // a book
)

// look reads the file's first bytes. It refuses what cannot be a book, or is one
// of a format newer than latest, before SQLite gets to touch it.
func look(path string, latest int) (state, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return missing, nil
	case err != nil:
		return missing, wrap("open book", path, err)
	case info.IsDir():
		return missing, &Error{Op: "open book", Path: path, Kind: ErrNotABook, Err: errors.New("it is a folder"),
			Tip: "name a file in it, such as " + filepath.Join(path, "book.db")}
	case !info.Mode().IsRegular():
		return missing, &Error{Op: "open book", Path: path, Kind: ErrNotABook, Err: errors.New("it is not a regular file")}
	}
	f, err := os.Open(path)
	if err != nil {
		return missing, wrap("open book", path, err)
	}
	defer f.Close()
	// The file header: https://www.sqlite.org/fileformat2.html, section 1.3.
	var head [100]byte
	n, err := io.ReadFull(f, head[:])
	switch {
	case n == 0 && errors.Is(err, io.EOF):
		if wal, err := os.Stat(path + "-wal"); err == nil && wal.Size() > 0 {
			return nameless, nil
		}
		return missing, nil
	case errors.Is(err, io.ErrUnexpectedEOF):
		return missing, &Error{Op: "open book", Path: path, Kind: ErrNotABook, Err: fmt.Errorf("it has only %d bytes", n)}
	case err != nil:
		return missing, wrap("open book", path, err)
	case string(head[:16]) != "SQLite format 3\x00":
		return missing, &Error{Op: "open book", Path: path, Kind: ErrNotABook}
	}
	switch binary.BigEndian.Uint32(head[68:]) {
	case applicationID:
		if have := int(binary.BigEndian.Uint32(head[60:])); have > latest {
			return missing, newer("open book", path, have, latest)
		}
		return marked, nil
	case 0:
		return nameless, nil
	}
	return missing, &Error{Op: "open book", Path: path, Kind: ErrNotABook, Err: errors.New("it is another program's database")}
}

// newer refuses a format that this program does not know.
func newer(op, path string, have, latest int) error {
	return &Error{Op: op, Path: path, Kind: ErrNewer,
		Err: fmt.Errorf("its format is %d, this program knows up to %d", have, latest)}
}

// nothingIn tells a database that is still blank from a book whose mark has not
// reached the file yet, and refuses one that holds something else.
func nothingIn(ctx context.Context, path string) (blank bool, err error) {
	db, err := sql.Open("sqlite", dsn(path, "rw", false))
	if err != nil {
		return false, wrap("open book", path, err)
	}
	defer db.Close()
	var id int64
	var tables int
	err = db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&id)
	if err == nil {
		err = db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema`).Scan(&tables)
	}
	switch {
	case err != nil:
		return false, wrap("open book", path, err)
	case id == applicationID:
		return false, nil
	case tables > 0:
		return false, &Error{Op: "open book", Path: path, Kind: ErrNotABook, Err: errors.New("it is another program's database")}
	}
	return true, nil
}

// Path is the absolute path of the book.
func (b *Book) Path() string { return b.path }

// Migrated names the copy that was made when this opening brought an older book
// up to date; it is empty otherwise.
func (b *Book) Migrated() string { return b.migrated }

// Close lets go of the file.
func (b *Book) Close() error {
	if err := b.db.Close(); err != nil {
		return wrap("close book", b.path, err)
	}
	return nil
}
