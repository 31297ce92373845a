package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lyefast/internal/colorants"
	"lyefast/internal/forecast"
	"lyefast/internal/formula"
	"lyefast/internal/observations"
	"lyefast/internal/plan"
	"lyefast/internal/sheet"
	"lyefast/internal/unit"
	"lyefast/internal/when"
)

// SheetQuery asks for the bench sheet of a plan.
type SheetQuery struct {
	Data []byte
	File string
	// Step is the scale's, 0 = 0.1 g.
	Step unit.Grams
	// Pour is the day of the pour in human words; empty is today.
	Pour string
	// AcceptLowEnd prints a sheet whose discount is not positive at the low end of the
	// oils' published ranges; it says so.
	AcceptLowEnd bool
}

// steps are those of scales, g. Each is a multiple of the finest, so that amounts in
// different steps add up in it.
var steps = []unit.Grams{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5}

const finestStep unit.Grams = 0.01

// BenchSheet makes the sheet that a plan is weighed and poured by. It is refused, as
// an [ErrInvalid] with the reasons, where the lye would be unsafe.
func (a *App) BenchSheet(ctx context.Context, q SheetQuery) (*sheet.Bench, error) {
	if q.Step == 0 {
		q.Step = formula.ShownStep
	}
	if i := slices.IndexFunc(steps, func(s unit.Grams) bool { return math.Abs(float64(s-q.Step)) < 1e-9 }); i >= 0 {
		q.Step = steps[i]
	} else {
		return nil, invalid("give what one digit of your scale is, 0.1g or 1g: 1, 2 or 5 in the last place, from 0.01 g to 5 g", "a scale with a step of %g g is not known", float64(q.Step))
	}
	now := a.Now()
	pour := when.When{Time: now}
	if q.Pour != "" {
		var err error
		if pour, err = when.Parse(q.Pour, now); err != nil {
			return nil, &Error{Kind: ErrInvalid, Msg: "day of the pour", Err: err}
		}
	}
	e, s, err := a.evaluated(ctx, q.Data, q.File)
	if err != nil {
		return nil, err
	}
	b := &sheet.Bench{
		Title: e.in.Plan.Title, File: q.File, Printed: now, Step: q.Step, Grounds: e.grounds(s),
		PourDate: dayWords(pour.Time), Cautions: benchCautions, Pots: []sheet.Pot{}, Readings: []sheet.Date{}, Notes: []string{},
	}
	n := 0
	for i := range e.in.Recipe.Pots {
		r := e.roundPot(i, q.Step)
		p := e.sheetPot(i, r)
		for j := range e.in.Recipe.Pots[i].Portions {
			p.Jugs = append(p.Jugs, e.sheetJug(i, j, n, r, pour.Time))
			n++
		}
		b.Pots = append(b.Pots, p)
	}
	for _, p := range b.Pots {
		if points := 100 * float64(q.Step/(p.Lye.NaOH+p.Lye.KOH)); points > 1 {
			b.Notes = append(b.Notes, fmt.Sprintf("%s: one step of this scale is %.1f points of the discount; weigh its alkali on a finer one.", p.Name, points))
		}
	}
	if err := e.refuseUnsafe(b, q.AcceptLowEnd); err != nil {
		return nil, err
	}
	cut := 1 // a day after the pour, as for a batch whose cut is not noted
	for _, d := range observations.DefaultSchedule() {
		b.Readings = append(b.Readings, sheet.Date{Day: cut + d, Date: cureDay(pour.Time, cut+d)})
	}
	b.Notes = append(b.Notes,
		"Alkali is rounded down to the scale's step, all else to the nearest; every sum adds up as printed, and the discount is that of the printed weights.",
		"Colours and ± (CIEDE2000, 9 in 10) are forecasts; settled is day 42. Reading days take the cut for the day after the pour.")
	return b, nil
}

// evaluated reads a plan and works everything out for it.
func (a *App) evaluated(ctx context.Context, data []byte, file string) (*evaluation, *Shelf, error) {
	p, err := readPlan(data, file)
	if err != nil {
		return nil, nil, err
	}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, nil, err
	}
	if err := a.learn(ctx, &s, p); err != nil {
		return nil, nil, err
	}
	e, err := s.evaluate(p)
	return e, &s, err
}

// cureDay names a day after the pour, with its year where that is another.
func cureDay(pour time.Time, days int) string {
	at := pour.AddDate(0, 0, days)
	if at.Year() == pour.Year() {
		return at.Format("Mon 2 Jan")
	}
	return at.Format("Mon 2 Jan 2006")
}

