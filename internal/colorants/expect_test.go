package colorants

import (
	"math"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/testkit"
)

// TestColourWords: every word's colour is the centroid it claims to be.
func TestColourWords(t *testing.T) {
	centroid := map[string]map[string]string{}
	for _, row := range testkit.Table(t, testkit.Shared(t, "reference/iscc-nbs-centroids.csv")) {
		centroid[row["name"]] = row
	}
	for word, c := range colourWords {
		row, ok := centroid[c.centroid]
		if !ok {
			t.Errorf("%q: no centroid is called %q", word, c.centroid)
			continue
		}
		want, err := parseTriple(row["L"] + " " + row["a"] + " " + row["b"])
		if err != nil || *want != c.lab {
			t.Errorf("%q: %v, the centroid of %q is %v", word, c.lab, c.centroid, *want)
		}
	}
}

// TestLandings: every row that is not stable has one, in words of its own texts.
func TestLandings(t *testing.T) {
	for id := range landings() {
		if f, ok := FactByID(id); !ok || f.Behaviour == Stable {
			t.Errorf("a landing for %q, which is stable or no row", id)
		}
	}
	// Words that the text says by pointing elsewhere or by a turn of hue.
	meant := map[string]string{
		"ferric_ammonium_ferrocyanide": "rust-brown", // "as ferric ferrocyanide"
		"red_49":                       "orange-red", // a red gone yellower
		"fdc_blue_1":                   "purple",     // "purplish"
		"fdc_blue_1_lake":              "purple",     // "as the dye"
	}
	unsaid := 0
	for _, f := range Facts() {
		if f.Behaviour == Stable {
			continue
		}
		l, ok := landings()[f.ID]
		if !ok {
			t.Errorf("%s %s and has no landing", f.ID, f.Behaviour.Words())
			continue
		}
		if l.cured == "" {
			unsaid++
			if f.Behaviour != Unknown {
				t.Errorf("%s: nothing said of where it lands, yet the table does: %q", f.ID, f.Cured)
			}
			continue
		}
		text := strings.ToLower(strings.ReplaceAll(f.Cured+" "+f.Fresh+" "+f.Hue, "-", " "))
		for _, w := range strings.Split(l.cured+", "+l.fresh, ", ") {
			if _, ok := colourWords[w]; !ok && w != "" {
				t.Errorf("%s: %q has no colour", f.ID, w)
			}
			if w == "base" || w == "" || w == meant[f.ID] {
				continue
			}
			for part := range strings.FieldsSeq(strings.ReplaceAll(w, "-", " ")) {
				// "warm red" for "warmer", "pale blue" for a blue that returns in part.
				if !strings.Contains(text, strings.TrimSuffix(part, "y")) && part != "pale" && part != "red" {
					t.Errorf("%s: %q is not in its texts %q", f.ID, w, text)
				}
			}
		}
	}
	if unsaid != 4 {
		t.Errorf("%d rows without a landing colour, want the 4 of unknown behaviour", unsaid)
	}
}

func sums(t *testing.T, what string, s Shares) {
	t.Helper()
	if sum := s.Holds + s.Returns + s.Settles + s.Fades; math.Abs(sum-1) > 1e-9 || min(s.Holds, s.Returns, s.Settles, s.Fades) < 0 {
		t.Errorf("%s: shares %+v sum to %g", what, s, sum)
	}
}

// TestExpectAgreesWithTheTable: a label that names one row and no other has the
// table's class as its verdict.
func TestExpectAgreesWithTheTable(t *testing.T) {
	for _, f := range Facts() {
		e := Expect(Product{Name: "Dawn", Label: f.Name()})
		if e.Verdict != f.Class {
			t.Errorf("%s: verdict %s at %.2f, the table has %s (%s)", f.ID, e.Verdict, e.Probability, f.Class, f.Confidence)
		}
		sums(t, f.ID, e.Pattern)
		if e.Bleeds < 0 || e.Bleeds > 1 || e.Because == "" || e.Grounds != GroundsLabel || e.JudgeFromDay <= 0 {
			t.Errorf("%s: %+v", f.ID, e)
		}
		if (e.Becomes != nil) != (f.Behaviour != Stable) {
			t.Errorf("%s is %s and becomes %+v", f.ID, f.Behaviour, e.Becomes)
		}
		if e.Becomes != nil && e.Becomes.Lab != nil && (!e.Becomes.Lab.InSRGB() || e.Becomes.SD.L < landingSD.L) {
			t.Errorf("%s becomes %v ± %v", f.ID, *e.Becomes.Lab, e.Becomes.SD)
		}
	}
}

