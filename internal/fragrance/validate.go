package fragrance

import (
	"fmt"
	"strings"

	"lyefast/internal/near"
	"lyefast/internal/unit"
)

// Bounds on what is kept of one fragrance or stabiliser, in bytes and entries.
const (
	maxName = 200
	maxText = 20_000
	maxList = 300
)

// Validate says what of the fragrance cannot be so: shares out of range or adding
// up to more than 100 %, a substance listed twice, words outside the lists.
func (f Fragrance) Validate() error {
	if err := nameFits("fragrance", f.Name); err != nil {
		return err
	}
	sum := unit.Percent(0)
	for _, s := range []struct {
		name  string
		value *unit.Percent
	}{{"vanillin", f.Vanillin}, {"ethyl vanillin", f.EthylVanillin}} {
		if s.value == nil {
			continue
		}
		if !(*s.value >= 0 && *s.value <= 100) {
			return fmt.Errorf("%s %.4g %% of %q is out of range; it is a share of the fragrance, 0–100 %%", s.name, float64(*s.value), f.Name)
		}
		sum += *s.value
	}
	seen := map[string]bool{}
	for _, o := range f.Others {
		if err := shareFits(o); err != nil {
			return fmt.Errorf("other browner of %q: %w", f.Name, err)
		}
		if isOneOf(o.Name, vanillinNames) || isOneOf(o.Name, ethylVanillinNames) {
			return fmt.Errorf("%q of %q has a field of its own; state it there, not among the other browners", o.Name, f.Name)
		}
		if err := notTwice(seen, o); err != nil {
			return fmt.Errorf("other browner of %q: %w", f.Name, err)
		}
		sum += o.Percent
	}
	if sum > 100 {
		return fmt.Errorf("vanillin and other browners of %q add up to %.4g %%, more than the fragrance itself; check the shares", f.Name, float64(sum))
	}
	sum = 0
	seen = map[string]bool{}
	for _, a := range f.Allergens {
		if err := shareFits(a); err != nil {
			return fmt.Errorf("allergen of %q: %w", f.Name, err)
		}
		if err := notTwice(seen, a); err != nil {
			return fmt.Errorf("allergen of %q: %w", f.Name, err)
		}
		sum += a.Percent
	}
	if sum > 100 {
		return fmt.Errorf("allergens of %q add up to %.4g %%, more than the fragrance itself; check the shares", f.Name, float64(sum))
	}
	if f.FlashPoint != nil && !(*f.FlashPoint > -100 && *f.FlashPoint < 500) {
		return fmt.Errorf("flash point %.4g °C of %q is out of range; it stands on the safety sheet in °C", float64(*f.FlashPoint), f.Name)
	}
	if f.MaxUse != nil {
		if err := f.MaxUse.Validate(); err != nil {
			return fmt.Errorf("maximum use of %q: %w", f.Name, err)
		}
	}
	switch f.Moves {
	case "", Slow, Normal, Fast, Seizes:
	default:
		return fmt.Errorf("speed %q of %q is not known; use slow, normal, fast or seizes", f.Moves, f.Name)
	}
	if len(f.Others) > maxList || len(f.Allergens) > maxList || len(f.Claims) > maxList {
		return fmt.Errorf("a list of %q has more than %d entries; leave out what does not matter", f.Name, maxList)
	}
	if len(f.Note) > maxText || len(strings.Join(f.Claims, "")) > maxText || len(f.Lot) > maxName {
		return fmt.Errorf("note, claims or lot of %q are too long; the notebook keeps %d characters of a text, %d of a lot", f.Name, maxText, maxName)
	}
	return nil
}

func nameFits(what, name string) error {
	switch {
	case strings.TrimSpace(name) == "":
		return fmt.Errorf("the %s has no name; give it one", what)
	case len(name) > maxName:
		return fmt.Errorf("%s name %.40q… is too long; keep it under %d characters", what, name, maxName)
	case strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return fmt.Errorf("%s name %q holds a control character; type it in plain letters", what, name)
	}
	return nil
}

func shareFits(s Share) error {
	if err := nameFits("substance", s.Name); err != nil {
		return err
	}
	if !(s.Percent >= 0 && s.Percent <= 100) {
		return fmt.Errorf("%.4g %% of %q is out of range; it is a share of the fragrance, 0–100 %%", float64(s.Percent), s.Name)
	}
	return nil
}

