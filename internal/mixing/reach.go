package mixing

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"lyefast/internal/cie"
)

// ReachOptions narrow what [Shelf.Reach] may use.
type ReachOptions struct {
	Colorants []string // names; nil = the whole shelf
	AtMost    int      // colourants at once, 1–3; 0 = 3
	Beyond    bool     // allow doses up to Extrapolation times the largest read, not just up to it
	Step      float64  // smallest difference of dose that can be weighed, g/kg: the scale's step by the kg of oils; 0 = none
	Tolerance float64  // ΔE00 that counts as reached, for Candidate.Probability; 0 = 3
	Per       int      // candidates for each number of colourants; 0 = 1
}

// Candidate is a set of doses and what it is forecast to give.
type Candidate struct {
	Doses       []Amount // g/kg of oils, whole steps
	PerKg       float64  // g of colourant in all per kg of oils
	Prediction           // settled colour
	DeltaE00    float64  // of the forecast from the target
	Probability float64  // that the settled colour lies within the tolerance
	Rank        float64  // √(ΔE00² + predictive variance in units of ΔE00): smaller is better
}

// Bounds of the search.
const (
	tripleColorants = 48  // colourants among which all threes are looked at
	keepLinear      = 900 // subsets of each size which pass the linear sieve
	keepAgain       = 40  // of those, polished a second time from elsewhere
	keepStepped     = 160 // of those, after one step with all bands
	keepGrown       = 20  // pairs which are tried with every third colourant
	keepRanked      = 12  // of those, polished, for the full prediction
)

// Reach looks for the doses of one, two and three colourants whose settled colour comes
// nearest to the target in this pot (its base and its browning; without doses). Candidates
// come best first within each number of colourants, fewer colourants first. More colourants that
// come no nearer than fewer, or one of whose doses would be less than a step, are left out.
//
// For a wanted spectrum the mixing formula is linear in the doses: Σ dᵢ(kᵢ − Q·sᵢ) =
// Q − K_base with Q its K/S. Each subset is first solved that way, weighted by what the eye
// sees of each band; the best are taken on with all bands and polished on ΔE00. The result
// is deterministic. The errors are for a pot, a target or options that make no sense.
func (s *Shelf) Reach(target cie.Lab, pot Recipe, opts ReachOptions) ([]Candidate, error) {
	h, err := s.newHunt(target, pot, opts)
	if err != nil {
		return nil, err
	}
	var out []Candidate
	least := math.Inf(1)
	for n, found := range h.search() {
		best, err := h.rank(n+1, found)
		if err != nil {
			return nil, err
		}
		so := least
		for _, c := range best {
			if c.DeltaE00 < so {
				out = append(out, c)
				least = math.Min(least, c.DeltaE00)
			}
		}
	}
	return out, nil
}

// Whitest gives the candidate nearest to a perfect white (L* 100): what this base and this
// scent allow. Without any help from the shelf it is the bare pot itself.
func (s *Shelf) Whitest(pot Recipe, opts ReachOptions) (Candidate, error) {
	white := cie.Lab{L: 100}
	all, err := s.Reach(white, pot, opts)
	if err != nil {
		return Candidate{}, err
	}
	bare, err := s.candidate(white, pot, nil, opts)
	if err != nil {
		return Candidate{}, err
	}
	best := bare
	for _, c := range all {
		if c.DeltaE00 < best.DeltaE00-0.1 { // one more powder must be worth it
			best = c
		}
	}
	return best, nil
}

// hunt is one search.
type hunt struct {
	s      *Shelf
	target cie.Lab
	pot    Recipe
	opts   ReachOptions
	metric [3][3]float64 // ΔE00² ≈ δᵀ·metric·δ near the target
	root   [3][3]float64 // rootᵀ·root = metric
	base   cie.Spectrum  // K of base and browning
	tint   []tint
	aim    [3]float64
	dark   [3][cie.Bands]float64 // root·∂Lab/∂(K/S) at the wanted spectrum
	want   cie.Spectrum          // its K/S
}

// tint is a colourant as the hunt sees it.
type tint struct {
	c      int // on the shelf
	k      *cie.Spectrum
	s, max float64
	a      [3]float64 // effect of 1 g/kg in the linear sieve
}

