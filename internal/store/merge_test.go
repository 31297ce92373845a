package store

import (
	"context"
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
	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/observations"
	"lyefast/internal/unit"
)

// contents writes down everything a maker would find in a book, in an order of its
// own and without numbers, the journal, or when a row was made.
func contents(t *testing.T, b *Book) []string {
	t.Helper()
	ctx := context.Background()
	var out []string
	line := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	values := func(r *record, leave ...string) string {
		var parts []string
		for _, k := range sortedKeys(r.value) {
			if k != "id" && !strings.HasPrefix(k, "\x00") && !slices.Contains(leave, k) {
				parts = append(parts, fmt.Sprintf("%s=%v", k, r.value[k]))
			}
		}
		return strings.Join(parts, " ")
	}
	err := b.Read(ctx, func(tx *Tx) error {
		m := &merger{ctx: ctx}
		for table, children := range map[string][]string{"colorant": nil, "fragrance": {"fragrance_share", "fragrance_claim"}, "stabilizer": nil, "oil": nil, "card": nil} {
			_, list, err := m.shelfRows(tx, table, children)
			if err != nil {
				return err
			}
			for _, r := range list {
				line("%s: %s", table, values(r, "created_at", "changed_at"))
				for _, c := range r.children {
					line("%s of %s: %s", c.text("\x00table"), r.text("name"), values(c, "fragrance_id"))
				}
			}
		}
		list, err := m.batchRows(tx)
		if err != nil {
			return err
		}
		hang := &merger{ctx: ctx, to: tx}
		hanging, err := hang.hanging()
		if err != nil {
			return err
		}
		w := &readingMerge{merger: hang}
		rows, err := w.rows(tx)
		if err != nil {
			return err
		}
		for _, r := range list {
			code := r.text("code")
			line("batch: %s", values(r, "changed_at"))
			for table, parent := range hanging {
				if parent != "batch_id" {
					continue
				}
				found, err := tx.records(ctx, table, `WHERE batch_id = ?`, r.id)
				if err != nil {
					return err
				}
				for _, x := range found {
					line("%s of %s: %s", table, code, values(x, "batch_id"))
				}
			}
			for _, c := range r.children {
				line("in %s: %s", code, values(c, "batch_id"))
				for _, d := range c.children {
					line("in %s/%s: %s", code, c.text("name"), values(d, "portion_id"))
				}
				if _, ok := c.value["batter"]; !ok {
					continue
				}
				if err := w.marks(rows, tx, c.id, false, func(x *one, s *struck) {
					line("reading of %s/%s: %x %v %v", code, c.text("name"), x.print, x.values, s)
				}); err != nil {
					return err
				}
			}
		}
		past, err := tx.History(ctx)
		for _, h := range past {
			h.Source = ""
			line("history: %+v", h)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(out)
	return out
}

// diverge does a random thing a maker could do.
func diverge(t *testing.T, b *Book, rnd *rand.Rand) {
	t.Helper()
	ctx := context.Background()
	pick := func(list ...string) string { return list[rnd.IntN(len(list))] }
	at := dawn.Add(time.Duration(rnd.IntN(900)) * time.Hour)
	err := b.Change(ctx, "something", func(tx *Tx) error {
		list, err := tx.Batches(ctx, WhichBatches{})
		if err != nil {
			return err
		}
		var batch *observations.Batch
		if len(list) > 0 {
			batch = &list[rnd.IntN(len(list))]
		}
		what := rnd.IntN(12)
		if batch == nil && what > 5 {
			what = 5
		}
		switch what {
		case 0, 1:
			name := pick("Tide Blue", "tide blue", "Rust Clay", "Gull Grey")
			have, err := named(ctx, tx.Colorants, name)
			c := colorants.Product{Name: name, Note: pick("", "from the market"), UsualDose: unit.GramsPerKg(rnd.IntN(3)), Retired: rnd.IntN(5) == 0}
			if err == nil {
				c.ID = have.ID
				return tx.UpdateColorant(ctx, c)
			}
			for _, x := range must(tx.Colorants(ctx)) {
				if NameKey(x.Name) == NameKey(name) {
					c.ID = x.ID
					return tx.UpdateColorant(ctx, c)
				}
			}
			_, err = tx.AddColorant(ctx, c)
			return err
		case 2:
			f := fragrance.Fragrance{Name: pick("Amber Tonka", "Sea Fret"), Claims: []string{pick("no discolouration", "moves fast")}}
			if rnd.IntN(2) == 0 {
				f.Allergens = []fragrance.Share{{Name: "linalool", Percent: unit.Percent(rnd.IntN(3))}}
			}
			if have, err := named(ctx, tx.Fragrances, f.Name); err == nil {
				f.ID = have.ID
				return tx.UpdateFragrance(ctx, f)
			}
			_, err := tx.AddFragrance(ctx, f)
			return err
		case 3:
			_, err := tx.AddStabilizer(ctx, fragrance.Stabilizer{Name: pick("Quiet White", "Still Water"), Note: pick("", "cloudy")})
			if errors.Is(err, ErrExists) {
				return nil
			}
			return err
		case 4:
			if rnd.IntN(2) == 0 {
				list := make([]HistoryPortion, 1+rnd.IntN(2))
				for i := range list {
					n := byte(rnd.IntN(4))
					list[i] = HistoryPortion{Key: [32]byte{n}, Name: "past", Base: cie.Lab{L: 85, A: 1, B: 12}, Lab: cie.Lab{L: 40 + float64(n), A: 1, B: 2}, SD: 1,
						Doses: []HistoryDose{{Name: "Tide Blue", Dose: 5}}}
				}
				_, err := tx.AddHistory(ctx, pick("past.csv", "older.csv"), list)
				return err
			}
			o := formula.Oil{Key: "harbour tallow", Name: "Harbour Tallow", SVMin: 190, SVMax: 200 + float64(rnd.IntN(2)), Kind: "oil"}
			_, err := tx.AddOil(ctx, o)
			if errors.Is(err, ErrExists) {
				return nil
			}
			return err
		case 5:
			p := pouredBatch(pick("HD-01", "HD-02", "LW-01"))
			p.Title = pick("Harbour Dawn", "Low Water")
			err := tx.AddBatch(ctx, &p)
			if errors.Is(err, ErrExists) {
				return nil
			}
			return err
		case 6:
			_, err := tx.AddEvent(ctx, batch.ID, observations.Event{Kind: observations.Ash, At: at, Note: pick("", "thin")})
			return err
		case 7:
			if _, err := tx.AddWeighing(ctx, batch.ID, observations.Weighing{At: at, Batter: "slab", Grams: unit.Grams(100 + rnd.IntN(3))}); err != nil {
				return err
			}
			_, err := tx.AddLesson(ctx, batch.ID, pick("wait for the white", "stir less"))
			return err
		case 8, 9:
			n := 1 + rnd.IntN(3)
			placed := make([]Placed, n)
			for i := range placed {
				r := plain(float64(rnd.IntN(4)), int64(rnd.IntN(3)))
				if rnd.IntN(3) == 0 {
					r = reading(float64(rnd.IntN(4)), int64(rnd.IntN(3)))
				}
				placed[i] = Placed{batch.Portions[rnd.IntN(len(batch.Portions))].ID, &r}
			}
			_, _, err := tx.AddReadings(ctx, pick("", "", "week1.csv"), placed, nil)
			return err
		case 10:
			found, _, err := tx.Readings(ctx, batch.Portions[0].ID, 100)
			if err != nil || len(found) == 0 {
				return err
			}
			if r := found[rnd.IntN(len(found))]; r.Struck == "" {
				return tx.Strike(ctx, r.ID, pick("lamp was cold", "wrong bar"))
			}
			return nil
		default:
			batch.Gel = observations.Gel(pick("", "none", "full"))
			batch.Note = pick("", "a", "b")
			if batch.ClosedAt = nil; rnd.IntN(2) == 0 {
				batch.ClosedAt = &at
			}
			return tx.UpdateBatch(ctx, batch)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// clocked opens a book whose clock the test moves.
func clocked(t *testing.T, path string, now *time.Time) *Book {
	t.Helper()
	b, err := Create(context.Background(), path, func() time.Time { return *now })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

func mergeInto(t *testing.T, b *Book, other string) Merged {
	t.Helper()
	r, err := b.Merge(context.Background(), other, false)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func copyBook(t *testing.T, b *Book) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "copy.db")
	if err := b.Backup(context.Background(), to); err != nil {
		t.Fatal(err)
	}
	return to
}

// Two books that went apart from one, or never had anything in common, hold the same
// things whichever is merged into which; merging again adds nothing; every event,
// reading, weighing, lesson and past portion of either is there; one undo takes it
// all back; and the book is sound.
func TestMergeOrderDoesNotMatter(t *testing.T) {
	rounds := 5
	if os.Getenv("LYEFAST_REQUIRE") == "all" {
		rounds = 50
	}
	conflicts := 0
	for round := range rounds {
		rnd := rand.New(rand.NewPCG(7, uint64(round)))
		dir := t.TempDir()
		now := dawn
		step := func(b *Book, n int) {
			for range n {
				now = now.Add(time.Duration(rnd.IntN(3)) * time.Second)
				diverge(t, b, rnd)
			}
		}
		a := clocked(t, filepath.Join(dir, "a.db"), &now)
		step(a, rnd.IntN(10))
		pathB := filepath.Join(dir, "b.db")
		if rnd.IntN(4) > 0 {
			if err := a.Backup(context.Background(), pathB); err != nil {
				t.Fatal(err)
			}
		}
		b := clocked(t, pathB, &now)
		step(a, rnd.IntN(12))
		step(b, rnd.IntN(12))
		if rnd.IntN(3) == 0 {
			if _, err := a.Undo(context.Background()); err != nil && !errors.Is(err, ErrNothingLeft) {
				t.Fatal(err)
			}
		}
		now = now.Add(time.Hour)
		beforeA, beforeB := contents(t, a), contents(t, b)
		copyA, copyB := copyBook(t, a), copyBook(t, b)
		first := mergeInto(t, a, copyB)
		conflicts += len(first.Conflicts)
		mergeInto(t, b, copyA)
		ab, ba := contents(t, a), contents(t, b)
		if !slices.Equal(ab, ba) {
			t.Fatalf("round %d: the two books differ\n%s", round, firstDifference(ab, ba))
		}
		for _, other := range []string{copyB, copyA, copyBook(t, b)} {
			again := mergeInto(t, a, other)
			if got := contents(t, a); !slices.Equal(ab, got) || len(again.Added) > 0 {
				t.Fatalf("round %d: merging again added %v\n%s", round, again.Added, firstDifference(ab, got))
			}
		}
		for name, before := range map[string][]string{"here": beforeA, "there": beforeB} {
			for _, kind := range []string{"event", "reading", "weighing", "lesson", "history"} {
				if x, y := tally(before, kind), tally(ab, kind); !within(x, y) {
					t.Fatalf("round %d: the %ss of the book %s are not all there", round, kind, name)
				}
			}
		}
		for _, book := range []*Book{a, b} {
			if r, err := Check(context.Background(), book.path, fixed, nil); err != nil || len(r.Problems) > 0 {
				t.Fatalf("round %d: %+v, %v", round, r.Problems, err)
			}
		}
		if len(first.Added) > 0 {
			if _, err := a.Undo(context.Background()); err != nil {
				t.Fatal(err)
			}
			if got := contents(t, a); !slices.Equal(got, beforeA) {
				t.Fatalf("round %d: undo did not take the merge back\n%s", round, firstDifference(beforeA, got))
			}
			if _, err := a.Redo(context.Background()); err != nil {
				t.Fatal(err)
			}
			if got := contents(t, a); !slices.Equal(got, ab) {
				t.Fatalf("round %d: redo did not bring the merge back\n%s", round, firstDifference(ab, got))
			}
		}
		a.Close()
		b.Close()
	}
	if conflicts < rounds {
		t.Errorf("only %d conflicts in %d rounds: the test shows little", conflicts, rounds)
	}
}

// tally counts lines of one kind without the batch's code, which may have changed.
func tally(list []string, kind string) map[string]int {
	out := map[string]int{}
	for _, s := range list {
		if rest, ok := strings.CutPrefix(s, kind); ok {
			_, rest, _ = strings.Cut(rest, ":")
			if kind == "reading" { // a strike may have come to it
				rest = rest[:33]
			}
			out[rest]++
		}
	}
	return out
}

func within(x, y map[string]int) bool {
	for k, n := range x {
		if y[k] < n {
			return false
		}
	}
	return true
}

func firstDifference(x, y []string) string {
	var out []string
	for _, s := range x {
		if !slices.Contains(y, s) {
			out = append(out, "- "+s)
		}
	}
	for _, s := range y {
		if !slices.Contains(x, s) {
			out = append(out, "+ "+s)
		}
	}
	if len(out) == 0 {
		return fmt.Sprintf("%d and %d lines", len(x), len(y))
	}
	return strings.Join(out[:min(len(out), 12)], "\n")
}

// What two books say differently is told, and both sides are still there.
func TestMergeKeepsBothSidesOfAConflict(t *testing.T) {
	ctx := context.Background()
	now := dawn
	a := clocked(t, filepath.Join(t.TempDir(), "laptop.db"), &now)
	change(t, a, "add", func(tx *Tx) error {
		_, err := tx.AddColorant(ctx, colorants.Product{Name: "Tide Blue", UsualDose: 5})
		return err
	})
	pour(t, a, "HD-01")
	b := clocked(t, copyBook(t, a), &now)
	edit := func(book *Book, dose unit.GramsPerKg, gel observations.Gel) {
		now = now.Add(time.Minute)
		change(t, book, "edit", func(tx *Tx) error {
			c, err := named(ctx, tx.Colorants, "Tide Blue")
			if err != nil {
				return err
			}
			c.UsualDose = dose
			if err := tx.UpdateColorant(ctx, c); err != nil {
				return err
			}
			x, err := tx.Batch(ctx, "HD-01")
			if err != nil {
				return err
			}
			x.Gel = gel
			return tx.UpdateBatch(ctx, &x)
		})
	}
	edit(a, 3, observations.GelNone)
	edit(b, 7, observations.GelFull)
	tried, err := a.Merge(ctx, b.path, true)
	if err != nil || len(tried.Conflicts) != 2 {
		t.Fatalf("trying gave %+v, %v", tried, err)
	}
	if got := shelfNames(t, a); got != "Tide Blue" {
		t.Errorf("trying changed the shelf: %s", got)
	}
	r := mergeInto(t, a, b.path)
	if len(r.Conflicts) != 2 {
		t.Fatalf("got %+v", r.Conflicts)
	}
	got := shelf(t, a)
	if len(got) != 2 || got[0].UsualDose != 7 || got[0].Retired || got[1].UsualDose != 3 || !got[1].Retired || !strings.HasPrefix(got[1].Name, "Tide Blue (other ") {
		t.Errorf("the shelf holds %+v", got)
	}
	if list := batches(t, a, WhichBatches{}); len(list) != 1 || list[0].Gel != observations.GelFull {
		t.Errorf("got %+v", list)
	}
	if all := strings.Join(contents(t, a), "\n"); !strings.Contains(all, `another book had gel: "none"`) {
		t.Errorf("the other gel is gone:\n%s", all)
	}
}

// Two makers' batches of one code are two batches; the older keeps the code.
func TestMergeTellsBatchesOfOneCodeApart(t *testing.T) {
	now := dawn
	a := clocked(t, filepath.Join(t.TempDir(), "a.db"), &now)
	pour(t, a, "HD-01")
	now = now.Add(-time.Hour)
	b := clocked(t, filepath.Join(t.TempDir(), "b.db"), &now)
	pour(t, b, "HD-01")
	r := mergeInto(t, a, b.path)
	list := batches(t, a, WhichBatches{})
	if len(list) != 2 || len(r.Conflicts) != 1 || r.Conflicts[0].Field != "code" || !strings.Contains(r.Conflicts[0].Besides, "the one here") {
		t.Fatalf("got %+v and %+v", list, r.Conflicts)
	}
	codes := []string{list[0].Code, list[1].Code}
	slices.Sort(codes)
	if codes[0] != "HD-01" || observations.CheckCode(codes[1]) != nil || !strings.HasPrefix(codes[1], "HD-01-") {
		t.Errorf("got codes %v", codes)
	}
}

// A book is not merged with itself, and what is no book or damaged is refused and
// left alone.
func TestMergeRefuses(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	add(t, b, "Tide Blue")
	if _, err := b.Merge(ctx, b.path, false); err == nil || !strings.Contains(err.Error(), "the book itself") {
		t.Errorf("itself: %v", err)
	}
	if _, err := b.Merge(ctx, filepath.Join(t.TempDir(), "none.db"), false); !errors.Is(err, ErrNoBook) {
		t.Errorf("nothing: %v", err)
	}
	spoiled := filepath.Join(t.TempDir(), "spoiled.db")
	data, err := os.ReadFile(copyBook(t, b))
	if err != nil {
		t.Fatal(err)
	}
	for i := 8192; i < len(data); i++ {
		data[i] = 0x55
	}
	if err := os.WriteFile(spoiled, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Merge(ctx, spoiled, false); !errors.Is(err, ErrDamaged) {
		t.Errorf("damaged: %v", err)
	}
	if after, _ := os.ReadFile(spoiled); string(after) != string(data) {
		t.Error("the other book was altered")
	}
}

// Batches of one plan that were written down in the same second are told apart by
// their codes, also after one of them had to be given another by a merge.
func TestMergeTellsTwinsApart(t *testing.T) {
	now := dawn
	make := func(codes ...string) *Book {
		b := clocked(t, filepath.Join(t.TempDir(), "book.db"), &now)
		for _, c := range codes {
			pour(t, b, c)
		}
		return b
	}
	a, b := make("HD-01"), make("WS-01")
	mergeInto(t, a, b.path)
	if list := batches(t, a, WhichBatches{}); len(list) != 2 {
		t.Fatalf("%d batches, want both twins", len(list))
	}
	// An older HD-01 takes the code; the one that had to give way is still known.
	now = now.Add(-time.Hour)
	older := make("HD-01")
	mergeInto(t, a, older.path)
	now = now.Add(time.Hour)
	if r := mergeInto(t, a, copyBook(t, make("HD-01"))); len(r.Added) > 0 {
		t.Errorf("the twin that had to give way was taken for another: %+v", r)
	}
	if list := batches(t, a, WhichBatches{}); len(list) != 3 {
		t.Errorf("%d batches, want 3", len(list))
	}
}
