package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	xterm "github.com/charmbracelet/x/term"

	"lyefast/internal/cie"
	"lyefast/internal/term"
	"lyefast/internal/when"
)

// interactive tells whether a person can answer questions: both the input and where
// the questions go are a terminal, and the result is not wanted as JSON.
func (p *program) interactive() bool {
	f, ok := p.in.(*os.File)
	return ok && !p.json && xterm.IsTerminal(f.Fd()) && p.err.Terminal()
}

// asker puts questions and reads a line for each.
type asker struct {
	p   *program
	in  *bufio.Reader
	err error
}

func (p *program) asker() *asker {
	return &asker{p: p, in: bufio.NewReaderSize(io.LimitReader(p.in, 1<<16), 4096)}
}

// ask gives the answer, or what holds without one. The end of the input answers
// everything that is left so.
func (a *asker) ask(question, otherwise string) string {
	a.p.err.Printf("%s [%s] ", question, otherwise)
	line, err := a.in.ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		a.err = err
	}
	if err != nil {
		a.p.err.Printf("\n")
	}
	if line = strings.TrimSpace(line); line == "" {
		return otherwise
	}
	return line
}

// day writes a moment of a batch: in words for a person, RFC 3339 or the date for a pipe.
func (p *program) day(t time.Time, clock bool) string {
	w := when.When{Time: t.In(p.session.Now().Location()), Clock: clock}
	if !p.out.Terminal() {
		return w.String()
	}
	layout := "2006-01-02"
	if clock {
		layout = "2006-01-02 15:04"
	}
	return fmt.Sprintf("%s (%s)", w.Time.Format(layout), w.Say(p.session.Now()))
}

// swatchOr shows a colour, or a dash where there is none.
func swatchOr(w *term.Writer, c *cie.Lab) string {
	if c == nil {
		return "–"
	}
	return w.Swatch(*c)
}

// replaceFile writes a file whole, in place of one that may be there.
func replaceFile(name string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), ".lyefast-*")
	if err != nil {
		return planFileError(name, err)
	}
	_, err = f.Write(data)
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Chmod(f.Name(), 0o644)
	}
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		os.Remove(f.Name())
		return planFileError(name, err)
	}
	return nil
}
