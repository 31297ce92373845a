package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// dawn is when every scripted story happens.
var dawn = time.Date(2026, 11, 20, 6, 45, 30, 0, time.UTC)

// TestMain lets the test binary be lyefast: a script's "exec lyefast" runs the real
// program, with the clock stopped.
func TestMain(m *testing.M) {
	testscript.Main(cleaning{m}, map[string]func(){
		"lyefast": func() {
			clock = func() time.Time { return dawn }
			// A story over weeks moves the clock by hand.
			if v := os.Getenv("LYEFAST_TEST_NOW"); v != "" {
				at, err := time.Parse(time.RFC3339, v)
				if err != nil {
					fmt.Fprintln(os.Stderr, err)
					os.Exit(99)
				}
				clock = func() time.Time { return at }
			}
			os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
		},
	})
}

// TestScripts tells the stories under testdata/script, one a file, the files of each
// folder together. Every folder is run, so that none is forgotten.
func TestScripts(t *testing.T) {
	folders := map[string]bool{}
	err := filepath.WalkDir(filepath.Join("testdata", "script"), func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			if filepath.Ext(path) != ".txtar" {
				t.Errorf("%s is no script and would never be run", path)
			}
			folders[filepath.Dir(path)] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(folders) == 0 {
		t.Fatal("there are no scripts")
	}
	for folder := range folders {
		t.Run(filepath.Base(folder), func(t *testing.T) {
			testscript.Run(t, testscript.Params{
				Dir:                 folder,
				RequireExplicitExec: true,
				RequireUniqueNames:  true,
				Setup: func(env *testscript.Env) error {
					env.Setenv("HOME", filepath.Join(env.WorkDir, "home"))
					env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, "data"))
					env.Setenv("XDG_CONFIG_HOME", filepath.Join(env.WorkDir, "config"))
					env.Setenv("LYEFAST_BOOK", "")
					env.Setenv("TZ", "UTC")
					env.Setenv("LANG", "C.UTF-8")
					env.Setenv("LC_ALL", "")
					env.Setenv("NO_COLOR", "")
					env.Setenv("CLICOLOR_FORCE", "")
					return os.MkdirAll(filepath.Join(env.WorkDir, "home"), 0o755)
				},
				Cmds: map[string]func(*testscript.TestScript, bool, []string){
					"fields": fieldsCmd,
					"status": statusCmd,
				},
			})
		})
	}
}

// cleaning removes what the tests built when all have run.
type cleaning struct{ *testing.M }

func (m cleaning) Run() int {
	code := m.M.Run()
	if buildDir != "" {
		os.RemoveAll(buildDir)
	}
	return code
}

var buildDir string

// built compiles the program once, for tests that need a process of its own.
var built = sync.OnceValues(func() (string, error) { return build("lyefast", ".") })

func build(name, pkg string) (path string, err error) {
	if buildDir == "" {
		if buildDir, err = os.MkdirTemp("", "lyefast-test"); err != nil {
			return "", err
		}
	}
	path = filepath.Join(buildDir, name)
	if out, err := exec.Command("go", "build", "-o", path, pkg).CombinedOutput(); err != nil {
		return "", fmt.Errorf("build %s: %w\n%s", pkg, err, out)
	}
	return path, nil
}

// statusCmd runs a command and asks for its exit status: status 3 lyefast oil show x.
func statusCmd(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit):
		got = fmt.Sprint(exit.ExitCode())
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if got != args[0] {
		ts.Fatalf("exit status %s, want %s\n%s", got, args[0], ts.ReadFile("stderr"))
	}
}

// fieldsCmd retypes the field names of JSON output: fields PATH NAME... asks that
// the object at PATH ("." for the whole, "0.days.1" for a place in it) has just
// these names.
func fieldsCmd(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: fields PATH NAME...")
	}
	var v any
	if err := json.Unmarshal([]byte(ts.ReadFile("stdout")), &v); err != nil {
		ts.Fatalf("standard output is no JSON: %v", err)
	}
	if args[0] != "." {
		for _, step := range strings.Split(args[0], ".") {
			switch x := v.(type) {
			case map[string]any:
				next, ok := x[step]
				if !ok {
					ts.Fatalf("there is no %q on the way to %s", step, args[0])
				}
				v = next
			case []any:
				i, err := strconv.Atoi(step)
				if err != nil || i < 0 || i >= len(x) {
					ts.Fatalf("there is no %q on the way to %s", step, args[0])
				}
				v = x[i]
			default:
				ts.Fatalf("%q leads nowhere on the way to %s", step, args[0])
			}
		}
	}
	object, ok := v.(map[string]any)
	if !ok {
		ts.Fatalf("%s is no object", args[0])
	}
	got := strings.Join(slices.Sorted(maps.Keys(object)), " ")
	want := append([]string{}, args[1:]...)
	slices.Sort(want)
	if got != strings.Join(want, " ") {
		ts.Fatalf("the fields of %s are\n  %s\nwant\n  %s", args[0], got, strings.Join(want, " "))
	}
}
