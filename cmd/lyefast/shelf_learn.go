package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/cie"
	"lyefast/internal/exchange"
	"lyefast/internal/term"
)

func shelfLearnCmd(p *program) *cobra.Command {
	var q app.HistoryQuery
	cmd := &cobra.Command{
		Use: "learn HISTORY.csv", Short: "Take a table of past portions and learn from it",
		Long: wrapHelp(`Columns: base_L, base_a, base_b, the bare soap; dose_NAME for each colourant and dose_vanillin, in g per kg of oils, blank for none; L, a, b, the settled colour; and, as may be, portion, date and stabilizer (g per kg of oils). All colours are D65, 2°.

Names the shelf does not know are put on it without a label. A row taken twice adds nothing; lyefast undo takes a file back whole. HISTORY.csv may be - for standard input.`),
		Example: examples("lyefast shelf learn portions.csv --dry-run", "lyefast shelf learn portions.csv --sd 0.5"),
		Args:    takes("HISTORY.csv"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if q.Data, q.File, err = p.readInput(args[0], exchange.MaxBytes+1); err != nil {
				return err
			}
			r, err := p.session.LearnHistory(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error { return p.showHistory(r) })
		},
	}
	cmd.Flags().BoolVar(&q.DryRun, "dry-run", false, "say what it holds and would teach, write nothing")
	cmd.Flags().Float64Var(&q.SD, "sd", app.HistorySD, "how well its colours are known, one standard deviation of L*, a* and b*")
	return cmd
}

func (p *program) showHistory(r *app.HistorySaid) error {
	w := p.out
	verb := "taken"
	if r.DryRun {
		verb = "would be taken (dry run, nothing was written)"
	}
	w.Field(w.Text(r.File), fmt.Sprintf("%s, %d %s, %d in the book already", count(r.Portions, "past portion"), r.Added, verb, r.Known), 0)
	if r.WithoutColour > 0 {
		w.Field("left out", count(r.WithoutColour, "row")+" without a settled colour", 13)
	}
	if len(r.NewColorants) > 0 {
		w.Field("new", w.Text(strings.Join(r.NewColorants, ", "))+": on the shelf now, without a label (lyefast colorant edit NAME --label LIST)", 13)
	}
	if len(r.Ignored) > 0 {
		w.Field("not read", w.Text(strings.Join(r.Ignored, ", ")), 13)
	}
	return p.showLearned(&r.Learned)
}

// showLearned prints what all portions taught.
func (p *program) showLearned(l *app.Learned) error {
	w := p.out
	from := []string{}
	if len(l.Batches) > 0 {
		from = append(from, fmt.Sprintf("%d of %s", l.Portions-l.History, count(len(l.Batches), "batch")))
	}
	if l.History > 0 {
		from = append(from, fmt.Sprintf("%d of past tables", l.History))
	}
	w.Printf("\n")
	w.Field("learned from", fmt.Sprintf("%s (%s), %d of them browned by vanillin", count(l.Portions, "portion"), strings.Join(from, ", "), l.Browned), 13)
	rows := make([][]string, len(l.Colorants))
	for i, c := range l.Colorants {
		kind, doubt := "", fmt.Sprintf("±%.0f %%", 100*c.Strength)
		if c.White {
			kind, doubt = "white", "–" // it absorbs next to nothing
		}
		rows[i] = []string{w.Text(c.Name), fmt.Sprint(c.Portions), perKg(c.MaxDose), doubt, kind}
	}
	if len(rows) > 0 {
		if err := w.Table([]term.Column{{Title: "colourant", Wrap: true}, {Title: "portions", Right: true}, {Title: "read to", Right: true}, {Title: "absorption", Right: true}, {Title: ""}}, rows); err != nil {
			return err
		}
	}
	if s := l.Stabilizer; s != nil {
		w.Field("stabiliser", fmt.Sprintf("held back %.0f %% of the brown in %s; chemistry lets expect %.0f %%", 100*s.Held, count(s.With, "portion"), 100*s.Expected), 13)
	}
	p.showMisfits(l.Misfits)
	return nil
}

