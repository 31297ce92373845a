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
	tripleColorants = 48   // colourants among which all threes are looked at
	keepRough       = 900  // subsets of each size polished roughly
	keepFull        = 200  // of those, polished in full
	keepAgain       = 60   // of those, once more from elsewhere
	doubt           = 0.35 // of an estimate, per ΔE00 that the subset it grew from is away
	fully           = 12   // steps of a full polish at most
	keepRanked      = 8    // of those, polished, for the full prediction
)

// Reach looks for the doses of one, two and three colourants whose settled colour comes
// nearest to the target in this pot (its base and its browning; without doses). Candidates
// come best first within each number of colourants, fewer colourants first. More colourants
// that come no nearer than fewer, or one of whose doses would be less than a step, are left
// out.
//
// Singles are polished on ΔE00 with all bands; every pair, and of the threes those few
// hundred to which the slopes at their pairs promise most, in half as many bands; the best of
// these in full. The result is deterministic. The errors are for a pot, a target or options
// that make no sense.
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
	bare, err := s.candidate(newBases(s.family), white, pot, nil, opts)
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
	bases  *bases
	tint   []tint
	fine   bands
	coarse bands

	q, slope [cie.Bands]float64 // work
}

// bands are K of base and browning and of each tint at some resolution, with the weights
// that make XYZ of them.
type bands struct {
	w    [][3]float64
	base []float64
	k    [][]float64
}

// tint is a colourant as the hunt sees it.
type tint struct {
	c      int // on the shelf
	s, max float64
}

