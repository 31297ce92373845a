package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/cie"
	"lyefast/internal/fragrance"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func fragranceCmd(p *program) *cobra.Command {
	type scent = fragrance.Fragrance
	return shelfNoun[scent]{
		use: "fragrance", aliases: []string{"scent"}, noun: "fragrance",
		short: "Fragrances on the shelf, and what they do to the colour of soap",
		long:  "A fragrance with vanillin turns a bar tan to brown over weeks. Enter what its papers say: the vanillin from the supplier, the ceiling from the certificate, allergens from their sheet. What is not stated stays not stated; it is never taken for none.",
		examples: map[string][]string{
			"": {"lyefast fragrance list", `lyefast fragrance dose "Amber Tonka" --rate "4 %"`},
			"add": {`lyefast fragrance add "Amber Tonka" --vanillin "4 %" --flash "93 °C" --max-use "5.2 %" --category 9 --amendment 51`,
				`lyefast fragrance add "Sea Fret" --vanillin "0 %" --claim "no acceleration" --moves normal`},
			"list":   {"lyefast fragrance list", "lyefast fragrance list --retired --json"},
			"show":   {`lyefast fragrance show "Amber Tonka"`, `lyefast fragrance show "Amber Tonka" --json`},
			"edit":   {`lyefast fragrance edit "Amber Tonka" --vanillin "3.5 %" --lot 7`, `lyefast fragrance edit "Sea Fret" --vanillin unknown`},
			"retire": {`lyefast fragrance retire "Sea Fret"`, `lyefast fragrance retire "Sea Fret" --back`},
		},
		flags: func(g *given[scent]) {
			browners(g)
			g.each("allergen", "an allergen and its share, such as \"coumarin 3.1 %\"; can be repeated", func(f *scent, list []string) (err error) {
				f.Allergens, err = shares(list)
				return err
			})
			g.text("flash", "flash point, such as \"93 °C\"; a figure for fire, no limit for soaping", func(f *scent, s string) error {
				f.FlashPoint = nil
				if unknown(s) {
					return nil
				}
				t, err := unit.ParseCelsius(s)
				f.FlashPoint = &t
				return err
			})
			g.text("max-use", "the certificate's ceiling in the finished product, such as \"5.2 %\"", func(f *scent, s string) error {
				if unknown(s) {
					f.MaxUse = nil
					return nil
				}
				v, err := unit.ParsePercent(s)
				if err != nil {
					return err
				}
				f.MaxUse = maxUseOf(f)
				f.MaxUse.Percent = v
				return nil
			})
			for _, c := range []struct {
				name, usage string
				field       func(*fragrance.MaxUse) *string
			}{
				{"category", "product `CATEGORY` of that ceiling; bar soap is 9", func(m *fragrance.MaxUse) *string { return &m.Category }},
				{"amendment", "`NUMBER` of the amendment it is for", func(m *fragrance.MaxUse) *string { return &m.Amendment }},
				{"certificate-date", "`DATE` on the certificate", func(m *fragrance.MaxUse) *string { return &m.Date }},
			} {
				g.text(c.name, c.usage, func(f *scent, s string) error {
					if f.MaxUse == nil {
						return fmt.Errorf("no ceiling is stated for it to belong to; give --max-use too")
					}
					*c.field(f.MaxUse) = s
					return nil
				})
			}
			g.each("claim", "what the `SUPPLIER` says of it, kept as a claim; can be repeated", func(f *scent, list []string) error {
				f.Claims = list
				return nil
			})
			g.text("moves", "how it moves the batter: slow, normal, fast, seizes or unknown", func(f *scent, s string) error {
				f.Moves = fragrance.Speed(strings.ToLower(s))
				if unknown(s) {
					f.Moves = ""
				}
				return nil
			})
			g.words("lot", "`LOT` number", func(f *scent) *string { return &f.Lot })
			g.words("note", "a `TEXT` for yourself", func(f *scent) *string { return &f.Note })
		},
		name: func(f *scent) *string { return &f.Name },
		add:  (*app.App).AddFragrance, list: (*app.App).Fragrances, get: (*app.App).Fragrance,
		edit: (*app.App).EditFragrance, retire: (*app.App).RetireFragrance,
		said: func(f scent) any { return f },
		whole: func(p *program, ctx context.Context, f scent) (any, func(), error) {
			own, err := p.session.OwnScentVerdict(ctx, f.Name)
			return struct {
					scent
					Own *app.FragranceVerdict `json:"own_verdict"`
				}{f, own}, func() {
					if own != nil {
						p.out.Printf("\n")
						p.showScentVerdict(own)
					}
				}, err
		},
		columns: []term.Column{
			{Title: "fragrance", Wrap: true}, {Title: "vanillin", Right: true}, {Title: "ethyl vanillin", Right: true}, {Title: "moves"}, {Title: "ceiling"},
		},
		row: func(p *program, f scent) []string {
			ceiling := "not stated"
			if f.MaxUse != nil {
				ceiling = f.MaxUse.Percent.String()
			}
			return []string{p.out.Text(f.Name) + retiredMark(f.Retired), p.plain(f.Vanillin), p.plain(f.EthylVanillin), p.plain(string(f.Moves)), ceiling}
		},
		print: func(p *program, f scent) {
			p.out.Printf("%s%s\n", p.out.Bold(p.out.Text(f.Name)), retiredMark(f.Retired))
			p.out.Field("  vanillin", p.plain(f.Vanillin)+", ethyl vanillin "+p.plain(f.EthylVanillin), column)
			if len(f.Others) > 0 {
				p.out.Field("  browners", p.plain(f.Others), column)
			}
			p.out.Field("  ceiling", p.plain(f.MaxUse), column)
			if f.FlashPoint != nil {
				p.out.Field("  flash", p.plain(f.FlashPoint)+", a figure for fire and transport, no limit for soaping", column)
			}
			if len(f.Allergens) > 0 {
				p.out.Field("  allergens", p.plain(f.Allergens), column)
			}
			p.out.Field("  moves", p.plain(string(f.Moves)), column)
			for _, c := range f.Claims {
				p.out.Field("  supplier", p.out.Text("“"+c+"”"), column)
			}
			p.out.Field("  lot", p.out.Text(f.Lot), column)
			p.out.Field("  note", p.out.Text(f.Note), column)
			p.out.Field("  next", p.out.Text(fmt.Sprintf("lyefast fragrance dose %q --rate \"4 %%\" reckons browning and stabiliser", f.Name)), column)
		},
	}.command(p, fragranceDoseCmd(p))
}

