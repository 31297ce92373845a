package near

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestDistance(t *testing.T) {
	// Plain counts anyone can do by hand; the swap is what tells this measure from Levenshtein's.
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "tide", 4}, {"tide", "tide", 0}, {"tide", "tied", 1}, {"tide", "ride", 1},
		{"tide", "tides", 1}, {"jetty", "jety", 1}, {"harbour", "harbor", 1}, {"ca", "abc", 3},
	} {
		if got := Distance(c.a, c.b); got != c.want {
			t.Errorf("Distance(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
		if got := Distance(c.b, c.a); got != c.want {
			t.Errorf("Distance(%q, %q) = %d, want %d: order must not matter", c.b, c.a, got, c.want)
		}
	}
}

func TestNear(t *testing.T) {
	shelf := []string{"Quay Slate", "Dawn Blush", "Ultramarine blue", "Ultramarine pink", "Tide-Line Green", "Fog", "Rope"}
	for _, c := range []struct {
		want string
		out  []string
	}{
		{"quay slate", []string{"Quay Slate"}},
		{"Quay-slates", []string{"Quay Slate"}},
		{"Quai Slate", []string{"Quay Slate"}},
		{"slate quay", []string{"Quay Slate"}},
		{"dwan blush", []string{"Dawn Blush"}},
		{"ultramarine", []string{"Ultramarine blue", "Ultramarine pink"}},
		{"tide line green", []string{"Tide-Line Green"}},
		{"fgo", []string{"Fog"}},
		{"fóg", []string{"Fog"}},
		{"ＦＯＧ", []string{"Fog"}},
		{"lighthouse", nil},
		{"f", nil},
		{"", nil},
		{"!?", nil},
	} {
		got := Near(c.want, shelf)
		if !slices.Equal(got, c.out) {
			t.Errorf("Near(%q) = %q, want %q", c.want, got, c.out)
		}
	}
	if got := Near("Fog", []string{"Fog", "Fog"}); len(got) != 1 {
		t.Errorf("a repeated name came back %d times", len(got))
	}
	if got := Near("fo", []string{"Fog a", "Foa", "Fob", "Fod", "Foe"}); len(got) > maxShown {
		t.Errorf("%d suggestions, want at most %d", len(got), maxShown)
	}
}

func FuzzNear(f *testing.F) {
	f.Add("quay slate", "Quay Slates")
	f.Add("İstanbul", "istanbul")
	f.Add(strings.Repeat("ﷺ", 100), "x")
	f.Add("\xff\xfe", "")
	f.Fuzz(func(t *testing.T, a, b string) {
		if d := Distance(a, b); d != Distance(b, a) || d < 0 || d > maxRunes {
			t.Errorf("Distance(%q, %q) = %d and the other way %d", a, b, d, Distance(b, a))
		}
		for _, s := range Near(a, []string{b, "Fog"}) {
			if s != b && s != "Fog" {
				t.Errorf("Near gave %q, which is not on the list", s)
			}
		}
		if len(Fold(a)) > 0 && utf8.ValidString(a) {
			if got := Near(a, []string{"Fog", a}); len(got) == 0 || got[0] != a && !slices.Equal(Fold(a), Fold(got[0])) {
				t.Errorf("Near(%q) does not find itself first: %q", a, got)
			}
		}
	})
}
