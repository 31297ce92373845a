package app

import (
	"bytes"
	"cmp"
	"context"
	"encoding/gob"
	"fmt"
	"maps"
	"math"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/forecast"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/kinetics"
	"lyefast/internal/mixing"
	"lyefast/internal/observations"
	"lyefast/internal/plan"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// Learned says what the maker's own portions have taught.
type Learned struct {
	// Portions with a settled colour, History of them from tables of past portions,
	// Batches the number of batches behind the others.
	Portions  int               `json:"portions"`
	History   int               `json:"from_history"`
	Batches   []string          `json:"batches"`
	Browned   int               `json:"browned_portions"`
	Colorants []LearnedColorant `json:"colorants"`
	// Stabilizer is what was learned of stabilisers, nil without portions with and without.
	Stabilizer *LearnedStabilizer `json:"stabilizer"`
	// Misfits are portions that the others find hard to believe, the worst first.
	Misfits []MisfitSaid `json:"misfits"`
}

// LearnedColorant is one colourant that was read in portions.
type LearnedColorant struct {
	Name     string          `json:"name"`
	Portions int             `json:"portions"`
	MaxDose  unit.GramsPerKg `json:"largest_dose_g_per_kg_oils"`
	// Strength is the doubt about its absorption, one standard deviation of its natural logarithm.
	Strength float64 `json:"ln_absorption_sd"`
	White    bool    `json:"white"`
}

// LearnedStabilizer compares browning with and without a stabiliser.
type LearnedStabilizer struct {
	// Held is the share of the brown that was held back, Expected what chemistry leads to expect.
	Held     float64 `json:"held_back"`
	Expected float64 `json:"expected"`
	With     int     `json:"portions_with"`
	Without  int     `json:"portions_without"`
}

// MisfitSaid is a portion unlike the others.
type MisfitSaid struct {
	Portion string `json:"portion"`
	// Off is the reading minus what the others say, Delta the same as ΔE00.
	Off   cie.Lab `json:"off_lab"`
	Delta float64 `json:"off_delta_e00"`
	// Chance is the share of honest readings that lie as far off.
	Chance    float64  `json:"chance"`
	Colorants []string `json:"colorants"`
}

// learning is everything that is learned from, in an order that does not hang on the
// order of entry.
type learning struct {
	portions []mixing.Portion
	sources  []source // of each portion
	prior    mixing.Prior
	names    map[string]string // of colourants by name key, as they are written
	held     []float64         // expected share of the brown held back, of each portion
	products []colorants.Product
}

// source tells where a portion comes from.
type source struct {
	batch   string // code, "" = a history
	portion string
	made    time.Time
	key     [32]byte
}

// known is what was learned.
type knowledge struct {
	*learning
	shelf *mixing.Shelf
	key   [32]byte
}

// isWhite tells whether a colourant scatters on its own account: by its label, else by
// its name.
func isWhite(c plan.Colorant) bool {
	if c.Expect.White || c.Product.Kind == colorants.KindWhite {
		return true
	}
	return c.Product.Label == "" && colorants.Expect(colorants.Product{Name: c.Product.Name, Label: c.Product.Name}).White
}

// gather collects all portions with a settled colour and what is known before them.
// tx is nil where there is no book; more are portions of a history not in the book.
func (s *Shelf) gather(ctx context.Context, tx *store.Tx, have *settledCache, more []store.HistoryPortion) (*learning, error) {
	// Own verdicts must not count twice, as what is known before and as portions.
	bare := *s
	bare.own = nil
	l := &learning{names: map[string]string{}, products: s.Colorants, prior: mixing.Prior{Colorants: map[string]mixing.ColorantPrior{}, Brown: mixing.VanillinBrown}}
	before := map[string]plan.Colorant{}
	past := more
	if tx != nil {
		list, err := tx.History(ctx)
		if err != nil {
			return nil, err
		}
		past = append(list, more...)
		batches, err := tx.Batches(ctx, store.WhichBatches{})
		if err != nil {
			return nil, err
		}
		for i := range batches {
			if err := bare.gatherBatch(ctx, tx, &batches[i], have, l, before); err != nil {
				return nil, err
			}
		}
	}
	for i := range past {
		l.addPast(&past[i])
	}
	for i := range bare.Colorants {
		p := &bare.Colorants[i]
		key := store.NameKey(p.Name)
		if _, inBatch := before[key]; inBatch {
			continue
		}
		before[key] = bare.colorant(formula.ColorantUse{Name: p.Name})
	}
	for key, c := range before {
		l.names[key] = c.Product.Name
		l.prior.Colorants[key] = priorOf(c)
	}
	l.order()
	return l, nil
}

// priorOf is what label, chemistry and swatch say of a colourant's settled colour.
func priorOf(c plan.Colorant) mixing.ColorantPrior {
	p := mixing.ColorantPrior{}
	if isWhite(c) {
		p.Kind = mixing.White
	}
	f := known(c)
	w := f.Own
	if course := f.Pattern.Likeliest(); course == forecast.Settles || course == forecast.Fades && f.Lands != nil {
		w = f.Lands
	}
	if w != nil && w.Dose > 0 && !f.Clear {
		p.Swatch = &mixing.Swatch{Lab: w.Lab, Dose: float64(w.Dose), Base: forecast.PaleBase, SD: w.SD}
	}
	return p
}

// order sorts by time, then by content.
func (l *learning) order() {
	at := make([]int, len(l.portions))
	for i := range at {
		at[i] = i
	}
	slices.SortFunc(at, func(i, j int) int {
		x, y := &l.sources[i], &l.sources[j]
		return cmp.Or(x.made.Compare(y.made), bytes.Compare(x.key[:], y.key[:]))
	})
	at = at[max(0, len(at)-mixing.MaxPortions):] // the latest, as many as are learned from at once
	l.portions, l.sources, l.held = picked(l.portions, at), picked(l.sources, at), picked(l.held, at)
}

func picked[T any](list []T, at []int) []T {
	out := make([]T, len(at))
	for i, j := range at {
		out[i] = list[j]
	}
	return out
}

// stabilised marks the scent of a portion with a stabiliser: its brown is learned apart
// from that of the same scent without, so that what the stabiliser did can be told.
const stabilised = "\x00stabilised"

func (l *learning) add(p mixing.Portion, from source, ratio float64) {
	if ratio > 0 && p.Brown > 0 {
		p.Scent += stabilised
	}
	h := newDigest()
	h.text(from.batch)
	h.text(from.portion)
	h.lab(p.Base)
	h.lab(p.BaseSD)
	h.lab(p.Lab)
	h.lab(p.SD)
	h.number(p.Brown, ratio)
	h.text(p.Scent)
	slices.SortFunc(p.Doses, func(x, y mixing.Amount) int { return cmp.Compare(x.Colorant, y.Colorant) })
	for _, d := range p.Doses {
		h.text(d.Colorant)
		h.number(d.Dose)
	}
	from.key = h.sum()
	l.portions, l.sources, l.held = append(l.portions, p), append(l.sources, from), append(l.held, browning().Held(ratio))
}

// browning is what is believed of browning before any reading.
var browning = sync.OnceValue(func() fragrance.Params {
	p := fragrance.DefaultPriors()
	return p.Centre()
})

// addPast adds a portion of a history.
func (l *learning) addPast(h *store.HistoryPortion) {
	sd := cie.Lab{L: h.SD, A: h.SD, B: h.SD}
	p := mixing.Portion{Name: h.Name, Lab: h.Lab, SD: sd}
	p.Base, p.BaseSD = h.Base, sd
	for _, d := range h.Doses {
		key := store.NameKey(d.Name)
		if l.names[key] == "" {
			l.names[key] = d.Name
		}
		p.Doses = append(p.Doses, mixing.Amount{Colorant: key, Dose: float64(d.Dose)})
	}
	var ratio float64
	p.Brown, ratio = vanillinBrown(float64(h.Vanillin), float64(h.Stabilizer))
	l.add(p, source{portion: h.Name, made: h.Made}, ratio)
}

// barOfOils is the weight of a cured bar by that of its oils without any scent: oil 1,
// NaOH 0.138, held water 0.14 (assumed; part of the model of browning).
const barOfOils = 1.278

// vanillinBrown is the browning to expect of vanillin beside a stabiliser, both in g
// per kg of oils: the vanillin that would brown as much without. The stabiliser is
// taken as one of unknown strength.
func vanillinBrown(vanillin, stabilizer float64) (brown, ratio float64) {
	if vanillin <= 0 {
		return 0, 0
	}
	d := fragrance.Dose{Percent: vanillin / (10 * barOfOils), Known: true, Vanillin: unit.Grams(vanillin)}
	if stabilizer > 0 {
		ratio = fragrance.RatioFromGrams(d, fragrance.Stabilizer{}, unit.Grams(stabilizer))
	}
	return equivalent(d.Percent, vanillin, fragrance.Conditions{Gel: fragrance.GelNotSure}, ratio), ratio
}

// equivalent is the vanillin, in g per kg of oils, which under ordinary conditions and
// without a stabiliser would brown as much by day 42 as this dose does under these.
func equivalent(percent, perKg float64, c fragrance.Conditions, ratio float64) float64 {
	p := browning()
	plain := p.U(forecast.Settled, percent, fragrance.Conditions{Gel: fragrance.GelNotSure}, 0)
	here := p.U(forecast.Settled, percent, c, ratio)
	if !(plain > 0) || !(here >= 0) {
		return 0
	}
	return perKg * math.Pow(here/plain, 1/p.N)
}

// settledEstimate is where a portion is heading, by its own readings.
type settledEstimate struct {
	Portion int64
	Lab, SD cie.Lab
	Control bool
}

// settledCache holds the estimates of each batch by the content they were made from.
type settledCache struct {
	Of map[int64]settledBatch
	// fresh says that some were made since it was kept.
	fresh bool
}

type settledBatch struct {
	Key  [32]byte
	List []settledEstimate
}

// worstSettled is the standard deviation beyond which a settled colour says nothing
// worth its weight.
const worstSettled = 15

// gatherBatch adds the portions of a batch.
func (s *Shelf) gatherBatch(ctx context.Context, tx *store.Tx, b *observations.Batch, have *settledCache, l *learning, before map[string]plan.Colorant) error {
	read := map[int64][]observations.Reading{}
	h := newDigest()
	h.text(b.Plan)
	h.text(string(b.Gel) + "/" + string(b.Storage))
	if b.CureAt != nil {
		h.number(float64(*b.CureAt))
	}
	h.number(float64(b.PouredAt.Unix()))
	any := false
	for i := range b.Portions {
		p := &b.Portions[i]
		list, _, err := tx.Readings(ctx, p.ID, mostShown)
		if err != nil {
			return err
		}
		live := observations.Live(list)
		read[p.ID] = live
		any = any || len(live) > 0
		h.number(float64(p.ID), float64(len(live)))
		for _, r := range live {
			h.number(float64(r.TakenAt.Unix()))
			h.lab(*r.Lab)
			h.lab(r.SD())
			h.text(string(r.Face) + r.Method)
		}
	}
	if !any {
		return nil
	}
	colours := s.colorantsOf(b)
	for _, key := range slices.Sorted(maps.Keys(colours)) {
		h.text(key)
		w := weights(colours[key].Expect)
		h.number(w[:]...)
	}
	key := h.sum()
	var found settledBatch
	if have != nil {
		found = have.Of[b.ID]
	}
	if found.Key != key {
		var err error
		if found.List, err = s.settle(ctx, tx, b, read); err != nil {
			return err
		}
		found.Key = key
		if have != nil {
			have.Of[b.ID], have.fresh = found, true
		}
	}
	base := s.bareOf(b)
	for _, e := range found.List {
		if e.Control {
			base = forecast.Base{Lab: e.Lab, SD: e.SD}
		}
	}
	cond := conditions(b)
	for _, e := range found.List {
		i := slices.IndexFunc(b.Portions, func(p observations.Portion) bool { return p.ID == e.Portion })
		if i < 0 || e.Control || math.Max(e.SD.L, math.Max(e.SD.A, e.SD.B)) > worstSettled {
			continue
		}
		p := &b.Portions[i]
		out := mixing.Portion{Name: b.Code + " " + p.Key(), Lab: e.Lab, SD: e.SD}
		out.Base, out.BaseSD = base.Lab, base.SD
		if p.Fragrance != "" && p.BrownDose == nil {
			continue // what browned it, if anything, cannot be said
		}
		for _, d := range p.Colorants {
			key := store.NameKey(d.Name)
			c := colours[key]
			if c.Clear() || d.Dose <= 0 {
				continue
			}
			at := slices.IndexFunc(out.Doses, func(a mixing.Amount) bool { return a.Colorant == key })
			if at < 0 {
				out.Doses = append(out.Doses, mixing.Amount{Colorant: key})
				at = len(out.Doses) - 1
			}
			out.Doses[at].Dose += float64(d.Dose)
			l.names[key] = c.Product.Name
			if !c.Product.BuiltIn {
				before[key] = c
			}
		}
		ratio := 0.0
		if p.BrownDose != nil && *p.BrownDose > 0 {
			ratio = p.Ratio
			out.Brown, out.Scent = brownOf(*p.BrownDose, p.FragranceRate, cond, ratio), store.NameKey(p.Fragrance)
		}
		if len(out.Doses) == 0 && out.Brown == 0 {
			continue
		}
		l.add(out, source{batch: b.Code, portion: p.Key(), made: b.PouredAt}, ratio)
	}
	return nil
}

// brownOf is the browning to expect of a dose in % of the bar, as vanillin in g per kg
// of oils under ordinary conditions.
func brownOf(d, rate unit.Percent, c fragrance.Conditions, ratio float64) float64 {
	return equivalent(float64(d), 10*float64(d)*(barOfOils+float64(rate)/100), c, ratio)
}

// settle fits the portions of a batch.
func (s *Shelf) settle(ctx context.Context, tx *store.Tx, b *observations.Batch, read map[int64][]observations.Reading) ([]settledEstimate, error) {
	k, err := s.know(ctx, tx, b)
	if err != nil {
		return nil, err
	}
	var out []settledEstimate
	control := false
	for i := range b.Portions {
		p := &b.Portions[i]
		sharp := slices.DeleteFunc(slices.Clone(read[p.ID]), func(r observations.Reading) bool { return !r.Sharp() })
		pts := points(b, sharp)
		if len(pts) == 0 {
			continue
		}
		c, _, err := k.fit(p, pts, k.prior(p))
		if err != nil {
			return nil, fmt.Errorf("fit %s/%s: %w", b.Code, p.Key(), err)
		}
		e := settledEstimate{Portion: p.ID, Control: p.Bare() && !control}
		control = control || e.Control
		e.Lab, e.SD = bandSD(c.Settled())
		out = append(out, e)
	}
	return out, nil
}

// bandSD is the middle of a central 90 % band and its half widths as standard
// deviations of a normal law.
func bandSD(b kinetics.Band) (mid, sd cie.Lab) {
	const z90 = 1.6449
	return b.Median, b.P95.Sub(b.P05).Scale(1 / (2 * z90))
}

// bareOf is the bare soap of a batch as its plan lets expect.
func (s *Shelf) bareOf(b *observations.Batch) forecast.Base {
	p, err := formula.ReadPlan([]byte(b.Plan), b.Code)
	if err != nil {
		return forecast.BaseFromOils(nil)
	}
	if p.Base != nil {
		return forecast.BaseFromReading(*p.Base)
	}
	recipe, _ := formula.Compute(p, s.Oils, formula.Lookups{})
	var oils []forecast.TintWeight
	for _, o := range recipe.Oils {
		oils = append(oils, forecast.TintWeight{Tint: o.Oil.Tint, Weight: float64(o.Share)})
	}
	return forecast.BaseFromOils(oils)
}

// builtFrom names the program's own state as far as its build knows it: another program
// may learn something else from the same portions, so what one kept is not for the other.
var builtFrom = sync.OnceValue(func() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	text := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" || s.Key == "vcs.modified" {
			text += " " + s.Value
		}
	}
	return text
})