// found is a subset with doses.
type found struct {
	n    int
	at   [3]int32 // of hunt.tint, ascending
	dose [3]float64
	off  float64 // ΔE00, or an estimate of it
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
	names := s.names
	if opts.Colorants != nil {
		names = slices.Clone(opts.Colorants)
		slices.Sort(names)
		names = slices.Compact(names)
	}
	h := &hunt{s: s, target: target, pot: pot, opts: opts, bases: newBases(s.family)}
	r, err := s.row(h.bases, &pot)
	if err != nil {
		return nil, err
	}
	base, _, _ := s.m.mix(r)
	for _, name := range names {
		c, ok := s.index[name]
		if !ok {
			return nil, fmt.Errorf("colourant %q was never read", name)
		}
		t := tint{c: c, s: s.m.s[c], max: s.most[c]}
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
	h.fine, h.coarse = h.bandsOf(&base, 1), h.bandsOf(&base, 2)
	return h, nil
}

// bandsOf joins each few neighbours of the 36 bands to one.
func (h *hunt) bandsOf(base *cie.Spectrum, each int) bands {
	join := func(s *cie.Spectrum) []float64 {
		out := make([]float64, cie.Bands/each)
		for i := range out {
			for _, v := range s[i*each : (i+1)*each] {
				out[i] += v / float64(each)
			}
		}
		return out
	}
	b := bands{base: join(base), w: make([][3]float64, cie.Bands/each)}
	for i, w := range cie.WeightsD65 {
		for c, v := range w {
			b.w[i/each][c] += v
		}
	}
	for _, t := range h.tint {
		b.k = append(b.k, join(&h.s.m.k[t.c]))
	}
	return b
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

// search gives the polished subsets of one, two and three colourants, nearest first.
func (h *hunt) search() [3][]found {
	var out [3][]found
	for i := range h.tint {
		f := found{n: 1, at: [3]int32{int32(i)}, off: math.Inf(1)}
		h.polish(&h.fine, &f, fully, 0.02, 0.2, 0.7)
		out[0] = append(out[0], f)
	}
	slices.SortFunc(out[0], nearer)
	for n := 1; n < h.opts.AtMost; n++ {
		list := h.grow(out[n-1], [2]int{len(h.tint), tripleColorants}[n-1])
		for i := range list {
			f := &list[i]
			if n == 1 {
				// Pairs are few and all else grows from them: look for a second valley.
				h.polish(&h.coarse, f, 3, 0, 0.03, 0.33)
			} else {
				h.polish(&h.coarse, f, 3, 0)
			}
		}
		slices.SortFunc(list, nearer)
		for i := range list[:min(len(list), keepFull)] {
			h.polish(&h.fine, &list[i], fully, 0)
		}
		slices.SortFunc(list[:min(len(list), keepFull)], nearer)
		for i := range list[:min(len(list), keepAgain)] {
			h.polish(&h.fine, &list[i], fully, 0, 0.03, 0.33)
		}
		slices.SortFunc(list[:min(len(list), keepFull)], nearer)
		out[n] = list
	}
	return out
}

// nearer orders subsets; ties go by place on the shelf, so that the order is always the same.
func nearer(a, b found) int {
	if a.off != b.off {
		return cmp.Compare(a.off, b.off)
	}
	return slices.Compare(a.at[:], b.at[:])
}

// grow adds one colourant to each of the subsets: the colour and its slopes there say how
// near the larger subset may come. Each is taken from the most promising of the smaller ones
// inside it; the nearest are given. Where the shelf has more colourants than limit, those of
// the nearest subsets are used.
func (h *hunt) grow(from []found, limit int) []found {
	among := h.promising(from, limit)
	rank := make([]int, len(h.tint)) // 1 + place in among
	for i, c := range among {
		rank[c] = i + 1
	}
	m := len(among)
	size, subsets := m*m, m*(m-1)/2
	if len(from) > 0 && from[0].n == 2 {
		size, subsets = size*m, subsets*(m-2)/3
	}
	place := make([]int32, size) // 1 + place in grown
	grown := make([]found, 0, max(0, subsets))
	slopes := make([][3]float64, m)
	for i := range from {
		f := &from[i]
		if slices.ContainsFunc(f.at[:f.n], func(c int32) bool { return rank[c] == 0 }) {
			continue
		}
		miss, own := h.around(f, among, slopes)
		for j, c := range among {
			if slices.Contains(f.at[:f.n], c) {
				continue
			}
			g := h.extended(f, c, &miss, &own, &slopes[j])
			g.off += doubt * f.off
			key := 0
			for _, t := range g.at[:g.n] {
				key = key*m + rank[t] - 1
			}
			if at := place[key]; at == 0 {
				grown = append(grown, g)
				place[key] = int32(len(grown))
			} else if g.off < grown[at-1].off {
				grown[at-1] = g
			}
		}
	}
	return nearest(grown, keepRough)
}

// nearest gives the n nearest in order. Most fall to a cut through the plain numbers, which
// sort faster.
func nearest(all []found, n int) []found {
	if len(all) > n {
		offs := make([]float64, len(all))
		for i := range all {
			offs[i] = all[i].off
		}
		slices.Sort(offs)
		cut := offs[n-1]
		all = slices.DeleteFunc(all, func(f found) bool { return f.off > cut })
	}
	slices.SortFunc(all, nearer)
	return all[:min(len(all), n)]
}

// promising are the colourants that are tried together: the whole shelf up to the limit,
// else those of the nearest subsets, in the order of the shelf.
func (h *hunt) promising(from []found, limit int) []int32 {
	var among []int32
	if len(h.tint) <= limit {
		for i := range h.tint {
			among = append(among, int32(i))
		}
		return among
	}
	from = slices.Clone(from)
	slices.SortFunc(from, nearer)
	for _, f := range from {
		for _, i := range f.at[:f.n] {
			if len(among) < limit && !slices.Contains(among, i) {
				among = append(among, i)
			}
		}
	}
	slices.Sort(among)
	return among
}

// around gives what a subset misses, how it follows its own doses and, in slopes, how it
// would follow those of the colourants in among, all in the metric of ΔE00 between its
// colour and the target.
func (h *hunt) around(f *found, among []int32, slopes [][3]float64) (miss [3]float64, own [3][3]float64) {
	b := &h.coarse
	q, slope, lab, by := h.see(b, f)
	root := chord(lab, h.target, cie.DeltaE00(lab, h.target))
	d := vec(h.target.Sub(lab))
	var w [3][cie.Bands]float64
	var diluted [3]float64
	for r := range w {
		for c := r; c < 3; c++ {
			miss[r] += root[r][c] * d[c]
		}
	}
	for i, v := range q {
		x, y, z := by[0]*b.w[i][0], by[1]*b.w[i][1], by[2]*b.w[i][2]
		g := [3]float64{116 * y, 500 * (x - y), 200 * (y - z)}
		for r := range w {
			var sum float64
			for c := r; c < 3; c++ {
				sum += root[r][c] * g[c]
			}
			w[r][i] = sum * slope[i]
			diluted[r] += w[r][i] * v
		}
	}
	follow := func(c int32) (a [3]float64) {
		k, s := b.k[c], h.tint[c].s
		for i, v := range k {
			a[0] += w[0][i] * v
			a[1] += w[1][i] * v
			a[2] += w[2][i] * v
		}
		for r := range a {
			a[r] -= diluted[r] * s
		}
		return a
	}
	for j := range f.n {
		own[j] = follow(f.at[j])
	}
	for j, c := range among {
		slopes[j] = follow(c)
	}
	return miss, own
}

// extended is f with none yet of colourant c, and how near the slopes at f say it may come.
func (h *hunt) extended(f *found, c int32, miss *[3]float64, own *[3][3]float64, slope *[3]float64) found {
	g := found{n: f.n + 1}
	var a [3][3]float64
	var most [3]float64
	b := *miss
	j := 0
	for i := range g.n {
		var col *[3]float64
		if j < f.n && (i > j || f.at[j] < c) {
			g.at[i], g.dose[i], col = f.at[j], f.dose[j], &own[j]
			j++
		} else {
			g.at[i], col = c, slope
		}
		most[i] = h.tint[g.at[i]].max
		for r := range a {
			a[r][i] = col[r]
			b[r] += col[r] * g.dose[i]
		}
	}
	x := boxed(&a, &b, &most, g.n)
	for i := range g.n {
		for r := range b {
			b[r] -= a[r][i] * x[i]
		}
	}
	g.off = math.Sqrt(b[0]*b[0] + b[1]*b[1] + b[2]*b[2])
	return g
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

// mix gives K/S of a subset in the buffer, and 1/(1 + Σ dose·s).
func (h *hunt) mix(b *bands, f *found, buffer *[cie.Bands]float64) (q []float64, inv float64) {
	q, inv = buffer[:len(b.base)], 1
	copy(q, b.base)
	for j := range f.n {
		d := f.dose[j]
		k := b.k[f.at[j]][:len(q)]
		for i := range q {
			q[i] += d * k[i]
		}
		inv += d * h.tint[f.at[j]].s
	}
	inv = 1 / inv
	for i := range q {
		q[i] *= inv
	}
	return q, inv
}

// see gives K/S of a subset, the slope of the reflectance seen by Σ dose·k in each band, the
// colour and the slopes of labWithSlopes. q and slope are good until the next call.
func (h *hunt) see(b *bands, f *found) (q, slope []float64, lab cie.Lab, by [3]float64) {
	q, inv := h.mix(b, f, &h.q)
	slope = h.slope[:len(q)]
	var c cie.XYZ
	for i, v := range q {
		var r float64
		r, slope[i] = SoapSurface.seenSlope(v)
		w := &b.w[i]
		c.X += w[0] * r
		c.Y += w[1] * r
		c.Z += w[2] * r
		slope[i] *= inv
	}
	lab, by = labWithSlopes(c)
	return q, slope, lab, by
}

// eval gives the colour of a subset and its derivative by each dose.
func (h *hunt) eval(b *bands, f *found) (lab cie.Lab, jac [3][3]float64) {
	q, slope, lab, d := h.see(b, f)
	for j := range f.n {
		k, s := b.k[f.at[j]][:len(q)], h.tint[f.at[j]].s
		var x, y, z float64
		for i, v := range q {
			v := slope[i] * (k[i] - v*s)
			w := &b.w[i]
			x += w[0] * v
			y += w[1] * v
			z += w[2] * v
		}
		x, y, z = d[0]*x, d[1]*y, d[2]*z
		jac[0][j], jac[1][j], jac[2][j] = 116*y, 500*(x-y), 200*(y-z)
	}
	return lab, jac
}

// colour is eval without the derivatives, with all bands.
func (h *hunt) colour(f *found) cie.Lab {
	var buffer [cie.Bands]float64
	q, _ := h.mix(&h.fine, f, &buffer)
	for i, v := range q {
		buffer[i] = SoapSurface.seenFromKS(v)
	}
	s := cie.Spectrum(buffer)
	return s.Lab()
}

// polish descends on ΔE00 itself from each start, a share of the largest doses or 0 for the
// doses as they are, and keeps the nearest.
func (h *hunt) polish(b *bands, f *found, steps int, starts ...float64) {
	best := *f
	best.off = math.Inf(1)
	for _, share := range starts {
		g := *f
		if share > 0 {
			for j := range g.n {
				g.dose[j] = share * h.tint[g.at[j]].max
			}
		}
		if h.descend(b, &g, steps); g.off < best.off {
			best = g
		}
	}
	*f = best
}

// descend takes Gauss–Newton steps in the metric of ΔE00 between the present colour and
// the target, shortened until they help.
func (h *hunt) descend(b *bands, f *found, steps int) {
	lab, jac := h.eval(b, f)
	f.off = cie.DeltaE00(lab, h.target)
	for range steps {
		if f.off < 1e-3 {
			return
		}
		full := h.improved(f, lab, &jac)
		was, helped := *f, false
		for t := 1.0; t > 0.05; t /= 2.5 {
			g := was
			for j := range f.n {
				g.dose[j] += t * (full[j] - was.dose[j])
			}
			newLab, newJac := h.eval(b, &g)
			if off := cie.DeltaE00(newLab, h.target); off < was.off {
				*f, lab, jac, helped = g, newLab, newJac, true
				f.off = off
				break
			}
		}
		if !helped || was.off-f.off < 1e-3 {
			return
		}
	}
}

// improved are the doses of least |root·(lab + jac·Δ − target)|, root being the metric of
// ΔE00 from lab to the target.
func (h *hunt) improved(f *found, lab cie.Lab, jac *[3][3]float64) [3]float64 {
	root := chord(lab, h.target, f.off)
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
	return boxed(&a, &b, &most, f.n)
}

// chord is an upper triangle R with |R·(b−a)| = off, the ΔE00 of a and b, that weighs
// lightness, chroma and hue as ΔE00 does between the two colours (ISO/CIE 11664-6 without
// its turn of the blue axis; the scale makes up for that).
func chord(a, b cie.Lab, off float64) (r [3][3]float64) {
	mid := a.Add(b).Scale(0.5)
	c := math.Hypot(mid.A, mid.B)
	l := mid.L - 50
	l *= l
	sl := 1 + 0.015*l/math.Sqrt(20+l)
	sc, sh := 1+0.045*c, 1+0.015*c
	co, si := 1.0, 0.0
	if c > 1e-9 {
		co, si = mid.A/c, mid.B/c
	}
	// The part in a* and b* is wc·(cos, sin)(cos, sin)ᵀ + wh·(−sin, cos)(−sin, cos)ᵀ.
	wc, wh := 1/(sc*sc), 1/(sh*sh)
	aa, ab, bb := wc*co*co+wh*si*si, (wc-wh)*co*si, wc*si*si+wh*co*co
	r[0][0] = 1 / sl
	r[1][1] = math.Sqrt(aa)
	r[1][2] = ab / r[1][1]
	r[2][2] = math.Sqrt(math.Max(0, bb-r[1][2]*r[1][2]))
	d := vec(b.Sub(a))
	x, y, z := r[0][0]*d[0], r[1][1]*d[1]+r[1][2]*d[2], r[2][2]*d[2]
	if n := math.Sqrt(x*x + y*y + z*z); n > 1e-6 {
		f := off / n
		r[0][0] *= f
		r[1][1] *= f
		r[1][2] *= f
		r[2][2] *= f
	}
	return r
}

// variance is the predictive variance of a subset in units of ΔE00², from the parameters of
// its own colourants: enough to choose what is looked at in full.
func (h *hunt) variance(f *found, metric *[3][3]float64) (v float64) {
	r := row{ks: cie.Spectrum(h.fine.base), scent: -1}
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
			v += cov * quadratic(&a, metric, &b)
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
	metric := metricAt(h.target)
	type ranked struct {
		found
		rank float64
	}
	var first []ranked
	for _, f := range list[:min(len(list), keepFull)] {
		if f.off > near+5 {
			break
		}
		if !h.real(&f) {
			continue
		}
		first = append(first, ranked{f, f.off*f.off + h.variance(&f, &metric)})
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
	c, err := h.s.candidate(h.bases, h.target, h.pot, h.amounts(&f), h.opts)
	if err != nil {
		return c, err
	}
	if norm(c.Shift) > 0.1 && c.Known() {
		moved := *h
		moved.target = h.target.Sub(c.Shift)
		g := f
		moved.polish(&h.fine, &g, fully, 0)
		if again, err := h.s.candidate(h.bases, h.target, h.pot, h.amounts(&g), h.opts); err == nil && again.Known() && again.DeltaE00 < c.DeltaE00 && h.real(&g) {
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
		lab := h.colour(&g)
		if off := cie.DeltaE00(lab, target); off < best {
			best, at = off, g
		}
	}
	return h.s.candidate(h.bases, h.target, h.pot, h.amounts(&at), h.opts)
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
func (s *Shelf) candidate(b *bases, target cie.Lab, pot Recipe, doses []Amount, opts ReachOptions) (Candidate, error) {
	pot.Doses = doses
	p, err := s.predict(b, pot)
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
