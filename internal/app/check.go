package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/forecast"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/observations"
	"lyefast/internal/plan"
	"lyefast/internal/unit"
)

// CheckQuery asks for a plan to be checked.
type CheckQuery struct {
	// Data is the plan file's content, File its name for messages.
	Data []byte
	File string
}

// PlanCheck is what a plan check says: the same for the command, for --json and
// for the local page.
type PlanCheck struct {
	Title string `json:"title"`
	File  string `json:"file"`
	// Grounds is said before any number: what stands behind it.
	Grounds string `json:"grounds"`
	// Unknowns counts what no number could be given for, in words in UnknownWords.
	Unknowns     int      `json:"unknowns"`
	UnknownWords []string `json:"unknown_words"`
	Base         BaseSaid `json:"base"`

	Batters  []BatterSaid   `json:"batters"`
	Scent    *ScentSaid     `json:"scent"`
	Portions []PortionSaid  `json:"portions"`
	Findings []plan.Finding `json:"findings"`
	// Lessons are lines the maker kept about batches with the same scent, colourant or title.
	Lessons []observations.Lesson `json:"lessons"`
	// Cautions are the general words that go with lye, dust, sulfites and scent.
	Cautions []string `json:"cautions"`
}

// BaseSaid is the bare soap a forecast starts from.
type BaseSaid struct {
	Lab   cie.Lab `json:"lab"`
	Hex   string  `json:"hex"`
	Class string  `json:"class"`
	Basis string  `json:"basis"`
}

// BatterSaid is one pot's figures.
type BatterSaid struct {
	Name       string       `json:"name"`
	Oils       unit.Grams   `json:"oils_g"`
	NaOH       unit.Grams   `json:"naoh_g"`
	KOH        unit.Grams   `json:"koh_g"`
	NaOHPurity unit.Percent `json:"naoh_purity_percent"`
	KOHPurity  unit.Percent `json:"koh_purity_percent"`
	Water      unit.Grams   `json:"water_g"`
	// WaterBrought comes with milk, a stabiliser solution and the like, and is left out of Water.
	WaterBrought     unit.Grams   `json:"water_brought_g"`
	LyeConcentration unit.Percent `json:"lye_concentration_percent"`
	Fragrance        unit.Grams   `json:"fragrance_g"`
	Total            unit.Grams   `json:"total_g"`
	Discount         unit.Percent `json:"discount_percent"`
	DiscountLow      unit.Percent `json:"discount_low_percent"`
	DiscountHigh     unit.Percent `json:"discount_high_percent"`
	// Stabilizer.Given is what the plan puts in; the others are advice.
	Stabilizer StabilizerSaid `json:"stabilizer"`
	Additives  []AdditiveSaid `json:"additives"`
	Notes      []string       `json:"notes"`
}

// StabilizerSaid is one pot's stabiliser.
type StabilizerSaid struct {
	Name            string     `json:"name"`
	Given           unit.Grams `json:"given_g"`
	Floor           unit.Grams `json:"floor_g"`
	Suggested       unit.Grams `json:"suggested_g"`
	EqualParts      unit.Grams `json:"equal_parts_g"`
	StrengthAssumed bool       `json:"strength_assumed"`
}

// AdditiveSaid is one additive of a pot.
type AdditiveSaid struct {
	Name  string     `json:"name"`
	Grams unit.Grams `json:"grams"`
	Into  string     `json:"into"`
	// ExtraAlkali was weighed on top for it.
	ExtraAlkali unit.Grams `json:"extra_alkali_g"`
}

// ScentSaid is the plan's fragrance.
type ScentSaid struct {
	Name string       `json:"name"`
	Rate unit.Percent `json:"rate_percent_of_oils"`
	// VanillinPercent is vanillin-equivalent % of the most scented portion's bar, nil = not known.
	VanillinPercent *float64 `json:"vanillin_percent_of_bar"`
	// Word is the settled colour of the bare base with it.
	Word string `json:"word"`
}

