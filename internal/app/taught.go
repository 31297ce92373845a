package app

import (
	"bytes"
	"context"
	"encoding/gob"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/forecast"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/mixing"
	"lyefast/internal/plan"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// taught is what the maker's own portions say of a plan. It is kept in the book, so that
// a plan checked again costs no fit.
type taught struct {
	Guesses *forecast.Guesses
	// Colorants by their name in the plan; Browned is of the plan's scent.
	Colorants map[string]taughtColorant
	Browned   taughtColorant
	// Portions, History and Batches count what holds one of those.
	Portions, History int
	Batches           []string
	// Browning is what is believed of it after the maker's own scented bars, nil without any.
	Browning *fragrance.Priors
	// Proposals are the best one or two colourants of the maker's own for each target.
	Proposals map[string]plan.Proposal
	// Misfits are portions with one of the plan's colourants that the others find hard to
	// believe, the worst first.
	Misfits []MisfitSaid
	// Trouble says why nothing could be learned, "" if something could.
	Trouble string
}

// taughtColorant is what stands behind one name.
type taughtColorant struct {
	Portions int
	Batches  []string
	MaxDose  float64
}

// words cites what stands behind a name.
func (c taughtColorant) words() string {
	text := "own readings, " + portionsWord(c.Portions)
	if len(c.Batches) > 0 {
		text += " (" + batchesWord(c.Batches) + ")"
	}
	return text
}

// planAsk is one portion of a plan as asked of what was learned.
type planAsk struct {
	forecast.Ask
	names  []string // of the colourants in the plan, in the order of the recipe's doses
	target *cie.Lab
	oils   unit.Grams
}

// asks lists the portions of a plan for what was learned.
func (e *evaluation) asks(in *forecast.Input) []planAsk {
	var out []planAsk
	var oils []unit.Grams
	for i := range e.in.Recipe.Pots {
		for j := range e.in.Recipe.Pots[i].Portions {
			oils = append(oils, e.in.Recipe.Pots[i].Portions[j].Oils)
		}
	}
	for i := range in.Portions {
		q := &in.Portions[i]
		a := planAsk{Ask: forecast.Ask{Key: q.Key(), Recipe: mixing.Recipe{Base: in.Base.Lab}}, target: q.Target, oils: oils[i]}
		for _, u := range q.Colorants {
			if in.Colorants[u.Colorant].Clear || u.Dose <= 0 {
				continue
			}
			key := store.NameKey(u.Colorant)
			at := slices.IndexFunc(a.Recipe.Doses, func(d mixing.Amount) bool { return d.Colorant == key })
			if at >= 0 {
				a.Recipe.Doses[at].Dose += float64(u.Dose)
				continue
			}
			a.Recipe.Doses = append(a.Recipe.Doses, mixing.Amount{Colorant: key, Dose: float64(u.Dose)})
			a.names = append(a.names, u.Colorant)
		}
		if q.BrownDose > 0 && e.in.Scent != nil {
			rate := e.in.Plan.Fragrance.Rate
			a.Recipe.Brown = brownOf(q.BrownDose, rate, in.Conditions, q.Ratio)
			a.Recipe.Scent = store.NameKey(e.in.Scent.Fragrance.Name)
			if q.Ratio > 0 {
				a.Recipe.Scent += stabilised
			}
		}
		out = append(out, a)
	}
	return out
}

// teach puts what the maker's own portions taught into a forecast.
func (e *evaluation) teach(s *Shelf, in *forecast.Input) error {
	if s.teacher == nil {
		return nil
	}
	t, err := s.teacher(s, e.asks(in))
	if err != nil || t == nil {
		return err
	}
	e.taught = t
	in.Learned = t.Guesses
	if t.Browning != nil {
		in.Priors = *t.Browning
	}
	for name, c := range t.Colorants {
		f := in.Colorants[name]
		f.MaxDose = unit.GramsPerKg(c.MaxDose)
		in.Colorants[name] = f
	}
	return nil
}

// teacher answers what was learned of a plan: from what the book keeps while nothing has
// changed, else by a fit.
func (a *App) teacher(ctx context.Context) func(*Shelf, []planAsk) (*taught, error) {
	return func(s *Shelf, asks []planAsk) (*taught, error) {
		h := newDigest()
		h.text(builtFrom())
		for _, q := range asks {
			h.text(q.Key)
			h.lab(q.Recipe.Base)
			h.number(q.Recipe.Brown, float64(q.oils), float64(len(q.Recipe.Doses)))
			if q.target != nil {
				h.lab(*q.target)
			}
			h.text(q.Recipe.Scent)
			for i, d := range q.Recipe.Doses {
				h.text(d.Colorant)
				h.text(q.names[i])
				h.number(d.Dose)
			}
		}
		sum := h.sum()
		what := "plan " + hex.EncodeToString(sum[:12])
		var kept *store.WorkedOut
		var revision int64
		some := false
		err := a.read(ctx, func(tx *store.Tx) (err error) {
			if some, err = tx.AnyPortions(ctx); err != nil || !some {
				return err
			}
			if revision, err = tx.BookRevision(ctx); err != nil {
				return err
			}
			kept, err = tx.WorkedOut(ctx, what)
			return err
		})
		if err != nil || !some {
			return nil, err
		}
		if kept != nil && kept.Revision == revision {
			if t := unkept(kept.Value); t != nil {
				return t, nil
			}
		}
		l, revision, err := a.gathered(ctx, s)
		if err != nil {
			return nil, err
		}
		key := l.content()
		if kept != nil && kept.Key == key {
			if t := unkept(kept.Value); t != nil {
				a.keep(ctx, what, store.WorkedOut{Key: key, Revision: revision}, t)
				return t, nil
			}
		}
		if len(l.portions) == 0 {
			return nil, nil
		}
		k, err := a.fitOf(l, key)
		if err != nil {
			return &taught{Trouble: err.Error()}, nil
		}
		t, err := k.teach(asks)
		if err != nil {
			return nil, err
		}
		if err := k.propose(s, asks, t); err != nil {
			return nil, err
		}
		for _, q := range asks {
			if q.Recipe.Brown > 0 {
				// A plan has one scent.
				b, err := a.Beliefs(ctx, strings.TrimSuffix(q.Recipe.Scent, stabilised))
				if err != nil {
					return nil, err
				}
				if b != nil {
					t.Browning = &b.Priors
				}
				break
			}
		}
		a.keep(ctx, what, store.WorkedOut{Key: key, Revision: revision}, t)
		return t, nil
	}
}

func unkept(value []byte) *taught {
	t := &taught{}
	if gob.NewDecoder(bytes.NewReader(value)).Decode(t) != nil || t.Guesses != nil && !t.Guesses.Fits() {
		return nil
	}
	return t
}

// teach draws what a plan needs from what was learned.
func (k *knowledge) teach(asks []planAsk) (*taught, error) {
	t := &taught{Colorants: map[string]taughtColorant{}}
	names := map[string][]string{} // in the plan, by key
	scents := map[string]bool{}
	browned := k.browned()
	list := make([]forecast.Ask, 0, len(asks))
	for _, q := range asks {
		ask := q.Ask
		ask.Whole = true
		ask.Recipe.Doses = nil
		if !browned {
			ask.Recipe.Brown = 0
		}
		if ask.Recipe.Brown > 0 {
			scents[strings.TrimSuffix(ask.Recipe.Scent, stabilised)] = true
		}
		ask.Recipe.Scent = k.scentFor(ask.Recipe.Scent)
		for i, d := range q.Recipe.Doses {
			c, ok := k.shelf.Colorant(d.Colorant)
			if !ok || c.Reads == 0 {
				ask.Whole = false
				continue
			}
			if !slices.Contains(names[d.Colorant], q.names[i]) {
				names[d.Colorant] = append(names[d.Colorant], q.names[i])
			}
			t.Colorants[q.names[i]] = taughtColorant{Portions: c.Reads, MaxDose: c.MaxDose}
			if d.Dose > mixing.Extrapolation*c.MaxDose {
				ask.Whole = false
				continue
			}
			ask.Recipe.Doses = append(ask.Recipe.Doses, d)
		}
		list = append(list, ask)
	}
	for _, m := range k.said().Misfits {
		if slices.ContainsFunc(m.Colorants, func(n string) bool { return len(names[store.NameKey(n)]) > 0 }) && len(t.Misfits) < mostUnlike {
			t.Misfits = append(t.Misfits, m)
		}
	}
	batches := map[string][]string{}
	for i := range k.portions {
		p := &k.portions[i]
		code := k.sources[i].batch
		counts := false
		note := func(name string) {
			counts = true
			if code != "" && !slices.Contains(batches[name], code) {
				batches[name] = append(batches[name], code)
			}
		}
		for _, d := range p.Doses {
			for _, name := range names[d.Colorant] {
				note(name)
			}
		}
		// A past portion names no scent: it teaches what vanillin does in any.
		if scent := strings.TrimSuffix(p.Scent, stabilised); p.Brown > 0 && len(scents) > 0 && (scent == "" || scents[scent]) {
			note("")
			t.Browned.Portions++
		}
		if !counts {
			continue
		}
		t.Portions++
		switch {
		case code == "":
			t.History++
		case !slices.Contains(t.Batches, code):
			t.Batches = append(t.Batches, code)
		}
	}
	for name, c := range t.Colorants {
		c.Batches = batches[name]
		t.Colorants[name] = c
	}
	t.Browned.Batches = batches[""]
	var err error
	t.Guesses, err = forecast.Guess(k.shelf, list, names)
	return t, err
}

// scentFor is the scent whose readings say most of one in a plan: itself; with a
// stabiliser that was never read beside it, the same without; else what a stabiliser did
// in portions of no named scent.
func (k *knowledge) scentFor(scent string) string {
	read := func(s string) bool {
		return slices.ContainsFunc(k.portions, func(p mixing.Portion) bool { return p.Brown > 0 && p.Scent == s })
	}
	plain, with := strings.CutSuffix(scent, stabilised)
	switch {
	case !with || read(scent):
		return scent
	case read(plain):
		return plain
	case read(stabilised):
		return stabilised
	}
	return scent
}

// propose searches the maker's own shelf backwards from the targets of a plan.
func (k *knowledge) propose(s *Shelf, asks []planAsk, t *taught) error {
	t.Proposals = map[string]plan.Proposal{}
	var with ReachSaid
	names := k.usable(s, false, &with)
	if with.Generic {
		return nil // none of the maker's own; the forecast knows the generic ones
	}
	for _, q := range asks {
		if q.target == nil || q.oils <= 0 {
			continue
		}
		pot := q.Recipe
		pot.Doses, pot.Scent = nil, k.scentFor(pot.Scent)
		list, err := k.shelf.Reach(*q.target, pot, mixing.ReachOptions{Colorants: names, AtMost: 2, Step: 1000 * benchStep / float64(q.oils)})
		if err != nil {
			return &Error{Kind: ErrInvalid, Msg: "portion " + q.Key, Err: err}
		}
		// A second colourant must earn its place on the scale.
		const worthOneMore = 0.5
		best := plan.Proposal{Delta: math.Inf(1)}
		for _, c := range list {
			if c.DeltaE00 > best.Delta-worthOneMore {
				continue
			}
			best = plan.Proposal{Hex: c.Lab.Hex(), Delta: c.DeltaE00}
			for _, d := range c.Doses {
				best.Uses = append(best.Uses, forecast.Use{Colorant: k.names[d.Colorant], Dose: unit.GramsPerKg(d.Dose)})
			}
		}
		if len(best.Uses) > 0 {
			t.Proposals[q.Key] = best
		}
	}
	return nil
}

// good is the ΔE00 from which a proposal of the maker's own colourants goes before one
// that comes nearer with a generic pigment.
const good = within3

// proposal is the best of the maker's own colourants for a portion's target.
func (t *taught) proposal(key string) (p plan.Proposal, ok bool) {
	if t == nil {
		return p, false
	}
	p, ok = t.Proposals[key]
	return p, ok
}

// mostUnlike bounds how many misfits a plan check tells.
const mostUnlike = 3

// unlike tells where a colourant of the plan has behaved unlike its past.
func (e *evaluation) unlike() {
	if e.taught == nil {
		return
	}
	for _, m := range e.taught.Misfits {
		e.findings = append(e.findings, plan.Finding{
			Rule: "unlike", Severity: plan.Note, Grounds: plan.OwnReadings,
			Title: m.Portion + " is unlike its past",
			Because: fmt.Sprintf("it settled ΔE00 %.1f from what your other portions say of %s; one honest reading in %s lies as far off",
				m.Delta, strings.Join(m.Colorants, " with "), oneIn(m.Chance)),
			Try: "read it again: a slip is struck out with `lyefast reading strike`; else another lot, or a pot that went its own way, and this forecast is less sure than its band",
		})
	}
	slices.SortStableFunc(e.findings, func(x, y plan.Finding) int { return int(y.Severity) - int(x.Severity) })
}

// oneIn writes a small chance as "1000", "40 000" or "a million".
func oneIn(chance float64) string {
	switch n := 1 / chance; {
	case n >= 1e6 || math.IsInf(n, 0) || math.IsNaN(n):
		return "a million"
	case n >= 1e4:
		return fmt.Sprintf("%d 000", int(n/1000))
	default:
		return fmt.Sprint(int(n))
	}
}

// cite names the maker's portions as grounds of findings whose numbers rest on them.
func (e *evaluation) cite() {
	if !e.taught.own() {
		return
	}
	cited := map[string]string{}
	for i := range e.in.Plan.Batters {
		b := &e.in.Plan.Batters[i]
		for j := range b.Portions {
			q := &b.Portions[j]
			cited[b.Name+"/"+q.Name] = e.cited(q, e.in.Recipe.Pots[i].Portions[j].Scented)
		}
	}
	for i := range e.findings {
		f := &e.findings[i]
		if words := cited[f.Portion]; words != "" && f.Grounds == plan.Priors && f.Rule != "base" {
			f.Grounds = words
		}
	}
}

// own tells that portions of the maker's stand behind the forecast.
func (t *taught) own() bool { return t != nil && t.Portions > 0 }

// grounds stand before a forecast: what was learned of its colours, else what verdicts
// rest on.
func (e *evaluation) grounds(s *Shelf) string { return s.groundsWords(e.taught) }

// words say before any number what stands behind it.
func (t *taught) words() string {
	var parts []string
	if len(t.Batches) > 0 {
		parts = append(parts, batchesWord(t.Batches))
	}
	if t.History > 0 {
		parts = append(parts, fmt.Sprintf("%d from your own tables", t.History))
	}
	return fmt.Sprintf("own readings, %s (%s); the rest is from labels", portionsWord(t.Portions), strings.Join(parts, ", "))
}

// cited names what stands behind the colourants of a portion; "" where one of them was
// never read.
func (e *evaluation) cited(p *formula.Portion, scented bool) string {
	if !e.taught.own() {
		return ""
	}
	all := taughtColorant{}
	for _, u := range p.Colorants {
		c, ok := e.taught.Colorants[u.Name]
		if !ok {
			if e.in.Colorants[u.Name].Clear() {
				continue
			}
			return ""
		}
		all.Portions += c.Portions
		all.Batches = append(all.Batches, c.Batches...)
	}
	if scented && e.taught.Browned.Portions > 0 {
		all.Portions += e.taught.Browned.Portions
		all.Batches = append(all.Batches, e.taught.Browned.Batches...)
	}
	if all.Portions == 0 {
		return ""
	}
	slices.Sort(all.Batches)
	all.Batches = slices.Compact(all.Batches)
	return all.words()
}
