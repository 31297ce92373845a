package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/kinetics"
	"lyefast/internal/observations"
	"lyefast/internal/plan"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// Verdict is what may be planned on a colourant, with its grounds.
type Verdict struct {
	Colorant    string      `json:"colorant"`
	Verdict     string      `json:"verdict"`
	Probability float64     `json:"probability"`
	Pattern     PatternSaid `json:"pattern"`
	Likely      string      `json:"likely_pattern"`
	// Grounds is the strongest that was used: own readings, label and chemistry,
	// supplier's claim, common practice.
	Grounds string `json:"grounds"`
	Because string `json:"because"`
	// Batches is how many of the maker's own were decided enough to count, Bled in
	// how many of all the colour was seen to spread.
	Batches int `json:"batches"`
	Bled    int `json:"bled"`
	// Lands is where the colour lands; nil where nobody can say.
	Lands *ColourAt `json:"lands"`
	// BackByDay is the day it had come back by, nil where it does not return.
	BackByDay *float64 `json:"back_by_day"`
	Refused   string   `json:"refused,omitempty"`
	// Label and Claim are what those say beside it.
	Label string `json:"label_verdict"`
	Claim string `json:"claim,omitempty"`
	// Contradicts lists what the maker's own batches speak against.
	Contradicts []Contradiction   `json:"contradicts"`
	Portions    []VerdictEvidence `json:"portions"`

	curves []kinetics.Curve // of Portions
}

// ColourAt is a colour at a dose.
type ColourAt struct {
	Lab  cie.Lab         `json:"lab"`
	Hex  string          `json:"hex"`
	Name string          `json:"name"`
	Dose unit.GramsPerKg `json:"dose_g_per_kg_oils,omitempty"`
}

func colourAt(c cie.Lab, dose unit.GramsPerKg) *ColourAt {
	return &ColourAt{Lab: c, Hex: c.Hex(), Name: c.Name().Text, Dose: dose}
}

// Contradiction is a word on paper and the batches that speak against it.
type Contradiction struct {
	What    string   `json:"what"` // "label" or "supplier's claim"
	Says    string   `json:"says"`
	Batches []string `json:"batches"`
	Because string   `json:"because"`
}

// VerdictEvidence is one portion behind a verdict.
type VerdictEvidence struct {
	Batch   string          `json:"batch"`
	Portion string          `json:"portion"`
	Dose    unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	// Found is what the drift rules make of it: holds, returns, settles elsewhere,
	// fades, browning, unclear, not enough to say.
	Found    string   `json:"found"`
	Because  string   `json:"because"`
	Readings int      `json:"readings"`
	Settled  *cie.Lab `json:"settled_lab"`
	Hex      string   `json:"settled_hex,omitempty"`
	Radius   float64  `json:"band_delta_e00"`
	Bled     bool     `json:"bled,omitempty"`
	// CorrectedFor is what was taken off first: the bare control, modelled browning.
	CorrectedFor string `json:"corrected_for,omitempty"`
}

// mostJudged bounds how many portions, the latest, a verdict looks at.
const mostJudged = 12

