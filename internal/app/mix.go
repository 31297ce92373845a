package app

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/exchange"
	"lyefast/internal/forecast"
	"lyefast/internal/mixing"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// MixDose is one colourant of a mixture.
type MixDose struct {
	Name string
	Dose unit.GramsPerKg
}

// MixQuery asks for the settled colour of mixtures: of one, or of all rows of a file.
type MixQuery struct {
	// Base is the bare soap; nil takes the pale one that swatches are taken in.
	Base  *cie.Lab
	Doses []MixDose
	// Vanillin and Stabilizer are g per kg of oils.
	Vanillin, Stabilizer unit.GramsPerKg
	// Data and File are a table of mixtures, nil for one mixture.
	Data []byte
	File string
	// Why names the past portions that weigh most, for each row of a file too.
	Why bool
	// Each is given every mixture in the order of the file, if not nil; they are then
	// not gathered in the answer.
	Each func(MixSaid) error
	// Progress is told how far it is, if not nil.
	Progress func(done, all int)
}

// MixSaid is a mixture's settled colour. The colours are null where it extrapolates.
type MixSaid struct {
	Portion string   `json:"portion"`
	Lab     *cie.Lab `json:"lab"`
	P05     *cie.Lab `json:"p05"`
	P95     *cie.Lab `json:"p95"`
	Hex     *string  `json:"hex"`
	Name    *string  `json:"name"`
	// Extrapolates says that a colourant was never read, or is dosed beyond four times
	// the largest dose read; Beyond says which and why.
	Extrapolates bool     `json:"extrapolates"`
	Beyond       []string `json:"beyond"`
	// Influences are the past portions that weigh most in the answer.
	Influences []Influence `json:"influences"`
}

// Influence is one past portion's share in an answer.
type Influence struct {
	Portion string  `json:"portion"`
	Weight  float64 `json:"weight"`
}

// MixesSaid is the answer for one mixture or a file of them.
type MixesSaid struct {
	Mixtures []MixSaid
	// Grounds says what stands behind the figures.
	Grounds  string
	Warnings []string
}

// readSD is the doubt about the colour of a bare soap that was read.
var readSD = cie.Lab{L: HistorySD, A: HistorySD, B: HistorySD}

// mostInfluences is how many past portions are named.
const mostInfluences = 5