func dayWords(t time.Time) string { return t.Format("2006-01-02 (Monday)") }

// rounded is one pot in weights that a scale shows.
type rounded struct {
	step, fine    unit.Grams // the scale's, and the finest that any line needed
	oils          []unit.Grams
	naoh, koh     unit.Grams
	water         unit.Grams
	additives     []unit.Grams
	late          []unit.Grams // of pot.ExtraOils, 0 for those that wet colourants
	scent, stab   unit.Grams
	plain, total  unit.Grams // without and with scent and stabiliser
	pour, cups    []unit.Grams
	disc, low, hi unit.Percent
}

// fineBelow is the number of steps below which a step is too coarse for an amount:
// half a step is then more than 5 % of it.
const fineBelow = 10

// stepFor is the scale's step, or a finer one where that is too coarse for an amount.
func (r *rounded) stepFor(g unit.Grams) unit.Grams {
	step := r.step
	for step > finestStep*1.001 && g < fineBelow*step {
		step /= 10
	}
	step = max(step, finestStep)
	r.fine = min(r.fine, step)
	return step
}

// near rounds an amount to the nearest step.
func (r *rounded) near(g unit.Grams) unit.Grams {
	if g <= 0 {
		return 0
	}
	return to(g, r.stepFor(g))
}

// down rounds down: with less alkali than planned no lye is left over.
func (r *rounded) down(g unit.Grams) unit.Grams {
	if g <= 0 {
		return 0
	}
	step := r.stepFor(g)
	return to(unit.Grams(math.Floor(float64(g/step)+1e-9))*step, step)
}

// to rounds to a multiple of the step.
func to(g, step unit.Grams) unit.Grams { return formula.ShareOut(g, []float64{1}, step)[0] }

// roundPot rounds a pot so that every sum on the sheet is the sum of its lines.
func (e *evaluation) roundPot(i int, step unit.Grams) *rounded {
	pot := &e.in.Recipe.Pots[i]
	r := &rounded{step: step, fine: step}
	var shares []float64
	least := pot.Oils
	for _, o := range pot.PerOil {
		shares = append(shares, float64(o.Grams))
		if o.Grams > 0 {
			least = min(least, o.Grams)
		}
	}
	r.oils = formula.ShareOut(pot.Oils, shares, r.stepFor(least))
	r.naoh, r.koh = r.down(pot.NaOH), r.down(pot.KOH)
	r.water = r.near(pot.Water)
	oils := unit.Grams(0)
	for _, g := range r.oils {
		oils += g
	}
	r.plain = oils + r.naoh + r.koh + r.water
	for _, x := range pot.Additives {
		g := r.near(x.Grams)
		r.additives = append(r.additives, g)
		r.plain += g
	}
	for _, x := range pot.ExtraOils {
		g := unit.Grams(0)
		if x.Why == lateOil {
			g = r.near(x.Grams)
		}
		r.late = append(r.late, g)
		r.plain += g
	}
	r.scent, r.stab = r.near(pot.Fragrance), r.near(pot.Stabilizer.Grams)
	r.plain = to(r.plain, r.fine)
	r.total = to(r.plain+r.scent+r.stab, r.fine)

	var parts, scented []float64
	for _, w := range pot.Portions {
		parts = append(parts, w.Parts)
		scented = append(scented, float64(w.Fragrance))
	}
	if pot.FragranceInPot {
		r.pour = formula.ShareOut(r.total, parts, r.fine)
	} else {
		r.pour = formula.ShareOut(r.plain, parts, r.fine)
		r.cups = formula.ShareOut(r.scent+r.stab, scented, r.fine)
	}

	// The discount of what is really weighed: what binds lye and what needs it keep
	// their shares but for the alkali and the oils.
	exact := float64(pot.PureNaOH)/formula.MolarNaOH + float64(pot.PureKOH)/formula.MolarKOH
	mol := 0.0
	if pot.NaOH > 0 {
		mol += float64(pot.PureNaOH) / formula.MolarNaOH * float64(r.naoh/pot.NaOH)
	}
	if pot.KOH > 0 {
		mol += float64(pot.PureKOH) / formula.MolarKOH * float64(r.koh/pot.KOH)
	}
	again := func(d unit.Percent) unit.Percent {
		return unit.Percent(100 - (100-float64(d))*mol/exact*float64(pot.Oils/oils))
	}
	if exact > 0 && oils > 0 {
		r.disc, r.low, r.hi = again(pot.Discount), again(pot.DiscountLow), again(pot.DiscountHigh)
	}
	return r
}

