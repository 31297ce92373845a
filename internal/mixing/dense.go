package mixing

import (
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/floats"
)

// Square symmetric matrices here are flat, row after row; only the lower triangle counts.

// blockColumns is how many columns of a factor are finished at a time; parallelFrom
// is the size from which the rows below them are shared out among the cores.
const (
	blockColumns = 64
	parallelFrom = 200
)

// cholesky overwrites the lower triangle of a (n×n) with its factor L, L·Lᵀ = a. It
// reports false where a is not positive definite. Every element comes from the same
// operations in the same order however many cores there are.
func cholesky(a []float64, n int) bool {
	for from := 0; from < n; from += blockColumns {
		to := min(from+blockColumns, n)
		for i := from; i < to; i++ {
			ri := a[i*n : i*n+i+1]
			factorRow(a, n, ri, from, i)
			d := ri[i] - inner(ri[:i], ri[:i])
			if !(d > 0) || math.IsInf(d, 1) {
				return false
			}
			ri[i] = math.Sqrt(d)
		}
		below := func(i, step int) {
			for ; i < n; i += step {
				factorRow(a, n, a[i*n:i*n+to], from, to)
			}
		}
		workers := runtime.GOMAXPROCS(0)
		if n < parallelFrom || workers == 1 {
			below(to, 1)
			continue
		}
		var wg sync.WaitGroup
		for w := range workers {
			wg.Go(func() { below(to+w, workers) })
		}
		wg.Wait()
	}
	return true
}

// factorRow works out the elements from ≤ j < to of one row of the factor.
func factorRow(a []float64, n int, row []float64, from, to int) {
	for j := from; j < to; j++ {
		rj := a[j*n : j*n+j+1]
		row[j] = (row[j] - inner(row[:j], rj[:j])) / rj[j]
	}
}

// forward solves L·x = b in place.
func forward(l []float64, n int, x []float64) {
	for i := range n {
		x[i] = (x[i] - inner(l[i*n:i*n+i], x[:i])) / l[i*n+i]
	}
}

// backward solves Lᵀ·x = b in place.
func backward(l []float64, n int, x []float64) {
	for i := n - 1; i >= 0; i-- {
		v := x[i] / l[i*n+i]
		x[i] = v
		for k, w := range l[i*n : i*n+i] {
			x[k] -= w * v
		}
	}
}

// inverse gives the full inverse of L·Lᵀ.
func inverse(l []float64, n int) []float64 {
	// Columns of L⁻¹ as rows of t: t[j][i] = (L⁻¹)_ij, i ≥ j.
	t := make([]float64, n*n)
	for j := range n {
		tj := t[j*n : (j+1)*n]
		tj[j] = 1 / l[j*n+j]
		for i := j + 1; i < n; i++ {
			tj[i] = -inner(l[i*n+j:i*n+i], tj[j:i]) / l[i*n+i]
		}
	}
	inv := make([]float64, n*n)
	for i := range n {
		for j := range i + 1 {
			v := inner(t[i*n+i:(i+1)*n], t[j*n+i:(j+1)*n])
			inv[i*n+j], inv[j*n+i] = v, v
		}
	}
	return inv
}

// inner is the inner product of two slices of one length, summed four ways so that the
// additions need not wait for each other.
func inner(a, b []float64) float64 {
	b = b[:len(a)]
	if len(a) >= 64 { // the library's vector code pays from about here
		return floats.Dot(a, b)
	}
	var s0, s1, s2, s3 float64
	i := 0
	for ; i+3 < len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return (s0 + s1) + (s2 + s3)
}

// eigen3 gives eigenvalues and eigenvectors (columns of v) of a symmetric matrix, by
// Jacobi rotations.
func eigen3(a [3][3]float64) (values [3]float64, v [3][3]float64) {
	v = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 30 {
		for p := range 2 {
			for q := p + 1; q < 3; q++ {
				if math.Abs(a[p][q]) < 1e-300 {
					continue
				}
				th := (a[q][q] - a[p][p]) / (2 * a[p][q])
				t := 1 / (math.Abs(th) + math.Sqrt(th*th+1))
				if th < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(t*t+1)
				s := t * c
				for k := range 3 {
					a[k][p], a[k][q] = c*a[k][p]-s*a[k][q], s*a[k][p]+c*a[k][q]
				}
				for k := range 3 {
					a[p][k], a[q][k] = c*a[p][k]-s*a[q][k], s*a[p][k]+c*a[q][k]
				}
				for k := range 3 {
					v[k][p], v[k][q] = c*v[k][p]-s*v[k][q], s*v[k][p]+c*v[k][q]
				}
			}
		}
	}
	return [3]float64{a[0][0], a[1][1], a[2][2]}, v
}

// inverseDiagonal gives the diagonal of the inverse of L·Lᵀ.
func inverseDiagonal(l []float64, n int) []float64 {
	d, col := make([]float64, n), make([]float64, n)
	for j := range n {
		col[j] = 1 / l[j*n+j]
		d[j] = col[j] * col[j]
		for i := j + 1; i < n; i++ {
			col[i] = -inner(l[i*n+j:i*n+i], col[j:i]) / l[i*n+i]
			d[j] += col[i] * col[i]
		}
	}
	return d
}