// maxUseOf gives the ceiling to write into, an empty one where none is stated.
func maxUseOf(f *fragrance.Fragrance) *fragrance.MaxUse {
	if f.MaxUse == nil {
		return &fragrance.MaxUse{}
	}
	return f.MaxUse
}

// browners declares the flags for what browns.
func browners(g *given[fragrance.Fragrance]) {
	g.share("vanillin", "vanillin in it, such as \"4 %\", or unknown", func(f *fragrance.Fragrance) **unit.Percent { return &f.Vanillin })
	g.share("ethyl-vanillin", "ethyl vanillin in it, such as \"0.5 %\", or unknown", func(f *fragrance.Fragrance) **unit.Percent { return &f.EthylVanillin })
	g.each("browner", "another substance that browns and its share, such as \"eugenol 2 %\"; can be repeated", func(f *fragrance.Fragrance, list []string) (err error) {
		f.Others, err = shares(list)
		return err
	})
}

func shares(list []string) ([]fragrance.Share, error) {
	out := []fragrance.Share{}
	for _, text := range list {
		s, err := app.ParseShare(text)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

func fragranceDoseCmd(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use: "dose [NAME]", Short: "Reckon browning, stabiliser, lye and limits of a fragrance at a rate",
		Long: "NAME is a fragrance on the shelf. One that is not there can be described in place with --vanillin and the like; what is given in place also stands before what the shelf says. Without --base a pale bar is assumed, without --oils 1000 g.",
		Example: examples(
			`lyefast fragrance dose "Amber Tonka" --rate "4 %" --oils "1000 g" --stabilizer "Quiet White"`,
			`lyefast fragrance dose --vanillin "4 %" --rate "3 %" --base "#f3efe4" --gel full --day 14 --day 42`),
	}
	q := newGiven(cmd, func(g *given[app.DoseQuery]) {
		type query = app.DoseQuery
		g.text("rate", "fragrance in % of the oils, such as \"4 %\"", func(q *query, s string) (err error) {
			q.Question.Rate, err = unit.ParsePercent(s)
			return err
		})
		g.text("oils", "oils of the batter, such as \"1000 g\" (the default)", func(q *query, s string) (err error) {
			q.Question.Oils, err = unit.ParseMass(s)
			return err
		})
		g.text("share", "the share of the batter that takes all of it, such as \"50 %\"", func(q *query, s string) (err error) {
			q.Question.ScentedShare, err = unit.ParsePercent(s)
			return err
		})
		g.text("base", "`COLOUR` of your bare bar, a hex or L,a,b", func(q *query, s string) error {
			c, err := cie.ParseColor(s)
			q.Question.Base = &c
			return err
		})
		g.each("day", "an `AGE` in days to forecast; can be repeated", func(q *query, list []string) error {
			for _, s := range list {
				day, err := unit.ParseNumber(s)
				if err != nil {
					return err
				}
				q.Question.Days = append(q.Question.Days, day)
			}
			return nil
		})
		g.text("gel", "none, partial, full or unsure", func(q *query, s string) error {
			q.Question.Conditions.Gel = fragrance.Gel(strings.ToLower(s))
			return nil
		})
		g.text("light", "where the bar is kept: room, window or dark", func(q *query, s string) error {
			q.Question.Conditions.Light = fragrance.Light(strings.ToLower(s))
			return nil
		})
		g.text("cure-at", "temperature of the cure place, such as \"20 °C\"", func(q *query, s string) error {
			t, err := unit.ParseCelsius(s)
			q.Question.Conditions.CureAt = &t
			return err
		})
		g.words("stabilizer", "`NAME` of a stabiliser on the shelf", func(q *query) *string { return &q.Stabilizer })
		g.text("active", "`SALT` of a stabiliser that is not on the shelf", func(q *query, s string) (err error) {
			inlineStabilizer(q).Active, err = fragrance.ParseActive(s)
			return err
		})
		g.text("strength", "share of that salt in it, such as \"8.3 %\"", func(q *query, s string) error {
			v, err := unit.ParsePercent(s)
			inlineStabilizer(q).Strength = &v
			return err
		})
		g.text("stabilizer-grams", "what you mean to use of it, such as \"20 g\"", func(q *query, s string) error {
			v, err := unit.ParseMass(s)
			q.Question.StabilizerGrams = &v
			return err
		})
	})
	inline := newGiven(cmd, browners)
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 && inline.any() {
			return nil
		}
		return takes("NAME")(cmd, args)
	}
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		query := app.DoseQuery{Question: fragrance.Question{Oils: 1000}}
		if err := q.apply(&query); err != nil {
			return err
		}
		if query.Question.Rate == 0 {
			return usage("give it in % of the oils, such as --rate \"4 %\"", "--rate is missing")
		}
		if query.Stabilizer != "" && query.InlineStabilizer != nil {
			return usage("name one from the shelf, or describe one in place", "--stabilizer does not go with --active and --strength")
		}
		if len(args) > 0 {
			query.Name = args[0]
		}
		if inline.any() {
			query.Inline = inline.apply
		}
		r, err := p.session.FragranceDose(cmd.Context(), query)
		if err != nil {
			return err
		}
		return p.show(r, func() error { return p.dose(r) })
	}
	return cmd
}

