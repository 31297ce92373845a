//go:build unix

package main

import (
	"bytes"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"lyefast/internal/testkit"
)

var crashRuns = flag.Int("crash-runs", 0, "days in which the process is killed (default 20, or 60 with LYEFAST_REQUIRE=all); give -timeout 30m with 500")

// facts are what a maker would look for in a book, counted.
type facts map[string]int

// factsOf reads them from the file, without the program.
func factsOf(t *testing.T, book string) facts {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+book+"?_busy_timeout=5000")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query(`
		SELECT 'colourant ' || name, 1 FROM colorant
		UNION ALL SELECT 'batch ' || code, (SELECT count(*) FROM portion WHERE batch_id = batch.id) FROM batch
		UNION ALL SELECT 'lesson ' || text, 1 FROM lesson
		UNION ALL SELECT 'struck', count(*) FROM strike
		UNION ALL SELECT 'readings ' || source, sum(n) FROM (SELECT i.source, (SELECT count(*) FROM reading WHERE intake_id = i.id) AS n FROM intake AS i) GROUP BY source`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	f := facts{}
	for rows.Next() {
		var what string
		var n int
		if err := rows.Scan(&what, &n); err != nil {
			t.Fatal(err)
		}
		if n > 0 {
			f[what] += n
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return f
}

// task is one call of the program on a scripted day, and what it does to the facts.
type task struct {
	args   []string
	effect func(facts)
	undo   bool
	backup string // the file it makes
}

// day is the script: what a maker does with a book on one day.
type day struct {
	dir, book, plan, log, other string
	tasks                       []task
}

const (
	dayReadings  = 150 // in the file that is imported
	dayColorants = 40  // in the book that is merged
)

// seed makes what every day starts from: a book with one batch, an instrument's file,
// and another maker's book.
func seed(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	call := func(book string, args ...string) {
		if out, err := process(t, book, args...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", args, err, out)
		}
	}
	book := filepath.Join(dir, "book.db")
	plan, err := filepath.Abs(filepath.Join("..", "..", "testdata", "plans", "harbour-dawn.toml"))
	if err != nil {
		t.Fatal(err)
	}
	poured := time.Now().UTC().Add(-10 * 24 * time.Hour)
	call(book, "colorant", "add", "Tide Blue")
	call(book, "batch", "pour", plan, "--code", "HD-01", "--at", poured.Format("2006-01-02 15:04"))
	var b bytes.Buffer
	b.WriteString("name,date,time,L*,a*,b*\n")
	for i := range dayReadings {
		at := poured.Add(time.Duration(30+i) * time.Hour)
		fmt.Fprintf(&b, "HD-01/slab/shore,%s,%s,%.2f,%.2f,%.2f\n", at.Format("2006-01-02"), at.Format("15:04"), 85-float64(i)/50, 1.0, 14+float64(i)/70)
	}
	writeFile(t, filepath.Join(dir, "week.csv"), b.Bytes())
	other := filepath.Join(dir, "other.db")
	for i := range dayColorants {
		call(other, "colorant", "add", fmt.Sprintf("Quay %02d", i))
	}
	call(other, "batch", "pour", plan, "--code", "WS-01", "--at", poured.Format("2006-01-02 15:04"))
	call(other, "batch", "lesson", "WS-01", "keep the jugs warm")
	for _, name := range []string{book, other} {
		call(name, "book", "backup", name+".one") // one file, without its log
		if err := errors.Join(os.Remove(name), os.Rename(name+".one", name)); err != nil {
			t.Fatal(err)
		}
		os.Remove(name + "-wal")
		os.Remove(name + "-shm")
	}
	return dir
}

// newDay lays out a day in a folder of its own.
func newDay(t *testing.T, from, dir string) *day {
	t.Helper()
	d := &day{dir: dir, book: filepath.Join(dir, "book.db"), log: filepath.Join(from, "week.csv"), other: filepath.Join(from, "other.db")}
	d.plan, _ = filepath.Abs(filepath.Join("..", "..", "testdata", "plans", "harbour-dawn.toml"))
	writeFile(t, d.book, readFile(t, filepath.Join(from, "book.db")))
	merged := func(f facts) {
		for i := range dayColorants {
			f[fmt.Sprintf("colourant Quay %02d", i)] = 1
		}
		f["batch WS-01"] = f["batch HD-01"]
		f["lesson keep the jugs warm"] = 1
	}
	set := func(what string, n int) func(facts) { return func(f facts) { f[what] += n } }
	backup := func(name string) task {
		return task{args: []string{"book", "backup", filepath.Join(dir, name)}, effect: func(facts) {}, backup: filepath.Join(dir, name)}
	}
	d.tasks = []task{
		{args: []string{"batch", "pour", d.plan, "--code", "HD-02"}, effect: func(f facts) { f["batch HD-02"] = f["batch HD-01"] }},
		{args: []string{"reading", "add", "HD-01/shore", "--lab", "84,1,15"}, effect: set("readings ", 1)},
		{args: []string{"reading", "import", d.log}, effect: set("readings week.csv", dayReadings)},
		backup("noon.db"),
		{args: []string{"book", "merge", d.other}, effect: merged},
		{args: []string{"reading", "strike", "1", "--why", "lamp was cold"}, effect: set("struck", 1)},
		{undo: true, args: []string{"undo"}},
		{args: []string{"batch", "lesson", "HD-01", "pour the quay first"}, effect: set("lesson pour the quay first", 1)},
		{undo: true, args: []string{"undo"}},
		{undo: true, args: []string{"undo"}},
		{args: []string{"reading", "import", d.log}, effect: func(f facts) { f["readings week.csv"] = dayReadings }},
		{args: []string{"book", "merge", d.other}, effect: merged},
		backup("night.db"),
	}
	return d
}

// ledger is what the book must hold: the state after each change that stands.
type ledger []facts

func (l ledger) now() facts { return l[len(l)-1] }

// after gives the ledger once a task is done.
func (l ledger) after(x task) ledger {
	if x.undo {
		return slices.Clone(l[:max(1, len(l)-1)])
	}
	if x.backup != "" {
		return l
	}
	f := maps.Clone(l.now())
	x.effect(f)
	if maps.Equal(f, l.now()) {
		return l // nothing to do leaves no trace
	}
	return append(slices.Clone(l), f)
}

// soundWith asks the program's own check of a book and compares the facts.
func soundWith(t *testing.T, book string, want ...facts) (at int) {
	t.Helper()
	var c checked
	ask(t, book, &c, "book", "check")
	if len(c.Problems) > 0 {
		t.Fatalf("the book has problems: %v", c.Problems)
	}
	got := factsOf(t, book)
	for i, f := range want {
		if maps.Equal(got, f) {
			return i
		}
	}
	t.Fatalf("the book holds\n  %v\nwant one of\n  %v", got, want)
	return 0
}

// Whenever the process is killed on a scripted day (a pour, readings, an import, a
// merge, undos, backups), every change it acknowledged is there, the one it was killed
// in is there whole or not at all, the book is sound and the day goes on; a file that
// has a backup's name is a whole book. The kill is SIGKILL: what the kernel was given
// survives it, so a power cut is not shown by this; for that SQLite's own promises and
// the full sync of every commit must stand.
func TestKilledOnAScriptedDay(t *testing.T) {
	runs := 20
	if os.Getenv("LYEFAST_REQUIRE") == "all" {
		runs = 60
	}
	if *crashRuns > 0 {
		runs = *crashRuns
	}
	from := seed(t)
	// A day without a kill: for how long each task takes, that the script is right, and
	// how the book stood before each task.
	type before struct {
		took   time.Duration
		book   []byte
		ledger ledger
	}
	var course []before
	{
		d := newDay(t, from, t.TempDir())
		l := ledger{factsOf(t, d.book)}
		for _, x := range d.tasks {
			state := before{book: readFile(t, d.book), ledger: l}
			start := time.Now()
			if out, err := process(t, d.book, x.args...).CombinedOutput(); err != nil {
				t.Fatalf("%v: %v\n%s", x.args, err, out)
			}
			state.took = time.Since(start)
			course = append(course, state)
			l = l.after(x)
			soundWith(t, d.book, l.now())
			if x.backup != "" {
				soundWith(t, x.backup, l.now())
			}
		}
	}
	killed, stayed, gone := 0, 0, 0
	for run := range runs {
		rnd := rand.New(rand.NewPCG(41, uint64(run)))
		dir, err := os.MkdirTemp(t.TempDir(), "day")
		if err != nil {
			t.Fatal(err)
		}
		d := newDay(t, from, dir)
		fatal := rnd.IntN(len(d.tasks)) // one kill a day, in any task
		// Of a few runs the days are whole; of the others only the hours around the kill.
		first, last := 0, len(d.tasks)
		if *crashRuns == 0 && run%10 > 0 {
			first, last = max(0, fatal-1), min(last, fatal+2)
			writeFile(t, d.book, course[first].book)
		}
		l := course[first].ledger
		for i := first; i < last; i++ {
			x := d.tasks[i]
			cmd := process(t, d.book, x.args...)
			var out bytes.Buffer
			cmd.Stdout, cmd.Stderr = &out, &out
			if i != fatal {
				if err := cmd.Run(); err != nil {
					t.Fatalf("run %d, task %d %v after the kill of task %d: %v\n%s", run, i, x.args[:2], fatal, err, out.Bytes())
				}
				l = l.after(x)
				continue
			}
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Duration(rnd.Int64N(int64(course[i].took * 6 / 5))))
			cmd.Process.Kill()
			err := cmd.Wait()
			done := l.after(x)
			if err == nil { // acknowledged before the kill came
				l = done
				soundWith(t, d.book, l.now())
				fatal++ // the next one, then
				continue
			}
			killed++
			if x.backup != "" {
				if _, err := os.Stat(x.backup); err == nil {
					soundWith(t, x.backup, l.now())
					stayed++
				} else {
					gone++
					i-- // once more
				}
				soundWith(t, d.book, l.now())
				fatal = -1
				continue
			}
			if soundWith(t, d.book, done.now(), l.now()) == 0 && !maps.Equal(done.now(), l.now()) {
				l = done
				stayed++
			} else {
				gone++
				i--
			}
			fatal = -1
		}
		soundWith(t, d.book, l.now())
		if last == len(d.tasks) {
			soundWith(t, filepath.Join(dir, "night.db"), l.now())
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d of %d days as they should be; %d tasks killed: %d of them had been done, %d left nothing", runs, runs, killed, stayed, gone)
	if killed < runs/3 || gone == 0 {
		t.Errorf("only %d of %d runs were killed, %d of them before the change: the test shows little", killed, runs, gone)
	}
}

// failsWell runs the day in a place where writing fails at some point, and gives how
// many tasks failed. A task that fails says why, and leaves the book as it was.
func failsWell(t *testing.T, d *day, l ledger, run func(x task) *exec.Cmd, room func(), why ...string) (failed int) {
	t.Helper()
	for _, x := range d.tasks {
		out, err := run(x).CombinedOutput()
		if err == nil {
			l = l.after(x)
			continue
		}
		failed++
		text := strings.Join(strings.Fields(string(out)), " ")
		var exit *exec.ExitError
		if !errors.As(err, &exit) || exit.ExitCode() != exitFailure || !slices.ContainsFunc(why, func(s string) bool { return strings.Contains(text, s) }) {
			t.Fatalf("%v: %v\n%s", x.args, err, out)
		}
		room()
		soundWith(t, d.book, l.now())
		if x.backup != "" {
			if _, err := os.Stat(x.backup); err == nil {
				t.Fatalf("a backup that failed left %s", x.backup)
			}
		}
		break
	}
	return failed
}

// On a file system that fills up, a change is there whole or fails with the reason;
// with room again the day goes on.
func TestFullFileSystem(t *testing.T) {
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		testkit.Need(t, "a small file system can be mounted by root on Linux only")
	}
	from := seed(t)
	mount := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", mount).CombinedOutput(); err != nil {
		testkit.Need(t, fmt.Sprintf("a small file system cannot be mounted here: %v %s", err, out))
	}
	t.Cleanup(func() { exec.Command("umount", mount).Run() })
	failed := 0
	for i := range 5 {
		dir := filepath.Join(mount, fmt.Sprint("day", i))
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		d := newDay(t, from, dir)
		l := ledger{factsOf(t, d.book)}
		// Fill all but a little, a different little each time.
		var stat syscall.Statfs_t
		if err := syscall.Statfs(mount, &stat); err != nil {
			t.Fatal(err)
		}
		leave := int64(48<<10 + i*200<<10)
		ballast := filepath.Join(mount, "ballast")
		writeFile(t, ballast, make([]byte, max(0, int64(stat.Bavail)*int64(stat.Bsize)-leave)))
		failed += failsWell(t, d, l, func(x task) *exec.Cmd { return process(t, d.book, x.args...) },
			func() {
				if err := os.Remove(ballast); err != nil {
					t.Fatal(err)
				}
			}, "the disk is full")
		os.Remove(ballast)
		if out, err := process(t, d.book, "batch", "lesson", "HD-01", "there is room again").CombinedOutput(); err != nil {
			t.Fatalf("with room again: %v\n%s", err, out)
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d of 5 days met a full file system", failed)
	if failed < 2 {
		t.Errorf("only %d of 5 days met a full file system", failed)
	}
}

// Where no file may grow beyond a size, which a quota or an odd file system may do,
// a change is there whole or fails with the reason.
func TestWriteErrors(t *testing.T) {
	from := seed(t)
	failed := 0
	for i := range 5 {
		d := newDay(t, from, t.TempDir())
		l := ledger{factsOf(t, d.book)}
		blocks := 2*(200+30*i) + i // of 512 bytes, as POSIX has it
		failed += failsWell(t, d, l, func(x task) *exec.Cmd {
			cmd := process(t, d.book, x.args...)
			cmd.Args = append([]string{"sh", "-c", fmt.Sprintf(`ulimit -f %d; exec "$@"`, blocks), "sh"}, cmd.Args...)
			cmd.Path = "/bin/sh"
			return cmd
		}, func() {}, "the disk is full", "disk I/O error", "file too large")
	}
	t.Logf("%d of 5 days met a write error", failed)
	if failed < 2 {
		t.Errorf("only %d of 5 days met a write error", failed)
	}
}
