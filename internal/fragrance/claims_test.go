package fragrance

import (
	"strings"
	"testing"
)

// Wordings as suppliers use them (common practice, no source), one line each.
func TestClaims(t *testing.T) {
	for _, c := range []struct {
		claim                 string
		noColour, noMovesFast bool
	}{
		{"No discolouration", true, false},
		{"no discoloration in CP", true, false},
		{"Non-discolouring", true, false},
		{"non discoloring, no acceleration", true, true},
		{"does not discolour", true, false},
		{"Doesn't discolor soap", true, false},
		{"won’t turn brown", true, false},
		{"never discolours", true, false},
		{"will not brown", true, false},
		{"Discolouration: none", true, false},
		{"discoloration = none; acceleration: none", true, true},
		{"discolours: no", true, false},
		{"browning-free", true, false},
		{"stays white", true, false},
		{"colour stable in soap", true, false},
		{"no ricing, acceleration or discolouration", true, true},
		{"No acceleration, no ricing, discolours to tan", false, true},
		{"no acceleration, discolours to tan", false, true},
		{"no acceleration but some browning", false, true},
		{"does not accelerate trace", false, true},
		{"slow moving", false, true},
		{"Slow to trace", false, true},
		{"no noticeable acceleration", false, true},
		{"Acceleration none", false, true},
		{"discolours to dark brown", false, false},
		{"discolouration: light tan", false, false},
		{"slight discolouration, accelerates", false, false},
		{"may discolour", false, false},
		{"not tested for discolouration or acceleration", false, false},
		{"no brownie notes, behaves well", false, false},
		{"no phthalates. Accelerates fast.", false, false},
		{"not colour stable", false, false},
		{"does discolour", false, false},
		{"", false, false},
	} {
		claims := []string{"scent of a harbour at dawn", c.claim}
		if got := ClaimsNoDiscolouration(claims); got != c.noColour {
			t.Errorf("%q: no discolouration %v", c.claim, got)
		}
		if got := ClaimsNoAcceleration(claims); got != c.noMovesFast {
			t.Errorf("%q: no acceleration %v", c.claim, got)
		}
	}
	if ClaimsNoDiscolouration(nil) {
		t.Error("no claims claim nothing")
	}
	if ClaimsNoDiscolouration([]string{strings.Repeat("x ", 2000) + "no discolouration"}) {
		t.Error("text beyond the bound was read")
	}
}

func FuzzClaims(f *testing.F) {
	for _, s := range []string{"no discolouration", "non-", "never browns: no", "::", "no no no brown", "\xff’not", "slow"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		one, two := ClaimsNoDiscolouration([]string{s}), ClaimsNoDiscolouration([]string{s, s})
		if one != two {
			t.Fatalf("%q claims twice what it does not claim once", s)
		}
		ClaimsNoAcceleration([]string{s})
	})
}
