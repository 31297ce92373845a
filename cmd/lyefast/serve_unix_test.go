//go:build unix

package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// served is a running lyefast serve and a browser that it let in.
type served struct {
	cmd    *exec.Cmd
	base   string
	client *http.Client
}

func serving(t *testing.T, book string) *served {
	t.Helper()
	s := &served{cmd: process(t, book, "serve", "--no-open")}
	out, err := s.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.cmd.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil || !strings.HasPrefix(line, "http://127.0.0.1:") {
		t.Fatalf("serve said %q: %v", line, err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	s.base, _, _ = strings.Cut(line, "/?")
	s.client = &http.Client{Jar: jar, Timeout: 30 * time.Second}
	s.get(t, strings.TrimPrefix(strings.TrimSpace(line), s.base))
	return s
}

func (s *served) get(t *testing.T, path string) []byte {
	t.Helper()
	a, err := s.client.Get(s.base + path)
	if err != nil {
		t.Fatal(err)
	}
	return answered(t, path, a)
}

func answered(t *testing.T, what string, a *http.Response) []byte {
	t.Helper()
	defer a.Body.Close()
	data, err := io.ReadAll(a.Body)
	if err != nil || a.StatusCode != 200 {
		t.Fatalf("%s: %d %v\n%s", what, a.StatusCode, err, data)
	}
	return data
}

// What the page answers and what the command prints under --json are the same bytes.
func TestPageAnswersAsTheCommandDoes(t *testing.T) {
	dir := t.TempDir()
	book := filepath.Join(dir, "book.db")
	plan, err := os.ReadFile(filepath.Join("..", "..", "testdata", "plans", "harbour-dawn.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "harbour-dawn.toml"), plan, 0o600); err != nil {
		t.Fatal(err)
	}
	command := func(args ...string) []byte {
		t.Helper()
		cmd := process(t, book, args...)
		cmd.Dir = dir
		var stderr bytes.Buffer
		cmd.Stderr = &stderr
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%v: %v\n%s", args, err, stderr.Bytes())
		}
		return out
	}
	command("batch", "pour", "harbour-dawn.toml", "--at", "9d ago")
	for _, day := range []string{"8d ago", "6d ago", "2d ago"} {
		command("reading", "add", "HD-01/quay", "--lab", "58.2,24,17", "--at", day)
	}
	s := serving(t, book)
	for path, args := range map[string][]string{
		"/api/batches":             {"batch", "list"},
		"/api/batches?closed":      {"batch", "list", "--closed"},
		"/api/batches/HD-01":       {"batch", "show", "HD-01"},
		"/api/batches/HD-01/curve": {"batch", "curve", "HD-01"},
		"/api/shelf/verdicts":      {"shelf", "verdicts"},
		"/api/shelf/verdicts?own":  {"shelf", "verdicts", "--own"},
		"/api/due":                 {"due"},
	} {
		page, printed := s.get(t, path), command(append(args, "--json")...)
		if path == "/api/due" { // which holds the moment of asking
			page, printed = withoutNow(t, page), withoutNow(t, printed)
		}
		if !bytes.Equal(page, printed) {
			t.Errorf("%s and %v differ:\n%s\n%s", path, args, page, printed)
		}
	}
	a, err := s.client.Post(s.base+"/api/plan/check?file=harbour-dawn.toml", "text/plain", bytes.NewReader(plan))
	if err != nil {
		t.Fatal(err)
	}
	if page, printed := answered(t, "plan check", a), command("plan", "check", "harbour-dawn.toml", "--json"); !bytes.Equal(page, printed) {
		t.Errorf("plan check differs:\n%s\n%s", page, printed)
	}
}

func withoutNow(t *testing.T, data []byte) []byte {
	t.Helper()
	var m map[string]any
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	delete(m, "now")
	out, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Ctrl-C and the system's own request end it with status 0 and a book that is whole.
func TestServeStopsWhenAsked(t *testing.T) {
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		book := filepath.Join(t.TempDir(), "book.db")
		if out, err := process(t, book, "stabilizer", "add", "Mole Stabiliser").CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		s := serving(t, book)
		s.get(t, "/batches")
		if err := s.cmd.Process.Signal(signal); err != nil {
			t.Fatal(err)
		}
		if err := s.cmd.Wait(); err != nil {
			t.Errorf("%v: %v", signal, err)
		}
		if _, err := os.Stat(book + "-wal"); err == nil {
			t.Errorf("%v: the book was not closed", signal)
		}
		var list []named
		if ask(t, book, &list, "stabilizer", "list"); len(list) != 1 {
			t.Errorf("%v: %d stabilisers are left", signal, len(list))
		}
	}
}
