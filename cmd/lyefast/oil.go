package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/formula"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func oilCmd(p *program) *cobra.Command {
	type oil = formula.Oil
	return shelfNoun[oil]{
		use: "oil", aliases: []string{"fat"}, noun: "oil",
		short: "Oils, fats and waxes: saponification ranges and where they come from",
		long:  "The built-in table holds published ranges, each with its source. They describe the oil of trade, not the lot in your cupboard: put your own on the shelf with the figure of its certificate. An oil of your own stands before a built-in one of the same name.",
		examples: map[string][]string{
			"":       {"lyefast oil list", `lyefast oil show coconut`},
			"add":    {`lyefast oil add "Lamp Oil Olive" --certificate 189.7 --tint yellow --lot 9`, `lyefast oil add "Harbour Tallow" --sv 192-202 --tint cream --source "supplier's sheet"`},
			"list":   {"lyefast oil list", "lyefast oil list --json"},
			"show":   {`lyefast oil show "olive, refined"`, "lyefast oil show castor --json"},
			"edit":   {`lyefast oil edit "Lamp Oil Olive" --certificate 190.2 --lot 10`, `lyefast oil edit "Harbour Tallow" --note "from the mill"`},
			"retire": {`lyefast oil retire "Harbour Tallow"`, `lyefast oil retire "Harbour Tallow" --back`},
		},
		flags: func(g *given[oil]) {
			g.text("sv", "saponification `RANGE` in mg KOH/g, such as 184-196", func(o *oil, s string) (err error) {
				o.SVMin, o.SVMax, err = parseSVRange(s)
				return err
			})
			g.text("certificate", "saponification `VALUE` of your lot, mg KOH/g; it overrides the range", func(o *oil, s string) (err error) {
				o.CertificateSV = 0
				if !unknown(s) {
					o.CertificateSV, err = parseSV(s)
				}
				return err
			})
			g.text("unsaponifiable", "largest share that no lye touches, such as \"1.5 %\"", func(o *oil, s string) (err error) {
				o.Unsaponifiable = 0
				if !unknown(s) {
					o.Unsaponifiable, err = unit.ParsePercent(s)
				}
				return err
			})
			g.text("kind", "triglyceride, \"wax ester\" or \"free acid\"", func(o *oil, s string) error {
				o.Kind = formula.OilKind(strings.ToLower(s))
				return nil
			})
			g.text("tint", "colour it lends bare soap: \"near white\", cream, yellow, orange or green", func(o *oil, s string) error {
				o.Tint = formula.Tint(strings.ToLower(s))
				return nil
			})
			g.words("key", "short `NAME` for plans", func(o *oil) *string { return &o.Key })
			g.words("inci", "INCI `NAME` for labels", func(o *oil) *string { return &o.INCI })
			g.words("source", "`WHERE` the figures come from", func(o *oil) *string { return &o.Source })
			g.words("lot", "`LOT` number", func(o *oil) *string { return &o.Lot })
			g.words("note", "a `TEXT` for yourself", func(o *oil) *string { return &o.Note })
		},
		name: func(o *oil) *string { return &o.Name },
		add:  (*app.App).AddOil, list: (*app.App).Oils, get: (*app.App).Oil,
		edit: (*app.App).EditOil, retire: (*app.App).RetireOil,
		said: func(o oil) any { return app.SayOil(o) },
		columns: []term.Column{
			{Title: "oil", Wrap: true}, {Title: "key"}, {Title: "mg KOH/g", Right: true}, {Title: "tint"}, {Title: "source", Wrap: true},
		},
		row: func(p *program, o oil) []string {
			return []string{
				p.out.Text(o.Name) + retiredMark(o.Retired), p.out.Text(o.Key), svRange(o), string(o.Tint), p.out.Text(shortSource(o)),
			}
		},
		print: func(p *program, o oil) {
			p.out.Printf("%s%s%s\n", p.out.Bold(p.out.Text(o.Name)), builtInMark(o.BuiltIn), retiredMark(o.Retired))
			p.out.Field("  key", p.out.Text(o.Key), column)
			p.out.Field("  INCI", p.out.Text(o.INCI), column)
			what := "saponification value"
			if o.Kind == formula.FreeAcid {
				what = "acid value"
			}
			mid, low, high := o.SV()
			sv := fmt.Sprintf("%s mg KOH/g (%s)", svRange(o), what)
			switch {
			case o.CertificateSV > 0:
				sv += ", from the certificate of your lot"
				if o.SVMax > 0 {
					sv += fmt.Sprintf("; the published range is %.4g–%.4g", o.SVMin, o.SVMax)
				}
			case high > low:
				sv += fmt.Sprintf("; reckoned with %.4g ±%.2g %%", mid, 50*(high-low)/mid)
			}
			p.out.Field("  takes", sv, column)
			if o.Unsaponifiable > 0 {
				p.out.Field("  leaves", "up to "+o.Unsaponifiable.String()+" that no lye touches", column)
			}
			p.out.Field("  kind", string(o.Kind), column)
			if o.Tint != "" {
				p.out.Field("  tint", p.out.Text(string(o.Tint)+" bare soap; "+formula.TintBasis(o)), column)
			}
			p.oilAcids(app.SayOil(o), column)
			p.out.Field("  source", p.out.Text(o.Source), column)
			p.out.Field("  lot", p.out.Text(o.Lot), column)
			p.out.Field("  note", p.out.Text(o.Note), column)
		},
	}.command(p)
}

