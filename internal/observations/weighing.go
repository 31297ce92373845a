package observations

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"lyefast/internal/formula"
	"lyefast/internal/unit"
)

// Weighing is a bar's weight on a day.
type Weighing struct {
	ID     int64      `json:"id"`
	At     time.Time  `json:"at"`
	Clock  bool       `json:"clock_known"`
	Batter string     `json:"batter"`
	Bar    string     `json:"bar"` // which bar, in the maker's words; "" = the only one
	Grams  unit.Grams `json:"grams"`
	Note   string     `json:"note,omitempty"`
}

// Check refuses what is no bar of this batch.
func (w *Weighing) Check(b *Batch, now time.Time) error {
	switch {
	case !(w.Grams > 0 && w.Grams <= 50_000):
		return fmt.Errorf("a bar weighs 0–50000 g, got %g g", float64(w.Grams))
	case w.At.After(now.Add(dayDoubt(w.Clock))):
		return fmt.Errorf("a weighing on %s is in the future", w.At.Format(time.DateOnly))
	case w.At.Before(b.PouredAt.Add(-dayDoubt(w.Clock && b.PouredClock))):
		return fmt.Errorf("a weighing on %s lies before the pour of %s", w.At.Format(time.DateOnly), b.Code)
	case len([]rune(w.Bar)) > 40 || len(w.Note) > maxNote:
		return fmt.Errorf("the name of the bar or the note is too long")
	}
	return nil
}

// Dryness is how far a bar has dried, weighing by weighing.
type Dryness struct {
	Batter string     `json:"batter"`
	Bar    string     `json:"bar"`
	Fresh  unit.Grams `json:"fresh_g"`
	// FreshDay is the day of the first weighing, which is taken for the fresh weight.
	FreshDay float64       `json:"fresh_day"`
	Steps    []DrynessStep `json:"steps"`
}

// DrynessStep is one weighing after the first.
type DrynessStep struct {
	Day   float64    `json:"day"`
	Grams unit.Grams `json:"grams"`
	formula.Cure
}

// WaterOf works the water left out of the weighings of a batch, bar by bar: the
// first weighing of a bar is taken for its fresh weight, with the water of the
// recipe. Bars of a batter whose water is not known are left out.
func WaterOf(b *Batch, list []Weighing) []Dryness {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(x, y Weighing) int {
		return cmp.Or(cmp.Compare(x.Batter, y.Batter), cmp.Compare(x.Bar, y.Bar), x.At.Compare(y.At))
	})
	out := []Dryness{}
	for _, w := range list {
		pot, err := b.Batter(w.Batter)
		if err != nil {
			continue
		}
		n := len(out)
		if n == 0 || out[n-1].Batter != w.Batter || out[n-1].Bar != w.Bar {
			out = append(out, Dryness{Batter: w.Batter, Bar: w.Bar, Fresh: w.Grams, FreshDay: b.Day(w.At), Steps: []DrynessStep{}})
			continue
		}
		d := &out[n-1]
		c, err := formula.CureWater(pot.FreshWater, d.Fresh, w.Grams)
		if err != nil {
			continue
		}
		d.Steps = append(d.Steps, DrynessStep{Day: b.Day(w.At), Grams: w.Grams, Cure: c})
	}
	return out
}

// Lesson is one line to be told again wherever the same scent, colourant or recipe
// is planned.
type Lesson struct {
	ID    int64     `json:"id"`
	Batch string    `json:"batch"`
	Title string    `json:"title"`
	At    time.Time `json:"at"`
	Text  string    `json:"text"`
	// About names what the batch was made of.
	Fragrances []string `json:"fragrances"`
	Colorants  []string `json:"colorants"`
}

// CheckLesson refuses what is not one line.
func CheckLesson(text string) error {
	switch {
	case text == "":
		return fmt.Errorf("the lesson has no words")
	case len([]rune(text)) > 300:
		return fmt.Errorf("a lesson is one line of at most 300 letters, got %d", len([]rune(text)))
	}
	return nil
}