// content is the key of everything that is learned from.
func (l *learning) content() [32]byte {
	h := newDigest()
	h.text(builtFrom())
	for i := range l.sources {
		h.text(string(l.sources[i].key[:]))
	}
	for _, name := range slices.Sorted(maps.Keys(l.prior.Colorants)) {
		c := l.prior.Colorants[name]
		h.text(name)
		h.number(float64(c.Kind))
		if w := c.Swatch; w != nil {
			h.lab(w.Lab)
			h.lab(w.Base)
			h.lab(w.SD)
			h.number(w.Dose)
		}
	}
	return h.sum()
}

// slowFit is how many portions may take a second or more to learn from.
const slowFit = 500

// fit learns.
func (a *App) fit(l *learning) (*knowledge, error) {
	a.fits.Add(1)
	shelf, err := mixing.Learn(l.portions, l.prior)
	if err != nil {
		return nil, &Error{Kind: ErrInvalid, Msg: "learn from your portions", Err: err}
	}
	return &knowledge{learning: l, shelf: shelf, key: l.content()}, nil
}

// knowledge gives what all portions in the book have taught. It is fitted once and then
// kept for as long as nothing that it hangs on changes.
func (a *App) knowledge(ctx context.Context) (*knowledge, error) {
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	return a.learned(ctx, &s)
}