// found is a subset with doses.
type found struct {
	n    int
	at   [3]int32 // of hunt.tint
	dose [3]float64
	off  float64 // ΔE00, or the sieve's estimate of it
}

func (s *Shelf) newHunt(target cie.Lab, pot Recipe, opts ReachOptions) (*hunt, error) {
	if err := checkLab("target", target); err != nil {
		return nil, err
	}
	if err := pot.check(); err != nil {
		return nil, err
	}
	if len(pot.Doses) > 0 {
		return nil, fmt.Errorf("the pot already holds %q; give base and browning only", pot.Doses[0].Colorant)
	}
	if opts.AtMost == 0 {
		opts.AtMost = 3
	}
	if opts.Tolerance == 0 {
		opts.Tolerance = 3
	}
	if opts.Per == 0 {
		opts.Per = 1
	}
	if opts.AtMost < 1 || opts.AtMost > 3 {
		return nil, fmt.Errorf("%d colourants at once: must be 1, 2 or 3", opts.AtMost)
	}
	if !(opts.Step >= 0 && opts.Step <= maxDose) || !(opts.Tolerance > 0) || opts.Per < 0 {
		return nil, fmt.Errorf("step %g g/kg, tolerance %g, %d of each: step must not be negative, tolerance and number must be above 0", opts.Step, opts.Tolerance, opts.Per)
	}
	names := opts.Colorants
	if names == nil {
		names = s.names
	}
	h := &hunt{s: s, target: target, pot: pot, opts: opts}
	r, err := s.row(newBases(s.family), &pot)
	if err != nil {
		return nil, err
	}
	h.base, _, _ = s.m.mix(r)
	h.metric = metricAt(target)
	h.root = rootOf(h.metric)
	for _, name := range names {
		c, ok := s.index[name]
		if !ok {
			return nil, fmt.Errorf("colourant %q was never read", name)
		}
		t := tint{c: c, k: &s.m.k[c], s: s.m.s[c], max: s.most[c]}
		if opts.Beyond {
			t.max *= Extrapolation
		}
		if opts.Step > 0 {
			t.max = math.Floor(t.max/opts.Step*(1+1e-9)) * opts.Step
		}
		if t.max > 0 {
			h.tint = append(h.tint, t)
		}
	}
	h.aimAt(target)
	for j := range h.tint {
		t := &h.tint[j]
		for r := range t.a {
			for i, g := range h.dark[r] {
				t.a[r] += g * (t.k[i] - h.want[i]*t.s)
			}
		}
	}
	return h, nil
}

// metricAt is half the curvature of ΔE00² at the target.
func metricAt(lab cie.Lab) (m [3][3]float64) {
	const e = 0.05
	axes := [3]cie.Lab{{L: e}, {A: e}, {B: e}}
	sq := func(d cie.Lab) float64 { v := cie.DeltaE00(lab, lab.Add(d)); return v * v }
	var one [3]float64
	for i, x := range axes {
		one[i] = (sq(x) + sq(x.Scale(-1))) / 2
		m[i][i] = one[i] / (e * e)
	}
	for i, x := range axes {
		for j, y := range axes[:i] {
			v := ((sq(x.Add(y))+sq(x.Add(y).Scale(-1)))/2 - one[i] - one[j]) / 2 / (e * e)
			m[i][j], m[j][i] = v, v
		}
	}
	return m
}

