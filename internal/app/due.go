package app

import (
	"cmp"
	"context"
	"slices"
	"time"

	"lyefast/internal/observations"
	"lyefast/internal/store"
	"lyefast/internal/when"
)

// DueSaid is what is to be done.
type DueSaid struct {
	Now   time.Time `json:"now"`
	Items []DueItem `json:"items"`
	// Enough names readings that are due and would not change anything any more.
	Enough []DueItem `json:"not_needed"`
}

// DueItem is one thing to do.
type DueItem struct {
	observations.Item
	Title string `json:"title"`
	// Say is the day in words.
	Say string `json:"say"`
	// Band is how well the settled colour is known, ΔE00; 0 = no curve yet.
	Band float64 `json:"band_delta_e00,omitempty"`
}

// Due lists what the open batches ask for, most urgent first, with each portion's next
// reading.
func (a *App) Due(ctx context.Context) (*DueSaid, error) {
	now := a.Now()
	out := &DueSaid{Now: now, Items: []DueItem{}, Enough: []DueItem{}}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	err = a.read(ctx, func(tx *store.Tx) error {
		list, err := tx.Batches(ctx, store.WhichBatches{Open: true})
		if err != nil {
			return err
		}
		for i := range list {
			if err := s.due(ctx, tx, &list[i], now, out); err != nil {
				return err
			}
		}
		return nil
	})
	rank := map[observations.State]int{observations.Overdue: 0, observations.Today: 1, observations.Next: 2}
	slices.SortStableFunc(out.Items, func(x, y DueItem) int {
		return cmp.Or(cmp.Compare(rank[x.State], rank[y.State]), x.At.Compare(y.At))
	})
	return out, err
}

// due adds what one batch asks for.
func (s *Shelf) due(ctx context.Context, tx *store.Tx, b *observations.Batch, now time.Time, out *DueSaid) error {
	var failed error
	items := observations.Due(b, now, func(p *observations.Portion, slot observations.Slot) bool {
		done, err := tx.ReadWithin(ctx, p.ID, slot.From, slot.Until)
		if err != nil {
			failed = err
		}
		return done
	})
	if failed != nil {
		return failed
	}
	var k *batchKnown // made when the first portion has readings to ask about
	for _, it := range items {
		d := DueItem{Item: it, Title: b.Title, Say: when.When{Time: it.At}.Say(now)}
		if it.Do != observations.DoRead || it.State == observations.Next {
			out.Items = append(out.Items, d)
			continue
		}
		p, err := b.Portion(it.Portion)
		if err != nil {
			return err
		}
		list, _, err := tx.Readings(ctx, p.ID, mostRead)
		if err != nil {
			return err
		}
		pts := points(b, list)
		if len(pts) < 4 {
			out.Items = append(out.Items, d)
			continue
		}
		if k == nil {
			if k, err = s.know(ctx, tx, b); err != nil {
				return err
			}
		}
		prior := k.prior(p)
		c, _, err := k.fit(p, pts, prior)
		if err != nil {
			return err
		}
		band, _, enough := k.gain(p, c, pts, prior, it.Day)
		d.Band = band
		if enough {
			out.Enough = append(out.Enough, d)
		} else {
			out.Items = append(out.Items, d)
		}
	}
	return nil
}
