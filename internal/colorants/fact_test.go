package colorants

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/testkit"
)

// TestTableIsTheReference compares every field of the embedded table with the
// reference it was taken from.
func TestTableIsTheReference(t *testing.T) {
	data, err := os.ReadFile(testkit.Shared(t, "reference/colour-additives-alkali.csv"))
	if err != nil {
		t.Fatal(err)
	}
	read := func(s string) [][]string {
		r := csv.NewReader(strings.NewReader(s))
		r.Comment = '#'
		rows, err := r.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return rows
	}
	want, got := read(string(data)), read(factsCSV)
	if len(got) != len(want) {
		t.Fatalf("%d lines, want %d", len(got), len(want))
	}
	for i := range want {
		if !slices.Equal(got[i], want[i]) {
			t.Errorf("line %d: got %q, want %q", i, got[i], want[i])
		}
	}
}

func TestFacts(t *testing.T) {
	list := Facts()
	if len(list) != 137 {
		t.Errorf("%d rows, want 137", len(list))
	}
	seen := map[string]bool{}
	for _, f := range list {
		if seen[f.ID] || f.ID != strings.ToLower(f.ID) {
			t.Errorf("key %q is not unique or not lower case", f.ID)
		}
		seen[f.ID] = true
		if !slices.Contains([]Verdict{VerdictStable, VerdictShifting, VerdictUnreliable, VerdictUnknown}, f.Class) {
			t.Errorf("%s: class %q", f.ID, f.Class)
		}
		if f.Source == "" || f.Evidence == "" || !slices.Contains([]string{"high", "medium", "low"}, f.Confidence) {
			t.Errorf("%s: source %q, confidence %q", f.ID, f.Source, f.Confidence)
		}
		for _, c := range []struct {
			name string
			lab  bool
		}{{"masstone", f.Masstone != nil}, {"tint", f.Tint != nil}} {
			if c.lab && f.ColourBasis == "" {
				t.Errorf("%s: a %s without a basis", f.ID, c.name)
			}
		}
	}
	blue, ok := FactByID("ultramarine_blue")
	if !ok || blue.CI != "77007" || blue.Tint == nil || blue.Tint.L != 78.2 || blue.Tint.B != -26.4 || blue.Behaviour != Stable {
		t.Errorf("ultramarine blue is %+v", blue)
	}
	if _, ok := FactByID("fog"); ok {
		t.Error("a row that is not there was found")
	}
	for number, want := range map[string]string{
		"77007": "ultramarine_blue ultramarine_violet ultramarine_pink", "CI 15850:1": "dc_red_7", " ci 77520 ": "ferric_ammonium_ferrocyanide",
		"58000": "alizarin_lake", "12345": "",
	} {
		var ids []string
		for _, f := range FactByCI(number) {
			ids = append(ids, f.ID)
		}
		if got := strings.Join(ids, " "); got != want {
			t.Errorf("FactByCI(%q) = %q, want %q", number, got, want)
		}
	}
	b, err := json.Marshal(blue)
	if err != nil || !strings.Contains(string(b), `"tint_lab":[78.2,1.9,-26.4]`) || !strings.Contains(string(b), `"ci_other":[]`) {
		t.Errorf("JSON %s, %v", b, err)
	}
}

func TestNames(t *testing.T) {
	for id, want := range map[string]string{
		"fdc_red_40": "FD&C Red No. 40", "ext_dc_violet_2": "Ext. D&C Violet No. 2", "dc_red_27_28": "D&C Red No. 27",
		"iron_oxide_black": "Iron oxide black", "ultramarine_violet": "Ultramarine violet", "titanium_dioxide": "Titanium dioxide",
	} {
		f, ok := FactByID(id)
		if got := f.Name(); !ok || got != want {
			t.Errorf("%s is called %q, want %q", id, got, want)
		}
	}
}

func TestParseFactsRefuses(t *testing.T) {
	head, _, _ := strings.Cut(factsCSV[strings.Index(factsCSV, "\nid,")+1:], "\n")
	fields := len(strings.Split(head, ","))
	row := func(change map[int]string) string {
		v := make([]string, fields)
		v[0], v[6], v[14] = "fog", "fog", "stable"
		for i, s := range change {
			v[i] = s
		}
		return head + "\n" + strings.Join(v, ",") + "\n"
	}
	if list, err := parseFacts(row(nil)); err != nil || len(list) != 1 {
		t.Fatalf("a sound row: %v", err)
	}
	for name, text := range map[string]string{
		"empty": "", "no column": "id,ci_number\nfog,1\n", "no key": row(map[int]string{0: ""}), "behaviour": row(map[int]string{14: "melts"}),
		"colour": row(map[int]string{11: "1 2"}), "figure": row(map[int]string{12: "a b c"}), "ragged": head + "\nfog\n",
	} {
		if _, err := parseFacts(text); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestBehaviourOrder(t *testing.T) {
	order := []Behaviour{BreaksDown, Bleeds, Shifts, Indicator, Unknown, Stable}
	for i := 1; i < len(order); i++ {
		if order[i].severity() >= order[i-1].severity() {
			t.Errorf("%s must be milder than %s", order[i], order[i-1])
		}
	}
}
