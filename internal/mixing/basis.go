package mixing

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"lyefast/internal/cie"
)

// The prior of a colourant's ln k along the spectrum: a Gaussian process of squared-
// exponential covariance. Pigment spectra have absorption bands some 100 nm wide.
const (
	shapeSD     = 1.2 // of ln k about its level
	shapeLength = 60  // nm
	maxShape    = 14  // eigenvectors kept; the rest carry less than 1e-6 of the variance
)

// shapeBasis gives the eigenvectors of the prior covariance, largest first, each scaled by
// the root of its eigenvalue, so that unit normal coefficients draw from the prior:
// ln k_i = level + Σ_j c_j·basis[j][i].
var shapeBasis = sync.OnceValue(func() *[maxShape]cie.Spectrum {
	cov := mat.NewSymDense(cie.Bands, nil)
	for i := range cie.Bands {
		for j := i; j < cie.Bands; j++ {
			d := (cie.Wavelength(i) - cie.Wavelength(j)) / shapeLength
			cov.SetSym(i, j, shapeSD*shapeSD*math.Exp(-d*d/2))
		}
	}
	var eig mat.EigenSym
	eig.Factorize(cov, true)
	values := eig.Values(nil)
	var vectors mat.Dense
	eig.VectorsTo(&vectors)
	var basis [maxShape]cie.Spectrum
	for j := range basis {
		col := cie.Bands - 1 - j // gonum sorts upwards
		scale := math.Sqrt(math.Max(0, values[col]))
		if vectors.At(cie.Bands/2-1, col) < 0 {
			scale = -scale // a sign that does not hang on the library's
		}
		for i := range basis[j] {
			basis[j][i] = scale * vectors.At(i, col)
		}
	}
	return &basis
})