// ColourSaid is a forecast colour; p05 and p95 are the ends of a central 90 % band.
type ColourSaid struct {
	Lab  cie.Lab `json:"lab"`
	P05  cie.Lab `json:"p05"`
	P95  cie.Lab `json:"p95"`
	Hex  string  `json:"hex"`
	Name string  `json:"name"`
	Band float64 `json:"band_delta_e00"`
}

// DaySaid is the colour on one day; the colour fields are null where no number
// can be given.
type DaySaid struct {
	Day  float64  `json:"day"`
	Lab  *cie.Lab `json:"lab"`
	P05  *cie.Lab `json:"p05"`
	P95  *cie.Lab `json:"p95"`
	Hex  *string  `json:"hex"`
	Name *string  `json:"name"`
}

// PortionSaid is one portion with its forecast.
type PortionSaid struct {
	Batter   string      `json:"batter"`
	Name     string      `json:"name"`
	Grams    unit.Grams  `json:"grams"`
	Scented  bool        `json:"scented"`
	Days     []DaySaid   `json:"days"`
	Settled  *ColourSaid `json:"settled"`
	IfGelled *ColourSaid `json:"settled_if_gelled"`
	IfNot    *ColourSaid `json:"settled_if_not_gelled"`
	// Best, Likely and Worst are settled colours out of the band: nearest to the
	// target, or lightest without one, and the other end.
	Best   *cie.Lab `json:"best_lab"`
	Likely *cie.Lab `json:"likely_lab"`
	Worst  *cie.Lab `json:"worst_lab"`
	Target *cie.Lab `json:"target_lab"`
	// TargetHex is the target as a hex colour.
	TargetHex   string           `json:"target_hex,omitempty"`
	TargetDelta *float64         `json:"target_delta_e00"`
	Near        *forecast.Within `json:"near_target"`
	// Unknown says why no colour is given.
	Unknown   []string   `json:"unknown"`
	Colorants []DoseSaid `json:"colorants"`
}

// DoseSaid is one colourant in a portion, at its dose.
type DoseSaid struct {
	Name    string          `json:"name"`
	Grams   unit.Grams      `json:"grams"`
	Dose    unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	Verdict string          `json:"verdict"`
	Grounds string          `json:"grounds"`
}

// Worst is the gravest severity among the findings, −1 without any.
func (c *PlanCheck) Worst() plan.Severity {
	worst := plan.Severity(-1)
	for _, f := range c.Findings {
		worst = max(worst, f.Severity)
	}
	return worst
}

// GuessWords stand before every forecast that rests on no batch of the maker's.
const GuessWords = "guess from the label, none of your batches"

// readPlan reads a plan file; one that cannot be read is an [ErrInvalid] which names each
// fault with its line.
func readPlan(data []byte, file string) (formula.Plan, error) {
	p, err := formula.ReadPlan(data, file)
	if err != nil {
		return formula.Plan{}, &Error{Kind: ErrInvalid, Msg: err.Error()}
	}
	return p, nil
}

// CheckPlan reads a plan, weighs it, forecasts it and runs every rule. A plan that
// cannot be read or weighed is an [ErrInvalid] which names each fault with its line.
func (a *App) CheckPlan(ctx context.Context, q CheckQuery) (*PlanCheck, error) {
	// The tables of colourants and oils cost as much as reading the plan and the
	// shelf; on a second core they cost nothing.
	go colorants.Read("")
	go formula.BuiltIn()
	p, err := readPlan(q.Data, q.File)
	if err != nil {
		return nil, err
	}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	if err := a.learn(ctx, &s, p); err != nil {
		return nil, err
	}
	e, err := s.evaluate(p)
	if err != nil {
		return nil, err
	}
	c := e.said()
	c.Grounds, c.Lessons = e.grounds(&s), s.own.lessons
	return c, nil
}

// evaluation is a plan with everything that was worked out for it.
type evaluation struct {
	in       plan.Input
	findings []plan.Finding
	stab     fragrance.Stabilizer
	taught   *taught // what the maker's own portions taught, nil = nothing
	asked    forecast.Input
}

