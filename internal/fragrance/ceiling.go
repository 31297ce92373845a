package fragrance

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"lyefast/internal/unit"
)

// The amendments of the IFRA Standards that matter here. From the 49th on (notified
// 10 January 2020) there are twelve categories and bar soap belongs to category 9;
// older certificates count in other categories and cannot be compared.
const (
	firstComparable = 49
	lastKnown       = 51
	soapCategory    = "9"
)

// CeilingOfOils turns a certificate's ceiling, % of the finished bar, into % of oils
// by the cured mass, the stricter case: f = c·1.278/(1−c). At 100 % there is no
// ceiling and the result is +Inf.
func CeilingOfOils(c unit.Percent) unit.Percent { return ceilingOfOils(c, barPerOil) }

// ceilingOfOils is [CeilingOfOils] for soap of another cured mass per gram of oils.
func ceilingOfOils(c unit.Percent, barPerOil float64) unit.Percent {
	if c >= 100 {
		return unit.Percent(math.Inf(1))
	}
	share := math.Max(0, float64(c)) / 100
	return unit.Percent(100 * share * barPerOil / (1 - share))
}

// Validate says what of the ceiling cannot be so.
func (m MaxUse) Validate() error {
	if !(m.Percent >= 0 && m.Percent <= 100) {
		return fmt.Errorf("%.4g %% of the finished product is out of range, 0–100 %%", float64(m.Percent))
	}
	if m.Amendment != "" {
		if _, err := ParseAmendment(m.Amendment); err != nil {
			return err
		}
	}
	if len(m.Category) > maxName || len(m.Date) > maxName {
		return fmt.Errorf("category or date is longer than %d characters; copy only the figure", maxName)
	}
	return nil
}

