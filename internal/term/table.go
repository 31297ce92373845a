package term

import (
	"strings"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// Column is one column of a table.
type Column struct {
	Title string
	// Right sets figures flush right, so that their points stand below each other.
	Right bool
	// Wrap lets the column give way: its cells are broken into several lines so
	// that the table fits the screen.
	Wrap bool
}

// Table writes rows under a line of titles, without rules or borders, one blank
// before the first column and two between columns. Cells may hold swatches and
// so must be clean already; see [Writer.Text]. No rows writes nothing.
func (w *Writer) Table(columns []Column, rows [][]string) error {
	if len(rows) == 0 {
		return nil
	}
	titles := make([]string, len(columns))
	align := make(tw.Alignment, len(columns))
	for i, c := range columns {
		titles[i] = w.spell(c.Title)
		align[i] = tw.AlignLeft
		if c.Right {
			align[i] = tw.AlignRight
		}
	}
	cells := make([][]string, len(rows))
	for i, row := range rows {
		cells[i] = make([]string, len(columns))
		for j := range columns {
			if j < len(row) {
				cells[i][j] = w.spell(row[j])
			}
		}
	}
	w.fit(columns, titles, cells)

	var b strings.Builder
	off := tw.CellFormatting{AutoWrap: tw.WrapNone, AutoFormat: tw.Off}
	cell := tw.CellConfig{
		Formatting: off,
		Padding:    tw.CellPadding{Global: tw.Padding{Left: " ", Right: " ", Overwrite: true}},
		Alignment:  tw.CellAlignment{PerColumn: align},
	}
	table := tablewriter.NewTable(&b,
		// Widths that follow the locale would make "▇▇" four columns wide in some.
		tablewriter.WithEastAsian(tw.Off),
		tablewriter.WithRenderer(renderer.NewBlueprint(tw.Rendition{
			Borders: tw.BorderNone,
			Settings: tw.Settings{
				Separators: tw.SeparatorsNone,
				Lines:      tw.LinesNone,
			},
		})),
		tablewriter.WithHeaderConfig(cell),
		tablewriter.WithRowConfig(cell),
		tablewriter.WithHeaderAutoFormat(tw.Off),
		tablewriter.WithTrimSpace(tw.Off),
		tablewriter.WithTrimLine(tw.Off),
	)
	table.Header(titles)
	if err := table.Bulk(cells); err != nil {
		return err
	}
	if err := table.Render(); err != nil {
		return err
	}
	for line := range strings.Lines(b.String()) {
		w.Printf("%s\n", strings.TrimRight(line, " \n"))
	}
	return nil
}

// narrowest is how far a column gives way.
const narrowest = 16

// fit wraps the cells of the columns that give way, the widest first, until the
// table fits the screen.
func (w *Writer) fit(columns []Column, titles []string, cells [][]string) {
	wide := make([]int, len(columns))
	total := 0
	for j := range columns {
		wide[j] = Width(titles[j])
		for _, row := range cells {
			for _, line := range strings.Split(row[j], "\n") {
				wide[j] = max(wide[j], Width(line))
			}
		}
		total += wide[j] + 2
	}
	for total > w.width {
		give := -1
		for j, c := range columns {
			if c.Wrap && wide[j] > narrowest && (give < 0 || wide[j] > wide[give]) {
				give = j
			}
		}
		if give < 0 {
			break
		}
		wide[give]--
		total--
	}
	for j, c := range columns {
		if !c.Wrap {
			continue
		}
		for _, row := range cells {
			row[j] = Wrap(row[j], "", wide[j])
		}
	}
}
