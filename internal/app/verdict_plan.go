package app

import (
	"bytes"
	"context"
	"encoding/gob"
	"encoding/hex"
	"fmt"
	"maps"
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
)

// ownKnown is what the maker's own batches say about the names of a plan.
type ownKnown struct {
	verdicts map[string]*Verdict // by name key
	working  *observations.Working
	lessons  []observations.Lesson
	batches  []string // codes behind the verdicts
}

// keptVerdicts are the verdicts on a plan's names from the maker's own batches, as kept
// in the book.
type keptVerdicts struct {
	Of      map[string]*Verdict
	Batches []string
}

// judged gives the verdicts on the colourants of a plan from the maker's own batches:
// those kept in the book while nothing in it has changed since, else worked out anew.
func (a *App) judged(ctx context.Context, s *Shelf, p formula.Plan) (*keptVerdicts, error) {
	h := newDigest()
	h.text(builtFrom())
	var names []string
	for _, name := range namesIn(p) {
		key := store.NameKey(name)
		if p.Fragrance != nil && key == store.NameKey(p.Fragrance.Name) || key == store.NameKey(p.Title) {
			continue
		}
		names = append(names, name)
		h.text(name)
	}
	sum := h.sum()
	what := "verdicts " + hex.EncodeToString(sum[:12])
	out := &keptVerdicts{Of: map[string]*Verdict{}}
	var revision int64
	fresh := false
	err := a.read(ctx, func(tx *store.Tx) error {
		var err error
		if revision, err = tx.BookRevision(ctx); err != nil {
			return err
		}
		kept, err := tx.WorkedOut(ctx, what)
		if err != nil {
			return err
		}
		if kept != nil && kept.Revision == revision {
			var have keptVerdicts
			if gob.NewDecoder(bytes.NewReader(kept.Value)).Decode(&have) == nil {
				out.Batches = have.Batches
				maps.Copy(out.Of, have.Of)
				return nil
			}
		}
		fresh = true
		return s.judgeAll(ctx, tx, names, out)
	})
	if err == nil && fresh && len(out.Of) > 0 {
		a.keep(ctx, what, store.WorkedOut{Key: sum, Revision: revision}, out)
	}
	return out, err
}

// judgeAll judges the names that the maker's own readings speak of.
func (s *Shelf) judgeAll(ctx context.Context, tx *store.Tx, names []string, out *keptVerdicts) error {
	for _, name := range names {
		key := store.NameKey(name)
		if out.Of[key] != nil {
			continue
		}
		list, err := tx.Batches(ctx, store.WhichBatches{Colorant: name})
		if err != nil {
			return err
		}
		if len(list) == 0 {
			continue
		}
		v, err := s.judge(ctx, tx, name)
		if err != nil {
			return err
		}
		if v.Grounds != plan.OwnReadings {
			continue
		}
		out.Of[key] = v
		for _, e := range v.Portions {
			if !slices.Contains(out.Batches, e.Batch) {
				out.Batches = append(out.Batches, e.Batch)
			}
		}
	}
	return nil
}

