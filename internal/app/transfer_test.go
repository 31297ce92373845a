package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lyefast/internal/colorants"
	"lyefast/internal/exchange"
	"lyefast/internal/store"
)

func tonight() time.Time { return time.Date(2026, 11, 20, 21, 0, 0, 0, time.UTC) }

// oddPlan has line ends that a CSV file would change, and stays a plan.
const oddPlan = "title = \"Harbour Dawn\"\r\nsuperfat = \"5 %\"\r\nlye = { alkali = \"NaOH\", concentration = \"33 %\" }\n[oils]\n\"olive, refined\" = \"100 %\"\r\n" +
	"[[batter]]\nname = \"slab\"\noils = \"1000 g\"\n[[batter.portion]]\nname = \"shore\"\nparts = 1\n"

// oddBook is a session with a book whose texts try what a file could not hold.
func oddBook(t testing.TB) *App {
	t.Helper()
	ctx := context.Background()
	a := New(filepath.Join(t.TempDir(), "book.db"), tonight)
	t.Cleanup(func() { a.Close() })
	for i, note := range []string{"=1+1", "'=1+1", "json:x", "json:\"x\"", "-3", "a\r\nb\rc\n", "\tx", "\ufeffmark", "häfen, \"quay\"; 🜂", " blanks ", "@x", "+x", ""} {
		if _, err := a.AddColorant(ctx, colorants.Product{Name: fmt.Sprintf("Tide %d", i), Note: note}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := a.PourPlan(ctx, PourQuery{Data: []byte(oddPlan), File: "plan.toml", Code: "HD-01", At: "18:00"}); err != nil {
		t.Fatal(err)
	}
	if _, err := a.AddReading(ctx, ReadingQuery{Target: "HD-01/shore", Lab: []string{"88.30000000000001,-0.1,0.0000001"}, At: "19:00", Note: "json:"}); err != nil {
		t.Fatal(err)
	}
	return a
}

// exported reads what an export wrote, by name.
func exported(t testing.TB, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name()] = string(data)
	}
	return out
}

// A book carried out and in again, as a package or as CSV with a mark or without, is
// the same to the last byte of every text and the last digit of every number: carried
// out once more it gives the same files.
func TestExportComesBackExactly(t *testing.T) {
	ctx := context.Background()
	a := oddBook(t)
	for name, q := range map[string]ExportBookQuery{"package": {Package: true}, "csv": {}, "csv with a mark": {Mark: true}} {
		q.Dir = filepath.Join(t.TempDir(), "out")
		if _, err := a.ExportBook(ctx, q); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		want := exported(t, q.Dir)
		if q.Mark != strings.HasPrefix(want["colorant.csv"], "\ufeff") {
			t.Errorf("%s: the byte order mark is wrong", name)
		}
		for file, text := range want {
			for line := range strings.Lines(text) {
				if strings.HasSuffix(file, ".csv") && strings.ContainsAny(line[:1], "=+@\t") {
					t.Errorf("%s: a line of %s begins like a formula: %q", name, file, line)
				}
			}
		}
		b := New(filepath.Join(t.TempDir(), "new.db"), tonight)
		defer b.Close()
		if r, err := b.ImportBook(ctx, q.Dir, false); err != nil || !r.New {
			t.Fatalf("%s: %+v, %v", name, r, err)
		}
		q.Dir = filepath.Join(t.TempDir(), "again")
		if _, err := b.ExportBook(ctx, q); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		got := exported(t, q.Dir)
		for file := range want {
			if got[file] != want[file] {
				t.Errorf("%s: %s came back as\n%s\nwant\n%s", name, file, got[file], want[file])
			}
		}
		if plan, err := b.PlanOf(ctx, "HD-01"); err != nil || plan != oddPlan {
			t.Errorf("%s: the plan came back as %q, %v", name, plan, err)
		}
		if r, err := b.BookCheck(ctx, nil); err != nil || len(r.Problems) > 0 {
			t.Errorf("%s: %+v, %v", name, r.Problems, err)
		}
		// Into the book it came from it brings nothing.
		if r, err := a.ImportBook(ctx, q.Dir, false); err != nil || len(r.Merged.Added)+len(r.Merged.Conflicts) > 0 {
			t.Errorf("%s: taken into its own book: %+v, %v", name, r, err)
		}
	}
}

