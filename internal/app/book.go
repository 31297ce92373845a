package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"lyefast/internal/store"
)

// BookPlace says where the book is.
type BookPlace struct {
	Path   string `json:"path"`
	Exists bool   `json:"exists"`
	Bytes  int64  `json:"bytes"`
}

// BookWhere says where the book is or would be made, without opening it.
func (a *App) BookWhere() (BookPlace, error) {
	path, err := filepath.Abs(a.path)
	if err != nil {
		return BookPlace{}, err
	}
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return BookPlace{Path: path}, nil
	}
	if err != nil {
		return BookPlace{}, err
	}
	return BookPlace{Path: path, Exists: true, Bytes: info.Size()}, nil
}

// Undone is a change that was taken back, or brought back.
type Undone struct {
	store.Change
	// Redone tells that it stands again.
	Redone bool `json:"redone"`
}

// Undo takes back the last change that still stands, whatever it was.
func (a *App) Undo(ctx context.Context) (Undone, error) { return a.reverse(ctx, false) }

// Redo brings back what the last undo took, if nothing was changed since.
func (a *App) Redo(ctx context.Context) (Undone, error) { return a.reverse(ctx, true) }

func (a *App) reverse(ctx context.Context, again bool) (Undone, error) {
	none := &Error{Kind: ErrNotFound, Msg: "there is nothing to take back", Tip: "see `lyefast undo --list`"}
	if again {
		none.Msg = "there is nothing to bring back"
	}
	book, err := a.open(ctx, false)
	if errors.Is(err, store.ErrNoBook) {
		return Undone{}, none
	}
	if err != nil {
		return Undone{}, err
	}
	do := book.Undo
	if again {
		do = book.Redo
	}
	c, err := do(ctx)
	if errors.Is(err, store.ErrNothingLeft) {
		return Undone{}, none
	}
	c.Undone = !again
	return Undone{c, again}, err
}

// Changes lists the newest entries of the journal, newest first, at most limit.
func (a *App) Changes(ctx context.Context, limit int) ([]store.Change, error) {
	list := []store.Change{}
	err := a.read(ctx, func(tx *store.Tx) error {
		found, err := tx.Changes(ctx, limit)
		list = append(list, found...)
		return err
	})
	return list, err
}

// BookCheck looks the book over without changing it: the file, the references, the
// journal, and whether each noun can be so. tell, if not nil, hears what is looked at.
func (a *App) BookCheck(ctx context.Context, tell func(what string)) (store.Report, error) {
	path, err := filepath.Abs(a.path)
	if err != nil {
		return store.Report{}, err
	}
	r, err := store.CheckTelling(ctx, path, a.now, func(tx *store.Tx) ([]store.Problem, error) {
		var found []store.Problem
		for _, look := range []func(context.Context, *store.Tx) ([]store.Problem, error){
			colorantKind.doubts, fragranceKind.doubts, stabilizerKind.doubts, oilKind.doubts, cardKind.doubts,
		} {
			more, err := look(ctx, tx)
			if err != nil {
				return nil, err
			}
			found = append(found, more...)
		}
		return found, nil
	}, tell)
	if errors.Is(err, store.ErrNoBook) {
		return r, &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("there is no book at %q yet, so there is nothing to check", path),
			Tip: "the first thing you add makes it; name another with --book"}
	}
	return r, err
}

// doubts lists what of a noun on the shelf cannot be so.
func (k kind[T]) doubts(ctx context.Context, tx *store.Tx) ([]store.Problem, error) {
	list, err := k.list(tx, ctx)
	if err != nil {
		return nil, err
	}
	var found []store.Problem
	for _, v := range list {
		if _, err := k.checked(v); err != nil {
			found = append(found, store.Problem{
				Where: fmt.Sprintf("%s %q", k.noun, k.name(v)), What: err.Error(),
				Try: fmt.Sprintf("put it right with `lyefast %s edit %q`", k.command, k.name(v)),
			})
		}
	}
	return found, nil
}
