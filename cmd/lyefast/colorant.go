package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func colorantCmd(p *program) *cobra.Command {
	type product = colorants.Product
	return shelfNoun[product]{
		use: "colorant", aliases: []string{"colourant"}, noun: "colourant",
		short: "Colourants on the shelf: label, swatch, and what lye does to them",
		long:  "A colourant behaves as the worst substance on its label. Enter the ingredient list as printed and the colour the product gives at its usual dose; the label then tells whether it holds, comes back, lands elsewhere, fades or bleeds, until your own readings know better. Generic pigments are built in; your own of the same name stands before them.",
		examples: map[string][]string{
			"": {"lyefast colorant list", `lyefast colorant read-label "Mica (CI 77019), CI 77742"`},
			"add": {`lyefast colorant add "Evening Plum" --label "Mica (CI 77019), Manganese Violet (CI 77742)" --swatch "#7a4f86" --teaspoon "2.7 g"`,
				`lyefast colorant add "Tide Blue" --label "CI 77007" --kind ultramarine --dose "2 g/kg" --claim "stable in all soap"`},
			"list":   {"lyefast colorant list", "lyefast colorant list --retired --json"},
			"show":   {`lyefast colorant show "Evening Plum"`, `lyefast colorant show "titanium dioxide" --json`},
			"edit":   {`lyefast colorant edit "Tide Blue" --dose "3 g/kg" --lot 12`, `lyefast colorant edit "Tide Blue" --claim ""`},
			"retire": {`lyefast colorant retire "Evening Plum"`, `lyefast colorant retire "Evening Plum" --back`},
		},
		flags: func(g *given[product]) {
			g.words("label", "the ingredient `LIST` as printed", func(c *product) *string { return &c.Label })
			g.text("kind", "mica, oxide, ultramarine, carbon, clay, white, dye, plant, glitter or other; else told from the label", func(c *product, s string) error {
				c.Kind = colorants.Kind(strings.ToLower(s))
				return nil
			})
			g.text("swatch", "the `COLOUR` it gives in pale soap at that dose: a hex like #7a4f86, or L,a,b", func(c *product, s string) error {
				c.Swatch, c.SwatchBasis = nil, ""
				if unknown(s) {
					return nil
				}
				lab, err := cie.ParseColor(s)
				c.Swatch, c.SwatchBasis = &lab, colorants.SwatchMaker
				return err
			})
			g.dose("swatch-dose", "dose that the swatch shows, such as \"5 g/kg\"; else the usual one", func(c *product) *unit.GramsPerKg { return &c.SwatchDose })
			g.dose("dose", "your usual dose, such as \"5 g/kg\" of oils; else that of its kind", func(c *product) *unit.GramsPerKg { return &c.UsualDose })
			g.text("teaspoon", "what a level teaspoon of it weighs, such as \"2.7 g\"; weigh it once", func(c *product, s string) (err error) {
				c.TeaspoonGrams = 0
				if !unknown(s) {
					c.TeaspoonGrams, err = unit.ParseMass(s)
				}
				return err
			})
			g.words("claim", "what the `SUPPLIER` says of it, kept as a claim", func(c *product) *string { return &c.Claim })
			g.words("lot", "`LOT` number", func(c *product) *string { return &c.Lot })
			g.words("note", "a `TEXT` for yourself", func(c *product) *string { return &c.Note })
		},
		name: func(c *product) *string { return &c.Name },
		add:  (*app.App).AddColorant, list: (*app.App).Colorants, get: (*app.App).Colorant,
		edit: (*app.App).EditColorant, retire: (*app.App).RetireColorant,
		said: func(c product) any { return app.SayColorant(c) },
		whole: func(p *program, ctx context.Context, c product) (any, func(), error) {
			own, err := p.session.OwnVerdict(ctx, c.Name)
			if err != nil {
				return nil, nil, err
			}
			taught, err := p.session.Taught(ctx, c.Name)
			return struct {
					app.ColorantSaid
					Own     *app.Verdict        `json:"own_verdict"`
					Learned *app.ColorantTaught `json:"learned"`
				}{app.SayColorant(c), own, taught}, func() {
					if own != nil {
						p.out.Printf("\n")
						p.showVerdict(own)
					}
					p.showTaught(taught)
				}, err
		},
		columns: []term.Column{
			{Title: "colourant", Wrap: true}, {Title: "swatch"}, {Title: "verdict"}, {Title: "lands on"}, {Title: "from"},
		},
		row: func(p *program, c product) []string {
			s := app.SayColorant(c)
			swatch, lands := "–", ""
			if c.Swatch != nil {
				swatch = p.out.Swatch(*c.Swatch)
			}
			if s.Lands != nil {
				lands = p.out.Swatch(s.Lands.Lab)
			}
			return []string{p.out.Text(c.Name) + retiredMark(c.Retired), swatch, fmt.Sprintf("%s %.2f", s.Verdict, s.Probability), lands, whose(c.BuiltIn)}
		},
		print: func(p *program, c product) { p.colorant(app.SayColorant(c)) },
	}.command(p, readLabelCmd(p))
}