// learn gathers what the maker's own batches say about a plan. Without a batch of
// any of its names nothing is fitted.
func (a *App) learn(ctx context.Context, s *Shelf, p formula.Plan) error {
	verdicts, err := a.judged(ctx, s, p)
	if err != nil {
		return err
	}
	own := &ownKnown{verdicts: verdicts.Of, batches: verdicts.Batches}
	err = a.read(ctx, func(tx *store.Tx) error {
		if p.Fragrance != nil && p.Fragrance.Name != "" {
			pots, err := potsWith(ctx, tx, p.Fragrance.Name)
			if err != nil {
				return err
			}
			if w := observations.WorkingTimes(pots); len(w) > 0 {
				own.working = &w[0]
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if own.lessons, err = a.Lessons(ctx, namesIn(p)...); err != nil {
		return err
	}
	s.own = own
	return nil
}

// potsWith are the pots that a fragrance was in, as noted.
func potsWith(ctx context.Context, tx *store.Tx, name string) ([]observations.Pot, error) {
	list, err := tx.Batches(ctx, store.WhichBatches{Fragrance: name})
	if err != nil {
		return nil, err
	}
	var pots []observations.Pot
	for i := range list {
		events, err := tx.Events(ctx, list[i].ID)
		if err != nil {
			return nil, err
		}
		for _, p := range observations.PotsOf(&list[i], events) {
			if store.NameKey(p.Fragrance) == store.NameKey(name) {
				pots = append(pots, p)
			}
		}
	}
	return pots, nil
}

// noted is what the maker noted at the pot of the plan's fragrance.
func (s *Shelf) noted(name string) fragrance.Noted {
	if s.own == nil || s.own.working == nil || store.NameKey(s.own.working.Fragrance) != store.NameKey(name) {
		return fragrance.Noted{}
	}
	return notedOf(s.own.working)
}

func notedOf(w *observations.Working) fragrance.Noted {
	return fragrance.Noted{Batches: w.Noted, Accelerated: w.Fast, Riced: w.Riced, Seized: w.Seized}
}

// ownSD is the doubt about where a colourant lands by the maker's own batches, at a
// dose and in a base that may differ (assumed).
var ownSD = cie.Lab{L: 4, A: 3, B: 4}

// outrank puts what the maker's own batches say above the label.
func (s *Shelf) outrank(c *plan.Colorant) {
	if s.own == nil {
		return
	}
	v := s.own.verdicts[store.NameKey(c.Product.Name)]
	if v == nil || v.Verdict == string(kinetics.Unknown) {
		return
	}
	e := &c.Expect
	e.Verdict, e.Probability = colorants.Verdict(v.Verdict), v.Probability
	e.Grounds, e.Because = colorants.Grounds(plan.OwnReadings), v.Because
	e.Pattern = colorants.Shares(v.Pattern)
	if v.BackByDay != nil {
		e.JudgeFromDay = *v.BackByDay
	}
	switch {
	case v.Likely == kinetics.Settles.String() || v.Likely == kinetics.Fades.String():
		if v.Lands != nil {
			e.Becomes = &colorants.Becomes{Words: "where your own batches landed: " + v.Lands.Name, Lab: &v.Lands.Lab, SD: ownSD}
		}
	default:
		e.Becomes = nil
	}
	if v.Bled == 0 && v.Batches > 1 {
		e.Bleeds = math.Min(e.Bleeds, 1/float64(1+v.Batches))
	} else if v.Bled > 0 {
		e.Bleeds = math.Max(e.Bleeds, 0.75)
	}
}

// labelRules are the rules that speak from a colourant's label alone.
var labelRules = []string{"breaks-down", "shifts"}

// ownFindings lets the maker's own batches speak: they take the place of what the
// label's rules say of the same colourant, and tell how long the batter stayed fluid.
func (e *evaluation) ownFindings(s *Shelf) {
	if s.own == nil {
		return
	}
	for i := range e.in.Plan.Batters {
		b := &e.in.Plan.Batters[i]
		for j := range b.Portions {
			for _, u := range b.Portions[j].Colorants {
				v := s.own.verdicts[store.NameKey(u.Name)]
				if v == nil || v.Verdict == string(kinetics.Unknown) {
					continue
				}
				key := b.Name + "/" + b.Portions[j].Name
				e.findings = slices.DeleteFunc(e.findings, func(f plan.Finding) bool {
					return f.Portion == key && slices.Contains(labelRules, f.Rule) && strings.Contains(f.Title, u.Name)
				})
				if f, ok := ownFinding(v, u, b.Portions[j].Target); ok {
					f.Portion = key
					e.findings = append(e.findings, f)
				}
			}
		}
	}
	if f, ok := e.workingFinding(s.own.working); ok {
		e.findings = slices.DeleteFunc(e.findings, func(f plan.Finding) bool { return f.Rule == "fast-mover" })
		e.findings = append(e.findings, f)
	}
	slices.SortStableFunc(e.findings, func(x, y plan.Finding) int { return int(y.Severity) - int(x.Severity) })
}

// ownFinding says what a colourant did in the maker's own batches.
func ownFinding(v *Verdict, u formula.ColorantUse, target *cie.Lab) (plan.Finding, bool) {
	f := plan.Finding{Rule: "own-readings", Line: u.Line, Grounds: plan.OwnReadings, Because: fmt.Sprintf("%s: %s", strings.Join(codesOf(v), ", "), v.Because)}
	if v.Lands != nil {
		f.Because += fmt.Sprintf("; landed on %s %s", v.Lands.Hex, v.Lands.Name)
		if target != nil {
			f.Because += fmt.Sprintf(", ΔE00 %.0f from the target", cie.DeltaE00(v.Lands.Lab, *target))
		}
	}
	for _, c := range v.Contradicts {
		f.Because += fmt.Sprintf("; that contradicts the %s", c.What)
	}
	switch {
	case v.Verdict == string(kinetics.Unreliable):
		f.Severity, f.Title = plan.Risk, u.Name+" has not kept its colour in your soap"
		f.Try = "plan with another colourant: lyefast plan reach lists what comes near the target"
	case v.Verdict == string(kinetics.Shifting) && v.BackByDay != nil:
		f.Severity, f.Title = plan.Note, fmt.Sprintf("do not judge %s before day %.0f", u.Name, *v.BackByDay)
		f.Try = fmt.Sprintf("leave it until day %.0f; it came back in your own batches", *v.BackByDay)
	case v.Verdict == string(kinetics.Shifting):
		f.Severity, f.Title = plan.Caution, u.Name+" settles on another colour in your soap"
		f.Try = "plan with the colour it landed on"
	case len(v.Contradicts) > 0:
		f.Severity, f.Title = plan.Note, u.Name+" has held in your soap, whatever its label says"
		f.Try = "trust your bars, and read the next batch as well"
	default:
		return f, false
	}
	return f, true
}

func codesOf(v *Verdict) []string {
	var codes []string
	for _, e := range v.Portions {
		if !slices.Contains(codes, e.Batch) {
			codes = append(codes, e.Batch)
		}
	}
	return codes
}

// How unlike a pot may be and still tell how long this one stays fluid (assumed):
// temperature and strength of the lye both hurry the batter.
const (
	alikeCelsius = 6.0
	alikeLye     = 4.0
)

// workingFinding holds the minutes a design needs against those the maker had with
// this fragrance, in pots of about the same temperature and water where there are any.
func (e *evaluation) workingFinding(w *observations.Working) (plan.Finding, bool) {
	need, ok := plan.Minutes(e.in.Plan.Pour)
	if w == nil || !ok {
		return plan.Finding{}, false
	}
	alike, others := e.alike(w.Pots)
	pots, unlike := alike, ""
	if len(pots) == 0 {
		pots, unlike = others, ", in pots of another temperature or water"
	}
	record := observations.WorkingTimes(pots)
	if len(record) == 0 || record[0].Workable == nil {
		return plan.Finding{}, false
	}
	had := record[0].Workable
	if had.Low >= need {
		return plan.Finding{}, false
	}
	var codes []string
	for _, p := range pots {
		if !slices.Contains(codes, p.Batch) {
			codes = append(codes, p.Batch)
		}
	}
	span := fmt.Sprintf("%.3g to %.3g", had.Low, had.High)
	if had.N == 1 || had.Low == had.High {
		span = fmt.Sprintf("%.3g", had.Median)
	}
	f := plan.Finding{Rule: "working-time", Severity: plan.Caution, Grounds: plan.OwnReadings, Line: e.in.Plan.Pour.Line,
		Title:   "the batter may thicken before the pour is done",
		Because: fmt.Sprintf("this needs %.3g minutes, you had %s with %s (%s%s)", need, span, w.Fragrance, strings.Join(codes, ", "), unlike),
		Try:     fmt.Sprintf("a design for %.0f minutes, a cooler batter, more water, or the fragrance only once the colours are in", math.Floor(had.Low))}
	if had.High < need {
		f.Severity = plan.Risk
	}
	return f, true
}

// alike parts pots by whether they were about as warm and as wet as this plan's.
func (e *evaluation) alike(pots []observations.Pot) (alike, others []observations.Pot) {
	at := e.in.Plan.Pour.BatterAt
	for _, p := range pots {
		same := true
		if at != nil && p.BatterAt != nil {
			same = math.Abs(float64(*at-*p.BatterAt)) <= alikeCelsius
		}
		for _, r := range e.in.Recipe.Pots {
			if r.Fragrance > 0 {
				same = same && math.Abs(float64(r.LyeConcentration-p.Concentration)) <= alikeLye
			}
		}
		if same {
			alike = append(alike, p)
		} else {
			others = append(others, p)
		}
	}
	return alike, others
}

// groundsWords stand before a forecast.
func (s *Shelf) groundsWords(t *taught) string {
	if t.own() {
		return t.words()
	}
	if t != nil && t.Trouble != "" {
		return GuessWords + "; what your portions say could not be used: " + t.Trouble
	}
	if s.own == nil || len(s.own.batches) == 0 {
		return GuessWords
	}
	n := len(s.own.batches)
	what := "batches stand"
	if n == 1 {
		what = "batch stands"
	}
	return fmt.Sprintf("%d of your own %s behind it (%s); the rest is from labels", n, what, strings.Join(s.own.batches, ", "))
}
