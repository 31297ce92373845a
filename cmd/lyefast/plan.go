package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/cie"
	"lyefast/internal/plan"
	"lyefast/internal/term"
)

func planCmd(p *program) *cobra.Command {
	return noun(&cobra.Command{
		Use:     "plan",
		Short:   "A recipe not yet made: write it, check it, scale it",
		Long:    wrapHelp(`A plan is a text file (TOML) with the oils, the lye, the scent and each portion with its colourants. "plan new" writes one to fill in; "plan check" says what will brown, drift, bleed or lose its contrast before you pour.`),
		Example: examples("lyefast plan new harbour.toml", "lyefast plan check harbour.toml"),
	},
		planNewCmd(p),
		planCheckCmd(p),
		planReachCmd(p),
		planScaleCmd(p),
		planSheetCmd(p),
		planLabelCmd(p),
		planShopCmd(p),
	)
}

// maxPlanFile is where reading stops: a byte more than any plan that is taken, so
// that a larger file is refused for its size and not cut.
const maxPlanFile = 1<<20 + 1

// readPlanFile reads a plan from a file, or from standard input for "-".
func (p *program) readPlanFile(name string) ([]byte, string, error) {
	if name == "-" {
		data, err := io.ReadAll(io.LimitReader(p.in, maxPlanFile))
		return data, "standard input", err
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, "", planFileError(name, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxPlanFile))
	if err != nil {
		return nil, "", planFileError(name, err)
	}
	return data, name, nil
}

// planFileError says why a file cannot be read, without the system's prose.
func planFileError(name string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &app.Error{Kind: app.ErrNotFound, Msg: fmt.Sprintf("there is no file %q", name), Tip: "`lyefast plan new FILE` writes one to fill in"}
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("read %q: no permission", name)
	}
	var perr *fs.PathError
	if errors.As(err, &perr) {
		err = perr.Err
	}
	return fmt.Errorf("read %q: %w", name, err)
}

func planCheckCmd(p *program) *cobra.Command {
	var failOn string
	var swatches bool
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "Say before the pour what a plan's colours will do",
		Long: wrapHelp(`Weighs the plan pot by pot, forecasts each portion's colour from pour to settled with an honest band, and lists what will go wrong, with the numbers and a remedy. FILE may be - for standard input.

The exit status is 4 when a finding is at least as grave as --fail-on.`),
		Example: examples("lyefast plan check testdata/plans/harbour-dawn.toml", "lyefast plan check harbour.toml --swatches --fail-on caution"),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			limit := plan.Severity(-1)
			if failOn != "" {
				s, err := plan.ParseSeverity(failOn)
				if err != nil {
					return usage("", "--fail-on: %v", err)
				}
				limit = s
			}
			data, name, err := p.readPlanFile(args[0])
			if err != nil {
				return err
			}
			debug.SetGCPercent(400) // the command ends before a collection would pay
			c, err := p.session.CheckPlan(cmd.Context(), app.CheckQuery{Data: data, File: name})
			if err != nil {
				return err
			}
			if err := p.show(c, func() error { return p.showCheck(c, swatches) }); err != nil {
				return err
			}
			if failOn != "" && c.Worst() >= limit {
				return findings{}
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&failOn, "fail-on", "", "exit with status 4 at a finding of this `SEVERITY` or graver (note, caution, risk)")
	cmd.Flags().BoolVar(&swatches, "swatches", false, "show the best, likely and worst settled colour of each portion")
	return cmd
}

// showCheck lays a plan check out for a screen of 80 columns: the answer first,
// then why, then what to do.
func (p *program) showCheck(c *app.PlanCheck, swatches bool) error {
	w := p.out
	w.Printf("%s\n", w.Bold(w.Text(c.Title)))
	w.Para("", upper(c.Grounds)+"."+unknownLine(c))
	w.Printf("\n")
	if err := p.showPots(c); err != nil {
		return err
	}
	p.showScent(c)
	w.Field("Base", fmt.Sprintf("%s, from the %s: about %s", c.Base.Class, c.Base.Basis, w.Swatch(c.Base.Lab)), 8)
	w.Printf("\n")
	if err := p.showPortions(c); err != nil {
		return err
	}
	if swatches {
		if err := p.showRange(c); err != nil {
			return err
		}
	}
	p.showGel(c)
	w.Printf("\n")
	for _, f := range c.Findings {
		p.showFinding(c.File, f)
	}
	if len(c.Findings) == 0 {
		w.Para("", "No findings. That is not the same as safe: a check speaks only of what it knows.")
		w.Printf("\n")
	}
	for _, l := range c.Lessons {
		w.Para("  ", w.Text("lesson of "+l.Batch+": "+l.Text))
	}
	for _, s := range c.Cautions {
		w.Para("  ", "! "+s)
	}
	return nil
}

