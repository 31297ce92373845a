package testkit

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// watch stands in for a test and notes what it is told.
type watch struct {
	testing.TB
	said []string
}

func (w *watch) Helper() {}
func (w *watch) Errorf(format string, args ...any) {
	w.said = append(w.said, fmt.Sprintf(format, args...))
}
func (w *watch) Fatalf(format string, args ...any) { w.Errorf(format, args...); panic(w) }

// run calls f with a watch and gives what it said.
func run(t *testing.T, f func(testing.TB)) (said string) {
	w := &watch{TB: t}
	defer func() {
		if r := recover(); r != nil && r != any(w) {
			panic(r)
		}
		said = strings.Join(w.said, "\n")
	}()
	f(w)
	return
}

func TestGolden(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.golden")
	if err := os.WriteFile(path, []byte("one  \r\ntwo\nthree\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if said := run(t, func(t testing.TB) { Golden(t, path, "one\ntwo \nthree\n") }); said != "" {
		t.Errorf("blanks at line ends counted: %s", said)
	}
	if said := run(t, func(t testing.TB) { Golden(t, path, "one\nzwei\nthree\n") }); !strings.Contains(said, "zwei") || !strings.Contains(said, "two") {
		t.Errorf("a difference was not shown: %q", said)
	}
	if said := run(t, func(t testing.TB) { Golden(t, filepath.Join(dir, "none"), "x") }); !strings.Contains(said, "-update") {
		t.Errorf("a missing file passed: %q", said)
	}
	if said := run(t, func(t testing.TB) { orphans(t, dir) }); said != "" {
		t.Errorf("a file in use was called an orphan: %s", said)
	}
	if err := os.WriteFile(filepath.Join(dir, "left.golden"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if said := run(t, func(t testing.TB) { orphans(t, dir) }); !strings.Contains(said, "left.golden") {
		t.Errorf("an orphan passed: %q", said)
	}
}
