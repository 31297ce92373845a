package app

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"lyefast/internal/fragrance"
	"lyefast/internal/unit"
)

// DoseQuery asks what a fragrance does at a rate.
type DoseQuery struct {
	// Name is a fragrance of the shelf; "" where Inline says it all.
	Name string
	// Inline is altered by what the maker stated in place; nil = as on the shelf.
	Inline func(*fragrance.Fragrance) error
	// Stabilizer is one of the shelf, "" = InlineStabilizer, else one of unknown strength.
	Stabilizer       string
	InlineStabilizer *fragrance.Stabilizer
	// Question holds the rest; its Fragrance and Stabilizer are filled in here.
	Question fragrance.Question
}

// FragranceDose reckons browning, stabiliser, lye and limits of a fragrance at a rate.
func (a *App) FragranceDose(ctx context.Context, q DoseQuery) (fragrance.Report, error) {
	f := listsOf(fragrance.Fragrance{Name: "the fragrance"})
	if q.Name != "" {
		kept, err := a.Fragrance(ctx, q.Name)
		switch {
		case err == nil:
			f = kept
		case errors.Is(err, ErrNotFound) && q.Inline != nil:
			f.Name = q.Name // what is stated in place says enough
		default:
			return fragrance.Report{}, err
		}
	}
	if q.Inline != nil {
		if err := q.Inline(&f); err != nil {
			return fragrance.Report{}, err
		}
	}
	q.Question.Fragrance, q.Question.Stabilizer = f, q.InlineStabilizer
	if q.Stabilizer != "" {
		s, err := a.Stabilizer(ctx, q.Stabilizer)
		if err != nil {
			return fragrance.Report{}, err
		}
		q.Question.Stabilizer = &s
	}
	if q.Question.Beliefs == nil {
		own, err := a.Beliefs(ctx, f.Name)
		if err != nil {
			return fragrance.Report{}, err
		}
		if own != nil {
			q.Question.Beliefs, q.Question.Readings = &own.Priors, own.Readings
		}
	}
	r, err := fragrance.Answer(q.Question)
	if err != nil {
		return r, &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("dose of %q: %v", f.Name, err), Tip: hintOf(err)}
	}
	return r, nil
}

// maxShareText bounds a substance with its share, in bytes.
const maxShareText = 400

// ParseShare reads "coumarin 3.1 %": a substance and its share of the fragrance.
func ParseShare(text string) (fragrance.Share, error) {
	if len(text) > maxShareText {
		return fragrance.Share{}, fmt.Errorf("%q is too long for a substance with its share", clipped(text))
	}
	for i := len(text) - 1; i > 0; i-- {
		if text[i] != ' ' && text[i] != '=' && text[i] != ':' {
			continue
		}
		if p, err := unit.ParsePercent(text[i+1:]); err == nil {
			return fragrance.Share{Name: strings.Trim(text[:i], " :="), Percent: p}, nil
		}
	}
	return fragrance.Share{}, fmt.Errorf("%q is not a substance with its share; write it like \"coumarin 3.1 %%\"", clipped(text))
}
