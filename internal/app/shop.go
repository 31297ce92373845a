package app

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"lyefast/internal/formula"
	"lyefast/internal/near"
	"lyefast/internal/store"
	"lyefast/internal/unit"
	"lyefast/internal/when"
)

// What stays behind, g (common practice, no source): in each jug and in a piping bag.
const (
	DefaultJugLoss unit.Grams = 5
	DefaultBagLoss unit.Grams = 15
)

// ShopQuery asks what to buy for one or more plans.
type ShopQuery struct {
	Plans []PlanFile
	// Have is what is in stock and Prices what a gram costs, by name.
	Have   map[string]unit.Grams
	Prices map[string]float64
	// Bar is the weight of a bar as it is cut, or Pieces how many each plan is cut
	// into; one of them, or neither.
	Bar    unit.Grams
	Pieces int
	// Moulds are insides of moulds to tell the bars of.
	Moulds []unit.Millilitres
	// JugLoss and BagLoss stay in each jug, and in the bag of each piped portion.
	JugLoss, BagLoss unit.Grams
	// Sale is the day the bars are to be sold on, in human words; empty does not ask.
	Sale     string
	CureDays int
}

// PlanFile is the content of a plan and its name.
type PlanFile struct {
	Data []byte
	File string
}

// Shopping is what to buy.
type Shopping struct {
	Plans []ShopPlan `json:"plans"`
	Lines []ShopLine `json:"lines"`
	// Cost is that of everything used, for the lines with a price; Unpriced names the others.
	Cost     float64  `json:"cost_of_priced"`
	ToPay    float64  `json:"to_pay_for_priced"`
	Unpriced []string `json:"unpriced"`
	Bars     int      `json:"bars"`
	// PerBar is nil unless every line has a price and the bars are known.
	PerBar *float64 `json:"cost_per_bar"`
	// AtLeast is the cost per bar of what has a price.
	AtLeast *float64 `json:"cost_per_bar_at_least"`
	// Sale and LastPour are days, "" where no sale was asked for.
	Sale     string   `json:"sale"`
	LastPour string   `json:"last_pour"`
	CureDays int      `json:"cure_days"`
	Notes    []string `json:"notes"`
}

// ShopPlan is one plan's bars.
type ShopPlan struct {
	Title string     `json:"title"`
	File  string     `json:"file"`
	Batch unit.Grams `json:"batter_g"`
	// Lost stays in jugs and bags.
	Lost unit.Grams `json:"lost_g"`
	Bars int        `json:"bars"`
	Bar  unit.Grams `json:"bar_as_cut_g"`
	// Cured estimates a bar after cure.
	Cured unit.Grams `json:"bar_cured_g"`
	// PerMould are the bars of each mould asked for.
	PerMould []int `json:"bars_per_mould"`
}

// ShopLine is one thing to have.
type ShopLine struct {
	Name string     `json:"name"`
	Kind string     `json:"kind"`
	Need unit.Grams `json:"need_g"`
	Have unit.Grams `json:"have_g"`
	Buy  unit.Grams `json:"buy_g"`
	// Lot is what the shelf says of the one in stock.
	Lot string `json:"lot,omitempty"`
	// Price is for 1 kg, nil where none was given; Cost that of Need.
	Price *float64 `json:"price_per_kg"`
	Cost  *float64 `json:"cost"`

	oil   *formula.Oil // of an oil, for the other names it answers to
	exact unit.Grams
}