// ParseAmendment reads the number of an amendment, 1–99: "51", "49th", "IFRA 50th
// Amendment". Four-digit years are passed over; anything else is refused.
func ParseAmendment(text string) (int, error) {
	if len(text) > maxName {
		return 0, fmt.Errorf("amendment %.40q… is too long; write its number, like \"51\"", text)
	}
	found := 0
	for _, word := range strings.FieldsFunc(text, func(r rune) bool {
		return !(r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z')
	}) {
		digits := strings.TrimRightFunc(word, func(r rune) bool { return r < '0' || r > '9' })
		n, err := strconv.Atoi(digits)
		if err != nil || len(digits) > 2 || n == 0 {
			continue
		}
		if suffix := strings.ToLower(word[len(digits):]); !slices.Contains([]string{"", "st", "nd", "rd", "th"}, suffix) {
			continue
		}
		if found != 0 && found != n {
			return 0, fmt.Errorf("amendment %q names two numbers; write the certificate's own, like \"51\"", text)
		}
		found = n
	}
	if found == 0 {
		return 0, fmt.Errorf("amendment %q has no number; write it like \"51\"", text)
	}
	return found, nil
}

// Ceiling compares the fragrance in the scented part of a batter with its
// certificate.
type Ceiling struct {
	// OfBar is the certificate's ceiling, % of the finished bar; nil without one.
	OfBar *unit.Percent `json:"max_percent_of_bar"`
	// OfOils is the same in % of oils; nil without a comparable certificate, and where
	// the certificate sets no limit.
	OfOils *unit.Percent `json:"max_percent_of_oils"`
	// InBar is the fragrance in the cured scented bar, %.
	InBar unit.Percent `json:"in_bar_percent"`
	// Rate is the fragrance where it is, % of oils.
	Rate unit.Percent `json:"rate_percent_of_oils"`
	// Comparable is false where the certificate is missing or counts otherwise.
	Comparable bool `json:"comparable"`
	// Over tells whether a comparable ceiling is exceeded.
	Over      bool     `json:"over"`
	Category  string   `json:"category,omitempty"`
	Amendment string   `json:"amendment,omitempty"`
	Notes     []string `json:"notes"`
}

// CheckCeiling holds the fragrance's certificate against its use. The finished
// product is the cured bar, and a fragrance put into part of a batter counts in that
// part alone. Certificates for the 48th amendment or older, or for a category other
// than 9, are never compared.
func CheckCeiling(m *MaxUse, use Use) (Ceiling, error) {
	if err := use.Validate(); err != nil {
		return Ceiling{}, err
	}
	bar := use.ScentedBar()
	c := Ceiling{Rate: use.Rate(), InBar: unit.Percent(100 * float64(use.Fragrance) / float64(bar)), Notes: []string{}}
	say := func(format string, args ...any) { c.Notes = append(c.Notes, fmt.Sprintf(format, args...)) }
	if m == nil {
		say("no certificate was entered: the highest permitted use is not known; ask the supplier for category 9 of the latest amendment")
		return c, nil
	}
	if err := m.Validate(); err != nil {
		return Ceiling{}, fmt.Errorf("maximum use: %w", err)
	}
	limit := m.Percent
	c.OfBar, c.Category, c.Amendment = &limit, m.Category, m.Amendment
	c.Comparable = true
	category := strings.ToUpper(strings.TrimSpace(m.Category))
	for _, word := range []string{"CATEGORY", "CAT.", "CAT"} {
		category = strings.TrimSpace(strings.TrimPrefix(category, word))
	}
	if m.Amendment == "" {
		if category == "9A" {
			c.Comparable = false
			say("category 9A belongs to the 48th amendment or older, which counts otherwise; ask for a certificate of the 49th or later, category 9")
			return c, nil
		}
		say("the amendment is not stated; a certificate of the 48th or older counts in other categories and would not hold here")
	} else if n, err := ParseAmendment(m.Amendment); err == nil {
		switch {
		case n < firstComparable:
			c.Comparable = false
			say("amendment %d counts in other categories (9A for bar soap) and is not compared; ask for a certificate of the 49th or later", n)
			return c, nil
		case n > lastKnown:
			say("amendment %d is newer than the %dst this notebook knows; check that bar soap is still in category 9", n, lastKnown)
		}
	}
	switch category {
	case soapCategory:
	case "":
		say("the category is not stated; bar soap is in category 9")
	default:
		c.Comparable = false
		say("category %s is not the one for bar soap; look for category 9 on the certificate", strings.TrimSpace(m.Category))
		return c, nil
	}
	plain := float64(bar-use.Fragrance) / (float64(use.Oils) * use.scented())
	if most := ceilingOfOils(limit, plain); !math.IsInf(float64(most), 1) {
		c.OfOils = &most
	}
	// A rate typed as the ceiling itself must not trip over the last binary digit.
	c.Over = c.InBar > limit*(1+1e-9)
	if c.Over {
		say("%.3g %% of the bar is above the certificate's %.3g %%: at most %.3g %% of the oils where it is scented", float64(c.InBar), float64(limit), float64(*c.OfOils))
	}
	say("the ceiling is a limit of safety, no advice on dose")
	return c, nil
}

// AllergenThreshold is the level in a rinse-off product above which the EU has a
// listed fragrance allergen named on the label, % of the bar (Regulation (EU)
// 2023/1545). For leave-on products it is a tenth of that.
const AllergenThreshold unit.Percent = 0.01

// AllergenLine is one substance of the fragrance in the bar.
type AllergenLine struct {
	Name         string       `json:"name"`
	PercentOfBar unit.Percent `json:"percent_of_bar"`
	// OverThreshold tells whether it exceeds 0.01 % of the bar and so is to be named.
	OverThreshold bool `json:"over_threshold"`
}

// listed are the substances of the browning table that are on the EU list of
// fragrance allergens, by the table's name and the name a label uses.
var listed = map[string]string{
	"eugenol": "Eugenol", "isoeugenol": "Isoeugenol", "coumarin": "Coumarin", "citral": "Citral",
	"cinnamaldehyde": "Cinnamal", "benzaldehyde": "Benzaldehyde",
}

// AllergensInBar gives the share of each allergen of the fragrance in the cured scented
// bar, largest first: those of its allergen sheet, vanillin, and the browners that
// are on the EU list. Where sheet and browners name the same substance the larger
// share counts.
func (f Fragrance) AllergensInBar(d Dose) []AllergenLine {
	lines := []AllergenLine{}
	at := map[string]int{}
	add := func(name string, p unit.Percent) {
		key := plainName(name)
		if b, ok := FindBrowner(name); ok {
			if inci := listed[b.Name]; inci != "" && !strings.HasSuffix(key, " oil") {
				key, name = b.Name, inci
			}
		}
		share := unit.Percent(100 * float64(p.Of(d.Fragrance)) / float64(d.Bar))
		i, ok := at[key]
		if !ok {
			i = len(lines)
			at[key] = i
			lines = append(lines, AllergenLine{Name: name})
		}
		lines[i].PercentOfBar = max(lines[i].PercentOfBar, share)
	}
	if f.Vanillin != nil && *f.Vanillin > 0 {
		add("Vanillin", *f.Vanillin)
	}
	for _, a := range f.Allergens {
		add(a.Name, a.Percent)
	}
	for _, o := range f.Others {
		if b, ok := FindBrowner(o.Name); ok && listed[b.Name] != "" {
			add(o.Name, o.Percent)
		}
	}
	for i := range lines {
		lines[i].OverThreshold = lines[i].PercentOfBar > AllergenThreshold
	}
	slices.SortStableFunc(lines, func(a, b AllergenLine) int {
		switch {
		case a.PercentOfBar > b.PercentOfBar:
			return -1
		case a.PercentOfBar < b.PercentOfBar:
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	return lines
}

// VanillinCrossing gives the vanillin in % of the fragrance from which "Vanillin" must
// be named on an EU label of a rinse-off product, for a usage in % of oils.
func VanillinCrossing(rate unit.Percent) unit.Percent {
	if rate <= 0 {
		return 100
	}
	f := float64(rate) / 100
	return unit.Percent(math.Min(100, float64(AllergenThreshold)*(barPerOil+f)/f))
}
