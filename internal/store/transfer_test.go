package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/observations"
)

// savedPast is the past portion in the saved books of formats that know of any.
var savedPast = HistoryPortion{Key: [32]byte{1, 2, 255}, Name: "loaf 7", Made: time.Date(2025, 3, 1, 12, 0, 0, 0, time.UTC), Base: cie.Lab{L: 85.5, A: 1, B: 12},
	Lab: cie.Lab{L: 41, A: -3, B: -19.25}, SD: 0.75, Doses: []HistoryDose{{"Tide Blue", 5.5}}, Vanillin: 1.5, Stabilizer: 0.5, Source: "past.csv"}

// fillSaved puts into a book what the saved books hold, as far as its format has room.
func fillSaved(b *Book, format int) error {
	ctx := context.Background()
	err := b.Change(ctx, "fill the shelf", func(tx *Tx) error {
		_, err1 := tx.AddColorant(ctx, tide)
		_, err2 := tx.AddFragrance(ctx, amberTonka)
		_, err3 := tx.AddStabilizer(ctx, quietWhite)
		_, err4 := tx.AddOil(ctx, lamp)
		return errors.Join(err1, err2, err3, err4)
	})
	if err != nil || format < 2 {
		return err
	}
	batch := pouredBatch("HD-01")
	if err := b.Change(ctx, "pour HD-01", func(tx *Tx) error { return tx.AddBatch(ctx, &batch) }); err != nil {
		return err
	}
	for i, r := range []observations.Reading{reading(30, 7), plain(54, 8)} {
		if err := b.Change(ctx, "read", func(tx *Tx) error {
			_, _, err := tx.AddReadings(ctx, []string{"", "week1.csv"}[i], []Placed{{batch.Portions[0].ID, &r}}, nil)
			return err
		}); err != nil {
			return err
		}
	}
	err = b.Change(ctx, "note", func(tx *Tx) error {
		_, err1 := tx.AddEvent(ctx, batch.ID, observations.Event{Kind: observations.Bleed, At: dawn.UTC(), Clock: true, Batter: "slab", Portion: "slab/tide", Note: "a little"})
		_, err2 := tx.AddWeighing(ctx, batch.ID, observations.Weighing{At: dawn.UTC(), Batter: "slab", Bar: "3", Grams: 101.5})
		_, err3 := tx.AddLesson(ctx, batch.ID, "pour the blue first")
		return errors.Join(err1, err2, err3, tx.Strike(ctx, 1, "lamp was cold"))
	})
	if err != nil || format < 3 {
		return err
	}
	err = b.Change(ctx, "learn", func(tx *Tx) error {
		_, err := tx.AddHistory(ctx, savedPast.Source, []HistoryPortion{savedPast})
		return err
	})
	if err != nil || format < 4 {
		return err
	}
	return b.Change(ctx, "store cards", func(tx *Tx) error {
		_, err1 := tx.AddCard(ctx, quayChart)
		_, err2 := tx.AddCard(ctx, quaySheet)
		return errors.Join(err1, err2)
	})
}

