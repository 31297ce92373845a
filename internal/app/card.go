package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/photo"
	"lyefast/internal/store"
)

var cardKind = kind[photo.Card]{
	noun: "card", command: "card",
	list: (*store.Tx).Cards,
	add:  (*store.Tx).AddCard, update: (*store.Tx).UpdateCard,
	fields: func(c *photo.Card) fields { return fields{&c.ID, &c.Name, &c.Retired} },
	valid:  photo.Card.Validate,
}

// AddCard puts a chart, a grey card or a sheet on the shelf.
func (a *App) AddCard(ctx context.Context, c photo.Card) (photo.Card, error) {
	return put(ctx, a, cardKind, c)
}

// Cards lists the cards by name; retired ones only if asked for.
func (a *App) Cards(ctx context.Context, retired bool) ([]photo.Card, error) {
	return all(ctx, a, cardKind, retired)
}

// Card finds a card by name.
func (a *App) Card(ctx context.Context, name string) (photo.Card, error) {
	return get(ctx, a, cardKind, name)
}

// EditCard alters a card.
func (a *App) EditCard(ctx context.Context, name string, alter func(*photo.Card) error) (Edited[photo.Card], error) {
	return edit(ctx, a, cardKind, name, "edit", alter)
}

// RetireCard takes a card off the lists, or brings it back.
func (a *App) RetireCard(ctx context.Context, name string, back bool) (Edited[photo.Card], error) {
	return retire(ctx, a, cardKind, name, back)
}

// MyChart is the name of the chart whose edition was asked for.
const MyChart = "my chart"

// charts lists the charts in use.
func (a *App) charts(ctx context.Context) ([]photo.Card, error) {
	list, err := a.Cards(ctx, false)
	return slices.DeleteFunc(list, func(c photo.Card) bool { return c.Kind != photo.ChartCard }), err
}

// AsksEdition tells whether the maker is to be asked for the chart's edition: the
// question has a chart, neither it nor a card says which edition, and no chart is on
// the shelf.
func (a *App) AsksEdition(ctx context.Context, q PhotoQuery) (bool, error) {
	if q.Chart == "" || q.Edition != "" || q.Card != "" {
		return false, nil
	}
	list, err := a.charts(ctx)
	return err == nil && len(list) == 0, err
}

// RememberChart keeps the edition of the maker's chart as the card [MyChart].
func (a *App) RememberChart(ctx context.Context, edition string) error {
	e, err := photo.ParseEdition(edition)
	if err != nil {
		return &Error{Kind: ErrInvalid, Msg: err.Error()}
	}
	return a.change(ctx, fmt.Sprintf("store card %s", MyChart), func(tx *store.Tx) error {
		return keepCard(ctx, tx, photo.Card{Name: MyChart, Kind: photo.ChartCard, Edition: e})
	})
}

// ChartEdition is the edition of the charts on the shelf, "" where there is none or they
// differ.
func (a *App) ChartEdition(ctx context.Context) (photo.Edition, error) {
	list, err := a.charts(ctx)
	if err != nil || len(list) == 0 || slices.ContainsFunc(list, func(c photo.Card) bool { return c.Edition != list[0].Edition }) {
		return "", err
	}
	return list[0].Edition, nil
}

// keepEdition stores the edition as [MyChart] where no card of another name is a chart.
func keepEdition(ctx context.Context, tx *store.Tx, edition string) error {
	e, err := photo.ParseEdition(edition)
	if err != nil {
		return err
	}
	list, err := tx.Cards(ctx)
	if err != nil {
		return err
	}
	for _, c := range list {
		// A chart of another name is the maker's to name; a card of this one that is no
		// chart stands in the way.
		mine, chart := store.NameKey(c.Name) == store.NameKey(MyChart), c.Kind == photo.ChartCard
		if mine != chart && (mine || !c.Retired) || mine && c.Edition == e && !c.Retired {
			return nil
		}
	}
	return keepCard(ctx, tx, photo.Card{Name: MyChart, Kind: photo.ChartCard, Edition: e})
}

// keepCard stores a card, in place of one of its name and kind if there is one, whose
// note it keeps.
func keepCard(ctx context.Context, tx *store.Tx, c photo.Card) error {
	c, err := cardKind.checked(c)
	if err != nil {
		return err
	}
	list, err := tx.Cards(ctx)
	if err != nil {
		return err
	}
	for _, old := range list {
		if store.NameKey(old.Name) != store.NameKey(c.Name) {
			continue
		}
		if old.Kind != c.Kind {
			return cardKind.taken(store.ErrExists, old.Name)
		}
		c.ID, c.Name, c.Note = old.ID, old.Name, old.Note
		return tx.UpdateCard(ctx, c)
	}
	_, err = tx.AddCard(ctx, c)
	return err
}

