package app

import (
	"context"
	"errors"
	"strings"

	"lyefast/internal/formula"
	"lyefast/internal/store"
)

var oilKind = kind[formula.Oil]{
	noun: "oil", command: "oil",
	list: (*store.Tx).Oils,
	add:  (*store.Tx).AddOil, update: (*store.Tx).UpdateOil,
	fields:  func(o *formula.Oil) fields { return fields{&o.ID, &o.Name, &o.Retired} },
	valid:   validOil,
	builtIn: formula.BuiltIn,
	loose: func(name string, list []formula.Oil) (formula.Oil, error) {
		o, err := formula.FindOil(name, list)
		var no *formula.NameError
		if errors.As(err, &no) {
			return o, &Error{Kind: ErrNotFound, Msg: no.Error(), Tip: no.Hint()}
		}
		return o, err
	},
}

func validOil(o formula.Oil) error {
	if err := fits(o.Name, "INCI name", o.INCI, "source", o.Source, "lot", o.Lot, "note", o.Note); err != nil {
		return err
	}
	return formula.Validate(o)
}

// AddOil puts an oil of the maker's own on the shelf. Without a key its name in
// lower case becomes it; without a kind it is a triglyceride.
func (a *App) AddOil(ctx context.Context, o formula.Oil) (formula.Oil, error) {
	if o.Key == "" {
		o.Key = store.NameKey(o.Name)
	}
	o.Key = strings.Join(strings.Fields(o.Key), " ")
	if o.Kind == "" {
		o.Kind = formula.Triglyceride
	}
	return put(ctx, a, oilKind, o)
}

// Oils lists the oils by name, the maker's own first; retired ones only if
// asked for.
func (a *App) Oils(ctx context.Context, retired bool) ([]formula.Oil, error) {
	return all(ctx, a, oilKind, retired)
}

// Oil finds an oil as plans do: by key, name, INCI name or a usual short form, the
// maker's own first.
func (a *App) Oil(ctx context.Context, name string) (formula.Oil, error) {
	return get(ctx, a, oilKind, name)
}

// EditOil alters one of the maker's own oils.
func (a *App) EditOil(ctx context.Context, name string, alter func(*formula.Oil) error) (Edited[formula.Oil], error) {
	return edit(ctx, a, oilKind, name, "edit", alter)
}

// RetireOil takes an oil of the maker's own off the lists, or brings it back.
func (a *App) RetireOil(ctx context.Context, name string, back bool) (Edited[formula.Oil], error) {
	return retire(ctx, a, oilKind, name, back)
}
