package fragrance

import (
	"fmt"
	"strings"

	"lyefast/internal/unit"
)

// Chance is how likely a maker is to note a behaviour, as a Beta distribution over
// batches before the conditions, and the mean after them.
type Chance struct {
	// Percent is the chance under the conditions asked for.
	Percent unit.Percent `json:"percent"`
	// Yes and No are the Beta counts under ordinary conditions, priors and batches
	// together.
	Yes float64 `json:"yes_counts"`
	No  float64 `json:"no_counts"`
}

// Risk is how a fragrance is likely to behave in the batter. The scores are
// assumptions until the maker's own batches move them.
type Risk struct {
	Accelerates Chance   `json:"accelerates"`
	Rices       Chance   `json:"rices"`
	Seizes      Chance   `json:"seizes"`
	Basis       []string `json:"basis"`
}

// Noted is what the maker noted of a fragrance over all batches with it.
type Noted struct {
	Batches, Accelerated, Riced, Seized int
}

// Handling is how the fragrance is to meet the batter.
type Handling struct {
	// BatterAt and LyeConcentration are nil where not said.
	BatterAt         *unit.Celsius
	LyeConcentration *unit.Percent
	Rate             unit.Percent // of oils, 0 = not said
	HandStirred      bool         // no blender after the fragrance
	SolventHeavy     bool         // the maker knows it to be thinned with much solvent
	Noted            Noted
}

// priorWeight is how many batches a prior score is worth (assumed).
const priorWeight = 4

// The prior scores: the chance that a maker will note it, all assumptions.
const (
	spiceAccelerates    = 0.8 // eugenol or cinnamal 5 % and up of the fragrance
	floralAccelerates   = 0.45
	vanillinAccelerates = 0.35 // vanillin 5 % and up
	citrusAccelerates   = 0.1  // citrus or mint
	unknownAccelerates  = 0.3
	unknownRices        = 0.1
	solventRices        = 0.2
	unknownSeizes       = 0.05
	spiceSeizes         = 0.3
)

// Words in a fragrance's name that tell its family where no sheet does.
var (
	spiceWords  = wordSet("clove cloves cinnamon cassia allspice pimento")
	floralWords = wordSet("rose geranium ylang jasmine lily lilac gardenia honeysuckle tuberose neroli floral hyacinth")
	citrusWords = wordSet("lemon orange lime grapefruit bergamot mandarin tangerine citrus litsea")
	mintWords   = wordSet("mint peppermint spearmint cornmint menthol eucalyptus")
)

// Moves scores how the fragrance moves the batter: by the substances it states, else
// by the words of its name; then by the speed and the claims on its papers; then by
// the maker's own batches; at last the conditions multiply the odds.
//
// A stated speed counts as two batches and a claim as one, an assumption: words on
// paper are to be outweighed by a few batches of the maker's own.
func Moves(f Fragrance, h Handling) (Risk, error) {
	if err := f.Validate(); err != nil {
		return Risk{}, err
	}
	if err := h.validate(); err != nil {
		return Risk{}, err
	}
	r := Risk{Basis: []string{}}
	say := func(format string, args ...any) { r.Basis = append(r.Basis, fmt.Sprintf(format, args...)) }

	accelerates, seizes, why := f.family()
	rices := unknownRices
	say("%s (assumed score, worth %d batches)", why, priorWeight)
	if h.SolventHeavy {
		rices = solventRices
		say("thinned with much solvent: may rice")
	}
	a, i, s := betaOf(accelerates), betaOf(rices), betaOf(seizes)

	switch f.Moves {
	case Slow, Normal:
		a.add(0, 2)
		s.add(0, 2)
	case Fast:
		a.add(2, 2)
	case Seizes:
		a.add(2, 2)
		s.add(2, 2)
	}
	if f.Moves != "" {
		say("speed on the shelf: %s (counts as two batches)", f.Moves)
	}
	if ClaimsNoAcceleration(f.Claims) {
		a.add(0, 1)
		say("supplier's claim: no acceleration (counts as one batch)")
	}
	if n := h.Noted; n.Batches > 0 {
		a.add(float64(n.Accelerated), float64(n.Batches))
		i.add(float64(n.Riced), float64(n.Batches))
		s.add(float64(n.Seized), float64(n.Batches))
		say("own batches: %d, of which %d accelerated, %d riced, %d seized", n.Batches, n.Accelerated, n.Riced, n.Seized)
	}

	// Usage bears on all three. Warmth, strong lye and stirring bear on speed; ricing
	// is remedied by warmth and by stirring through it, so they do not raise it.
	fast, any := 1.0, 1.0
	if h.BatterAt != nil && *h.BatterAt > 43 {
		fast *= 2
		say("batter at %.4g °C, over 43 °C: odds × 2", float64(*h.BatterAt))
	}
	if h.LyeConcentration != nil && *h.LyeConcentration > 38 {
		fast *= 1.5
		say("lye of %.4g %%, over 38 %%: odds × 1.5", float64(*h.LyeConcentration))
	}
	if h.HandStirred {
		fast *= 0.6
		say("stirred by hand only: odds × 0.6")
	}
	if h.Rate > 5 {
		any *= 1.5
		say("usage of %.4g %%, over 5 %%: odds × 1.5", float64(h.Rate))
	}
	r.Accelerates, r.Rices, r.Seizes = a.chance(fast*any), i.chance(any), s.chance(fast*any)
	return r, nil
}