// lateOil is why [formula.ExtraOil] goes in for its own sake.
const lateOil = "late oil"

// refuseUnsafe says why a sheet must not be printed.
func (e *evaluation) refuseUnsafe(b *sheet.Bench, acceptLow bool) error {
	var why []string
	tip := "`lyefast plan check` says what to change"
	pots := map[string]bool{}
	for i := range b.Pots {
		p := &b.Pots[i]
		pots[p.Name] = true
		switch l := p.Lye; {
		case l.NaOH+l.KOH <= 0:
			why = append(why, fmt.Sprintf("%s: its alkali is less than one step of the scale", p.Name))
		case l.Discount <= 0:
			why = append(why, fmt.Sprintf("%s: the lye is more than the oils take, discount %.1f %%", p.Name, float64(l.Discount)))
		case l.Low <= 0 && acceptLow:
			b.Notes = append(b.Notes, fmt.Sprintf("ACCEPTED: %s has a discount of %.1f %% at the low end of the oils' published ranges, so lye may be left over. Test the cured bar before anyone uses it.", p.Name, float64(l.Low)))
		case l.Low <= 0:
			why = append(why, fmt.Sprintf("%s: the discount is %.1f %% in the middle but %.1f %% at the low end of the oils' published ranges, so lye may be left over", p.Name, float64(l.Discount), float64(l.Low)))
			tip = "raise superfat, or give the certificate values of your oils; --accept-low-end prints it all the same and says so on the sheet"
		}
	}
	for _, f := range e.findings {
		if f.Severity != plan.Risk {
			continue
		}
		if f.Rule == "lye-danger" && !pots[f.Portion] || f.Rule == "lye-strength" {
			why = append(why, strings.TrimPrefix(f.Portion+": ", ": ")+strings.TrimPrefix(f.Title, "DANGER: ")+" ("+f.Because+")")
		}
	}
	if len(why) == 0 {
		return nil
	}
	return invalid(tip, "no sheet is made, the lye would not be safe: %s", strings.Join(why, "; "))
}

// benchCautions hold at every step; the others stand where they are needed.
var benchCautions = []string{
	"Lye burns skin and eyes: goggles, gloves, sleeves, fresh air, children and animals away. Splash: rinse long with water; eyes: rinse at once and call a doctor.",
	"No aluminium, zinc or unknown metal near lye or batter: it makes hydrogen. This sheet is no proof of safety; local rules and your own tests decide.",
}

// benchKeys are the keys of colourant cautions that matter while weighing and stirring.
var benchKeys = []string{"metal-powder", "metallised-film", "ultramarine-acid", "sulfide-acid", "ferrocyanide-acid", "ammonia", "hidden-colour"}

