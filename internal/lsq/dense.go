package lsq

import "math"

// columns is a dense matrix kept column by column: a[j][i] is row i, column j.
// The Householder sweep below runs down columns, so they lie together.
type columns [][]float64

func newColumns(rows, cols int) columns {
	flat := make([]float64, rows*cols)
	a := make(columns, cols)
	for j := range a {
		a[j], flat = flat[:rows:rows], flat[rows:]
	}
	return a
}

func dot(a, b []float64) float64 {
	var s float64
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// norm is the Euclidean length, scaled against overflow and underflow.
func norm(a []float64) float64 {
	var top float64
	for _, v := range a {
		if v = math.Abs(v); v > top || math.IsNaN(v) {
			top = v
		}
	}
	if top == 0 || math.IsNaN(top) || math.IsInf(top, 1) {
		return top
	}
	var s float64
	for _, v := range a {
		s += (v / top) * (v / top)
	}
	return top * math.Sqrt(s)
}

// triangle overwrites a (rows ≥ columns) with R of its Householder QR
// factorisation, upper triangle in place, and b with Qᵀb (Golub and Van Loan,
// Matrix Computations, algorithm 5.2.1). What is left below the diagonal is
// meaningless.
func triangle(a columns, b []float64) {
	for k := range a {
		v := a[k][k:]
		alpha := norm(v)
		if alpha == 0 {
			continue
		}
		if v[0] > 0 {
			alpha = -alpha
		}
		v[0] -= alpha
		// ‖v‖² = −2·alpha·v₀ for the reflector that sends the column to alpha·e₁.
		scale := -1 / (alpha * v[0])
		for j := k + 1; j < len(a); j++ {
			reflect(v, a[j][k:], scale)
		}
		if b != nil {
			reflect(v, b[k:], scale)
		}
		v[0] = alpha
	}
}

func reflect(v, x []float64, scale float64) {
	f := scale * dot(v, x)
	for i, w := range v {
		x[i] -= f * w
	}
}

// backSubstitute solves R·x = b for the upper triangle of r; a diagonal of
// exactly zero gives x = 0 there.
func backSubstitute(r columns, b, x []float64) {
	for i := len(r) - 1; i >= 0; i-- {
		s := b[i]
		for j := i + 1; j < len(r); j++ {
			s -= r[j][i] * x[j]
		}
		if r[i][i] == 0 {
			x[i] = 0
			continue
		}
		x[i] = s / r[i][i]
	}
}

// inverseNormal gives (RᵀR)⁻¹ as rows, and false where R is singular.
func inverseNormal(r columns) ([][]float64, bool) {
	n := len(r)
	inverse := newColumns(n, n) // columns of R⁻¹
	unit := make([]float64, n)
	for j := range r {
		if r[j][j] == 0 {
			return nil, false
		}
	}
	for j := range inverse {
		unit[j] = 1
		backSubstitute(r, unit, inverse[j])
		unit[j] = 0
	}
	out := newColumns(n, n)
	for i := range out {
		for k := range out {
			for j := max(i, k); j < n; j++ {
				out[i][k] += inverse[j][i] * inverse[j][k]
			}
			if math.IsNaN(out[i][k]) || math.IsInf(out[i][k], 0) {
				return nil, false
			}
		}
	}
	return out, true
}

// conditionOf is ‖R‖·‖R⁻¹‖ in the 1-norm: about one for a well-posed problem
// whose columns were brought to unit length, above 1e12 where the columns are
// dependent to the accuracy of the arithmetic.
func conditionOf(r columns) float64 {
	n := len(r)
	var size, inverse float64
	unit, x := make([]float64, n), make([]float64, n)
	for j := range r {
		if r[j][j] == 0 {
			return math.Inf(1)
		}
		var up, back float64
		for i := 0; i <= j; i++ {
			up += math.Abs(r[j][i])
		}
		unit[j] = 1
		backSubstitute(r, unit, x)
		unit[j] = 0
		for _, v := range x {
			back += math.Abs(v)
		}
		size, inverse = max(size, up), max(inverse, back)
	}
	return size * inverse
}
