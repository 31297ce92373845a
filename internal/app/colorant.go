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
	valid: func(p colorants.Product) error {
		if err := fits(p.Name, "claim", p.Claim, "lot", p.Lot, "note", p.Note); err != nil {
			return err
		}
		return colorants.Validate(p)
	},
	builtIn: colorants.BuiltIn,
	loose: func(name string, list []colorants.Product) (colorants.Product, error) {
		p, close, ok := colorants.Find(name, list)
		if !ok {
			return p, notFound("colourant", "colorant", name, close)
		}
		return p, nil
	},
}

// maxText bounds a note and the like, in letters.
const maxText = 20_000

// fits refuses texts that are too long; they come as name and text in turn.
func fits(of string, texts ...string) error {
	for i := 0; i < len(texts); i += 2 {
		if utf8.RuneCountInString(texts[i+1]) > maxText {
			return fmt.Errorf("the %s of %q has more than %d letters", texts[i], of, maxText)
		}
	}
	return nil
}

// AddColorant puts a colourant on the shelf.
func (a *App) AddColorant(ctx context.Context, p colorants.Product) (colorants.Product, error) {
	return put(ctx, a, colorantKind, p)
}

// Colorants lists the colourants by name, the maker's own first; retired
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
