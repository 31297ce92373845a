package colorants

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/testkit"
)

func summary(r Reading) (tokens, rows, unresolved, worst string) {
	var ts, rs []string
	for _, t := range r.Tokens {
		ts = append(ts, t.Token)
		rs = append(rs, strings.Join(t.RowIDs, ";"))
	}
	return strings.Join(ts, "|"), strings.Join(rs, "|"), strings.Join(r.Unresolved, "|"), string(r.Worst)
}

// checkCases reads the labels of a case table and compares all four answers.
func checkCases(t *testing.T, path string, atLeast int) {
	cases := testkit.Table(t, path)
	if len(cases) < atLeast {
		t.Fatalf("%s holds %d cases, want at least %d", path, len(cases), atLeast)
	}
	for _, c := range cases {
		t.Run(c["case_id"], func(t *testing.T) {
			tokens, rows, unresolved, worst := summary(Read(c["label_text"]))
			for _, f := range []struct{ name, got, want string }{
				{"tokens", tokens, c["expected"]}, {"rows", rows, c["row_ids"]},
				{"unresolved", unresolved, c["unresolved"]}, {"worst", worst, c["worst_behaviour"]},
			} {
				if f.got != f.want {
					t.Errorf("%s of %q: got %q, want %q (%s)", f.name, c["label_text"], f.got, f.want, c["note"])
				}
			}
		})
	}
}

// TestSharedCases holds the reader to made-up labels whose colourants were listed
// by someone else.
func TestSharedCases(t *testing.T) {
	checkCases(t, testkit.Shared(t, "reference/label-parsing-cases.csv"), 25)
}

// TestOwnCases goes beyond them under the same rules.
func TestOwnCases(t *testing.T) { checkCases(t, "testdata/labels.csv", 50) }

// TestNoFalseAlarm: what stands on soap labels and is no colour is skipped in
// silence. The names are INCI names from memory.
func TestNoFalseAlarm(t *testing.T) {
	others := testkit.Table(t, "testdata/no-colours.csv")
	if len(others) < 250 {
		t.Fatalf("only %d names", len(others))
	}
	var all []string
	for _, o := range others {
		name := o["name"]
		all = append(all, name)
		for _, label := range []string{name, strings.ToUpper(name), name + " (Organic)", "*" + name + ".", name + " 12 %"} {
			if r := Read(label); len(r.Tokens) > 0 || len(r.Unresolved) > 0 {
				t.Errorf("%q is no colour, but gives %+v, unresolved %q", label, r.Tokens, r.Unresolved)
			}
		}
	}
	r := Read(strings.Join(all, ", ") + ", CI 77891")
	if tokens, _, unresolved, _ := summary(r); tokens != "77891" || unresolved != "" {
		t.Errorf("all together give %q, unresolved %q", tokens, unresolved)
	}
}

// TestOilsAreNoColours takes the names of fats from the Codex Alimentarius table.
func TestOilsAreNoColours(t *testing.T) {
	for _, row := range testkit.Table(t, testkit.Shared(t, "reference/oils-codex.csv")) {
		for _, name := range []string{row["common_name"], row["inci_or_botanical_name"]} {
			if r := Read(name); len(r.Tokens) > 0 || len(r.Unresolved) > 0 {
				t.Errorf("%q gives %+v, unresolved %q", name, r.Tokens, r.Unresolved)
			}
		}
	}
}