// judge gives the verdict on a colourant from the maker's own portions and its label.
// A portion counts where the colourant is its only one beside whites, since in a
// mixture nobody knows which of two has moved.
func (s *Shelf) judge(ctx context.Context, tx *store.Tx, name string) (*Verdict, error) {
	key := store.NameKey(name)
	list, err := tx.Batches(ctx, store.WhichBatches{Colorant: name})
	if err != nil {
		return nil, err
	}
	c := s.colorant(formula.ColorantUse{Name: name})
	var batches []kinetics.Batch
	var evidence []VerdictEvidence
	for i := len(list) - 1; i >= 0 && len(batches) < mostJudged; i-- {
		b := &list[i]
		k, err := s.know(ctx, tx, b)
		if err != nil {
			return nil, err
		}
		if inPlan, ok := k.colorants[key]; ok && !c.Known {
			c = inPlan // described in the plan file and not on the shelf
		}
		events, err := tx.Events(ctx, b.ID)
		if err != nil {
			return nil, err
		}
		for j := range b.Portions {
			p := &b.Portions[j]
			dose, alone := k.alone(p, key)
			if !alone || len(batches) >= mostJudged {
				continue
			}
			list, _, err := tx.Readings(ctx, p.ID, mostRead)
			if err != nil {
				return nil, err
			}
			live := slices.DeleteFunc(list, func(r observations.Reading) bool { return !r.Sharp() })
			pts := points(b, live)
			bled := slices.ContainsFunc(events, func(e observations.Event) bool {
				return e.Kind == observations.Bleed && e.Portion == p.Key()
			})
			if len(pts) == 0 && !bled {
				continue
			}
			kb, ev, err := k.evidence(p, key, pts)
			if err != nil {
				return nil, err
			}
			kb.Bled, ev.Bled, ev.Dose = bled, bled, dose
			batches, evidence = append(batches, kb), append(evidence, ev)
		}
	}
	return verdictOf(name, c, batches, evidence), nil
}

// alone tells whether a colourant is the only one of a portion beside whites, and its dose.
func (k *batchKnown) alone(p *observations.Portion, key string) (dose unit.GramsPerKg, ok bool) {
	for _, d := range p.Colorants {
		if store.NameKey(d.Name) == key {
			dose, ok = d.Dose, true
			continue
		}
		c := k.colorants[store.NameKey(d.Name)]
		if c.Product.Kind != colorants.KindWhite && !c.Expect.White && !c.Expect.Clear {
			return 0, false
		}
	}
	return dose, ok
}

// evidence fits one portion with its control or its browning taken off first. The
// label is left out of the fit: it is counted once, with the batches.
func (k *batchKnown) evidence(p *observations.Portion, key string, pts []kinetics.Point) (kinetics.Batch, VerdictEvidence, error) {
	ev := VerdictEvidence{Batch: k.batch.Code, Portion: p.Key(), Readings: len(pts)}
	if len(pts) > 0 {
		if drifts, what := k.drifts(p, pts); len(drifts) > 0 {
			if rest, ok := without(pts, likeliest(drifts)); ok {
				pts, ev.CorrectedFor = rest, what
			}
		}
	}
	c, err := kinetics.Fit(pts, kinetics.DefaultPrior())
	if err != nil {
		return kinetics.Batch{}, ev, fmt.Errorf("fit %s/%s: %w", k.batch.Code, p.Key(), err)
	}
	kb := kinetics.Batch{Curve: c}
	if known, ok := k.colorants[key]; ok && known.Product.Swatch != nil && known.Product.SwatchBasis == "maker" {
		kb.Reference = p.AtPour
	}
	if len(pts) > 0 {
		settled := c.Settled()
		ev.Settled, ev.Hex, ev.Radius = &settled.Median, settled.Median.Hex(), math.Round(100*radius(settled))/100
	}
	return kb, ev, nil
}

// likeliest is the path of the drift with the greatest weight.
func likeliest(drifts []kinetics.Drift) func(float64) cie.Lab {
	best := drifts[0]
	for _, d := range drifts[1:] {
		if d.Weight > best.Weight {
			best = d
		}
	}
	return best.Path
}

// groundsNone stands where neither batch, label, claim nor practice says anything.
const groundsNone = "nothing known"

