package app

import (
	"context"
	"fmt"

	"lyefast/internal/cie"
	"lyefast/internal/fragrance"
	"lyefast/internal/observations"
	"lyefast/internal/store"
)

// Believed is what the maker's own bars have taught of browning, for one fragrance.
type Believed struct {
	Priors fragrance.Priors
	// Readings counts the readings behind it.
	Readings int
}

// Beliefs fits the constants of browning anew from every reading of an uncoloured
// scented bar in the book, and gives what they say of a fragrance: all bars share
// the clock and the strength of vanillin, each fragrance has a strength of its own.
// nil means that no bar has taught anything yet.
func (a *App) Beliefs(ctx context.Context, name string) (*Believed, error) {
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	var list []fragrance.Reading
	err = a.read(ctx, func(tx *store.Tx) error {
		batches, err := tx.Batches(ctx, store.WhichBatches{})
		if err != nil {
			return err
		}
		for i := range batches {
			more, err := s.browningReadings(ctx, tx, &batches[i])
			if err != nil {
				return err
			}
			list = append(list, more...)
		}
		return nil
	})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	post, err := fragrance.Calibrate(list, fragrance.DefaultPriors())
	if err != nil {
		return nil, fmt.Errorf("browning from your own bars: %w", err)
	}
	return &Believed{Priors: post.For(store.NameKey(name)), Readings: post.Readings}, nil
}

// browningReadings lists a batch's readings of scented portions without colourant,
// each against the bare soap it browned from: the batch's control where one was
// poured, else the plan's bare reading or the class of its oils.
func (s *Shelf) browningReadings(ctx context.Context, tx *store.Tx, b *observations.Batch) ([]fragrance.Reading, error) {
	var out []fragrance.Reading
	var bare *cie.Lab
	var k *batchKnown
	for i := range b.Portions {
		p := &b.Portions[i]
		if p.Fragrance == "" || p.BrownDose == nil || *p.BrownDose <= 0 || len(p.Colorants) > 0 {
			continue
		}
		if bare == nil {
			var err error
			if k, err = s.know(ctx, tx, b); err != nil {
				return nil, err
			}
			lab := s.bareOf(b).Lab
			if k.control != nil {
				lab = k.control.Settled().Median
			}
			bare = &lab
		}
		list, _, err := tx.Readings(ctx, p.ID, mostRead)
		if err != nil {
			return nil, err
		}
		for _, pt := range points(b, list) {
			out = append(out, fragrance.Reading{
				Fragrance: store.NameKey(p.Fragrance), Dose: float64(*p.BrownDose), Base: *bare, Day: pt.Day,
				Conditions: conditions(b), Ratio: p.Ratio, Lab: pt.Lab, Method: fragrance.Colorimeter, SD: pt.SD,
			})
		}
	}
	return out, nil
}
