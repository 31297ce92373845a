package fragrance

import (
	"fmt"
	"math"
	"strings"

	"lyefast/internal/unit"
)

// Browner is a substance that colours soap beside vanillin itself.
type Browner struct {
	Name string `json:"name"`
	// Weight is how much it browns per gram, vanillin = 1; Low and High are an 80 %
	// guess. All three are assumptions, set by what is known of the chemistry.
	Weight float64 `json:"weight"`
	Low    float64 `json:"weight_low"`
	High   float64 `json:"weight_high"`
	Hue    string  `json:"hue"`
	// OffPath marks a hue that lies off the brown path: it is warned of, never computed.
	OffPath bool `json:"off_path,omitempty"`
	// also lists other names, in lower case.
	also []string
}

// browners is the table of substances. What was read of them: clove oil, heliotropin
// and indole discolour toilet soap (J. Soc. Cosmet. Chem. 9 (1958) no. 4, 248–254),
// ethyl vanillin as vanillin and its phenol esters less, in alcohol (US 5,874,398),
// eugenol's salt is coloured and benzaldehyde does not last (Lueger, Lexikon der
// gesamten Technik), anthranilates give yellow Schiff bases (Perfumer & Flavorist).
var browners = []Browner{
	{"eugenol", 0.25, 0.1, 0.5, "tan to dark brown", false, []string{"clove oil", "clove bud oil", "clove leaf oil", "4-allyl-2-methoxyphenol"}},
	{"isoeugenol", 0.4, 0.15, 0.8, "brown, pink-brown", false, []string{"2-methoxy-4-propenylphenol"}},
	{"heliotropin", 0.05, 0, 0.15, "yellow-cream", false, []string{"piperonal", "heliotropine"}},
	{"coumarin", 0.02, 0, 0.05, "faint yellow", false, nil},
	{"indole", 0.3, 0.1, 1, "pink, red-brown", true, nil},
	{"methyl anthranilate", 0.15, 0.05, 0.4, "yellow to orange", true, []string{"methyl 2-aminobenzoate"}},
	{"citral", 0.1, 0, 0.2, "yellow", false, []string{"geranial", "neral"}},
	{"cinnamaldehyde", 0.15, 0.05, 0.3, "yellow-orange", false, []string{"cinnamal", "cinnamic aldehyde"}},
	{"benzaldehyde", 0.01, 0.01, 0.01, "almost none", false, nil},
	{"maltol", 0.1, 0, 0.3, "pink-brown with iron", false, nil},
	{"ethyl maltol", 0.1, 0, 0.3, "pink-brown with iron", false, nil},
	{"vanillyl alcohol", 0.2, 0.05, 0.5, "tan", false, []string{"vanillic alcohol"}},
	{"vanillin isobutyrate", 0.6, 0.2, 1, "low at first, then brown", false, []string{"vanillyl isobutyrate", "vanillin acetate", "vanillin phenol ester"}},
}

// Browners gives the table of substances which the dose counts or warns of.
func Browners() []Browner { return append([]Browner(nil), browners...) }

// brownerNames lists the names and synonyms of the table.
func brownerNames() (names []string) {
	for _, b := range browners {
		names = append(append(names, b.Name), b.also...)
	}
	return names
}

// FindBrowner finds a substance of the table by name or synonym, whatever its case.
func FindBrowner(name string) (Browner, bool) {
	key := plainName(name)
	for _, b := range browners {
		if b.Name == key {
			return b, true
		}
		for _, a := range b.also {
			if a == key {
				return b, true
			}
		}
	}
	return Browner{}, false
}

// plainName folds a substance name: lower case, single blanks, no trailing note in
// brackets ("Eugenol (CAS …)").
func plainName(name string) string {
	name, _, _ = strings.Cut(name, "(")
	return strings.ToLower(strings.Join(strings.Fields(name), " "))
}

// Names under which the two aldehydes with fields of their own may turn up in a list.
var (
	vanillinNames      = []string{"vanillin", "vanilline", "4-hydroxy-3-methoxybenzaldehyde"}
	ethylVanillinNames = []string{"ethyl vanillin", "ethylvanillin", "ethyl vanilline", "bourbonal", "3-ethoxy-4-hydroxybenzaldehyde"}
)

func isOneOf(name string, names []string) bool {
	key := plainName(name)
	for _, n := range names {
		if n == key {
			return true
		}
	}
	return false
}

// barPerOil is the cured mass of unscented soap per gram of oils: the oil itself,
// 0.138 of NaOH and 0.14 of water that stays (assumed).
const barPerOil = 1.278

// Use is how a batter uses its fragrance.
type Use struct {
	Oils      unit.Grams // of the whole batter, > 0
	Fragrance unit.Grams // of the whole batter, ≥ 0
	// ScentedShare is the share of the batter that takes all of the fragrance, %;
	// 0 means all of it.
	ScentedShare unit.Percent
	// Bar is the cured mass of the whole batter; 0 means oils·1.278 + fragrance.
	Bar unit.Grams
}

// Rate gives the fragrance in % of oils where it is: all of a batter's fragrance in
// half its soap is a double rate there.
func (u Use) Rate() unit.Percent {
	return unit.Percent(100 * float64(u.Fragrance) / (float64(u.Oils) * u.scented()))
}

// scented is the scented share as a fraction.
func (u Use) scented() float64 {
	if u.ScentedShare == 0 {
		return 1
	}
	return float64(u.ScentedShare) / 100
}