// TestExpectChemistry holds the courses to the published mechanisms quoted in the
// table: what comes back has its pKa above the pH of the bar.
func TestExpectChemistry(t *testing.T) {
	expect := func(label string) Expectation { return Expect(Product{Name: "Tide", Label: label}) }
	if p := expect("CI 77891, CI 77007").Pattern; p.Holds < 0.6 {
		t.Errorf("white and ultramarine hold with %+v", p)
	}
	if p := expect("Orange 4").Pattern; p.Returns < 0.5 {
		t.Errorf("Orange 4 has its pKa near 11.4 and must come back: %+v", p)
	}
	for _, label := range []string{"Alkanet Root", "Bromothymol Blue", "Bromocresol Green"} {
		if p := expect(label).Pattern; p.Returns > 0.15 || p.Settles < p.Holds {
			t.Errorf("%s cannot come back in soap: %+v", label, p)
		}
	}
	if p := expect("Indigo Carmine").Pattern; p.Returns < 0.25 || p.Returns > 0.6 || p.Fades < 0.15 {
		t.Errorf("indigo carmine comes back in part and fades: %+v", p)
	}
	if p := expect("Curcuma Longa Root Powder").Pattern; p.Fades < p.Settles {
		t.Errorf("turmeric goes on for weeks: %+v", p)
	}
	for label, want := range map[string]struct {
		word     string
		lab      cie.Lab // the middle of the ISCC–NBS block of the word
		strength float64
	}{
		"Ferric Ferrocyanide": {"tan to brown", cie.Lab{L: 60.6, A: 10.5, B: 27.1}, 0.8},
		"Manganese Violet":    {"brown", cie.Lab{L: 65.3, A: 6.9, B: 18.6}, 0.8},
		"Carmine":             {"dusty purple", cie.Lab{L: 60.95, A: 15.56, B: -6}, 0.7},
		"D&C Red No. 27":      {"hot bluish pink", cie.Lab{L: 61.2, A: 48.82, B: -6.69}, 0.5},
	} {
		e := expect(label)
		if e.Becomes == nil || !strings.Contains(e.Becomes.Words, want.word) || cie.DeltaE00(*e.Becomes.Lab, want.lab) > 0.1 || e.Pattern.Settles < want.strength || !e.Becomes.Assumed {
			t.Errorf("%s becomes %+v with %+v", label, e.Becomes, e.Pattern)
		}
	}
	if e := expect("Ferric Ferrocyanide"); e.Fresh == nil || e.HalfLifeDays > 1 || e.JudgeFromDay != 2 {
		t.Errorf("Prussian blue goes within hours: %+v", e)
	}
	for label, want := range map[string][2]float64{"Red 40 Lake": {0.8, 1}, "Blue 1": {0.6, 0.8}, "CI 77891": {0, 0.05}, "Mica, CI 77891, Red 40 Lake": {0.8, 1}} {
		if b := expect(label).Bleeds; b < want[0] || b > want[1] {
			t.Errorf("%s bleeds with %g, want %v", label, b, want)
		}
	}
}

// TestExpectOrder: a worse label never looks better, a less certain one never surer.
func TestExpectOrder(t *testing.T) {
	holds := func(label string) float64 { return Expect(Product{Name: "Quay", Label: label}).Pattern.Holds }
	for _, worse := range []string{"Carmine", "Ferric Ferrocyanide", "Alkanet", "Colourant", "CI 774492", "Bismuth Oxychloride"} {
		if a, b := holds("Mica, CI 77891"), holds("Mica, CI 77891, "+worse); b >= a {
			t.Errorf("with %s it holds with %.2f, without with %.2f", worse, b, a)
		}
	}
	sure, may := Expect(Product{Label: "Ferric Ferrocyanide"}), Expect(Product{Label: "May contain: Ferric Ferrocyanide"})
	if may.Probability >= sure.Probability {
		t.Errorf("may contain is as sure as contains: %g, %g", may.Probability, sure.Probability)
	}
	hidden := Expect(Product{Label: "Ferric Ferrocyanide, Pigment"})
	if hidden.Probability >= sure.Probability || hidden.Unknowns != 1 {
		t.Errorf("a hidden colour costs no certainty: %+v", hidden)
	}
	mixed := Expect(Product{Label: "CI 77491, Ferric Ferrocyanide"})
	if !strings.Contains(mixed.Becomes.Words, "iron oxide red beside it stays") || mixed.Becomes.SD.A < 14 {
		t.Errorf("the iron oxide is forgotten: %+v", mixed.Becomes)
	}
}

