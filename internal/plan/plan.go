// Package plan says what will go wrong with a recipe before it is poured.
//
// Start at [Check]: it runs every rule of [Rules] over a plan whose weights and
// forecast are already computed and returns the findings, gravest first. A rule
// stands in a file of its own, rule_NAME.go; it computes nothing that the engines
// have computed already, it only judges. Every finding says because what, with
// the numbers, what to try, with numbers too, and on what grounds.
//
// No finding is not the same as safe: a rule speaks only of what it knows.
package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"lyefast/internal/colorants"
	"lyefast/internal/forecast"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
)

// Severity ranks a finding.
type Severity int

// The severities. A note is worth knowing, a caution is likely to disappoint, a
// risk spoils the bar or can hurt someone.
const (
	Note Severity = iota
	Caution
	Risk
)

var severities = []string{"note", "caution", "risk"}

func (s Severity) String() string { return severities[s] }

// MarshalText writes "note", "caution" or "risk".
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what [Severity.MarshalText] writes.
func (s *Severity) UnmarshalText(b []byte) error {
	v, err := ParseSeverity(string(b))
	*s = v
	return err
}

// ParseSeverity reads "note", "caution" or "risk".
func ParseSeverity(text string) (Severity, error) {
	i := slices.Index(severities, strings.ToLower(strings.TrimSpace(text)))
	if i < 0 {
		return Note, fmt.Errorf("severity %q is not known; use note, caution or risk", text)
	}
	return Severity(i), nil
}

// Grounds name what a finding rests on, strongest first.
const (
	OwnReadings = "own readings"
	Chemistry   = "label and chemistry"
	Arithmetic  = "arithmetic"
	Papers      = "its papers"
	Claim       = "supplier's claim"
	Practice    = "common practice"
	Priors      = "priors, no reading of your own yet"
)

// Finding is one thing a plan check says.
type Finding struct {
	Rule     string   `json:"rule"`
	Severity Severity `json:"severity"`
	// Portion is "batter/portion", a batter's name, or empty for the whole plan.
	Portion string `json:"portion"`
	// Title is the finding in one line.
	Title   string `json:"title"`
	Because string `json:"because"`
	Try     string `json:"try"`
	Grounds string `json:"grounds"`
	// Line of the plan file it points at, 0 = none.
	Line int `json:"line,omitempty"`
}

// Input is a plan with everything computed that rules judge.
type Input struct {
	Plan     formula.Plan
	Recipe   formula.Recipe
	Problems []formula.Problem
	Forecast forecast.Result
	// Colorants is what is known of each colourant of the plan, by its name there.
	Colorants map[string]Colorant
	// Scent is the plan's fragrance, nil without one.
	Scent *Scent
	// Reach proposes other colourants for a portion; nil proposes nothing.
	Reach func(portion string) (Proposal, bool)
}

// Colorant is what a plan check knows of one colourant.
type Colorant struct {
	Product colorants.Product
	// Label is what its ingredient list says, and Expect what that leads to.
	Label  colorants.Reading
	Expect colorants.Expectation
	// Known is true when it stands on the shelf or is described in the plan.
	Known bool
	// Near are names on the shelf that it may have meant.
	Near []string
	// Teaspoon is the guess for a level teaspoon where nobody has weighed one, nil
	// where it is known.
	Teaspoon *colorants.Teaspoon
}

// Scent is what a plan check knows of the fragrance.
type Scent struct {
	Fragrance fragrance.Fragrance
	// Known is true when it stands on the shelf or is described in the plan.
	Known bool
	Near  []string
	// Movement is the prior risk of acceleration, ricing and seizing.
	Movement fragrance.Risk
	// Pots holds the dose and the stabiliser of each pot, in the order of the recipe.
	Pots []ScentPot
}

// Proposal is a set of colourants for a portion, with what it would settle on.
type Proposal struct {
	Uses  []forecast.Use
	Hex   string
	Delta float64 // ΔE00 from the target when settled
}

// Words gives the proposal as "1.5 g/kg Rust with 0.4 g/kg Slate".
func (p Proposal) Words() string {
	var parts []string
	for _, u := range p.Uses {
		parts = append(parts, fmt.Sprintf("%s %s g/kg", u.Colorant, compact(float64(u.Dose))))
	}
	return strings.Join(parts, " with ")
}

// Rule is one check.
type Rule struct {
	// ID names the rule in output, JSON and the golden files.
	ID string
	// About says in one line what it looks for.
	About string
	check func(*Input) []Finding
}