func (h Handling) validate() error {
	n := h.Noted
	switch {
	case h.BatterAt != nil && !(*h.BatterAt > -20 && *h.BatterAt < 150):
		return fmt.Errorf("batter at %.4g °C is out of range, -20 to 150", float64(*h.BatterAt))
	case h.LyeConcentration != nil && !(*h.LyeConcentration > 0 && *h.LyeConcentration <= 100):
		return fmt.Errorf("lye concentration %.4g %% is out of range, 0–100", float64(*h.LyeConcentration))
	case !(h.Rate >= 0 && h.Rate <= 100):
		return fmt.Errorf("usage %.4g %% of oils is out of range, 0–100", float64(h.Rate))
	case n.Batches < 0 || min(n.Accelerated, n.Riced, n.Seized) < 0 || max(n.Accelerated, n.Riced, n.Seized) > n.Batches:
		return fmt.Errorf("%d batches with %d accelerated, %d riced, %d seized do not add up", n.Batches, n.Accelerated, n.Riced, n.Seized)
	}
	return nil
}

// family gives the prior scores of acceleration and seizing and what they rest on.
func (f Fragrance) family() (accelerates, seizes float64, why string) {
	accelerates, seizes, why = unknownAccelerates, unknownSeizes, "nothing known of its kind"
	spice := f.share("eugenol", "isoeugenol", "cinnamaldehyde")
	floral := f.share("geraniol", "citronellol", "phenethyl alcohol", "phenylethyl alcohol")
	citrus := f.share("limonene", "d-limonene", "menthol", "menthone")
	switch {
	case spice >= 5:
		return spiceAccelerates, spiceSeizes, fmt.Sprintf("eugenol or cinnamal at %.3g %%", float64(spice))
	case spice == 0 && f.named(spiceWords):
		return spiceAccelerates, spiceSeizes, "spice oil by its name"
	case floral >= 10:
		return floralAccelerates, seizes, fmt.Sprintf("rose-type alcohols at %.3g %%", float64(floral))
	case f.named(floralWords):
		return floralAccelerates, seizes, "floral by its name"
	case f.Vanillin != nil && *f.Vanillin >= 5:
		return vanillinAccelerates, seizes, fmt.Sprintf("vanillin at %.3g %%", float64(*f.Vanillin))
	case citrus >= 40:
		return citrusAccelerates, seizes, fmt.Sprintf("citrus or mint by %.3g %% of limonene or menthol", float64(citrus))
	case f.named(citrusWords) || f.named(mintWords):
		return citrusAccelerates, seizes, "citrus or mint by its name"
	}
	return accelerates, seizes, why
}

// share adds up what the sheets state of any of the substances, % of the fragrance.
func (f Fragrance) share(names ...string) (sum unit.Percent) {
	wanted := map[string]bool{}
	for _, n := range names {
		wanted[n] = true
	}
	seen := map[string]unit.Percent{}
	for _, list := range [][]Share{f.Others, f.Allergens} {
		for _, s := range list {
			key := plainName(s.Name)
			if b, ok := FindBrowner(key); ok {
				key = b.Name
			}
			if wanted[key] && s.Percent > seen[key] {
				sum += s.Percent - seen[key]
				seen[key] = s.Percent
			}
		}
	}
	return sum
}

func (f Fragrance) named(words map[string]bool) bool {
	for _, w := range strings.FieldsFunc(strings.ToLower(f.Name), func(r rune) bool { return r < 'a' || r > 'z' }) {
		if words[w] {
			return true
		}
	}
	return false
}

// beta holds the counts of one behaviour while evidence comes in.
type beta struct{ yes, no float64 }

func betaOf(score float64) beta { return beta{priorWeight * score, priorWeight * (1 - score)} }

// add counts n batches of which yes showed the behaviour.
func (b *beta) add(yes, n float64) { b.yes += yes; b.no += n - yes }

// chance applies a factor on the odds.
func (b beta) chance(odds float64) Chance {
	p := b.yes / (b.yes + b.no)
	p = p * odds / (1 - p + p*odds)
	return Chance{unit.Percent(100 * p), b.yes, b.no}
}
