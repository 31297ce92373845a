package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func planShopCmd(p *program) *cobra.Command {
	var have, prices, moulds []string
	var bar, jug, bag, sale, cure string
	q := app.ShopQuery{JugLoss: app.DefaultJugLoss, BagLoss: app.DefaultBagLoss}
	cmd := &cobra.Command{
		Use:   "shop FILE...",
		Short: "Say what to buy for plans, and what a bar costs",
		Long: wrapHelp(`Adds up what all the plans need, takes off what you --have, and reckons how many bars there will be, after what stays in jugs and piping bags, and what a bar costs at your prices. --sale gives the last day to pour for a day of sale.

Prices are in your own money; one that is missing is named, and the cost is then "at least".`),
		Example: examples(`lyefast plan shop testdata/plans/harbour-dawn.toml --bar "110 g"`, `lyefast plan shop harbour.toml winter.toml --have "coconut=2 kg" --price "coconut=4.20/kg" --pieces 12 --sale 2027-03-01 --cure 42d`),
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return takes("FILE")(cmd, args)
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			if err := shopFlags(&q, have, prices, moulds, bar, jug, bag); err != nil {
				return err
			}
			q.Sale = sale
			if q.CureDays, err = parseCure(cure); err != nil {
				return err
			}
			for _, name := range args {
				var f app.PlanFile
				if f.Data, f.File, err = p.readPlanFile(name); err != nil {
					return err
				}
				q.Plans = append(q.Plans, f)
			}
			s, err := p.session.Shop(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(s, func() error { return p.showShopping(s) })
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&have, "have", nil, "`STOCK` of one thing, like \"coconut=2 kg\"; may be given several times")
	f.StringArrayVar(&prices, "price", nil, "a `PRICE`, like \"coconut=4.20/kg\" or \"Rope Red=6/50 g\"; may be given several times")
	f.StringVar(&bar, "bar", "", "`WEIGHT` of a bar as it is cut")
	f.IntVar(&q.Pieces, "pieces", 0, "`NUMBER` of bars each plan is cut into, in place of --bar")
	f.StringArrayVar(&moulds, "mould", nil, "inside of a `MOULD` to tell the bars of, like \"25 x 8 x 7 cm\"; needs --bar")
	f.StringVar(&jug, "jug-loss", "5 g", "`WEIGHT` that stays in each jug")
	f.StringVar(&bag, "bag-loss", "15 g", "`WEIGHT` that stays in the bag of each piped portion")
	f.StringVar(&sale, "sale", "", "`DAY` of the sale, for the last day to pour")
	f.StringVar(&cure, "cure", "42d", "`DAYS` of cure before a bar is sold")
	return cmd
}

func shopFlags(q *app.ShopQuery, have, prices, moulds []string, bar, jug, bag string) (err error) {
	q.Have, q.Prices = map[string]unit.Grams{}, map[string]float64{}
	for _, s := range have {
		name, text, ok := strings.Cut(s, "=")
		g, err := unit.ParseMass(text)
		if name = strings.TrimSpace(name); !ok || name == "" || err != nil {
			return usage(`write it like --have "coconut=2 kg"`, "--have: %q is not understood", s)
		}
		q.Have[name] += g
	}
	for _, s := range prices {
		name, text, ok := strings.Cut(s, "=")
		price, err := parsePrice(text)
		if name = strings.TrimSpace(name); !ok || name == "" || err != nil {
			return usage(`write it like --price "coconut=4.20/kg"`, "--price: %q is not understood", s)
		}
		if _, twice := q.Prices[name]; twice {
			return usage("", "--price: %s has two prices", name)
		}
		q.Prices[name] = price
	}
	for _, m := range moulds {
		v, err := unit.ParseBox(m)
		if err != nil {
			return usage("", "--mould: %v", err)
		}
		q.Moulds = append(q.Moulds, v)
	}
	if bar != "" {
		if q.Bar, err = unit.ParseMass(bar); err == nil && q.Bar <= 0 {
			err = errors.New("must be more than 0 g")
		}
		if err != nil {
			return usage("", "--bar: %v", err)
		}
	}
	if len(moulds) > 0 && q.Bar == 0 {
		return usage("", "--mould needs --bar")
	}
	if q.Pieces < 0 || q.Pieces > 100000 {
		return usage("", "--pieces: %d is outside 1–100000", q.Pieces)
	}
	if q.JugLoss, err = unit.ParseMass(jug); err != nil {
		return usage("", "--jug-loss: %v", err)
	}
	if q.BagLoss, err = unit.ParseMass(bag); err != nil {
		return usage("", "--bag-loss: %v", err)
	}
	return nil
}

// parsePrice reads "4.20/kg", "6/50 g" or "3/lb" as money per gram.
func parsePrice(s string) (perGram float64, err error) {
	money, mass, ok := strings.Cut(s, "/")
	if !ok {
		return 0, errors.New("no mass given")
	}
	v, err := unit.ParseNumber(strings.TrimSpace(money))
	if err != nil {
		return 0, err
	}
	mass = strings.TrimSpace(mass)
	if mass != "" && (mass[0] < '0' || mass[0] > '9') {
		mass = "1 " + mass
	}
	g, err := unit.ParseMass(mass)
	if err != nil {
		return 0, err
	}
	if !(v >= 0) || v > 1e9 || g <= 0 {
		return 0, fmt.Errorf("%q is no price", s)
	}
	return v / float64(g), nil
}

// parseCure reads a cure in days: "42d", "42 days", "6 weeks", "6w".
func parseCure(s string) (int, error) {
	text := strings.TrimSpace(strings.ToLower(s))
	i := strings.IndexFunc(text, func(r rune) bool { return r < '0' || r > '9' })
	if i < 0 {
		return 0, usage("write it like 42d or 6w", "--cure: %q has no unit", s)
	}
	n, err := strconv.Atoi(text[:i])
	switch strings.TrimSpace(text[i:]) {
	case "d", "day", "days":
	case "w", "week", "weeks":
		n *= 7
	default:
		return 0, usage("write it like 42d or 6w", "--cure: %q is not understood", s)
	}
	if err != nil || n < 1 || n > 3650 {
		return 0, usage("write it like 42d or 6w", "--cure: %q is outside 1–3650 days", s)
	}
	return n, nil
}

func (p *program) showShopping(s *app.Shopping) error {
	w := p.out
	if s.LastPour != "" {
		w.Para("", fmt.Sprintf("For a sale on %s pour by %s: %d days of cure.", s.Sale, s.LastPour, s.CureDays))
	}
	for _, x := range s.Plans {
		text := fmt.Sprintf("%.0f g of batter, %.0f g of it stays in jugs and bags", float64(x.Batch), float64(x.Lost))
		if x.Bars > 0 {
			text += fmt.Sprintf(": %s of %.0f g as cut, about %.0f g cured", count(x.Bars, "bar"), float64(x.Bar), float64(x.Cured))
		}
		for i, n := range x.PerMould {
			text += fmt.Sprintf("; mould %d holds %d", i+1, n)
		}
		w.Field(w.Text(x.Title), w.Text(text), 15)
	}
	w.Printf("\n")
	var rows [][]string
	for _, l := range s.Lines {
		price, cost, stock := app.Open, app.Open, "–"
		if l.Price != nil {
			price, cost = fmt.Sprintf("%.2f", *l.Price), fmt.Sprintf("%.2f", *l.Cost)
		} else if l.Kind == "water" {
			price, cost = "–", "–"
		}
		if l.Have > 0 {
			stock = massOr(float64(l.Have))
		}
		name := l.Name
		if l.Lot != "" {
			name += " (lot " + l.Lot + ")"
		}
		rows = append(rows, []string{w.Text(name), massOr(float64(l.Need)), stock, massOr(float64(l.Buy)), price, cost})
	}
	if err := w.Table([]term.Column{{Title: "", Wrap: true}, {Title: "need", Right: true}, {Title: "have", Right: true}, {Title: "buy", Right: true}, {Title: "per kg", Right: true}, {Title: "cost", Right: true}}, rows); err != nil {
		return err
	}
	w.Printf("\n")
	if s.Cost > 0 {
		w.Field("Cost", fmt.Sprintf("%.2f for what is used, %.2f to pay for what is bought", s.Cost, s.ToPay), 9)
	}
	switch {
	case s.PerBar != nil:
		w.Field("A bar", fmt.Sprintf("%.2f each for %s", *s.PerBar, count(s.Bars, "bar")), 9)
	case s.AtLeast != nil:
		w.Field("A bar", fmt.Sprintf("at least %.2f each for %s", *s.AtLeast, count(s.Bars, "bar")), 9)
	}
	if len(s.Unpriced) > 0 && s.Cost > 0 {
		w.Field("open", w.Text("no price for "+strings.Join(s.Unpriced, ", ")), 9)
	}
	for _, n := range s.Notes {
		w.Field("note", n, 9)
	}
	return nil
}
