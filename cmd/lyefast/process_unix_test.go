//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// process gives a command of the built program with a book of the test's own.
func process(t *testing.T, book string, args ...string) *exec.Cmd {
	t.Helper()
	path, err := built()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, args...)
	cmd.Env = append(os.Environ(), "LYEFAST_BOOK="+book, "LANG=C.UTF-8", "TZ=UTC")
	return cmd
}

// ask runs a command that must succeed and reads its JSON.
func ask(t *testing.T, book string, into any, args ...string) {
	t.Helper()
	cmd := process(t, book, append(args, "--json")...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %v\n%s%s", args, err, out, stderr.Bytes())
	}
	if err := json.Unmarshal(out, into); err != nil {
		t.Fatalf("%v: %v\n%s", args, err, out)
	}
}

type named struct {
	Name      string `json:"name"`
	Allergens []any  `json:"allergens"`
}

type checked struct {
	Changes  int   `json:"changes"`
	Problems []any `json:"problems"`
}

// Two processes that add fifty things each to a book that neither has made yet lose
// none and double none.
func TestTwoProcessesLoseNothing(t *testing.T) {
	book := filepath.Join(t.TempDir(), "home", "book.db")
	const each = 50
	var wg sync.WaitGroup
	for _, who := range []string{"tide", "ebb"} {
		wg.Go(func() {
			for i := range each {
				cmd := process(t, book, "stabilizer", "add", fmt.Sprintf("%s %02d", who, i))
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("%s %d: %v\n%s", who, i, err, out)
				}
			}
		})
	}
	wg.Wait()
	var list []named
	ask(t, book, &list, "stabilizer", "list")
	names := map[string]bool{}
	for _, s := range list {
		names[s.Name] = true
	}
	if len(list) != 2*each || len(names) != 2*each {
		t.Errorf("%d on the shelf under %d names, want %d", len(list), len(names), 2*each)
	}
	var c checked
	ask(t, book, &c, "book", "check")
	if len(c.Problems) > 0 || c.Changes != 2*each {
		t.Errorf("the book has %v and %d changes", c.Problems, c.Changes)
	}
}

// A process that is killed while it writes leaves its change whole or not at all,
// and the book usable: also when the book was just being made.
func TestKilledInTheMiddle(t *testing.T) {
	dir := t.TempDir()
	const lines = 200
	args := []string{"fragrance", "add", ""}
	for i := range lines {
		args = append(args, "--allergen", fmt.Sprintf("substance %03d 0.1 %%", i))
	}
	rnd := rand.New(rand.NewPCG(3, 5))
	killed, whole := 0, 0
	for round := range 20 {
		// A new book every fifth time: its making is cut short too.
		book := filepath.Join(dir, fmt.Sprint("book ", round/5), "book.db")
		args[2] = fmt.Sprint("scent ", round)
		cmd := process(t, book, args...)
		cmd.Stdout, cmd.Stderr = nil, nil
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rnd.IntN(45)) * time.Millisecond)
		cmd.Process.Kill()
		var exit *exec.ExitError
		if err := cmd.Wait(); errors.As(err, &exit) {
			killed++
		}
		var list []named
		ask(t, book, &list, "fragrance", "list")
		for _, f := range list {
			if len(f.Allergens) != lines {
				t.Errorf("round %d: %q has %d of %d lines", round, f.Name, len(f.Allergens), lines)
			}
		}
		whole = max(whole, len(list))
		if _, err := os.Stat(book); err != nil {
			continue
		}
		var c checked
		if cmd := process(t, book, "stabilizer", "add", fmt.Sprint("after ", round)); cmd.Run() != nil {
			t.Errorf("round %d: the book cannot be written to any more", round)
		}
		ask(t, book, &c, "book", "check")
		if len(c.Problems) > 0 {
			t.Errorf("round %d: %v", round, c.Problems)
		}
	}
	if killed == 0 || whole == 0 {
		t.Errorf("%d of 20 were killed and at most %d changes were whole: the test shows nothing", killed, whole)
	}
}

// Where the book may not be read or written, the message says so and names the file.
func TestNoPermission(t *testing.T) {
	// Not t.TempDir: another user must be able to go through it.
	dir, err := os.MkdirTemp("", "lyefast-permission")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		os.Chmod(filepath.Join(dir, "closed"), 0o755)
		os.RemoveAll(dir)
	})
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	program, err := built()
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(program)
	if err != nil {
		t.Fatal(err)
	}
	program = filepath.Join(dir, "lyefast") // the folder it was built in is private
	if err := os.WriteFile(program, data, 0o755); err != nil {
		t.Fatal(err)
	}
	closed := filepath.Join(dir, "closed", "book.db")
	if out, err := process(t, closed, "stabilizer", "add", "Quiet White").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	secret := filepath.Join(dir, "secret.db")
	if out, err := process(t, secret, "stabilizer", "add", "Quiet White").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if err := errors.Join(os.Chmod(closed, 0o444), os.Chmod(filepath.Dir(closed), 0o555), os.Chmod(secret, 0)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, book string
		args       []string
	}{
		{"write in a closed folder", closed, []string{"stabilizer", "add", "Still Water"}},
		{"make a book in a closed folder", filepath.Join(dir, "closed", "other.db"), []string{"stabilizer", "add", "Still Water"}},
		{"read a secret file", secret, []string{"stabilizer", "list"}},
		{"check a secret file", secret, []string{"book", "check"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			cmd := exec.Command(program, c.args...)
			cmd.Env = []string{"LYEFAST_BOOK=" + c.book, "HOME=/nonexistent", "LANG=C.UTF-8"}
			if os.Getuid() == 0 { // root may do everything, so be somebody else
				cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
			}
			out, err := cmd.CombinedOutput()
			var exit *exec.ExitError
			if !errors.As(err, &exit) || exit.ExitCode() != exitFailure {
				t.Fatalf("got %v, want exit status 1\n%s", err, out)
			}
			text := strings.Join(strings.Fields(string(out)), " ")
			if !strings.Contains(text, "no permission") || !strings.Contains(text, "hint: check who may write") || !strings.Contains(text, filepath.Base(c.book)) {
				t.Errorf("got %s", out)
			}
		})
	}
}
