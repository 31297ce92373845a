// Package testkit holds what the tests of several packages share: finding the
// reference data that is kept outside the repository, and reading its tables.
package testkit

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Shared gives the path of a file of the shared reference data. The folder is
// named by LYEFAST_SHARED, or is a folder "shared" beside a parent of the test.
// Where it is absent the test is skipped with the reason, or fails if
// LYEFAST_REQUIRE is "all".
func Shared(t testing.TB, name string) string {
	t.Helper()
	if root := sharedRoot(); root != "" {
		path := filepath.Join(root, filepath.FromSlash(name))
		if _, err := os.Stat(path); err == nil {
			return path
		}
	}
	Need(t, "the shared reference data ("+name+") is not on this machine; set LYEFAST_SHARED to its folder")
	return ""
}

// Need skips the test for want of something outside the repository, or fails it
// where LYEFAST_REQUIRE=all says that everything must be there.
func Need(t testing.TB, reason string) {
	t.Helper()
	if os.Getenv("LYEFAST_REQUIRE") == "all" {
		t.Fatal(reason)
	}
	t.Skip(reason)
}

func sharedRoot() string {
	if dir := os.Getenv("LYEFAST_SHARED"); dir != "" {
		return dir
	}
	dir, err := os.Getwd()
	if err != nil {
		return ""
	}
	for {
		shared := filepath.Join(dir, "shared")
		if _, err := os.Stat(filepath.Join(shared, "reference")); err == nil {
			return shared
		}
		parent := filepath.Dir(dir)
		if parent == dir {
			return ""
		}
		dir = parent
	}
}

// Table reads a CSV file with "#" comments and a header line into one map a row.
func Table(t testing.TB, path string) []map[string]string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(data)))
	r.Comment = '#'
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", filepath.Base(path), err)
	}
	if len(rows) < 2 {
		t.Fatalf("%s holds no rows", filepath.Base(path))
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			if i < len(row) {
				m[name] = row[i]
			}
		}
		out = append(out, m)
	}
	return out
}