func inlineStabilizer(q *app.DoseQuery) *fragrance.Stabilizer {
	if q.InlineStabilizer == nil {
		q.InlineStabilizer = &fragrance.Stabilizer{Name: "the stabiliser"}
	}
	return q.InlineStabilizer
}

// dose shows a report: the colours first, then what to weigh, then the rest.
func (p *program) dose(r fragrance.Report) error {
	o := p.out
	o.Printf("%s at %s of oils, %s of oils\n", o.Bold(o.Text(r.Fragrance)), r.Rate, r.Oils)
	o.Para("", r.Grounds)
	o.Printf("\n")
	if len(r.Days) > 0 {
		columns := []term.Column{{Title: "day", Right: true}, {Title: "as it is"}, {Title: "L* (90 %)"}, {Title: ""}}
		with := len(r.WithStabilizer) == len(r.Days)
		if with {
			columns = append(columns, term.Column{Title: "with " + r.Stabilizer.Product.String() + " stabiliser"}, term.Column{Title: "L* (90 %)"})
		}
		var rows [][]string
		for i, d := range r.Days {
			row := append([]string{fmt.Sprintf("%.4g", d.Day)}, p.dayColour(d)...)
			if with {
				row = append(row, p.dayColour(r.WithStabilizer[i])[:2]...)
			}
			rows = append(rows, row)
		}
		if err := o.Table(columns, rows); err != nil {
			return err
		}
		o.Printf("\n")
	}
	if r.VanillinPercent != nil {
		o.Field("vanillin", fmt.Sprintf("%.3g %% of the scented bar; all that browns counts as %.3g %%", float64(*r.VanillinPercent), r.Dose.Percent), column)
	}
	s := r.Stabilizer
	if s.SuggestedProduct > 0 || s.EqualParts > 0 {
		text := fmt.Sprintf("floor by the chemistry %s, suggested %s, equal parts %s", s.FloorProduct, s.SuggestedProduct, s.EqualParts)
		o.Field("stabiliser", text+"; it delays and lightens, it does not prevent", column)
	}
	for _, w := range s.Warnings {
		o.Field("", o.Text(w), column)
	}
	if r.LyeBound.Total > 0 {
		o.Field("lye", fmt.Sprintf("%s of NaOH is bound: about %+.2g points of lye discount", r.LyeBound.Total, float64(r.LyeBound.DiscountPoints)), column)
	}
	for i, n := range r.Ceiling.Notes {
		o.Field(first(i, "ceiling"), o.Text(n), column)
	}
	for i, l := range r.Allergens {
		mark := ""
		if l.OverThreshold {
			mark = ", above 0.01 %: to be named on an EU label of a rinse-off product"
		}
		o.Field(first(i, "allergens"), o.Text(fmt.Sprintf("%s %.3g %% of the bar%s", l.Name, float64(l.PercentOfBar), mark)), column)
	}
	o.Field("batter", o.Text(fmt.Sprintf("accelerates %.0f %%, rices %.0f %%, seizes %.0f %%: %s", float64(r.Moves.Accelerates.Percent),
		float64(r.Moves.Rices.Percent), float64(r.Moves.Seizes.Percent), strings.Join(r.Moves.Basis, "; "))), column)
	for _, c := range r.Claims {
		verdict := "not contradicted: "
		if c.Contradicted {
			verdict = "contradicted: "
		}
		o.Field("supplier", o.Text("“"+c.Claim+"” "+verdict+c.Because), column)
	}
	for i, n := range r.Notes {
		o.Field(first(i, "note"), o.Text(n), column)
	}
	for i, c := range r.Cautions {
		o.Field(first(i, "caution"), o.Text(c), column)
	}
	return nil
}

// first names the first of several lines.
func first(i int, name string) string {
	if i > 0 {
		return ""
	}
	return name
}

// dayColour writes a colour of a report: swatch, lightness with its band, word.
func (p *program) dayColour(d fragrance.DayColour) []string {
	c := cie.Lab{L: d.Lab[0], A: d.Lab[1], B: d.Lab[2]}
	return []string{p.out.Swatch(c), fmt.Sprintf("%.0f (%.0f–%.0f)", d.Lab[0], d.P05[0], d.P95[0]), p.out.Text(d.Word)}
}
