package app

import (
	"context"
	"fmt"
	"unicode/utf8"

	"lyefast/internal/colorants"
	"lyefast/internal/store"
)

var colorantKind = kind[colorants.Product]{
	noun: "colourant", command: "colorant",
	list: (*store.Tx).Colorants,
	add:  (*store.Tx).AddColorant, update: (*store.Tx).UpdateColorant,
	fields: func(p *colorants.Product) fields { return fields{&p.ID, &p.Name, &p.Retired} },
	valid:  validColorant,
}

// Bounds on a colourant. Doses are per kg of oils; a level teaspoon of the lightest
// powder weighs some tenths of a gram, and 5 ml of the heaviest pigment 30 g.
const (
	maxDose     = 500
	maxTeaspoon = 50
	maxText     = 20_000 // letters of a label or note
)

func validColorant(p colorants.Product) error {
	for _, t := range []struct{ name, text string }{
		{"label", p.Label}, {"claim", p.Claim}, {"lot", p.Lot}, {"note", p.Note},
	} {
		if utf8.RuneCountInString(t.text) > maxText {
			return fmt.Errorf("the %s of %q has more than %d letters", t.name, p.Name, maxText)
		}
	}
	switch p.Kind {
	case "", colorants.KindMica, colorants.KindOxide, colorants.KindUltramarine, colorants.KindCarbon, colorants.KindClay,
		colorants.KindWhite, colorants.KindDye, colorants.KindPlant, colorants.KindGlitter, colorants.KindOther:
	default:
		return fmt.Errorf("kind %q of %q is not known; use mica, oxide, ultramarine, carbon, clay, white, dye, plant, glitter or other", p.Kind, p.Name)
	}
	if p.Swatch != nil {
		if err := p.Swatch.Check(); err != nil {
			return fmt.Errorf("swatch of %q: %w", p.Name, err)
		}
	}
	for _, d := range []struct {
		name  string
		value float64
	}{{"swatch dose", float64(p.SwatchDose)}, {"usual dose", float64(p.UsualDose)}} {
		if !(d.value >= 0 && d.value <= maxDose) {
			return fmt.Errorf("%s %.4g g/kg of %q is out of range, 0–%d g per kg of oils", d.name, d.value, p.Name, maxDose)
		}
	}
	if !(p.TeaspoonGrams >= 0 && p.TeaspoonGrams <= maxTeaspoon) {
		return fmt.Errorf("a teaspoon of %q cannot weigh %.4g g; weigh one level teaspoon, usually 1–8 g", p.Name, float64(p.TeaspoonGrams))
	}
	return nil
}

// AddColorant puts a colourant on the shelf.
func (a *App) AddColorant(ctx context.Context, p colorants.Product) (colorants.Product, error) {
	return put(ctx, a, colorantKind, p)
}

// Colorants lists the colourants by name, the built-in ones among them; retired
// ones only if asked for.
func (a *App) Colorants(ctx context.Context, retired bool) ([]colorants.Product, error) {
	return all(ctx, a, colorantKind, retired)
}

// Colorant finds a colourant by name.
func (a *App) Colorant(ctx context.Context, name string) (colorants.Product, error) {
	return get(ctx, a, colorantKind, name)
}

// EditColorant alters one of the maker's own colourants.
func (a *App) EditColorant(ctx context.Context, name string, alter func(*colorants.Product) error) (Edited[colorants.Product], error) {
	return edit(ctx, a, colorantKind, name, "edit", alter)
}

// RetireColorant takes a colourant off the lists, or brings it back.
func (a *App) RetireColorant(ctx context.Context, name string, back bool) (Edited[colorants.Product], error) {
	return retire(ctx, a, colorantKind, name, back)
}
