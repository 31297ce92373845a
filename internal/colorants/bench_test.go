package colorants

import (
	"encoding/csv"
	"strings"
	"testing"
)

// BenchmarkTable sets the cost of the first look at the table (rows and index)
// against its bare CSV decoding by encoding/csv in the same run.
func BenchmarkTable(b *testing.B) {
	b.Run("rows and index", func(b *testing.B) {
		for b.Loop() {
			list, err := parseFacts(factsCSV)
			if err != nil {
				b.Fatal(err)
			}
			newIndex(list)
		}
	})
	b.Run("encoding/csv alone", func(b *testing.B) {
		for b.Loop() {
			r := csv.NewReader(strings.NewReader(factsCSV))
			r.Comment = '#'
			if _, err := r.ReadAll(); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkRead sets reading a label against cutting it at its commas.
func BenchmarkRead(b *testing.B) {
	label := "Mica (CI 77019), Titanium Dioxide (CI 77891), Iron Oxides (CI 77491, CI 77492, CI 77499), FD&C Blue No. 1 Aluminum Lake, Aqua, Parfum, Linalool [+/- CI 77510]"
	Read(label)
	b.Run("Read", func(b *testing.B) {
		for b.Loop() {
			Read(label)
		}
	})
	b.Run("strings.Split alone", func(b *testing.B) {
		for b.Loop() {
			strings.Split(label, ",")
		}
	})
}