func (a *App) learned(ctx context.Context, s *Shelf) (*knowledge, error) {
	l, _, err := a.gathered(ctx, s)
	if err != nil {
		return nil, err
	}
	return a.fitOf(l, l.content())
}

// fitOf is the fit of what was gathered, of which key is the content; the last one is
// kept for as long as the session lasts.
func (a *App) fitOf(l *learning, key [32]byte) (*knowledge, error) {
	a.mu.Lock()
	kept := a.fitted
	a.mu.Unlock()
	if kept != nil && kept.key == key {
		return kept, nil
	}
	if a.learning != nil && len(l.portions) >= slowFit {
		a.learning(len(l.portions))
	}
	k, err := a.fit(l)
	if err != nil {
		return nil, err
	}
	a.mu.Lock()
	a.fitted = k
	a.mu.Unlock()
	return k, nil
}

// gathered collects what is learned from, with the settled colours that are kept from
// earlier, and keeps those that were new.
func (a *App) gathered(ctx context.Context, s *Shelf) (l *learning, revision int64, err error) {
	const what = "settled"
	have := &settledCache{Of: map[int64]settledBatch{}}
	var kept *store.WorkedOut
	err = a.reading(ctx, func(tx *store.Tx) error {
		if tx != nil {
			var err error
			if revision, err = tx.BookRevision(ctx); err != nil {
				return err
			}
			if kept, err = tx.WorkedOut(ctx, what); err != nil {
				return err
			}
			if kept != nil {
				// What cannot be read is worked out again.
				if gob.NewDecoder(bytes.NewReader(kept.Value)).Decode(have) != nil || have.Of == nil {
					have = &settledCache{Of: map[int64]settledBatch{}}
				}
			}
		}
		l, err = s.gather(ctx, tx, have, nil)
		return err
	})
	if err == nil && have.fresh {
		a.keep(ctx, what, store.WorkedOut{Revision: revision}, have)
	}
	return l, revision, err
}

