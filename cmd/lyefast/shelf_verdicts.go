package main

import (
	"cmp"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/observations"
	"lyefast/internal/term"
)

func shelfCmd(p *program) *cobra.Command {
	return noun(&cobra.Command{
		Use:     "shelf",
		Short:   "What the shelf has learned",
		Long:    wrapHelp(`What your own batches, labels and papers say of everything on the shelf, and what colour a mixture settles on. The things themselves are under colorant, fragrance, stabilizer and oil.`),
		Example: examples("lyefast shelf verdicts", `lyefast shelf mix --dose "Tide Blue=2 g/kg" --vanillin "1 g/kg"`),
	}, shelfLearnCmd(p), shelfMixCmd(p), shelfNextCmd(p), shelfVerdictsCmd(p))
}

func shelfVerdictsCmd(p *program) *cobra.Command {
	var q app.VerdictsQuery
	cmd := &cobra.Command{
		Use: "verdicts [NAME]", Short: "Say what may be planned on, colourant by colourant and scent by scent",
		Long: wrapHelp(`stable: it holds. shifting: it moves, but can be planned on: it returns, or lands on the same other colour every time. unreliable: it is destroyed, fades, bleeds, or lands elsewhere each time. unknown: not enough to say.

Grounds, strongest first: own readings, label and chemistry, supplier's claim, common practice. What your own batches contradict is said.`),
		Example: examples("lyefast shelf verdicts", `lyefast shelf verdicts "Dusk Violet"`),
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				q.Name = args[0]
			}
			r, err := p.session.Verdicts(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error { return p.showVerdicts(r, q.Name != "") })
		},
	}
	cmd.Flags().BoolVar(&q.Own, "own", false, "only what your own batches speak of")
	return cmd
}

func (p *program) showVerdicts(r *app.Verdicts, whole bool) error {
	w := p.out
	if whole {
		for i, v := range r.Colorants {
			if i > 0 {
				w.Printf("\n")
			}
			p.showVerdict(v)
		}
		for _, v := range r.Fragrances {
			p.showScentVerdict(v)
		}
		return nil
	}
	if len(r.Colorants)+len(r.Fragrances) == 0 {
		p.err.Printf("nothing to judge: no colourant or fragrance is on the shelf or in a batch\n")
	}
	var rows [][]string
	row := func(name, verdict string, probability float64, lands *app.ColourAt, grounds string, batches int, contradicts int) {
		at := "–"
		if lands != nil {
			at = w.Swatch(lands.Lab)
		}
		if contradicts > 0 {
			grounds += fmt.Sprintf("; contradicts %s", count(contradicts, "paper"))
		}
		rows = append(rows, []string{w.Text(name), verdict, fmt.Sprintf("%.2f", probability), at, fmt.Sprint(batches), grounds})
	}
	for _, v := range r.Colorants {
		row(v.Colorant, v.Verdict, v.Probability, v.Lands, v.Grounds, v.Batches, len(v.Contradicts))
	}
	for _, v := range r.Fragrances {
		row(v.Fragrance, v.Verdict, v.Probability, v.Lands, v.Grounds, v.Batches, len(v.Contradicts))
	}
	return w.Table([]term.Column{{Title: "name"}, {Title: "verdict"}, {Title: "p", Right: true}, {Title: "lands on"}, {Title: "own", Right: true}, {Title: "grounds", Wrap: true}}, rows)
}

// showVerdict prints one colourant's verdict with its grounds.
func (p *program) showVerdict(v *app.Verdict) {
	w := p.out
	w.Printf("%s  verdict %s, %.2f · %s · %s\n", w.Bold(w.Text(v.Colorant)), v.Verdict, v.Probability, v.Grounds, count(v.Batches, "batch"))
	w.Field("because", w.Text(v.Because), 13)
	if v.Refused != "" {
		w.Field("not enough", w.Text(v.Refused), 13)
	}
	if v.Lands != nil {
		w.Field("lands on", fmt.Sprintf("%s %s", w.Swatch(v.Lands.Lab), v.Lands.Name), 13)
	}
	if v.BackByDay != nil {
		w.Field("came back", fmt.Sprintf("by day %.0f", *v.BackByDay), 13)
	}
	w.Field("pattern", v.Pattern.Words(), 13)
	w.Field("label says", v.Label, 13)
	w.Field("supplier", w.Text(v.Claim), 13)
	p.showContradictions(v.Contradicts)
	for _, e := range v.Portions {
		at := "no colour"
		if e.Settled != nil {
			at = fmt.Sprintf("%s ±%.1f", w.Swatch(*e.Settled), e.Radius)
		}
		text := fmt.Sprintf("%.3g g/kg, %s: %s, settles on %s", float64(e.Dose), count(e.Readings, "reading"), cmp.Or(e.Found, "not judged"), at)
		if e.Because != "" {
			text += " (" + e.Because + ")"
		}
		if e.Bled {
			text += ", bled"
		}
		if e.CorrectedFor != "" {
			text += "; taken off first: " + e.CorrectedFor
		}
		w.Field(w.Text(e.Batch), w.Text(e.Portion)+" "+text, 13)
	}
}

func (p *program) showContradictions(list []app.Contradiction) {
	for _, c := range list {
		p.out.Field("contradicts", p.out.Text(fmt.Sprintf("%s (%q) · %s, by %s", c.What, c.Says, c.Because, strings.Join(c.Batches, ", "))), 13)
	}
}

// showScentVerdict prints one fragrance's verdict.
func (p *program) showScentVerdict(v *app.FragranceVerdict) {
	w := p.out
	w.Printf("%s  verdict %s, %.2f · %s · %s\n", w.Bold(w.Text(v.Fragrance)), v.Verdict, v.Probability, v.Grounds, count(v.Batches, "batch"))
	w.Field("because", w.Text(v.Because), 13)
	if v.Lands != nil {
		w.Field("lands on", fmt.Sprintf("%s %s", w.Swatch(v.Lands.Lab), v.Lands.Name), 13)
	}
	if v.Vanillin != nil {
		w.Field("vanillin", v.Vanillin.String()+" of the fragrance", 13)
	}
	p.showContradictions(v.Contradicts)
	if t := v.Working; t != nil {
		var parts []string
		for _, k := range observations.Kinds() {
			if s, ok := t.Spans[k]; ok {
				parts = append(parts, fmt.Sprintf("%s %s", k, spanWords(s)))
			}
		}
		w.Field("at the pot", strings.Join(parts, ", "), 13)
		if t.Workable != nil {
			w.Field("workable", spanWords(*t.Workable)+" after the fragrance", 13)
		}
		w.Field("behaviour", fmt.Sprintf("hurried in %d, riced in %d, seized in %d of %s noted", t.Fast, t.Riced, t.Seized, count(t.Noted, "batter")), 13)
	}
	for _, e := range v.Browning {
		w.Field(w.Text(e.Batch), fmt.Sprintf("%s settles on %s, ΔE00 %.1f from %s", w.Text(e.Portion), w.Swatch(e.Settled), e.Delta, e.Against), 13)
	}
}

func spanWords(s observations.Span) string {
	if s.N == 1 {
		return fmt.Sprintf("%.3g min (once)", s.Median)
	}
	return fmt.Sprintf("%.3g min (%.3g–%.3g, %d batters)", s.Median, s.Low, s.High, s.N)
}
