package observations

import (
	"cmp"
	"slices"

	"lyefast/internal/unit"
)

// Span is what several batches took, in minutes.
type Span struct {
	Median float64 `json:"median_min"`
	Low    float64 `json:"low_min"`
	High   float64 `json:"high_min"`
	// N is how many batters stand behind it.
	N int `json:"batters"`
}

// Pot is what was noted at one batter: minutes from the fragrance to each trace, and
// under which circumstances. Working time belongs to fragrance, recipe, temperature
// and water together.
type Pot struct {
	Batch  string `json:"batch"`
	Title  string `json:"title"`
	Batter string `json:"batter"`
	// Fragrance as frozen in the batch.
	Fragrance     string        `json:"fragrance"`
	Rate          unit.Percent  `json:"rate_percent_of_oils"`
	BatterAt      *unit.Celsius `json:"batter_at_c"`
	Concentration unit.Percent  `json:"lye_concentration_percent"`
	// Minutes by kind: light, medium and thick trace, false trace, ricing, seizing, poured.
	Minutes map[Kind]float64 `json:"minutes"`
	// About marks minutes that were remembered and not stamped.
	About bool `json:"about,omitempty"`
	// Fast, Riced and Seized count what was noted at all.
	Fast   bool `json:"accelerated"`
	Riced  bool `json:"riced"`
	Seized bool `json:"seized"`
	// Noted says that anything about this batter's way from the fragrance on was noted.
	Noted bool `json:"-"`
}

// Workable is how many minutes the batter could still be poured: until thick trace
// or seizing, whichever came first; false where neither was noted.
func (p *Pot) Workable() (minutes float64, known bool) {
	for _, k := range []Kind{ThickTrace, Seizing} {
		if m, ok := p.Minutes[k]; ok && (!known || m < minutes) {
			minutes, known = m, true
		}
	}
	return minutes, known
}

// fastThick is the span to thick trace below which a batter is said to have hurried
// (common practice, no source).
const fastThick = 5.0

// PotsOf reads the events of a batch batter by batter. With one pot an event needs
// no batter's name; with several, one without a name is left out.
func PotsOf(b *Batch, events []Event) []Pot {
	pots := make([]Pot, len(b.Batters))
	for i := range b.Batters {
		t := &b.Batters[i]
		p := Pot{
			Batch: b.Code, Title: b.Title, Batter: t.Name, Fragrance: t.Fragrance, Rate: t.FragranceRate,
			BatterAt: t.BatterAt, Concentration: t.Concentration, Minutes: map[Kind]float64{},
		}
		mine := slices.DeleteFunc(slices.Clone(events), func(e Event) bool {
			return fold(e.Batter) != fold(t.Name) && !(e.Batter == "" && len(b.Batters) == 1)
		})
		slices.SortStableFunc(mine, func(x, y Event) int { return x.At.Compare(y.At) })
		var start *Event
		for j := range mine {
			e := &mine[j]
			if e.Kind == FragranceIn && start == nil {
				start = e
			}
			if e.Value != nil && e.Kind.Measure() == InCelsius && (e.Kind == FragranceIn || e.Kind == Temperature) {
				c := unit.Celsius(*e.Value)
				p.BatterAt = &c
			}
		}
		for j := range mine {
			p.take(&mine[j], start)
		}
		if m, ok := p.Workable(); ok && m < fastThick {
			p.Fast = true
		}
		pots[i] = p
	}
	return pots
}

// take adds one event to what is known of the pot.
func (p *Pot) take(e, start *Event) {
	switch e.Kind {
	case LightTrace, MediumTrace, ThickTrace, FalseTrace, Poured:
	case Ricing:
		p.Riced = true
	case Seizing:
		p.Seized = true
	case Acceleration:
		p.Fast = true
	case FragranceIn:
		p.Noted = true
		return
	default:
		return
	}
	p.Noted = true
	var m float64
	switch {
	case e.AfterMinutes != nil:
		m, p.About = *e.AfterMinutes, true
	case start != nil && start.Clock && e.Clock && !e.At.Before(start.At):
		m = e.At.Sub(start.At).Minutes()
	default:
		return
	}
	// The first time counts: a batter does not come back from trace.
	if have, ok := p.Minutes[e.Kind]; !ok || m < have {
		p.Minutes[e.Kind] = m
	}
}

// Working is a fragrance's record over all batters it was in.
type Working struct {
	Fragrance string `json:"fragrance"`
	Pots      []Pot  `json:"pots"`
	// Spans by kind of trace; Workable is until thick trace or seizing.
	Spans    map[Kind]Span `json:"spans"`
	Workable *Span         `json:"workable"`
	// Noted batters, and in how many it hurried, riced or seized.
	Noted  int `json:"noted"`
	Fast   int `json:"accelerated"`
	Riced  int `json:"riced"`
	Seized int `json:"seized"`
}

// WorkingTimes gathers pots by fragrance, in the order of its names. Pots without a
// fragrance or without a note are left out.
func WorkingTimes(pots []Pot) []Working {
	by := map[string]*Working{}
	var keys []string
	for _, p := range pots {
		if p.Fragrance == "" || !p.Noted {
			continue
		}
		k := fold(p.Fragrance)
		w := by[k]
		if w == nil {
			w = &Working{Fragrance: p.Fragrance, Spans: map[Kind]Span{}}
			by[k] = w
			keys = append(keys, k)
		}
		w.Pots = append(w.Pots, p)
		w.Noted++
		w.Fast += count(p.Fast)
		w.Riced += count(p.Riced)
		w.Seized += count(p.Seized)
	}
	slices.Sort(keys)
	out := make([]Working, 0, len(keys))
	for _, k := range keys {
		w := by[k]
		for _, kind := range []Kind{LightTrace, MediumTrace, ThickTrace, FalseTrace, Ricing, Seizing, Poured} {
			if s := spanOf(w.Pots, func(p *Pot) (float64, bool) { m, ok := p.Minutes[kind]; return m, ok }); s != nil {
				w.Spans[kind] = *s
			}
		}
		w.Workable = spanOf(w.Pots, (*Pot).Workable)
		out = append(out, *w)
	}
	return out
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// spanOf is the median and range over the pots that know a figure; nil for none.
func spanOf(pots []Pot, of func(*Pot) (float64, bool)) *Span {
	var v []float64
	for i := range pots {
		if m, ok := of(&pots[i]); ok {
			v = append(v, m)
		}
	}
	if len(v) == 0 {
		return nil
	}
	slices.SortFunc(v, cmp.Compare)
	mid := v[len(v)/2]
	if len(v)%2 == 0 {
		mid = (mid + v[len(v)/2-1]) / 2
	}
	return &Span{Median: mid, Low: v[0], High: v[len(v)-1], N: len(v)}
}