// keep keeps what was worked out. A book that cannot be written to is no reason to
// fail: it is then worked out again next time.
func (a *App) keep(ctx context.Context, what string, w store.WorkedOut, v any) {
	var buf bytes.Buffer
	if gob.NewEncoder(&buf).Encode(v) != nil {
		return
	}
	w.Value = buf.Bytes()
	if book, err := a.open(ctx, false); err == nil {
		_ = book.KeepWorkedOut(ctx, what, w)
	}
}

// said is what was learned, in words and figures.
func (k *knowledge) said() Learned {
	out := Learned{Portions: len(k.portions), Batches: []string{}, Colorants: []LearnedColorant{}, Misfits: []MisfitSaid{}}
	use := map[string][]string{} // colourants of each portion
	for i := range k.portions {
		p := &k.portions[i]
		switch code := k.sources[i].batch; {
		case code == "":
			out.History++
		case !slices.Contains(out.Batches, code):
			out.Batches = append(out.Batches, code)
		}
		if p.Brown > 0 {
			out.Browned++
		}
		for _, d := range p.Doses {
			use[p.Name] = append(use[p.Name], k.names[d.Colorant])
		}
	}
	for _, key := range k.shelf.Names() {
		if c, ok := k.shelf.Colorant(key); ok && c.Reads > 0 {
			out.Colorants = append(out.Colorants, LearnedColorant{Name: k.names[key], Portions: c.Reads, MaxDose: unit.GramsPerKg(c.MaxDose), Strength: c.LnSD, White: c.Kind == mixing.White})
		}
	}
	out.Stabilizer = k.stabilizer()
	for _, m := range k.shelf.Misfits() {
		lab := cie.Lab{}
		for i := range k.portions {
			if k.portions[i].Name == m.Portion {
				lab = k.portions[i].Lab
				break
			}
		}
		out.Misfits = append(out.Misfits, MisfitSaid{
			Portion: m.Portion, Off: m.Off, Delta: cie.DeltaE00(lab, lab.Sub(m.Off)), Chance: beyond(m.Score),
			Colorants: slices.Concat([]string{}, use[m.Portion]),
		})
	}
	return out
}

