package term

import (
	"strings"
	"testing"

	"lyefast/internal/cie"
)

var plum = cie.Lab{L: 38.5, A: 26.1, B: -30.2}

func writer(environ ...string) (*Writer, *strings.Builder) {
	var b strings.Builder
	return New(&b, environ), &b
}

func TestSwatchFollowsTheOutput(t *testing.T) {
	hex := plum.Hex()
	for _, c := range []struct {
		name    string
		environ []string
		want    string
	}{
		{"a pipe is plain", []string{"LANG=C.UTF-8", "TERM=xterm-256color", "COLORTERM=truecolor"}, hex},
		{"forced true colour", []string{"LANG=C.UTF-8", "TERM=xterm-256color", "COLORTERM=truecolor", "CLICOLOR_FORCE=1"}, "38;2;"},
		{"forced 256 colours", []string{"LANG=C.UTF-8", "TERM=xterm-256color", "CLICOLOR_FORCE=1"}, "38;5;"},
		{"sixteen colours are too few", []string{"LANG=C.UTF-8", "TERM=xterm", "CLICOLOR_FORCE=1"}, hex},
		{"NO_COLOR wins, whatever its value", []string{"LANG=C.UTF-8", "TERM=xterm-256color", "COLORTERM=truecolor", "CLICOLOR_FORCE=1", "NO_COLOR=no"}, hex},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, _ := writer(c.environ...)
			got := w.Swatch(plum)
			if !strings.HasSuffix(got, hex) {
				t.Errorf("%q does not end in its hex %s", got, hex)
			}
			if c.want == hex && got != hex {
				t.Errorf("got %q, want the hex alone", got)
			}
			if c.want != hex && !strings.Contains(got, c.want) {
				t.Errorf("got %q, want an escape with %q", got, c.want)
			}
		})
	}
}

func TestSignsInALocaleWithoutUTF8(t *testing.T) {
	for _, environ := range [][]string{{"LANG=C"}, {"LC_ALL=POSIX", "LANG=en_GB.UTF-8"}, {"LANG=de_DE.ISO-8859-1"}} {
		w, b := writer(append(environ, "TERM=xterm-256color", "CLICOLOR_FORCE=1")...)
		w.Printf("%s ±2 · ΔE00 → settled\n", w.Swatch(plum))
		if !isASCII(b.String()) || !strings.Contains(b.String(), "##") {
			t.Errorf("%v: got %q, want ASCII with ## blocks", environ, b.String())
		}
	}
	w, b := writer("LC_CTYPE=en_GB.utf8")
	w.Printf("±2 · ΔE00\n")
	if b.String() != "±2 · ΔE00\n" {
		t.Errorf("a UTF-8 locale changed the text: %q", b.String())
	}
}

func TestTextTakesControlCharactersOut(t *testing.T) {
	w, _ := writer("LANG=C.UTF-8")
	got := w.Text("Tide\x1b]0;owned\x07 \u202eBlue\u009b31m\tnext\nline\xff")
	if got != "Tide]0;owned Blue31m next\nline\ufffd" {
		t.Errorf("got %q", got)
	}
}

func TestWrapHangsAndFits(t *testing.T) {
	const text = "Evening Plum will not stay plum: its label lists manganese violet, which lye breaks down to brown manganese oxides"
	for _, width := range []int{24, 40, 80} {
		got := Wrap(text, "   ", width)
		lines := strings.Split(got, "\n")
		for i, line := range lines {
			if Width(line) > width {
				t.Errorf("width %d: %q is %d wide", width, line, Width(line))
			}
			if i > 0 && !strings.HasPrefix(line, "   ") {
				t.Errorf("width %d: %q does not hang", width, line)
			}
		}
		if strings.Join(strings.Fields(got), " ") != text {
			t.Errorf("width %d: words were lost: %q", width, got)
		}
	}
}

