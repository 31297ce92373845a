package fragrance

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

func answerOf(t *testing.T, q Question) Report {
	t.Helper()
	r, err := Answer(q)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

var amber = Fragrance{
	Name: "Harbour Amber", Vanillin: percent(5), Claims: []string{"no discolouration", "no acceleration"},
	Allergens: []Share{{"Linalool", 3}}, FlashPoint: celsius(95), MaxUse: &MaxUse{Percent: 5, Category: "9", Amendment: "51"},
}

func TestAnswer(t *testing.T) {
	r := answerOf(t, Question{Fragrance: amber, Rate: 5, Oils: 1000, Conditions: ungelled})
	within(t, "vanillin of the bar", float64(*r.VanillinPercent), 0.1883, 0.00005)
	if len(r.Days) != 4 || len(r.WithStabilizer) != 4 {
		t.Fatalf("%d and %d days", len(r.Days), len(r.WithStabilizer))
	}
	for i, want := range []struct {
		day  float64
		l    float64
		word string
	}{{3, 72.8, "light tan"}, {14, 62.6, "tan"}, {42, 58.8, "light brown"}, {180, 58.3, "light brown"}} {
		d := r.Days[i]
		within(t, "day", d.Day, want.day, 0)
		within(t, "L*", d.Lab[0], want.l, 0.1)
		if d.Word != want.word {
			t.Errorf("day %v: %q", want.day, d.Word)
		}
		if back, err := cie.ParseHex(d.Hex); err != nil || cie.DeltaE00(back, lab(d.Lab)) > 0.6 {
			t.Errorf("day %v: hex %s is not %v", want.day, d.Hex, d.Lab)
		}
		if d.Name == "" {
			t.Errorf("day %v: a colour without a name", want.day)
		}
		// A stabiliser lightens on every day and does not stop it.
		if s := r.WithStabilizer[i]; s.Lab[0] < d.Lab[0] {
			t.Errorf("day %v: darker with a stabiliser", want.day)
		}
	}
	if last := r.WithStabilizer[3]; last.Word == NoChange || last.DeltaE00 < 3 {
		t.Errorf("the stabiliser is said to stop it: %+v", last)
	}
	within(t, "lye by vanillin", float64(r.LyeBound.ByVanillin), 0.66, 0.005)
	within(t, "points", float64(r.LyeBound.DiscountPoints), 0.66/1.38, 0.005)
	within(t, "maximum of oils", float64(*r.Ceiling.OfOils), 6.73, 0.005)
	if !r.BaseAssumed || !strings.Contains(r.Grounds, "guess from the label, none of your batches") {
		t.Errorf("grounds %q", r.Grounds)
	}
	if len(r.Claims) != 2 || !r.Claims[0].Contradicted || r.Claims[1].Contradicted {
		t.Errorf("claims %+v", r.Claims)
	}
	for _, want := range []string{"allergen", "certificate", "acid", "lye"} {
		if !hasWord(r.Cautions, want) {
			t.Errorf("no caution about %s: %q", want, r.Cautions)
		}
	}
	if !hasWord(r.Notes, "no limit for soaping") {
		t.Errorf("notes %q", r.Notes)
	}
}

func TestAnswerOnOtherDays(t *testing.T) {
	usual := answerOf(t, Question{Fragrance: amber, Rate: 5, Oils: 1000})
	r := answerOf(t, Question{Fragrance: amber, Rate: 5, Oils: 1000, Days: []float64{42, 0}})
	if len(r.Days) != 2 || len(r.WithStabilizer) != 2 || r.Days[0] != usual.Days[2] || r.WithStabilizer[0] != usual.WithStabilizer[2] {
		t.Errorf("%+v", r.Days)
	}
	if r.Days[1].Word != NoChange || !r.Claims[0].Contradicted || !strings.Contains(r.Claims[0].Because, "day 42") {
		t.Errorf("%+v %+v", r.Days[1], r.Claims)
	}
	if _, err := Answer(Question{Fragrance: amber, Rate: 5, Oils: 1000, Days: []float64{-1}}); err == nil {
		t.Error("a day before the pour was taken")
	}
}

// Five grams of vanillin in a batch of 1000 g oils take 1.3 g of lye, about one point.
func TestAnswerLyePoints(t *testing.T) {
	r := answerOf(t, Question{Fragrance: Fragrance{Name: "x", Vanillin: percent(10)}, Rate: 5, Oils: 1000})
	within(t, "lye", float64(r.LyeBound.ByVanillin), 1.3, 0.05)
	within(t, "points", float64(r.LyeBound.DiscountPoints), 1, 0.1)
}

func TestAnswerWithoutKnowledge(t *testing.T) {
	r := answerOf(t, Question{Fragrance: Fragrance{Name: "Fog Bell", Claims: []string{"no discolouration"}}, Rate: 4, Oils: 1000})
	if len(r.Days) != 0 || len(r.WithStabilizer) != 0 || r.VanillinPercent != nil {
		t.Errorf("a number without a basis: %+v", r.Days)
	}
	if !hasWord(r.Notes, "no colour can be forecast") || r.Claims[0].Contradicted {
		t.Errorf("%q %+v", r.Notes, r.Claims)
	}
	if !hasWord(r.Cautions, "no allergen sheet") || !hasWord(r.Ceiling.Notes, "no certificate") {
		t.Errorf("%q %q", r.Cautions, r.Ceiling.Notes)
	}
	r = answerOf(t, Question{Fragrance: Fragrance{Name: "Clove Pier", Others: []Share{{"eugenol", 80}, {"indole", 1}, {"musk", 1}, {"cumarin", 1}}}, Rate: 3, Oils: 1000})
	if len(r.Days) == 0 || len(r.WithStabilizer) != 0 {
		t.Error("what is stated is forecast, but no stabiliser against the unknown")
	}
	for _, want := range []string{"at least this dark", "indole tints pink", `"musk"`, `did you mean "coumarin"?`} {
		if !hasWord(r.Notes, want) {
			t.Errorf("notes lack %q: %q", want, r.Notes)
		}
	}
}

func TestAnswerInPart(t *testing.T) {
	r := answerOf(t, Question{Fragrance: amber, Rate: 4, Oils: 1000, ScentedShare: 50})
	if !r.Ceiling.Over || !hasWord(r.Notes, "there the rate is 8 %") {
		t.Errorf("%+v %q", r.Ceiling, r.Notes)
	}
	whole := answerOf(t, Question{Fragrance: amber, Rate: 8, Oils: 500})
	within(t, "as a batch of its own", r.Days[2].Lab[0], whole.Days[2].Lab[0], 1e-9)
}

// With the maker's own readings the answer moves and says what it stands on.
func TestAnswerAfterReadings(t *testing.T) {
	d := doseOf(t, amber, useOf(1000, 5))
	post, err := Calibrate([]Reading{{Fragrance: amber.Name, Dose: d.Percent, Base: DefaultBase, Day: 14, Conditions: ungelled, Lab: cie.Lab{L: 70, A: 5, B: 22}, Method: PhoneCard}}, DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	beliefs := post.For(amber.Name)
	q := Question{Fragrance: amber, Rate: 5, Oils: 1000, Conditions: ungelled}
	before := answerOf(t, q)
	q.Beliefs, q.Readings = &beliefs, post.Readings
	after := answerOf(t, q)
	within(t, "L* on day 42", after.Days[2].Lab[0], 64.5, 0.1)
	if after.Days[2].P95[0]-after.Days[2].P05[0] > 0.75*(before.Days[2].P95[0]-before.Days[2].P05[0]) {
		t.Error("a reading did not narrow the band")
	}
	if !strings.Contains(after.Grounds, "own readings: 1") {
		t.Errorf("grounds %q", after.Grounds)
	}
}

func TestAnswerRefuses(t *testing.T) {
	for want, q := range map[string]Question{
		"rate":   {Fragrance: amber, Oils: 1000},
		"oils":   {Fragrance: amber, Rate: 4},
		"gel":    {Fragrance: amber, Rate: 4, Oils: 1000, Conditions: Conditions{Gel: "yes"}},
		"base":   {Fragrance: amber, Rate: 4, Oils: 1000, Base: &cie.Lab{L: 624}},
		"active": {Fragrance: amber, Rate: 4, Oils: 1000, Stabilizer: &Stabilizer{Name: "x", Active: "NaBH4"}},
		"name":   {Rate: 4, Oils: 1000},
	} {
		if _, err := Answer(q); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

// Others read this JSON: names are retyped here, and an empty list is [], not null.
func TestReportJSON(t *testing.T) {
	raw, err := json.Marshal(answerOf(t, Question{Fragrance: Fragrance{Name: "Fog Bell"}, Rate: 4, Oils: unit.Grams(1000)}))
	if err != nil {
		t.Fatal(err)
	}
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(raw, &fields); err != nil {
		t.Fatal(err)
	}
	var got []string
	for name, v := range fields {
		got = append(got, name)
		if string(v) == "null" && !slices.Contains([]string{"vanillin_percent_of_bar", "flash_point_c"}, name) {
			t.Errorf("%s is null", name)
		}
	}
	slices.Sort(got)
	want := []string{
		"allergens", "base_assumed", "base_lab", "cautions", "ceiling", "claims", "conditions", "days", "days_with_stabilizer",
		"dose", "flash_point_c", "fragrance", "grounds", "lye_bound", "moves", "notes", "oils_g", "rate_percent_of_oils", "salts",
		"scented_share_percent", "stabilizer", "vanillin_percent_of_bar",
	}
	if !slices.Equal(got, want) {
		t.Errorf("fields %q\nwant %q", got, want)
	}
	for _, list := range []string{`"other_browners_counted":[]`, `"hue_not_computed":[]`, `"not_counted":[]`, `"floor_g"`, `"suggested_g"`, `"equal_parts_g"`} {
		if !strings.Contains(string(raw), list) {
			t.Errorf("JSON lacks %s", list)
		}
	}
}
