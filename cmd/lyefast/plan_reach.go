package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/cie"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func planReachCmd(p *program) *cobra.Command {
	var target, base, scale string
	var q app.ReachQuery
	cmd := &cobra.Command{
		Use: "reach FILE", Short: "Say which colourants, at which doses, settle on a target",
		Long: wrapHelp(`Works backwards from the settled colour: for every portion with a target, or for --target in each kind of portion, the best one, two and three colourants of your shelf with their weights, the colour they settle on in this soap with this scent, and how sure that is. Beside it the whitest white still possible.

Doses stay inside what was ever read, or the swatch's dose, unless --beyond allows up to four times that. FILE may be - for standard input.`),
		Example: examples("lyefast plan reach testdata/plans/harbour-dawn.toml", `lyefast plan reach harbour.toml --target "#46607f" --max 2 --palette`),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if q.Data, q.File, err = p.readPlanFile(args[0]); err != nil {
				return err
			}
			for _, f := range []struct {
				name, text string
				to         **cie.Lab
			}{{"target", target, &q.Target}, {"base", base, &q.Base}} {
				if f.text == "" {
					continue
				}
				lab, err := cie.ParseColor(f.text)
				if err != nil {
					return flagError(f.name, err)
				}
				*f.to = &lab
			}
			if q.Scale, err = unit.ParseMass(scale); err != nil {
				return flagError("scale", err)
			}
			r, err := p.session.Reach(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error { return p.showReach(r) })
		},
	}
	f := cmd.Flags()
	f.StringVar(&target, "target", "", "the `COLOUR` wanted after the cure: a hex or L,a,b; else each portion's own")
	f.StringVar(&base, "base", "", "the bare soap's `COLOUR`; else the plan's")
	f.IntVar(&q.AtMost, "max", 3, "colourants at once, 1 to 3")
	f.BoolVar(&q.Beyond, "beyond", false, "allow doses up to four times the largest read")
	f.BoolVar(&q.Generic, "generic", false, "try the built-in pigments beside your own")
	f.BoolVar(&q.Palette, "palette", false, "show all that one or two colourants can become")
	f.StringVar(&scale, "scale", "0.1 g", "the smallest step your scale weighs")
	return cmd
}

func (p *program) showReach(r *app.ReachSaid) error {
	w := p.out
	w.Printf("%s\n", w.Bold(w.Text(r.Title)))
	tried := count(r.Colorants, "colourant")
	if r.Generic {
		tried += ", built-in pigments among them: check that they are permitted where you sell"
	}
	w.Field("grounds", w.Text(r.Grounds)+"; tried "+tried, 13)
	w.Field("base", fmt.Sprintf("%s, %s", w.Swatch(r.Base.Lab), r.Base.Basis), 13)
	if len(r.LeftOut) > 0 {
		w.Field("left out", w.Text(strings.Join(r.LeftOut, ", "))+": expected to lose its colour or to bleed", 13)
	}
	for _, text := range r.Warnings {
		w.Field("note", text, 13)
	}
	for i := range r.Portions {
		q := &r.Portions[i]
		w.Printf("\n%s  %.0f g oils\n", w.Bold(w.Text(q.Batter+"/"+q.Name)), float64(q.Oils))
		w.Field("target", w.Swatch(*q.Target)+" "+q.Target.Name().Text, 13)
		if q.Scented {
			w.Field("bare", w.Swatch(q.Browned.Lab)+" "+q.Browned.Name+" once its scent has browned it", 13)
		}
		rows := [][]string{}
		for j := range q.Candidates {
			rows = append(rows, p.reachRow(&q.Candidates[j]))
		}
		if len(rows) == 0 {
			rows = append(rows, []string{"nothing comes nearer than the bare soap", "", "", ""})
		}
		if err := w.Table([]term.Column{{Title: "with", Wrap: true}, {Title: "settles on"}, {Title: "off by", Right: true}, {Title: "within 3", Right: true}}, rows); err != nil {
			return err
		}
		if q.Whitest != nil {
			w.Field("whitest", fmt.Sprintf("%s, L* %.1f, with %s", w.Swatch(q.Whitest.Lab), q.Whitest.Lab.L, w.Text(q.Whitest.Words())), 13)
		}
		if q.Palette != nil {
			if err := p.showPalette(q.Palette); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *program) reachRow(c *app.Reached) []string {
	return []string{p.out.Text(c.Words()), p.out.Swatch(c.Lab) + " " + c.Word, fmt.Sprintf("%.1f", c.Delta), fmt.Sprintf("%.0f %%", 100*c.Probability)}
}

// showPalette draws a gamut: the most colourful colour of each hue as swatches, then as
// letters in the plane of a* and b*.
func (p *program) showPalette(g *app.GamutSaid) error {
	w := p.out
	var rows [][]string
	row := func(sign string, e *app.GamutEdge) {
		c := app.Reached{Colorants: e.Colorants}
		rows = append(rows, []string{sign, w.Swatch(e.Lab), e.Word, fmt.Sprintf("%.0f", math.Hypot(e.Lab.A, e.Lab.B)), w.Text(c.Words())})
	}
	for i := range g.Edges {
		row(letter(i), &g.Edges[i])
	}
	row("lightest", &g.Lightest)
	row("darkest", &g.Darkest)
	if err := w.Table([]term.Column{{Title: ""}, {Title: "reaches"}, {Title: ""}, {Title: "chroma", Right: true}, {Title: "with", Wrap: true}}, rows); err != nil {
		return err
	}
	for _, line := range abPlot(g) {
		w.Printf("  %s\n", line)
	}
	return nil
}

// letter marks an edge; a gamut has at most 24.
func letter(i int) string { return string(rune('a' + i%26)) }

// Size of the plot in characters; a character is about twice as high as wide.
const (
	plotColumns = 53
	plotRows    = 25
)

// abPlot sets the edges' letters into a plot of a* (to the right) and b* (up).
func abPlot(g *app.GamutSaid) []string {
	most := 20.0
	for _, e := range g.Edges {
		most = math.Max(most, math.Max(math.Abs(e.Lab.A), math.Abs(e.Lab.B)))
	}
	most = 10 * math.Ceil(most/10)
	grid := make([][]rune, plotRows)
	for y := range grid {
		grid[y] = []rune(strings.Repeat(" ", plotColumns))
		grid[y][plotColumns/2] = '|'
	}
	for x := range grid[plotRows/2] {
		grid[plotRows/2][x] = '-'
	}
	grid[plotRows/2][plotColumns/2] = '+'
	for i, e := range g.Edges {
		x := plotColumns/2 + int(math.Round(e.Lab.A/most*(plotColumns/2)))
		y := plotRows/2 - int(math.Round(e.Lab.B/most*(plotRows/2)))
		grid[y][x] = []rune(letter(i))[0]
	}
	lines := []string{fmt.Sprintf("%*s", plotColumns/2+4, fmt.Sprintf("b* %+.0f", most))}
	for y, row := range grid {
		line := strings.TrimRight(string(row), " ")
		if y == plotRows/2 {
			line += fmt.Sprintf(" a* %+.0f", most)
		}
		lines = append(lines, line)
	}
	return lines
}