// sheetPot writes the steps of one pot.
func (e *evaluation) sheetPot(i int, r *rounded) sheet.Pot {
	pot := &e.in.Recipe.Pots[i]
	p := sheet.Pot{
		Name: pot.Name, Jugs: []sheet.Jug{}, Total: r.line("in all", r.total, ""),
		Lye: sheet.Lye{NaOH: r.naoh, KOH: r.koh, Water: r.water, Strength: hundredth(formula.Concentration(r.naoh+r.koh, r.water+jugWater(pot))), Discount: hundredth(r.disc), Low: hundredth(r.low), High: hundredth(r.hi)},
	}
	if i > 0 {
		p.When = fmt.Sprintf("Made later: mix its lye now, but start its batter only once %s holds a dent and before it skins or gels.", e.in.Recipe.Pots[0].Name)
		if e.piped() {
			p.When += " Piped tops stay ungelled and look paler."
		}
	}
	into := func(place string) (lines []sheet.Line) {
		for k, x := range pot.Additives {
			if x.Into == place {
				lines = append(lines, r.line(x.Name, r.additives[k], x.Note))
			}
		}
		return lines
	}

	lye := step("1  Lye")
	lye.Cautions = []string{"Alkali INTO the water, a little at a time, never the reverse. Heat-proof plastic or steel, fresh air, label on the jug."}
	lye.Lines = append(append(lye.Lines, r.line("water, cold", r.water, broughtWords(pot.WaterBrought))), into("water")...)
	alkali := ""
	for _, x := range []struct {
		name   string
		g      unit.Grams
		purity unit.Percent
	}{{"NaOH", r.naoh, pot.NaOHPurity}, {"KOH", r.koh, pot.KOHPurity}} {
		if x.g > 0 {
			note := fmt.Sprintf("of %.4g %%", float64(x.purity))
			if pot.PurityAssumed {
				note = "purity not stated, 100 % taken"
			}
			lye.Lines = append(lye.Lines, r.line(x.name, x.g, note))
			if alkali != "" {
				alkali += " + "
			}
			alkali += x.name + " " + sheet.MassTo(x.g, r.step)
		}
	}
	p.Lye.Words = alkali + " in " + sheet.MassTo(r.water, r.step) + " water, " + p.Lye.Strength.String()
	lye.Lines = append(lye.Lines, into("lye")...)
	lye.Say = []string{fmt.Sprintf("Discount %.1f %% (%.1f to %.1f over the oils' published ranges); lye of %.3g %%.", float64(r.disc), float64(r.low), float64(r.hi), float64(p.Lye.Strength))}
	if t := e.in.Plan.Lye.Temperature; t != nil {
		lye.Say = append(lye.Say, fmt.Sprintf("Let it cool to %.3g °C.", float64(*t)))
	}
	lye.Blanks = []string{"clear at", "lye °C at use"}
	p.Steps = append(p.Steps, lye)

	oils := step("2  Oils")
	sum := unit.Grams(0)
	for k, o := range pot.PerOil {
		oils.Lines = append(oils.Lines, r.line(o.Oil.Name, r.oils[k], ""))
		sum += r.oils[k]
	}
	if len(oils.Lines) > 1 {
		l := r.line("oils in all", to(sum, r.fine), "")
		oils.Sum = &l
	}
	oils.Blanks = []string{"melted at", "oils °C at use"}
	p.Steps = append(p.Steps, oils)
	if extra := into("oils"); len(extra) > 0 {
		more := step("    Into the oils besides")
		more.Lines = append(more.Lines, extra...)
		p.Steps = append(p.Steps, more)
	}

	if r.scent > 0 {
		scent := step("3  Scent")
		scent.Lines = append(scent.Lines, r.line(pot.FragranceName, r.scent, fmt.Sprintf("%.3g %% of the oils", float64(pot.FragranceRate))))
		if r.stab > 0 {
			scent.Cautions = []string{"Sulfites can trouble people with asthma. Never bring a sulfite together with an acid."}
			name := pot.Stabilizer.Name
			if name == "" {
				name = "stabiliser"
			}
			scent.Lines = append(scent.Lines, r.line(name, r.stab, "into the scent now, before any batter"))
			l := r.line("scent with stabiliser", to(r.scent+r.stab, r.fine), "")
			scent.Sum = &l
		}
		p.Steps = append(p.Steps, scent)
	}

	batter := step(fmt.Sprintf("%d  Batter", map[bool]int{true: 4, false: 3}[r.scent > 0]))
	batter.Say = []string{"Colours stirred smooth and jugs set out first. Lye into the oils; stir until nothing parts any more."}
	for k, x := range pot.ExtraOils {
		if x.Why == lateOil {
			batter.Lines = append(batter.Lines, r.line(x.Oil.Name, r.late[k], "late oil"))
		}
	}
	batter.Lines = append(batter.Lines, into("batter")...)
	switch {
	case r.scent > 0 && pot.FragranceInPot:
		batter.Say = append(batter.Say, "The scent goes into the whole pot, last, before it is split.")
	case r.scent > 0:
		batter.Say = append(batter.Say, "The scent goes into the scented jugs, last, after the colour.")
	}
	if t := e.in.Plan.Pour.BatterAt; t != nil {
		batter.Say = append(batter.Say, fmt.Sprintf("Batter at %.3g °C.", float64(*t)))
	}
	batter.Blanks = []string{"emulsion at", "batter °C"}
	if r.scent > 0 {
		batter.Blanks = append(batter.Blanks, "scent in at")
	}
	batter.Blanks = append(batter.Blanks, "light trace at", "thick trace at", "gel none/partial/full")
	p.Steps = append(p.Steps, batter)

	// Dust and the like are told where the first colour is weighed.
	if c := e.colourCautions(i); len(c) > 0 {
		last := &p.Steps[len(p.Steps)-1]
		last.Cautions = append(last.Cautions, c...)
	}
	return p
}

func step(title string) sheet.Step {
	return sheet.Step{Title: title, Lines: []sheet.Line{}, Cautions: []string{}, Say: []string{}, Blanks: []string{}}
}

func (r *rounded) line(name string, g unit.Grams, note string) sheet.Line {
	return sheet.Line{Name: name, Grams: g, Amount: sheet.MassTo(g, r.step), Note: note}
}

