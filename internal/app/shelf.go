package app

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/near"
	"lyefast/internal/store"
)

// Shelf is everything a plan can name: what the maker entered, retired things
// included, then the built-in colourants and oils that no entry of the same name
// stands before.
type Shelf struct {
	Colorants   []colorants.Product
	Fragrances  []fragrance.Fragrance
	Stabilizers []fragrance.Stabilizer
	Oils        []formula.Oil

	// seen is what was gathered of batches within the view seenIn, so that a batch
	// which several colourants share is gathered once.
	seen   map[int64]*batchKnown
	seenIn *store.Tx
	// own is what the maker's batches say about the plan in hand, nil while they were not asked.
	own *ownKnown
	// teacher asks what the maker's portions taught of a plan, nil where nobody is asked.
	teacher func(*Shelf, []planAsk) (*taught, error)
}

// Shelf gives the whole shelf in one view.
func (a *App) Shelf(ctx context.Context) (Shelf, error) {
	var s Shelf
	err := a.read(ctx, func(tx *store.Tx) (err error) {
		if s.Colorants, err = tx.Colorants(ctx); err != nil {
			return err
		}
		if s.Fragrances, err = tx.Fragrances(ctx); err != nil {
			return err
		}
		if s.Stabilizers, err = tx.Stabilizers(ctx); err != nil {
			return err
		}
		s.Oils, err = tx.Oils(ctx)
		return err
	})
	s.Colorants = colorantKind.withBuiltIn(s.Colorants)
	s.Oils = oilKind.withBuiltIn(s.Oils)
	s.teacher = a.teacher(ctx)
	return s, err
}

// Edited is a thing of the shelf before and after a change to it.
type Edited[T any] struct {
	Before  T        `json:"before"`
	After   T        `json:"after"`
	Changed []Change `json:"changed"`
}

// Change is one field that differs, by its JSON name.
type Change struct {
	Field  string `json:"field"`
	Before any    `json:"before"`
	After  any    `json:"after"`
}

// kind is one noun of the shelf, for the code that all of them share.
type kind[T any] struct {
	noun    string // in prose
	command string // on the command line
	list    func(*store.Tx, context.Context) ([]T, error)
	add     func(*store.Tx, context.Context, T) (int64, error)
	update  func(*store.Tx, context.Context, T) error
	// fields gives what every noun has.
	fields func(*T) fields
	// valid says what of it cannot be so.
	valid func(T) error
	// builtIn lists what the program brings along; nil where it brings nothing.
	builtIn func() []T
	// loose finds one by more than its full name; nil where only that will do.
	loose func(name string, list []T) (T, error)
}

// fields are the places of what every noun has.
type fields struct {
	id      *int64
	name    *string
	retired *bool
}

func (k kind[T]) name(v T) string { return *k.fields(&v).name }

// withBuiltIn sets what is built in behind the maker's own, unless an own one has
// its name.
func (k kind[T]) withBuiltIn(own []T) []T {
	if k.builtIn == nil {
		return own
	}
	mine := map[string]bool{}
	for _, v := range own {
		mine[store.NameKey(k.name(v))] = true
	}
	type keyed struct {
		key string // worked out once: it costs more than the comparison
		at  int
	}
	more := k.builtIn()
	var order []keyed
	for i, v := range more {
		if key := store.NameKey(k.name(v)); !mine[key] {
			order = append(order, keyed{key, i})
		}
	}
	slices.SortStableFunc(order, func(x, y keyed) int { return strings.Compare(x.key, y.key) })
	own = slices.Grow(own, len(order))
	for _, o := range order {
		own = append(own, more[o.at])
	}
	return own
}

// all lists the shelf of one noun; retired ones only if asked for.
func all[T any](ctx context.Context, a *App, k kind[T], retired bool) ([]T, error) {
	list := []T{}
	err := a.read(ctx, func(tx *store.Tx) error {
		own, err := k.list(tx, ctx)
		list = append(list, own...)
		return err
	})
	if err != nil {
		return nil, err
	}
	list = k.withBuiltIn(list)
	if !retired {
		list = slices.DeleteFunc(list, func(v T) bool { return *k.fields(&v).retired })
	}
	return list, nil
}

// get finds one by name, the maker's own before what is built in.
func get[T any](ctx context.Context, a *App, k kind[T], name string) (T, error) {
	list, err := all(ctx, a, k, true)
	if err != nil {
		var none T
		return none, err
	}
	return k.pick(name, list)
}

// pick finds a name in a list.
func (k kind[T]) pick(name string, list []T) (T, error) {
	key := store.NameKey(name)
	names := make([]string, len(list))
	for i, v := range list {
		if names[i] = k.name(v); store.NameKey(names[i]) == key {
			return v, nil
		}
	}
	if k.loose != nil {
		return k.loose(name, list)
	}
	var none T
	return none, notFound(k.noun, k.command, name, near.Near(name, names))
}

// notFound says that there is no such name, and which are near it.
func notFound(noun, command, name string, close []string) error {
	tip := fmt.Sprintf("see `lyefast %s list`", command)
	if len(close) > 0 {
		tip = "did you mean " + quoted(close) + "?"
	}
	return &Error{Kind: ErrNotFound, Msg: fmt.Sprintf("no %s is called %q", noun, clipped(name)), Tip: tip}
}

// clipped shortens a name for a message.
func clipped(name string) string {
	if r := []rune(name); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return name
}