// showMisfits names portions that are unlike the others, a few of them.
func (p *program) showMisfits(list []app.MisfitSaid) {
	const most = 5
	for i, m := range list {
		if i == most {
			p.out.Field("", fmt.Sprintf("and %d more", len(list)-most), 13)
			return
		}
		name := ""
		if i == 0 {
			name = "unlike"
		}
		p.out.Field(name, p.out.Text(fmt.Sprintf("%s (%s): ΔE00 %.1f from what the other portions say, chance %.1g; a slip, or it behaved unlike its past",
			m.Portion, strings.Join(m.Colorants, ", "), m.Delta, m.Chance)), 13)
	}
}

// jsonList writes a JSON list one item at a time.
type jsonList struct {
	w    *term.Writer
	some bool
}

func (l *jsonList) add(v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return err
	}
	open := ",\n"
	if !l.some {
		open, l.some = "[\n", true
	}
	l.w.Printf("%s%s", open, text)
	return nil
}

// close ends the list; one with an error in it stays open, so that nobody takes it for
// whole.
func (l *jsonList) close(err error) error {
	switch {
	case err != nil && l.some:
		l.w.Printf("\n")
	case err != nil:
	case l.some:
		l.w.Printf("\n]\n")
	default:
		l.w.Printf("[]\n")
	}
	return err
}

