package store

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"lyefast/internal/fragrance"
)

// FuzzOpen overwrites a part of a book, or cuts it, and asks that opening, reading
// and checking it end in an answer or an error, and that nothing is written to
// a file that could not be opened.
func FuzzOpen(f *testing.F) {
	ctx := context.Background()
	path := filepath.Join(f.TempDir(), "book.db")
	b, err := Create(ctx, path, fixed)
	if err != nil {
		f.Fatal(err)
	}
	if err := b.Change(ctx, "fill the shelf", func(tx *Tx) error {
		if _, err := tx.AddColorant(ctx, tide); err != nil {
			return err
		}
		if _, err := tx.AddFragrance(ctx, amberTonka); err != nil {
			return err
		}
		_, err := tx.AddStabilizer(ctx, fragrance.Stabilizer{Name: "Still Water"})
		return err
	}); err != nil {
		f.Fatal(err)
	}
	if err := b.Close(); err != nil {
		f.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range []struct {
		at, keep int
		with     string
	}{
		{0, 0, ""}, {0, 0, "SQLite format 3\x00"}, {0, 1 << 20, "GIF89a"}, {16, 1 << 20, "\x00\x01"}, {18, 1 << 20, "\x01\x01"},
		{60, 1 << 20, "\x00\x00\x00\x63"}, {68, 1 << 20, "\x00\x00\x00\x00"}, {100, 1 << 20, "\x05\xff\xff"}, {4096, 1 << 20, "\x0d\x00\x00\x10\x00"},
		{8000, 8192, "\xff\xff\xff\xff"}, {28, 1 << 20, "\xff\xff\xff\xff"},
	} {
		f.Add(s.at, s.keep, []byte(s.with))
	}
	f.Fuzz(func(t *testing.T, at, keep int, with []byte) {
		if at < 0 || keep < 0 {
			return
		}
		data := append([]byte{}, whole[:min(keep, len(whole))]...)
		if at < len(data) {
			copy(data[at:], with)
		}
		path := filepath.Join(t.TempDir(), "book.db")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Check(ctx, path, fixed, nil); err == nil && len(data) == 0 {
			t.Error("an empty file was called sound")
		}
		b, err := Open(ctx, path, fixed)
		if err == nil {
			// What comes is up to the damage; that an answer comes is what counts.
			_ = b.Read(ctx, func(tx *Tx) error {
				_, err := tx.Colorants(ctx)
				if err == nil {
					_, err = tx.Fragrances(ctx)
				}
				return err
			})
			b.Close()
		} else if after, _ := os.ReadFile(path); string(after) != string(data) && len(data) > 0 {
			t.Errorf("refused (%v) and yet altered", err)
		}
	})
}
