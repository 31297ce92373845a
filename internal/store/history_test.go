package store

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"lyefast/internal/cie"
)

func historyBook(t *testing.T) *Book {
	t.Helper()
	at := time.Date(2026, 11, 20, 6, 45, 0, 0, time.UTC)
	b, err := Create(context.Background(), filepath.Join(t.TempDir(), "book.db"), func() time.Time {
		at = at.Add(time.Second)
		return at
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

func past(n byte) HistoryPortion {
	return HistoryPortion{Key: [32]byte{n}, Name: fmt.Sprintf("bar %d", n), Base: cie.Lab{L: 90, B: 8}, Lab: cie.Lab{L: 60, A: 5, B: float64(n)},
		SD: 0.8, Made: time.Date(2026, 1, int(n), 12, 0, 0, 0, time.UTC), Doses: []HistoryDose{{"Tide Blue", 1.5}, {"Rope Red", 2}}}
}

// TestHistory: a list goes in once, comes out as it was, and goes and returns with undo
// and redo in one step, without a journal row for each of its rows.
func TestHistory(t *testing.T) {
	ctx := context.Background()
	b := historyBook(t)
	add := func(want int, list ...HistoryPortion) {
		t.Helper()
		got := 0
		if err := b.Change(ctx, "learn", func(tx *Tx) (err error) {
			got, err = tx.AddHistory(ctx, "past.csv", list)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		if got != want {
			t.Errorf("%d added, want %d", got, want)
		}
	}
	count := func() (n, journal int) {
		t.Helper()
		if err := b.Read(ctx, func(tx *Tx) error {
			list, err := tx.History(ctx)
			n = len(list)
			for _, p := range list {
				want := past(p.Key[0])
				want.Source = "past.csv"
				if fmt.Sprint(p) != fmt.Sprint(want) {
					t.Errorf("%+v, want %+v", p, want)
				}
			}
			if err == nil {
				err = tx.tx.QueryRowContext(ctx, `SELECT count(*) FROM change_row`).Scan(&journal)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return n, journal
	}
	add(3, past(1), past(2), past(2), past(3))
	add(1, past(3), past(4))
	add(0, past(1), past(4))
	if n, journal := count(); n != 4 || journal != 2 {
		t.Errorf("%d portions, %d journal rows", n, journal)
	}
	for _, want := range []int{3, 0} {
		if _, err := b.Undo(ctx); err != nil {
			t.Fatal(err)
		}
		if n, _ := count(); n != want {
			t.Errorf("%d portions after undo, want %d", n, want)
		}
	}
	if _, err := b.Redo(ctx); err != nil {
		t.Fatal(err)
	}
	if n, _ := count(); n != 3 {
		t.Errorf("%d portions after redo, want 3", n)
	}
	// What was taken back may come again.
	add(1, past(4))
	bad := past(9)
	bad.Lab.L = 200
	if err := b.Change(ctx, "learn", func(tx *Tx) error {
		_, err := tx.AddHistory(ctx, "past.csv", []HistoryPortion{past(8), bad})
		return err
	}); err == nil {
		t.Error("L* 200 was taken")
	}
	if n, _ := count(); n != 4 {
		t.Errorf("%d portions, want 4: a list is taken whole or not at all", n)
	}
}

// TestWorkedOut: what is kept can be had until it is replaced or makes room; the journal
// does not know of it, and a change raises the revision.
func TestWorkedOut(t *testing.T) {
	ctx := context.Background()
	b := historyBook(t)
	keep := func(what string, n byte) {
		t.Helper()
		if err := b.KeepWorkedOut(ctx, what, WorkedOut{Key: [32]byte{n}, Revision: int64(n), Value: []byte{n}}); err != nil {
			t.Fatal(err)
		}
	}
	get := func(what string) (w *WorkedOut, revision int64) {
		t.Helper()
		if err := b.Read(ctx, func(tx *Tx) (err error) {
			if revision, err = tx.BookRevision(ctx); err != nil {
				return err
			}
			w, err = tx.WorkedOut(ctx, what)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return w, revision
	}
	if w, revision := get("settled"); w != nil || revision != 0 {
		t.Errorf("%+v, revision %d in a new book", w, revision)
	}
	keep("settled", 1)
	keep("settled", 2)
	for n := range byte(mostWorkedOut + 3) {
		keep(fmt.Sprintf("plan %d", n), n)
	}
	if w, revision := get("settled"); w == nil || w.Key != [32]byte{2} || w.Revision != 2 || w.Value[0] != 2 || revision != 0 {
		t.Errorf("%+v, revision %d", w, revision)
	}
	if w, _ := get("plan 2"); w != nil {
		t.Error("the oldest was not let go")
	}
	if w, _ := get("plan 3"); w == nil {
		t.Error("too much was let go")
	}
	if err := b.Change(ctx, "learn", func(tx *Tx) error {
		_, err := tx.AddHistory(ctx, "past.csv", []HistoryPortion{past(1)})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	_, one := get("settled")
	if _, err := b.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	if _, two := get("settled"); one <= 0 || two <= one {
		t.Errorf("revision %d after a change, %d after undo", one, two)
	}
}