// verdictOf joins batches and label.
func verdictOf(name string, c plan.Colorant, batches []kinetics.Batch, evidence []VerdictEvidence) *Verdict {
	e := c.Expect
	chem := kinetics.Chemistry{Weight: weights(e), Bleeds: e.Bleeds}
	if e.Verdict == colorants.VerdictUnknown {
		chem.Bleeds = 0
	}
	if e.Becomes != nil {
		chem.Lands = e.Becomes.Lab
	}
	chem.Destroyed = e.Verdict == colorants.VerdictUnreliable
	j := kinetics.Judge(batches, chem)
	v := &Verdict{
		Colorant: name, Verdict: string(j.Standing), Probability: math.Round(100*j.Probability) / 100,
		Pattern: PatternSaid{j.Pattern[0], j.Pattern[1], j.Pattern[2], j.Pattern[3]},
		Batches: j.Batches, Bled: j.Bled, Refused: j.Refused, Label: string(e.Verdict), Claim: c.Product.Claim,
		Contradicts: []Contradiction{}, Portions: evidence,
	}
	if c.Known {
		v.Colorant = c.Product.Name
	}
	if v.Portions == nil {
		v.Portions = []VerdictEvidence{}
	}
	for _, b := range batches {
		v.curves = append(v.curves, b.Curve)
	}
	v.Likely = likeliestOf(j.Pattern)
	for i := range j.Windows {
		v.Portions[i].Found, v.Portions[i].Because = string(j.Windows[i].Kind), j.Windows[i].Because
	}
	if j.Lands != nil {
		v.Lands = colourAt(*j.Lands, 0)
	}
	switch {
	case j.Batches > 0 || j.Bled > 0:
		v.Grounds = plan.OwnReadings
		v.Because = ownWords(v)
		v.back(batches)
		if j.Lands == nil && len(evidence) > 0 && evidence[0].Settled != nil {
			v.Lands = colourAt(*evidence[0].Settled, evidence[0].Dose)
		}
		v.contradict(e, c.Product.Claim)
	case e.Verdict != colorants.VerdictUnknown && e.Verdict != "":
		v.Grounds, v.Because = string(e.Grounds), e.Because
		v.Verdict, v.Probability = string(e.Verdict), math.Round(100*e.Probability)/100
		if e.Becomes != nil && e.Becomes.Lab != nil {
			v.Lands = colourAt(*e.Becomes.Lab, 0)
		}
	default:
		v.Grounds, v.Because = groundsNone, e.Because
		v.Verdict = string(kinetics.Unknown)
	}
	return v
}

// likeliestOf names the most probable pattern; the first of equals.
func likeliestOf(p [4]float64) string {
	likely := kinetics.Holds
	for i := range p {
		if p[i] > p[likely] {
			likely = kinetics.Pattern(i)
		}
	}
	return likely.String()
}

// ownWords says what the batches did.
func ownWords(v *Verdict) string {
	n := map[string]int{}
	var kinds []string
	for _, p := range v.Portions {
		if p.Found == string(kinetics.NotEnough) || p.Found == "" {
			continue
		}
		if n[p.Found] == 0 {
			kinds = append(kinds, p.Found)
		}
		n[p.Found]++
	}
	var parts []string
	for _, k := range kinds {
		parts = append(parts, fmt.Sprintf("%s in %s", k, portionsWord(n[k])))
	}
	if v.Bled > 0 {
		parts = append(parts, fmt.Sprintf("bled in %s", portionsWord(v.Bled)))
	}
	if len(parts) == 0 {
		return "your readings do not decide yet"
	}
	return fmt.Sprintf("most likely it %s (%.0f %%); day by day: %s", v.Likely, 100*v.share(), strings.Join(parts, ", "))
}

// share is the probability of the likeliest pattern.
func (v *Verdict) share() float64 {
	p := v.Pattern
	return max(p.Holds, p.Returns, p.Settles, p.Fades)
}

func portionsWord(n int) string {
	if n == 1 {
		return "1 portion"
	}
	return fmt.Sprintf("%d portions", n)
}

// back finds the day by which a returning colour was back: 70 % of its widest
// excursion gone, over the batches that returned the latest of them.
func (v *Verdict) back(batches []kinetics.Batch) {
	for i, b := range batches {
		if v.Portions[i].Found != string(kinetics.CameBack) {
			continue
		}
		home := b.Curve.Settled().Median
		widest, at := 0.0, 0.0
		const step = 0.25
		for day := 0.0; day <= 14; day += step {
			if d := cie.DeltaE00K(b.Curve.At(day).Median, home, 2, 1, 1); d > widest {
				widest, at = d, day
			}
		}
		for day := at; day <= 28; day += step {
			if cie.DeltaE00K(b.Curve.At(day).Median, home, 2, 1, 1) <= 0.3*widest {
				if v.BackByDay == nil || day > *v.BackByDay {
					d := math.Ceil(day)
					v.BackByDay = &d
				}
				break
			}
		}
	}
}

