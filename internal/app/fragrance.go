package app

import (
	"context"

	"lyefast/internal/fragrance"
	"lyefast/internal/store"
)

var fragranceKind = kind[fragrance.Fragrance]{
	noun: "fragrance", command: "fragrance",
	list: (*store.Tx).Fragrances,
	add:  (*store.Tx).AddFragrance, update: (*store.Tx).UpdateFragrance,
	fields: func(f *fragrance.Fragrance) fields { return fields{&f.ID, &f.Name, &f.Retired} },
	valid:  fragrance.Fragrance.Validate,
}

// AddFragrance puts a fragrance on the shelf.
func (a *App) AddFragrance(ctx context.Context, f fragrance.Fragrance) (fragrance.Fragrance, error) {
	return put(ctx, a, fragranceKind, listsOf(f))
}

// listsOf makes lists that were left out empty, so that no reader of JSON meets null.
func listsOf(f fragrance.Fragrance) fragrance.Fragrance {
	if f.Others == nil {
		f.Others = []fragrance.Share{}
	}
	if f.Allergens == nil {
		f.Allergens = []fragrance.Share{}
	}
	if f.Claims == nil {
		f.Claims = []string{}
	}
	return f
}

// Fragrances lists the fragrances by name; retired ones only if asked for.
func (a *App) Fragrances(ctx context.Context, retired bool) ([]fragrance.Fragrance, error) {
	return all(ctx, a, fragranceKind, retired)
}

// Fragrance finds a fragrance by name.
func (a *App) Fragrance(ctx context.Context, name string) (fragrance.Fragrance, error) {
	return get(ctx, a, fragranceKind, name)
}

// EditFragrance alters a fragrance.
func (a *App) EditFragrance(ctx context.Context, name string, alter func(*fragrance.Fragrance) error) (Edited[fragrance.Fragrance], error) {
	return edit(ctx, a, fragranceKind, name, "edit", func(f *fragrance.Fragrance) error {
		err := alter(f)
		*f = listsOf(*f)
		return err
	})
}

// RetireFragrance takes a fragrance off the lists, or brings it back.
func (a *App) RetireFragrance(ctx context.Context, name string, back bool) (Edited[fragrance.Fragrance], error) {
	return retire(ctx, a, fragranceKind, name, back)
}
