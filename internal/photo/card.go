package photo

import (
	"errors"
	"fmt"
	"strings"

	"lyefast/internal/cie"
)

// Card is a chart, a grey card or a sheet of the maker's that is laid beside slices.
type Card struct {
	ID   int64    `json:"id,omitempty"`
	Name string   `json:"name"`
	Kind CardKind `json:"kind"`
	// Edition is that of a chart, "" for the others.
	Edition Edition `json:"edition,omitempty"`
	// Lab is the colour for D50, 2°, of a grey card or a sheet; nil for a chart.
	Lab *cie.Lab `json:"lab_d50"`
	// LearntFrom says where the colour is from, such as a paper or a photograph.
	LearntFrom string `json:"learnt_from,omitempty"`
	Note       string `json:"note,omitempty"`
	Retired    bool   `json:"retired,omitempty"`
}

// CardKind is what a card is.
type CardKind string

// The kinds of cards: a chart of 24 patches, a card of one even grey, a white sheet.
const (
	ChartCard CardKind = "chart"
	GreyCard  CardKind = "grey"
	SheetCard CardKind = "sheet"
)

// ParseCardKind reads a kind.
func ParseCardKind(s string) (CardKind, error) {
	switch k := CardKind(strings.ToLower(strings.TrimSpace(s))); k {
	case ChartCard, GreyCard, SheetCard:
		return k, nil
	case "gray":
		return GreyCard, nil
	}
	return "", fmt.Errorf("%q is no kind of card; say %s, %s or %s", s, ChartCard, GreyCard, SheetCard)
}

const (
	// darkestSheet is the least L* of a sheet that can stand for white, darkestGrey that
	// of a grey that shows more than the lens's own stray light.
	darkestSheet, darkestGrey = 40, 5
	// mostTint is the most chroma taken for a grey or a white: about twice what brightened
	// paper has (from memory, no source). Beyond lies a coloured sheet or a slip of the pen.
	mostTint = 16
)

// Validate says what of a card cannot be so.
func (c Card) Validate() error {
	if c.Kind == "" {
		return fmt.Errorf("a card needs a kind: %s, %s or %s", ChartCard, GreyCard, SheetCard)
	}
	if _, err := ParseCardKind(string(c.Kind)); err != nil {
		return err
	}
	if c.Kind == ChartCard {
		switch {
		case c.Lab != nil:
			return errors.New("a chart has no one value; its patches follow from the edition")
		case c.Edition == "":
			return fmt.Errorf("a chart needs its edition: %s or %s, by the date on its back (the change was in November 2014)", After2014, Before2014)
		}
		_, err := ParseEdition(string(c.Edition))
		return err
	}
	if c.Edition != "" {
		return errors.New("an edition is that of a chart; a grey card or a sheet has a value instead")
	}
	if c.Lab == nil {
		return errors.New("a grey card or a sheet needs its value: L*, a*, b* for D50, such as 81.3,-0.6,0.4")
	}
	if err := c.Lab.Check(); err != nil {
		return err
	}
	if c.Lab.LCh().C > mostTint {
		return fmt.Errorf("L*, a*, b* of %g, %g, %g is no grey and no white", c.Lab.L, c.Lab.A, c.Lab.B)
	}
	if c.Kind == SheetCard && c.Lab.L < darkestSheet || c.Lab.L < darkestGrey {
		return fmt.Errorf("an L* of %g is too dark for a %s", c.Lab.L, map[CardKind]string{SheetCard: "white sheet", GreyCard: "grey card"}[c.Kind])
	}
	return nil
}
