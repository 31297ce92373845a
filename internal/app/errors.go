package app

import (
	"errors"
	"fmt"
	"strings"

	"lyefast/internal/store"
)

// The kinds of failure that a door shows in its own way.
var (
	// ErrNotFound: no such thing on the shelf or in the book.
	ErrNotFound = store.ErrNotFound
	// ErrExists: the name is taken.
	ErrExists = store.ErrExists
	// ErrInvalid: what was asked for cannot be, whatever is in the book.
	ErrInvalid = errors.New("not valid")
)

// Error is a failure with its kind and with advice.
type Error struct {
	Kind error  // ErrNotFound, ErrExists or ErrInvalid, nil for any other
	Msg  string // lower case, no full stop
	Tip  string // what to try, may be empty
	Err  error  // the cause, may be nil
}

func (e *Error) Error() string {
	if e.Err == nil {
		return e.Msg
	}
	return e.Msg + ": " + e.Err.Error()
}

// Hint says what to try.
func (e *Error) Hint() string { return e.Tip }

// Unwrap gives the kind and the cause.
func (e *Error) Unwrap() []error {
	var list []error
	for _, err := range []error{e.Kind, e.Err} {
		if err != nil {
			list = append(list, err)
		}
	}
	return list
}

// invalid is an [ErrInvalid] with advice.
func invalid(tip, format string, args ...any) error {
	return &Error{Kind: ErrInvalid, Msg: fmt.Sprintf(format, args...), Tip: tip}
}

// quoted joins names as "a", "b" or "c".
func quoted(names []string) string {
	q := make([]string, len(names))
	for i, n := range names {
		q[i] = fmt.Sprintf("%q", n)
	}
	if len(q) < 2 {
		return strings.Join(q, "")
	}
	return strings.Join(q[:len(q)-1], ", ") + " or " + q[len(q)-1]
}
