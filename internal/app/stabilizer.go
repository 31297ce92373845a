package app

import (
	"context"

	"lyefast/internal/fragrance"
	"lyefast/internal/store"
)

var stabilizerKind = kind[fragrance.Stabilizer]{
	noun: "stabiliser", command: "stabilizer",
	list: (*store.Tx).Stabilizers,
	add:  (*store.Tx).AddStabilizer, update: (*store.Tx).UpdateStabilizer,
	fields: func(s *fragrance.Stabilizer) fields { return fields{&s.ID, &s.Name, &s.Retired} },
	valid:  fragrance.Stabilizer.Validate,
}

// AddStabilizer puts a stabiliser on the shelf.
func (a *App) AddStabilizer(ctx context.Context, s fragrance.Stabilizer) (fragrance.Stabilizer, error) {
	return put(ctx, a, stabilizerKind, s)
}

// Stabilizers lists the stabilisers by name; retired ones only if asked for.
func (a *App) Stabilizers(ctx context.Context, retired bool) ([]fragrance.Stabilizer, error) {
	return all(ctx, a, stabilizerKind, retired)
}

// Stabilizer finds a stabiliser by name.
func (a *App) Stabilizer(ctx context.Context, name string) (fragrance.Stabilizer, error) {
	return get(ctx, a, stabilizerKind, name)
}

// EditStabilizer alters a stabiliser.
func (a *App) EditStabilizer(ctx context.Context, name string, alter func(*fragrance.Stabilizer) error) (Edited[fragrance.Stabilizer], error) {
	return edit(ctx, a, stabilizerKind, name, "edit", alter)
}

// RetireStabilizer takes a stabiliser off the lists, or brings it back.
func (a *App) RetireStabilizer(ctx context.Context, name string, back bool) (Edited[fragrance.Stabilizer], error) {
	return retire(ctx, a, stabilizerKind, name, back)
}
