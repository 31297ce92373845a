package colorants

import (
	"fmt"
	"slices"
	"strings"
)

// Severity ranks a caution.
type Severity string

// The severities, mildest first.
const (
	SeverityNote    Severity = "note"
	SeverityCaution Severity = "caution"
	SeverityRisk    Severity = "risk"
)

// Caution is something to know before a colourant is weighed, mixed, sold or used.
// The words are general and no legal advice.
type Caution struct {
	// Key names the caution, so that one said of several products is shown once.
	Key      string   `json:"key"`
	Severity Severity `json:"severity"`
	Text     string   `json:"text"`
	// Basis says where it comes from: a document, or memory.
	Basis string `json:"basis"`
	// RowIDs are the rows that bring it, none for one that holds for all.
	RowIDs []string `json:"row_ids"`
}

// rule is one caution and when it is due.
type rule struct {
	key      string
	severity Severity
	text     string
	basis    string
	due      func(f *Fact) bool
}

func isOneOf(ids ...string) func(*Fact) bool {
	return func(f *Fact) bool { return slices.Contains(ids, f.ID) }
}

// azoYellows and other dyes known to sensitise, from memory.
var sensitisers = isOneOf("carmine", "cochineal_extract", "fdc_yellow_5", "fdc_yellow_5_lake", "fdc_yellow_6", "fdc_yellow_6_lake",
	"azorubine", "ponceau_4r", "amaranth", "henna", "copper_chlorophyllin")

// rules are the cautions, the gravest first.
var rules = []rule{
	{"metal-powder", SeverityRisk, "DANGER: metal powder in lye makes hydrogen gas and heat; never let aluminium, zinc, bronze or an unknown metal powder meet lye or fresh batter",
		"textbook reaction, read (aluminium); memory (zinc and brass)", isOneOf("aluminium_powder", "bronze_copper_powder")},
	{"metallised-film", SeverityCaution, "glitter of metallised film has a thin layer of aluminium that lye may reach; try a little outdoors first",
		"trade article, read for the layer; the attack is inference", isOneOf("plastic_glitter")},
	{"ultramarine-acid", SeverityCaution, "never add acid to ultramarine: it sets free hydrogen sulfide, a poisonous gas",
		"colour chemistry handbooks, read as quoted", func(f *Fact) bool { return strings.HasPrefix(f.ID, "ultramarine") }},
	{"sulfide-acid", SeverityCaution, "acid on zinc sulfide sets free hydrogen sulfide, a poisonous gas", "inorganic chemistry, memory", isOneOf("zinc_sulfide_luminescent")},
	{"ferrocyanide-acid", SeverityCaution, "no strong acid and no strong heat on ferrocyanide pigments", "memory", isOneOf("ferric_ferrocyanide", "ferric_ammonium_ferrocyanide")},
	{"ammonia", SeverityNote, "gives off some ammonia in lye: air the room", "follows from the formula", isOneOf("ferric_ammonium_ferrocyanide", "manganese_violet")},
	{"dust", SeverityCaution, "do not raise dust; wear a mask when weighing powders such as titanium dioxide, carbon, mica, clay or talc",
		"EU 1223/2009 Annex IV limits lung exposure to titanium dioxide, zinc oxide and nano carbon black (read)",
		func(f *Fact) bool {
			return slices.Contains([]string{"pigment", "substrate", "filler", "clay", "pearl", "metal", "toner", "al_lake", "plant_powder", "resin"}, f.Form)
		}},
	{"titanium-dioxide-class", SeverityNote, "titanium dioxide is no classified carcinogen in the EU: the classification was annulled on 23 Nov 2022, upheld on 1 Aug 2025; IARC has it in group 2B",
		"court documents, read; IARC from memory", isOneOf("titanium_dioxide")},
	{"glitter", SeverityCaution, "craft or plastic glitter is no cosmetic colour; the EU restricts loose plastic glitter since 17 Oct 2023 and in rinse-off products from 17 Oct 2027, with exceptions",
		"Regulation (EU) 2023/2055, notices read", isOneOf("plastic_glitter")},
	{"neon", SeverityCaution, "most neon colours are not listed for cosmetics; in the US the listed fluorescent ones are Orange 4, 10 and 11 and Red 21, 22, 27 and 28",
		"trade article citing 21 CFR, read", isOneOf("neon_resin_pigment")},
	{"carmine-named", SeverityCaution, "carmine and cochineal must be named on US labels and can cause allergic reactions", "21 CFR 73.2087, read", isOneOf("carmine", "cochineal_extract")},
	{"sensitiser", SeverityNote, "can sensitise or set off allergies: say plainly on the label that it is inside", "memory", sensitisers},
	{"plant-powder", SeverityNote, "plant powders can sensitise and may carry germs; keep them dry", "memory", (*Fact).plant},
	{"us-black", SeverityCaution, "in the US carbon black and bone black are listed for named make-up only, not for soap", "21 CFR 74.2052, 74.2053, from memory", isOneOf("carbon_black", "bone_black")},
	{"us-natural", SeverityNote, "in the US natural earths and charcoal are not listed colours", "memory",
		func(f *Fact) bool { return f.ID == "vegetable_carbon" || f.Form == "clay" }},
	{"lips-eyes", SeverityNote, "allowed on hands does not mean allowed near eyes or on lips: in the US ultramarines, chromium greens and ferrocyanides are not for lips",
		"FDA table and 21 CFR 73.2725, read", func(f *Fact) bool { return strings.Contains(f.US, "not lips") }},
	{"delisted", SeverityCaution, "no longer listed for cosmetics in the US", "the table's column on US status", func(f *Fact) bool { return strings.HasPrefix(f.US, "delisted") }},
	{"hair-only", SeverityCaution, "listed in the US for hair only", "21 CFR 73.2190, read", func(f *Fact) bool { return strings.HasPrefix(f.US, "hair only") }},
	{"nails-only", SeverityCaution, "listed in the US for nail polish only", "21 CFR 73.2500, from memory", func(f *Fact) bool { return strings.HasPrefix(f.US, "nail polish only") }},
	{"eu-not-listed", SeverityNote, "not in the EU list of cosmetic colours (Annex IV), or only in part", "EU 1223/2009 Annex IV, read",
		func(f *Fact) bool { return strings.HasPrefix(f.EU, "not_listed") && colours(f) }},
	{"us-not-listed", SeverityNote, "not listed in the US as a cosmetic colour; plain soap may fall outside that law", "21 CFR, mostly from memory",
		func(f *Fact) bool {
			return strings.HasPrefix(strings.ReplaceAll(f.US, "not listed", "not_listed"), "not_listed") && colours(f)
		}},
}

