package term

import (
	"strings"

	"github.com/charmbracelet/x/ansi"
)

// Wrap breaks text at blanks so that no line is wider than width columns. The
// first line starts where the caller stands; every further line hangs by indent.
// A word wider than a whole line is cut. Line breaks in the text are kept.
func Wrap(text, indent string, width int) string {
	return wrapFrom(text, 0, indent, width)
}

// wrapFrom is [Wrap] for a first line on which used columns are taken already.
func wrapFrom(text string, used int, indent string, width int) string {
	hang := Width(indent)
	if width < hang+8 {
		width = hang + 8 // narrower than this nothing can be read
	}
	var b strings.Builder
	col := used
	for n, line := range strings.Split(text, "\n") {
		if n > 0 {
			b.WriteString("\n" + indent)
			col = hang
		}
		fresh := true // nothing on this line yet, so no blank is due
		for _, word := range words(line) {
			size := Width(word)
			if !fresh && col+1+size > width || fresh && col > hang && col+size > width {
				b.WriteString("\n" + indent)
				col, fresh = hang, true
			}
			if !fresh {
				b.WriteByte(' ')
				col++
			}
			for size > width-col && size > width-hang {
				part := ansi.Truncate(word, width-col, "")
				if part == "" {
					break
				}
				b.WriteString(part + "\n" + indent)
				word = strings.TrimPrefix(word, part)
				size, col = Width(word), hang
			}
			b.WriteString(word)
			col += size
			fresh = false
		}
	}
	return b.String()
}

// words parts a line at its blanks, but not between a figure and its unit.
func words(line string) []string {
	list := strings.Fields(line)
	kept := list[:0]
	for _, w := range list {
		if n := len(kept); n > 0 && units[strings.TrimRight(w, ",;:.)")] && endsInFigure(kept[n-1]) {
			kept[n-1] += " " + w
			continue
		}
		kept = append(kept, w)
	}
	return kept
}

var units = map[string]bool{"%": true, "g": true, "kg": true, "mg": true, "ml": true, "°C": true, "g/kg": true, "cm": true}

func endsInFigure(w string) bool { return w[len(w)-1] >= '0' && w[len(w)-1] <= '9' }

// Para writes a paragraph wrapped to the screen, every line after the first
// hanging by indent.
func (w *Writer) Para(indent, text string) {
	w.Printf("%s\n", Wrap(w.Text(text), indent, w.width))
}

// Line is [Writer.Para] for messages: wrapped for a person, one line in a pipe or a
// log, where it is searched for.
func (w *Writer) Line(indent, text string) {
	if w.Terminal() {
		w.Para(indent, text)
		return
	}
	w.Printf("%s\n", w.Text(text))
}

// Field writes "name  text" with the text wrapped beside the name, which takes
// column columns (two blanks at least stay between them). An empty text writes
// nothing. The text may hold swatches and so must be clean already; see
// [Writer.Text].
func (w *Writer) Field(name, text string, column int) {
	if text == "" {
		return
	}
	name = w.spell(name)
	gap := max(column-Width(name), 2)
	head := name + strings.Repeat(" ", gap)
	indent := strings.Repeat(" ", column)
	w.Printf("%s\n", head+wrapFrom(w.spell(text), Width(head), indent, w.width))
}