// TestSpellings: one colour, many ways to print it.
func TestSpellings(t *testing.T) {
	for want, labels := range map[string][]string{
		"42090": {"FD&C Blue No. 1", "FD & C Blue No. 1", "F.D.&C. Blue No.1", "FDC Blue 1", "F D & C Blue #1", "FD and C Blue Nr. 1", "Blue 1", "BLUE#1", "Blue No.1",
			"fd&c blue number 1", "FD+C Blue 1", "FD&C\nBlue\nNo. 1", "Blue1", "E133", "E 133", "e-133", "Food colour E133", "Acid Blue 9", "C.I. Acid Blue 9"},
		"73360": {"D&C Red No. 30", "D & C Red 30", "D.&C. Red No. 30", "DC Red 30", "D and C Red No 30", "d&c red #30", "Red 30", "Vat Red 1", "C.I. Pigment Red 181"},
		"77891": {"CI 77891", "ci77891", "C.I.77891", "C. I. 77891", "C.I. No. 77891", "CI: 77891", "CI#77891", "CI-77891", "CI 77 891", "CI 77-891", "CI 77.891", "CI 77,891", "Cl 77891", "C1 77891",
			"Colour Index 77891", "Color Index No. 77891", "77891", "CI 77891*", "CI (77891)", "PW6", "Pigment White 6", "E171", "TiO2", "Titanium-Dioxide", "TITANIUM DIOXIDE", "Titanium Dioxide (Rutile)"},
		"15850:1": {"CI 15850:1", "C.I. 15850 : 1", "CI15850:1", "D&C Red No. 7", "Red 7 (CI 15850)", "CI 15850 (Red 7)", "PR57:1", "Red 7: CI 15850", "E180"},
		"16035+may": {"[+/- CI 16035]", "(+/-) CI 16035", "[+/-: CI 16035]", "± CI 16035", "-/+ CI 16035", "+ / - CI 16035", "May contain: CI 16035", "(may contain CI 16035)", "CI 16035 (may contain)", "CI 16035 [+/-]",
			"MAY CONTAIN (+/-): CI 16035", "may also contain CI 16035", "Kann enthalten: CI 16035", "Kann auch enthalten CI 16035", "Peut contenir CI 16035", "Puede contener: CI 16035", "Può contenere: CI 16035", "Puo' contenere CI 16035",
			"Pode conter: CI 16035", "Kan bevatten: CI 16035", "Może zawierać: CI 16035", "Může obsahovat: CI 16035", "Kan innehålla CI 16035", "Saattaa sisältää CI 16035"},
	} {
		for _, label := range labels {
			if tokens, _, unresolved, _ := summary(Read(label)); tokens != want || unresolved != "" {
				t.Errorf("%q gives %q, unresolved %q, want %q", label, tokens, unresolved, want)
			}
		}
	}
}

func TestSuggestionsAndNotes(t *testing.T) {
	r := Read("Mica, CI 774492, Titanim Dioxide, CI 19140:1, House Colour")
	want := map[string]string{"CI 774492": "CI 77492", "Titanim Dioxide": "titanium dioxide", "CI 19140:1": "CI 19140", "House Colour": ""}
	if len(r.Suggestions) != len(r.Unresolved) || len(r.Unresolved) != len(want) {
		t.Fatalf("unresolved %q, suggestions %q", r.Unresolved, r.Suggestions)
	}
	for i, u := range r.Unresolved {
		w, ok := want[u]
		if !ok || w != "" && !slices.Contains(r.Suggestions[i], w) || w == "" && len(r.Suggestions[i]) > 0 {
			t.Errorf("%q suggests %q, want %q", u, r.Suggestions[i], w)
		}
	}
	if r := Read("Ultramarine Blue (CI 77491)"); len(r.Notes) != 1 || !strings.Contains(r.Notes[0], "Iron oxide red") || len(r.Tokens) != 2 {
		t.Errorf("a name and a number that disagree: %+v", r)
	}
	if r := Read("Mica (CI 77891), Red 40 (CI 16035), Rose Clay (CI 77004)"); len(r.Notes) != 0 {
		t.Errorf("nothing disagrees here: %q", r.Notes)
	}
}

func TestWorst(t *testing.T) {
	for _, c := range []struct{ label, token, row, in string }{
		{"Mica, CI 77891, Ferric Ferrocyanide", "77510", "ferric_ferrocyanide", "rust-brown"},
		{"CI 77891, CI 42090", "42090", "fdc_blue_1_lake", "bleeds"},
		{"Mica, Colourant", "Colourant", "", "supplier"},
		{"Mica, CI 77891", "77019", "mica", "stays as it is"},
		{"Aqua, Parfum", "", "", "no colour"},
		{"Colourant, Carmine", "75470", "carmine", "purple"},
		{"Aluminum Hydroxide, CI 77491", "77491", "iron_oxide_red", "stays"},
	} {
		r := Read(c.label)
		if r.WorstToken != c.token || r.WorstRow != c.row || !strings.Contains(r.WorstReason, c.in) {
			t.Errorf("%q: worst is %q, row %q, because %q", c.label, r.WorstToken, r.WorstRow, r.WorstReason)
		}
	}
}

// TestReadingJSON retypes the field names that others rely on.
func TestReadingJSON(t *testing.T) {
	for label, want := range map[string][]string{
		"Red 40 Lake [nano]": {`"tokens":[{"token":"16035+lake+nano","row_ids":["fdc_red_40_lake"],"printed":"Red 40 Lake","behaviour":"bleeds"`, `"unresolved":[]`, `"suggestions":[]`, `"worst_behaviour":"bleeds"`, `"notes":[]`},
		"Colourant":          {`"tokens":[]`, `"unresolved":["Colourant"]`, `"suggestions":[[]]`, `"worst_behaviour":"unknown"`},
	} {
		b, err := json.Marshal(Read(label))
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(string(b), w) {
				t.Errorf("JSON of %q lacks %s: %s", label, w, b)
			}
		}
	}
}