// contradict holds the maker's own batches against label and claim.
func (v *Verdict) contradict(e colorants.Expectation, claim string) {
	if v.Verdict == string(kinetics.Unknown) {
		return
	}
	var codes []string
	for _, p := range v.Portions {
		if p.Found != string(kinetics.NotEnough) && !slices.Contains(codes, p.Batch) {
			codes = append(codes, p.Batch)
		}
	}
	// A label that leads one to expect the same course is not contradicted by bars that
	// all landed on one colour, though that makes them easier to plan on.
	same := v.Likely == likeliestOf(weights(e))
	if e.Grounds == colorants.GroundsLabel && e.Verdict != colorants.VerdictUnknown && string(e.Verdict) != v.Verdict && !same {
		v.Contradicts = append(v.Contradicts, Contradiction{"label", "by its label it is " + string(e.Verdict) + ": " + e.Because, codes,
			fmt.Sprintf("%s in your soap: %s", v.Verdict, v.Because)})
	}
	if claimsSteady(claim) && v.Verdict != string(kinetics.Stable) {
		v.Contradicts = append(v.Contradicts, Contradiction{"supplier's claim", claim, codes, fmt.Sprintf("%s in your soap: %s", v.Verdict, v.Because)})
	}
}

// claimsSteady reports whether a supplier's words claim that the colour keeps in soap.
func claimsSteady(claim string) bool {
	t := " " + strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer("-", " ", "’", "'").Replace(claim)), " "))
	for _, no := range []string{" not ", " unstable", "n't ", " may ", " might "} {
		if i := strings.Index(t, no); i >= 0 && !strings.Contains(t, "not bleed") && !strings.Contains(t, "not fade") && !strings.Contains(t, "not morph") && !strings.Contains(t, "n't bleed") && !strings.Contains(t, "n't fade") && !strings.Contains(t, "n't morph") {
			return false
		}
	}
	for _, yes := range []string{" stable", "colourfast", "colorfast", "colour fast", "color fast", "lye safe", "holds", "stays true", "does not", "won't", "no bleeding", "non bleeding", "no fading"} {
		if strings.Contains(t, yes) {
			return true
		}
	}
	return false
}

// VerdictsQuery narrows the list of verdicts.
type VerdictsQuery struct {
	// Name asks for one colourant or fragrance.
	Name string
	// Own lists only what the maker's own batches speak of.
	Own bool
}

// Verdicts is every verdict of the shelf.
type Verdicts struct {
	Colorants  []*Verdict          `json:"colorants"`
	Fragrances []*FragranceVerdict `json:"fragrances"`
}

