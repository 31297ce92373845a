package main

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/formula"
	"lyefast/internal/observations"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func batchCmd(p *program) *cobra.Command {
	return noun(&cobra.Command{
		Use:     "batch",
		Short:   "A plan that was poured: pour it, note it, follow its colours",
		Long:    wrapHelp(`A batch is a plan frozen on the day it was poured. It has a short code such as HD-01; its portions are named HD-01/shore, or HD-01/slab/shore where two pots have a portion of that name.`),
		Example: examples("lyefast batch pour harbour.toml", "lyefast batch curve HD-01/quay"),
	},
		batchPourCmd(p), batchListCmd(p), batchShowCmd(p), batchEventCmd(p), batchLogCmd(p), batchPotlogCmd(p), batchImportLogCmd(p),
		batchWeighCmd(p), batchCurveCmd(p), batchReportCmd(p), batchLessonCmd(p), batchEditCmd(p), batchCloseCmd(p),
	)
}

func batchPourCmd(p *program) *cobra.Command {
	var q app.PourQuery
	var cure string
	var lots []string
	var noAsk bool
	cmd := &cobra.Command{
		Use: "pour PLAN", Short: "Freeze a plan that was poured into the book",
		Long: wrapHelp(`Keeps the plan as it is now, with what was weighed and what was forecast, gives it a short code and schedules its readings: at the cut, then 1, 3, 7, 14, 28 and 42 days after it and one at 180.

On a terminal it asks what it was not told; elsewhere, and with --no-questions, it takes: poured now, curing in the room, no bare control. Whether it gelled is asked the day after.`),
		Example: examples("lyefast batch pour harbour.toml", `lyefast batch pour harbour.toml --at "yesterday 18:30" --storage dark --control slab`),
		Args:    takes("PLAN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if q.Data, q.File, err = p.readPlanFile(args[0]); err != nil {
				return err
			}
			if q.Lots, err = pairs("--lot", lots); err != nil {
				return err
			}
			if cure != "" {
				c, err := unit.ParseCelsius(cure)
				if err != nil {
					return usage("", "--cure: %v", err)
				}
				q.CureAt = &c
			}
			if args[0] != "-" && !noAsk && p.interactive() {
				if err := p.askPour(cmd, &q); err != nil {
					return err
				}
			}
			r, err := p.session.PourPlan(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error { return p.showPour(r) })
		},
	}
	f := cmd.Flags()
	f.StringVar(&q.At, "at", "", "`WHEN` it was poured (default: now)")
	f.StringVar(&q.Code, "code", "", "a `CODE` of your own in place of one from the title")
	f.StringVar(&q.Gel, "gel", "", "`HOW` far it gelled, if that is known already: none, partial or full")
	f.StringVar(&q.Storage, "storage", "", "`LIGHT` it cures in: dark, room or window (default: as planned, else room)")
	f.StringVar(&q.Place, "place", "", "the cure `PLACE` in your words")
	f.StringVar(&cure, "cure", "", "`TEMPERATURE` of the cure place")
	f.StringVar(&q.Schedule, "schedule", "", "`DAYS` after the cut to read on (default 0,1,3,7,14,28,42,180; none for no reminders)")
	f.StringVar(&q.Control, "control", "", "`BATTER` of which a bare control was poured beside the bars")
	f.StringArrayVar(&lots, "lot", nil, "`NAME=LOT` of a colourant, may be repeated")
	f.StringVar(&q.Note, "note", "", "a `NOTE`")
	f.BoolVar(&noAsk, "no-questions", false, "ask nothing on a terminal either")
	return cmd
}

// pairs reads NAME=VALUE flags.
func pairs(flag string, list []string) (map[string]string, error) {
	out := map[string]string{}
	for _, s := range list {
		name, value, ok := strings.Cut(s, "=")
		if name = strings.TrimSpace(name); !ok || name == "" {
			return nil, usage("", "%s %q: write it like %s \"Tide Blue=07/26\"", flag, s, flag)
		}
		out[name] = strings.TrimSpace(value)
	}
	return out, nil
}