// evaluate weighs and forecasts a plan and runs the rules.
func (s *Shelf) evaluate(p formula.Plan) (*evaluation, error) {
	e := &evaluation{in: plan.Input{Plan: p, Colorants: map[string]plan.Colorant{}}}
	for i := range p.Batters {
		for j := range p.Batters[i].Portions {
			for k := range p.Batters[i].Portions[j].Colorants {
				u := &p.Batters[i].Portions[j].Colorants[k]
				if _, done := e.in.Colorants[u.Name]; !done || u.Label != "" || u.Swatch != nil {
					e.in.Colorants[u.Name] = s.colorant(*u)
				}
			}
		}
	}
	if p.Fragrance != nil {
		e.in.Scent = s.scent(*p.Fragrance)
		st, err := s.stabilizer(p.Fragrance.Stabilizer)
		if err != nil {
			return nil, &Error{Kind: ErrInvalid, Msg: (&formula.PlanError{File: p.File, Problems: []formula.Problem{{
				Line: p.Fragrance.Stabilizer.Line, Field: "fragrance.stabilizer", Message: err.Error()}}}).Error()}
		}
		e.stab = st
	}
	recipe, problems := formula.Compute(p, s.Oils, e.lookups())
	if fatal := fatalOnes(problems); len(fatal) > 0 {
		return nil, &Error{Kind: ErrInvalid, Msg: (&formula.PlanError{File: p.File, Problems: fatal}).Error()}
	}
	e.in.Recipe, e.in.Problems = recipe, problems
	if err := e.dose(); err != nil {
		return nil, err
	}
	if err := e.forecast(s); err != nil {
		return nil, err
	}
	e.findings = plan.Check(&e.in)
	e.ownFindings(s)
	e.cite()
	e.unlike()
	return e, nil
}

func fatalOnes(problems []formula.Problem) []formula.Problem {
	var out []formula.Problem
	for _, p := range problems {
		if p.Fatal {
			out = append(out, p)
		}
	}
	return out
}

// lookups tells the weighing what the shelf knows.
func (e *evaluation) lookups() formula.Lookups {
	l := formula.Lookups{
		TeaspoonGrams: func(name string) (unit.Grams, bool) {
			c, ok := e.in.Colorants[name]
			return c.Product.TeaspoonGrams, ok && c.Product.TeaspoonGrams > 0
		},
	}
	if e.in.Scent == nil {
		return l
	}
	f := e.in.Scent.Fragrance
	l.FragranceNaOH = func(formula.FragranceUse) (float64, bool) {
		if f.Vanillin == nil && f.EthylVanillin == nil {
			return 0, false
		}
		var v, ev unit.Grams
		if f.Vanillin != nil {
			v = f.Vanillin.Of(1)
		}
		if f.EthylVanillin != nil {
			ev = f.EthylVanillin.Of(1)
		}
		return float64(fragrance.LyeBoundByVanillin(v, ev)), true
	}
	l.Stabilizer = func(ask formula.StabilizerAsk) (formula.StabilizerDose, bool) {
		est, ok := e.estimate(ask.Oils, ask.Fragrance, given(ask))
		if !ok {
			return formula.StabilizerDose{}, false
		}
		return formula.StabilizerDose{Name: est.Name, Grams: est.Product, BindsNaOH: est.LyeBound, Water: est.Water}, true
	}
	return l
}

// given is the mass a plan asks for, nil for what the estimate suggests.
func given(ask formula.StabilizerAsk) *unit.Grams {
	switch {
	case ask.Use.Mode == "none":
		return new(unit.Grams)
	case ask.Grams > 0:
		return &ask.Grams
	}
	return nil
}

