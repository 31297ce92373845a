package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/photo"
	"lyefast/internal/unit"
)

var dawn = time.Date(2026, 11, 20, 6, 45, 30, 0, time.FixedZone("", 3600))

func fixed() time.Time { return dawn }

// fresh makes a book in a folder of the test's own.
func fresh(t *testing.T) *Book {
	t.Helper()
	b, err := Create(context.Background(), filepath.Join(t.TempDir(), "book.db"), fixed)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

func change(t *testing.T, b *Book, what string, f func(*Tx) error) {
	t.Helper()
	if err := b.Change(context.Background(), what, f); err != nil {
		t.Fatal(err)
	}
}

func add(t *testing.T, b *Book, name string) {
	t.Helper()
	change(t, b, "add colourant "+name, func(tx *Tx) error {
		_, err := tx.AddColorant(context.Background(), colorants.Product{Name: name})
		return err
	})
}

func shelf(t *testing.T, b *Book) []colorants.Product {
	t.Helper()
	var list []colorants.Product
	if err := b.Read(context.Background(), func(tx *Tx) (err error) {
		list, err = tx.Colorants(context.Background())
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return list
}

func shelfNames(t *testing.T, b *Book) string {
	t.Helper()
	var names []string
	for _, p := range shelf(t, b) {
		names = append(names, p.Name)
	}
	return strings.Join(names, ", ")
}

// named finds one of a list by its name, as the shelf compares names.
func named[T any](ctx context.Context, list func(context.Context) ([]T, error), name string) (T, error) {
	var none T
	all, err := list(ctx)
	for _, v := range all {
		if NameKey(reflect.ValueOf(v).FieldByName("Name").String()) == NameKey(name) {
			return v, nil
		}
	}
	return none, errors.Join(err, ErrNotFound)
}

func percent(v float64) *unit.Percent { p := unit.Percent(v); return &p }

var (
	tide = colorants.Product{
		Name: "Tide Blue", Label: "Mica (CI 77019), CI 77007", Kind: colorants.KindMica,
		Swatch: &cie.Lab{L: 42.1, A: -3.25, B: -24.000000000000004}, SwatchBasis: "maker", SwatchDose: 5, UsualDose: 0.1 + 0.2,
		TeaspoonGrams: 2.7, Claim: "stable in all soap", Lot: "07/26", Note: "from the blue tin\nsecond line",
	}
	flash      = unit.Celsius(93.4)
	amberTonka = fragrance.Fragrance{
		Name: "Amber Tonka", Vanillin: percent(4), EthylVanillin: percent(0), FlashPoint: &flash,
		Others:    []fragrance.Share{{Name: "heliotropin", Percent: 1.5}, {Name: "clove leaf oil", Percent: 2}},
		Allergens: []fragrance.Share{{Name: "coumarin", Percent: 3.1}},
		MaxUse:    &fragrance.MaxUse{Percent: 5.2, Category: "9", Amendment: "51", Date: "2026-03-01"},
		Claims:    []string{"no discolouration"}, Moves: fragrance.Fast, Lot: "A1", Note: "smells of rope",
	}
	quietWhite = fragrance.Stabilizer{Name: "Quiet White", Active: fragrance.SodiumSulfite, Strength: percent(8.3), Note: "keep cool"}
	lamp       = formula.Oil{
		Key: "lamp", Name: "Lamp Oil Olive", INCI: "Olea Europaea", SVMin: 184, SVMax: 196, CertificateSV: 189.7,
		Unsaponifiable: 1.5, Kind: formula.Triglyceride, Tint: formula.Yellow, Source: "lot paper", Lot: "9", Note: "n",
	}
	quayChart = photo.Card{Name: "Quay Chart", Kind: photo.ChartCard, Edition: photo.Before2014, Note: "corner bent"}
	quaySheet = photo.Card{Name: "Quay Sheet", Kind: photo.SheetCard, Lab: &cie.Lab{L: 93.25, A: 0.1 + 0.2, B: -2.5}, LearntFrom: "dawn.jpg, beside a chart"}
)

// Misspelt settings are ignored silently by the driver, so every one is read back.
func TestSettingsTakeEffect(t *testing.T) {
	b := fresh(t)
	for pragma, want := range map[string]string{
		"journal_mode": "wal", "foreign_keys": "1", "busy_timeout": "5000", "trusted_schema": "0",
		"application_id": fmt.Sprint(applicationID), "user_version": fmt.Sprint(latest(t)),
	} {
		var got string
		if err := b.db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s is %q (%v), want %q", pragma, got, err, want)
		}
	}
	// A misspelt column in double quotes must be an error, not a string.
	if err := b.db.QueryRow(`SELECT "nmae" FROM colorant`).Err(); err == nil {
		t.Error("a name in double quotes that is no column passed as text")
	}
	// Defensive: the schema cannot be written as data.
	if _, err := b.db.Exec(`PRAGMA writable_schema = on; DELETE FROM sqlite_schema WHERE name = 'oil'`); err == nil {
		t.Error("the schema could be written as data")
	}
	// An immediate transaction holds the write lock before its first write.
	tx, err := b.db.BeginTx(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	other, err := sql.Open("sqlite", strings.Replace(dsn(b.path, "rw", true), "5000", "1", 1))
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := other.Exec(`INSERT INTO change (at, kind, what) VALUES ('2026-01-01T00:00:00Z', 'change', 'x')`); code(err) != codeBusy {
		t.Errorf("a second writer got %v, want busy: the lock mode is not immediate", err)
	}
}

// A path is a path, whatever signs are in it.
func TestOddPaths(t *testing.T) {
	for _, name := range []string{"a?b.db", "a#b.db", "a%20b.db", "a b&c=d.db", "écru;.db", "?mode=memory"} {
		path := filepath.Join(t.TempDir(), name, name)
		b, err := Create(context.Background(), path, fixed)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		add(t, b, "Tide Blue")
		b.Close()
		if _, err := os.Stat(path); err != nil {
			t.Errorf("%q: the book is elsewhere: %v", name, err)
		}
		again, err := Open(context.Background(), path, fixed)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		if got := shelfNames(t, again); got != "Tide Blue" {
			t.Errorf("%q: the shelf holds %q", name, got)
		}
		again.Close()
	}
}

func TestReadingMakesNoBook(t *testing.T) {
	dir := t.TempDir()
	_, err := Open(context.Background(), filepath.Join(dir, "deep", "book.db"), fixed)
	if !errors.Is(err, ErrNoBook) {
		t.Errorf("got %v, want ErrNoBook", err)
	}
	left, _ := os.ReadDir(dir)
	if len(left) != 0 {
		t.Errorf("something was written: %v", left)
	}
	// An empty file is what a kill in the first moment of making a book leaves.
	path := filepath.Join(dir, "empty.db")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(context.Background(), path, fixed); !errors.Is(err, ErrNoBook) {
		t.Errorf("an empty file: got %v, want ErrNoBook", err)
	}
	b, err := Create(context.Background(), path, fixed)
	if err != nil {
		t.Fatal(err)
	}
	b.Close()
}

func TestWhatIsNoBookIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	foreign := func(name, script string) string {
		path := filepath.Join(dir, name)
		db, err := sql.Open("sqlite", "file:"+path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Exec(script); err != nil {
			t.Fatal(err)
		}
		return path
	}
	b := fresh(t)
	for i := range 300 { // enough for many pages
		add(t, b, fmt.Sprintf("Pigment %03d %s", i, strings.Repeat("x", 200)))
	}
	b.Close()
	whole, err := os.ReadFile(b.path)
	if err != nil {
		t.Fatal(err)
	}
	smashed := append([]byte{}, whole...)
	for i := 4096; i < len(smashed); i++ {
		smashed[i] = byte(i * 7)
	}
	for _, c := range []struct {
		name, path string
		kind       error
	}{
		{"text", write("notes.txt", []byte(strings.Repeat("tide blue holds\n", 500))), ErrNotABook},
		{"a few bytes", write("short.db", []byte("SQLite")), ErrNotABook},
		{"another program's", foreign("other.db", "PRAGMA application_id = 7; CREATE TABLE t (x)"), ErrNotABook},
		{"nobody's", foreign("nobody.db", "CREATE TABLE t (x)"), ErrNotABook},
		{"a newer one", foreign("newer.db", fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = 99; CREATE TABLE t (x)", applicationID)), ErrNewer},
		{"cut off", write("cut.db", whole[:len(whole)/2]), ErrDamaged},
		{"overwritten from its second page", write("smashed.db", smashed), ErrDamaged},
		{"a folder", dir, ErrNotABook},
	} {
		t.Run(c.name, func(t *testing.T) {
			before, _ := os.ReadFile(c.path)
			for _, open := range []func(context.Context, string, func() time.Time) (*Book, error){Open, Create} {
				b, err := open(context.Background(), c.path, fixed)
				if err == nil {
					// Damage further in shows at the first look.
					err = b.Read(context.Background(), func(tx *Tx) error {
						_, err := tx.Colorants(context.Background())
						return err
					})
					b.Close()
				}
				if !errors.Is(err, c.kind) {
					t.Errorf("got %v, want %v", err, c.kind)
				}
				var own *Error
				if !errors.As(err, &own) || own.Hint() == "" || !strings.Contains(err.Error(), c.path) {
					t.Errorf("%v does not name the file and what to try", err)
				}
			}
			after, _ := os.ReadFile(c.path)
			if string(before) != string(after) {
				t.Error("the file was altered")
			}
			for _, extra := range []string{"-wal", "-shm", "-journal"} {
				if info, err := os.Stat(c.path + extra); err == nil && info.Size() > 0 {
					t.Errorf("a %s was left beside it", extra)
				}
			}
		})
	}
}

// Every field comes back as it went in, floats to the last bit.
func TestShelfKeepsEveryField(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	change(t, b, "fill the shelf", func(tx *Tx) error {
		_, err1 := tx.AddColorant(ctx, tide)
		_, err2 := tx.AddFragrance(ctx, amberTonka)
		_, err3 := tx.AddFragrance(ctx, fragrance.Fragrance{Name: "Unknown Papers"})
		_, err4 := tx.AddStabilizer(ctx, quietWhite)
		_, err5 := tx.AddOil(ctx, lamp)
		_, err6 := tx.AddCard(ctx, quayChart)
		_, err7 := tx.AddCard(ctx, quaySheet)
		return errors.Join(err1, err2, err3, err4, err5, err6, err7)
	})
	check := func(when string) {
		t.Helper()
		err := b.Read(ctx, func(tx *Tx) error {
			c, err1 := named(ctx, tx.Colorants, "  tide   BLUE ")
			f, err2 := named(ctx, tx.Fragrances, "amber tonka")
			u, err3 := named(ctx, tx.Fragrances, "unknown papers")
			s, err4 := named(ctx, tx.Stabilizers, "QUIET WHITE")
			o, err5 := named(ctx, tx.Oils, "lamp oil olive")
			chart, err6 := named(ctx, tx.Cards, "QUAY chart")
			sheet, err7 := named(ctx, tx.Cards, "quay  sheet")
			c.ID, f.ID, s.ID, o.ID, chart.ID, sheet.ID = 0, 0, 0, 0, 0, 0
			for _, pair := range [][2]any{{c, tide}, {f, amberTonka}, {s, quietWhite}, {o, lamp}, {chart, quayChart}, {sheet, quaySheet}} {
				if !reflect.DeepEqual(pair[0], pair[1]) {
					t.Errorf("%s: got  %+v\nwant %+v", when, pair[0], pair[1])
				}
			}
			if u.Vanillin != nil || u.EthylVanillin != nil || u.MaxUse != nil || u.FlashPoint != nil || u.Claims == nil || u.Others == nil || u.Allergens == nil {
				t.Errorf("%s: what is not known must stay not known, lists empty: %+v", when, u)
			}
			return errors.Join(err1, err2, err3, err4, err5, err6, err7)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	check("after adding")
	change(t, b, "alter everything", func(tx *Tx) error {
		c, err1 := named(ctx, tx.Colorants, tide.Name)
		f, err2 := named(ctx, tx.Fragrances, amberTonka.Name)
		s, err3 := named(ctx, tx.Stabilizers, quietWhite.Name)
		o, err4 := named(ctx, tx.Oils, lamp.Name)
		err5 := tx.UpdateColorant(ctx, colorants.Product{ID: c.ID, Name: "Other", Retired: true})
		err6 := tx.UpdateFragrance(ctx, fragrance.Fragrance{ID: f.ID, Name: "Other", Vanillin: percent(9)})
		err7 := tx.UpdateStabilizer(ctx, fragrance.Stabilizer{ID: s.ID, Name: "Other"})
		err8 := tx.UpdateOil(ctx, formula.Oil{ID: o.ID, Key: "x", Name: "Other", SVMax: 1, Kind: formula.FreeAcid})
		k, err9 := named(ctx, tx.Cards, quaySheet.Name)
		err10 := tx.UpdateCard(ctx, photo.Card{ID: k.ID, Name: "Other", Kind: photo.ChartCard, Edition: photo.After2014, Retired: true})
		return errors.Join(err1, err2, err3, err4, err5, err6, err7, err8, err9, err10)
	})
	if got := shelfNames(t, b); got != "Other" {
		t.Errorf("the shelf holds %q", got)
	}
	if _, err := b.Undo(ctx); err != nil {
		t.Fatal(err)
	}
	check("after undo")
}

func TestNamesAreOneWhateverTheirSpelling(t *testing.T) {
	b := fresh(t)
	add(t, b, "Écru Dawn")
	for _, same := range []string{"écru dawn", "ÉCRU DAWN", "E\u0301cru  Dawn", " Écru\tDawn "} {
		err := b.Change(context.Background(), "add", func(tx *Tx) error {
			_, err := tx.AddColorant(context.Background(), colorants.Product{Name: strings.TrimSpace(same)})
			return err
		})
		if !errors.Is(err, ErrExists) {
			t.Errorf("%q: got %v, want ErrExists", same, err)
		}
	}
	if got := shelfNames(t, b); got != "Écru Dawn" {
		t.Errorf("the shelf holds %q", got)
	}
}

func TestWhatSQLiteWouldBendIsRefused(t *testing.T) {
	b := fresh(t)
	ctx := context.Background()
	for name, p := range map[string]colorants.Product{
		"NaN dose":       {Name: "a", UsualDose: unit.GramsPerKg(math.NaN())},
		"infinite dose":  {Name: "a", UsualDose: unit.GramsPerKg(math.Inf(1))},
		"NaN swatch":     {Name: "a", Swatch: &cie.Lab{L: math.NaN()}},
		"not UTF-8":      {Name: "a", Note: "caf\xe9"},
		"zero byte":      {Name: "a", Note: "a\x00b"},
		"impossible L*":  {Name: "a", Swatch: &cie.Lab{L: 624}},
		"negative spoon": {Name: "a", TeaspoonGrams: -1},
		"no name":        {},
		"blanks around":  {Name: " a"},
	} {
		err := b.Change(ctx, "add", func(tx *Tx) error {
			_, err := tx.AddColorant(ctx, p)
			return err
		})
		if err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	if got := shelfNames(t, b); got != "" {
		t.Errorf("the shelf holds %q", got)
	}
}

// Moments are kept as RFC 3339 text in UTC, never as the driver's debug text.
func TestMomentsAreText(t *testing.T) {
	b := fresh(t)
	add(t, b, "Tide Blue")
	var at, created, kind string
	err := b.db.QueryRow(`SELECT (SELECT at FROM change), created_at, typeof(created_at) FROM colorant`).Scan(&at, &created, &kind)
	if want := "2026-11-20T05:45:30Z"; err != nil || at != want || created != want || kind != "text" {
		t.Errorf("got %q and %q (%s, %v), want %q as text", at, created, kind, err, want)
	}
}

func TestFailedChangeLeavesNothing(t *testing.T) {
	b := fresh(t)
	want := errors.New("stop")
	err := b.Change(context.Background(), "add two", func(tx *Tx) error {
		if _, err := tx.AddColorant(context.Background(), tide); err != nil {
			return err
		}
		return want
	})
	if !errors.Is(err, want) {
		t.Errorf("got %v", err)
	}
	if got := shelfNames(t, b); got != "" {
		t.Errorf("half a change stayed: %q", got)
	}
	if _, err := b.Undo(context.Background()); !errors.Is(err, ErrNothingLeft) {
		t.Errorf("the journal kept a change that failed: %v", err)
	}
}

func TestUndoWalksBackAndRedoReturns(t *testing.T) {
	ctx := context.Background()
	b := fresh(t)
	add(t, b, "A")
	add(t, b, "B")
	change(t, b, "retire A", func(tx *Tx) error {
		p, err := named(ctx, tx.Colorants, "A")
		if err != nil {
			return err
		}
		p.Retired = true
		return tx.UpdateColorant(ctx, p)
	})
	change(t, b, "nothing", func(*Tx) error { return nil }) // leaves no trace
	change(t, b, "the same again", func(tx *Tx) error {
		p, err := named(ctx, tx.Colorants, "B")
		if err != nil {
			return err
		}
		return tx.UpdateColorant(ctx, p)
	})
	look := func() string {
		var s []string
		for _, p := range shelf(t, b) {
			s = append(s, fmt.Sprint(p.Name, p.Retired))
		}
		return strings.Join(s, " ")
	}
	do := func(f func(context.Context) (Change, error), what, want string) {
		t.Helper()
		c, err := f(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if c.What != what || look() != want {
			t.Errorf("took back %q, shelf %q; want %q, %q", c.What, look(), what, want)
		}
	}
	none := func(f func(context.Context) (Change, error)) {
		t.Helper()
		before := look()
		if c, err := f(ctx); !errors.Is(err, ErrNothingLeft) || look() != before {
			t.Errorf("got %+v, %v", c, err)
		}
	}
	none(b.Redo)
	do(b.Undo, "retire A", "Afalse Bfalse")
	do(b.Undo, "add colourant B", "Afalse")
	do(b.Redo, "add colourant B", "Afalse Bfalse")
	do(b.Redo, "retire A", "Atrue Bfalse")
	none(b.Redo)
	do(b.Undo, "retire A", "Afalse Bfalse")
	do(b.Undo, "add colourant B", "Afalse")
	do(b.Undo, "add colourant A", "")
	none(b.Undo)
	do(b.Redo, "add colourant A", "Afalse")
	add(t, b, "C")
	none(b.Redo) // B cannot come back past a newer change
	do(b.Undo, "add colourant C", "Afalse")
	do(b.Undo, "add colourant A", "")
	none(b.Undo)
	if r, err := Check(ctx, b.path, fixed, nil); err != nil || len(r.Problems) > 0 {
		t.Errorf("the journal does not check: %+v, %v", r, err)
	}
}

// Whatever was changed, undoing everything gives the empty shelf, and redoing
// everything gives the same shelf to the last bit.
func TestUndoAllRedoAll(t *testing.T) {
	ctx := context.Background()
	rnd := rand.New(rand.NewPCG(1, 2))
	b := fresh(t)
	number := func() float64 { return rnd.Float64() * math.Pow(10, float64(rnd.IntN(5)-3)) }
	for i := range 40 {
		change(t, b, fmt.Sprint("change ", i), func(tx *Tx) error {
			list, err := tx.Colorants(ctx)
			if err != nil {
				return err
			}
			scents, err := tx.Fragrances(ctx)
			if err != nil {
				return err
			}
			p := colorants.Product{Name: fmt.Sprint("pigment ", i), UsualDose: unit.GramsPerKg(number()), Note: "“π” \\ \" \x01 \u2028 😀"}
			if rnd.IntN(2) == 0 {
				p.Swatch = &cie.Lab{L: number(), A: -number(), B: math.Copysign(0, -1)}
			}
			f := fragrance.Fragrance{Name: fmt.Sprint("scent ", i), Vanillin: percent(number()), Claims: []string{"claim", p.Note},
				Others: []fragrance.Share{{Name: "a", Percent: unit.Percent(number())}}}
			if len(list) > 2 && rnd.IntN(2) == 0 {
				p.ID = list[rnd.IntN(len(list))].ID
				f.ID = scents[rnd.IntN(len(scents))].ID
				return errors.Join(tx.UpdateColorant(ctx, p), tx.UpdateFragrance(ctx, f))
			}
			_, err = tx.AddColorant(ctx, p)
			_, err2 := tx.AddFragrance(ctx, f)
			return errors.Join(err, err2)
		})
	}
	everything := func() (all string) {
		for _, table := range []string{"colorant", "fragrance", "fragrance_share", "fragrance_claim"} {
			rows, err := b.db.Query(`SELECT * FROM ` + table + ` ORDER BY id`)
			if err != nil {
				t.Fatal(err)
			}
			columns, _ := rows.Columns()
			for rows.Next() {
				cells := make([]any, len(columns))
				at := make([]any, len(columns))
				for i := range cells {
					at[i] = &cells[i]
				}
				if err := rows.Scan(at...); err != nil {
					t.Fatal(err)
				}
				for _, c := range cells {
					if x, ok := c.(float64); ok {
						c = math.Float64bits(x + 0) // SQLite keeps no negative zero
					}
					all += fmt.Sprintf("%v|", c)
				}
			}
			rows.Close()
		}
		return all
	}
	full := everything()
	steps := 0
	for {
		if _, err := b.Undo(ctx); errors.Is(err, ErrNothingLeft) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		steps++
	}
	if got := everything(); got != "" || steps != 40 {
		t.Errorf("after %d undos there is still %s", steps, got)
	}
	for range steps {
		if _, err := b.Redo(ctx); err != nil {
			t.Fatal(err)
		}
	}
	if got := everything(); got != full {
		t.Errorf("undo and redo did not give the same book back\ngot  %s\nwant %s", got, full)
	}
}

const second = `ALTER TABLE colorant ADD COLUMN shelf_place TEXT NOT NULL DEFAULT '';
UPDATE colorant SET note = note || ' (moved)';
CREATE TABLE jar (id INTEGER PRIMARY KEY, colorant_id INTEGER NOT NULL REFERENCES colorant (id), picture BLOB) STRICT;`

// latest is the number of the newest format.
func latest(t *testing.T) int {
	t.Helper()
	steps, err := listSteps(migrations)
	if err != nil {
		t.Fatal(err)
	}
	return len(steps)
}

// older is the real first step alone; later has an invented second one.
func older(t *testing.T) fstest.MapFS {
	t.Helper()
	first, err := fs.ReadFile(migrations, "0001_shelf.sql")
	if err != nil {
		t.Fatal(err)
	}
	return fstest.MapFS{"0001_shelf.sql": {Data: first}}
}

func later(t *testing.T, script string) fstest.MapFS {
	t.Helper()
	steps := older(t)
	steps["0002_jars.sql"] = &fstest.MapFile{Data: []byte(script)}
	return steps
}

// freshOlder makes a book of the first format.
func freshOlder(t *testing.T) *Book {
	t.Helper()
	b, err := open(context.Background(), filepath.Join(t.TempDir(), "book.db"), fixed, true, older(t))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func schema(t *testing.T, b *Book) string {
	t.Helper()
	list, err := texts(context.Background(), b.db, `SELECT type || ' ' || name || ' ' || coalesce(sql, '') FROM sqlite_schema ORDER BY type, name`)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(list, "\n")
}

func TestOlderBookIsCopiedThenMigrated(t *testing.T) {
	ctx := context.Background()
	b := freshOlder(t)
	add(t, b, "Tide Blue")
	add(t, b, "Rust Clay")
	old := schema(t, b)
	b.Close()

	m, err := open(ctx, b.path, fixed, false, later(t, second))
	if err != nil {
		t.Fatal(err)
	}
	defer m.Close()
	if want := b.path + ".format1-20261120T054530Z"; m.Migrated() != want {
		t.Errorf("the copy is %q, want %q", m.Migrated(), want)
	}
	kept, err := open(ctx, m.Migrated(), fixed, false, older(t))
	if err != nil {
		t.Fatal(err)
	}
	defer kept.Close()
	if schema(t, kept) != old || shelfNames(t, kept) != "Rust Clay, Tide Blue" {
		t.Error("the copy is not the book as it was")
	}

	made, err := open(ctx, filepath.Join(t.TempDir(), "new.db"), fixed, true, later(t, second))
	if err != nil {
		t.Fatal(err)
	}
	defer made.Close()
	if got, want := schema(t, m), schema(t, made); got != want {
		t.Errorf("a migrated book differs from a new one\ngot  %s\nwant %s", got, want)
	}
	if shelfNames(t, m) != "Rust Clay, Tide Blue" {
		t.Errorf("the shelf holds %q", shelfNames(t, m))
	}
	// What the migration rewrote is nothing the maker did: undo takes back the
	// last thing the maker did, and the new table is journalled like the others.
	change(t, m, "fill a jar", func(tx *Tx) error {
		_, err := tx.insert(ctx, `INSERT INTO jar (colorant_id, picture) VALUES (1, x'00ff10')`)
		return err
	})
	change(t, m, "empty the jar", func(tx *Tx) error {
		_, err := tx.exec(ctx, `DELETE FROM jar`)
		return err
	})
	for _, want := range []string{"empty the jar", "fill a jar", "add colourant Rust Clay"} {
		if want == "fill a jar" {
			var picture []byte
			if err := m.db.QueryRow(`SELECT picture FROM jar`).Scan(&picture); err != nil || string(picture) != "\x00\xff\x10" {
				t.Errorf("the picture came back as %x, %v", picture, err)
			}
		}
		c, err := m.Undo(ctx)
		if err != nil || c.What != want {
			t.Errorf("took back %q (%v), want %q", c.What, err, want)
		}
	}
	if got := shelf(t, m); len(got) != 1 || got[0].Note != " (moved)" {
		t.Errorf("the shelf holds %+v", got)
	}
	// The program of the format before refuses it.
	m.Close()
	if _, err := open(ctx, b.path, fixed, false, older(t)); !errors.Is(err, ErrNewer) {
		t.Errorf("got %v, want ErrNewer", err)
	}
}

func TestFailedMigrationLeavesTheBook(t *testing.T) {
	b := freshOlder(t)
	add(t, b, "Tide Blue")
	b.Close()
	bad := later(t, second+"\nCREATE TABLE oil (id INTEGER PRIMARY KEY);")
	if _, err := open(context.Background(), b.path, fixed, false, bad); err == nil {
		t.Fatal("a step that cannot run was taken for done")
	}
	again, err := open(context.Background(), b.path, fixed, false, older(t))
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if got := shelf(t, again); len(got) != 1 || got[0].Note != "" {
		t.Errorf("half a step stayed: %+v", got)
	}
}

func TestStepsAreNumberedWithoutGaps(t *testing.T) {
	if _, err := listSteps(fstest.MapFS{"0001_a.sql": {}, "0003_b.sql": {}}); err == nil {
		t.Error("a gap passed")
	}
	if list, err := listSteps(migrations); err != nil || len(list) == 0 {
		t.Errorf("got %v, %v", list, err)
	}
}

// A book of every released format still opens with every row. The files are what
// the program of that format wrote, as SQL.
func TestSavedBooksStillOpen(t *testing.T) {
	saved, err := filepath.Glob("testdata/book-format*.sql")
	if err != nil || len(saved) == 0 {
		t.Fatalf("no saved books: %v", err)
	}
	for _, file := range saved {
		t.Run(filepath.Base(file), func(t *testing.T) {
			script, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
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
			b, err := Open(context.Background(), path, fixed)
			if err != nil {
				t.Fatal(err)
			}
			defer b.Close()
			ctx := context.Background()
			err = b.Read(ctx, func(tx *Tx) error {
				c, err1 := named(ctx, tx.Colorants, tide.Name)
				f, err2 := named(ctx, tx.Fragrances, amberTonka.Name)
				s, err3 := named(ctx, tx.Stabilizers, quietWhite.Name)
				o, err4 := named(ctx, tx.Oils, lamp.Name)
				c.ID, f.ID, s.ID, o.ID = 0, 0, 0, 0
				for _, pair := range [][2]any{{c, tide}, {f, amberTonka}, {s, quietWhite}, {o, lamp}} {
					if !reflect.DeepEqual(pair[0], pair[1]) {
						t.Errorf("got  %+v\nwant %+v", pair[0], pair[1])
					}
				}
				return errors.Join(err1, err2, err3, err4)
			})
			if err != nil {
				t.Fatal(err)
			}
			if r, err := Check(ctx, path, fixed, nil); err != nil || len(r.Problems) > 0 {
				t.Errorf("it does not check: %+v, %v", r, err)
			}
			if _, err := b.Undo(ctx); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestBackupIsWholeAndOverwritesNothing(t *testing.T) {
	b := fresh(t)
	add(t, b, "Tide Blue")
	to := filepath.Join(t.TempDir(), "copy of #1.db")
	if err := b.Backup(context.Background(), to); err != nil {
		t.Fatal(err)
	}
	c, err := Open(context.Background(), to, fixed)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if got := shelfNames(t, c); got != "Tide Blue" {
		t.Errorf("the copy holds %q", got)
	}
	if err := b.Backup(context.Background(), to); !errors.Is(err, ErrExists) {
		t.Errorf("got %v, want ErrExists", err)
	}
}

func TestCheckFinds(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct{ name, spoil, where, what string }{
		{"a sound book", "", "", ""},
		{"a value that cannot be", `PRAGMA ignore_check_constraints = on; UPDATE colorant SET teaspoon_g = -4`, "table colorant", "cannot be"},
		{"a share of no fragrance", `PRAGMA foreign_keys = off; INSERT INTO fragrance_share (fragrance_id, role, position, name, percent) VALUES (99, 'browner', 0, 'x', 1)`, "table fragrance_share", "fragrance that is not there"},
		{"a journal row of no change", `PRAGMA foreign_keys = off; INSERT INTO change_row (change_id, tbl, row_id, op) VALUES (99, 'colorant', 1, 'insert')`, "table change_row", "change that is not there"},
		{"a journal of no table", `INSERT INTO change_row (change_id, tbl, row_id, op) VALUES (1, 'gone', 1, 'insert')`, "journal", `"gone"`},
		{"an undo of nothing", `INSERT INTO change (at, kind, what) VALUES ('2026-01-01T00:00:00Z', 'undo', 'x')`, "journal", "does not fit"},
		{"a table out of the journal", `DROP TRIGGER journal_oil_update`, "table oil", "not journalled"},
		{"a name filed wrongly", `UPDATE colorant SET name_key = 'x'`, "table colorant", "cannot be found"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := fresh(t)
			add(t, b, "Tide Blue")
			if c.spoil != "" {
				conn, err := b.db.Conn(ctx)
				if err != nil {
					t.Fatal(err)
				}
				if _, err := conn.ExecContext(ctx, c.spoil); err != nil {
					t.Fatal(err)
				}
				conn.Close()
			}
			b.Close()
			r, err := Check(ctx, b.path, fixed, nil)
			if err != nil {
				t.Fatal(err)
			}
			if c.spoil == "" {
				if len(r.Problems) > 0 || r.Format != latest(t) || r.Changes != 1 || r.Bytes == 0 {
					t.Errorf("got %+v", r)
				}
				return
			}
			found := false
			for _, p := range r.Problems {
				found = found || strings.HasPrefix(p.Where, c.where) && strings.Contains(p.What, c.what)
				if p.Try == "" {
					t.Errorf("%+v says not what to do", p)
				}
			}
			if !found {
				t.Errorf("got %+v, want %q at %q", r.Problems, c.what, c.where)
			}
		})
	}
}

func TestCheckOfADamagedFile(t *testing.T) {
	b := fresh(t)
	for i := range 200 {
		add(t, b, fmt.Sprintf("Pigment %03d %s", i, strings.Repeat("x", 200)))
	}
	b.Close()
	data, err := os.ReadFile(b.path)
	if err != nil {
		t.Fatal(err)
	}
	for name, spoiled := range map[string][]byte{
		"cut off": data[:len(data)-8192],
		"smashed": func() []byte {
			d := append([]byte{}, data...)
			for i := 3 * 4096; i < len(d); i++ {
				d[i] ^= 0x5a
			}
			return d
		}(),
	} {
		path := filepath.Join(t.TempDir(), "book.db")
		if err := os.WriteFile(path, spoiled, 0o600); err != nil {
			t.Fatal(err)
		}
		r, err := Check(context.Background(), path, fixed, nil)
		if err != nil || len(r.Problems) == 0 {
			t.Errorf("%s: got %+v, %v", name, r, err)
		}
		after, _ := os.ReadFile(path)
		if string(after) != string(spoiled) {
			t.Errorf("%s: the check wrote to the file", name)
		}
	}
}
