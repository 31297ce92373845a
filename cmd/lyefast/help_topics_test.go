package main

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"lyefast/internal/formula"
	"lyefast/internal/term"
)

// No line is wider than a screen, every source is cited and every citation has one.
func TestTopicsFitAndCite(t *testing.T) {
	for _, x := range topics {
		for line := range strings.Lines(x.text()) {
			if w := term.Width(strings.TrimRight(line, "\n")); w > term.Columns {
				t.Errorf("%s: %d columns: %s", x.name, w, line)
			}
		}
		cited := map[string]bool{}
		for _, m := range regexp.MustCompile(`\[([0-9, ]+)\]`).FindAllStringSubmatch(strings.Join(x.paragraphs, "\n"), -1) {
			for n := range strings.SplitSeq(m[1], ",") {
				cited[strings.TrimSpace(n)] = true
			}
		}
		for _, s := range x.sources {
			n, _, _ := strings.Cut(s, " ")
			if !cited[n] {
				t.Errorf("%s: source %s is never cited", x.name, n)
			}
			delete(cited, n)
		}
		for n := range cited {
			t.Errorf("%s: [%s] has no source", x.name, n)
		}
	}
}

// The figures in the text about lye are those the program works with: the ranges of
// the oil table (Codex CXS 210-1999 and 33-1981) and molar masses.
func TestTopicOnLyeAgreesWithTheTable(t *testing.T) {
	for name, want := range map[string][2]float64{"coconut": {248, 265}, "olive_refined": {184, 196}} {
		found := false
		for _, o := range formula.BuiltIn() {
			if o.Key == name {
				found = true
				if o.SVMin != want[0] || o.SVMax != want[1] {
					t.Errorf("%s: %v-%v in the table, %v in the text", name, o.SVMin, o.SVMax, want)
				}
			}
		}
		if !found {
			t.Errorf("%s is not in the table", name)
		}
	}
	if g := 256.5 * 40.00 / 56.11 / 1000; math.Abs(g-0.183) > 0.0005 {
		t.Errorf("coconut needs %.4f g", g)
	}
	if g := 3 * 40.00 / 192.12; math.Abs(g-0.62) > 0.005 {
		t.Errorf("citric acid takes %.3f g", g)
	}
}
