// Package term writes for people at a terminal: paragraphs wrapped to the
// screen, tables, and swatches of colour that never stand without their hex.
//
// Start at [New]. A [Writer] finds out by itself what its output can show:
// colour only on a terminal that has it (NO_COLOR, CLICOLOR_FORCE and COLORTERM
// are respected), and only ASCII for the signs this program sets itself where
// the locale is not UTF-8. A pipe gets plain text with no escape codes. All
// widths are display columns, so accents and wide scripts line up.
package term

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/charmbracelet/colorprofile"
	"github.com/charmbracelet/x/ansi"
	xterm "github.com/charmbracelet/x/term"

	"lyefast/internal/cie"
)

// Columns is the width that text is laid out for: a terminal's usual width, so
// that a pipe and a wide window get the same lines.
const Columns = 80

// Writer is one output stream and what it can show. It is not safe for use by
// several goroutines at once.
type Writer struct {
	out     io.Writer
	env     map[string]string
	profile colorprofile.Profile
	probed  bool
	ascii   bool
	width   int
}

// New makes a writer on out. The environment, in the form of [os.Environ],
// tells colours and locale.
func New(out io.Writer, environ []string) *Writer {
	w := &Writer{out: out, env: map[string]string{}, width: Columns}
	for _, kv := range environ {
		if k, v, ok := strings.Cut(kv, "="); ok {
			w.env[k] = v
		}
	}
	w.ascii = !w.utf8Locale()
	return w
}

// utf8Locale reads the locale as POSIX orders it: LC_ALL, LC_CTYPE, LANG. None
// at all means the C locale, but not on systems that do not use those variables.
func (w *Writer) utf8Locale() bool {
	for _, k := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := w.env[k]; v != "" {
			v = strings.ToLower(v)
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return runtime.GOOS == "windows" || runtime.GOOS == "darwin"
}

// Terminal reports whether a person sits at the other end.
func (w *Writer) Terminal() bool {
	f, ok := w.out.(*os.File)
	return ok && xterm.IsTerminal(f.Fd())
}

// probe asks once what colours the output has. The environment decides; the
// terminal database and helper programs are not asked, for they cost more time
// than the rest of a command.
func (w *Writer) probe() {
	if w.probed {
		return
	}
	w.probed = true
	w.profile = colorprofile.NoTTY
	// Any value of NO_COLOR but the empty one counts (no-color.org).
	if w.env["NO_COLOR"] != "" {
		return
	}
	forced := w.env["CLICOLOR_FORCE"] != "" && w.env["CLICOLOR_FORCE"] != "0"
	if !w.Terminal() && !forced {
		return
	}
	var environ []string
	for _, k := range []string{"TERM", "COLORTERM", "CLICOLOR", "WT_SESSION", "GOOGLE_CLOUD_SHELL"} {
		if v, ok := w.env[k]; ok {
			environ = append(environ, k+"="+v)
		}
	}
	if forced {
		environ = append(environ, "CLICOLOR_FORCE=1")
	}
	w.profile = colorprofile.Env(environ)
}

// fallback holds an ASCII spelling for each sign the program's own words use.
var fallback = strings.NewReplacer(
	"▇", "#", "░", ":", "·", "-", "–", "-", "—", "-", "→", "->", "±", "+-",
	"°", " deg ", "Δ", "d", "≥", ">=", "≤", "<=", "×", "x", "…", "...",
	"“", `"`, "”", `"`, "’", "'", "µ", "u", "₂", "2", "∞", "inf", "\u00a0", " ",
)

// Text gives s as this output can show it: control characters, which could
// drive the terminal, are taken out, and in a locale that is not UTF-8 the
// program's own signs become ASCII. Line breaks stay.
func (w *Writer) Text(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r == '\t':
			return ' '
		case unicode.IsControl(r), r == '\u2028', r == '\u2029', bidi(r):
			return -1
		}
		return r
	}, s)
	return w.spell(s)
}

// bidi tells the characters that turn the order of a line around.
func bidi(r rune) bool {
	return r >= '\u202a' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069'
}

func (w *Writer) spell(s string) string {
	if !w.ascii || isASCII(s) {
		return s
	}
	return fallback.Replace(s)
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// Write passes bytes through, with the program's own signs in ASCII where the
// locale asks for it.
func (w *Writer) Write(p []byte) (int, error) {
	if !w.ascii {
		return w.out.Write(p)
	}
	if _, err := io.WriteString(w.out, w.spell(string(p))); err != nil {
		return 0, err
	}
	return len(p), nil
}

// Printf writes a formatted line or part of one. Outside text goes through
// [Writer.Text] first.
func (w *Writer) Printf(format string, args ...any) {
	fmt.Fprintf(w, format, args...)
}

// JSON writes v indented and ended by a line break, in UTF-8 whatever the locale.
func (w *Writer) JSON(v any) error {
	enc := json.NewEncoder(w.out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// Swatch shows a colour as its hex, with two blocks of it in front where the
// output has the colours for it.
func (w *Writer) Swatch(c cie.Lab) string {
	hex := c.Hex()
	block := w.Block(c, "▇▇")
	if block == "" {
		return hex
	}
	return block + " " + hex
}

// Block gives the sign in the colour, or "" where the output has too few
// colours to be worth it. It must not stand without its hex nearby.
func (w *Writer) Block(c cie.Lab, sign string) string {
	w.probe()
	r, g, b := c.RGB()
	switch w.profile {
	case colorprofile.TrueColor:
		return fmt.Sprintf("\x1b[38;2;%d;%d;%dm%s\x1b[0m", r, g, b, w.spell(sign))
	case colorprofile.ANSI256:
		i := ansi.Convert256(rgb{r, g, b})
		return fmt.Sprintf("\x1b[38;5;%dm%s\x1b[0m", i, w.spell(sign))
	}
	return ""
}

// Bold sets a heading apart on a terminal; elsewhere it is plain.
func (w *Writer) Bold(s string) string {
	w.probe()
	if w.profile < colorprofile.ANSI {
		return s
	}
	return "\x1b[1m" + s + "\x1b[0m"
}

// rgb is an opaque 8-bit colour.
type rgb struct{ r, g, b uint8 }

func (c rgb) RGBA() (r, g, b, a uint32) {
	return uint32(c.r) * 0x101, uint32(c.g) * 0x101, uint32(c.b) * 0x101, 0xffff
}

// Width gives the display columns of one line of text; escape codes take none.
func Width(s string) int { return ansi.StringWidth(s) }
