package main

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// logged writes a file of readings of the four portions of Harbour Dawn, every two
// seconds from the day after the pour on, and gives the time of that pour.
func logged(tb testing.TB, path string, n int) (poured time.Time) {
	tb.Helper()
	poured = time.Now().UTC().Truncate(24*time.Hour).AddDate(0, 0, -60)
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, "name,taken_at,L,a,b")
	r := rand.New(rand.NewPCG(1, 2))
	for _, name := range []string{"shore", "quay", "lamp", "dusk"} {
		for i := range n / 4 {
			at := poured.Add(30*time.Hour + time.Duration(2*i)*time.Second)
			fmt.Fprintf(w, "%s,%s,%.2f,%.2f,%.2f\n", name, at.Format(time.RFC3339), 50+5*r.Float64(), 5*r.Float64(), 9*r.Float64())
		}
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	if err := f.Close(); err != nil {
		tb.Fatal(err)
	}
	return poured
}

// BenchmarkImport takes a million readings into a book, and has sqlite3 take the same
// file into a bare table. Then it asks plan check and due of that book and of one with
// 40 readings. Wanted are
//
//	import-over-sqlite3 at most 4
//	check-over-small, due-over-small at most 1.5
//
//	go test -run '^$' -bench 'Import$' -benchtime 3x ./cmd/lyefast
func BenchmarkImport(b *testing.B) {
	peer, err := exec.LookPath("sqlite3")
	if err != nil {
		b.Skip("sqlite3, the peer, is not installed")
	}
	lyefast, err := built()
	if err != nil {
		b.Fatal(err)
	}
	plan, err := filepath.Abs(filepath.Join("..", "..", "testdata", "plans", "harbour-dawn.toml"))
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	large, small := filepath.Join(dir, "large.csv"), filepath.Join(dir, "small.csv")
	poured := logged(b, large, 1_000_000)
	logged(b, small, 40)
	took := map[string][]time.Duration{}
	run := func(what, book string, args ...string) {
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Env = []string{"HOME=" + dir, "LYEFAST_BOOK=" + book, "LANG=C.UTF-8", "TZ=UTC"}
		start := time.Now()
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v: %v\n%s", args, err, out)
		}
		took[what] = append(took[what], time.Since(start))
	}
	median := func(what string) float64 {
		slices.Sort(took[what])
		return took[what][len(took[what])/2].Seconds()
	}
	n := 0
	for b.Loop() {
		n++
		many, few := filepath.Join(dir, fmt.Sprint("many", n)), filepath.Join(dir, fmt.Sprint("few", n))
		for book, file := range map[string]string{many: large, few: small} {
			run("pour", book, lyefast, "batch", "pour", plan, "--at", poured.Format("2006-01-02 15:04"))
			what := "import"
			if book == few {
				what = "small import"
			}
			run(what, book, lyefast, "reading", "import", file, "--batch", "HD-01")
		}
		run("sqlite3", many, peer, filepath.Join(dir, fmt.Sprint("bare", n)),
			"CREATE TABLE reading (name TEXT, taken_at TEXT, l REAL, a REAL, b REAL)", ".import --csv --skip 1 "+large+" reading")
		for range 5 {
			for name, book := range map[string]string{"large": many, "small": few} {
				run("check "+name, book, lyefast, "plan", "check", plan)
				run("due "+name, book, lyefast, "due")
			}
		}
	}
	b.ReportMetric(median("import"), "import-s")
	b.ReportMetric(median("import")/median("sqlite3"), "import-over-sqlite3")
	b.ReportMetric(1e3*median("check large"), "check-ms")
	b.ReportMetric(median("check large")/median("check small"), "check-over-small")
	b.ReportMetric(1e3*median("due large"), "due-ms")
	b.ReportMetric(median("due large")/median("due small"), "due-over-small")
}
