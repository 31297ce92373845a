package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"modernc.org/sqlite"
)

// Backup writes a complete copy of the book to a file that does not exist yet,
// by SQLite's own means, while others may go on reading and writing. The copy gets
// its name when it has been read back whole and found sound, not before.
func (b *Book) Backup(ctx context.Context, to string) error {
	return newFile("copy book", to, func(part string) error {
		if err := pages(ctx, b.db, part); err != nil {
			return wrap("copy book to "+to, b.path, err)
		}
		return readBack(ctx, part)
	})
}

// pages copies a database page by page with SQLite's online backup. All are taken in
// one step, on one view of the book; nobody waits for it, since the book has a
// write-ahead log. It takes a fraction of the time of VACUUM INTO, which is spent on
// reading the copy back.
func pages(ctx context.Context, db *sql.DB, to string) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if err := conn.Raw(func(c any) error {
		from, ok := c.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		})
		if !ok {
			return errors.New("the database driver cannot copy a book that is open")
		}
		copying, err := from.NewBackup(dsn(to, "rwc", false))
		if err != nil {
			return err
		}
		_, err = copying.Step(-1)
		return errors.Join(err, copying.Finish())
	}); err != nil {
		return err
	}
	// The copy says of itself that it has a log beside it, as the book has; a backup
	// is one file, which can be read where nothing may be written.
	made, err := sql.Open("sqlite", dsn(to, "rw", false)+"&_journal_mode=DELETE")
	if err != nil {
		return err
	}
	defer made.Close()
	return made.PingContext(ctx)
}

// readBack reads a copy just made from end to end: every page and row by SQLite's
// quick check, and that each index has as many entries as its table rows. What an
// index says of each row is not asked again; [verified] does that, at a restore.
func readBack(ctx context.Context, path string) error {
	db, err := readOnly(path)
	if err != nil {
		return wrap("verify copy", path, err)
	}
	defer db.Close()
	var first string
	if err := db.QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&first); err != nil {
		return wrap("verify copy", path, err)
	}
	damaged := func(format string, args ...any) error {
		return &Error{Op: "verify copy", Path: path, Kind: ErrDamaged, Err: fmt.Errorf(format, args...), Tip: tryCheck}
	}
	if first != "ok" {
		return damaged("%s", first)
	}
	list, err := texts(ctx, db, `SELECT quote(tbl_name) || ' ' || quote(name) FROM sqlite_schema WHERE type = 'index'`)
	if err != nil {
		return wrap("verify copy", path, err)
	}
	for _, s := range list {
		table, index, _ := strings.Cut(s, " ")
		var rows, entries int64
		if err := db.QueryRowContext(ctx, fmt.Sprintf(`SELECT (SELECT count(*) FROM %s NOT INDEXED), (SELECT count(*) FROM %s INDEXED BY %s)`,
			table, table, index)).Scan(&rows, &entries); err != nil {
			return wrap("verify copy", path, err)
		}
		if rows != entries {
			return damaged("table %s has %d rows and its index %s %d", table, rows, index, entries)
		}
	}
	return belonging(ctx, db, path)
}

// newFile makes a file under another name beside it and moves it into place when
// it is whole and on the disk. It never takes the place of a file that is there.
func newFile(op, to string, fill func(part string) error) error {
	if err := vacant(op, to); err != nil {
		return err
	}
	part := fmt.Sprintf("%s.part%d", to, os.Getpid())
	clear := func() {
		for _, tail := range []string{"", "-journal", "-wal", "-shm"} {
			os.Remove(part + tail)
		}
	}
	clear()
	defer clear()
	if err := fill(part); err != nil {
		return err
	}
	err := settle(part, to)
	if errors.Is(err, fs.ErrExist) {
		return &Error{Op: op, Path: to, Kind: ErrExists, Err: err, Tip: "name a file that does not exist yet"}
	}
	return wrap(op, to, err)
}

// vacant refuses a name that is taken, by a file or by what another database of
// that name has left beside it, which SQLite would take for a part of this one.
func vacant(op, to string) error {
	for _, tail := range []string{"", "-wal", "-journal"} {
		if _, err := os.Lstat(to + tail); err == nil {
			return &Error{Op: op, Path: to + tail, Kind: ErrExists, Err: fs.ErrExist, Tip: "name a file that does not exist yet"}
		}
	}
	return nil
}