// rootOf is the upper triangle R with Rᵀ·R = m.
func rootOf(m [3][3]float64) (r [3][3]float64) {
	var l [9]float64
	for i := range m {
		for j := range m {
			l[i*3+j] = m[i][j]
		}
	}
	if !cholesky(l[:], 3) {
		return [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	}
	for i := range m {
		for j := range i + 1 {
			r[j][i] = l[i*3+j]
		}
	}
	return r
}

// aimAt prepares the linear sieve for a target: a K/S spectrum which has it, and how the
// eye follows each band between it and the bare pot.
func (h *hunt) aimAt(target cie.Lab) {
	p := newSmoother(target, SoapSurface)
	p.run()
	inside := p.inside()
	var middle, slope [cie.Bands]float64
	for i, r := range inside {
		// Neither the slope at the target nor that at the bare pot says what a large
		// change of K/S does; the chord between the two does.
		q, bare := KSFromR(r), h.base[i]
		// Nothing is gained by aiming beyond what any dose on the shelf can do.
		low, high := bare, bare
		for j := range h.tint {
			t := &h.tint[j]
			end := (h.base[i] + t.max*t.k[i]) / (1 + t.max*t.s)
			low, high = math.Min(low, end), math.Max(high, end)
		}
		q = math.Min(high, math.Max(low, q))
		if math.Abs(q-bare) < 0.02*bare+1e-4 {
			bare += 0.02*bare + 1e-4
		}
		seen, from := SoapSurface.seenFromKS(q), SoapSurface.seenFromKS(bare)
		h.want[i] = q
		slope[i] = (seen - from) / (q - bare)
		middle[i] = (seen + from) / 2
	}
	_, g := labGradient(&middle)
	for r := range h.dark {
		for i := range h.dark[r] {
			for c := r; c < 3; c++ {
				h.dark[r][i] += h.root[r][c] * g[c][i] * slope[i]
			}
			h.aim[r] += h.dark[r][i] * (h.want[i] - h.base[i])
		}
	}
}

// search gives the polished subsets of one, two and three colourants, nearest first.
func (h *hunt) search() [3][]found {
	var out [3][]found
	n := len(h.tint)
	ones := sieved{cut: math.Inf(1)}
	for i := range n {
		ones.add(h.sieve(found{n: 1, at: [3]int32{int32(i)}}))
	}
	out[0] = h.finish(ones.list)
	if h.opts.AtMost < 2 {
		return out
	}
	pairs := sieved{cut: math.Inf(1)}
	for i := range n {
		for j := range i {
			pairs.add(h.sieve(found{n: 2, at: [3]int32{int32(j), int32(i)}}))
		}
	}
	among := h.promising(pairs.list)
	out[1] = h.finish(pairs.list, h.grow(out[0], tripleColorants, among)...)
	if h.opts.AtMost < 3 {
		return out
	}
	threes := sieved{cut: math.Inf(1)}
	for i, a := range among {
		for j, b := range among[:i] {
			for _, c := range among[:j] {
				threes.add(h.sieve(found{n: 3, at: [3]int32{c, b, a}}))
			}
		}
	}
	out[2] = h.finish(threes.list, h.grow(out[1], keepGrown, among)...)
	return out
}

// grow adds each other colourant to the best of the polished subsets. The sieve is true
// near the target; where nothing comes near, what the best of fewer colourants still lack
// says more.
func (h *hunt) grow(from []found, n int, among []int32) []found {
	var grown []found
	for _, f := range from[:min(len(from), n)] {
		for _, c := range among {
			if !slices.Contains(f.at[:f.n], c) {
				g := f
				g.at[g.n], g.dose[g.n] = c, 0
				g.n++
				h.step(&g)
				grown = append(grown, g)
			}
		}
	}
	return best(grown, keepStepped)
}

// nearer orders subsets; ties go by place on the shelf, so that the order is always the same.
func nearer(a, b found) int {
	if a.off != b.off {
		return cmp.Compare(a.off, b.off)
	}
	return slices.Compare(a.at[:], b.at[:])
}

// promising are the colourants for threes: all of them on an ordinary shelf, those of the
// best pairs on a huge one.
func (h *hunt) promising(pairs []found) []int32 {
	var among []int32
	slices.SortFunc(pairs, nearer)
	if len(h.tint) <= tripleColorants {
		for i := range h.tint {
			among = append(among, int32(i))
		}
		return among
	}
	for _, p := range pairs {
		for _, i := range p.at[:p.n] {
			if !slices.Contains(among, i) && len(among) < tripleColorants {
				among = append(among, i)
			}
		}
	}
	slices.Sort(among)
	return among
}

// sieved keeps the best subsets of one size; the cut lets most pass by unsorted.
type sieved struct {
	list []found
	cut  float64
}

func (s *sieved) add(f found) {
	if f.off >= s.cut {
		return
	}
	if s.list = append(s.list, f); len(s.list) == 2*keepLinear {
		s.list = best(s.list, keepLinear)
		s.cut = s.list[keepLinear-1].off
	}
}

// finish takes the best of the sieve through one step with all bands and the best of
// those, and what else there is, through the polish.
func (h *hunt) finish(all []found, more ...found) []found {
	all = best(all, keepLinear)
	for i := range all {
		h.step(&all[i])
		if all[i].n < 3 {
			h.step(&all[i])
		}
	}
	all = append(best(all, keepStepped), more...)
	for i := range all {
		h.polish(&all[i])
	}
	// A far target can have a second valley: the best try again from the middle.
	slices.SortFunc(all, nearer)
	for i := range all[:min(len(all), keepAgain)] {
		again := all[i]
		for j := range again.n {
			again.dose[j] = h.tint[again.at[j]].max / 3
		}
		if h.polish(&again); again.off < all[i].off {
			all[i] = again
		}
	}
	slices.SortFunc(all, nearer)
	return all
}

// best cuts a list down to its n nearest.
func best(all []found, n int) []found {
	if len(all) > n {
		slices.SortFunc(all, nearer)
		all = all[:n]
	}
	return all
}

// sieve solves the subset in the linear form.
func (h *hunt) sieve(f found) found {
	var a [3][3]float64
	var most [3]float64
	for j := range f.n {
		t := &h.tint[f.at[j]]
		most[j] = t.max
		for r := range a {
			a[r][j] = t.a[r]
		}
	}
	var s [3]float64
	for j := range f.n {
		s[j] = h.tint[f.at[j]].s
	}
	// off is |aim − a·dose| / (1 + s·dose). The numerator alone is linear, and right near
	// the target; far from it, what dilutes counts as well.
	miss := func(x *[3]float64) (e [3]float64, den, off float64) {
		den = 1 + s[0]*x[0] + s[1]*x[1] + s[2]*x[2]
		inv := 1 / den
		for r := range e {
			e[r] = (h.aim[r] - a[r][0]*x[0] - a[r][1]*x[1] - a[r][2]*x[2]) * inv
		}
		return e, den, math.Sqrt(e[0]*e[0] + e[1]*e[1] + e[2]*e[2])
	}
	f.dose = boxed(&a, &h.aim, &most, f.n)
	e, den, off := miss(&f.dose)
	for range 4 {
		if off < 0.5 {
			break
		}
		var slope [3][3]float64
		b := e
		for r := range slope {
			for j := range f.n {
				slope[r][j] = (a[r][j] + e[r]*s[j]) / den
				b[r] += slope[r][j] * f.dose[j]
			}
		}
		x := boxed(&slope, &b, &most, f.n)
		newE, newDen, newOff := miss(&x)
		if newOff > off*0.97 {
			for j := range x {
				x[j] = (x[j] + 3*f.dose[j]) / 4
			}
			if newE, newDen, newOff = miss(&x); newOff > off*0.99 {
				break
			}
		}
		f.dose, e, den, off = x, newE, newDen, newOff
	}
	f.off = off
	return f
}

// boxed minimises |a·x − b|² over 0 ≤ x ≤ most in n ≤ 3 unknowns. The unknown that leaves
// its bounds farthest is held there until the rest fits; a few rounds coordinate by
// coordinate then put right what was held too early.
func boxed(a *[3][3]float64, b, most *[3]float64, n int) (x [3]float64) {
	// Unknowns beyond n are held at 0.
	var m [3][3]float64
	var g [3]float64
	var held [3]bool
	for i := range n {
		for j := range i + 1 {
			v := a[0][i]*a[0][j] + a[1][i]*a[1][j] + a[2][i]*a[2][j]
			m[i][j], m[j][i] = v, v
		}
		m[i][i] = m[i][i]*(1+1e-9) + 1e-12
		g[i] = a[0][i]*b[0] + a[1][i]*b[1] + a[2][i]*b[2]
	}
	for i := n; i < 3; i++ {
		m[i][i], held[i] = 1, true
	}
	for round := range n {
		free(&m, &g, &held, &x)
		worst, at := 0.0, -1
		for i := range n {
			if held[i] {
				continue
			}
			out := -x[i]
			if x[i] > most[i] {
				out = x[i] - most[i]
			}
			if out *= math.Sqrt(m[i][i]); out > worst {
				worst, at = out, i
			}
		}
		if at < 0 {
			if round == 0 {
				return x
			}
			break
		}
		held[at] = true
		if x[at] < 0 {
			x[at] = 0
		} else {
			x[at] = most[at]
		}
	}
	for range 6 {
		var moved float64
		for i := range n {
			v := x[i] + (g[i]-m[i][0]*x[0]-m[i][1]*x[1]-m[i][2]*x[2])/m[i][i]
			if !(v > 0) {
				v = 0
			} else if v > most[i] {
				v = most[i]
			}
			moved += math.Abs(v-x[i]) * math.Sqrt(m[i][i])
			x[i] = v
		}
		if moved < 0.02 {
			break
		}
	}
	return x
}

// free solves m·x = g for the unknowns that are not held.
func free(m *[3][3]float64, g *[3]float64, held *[3]bool, x *[3]float64) {
	var at [3]int
	n := 0
	for i, h := range held {
		if !h {
			at[n] = i
			n++
		}
	}
	rhs := func(i int) float64 {
		v := g[i]
		for j, h := range held {
			if h {
				v -= m[i][j] * x[j]
			}
		}
		return v
	}
	switch n {
	case 1:
		i := at[0]
		x[i] = rhs(i) / m[i][i]
	case 2:
		i, j := at[0], at[1]
		p, q := rhs(i), rhs(j)
		inv := 1 / (m[i][i]*m[j][j] - m[i][j]*m[i][j])
		x[i], x[j] = (p*m[j][j]-q*m[i][j])*inv, (q*m[i][i]-p*m[i][j])*inv
	case 3:
		c00 := m[1][1]*m[2][2] - m[1][2]*m[1][2]
		c01 := m[0][2]*m[1][2] - m[0][1]*m[2][2]
		c02 := m[0][1]*m[1][2] - m[0][2]*m[1][1]
		c11 := m[0][0]*m[2][2] - m[0][2]*m[0][2]
		c12 := m[0][1]*m[0][2] - m[0][0]*m[1][2]
		c22 := m[0][0]*m[1][1] - m[0][1]*m[0][1]
		inv := 1 / (m[0][0]*c00 + m[0][1]*c01 + m[0][2]*c02)
		x[0] = (c00*g[0] + c01*g[1] + c02*g[2]) * inv
		x[1] = (c01*g[0] + c11*g[1] + c12*g[2]) * inv
		x[2] = (c02*g[0] + c12*g[1] + c22*g[2]) * inv
	}
}

// eval gives the colour of a subset and its derivative by each dose.
func (h *hunt) eval(f *found) (lab cie.Lab, jac [3][3]float64) {
	num, den := h.base, 1.0
	for j := range f.n {
		t := &h.tint[f.at[j]]
		d := f.dose[j]
		for i := range num {
			num[i] += d * t.k[i]
		}
		den += d * t.s
	}
	inv := 1 / den
	var xyz [3]float64
	var by [3][3]float64
	var slope [cie.Bands]float64
	for i, v := range num {
		q := v * inv
		var r float64
		r, slope[i] = SoapSurface.seenSlope(q)
		w := &cie.WeightsD65[i]
		xyz[0] += w[0] * r
		xyz[1] += w[1] * r
		xyz[2] += w[2] * r
		num[i] = q
		slope[i] *= inv
	}
	for j := range f.n {
		t := &h.tint[f.at[j]]
		k, s := t.k, t.s
		var x, y, z float64
		for i, q := range num {
			v := slope[i] * (k[i] - q*s)
			w := &cie.WeightsD65[i]
			x += w[0] * v
			y += w[1] * v
			z += w[2] * v
		}
		by[j] = [3]float64{x, y, z}
	}
	c := cie.XYZ{X: xyz[0], Y: xyz[1], Z: xyz[2]}
	d := labSlopes(c)
	for j := range f.n {
		x, y, z := d[0]*by[j][0], d[1]*by[j][1], d[2]*by[j][2]
		jac[0][j], jac[1][j], jac[2][j] = 116*y, 500*(x-y), 200*(y-z)
	}
	return c.Lab(cie.D65), jac
}

// step takes one Gauss–Newton step with all bands and estimates what is left.
func (h *hunt) step(f *found) {
	lab, jac := h.eval(f)
	root := chord(lab, h.target)
	h.improve(f, lab, &jac, &root)
}

// improve moves the doses to the least squares of root·(lab + jac·Δ − target).
func (h *hunt) improve(f *found, lab cie.Lab, jac, root *[3][3]float64) {
	miss := vec(h.target.Sub(lab))
	var a [3][3]float64
	var b, most [3]float64
	for r := range a {
		for c := r; c < 3; c++ {
			b[r] += root[r][c] * miss[c]
			for j := range f.n {
				a[r][j] += root[r][c] * jac[c][j]
			}
		}
		for j := range f.n {
			b[r] += a[r][j] * f.dose[j]
		}
	}
	for j := range f.n {
		most[j] = h.tint[f.at[j]].max
	}
	f.dose = boxed(&a, &b, &most, f.n)
	res := b
	for j := range f.n {
		for r := range res {
			res[r] -= a[r][j] * f.dose[j]
		}
	}
	f.off = math.Sqrt(res[0]*res[0] + res[1]*res[1] + res[2]*res[2])
}

// polish descends on ΔE00 itself: Gauss–Newton steps in the metric of ΔE00 between the
// present colour and the target, shortened until they help.
func (h *hunt) polish(f *found) {
	lab, jac := h.eval(f)
	f.off = cie.DeltaE00(lab, h.target)
	for range 12 {
		if f.off < 1e-3 {
			return
		}
		root := chord(lab, h.target)
		g := *f
		h.improve(&g, lab, &jac, &root)
		full, was := g.dose, *f
		helped := false
		for t := 1.0; t > 0.05; t /= 2.5 {
			for j := range f.n {
				g.dose[j] = was.dose[j] + t*(full[j]-was.dose[j])
			}
			newLab, newJac := h.eval(&g)
			if off := cie.DeltaE00(newLab, h.target); off < f.off {
				*f = g
				f.off = off
				lab, jac = newLab, newJac
				helped = true
				break
			}
		}
		if !helped || was.off-f.off < 1e-3 {
			return
		}
	}
}

// chord is a root R with |R·(b−a)| = ΔE00(a, b) that weighs lightness, chroma and hue as
// ΔE00 does between the two colours (ISO/CIE 11664-6 without its turn of the blue axis; the
// scale makes up for that).
func chord(a, b cie.Lab) [3][3]float64 {
	mid := a.Add(b).Scale(0.5)
	c := math.Hypot(mid.A, mid.B)
	l := mid.L - 50
	sl := 1 + 0.015*l*l/math.Sqrt(20+l*l)
	sc, sh := 1+0.045*c, 1+0.015*c
	co, si := 1.0, 0.0
	if c > 1e-9 {
		co, si = mid.A/c, mid.B/c
	}
	wc, wh := 1/(sc*sc), 1/(sh*sh)
	m := [3][3]float64{{1 / (sl * sl), 0, 0}, {0, wc*co*co + wh*si*si, (wc - wh) * co * si}, {0, (wc - wh) * co * si, wc*si*si + wh*co*co}}
	d := vec(b.Sub(a))
	if q := quadratic(&d, &m, &d); q > 1e-12 {
		e := cie.DeltaE00(a, b)
		for i := range m {
			for j := range m {
				m[i][j] *= e * e / q
			}
		}
	}
	return rootOf(m)
}

// variance is the predictive variance of a subset in units of ΔE00², from the parameters of
// its own colourants: enough to choose what is looked at in full.
func (h *hunt) variance(f *found) (v float64) {
	r := row{ks: h.base, scent: -1}
	for j := range f.n {
		if f.dose[j] > 0 {
			r.use = append(r.use, use{h.tint[f.at[j]].c, f.dose[j]})
		}
	}
	slices.SortFunc(r.use, func(a, b use) int { return a.c - b.c })
	r.listParams(h.s.m)
	h.s.m.differentiate(&r)
	for i, p := range r.params {
		for j, q := range r.params[:i+1] {
			cov := h.s.cov(p, q)
			if cov == 0 {
				continue
			}
			if i != j {
				cov *= 2
			}
			a := [3]float64{r.jac[0][i], r.jac[1][i], r.jac[2][i]}
			b := [3]float64{r.jac[0][j], r.jac[1][j], r.jac[2][j]}
			v += cov * quadratic(&a, &h.metric, &b)
		}
	}
	return math.Max(0, v)
}

// rank makes candidates of the best subsets of n colourants.
func (h *hunt) rank(n int, list []found) ([]Candidate, error) {
	keep := max(keepRanked, 2*h.opts.Per)
	near := math.Inf(1)
	if len(list) > 0 {
		near = list[0].off
	}
	type ranked struct {
		found
		rank float64
	}
	var first []ranked
	for _, f := range list {
		if f.off > near+5 {
			break
		}
		if !h.real(&f) {
			continue
		}
		first = append(first, ranked{f, f.off*f.off + h.variance(&f)})
	}
	slices.SortStableFunc(first, func(a, b ranked) int { return cmp.Compare(a.rank, b.rank) })
	var out []Candidate
	for _, r := range first[:min(len(first), keep)] {
		c, err := h.full(r.found)
		if err != nil {
			return nil, err
		}
		if len(c.Doses) == n && c.Known() {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b Candidate) int { return cmp.Compare(a.Rank, b.Rank) })
	return out[:min(len(out), h.opts.Per)], nil
}

// real reports whether every dose is one that can be weighed.
func (h *hunt) real(f *found) bool {
	for j := range f.n {
		if t := &h.tint[f.at[j]]; f.dose[j] < math.Max(h.opts.Step/2, 1e-4*t.max) {
			return false
		}
	}
	return true
}

// full corrects the doses for what portions of like composition showed beyond the formula,
// rounds them to steps, and makes the forecast.
func (h *hunt) full(f found) (Candidate, error) {
	c, err := h.s.candidate(h.target, h.pot, h.amounts(&f), h.opts)
	if err != nil {
		return c, err
	}
	if norm(c.Shift) > 0.1 && c.Known() {
		moved := *h
		moved.target = h.target.Sub(c.Shift)
		g := f
		moved.polish(&g)
		if again, err := h.s.candidate(h.target, h.pot, h.amounts(&g), h.opts); err == nil && again.Known() && again.DeltaE00 < c.DeltaE00 && h.real(&g) {
			c, f = again, g
		}
	}
	if h.opts.Step == 0 || !c.Known() {
		return c, nil
	}
	target := h.target.Sub(c.Shift)
	best, at := math.Inf(1), f
	for mask := range 1 << f.n {
		g := f
		for j := range f.n {
			steps := math.Floor(f.dose[j] / h.opts.Step)
			if mask>>j&1 == 1 {
				steps++
			}
			g.dose[j] = math.Min(steps*h.opts.Step, h.tint[f.at[j]].max)
		}
		lab, _ := h.eval(&g)
		if off := cie.DeltaE00(lab, target); off < best {
			best, at = off, g
		}
	}
	return h.s.candidate(h.target, h.pot, h.amounts(&at), h.opts)
}

func (h *hunt) amounts(f *found) (out []Amount) {
	for j := range f.n {
		if f.dose[j] > 0 {
			out = append(out, Amount{h.s.names[h.tint[f.at[j]].c], f.dose[j]})
		}
	}
	return out
}

// candidate forecasts one set of doses.
func (s *Shelf) candidate(target cie.Lab, pot Recipe, doses []Amount, opts ReachOptions) (Candidate, error) {
	pot.Doses = doses
	p, err := s.Predict(pot)
	if err != nil {
		return Candidate{}, err
	}
	c := Candidate{Doses: doses, Prediction: p, DeltaE00: cie.DeltaE00(p.Lab, target)}
	for _, a := range doses {
		c.PerKg += a.Dose
	}
	tolerance := opts.Tolerance
	if tolerance == 0 {
		tolerance = 3
	}
	m := metricAt(target)
	variance := 0.0
	for i := range m {
		for j := range m {
			variance += m[i][j] * p.Cov[i][j]
		}
	}
	c.Rank = math.Sqrt(c.DeltaE00*c.DeltaE00 + math.Max(0, variance))
	c.Probability = within(p.Lab, &p.Cov, target, tolerance)
	return c, nil
}

// within is the probability that a colour of this mean and covariance lies within a ΔE00 of
// the target, from 400 draws that are the same every time (standard error at most 0.025).
func within(mean cie.Lab, cov *[3][3]float64, target cie.Lab, tolerance float64) float64 {
	root := rootOf(*cov)
	rng := rand.New(rand.NewPCG(1, 400))
	const draws = 400
	hits := 0
	for range draws / 2 {
		z := [3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		var d [3]float64
		for i := range d {
			for j := range i + 1 {
				d[i] += root[j][i] * z[j]
			}
		}
		off := cie.Lab{L: d[0], A: d[1], B: d[2]}
		for _, sign := range [2]float64{1, -1} {
			if cie.DeltaE00(mean.Add(off.Scale(sign)), target) <= tolerance {
				hits++
			}
		}
	}
	return float64(hits) / draws
}

// GamutEdge is the most colourful colour of a sector of hues, with doses that give it.
type GamutEdge struct {
	Hue   float64 // centre of the sector, degrees
	Lab   cie.Lab
	Doses []Amount
}

// Gamut is what a pot can become with one or two colourants, by the formula alone: per
// sector of 15° the largest chroma, and the lightest and darkest of all. Sectors nothing
// reaches are left out.
type Gamut struct {
	Edges             []GamutEdge
	Lightest, Darkest GamutEdge
}

// Gamut samples doses of single colourants and pairs.
func (s *Shelf) Gamut(pot Recipe, opts ReachOptions) (Gamut, error) {
	h, err := s.newHunt(pot.Base, pot, opts)
	if err != nil {
		return Gamut{}, err
	}
	const sectors = 24
	var edge [sectors]struct {
		f      found
		lab    cie.Lab
		chroma float64
	}
	bare := found{}
	lab, _ := h.eval(&bare)
	light, dark, lightest, darkest := bare, bare, lab, lab
	look := func(f *found) {
		lab := h.colour(f)
		if lab.L > lightest.L {
			light, lightest = *f, lab
		}
		if lab.L < darkest.L {
			dark, darkest = *f, lab
		}
		c := lab.LCh()
		if e := &edge[int(c.H/360*sectors)%sectors]; c.C > e.chroma {
			e.f, e.lab, e.chroma = *f, lab, c.C
		}
	}
	look(&bare)
	shares := [6]float64{0.04, 0.1, 0.22, 0.45, 0.7, 1}
	pairs := min(len(h.tint), 2*tripleColorants)
	for i := range h.tint {
		for _, p := range shares {
			f := found{n: 1, at: [3]int32{int32(i)}, dose: [3]float64{p * h.tint[i].max}}
			look(&f)
			if i >= pairs || h.opts.AtMost < 2 {
				continue
			}
			for j := range i {
				for _, q := range shares {
					g := found{n: 2, at: [3]int32{int32(i), int32(j)}, dose: [3]float64{f.dose[0], q * h.tint[j].max}}
					look(&g)
				}
			}
		}
	}
	var g Gamut
	for i, e := range edge {
		if e.chroma > 0 {
			g.Edges = append(g.Edges, GamutEdge{(float64(i) + 0.5) * 360 / sectors, e.lab, h.amounts(&e.f)})
		}
	}
	g.Lightest = GamutEdge{lightest.LCh().H, lightest, h.amounts(&light)}
	g.Darkest = GamutEdge{darkest.LCh().H, darkest, h.amounts(&dark)}
	return g, nil
}

// colour is eval without the derivatives.
func (h *hunt) colour(f *found) cie.Lab {
	num, den := h.base, 1.0
	for j := range f.n {
		t := &h.tint[f.at[j]]
		d := f.dose[j]
		for i := range num {
			num[i] += d * t.k[i]
		}
		den += d * t.s
	}
	inv := 1 / den
	for i, v := range num {
		num[i] = SoapSurface.seenFromKS(v * inv)
	}
	return num.Lab()
}
