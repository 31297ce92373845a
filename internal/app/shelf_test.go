package app

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

var dawn = time.Date(2026, 11, 20, 6, 45, 30, 0, time.UTC)

func session(t *testing.T) *App {
	t.Helper()
	a := New(filepath.Join(t.TempDir(), "home", "book.db"), func() time.Time { return dawn })
	t.Cleanup(func() { a.Close() })
	return a
}

func percent(v float64) *unit.Percent { p := unit.Percent(v); return &p }

// must runs a call that has to succeed.
func must[T any](t *testing.T, call func() (T, error)) T {
	t.Helper()
	v, err := call()
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Reading, and failing to write, make no book and no folder.
func TestAnEmptyHomeStaysEmpty(t *testing.T) {
	a, ctx := session(t), context.Background()
	shelf := must(t, func() (Shelf, error) { return a.Shelf(ctx) })
	if len(shelf.Oils) == 0 || len(shelf.Fragrances) != 0 {
		t.Errorf("an empty shelf has %d oils and %d fragrances", len(shelf.Oils), len(shelf.Fragrances))
	}
	for _, err := range []error{
		second(a.Fragrance(ctx, "x")),
		second(a.EditFragrance(ctx, "x", func(*fragrance.Fragrance) error { return nil })),
		second(a.RetireOil(ctx, "x", false)),
		second(a.Undo(ctx)),
		second(a.Redo(ctx)),
		second(a.BookCheck(ctx, nil)),
	} {
		if !errors.Is(err, ErrNotFound) {
			t.Errorf("got %v, want ErrNotFound", err)
		}
	}
	for _, err := range []error{
		second(a.EditOil(ctx, "coconut", func(*formula.Oil) error { return nil })),
		second(a.AddFragrance(ctx, fragrance.Fragrance{Name: "Too Much", Vanillin: percent(101)})),
		second(a.AddColorant(ctx, colorants.Product{Name: "  "})),
	} {
		if !errors.Is(err, ErrInvalid) {
			t.Errorf("got %v, want ErrInvalid", err)
		}
	}
	if changes := must(t, func() ([]store.Change, error) { return a.Changes(ctx, 5) }); len(changes) != 0 || changes == nil {
		t.Errorf("got %#v, want an empty list", changes)
	}
	if _, err := os.Stat(filepath.Dir(a.Path())); !os.IsNotExist(err) {
		t.Errorf("a folder was made: %v", err)
	}
}

func second[T any](_ T, err error) error { return err }

func TestOwnStandsBeforeBuiltIn(t *testing.T) {
	a, ctx := session(t), context.Background()
	count := func() (n int, own formula.Oil) {
		for _, o := range must(t, func() ([]formula.Oil, error) { return a.Oils(ctx, true) }) {
			n++
			if !o.BuiltIn {
				own = o
			}
		}
		return n, own
	}
	before, _ := count()
	must(t, func() (formula.Oil, error) {
		return a.AddOil(ctx, formula.Oil{Name: "COCONUT  oil", CertificateSV: 256.1})
	})
	after, own := count()
	if after != before || own.Name != "COCONUT oil" || own.Kind != formula.Triglyceride || own.Key != "coconut oil" {
		t.Errorf("%d oils became %d, own is %+v", before, after, own)
	}
	if o := must(t, func() (formula.Oil, error) { return a.Oil(ctx, "coconut") }); o.BuiltIn {
		t.Error("the built-in oil was found before the maker's own")
	}
	must(t, func() (Edited[formula.Oil], error) { return a.RetireOil(ctx, "coconut oil", false) })
	list := must(t, func() ([]formula.Oil, error) { return a.Oils(ctx, false) })
	if len(list) != before-1 {
		t.Errorf("%d oils are listed, want %d: a retired own one still stands before the built-in", len(list), before-1)
	}
}

// An edit changes only what is given, to the last bit, and reports just that.
func TestEditChangesOnlyWhatIsGiven(t *testing.T) {
	a, ctx := session(t), context.Background()
	fine := cie.Lab{L: 42.123456789, A: -3.000000001, B: -24}
	must(t, func() (colorants.Product, error) {
		return a.AddColorant(ctx, colorants.Product{Name: "Tide Blue", Swatch: &fine, SwatchBasis: "maker", Note: "a"})
	})
	e := must(t, func() (Edited[colorants.Product], error) {
		return a.EditColorant(ctx, "tide blue", func(p *colorants.Product) error {
			p.UsualDose = 3
			p.Swatch.A = 5 // must not reach Before
			return nil
		})
	})
	if *e.Before.Swatch != fine || e.After.Swatch.A != 5 {
		t.Errorf("before %v, after %v", e.Before.Swatch, e.After.Swatch)
	}
	var fields []string
	for _, c := range e.Changed {
		fields = append(fields, c.Field)
	}
	if got := strings.Join(fields, " "); got != "swatch_lab usual_dose_g_per_kg" {
		t.Errorf("changed %q", got)
	}
	// Nothing changed: no entry in the journal.
	e = must(t, func() (Edited[colorants.Product], error) {
		return a.EditColorant(ctx, "Tide Blue", func(p *colorants.Product) error { p.UsualDose = 3; return nil })
	})
	if len(e.Changed) != 0 || e.Changed == nil {
		t.Errorf("got %#v, want an empty list", e.Changed)
	}
	u := must(t, func() (Undone, error) { return a.Undo(ctx) })
	if u.What != "edit colourant Tide Blue" || !u.Undone {
		t.Errorf("took back %+v", u)
	}
	p := must(t, func() (colorants.Product, error) { return a.Colorant(ctx, "Tide Blue") })
	if *p.Swatch != fine || p.UsualDose != 0 {
		t.Errorf("got %+v", p)
	}
	// A rename to a name that is taken is refused and changes nothing.
	must(t, func() (colorants.Product, error) { return a.AddColorant(ctx, colorants.Product{Name: "Rust Clay"}) })
	_, err := a.EditColorant(ctx, "Tide Blue", func(p *colorants.Product) error { p.Name = "rust CLAY"; return nil })
	if !errors.Is(err, ErrExists) || !strings.Contains(err.Error(), "rust CLAY") {
		t.Errorf("got %v, want ErrExists", err)
	}
	// So is one that cannot be, and an alteration that fails.
	stop := errors.New("stop")
	for want, alter := range map[error]func(*colorants.Product) error{
		ErrInvalid: func(p *colorants.Product) error { p.TeaspoonGrams = -1; return nil },
		stop:       func(*colorants.Product) error { return stop },
	} {
		if _, err := a.EditColorant(ctx, "Tide Blue", alter); !errors.Is(err, want) {
			t.Errorf("got %v, want %v", err, want)
		}
	}
}

func TestColorantsThatCannotBe(t *testing.T) {
	a, ctx := session(t), context.Background()
	for name, p := range map[string]colorants.Product{
		"no name":              {Name: " \t "},
		"a flag":               {Name: "--json"},
		"escape codes":         {Name: "Tide\x1b[31m Blue"},
		"a long name":          {Name: strings.Repeat("x", 81)},
		"unknown kind":         {Name: "x", Kind: "paint"},
		"L* 624":               {Name: "x", Swatch: &cie.Lab{L: 624}},
		"NaN":                  {Name: "x", Swatch: &cie.Lab{L: math.NaN()}},
		"dose beyond reason":   {Name: "x", UsualDose: 900},
		"negative dose":        {Name: "x", SwatchDose: -1},
		"NaN dose":             {Name: "x", UsualDose: unit.GramsPerKg(math.NaN())},
		"a teaspoon of 200 g":  {Name: "x", TeaspoonGrams: 200},
		"a label without end":  {Name: "x", Label: strings.Repeat("CI 77891, ", 70_000)},
		"a note without end":   {Name: "x", Note: strings.Repeat("long ", 30_000)},
		"text that is no text": {Name: "x", Note: "caf\xe9"},
	} {
		if _, err := a.AddColorant(ctx, p); err == nil {
			t.Errorf("%s was taken", name)
		} else if name != "text that is no text" && !errors.Is(err, ErrInvalid) {
			t.Errorf("%s: got %v, want ErrInvalid", name, err)
		}
	}
}

// What only the nouns can judge is found by the check of the book, by name.
func TestBookCheckAsksTheNouns(t *testing.T) {
	a, ctx := session(t), context.Background()
	must(t, func() (fragrance.Fragrance, error) {
		return a.AddFragrance(ctx, fragrance.Fragrance{Name: "Sea Fret", Vanillin: percent(60)})
	})
	r := must(t, func() (store.Report, error) { return a.BookCheck(ctx, nil) })
	if len(r.Problems) != 0 {
		t.Fatalf("got %+v", r.Problems)
	}
	// A share that the table allows and no fragrance can have beside the first.
	err := a.change(ctx, "spoil", func(tx *store.Tx) error {
		list, err := tx.Fragrances(ctx)
		if err != nil {
			return err
		}
		list[0].Others = []fragrance.Share{{Name: "eugenol", Percent: 70}}
		return tx.UpdateFragrance(ctx, list[0])
	})
	if err != nil {
		t.Fatal(err)
	}
	r = must(t, func() (store.Report, error) { return a.BookCheck(ctx, nil) })
	if len(r.Problems) != 1 || r.Problems[0].Where != `fragrance "Sea Fret"` || !strings.Contains(r.Problems[0].Try, "lyefast fragrance edit") {
		t.Errorf("got %+v", r.Problems)
	}
}

// The lists of a noun are never null in JSON, however it came about.
func TestListsAreNeverNull(t *testing.T) {
	a, ctx := session(t), context.Background()
	added := must(t, func() (fragrance.Fragrance, error) { return a.AddFragrance(ctx, fragrance.Fragrance{Name: "Sea Fret"}) })
	edited := must(t, func() (Edited[fragrance.Fragrance], error) {
		return a.EditFragrance(ctx, "Sea Fret", func(f *fragrance.Fragrance) error { f.Claims, f.Lot = nil, "7"; return nil })
	})
	found := must(t, func() (fragrance.Fragrance, error) { return a.Fragrance(ctx, "Sea Fret") })
	empty := must(t, func() ([]fragrance.Stabilizer, error) { return a.Stabilizers(ctx, true) })
	for _, v := range []any{added, edited.After, found, empty} {
		data, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		for _, null := range []string{`"other_browners":null`, `"allergens":null`, `"claims":null`} {
			if strings.Contains(string(data), null) || string(data) == "null" {
				t.Errorf("%s", data)
			}
		}
	}
}

func TestParseShare(t *testing.T) {
	for text, want := range map[string]fragrance.Share{
		"coumarin 3.1 %":               {Name: "coumarin", Percent: 3.1},
		"clove leaf oil 2%":            {Name: "clove leaf oil", Percent: 2},
		"eugenol: 0,5 %":               {Name: "eugenol", Percent: 0.5},
		"eugenol=12 %":                 {Name: "eugenol", Percent: 12},
		"4-allyl-2-methoxyphenol 1 %":  {Name: "4-allyl-2-methoxyphenol", Percent: 1},
		"alpha-isomethyl ionone 0.2 %": {Name: "alpha-isomethyl ionone", Percent: 0.2},
	} {
		if got, err := ParseShare(text); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q: got %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "coumarin", "3 %", "coumarin 3", "coumarin three %", strings.Repeat("a 1 ", 1000) + "1 %"} {
		if got, err := ParseShare(text); err == nil {
			t.Errorf("%q gave %+v", text, got)
		}
	}
}

func FuzzParseShare(f *testing.F) {
	for _, s := range []string{"coumarin 3.1 %", "a: 1%", "=1 %", "x 1,000 %", "x  %", "é\u00a05 %"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseShare(text)
		if err == nil && (math.IsNaN(float64(s.Percent)) || math.IsInf(float64(s.Percent), 0)) {
			t.Errorf("%q gave %v", text, s)
		}
	})
}
