package photo

import (
	"math"
	"strings"
	"testing"

	"lyefast/internal/cie"
)

func TestCardsThatCannotBe(t *testing.T) {
	lab := func(l, a, b float64) *cie.Lab { return &cie.Lab{L: l, A: a, B: b} }
	for _, c := range []struct {
		card Card
		want string // "" = sound
	}{
		{Card{Kind: ChartCard, Edition: Before2014}, ""},
		{Card{Kind: GreyCard, Lab: lab(50, -0.4, 0.2)}, ""},
		{Card{Kind: SheetCard, Lab: lab(94, 2.5, -9)}, ""},
		{Card{}, "needs a kind"},
		{Card{Kind: "poster"}, "no kind of card"},
		{Card{Kind: ChartCard}, "needs its edition"},
		{Card{Kind: ChartCard, Edition: "1999"}, "not known"},
		{Card{Kind: ChartCard, Edition: After2014, Lab: lab(90, 0, 0)}, "no one value"},
		{Card{Kind: GreyCard}, "needs its value"},
		{Card{Kind: SheetCard, Edition: After2014, Lab: lab(90, 0, 0)}, "that of a chart"},
		{Card{Kind: SheetCard, Lab: lab(39, 0, 0)}, "too dark"},
		{Card{Kind: GreyCard, Lab: lab(4, 0, 0)}, "too dark"},
		{Card{Kind: GreyCard, Lab: lab(50, 20, 0)}, "no grey"},
		{Card{Kind: GreyCard, Lab: lab(math.NaN(), 0, 0)}, "L*"},
	} {
		err := c.card.Validate()
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%+v: got %v, want %q", c.card, err, c.want)
		}
	}
}