// Cautions gives what to know about the colours of a label, the gravest first, each
// once. It is never empty for a label that names or hides a colour: which colours
// may be sold in soap is for local rules to say.
func Cautions(r Reading) []Caution {
	out := []Caution{}
	list := facts()
	for _, rule := range rules {
		var ids []string
		for _, t := range r.Tokens {
			for _, i := range t.rows {
				if rule.due(&list[i]) && !slices.Contains(ids, list[i].ID) {
					ids = append(ids, list[i].ID)
				}
			}
		}
		if ids == nil {
			continue
		}
		c := Caution{Key: rule.key, Severity: rule.severity, Text: rule.text, Basis: rule.basis, RowIDs: ids}
		if rule.key != "dust" && rule.key != "titanium-dioxide-class" {
			c.Text = called(ids) + ": " + c.Text
		}
		out = append(out, c)
	}
	if len(r.Unresolved) > 0 {
		out = append(out, Caution{Key: "hidden-colour", Severity: SeverityCaution, RowIDs: []string{},
			Text:  fmt.Sprintf("the label does not say what %q is: ask the supplier for the full list and the safety data sheet, and keep unknown metal powders away from lye", r.Unresolved[0]),
			Basis: "common practice, no source"})
	}
	if len(r.Tokens) > 0 || len(r.Unresolved) > 0 {
		out = append(out, Caution{Key: "permission", Severity: SeverityNote, RowIDs: []string{},
			Text:  "words such as colour, food-grade, natural or paint-grade are no proof that a colourant may be used in soap; local rules decide",
			Basis: "EU 1223/2009 Annex IV, read; 21 CFR 73, 74 and 82, partly read"})
	}
	slices.SortStableFunc(out, func(a, b Caution) int { return b.Severity.rank() - a.Severity.rank() })
	return out
}

func (s Severity) rank() int {
	return slices.Index([]Severity{SeverityNote, SeverityCaution, SeverityRisk}, s)
}

// called names up to three rows in a sentence.
func called(ids []string) string {
	var names []string
	for i, id := range ids {
		if i == 3 {
			names = append(names, fmt.Sprintf("%d more", len(ids)-3))
			break
		}
		f, _ := FactByID(id)
		names = append(names, f.Name())
	}
	return strings.Join(names, ", ")
}