// Rules is the table of all rules in the order in which equal findings are shown.
var Rules = []Rule{
	{"lye-danger", "metal powder with lye, lye whose discount may be used up", lyeDanger},
	{"lye-strength", "lye too strong or too weak, purity or water not stated", lyeStrength},
	{"breaks-down", "a colourant that lye destroys", breaksDown},
	{"shifts", "a colourant that settles on another colour, or leaves and returns", shifts},
	{"bleeds", "a colourant that travels into its neighbour", bleeds},
	{"unknown", "a colourant that is not known or whose label cannot be read", unknown},
	{"glitter", "glitter and neon that are no cosmetic colours", glitter},
	{"browning", "vanillin that moves a portion off its target", browning},
	{"white-tinges", "a white that will tinge, even with stabiliser", whiteTinges},
	{"stabiliser", "stabiliser missing, short or of unknown strength", stabiliser},
	{"claim", "a supplier's claim that the figures contradict", claim},
	{"contrast", "neighbours that lose their contrast", contrast},
	{"base-colour", "oils too yellow or green for a pale target", baseColour},
	{"off-target", "a portion that settles away from its target for another reason", offTarget},
	{"creep", "vanillin that creeps into an unscented neighbour", creep},
	{"ceiling", "a fragrance above its certificate, in the bar or in one portion", ceiling},
	{"fast-mover", "a batter that thickens faster than the technique allows", fastMover},
	{"false-trace", "hard fats in a cool batter", falseTrace},
	{"ash", "soda ash likely", ash},
	{"veins", "clear veins likely", veins},
	{"recipe", "what the arithmetic of the recipe wants said", recipe},
}

// Check runs every rule and sorts the findings: gravest first, then in the order
// of the rules and of the portions in the plan.
func Check(in *Input) []Finding {
	findings := []Finding{}
	for _, r := range Rules {
		for _, f := range r.check(in) {
			f.Rule = r.ID
			findings = append(findings, f)
		}
	}
	slices.SortStableFunc(findings, func(a, b Finding) int { return cmp.Compare(b.Severity, a.Severity) })
	return findings
}

// jug is one portion seen from all sides.
type jug struct {
	key     string
	plan    *formula.Portion
	pot     *formula.Pot
	weight  *formula.PortionWeight
	outcome *forecast.Outcome
	batter  int
	index   int
}

// jugs walks the portions of a plan together with their weights and forecasts.
func (in *Input) jugs() []jug {
	var out []jug
	n := 0
	for bi := range in.Plan.Batters {
		b := &in.Plan.Batters[bi]
		if bi >= len(in.Recipe.Pots) {
			break
		}
		pot := &in.Recipe.Pots[bi]
		for pi := range b.Portions {
			j := jug{key: b.Name + "/" + b.Portions[pi].Name, plan: &b.Portions[pi], pot: pot, batter: bi, index: pi}
			if pi < len(pot.Portions) {
				j.weight = &pot.Portions[pi]
			}
			if n < len(in.Forecast.Outcomes) {
				j.outcome = &in.Forecast.Outcomes[n]
			}
			n++
			out = append(out, j)
		}
	}
	return out
}

// neighbours gives each pair of portions named beside each other once.
func (in *Input) neighbours() [][2]jug {
	jugs := in.jugs()
	find := map[[2]int]jug{}
	for _, j := range jugs {
		find[[2]int{j.batter, j.index}] = j
	}
	var out [][2]jug
	seen := map[string]bool{}
	for _, j := range jugs {
		for _, name := range j.plan.Beside {
			b, p, err := in.Plan.FindPortion(name, in.Plan.Batters[j.batter].Name)
			if err != nil {
				continue
			}
			o := find[[2]int{b, p}]
			if o.plan == nil || seen[o.key+"\x00"+j.key] || seen[j.key+"\x00"+o.key] {
				continue
			}
			seen[j.key+"\x00"+o.key] = true
			out = append(out, [2]jug{j, o})
		}
	}
	return out
}

// compact writes a dose with two significant digits or so.
func compact(v float64) string {
	switch {
	case v >= 10:
		return fmt.Sprintf("%.0f", v)
	case v >= 1:
		return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0")
	}
	return strings.TrimRight(fmt.Sprintf("%.2f", v), "0")
}

// join writes a list as "a, b and c".
func join(list []string) string {
	switch len(list) {
	case 0:
		return ""
	case 1:
		return list[0]
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}
