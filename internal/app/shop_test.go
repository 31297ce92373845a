package app

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"lyefast/internal/unit"
)

func shopOf(t *testing.T, q ShopQuery) (*Shopping, error) {
	t.Helper()
	if q.Plans == nil {
		q.Plans = []PlanFile{{fmt.Appendf(nil, threeOils, "5 %", ""), "three.toml"}}
	}
	return session(t).Shop(context.Background(), q)
}

// The three oils with 146.3691 g of NaOH and 297.174 g of water are 1443.543 g of
// batter (worked by hand); less 5 g in the one jug that is 13 bars of 110 g.
func TestShopBarsAndCost(t *testing.T) {
	prices := map[string]float64{"coconut": 0.004, "palm": 0.003, "rapeseed": 0.002, "NaOH": 0.01}
	s, err := shopOf(t, ShopQuery{JugLoss: 5, Bar: 110, Prices: prices, Have: map[string]unit.Grams{"coconut": 120}, Moulds: []unit.Millilitres{1427.8 / 2}, Sale: "2027-03-01"})
	if err != nil {
		t.Fatal(err)
	}
	p := s.Plans[0]
	if p.Batch != 1443.5 || p.Bars != 13 || p.PerMould[0] != 6 {
		t.Errorf("%v of batter, %d bars, %v in half the volume", p.Batch, p.Bars, p.PerMould)
	}
	// 1.20 + 0.90 + 0.80 + 1.4637
	if s.Cost != 4.36 || s.PerBar == nil || *s.PerBar != 0.34 || len(s.Unpriced) != 0 {
		t.Errorf("cost %v, a bar %v, unpriced %v", s.Cost, s.PerBar, s.Unpriced)
	}
	for _, l := range s.Lines {
		if l.Name == "Coconut oil" && (l.Need != 300 || l.Buy != 180 || *l.Cost != 1.2) {
			t.Errorf("coconut: %+v", l)
		}
		if l.Name == "NaOH" && l.Buy != 146.4 { // rounded up
			t.Errorf("NaOH to buy: %v", l.Buy)
		}
	}
	if s.LastPour != "2027-01-18" { // 42 days before the first of March
		t.Errorf("last pour %s", s.LastPour)
	}
	delete(prices, "NaOH")
	if s, err = shopOf(t, ShopQuery{Pieces: 12, Prices: prices}); err != nil {
		t.Fatal(err)
	}
	if s.PerBar != nil || s.AtLeast == nil || math.Abs(*s.AtLeast-0.24) > 1e-9 || strings.Join(s.Unpriced, " ") != "NaOH" {
		t.Errorf("with a price missing: %v, at least %v, unpriced %v", s.PerBar, *s.AtLeast, s.Unpriced)
	}
}

// Two plans of the same oils add up, and nothing else changes.
func TestShopAddsPlans(t *testing.T) {
	one := PlanFile{harbour(t), "h.toml"}
	single := must(t, func() (*Shopping, error) { return shopOf(t, ShopQuery{Plans: []PlanFile{one}}) })
	double := must(t, func() (*Shopping, error) { return shopOf(t, ShopQuery{Plans: []PlanFile{one, one}}) })
	if len(double.Lines) != len(single.Lines) || len(double.Plans) != 2 {
		t.Fatalf("%d lines and %d plans", len(double.Lines), len(double.Plans))
	}
	for i, l := range single.Lines {
		if d := double.Lines[i]; math.Abs(float64(d.exact-2*l.exact)) > 1e-9 {
			t.Errorf("%s: %v and %v", l.Name, l.exact, d.exact)
		}
	}
}

func TestShopRefuses(t *testing.T) {
	for want, q := range map[string]ShopQuery{
		"nothing in the plans is called":   {Have: map[string]unit.Grams{"coconat": 1}},
		"do not go together":               {Bar: 110, Pieces: 3},
		"would keep":                       {JugLoss: 5000},
		"day of the sale":                  {Sale: "some time"},
		"--price: Coconut oil has two pri": {Prices: map[string]float64{"coconut": 1, "Coconut oil": 2}},
	} {
		if _, err := shopOf(t, q); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
}
