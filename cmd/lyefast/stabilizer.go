package main

import (
	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/fragrance"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func stabilizerCmd(p *program) *cobra.Command {
	return shelfNoun[fragrance.Stabilizer]{
		use: "stabilizer", aliases: []string{"stabiliser"}, noun: "stabiliser",
		short: "Colour stabilisers on the shelf: salt and strength",
		long:  "A colour stabiliser holds a reducing salt that keeps vanillin from browning for a while. With its salt and strength, lyefast reckons how much a batch takes; without them equal parts by weight with the fragrance are what is left. It delays and lightens browning, it does not prevent it.",
		examples: map[string][]string{
			"":       {"lyefast stabilizer list", `lyefast stabilizer show "Quiet White"`},
			"add":    {`lyefast stabilizer add "Quiet White" --active "sodium sulfite" --strength "8.3 %"`, `lyefast stabilizer add "Still Water" --note "strength not on the paper"`},
			"list":   {"lyefast stabilizer list", "lyefast stabilizer list --retired --json"},
			"show":   {`lyefast stabilizer show "Quiet White"`, `lyefast stabilizer show "Quiet White" --json`},
			"edit":   {`lyefast stabilizer edit "Quiet White" --strength "10 %"`, `lyefast stabilizer edit "Quiet White" --note "keep it dry"`},
			"retire": {`lyefast stabilizer retire "Still Water"`, `lyefast stabilizer retire "Still Water" --back`},
		},
		flags: func(g *given[fragrance.Stabilizer]) {
			g.text("active", "the reducing `SALT` it holds, such as \"sodium sulfite\", or unknown", func(s *fragrance.Stabilizer, text string) (err error) {
				s.Active, err = fragrance.ParseActive(text)
				return err
			})
			g.share("strength", "share of the salt in it, such as \"8.3 %\", or unknown", func(s *fragrance.Stabilizer) **unit.Percent { return &s.Strength })
			g.words("note", "a `TEXT` for yourself", func(s *fragrance.Stabilizer) *string { return &s.Note })
		},
		name: func(s *fragrance.Stabilizer) *string { return &s.Name },
		add:  (*app.App).AddStabilizer, list: (*app.App).Stabilizers, get: (*app.App).Stabilizer,
		edit: (*app.App).EditStabilizer, retire: (*app.App).RetireStabilizer,
		said:    func(s fragrance.Stabilizer) any { return s },
		columns: []term.Column{{Title: "stabiliser"}, {Title: "salt"}, {Title: "strength", Right: true}, {Title: "note", Wrap: true}},
		row: func(p *program, s fragrance.Stabilizer) []string {
			return []string{p.out.Text(s.Name) + retiredMark(s.Retired), p.plain(string(s.Active)), p.plain(s.Strength), p.out.Text(s.Note)}
		},
		print: func(p *program, s fragrance.Stabilizer) {
			p.out.Printf("%s%s\n", p.out.Bold(p.out.Text(s.Name)), retiredMark(s.Retired))
			p.out.Field("  salt", p.plain(string(s.Active)), column)
			p.out.Field("  strength", p.plain(s.Strength), column)
			p.out.Field("  note", p.out.Text(s.Note), column)
			if s.Strength == nil {
				p.out.Field("  so", "what a batch takes cannot be reckoned: equal parts by weight with the fragrance are advised (common practice)", column)
			}
			p.out.Field("  caution", "sulfites: never together with an acid (SO2 gas), keep dust out of the air, mind people with asthma; limits differ by country", column)
		},
	}.command(p)
}

// column is where the text of a shown noun begins.
const column = 14

// retiredMark follows the name of what was retired.
func retiredMark(retired bool) string {
	if retired {
		return " (retired)"
	}
	return ""
}