// askPour asks on a terminal what no flag has told.
func (p *program) askPour(cmd *cobra.Command, q *app.PourQuery) error {
	a := p.asker()
	given := cmd.Flags().Changed
	if !given("at") {
		q.At = a.ask("When was it poured?", "now")
	}
	if !given("storage") {
		q.Storage = a.ask("Where does it cure: dark, room or window?", "room")
	}
	if !given("cure") {
		if s := a.ask("Temperature there, such as 18 °C?", "skip"); s != "skip" {
			c, err := unit.ParseCelsius(s)
			if err != nil {
				return usage("", "temperature: %v", err)
			}
			q.CureAt = &c
		}
	}
	plan, err := formula.ReadPlan(q.Data, q.File)
	if err == nil && !given("control") && app.WantsControl(plan) {
		p.err.Para("", upper(app.ControlWords)+".")
		names := make([]string, len(plan.Batters))
		for i, b := range plan.Batters {
			names[i] = b.Name
		}
		if s := a.ask("Poured one? Of which batter ("+strings.Join(names, ", ")+")?", "none"); s != "none" {
			q.Control = s
		}
	}
	return a.err
}

func (p *program) showPour(r *app.Pour) error {
	w := p.out
	w.Printf("%s  %s, poured %s\n", w.Bold(w.Text(r.Batch.Code)), w.Text(r.Batch.Title), p.day(r.Batch.PouredAt, r.Batch.PouredClock))
	for _, n := range r.Notes {
		w.Para("  ", "note: "+n)
	}
	rows := make([][]string, len(r.Batch.Portions))
	for i := range r.Batch.Portions {
		q := &r.Batch.Portions[i]
		rows[i] = []string{w.Text(q.Key()), w.Text(app.PortionWords(q)), swatchOr(w, q.Settled)}
	}
	if err := w.Table([]term.Column{{Title: "portion"}, {Title: "holds", Wrap: true}, {Title: "forecast"}}, rows); err != nil {
		return err
	}
	w.Printf("\n")
	w.Para("", "Read it at the cut, then on days "+strings.ReplaceAll(strings.TrimPrefix(r.Batch.Schedule.String(), "0,"), ",", ", ")+
		" after it: `lyefast due` says when. Say tomorrow how far it gelled: lyefast batch event "+w.Text(r.Batch.Code)+` "full gel"`+` ("partial gel", "no gel").`)
	if r.ControlOffer != "" {
		w.Para("", "Not too late today: "+r.ControlOffer+".")
	}
	return nil
}

func batchListCmd(p *program) *cobra.Command {
	var closed bool
	cmd := &cobra.Command{
		Use: "list", Short: "List the batches", Example: examples("lyefast batch list", "lyefast batch list --closed --json"),
		Args: takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			list, err := p.session.Batches(cmd.Context(), closed)
			if err != nil {
				return err
			}
			return p.show(list, func() error {
				if len(list) == 0 {
					p.err.Printf("no batch was poured yet; lyefast batch pour PLAN makes one\n")
				}
				rows := make([][]string, len(list))
				for i := range list {
					b := &list[i]
					state := fmt.Sprintf("day %d", int(b.Day(p.session.Now())))
					if b.ClosedAt != nil {
						state = "closed"
					}
					rows[i] = []string{p.out.Text(b.Code), p.day(b.PouredAt, b.PouredClock), state, p.out.Text(b.Title)}
				}
				return p.out.Table([]term.Column{{Title: "code"}, {Title: "poured"}, {Title: "state"}, {Title: "title", Wrap: true}}, rows)
			})
		},
	}
	cmd.Flags().BoolVar(&closed, "closed", false, "list closed ones too")
	return cmd
}

func batchShowCmd(p *program) *cobra.Command {
	var planOnly bool
	cmd := &cobra.Command{
		Use: "show BATCH", Short: "Show everything noted of a batch", Example: examples("lyefast batch show HD-01", "lyefast batch show HD-01 --plan"),
		Args: takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			if planOnly {
				text, err := p.session.PlanOf(cmd.Context(), args[0])
				if err != nil {
					return err
				}
				_, err = p.out.Write([]byte(text))
				return err
			}
			r, err := p.session.Batch(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			return p.show(r, func() error { return p.showBatch(r) })
		},
	}
	cmd.Flags().BoolVar(&planOnly, "plan", false, "write the plan as it was poured")
	return cmd
}

