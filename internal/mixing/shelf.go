package mixing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"lyefast/internal/cie"
)

// Learned is one colourant of a [Shelf].
type Learned struct {
	Name    string
	Kind    Kind
	K, S    cie.Spectrum // per g/kg
	Reads   int          // portions it was in; 0 = known by its swatch only
	MaxDose float64      // largest dose read, its swatch included, g/kg
	LnSD    float64      // standard deviation of ln k at its strongest band
}

// Names lists the colourants in alphabetical order.
func (s *Shelf) Names() []string { return slices.Clone(s.names) }

// Colorant gives one colourant of the shelf.
func (s *Shelf) Colorant(name string) (Learned, bool) {
	c, ok := s.index[name]
	if !ok {
		return Learned{}, false
	}
	l := Learned{Name: name, Kind: s.m.kinds[c], K: s.m.k[c], S: flatSpectrum(s.m.s[c]), Reads: s.reads[c], MaxDose: s.most[c]}
	top := 0
	for i, v := range l.K {
		if v > l.K[top] {
			top = i
		}
	}
	var g [perColorant]float64
	g[0] = 1
	for j := range learnShapes {
		g[1+j] = shapeBasis()[j][top]
	}
	var v float64
	for i := range g {
		for j := range g {
			v += g[i] * s.cov(c*perColorant+i, c*perColorant+j) * g[j]
		}
	}
	l.LnSD = math.Sqrt(math.Max(0, v))
	return l, true
}

// cov is the covariance of two parameters, scaled as the bands are.
func (s *Shelf) cov(p, q int) float64 {
	switch {
	case s.group[p] != s.group[q]:
		return 0
	case s.group[p] < 0:
		return s.scale * s.hinv[s.pos[p]*len(s.main)+s.pos[q]]
	}
	return s.scale * s.singles[s.group[p]][s.pos[p]*perColorant+s.pos[q]]
}

// Brown gives what browning of strength brown (in the unit of [Recipe.Brown], ≥ 0) adds to
// K/S in each band, as learned, for a scent that may or may not have been read.
func (s *Shelf) Brown(brown float64, scent string) (k cie.Spectrum) {
	if !(brown > 0) {
		return k
	}
	r := row{brown: brown, scent: -1}
	if i, ok := s.scents[scent]; ok {
		r.scent = i
	}
	u := s.m.strength(&r)
	for i, v := range s.m.brown {
		k[i] = u * v
	}
	return k
}

// Misfit is a portion that does not agree with the others.
type Misfit struct {
	Portion string
	Off     cie.Lab // reading minus what the other portions say of it
	Score   float64 // squared distance in units of its covariance, three degrees of freedom
}

// Misfits lists the portions among the latest few hundred whose reading the others find
// hard to believe (score above 16.3, which one honest reading in a thousand exceeds), the
// worst first: a slip of the pen, or something the formula does not know.
func (s *Shelf) Misfits() []Misfit {
	var out []Misfit
	place := map[*row]int{}
	for i, r := range s.rows {
		place[r] = i
	}
	for i, r := range s.res.near {
		b := s.leftOut(i)
		a := [3]float64{s.res.alpha[0][i], s.res.alpha[1][i], s.res.alpha[2][i]}
		x := a
		if !solve3(&b, &x) {
			continue
		}
		if score := (a[0]*x[0] + a[1]*x[1] + a[2]*x[2]) / s.scale; score > 16.3 {
			out = append(out, Misfit{s.made[place[r]], cie.Lab{L: x[0], A: x[1], B: x[2]}, score})
		}
	}
	slices.SortStableFunc(out, func(a, b Misfit) int {
		if a.Score > b.Score {
			return -1
		}
		return 1
	})
	return out
}

// Sampler draws joint guesses of what the colourants and the browning of some recipes are
// like, for forecasts that ask more than [Shelf.Predict] answers: colours on the way, or
// several portions that share a colourant. For one goroutine at a time.
type Sampler struct {
	s       *Shelf
	m       *model
	params  []int // the first len(params) deviates move these, the next three a recipe its shift
	chol    []float64
	z       []float64
	at      []int // colourants
	outlook []*outlook
}

// Drawn is one guess. K and S are per g/kg, in the order of the sampler's Names. Brown[i]
// is what the browning of recipe i adds to K/S, and Shift[i] is to be added to the colour
// which the formula gives with all of these for recipe i: what portions of like composition
// showed beyond the formula, and a guess of the formula's own error.
type Drawn struct {
	K     []cie.Spectrum
	S     []float64
	Brown []cie.Spectrum
	Shift []cie.Lab
}

