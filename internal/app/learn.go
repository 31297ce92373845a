package app

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/exchange"
	"lyefast/internal/mixing"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// HistorySD is how well a settled colour of a history is taken to be known, one
// standard deviation of each of L*, a* and b*, where the maker does not say: the spread
// of a hand-held instrument over a bar (assumed).
const HistorySD = 0.8

// HistoryQuery takes a maker's table of past portions.
type HistoryQuery struct {
	Data []byte
	// File is the name for messages and for the book's record.
	File string
	// SD of each coordinate of the readings, 0 takes [HistorySD].
	SD float64
	// DryRun reads and fits, and writes nothing.
	DryRun bool
}

// HistorySaid is what a history held, what went into the book and what it taught.
type HistorySaid struct {
	File string `json:"file"`
	// Portions with a settled colour in the file, Added of them to the book, Known there already.
	Portions int  `json:"portions"`
	Added    int  `json:"added"`
	Known    int  `json:"in_the_book_already"`
	DryRun   bool `json:"dry_run"`
	// WithoutColour counts rows that have no settled colour and so teach nothing.
	WithoutColour int `json:"rows_without_colour"`
	// NewColorants are names the shelf did not know: they are on it now, without a label.
	NewColorants []string `json:"new_colorants"`
	Ignored      []string `json:"columns_not_read"`
	Learned      Learned  `json:"learned"`
}

// ReadHistory reads a table without taking it.
func readHistory(q HistoryQuery) (exchange.Mixtures, error) {
	m, err := exchange.ReadMixtures(q.Data)
	if err != nil {
		return m, declined(err)
	}
	seen := map[string]string{}
	for i, n := range m.Names {
		n = strings.Join(strings.Fields(n), " ")
		if other, ok := seen[store.NameKey(n)]; ok {
			return m, invalid("keep one of them", "%s: the columns of %q and %q dose the same colourant", q.File, other, n)
		}
		seen[store.NameKey(n)], m.Names[i] = n, n
	}
	return m, nil
}

// LearnHistory takes a history whole or not at all, and learns from everything then in
// the book. A row taken twice adds nothing.
func (a *App) LearnHistory(ctx context.Context, q HistoryQuery) (*HistorySaid, error) {
	m, err := readHistory(q)
	if err != nil {
		return nil, err
	}
	if q.SD == 0 {
		q.SD = HistorySD
	}
	if !(q.SD > 0 && q.SD <= 20) {
		return nil, invalid("", "a standard deviation of %g is outside 0..20", q.SD)
	}
	if len(m.Rows) > mixing.MaxPortions {
		return nil, invalid("leave out the oldest", "%s has %d rows, more than the %d that are learned from at once", q.File, len(m.Rows), mixing.MaxPortions)
	}
	out := &HistorySaid{File: q.File, DryRun: q.DryRun, NewColorants: []string{}, Ignored: slices.Concat([]string{}, m.Ignored)}
	list := pastPortions(&m, q)
	out.Portions, out.WithoutColour = len(list), len(m.Rows)-len(list)
	if len(list) == 0 {
		return nil, invalid("the columns L, a, b hold the colour that came of it", "%s: no row has a settled colour", q.File)
	}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	var fresh []colorants.Product
	for _, name := range dosed(&m) {
		if slices.ContainsFunc(s.Colorants, func(p colorants.Product) bool { return store.NameKey(p.Name) == store.NameKey(name) }) {
			continue
		}
		p, err := colorantKind.checked(colorants.Product{Name: name})
		if err != nil {
			return nil, err
		}
		fresh = append(fresh, p)
		out.NewColorants = append(out.NewColorants, name)
	}
	// Learned from before anything is written: what cannot be learned from is not taken.
	if err := a.rehearse(ctx, &s, fresh, list, out); err != nil || q.DryRun {
		return out, err
	}
	err = a.change(ctx, fmt.Sprintf("learn from %d portions of %s", len(list), clipped(q.File)), func(tx *store.Tx) error {
		for _, p := range fresh {
			if _, err := tx.AddColorant(ctx, p); err != nil {
				return colorantKind.taken(err, p.Name)
			}
		}
		out.Added, err = tx.AddHistory(ctx, sourceName(q.File), list)
		return err
	})
	if err != nil {
		return nil, err
	}
	out.Known = out.Portions - out.Added
	l, err := a.knowledge(ctx)
	if err != nil {
		return nil, err
	}
	out.Learned = l.said()
	return out, nil
}

