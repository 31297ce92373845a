// Package app is what lyefast can do, one method for each use, whichever door asks:
// the command line and the local page call the same methods and show the same
// structs, whose JSON names carry their units.
//
// Start at [New]. A method opens the book when it first needs it; one that only
// reads makes no book where there is none and serves an empty shelf. A method
// that writes is one transaction. Failures are of few kinds, [ErrNotFound],
// [ErrExists] and [ErrInvalid]; the rest is trouble with the file or the machine.
package app

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"lyefast/internal/store"
)

// App is one session with one book. It may be used by several goroutines.
type App struct {
	path string
	now  func() time.Time

	mu     sync.Mutex
	book   *store.Book
	fitted *knowledge // what was learned last
	fits   atomic.Int64
	// learning is told before a fit that may take a while, nil for nobody.
	learning func(portions int)
}

// New makes a session with the book at a path, which need not exist, and a clock.
// Nothing is opened yet.
func New(path string, now func() time.Time) *App {
	return &App{path: path, now: now}
}

// OnLearning names who is told before the session learns from so many portions that it
// may take a second or more. Set it before the first use.
func (a *App) OnLearning(f func(portions int)) { a.learning = f }

// Now is the session's clock.
func (a *App) Now() time.Time { return a.now() }

// Path is where the book is, or would be made.
func (a *App) Path() string { return a.path }

// Close lets go of the book.
func (a *App) Close() error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.book == nil {
		return nil
	}
	err := a.book.Close()
	a.book = nil
	return err
}

// open gives the book, opened once; make says that it may be made.
func (a *App) open(ctx context.Context, make bool) (*store.Book, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.book != nil {
		return a.book, nil
	}
	how := store.Open
	if make {
		how = store.Create
	}
	book, err := how(ctx, a.path, a.now)
	if err != nil {
		return nil, err
	}
	a.book = book
	return book, nil
}

// read runs f on one view of the book. Without a book f is not called at all, so
// what it would have filled stays empty.
func (a *App) read(ctx context.Context, f func(*store.Tx) error) error {
	book, err := a.open(ctx, false)
	if errors.Is(err, store.ErrNoBook) {
		return nil
	}
	if err != nil {
		return err
	}
	return ours(book.Read(ctx, f))
}

// change runs f as one change to the book, which is made if there is none.
func (a *App) change(ctx context.Context, what string, f func(*store.Tx) error) error {
	book, err := a.open(ctx, true)
	if err != nil {
		return err
	}
	return ours(book.Change(ctx, what, f))
}

// ours takes away what the store says about the file from a failure that has nothing
// to do with it, so that its own advice is heard.
func ours(err error) error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	return err
}

// Migrated names the copy that was made when this session brought an older book
// up to date, "" if it did not.
func (a *App) Migrated() string {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.book == nil {
		return ""
	}
	return a.book.Migrated()
}