// colorant shows one colourant: the verdict, where it lands, then why.
func (p *program) colorant(s app.ColorantSaid) {
	o := p.out
	o.Printf("%s%s%s: %s, %.2f\n", o.Bold(o.Text(s.Name)), builtInMark(s.BuiltIn), retiredMark(s.Retired), s.Verdict, s.Probability)
	o.Field("  stands on", o.Text(string(s.Grounds))+"; "+batches(s.Batches), column)
	if s.Swatch != nil {
		text := o.Swatch(*s.Swatch) + " " + s.Swatch.Name().Text + " in pale soap at " + perKg(swatchDose(s))
		if s.SwatchBasis == colorants.SwatchAssumed {
			text += ", assumed from memory of the generic pigment"
		}
		o.Field("  swatch", text, column)
	}
	if s.Lands != nil {
		o.Field("  lands on", o.Swatch(s.Lands.Lab)+" "+s.Lands.Name+", assumed: "+o.Text(s.LandsWords), column)
	} else if s.LandsWords != "" {
		o.Field("  lands on", o.Text(s.LandsWords), column)
	}
	e := s.Expectation
	o.Field("  because", o.Text(e.Because), column)
	o.Field("  pattern", fmt.Sprintf("holds %.0f %%, returns %.0f %%, settles elsewhere %.0f %%, fades %.0f %%; bleeds %.0f %%",
		100*e.Pattern.Holds, 100*e.Pattern.Returns, 100*e.Pattern.Settles, 100*e.Pattern.Fades, 100*e.Bleeds), column)
	if e.JudgeFromDay > 1 {
		o.Field("  judge", fmt.Sprintf("not before day %.0f", e.JudgeFromDay), column)
	}
	o.Field("  label", o.Text(s.Label), column)
	p.unresolved(e.Reading.Unresolved, e.Reading.Suggestions, "  not known", column)
	if s.Claim != "" {
		o.Field("  supplier", o.Text("“"+s.Claim+"”"), column)
	}
	dose := perKg(s.Dose)
	if s.UsualDose == 0 {
		dose += ", usual for its kind (common practice)"
	}
	if s.Teaspoon == nil {
		dose += "; a level teaspoon weighs " + s.TeaspoonGrams.String()
	} else {
		dose += fmt.Sprintf("; a level teaspoon weighs %s to %s, %s", s.Teaspoon.Low, s.Teaspoon.High, s.Teaspoon.Note)
	}
	o.Field("  dose", dose, column)
	o.Field("  lot", o.Text(s.Lot), column)
	o.Field("  note", o.Text(s.Note), column)
	p.cautions(s.Cautions, "  ", column)
}

// swatchDose is the dose that a swatch speaks of.
func swatchDose(s app.ColorantSaid) unit.GramsPerKg {
	if s.SwatchDose > 0 {
		return s.SwatchDose
	}
	return s.Dose
}

// whose says who entered a thing.
func whose(builtIn bool) string {
	if builtIn {
		return "built in"
	}
	return "you"
}

// batches says how much of one's own stands behind a verdict.
func batches(n int) string {
	switch n {
	case 0:
		return "none of your batches yet"
	case 1:
		return "one of your batches"
	}
	return fmt.Sprintf("%d of your batches", n)
}

func (p *program) unresolved(texts []string, suggestions [][]string, name string, column int) {
	for i, text := range texts {
		line := p.out.Text("“" + text + "”")
		if i < len(suggestions) && len(suggestions[i]) > 0 {
			line += "; did you mean " + p.out.Text(strings.Join(suggestions[i], " or ")) + "?"
		}
		p.out.Field(name, line, column)
	}
}

func (p *program) cautions(list []colorants.Caution, indent string, column int) {
	for _, c := range list {
		p.out.Field(indent+string(c.Severity), p.out.Text(c.Text), column)
	}
}

// mostLabel bounds what is read from standard input, in bytes; a label is far shorter.
const mostLabel = 1 << 20

func readLabelCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use: "read-label TEXT", Short: "Say what an ingredient list means in lye",
		Long: "Shows which colours were understood, what looks like a colour and is not known, and the worst that strong alkali does to one of them: the product behaves like it. TEXT may be - for standard input.",
		Example: examples(
			`lyefast colorant read-label "Mica (CI 77019), Titanium Dioxide (CI 77891), CI 77742"`,
			"lyefast colorant read-label - --json < label.txt"),
		Args: takes("TEXT"),
		RunE: func(_ *cobra.Command, args []string) error {
			text := args[0]
			if text == "-" {
				data, err := io.ReadAll(io.LimitReader(p.in, mostLabel+1))
				if err != nil {
					return fmt.Errorf("read the label from standard input: %w", err)
				}
				if len(data) > mostLabel {
					return usage("give the ingredient list alone", "the label on standard input is longer than %d bytes", mostLabel)
				}
				text = string(data)
			}
			s, err := app.ReadLabel(text)
			if err != nil {
				return err
			}
			return p.show(s, func() error { return p.label(s) })
		},
	}
}

// label shows what was read: the worst first, then each colour.
func (p *program) label(s app.LabelSaid) error {
	const column = 11
	o := p.out
	o.Field("worst", o.Text(strings.ReplaceAll(string(s.Worst), "_", " ")+": "+s.WorstReason), column)
	p.unresolved(s.Unresolved, s.Suggestions, "not known", column)
	for _, n := range s.Notes {
		o.Field("note", o.Text(n), column)
	}
	if len(s.Details) > 0 {
		o.Printf("\n")
	}
	rows := make([][]string, len(s.Details))
	for i, t := range s.Details {
		names := make([]string, len(t.RowIDs))
		for j, id := range t.RowIDs {
			names[j] = id
			if f, ok := colorants.FactByID(id); ok {
				names[j] = f.Name()
			}
		}
		lye := t.Behaviour.Words()
		if t.Carrier {
			lye = "a carrier: costs no colour"
		}
		rows[i] = []string{o.Text(t.Printed), o.Text(t.Token), o.Text(strings.Join(names, " or ")), o.Text(lye)}
	}
	err := o.Table([]term.Column{{Title: "on the label", Wrap: true}, {Title: "token"}, {Title: "means", Wrap: true}, {Title: "in lye", Wrap: true}}, rows)
	if len(s.Cautions) > 0 {
		o.Printf("\n")
	}
	p.cautions(s.Cautions, "", column)
	return err
}
