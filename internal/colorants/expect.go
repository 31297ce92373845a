package colorants

import (
	"fmt"
	"slices"
	"strings"
)

// Grounds says what a verdict rests on, weakest last; a maker's own readings
// outrank them all.
type Grounds string

// The grounds this package knows.
const (
	GroundsLabel    Grounds = "label and chemistry"
	GroundsClaim    Grounds = "supplier's claim"
	GroundsPractice Grounds = "common practice"
)

// Shares are the probabilities of the four courses a colour can take; they sum to 1.
type Shares struct {
	Holds   float64 `json:"holds"`
	Returns float64 `json:"returns"`
	Settles float64 `json:"settles"`
	Fades   float64 `json:"fades"`
}

// Expectation is what to expect of a product before any reading of it.
type Expectation struct {
	// Reading is what its label says.
	Reading Reading `json:"label"`
	// Verdict, with its probability; below one half the verdict is "unknown" and the
	// probability that of the likeliest.
	Verdict     Verdict `json:"verdict"`
	Probability float64 `json:"probability"`
	Grounds     Grounds `json:"grounds"`
	// Because says why in a sentence.
	Because string `json:"because"`
	// Pattern are the courses of the colour where it was put; Bleeds the probability
	// that it travels into what lies beside it, which is a separate question.
	Pattern Shares  `json:"pattern"`
	Bleeds  float64 `json:"bleeds"`
	// Becomes is the colour it settles on if it does not hold, nil for a colour that
	// is expected to hold; Fresh what the batter shows, nil if no different.
	Becomes *Becomes `json:"becomes"`
	Fresh   *Becomes `json:"fresh"`
	// JudgeFromDay is the day after the pour before which the colour says nothing yet.
	JudgeFromDay float64 `json:"judge_from_day"`
	// HalfLifeDays is how fast it changes, 0 for a colour that holds. Assumed.
	HalfLifeDays float64 `json:"half_life_days"`
	// Unknowns counts the texts of the label that could not be matched.
	Unknowns int `json:"unknowns"`
	// White: an opaque white and nothing coloured. Clear: carriers that colour nothing.
	White bool `json:"white"`
	Clear bool `json:"clear"`
}

// The priors. No count of soaps stands behind them: they say in figures what the
// words of the table mean to us, and give way to the maker's own readings. A row's
// pure shares are mixed with ignorance in proportion to its confidence:
//
//	p = w·pure + (1 − w)·ignorance
//
// with w 0.9 for high, 0.75 for medium and 0.5 for low confidence; w is lowered
// where the label leaves open which of several unlike rows is meant, where the
// colour only "may" be inside, and where other text could not be matched.
var (
	certainty = map[string]float64{"high": 0.9, "medium": 0.75, "low": 0.5}

	pure = map[course]Shares{
		holds:   {Holds: 0.94, Returns: 0.03, Settles: 0.02, Fades: 0.01},
		settles: {Holds: 0.03, Returns: 0.03, Settles: 0.88, Fades: 0.06},
		fades:   {Holds: 0.03, Returns: 0.02, Settles: 0.20, Fades: 0.75},
		returns: {Holds: 0.06, Returns: 0.85, Settles: 0.05, Fades: 0.04},
		partly:  {Holds: 0.05, Returns: 0.40, Settles: 0.30, Fades: 0.25},
	}

	// ignorance is what to expect of a colourant of which nothing is known.
	ignorance = Shares{Holds: 0.40, Returns: 0.10, Settles: 0.30, Fades: 0.20}

	// ignoranceOf are the verdicts of the same ignorance.
	ignoranceOf = map[Verdict]float64{VerdictStable: 0.40, VerdictShifting: 0.35, VerdictUnreliable: 0.25}

	// bleedRisk turns the first word of the column into a probability.
	bleedRisk = map[string]float64{"none": 0.02, "low": 0.07, "medium": 0.35, "high": 0.75}

	// judgeFrom, days: an acid–base change and clear gel are over by 48 to 72 hours,
	// what lands elsewhere has done so within two days; what fades or bleeds takes
	// four weeks to tell. Common practice, no source.
	judgeFrom = map[course]float64{holds: 1, settles: 2, returns: 3, partly: 3, fades: 28}

	// halfLife in days, assumed: minutes to hours for what is destroyed or ionised,
	// half a day for what returns, weeks for what fades.
	halfLife = map[course]float64{settles: 0.3, returns: 0.5, partly: 0.5, fades: 20}
)

const (
	ignorantBleeds = 0.25 // of a colourant of which nothing is known
	openRows       = 0.85 // the label leaves unlike rows open
	onlyMay        = 0.7  // "may contain"
	otherUnknowns  = 0.85 // other text could not be matched
	claimWeight    = 0.35 // of a supplier's word
	kindWeight     = 0.5  // of what is usual for a kind
	bleedsDay      = 28.0 // by when a bleeding dye has shown it
)

