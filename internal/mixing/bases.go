package mixing

import (
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// family is what a maker's bases have in common, where the history holds several that were
// read with noise: they differ mostly along one line, from pale to yellow, and what lies
// off the line is noise.
type family struct {
	spread [3][3]float64 // covariance of the true bases
	centre [3]float64
}

// bases makes bases for recipes and keeps those made: the portions of a batch share one.
// A reading of a base is drawn towards the family, if there is one.
type bases struct {
	family *family
	known  map[cie.Lab]*Base
}

func newBases(f *family) *bases { return &bases{f, map[cie.Lab]*Base{}} }

func vec(c cie.Lab) [3]float64 { return [3]float64{c.L, c.A, c.B} }

// newFamily needs at least four bases read with noise, else it gives nil.
func newFamily(portions []Portion) *family {
	b := &family{}
	seen := map[cie.Lab]bool{}
	var noise [3]float64
	var list [][3]float64
	for i := range portions {
		lab, sd := portions[i].Base, portions[i].BaseSD
		if seen[lab] || sd == (cie.Lab{}) {
			continue
		}
		seen[lab] = true
		v, s := vec(lab), vec(sd)
		list = append(list, v)
		for c := range v {
			b.centre[c] += v[c]
			noise[c] += s[c] * s[c]
		}
	}
	n := float64(len(list))
	if n < 4 {
		return nil
	}
	for c := range noise {
		b.centre[c] /= n
		noise[c] /= n
	}
	// Four bases' worth of prior belief: bases differ by 2 in L*, 1 in a* and 3 in b*.
	const belief = 4
	prior := [3]float64{4, 1, 9}
	var cov [3][3]float64
	for c := range cov {
		cov[c][c] = belief * (prior[c] + noise[c])
	}
	for _, v := range list {
		for c := range cov {
			for d := range cov {
				cov[c][d] += (v[c] - b.centre[c]) * (v[d] - b.centre[d])
			}
		}
	}
	// What is left of the covariance when the noise is taken off, nothing below zero.
	// In units of the noise, which makes the noise a sphere.
	var scaled [3][3]float64
	for c := range cov {
		for d := range cov {
			scaled[c][d] = cov[c][d] / (n + belief) / math.Sqrt(noise[c]) / math.Sqrt(noise[d])
		}
	}
	values, vectors := eigen3(scaled)
	for k, l := range values {
		if l <= 1 {
			continue
		}
		for c := range cov {
			for d := range cov {
				b.spread[c][d] += (l - 1) * vectors[c][k] * vectors[d][k] * math.Sqrt(noise[c]) * math.Sqrt(noise[d])
			}
		}
	}
	return b
}

// of gives the base for a reading with its deviation, and the covariance left in its Lab.
func (b *bases) of(lab, sd cie.Lab) (*Base, [3][3]float64, error) {
	s := vec(sd)
	var left [3][3]float64
	for c := range left {
		left[c][c] = s[c] * s[c]
	}
	at := lab
	if b.family != nil && sd != (cie.Lab{}) {
		at, left = b.family.draw(lab, left)
	}
	if known := b.known[at]; known != nil {
		return known, left, nil
	}
	base, err := BaseFromLab(at, SoapSurface)
	if err != nil {
		return nil, left, fmt.Errorf("making a base: %w", err)
	}
	b.known[at] = &base
	return &base, left, nil
}

// draw is the mean and covariance of the true base given its reading and the family. A
// base that does not belong to the family is left as it was read.
func (b *family) draw(lab cie.Lab, noise [3][3]float64) (cie.Lab, [3][3]float64) {
	v := vec(lab)
	var off [3]float64
	sum := noise
	for c := range off {
		off[c] = v[c] - b.centre[c]
		sum[c][c] += 1e-6
		for d := range sum {
			sum[c][d] += b.spread[c][d]
		}
	}
	m, x := sum, off
	if !solve3(&m, &x) {
		return lab, noise
	}
	var far float64
	for c := range x {
		far += x[c] * off[c]
	}
	if far > 16 {
		return lab, noise
	}
	var out [3]float64
	left := b.spread
	for c := range out {
		out[c] = b.centre[c]
		for d := range x {
			out[c] += b.spread[c][d] * x[d]
		}
		// Column c of the covariance left: S − S·(S+N)⁻¹·S.
		m = sum
		col := [3]float64{b.spread[0][c], b.spread[1][c], b.spread[2][c]}
		if !solve3(&m, &col) {
			return lab, noise
		}
		for d := range out {
			for e := range col {
				left[d][c] -= b.spread[d][e] * col[e]
			}
		}
	}
	return cie.Lab{L: out[0], A: out[1], B: out[2]}, left
}
