package colorants

import (
	"slices"
	"strings"
	"testing"
)

// namesRow says whether one of the tokens may mean the row.
func namesRow(r Reading, id string) bool {
	return slices.ContainsFunc(r.Tokens, func(t Token) bool { return slices.Contains(t.RowIDs, id) })
}

// TestEveryAliasReadsBack prints every label word of the table in the ways labels
// print things and asks for the row back.
func TestEveryAliasReadsBack(t *testing.T) {
	for _, f := range Facts() {
		for _, a := range f.Aliases {
			number := strings.HasPrefix(a, "ci ")
			one := map[string]string{
				"alone": a, "upper case": strings.ToUpper(a), "full stop": a + ".", "blanks": "  " + a + " \n",
				"among others": "Aqua, Parfum, " + a + "; Linalool", "percent": a + " 12.5 %", "percent first": "30-45 % " + a,
				"heading": "Colourants: " + a, "in brackets": "(" + a + ")", "square": "[" + a + "]", "doubled": a + ", " + strings.ToUpper(a),
				"html": strings.ReplaceAll(a, "&", "&amp;"), "line breaks": strings.ReplaceAll(a, " ", "\n"),
				"may": "May contain: " + a, "may bracket": "[+/- " + a + "]", "kann": "Kann enthalten: " + a, "nano": a + " [nano]",
			}
			if number {
				n := a[3:]
				for how, label := range map[string]string{
					"run on": "CI" + n, "points": "C.I. " + n, "hyphen": "CI-" + n, "number sign": "C.I. No. " + n, "colour index": "Colour Index " + n,
					"parted": "CI " + n[:2] + " " + n[2:], "parted by hyphen": "CI " + n[:2] + "-" + n[2:], "bare": n, "colon": "CI: " + n,
					"full width": strings.Map(func(r rune) rune {
						if r >= '0' && r <= '9' {
							return r + 0xFEE0
						}
						return r
					}, a),
				} {
					one[how] = label
				}
			} else {
				one["one word"] = strings.ReplaceAll(a, " ", "-")
				if f.CI != "" {
					one["number behind"] = a + " (CI " + f.CI + ")"
					one["bare number behind"] = a + " (" + f.CI + ")"
					one["number before"] = "CI " + f.CI + " (" + a + ")"
					one["number beside"] = a + " CI " + f.CI
					one["name beside"] = "CI " + f.CI + " - " + a
					one["number after colon"] = a + ": CI " + f.CI
				}
			}
			for how, label := range one {
				r := Read(label)
				if len(r.Tokens) != 1 || !namesRow(r, f.ID) || len(r.Unresolved) > 0 || len(r.Notes) > 0 {
					t.Errorf("%s of %s: %q gives %+v, unresolved %q, notes %q", how, f.ID, label, r.Tokens, r.Unresolved, r.Notes)
					continue
				}
				tok := r.Tokens[0]
				if may := strings.HasPrefix(how, "may") || how == "kann"; tok.May != may {
					t.Errorf("%s of %s: may is %v", how, f.ID, tok.May)
				}
				if tok.Nano != (how == "nano") {
					t.Errorf("%s of %s: nano is %v", how, f.ID, tok.Nano)
				}
				if !tok.Carrier && tok.Behaviour != r.Worst || r.Worst.severity() < f.Behaviour.severity() {
					t.Errorf("%s of %s: worst is %s, its own %s", how, f.ID, r.Worst, f.Behaviour)
				}
			}
			other, otherID := "CI 77288", "chromium_oxide_green"
			if f.ID == otherID {
				other, otherID = "CI 77947", "zinc_oxide"
			}
			for how, label := range map[string]string{
				"slash": other + "/" + a, "slash first": a + " / " + other, "and": other + " (and) " + a, "and word": a + " and " + other,
				"ampersand": other + " & " + a, "no blank": other + "," + a, "lines": other + "\n" + a, "bullets": other + " • " + a,
				"in a bracket": "Harbour Dust (" + other + ", " + a + ")", "nested": "Harbour Dust (Shell (" + other + "), " + a + ")",
				"in a bracket behind a carrier": "Silica (" + other + ", " + a + ")", "brackets in a row": "Harbour Dust (" + other + ") (" + a + ")",
			} {
				r := Read(label)
				if !namesRow(r, f.ID) || !namesRow(r, otherID) || len(r.Unresolved) > 0 {
					t.Errorf("%s of %s: %q gives %+v, unresolved %q", how, f.ID, label, r.Tokens, r.Unresolved)
				}
			}
		}
	}
}

// TestLakes prints every dye as a lake in the usual ways.
func TestLakes(t *testing.T) {
	for _, f := range Facts() {
		if f.Form != "water_dye" && f.Form != "al_lake" && f.Form != "toner" && f.Form != "oil_dye" {
			continue
		}
		for _, a := range f.Aliases {
			a, had := strings.CutSuffix(a, " lake")
			for _, tail := range []string{" lake", " Lakes", " aluminum lake", " Aluminium Lake", " Al. Lake", " Calcium Lake", " (lake)", " (CI " + f.CI + ") Lake"} {
				if f.CI == "" || had && (strings.HasSuffix(a, " al") || strings.HasSuffix(a, " aluminum")) {
					continue
				}
				label := "Mica, " + a + tail
				r := Read(label)
				if len(r.Tokens) != 2 || len(r.Unresolved) > 0 {
					t.Errorf("%q gives %+v, unresolved %q", label, r.Tokens, r.Unresolved)
					continue
				}
				tok := r.Tokens[1]
				row, _ := FactByID(tok.RowIDs[0])
				if !tok.Lake || !strings.Contains(tok.Token, "+lake") || row.CI != f.CI {
					t.Errorf("%q gives %+v, want a lake of %s", label, tok, f.CI)
				}
				if sibling, ok := FactByID(f.ID + "_lake"); ok && tok.RowIDs[0] != sibling.ID {
					t.Errorf("%q means %v, not %s", label, tok.RowIDs, sibling.ID)
				}
			}
		}
	}
}