// ParseKeep reads what the help shows and refuses the rest.
func TestParseKeep(t *testing.T) {
	for s, want := range map[string]store.KeepRule{
		"10": {Newest: 10}, "7 daily, 4 weekly, 12 monthly": {Daily: 7, Weekly: 4, Monthly: 12}, " 3 newest ,2 Weekly": {Newest: 3, Weekly: 2},
	} {
		if got, err := ParseKeep(s); err != nil || got != want {
			t.Errorf("%q: got %+v, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "0", "-1", "daily", "7 hourly", "7 daily 4 weekly", "7 daily, 8 daily", "7,", "99999999999999999999 daily"} {
		if got, err := ParseKeep(s); !errors.Is(err, ErrInvalid) {
			t.Errorf("%q: got %+v, %v", s, got, err)
		}
	}
}

// resealed sets a file of a package and makes the description fit it, so that what is
// in the file is read and not its hash.
func resealed(files []exchange.File, name string, data []byte) []exchange.File {
	out := slices.Clone(files)
	var d map[string]any
	for i, f := range out {
		if f.Name == name {
			out[i].Data = data
		}
		if f.Name == "datapackage.json" {
			if json.Unmarshal(f.Data, &d) != nil {
				return out
			}
		}
	}
	resources, _ := d["resources"].([]any)
	for _, r := range resources {
		if m, ok := r.(map[string]any); ok && m["path"] == name {
			sum := sha256.Sum256(data)
			m["bytes"], m["hash"] = len(data), "sha256:"+hex.EncodeToString(sum[:])
		}
	}
	text, err := json.Marshal(d)
	if err != nil {
		return out
	}
	for i, f := range out {
		if f.Name == "datapackage.json" {
			out[i].Data = text
		}
	}
	return out
}

// FuzzImportBook puts other bytes in the place of one file of an export, a package or
// plain CSV, and asks for a refusal with a reason and no file, or a book that is sound.
func FuzzImportBook(f *testing.F) {
	ctx := context.Background()
	a := oddBook(f)
	var sets [2][]exchange.File
	for i, pack := range []bool{true, false} {
		dir := filepath.Join(f.TempDir(), fmt.Sprint("out", i))
		if _, err := a.ExportBook(ctx, ExportBookQuery{Dir: dir, Package: pack}); err != nil {
			f.Fatal(err)
		}
		var err error
		if sets[i], err = readFolder(dir); err != nil {
			f.Fatal(err)
		}
		for k, file := range sets[i] {
			if len(file.Data) < 1<<13 && k%5 == 0 {
				f.Add(pack, k, file.Data)
			}
		}
	}
	f.Add(true, 0, []byte(`{"name":"lyefast-book-format1","resources":[]}`))
	f.Add(false, 2, []byte("id,name\n1,=x\n"))
	f.Fuzz(func(t *testing.T, pack bool, which int, data []byte) {
		set := sets[1]
		if pack {
			set = sets[0]
		}
		if which < 0 || which >= len(set) || len(data) > 1<<16 {
			return
		}
		files := slices.Clone(set)
		if name := set[which].Name; pack && name != "datapackage.json" {
			files = resealed(set, name, data)
		} else {
			files[which].Data = data
		}
		path := filepath.Join(t.TempDir(), "built.db")
		_, err := buildBook(ctx, path, files, tonight)
		if err != nil {
			if strings.TrimSpace(err.Error()) == "" || strings.Contains(err.Error(), "panic") {
				t.Fatalf("refused with %q", err)
			}
			if left, _ := filepath.Glob(path + "*"); len(left) > 0 {
				t.Fatalf("refused (%v) and left %v", err, left)
			}
			return
		}
		b := New(path, tonight)
		defer b.Close()
		if r, err := store.Check(ctx, path, tonight, nil); err != nil || len(r.Problems) > 0 {
			t.Fatalf("built and yet %+v, %v", r.Problems, err)
		}
		if _, err := b.Batches(ctx, true); err != nil {
			t.Fatalf("built and its batches cannot be read: %v", err)
		}
		// A journal that does not fit is an error, not a crash.
		_, _ = b.Undo(ctx)
	})
}