// Every saved book opens with every batch, reading, event, weight, lesson and past
// portion in it, and comes out equal to a book that this program fills with the same.
func TestSavedBooksHoldTheirBatches(t *testing.T) {
	ctx := context.Background()
	for format := 2; format <= latest(t); format++ {
		script, err := os.ReadFile(fmt.Sprintf("testdata/book-format%d.sql", format))
		if err != nil {
			t.Errorf("format %d has no saved book: %v", format, err)
			continue
		}
		path := filepath.Join(t.TempDir(), "book.db")
		db, err := sql.Open("sqlite", "file:"+path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(string(script)); err != nil {
			t.Fatal(err)
		}
		db.Close()
		if state, err := look(path, format); err != nil || state != marked {
			t.Fatalf("format %d: the saved book is not one: %v", format, err)
		}
		b, err := Open(ctx, path, fixed)
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		same := fresh(t)
		if err := fillSaved(same, format); err != nil {
			t.Fatal(err)
		}
		if got, want := contents(t, b), contents(t, same); !slices.Equal(got, want) {
			t.Errorf("format %d: %s", format, firstDifference(want, got))
		}
		want := pouredBatch("HD-01")
		got := batches(t, b, WhichBatches{})
		if len(got) != 1 {
			t.Fatalf("format %d: %d batches", format, len(got))
		}
		readings, _ := readingsOf(t, b, got[0].Portions[0].ID, 9)
		if len(readings) != 2 || readings[0].Struck != "lamp was cold" || readings[0].Note != reading(0, 0).Note || readings[1].Source != "week1.csv" {
			t.Errorf("format %d: readings %+v", format, readings)
		}
		got[0].ID, got[0].Portions[0].ID, got[0].Portions[1].ID = 0, 0, 0
		if !reflect.DeepEqual(got[0], want) {
			t.Errorf("format %d: got  %+v\nwant %+v", format, got[0], want)
		}
		// And every one of its changes can be taken back.
		for {
			if _, err := b.Undo(ctx); errors.Is(err, ErrNothingLeft) {
				break
			} else if err != nil {
				t.Fatalf("format %d: %v", format, err)
			}
		}
		if left := contents(t, b); len(left) > 0 {
			t.Errorf("format %d: undone to the first, it still holds %v", format, left)
		}
	}
}

// A book of an older format is merged as well as one of this, and is left as it is.
func TestMergeOlderFormat(t *testing.T) {
	ctx := context.Background()
	for format := 1; format < latest(t); format++ {
		path := filepath.Join(t.TempDir(), "old.db")
		if err := Build(ctx, path, format, fixed, func(*Filler) error { return nil }); err != nil {
			t.Fatal(err)
		}
		old, err := open(ctx, path, fixed, false, upTo{migrations, format})
		if err != nil {
			t.Fatal(err)
		}
		if err := fillSaved(old, format); err != nil {
			t.Fatal(err)
		}
		old.Close()
		before, _ := os.ReadFile(path)
		b := fresh(t)
		mergeInto(t, b, path)
		if got := shelfNames(t, b); got != tide.Name {
			t.Errorf("format %d: the shelf holds %q", format, got)
		}
		if n := len(batches(t, b, WhichBatches{})); n != min(format-1, 1) {
			t.Errorf("format %d: %d batches", format, n)
		}
		if after, _ := os.ReadFile(path); string(after) != string(before) {
			t.Errorf("format %d: the other book was altered", format)
		}
	}
}

// Carried out row by row and built again, a book holds the same, journal and all;
// rows that do not fit leave no file.
func TestBuildFromSheets(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	if err := fillSaved(b, latest(t)); err != nil {
		t.Fatal(err)
	}
	take(t, b, "taken back.csv", 1, plain(90, 9))
	if _, err := b.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	carry := func(f *Filler, spoil func(table string, row []any)) error {
		return b.Read(ctx, func(tx *Tx) error {
			list, err := tx.Sheets(ctx, true)
			if err != nil {
				return err
			}
			for _, s := range list {
				if err := f.Clear(s.Name); err != nil {
					return err
				}
				if err := tx.EachRow(ctx, s, func(row []any) error {
					spoil(s.Name, row)
					return f.Put(s.Name, row)
				}); err != nil {
					return err
				}
			}
			return nil
		})
	}
	path := filepath.Join(t.TempDir(), "again.db")
	if err := Build(ctx, path, 0, fixed, func(f *Filler) error { return carry(f, func(string, []any) {}) }); err != nil {
		t.Fatal(err)
	}
	again, err := Open(ctx, path, fixed)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if got, want := contents(t, again), contents(t, b); !slices.Equal(got, want) {
		t.Error(firstDifference(want, got))
	}
	if c, err := again.Redo(ctx); err != nil || c.What != "take taken back.csv" {
		t.Errorf("redo gave %q, %v", c.What, err)
	}
	if readings, _ := readingsOf(t, again, 1, 9); len(readings) != 3 {
		t.Errorf("%d readings after the redo, want 3", len(readings))
	}
	for name, spoil := range map[string]func(string, []any){
		"a portion of no batch": func(table string, row []any) {
			if table == "portion" {
				row[1] = int64(99)
			}
		},
		"a value that cannot be": func(table string, row []any) {
			if table == "weighing" {
				row[len(row)-2] = -5.0
			}
		},
		"a reading of no portion": func(table string, row []any) {
			if table == "reading" {
				row[1] = int64(99)
			}
		},
	} {
		path := filepath.Join(t.TempDir(), "bad.db")
		if err := Build(ctx, path, 0, fixed, func(f *Filler) error { return carry(f, spoil) }); err == nil {
			t.Errorf("%s: it was built", name)
		}
		if list, _ := filepath.Glob(path + "*"); len(list) > 0 {
			t.Errorf("%s: it left %v", name, list)
		}
	}
}