func TestLongLabel(t *testing.T) {
	long := "CI 77891, " + strings.Repeat("é", maxLabel)
	r := Read(long)
	if tokens, _, _, _ := summary(r); tokens != "77891" || len(r.Notes) != 1 || !strings.Contains(r.Notes[0], "64 KiB") {
		t.Errorf("tokens %q, notes %q", tokens, r.Notes)
	}
}

// TestOrder: the order of a list changes the order of the tokens and nothing else.
func TestOrder(t *testing.T) {
	parts := []string{"Mica (CI 77019)", "CI 77891", "Red 7 Lake (CI 15850)", "Ferric Ferrocyanide", "Colourant", "Aqua", "CI 774492", "Carmine"}
	sorted := func(label string) (string, string, Behaviour) {
		r := Read(label)
		var tokens []string
		for _, t := range r.Tokens {
			tokens = append(tokens, t.Token+"="+strings.Join(t.RowIDs, ";"))
		}
		slices.Sort(tokens)
		slices.Sort(r.Unresolved)
		return strings.Join(tokens, "|"), strings.Join(r.Unresolved, "|"), r.Worst
	}
	t0, u0, w0 := sorted(strings.Join(parts, ", "))
	for i := range parts {
		turned := slices.Concat(parts[i:], parts[:i])
		for range 2 {
			for _, sep := range []string{", ", "; ", "\n", " (and) ", " / ", " • "} {
				if t1, u1, w1 := sorted(strings.Join(turned, sep)); t1 != t0 || u1 != u0 || w1 != w0 {
					t.Errorf("order %d, separator %q: %q %q %s, want %q %q %s", i, sep, t1, u1, w1, t0, u0, w0)
				}
			}
			slices.Reverse(turned)
		}
	}
}

// FuzzRead: whatever is thrown at it, the reader answers, with rows of the table
// only, and its own writing of what it found reads back the same.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"Mica (CI 77019), Titanium Dioxide [+/- CI 77491]", "May contain / Peut contenir (+/-): CI 77288", "CI 77491/2/9, Yellow 5 & 6 Lake",
		"FD&amp;C Blue No. 1 Aluminum Lake<br>CI ７７８９１", "((((((((((((((((((((((((CI 77891", "Ext. D&C Violet No. 2", "CI 77 891 : 1", "Tita-\nnium",
		"Colour: proprietary", "Rose Clay (Kaolin)", "Red 6, Red 7, CI 15850, CI 15850:1", "\xff\xfeCI\x00 77891", "&#x1F600;&#40;", "lake lake nano [nano] (lake)",
		"Ultramarine Violet, Ultramarine Pink lake", "iron oxide (red, blue, black) [nano]", "e 171 e 172 ci ci 77", "E172 Lake, CI 75470 lake, cochineal lake, carmine",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, label string) {
		r := Read(label)
		if len(r.Unresolved) != len(r.Suggestions) {
			t.Fatalf("%d unresolved, %d suggestions", len(r.Unresolved), len(r.Suggestions))
		}
		seen := map[string]bool{}
		for _, tok := range r.Tokens {
			if len(tok.RowIDs) == 0 {
				t.Fatalf("token %+v", tok)
			}
			if seen[tok.Token] {
				t.Fatalf("%q comes twice", tok.Token)
			}
			seen[tok.Token] = true
			for _, id := range tok.RowIDs {
				row, ok := FactByID(id)
				if !ok {
					t.Fatalf("row %q is not in the table", id)
				}
				if tok.base != ironOxides && tok.base != row.ID && tok.base != row.CI && !slices.Contains(row.OtherCI, tok.base) {
					t.Fatalf("token %q does not belong to row %q", tok.base, id)
				}
			}
		}
		if len(r.Unresolved) > 0 && r.Worst == Stable {
			t.Fatalf("unresolved %q, yet stable", r.Unresolved)
		}
		again := Read(r.Canonical())
		t1, rows1, _, _ := summary(r)
		t2, rows2, u2, _ := summary(again)
		if t1 != t2 || rows1 != rows2 || u2 != "" {
			t.Fatalf("%q\nreads     %q %q\nwritten   %q\nreads back %q %q, unresolved %q", label, t1, rows1, r.Canonical(), t2, rows2, u2)
		}
	})
}
