package cie

// Bands is the number of wavelengths of a [Spectrum]: 380 to 730 nm by 10 nm.
const Bands = 36

// Spectrum holds one value for each of 380, 390 … 730 nm.
type Spectrum [Bands]float64

// Wavelength gives the wavelength of band i in nm.
func Wavelength(i int) float64 { return 380 + 10*float64(i) }

// cmf1931 is the CIE 1931 2° observer, x̄ ȳ z̄, 380–730 nm by 10 nm (CIE 15, Table T.4).
var cmf1931 = [Bands][3]float64{
	{0.001368, 0.000039, 0.006450}, {0.004243, 0.000120, 0.020050},
	{0.014310, 0.000396, 0.067850}, {0.043510, 0.001210, 0.207400},
	{0.134380, 0.004000, 0.645600}, {0.283900, 0.011600, 1.385600},
	{0.348280, 0.023000, 1.747060}, {0.336200, 0.038000, 1.772110},
	{0.290800, 0.060000, 1.669200}, {0.195360, 0.090980, 1.287640},
	{0.095640, 0.139020, 0.812950}, {0.032010, 0.208020, 0.465180},
	{0.004900, 0.323000, 0.272000}, {0.009300, 0.503000, 0.158200},
	{0.063270, 0.710000, 0.078250}, {0.165500, 0.862000, 0.042160},
	{0.290400, 0.954000, 0.020300}, {0.433450, 0.994950, 0.008750},
	{0.594500, 0.995000, 0.003900}, {0.762100, 0.952000, 0.002100},
	{0.916300, 0.870000, 0.001650}, {1.026300, 0.757000, 0.001100},
	{1.062200, 0.631000, 0.000800}, {1.002600, 0.503000, 0.000340},
	{0.854450, 0.381000, 0.000190}, {0.642400, 0.265000, 0.000050},
	{0.447900, 0.175000, 0.000020}, {0.283500, 0.107000, 0},
	{0.164900, 0.061000, 0}, {0.087400, 0.032000, 0},
	{0.046770, 0.017000, 0}, {0.022700, 0.008210, 0},
	{0.011359, 0.004102, 0}, {0.005790, 0.002091, 0},
	{0.002899, 0.001047, 0}, {0.001440, 0.000520, 0},
}

// spdD65 is the relative spectral power of D65, 380–730 nm by 10 nm (ISO/CIE 11664-2).
var spdD65 = [Bands]float64{
	49.9755, 54.6482, 82.7549, 91.4860, 93.4318, 86.6823, 104.865, 117.008, 117.812,
	114.861, 115.923, 108.811, 109.354, 107.802, 104.790, 107.689, 104.405, 104.046,
	100.000, 96.3342, 95.7880, 88.6856, 90.0062, 89.5991, 87.6987, 83.2886, 83.6992,
	80.0268, 80.2146, 82.2778, 78.2842, 69.7213, 71.6091, 74.3490, 61.6040, 69.8856,
}

// WeightsD65 are the weights which turn a reflectance spectrum into XYZ under D65
// for the 2° observer: X = Σ WeightsD65[i][0]·R[i], and so on. They are scaled
// channel by channel so that R = 1 gives exactly [D65]; the table sums differ
// from it by parts in ten thousand, and a grey must come out neutral.
var WeightsD65 = weightsD65()

func weightsD65() (w [Bands][3]float64) {
	var sum [3]float64
	for i := range w {
		for c := range sum {
			w[i][c] = cmf1931[i][c] * spdD65[i]
			sum[c] += w[i][c]
		}
	}
	want := [3]float64{D65.X, D65.Y, D65.Z}
	for i := range w {
		for c := range sum {
			w[i][c] *= want[c] / sum[c]
		}
	}
	return w
}

// XYZ integrates a reflectance spectrum (0–1 in each band) under D65, 2°.
func (r *Spectrum) XYZ() (c XYZ) {
	for i, v := range r {
		w := &WeightsD65[i]
		c.X += w[0] * v
		c.Y += w[1] * v
		c.Z += w[2] * v
	}
	return c
}

// Lab integrates a reflectance spectrum to CIELAB D65, 2°.
func (r *Spectrum) Lab() Lab { return r.XYZ().Lab(D65) }