// fromCards fills in what the shelf's cards know of the picture, and says so in notes.
func (a *App) fromCards(ctx context.Context, q PhotoQuery) (out PhotoQuery, notes []string, err error) {
	bare := func(s string) bool { return !strings.Contains(s, "=") }
	if q.Card == "" {
		if q.Chart == "" || q.Edition != "" {
			return q, nil, nil
		}
		list, err := a.charts(ctx)
		if err != nil {
			return q, nil, err
		}
		q.Edition = string(photo.After2014)
		switch {
		case len(list) == 0:
			return q, []string{fmt.Sprintf("the chart is taken for one of November 2014 or later; store which it is, once, with `lyefast card add %q --kind chart --edition %s` or %s", MyChart, photo.After2014, photo.Before2014)}, nil
		case slices.ContainsFunc(list, func(c photo.Card) bool { return c.Edition != list[0].Edition }):
			names := make([]string, len(list))
			for i, c := range list {
				names[i] = c.Name
			}
			return q, []string{fmt.Sprintf("the chart is taken for one of November 2014 or later; the shelf has charts of both editions, so say which with --card: %s", quoted(names))}, nil
		}
		q.Edition = string(list[0].Edition)
		return q, []string{fmt.Sprintf("the chart's edition is that of the card %q: %s", list[0].Name, q.Edition)}, nil
	}
	c, err := a.Card(ctx, q.Card)
	if err != nil {
		return q, nil, err
	}
	wrong := func(tip, format string, args ...any) error {
		return invalid(tip, "%s: the card %q %s", q.File, c.Name, fmt.Sprintf(format, args...))
	}
	switch c.Kind {
	case photo.ChartCard:
		if q.Chart == "" {
			return q, nil, wrong("give the chart's corners with --chart", "is a chart, and none is in the picture")
		}
		if q.Edition != "" {
			return q, nil, wrong("leave out --edition", "says the edition already")
		}
		q.Edition = string(c.Edition)
		notes = append(notes, fmt.Sprintf("the chart's edition is that of the card %q: %s", c.Name, c.Edition))
	case photo.GreyCard:
		if !slices.ContainsFunc(q.Greys, bare) {
			return q, nil, wrong("give a place on it with --grey x,y", "is a grey card, and no place on it is given")
		}
		q.Greys = slices.Clone(q.Greys)
		for i, s := range q.Greys {
			if bare(s) {
				q.Greys[i] = s + "=" + labText(*c.Lab)
			}
		}
		notes = append(notes, fmt.Sprintf("the grey is that of the card %q: %s", c.Name, labText(*c.Lab)))
	case photo.SheetCard:
		if len(q.Sheet) == 0 {
			return q, nil, wrong("give a place on it with --sheet x,y", "is a sheet, and no place on it is given")
		}
		if q.SheetLab != "" {
			return q, nil, wrong("leave out --sheet-value", "says the sheet's value already")
		}
		q.SheetLab = labText(*c.Lab)
		notes = append(notes, fmt.Sprintf("the sheet is the card %q: %s", c.Name, q.SheetLab))
	}
	if c.Retired {
		notes = append(notes, fmt.Sprintf("the card %q is retired", c.Name))
	}
	return q, notes, nil
}

// labText writes a colour as a card's value is given.
func labText(c cie.Lab) string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return number(c.L) + "," + number(c.A) + "," + number(c.B)
}

// sheetCard is the sheet of a picture with a chart, to hundredths.
func (s *PhotoSaid) sheetCard(name string) (photo.Card, error) {
	if s.SheetLab == nil {
		return photo.Card{}, invalid("leave out --keep-sheet, or give other spots with --sheet", "%s: the sheet's value could not be told, so it cannot be kept; nothing was entered", s.File)
	}
	round := func(v float64) float64 { return math.Round(100*v) / 100 }
	return photo.Card{
		Name: name, Kind: photo.SheetCard, Lab: &cie.Lab{L: round(s.SheetLab.L), A: round(s.SheetLab.A), B: round(s.SheetLab.B)},
		LearntFrom: fmt.Sprintf("%s of %s, beside a chart", sourceName(s.File), s.TakenAt.Format(time.DateOnly)),
	}, nil
}