// Shop says what to buy for plans.
func (a *App) Shop(ctx context.Context, q ShopQuery) (*Shopping, error) {
	if q.Bar > 0 && q.Pieces > 0 {
		return nil, invalid("", "a weight and a number of bars do not go together")
	}
	if q.CureDays == 0 {
		q.CureDays = DefaultCure
	}
	out := &Shopping{Plans: []ShopPlan{}, Lines: []ShopLine{}, Unpriced: []string{}, CureDays: q.CureDays, Notes: []string{}}
	for _, f := range q.Plans {
		e, _, err := a.evaluated(ctx, f.Data, f.File)
		if err != nil {
			return nil, err
		}
		if err := out.plan(e, q, f.File); err != nil {
			return nil, err
		}
	}
	if err := out.stock(q); err != nil {
		return nil, err
	}
	out.reckon()
	if q.Sale != "" {
		now := a.Now()
		sale, err := when.Parse(q.Sale, now)
		if err != nil {
			return nil, &Error{Kind: ErrInvalid, Msg: "day of the sale", Err: err}
		}
		last := sale.Time.AddDate(0, 0, -q.CureDays)
		out.Sale, out.LastPour = sale.Time.Format(time.DateOnly), last.Format(time.DateOnly)
		if when.Days(last, now) > 0 {
			out.Notes = append(out.Notes, fmt.Sprintf("the last day to pour for this sale was %s; a bar poured today is ready on %s", out.LastPour, now.AddDate(0, 0, q.CureDays).Format(time.DateOnly)))
		}
	}
	return out, nil
}

// need adds what one pot uses.
func (s *Shopping) need(kind, name, lot string, g unit.Grams, oil *formula.Oil) {
	if g <= 0 {
		return
	}
	for i := range s.Lines {
		if l := &s.Lines[i]; l.Kind == kind && store.NameKey(l.Name) == store.NameKey(name) {
			l.exact += g
			return
		}
	}
	s.Lines = append(s.Lines, ShopLine{Name: name, Kind: kind, Lot: lot, exact: g, oil: oil})
}

// plan adds one plan.
func (s *Shopping) plan(e *evaluation, q ShopQuery, file string) error {
	p := ShopPlan{Title: e.in.Plan.Title, File: file, PerMould: []int{}}
	volume, cured := unit.Millilitres(0), unit.Grams(0)
	for i := range e.in.Recipe.Pots {
		pot := &e.in.Recipe.Pots[i]
		oil := func(o formula.Oil, g unit.Grams) { s.need("oil", cmp.Or(o.Name, o.Key), o.Lot, g, &o) }
		for _, o := range pot.PerOil {
			oil(o.Oil, o.Grams)
		}
		for _, x := range pot.ExtraOils {
			oil(x.Oil, x.Grams)
		}
		s.need("alkali", "NaOH", "", pot.NaOH, nil)
		s.need("alkali", "KOH", "", pot.KOH, nil)
		s.need("water", "water", "", pot.Water, nil)
		for _, x := range pot.Additives {
			s.need("additive", x.Name, "", x.Grams, nil)
		}
		if pot.Fragrance > 0 {
			s.need("scent", pot.FragranceName, e.in.Scent.Fragrance.Lot, pot.Fragrance, nil)
		}
		s.need("stabiliser", cmp.Or(pot.Stabilizer.Name, "stabiliser"), "", pot.Stabilizer.Grams, nil)
		for _, w := range pot.Portions {
			p.Lost += q.JugLoss
			for _, c := range w.Colorants {
				s.need("colourant", c.Name, e.in.Colorants[c.Name].Product.Lot, c.Grams, nil)
				if c.Wet != "" && !c.WetIsOil {
					s.need("wetting", c.Wet, "", c.WetGrams, nil)
				}
			}
			if i > 0 && e.piped() {
				p.Lost += q.BagLoss
			}
		}
		p.Batch += pot.Poured
		cured += pot.Cured
		volume += pot.Volume
	}
	left := p.Batch - p.Lost
	if left <= 0 {
		return invalid("give --jug-loss", "%s: jugs and bags would keep %s of %s", p.Title, p.Lost, p.Batch)
	}
	switch {
	case q.Pieces > 0:
		p.Bars, p.Bar = q.Pieces, left/unit.Grams(q.Pieces)
	case q.Bar > 0:
		p.Bars, p.Bar = int(math.Floor(float64(left/q.Bar)+1e-9)), q.Bar
		for _, m := range q.Moulds {
			p.PerMould = append(p.PerMould, int(math.Floor(float64(p.Batch/q.Bar)*float64(m/volume)+1e-9)))
		}
	}
	p.Cured = tenth(p.Bar * cured / p.Batch)
	p.Batch, p.Bar, p.Lost = tenth(p.Batch), tenth(p.Bar), tenth(p.Lost)
	s.Bars += p.Bars
	s.Plans = append(s.Plans, p)
	return nil
}

