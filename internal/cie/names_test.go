package cie

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/lucasb-eyer/go-colorful"

	"lyefast/internal/testkit"
)

func TestNamesAreWhole(t *testing.T) {
	table := nameTable()
	if len(table) != 267 {
		t.Fatalf("%d names, want 267", len(table))
	}
	var seen [268]bool
	texts := map[string]bool{}
	for _, n := range table {
		if n.Number < 1 || n.Number > 267 || seen[n.Number] || texts[n.Text] || n.Text == "" || strings.Contains(n.Text, "gray") {
			t.Errorf("odd or doubled: %+v", n)
		}
		seen[n.Number], texts[n.Text] = true, true
	}
	// Every L*, a*, b* must follow from the sRGB value beside it; both are printed
	// to two decimals or eight bits, so 0.0051.
	for line := range strings.Lines(namesCSV) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		f := strings.Split(strings.TrimSpace(line), ",")
		c, err := ParseHex(f[2])
		if err != nil || !near(c, Lab{number(t, f[3]), number(t, f[4]), number(t, f[5])}, 0.0051) {
			t.Errorf("%s: sRGB gives %v (%v)", strings.TrimSpace(line), c, err)
		}
	}
}

func TestNamesAgainstTheTable(t *testing.T) {
	for _, r := range testkit.Table(t, testkit.Shared(t, "reference/iscc-nbs-centroids.csv")) {
		c := Lab{number(t, r["L"]), number(t, r["a"]), number(t, r["b"])}
		n := c.Name()
		want := strings.ReplaceAll(r["name"], "gray", "grey")
		if n.Text != want || float64(n.Number) != number(t, r["number"]) || n.DeltaE00 != 0 || n.Centroid != c {
			t.Errorf("%s: %+v", r["name"], n)
		}
	}
}

// TestNamesOfKnownColours asks for colours everyone can call by name (no source).
func TestNamesOfKnownColours(t *testing.T) {
	for hex, want := range map[string]string{
		"#ffffff": "white", "#000000": "black", "#808080": "medium grey", "#ff0000": "vivid reddish orange",
		"#8b4513": "strong brown", "#000080": "vivid purplish blue", "#f5f5dc": "yellowish white", "#c4aead": "greyish pink",
	} {
		c, err := ParseHex(hex)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Name(); got.Text != want {
			t.Errorf("%s is %q (ΔE00 %.1f), want %q", hex, got.Text, got.DeltaE00, want)
		}
	}
	if n := (Lab{math.NaN(), 0, 0}).Name(); n != (Name{}) {
		t.Errorf("no colour is named %+v", n)
	}
}

// TestNameIsTheNearest compares the search with looking at every name.
func TestNameIsTheNearest(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 5000 {
		c := LCh{110*r.Float64() - 5, 120 * r.Float64(), 360 * r.Float64()}.Lab()
		best := Name{DeltaE00: math.Inf(1)}
		for _, n := range nameTable() {
			if d := DeltaE00(c, n.Centroid); d < best.DeltaE00 {
				best = n
				best.DeltaE00 = d
			}
		}
		if got := c.Name(); got != best {
			t.Fatalf("%v is named %+v, nearest is %+v", c, got, best)
		}
	}
}

// BenchmarkName names colours as bars have them, and in the same run finds the
// nearest centroid with go-colorful, which looks at all of them.
func BenchmarkName(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 2))
	var ours [64]Lab
	var theirs [64]colorful.Color
	for i := range ours {
		c := LCh{20 + 75*r.Float64(), 50 * r.Float64(), 360 * r.Float64()}.Lab()
		ours[i], theirs[i] = c, colorful.Lab(c.L/100, c.A/100, c.B/100)
	}
	var centroids []colorful.Color
	for _, n := range nameTable() {
		centroids = append(centroids, colorful.Lab(n.Centroid.L/100, n.Centroid.A/100, n.Centroid.B/100))
	}
	own := func() {
		for _, c := range ours {
			sink += c.Name().DeltaE00
		}
	}
	for b.Loop() {
		own()
	}
	best := takeTurns(own, func() {
		for _, c := range theirs {
			least := math.Inf(1)
			for _, n := range centroids {
				least = min(least, c.DistanceCIEDE2000(n))
			}
			sink += least
		}
	})
	b.ReportMetric(best[0]/float64(len(ours)), "ns/name")
	b.ReportMetric(best[1]/best[0], "x-go-colorful")
}

func TestWords(t *testing.T) {
	// The limits of Paravina et al. (2015, 2019) belong to the lower class.
	last := ""
	for _, c := range []struct {
		d    float64
		want string
	}{
		{0, "no visible difference"}, {0.8, "no visible difference"}, {0.81, "a slight difference"}, {1.8, "a slight difference"},
		{1.81, "a clear difference"}, {3.6, "a clear difference"}, {3.7, "a strong difference"}, {5.4, "a strong difference"},
		{5.5, "a very strong difference"}, {12, "a very strong difference"}, {12.1, "another colour"}, {math.Inf(1), "another colour"},
		{math.NaN(), "difference not known"},
	} {
		if got := Words(c.d); got != c.want {
			t.Errorf("%v is %q after %q, want %q", c.d, got, last, c.want)
		}
		last = c.want
	}
}