func notTwice(seen map[string]bool, s Share) error {
	key := plainName(s.Name)
	if seen[key] {
		return fmt.Errorf("%q is listed twice; add the shares up", s.Name)
	}
	seen[key] = true
	return nil
}

// Validate says what of the stabiliser cannot be so.
func (s Stabilizer) Validate() error {
	if err := nameFits("stabiliser", s.Name); err != nil {
		return err
	}
	if s.Active != ActiveUnknown {
		if _, ok := saltOf(s.Active); !ok {
			if _, err := ParseActive(string(s.Active)); err != nil {
				return fmt.Errorf("stabiliser %q: %w", s.Name, err)
			}
			return fmt.Errorf("stabiliser %q: active %q is not written as the notebook keeps it", s.Name, s.Active)
		}
	}
	if s.Strength != nil {
		switch {
		case !(*s.Strength > 0 && *s.Strength <= 100):
			return fmt.Errorf("strength %.4g %% of %q is out of range; it is the share of active by weight, above 0 to 100 %%, or not stated", float64(*s.Strength), s.Name)
		case s.Active == ActiveUnknown:
			return fmt.Errorf("stabiliser %q has a strength but no active; say which salt the %.4g %% are, or state neither", s.Name, float64(*s.Strength))
		}
	}
	if len(s.Note) > maxText {
		return fmt.Errorf("note of %q is too long; the notebook keeps %d characters", s.Name, maxText)
	}
	return nil
}

// otherSpellings are further names of the salts, folded as by [foldSalt].
var otherSpellings = map[string]Active{
	"sulfite": SodiumSulfite, "na2so3": SodiumSulfite, "e221": SodiumSulfite,
	"bisulfite": SodiumBisulfite, "sodiumhydrogensulfite": SodiumBisulfite, "nahso3": SodiumBisulfite, "e222": SodiumBisulfite,
	"metabisulfite": SodiumMetabisulfite, "sodiumpyrosulfite": SodiumMetabisulfite, "sodiumdisulfite": SodiumMetabisulfite, "na2s2o5": SodiumMetabisulfite, "e223": SodiumMetabisulfite,
	"thiosulfate": SodiumThiosulfate, "na2s2o3": SodiumThiosulfate, "sodiumthiosulfateanhydrous": SodiumThiosulfate, "anhydroussodiumthiosulfate": SodiumThiosulfate,
	"thiosulfatepentahydrate": SodiumThiosulfatePentahydrate, "na2s2o35h2o": SodiumThiosulfatePentahydrate,
	"dithionite": SodiumDithionite, "hydrosulfite": SodiumDithionite, "sodiumhydrosulfite": SodiumDithionite, "na2s2o4": SodiumDithionite,
}

// foldSalt brings a salt's name to one spelling: letters and digits in lower case,
// sulphite as sulfite, disodium as sodium.
func foldSalt(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return -1
	}, s)
	s = strings.ReplaceAll(s, "sulph", "sulf")
	return strings.ReplaceAll(s, "disodium", "sodium")
}

// ParseActive reads the name of a stabiliser's reducing salt as a maker or a safety
// sheet writes it: "sodium sulphite", "Na2S2O5", "metabisulfite". The empty text and
// "unknown" give [ActiveUnknown]. A borohydride is refused with the reason; a name
// that is nearly one of the salts is suggested for, never guessed.
func ParseActive(text string) (Active, error) {
	if len(text) > maxName {
		return "", fmt.Errorf("active %.40q… is too long for the name of a salt", text)
	}
	key := foldSalt(text)
	if t := strings.TrimSpace(text); t == "" || key == "unknown" || key == "notstated" {
		return ActiveUnknown, nil
	}
	if strings.Contains(key, "borohydride") || strings.Contains(key, "nabh4") {
		return "", fmt.Errorf("active %q is refused: a borohydride turns vanillin into a scentless alcohol, is corrosive and makes hydrogen gas; use a sulfite type", text)
	}
	for _, s := range salts {
		if foldSalt(string(s.active)) == key {
			return s.active, nil
		}
	}
	if a, ok := otherSpellings[key]; ok {
		return a, nil
	}
	if n := near.Near(text, activeNames()); len(n) > 0 {
		return "", fmt.Errorf("active %q is not known; did you mean %q?", text, n[0])
	}
	return "", fmt.Errorf("active %q is not known; use one of %s, or leave it out", text, strings.Join(activeNames(), ", "))
}

func activeNames() (names []string) {
	for _, s := range salts {
		names = append(names, string(s.active))
	}
	return names
}
