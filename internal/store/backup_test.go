package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/observations"
)

// A restored book holds what the backup held; the backup is not touched, and nothing
// that is there is ever replaced, not even what an older database left beside a name.
func TestRestoreIsWholeAndOverwritesNothing(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	pour(t, b, "HD-01")
	add(t, b, "Tide Blue")
	backup := copyBook(t, b)
	kept, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	to := filepath.Join(dir, "restored.db")
	r, err := Restore(ctx, backup, to)
	if err != nil || r.Format != latest(t) || r.Bytes == 0 {
		t.Fatalf("%+v, %v", r, err)
	}
	again, err := Open(ctx, to, fixed)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := contents(t, again), contents(t, b); !slices.Equal(got, want) {
		t.Error(firstDifference(want, got))
	}
	if c, err := again.Undo(ctx); err != nil || c.What != "add colourant Tide Blue" {
		t.Errorf("its journal gave %q, %v", c.What, err)
	}
	again.Close()
	for _, name := range []string{to, filepath.Join(dir, "other.db")} {
		if name != to {
			if err := os.WriteFile(name+"-wal", []byte("left over"), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := Restore(ctx, backup, name); !errors.Is(err, ErrExists) {
			t.Errorf("%s: got %v, want ErrExists", name, err)
		}
	}
	if after, err := os.ReadFile(backup); err != nil || !bytes.Equal(after, kept) {
		t.Error("the backup was altered")
	}
	if list, _ := filepath.Glob(filepath.Join(dir, "*.part*")); len(list) > 0 {
		t.Errorf("left behind: %v", list)
	}
}

// A damaged backup is refused, and so is what is none; nothing is written.
func TestRestoreRefusesDamage(t *testing.T) {
	b := fresh(t)
	for i := range 40 {
		add(t, b, fmt.Sprintf("Tide %d", i))
	}
	data, err := os.ReadFile(copyBook(t, b))
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	for name, spoil := range map[string]func([]byte) []byte{
		"cut off": func(d []byte) []byte { return d[:len(d)/2] },
		"smashed": func(d []byte) []byte {
			for range 2000 {
				d[4096+rnd.IntN(len(d)-4096)] ^= byte(1 + rnd.IntN(255))
			}
			return d
		},
		"no book": func([]byte) []byte { return bytes.Repeat([]byte("tide "), 1000) },
		"newer":   func(d []byte) []byte { d[63] = 99; return d },
	} {
		dir := t.TempDir()
		from, to := filepath.Join(dir, "backup.db"), filepath.Join(dir, "to.db")
		if err := os.WriteFile(from, spoil(slices.Clone(data)), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(context.Background(), from, to); err == nil {
			t.Errorf("%s: it was restored", name)
		}
		if list, _ := filepath.Glob(filepath.Join(dir, "to*")); len(list) > 0 {
			t.Errorf("%s: %v was written", name, list)
		}
	}
}

// Only backups of this very book are listed, whatever else lies in the folder.
func TestBackupsOfThisBookOnly(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	b, other := fresh(t), fresh(t)
	want := []string{}
	for i := range 3 {
		at := dawn.Add(time.Duration(-i) * 24 * time.Hour)
		name := filepath.Join(dir, BackupName(b.path, at))
		if err := b.Backup(ctx, name); err != nil {
			t.Fatal(err)
		}
		want = append(want, name)
	}
	for name, from := range map[string]*Book{BackupName(b.path, dawn.Add(time.Hour)): other, "book-of-mine.db": b} {
		if err := from.Backup(ctx, filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, BackupName(b.path, dawn.Add(2*time.Hour))), []byte("no book"), 0o600); err != nil {
		t.Fatal(err)
	}
	list, err := b.Backups(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, k := range list {
		got = append(got, k.Path)
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

// A rule keeps the newest of each period that has one, however irregular the series,
// never drops the newest, and drops nothing more when it is applied again.
func TestKeepRule(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 9))
	for range 200 {
		var list []Kept
		at := dawn.UTC()
		for range rnd.IntN(60) {
			list = append(list, Kept{At: at})
			at = at.Add(-time.Duration(rnd.IntN(40)) * time.Hour)
		}
		rule := KeepRule{rnd.IntN(4), rnd.IntN(8), rnd.IntN(6), rnd.IntN(4)}
		stay, spare := rule.Spare(list)
		if len(stay)+len(spare) != len(list) {
			t.Fatal("some were lost from the count")
		}
		if len(list) > 0 && (len(stay) == 0 || stay[0] != list[0]) {
			t.Fatal("the newest would go")
		}
		days := map[string]bool{}
		for _, k := range list {
			days[k.At.Format("2006-01-02")] = true
		}
		kept := map[string]bool{}
		for _, k := range stay {
			kept[k.At.Format("2006-01-02")] = true
		}
		if rule != (KeepRule{}) && len(kept) < min(rule.Daily, len(days)) {
			t.Fatalf("%d days kept of %d, want %d", len(kept), len(days), rule.Daily)
		}
		if again, more := rule.Spare(stay); len(more) > 0 || len(again) != len(stay) {
			t.Fatalf("applied again %+v drops %d more", rule, len(more))
		}
	}
}

// million fills a book with readings: one portion, many intakes.
func million(tb testing.TB, n int) *Book {
	tb.Helper()
	ctx := context.Background()
	b, err := Create(ctx, filepath.Join(tb.TempDir(), "book.db"), fixed)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { b.Close() })
	batch := pouredBatch("HD-01")
	if err := b.Change(ctx, "fill", func(tx *Tx) error {
		if err := tx.AddBatch(ctx, &batch); err != nil {
			return err
		}
		way := observations.Way{Method: "SCI", Illuminant: "D65", Observer: 2, Clock: true}
		for done := 0; done < n; done += 100_000 {
			list := make([]Placed, min(100_000, n-done))
			for i := range list {
				k := done + i
				list[i] = Placed{batch.Portions[k%2].ID, &observations.Reading{TakenAt: dawn.Add(time.Duration(k) * time.Minute), Key: int64(k) * 7919, Way: way,
					Lab: &cie.Lab{L: 40 + float64(k%997)/100, A: float64(k % 13), B: -float64(k % 17)}}}
			}
			if _, _, err := tx.AddReadings(ctx, "log.csv", list, nil); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		tb.Fatal(err)
	}
	return b
}

// BenchmarkBackup compares a backup, which is read back whole, with SQLite's bare
// VACUUM INTO of the same book of a million readings: the figure x-vacuum.
func BenchmarkBackup(bench *testing.B) {
	ctx := context.Background()
	b := million(bench, 1_000_000)
	dir := bench.TempDir()
	var ours, bare time.Duration
	for i := range bench.N {
		file := func(kind string) string { return filepath.Join(dir, fmt.Sprint(kind, i)) }
		start := time.Now()
		if _, err := b.db.ExecContext(ctx, `VACUUM INTO ?`, file("bare")); err != nil {
			bench.Fatal(err)
		}
		bare += time.Since(start)
		start = time.Now()
		if err := b.Backup(ctx, file("ours")); err != nil {
			bench.Fatal(err)
		}
		ours += time.Since(start)
		os.Remove(file("bare"))
		os.Remove(file("ours"))
	}
	bench.ReportMetric(ours.Seconds()/bare.Seconds(), "x-vacuum")
	bench.ReportMetric(bare.Seconds()/float64(bench.N), "s-vacuum")
}

// peakMB is the most memory this process has had, from the kernel's own count, 0
// where that is not to be had.
func peakMB() float64 {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(data)) {
		var kb float64
		if _, err := fmt.Sscanf(line, "VmHWM: %f kB", &kb); err == nil {
			return kb / 1024
		}
	}
	return 0
}

// BenchmarkCheckAMillion checks a book of a million readings, and BenchmarkMergeAMillion
// merges one into an empty book; peak-MB is the process's, the filling included.
func BenchmarkCheckAMillion(bench *testing.B) {
	b := million(bench, 1_000_000)
	for bench.Loop() {
		if r, err := Check(context.Background(), b.path, fixed, nil); err != nil || len(r.Problems) > 0 {
			bench.Fatal(r.Problems, err)
		}
	}
	bench.ReportMetric(peakMB(), "peak-MB")
}

func BenchmarkMergeAMillion(bench *testing.B) {
	b := million(bench, 1_000_000)
	for bench.Loop() {
		to, err := Create(context.Background(), filepath.Join(bench.TempDir(), "book.db"), fixed)
		if err != nil {
			bench.Fatal(err)
		}
		for range 2 { // the second adds nothing, and holds a digest of each
			if _, err := to.Merge(context.Background(), b.path, false); err != nil {
				bench.Fatal(err)
			}
		}
		to.Close()
	}
	bench.ReportMetric(peakMB(), "peak-MB")
}

// Each doubt about batches and readings is found, said with what to do, and none is
// raised about a book that has all of these things as they should be.
func TestCheckDoubtsBatches(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct{ spoil, where, what string }{
		{"", "", ""},
		{`DELETE FROM batter`, "batch HD-01", "no batter"},
		{`DELETE FROM portion`, "batch HD-01", "no portion"},
		{`UPDATE batch SET cut_at = '2020-01-01T00:00:00Z'`, "batch HD-01", "before it was poured"},
		{`UPDATE batch SET code_key = 'hd-1'`, "batch HD-01", "cannot be found"},
		{`UPDATE portion SET batter = 'loaf'`, "batch HD-01, portion", "loaf is not there"},
		{`UPDATE event SET batter = 'loaf'`, "batch HD-01, event", "not there"},
		{`UPDATE event SET portion = 'slab/fog'`, "batch HD-01, event", "not there"},
		{`UPDATE weighing SET batter = 'loaf'`, "batch HD-01, weighing", "not there"},
		{`UPDATE strike SET reading_id = 99`, "strike", "reading 99"},
		{`UPDATE reading SET taken_at = 0 WHERE id = 2`, "reading 2", "before the pour"},
		{`UPDATE reading SET l = 200 WHERE id = 2`, "table reading, row 2", "cannot be"},
		{`DELETE FROM reading WHERE id = 3`, "what came in", "2 readings came in and 1 are there"},
		{`DELETE FROM history_portion`, "learned table", "1 rows came in and 0 are there"},
		{`UPDATE history_dose SET portion_id = 7`, "learned dose", "portion 7"},
	} {
		b := fresh(t)
		batch := pour(t, b, "HD-01")
		take(t, b, "", batch.Portions[0].ID, reading(1, 1))
		take(t, b, "week1.csv", batch.Portions[0].ID, plain(2, 2), plain(3, 3))
		change(t, b, "the rest", func(tx *Tx) error {
			_, err1 := tx.AddEvent(ctx, batch.ID, observations.Event{Kind: observations.Bleed, At: dawn, Batter: "slab", Portion: "slab/tide"})
			_, err2 := tx.AddWeighing(ctx, batch.ID, observations.Weighing{At: dawn, Batter: "slab", Grams: 100})
			_, err3 := tx.AddHistory(ctx, "past.csv", []HistoryPortion{{Base: cie.Lab{L: 85}, Lab: cie.Lab{L: 40}, SD: 1, Doses: []HistoryDose{{"Tide Blue", 5}}}})
			return errors.Join(err1, err2, err3, tx.Strike(ctx, 1, "lamp was cold"))
		})
		if c.spoil != "" {
			if _, err := b.db.Exec(c.spoil); err != nil {
				t.Fatal(c.spoil, err)
			}
		}
		var told []string
		r, err := CheckTelling(ctx, b.path, fixed, nil, func(what string) { told = append(told, what) })
		if err != nil || !slices.Contains(told, "batches") {
			t.Fatal(err, told)
		}
		if c.spoil == "" {
			if len(r.Problems) > 0 {
				t.Errorf("got %+v", r.Problems)
			}
			continue
		}
		if !slices.ContainsFunc(r.Problems, func(p Problem) bool {
			return strings.HasPrefix(p.Where, c.where) && strings.Contains(p.What, c.what) && p.Try != ""
		}) {
			t.Errorf("%s: got %+v", c.spoil, r.Problems)
		}
	}
}

// A book whose change was cut short while it had a rollback journal, as a restored
// backup has before it is first opened, is checked, and sound.
func TestCheckTakesBackHalfAChange(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	for i := range 200 {
		add(t, b, fmt.Sprintf("Tide %03d", i))
	}
	whole := copyBook(t, b)
	// A writer in the middle: its pages are in the file, its journal beside it.
	db, err := sql.Open("sqlite", "file:"+whole+"?_pragma=cache_size(1)&_pragma=cache_spill(1)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(`UPDATE colorant SET note = hex(randomblob(900))`); err != nil {
		t.Fatal(err)
	}
	// What a kill would leave.
	cut := filepath.Join(t.TempDir(), "cut.db")
	for _, tail := range []string{"", "-journal"} {
		data, err := os.ReadFile(whole + tail)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(cut+tail, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	tx.Rollback()
	if _, err := fresh(t).Merge(ctx, cut, false); err == nil || !strings.Contains(fmt.Sprint(err.(interface{ Hint() string }).Hint()), "cut short") {
		t.Errorf("merged: %v", err)
	}
	r, err := Check(ctx, cut, fixed, nil)
	if err != nil || len(r.Problems) > 0 {
		t.Fatalf("%+v, %v", r.Problems, err)
	}
	again, err := Open(ctx, cut, fixed)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if got, want := contents(t, again), contents(t, b); !slices.Equal(got, want) {
		t.Error(firstDifference(want, got))
	}
}
