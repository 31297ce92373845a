package fragrance

import "strings"

// ClaimsNoDiscolouration reports whether the supplier's words claim that the
// fragrance leaves the bar's colour alone: "no discolouration", "non-discoloring",
// "does not brown", "discolouration: none", "stays white", "colour stable". A claim is
// only ever held against the numbers, so a wording it does not know is no claim.
func ClaimsNoDiscolouration(claims []string) bool {
	return denies(claims, effect{
		stems: []string{"discolour", "discolor", "brown"},
		whole: [][2]string{{"stays", "white"}, {"remains", "white"}, {"colour", "stable"}, {"color", "stable"}},
	})
}

// ClaimsNoAcceleration reports whether the supplier's words claim that the fragrance
// does not hurry the batter: "no acceleration", "does not accelerate trace",
// "acceleration: none", "slow moving", "slow to trace".
func ClaimsNoAcceleration(claims []string) bool {
	return denies(claims, effect{
		stems: []string{"accelerat"},
		whole: [][2]string{{"slow", "moving"}, {"slow", "mover"}, {"slow", "trace"}, {"slows", "trace"}},
	})
}

// effect is what a claim may deny: stems of its own words, and pairs of words that
// deny it by themselves.
type effect struct {
	stems []string
	whole [][2]string
}

// Bounds on the claims that are looked at.
const (
	maxClaims    = 100
	maxClaimText = 1000
)

// Words which open a denial, which end one, and which are skipped inside one. A
// denial reaches over the nouns and bare verbs behind it ("no ricing, acceleration
// or discolouration") and ends at a finite verb ("no acceleration, discolours").
var (
	deniers = wordSet("no not non never without zero nor wont doesnt dont cannot cant isnt")
	enders  = wordSet("but yet however though although except tested guaranteed sure only may can could might will does some slight slightly light lightly little minor expect possible")
	nothing = wordSet("no none nil zero 0 n")
)

func wordSet(list string) map[string]bool {
	set := map[string]bool{}
	for _, w := range strings.Fields(list) {
		set[w] = true
	}
	return set
}

// reach is how many words a denial may hold that say nothing of themselves.
const reach = 4

func denies(claims []string, e effect) bool {
	for i, c := range claims {
		if i == maxClaims {
			break
		}
		for _, clause := range clauses(c) {
			if e.deniedIn(clause) {
				return true
			}
		}
	}
	return false
}

// clauses cuts a claim at the marks that end a thought and splits each part into
// words in lower case. A colon stays as a word: behind it stands an answer.
func clauses(text string) (out [][]string) {
	if len(text) > maxClaimText {
		text = text[:maxClaimText]
	}
	text = strings.ToLower(text)
	text = strings.NewReplacer("'", "", "’", "", ":", " : ", "=", " : ").Replace(text)
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(".;!?|\n\r()", r) }) {
		words := strings.FieldsFunc(part, func(r rune) bool {
			return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == ':')
		})
		if len(words) > 0 {
			out = append(out, words)
		}
	}
	return out
}

// deniedIn reads one clause from left to right.
func (e effect) deniedIn(words []string) bool {
	denied, idle := false, 0
	for i, w := range words {
		if i > 0 {
			for _, pair := range e.whole {
				if endsPair(words, i, pair) && !denied {
					return true
				}
			}
		}
		stem := e.stemOf(w)
		switch {
		case deniers[w]:
			denied, idle = true, 0
		case stem != "" && answeredByNone(words[i+1:]):
			return true
		case stem != "" && finite(w, stem) && !(i > 0 && deniers[words[i-1]]):
			denied = false
		case stem != "" && denied:
			return true
		case enders[w]:
			denied = false
		case denied:
			if idle++; idle > reach {
				denied = false
			}
		}
	}
	return false
}

// endsPair reports whether words[i] ends the pair, with at most one word between.
func endsPair(words []string, i int, pair [2]string) bool {
	if words[i] != pair[1] {
		return false
	}
	return words[i-1] == pair[0] || i > 1 && words[i-2] == pair[0] && !deniers[words[i-1]]
}

// endings are what may stand behind a stem: "discolour", "browning", "acceleration",
// but not "brownie".
var endings = wordSet("s es ed ing ation ations e ion")

// stemOf gives the stem of this effect that the word is a form of, "" if none.
func (e effect) stemOf(word string) string {
	for _, s := range e.stems {
		if rest, ok := strings.CutPrefix(word, s); ok && (rest == "" || endings[rest]) {
			return s
		}
	}
	return ""
}

// finite reports whether a word on the stem is a verb that says it happens:
// "discolours", "browns", "accelerates", "browned".
func finite(word, stem string) bool {
	switch strings.TrimPrefix(word, stem) {
	case "s", "es", "ed":
		return true
	}
	return false
}

// answeredByNone reports whether the words behind an effect answer it with none, as
// in "discolouration: none" or "browning free".
func answeredByNone(rest []string) bool {
	if len(rest) > 0 && rest[0] == ":" {
		rest = rest[1:]
		return len(rest) > 0 && nothing[rest[0]]
	}
	return len(rest) > 0 && (rest[0] == "none" || rest[0] == "nil" || rest[0] == "free")
}
