package store

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/observations"
	"lyefast/internal/unit"
)

// pouredBatch is a batch with every field filled.
func pouredBatch(code string) observations.Batch {
	cure, at := unit.Celsius(17.5), unit.Celsius(33)
	cut := dawn.Add(26 * time.Hour).UTC()
	return observations.Batch{
		Code: code, Title: "Harbour Dawn", PouredAt: dawn.UTC(), PouredClock: true, Plan: "title = \"Harbour Dawn\"\n",
		Gel: observations.GelPartial, Storage: observations.Dark, Place: "loft", CureAt: &cure, CutAt: &cut,
		Schedule: observations.Schedule{0, 3, 42}, Note: "first frost",
		Batters: []observations.Batter{{
			Name: "slab", Oils: 1000, Water: 292.7, Total: 1477.4, Concentration: 33, Discount: 5.02, FreshWater: 0.2058,
			BatterAt: &at, Fragrance: "Lantern Amber", FragranceGrams: 40, FragranceRate: 4, Stabilizer: "Quiet White", StabilizerG: 18,
		}},
		Portions: []observations.Portion{
			{
				Batter: "slab", Name: "tide", Grams: 700.5, Fragrance: "Lantern Amber", FragranceRate: 4, BrownDose: percent(0.17), Ratio: 1.5,
				Colorants: []observations.PortionDose{{Name: "Tide Blue", Dose: 5, Grams: 2.5, Lot: "07/26"}},
				Target:    &cie.Lab{L: 40, A: -3, B: -20}, AtPour: &cie.Lab{L: 42, A: -2, B: -21}, Settled: &cie.Lab{L: 41, A: -3, B: -19.5},
			},
			{Batter: "slab", Name: "bare", Grams: 50, Colorants: []observations.PortionDose{}, Control: true},
		},
	}
}

// pour puts a batch into a book.
func pour(t *testing.T, b *Book, code string) observations.Batch {
	t.Helper()
	batch := pouredBatch(code)
	change(t, b, "pour "+code, func(tx *Tx) error { return tx.AddBatch(context.Background(), &batch) })
	return batch
}