// Expect says what to expect of a product from its label, else from its supplier's
// claim, else from what is usual for its kind. It behaves as the worst colourant on
// its label. All probabilities are priors of ours, see the source.
func Expect(p Product) Expectation {
	r := Read(p.Label)
	e := Expectation{Reading: r, Unknowns: len(r.Unresolved), Grounds: GroundsLabel}
	e.White, e.Clear = shade(r)
	if e.White = e.White || p.Kind == KindWhite && len(r.Tokens) == 0; e.White {
		e.Clear = false
	}
	switch {
	case r.WorstRow != "":
		e.fromRow(r)
	case len(r.Unresolved) > 0:
		e.mix(0, holds, VerdictUnknown)
		e.Bleeds = ignorantBleeds
		e.JudgeFromDay = bleedsDay
		e.Because = r.WorstReason
	default:
		e.withoutLabel(p)
	}
	return e
}

// fromRow fills in what the worst row of the label leads to.
func (e *Expectation) fromRow(r Reading) {
	list := facts()
	var token *Token
	for i := range r.Tokens {
		if r.Tokens[i].Token == r.WorstToken {
			token = &r.Tokens[i]
		}
	}
	f := &list[names().byID[r.WorstRow]]
	if f.Behaviour == Stable {
		// All are equally stable in words; the one least sure decides.
		for i := range r.Tokens {
			for _, j := range r.Tokens[i].rows {
				if !r.Tokens[i].Carrier && certainty[list[j].Confidence] < certainty[f.Confidence] {
					f, token = &list[j], &r.Tokens[i]
				}
			}
		}
	}
	w := certainty[f.Confidence]
	if slices.ContainsFunc(token.rows, func(i int) bool { return list[i].Behaviour != f.Behaviour }) {
		w *= openRows
	}
	if token.May {
		w *= onlyMay
	}
	if e.Unknowns > 0 {
		w *= otherUnknowns
	}
	l, moves := landings()[f.ID]
	if !moves {
		l.course = holds
	}
	class := f.Class
	if f.Behaviour == Unknown {
		w, class = 0, VerdictUnknown
	}
	e.mix(w, l.course, class)
	e.lightFades(f.LightFastness, l.course)
	e.Because = reason(f)
	if f.Behaviour == Unknown {
		e.Because += "; " + f.Evidence
	}
	e.JudgeFromDay, e.HalfLifeDays = judgeFrom[l.course], halfLife[l.course]
	for _, t := range r.Tokens {
		for _, j := range t.rows {
			e.Bleeds = max(e.Bleeds, bleeds(&list[j], t))
		}
	}
	if e.Unknowns > 0 {
		e.Bleeds = max(e.Bleeds, ignorantBleeds)
	}
	if f.Behaviour == Bleeds || f.Behaviour == Unknown {
		e.JudgeFromDay = max(e.JudgeFromDay, bleedsDay)
	}
	if !moves {
		return
	}
	e.Becomes = becomes(l.cured, f.Cured)
	if l.fresh != "" {
		e.Fresh = becomes(l.fresh, f.Fresh)
	}
	for _, t := range r.Tokens {
		for _, j := range t.rows {
			if g := &list[j]; e.Becomes.Lab != nil && g.Behaviour == Stable && colours(g) {
				// Both colours stay in the bar; how they add up depends on a dose no label gives.
				e.Becomes.Words += "; " + strings.ToLower(g.Name()) + " beside it stays"
				e.Becomes.SD.L, e.Becomes.SD.A, e.Becomes.SD.B = max(e.Becomes.SD.L, 14), max(e.Becomes.SD.A, 14), max(e.Becomes.SD.B, 14)
				return
			}
		}
	}
}

// mix sets pattern and verdict from the pure course and verdict at weight w.
func (e *Expectation) mix(w float64, c course, class Verdict) {
	p, q := pure[c], ignorance
	e.Pattern = Shares{
		Holds: w*p.Holds + (1-w)*q.Holds, Returns: w*p.Returns + (1-w)*q.Returns,
		Settles: w*p.Settles + (1-w)*q.Settles, Fades: w*p.Fades + (1-w)*q.Fades,
	}
	e.Verdict, e.Probability = VerdictUnknown, 0
	for _, v := range []Verdict{VerdictStable, VerdictShifting, VerdictUnreliable} {
		share := ignoranceOf[v]
		if class != VerdictUnknown {
			share *= 1 - w
			if v == class {
				share += w
			}
		}
		if share > e.Probability {
			e.Verdict, e.Probability = v, share
		}
	}
	if e.Probability < 0.5 {
		e.Verdict = VerdictUnknown
	}
}

