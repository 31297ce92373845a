package store

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
)

// The kinds of failure a caller may want to tell apart.
var (
	ErrNoBook   = errors.New("there is no book")
	ErrNewer    = errors.New("it was written by a newer lyefast")
	ErrDamaged  = errors.New("it is damaged")
	ErrNotABook = errors.New("it is not a lyefast book")
	ErrBusy     = errors.New("another program is writing to it")
	ErrDenied   = errors.New("no permission")
	ErrFull     = errors.New("the disk is full")

	ErrNotFound    = errors.New("not found")
	ErrExists      = errors.New("exists already")
	ErrNothingLeft = errors.New("nothing to take back")
	// ErrValue means that a value cannot be kept: not a finite number, or text that is not UTF-8.
	ErrValue = errors.New("cannot be kept")
)

// Error says what was being done to which file, what was wrong and what to try.
type Error struct {
	Op   string // "open book"
	Path string // the file, "" where it does not matter
	Kind error  // one of the kinds above, nil if none fits
	Err  error  // the cause, may be nil
	Tip  string // overrides the usual advice for the kind
}

func (e *Error) Error() string {
	s := e.Op
	if e.Path != "" {
		s += fmt.Sprintf(" %q", e.Path)
	}
	if e.Kind != nil {
		s += ": " + e.Kind.Error()
	}
	if e.Err != nil {
		s += ": " + e.Err.Error()
	}
	return s
}

// Unwrap gives the kind and the cause.
func (e *Error) Unwrap() []error {
	var all []error
	for _, err := range []error{e.Kind, e.Err} {
		if err != nil {
			all = append(all, err)
		}
	}
	return all
}

// Hint says what to try.
func (e *Error) Hint() string {
	if e.Tip != "" {
		return e.Tip
	}
	switch e.Kind {
	case ErrNewer:
		return "use the newer lyefast, or name another book with --book; this one was left as it is"
	case ErrDamaged:
		return "it was left as it is; copy it away, see `lyefast book check`, and put back your last backup"
	case ErrNotABook:
		return "name another file with --book or LYEFAST_BOOK; this one was left as it is"
	case ErrBusy:
		return "wait for the other lyefast to end, then try again"
	case ErrDenied:
		return "check who may write to the file and to its folder, or name another book with --book"
	case ErrFull:
		return "make room and try again; nothing was written"
	}
	return ""
}

// Primary result codes, https://www.sqlite.org/rescode.html.
const (
	codePerm       = 3
	codeBusy       = 5
	codeReadOnly   = 8
	codeIO         = 10
	codeCorrupt    = 11
	codeFull       = 13
	codeCantOpen   = 14
	codeConstraint = 19
	codeNotADB     = 26

	codeUnique     = codeConstraint | 8<<8
	codeRollback   = codeReadOnly | 3<<8
	codeRecovery   = codeReadOnly | 1<<8
	codeNoShared   = codeIO | 19<<8 // the index of the log cannot grow
	codePrimaryKey = codeConstraint | 6<<8
)

// code gives SQLite's primary result code of an error, 0 if it is not SQLite's.
func code(err error) int { return fullCode(err) & 0xff }

func fullCode(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}

// cutShort tells that a change to the file was cut short, by a kill or a power cut,
// and that what is left of it must be taken back by an opening that may write.
func cutShort(err error) bool { return fullCode(err) == codeRollback || fullCode(err) == codeRecovery }

// wrap gives a failure its kind. Errors that carry one already pass unchanged.
func wrap(op, path string, err error) error {
	var own *Error
	if err == nil || errors.As(err, &own) {
		return err
	}
	e := &Error{Op: op, Path: path, Err: err}
	switch code(err) {
	case codePerm, codeReadOnly, codeCantOpen:
		e.Kind = ErrDenied
	case codeBusy:
		e.Kind = ErrBusy
	case codeCorrupt, codeNotADB:
		e.Kind = ErrDamaged
	case codeFull:
		e.Kind = ErrFull
	}
	switch {
	case cutShort(err):
		e.Kind, e.Tip = ErrDenied, "a change to it was cut short; open it once where it may be written to, with `lyefast book check --book FILE`"
	case fullCode(err) == codeNoShared:
		e.Kind = ErrFull
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		e.Kind = ErrDenied
	case errors.Is(err, syscall.ENOSPC):
		e.Kind = ErrFull
	}
	return e
}