func (p *program) showBatch(r *app.BatchShown) error {
	w := p.out
	b := &r.Batch
	w.Printf("%s  %s\n", w.Bold(w.Text(b.Code)), w.Text(b.Title))
	w.Field("poured", p.day(b.PouredAt, b.PouredClock), 12)
	if b.CutAt != nil {
		w.Field("cut", p.day(*b.CutAt, true), 12)
	}
	gel := string(b.Gel)
	if b.Gel == observations.GelUnknown {
		gel = "not said yet"
	}
	w.Field("gel", gel, 12)
	place := string(b.Storage)
	if b.Place != "" {
		place += ", " + b.Place
	}
	if b.CureAt != nil {
		place += fmt.Sprintf(", %.3g °C", float64(*b.CureAt))
	}
	w.Field("cures", w.Text(place), 12)
	if b.ClosedAt != nil {
		w.Field("closed", p.day(*b.ClosedAt, true), 12)
	}
	w.Field("note", w.Text(b.Note), 12)
	w.Printf("\n")
	rows := make([][]string, len(b.Portions))
	for i := range b.Portions {
		q := &b.Portions[i]
		rows[i] = []string{w.Text(q.Key()), w.Text(app.PortionWords(q)), swatchOr(w, q.Settled), fmt.Sprint(r.Readings[q.Key()])}
	}
	if err := w.Table([]term.Column{{Title: "portion"}, {Title: "holds", Wrap: true}, {Title: "forecast"}, {Title: "read", Right: true}}, rows); err != nil {
		return err
	}
	p.showAtPot(r.Pots)
	if len(r.Events) > 0 {
		w.Printf("\n")
		rows := make([][]string, len(r.Events))
		for i, e := range r.Events {
			at := p.day(e.At, e.Clock)
			if e.AfterMinutes != nil {
				at = fmt.Sprintf("%.3g min after the scent", *e.AfterMinutes)
			}
			rows[i] = []string{at, w.Text(cmp.Or(e.Portion, e.Batter)), string(e.Kind), w.Text(strings.TrimSuffix(eventValue(e)+e.Note, ", "))}
		}
		if err := w.Table([]term.Column{{Title: "when"}, {Title: "where"}, {Title: "what"}, {Title: "", Wrap: true}}, rows); err != nil {
			return err
		}
	}
	for _, d := range r.Dryness {
		p.showDrying(d)
	}
	for _, l := range r.Lessons {
		w.Para("  ", "lesson: "+w.Text(l.Text))
	}
	return nil
}

func eventValue(e observations.Event) string {
	if e.Value == nil {
		return ""
	}
	return fmt.Sprintf("%.3g %s, ", *e.Value, e.Kind.Measure())
}

// showAtPot says how long each batter stayed workable.
func (p *program) showAtPot(pots []observations.Pot) {
	first := true
	for _, t := range pots {
		if !t.Noted {
			continue
		}
		if first {
			p.out.Printf("\n")
			first = false
		}
		var parts []string
		for _, k := range slices.SortedFunc(maps.Keys(t.Minutes), func(x, y observations.Kind) int { return cmp.Compare(t.Minutes[x], t.Minutes[y]) }) {
			parts = append(parts, fmt.Sprintf("%s after %.3g min", k, t.Minutes[k]))
		}
		if t.BatterAt != nil {
			parts = append(parts, fmt.Sprintf("at %.3g °C", float64(*t.BatterAt)))
		}
		p.out.Para("  ", p.out.Text(t.Batter)+": "+strings.Join(parts, ", "))
	}
}