// Sampler prepares draws for recipes, all of whose colourants must be within reach (see
// [Prediction]). Doubt about the base is left to the caller.
func (s *Shelf) Sampler(recipes []Recipe) (*Sampler, error) {
	p := &Sampler{s: s, m: s.m.clone()}
	known := newBases(s.family)
	for i := range recipes {
		q := &recipes[i]
		if out, err := s.beyond(q); err != nil {
			return nil, err
		} else if len(out) > 0 {
			return nil, fmt.Errorf("recipe %d: %q was never read near this dose", i+1, out[0])
		}
		o, err := s.look(known, q)
		if err != nil {
			return nil, err
		}
		p.outlook = append(p.outlook, o)
		for _, u := range o.r.use {
			if !slices.Contains(p.at, u.c) {
				p.at = append(p.at, u.c)
			}
		}
		for _, v := range o.r.params {
			if !slices.Contains(p.params, v) {
				p.params = append(p.params, v)
			}
		}
	}
	slices.Sort(p.at)
	slices.Sort(p.params)
	np := len(p.params)
	n := np + 3*len(p.outlook)
	p.chol, p.z = make([]float64, n*n), make([]float64, n)
	for i, a := range p.params {
		for j, b := range p.params[:i+1] {
			p.chol[i*n+j] = s.cov(a, b)
		}
	}
	main := len(s.main)
	t := make([]float64, main)
	for i, o := range p.outlook {
		for c := range 3 {
			// How the shift follows the main parameters: −K*·W·J = cross − J*.
			g := o.follow(s, c)
			for a := range t {
				t[a] = s.scale * inner(s.hinv[a*main:(a+1)*main], g)
			}
			at := np + 3*i + c
			line := p.chol[at*n : at*n+at+1]
			for j, b := range p.params {
				if s.group[b] < 0 {
					line[j] = t[s.pos[b]]
				}
			}
			for j, other := range p.outlook[:i+1] {
				for d := range 3 {
					if k := np + 3*j + d; k <= at {
						line[k] = inner(t, other.follow(s, d))
					}
				}
			}
			line[at] += o.own[c][c]
		}
	}
	for i := range n {
		p.chol[i*n+i] *= 1 + 1e-7
		p.chol[i*n+i] += 1e-12
	}
	if !cholesky(p.chol, n) {
		return nil, errSingular
	}
	return p, nil
}

func (o *outlook) follow(s *Shelf, c int) []float64 {
	g := slices.Clone(o.cross[c])
	for i, p := range o.r.params {
		if s.group[p] < 0 {
			g[s.pos[p]] -= o.r.jac[c][i]
		}
	}
	return g
}

// Names lists the colourants drawn.
func (p *Sampler) Names() []string {
	names := make([]string, len(p.at))
	for i, c := range p.at {
		names[i] = p.s.names[c]
	}
	return names
}

// Draw fills d with the next guess, and reuses its slices.
func (p *Sampler) Draw(rng *rand.Rand, d *Drawn) {
	n, np := len(p.z), len(p.params)
	for i := range p.z {
		p.z[i] = rng.NormFloat64()
	}
	for i, q := range p.params {
		p.m.theta[q] = p.s.m.theta[q] + inner(p.chol[i*n:i*n+i+1], p.z[:i+1])
	}
	d.K, d.S, d.Brown, d.Shift = d.K[:0], d.S[:0], d.Brown[:0], d.Shift[:0]
	for _, c := range p.at {
		p.m.unpackColorant(c)
		d.K, d.S = append(d.K, p.m.k[c]), append(d.S, p.m.s[c])
	}
	p.m.unpackBrown()
	for i, o := range p.outlook {
		var brown cie.Spectrum
		if o.r.brown > 0 {
			u := p.m.strength(o.r)
			for b, v := range p.m.brown {
				brown[b] = u * v
			}
		}
		shift := o.shift
		for c := range shift {
			at := np + 3*i + c
			shift[c] += inner(p.chol[at*n:at*n+at+1], p.z[:at+1])
		}
		d.Brown = append(d.Brown, brown)
		d.Shift = append(d.Shift, cie.Lab{L: shift[0], A: shift[1], B: shift[2]})
	}
}
