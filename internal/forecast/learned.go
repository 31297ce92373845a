package forecast

import (
	"fmt"
	"math/rand/v2"

	"lyefast/internal/cie"
	"lyefast/internal/mixing"
)

// Guesses are joint guesses of what the maker's own portions taught: the most probable
// one first, then one for each draw of a forecast. Kept as they are, they spare another
// forecast of the same portions the fit. The zero value taught nothing.
type Guesses struct {
	// Colorants by name, settled.
	Colorants map[string]GuessedColorant
	// Brown is the absorption of browning, 1 at 560 nm; empty where no browning was read.
	Brown []Spectrum32
	// Portions by their key.
	Portions map[string]GuessedPortion
}

// Spectrum32 is a spectrum as it is kept.
type Spectrum32 [cie.Bands]float32

// GuessedColorant holds absorption and scattering per g/kg of oils.
type GuessedColorant struct {
	K []Spectrum32
	S []float32
}

// GuessedPortion is what a portion adds to its colourants.
type GuessedPortion struct {
	// Brown is the K/S at 560 nm that browning adds by day 42, empty where none was read.
	Brown []float32
	// Shift is to be added to the colour: what portions of like composition showed beyond
	// the formula, and the formula's own error. Empty where a colourant was never read.
	Shift []cie.Lab
}

// Ask is one portion of a plan for [Guess], by the names of the shelf that learned.
type Ask struct {
	Key string
	// Recipe holds the colourants that were read; Whole says that those are all of them.
	Recipe mixing.Recipe
	Whole  bool
}

// at560 is the band of 560 nm.
const at560 = (560 - 380) / 10

// Guess draws from what a shelf has learned. Recipes whose doses are out of reach are
// passed over: of them nothing can be said. names tells under which name a forecast knows
// a colourant of the shelf.
func Guess(shelf *mixing.Shelf, asks []Ask, names map[string][]string) (*Guesses, error) {
	g := &Guesses{Colorants: map[string]GuessedColorant{}, Portions: map[string]GuessedPortion{}}
	var near []Ask
	var recipes []mixing.Recipe
	for _, a := range asks {
		p, err := shelf.Predict(a.Recipe)
		if err != nil {
			return nil, fmt.Errorf("portion %s: %w", a.Key, err)
		}
		if !p.Known() || len(a.Recipe.Doses) == 0 && a.Recipe.Brown == 0 {
			continue
		}
		q := GuessedPortion{}
		if a.Whole {
			q.Shift = []cie.Lab{p.Shift}
		}
		if a.Recipe.Brown > 0 {
			k := shelf.Brown(a.Recipe.Brown, a.Recipe.Scent)
			q.Brown = []float32{float32(k[at560])}
			if len(g.Brown) == 0 {
				g.Brown = []Spectrum32{shapeOf(&k)}
			}
		}
		g.Portions[a.Key] = q
		near, recipes = append(near, a), append(recipes, a.Recipe)
	}
	if len(recipes) == 0 {
		return g, nil
	}
	sampler, err := shelf.Sampler(recipes)
	if err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(0x6c6561726e, 0x6564))
	var drawn mixing.Drawn
	known := sampler.Names()
	of := make([]GuessedColorant, len(known))
	for i, name := range known {
		c, _ := shelf.Colorant(name)
		of[i] = GuessedColorant{K: []Spectrum32{narrow(&c.K)}, S: []float32{float32(c.S[0])}}
	}
	for range draws {
		sampler.Draw(rng, &drawn)
		for i := range known {
			of[i].K, of[i].S = append(of[i].K, narrow(&drawn.K[i])), append(of[i].S, float32(drawn.S[i]))
		}
		shaped := false
		for i, a := range near {
			q := g.Portions[a.Key]
			if a.Whole {
				q.Shift = append(q.Shift, drawn.Shift[i])
			}
			if a.Recipe.Brown > 0 {
				q.Brown = append(q.Brown, float32(drawn.Brown[i][at560]))
				if !shaped {
					g.Brown = append(g.Brown, shapeOf(&drawn.Brown[i]))
					shaped = true
				}
			}
			g.Portions[a.Key] = q
		}
	}
	for i, name := range known {
		for _, n := range names[name] {
			g.Colorants[n] = of[i]
		}
	}
	return g, nil
}

// Fits tells whether the guesses are as many as a forecast draws.
func (g *Guesses) Fits() bool {
	if g == nil {
		return false
	}
	n := draws + 1
	for _, c := range g.Colorants {
		if len(c.K) != n || len(c.S) != n {
			return false
		}
	}
	for _, p := range g.Portions {
		if len(p.Brown) > 0 && (len(p.Brown) != n || len(g.Brown) != n) || len(p.Shift) > 0 && len(p.Shift) != n {
			return false
		}
	}
	return true
}

// path is a colourant's settled absorption over all draws, nil where it was not read.
func (g *Guesses) path(name string) *path {
	c, ok := g.Colorants[name]
	if !ok {
		return nil
	}
	out := &path{}
	out.mid.K, out.mid.S = wide(&c.K[0]), flat(c.S[0])
	for d := range draws {
		out.k[d], out.s[d] = wide(&c.K[d+1]), flat(c.S[d+1])
	}
	return out
}

func narrow(s *cie.Spectrum) (out Spectrum32) {
	for i, v := range s {
		out[i] = float32(v)
	}
	return out
}

func wide(s *Spectrum32) (out cie.Spectrum) {
	for i, v := range s {
		out[i] = float64(v)
	}
	return out
}

func flat(v float32) (out cie.Spectrum) {
	for i := range out {
		out[i] = float64(v)
	}
	return out
}

// shapeOf scales a spectrum to 1 at 560 nm; one without any absorption there stays as it is.
func shapeOf(k *cie.Spectrum) Spectrum32 {
	out := narrow(k)
	if v := out[at560]; v > 0 {
		for i := range out {
			out[i] /= v
		}
	}
	return out
}
