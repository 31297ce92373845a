package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// BenchmarkStartUp runs lyefast and its peers in turn, as whole processes, and
// reports the ratio of their median times. Wanted are
//
//	version-over-bare below 1.3: `version` against a bare program with the same libraries
//	check-over-version below 3:  `plan check` with an empty home against `version`
//
//	go test -run '^$' -bench StartUp -benchtime 100x ./cmd/lyefast
func BenchmarkStartUp(b *testing.B) {
	lyefast, err := built()
	if err != nil {
		b.Fatal(err)
	}
	bare, err := build("bare", "./testdata/bare")
	if err != nil {
		b.Fatal(err)
	}
	home := b.TempDir()
	plan := filepath.Join("..", "..", "testdata", "plans", "harbour-dawn.toml")
	commands := []struct {
		name string
		args []string
	}{
		{"bare", []string{bare, "version"}},
		{"version", []string{lyefast, "version"}},
		{"check", []string{lyefast, "plan", "check", plan}},
	}
	took := map[string][]time.Duration{}
	for b.Loop() {
		for _, c := range commands {
			cmd := exec.Command(c.args[0], c.args[1:]...)
			cmd.Env = []string{"HOME=" + home, "LANG=C.UTF-8", "TZ=UTC"}
			start := time.Now()
			if out, err := cmd.CombinedOutput(); err != nil {
				b.Fatalf("%s: %v\n%s", c.name, err, out)
			}
			took[c.name] = append(took[c.name], time.Since(start))
		}
	}
	median := func(name string) float64 {
		slices.Sort(took[name])
		return took[name][len(took[name])/2].Seconds()
	}
	b.ReportMetric(1e3*median("version"), "version-ms")
	b.ReportMetric(median("version")/median("bare"), "version-over-bare")
	b.ReportMetric(median("check")/median("version"), "check-over-version")
	if _, err := os.Stat(filepath.Join(home, ".local")); err == nil {
		b.Error("checking a plan with an empty home wrote something")
	}
}