func unknownLine(c *app.PlanCheck) string {
	if c.Unknowns == 0 {
		return " Unknown: none."
	}
	return fmt.Sprintf(" Unknown: %d (%s).", c.Unknowns, strings.Join(c.UnknownWords, "; "))
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func (p *program) showPots(c *app.PlanCheck) error {
	columns := []term.Column{{Title: "pot"}, {Title: "oils", Right: true}}
	naoh, koh := false, false
	for _, b := range c.Batters {
		naoh, koh = naoh || b.NaOH > 0, koh || b.KOH > 0
	}
	if naoh {
		columns = append(columns, term.Column{Title: alkaliTitle("NaOH", c, func(b app.BatterSaid) (float64, float64) { return float64(b.NaOH), float64(b.NaOHPurity) }), Right: true})
	}
	if koh {
		columns = append(columns, term.Column{Title: alkaliTitle("KOH", c, func(b app.BatterSaid) (float64, float64) { return float64(b.KOH), float64(b.KOHPurity) }), Right: true})
	}
	columns = append(columns, term.Column{Title: "water", Right: true}, term.Column{Title: "scent", Right: true}, term.Column{Title: "stabiliser", Right: true}, term.Column{Title: "discount"})
	var rows [][]string
	for _, b := range c.Batters {
		row := []string{p.out.Text(b.Name), b.Oils.String()}
		if naoh {
			row = append(row, massOr(float64(b.NaOH)))
		}
		if koh {
			row = append(row, massOr(float64(b.KOH)))
		}
		row = append(row, massOr(float64(b.Water)), massOr(float64(b.Fragrance)), massOr(float64(b.Stabilizer.Given)),
			fmt.Sprintf("%.1f %% (%.1f–%.1f)", b.Discount, b.DiscountLow, b.DiscountHigh))
		rows = append(rows, row)
	}
	if err := p.out.Table(columns, rows); err != nil {
		return err
	}
	for _, b := range c.Batters {
		for _, a := range b.Additives {
			line := fmt.Sprintf("%s: %s %s into the %s", b.Name, massOr(float64(a.Grams)), a.Name, a.Into)
			if a.ExtraAlkali > 0 {
				line += fmt.Sprintf(" (%s of the alkali is for it)", massOr(float64(a.ExtraAlkali)))
			}
			p.out.Field("", p.out.Text(line), 2)
		}
		if b.WaterBrought >= 1 {
			p.out.Field("", p.out.Text(fmt.Sprintf("%s: another %.1f g of water comes with the stabiliser or additives, so the jug holds less", b.Name, b.WaterBrought)), 2)
		}
		for _, n := range b.Notes {
			p.out.Field("", p.out.Text(b.Name+": "+n), 2)
		}
	}
	return nil
}

// alkaliTitle names an alkali with its purity where all pots share one.
func alkaliTitle(name string, c *app.PlanCheck, of func(app.BatterSaid) (grams, purity float64)) string {
	purity := -1.0
	for _, b := range c.Batters {
		g, q := of(b)
		if g <= 0 {
			continue
		}
		if purity >= 0 && q != purity {
			return name
		}
		purity = q
	}
	if purity < 0 {
		return name
	}
	return fmt.Sprintf("%s %.4g %%", name, purity)
}

func massOr(g float64) string {
	if g <= 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f g", g)
}

func (p *program) showScent(c *app.PlanCheck) {
	s := c.Scent
	if s == nil {
		return
	}
	line := fmt.Sprintf("%s %.3g %% of oils", p.out.Text(s.Name), s.Rate)
	switch {
	case s.VanillinPercent == nil:
		line += " · no vanillin figure, so no browning is forecast"
	default:
		line += fmt.Sprintf(" · vanillin %.2g %% of the bar; the bare soap would end %s", *s.VanillinPercent, s.Word)
	}
	p.out.Field("Scent", line, 8)
	for _, b := range c.Batters {
		st := b.Stabilizer
		if st.Floor <= 0 {
			continue
		}
		p.out.Field("", fmt.Sprintf("stabiliser for %s: floor %.1f g, working dose %.1f g, equal parts %.1f g%s; it delays and lightens, no more",
			p.out.Text(b.Name), st.Floor, st.Suggested, st.EqualParts, map[bool]string{true: " (strength unknown)"}[st.StrengthAssumed]), 8)
	}
}

// showPortions gives each portion's colour by day, then what goes into its jug and
// how far it ends from its target.
func (p *program) showPortions(c *app.PlanCheck) error {
	var byDay, jugs [][]string
	var names []string // what the settled colours are called
	for _, q := range c.Portions {
		name := p.out.Text(q.Batter + "/" + q.Name)
		row := []string{name}
		for _, day := range []float64{0, 2, 14} {
			cell := "not known"
			for _, d := range q.Days {
				if d.Day == day && d.Lab != nil {
					cell = p.out.Swatch(*d.Lab)
				}
			}
			row = append(row, cell)
		}
		settled, target, off := "not known", "–", "–"
		if q.Settled != nil {
			settled = fmt.Sprintf("%s ±%.0f", p.out.Swatch(q.Settled.Lab), q.Settled.Band)
			names = append(names, q.Name+" "+q.Settled.Name)
		}
		byDay = append(byDay, append(row, settled))
		if q.Target != nil {
			target = p.out.Swatch(*q.Target)
		}
		if q.TargetDelta != nil {
			off = fmt.Sprintf("%.1f", *q.TargetDelta)
		}
		var doses []string
		for _, d := range q.Colorants {
			doses = append(doses, fmt.Sprintf("%s %.2f g", d.Name, float64(d.Grams)))
		}
		if len(doses) == 0 {
			doses = []string{"no colourant"}
		}
		jugs = append(jugs, []string{name, fmt.Sprintf("%.1f g", float64(q.Grams)), p.out.Text(strings.Join(doses, ", ")), target, off})
	}
	if err := p.out.Table([]term.Column{{Title: "portion", Wrap: true}, {Title: "pour"}, {Title: "day 2"}, {Title: "day 14"}, {Title: "settled"}}, byDay); err != nil {
		return err
	}
	if len(names) > 0 {
		p.out.Field("Settled", p.out.Text(strings.Join(names, "; ")), 9)
	}
	p.out.Printf("\n")
	if err := p.out.Table([]term.Column{{Title: "portion"}, {Title: "batter", Right: true}, {Title: "with", Wrap: true}, {Title: "target"}, {Title: "off by", Right: true}}, jugs); err != nil {
		return err
	}
	p.out.Para("", "Off by and ± are CIEDE2000; 9 in 10 end within the ±. Settled is day 42.")
	return nil
}

// showRange lists how well and how badly each portion may end.
func (p *program) showRange(c *app.PlanCheck) error {
	var rows [][]string
	for _, q := range c.Portions {
		if q.Settled == nil {
			continue
		}
		row := []string{p.out.Text(q.Batter + "/" + q.Name)}
		for _, c := range []*cie.Lab{q.Best, q.Likely, q.Worst} {
			row = append(row, p.out.Swatch(*c))
		}
		near := "–"
		if q.Near != nil {
			near = fmt.Sprintf("%.0f %%, %.0f %%, %.0f %%", 100*q.Near.E18, 100*q.Near.E3, 100*q.Near.E5)
		}
		rows = append(rows, append(row, near))
	}
	p.out.Printf("\n")
	return p.out.Table([]term.Column{{Title: "portion", Wrap: true}, {Title: "best"}, {Title: "likely"}, {Title: "worst"}, {Title: "within 1.8, 3, 5"}}, rows)
}

func (p *program) showGel(c *app.PlanCheck) {
	said := false
	for _, q := range c.Portions {
		if q.IfGelled == nil || q.IfNot == nil {
			continue
		}
		if !said {
			p.out.Printf("Gel is not sure, so both:\n")
			said = true
		}
		p.out.Field("  "+p.out.Text(q.Batter+"/"+q.Name), fmt.Sprintf("gelled %s, not gelled %s", p.out.Swatch(q.IfGelled.Lab), p.out.Swatch(q.IfNot.Lab)), 18)
	}
}

func (p *program) showFinding(file string, f plan.Finding) {
	w := p.out
	where := f.Portion
	if where != "" {
		where += ": "
	}
	at := ""
	if f.Line > 0 {
		at = fmt.Sprintf(" (%s:%d)", filepath.Base(file), f.Line)
	}
	w.Field(f.Severity.String(), w.Text(where+f.Title+at), 9)
	for _, part := range []struct{ word, text string }{{"because", f.Because}, {"try", f.Try}, {"grounds", f.Grounds}} {
		w.Field("  "+part.word, w.Text(part.text), 11)
	}
}
