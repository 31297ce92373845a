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
	plan := filepath.Join(home, "dawn.toml")
	if err := os.WriteFile(plan, []byte(benchPlan), 0o644); err != nil {
		b.Fatal(err)
	}
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

// benchPlan is a plan of the usual size for which nothing is on the shelf.
const benchPlan = `title = "Harbour Dawn"
superfat = "5 %"
lye = { alkali = "NaOH", purity = "98 %", concentration = "33 %" }

[oils]
"olive, refined" = "45 %"
coconut = "25 %"
palm = "25 %"
castor = "5 %"

[fragrance]
vanillin = "4 %"
rate = "4 %"
stabilizer = "auto"

[[batter]]
name = "slab"
oils = "1000 g"

[[batter.portion]]
name = "shore"
parts = 4
target = "#efe0c4"
scented = true
colorants = [{ name = "Chalk White", dose = "3 g/kg", label = "CI 77891", swatch = "#f6f5f0" }]
beside = ["tide"]

[[batter.portion]]
name = "tide"
parts = 2
target = "#46607f"
scented = false
colorants = [{ name = "Tide Blue", dose = "4 g/kg", label = "Mica (CI 77019), CI 77007", swatch = "#3f5f8f" }]
`
