package formula

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"lyefast/internal/near"
)

// NameError says that a name of an oil, additive or liquid fits nothing, or more
// than one thing.
type NameError struct {
	Kind string // "oil", "additive"
	Name string
	// Several are the keys it could mean; Near are names that look like it.
	Several, Near []string
}

func (e *NameError) Error() string {
	switch {
	case strings.TrimSpace(e.Name) == "":
		return "no name of an " + e.Kind + " given"
	case len(e.Several) > 0:
		return fmt.Sprintf("%q could be any of %s; write one of these keys", e.Name, strings.Join(e.Several, ", "))
	}
	return fmt.Sprintf("no %s is called %q", e.Kind, e.Name)
}

// Hint suggests what to write instead, "" if nothing comes near.
func (e *NameError) Hint() string {
	switch {
	case len(e.Several) > 0:
		return "write one of " + strings.Join(e.Several, ", ")
	case len(e.Near) > 0:
		return "did you mean " + strings.Join(e.Near, " or ") + "?"
	case e.Kind == "oil":
		return "see `lyefast oil list`, or add it with its saponification range"
	}
	return ""
}

// maxName bounds a name from outside, in runes, as far as [near.Fold] reads it.
const maxName = 80

// tooLong gives the head of a name that is beyond maxName.
func tooLong(name string) (head string, long bool) {
	if utf8.RuneCountInString(name) <= maxName {
		return "", false
	}
	return string([]rune(name)[:maxName]) + "…", true
}

// fillers are words that people leave out or put in at will, folded.
var fillers = map[string]bool{"oil": true, "butter": true, "fat": true, "the": true, "of": true, "pure": true, "organic": true}

// plain takes the fillers from the words of a name. A name of fillers alone stays as it is.
func plain(all []string) []string {
	kept := slices.DeleteFunc(slices.Clone(all), func(w string) bool { return fillers[w] })
	if len(kept) == 0 {
		return all
	}
	return kept
}

// sameWords says whether two names have the same words in any order.
func sameWords(a, b []string) bool {
	if len(a) != len(b) {
		return false
	}
	x, y := slices.Clone(a), slices.Clone(b)
	slices.Sort(x)
	slices.Sort(y)
	return slices.Equal(x, y)
}

// FindOil finds an oil by key, common name, INCI name or the usual short forms
// ("olive, refined", "coconut", "canola oil"), whatever the case, punctuation and
// order of words. The maker's own oils outrank the built-in ones and oils in use
// outrank retired ones. Some short names have a documented default (column aliases
// of the table: olive is olive_refined, shea is shea_unrefined, almond is
// almond_sweet_bp); other names that fit several oils are refused. The error is a
// [*NameError].
func FindOil(name string, oils []Oil) (Oil, error) {
	fail := &NameError{Kind: "oil", Name: name}
	if head, long := tooLong(name); long {
		fail.Name = head
		return Oil{}, fail
	}
	exact := near.Fold(name)
	want := plain(exact)
	if len(want) == 0 {
		return Oil{}, fail
	}
	ranked := namesOf(oils)
	// From the surest reading of the name to the loosest; own oils first, retired ones last.
	for rank := range 4 {
		for _, fits := range []func(oilNames) bool{
			func(o oilNames) bool { return slices.Equal(o.key, exact) || slices.Equal(o.name, exact) },
			func(o oilNames) bool {
				return slices.ContainsFunc(o.aliases, func(alias []string) bool { return slices.Equal(alias, want) })
			},
			func(o oilNames) bool { return sameWords(o.plainKey, want) || sameWords(o.plainName, want) },
			func(o oilNames) bool {
				return slices.ContainsFunc(o.aliases, func(alias []string) bool { return sameWords(alias, want) })
			},
		} {
			if i := slices.IndexFunc(ranked, func(o oilNames) bool { return o.oil.rank() == rank && fits(o) }); i >= 0 {
				return ranked[i].oil, nil
			}
		}
	}
	// An INCI name or a part of a common name must point at one oil.
	for _, fits := range []func(oilNames) bool{
		func(o oilNames) bool { return sameWords(near.Fold(o.oil.INCI), exact) },
		func(o oilNames) bool { return within(want, o.plainName) || within(want, o.plainKey) },
	} {
		var hits []Oil
		for _, o := range ranked {
			if fits(o) {
				hits = append(hits, o.oil)
			}
		}
		if len(hits) == 1 {
			return hits[0], nil
		}
		if len(hits) > 1 {
			for _, o := range hits {
				fail.Several = append(fail.Several, o.label())
			}
			return Oil{}, fail
		}
	}
	var have []string
	for _, o := range ranked {
		have = append(have, o.oil.label())
		for _, alias := range o.aliases {
			have = append(have, strings.Join(alias, " "))
		}
	}
	fail.Near = near.Near(name, have)
	return Oil{}, fail
}

// rank is 0 for the maker's own oils, 1 for the built-in ones, 2 more when retired.
func (o Oil) rank() int {
	n := 0
	if o.Retired {
		n += 2
	}
	if o.BuiltIn {
		n++
	}
	return n
}

// oilNames is an oil with its names folded for comparing.
type oilNames struct {
	oil                            Oil
	key, name, plainKey, plainName []string
	aliases                        [][]string
}

// namesOf folds the names of oils and sorts them by rank.
func namesOf(oils []Oil) []oilNames {
	out := make([]oilNames, len(oils))
	for i, o := range oils {
		n := oilNames{oil: o, key: near.Fold(o.Key), name: near.Fold(o.Name)}
		n.plainKey, n.plainName = plain(n.key), plain(n.name)
		if f, ok := factOf(o.Key); ok && o.BuiltIn {
			for _, a := range f.aliases {
				n.aliases = append(n.aliases, plain(near.Fold(a)))
			}
		}
		out[i] = n
	}
	slices.SortStableFunc(out, func(a, b oilNames) int { return a.oil.rank() - b.oil.rank() })
	return out
}

// label is what an oil is called in messages: its key, else its name.
func (o Oil) label() string {
	if o.Key != "" {
		return o.Key
	}
	return o.Name
}

// within says whether all words of part occur in whole.
func within(part, whole []string) bool {
	for _, w := range part {
		if !slices.Contains(whole, w) {
			return false
		}
	}
	return true
}