func batches(t *testing.T, b *Book, which WhichBatches) []observations.Batch {
	t.Helper()
	var list []observations.Batch
	if err := b.Read(context.Background(), func(tx *Tx) (err error) {
		list, err = tx.Batches(context.Background(), which)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return list
}

func TestBatchKeepsEveryField(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	want := pour(t, b, "HD-01")
	got := batches(t, b, WhichBatches{})
	if len(got) != 1 || !reflect.DeepEqual(got[0], want) {
		t.Fatalf("got  %+v\nwant %+v", got, want)
	}
	closed := dawn.Add(90 * 24 * time.Hour).UTC()
	want.Gel, want.ClosedAt, want.Place, want.CureAt = observations.GelFull, &closed, "shelf", nil
	change(t, b, "close HD-01", func(tx *Tx) error { return tx.UpdateBatch(ctx, &want) })
	if got := batches(t, b, WhichBatches{Code: "hd-01"}); len(got) != 1 || !reflect.DeepEqual(got[0], want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	pour(t, b, "HD-02")
	for name, c := range map[string]struct {
		which WhichBatches
		n     int
	}{
		"all": {WhichBatches{}, 2}, "open": {WhichBatches{Open: true}, 1}, "a code": {WhichBatches{Code: "HD-02"}, 1}, "no such code": {WhichBatches{Code: "HD-09"}, 0},
		"a colourant": {WhichBatches{Colorant: "tide  blue"}, 2}, "none of it": {WhichBatches{Colorant: "Rust Clay"}, 0},
		"a scent": {WhichBatches{Fragrance: "LANTERN AMBER", Open: true}, 1}, "no scent": {WhichBatches{Fragrance: "x"}, 0},
	} {
		if got := batches(t, b, c.which); len(got) != c.n {
			t.Errorf("%s: %d batches, want %d", name, len(got), c.n)
		}
	}
	err := b.Change(ctx, "pour again", func(tx *Tx) error {
		again := pouredBatch("hd-02")
		return tx.AddBatch(ctx, &again)
	})
	if !errors.Is(err, ErrExists) {
		t.Errorf("a code was given twice: %v", err)
	}
}

func TestEventsWeightsAndLessonsComeBack(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	batch := pour(t, b, "HD-01")
	deg, mins := 33.0, 6.0
	e := observations.Event{Kind: observations.FragranceIn, At: dawn.UTC(), Clock: true, AfterMinutes: &mins, Batter: "slab", Portion: "slab/tide", Value: &deg, Note: "slowly"}
	w := observations.Weighing{At: dawn.UTC(), Batter: "slab", Bar: "1", Grams: 119.5, Note: "warm"}
	change(t, b, "note", func(tx *Tx) (err error) {
		if e.ID, err = tx.AddEvent(ctx, batch.ID, e); err != nil {
			return err
		}
		if w.ID, err = tx.AddWeighing(ctx, batch.ID, w); err != nil {
			return err
		}
		_, err = tx.AddLesson(ctx, batch.ID, "pour the blue first")
		return err
	})
	err := b.Read(ctx, func(tx *Tx) error {
		events, err1 := tx.Events(ctx, batch.ID)
		weights, err2 := tx.Weighings(ctx, batch.ID)
		lessons, err3 := tx.Lessons(ctx, 0)
		none, err4 := tx.Lessons(ctx, 99)
		if !reflect.DeepEqual(events, []observations.Event{e}) || !reflect.DeepEqual(weights, []observations.Weighing{w}) {
			t.Errorf("got %+v and %+v", events, weights)
		}
		want := []observations.Lesson{{ID: 1, Batch: "HD-01", Title: "Harbour Dawn", At: dawn.UTC(), Text: "pour the blue first",
			Fragrances: []string{"Lantern Amber"}, Colorants: []string{"Tide Blue"}}}
		if !reflect.DeepEqual(lessons, want) || len(none) != 0 {
			t.Errorf("got %+v, %+v", lessons, none)
		}
		return errors.Join(err1, err2, err3, err4)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// reading is one with every field filled, at so many hours after the pour.
func reading(hours float64, key int64) observations.Reading {
	return observations.Reading{
		TakenAt: dawn.Add(time.Duration(hours * float64(time.Hour))).UTC(), Key: key,
		Way: observations.Way{Method: "SCI", Illuminant: "D50", Observer: 2, Instrument: "QM-4", Face: observations.CutFace, Clock: true},
		Lab: &cie.Lab{L: 41.5, A: -2.25, B: -20.125}, Spread: &cie.Lab{L: 0.3, A: 0.2, B: 0.25}, Spots: 3,
		Original: "Lab 42,-3,-25 D50/2°", Words: "held", Note: "third from the left",
	}
}

func plain(hours float64, key int64) observations.Reading {
	r := reading(hours, key)
	return observations.Reading{TakenAt: r.TakenAt, Key: key, Way: r.Way, Lab: &cie.Lab{L: 40 + float64(key%7), A: 1, B: 2}}
}

// take adds readings of the first portion under a source.
func take(t *testing.T, b *Book, source string, portion int64, list ...observations.Reading) (added int) {
	t.Helper()
	placed := make([]Placed, len(list))
	for i := range list {
		placed[i] = Placed{portion, &list[i]}
	}
	change(t, b, "take "+source, func(tx *Tx) (err error) {
		_, added, err = tx.AddReadings(context.Background(), source, placed, nil)
		return err
	})
	return added
}

func readingsOf(t *testing.T, b *Book, portion int64, most int) (list []observations.Reading, all bool) {
	t.Helper()
	if err := b.Read(context.Background(), func(tx *Tx) (err error) {
		list, all, err = tx.Readings(context.Background(), portion, most)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return list, all
}

func TestReadingKeepsEveryFieldAndIsStruckOnce(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	portion := pour(t, b, "HD-01").Portions[0].ID
	want := reading(30, 7)
	bare := observations.Reading{TakenAt: want.TakenAt.Add(time.Hour), Way: observations.Way{Method: "instrument", Illuminant: "D65", Observer: 10}, Original: "Lab 1,2,3 D65/10°"}
	take(t, b, "", portion, want, bare)
	got, all := readingsOf(t, b, portion, 10)
	want.ID, bare.ID = 1, 2
	if !all || !reflect.DeepEqual(got, []observations.Reading{want, bare}) {
		t.Fatalf("got  %+v\nwant %+v", got, want)
	}
	change(t, b, "strike", func(tx *Tx) error { return tx.Strike(ctx, 1, "wrong jug") })
	if err := b.Change(ctx, "strike again", func(tx *Tx) error { return tx.Strike(ctx, 1, "twice") }); !errors.Is(err, ErrExists) {
		t.Errorf("a reading was struck twice: %v", err)
	}
	within := func() (ok bool) {
		if err := b.Read(ctx, func(tx *Tx) (err error) {
			ok, err = tx.ReadWithin(ctx, portion, want.TakenAt, want.TakenAt.Add(time.Minute))
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return ok
	}
	if got, _ := readingsOf(t, b, portion, 10); got[0].Struck != "wrong jug" || within() {
		t.Errorf("struck: %+v, counted %v", got[0], within())
	}
	if _, err := b.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	if got, _ := readingsOf(t, b, portion, 10); got[0].Struck != "" || !within() {
		t.Errorf("undone: %+v", got[0])
	}
}

func TestFileTakenTwiceAddsNothing(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	portion := pour(t, b, "HD-01").Portions[0].ID
	var list []observations.Reading
	for i := range int64(250) { // beyond two statements
		list = append(list, plain(float64(i), i))
	}
	if n := take(t, b, "week.csv", portion, list...); n != 250 {
		t.Fatalf("%d were added", n)
	}
	if n := take(t, b, "copy.csv", portion, list...); n != 0 {
		t.Errorf("taken again, %d were added", n)
	}
	longer := append(list[100:], plain(300, 300), plain(3, 999)) // an older one that came late
	if n := take(t, b, "longer.csv", portion, longer...); n != 2 {
		t.Errorf("of a longer export %d were added, want 2", n)
	}
	// An import is one entry of the journal, taken back and brought again whole.
	for _, step := range []struct {
		do   func(context.Context) (Change, error)
		left int
	}{{b.Undo, 250}, {b.Undo, 0}, {b.Redo, 250}, {b.Undo, 0}} {
		if _, err := step.do(ctx); err != nil {
			t.Fatal(err)
		}
		if got, _ := readingsOf(t, b, portion, 1000); len(got) != step.left {
			t.Errorf("%d readings, want %d", len(got), step.left)
		}
	}
	// What was taken back may be taken again, under numbers of its own.
	if n := take(t, b, "week.csv", portion, list[:3]...); n != 3 {
		t.Errorf("after undo %d were added", n)
	}
	if got, _ := readingsOf(t, b, portion, 1000); len(got) != 3 {
		t.Errorf("%d readings, want 3", len(got))
	}
	if r, err := Check(ctx, b.Path(), fixed, nil); err != nil || len(r.Problems) > 0 {
		t.Errorf("the book's check says %+v, %v", r.Problems, err)
	}
}

func TestLongSeriesIsSampledOverItsTime(t *testing.T) {
	b := fresh(t)
	portion := pour(t, b, "HD-01").Portions[0].ID
	var list []observations.Reading
	for i := range int64(5000) {
		list = append(list, plain(float64(i)/10, i))
	}
	take(t, b, "log.csv", portion, list...)
	got, all := readingsOf(t, b, portion, 300)
	if all || len(got) > 300 || len(got) < 200 {
		t.Fatalf("%d readings, all %v", len(got), all)
	}
	early, late := 0, 0
	for i, r := range got {
		if i > 0 && r.TakenAt.Before(got[i-1].TakenAt) {
			t.Fatal("out of order")
		}
		switch h := r.TakenAt.Sub(dawn).Hours(); {
		case h < 50:
			early++
		case h > 450:
			late++
		}
	}
	if early < 60 || late < 6 {
		t.Errorf("%d of the first tenth, %d of the last", early, late)
	}
}

// BenchmarkAddReadings writes readings of one portion. How long an import takes beside
// sqlite3's own is measured where the commands are.
func BenchmarkAddReadings(bench *testing.B) {
	ctx := context.Background()
	b, err := Create(ctx, filepath.Join(bench.TempDir(), "book.db"), fixed)
	if err != nil {
		bench.Fatal(err)
	}
	defer b.Close()
	const n = 100_000
	list := make([]observations.Reading, n)
	portion := int64(0)
	for bench.Loop() {
		portion++
		placed := make([]Placed, n)
		for i := range list {
			list[i] = plain(float64(i)/60, int64(i))
			placed[i] = Placed{portion, &list[i]}
		}
		if err := b.Change(ctx, "import", func(tx *Tx) error {
			_, _, err := tx.AddReadings(ctx, fmt.Sprint("log ", portion), placed, nil)
			return err
		}); err != nil {
			bench.Fatal(err)
		}
	}
	bench.ReportMetric(float64(bench.N)*n/bench.Elapsed().Seconds(), "readings/s")
}

// The table of readings has no constraints of its own, so a check of the book looks
// for what cannot be.
func TestCheckFindsReadingsThatCannotBe(t *testing.T) {
	ctx := context.Background()
	for what, spoil := range map[string]string{
		"a value that cannot be":    `UPDATE reading SET l = 250`,
		"half a colour":             `UPDATE reading SET a = NULL`,
		"a portion that is not":     `UPDATE reading SET portion_id = 99`,
		"a way that is not":         `UPDATE reading SET way_id = 99`,
		"nothing, it is taken back": ``,
	} {
		b := fresh(t)
		portion := pour(t, b, "HD-01").Portions[0].ID
		take(t, b, "", portion, reading(30, 1))
		if spoil == "" {
			// What was taken back does not count, whatever stands in it.
			if _, err := b.Undo(ctx); err != nil {
				t.Fatal(err)
			}
			spoil = `UPDATE reading SET l = 250`
		}
		if _, err := b.db.ExecContext(ctx, spoil); err != nil {
			t.Fatal(err)
		}
		r, err := Check(ctx, b.Path(), fixed, nil)
		if err != nil {
			t.Fatal(err)
		}
		want := 1
		if what == "nothing, it is taken back" {
			want = 0
		}
		if len(r.Problems) != want || want == 1 && r.Problems[0].Where != "table reading, row 1" {
			t.Errorf("%s: %+v", what, r.Problems)
		}
	}
	// What cannot be is refused before it is written.
	b := fresh(t)
	portion := pour(t, b, "HD-01").Portions[0].ID
	bad := reading(30, 1)
	bad.Lab = &cie.Lab{L: 101}
	if err := b.Change(ctx, "take", func(tx *Tx) error {
		_, _, err := tx.AddReadings(ctx, "", []Placed{{portion, &bad}}, nil)
		return err
	}); !errors.Is(err, ErrValue) {
		t.Errorf("got %v", err)
	}
}

func TestWaysOfReadingAreBounded(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	portion := pour(t, b, "HD-01").Portions[0].ID
	list := make([]Placed, mostWays+1)
	for i := range list {
		r := plain(float64(i), int64(i))
		r.Instrument = fmt.Sprint("no ", i)
		list[i] = Placed{portion, &r}
	}
	if err := b.Change(ctx, "take", func(tx *Tx) error {
		_, _, err := tx.AddReadings(ctx, "log.csv", list, nil)
		return err
	}); !errors.Is(err, ErrValue) {
		t.Errorf("got %v", err)
	}
	if got, _ := readingsOf(t, b, portion, 10); len(got) != 0 {
		t.Errorf("%d readings stayed", len(got))
	}
}
