package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/chart"
	"lyefast/internal/term"
	"lyefast/internal/web"
)

func batchCurveCmd(p *program) *cobra.Command {
	var svg, png string
	cmd := &cobra.Command{
		Use: "curve BATCH[/PORTION]", Short: "Say how the colours have gone and where they settle",
		Long: wrapHelp(`Fits each portion's readings with the bare control or the modelled browning taken off first, and shows the path by day, the settled colour with how sure it is, the pattern, and what the next reading would add. Bands are central 90 % intervals.

--svg and --png draw it: the path in the a*b* plane with points in their own colours, and the change in ΔE00 over the days.`),
		Example: examples("lyefast batch curve HD-01", "lyefast batch curve HD-01/quay --svg quay.svg"),
		Args:    takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			r, err := p.session.Curve(cmd.Context(), app.CurveQuery{Target: args[0]})
			if err != nil {
				return err
			}
			if svg != "" || png != "" {
				if err := p.drawCurve(r, svg, png); err != nil {
					return err
				}
			}
			return p.show(r, func() error {
				for i := range r.Portions {
					if i > 0 {
						p.out.Printf("\n")
					}
					if err := p.showCurve(r, &r.Portions[i]); err != nil {
						return err
					}
				}
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&svg, "svg", "", "draw it into a new SVG `FILE`")
	cmd.Flags().StringVar(&png, "png", "", "draw it into a new PNG `FILE`")
	return cmd
}

// drawCurve writes the pictures; files that exist are left alone.
func (p *program) drawCurve(r *app.CurveSaid, svg, png string) error {
	var curves []chart.Curve
	for i := range r.Portions {
		curves = append(curves, web.Drawing(r, &r.Portions[i]))
	}
	if svg != "" {
		if err := writeNew(svg, chart.SVG(curves)); err != nil {
			return err
		}
		p.err.Printf("wrote %s\n", p.err.Text(svg))
	}
	if png != "" {
		data, err := chart.PNG(curves)
		if err != nil {
			return err
		}
		if err := writeNew(png, string(data)); err != nil {
			return err
		}
		p.err.Printf("wrote %s\n", p.err.Text(png))
	}
	return nil
}

func (p *program) showCurve(r *app.CurveSaid, q *app.PortionCurve) error {
	w := p.out
	head := fmt.Sprintf("%s %s · day %.0f · %s", q.Batch, q.Portion, r.Today, count(len(q.Readings), "reading"))
	if q.Next != nil {
		head += fmt.Sprintf(" · next: day %.0f (%s)", q.Next.Day, q.Next.At.In(p.session.Now().Location()).Format("Mon 2 Jan"))
	}
	w.Printf("%s\n", w.Bold(w.Text(head)))
	if q.Words != "" {
		w.Para("  ", q.Words)
		return nil
	}
	w.Printf("\n")
	var rows [][]string
	for _, d := range q.Strip() {
		half := d.P95.Sub(d.P05).Scale(0.5)
		delta := "–"
		if d.Delta != nil {
			delta = fmt.Sprintf("%.1f (%.1f–%.1f)", *d.Delta, *d.DeltaLow, *d.DeltaHigh)
		}
		rows = append(rows, []string{
			fmt.Sprintf("%.0f", d.Day), w.Swatch(d.Median), fmt.Sprintf("%.1f ±%.1f", d.Median.L, half.L),
			fmt.Sprintf("%.1f ±%.1f", d.Median.A, half.A), fmt.Sprintf("%.1f ±%.1f", d.Median.B, half.B), delta, d.What,
		})
	}
	if err := w.Table([]term.Column{{Title: "day", Right: true}, {Title: "colour"}, {Title: "L*", Right: true}, {Title: "a*", Right: true}, {Title: "b*", Right: true}, {Title: "ΔE00", Right: true}, {Title: ""}}, rows); err != nil {
		return err
	}
	if q.ReferenceBasis != "" {
		w.Field("ΔE00", "from "+q.ReferenceBasis+" "+swatchOr(w, q.Reference), 9)
	}
	if s := q.Settled; s != nil {
		w.Field("settles", fmt.Sprintf("on %s %s, ±%.1f ΔE00 (90 %%)", w.Swatch(s.Lab), s.Name, s.Radius), 9)
	}
	if q.PlannedOff != nil {
		w.Field("planned", fmt.Sprintf("%s at the pour, ΔE00 %.1f from that", w.Swatch(*q.Planned), *q.PlannedOff), 9)
	}
	if q.TargetOff != nil {
		w.Field("target", fmt.Sprintf("%s, ΔE00 %.1f from that", w.Swatch(*q.Target), *q.TargetOff), 9)
	}
	if q.Moving != "" {
		w.Field("moving", "still: "+q.Moving+fmt.Sprintf("; day 180 %s ±%.1f", w.Swatch(q.Late.Lab), q.Late.Radius), 9)
	}
	w.Field("pattern", q.Pattern.Words(), 9)
	if q.Taken != "" {
		w.Field("taken off", q.Taken+", before the pattern was judged", 11)
	}
	for _, v := range q.Colours {
		w.Field("verdict", w.Text(fmt.Sprintf("%s: %s, %.2f · %s · %s", v.Colorant, v.Verdict, v.P, v.Grounds, count(v.Batches, "batch"))), 9)
	}
	if len(q.Early) > 0 {
		parts := make([]string, len(q.Early))
		for i, x := range q.Early {
			parts[i] = fmt.Sprintf("%s after %.1f h", w.Swatch(x.Lab), 24*x.Day)
		}
		w.Field("cup", strings.Join(parts, ", ")+" (kept apart: a cup seldom gels)", 9)
	}
	if n := q.Next; n != nil && n.Now > 0 {
		if n.Enough {
			w.Para("", "Another reading would not change anything any more.")
		} else {
			w.Para("", fmt.Sprintf("A reading on day %.0f narrows ±%.1f to about ±%.1f.", n.Day, n.Now, n.Then))
		}
	}
	return nil
}

func count(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case strings.HasSuffix(what, "ch"):
		return fmt.Sprintf("%d %ses", n, what)
	}
	return fmt.Sprintf("%d %ss", n, what)
}
