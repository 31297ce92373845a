package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/term"
)

func planLabelCmd(p *program) *cobra.Command {
	var q app.LabelQuery
	var cure string
	cmd := &cobra.Command{
		Use:   "label FILE",
		Short: "Say what the label of the bar must hold",
		Long: wrapHelp(`Lists the ingredients by weight under their INCI names, as poured or as saponified, the fragrance allergens above 0.01 % of the bar, and the colours by Colour Index number. With --batch it adds the batch code, the earliest day of sale and the net weight of the lightest bar at the end of the cure.

What is not known is left open as ___ and listed. Check with your local rules before you sell.`),
		Example: examples("lyefast plan label testdata/plans/harbour-dawn.toml", "lyefast plan label harbour.toml --batch HD-01 --form saponified"),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			if q.CureDays, err = parseCure(cure); err != nil {
				return err
			}
			if q.Data, q.File, err = p.readPlanFile(args[0]); err != nil {
				return err
			}
			l, err := p.session.PlanLabel(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(l, func() error { return p.showLabel(l) })
		},
	}
	f := cmd.Flags()
	f.StringVar(&q.Batch, "batch", "", "`CODE` of a batch poured from the plan")
	f.StringVar(&q.Form, "form", app.PouredForm, "the `FORM` of the list: poured or saponified")
	f.StringVar(&cure, "cure", "42d", "`DAYS` of cure before a bar is sold")
	return cmd
}

func (p *program) showLabel(l *app.Label) error {
	w := p.out
	w.Printf("%s  %s\n\n", w.Bold(w.Text(l.Title)), "label, as "+l.Form)
	w.Para("  ", "Ingredients: "+l.Ingredients+".")
	w.Printf("\n")
	net := app.Open + " g"
	if l.Net != nil {
		net = l.Net.String()
	}
	w.Field("Net", fmt.Sprintf("%s  (%s)", net, w.Text(l.NetBasis)), 10)
	w.Field("Batch", w.Text(orOpen(l.Batch)), 10)
	w.Field("Sale", fmt.Sprintf("not before %s, after %d days of cure", orOpen(l.EarliestSale), l.CureDays), 10)
	w.Printf("\n")
	lines := l.Poured
	if l.Form == app.SaponifiedForm {
		lines = l.Saponified
	}
	var rows [][]string
	for _, x := range lines {
		rows = append(rows, []string{w.Text(x.INCI), fmt.Sprintf("%.1f g", float64(x.Grams)), fmt.Sprintf("%.2f %%", float64(x.Share))})
	}
	if err := w.Table([]term.Column{{Title: "ingredient", Wrap: true}, {Title: "in the plan", Right: true}, {Title: "share", Right: true}}, rows); err != nil {
		return err
	}
	for _, x := range l.Allergens {
		w.Field("Allergen", fmt.Sprintf("%s, %s of the scented bar", w.Text(x.Name), x.PercentOfBar), 10)
	}
	for _, x := range l.Colours {
		w.Field("Colour", w.Text(x.Name+", from "+strings.Join(x.From, ", ")), 10)
	}
	w.Printf("\n")
	for _, s := range l.Unknown {
		w.Field("open", w.Text(s), 10)
	}
	for _, s := range l.Notes {
		w.Field("note", w.Text(s), 10)
	}
	for _, s := range l.NotCovered {
		w.Para("  ", "! "+s)
	}
	return nil
}

func orOpen(s string) string {
	if s == "" {
		return app.Open
	}
	return s
}