// beyond is the chance that a squared distance with three degrees of freedom is at
// least x: erfc(√(x/2)) + √(2x/π)·exp(−x/2).
func beyond(x float64) float64 {
	return math.Erfc(math.Sqrt(x/2)) + math.Sqrt(2*x/math.Pi)*math.Exp(-x/2)
}

// stabilizer compares the brown learned with a stabiliser to that without, over the
// scents that were read both ways.
func (k *knowledge) stabilizer() *LearnedStabilizer {
	with, without := map[string]int{}, map[string]int{}
	held := map[string]float64{}
	for i := range k.portions {
		p := &k.portions[i]
		if p.Brown <= 0 {
			continue
		}
		if scent, ok := strings.CutSuffix(p.Scent, stabilised); ok {
			with[scent]++
			held[scent] += k.held[i]
		} else {
			without[p.Scent]++
		}
	}
	out := &LearnedStabilizer{}
	left, plain := 0.0, 0.0
	for _, scent := range slices.Sorted(maps.Keys(with)) {
		if without[scent] == 0 {
			continue
		}
		n := float64(with[scent])
		expected := held[scent] / n
		// What the readings moved the strength by, against what was expected.
		a, b := k.shelf.Brown(1, scent+stabilised), k.shelf.Brown(1, scent)
		if !(b[0] > 0) {
			continue
		}
		plain += n
		left += n * (1 - expected) * a[0] / b[0]
		out.Expected += n * expected
		out.With += with[scent]
		out.Without += without[scent]
	}
	if plain == 0 {
		return nil
	}
	out.Held, out.Expected = 1-left/plain, out.Expected/plain
	return out
}
