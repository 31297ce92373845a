package app

import (
	"context"
	"fmt"
	"strings"

	"lyefast/internal/cie"
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
	// Days are the ages in days to forecast, none = the usual ones.
	Days []float64
	// Question holds the rest; its Fragrance and Stabilizer are filled in here.
	Question fragrance.Question
}

// longestDay bounds the age that a forecast is asked for, ten years.
const longestDay = 3650

// FragranceDose reckons browning, stabiliser, lye and limits of a fragrance at a rate.
func (a *App) FragranceDose(ctx context.Context, q DoseQuery) (fragrance.Report, error) {
	f := listsOf(fragrance.Fragrance{Name: "the fragrance"})
	if q.Name != "" {
		kept, err := a.Fragrance(ctx, q.Name)
		if err != nil {
			return fragrance.Report{}, err
		}
		f = kept
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
	for _, day := range q.Days {
		if !(day >= 0 && day <= longestDay) {
			return fragrance.Report{}, invalid("", "day %.4g is out of range, 0–%d", day, longestDay)
		}
	}
	r, err := fragrance.Answer(q.Question)
	if err != nil {
		return r, &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("dose of %q: %v", f.Name, err), Tip: hintOf(err)}
	}
	if len(q.Days) > 0 && r.Dose.Known {
		return r, otherDays(&r, q)
	}
	return r, nil
}

// otherDays puts the days that were asked for in place of the usual ones.
func otherDays(r *fragrance.Report, q DoseQuery) error {
	lab := fragrance.DefaultBase
	if q.Question.Base != nil {
		lab = *q.Question.Base
	}
	base, err := fragrance.NewBase(lab)
	if err != nil {
		return err
	}
	beliefs := q.Question.Beliefs
	if beliefs == nil {
		p := fragrance.DefaultPriors()
		beliefs = &p
	}
	at := func(ratio float64) []fragrance.DayColour {
		list := []fragrance.DayColour{}
		for _, b := range beliefs.Forecast(&base, r.Dose.Percent, q.Days, q.Question.Conditions, ratio) {
			list = append(list, fragrance.DayColour{
				Day: b.Day, Lab: triple(b.Median), P05: triple(b.P05), P95: triple(b.P95),
				Hex: b.Median.Hex(), Word: b.Word, WordPale: b.Pale, WordDark: b.Dark,
				DeltaE00: cie.DeltaE00(lab, b.Median),
			})
		}
		return list
	}
	r.Days = at(0)
	if r.Stabilizer.Ratio > 0 {
		r.WithStabilizer = at(r.Stabilizer.Ratio)
	}
	return nil
}

func triple(c cie.Lab) [3]float64 { return [3]float64{c.L, c.A, c.B} }

// ParseShare reads "coumarin 3.1 %": a substance and its share of the fragrance.
func ParseShare(text string) (fragrance.Share, error) {
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
