package fragrance

import (
	"testing"

	"lyefast/internal/unit"
)

func movesOf(t *testing.T, f Fragrance, h Handling) Risk {
	t.Helper()
	if f.Name == "" {
		f.Name = "Harbour Amber"
	}
	r, err := Moves(f, h)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Basis) == 0 {
		t.Error("a score without grounds")
	}
	return r
}

// The prior scores, all assumptions.
func TestMovesByKind(t *testing.T) {
	for name, c := range map[string]struct {
		f                         Fragrance
		accelerates, rices, seize float64
	}{
		"eugenol":         {Fragrance{Others: []Share{{"eugenol", 6}}}, 80, 10, 30},
		"cinnamal":        {Fragrance{Allergens: []Share{{"Cinnamal", 5}}}, 80, 10, 30},
		"little eugenol":  {Fragrance{Allergens: []Share{{"Eugenol", 1}}}, 30, 10, 5},
		"spice by name":   {Fragrance{Name: "Clove Pier"}, 80, 10, 30},
		"floral by name":  {Fragrance{Name: "Ylang Quay"}, 45, 10, 5},
		"rose alcohols":   {Fragrance{Allergens: []Share{{"Geraniol", 6}, {"Citronellol", 8}}}, 45, 10, 5},
		"rosemary":        {Fragrance{Name: "Rosemary Quay"}, 30, 10, 5},
		"vanillin":        {Fragrance{Vanillin: percent(5)}, 35, 10, 5},
		"little vanillin": {Fragrance{Vanillin: percent(4)}, 30, 10, 5},
		"citrus":          {Fragrance{Allergens: []Share{{"Limonene", 60}}}, 10, 10, 5},
		"mint":            {Fragrance{Name: "Mint Jetty"}, 10, 10, 5},
		"unknown":         {Fragrance{}, 30, 10, 5},
	} {
		r := movesOf(t, c.f, Handling{})
		within(t, name+" accelerates", float64(r.Accelerates.Percent), c.accelerates, 1e-9)
		within(t, name+" rices", float64(r.Rices.Percent), c.rices, 1e-9)
		within(t, name+" seizes", float64(r.Seizes.Percent), c.seize, 1e-9)
		within(t, name+" weight", r.Accelerates.Yes+r.Accelerates.No, 4, 1e-9)
	}
	r := movesOf(t, Fragrance{}, Handling{SolventHeavy: true})
	within(t, "solvent rices", float64(r.Rices.Percent), 20, 1e-9)
}

func TestMovesOdds(t *testing.T) {
	odds := func(p unit.Percent) float64 { return float64(p) / (100 - float64(p)) }
	plain := movesOf(t, Fragrance{}, Handling{})
	for name, c := range map[string]struct {
		h    Handling
		want float64
	}{
		"hot batter": {Handling{BatterAt: celsius(44)}, 2},
		"43 °C":      {Handling{BatterAt: celsius(43)}, 1},
		"strong lye": {Handling{LyeConcentration: percent(40)}, 1.5},
		"usage":      {Handling{Rate: 6}, 1.5},
		"by hand":    {Handling{HandStirred: true}, 0.6},
		"all":        {Handling{BatterAt: celsius(50), LyeConcentration: percent(40), Rate: 6, HandStirred: true}, 2 * 1.5 * 1.5 * 0.6},
	} {
		r := movesOf(t, Fragrance{}, c.h)
		within(t, name, odds(r.Accelerates.Percent)/odds(plain.Accelerates.Percent), c.want, 1e-9)
		within(t, name+", seizing", odds(r.Seizes.Percent)/odds(plain.Seizes.Percent), c.want, 1e-9)
	}
	// Warmth and stirring are remedies against ricing, not causes.
	r := movesOf(t, Fragrance{}, Handling{BatterAt: celsius(50), HandStirred: true})
	within(t, "ricing", float64(r.Rices.Percent), float64(plain.Rices.Percent), 1e-9)
}

// A Beta prior of weight 4: four batches weigh as much as the prior, many outweigh it.
func TestMovesLearns(t *testing.T) {
	f := Fragrance{Others: []Share{{"eugenol", 6}}}
	r := movesOf(t, f, Handling{Noted: Noted{Batches: 4}})
	within(t, "four quiet batches", float64(r.Accelerates.Percent), 40, 1e-9)
	r = movesOf(t, f, Handling{Noted: Noted{Batches: 6, Accelerated: 6, Seized: 3}})
	within(t, "six fast batches", float64(r.Accelerates.Percent), 100*(3.2+6)/10, 1e-9)
	within(t, "three of them seized", float64(r.Seizes.Percent), 100*(1.2+3)/10, 1e-9)

	said := movesOf(t, Fragrance{Moves: Seizes}, Handling{})
	within(t, "said to seize", float64(said.Seizes.Percent), 100*(0.2+2)/6, 1e-9)
	slow := movesOf(t, Fragrance{Moves: Slow, Claims: []string{"no acceleration"}}, Handling{})
	within(t, "said and claimed to be slow", float64(slow.Accelerates.Percent), 100*1.2/7, 1e-9)
}

func TestMovesRefuses(t *testing.T) {
	for _, h := range []Handling{
		{BatterAt: celsius(400)}, {LyeConcentration: percent(0)}, {Rate: -1},
		{Noted: Noted{Batches: 1, Accelerated: 2}}, {Noted: Noted{Batches: -1}},
	} {
		if _, err := Moves(Fragrance{Name: "x"}, h); err == nil {
			t.Errorf("%+v was taken", h)
		}
	}
	if _, err := Moves(Fragrance{}, Handling{}); err == nil {
		t.Error("a fragrance without name was taken")
	}
}
