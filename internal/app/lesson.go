package app

import (
	"context"
	"strings"

	"lyefast/internal/formula"
	"lyefast/internal/observations"
	"lyefast/internal/store"
)

// AddLesson keeps one line about a batch.
func (a *App) AddLesson(ctx context.Context, code, text string) (*observations.Lesson, error) {
	text = strings.Join(strings.Fields(text), " ")
	if err := observations.CheckLesson(text); err != nil {
		return nil, &Error{Kind: ErrInvalid, Msg: err.Error(), Tip: `write it like lyefast batch lesson HD-07 "pour the blue before the white"`}
	}
	var out *observations.Lesson
	err := a.changeBatch(ctx, code, "lesson", func(tx *store.Tx, b *observations.Batch) error {
		id, err := tx.AddLesson(ctx, b.ID, text)
		if err != nil {
			return err
		}
		list, err := tx.Lessons(ctx, b.ID)
		for i := range list {
			if list[i].ID == id {
				out = &list[i]
			}
		}
		return err
	})
	return out, err
}

// Lessons gives the lessons of batches that share a name with what is planned: a
// fragrance, a colourant, or the title of the recipe. Without names it gives all.
func (a *App) Lessons(ctx context.Context, names ...string) ([]observations.Lesson, error) {
	out := []observations.Lesson{}
	wanted := map[string]bool{}
	for _, n := range names {
		wanted[store.NameKey(n)] = true
	}
	err := a.read(ctx, func(tx *store.Tx) error {
		list, err := tx.Lessons(ctx, 0)
		for _, l := range list {
			shares := len(names) == 0 || wanted[store.NameKey(l.Title)]
			for _, n := range append(append([]string{}, l.Fragrances...), l.Colorants...) {
				shares = shares || wanted[store.NameKey(n)]
			}
			if shares {
				out = append(out, l)
			}
		}
		return err
	})
	return out, err
}

// namesIn are what a plan shares with a batch: its title, scent and colourants.
func namesIn(p formula.Plan) []string {
	names := []string{p.Title}
	if p.Fragrance != nil && p.Fragrance.Name != "" {
		names = append(names, p.Fragrance.Name)
	}
	for _, b := range p.Batters {
		for _, q := range b.Portions {
			for _, c := range q.Colorants {
				names = append(names, c.Name)
			}
		}
	}
	return names
}