// put adds one to the shelf.
func put[T any](ctx context.Context, a *App, k kind[T], v T) (T, error) {
	v, err := k.checked(v)
	if err != nil {
		return v, err
	}
	name := k.name(v)
	err = a.change(ctx, fmt.Sprintf("add %s %s", k.noun, name), func(tx *store.Tx) error {
		id, err := k.add(tx, ctx, v)
		*k.fields(&v).id = id
		return err
	})
	return v, k.taken(err, name)
}

// taken explains a name that is in use.
func (k kind[T]) taken(err error, name string) error {
	if !errors.Is(err, store.ErrExists) {
		return err
	}
	return &Error{Kind: ErrExists, Msg: fmt.Sprintf("a %s called %q is on the shelf already", k.noun, name),
		Tip: fmt.Sprintf("change it with `lyefast %s edit %q`, or choose another name", k.command, name)}
}

// checked brings a thing's name into order and refuses what cannot be so.
func (k kind[T]) checked(v T) (T, error) {
	name := k.fields(&v).name
	*name = strings.Join(strings.Fields(*name), " ")
	switch {
	case *name == "":
		return v, invalid("", "the %s needs a name", k.noun)
	case len([]rune(*name)) > maxNameRunes:
		return v, invalid("", "the name %q has more than %d letters", clipped(*name), maxNameRunes)
	case strings.ContainsFunc(*name, func(r rune) bool { return !unicode.IsPrint(r) }):
		return v, invalid("", "the name %q holds a sign that cannot be printed", clipped(*name))
	case strings.HasPrefix(*name, "-"):
		return v, invalid("", "the name %q begins with a hyphen and would be taken for a flag", clipped(*name))
	}
	if err := k.valid(v); err != nil {
		return v, &Error{Kind: ErrInvalid, Msg: err.Error(), Tip: hintOf(err)}
	}
	return v, nil
}

// maxNameRunes is as much of a name as the search for near ones compares.
const maxNameRunes = 80

// hintOf takes over the advice of an error that has some.
func hintOf(err error) string {
	var adviser interface{ Hint() string }
	if errors.As(err, &adviser) {
		return adviser.Hint()
	}
	return ""
}

// edit alters one of the maker's own by name.
func edit[T any](ctx context.Context, a *App, k kind[T], name, verb string, alter func(*T) error) (Edited[T], error) {
	var e Edited[T]
	// Asked before anything is written: the book is not made just to find nothing in
	// it, and the journal tells the name as the shelf has it.
	var own []T
	err := a.read(ctx, func(tx *store.Tx) (err error) {
		own, err = k.list(tx, ctx)
		return err
	})
	if err != nil {
		return e, err
	}
	v, err := k.pick(name, own)
	if err != nil {
		return e, k.notMine(ctx, a, name)
	}
	name = k.name(v)
	wanted := ""
	err = a.change(ctx, fmt.Sprintf("%s %s %s", verb, k.noun, name), func(tx *store.Tx) error {
		own, err := k.list(tx, ctx)
		if err != nil {
			return err
		}
		if v, err = k.pick(name, own); err != nil {
			return err
		}
		e.Before, e.After = v, copied(v)
		if err := alter(&e.After); err != nil {
			return err
		}
		if e.After, err = k.checked(e.After); err != nil {
			return err
		}
		wanted = k.name(e.After)
		if e.Changed = differences(e.Before, e.After); len(e.Changed) == 0 {
			return nil
		}
		return k.update(tx, ctx, e.After)
	})
	return e, k.taken(err, wanted)
}

// copied gives a copy of a struct that shares no list or pointer with it; what its
// pointers and lists hold is plain in every noun.
func copied[T any](v T) T {
	c := v
	fresh := reflect.ValueOf(&c).Elem()
	for i := range fresh.NumField() {
		switch f := fresh.Field(i); {
		case f.Kind() == reflect.Pointer && !f.IsNil():
			p := reflect.New(f.Type().Elem())
			p.Elem().Set(f.Elem())
			f.Set(p)
		case f.Kind() == reflect.Slice && !f.IsNil():
			f.Set(reflect.AppendSlice(reflect.MakeSlice(f.Type(), 0, f.Len()), f))
		}
	}
	return c
}

// notMine says why a thing cannot be altered: it is built in, or not there.
func (k kind[T]) notMine(ctx context.Context, a *App, name string) error {
	v, err := get(ctx, a, k, name)
	if err != nil {
		return err
	}
	return invalid(fmt.Sprintf("put your own on the shelf under that name: lyefast %s add %q; it then stands before the built-in one", k.command, k.name(v)),
		"the %s %q is built in and cannot be changed", k.noun, k.name(v))
}

// differences lists the fields that differ, in the order of the struct.
func differences(before, after any) []Change {
	list := []Change{}
	x, y := reflect.ValueOf(before), reflect.ValueOf(after)
	for i := range x.NumField() {
		field, _, _ := strings.Cut(x.Type().Field(i).Tag.Get("json"), ",")
		p, q := x.Field(i).Interface(), y.Field(i).Interface()
		if field != "id" && !reflect.DeepEqual(p, q) {
			list = append(list, Change{field, p, q})
		}
	}
	return list
}

// retire takes one off the lists, or puts it back; its history stays.
func retire[T any](ctx context.Context, a *App, k kind[T], name string, back bool) (Edited[T], error) {
	verb := "retire"
	if back {
		verb = "bring back"
	}
	return edit(ctx, a, k, name, verb, func(v *T) error {
		*k.fields(v).retired = !back
		return nil
	})
}
