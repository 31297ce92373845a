package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"lyefast/internal/store"
)

// BackupQuery asks for a copy of the book.
type BackupQuery struct {
	// To is a file that does not exist yet, or a folder, in which the copy gets a name
	// with its date.
	To string
	// Keep is the rule for older copies in the folder, as [ParseKeep] reads it; "" keeps all.
	Keep string
}

// Backup is a copy that was made and read back.
type Backup struct {
	Path    string       `json:"path"`
	Bytes   int64        `json:"bytes"`
	Removed []store.Kept `json:"removed"`
	Kept    []store.Kept `json:"kept"`
}

// ParseKeep reads "10" (the newest ten), or "7 daily, 4 weekly, 12 monthly" in any
// choice and order, with "newest" for the first kind.
func ParseKeep(s string) (store.KeepRule, error) {
	var k store.KeepRule
	bad := func() (store.KeepRule, error) {
		return k, invalid(`say how many, "10", or of which kind: "7 daily, 4 weekly, 12 monthly"`, "--keep %q is not understood", clipped(s))
	}
	for part := range strings.SplitSeq(s, ",") {
		words := strings.Fields(part)
		if len(words) == 1 {
			words = append(words, "newest")
		}
		if len(words) != 2 {
			return bad()
		}
		n, err := strconv.Atoi(words[0])
		if err != nil || n < 1 || n > 10_000 {
			return bad()
		}
		at, ok := map[string]*int{"newest": &k.Newest, "daily": &k.Daily, "weekly": &k.Weekly, "monthly": &k.Monthly}[strings.ToLower(words[1])]
		if !ok || *at != 0 {
			return bad()
		}
		*at = n
	}
	return k, nil
}

// Backup copies the book while it may be in use, reads the copy back, and then
// removes older copies in the folder that the rule does not keep.
func (a *App) Backup(ctx context.Context, q BackupQuery) (*Backup, error) {
	var rule store.KeepRule
	if q.Keep != "" {
		var err error
		if rule, err = ParseKeep(q.Keep); err != nil {
			return nil, err
		}
	}
	to, folder := filepath.Clean(q.To), false
	if info, err := os.Stat(to); err == nil && info.IsDir() {
		folder = true
	} else if strings.HasSuffix(q.To, "/") || strings.HasSuffix(q.To, string(filepath.Separator)) {
		return nil, &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("there is no folder %q", q.To), Tip: "make it first, or name a file"}
	}
	if !folder && q.Keep != "" {
		return nil, invalid("name the folder the backups are in", "--keep needs a folder, and %q is none", q.To)
	}
	book, err := a.open(ctx, false)
	if err != nil {
		return nil, noBook(err, a.path, "there is nothing to copy yet")
	}
	dir := to
	if folder {
		to = filepath.Join(dir, store.BackupName(book.Path(), a.Now()))
	}
	if err := book.Backup(ctx, to); err != nil {
		return nil, err
	}
	out := &Backup{Path: to, Removed: []store.Kept{}, Kept: []store.Kept{}}
	if info, err := os.Stat(to); err == nil {
		out.Bytes = info.Size()
	}
	if q.Keep == "" {
		return out, nil
	}
	list, err := book.Backups(ctx, dir)
	if err != nil {
		return nil, err
	}
	stay, spare := rule.Spare(list)
	out.Kept = append(out.Kept, stay...)
	for _, k := range spare {
		if err := os.Remove(k.Path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, &Error{Msg: fmt.Sprintf("the backup %q was made; an older one could not be removed", to), Err: err}
		}
		out.Removed = append(out.Removed, k)
	}
	return out, nil
}

// noBook gives advice where a book is needed and there is none.
func noBook(err error, path, why string) error {
	if errors.Is(err, store.ErrNoBook) {
		return &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("there is no book at %q; %s", path, why), Tip: "name another with --book, or see `lyefast book where`"}
	}
	return err
}

// Restore writes a backup out as a book in a file that does not exist yet. The book
// of this session is not touched.
func (a *App) Restore(ctx context.Context, backup, to string) (store.Restored, error) {
	if to == "" {
		return store.Restored{}, invalid("name a file that does not exist yet: --to FILE", "say where the restored book goes")
	}
	r, err := store.Restore(ctx, backup, to)
	return r, noBook(err, backup, "nothing was restored")
}

// Merge brings what another book has into this one, as one change; try only reports.
func (a *App) Merge(ctx context.Context, other string, try bool) (*store.Merged, error) {
	if _, err := os.Stat(other); errors.Is(err, fs.ErrNotExist) {
		return nil, &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("there is no file %q", other), Tip: "name the book to take from"}
	}
	book, err := a.open(ctx, false)
	if err != nil {
		return nil, noBook(err, a.path, "there is nothing to merge into; copy the other with `lyefast book restore`")
	}
	r, err := book.Merge(ctx, other, try)
	if err != nil {
		return nil, ours(err)
	}
	return &r, nil
}
