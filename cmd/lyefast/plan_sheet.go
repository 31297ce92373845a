package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/sheet"
	"lyefast/internal/unit"
)

func planSheetCmd(p *program) *cobra.Command {
	var text, accept bool
	var html, pdf, paper, step, pour string
	cmd := &cobra.Command{
		Use:   "sheet FILE",
		Short: "Write the sheet to weigh and pour by",
		Long: wrapHelp(`Rounds every amount to your scale and shares the rounding out so that sums agree; lye and water come first, then pot by pot and jug by jug what goes in and when, with the colours to expect, the days before which they say nothing, room for times and notes, and labels for the lye jugs to tear off. Alkali is rounded down, and the discount is that of the printed weights.

No sheet is made where the lye would be unsafe. Files that exist are left alone.`),
		Example: examples("lyefast plan sheet testdata/plans/harbour-dawn.toml --text", "lyefast plan sheet harbour.toml --pdf sheet.pdf --paper Letter --scale-step 1g"),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			q := app.SheetQuery{Pour: pour, AcceptLowEnd: accept}
			size, err := sheet.ParsePaper(paper)
			if err != nil {
				return usage("", "--paper: %v", err)
			}
			if step != "" {
				if q.Step, err = unit.ParseMass(step); err == nil && q.Step <= 0 {
					err = fmt.Errorf("must be more than 0 g")
				}
				if err != nil {
					return usage("", "--scale-step: %v", err)
				}
			}
			if q.Data, q.File, err = p.readPlanFile(args[0]); err != nil {
				return err
			}
			b, err := p.session.BenchSheet(cmd.Context(), q)
			if err != nil {
				return err
			}
			err = p.writePages([]page{{html, b.HTML}, {pdf, func() ([]byte, error) { return b.PDF(size) }}})
			if err != nil || !text && !p.json && html+pdf != "" {
				return err
			}
			return p.show(b, func() error { return p.showSheet(b) })
		},
	}
	f := cmd.Flags()
	f.BoolVar(&text, "text", false, "write it as text, as without --html and --pdf")
	f.StringVar(&html, "html", "", "write it into a new HTML `FILE` to print")
	f.StringVar(&pdf, "pdf", "", "write it into a new PDF `FILE`")
	f.StringVar(&paper, "paper", "A4", "`SIZE` of paper of the PDF: A4 or Letter")
	f.StringVar(&step, "scale-step", "", "what one digit of your scale is, like `0.1g` or 1g")
	f.StringVar(&pour, "pour", "", "`DAY` of the pour, which the dates count from (default: today)")
	f.BoolVar(&accept, "accept-low-end", false, "make the sheet though the discount may be used up at the low end of the oils' ranges")
	return cmd
}

// page is one file that a document is written into, if it is named.
type page struct {
	name string
	make func() ([]byte, error)
}

// writePages writes the files that were asked for.
func (p *program) writePages(pages []page) error {
	for _, f := range pages {
		if f.name == "" {
			continue
		}
		data, err := f.make()
		if err != nil {
			return err
		}
		if err := writeNew(f.name, string(data)); err != nil {
			return err
		}
		p.err.Printf("wrote %s\n", p.err.Text(f.name))
	}
	return nil
}

// showSheet lays the sheet out as text.
func (p *program) showSheet(b *sheet.Bench) error {
	w := p.out
	w.Printf("%s\n", w.Bold(w.Text(b.Title)))
	w.Printf("pour %s · scale %s · batch ________\n", b.PourDate, sheet.Mass(b.Step))
	w.Para("", upper(b.Grounds)+".")
	for _, c := range b.Cautions {
		w.Para("  ", "! "+c)
	}
	for i := range b.Pots {
		q := &b.Pots[i]
		w.Printf("\n%s\n", w.Bold(w.Text(strings.ToUpper(q.Name)))+"  "+q.Total.Amount+" before colours")
		if q.When != "" {
			w.Para("", q.When)
		}
		for _, s := range q.Steps {
			w.Printf("\n%s\n", s.Title)
			for _, c := range s.Cautions {
				w.Para("  ", "! "+c)
			}
			for _, l := range s.Lines {
				p.sheetLine("[ ]", l)
			}
			if s.Sum != nil {
				p.sheetLine(" = ", *s.Sum)
			}
			for _, t := range s.Say {
				w.Field("", w.Text(t), 6)
			}
			p.sheetBlanks(s.Blanks)
		}
		for j := range q.Jugs {
			p.sheetJug(&q.Jugs[j])
		}
	}
	w.Printf("\nRead the bar\n")
	for _, d := range b.Readings {
		w.Printf("  [ ] day %-4d %s  ______________________\n", d.Day, d.Date)
	}
	for _, n := range b.Notes {
		w.Para("  ", n)
	}
	for i := range b.Pots {
		l := &b.Pots[i].Lye
		w.Printf("%s\n", strings.Repeat("- ", 39))
		w.Para("  ", fmt.Sprintf("LYE – %s (%s): %s", b.Pots[i].Name, b.Title, l.Words))
		w.Para("  ", "Burns skin and eyes: goggles, gloves. Never add water. Keep away from children. mixed at ________ date ________")
	}
	return nil
}

func (p *program) sheetLine(box string, l sheet.Line) {
	p.out.Field(fmt.Sprintf("  %s %10s", box, l.Amount), p.out.Text(strings.TrimSuffix(l.Name+"  ("+l.Note+")", "  ()")), 18)
}

func (p *program) sheetBlanks(names []string) {
	var parts []string
	for _, n := range names {
		parts = append(parts, n+" ______")
	}
	if len(parts) > 0 {
		p.out.Field("", p.out.Text(strings.Join(parts, "  ")), 6)
	}
}

func (p *program) sheetJug(j *sheet.Jug) {
	w := p.out
	w.Printf("\n%s\n", w.Text("Jug "+j.Name))
	for _, l := range j.Lines {
		p.sheetLine("[ ]", l)
	}
	for _, c := range []struct {
		word string
		c    *sheet.Colour
	}{{"at the pour", j.Pour}, {"settled", j.Settled}, {"target", j.Target}} {
		if c.c == nil {
			continue
		}
		s := c.c.Hex + " " + c.c.Name
		if c.c.Band > 0 {
			s += fmt.Sprintf(" ±%.0f", c.c.Band)
		}
		w.Field("      "+c.word, w.Text(s), 20)
	}
	w.Field("", w.Text(j.Unknown), 6)
	if j.Judge != "" {
		w.Field("", "Do not judge before "+j.Judge, 6)
	}
	p.sheetBlanks([]string{"trace", "poured at", "notes"})
}