func (p *program) showDrying(d observations.Dryness) {
	name := "bar " + d.Bar
	if d.Bar == "" {
		name = "the bar"
	}
	p.out.Para("  ", fmt.Sprintf("%s of %s, fresh %s on day %.1f:", p.out.Text(name), p.out.Text(d.Batter), d.Fresh, d.FreshDay))
	for _, s := range d.Steps {
		line := fmt.Sprintf("  day %.0f  %s  water left %s, %s of it gone", s.Day, s.Grams, s.Water, s.Gone)
		if s.Impossible {
			line = fmt.Sprintf("  day %.0f  %s  %s", s.Day, s.Grams, s.Note)
		}
		p.out.Para("    ", line)
	}
}

func batchEventCmd(p *program) *cobra.Command {
	var q app.EventQuery
	cmd := &cobra.Command{
		Use: "event BATCH WHAT", Short: "Note something at the pot or the rack",
		Long: wrapHelp(`WHAT is one of: ` + kindList() + `; "no gel", "partial gel" and "full gel" say how far it gelled. Usual other words are understood.

A batch of several pots needs the pot too: HD-01/slab. --value is a temperature, the scent that is left as 0–5, or how far a colour has bled.`),
		Example: examples(`lyefast batch event HD-01/slab "fragrance in" --at "yesterday 18:42" --value "33 °C"`, `lyefast batch event HD-01/slab "thick trace" --after "about 6 min"`),
		Args:    takes("BATCH", "WHAT"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			q.Target, q.Kind = args[0], args[1]
			if q.At != "" && q.After != "" {
				return usage("", "--at and --after do not go together")
			}
			r, err := p.session.AddEvent(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				where := cmp.Or(r.Portion, r.Batter)
				if where != "" {
					where = "/" + where
				}
				p.out.Printf("%s%s: %s, %s%s\n", p.out.Text(r.Batch), p.out.Text(where), r.Kind, p.out.Text(eventValue(r.Event)), r.Understood)
				if r.Set != "" {
					p.out.Printf("  %s\n", r.Set)
				}
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&q.At, "at", "", "`WHEN` (default: now)")
	f.StringVar(&q.After, "after", "", "`MINUTES` after the fragrance went in, such as \"about 6 min\", in place of --at")
	f.StringVar(&q.Value, "value", "", "a `FIGURE` with its unit: 33 °C, 3 of 5, 2 mm")
	f.StringVar(&q.Note, "note", "", "a `NOTE`")
	return cmd
}

func kindList() string {
	var names []string
	for _, k := range observations.Kinds() {
		names = append(names, string(k))
	}
	return strings.Join(names, ", ")
}

func batchWeighCmd(p *program) *cobra.Command {
	var q app.WeighQuery
	cmd := &cobra.Command{
		Use: "weigh BATCH WEIGHT", Short: "Note a bar's weight, and how much water has gone",
		Long:    wrapHelp(`The first weighing of a bar is taken for its fresh weight, with the water of the recipe in it, so weigh it when it is cut. A weight below that of the bar without any water is flagged.`),
		Example: examples(`lyefast batch weigh HD-01/slab "120.0 g" --bar 1 --at "day 1"`, `lyefast batch weigh HD-01/slab "110.4 g" --bar 1`),
		Args:    takes("BATCH", "WEIGHT"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			g, err := unit.ParseMass(args[1])
			if err != nil {
				return usage("", "weight: %v", err)
			}
			q.Target, q.Grams = args[0], g
			r, err := p.session.AddWeighing(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.out.Printf("%s/%s: %s on %s\n", p.out.Text(r.Batch), p.out.Text(r.Batter), r.Grams, r.Understood)
				p.showDrying(r.Drying)
				if r.Fit != nil {
					p.out.Para("  ", fmt.Sprintf("comes to rest at about %s; %s still to go, a third of that after %.0f days more", r.Fit.End, r.Fit.ToGo, r.Fit.Days))
				}
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&q.Bar, "bar", "", "`WHICH` bar, if you weigh several")
	f.StringVar(&q.At, "at", "", "`WHEN` (default: now)")
	f.StringVar(&q.Note, "note", "", "a `NOTE`")
	return cmd
}

func batchLessonCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use: "lesson [BATCH TEXT]", Short: "Keep one line to be told again",
		Long:    wrapHelp(`The line comes back wherever a plan has the same scent, one of the same colourants or the same title. Without arguments it lists the lessons.`),
		Example: examples(`lyefast batch lesson HD-01 "pour the blue before the white"`, "lyefast batch lesson"),
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return takes("BATCH", "TEXT")(cmd, args)
		},
		ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				list, err := p.session.Lessons(cmd.Context())
				if err != nil {
					return err
				}
				return p.show(list, func() error {
					if len(list) == 0 {
						p.err.Printf("no lesson was kept yet\n")
					}
					for _, l := range list {
						p.out.Para("  ", p.out.Text(l.Batch+": "+l.Text))
					}
					return nil
				})
			}
			l, err := p.session.AddLesson(cmd.Context(), args[0], args[1])
			if err != nil {
				return err
			}
			return p.show(l, func() error {
				about := append(append([]string{}, l.Fragrances...), l.Colorants...)
				p.out.Para("  ", p.out.Text(fmt.Sprintf("kept for %s; it comes back with %s", l.Batch, strings.Join(append(about, l.Title), ", "))))
				return nil
			})
		},
	}
}