// ScentedBar gives the cured mass of the scented part.
func (u Use) ScentedBar() unit.Grams {
	plain := barPerOil * u.Oils
	if u.Bar > 0 {
		plain = u.Bar - u.Fragrance
	}
	return plain*unit.Grams(u.scented()) + u.Fragrance
}

// Validate refuses masses and shares that no batter has.
func (u Use) Validate() error {
	switch {
	case !(u.Oils > 0) || u.Oils > 1e9:
		return fmt.Errorf("oils of %.4g g are out of range; state the batter's oils in grams, more than 0", float64(u.Oils))
	case !(u.Fragrance >= 0) || u.Fragrance > u.Oils:
		return fmt.Errorf("fragrance of %.4g g is out of range; it is 0 to the mass of the oils, usually 3–6 %% of them", float64(u.Fragrance))
	case !(u.ScentedShare >= 0 && u.ScentedShare <= 100):
		return fmt.Errorf("scented share %.4g %% is out of range, 0–100", float64(u.ScentedShare))
	case u.ScentedShare > 0 && u.Rate() > 100:
		return fmt.Errorf("all the fragrance in %.4g %% of the batter is %.4g %% of the oils there; give the scented portions a larger share", float64(u.ScentedShare), float64(u.Rate()))
	case u.Bar != 0 && (!(u.Bar > u.Fragrance) || !(u.Bar >= u.Oils/2) || u.Bar > 4*u.Oils):
		return fmt.Errorf("cured bars of %.4g g do not fit %.4g g of oils; weigh them after cure or leave the mass out", float64(u.Bar), float64(u.Oils))
	}
	return nil
}

// Dose is what a fragrance puts into the scented part of a batter.
type Dose struct {
	// Percent is the browning dose D: grams of vanillin and what browns like it, in
	// % of the cured scented bar.
	Percent float64 `json:"browning_dose_percent_of_bar"`
	// Known is false where the fragrance states no browner at all; Percent is then 0
	// and means nothing.
	Known bool `json:"known"`
	// AtLeast marks a dose without the vanillin, which the papers do not state.
	AtLeast       bool         `json:"at_least,omitempty"`
	Vanillin      unit.Grams   `json:"vanillin_g"`
	EthylVanillin unit.Grams   `json:"ethyl_vanillin_g"`
	Bar           unit.Grams   `json:"scented_bar_g"`
	Rate          unit.Percent `json:"rate_percent_of_oils"`
	Fragrance     unit.Grams   `json:"fragrance_g"`
	Counted       []Counted    `json:"other_browners_counted"`
	// OffPath are substances with a hue of their own, warned of but not in Percent.
	OffPath []Browner `json:"hue_not_computed"`
	// Unknown are names on the list of other browners that the table does not hold.
	Unknown []string `json:"not_counted"`
}

// Counted is a further browner in a [Dose].
type Counted struct {
	Name       string     `json:"name"`
	Grams      unit.Grams `json:"grams"`
	AsVanillin unit.Grams `json:"as_vanillin_g"`
}

// AldehydeMoles counts vanillin and ethyl vanillin in mol; a stabiliser is measured
// against it.
func (d Dose) AldehydeMoles() float64 { return aldehydeMoles(d.Vanillin, d.EthylVanillin) }

// VanillinPercent gives vanillin itself in % of the cured scented bar.
func (d Dose) VanillinPercent() unit.Percent {
	return unit.Percent(100 * float64(d.Vanillin) / float64(d.Bar))
}

// Dose works out what the fragrance puts into the bar:
//
//	D = 100·(m_van + 0.9156·m_ev + Σ ρ_j·m_j) / m_bar
//
// An error says what of the fragrance or its use is out of range.
func (f Fragrance) Dose(use Use) (Dose, error) {
	if err := f.Validate(); err != nil {
		return Dose{}, err
	}
	if err := use.Validate(); err != nil {
		return Dose{}, err
	}
	d := Dose{
		Bar: use.ScentedBar(), Rate: use.Rate(), Fragrance: use.Fragrance,
		Known: f.Vanillin != nil || f.EthylVanillin != nil, AtLeast: f.Vanillin == nil,
		Counted: []Counted{}, OffPath: []Browner{}, Unknown: []string{},
	}
	if f.Vanillin != nil {
		d.Vanillin = f.Vanillin.Of(use.Fragrance)
	}
	if f.EthylVanillin != nil {
		d.EthylVanillin = f.EthylVanillin.Of(use.Fragrance)
	}
	sum := float64(d.Vanillin) + ethylVanillinWeight*float64(d.EthylVanillin)
	for _, o := range f.Others {
		b, ok := FindBrowner(o.Name)
		switch {
		case !ok:
			d.Unknown = append(d.Unknown, o.Name)
		case b.OffPath:
			d.OffPath = append(d.OffPath, b)
		default:
			g := o.Percent.Of(use.Fragrance)
			as := g * unit.Grams(b.Weight)
			d.Counted = append(d.Counted, Counted{b.Name, g, as})
			d.Known = true
			sum += float64(as)
		}
	}
	d.Percent = 100 * sum / float64(d.Bar)
	if math.IsNaN(d.Percent) || !d.Known {
		d.Percent = 0
	}
	d.AtLeast = d.AtLeast && d.Known
	return d, nil
}
