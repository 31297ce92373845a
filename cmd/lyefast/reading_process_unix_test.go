//go:build unix

package main

import (
	"bytes"
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"lyefast/internal/testkit"
)

// batchBook pours Harbour Dawn into a book of the test's own, for the readings of logged.
func batchBook(t *testing.T, book string, poured time.Time) {
	t.Helper()
	plan := filepath.Join("..", "..", "testdata", "plans", "harbour-dawn.toml")
	if out, err := process(t, book, "batch", "pour", plan, "--at", poured.Format("2006-01-02 15:04")).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
}

// counted is how many readings a book holds; its check must find nothing.
func counted(t *testing.T, book string) int {
	t.Helper()
	var c checked
	ask(t, book, &c, "book", "check")
	if len(c.Problems) > 0 {
		t.Fatalf("the book has problems: %v", c.Problems)
	}
	db, err := sql.Open("sqlite", "file:"+book)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	n := 0
	if err := db.QueryRow(`SELECT count(*) FROM reading WHERE intake_id IN (SELECT id FROM intake)`).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// An import that is killed leaves all or nothing, whenever the kill comes, and the
// next one works.
func TestKilledImportLeavesAllOrNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("kills long imports")
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "log.csv")
	const n = 200_000
	poured := logged(t, file, n)
	book := filepath.Join(dir, "book.db")
	batchBook(t, book, poured)
	for _, after := range []time.Duration{50 * time.Millisecond, 300 * time.Millisecond, 700 * time.Millisecond, 1200 * time.Millisecond} {
		cmd := process(t, book, "reading", "import", file, "--batch", "HD-01")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(after)
		cmd.Process.Kill()
		cmd.Wait()
		if got := counted(t, book); got != 0 && got != n {
			t.Fatalf("killed after %v, the book holds %d of %d readings", after, got, n)
		}
	}
	if out, err := process(t, book, "reading", "import", file, "--batch", "HD-01").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if got := counted(t, book); got != n {
		t.Errorf("the book holds %d readings, want %d", got, n)
	}
}

// Two imports of one file at once: the second finds everything there already.
func TestTwoImportsAtOnce(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "log.csv")
	const n = 4_000
	poured := logged(t, file, n)
	book := filepath.Join(dir, "book.db")
	batchBook(t, book, poured)
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			if out, err := process(t, book, "reading", "import", file, "--batch", "HD-01").CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
	wg.Wait()
	if got := counted(t, book); got != n {
		t.Errorf("the book holds %d readings, want %d", got, n)
	}
}

// A full disk stops an import without a trace, says so, and the next command works.
func TestImportOnAFullDisk(t *testing.T) {
	disk := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=2m", "lyefast-test", disk).CombinedOutput(); err != nil {
		testkit.Need(t, "a small disk cannot be mounted here: "+strings.TrimSpace(string(out)))
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", disk).CombinedOutput(); err != nil {
			t.Errorf("umount: %v\n%s", err, out)
		}
	})
	file := filepath.Join(t.TempDir(), "log.csv")
	poured := logged(t, file, 100_000)
	book := filepath.Join(disk, "book.db")
	batchBook(t, book, poured)
	out, err := process(t, book, "reading", "import", file, "--batch", "HD-01").CombinedOutput()
	if err == nil || !bytes.Contains(out, []byte("disk is full")) || !bytes.Contains(out, []byte("nothing was written")) {
		t.Errorf("got %v\n%s", err, out)
	}
	if got := counted(t, book); got != 0 {
		t.Errorf("the book holds %d readings", got)
	}
	if out, err := process(t, book, "reading", "add", "HD-01/quay", "--lab", "54,25,23").CombinedOutput(); err != nil {
		t.Errorf("the next command: %v\n%s", err, out)
	}
}

// A book that may not be written to is read, and an import into it is refused.
func TestImportIntoAReadOnlyBook(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "log.csv")
	poured := logged(t, file, 40)
	book := filepath.Join(dir, "book.db")
	batchBook(t, book, poured)
	if err := os.Chmod(book, 0o400); err != nil {
		t.Fatal(err)
	}
	somebody := func(args ...string) *exec.Cmd { return process(t, book, args...) }
	if os.Geteuid() == 0 { // root may do everything, so be somebody else
		const nobody = 65534
		program, err := built()
		if err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(program)
		if err != nil {
			t.Fatal(err)
		}
		program = filepath.Join(dir, "lyefast") // the folder it was built in is private
		if err := errors.Join(os.WriteFile(program, data, 0o755), os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
			t.Fatal(err)
		}
		err = filepath.WalkDir(dir, func(path string, _ os.DirEntry, err error) error {
			return errors.Join(err, os.Chown(path, nobody, nobody))
		})
		if err != nil {
			t.Fatal(err)
		}
		somebody = func(args ...string) *exec.Cmd {
			cmd := process(t, book, args...)
			cmd.Path = program
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
			return cmd
		}
	}
	out, err := somebody("reading", "import", file, "--batch", "HD-01").CombinedOutput()
	if err == nil || !bytes.Contains(out, []byte("no permission")) {
		t.Errorf("got %v\n%s", err, out)
	}
	if out, err := somebody("batch", "list").CombinedOutput(); err != nil || !bytes.Contains(out, []byte("HD-01")) {
		t.Errorf("the next command: %v\n%s", err, out)
	}
}