// rehearse learns as if the portions were in the book.
func (a *App) rehearse(ctx context.Context, s *Shelf, fresh []colorants.Product, list []store.HistoryPortion, out *HistorySaid) error {
	s.Colorants = slices.Concat(s.Colorants, fresh)
	list = slices.Clone(list)
	var l *learning
	err := a.reading(ctx, func(tx *store.Tx) error {
		have := map[[32]byte]bool{}
		if tx != nil {
			past, err := tx.History(ctx)
			if err != nil {
				return err
			}
			for _, p := range past {
				have[p.Key] = true
			}
		}
		list = slices.DeleteFunc(list, func(p store.HistoryPortion) bool {
			known := have[p.Key]
			have[p.Key] = true
			return known
		})
		var err error
		l, err = s.gather(ctx, tx, nil, list)
		return err
	})
	if err != nil {
		return err
	}
	out.Added = len(list)
	out.Known = out.Portions - out.Added
	k, err := a.fitOf(l, l.content())
	if err != nil {
		return err
	}
	out.Learned = k.said()
	return nil
}

// reading is [App.read] which calls f even where there is no book, with nil.
func (a *App) reading(ctx context.Context, f func(*store.Tx) error) error {
	called := false
	err := a.read(ctx, func(tx *store.Tx) error {
		called = true
		return f(tx)
	})
	if err == nil && !called {
		return f(nil)
	}
	return err
}

// dosed lists the colourants that some row with a colour holds, in the order of the file.
func dosed(m *exchange.Mixtures) []string {
	var out []string
	for i, name := range m.Names {
		if slices.ContainsFunc(m.Rows, func(r exchange.Mixture) bool { return r.Lab != nil && r.Dose[i] > 0 }) {
			out = append(out, name)
		}
	}
	return out
}

// pastPortions turns the rows with a settled colour into what the book keeps.
func pastPortions(m *exchange.Mixtures, q HistoryQuery) []store.HistoryPortion {
	var list []store.HistoryPortion
	for i := range m.Rows {
		r := &m.Rows[i]
		if r.Lab == nil {
			continue
		}
		p := store.HistoryPortion{Name: r.Portion, Base: r.Base, Lab: *r.Lab, SD: q.SD, Vanillin: unit.GramsPerKg(r.Vanillin), Stabilizer: unit.GramsPerKg(r.Stabilizer)}
		if r.Date.DateKnown {
			p.Made = r.Date.Time
		}
		for k, d := range r.Dose {
			if d > 0 {
				p.Doses = append(p.Doses, store.HistoryDose{Name: m.Names[k], Dose: unit.GramsPerKg(d)})
			}
		}
		p.Key = rowKey(&p)
		if p.Name == "" {
			p.Name = fmt.Sprintf("%s line %d", sourceName(q.File), r.Line)
		}
		list = append(list, p)
	}
	return list
}

// rowKey is the same for the same row in whatever file and order of columns.
func rowKey(p *store.HistoryPortion) [32]byte {
	h := newDigest()
	h.text(p.Name)
	made := int64(0)
	if !p.Made.IsZero() {
		made = p.Made.Unix()
	}
	h.number(float64(made))
	h.lab(p.Base)
	h.lab(p.Lab)
	h.number(float64(p.Vanillin), float64(p.Stabilizer))
	doses := slices.Clone(p.Doses)
	slices.SortFunc(doses, func(x, y store.HistoryDose) int { return strings.Compare(store.NameKey(x.Name), store.NameKey(y.Name)) })
	for _, d := range doses {
		h.text(store.NameKey(d.Name))
		h.number(float64(d.Dose))
	}
	return h.sum()
}

// digest makes a key of values: the same values, the same key.
type digest struct{ buf []byte }

func newDigest() *digest { return &digest{} }

func (d *digest) text(s string) {
	d.buf = binary.AppendUvarint(d.buf, uint64(len(s)))
	d.buf = append(d.buf, s...)
}

func (d *digest) number(v ...float64) {
	for _, x := range v {
		d.buf = binary.LittleEndian.AppendUint64(d.buf, math.Float64bits(x))
	}
}

func (d *digest) lab(c cie.Lab) { d.number(c.L, c.A, c.B) }

func (d *digest) sum() [32]byte { return sha256.Sum256(d.buf) }