func batchEditCmd(p *program) *cobra.Command {
	var gel, storage, place, schedule, note, cure string
	cmd := &cobra.Command{
		Use: "edit BATCH", Short: "Put right what may change after the pour",
		Long:    wrapHelp(`The plan, its weights and its readings stay as they are; only what is given is changed.`),
		Example: examples("lyefast batch edit HD-01 --storage window", "lyefast batch edit HD-01 --schedule 0,2,7,28"),
		Args:    takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			var c app.BatchChange
			n := 0
			for name, to := range map[string]struct {
				from *string
				at   **string
			}{"gel": {&gel, &c.Gel}, "storage": {&storage, &c.Storage}, "place": {&place, &c.Place}, "schedule": {&schedule, &c.Schedule}, "note": {&note, &c.Note}} {
				if cmd.Flags().Changed(name) {
					*to.at = to.from
					n++
				}
			}
			if cmd.Flags().Changed("cure") {
				t, err := unit.ParseCelsius(cure)
				if err != nil {
					return usage("", "--cure: %v", err)
				}
				c.CureAt = &t
				n++
			}
			if n == 0 {
				return usage(fmt.Sprintf("see `%s --help`", cmd.CommandPath()), "say with a flag what to change")
			}
			b, err := p.session.EditBatch(cmd.Context(), args[0], c)
			if err != nil {
				return err
			}
			return p.show(b, func() error {
				p.out.Printf("%s changed\n", p.out.Text(b.Code))
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&gel, "gel", "", "`HOW` far it gelled: none, partial, full")
	f.StringVar(&storage, "storage", "", "`LIGHT` it cures in: dark, room, window")
	f.StringVar(&place, "place", "", "the cure `PLACE`")
	f.StringVar(&cure, "cure", "", "`TEMPERATURE` of the cure place")
	f.StringVar(&schedule, "schedule", "", "`DAYS` after the cut to read on")
	f.StringVar(&note, "note", "", "a `NOTE`")
	return cmd
}

func batchCloseCmd(p *program) *cobra.Command {
	var open bool
	cmd := &cobra.Command{
		Use: "close BATCH", Short: "End a batch's reminders; its record stays",
		Example: examples("lyefast batch close HD-01", "lyefast batch close HD-01 --open-again"),
		Args:    takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			b, err := p.session.CloseBatch(cmd.Context(), args[0], open)
			if err != nil {
				return err
			}
			return p.show(b, func() error {
				word := "closed"
				if open {
					word = "open again"
				}
				p.out.Printf("%s is %s\n", p.out.Text(b.Code), word)
				return nil
			})
		},
	}
	cmd.Flags().BoolVar(&open, "open-again", false, "open a closed batch again")
	return cmd
}

// completeBatch offers the codes of the batches.
func (p *program) completeBatch(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	session := app.New(p.bookPath(), clock)
	defer session.Close()
	list, err := session.Batches(cmd.Context(), true)
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	var codes []string
	for i := range list {
		codes = append(codes, list[i].Code+"\t"+list[i].Title)
	}
	return codes, cobra.ShellCompDirectiveNoFileComp
}
