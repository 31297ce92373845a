package colorants

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"lyefast/internal/cie"
)

// Behaviour is what strong alkali does to a colourant, one main word a substance.
type Behaviour string

// The behaviours. A destroyed colour is worse than one that travels, that worse
// than one that changes; what is not known stands between what comes back and
// what stays.
const (
	BreaksDown Behaviour = "breaks_down"          // the colour substance is destroyed or decays
	Bleeds     Behaviour = "bleeds"               // the hue holds but the dye dissolves and travels
	Shifts     Behaviour = "shifts"               // ends on another hue
	Indicator  Behaviour = "reversible_indicator" // an acid–base change set by pH alone
	Unknown    Behaviour = "unknown"
	Stable     Behaviour = "stable" // the same hue from batter to cured bar
)

// severity ranks behaviours; the largest decides for a whole label.
func (b Behaviour) severity() int {
	return slices.Index([]Behaviour{Stable, Unknown, Indicator, Shifts, Bleeds, BreaksDown}, b)
}

// Words says a behaviour in plain words, for a sentence that starts with the
// colourant's name.
func (b Behaviour) Words() string {
	switch b {
	case BreaksDown:
		return "breaks down in lye"
	case Bleeds:
		return "keeps its hue but bleeds"
	case Shifts:
		return "shifts to another hue"
	case Indicator:
		return "changes with pH"
	case Stable:
		return "stays as it is"
	}
	return "is not known in lye"
}

// Verdict is what a maker may plan on.
type Verdict string

// The verdicts. Shifting means that the colour moves but can be planned on: it
// returns, or lands on the same other colour every time. Unreliable means
// destroyed, fading, bleeding or landing elsewhere each time.
const (
	VerdictStable     Verdict = "stable"
	VerdictShifting   Verdict = "shifting"
	VerdictUnreliable Verdict = "unreliable"
	VerdictUnknown    Verdict = "unknown"
)

// Fact is one row of the built-in knowledge: one colourant, filler or carrier and
// what to expect of it in cold-process soap. Nearly all sources speak of water,
// paint or ink; the maker's own readings outrank every row. Empty text means that
// nothing was found, never "no".
type Fact struct {
	// ID is the stable key, lower case.
	ID string `json:"id"`
	// CI is the main Colour Index constitution number as labels print it, "" if none exists.
	CI string `json:"ci_number"`
	// OtherCI are sub-numbers and older or sister numbers of the same substance.
	OtherCI []string `json:"ci_other"`
	// GenericName is the Colour Index generic name, such as "Pigment White 6".
	GenericName string `json:"ci_generic"`
	// INCI is the name on EU lists: "CI nnnnn", or a word where no number exists.
	INCI string `json:"eu_inci"`
	// USName is the name in 21 CFR; brackets say where the US has no cosmetic listing.
	USName string `json:"us_name"`
	// Aliases are the lower-case label words that mean this row.
	Aliases []string `json:"aliases"`
	// Substance says what it is chemically.
	Substance string `json:"chemical_class"`
	// Form is pigment, substrate, filler, clay, pearl, metal, toner, al_lake,
	// water_dye, oil_dye, extract, plant_powder, resin or glitter.
	Form string `json:"form"`
	// Hue is the usual colour in words.
	Hue string `json:"hue"`
	// MasstoneHex and Masstone are the full-strength colour, D65/2°, specular excluded.
	MasstoneHex string   `json:"masstone_hex"`
	Masstone    *cie.Lab `json:"masstone_lab"`
	// Tint is one part with nine parts of titanium white: nearer to an opaque bar.
	Tint *cie.Lab `json:"tint_lab"`
	// ColourBasis says where those colours come from.
	ColourBasis string `json:"colour_basis"`
	// Behaviour is the main word; Class the verdict it leads to.
	Behaviour Behaviour `json:"behaviour"`
	Class     Verdict   `json:"predicted_class"`
	// Fresh is what shows in batter and the first hours (pH 12–13), Cured what a cured bar shows (about pH 9–10.5).
	Fresh string `json:"fresh_ph12_13"`
	Cured string `json:"cured_ph9_10"`
	// LightFastness and BleedRisk are words: excellent to poor, none to high.
	LightFastness string `json:"light_fastness"`
	BleedRisk     string `json:"bleed_risk"`
	// EU and US are the fields of use allowed; a caution, not legal advice.
	EU         string `json:"eu_annex_iv"`
	EUVerified string `json:"eu_verified"` // read or memory
	US         string `json:"us_cosmetic_status"`
	USVerified string `json:"us_verified"` // read or memory
	// Evidence is the mechanism in short, Source who says so, Verified whether that
	// was read or recalled, Confidence high, medium or low for the claim in soap.
	Evidence   string `json:"evidence"`
	Source     string `json:"source"`
	Verified   string `json:"verified"`
	Confidence string `json:"confidence"`
}

