package testkit

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

var update = flag.Bool("update", false, "write golden files anew; read the difference before committing it")

// used remembers the golden files that a test run has asked for, by absolute path.
var used sync.Map

// Golden compares got with the file at path, blanks at line ends left out. With
// -update the file is written instead. A missing file fails.
func Golden(t testing.TB, path, got string) {
	t.Helper()
	abs, err := filepath.Abs(path)
	if err != nil {
		t.Fatal(err)
	}
	used.Store(abs, true)
	got = trimLines(got)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v\nmake it with -update, then read it as a maker would", err)
	}
	if want := trimLines(string(bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")))); got != want {
		t.Errorf("%s differs\n%s", path, firstDifference(want, got))
	}
}

// Orphans fails for files of a folder that no [Golden] of this run has asked for. It
// is to be called when all tests of the folder have run, and passes where -run or
// -short left some out.
func Orphans(t testing.TB, dir string) {
	t.Helper()
	if f := flag.Lookup("test.run"); testing.Short() || f != nil && f.Value.String() != "" {
		return
	}
	orphans(t, dir)
}

func orphans(t testing.TB, dir string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		abs, err := filepath.Abs(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := used.Load(abs); !ok {
			t.Errorf("%s is golden for no test; remove it, or run the test that it belongs to", filepath.Join(dir, e.Name()))
		}
	}
}

func trimLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(line, " \t\r")
	}
	return strings.Join(lines, "\n")
}

// firstDifference shows both texts from two lines before they part.
func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	at := 0
	for at < len(w) && at < len(g) && w[at] == g[at] {
		at++
	}
	from := max(0, at-2)
	show := func(lines []string) string {
		return strings.Join(lines[min(from, len(lines)):min(at+6, len(lines))], "\n")
	}
	return fmt.Sprintf("want, from line %d:\n%s\ngot:\n%s", from+1, show(w), show(g))
}

// Updating reports whether the run was asked to write golden output anew, for
// tests that keep it elsewhere than in a golden file.
func Updating() bool { return *update }