// settle moves a finished file into place, written through to the disk first. A
// file that came there meanwhile is not replaced, where the file system can tell.
func settle(part, to string) error {
	f, err := os.OpenFile(part, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	switch err := os.Link(part, to); {
	case errors.Is(err, fs.ErrExist):
		return err
	case err != nil: // no hard links here
		if err := os.Rename(part, to); err != nil {
			return err
		}
	}
	// The name itself must outlive a power cut too; not every system can be asked.
	if dir, err := os.Open(filepath.Dir(to)); err == nil {
		_ = dir.Sync()
		dir.Close()
	}
	return nil
}

// readOnly opens a file that stays as it is.
func readOnly(path string) (*sql.DB, error) {
	return sql.Open("sqlite", dsn(path, "ro", false))
}

// verified reads a book from end to end: SQLite's full check, and that nothing in it
// refers to what is not there.
func verified(ctx context.Context, path string) error {
	db, err := readOnly(path)
	if err != nil {
		return wrap("verify copy", path, err)
	}
	defer db.Close()
	if err := sound(ctx, db); err != nil {
		return wrap("verify copy", path, err)
	}
	return belonging(ctx, db, path)
}

// belonging refuses a book in which a row refers to one that is not there.
func belonging(ctx context.Context, db *sql.DB, path string) error {
	var table string
	switch err := db.QueryRowContext(ctx, `SELECT "table" FROM pragma_foreign_key_check() LIMIT 1`).Scan(&table); {
	case err == nil:
		return &Error{Op: "verify copy", Path: path, Kind: ErrDamaged, Err: fmt.Errorf("a row of %s belongs to nothing", table), Tip: tryCheck}
	case !errors.Is(err, sql.ErrNoRows):
		return wrap("verify copy", path, err)
	}
	return nil
}

const tryCheck = "see `lyefast book check`"

// Restored is what a backup held.
type Restored struct {
	From   string `json:"from"`
	To     string `json:"to"`
	Format int    `json:"format"`
	Bytes  int64  `json:"bytes"`
}

// Restore writes a backup out as a book of its own, in a file that does not exist
// yet. The backup is left as it is; all of it is checked in the copy, which has every
// page of it.
func Restore(ctx context.Context, from, to string) (Restored, error) {
	r := Restored{From: from, To: to}
	format, err := copyOther(ctx, from, to, "restore book", verified)
	if err != nil {
		return r, err
	}
	r.Format = format
	if info, err := os.Stat(to); err == nil {
		r.Bytes = info.Size()
	}
	return r, nil
}

// copyOther copies a book that is somebody else's, without writing to it, and gives
// its format. The copy, page for page the same, gets its name when read has read it back.
func copyOther(ctx context.Context, from, to, op string, read func(context.Context, string) error) (format int, err error) {
	steps, err := listSteps(migrations)
	if err != nil {
		return 0, err
	}
	state, err := look(from, len(steps))
	if err != nil {
		return 0, err
	}
	if state == missing {
		return 0, &Error{Op: op, Path: from, Kind: ErrNoBook}
	}
	db, err := readOnly(from)
	if err != nil {
		return 0, wrap(op, from, err)
	}
	defer db.Close()
	var id int64
	if err := db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&id); err != nil {
		return 0, wrap(op, from, err)
	}
	if id != applicationID {
		return 0, &Error{Op: op, Path: from, Kind: ErrNotABook}
	}
	if format, err = userVersion(ctx, db); err != nil {
		return 0, wrap(op, from, err)
	}
	if format > len(steps) {
		return 0, newer(op, from, format, len(steps))
	}
	err = newFile(op, to, func(part string) error {
		if err := pages(ctx, db, part); err != nil {
			return wrap(op, from, err)
		}
		return read(ctx, part)
	})
	return format, err
}

// backupStamp is how a backup's name says when it was made.
const backupStamp = "20060102T150405Z"

// BackupName is the name of a backup made at a moment of a book of a given file
// name: "book-20261120T064530Z.db".
func BackupName(book string, at time.Time) string {
	base, ext := nameParts(book)
	return base + "-" + at.UTC().Format(backupStamp) + ext
}

func nameParts(book string) (base, ext string) {
	name := filepath.Base(book)
	ext = filepath.Ext(name)
	return strings.TrimSuffix(name, ext), ext
}

// Backups lists the backups of this very book in a folder, newest first: files that
// [BackupName] could have named and that carry the book's own identity. Another
// book's backups, of the same name or not, are none of them.
func (b *Book) Backups(ctx context.Context, dir string) ([]Kept, error) {
	var own string
	if err := b.Read(ctx, func(tx *Tx) (err error) {
		own, err = tx.BookID(ctx)
		return err
	}); err != nil {
		return nil, err
	}
	base, ext := nameParts(b.path)
	pattern := regexp.MustCompile(`^` + regexp.QuoteMeta(base) + `-(\d{8}T\d{6}Z)` + regexp.QuoteMeta(ext) + `$`)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, wrap("list backups", dir, err)
	}
	var list []Kept
	for _, e := range entries {
		m := pattern.FindStringSubmatch(e.Name())
		if m == nil || !e.Type().IsRegular() {
			continue
		}
		at, err := time.Parse(backupStamp, m[1])
		if err != nil {
			continue
		}
		path := filepath.Join(dir, e.Name())
		if id, err := identityOf(ctx, path); err == nil && id == own {
			list = append(list, Kept{Path: path, At: at})
		}
	}
	slices.SortFunc(list, func(x, y Kept) int { return y.At.Compare(x.At) })
	return list, nil
}

// Kept is a backup in a folder.
type Kept struct {
	Path string    `json:"path"`
	At   time.Time `json:"at"`
}

func identityOf(ctx context.Context, path string) (uid string, err error) {
	db, err := readOnly(path)
	if err != nil {
		return "", err
	}
	defer db.Close()
	err = db.QueryRowContext(ctx, `SELECT uid FROM identity WHERE id = 1`).Scan(&uid)
	return uid, err
}

// KeepRule says which backups of a series stay: the newest few, and the newest of
// each of the last days, weeks (from Monday, ISO 8601) and months that have one.
// The zero rule keeps everything.
type KeepRule struct {
	Newest, Daily, Weekly, Monthly int
}

// Spare parts backups, given newest first, into those that stay and those that go.
// The newest always stays.
func (k KeepRule) Spare(list []Kept) (stay, spare []Kept) {
	if k == (KeepRule{}) {
		return list, nil
	}
	seen := [3]map[string]bool{{}, {}, {}}
	most := [3]int{k.Daily, k.Weekly, k.Monthly}
	for i, x := range list {
		at := x.At.UTC()
		year, week := at.ISOWeek()
		keep := i == 0 || i < k.Newest
		for j, period := range []string{at.Format("2006-01-02"), fmt.Sprintf("%d-%d", year, week), at.Format("2006-01")} {
			if !seen[j][period] && len(seen[j]) < most[j] {
				seen[j][period] = true
				keep = true
			}
		}
		if keep {
			stay = append(stay, x)
		} else {
			spare = append(spare, x)
		}
	}
	return stay, spare
}