// estimate works out a pot's stabiliser.
func (e *evaluation) estimate(oils, scent unit.Grams, grams *unit.Grams) (fragrance.StabilizerEstimate, bool) {
	if scent <= 0 || oils <= 0 {
		return fragrance.StabilizerEstimate{}, false
	}
	d, err := e.in.Scent.Fragrance.Dose(fragrance.Use{Oils: oils, Fragrance: scent})
	if err != nil {
		return fragrance.StabilizerEstimate{}, false
	}
	est, err := fragrance.Estimate(d, e.stab, 0, grams)
	return est, err == nil
}

// dose works out the browning dose of each scented portion.
func (e *evaluation) dose() error {
	sc := e.in.Scent
	if sc == nil {
		return nil
	}
	for i := range e.in.Recipe.Pots {
		pot := &e.in.Recipe.Pots[i]
		sp := plan.ScentPot{Batter: pot.Name, Fragrance: pot.Fragrance, Grams: pot.Stabilizer.Grams}
		if est, ok := e.estimate(pot.Oils, pot.Fragrance, &pot.Stabilizer.Grams); ok {
			sp.Estimate, sp.Ratio, sp.StrengthAssumed = est, est.Ratio, est.StrengthAssumed
			if est.SO2 != nil {
				sp.SO2Percent = float64(*est.SO2)
			}
		}
		for _, w := range pot.Portions {
			var dose plan.ScentPortion
			if w.Fragrance > 0 {
				d, err := sc.Fragrance.Dose(fragrance.Use{Oils: w.Oils, Fragrance: w.Fragrance})
				if err != nil {
					return &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("fragrance of %s/%s: %v", pot.Name, w.Name, err)}
				}
				dose.Dose = d.Percent
			}
			sp.Portions = append(sp.Portions, dose)
		}
		sc.Pots = append(sc.Pots, sp)
	}
	return nil
}

// forecast runs the colour engines over the plan.
func (e *evaluation) forecast(s *Shelf) error {
	in := forecast.Input{
		Base: e.base(), Colorants: map[string]forecast.Colorant{}, Priors: fragrance.DefaultPriors(),
		Conditions: fragrance.Conditions{Gel: fragrance.Gel(e.in.Plan.Pour.Gel), Light: fragrance.Light(e.in.Plan.Pour.Light), CureAt: e.in.Plan.Pour.CureAt},
	}
	for name, c := range e.in.Colorants {
		in.Colorants[name] = known(c)
	}
	keys := map[string]int{}
	for bi := range e.in.Recipe.Pots {
		pot := &e.in.Recipe.Pots[bi]
		for pi := range pot.Portions {
			w := &pot.Portions[pi]
			q := forecast.Portion{Batter: pot.Name, Name: w.Name, Target: e.in.Plan.Batters[bi].Portions[pi].Target}
			for _, c := range w.Colorants {
				q.Colorants = append(q.Colorants, forecast.Use{Colorant: c.Name, Dose: c.PerKg})
			}
			if sc := e.in.Scent; sc != nil {
				q.BrownDose, q.Ratio = unit.Percent(sc.Pots[bi].Portions[pi].Dose), sc.Pots[bi].Ratio
			}
			keys[q.Key()] = len(in.Portions)
			in.Portions = append(in.Portions, q)
		}
	}
	// What a remedy may name is looked up beside the forecast: most plans need one.
	suggestible := make(chan []forecast.Colorant, 1)
	go func() { suggestible <- s.suggestible(e.in.Colorants) }()
	if err := e.teach(s, &in); err != nil {
		return err
	}
	e.asked = in
	result, err := forecast.Run(in)
	if err != nil {
		return &Error{Kind: ErrInvalid, Msg: "forecast", Err: err}
	}
	e.in.Forecast = result
	var ready *forecast.Shelf // made when the first rule asks for it
	e.in.Reach = func(key string) (plan.Proposal, bool) {
		if ready == nil {
			var err error
			if ready, err = forecast.NewShelf(in, <-suggestible); err != nil {
				ready = &forecast.Shelf{}
			}
		}
		i, ok := keys[key]
		if !ok {
			return plan.Proposal{}, false
		}
		found, ok := ready.For(in.Portions[i])
		if own, known := e.taught.proposal(key); known && (!ok || own.Delta <= found.Delta || own.Delta < good) {
			return own, true
		}
		return plan.Proposal{Uses: found.Uses, Hex: found.Settled.Hex(), Delta: found.Delta}, ok
	}
	return nil
}