// oilAcids shows what an oil is made of, and what follows from it.
func (p *program) oilAcids(s app.OilSaid, column int) {
	if len(s.Acids) > 0 {
		var parts []string
		for _, a := range s.Acids {
			parts = append(parts, fmt.Sprintf("%s %.1f", a.Acid, a.Percent))
		}
		p.out.Field("  acids", p.out.Text(strings.Join(parts, ", ")+" % of the fatty acids"), column)
	}
	var follows []string
	if s.SVFromAcids != nil {
		follows = append(follows, fmt.Sprintf("%.1f mg KOH/g from the acids, a cross-check that sets no lye", *s.SVFromAcids))
	}
	if s.IodineFromAcids != nil {
		iodine := fmt.Sprintf("iodine value %.0f from the acids", *s.IodineFromAcids)
		if s.IodineMin != nil && s.IodineMax != nil {
			iodine += fmt.Sprintf(" (published %.4g–%.4g)", *s.IodineMin, *s.IodineMax)
		}
		follows = append(follows, iodine)
	}
	p.out.Field("  follows", strings.Join(follows, "; "), column)
	if s.SaltNaOH != "" {
		p.out.Field("  becomes", p.out.Text(s.SaltNaOH+" with NaOH, "+s.SaltKOH+" with KOH; check the current INCI list"), column)
	}
}

// builtInMark follows the name of what no maker entered.
func builtInMark(builtIn bool) string {
	if builtIn {
		return " (built in)"
	}
	return ""
}

// svRange writes what an oil is reckoned with.
func svRange(o formula.Oil) string {
	_, low, high := o.SV()
	if low == high {
		return fmt.Sprintf("%.4g", low)
	}
	return fmt.Sprintf("%.4g–%.4g", low, high)
}

// shortSource is a source up to its first detail, for a table.
func shortSource(o formula.Oil) string {
	switch {
	case o.CertificateSV > 0:
		return "your certificate"
	case !o.BuiltIn && o.Source == "":
		return "your entry"
	}
	s, _, _ := strings.Cut(o.Source, ";")
	s, _, _ = strings.Cut(s, " (")
	return s
}

// parseSV reads a saponification value in mg KOH/g, the unit may stand behind it.
func parseSV(s string) (float64, error) {
	v, u, err := unit.Split(s)
	if err == nil && u != "" && u != "mgkoh/g" {
		err = fmt.Errorf("%q is not in mg KOH/g, the unit of saponification values on a certificate", s)
	}
	return v, err
}

// parseSVRange reads "184-196", also with "to" or a dash between.
func parseSVRange(s string) (low, high float64, err error) {
	parts := strings.Split(strings.NewReplacer("–", "-", "—", "-", " to ", "-").Replace(s), "-")
	if len(parts) != 2 {
		return 0, 0, fmt.Errorf("%q is not a range; write it like 184-196, or give one value with --certificate", s)
	}
	if low, err = unit.ParseNumber(parts[0]); err != nil {
		return 0, 0, err
	}
	if high, err = parseSV(parts[1]); err != nil {
		return 0, 0, err
	}
	if low > high {
		return 0, 0, fmt.Errorf("%q runs backwards; write %.4g-%.4g", s, high, low)
	}
	return low, high, nil
}