func broughtWords(g unit.Grams) string {
	if g < 1 {
		return ""
	}
	return fmt.Sprintf("%.1f g more come with stabiliser or additives", float64(g))
}

// jugWater is what additives that go into the lye or its water bring.
func jugWater(pot *formula.Pot) (g unit.Grams) {
	for _, x := range pot.Additives {
		if x.Into == "lye" || x.Into == "water" {
			g += x.Water
		}
	}
	return g
}

func (e *evaluation) piped() bool {
	return strings.Contains(strings.ToLower(e.in.Plan.Pour.Technique), "pip")
}

// colourCautions are those of a pot's colourants that matter at the bench, each once.
func (e *evaluation) colourCautions(i int) []string {
	var out []string
	dust := false
	for _, q := range e.in.Recipe.Pots[i].Portions {
		for _, c := range q.Colorants {
			for _, x := range colorants.Cautions(e.in.Colorants[c.Name].Label) {
				dust = dust || x.Key == "dust"
				if slices.Contains(benchKeys, x.Key) && !slices.Contains(out, upperFirst(x.Text)) {
					out = append(out, upperFirst(x.Text))
				}
			}
		}
	}
	if dust {
		out = append([]string{"Raise no dust from powders: a mask while weighing them."}, out...)
	}
	return out
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// wetting is how much liquid a powder is stirred into, g per g (common practice, no source).
const wetting = 3

// sheetJug writes one portion; n is its place in the forecast.
func (e *evaluation) sheetJug(i, j, n int, r *rounded, pour time.Time) sheet.Jug {
	pot := &e.in.Recipe.Pots[i]
	w := &pot.Portions[j]
	g := sheet.Jug{Name: pot.Name + "/" + w.Name, Lines: []sheet.Line{r.line("batter", r.pour[j], fmt.Sprintf("%.3g %% of the pot", float64(w.Share)))}}
	judge := 0.0
	var why []string
	for _, c := range w.Colorants {
		known := e.in.Colorants[c.Name]
		grams := to(c.Grams, finestStep)
		var notes []string
		switch {
		case c.Wet != "":
			notes = append(notes, fmt.Sprintf("stirred smooth in %s of %s", sheet.Mass(c.WetGrams), c.Wet))
		default:
			notes = append(notes, fmt.Sprintf("stirred smooth in about %.0f g of oil, out of the weighed oils", math.Ceil(wetting*float64(c.Grams))))
		}
		if c.Teaspoons > 0.06 {
			notes = append(notes, fmt.Sprintf("about %.2g tsp", c.Teaspoons))
		}
		g.Lines = append(g.Lines, r.line(c.Name, grams, strings.Join(notes, "; ")))
		if d := known.Expect.JudgeFromDay; d > 1 { // until day 1 there is no bar to judge
			judge = max(judge, d)
			why = append(why, fmt.Sprintf("%s: %s", c.Name, known.Expect.Because))
		}
	}
	if r.cups != nil && r.cups[j] > 0 {
		name := "scent"
		if r.stab > 0 {
			name = "scent with stabiliser"
		}
		g.Lines = append(g.Lines, r.line(name, r.cups[j], "last, from the cup of step 3"))
	}
	if judge > 0 {
		g.Judge = cureDay(pour, int(math.Ceil(judge))) + fmt.Sprintf(" (day %.0f)", math.Ceil(judge))
		g.Why = strings.Join(why, "; ")
	}
	if n < len(e.in.Forecast.Outcomes) {
		o := &e.in.Forecast.Outcomes[n]
		if len(o.Days) > 0 && o.Days[0].Colour != nil {
			g.Pour = sheetColour(o.Days[0].Colour, false)
		}
		settled := o.Settled
		if i > 0 && e.piped() && o.IfNot != nil {
			settled = o.IfNot
		}
		g.Settled = sheetColour(settled, true)
		if len(o.Unknown) > 0 {
			g.Unknown = "No colour is forecast: " + strings.Join(o.Unknown, "; ")
		}
	}
	if t := e.in.Plan.Batters[i].Portions[j].Target; t != nil {
		g.Target = &sheet.Colour{Hex: t.Hex(), Name: t.Name().Text}
	}
	return g
}

func sheetColour(c *forecast.Colour, band bool) *sheet.Colour {
	if c == nil {
		return nil
	}
	s := &sheet.Colour{Hex: c.Hex, Name: c.Name}
	if band {
		s.Band = c.Band
	}
	return s
}