// base is the bare soap: the maker's reading, else the class of the oils.
func (e *evaluation) base() forecast.Base {
	if r := e.in.Plan.Base; r != nil {
		return forecast.BaseFromReading(*r)
	}
	var oils []forecast.TintWeight
	for _, o := range e.in.Recipe.Oils {
		oils = append(oils, forecast.TintWeight{Tint: o.Oil.Tint, Weight: float64(o.Share)})
	}
	return forecast.BaseFromOils(oils)
}

// said turns an evaluation into what is shown.
func (e *evaluation) said() *PlanCheck {
	p := e.in.Plan
	c := &PlanCheck{
		Title: p.Title, File: p.File, Grounds: GuessWords, Findings: e.findings, Lessons: []observations.Lesson{},
		Base:    BaseSaid{Lab: e.in.Forecast.Base.Lab, Hex: e.in.Forecast.Base.Lab.Hex(), Class: string(e.in.Forecast.Base.Class), Basis: e.in.Forecast.Base.Basis},
		Batters: []BatterSaid{}, Portions: []PortionSaid{}, UnknownWords: []string{},
		Cautions: []string{
			"lye burns skin and eyes: goggles, gloves, fresh air; lye into water, never the reverse; no aluminium; keep children away",
			"no findings is not the same as safe: a check speaks only of what it knows, and local rules and your own tests decide",
		},
	}
	for i := range e.in.Recipe.Pots {
		c.Batters = append(c.Batters, e.batterSaid(i))
	}
	n := 0
	for bi := range e.in.Recipe.Pots {
		for pi := range e.in.Recipe.Pots[bi].Portions {
			q := e.portionSaid(bi, pi, &e.in.Forecast.Outcomes[n])
			n++
			for _, u := range q.Unknown {
				if !slices.Contains(c.UnknownWords, u) {
					c.UnknownWords = append(c.UnknownWords, u)
				}
			}
			c.Portions = append(c.Portions, q)
		}
	}
	if sc := e.in.Scent; sc != nil {
		c.Scent = e.scentSaid(sc)
		if c.Scent.VanillinPercent == nil && sc.Fragrance.Vanillin == nil {
			c.UnknownWords = append(c.UnknownWords, fmt.Sprintf("the vanillin in %s is not known", sc.Fragrance.Name))
		}
		if slices.ContainsFunc(sc.Pots, func(p plan.ScentPot) bool { return p.Grams > 0 }) {
			c.Cautions = append(c.Cautions, "sulfites can trouble people with asthma; never bring a sulfite together with an acid")
		}
	}
	c.Unknowns = len(c.UnknownWords)
	return c
}

func (e *evaluation) batterSaid(i int) BatterSaid {
	pot := &e.in.Recipe.Pots[i]
	b := BatterSaid{
		Name: pot.Name, Oils: pot.Oils, NaOH: tenth(pot.NaOH), KOH: tenth(pot.KOH), NaOHPurity: pot.NaOHPurity, KOHPurity: pot.KOHPurity,
		Water: tenth(pot.Water), WaterBrought: tenth(pot.WaterBrought), LyeConcentration: hundredth(pot.LyeConcentration), Fragrance: tenth(pot.Fragrance), Total: tenth(pot.Total),
		Discount: hundredth(pot.Discount), DiscountLow: hundredth(pot.DiscountLow), DiscountHigh: hundredth(pot.DiscountHigh),
		Stabilizer: StabilizerSaid{Name: pot.Stabilizer.Name, Given: tenth(pot.Stabilizer.Grams)},
		Additives:  []AdditiveSaid{}, Notes: slices.Concat([]string{}, pot.Notes),
	}
	for _, a := range pot.Additives {
		b.Additives = append(b.Additives, AdditiveSaid{a.Name, tenth(a.Grams), a.Into, tenth(a.ExtraAlkali)})
	}
	if e.in.Scent != nil && i < len(e.in.Scent.Pots) {
		est := e.in.Scent.Pots[i].Estimate
		b.Stabilizer.Floor, b.Stabilizer.Suggested, b.Stabilizer.EqualParts = tenth(est.FloorProduct), tenth(est.SuggestedProduct), tenth(est.EqualParts)
		b.Stabilizer.StrengthAssumed = est.StrengthAssumed
	}
	return b
}