// find is the line a name means: its own, or what an oil answers to as well.
func (s *Shopping) find(name, flag string) (*ShopLine, error) {
	var oils []formula.Oil
	for i := range s.Lines {
		l := &s.Lines[i]
		if store.NameKey(l.Name) == store.NameKey(name) {
			return l, nil
		}
		if l.oil != nil {
			oils = append(oils, *l.oil)
		}
	}
	if o, err := formula.FindOil(name, oils); err == nil {
		for i := range s.Lines {
			if x := s.Lines[i].oil; x != nil && x.Key == o.Key && x.Name == o.Name {
				return &s.Lines[i], nil
			}
		}
	}
	tip := "the plans use " + strings.Join(s.names(), ", ")
	if n := near.Near(name, s.names()); len(n) > 0 {
		tip = "did you mean " + quoted(n) + "?"
	}
	return nil, invalid(tip, "--%s: nothing in the plans is called %q", flag, clipped(name))
}

func (s *Shopping) names() (out []string) {
	for _, l := range s.Lines {
		out = append(out, l.Name)
	}
	return out
}

// stock takes stock and prices in.
func (s *Shopping) stock(q ShopQuery) error {
	for _, name := range slices.Sorted(maps.Keys(q.Have)) {
		l, err := s.find(name, "have")
		if err != nil {
			return err
		}
		l.Have += q.Have[name]
	}
	for _, name := range slices.Sorted(maps.Keys(q.Prices)) {
		l, err := s.find(name, "price")
		if err != nil {
			return err
		}
		if l.Price != nil {
			return invalid("", "--price: %s has two prices", l.Name)
		}
		perKg := q.Prices[name] * 1000
		l.Price = &perKg
	}
	return nil
}

// shopOrder is the order of the list.
var shopOrder = []string{"oil", "alkali", "water", "additive", "scent", "stabiliser", "colourant", "wetting"}

// reckon rounds up what is needed, takes the stock off and adds up.
func (s *Shopping) reckon() {
	slices.SortStableFunc(s.Lines, func(x, y ShopLine) int {
		return cmp.Compare(slices.Index(shopOrder, x.Kind), slices.Index(shopOrder, y.Kind))
	})
	for i := range s.Lines {
		l := &s.Lines[i]
		l.Need = upTenth(l.exact)
		l.Buy = upTenth(max(0, l.exact-l.Have))
		switch {
		case l.Price != nil:
			c := cents(*l.Price / 1000 * float64(l.exact))
			l.Cost = &c
			s.Cost += *l.Price / 1000 * float64(l.exact)
			s.ToPay += *l.Price / 1000 * float64(l.Buy)
		case l.Kind != "water":
			s.Unpriced = append(s.Unpriced, l.Name)
		}
	}
	if s.Bars > 0 && s.Cost > 0 {
		c := cents(s.Cost / float64(s.Bars))
		s.AtLeast = &c
		if len(s.Unpriced) == 0 {
			s.PerBar = &c
		}
	}
	s.Cost, s.ToPay = cents(s.Cost), cents(s.ToPay)
	s.Notes = append(s.Notes, "weights are rounded up to 0.1 g; packing, energy and your time are in no price here")
}

// upTenth rounds up to 0.1 g: what is bought must do.
func upTenth(g unit.Grams) unit.Grams {
	return unit.Grams(math.Ceil(float64(g)*10-1e-6) / 10)
}

func cents(v float64) float64 { return math.Round(v*100) / 100 }
