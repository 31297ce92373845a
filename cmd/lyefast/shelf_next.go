package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
)

func shelfNextCmd(p *program) *cobra.Command {
	var q app.NextQuery
	cmd := &cobra.Command{
		Use: "next [PLAN...]", Short: "Name the small test pours that would narrow the bands of plans most",
		Long: wrapHelp(`A test pour is a spoonful of bare base with one colourant at one dose, read when it has settled. For each it says how far the bands of the plans' portions would narrow, reckoned as if the pour came out as forecast. Without a PLAN it takes those of the open batches.

± is about the ΔE00 that 9 in 10 stay within.`),
		Example: examples("lyefast shelf next testdata/plans/harbour-dawn.toml", "lyefast shelf next harbour.toml dusk.toml --most 5 --json"),
		RunE: func(cmd *cobra.Command, args []string) error {
			for _, name := range args {
				data, file, err := p.readPlanFile(name)
				if err != nil {
					return err
				}
				q.Plans = append(q.Plans, app.NextPlan{Data: data, File: file})
			}
			if q.Most < 1 || q.Most > 12 {
				return usage("", "--most %d: from 1 to 12", q.Most)
			}
			if p.err.Terminal() {
				q.Progress = func(done, all int) { p.err.Printf("\r%d of %d pours tried out", done, all) }
			}
			r, err := p.session.Next(cmd.Context(), q)
			if q.Progress != nil {
				p.err.Printf("\r                                \r")
			}
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.showNext(r)
				return nil
			})
		},
	}
	cmd.Flags().IntVar(&q.Most, "most", 3, "how many pours to name")
	return cmd
}

func (p *program) showNext(r *app.NextSaid) {
	w := p.out
	if r.Enough {
		w.Printf("no test pour would narrow a band by a tenth\n")
	}
	for i, t := range r.Pours {
		w.Printf("%d  %s %s in bare base\n", i+1, w.Bold(w.Text(t.Colorant)), perKg(t.Dose))
		w.Field("because", w.Text(t.Because), 13)
		switch {
		case t.Now != nil && t.Then != nil:
			w.Field("narrows", fmt.Sprintf("±%.1f to ±%.1f: %s", *t.Now, *t.Then, w.Text(strings.Join(t.Portions, ", "))), 13)
		case t.Then != nil:
			w.Field("brings", fmt.Sprintf("a first number, ±%.1f: %s", *t.Then, w.Text(strings.Join(t.Portions, ", "))), 13)
		default:
			w.Field("brings", "a first number: "+w.Text(strings.Join(t.Portions, ", ")), 13)
		}
	}
	if r.Now != nil && r.After != nil && len(r.Pours) > 1 {
		w.Field("all of them", fmt.Sprintf("±%.1f to ±%.1f over all portions", *r.Now, *r.After), 13)
	}
	w.Field("grounds", w.Text(r.Grounds), 13)
}
