package observations

import (
	"fmt"
	"strings"

	"lyefast/internal/cie"
)

// Words is what an eye said of a portion.
type Words struct {
	Text string
	// BledMM is how far the colour was seen to have spread, 0 for not at all.
	BledMM float64
	// Bled tells that it was said to bleed, with or without a distance.
	Bled  bool
	steps []step
}

// step moves a colour: towards the reference or the bare soap, or by so much.
type step struct {
	to     string // "", "last", "reference" or "base"
	shift  cie.Lab
	chroma float64 // factor, 0 = none
}

// wordSteps gives words a size, in CIELAB units: about the smallest change that is
// plain to see side by side, twice ΔE00 1.8 (assumed; the doubt of [eyeSD] is wider).
var wordSteps = map[string]step{
	"held": {to: "last"}, "same": {to: "last"}, "unchanged": {to: "last"}, "holds": {to: "last"}, "no change": {to: "last"},
	"back": {to: "reference"}, "returned": {to: "reference"}, "came back": {to: "reference"},
	"gone": {to: "base"}, "vanished": {to: "base"}, "lost": {to: "base"},
	"duller": {chroma: 0.75}, "faded": {chroma: 0.65}, "paler": {shift: cie.Lab{L: 5}, chroma: 0.8}, "brighter": {chroma: 1.25},
	"browner": {shift: cie.Lab{L: -5, A: 1.5, B: 5}}, "darker": {shift: cie.Lab{L: -5}}, "lighter": {shift: cie.Lab{L: 5}},
	"redder": {shift: cie.Lab{A: 5}}, "pinker": {shift: cie.Lab{L: 1, A: 5}}, "greener": {shift: cie.Lab{A: -5}},
	"yellower": {shift: cie.Lab{B: 5}}, "bluer": {shift: cie.Lab{B: -5}},
}

// wordOrder lists the words for a message.
const wordOrder = "held, back, gone, duller, faded, paler, brighter, browner, darker, lighter, redder, pinker, greener, yellower, bluer, bled 2 mm"

// ParseWords reads what an eye says: "held", "a little duller and browner", "bled 2
// mm". Words it does not know are refused, not passed over.
func ParseWords(s string) (Words, error) {
	w := Words{Text: strings.TrimSpace(s)}
	if len(s) > 200 {
		return w, fmt.Errorf("%s is too long; put the rest into --note", quote(s))
	}
	parts := strings.FieldsFunc(strings.ReplaceAll(strings.ReplaceAll(fold(s), " and ", ","), " but ", ","), func(r rune) bool { return r == ',' || r == ';' })
	for _, part := range parts {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		if rest, ok := cutAny(part, "bled", "bleeds", "bleeding"); ok {
			w.Bled = true
			if rest != "" {
				mm, err := ParseValue(Bleed, rest)
				if err != nil {
					return w, fmt.Errorf("%s: how far it bled is a length, \"bled 2 mm\"", quote(s))
				}
				w.BledMM = mm
			}
			continue
		}
		size := 1.0
		if rest, ok := cutAny(part, "a little", "a bit", "slightly", "somewhat"); ok {
			part, size = rest, 0.5
		} else if rest, ok := cutAny(part, "much", "a lot", "far", "very"); ok {
			part, size = rest, 2
		}
		st, ok := wordSteps[part]
		if !ok {
			return w, fmt.Errorf("%s is no word for a change of colour here; say %s, with \"a little\" or \"much\"", quote(part), wordOrder)
		}
		st.shift = st.shift.Scale(size)
		if st.chroma > 0 {
			st.chroma = 1 + (st.chroma-1)*size
		}
		w.steps = append(w.steps, st)
	}
	if len(w.steps) == 0 && !w.Bled {
		return w, fmt.Errorf("no words are given; say %s", wordOrder)
	}
	return w, nil
}

// cutAny takes the first of the openings off s, as whole words.
func cutAny(s string, openings ...string) (rest string, ok bool) {
	for _, o := range openings {
		if s == o {
			return "", true
		}
		if r, ok := strings.CutPrefix(s, o+" "); ok {
			return strings.TrimSpace(r), true
		}
	}
	return s, false
}

// Estimate gives the colour the words describe: last is the latest colour known,
// reference the one the portion should have, base the bare soap; each nil where not
// known. nil means that there is nothing to go by.
func (w Words) Estimate(last, reference, base *cie.Lab) *cie.Lab {
	if len(w.steps) == 0 {
		return nil
	}
	at := last
	for _, st := range w.steps {
		switch st.to {
		case "reference":
			at = reference
		case "base":
			at = base
		}
	}
	if at == nil {
		at = reference
	}
	if at == nil {
		return nil
	}
	c := *at
	for _, st := range w.steps {
		c = c.Add(st.shift)
		if st.chroma > 0 {
			c.A, c.B = c.A*st.chroma, c.B*st.chroma
		}
	}
	c.L = min(max(c.L, 0), 100)
	c.A, c.B = min(max(c.A, -150), 150), min(max(c.B, -150), 150)
	return &c
}