// Verdicts judges the colourants and fragrances of the shelf and of every batch.
func (a *App) Verdicts(ctx context.Context, q VerdictsQuery) (*Verdicts, error) {
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	out := &Verdicts{Colorants: []*Verdict{}, Fragrances: []*FragranceVerdict{}}
	colours, scents := map[string]string{}, map[string]string{}
	for _, p := range s.Colorants {
		if !p.Retired && !p.BuiltIn {
			colours[store.NameKey(p.Name)] = p.Name
		}
	}
	for _, f := range s.Fragrances {
		if !f.Retired {
			scents[store.NameKey(f.Name)] = f.Name
		}
	}
	err = a.read(ctx, func(tx *store.Tx) error {
		list, err := tx.Batches(ctx, store.WhichBatches{})
		if err != nil {
			return err
		}
		for i := range list {
			for j := range list[i].Portions {
				for _, d := range list[i].Portions[j].Colorants {
					if _, ok := colours[store.NameKey(d.Name)]; !ok {
						colours[store.NameKey(d.Name)] = d.Name
					}
				}
			}
			for _, t := range list[i].Batters {
				if _, ok := scents[store.NameKey(t.Fragrance)]; !ok && t.Fragrance != "" {
					scents[store.NameKey(t.Fragrance)] = t.Fragrance
				}
			}
		}
		only := store.NameKey(q.Name)
		for _, key := range sortedKeys(colours) {
			if only != "" && key != only {
				continue
			}
			v, err := s.judge(ctx, tx, colours[key])
			if err != nil {
				return err
			}
			if !q.Own || v.Grounds == plan.OwnReadings {
				out.Colorants = append(out.Colorants, v)
			}
		}
		for _, key := range sortedKeys(scents) {
			if only != "" && key != only {
				continue
			}
			v, err := s.judgeScent(ctx, tx, scents[key])
			if err != nil {
				return err
			}
			if !q.Own || v.Grounds == plan.OwnReadings {
				out.Fragrances = append(out.Fragrances, v)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if q.Name != "" && len(out.Colorants)+len(out.Fragrances) == 0 && !q.Own {
		return nil, &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("no colourant or fragrance is called %q", clipped(q.Name)), Tip: "see `lyefast shelf verdicts` for all of them"}
	}
	return out, nil
}

// OwnVerdict is the verdict on a colourant where the maker's own batches speak of it,
// nil where they do not.
func (a *App) OwnVerdict(ctx context.Context, name string) (*Verdict, error) {
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	var v *Verdict
	err = a.read(ctx, func(tx *store.Tx) (err error) {
		v, err = s.judge(ctx, tx, name)
		return err
	})
	if v != nil && len(v.Portions) == 0 {
		v = nil
	}
	return v, err
}

// OwnScentVerdict is the verdict on a fragrance where the maker's own batches speak of
// it, nil where they do not.
func (a *App) OwnScentVerdict(ctx context.Context, name string) (*FragranceVerdict, error) {
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	var v *FragranceVerdict
	err = a.read(ctx, func(tx *store.Tx) (err error) {
		v, err = s.judgeScent(ctx, tx, name)
		return err
	})
	if v != nil && len(v.Browning) == 0 && v.Working == nil {
		v = nil
	}
	return v, err
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// FragranceVerdict is what may be planned on a fragrance: what it does to the colour
// of a bare bar, and how it behaves at the pot.
type FragranceVerdict struct {
	Fragrance   string  `json:"fragrance"`
	Verdict     string  `json:"verdict"`
	Probability float64 `json:"probability"`
	Grounds     string  `json:"grounds"`
	Because     string  `json:"because"`
	// Vanillin as stated, % of the fragrance; nil where its papers do not say.
	Vanillin *unit.Percent `json:"vanillin_percent"`
	// Browning is what its bare scented portions did against unscented ones.
	Browning []ScentEvidence `json:"browning"`
	Lands    *ColourAt       `json:"lands"`
	Batches  int             `json:"batches"`
	// Working is its record at the pot, nil before any was noted; Moves the chances
	// with that record counted in.
	Working     *observations.Working `json:"working"`
	Moves       *fragrance.Risk       `json:"moves"`
	Claims      []string              `json:"claims"`
	Contradicts []Contradiction       `json:"contradicts"`
}

// ScentEvidence is one bare scented portion.
type ScentEvidence struct {
	Batch   string   `json:"batch"`
	Portion string   `json:"portion"`
	Against string   `json:"against"` // the unscented portion, or its own first reading
	Settled cie.Lab  `json:"settled_lab"`
	Hex     string   `json:"settled_hex"`
	Delta   float64  `json:"delta_e00"`
	Radius  float64  `json:"band_delta_e00"`
	Counted bool     `json:"counted"`
	settled *cie.Lab // for comparison
}

// scentSeen is the ΔE00 of a scented bar from an unscented one from which a scent is
// said to colour it, the acceptability threshold of R. D. Paravina et al., J. Esthet.
// Restor. Dent. 27 (2015) S1; scentWorth is how many batches its papers are worth.
const (
	scentSeen  = 1.8
	scentWorth = 2
)

// judgeScent gives the verdict on a fragrance.
func (s *Shelf) judgeScent(ctx context.Context, tx *store.Tx, name string) (*FragranceVerdict, error) {
	key := store.NameKey(name)
	v := &FragranceVerdict{Fragrance: name, Browning: []ScentEvidence{}, Claims: []string{}, Contradicts: []Contradiction{}}
	sc := s.scent(formula.FragranceUse{Name: name})
	list, err := tx.Batches(ctx, store.WhichBatches{Fragrance: name})
	if err != nil {
		return nil, err
	}
	var pots []observations.Pot
	for i := len(list) - 1; i >= 0; i-- {
		b := &list[i]
		if p, err := formula.ReadPlan([]byte(b.Plan), b.Code); err == nil && p.Fragrance != nil && !sc.Known {
			sc = s.scent(*p.Fragrance)
		}
		events, err := tx.Events(ctx, b.ID)
		if err != nil {
			return nil, err
		}
		for _, p := range observations.PotsOf(b, events) {
			if store.NameKey(p.Fragrance) == key {
				pots = append(pots, p)
			}
		}
		if len(v.Browning) < mostJudged {
			ev, err := s.browned(ctx, tx, b, key)
			if err != nil {
				return nil, err
			}
			v.Browning = append(v.Browning, ev...)
		}
	}
	f := sc.Fragrance
	v.Vanillin = f.Vanillin
	v.Claims = append(v.Claims, f.Claims...)
	noted := fragrance.Noted{}
	if w := observations.WorkingTimes(pots); len(w) > 0 {
		v.Working, noted = &w[0], notedOf(&w[0])
	}
	if r, err := fragrance.Moves(f, fragrance.Handling{Noted: noted}); err == nil {
		v.Moves = &r
	}
	v.decide(f)
	v.hold(f)
	return v, nil
}

// browned compares the bare scented portions of a batch with its unscented bare ones.
func (s *Shelf) browned(ctx context.Context, tx *store.Tx, b *observations.Batch, key string) ([]ScentEvidence, error) {
	var out []ScentEvidence
	k, err := s.know(ctx, tx, b)
	if err != nil {
		return nil, err
	}
	for i := range b.Portions {
		p := &b.Portions[i]
		if store.NameKey(p.Fragrance) != key || !k.pale(p) {
			continue
		}
		list, _, err := tx.Readings(ctx, p.ID, mostRead)
		if err != nil {
			return nil, err
		}
		pts := points(b, slices.DeleteFunc(list, func(r observations.Reading) bool { return !r.Sharp() }))
		if len(pts) < 2 {
			continue
		}
		c, err := kinetics.Fit(pts, kinetics.DefaultPrior())
		if err != nil {
			return nil, fmt.Errorf("fit %s/%s: %w", b.Code, p.Key(), err)
		}
		settled := c.Settled()
		e := ScentEvidence{Batch: b.Code, Portion: p.Key(), Settled: settled.Median, Hex: settled.Median.Hex(), Radius: math.Round(100*radius(settled)) / 100}
		from := c.At(0).Median
		e.Against = "its own first days"
		if k.control != nil && len(p.Colorants) == 0 {
			from, e.Against = k.control.Settled().Median, "the bare control"
		}
		e.Delta = math.Round(100*cie.DeltaE00(from, settled.Median)) / 100
		e.Counted = e.Radius <= max(scentSeen, e.Delta/2)
		e.settled = &settled.Median
		out = append(out, e)
	}
	return out, nil
}

// pale tells whether a portion shows its soap: no colourant, or whites alone.
func (k *batchKnown) pale(p *observations.Portion) bool {
	for _, d := range p.Colorants {
		c := k.colorants[store.NameKey(d.Name)]
		if c.Product.Kind != colorants.KindWhite && !c.Expect.White && !c.Expect.Clear {
			return false
		}
	}
	return true
}

// decide sets the verdict: by what its bare portions did, else by its vanillin. Stable
// leaves the bar's colour alone, shifting tans it to a colour one can plan on,
// unreliable lands elsewhere each time.
func (v *FragranceVerdict) decide(f fragrance.Fragrance) {
	// What the papers lead one to expect: counts of batches that leave the bar alone
	// and that tan it.
	calm, tans := 0.0, 0.0
	switch {
	case f.Vanillin == nil && f.EthylVanillin == nil:
		v.Verdict, v.Grounds, v.Because = string(kinetics.Unknown), groundsNone, "its papers do not state vanillin, and no bare scented portion has been read"
	case percentOr(f.Vanillin)+percentOr(f.EthylVanillin) == 0 && len(f.Others) == 0:
		calm = scentWorth
		v.Grounds, v.Because = plan.Chemistry, "its papers state no vanillin and nothing else that browns"
	default:
		tans = scentWorth
		v.Grounds, v.Because = plan.Chemistry, fmt.Sprintf("its papers state %s vanillin, which browns", unit.Percent(percentOr(f.Vanillin)+percentOr(f.EthylVanillin)))
	}
	var seen []ScentEvidence
	for _, e := range v.Browning {
		if e.Counted {
			seen = append(seen, e)
		}
	}
	for _, e := range seen {
		if e.Delta >= scentSeen {
			tans++
		} else {
			calm++
		}
	}
	v.Batches = len(seen)
	all := 1 + calm + tans // one batch's worth of not knowing
	if calm+tans == 0 {
		return
	}
	agree := true
	for i, e := range seen {
		for _, o := range seen[:i] {
			agree = agree && kinetics.Agree(*e.settled, *o.settled)
		}
	}
	if len(seen) > 0 {
		v.Grounds = plan.OwnReadings
		deltas := make([]float64, len(seen))
		for i, e := range seen {
			deltas[i] = e.Delta
		}
		slices.SortFunc(deltas, cmp.Compare[float64])
		v.Because = fmt.Sprintf("ΔE00 %.1f–%.1f from unscented soap in %s", deltas[0], deltas[len(deltas)-1], portionsWord(len(seen)))
		v.Lands = colourAt(*seen[0].settled, 0)
	}
	switch {
	case calm >= tans:
		v.Verdict, v.Probability = string(kinetics.Stable), calm/all
	case agree:
		v.Verdict, v.Probability = string(kinetics.Shifting), tans/all
	default:
		v.Verdict, v.Probability = string(kinetics.Unreliable), tans/all
		v.Because += ", and not the same tan each time"
	}
	v.Probability = math.Round(100*v.Probability) / 100
}

// hold sets the maker's own batches against the supplier's claims.
func (v *FragranceVerdict) hold(f fragrance.Fragrance) {
	if fragrance.ClaimsNoDiscolouration(f.Claims) {
		var codes []string
		worst := 0.0
		for _, e := range v.Browning {
			if e.Counted && e.Delta >= scentSeen {
				worst = max(worst, e.Delta)
				if !slices.Contains(codes, e.Batch) {
					codes = append(codes, e.Batch)
				}
			}
		}
		if len(codes) > 0 {
			v.Contradicts = append(v.Contradicts, Contradiction{"supplier's claim", "no discolouration", codes, fmt.Sprintf("its bare portion settled ΔE00 %.1f from unscented soap", worst)})
		}
	}
	if w := v.Working; w != nil && fragrance.ClaimsNoAcceleration(f.Claims) {
		var codes []string
		for _, p := range w.Pots {
			if (p.Fast || p.Riced || p.Seized) && !slices.Contains(codes, p.Batch) {
				codes = append(codes, p.Batch)
			}
		}
		if len(codes) > 0 {
			v.Contradicts = append(v.Contradicts, Contradiction{"supplier's claim", "no acceleration", codes,
				fmt.Sprintf("hurried in %d, riced in %d, seized in %d of %d batters noted", w.Fast, w.Riced, w.Seized, w.Noted)})
		}
	}
}

func percentOr(p *unit.Percent) float64 {
	if p == nil {
		return 0
	}
	return float64(*p)
}