func TestExpectWithoutLabel(t *testing.T) {
	for _, c := range []struct {
		p       Product
		verdict Verdict
		grounds Grounds
	}{
		{Product{Name: "Fog", Label: "Colourant"}, VerdictUnknown, GroundsLabel},
		{Product{Name: "Fog"}, VerdictUnknown, GroundsPractice},
		{Product{Name: "Slate", Kind: KindOxide}, VerdictStable, GroundsPractice},
		{Product{Name: "Slate", Kind: KindDye}, VerdictUnreliable, GroundsPractice},
		{Product{Name: "Slate", Kind: KindPlant}, VerdictUnreliable, GroundsPractice},
		{Product{Name: "Slate", Kind: KindMica, Claim: "Stable in cold process, does not bleed."}, VerdictStable, GroundsClaim},
		{Product{Name: "Slate", Claim: "morphs to brown"}, VerdictShifting, GroundsClaim},
		{Product{Name: "Slate", Claim: "may bleed"}, VerdictUnreliable, GroundsClaim},
		{Product{Name: "Slate", Kind: KindClay, Claim: "lovely"}, VerdictStable, GroundsPractice},
	} {
		e := Expect(c.p)
		if e.Verdict != c.verdict || e.Grounds != c.grounds {
			t.Errorf("%+v: %s at %.2f on %s, want %s on %s", c.p, e.Verdict, e.Probability, e.Grounds, c.verdict, c.grounds)
		}
		sums(t, c.p.Name, e.Pattern)
		if (e.Verdict == VerdictUnknown) != (e.Probability < 0.5) {
			t.Errorf("%+v: %s at %g", c.p, e.Verdict, e.Probability)
		}
		if e.Probability > 0.7 {
			t.Errorf("%+v: %.2f is too sure without a label", c.p, e.Probability)
		}
	}
}

func TestClaimed(t *testing.T) {
	for claim, want := range map[string]Behaviour{
		"": "", "a fine dawn": "", "stable in CP": Stable, "Does NOT morph": Stable, "doesn't bleed; won't fade": Stable, "no bleeding": Stable,
		"bleeds a little": Bleeds, "will not fade but bleeds": Bleeds, "not stable in CP": Shifts, "turns brown": Shifts, "Non-bleeding, morphs": Shifts,
	} {
		if got := claimed(claim); got != want {
			t.Errorf("%q is read as %q, want %q", claim, got, want)
		}
	}
}

func TestShade(t *testing.T) {
	for label, want := range map[string][2]bool{
		"CI 77891": {true, false}, "Mica, CI 77891": {true, false}, "Mica": {false, true}, "Mica, Silica, Talc": {false, true},
		"Mica, CI 77491": {false, false}, "CI 77891, Colourant": {false, false}, "": {false, false}, "Kaolin": {true, false},
	} {
		e := Expect(Product{Name: "Shell", Label: label})
		if e.White != want[0] || e.Clear != want[1] {
			t.Errorf("%q: white %v, clear %v, want %v", label, e.White, e.Clear, want)
		}
	}
}

// FuzzExpect: any product gets an answer whose shares are shares.
func FuzzExpect(f *testing.F) {
	f.Add("Fog", "Mica, CI 77510, [+/- Carmine]", "does not bleed")
	f.Add("", "Aluminum Hydroxide", "morphs")
	f.Add("Iron oxide", "", "not not stable bleed")
	f.Fuzz(func(t *testing.T, name, label, claim string) {
		p := Product{Name: name, Label: label, Claim: claim}
		e := Expect(p)
		sums(t, label, e.Pattern)
		if e.Bleeds < 0 || e.Bleeds > 1 || e.Probability <= 0 || e.Probability > 1 {
			t.Errorf("%+v", e)
		}
		if !slices.Contains(Kinds(), GuessKind(p)) {
			t.Errorf("kind %q", GuessKind(p))
		}
		for _, c := range Cautions(e.Reading) {
			if c.Text == "" || c.Severity.rank() < 0 {
				t.Errorf("%+v", c)
			}
		}
	})
}
