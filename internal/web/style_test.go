package web

import (
	"io/fs"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Text on its grounds has the contrast that WCAG 2.2 asks for at level AA: 4.5 : 1 for
// text (1.4.3), 3 : 1 for the edges of fields and rings of focus (1.4.11), in the light
// and in the dark.
func TestContrast(t *testing.T) {
	data, err := fs.ReadFile(staticFiles, "static/style.css")
	if err != nil {
		t.Fatal(err)
	}
	css := string(data)
	light := custom(css[:strings.Index(css, "@media")])
	dark := custom(css[strings.Index(css, "@media"):strings.Index(css, "*, *::before")])
	for scheme, colours := range map[string]map[string]string{"light": light, "dark": dark} {
		for _, pair := range []struct {
			ink, ground string
			least       float64
		}{
			{"ink", "paper", 4.5}, {"ink", "card", 4.5}, {"soft", "paper", 4.5}, {"soft", "card", 4.5}, {"deep", "paper", 4.5}, {"deep", "card", 4.5},
			{"on-deep", "deep", 4.5}, {"fault", "paper", 4.5}, {"fault", "card", 4.5}, {"edge", "paper", 3}, {"edge", "card", 3},
		} {
			a, b := colours[pair.ink], colours[pair.ground]
			if a == "" || b == "" {
				t.Errorf("%s: no colour for %s or %s", scheme, pair.ink, pair.ground)
				continue
			}
			if got := contrast(t, a, b); got < pair.least {
				t.Errorf("%s: %s %s on %s %s has %.2f : 1, want %.1f", scheme, pair.ink, a, pair.ground, b, got, pair.least)
			}
		}
	}
}

// The formula itself: black on white is 21 : 1, and #767676 on white is known as the
// lightest grey that passes 4.5.
func TestContrastFormula(t *testing.T) {
	if got := contrast(t, "#000000", "#ffffff"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white: %g", got)
	}
	if a, b := contrast(t, "#767676", "#ffffff"), contrast(t, "#777777", "#ffffff"); a < 4.5 || b >= 4.5 {
		t.Errorf("#767676: %g, #777777: %g", a, b)
	}
}

func custom(css string) map[string]string {
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`).FindAllStringSubmatch(css, -1) {
		out[m[1]] = m[2]
	}
	return out
}

// contrast is the ratio of WCAG 2.2, "contrast ratio" and "relative luminance".
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	luminance := func(hex string) float64 {
		v, err := strconv.ParseUint(hex[1:], 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i, w := range []float64{0.2126, 0.7152, 0.0722} {
			c := float64(v>>(16-8*i)&255) / 255
			if c <= 0.04045 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			sum += w * c
		}
		return sum
	}
	x, y := luminance(a)+0.05, luminance(b)+0.05
	return max(x, y) / min(x, y)
}
