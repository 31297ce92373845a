package plan

import "lyefast/internal/colorants"

// substance is one colour named on a label with what is known of it.
type substance struct {
	Printed   string
	Behaviour colorants.Behaviour
	May       bool // inside a may-contain block
	Fact      colorants.Fact
}

// worst gives the substance that decides how a product behaves; nil where the
// label names none that is known.
func (c Colorant) worst() *substance {
	f, ok := colorants.FactByID(c.Label.WorstRow)
	if !ok {
		return nil
	}
	s := &substance{Printed: c.Label.WorstToken, Behaviour: c.Label.Worst, Fact: f}
	for _, t := range c.Label.Tokens {
		if t.Token == c.Label.WorstToken {
			s.Printed, s.May = t.Printed, t.May
		}
	}
	return s
}

// substances lists everything on the label that is known, in label order. Where a
// printed name may mean several rows the first stands for them.
func (c Colorant) substances() []substance {
	var out []substance
	for _, t := range c.Label.Tokens {
		for _, id := range t.RowIDs {
			if f, ok := colorants.FactByID(id); ok {
				out = append(out, substance{t.Printed, t.Behaviour, t.May, f})
				break
			}
		}
	}
	return out
}

// Clear tells whether the product colours nothing: carriers only and no swatch.
func (c Colorant) Clear() bool { return c.Product.Swatch == nil && c.Expect.Clear }
