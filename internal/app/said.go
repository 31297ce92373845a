package app

import (
	"strings"

	"lyefast/internal/colorants"
	"lyefast/internal/unit"
)

// ColorantSaid is a colourant with all there is to say of it.
type ColorantSaid struct {
	colorants.Product
	// Verdict, with its probability; Grounds and Batches say what it stands on.
	Verdict     colorants.Verdict `json:"verdict"`
	Probability float64           `json:"verdict_probability"`
	Grounds     colorants.Grounds `json:"grounds"`
	Batches     int               `json:"batches"`
	SwatchHex   string            `json:"swatch_hex,omitempty"`
	// Lands is the colour it settles on where it does not hold, nil where that cannot
	// be said; LandsWords are the words for it.
	Lands      *Colour `json:"lands"`
	LandsWords string  `json:"lands_words,omitempty"`
	// Dose is the usual dose, the maker's or that of its kind.
	Dose unit.GramsPerKg `json:"dose_g_per_kg"`
	// Teaspoon guesses the weight of a level teaspoon, nil where the maker weighed one.
	Teaspoon    *colorants.Teaspoon   `json:"teaspoon_guess"`
	Expectation colorants.Expectation `json:"expectation"`
	Cautions    []colorants.Caution   `json:"cautions"`
}

// SayColorant joins a colourant with what its label, its supplier's claim or its kind
// lead one to expect.
func SayColorant(p colorants.Product) ColorantSaid {
	e := colorants.Expect(p)
	s := ColorantSaid{
		Product: p, Verdict: e.Verdict, Probability: e.Probability, Grounds: e.Grounds,
		Dose: p.Dose(), Expectation: e, Cautions: colorants.Cautions(e.Reading),
	}
	if p.Swatch != nil {
		s.SwatchHex = p.Swatch.Hex()
	}
	if e.Becomes != nil {
		s.LandsWords = e.Becomes.Words
		if e.Becomes.Lab != nil {
			c := ColourOf(*e.Becomes.Lab)
			s.Lands = &c
		}
	}
	if p.TeaspoonGrams == 0 {
		kind := p.Kind
		if kind == "" {
			kind = colorants.GuessKind(p)
		}
		t := colorants.TeaspoonGrams(kind)
		s.Teaspoon = &t
	}
	return s
}

// LabelSaid is what an ingredient list says of a product's colours.
type LabelSaid struct {
	// Tokens are the colours in label order: the Colour Index number, or the row of
	// the table that has none, then +lake, +may or +nano.
	Tokens []string `json:"tokens"`
	// Unresolved is text that looks like a colour and is not known, as printed;
	// Suggestions what each may have meant.
	Unresolved  []string            `json:"unresolved"`
	Suggestions [][]string          `json:"suggestions"`
	Worst       colorants.Behaviour `json:"worst_behaviour"`
	WorstToken  string              `json:"worst_token"`
	WorstReason string              `json:"worst_reason"`
	// Details has a row for each token.
	Details  []colorants.Token   `json:"details"`
	Notes    []string            `json:"notes"`
	Cautions []colorants.Caution `json:"cautions"`
}

// ReadLabel reads an ingredient list.
func ReadLabel(text string) (LabelSaid, error) {
	if strings.TrimSpace(text) == "" {
		return LabelSaid{}, invalid("give the ingredient list as it is printed, or - to read it from standard input", "the label is empty")
	}
	r := colorants.Read(text)
	s := LabelSaid{
		Tokens: make([]string, len(r.Tokens)), Unresolved: r.Unresolved, Suggestions: r.Suggestions,
		Worst: r.Worst, WorstToken: r.WorstToken, WorstReason: r.WorstReason,
		Details: r.Tokens, Notes: r.Notes, Cautions: colorants.Cautions(r),
	}
	for i, t := range r.Tokens {
		s.Tokens[i] = t.Token
	}
	return s, nil
}
