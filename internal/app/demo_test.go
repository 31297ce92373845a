package app

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// The demo is the same season every time, sound, with everything in it that it
// promises; and it never writes to a file that is there.
func TestDemoIsOneSeason(t *testing.T) {
	ctx := context.Background()
	end := time.Date(2026, 11, 20, 6, 45, 0, 0, time.UTC)
	var first map[string]string
	for i := range 2 {
		path := filepath.Join(t.TempDir(), "demo.db")
		d, err := WriteDemo(ctx, path, end)
		if err != nil {
			t.Fatal(err)
		}
		if d.Batches != 12 || d.Readings != 12*7*5 || len(d.Walk) == 0 {
			t.Errorf("got %+v", d)
		}
		if _, err := WriteDemo(ctx, path, end); !errors.Is(err, ErrExists) {
			t.Errorf("written over: %v", err)
		}
		a := New(path, func() time.Time { return end })
		defer a.Close()
		if r, err := a.BookCheck(ctx, nil); err != nil || len(r.Problems) > 0 {
			t.Fatalf("%+v, %v", r.Problems, err)
		}
		out := filepath.Join(t.TempDir(), "out")
		if _, err := a.ExportBook(ctx, ExportBookQuery{Dir: out}); err != nil {
			t.Fatal(err)
		}
		got := exported(t, out)
		delete(got, "identity.csv") // drawn anew for each book
		if i == 0 {
			first = got
			list, err := a.Batches(ctx, true)
			if err != nil || len(list) != 12 {
				t.Fatalf("%d batches, %v", len(list), err)
			}
			for _, b := range list {
				if days := end.Sub(b.PouredAt).Hours() / 24; days < 42 {
					t.Errorf("%s is only %.1f days old", b.Code, days)
				}
			}
			learnedTruth(t, a)
			lessons, err := a.Lessons(ctx, "Dusk Violet")
			if err != nil || len(lessons) != 1 || lessons[0].Text != demoLesson {
				t.Errorf("lessons %+v, %v", lessons, err)
			}
			continue
		}
		for name := range first {
			if got[name] != first[name] {
				t.Errorf("%s differs the second time", name)
			}
		}
	}
}

// learnedTruth asks what the season taught: it is what it was made from. The violet does
// not hold, the orange comes back, the oxide and the ultramarine hold.
func learnedTruth(t *testing.T, a *App) {
	t.Helper()
	ctx := context.Background()
	r, err := a.Verdicts(ctx, VerdictsQuery{Own: true})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]string{"Rope Red": {"stable"}, "Evening Blue": {"stable"}, "Lamp Orange": {"shifting"}, "Dusk Violet": {"shifting", "unreliable"}}
	for _, c := range r.Colorants {
		if w, ok := want[c.Colorant]; ok {
			delete(want, c.Colorant)
			if !slices.Contains(w, c.Verdict) {
				t.Errorf("%s is %s, want one of %v", c.Colorant, c.Verdict, w)
			}
		}
	}
	if len(want) > 0 {
		t.Errorf("nothing is said of %v", want)
	}
}