// A figure and its unit stay on one line.
func TestWrapKeepsUnits(t *testing.T) {
	text := "at most 12.5 %, then 30 g of it, then 5 g/kg (3 %) at 20 °C"
	for width := 16; width < 40; width++ {
		for _, line := range strings.Split(Wrap(text, "", width), "\n") {
			if strings.HasPrefix(line, "%") || strings.HasPrefix(line, "g") || strings.HasPrefix(line, "°") {
				t.Errorf("width %d: %q begins with a unit", width, line)
			}
		}
	}
}

func TestWrapCutsWhatNoLineHolds(t *testing.T) {
	got := Wrap("see "+strings.Repeat("x", 50)+" there", "  ", 20)
	var rest string
	for _, line := range strings.Split(got, "\n") {
		if Width(line) > 20 {
			t.Errorf("%q is wider than 20", line)
		}
		rest += strings.TrimSpace(line)
	}
	if want := "see" + strings.Repeat("x", 50) + "there"; strings.ReplaceAll(rest, " ", "") != want {
		t.Errorf("letters were lost: %q", rest)
	}
}

// Display width, not bytes and not runes: a wide script takes two columns, a
// combining accent none, an escape code none.
func TestWidth(t *testing.T) {
	for s, want := range map[string]int{
		"Tide": 4, "Écru": 4, "E\u0301cru": 4, "石鹸": 4, "▇▇": 2, "\x1b[38;2;1;2;3m▇▇\x1b[0m #010203": 10,
	} {
		if got := Width(s); got != want {
			t.Errorf("Width(%q) = %d, want %d", s, got, want)
		}
	}
}

func TestTableLinesUp(t *testing.T) {
	w, b := writer("LANG=ja_JP.UTF-8", "TERM=xterm-256color", "COLORTERM=truecolor", "CLICOLOR_FORCE=1")
	err := w.Table(
		[]Column{{Title: "name"}, {Title: "swatch"}, {Title: "dose g/kg", Right: true}},
		[][]string{
			{"石鹸 white", w.Swatch(cie.Lab{L: 95}), "3"},
			{"Écru", w.Swatch(plum), "12.5"},
			{" kept blank", "–", ""},
		})
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	if len(lines) != 4 {
		t.Fatalf("got %d lines:\n%s", len(lines), b.String())
	}
	if !strings.HasPrefix(lines[0], " name") || !strings.Contains(lines[0], "dose g/kg") {
		t.Errorf("the titles were changed: %q", lines[0])
	}
	if w0, w1, w2 := Width(lines[0]), Width(lines[1]), Width(lines[2]); w0 != w1 || w1 != w2 {
		t.Errorf("the right edge wanders: %d, %d, %d\n%s", w0, w1, w2, b.String())
	}
	for _, line := range lines {
		if strings.HasSuffix(line, " ") {
			t.Errorf("%q ends in a blank", line)
		}
	}
}

func TestTableGivesWay(t *testing.T) {
	w, b := writer("LANG=C.UTF-8")
	long := strings.TrimSpace(strings.Repeat("a long note ", 20))
	if err := w.Table([]Column{{Title: "name"}, {Title: "note", Wrap: true}}, [][]string{{"Tide Blue", long}, {"Slate", "short"}}); err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(b.String(), "\n") {
		if Width(line) > Columns {
			t.Errorf("%d columns: %q", Width(line), line)
		}
	}
	for word, want := range map[string]int{"long": 20, "note": 21} {
		if got := strings.Count(b.String(), word); got != want {
			t.Errorf("%q stands there %d times, want %d:\n%s", word, got, want, b.String())
		}
	}
}

func TestJSONKeepsUTF8AndEmptyLists(t *testing.T) {
	w, b := writer("LANG=C")
	if err := w.JSON(map[string]any{"name": "Écru <1>", "rows": []string{}}); err != nil {
		t.Fatal(err)
	}
	if want := "{\n  \"name\": \"Écru <1>\",\n  \"rows\": []\n}\n"; b.String() != want {
		t.Errorf("got %q", b.String())
	}
}