// Name gives the first alias that is a word and means no other row, with a capital.
func (f *Fact) Name() string {
	name := f.ID
	for _, a := range f.Aliases {
		if !strings.HasPrefix(a, "ci ") && len(names().exact[strings.Join(plainWords(a), "")]) == 1 {
			name = a
			break
		}
	}
	for plain, proper := range map[string]string{"ext. d&c ": "Ext. D&C ", "fd&c ": "FD&C ", "d&c ": "D&C "} {
		if dye, ok := strings.CutPrefix(name, plain); ok {
			return proper + strings.ToUpper(dye[:1]) + strings.Replace(dye[1:], " no. ", " No. ", 1)
		}
	}
	return strings.ToUpper(name[:1]) + name[1:]
}

// plant says whether the colour comes as plant matter or an extract, whose name a
// fat or a scent may bear too.
func (f *Fact) plant() bool { return f.Form == "plant_powder" || f.Form == "extract" }

// carrier says whether the row is a flake or filler that colours nothing by itself.
func (f *Fact) carrier() bool { return f.Form == "substrate" || f.Form == "filler" }

// factsCSV is the table; its comment lines explain the columns and name the sources.
//
//go:embed data/colour-additives-alkali.csv
var factsCSV string

// facts parses the table when it is first asked for. The table is part of the
// program, so a fault in it is a fault of the build and the tests catch it.
var facts = sync.OnceValue(func() []Fact {
	list, err := parseFacts(factsCSV)
	if err != nil {
		panic("built-in colourant table: " + err.Error())
	}
	return list
})

// parseFacts reads the table's format: comma-separated with a header line, "#"
// comments, "|" inside lists, Lab as "L a b".
func parseFacts(text string) ([]Fact, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("no header line")
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	list := make([]Fact, 0, len(rows)-1)
	for _, row := range rows[1:] {
		var missing error
		get := func(name string) string {
			i, ok := column[name]
			if !ok {
				missing = fmt.Errorf("no column %q", name)
				return ""
			}
			return row[i]
		}
		many := func(name string) []string {
			if v := get(name); v != "" {
				return strings.Split(v, "|")
			}
			return []string{}
		}
		f := Fact{
			ID: get("id"), CI: get("ci_number"), OtherCI: many("ci_other"), GenericName: get("ci_generic"),
			INCI: get("eu_inci"), USName: get("us_name"), Aliases: many("label_aliases"),
			Substance: get("chemical_class"), Form: get("form"), Hue: get("hue"),
			MasstoneHex: get("masstone_srgb"), ColourBasis: get("colour_basis"),
			Behaviour: Behaviour(get("alkali_behaviour")), Class: Verdict(get("predicted_class")),
			Fresh: get("fresh_ph12_13"), Cured: get("cured_ph9_10"),
			LightFastness: get("light_fastness"), BleedRisk: get("bleed_risk"),
			EU: get("eu_annex_iv"), EUVerified: get("eu_verified"),
			US: get("us_cosmetic_status"), USVerified: get("us_verified"),
			Evidence: get("evidence"), Source: get("source"), Verified: get("verified"), Confidence: get("confidence"),
		}
		for name, at := range map[string]**cie.Lab{"masstone_lab": &f.Masstone, "tint_lab": &f.Tint} {
			if *at, err = parseTriple(get(name)); err != nil {
				return nil, fmt.Errorf("row %q, column %q: %w", f.ID, name, err)
			}
		}
		switch {
		case missing != nil:
			return nil, missing
		case f.ID == "" || len(f.Aliases) == 0:
			return nil, fmt.Errorf("row %q has no key or no name", f.ID)
		case f.Behaviour.severity() < 0:
			return nil, fmt.Errorf("row %q: behaviour %q is none of those known", f.ID, f.Behaviour)
		}
		list = append(list, f)
	}
	return list, nil
}

// parseTriple reads "L a b"; empty text gives nil.
func parseTriple(s string) (*cie.Lab, error) {
	parts := strings.Fields(s)
	if len(parts) == 0 {
		return nil, nil
	}
	if len(parts) != 3 {
		return nil, fmt.Errorf("%q is not \"L a b\"", s)
	}
	var v [3]float64
	for i, p := range parts {
		var err error
		if v[i], err = strconv.ParseFloat(p, 64); err != nil {
			return nil, err
		}
	}
	return &cie.Lab{L: v[0], A: v[1], B: v[2]}, nil
}

// Facts gives the whole table in its order. What the rows point to is shared and
// must not be changed.
func Facts() []Fact { return slices.Clone(facts()) }

// FactByID finds a row by its key.
func FactByID(id string) (Fact, bool) {
	if i, ok := names().byID[id]; ok {
		return facts()[i], true
	}
	return Fact{}, false
}

// FactByCI finds the rows that a Colour Index number stands for, written "77007",
// "CI 77007" or "15850:1". Rows that bear it as their main number come alone; if
// there are none, those that bear it as a further number. A number may have several
// rows, and none if the table does not know it.
func FactByCI(number string) []Fact {
	n := strings.TrimSpace(strings.ToLower(number))
	n = strings.TrimSpace(strings.TrimPrefix(n, "ci"))
	list := []Fact{}
	for _, i := range names().byNumber[n] {
		list = append(list, facts()[i])
	}
	return list
}
