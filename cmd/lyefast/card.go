package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/cie"
	"lyefast/internal/photo"
	"lyefast/internal/term"
)

func cardCmd(p *program) *cobra.Command {
	return shelfNoun[photo.Card]{
		use: "card", noun: "card",
		short: "Charts, grey cards and white sheets for photographs",
		long:  "What is laid beside a slice when it is photographed: a chart of 24 patches and its edition, a grey card and the value printed on it, a white sheet and its value as learnt beside a chart. `lyefast reading photo` takes them by name with --card. The only chart on the shelf is taken without being named.",
		examples: map[string][]string{
			"":       {"lyefast card list", `lyefast card show "my chart"`},
			"add":    {`lyefast card add "my chart" --kind chart --edition after-2014`, `lyefast card add "Harbour Grey" --kind grey --value 81.3,-0.6,0.4 --from "printed on it"`},
			"list":   {"lyefast card list", "lyefast card list --retired --json"},
			"show":   {`lyefast card show "Harbour Grey"`, `lyefast card show "my chart" --json`},
			"edit":   {`lyefast card edit "my chart" --edition before-2014`, `lyefast card edit "Harbour Grey" --note "one corner is worn"`},
			"retire": {`lyefast card retire "Harbour Grey"`, `lyefast card retire "Harbour Grey" --back`},
		},
		flags: func(g *given[photo.Card]) {
			g.text("kind", "its `KIND`: chart, grey or sheet", func(c *photo.Card, s string) (err error) {
				c.Kind, err = photo.ParseCardKind(s)
				return err
			})
			g.text("edition", "a chart's `EDITION`: after-2014 (of November 2014 or later) or before-2014", func(c *photo.Card, s string) (err error) {
				if c.Edition = ""; s != "" {
					c.Edition, err = photo.ParseEdition(s)
				}
				return err
			})
			g.text("value", "`L,a,b` for D50 of a grey card or a sheet", func(c *photo.Card, s string) error {
				if unknown(s) {
					c.Lab = nil
					return nil
				}
				lab, err := cie.ParseLab(s)
				c.Lab = &lab
				return err
			})
			g.words("from", "where the value is from, a `TEXT`", func(c *photo.Card) *string { return &c.LearntFrom })
			g.words("note", "a `TEXT` for yourself", func(c *photo.Card) *string { return &c.Note })
		},
		name: func(c *photo.Card) *string { return &c.Name },
		add:  (*app.App).AddCard, list: (*app.App).Cards, get: (*app.App).Card,
		edit: (*app.App).EditCard, retire: (*app.App).RetireCard,
		said:    func(c photo.Card) any { return c },
		columns: []term.Column{{Title: "card"}, {Title: "kind"}, {Title: "edition or value (D50)"}, {Title: "note", Wrap: true}},
		row: func(p *program, c photo.Card) []string {
			return []string{p.out.Text(c.Name) + retiredMark(c.Retired), string(c.Kind), cardValue(c), p.out.Text(c.Note)}
		},
		print: func(p *program, c photo.Card) {
			p.out.Printf("%s%s\n", p.out.Bold(p.out.Text(c.Name)), retiredMark(c.Retired))
			p.out.Field("  kind", string(c.Kind), column)
			if c.Kind == photo.ChartCard {
				p.out.Field("  edition", cardValue(c), column)
			} else {
				p.out.Field("  value", cardValue(c)+" for D50, 2°", column)
				p.out.Field("  from", p.plain(c.LearntFrom), column)
			}
			p.out.Field("  note", p.out.Text(c.Note), column)
		},
	}.command(p)
}

// cardValue is what a card tells of a picture.
func cardValue(c photo.Card) string {
	if c.Lab == nil {
		return string(c.Edition)
	}
	return fmt.Sprintf("L* %.2f, a* %.2f, b* %.2f", c.Lab.L, c.Lab.A, c.Lab.B)
}