// tenth rounds to the 0.1 g of a bench scale, hundredth to what a discount is shown in.
func tenth(g unit.Grams) unit.Grams { return unit.Grams(math.Round(float64(g)*10) / 10) }

func hundredth(p unit.Percent) unit.Percent {
	return unit.Percent(math.Round(float64(p)*100) / 100)
}

func (e *evaluation) scentSaid(sc *plan.Scent) *ScentSaid {
	s := &ScentSaid{Name: sc.Fragrance.Name, Rate: e.in.Plan.Fragrance.Rate}
	most, ratio := 0.0, 0.0
	for _, p := range sc.Pots {
		for _, q := range p.Portions {
			if q.Dose > most {
				most, ratio = q.Dose, p.Ratio
			}
		}
	}
	if most > 0 {
		s.VanillinPercent = &most
		if base, err := fragrance.NewBase(e.in.Forecast.Base.Lab); err == nil {
			priors := fragrance.DefaultPriors()
			centre := priors.Centre()
			cond := fragrance.Conditions{Gel: fragrance.Gel(e.in.Plan.Pour.Gel), Light: fragrance.Light(e.in.Plan.Pour.Light), CureAt: e.in.Plan.Pour.CureAt}
			s.Word = fragrance.Describe(base.Lab(), base.Path(centre.U(forecast.Settled, most, cond, ratio)))
		}
	}
	return s
}

func (e *evaluation) portionSaid(bi, pi int, o *forecast.Outcome) PortionSaid {
	w := &e.in.Recipe.Pots[bi].Portions[pi]
	pp := &e.in.Plan.Batters[bi].Portions[pi]
	q := PortionSaid{
		Batter: o.Batter, Name: o.Name, Grams: w.Grams, Scented: w.Scented, Days: []DaySaid{},
		Settled: colourSaid(o.Settled), IfGelled: colourSaid(o.IfGelled), IfNot: colourSaid(o.IfNot),
		Best: o.Best, Likely: o.Likely, Worst: o.Worst,
		Target: pp.Target, TargetDelta: o.TargetDelta, Near: o.Near,
		Unknown: slices.Concat([]string{}, o.Unknown), Colorants: []DoseSaid{},
	}
	if pp.Target != nil {
		q.TargetHex = pp.Target.Hex()
	}
	for _, d := range o.Days {
		ds := DaySaid{Day: d.Day}
		if c := d.Colour; c != nil {
			ds.Lab, ds.P05, ds.P95, ds.Hex, ds.Name = &c.Lab, &c.P05, &c.P95, &c.Hex, &c.Name
		}
		q.Days = append(q.Days, ds)
	}
	for _, c := range w.Colorants {
		k := e.in.Colorants[c.Name]
		q.Colorants = append(q.Colorants, DoseSaid{
			Name: c.Name, Grams: unit.Grams(math.Round(float64(c.Grams)*100) / 100), Dose: unit.GramsPerKg(math.Round(float64(c.PerKg)*1000) / 1000),
			Verdict: strings.ToLower(string(k.Expect.Verdict)), Grounds: string(k.Expect.Grounds),
		})
	}
	return q
}

func colourSaid(c *forecast.Colour) *ColourSaid {
	if c == nil {
		return nil
	}
	said := ColourSaid(*c)
	return &said
}