func shelfMixCmd(p *program) *cobra.Command {
	var base, vanillin, stabilizer, file string
	var doses []string
	var q app.MixQuery
	cmd := &cobra.Command{
		Use: "mix", Short: "Predict the settled colour of a mixture, or of a file of them",
		Long: wrapHelp(`Gives the settled colour with its central 90 % band, and the past portions that weigh most in it. Beyond four times the largest dose ever read of a colourant there is no number.

A file has the columns of shelf learn: base_L, base_a, base_b, dose_NAME, dose_vanillin, portion. The answers come in its order. FILE may be - for standard input.`),
		Example: examples(
			`lyefast shelf mix --dose "Ultramarine blue (CI 77007)=2 g/kg" --base 90,-0.5,8`,
			"lyefast shelf mix --file mixtures.csv --json"),
		Args: takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if file != "" && (len(doses) > 0 || base != "" || vanillin != "" || stabilizer != "") {
				return usage("", "--file brings its own bases and doses")
			}
			if file == "" && len(doses) == 0 && vanillin == "" {
				return usage(`such as --dose "Tide Blue=2 g/kg", or --file mixtures.csv`, "say what is mixed")
			}
			if file != "" {
				return p.mixFile(cmd, &q, file)
			}
			if err := mixture(&q, base, vanillin, stabilizer, doses); err != nil {
				return err
			}
			r, err := p.session.Mix(cmd.Context(), q)
			if err != nil {
				return err
			}
			p.warn(r.Warnings)
			return p.show(r.Mixtures, func() error {
				p.showMixture(&r.Mixtures[0], r.Grounds)
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&base, "base", "", "the bare soap's `COLOUR`: L,a,b or a hex (default a pale soap)")
	f.StringArrayVar(&doses, "dose", nil, "a colourant, `NAME=2 g/kg` of oils; give it again for further ones")
	f.StringVar(&vanillin, "vanillin", "", "vanillin of the oils, such as \"2 g/kg\" or \"0.2 %\"")
	f.StringVar(&stabilizer, "stabilizer", "", "stabiliser product of the oils, such as \"10 g/kg\"")
	f.StringVar(&file, "file", "", "a table of mixtures")
	f.BoolVar(&q.Why, "why", false, "name the past portions that weigh most for each row of a file too")
	return cmd
}

// mixture puts the flags of one mixture into a query.
func mixture(q *app.MixQuery, base, vanillin, stabilizer string, doses []string) error {
	if base != "" {
		lab, err := cie.ParseColor(base)
		if err != nil {
			return flagError("base", err)
		}
		q.Base = &lab
	}
	for _, d := range doses {
		at := strings.LastIndex(d, "=")
		if at < 1 {
			return usage(`such as --dose "Tide Blue=2 g/kg"`, "--dose %q: no dose follows the name", d)
		}
		dose, err := parsePerKg(strings.TrimSpace(d[at+1:]))
		if err != nil {
			return flagError("dose", err)
		}
		q.Doses = append(q.Doses, app.MixDose{Name: strings.TrimSpace(d[:at]), Dose: dose})
	}
	var err error
	if vanillin != "" {
		if q.Vanillin, err = parsePerKg(vanillin); err != nil {
			return flagError("vanillin", err)
		}
	}
	if stabilizer != "" {
		if q.Stabilizer, err = parsePerKg(stabilizer); err != nil {
			return flagError("stabilizer", err)
		}
	}
	return nil
}

func (p *program) mixFile(cmd *cobra.Command, q *app.MixQuery, file string) error {
	var err error
	if q.Data, q.File, err = p.readInput(file, exchange.MaxBytes+1); err != nil {
		return err
	}
	if p.err.Terminal() {
		q.Progress = func(done, all int) { p.err.Printf("\r%d of %d mixtures", done, all) }
		defer p.err.Printf("\r                                \r")
	}
	if p.json {
		list := &jsonList{w: p.out}
		q.Each = func(m app.MixSaid) error { return list.add(m) }
		r, err := p.session.Mix(cmd.Context(), *q)
		if r != nil {
			p.warn(r.Warnings)
		}
		return list.close(err)
	}
	r, err := p.session.Mix(cmd.Context(), *q)
	if err != nil {
		return err
	}
	p.warn(r.Warnings)
	w := p.out
	w.Printf("%s\n\n", w.Text(r.Grounds))
	rows := make([][]string, len(r.Mixtures))
	for i := range r.Mixtures {
		m := &r.Mixtures[i]
		rows[i] = []string{w.Text(m.Portion), "no number", "", w.Text(strings.Join(m.Beyond, "; "))}
		if m.Lab != nil {
			half := m.P95.Sub(*m.P05).Scale(0.5)
			rows[i] = []string{w.Text(m.Portion), w.Swatch(*m.Lab), fmt.Sprintf("±%.1f ±%.1f ±%.1f", half.L, half.A, half.B), *m.Name + why(m.Influences)}
		}
	}
	return w.Table([]term.Column{{Title: "portion"}, {Title: "settled"}, {Title: "±L* ±a* ±b*"}, {Title: "", Wrap: true}}, rows)
}

func why(list []app.Influence) string {
	if len(list) == 0 {
		return ""
	}
	return "; by " + influences(list)
}

func influences(list []app.Influence) string {
	parts := make([]string, len(list))
	for i, e := range list {
		parts[i] = fmt.Sprintf("%s %.0f %%", e.Portion, 100*e.Weight)
	}
	return strings.Join(parts, ", ")
}

func (p *program) warn(list []string) {
	for _, s := range list {
		p.err.Para("  ", "note: "+s)
	}
}

func (p *program) showMixture(m *app.MixSaid, grounds string) {
	w := p.out
	if m.Lab == nil {
		w.Field("settled", "no number: "+w.Text(strings.Join(m.Beyond, "; ")), 13)
	} else {
		half := m.P95.Sub(*m.P05).Scale(0.5)
		w.Field("settled", fmt.Sprintf("%s %s", w.Swatch(*m.Lab), *m.Name), 13)
		w.Field("L* a* b*", fmt.Sprintf("%.1f %.1f %.1f, 90 %% within ±%.1f ±%.1f ±%.1f", m.Lab.L, m.Lab.A, m.Lab.B, half.L, half.A, half.B), 13)
		if len(m.Influences) > 0 {
			w.Field("weighs most", w.Text(influences(m.Influences)), 13)
		}
	}
	w.Field("grounds", w.Text(grounds), 13)
}