// lightFades moves a share of what would stay to fading where light is known to
// take the colour: a quarter for poor fastness, an eighth for poor to fair. Assumed.
func (e *Expectation) lightFades(fastness string, c course) {
	share := 0.0
	switch {
	case c == fades:
	case strings.HasPrefix(fastness, "poor to fair"):
		share = 0.125
	case strings.HasPrefix(fastness, "poor"):
		share = 0.25
	}
	p := &e.Pattern
	p.Fades += share * (p.Holds + p.Settles)
	p.Holds *= 1 - share
	p.Settles *= 1 - share
}

// bleeds is the probability that a colour of the label travels.
func bleeds(f *Fact, t Token) float64 {
	if t.Carrier || f.carrier() && f.Behaviour != Stable {
		return bleedRisk["none"]
	}
	first, _, _ := strings.Cut(f.BleedRisk, " ")
	p, ok := bleedRisk[first]
	if !ok {
		p = ignorantBleeds
	}
	if f.Behaviour == Bleeds {
		p = 0.9
	}
	w := certainty[f.Confidence]
	if t.May {
		w *= onlyMay
	}
	if f.Behaviour == Stable && first == "none" {
		w = 1 // a pigment that no liquid dissolves has nothing to bleed with
	}
	return w*p + (1-w)*ignorantBleeds
}

// withoutLabel falls back on the supplier's word, then on what is usual.
func (e *Expectation) withoutLabel(p Product) {
	kind := p.Kind
	if kind == "" {
		kind = GuessKind(p)
	}
	e.Bleeds = ignorantBleeds
	e.JudgeFromDay = bleedsDay
	if b := claimed(p.Claim); b != "" {
		e.Grounds = GroundsClaim
		c, class := holds, VerdictStable
		switch b {
		case Bleeds:
			class, e.Bleeds = VerdictUnreliable, 0.6
		case Shifts:
			c, class = settles, VerdictShifting
		}
		e.mix(claimWeight, c, class)
		e.Because = fmt.Sprintf("no label to read; the supplier says %q", p.Claim)
		return
	}
	e.Grounds = GroundsPractice
	switch kind {
	case KindOxide, KindUltramarine, KindCarbon, KindClay, KindWhite:
		e.mix(kindWeight, holds, VerdictStable)
		e.Bleeds = 0.1
		e.Because = fmt.Sprintf("no label to read; a colourant of the kind %q usually holds", kind)
	case KindDye:
		e.mix(kindWeight, holds, VerdictUnreliable)
		e.Bleeds = 0.6
		e.Because = "no label to read; dyes usually bleed"
	case KindPlant:
		e.mix(kindWeight, fades, VerdictUnreliable)
		e.Because = "no label to read; plant colours usually turn or fade"
	default:
		e.mix(0, holds, VerdictUnknown)
		e.Because = "no label to read; ask the supplier for the full list"
	}
}

// claimed reads a supplier's claim: stable, bleeding or changing, "" if it says
// neither. Denials are taken out first, so that "does not bleed" is no bleeding.
func claimed(claim string) Behaviour {
	s := strings.Join(strings.FieldsFunc(strings.ToLower(claim), func(r rune) bool { return (r < 'a' || r > 'z') && r != '\'' }), " ")
	denied := false
	for _, no := range []string{"does not ", "doesn't ", "do not ", "don't ", "will not ", "won't ", "no ", "non ", "not ", "never "} {
		for _, verb := range []string{"bleed", "morph", "fade", "change", "shift", "migrate", "discolor", "discolour"} {
			for at := strings.Index(" "+s, " "+no+verb); at >= 0; at = strings.Index(" "+s, " "+no+verb) {
				s = s[:at] + s[at+len(no)+len(verb):]
				denied = true
			}
		}
	}
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(s, w) })
	}
	switch {
	case has("bleed", "migrat"):
		return Bleeds
	case has("morph", "unstable", "not stable", "fade", "shift", "changes colo", "turns ", "discolo"):
		return Shifts
	case denied || has("stable", "suitable for cold process", "holds"):
		return Stable
	}
	return ""
}

// colours says whether a row brings a hue of its own.
func colours(f *Fact) bool {
	return !f.carrier() && f.Form != "pearl" && !whites[f.ID]
}

// whites are the opaque whites; the clays among them are off-white.
var whites = map[string]bool{"titanium_dioxide": true, "zinc_oxide": true, "kaolin": true, "bentonite": true}

// shade says whether a label holds nothing but whites, or nothing but carriers.
func shade(r Reading) (white, clear bool) {
	if len(r.Tokens) == 0 || len(r.Unresolved) > 0 {
		return false, false
	}
	list := facts()
	clear = true
	for _, t := range r.Tokens {
		for _, i := range t.rows {
			f := &list[i]
			if colours(f) {
				return false, false
			}
			white = white || whites[f.ID]
			clear = clear && f.carrier()
		}
	}
	return white, clear
}