// Mix predicts settled colours from what the shelf has learned.
func (a *App) Mix(ctx context.Context, q MixQuery) (*MixesSaid, error) {
	var table exchange.Mixtures
	if q.Data != nil {
		var err error
		if table, err = readHistory(HistoryQuery{Data: q.Data, File: q.File}); err != nil {
			return nil, err
		}
	}
	k, err := a.knowledge(ctx)
	if err != nil {
		return nil, err
	}
	out := &MixesSaid{Mixtures: []MixSaid{}, Grounds: k.grounds(), Warnings: []string{}}
	if q.Data == nil {
		r, err := k.recipe(q)
		if err != nil {
			return nil, err
		}
		m, err := k.predict("", r, true)
		if err != nil {
			return nil, err
		}
		out.Mixtures = append(out.Mixtures, m)
		if r.Brown > 0 && !k.browned() {
			out.Warnings = append(out.Warnings, noBrown)
		}
		return out, nil
	}
	if len(table.Ignored) > 0 {
		out.Warnings = append(out.Warnings, "columns not read: "+quoted(table.Ignored))
	}
	var strange []string
	mine := *k.learning
	mine.names = maps.Clone(k.names)
	k = &knowledge{&mine, k.shelf, k.key}
	keys := make([]string, len(table.Names))
	for i, n := range table.Names {
		keys[i] = store.NameKey(n)
		if _, ok := k.names[keys[i]]; !ok {
			strange = append(strange, n)
			k.names[keys[i]] = n
		}
	}
	if !k.browned() && slices.ContainsFunc(table.Rows, func(m exchange.Mixture) bool { return m.Vanillin > 0 }) {
		out.Warnings = append(out.Warnings, noBrown)
	}
	if len(strange) > 0 {
		out.Warnings = append(out.Warnings, "neither on the shelf nor ever read: "+quoted(strange))
	}
	err = inOrder(ctx, len(table.Rows), func(i int) (MixSaid, error) {
		m := &table.Rows[i]
		r := mixing.Recipe{Base: m.Base, BaseSD: readSD}
		for j, d := range m.Dose {
			if d > 0 {
				r.Doses = append(r.Doses, mixing.Amount{Colorant: keys[j], Dose: d})
			}
		}
		var ratio float64
		if r.Brown, ratio = vanillinBrown(m.Vanillin, m.Stabilizer); ratio > 0 {
			r.Scent = stabilised
		}
		name := m.Portion
		if name == "" {
			name = fmt.Sprint(i + 1)
		}
		return k.predict(name, r, q.Why)
	}, func(i int, m MixSaid) error {
		if q.Progress != nil {
			q.Progress(i+1, len(table.Rows))
		}
		if q.Each != nil {
			return q.Each(m)
		}
		out.Mixtures = append(out.Mixtures, m)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

const noBrown = "no portion with vanillin was read: what it browns is from chemistry alone"

// browned tells whether a portion with vanillin was read.
func (k *knowledge) browned() bool {
	return slices.ContainsFunc(k.portions, func(p mixing.Portion) bool { return p.Brown > 0 })
}

// grounds says in words what stands behind figures.
func (k *knowledge) grounds() string {
	said := k.said()
	if said.Portions == 0 {
		return GuessWords
	}
	text := fmt.Sprintf("own readings, %s", portionsWord(said.Portions))
	var parts []string
	if n := len(said.Batches); n > 0 {
		parts = append(parts, fmt.Sprintf("%d from %s", said.Portions-said.History, batchesWord(said.Batches)))
	}
	if said.History > 0 {
		parts = append(parts, fmt.Sprintf("%d from your own tables", said.History))
	}
	return text + " (" + strings.Join(parts, ", ") + ")"
}

// batchesWord names a few batches and counts many.
func batchesWord(codes []string) string {
	if len(codes) <= 4 {
		return strings.Join(codes, ", ")
	}
	return fmt.Sprintf("%d batches", len(codes))
}

// recipe is the one mixture of a query.
func (k *knowledge) recipe(q MixQuery) (mixing.Recipe, error) {
	r := mixing.Recipe{Base: forecast.PaleBase, BaseSD: readSD}
	if q.Base != nil {
		r.Base = *q.Base
	}
	for _, d := range q.Doses {
		key, err := k.find(d.Name)
		if err != nil {
			return r, err
		}
		at := slices.IndexFunc(r.Doses, func(a mixing.Amount) bool { return a.Colorant == key })
		if at >= 0 {
			return r, invalid("add the doses", "%q is dosed twice", clipped(d.Name))
		}
		r.Doses = append(r.Doses, mixing.Amount{Colorant: key, Dose: float64(d.Dose)})
	}
	var ratio float64
	if r.Brown, ratio = vanillinBrown(float64(q.Vanillin), float64(q.Stabilizer)); ratio > 0 {
		r.Scent = stabilised
	}
	return r, nil
}

// find gives the key of a colourant on the shelf or read.
func (k *knowledge) find(name string) (string, error) {
	key := store.NameKey(name)
	if _, ok := k.names[key]; ok {
		return key, nil
	}
	c, err := colorantKind.pick(name, k.products)
	return store.NameKey(c.Name), err
}

// predict gives a recipe's settled colour.
func (k *knowledge) predict(name string, r mixing.Recipe, why bool) (MixSaid, error) {
	m := MixSaid{Portion: name, Beyond: []string{}, Influences: []Influence{}}
	p, err := k.shelf.Predict(r)
	if err != nil {
		return m, &Error{Kind: ErrInvalid, Msg: "portion " + clipped(name), Err: err}
	}
	if !p.Known() {
		m.Extrapolates = true
		for _, key := range p.Extrapolates {
			m.Beyond = append(m.Beyond, k.beyondWords(key))
		}
		return m, nil
	}
	// What the others teach may lie a hair outside of what a colour can be.
	p.Lab.L, p.P05.L, p.P95.L = min(p.Lab.L, 100), max(p.P05.L, 0), min(p.P95.L, 100)
	hex, word := p.Lab.Hex(), p.Lab.Name().Text
	m.Lab, m.P05, m.P95, m.Hex, m.Name = &p.Lab, &p.P05, &p.P95, &hex, &word
	if why {
		list, err := k.shelf.Explain(r, mostInfluences)
		if err != nil {
			return m, fmt.Errorf("explain: %w", err)
		}
		for _, e := range list {
			m.Influences = append(m.Influences, Influence{e.Portion, e.Weight})
		}
	}
	return m, nil
}

// beyondWords says why a colourant gives no number.
func (k *knowledge) beyondWords(key string) string {
	c, ok := k.shelf.Colorant(key)
	if !ok || c.MaxDose == 0 {
		return fmt.Sprintf("%s was never read and has no swatch", k.names[key])
	}
	return fmt.Sprintf("%s is beyond %d times the %.3g g/kg it was read at", k.names[key], mixing.Extrapolation, c.MaxDose)
}
