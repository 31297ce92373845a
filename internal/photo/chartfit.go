package photo

import (
	"errors"
	"math"
	"slices"

	"lyefast/internal/cie"
	"lyefast/internal/lsq"
)

// d50 is the white that charts, cards and profiles refer to.
var d50 = [3]float64{cie.D50.X, cie.D50.Y, cie.D50.Z}

// known is a patch of known colour as the picture shows it.
type known struct {
	light [3]float64 // linear, 0–1, shading taken off
	lab   cie.Lab    // D50
}

// darkest linear light, about a hundredth of a code; there is no logarithm of none.
const darkest = 3e-6

const (
	// huber is the error from which a patch counts less: in L*, and in a* and b*
	// divided by 1 + 0.03 C*, as ΔE00 roughly divides chroma.
	huber       = 4
	chromaShare = 0.03
	// Pulls, as standard deviations: of the tone curve's exponent about 1, of its bend
	// and of the flare about 0, and of the matrix about the profile's own times one
	// gain, on and off the diagonal. They matter where few patches are left.
	exponentSD, toneBendSD, flareSD = 0.3, 0.1, 0.02
	diagonalSD, mixSD               = 0.3, 0.1
	// nearness is the distance in CIELAB over which errors of patches are alike, and
	// doubt the weight of expecting no error, in patches.
	// Between 12 and 30, and half a patch and three, the means of the test photographs
	// differ by 0.2 and less.
	nearness, doubt = 15, 1
	// leaveOutSteps are steps to the minimum without a patch.
	leaveOutSteps = 3

	chartParams = 12 // exponent, bend, flare, and the matrix row by row
	chartPulls  = chartParams
)

// fewestPatches is the least of a chart's 24 that its twelve parameters are fitted to.
const fewestPatches = 12

// chartModel is tone curve, matrix and flare: with v the linear light over the
// chart's largest green, u = ln v and w = exp(p0·u + p1·u²), the colour is
// XYZ(D50) = M·w + flare·white. What the fit leaves over near a colour is added.
type chartModel struct {
	scale  float64
	params [chartParams]float64

	profile, toRGB matrix
	gain           float64
	held           bool // Huber's weights are taken as given, for steps near the minimum
	list           []known
	fitted         []cie.Lab // of list
}

// newChartModel fits the model by Levenberg–Marquardt.
func newChartModel(list []known, sp *space) (*chartModel, error) {
	if len(list) < fewestPatches {
		return nil, errors.New("too few patches for a chart")
	}
	c := &chartModel{profile: sp.toXYZ, toRGB: sp.toRGB}
	for i := range list {
		c.scale = math.Max(c.scale, list[i].light[1])
	}
	if c.scale <= darkest {
		return nil, errors.New("the chart is black in the picture")
	}
	c.params[0] = 1
	// Where the profile's own matrix makes the patches as light as they are.
	for i := range list {
		w, _ := c.tone(list[i].light)
		y := c.profile.times(w)[1]
		c.gain += math.Log(list[i].lab.XYZ(cie.D50).Y/math.Max(y, darkest)) / float64(len(list))
	}
	c.gain = math.Exp(c.gain)
	for i := range 3 {
		for j := range 3 {
			c.params[3+3*i+j] = c.gain * c.profile[i][j]
		}
	}
	work := *c
	res, err := lsq.Fit(lsq.Residuals{
		Count: 3*len(list) + chartPulls,
		Eval: func(t, out []float64) {
			copy(work.params[:], t)
			work.system(list, out, nil)
		},
		Jacobian: func(t []float64, cols [][]float64) {
			copy(work.params[:], t)
			work.system(list, nil, cols)
		},
	}, c.params[:], lsq.Options{MaxIter: 60})
	if err != nil && !errors.Is(err, lsq.ErrNoConvergence) {
		return nil, err
	}
	copy(c.params[:], res.Params)
	c.keep(list)
	return c, nil
}

// keep remembers what the fit leaves over.
func (c *chartModel) keep(list []known) {
	c.list, c.fitted = list, make([]cie.Lab, len(list))
	for i := range list {
		c.fitted[i] = c.bare(list[i].light)
	}
}

// without gives the model with one patch left out: a few Gauss–Newton steps from the
// minimum with it, which is near, under Huber's weights as they are at each step. A
// step that does not lead down is halved.
func (c *chartModel) without(i int) *chartModel {
	d := *c
	rest := slices.Delete(slices.Clone(c.list), i, i+1)
	n := 3*len(rest) + chartPulls
	cols := make([][]float64, chartParams)
	for j := range cols {
		cols[j] = make([]float64, n)
	}
	out := make([]float64, n)
	height := func() (sum float64) {
		d.held = false
		d.system(rest, out, nil)
		for _, r := range out {
			sum += r * r
		}
		return sum
	}
	now := height()
	for range leaveOutSteps {
		d.held = true
		d.system(rest, out, cols)
		x, _, err := lsq.Linear(cols, out)
		if err != nil {
			break
		}
		from, next := d.params, now
		for share := 1.0; share > 0.05; share /= 2 {
			for j := range x {
				d.params[j] = from[j] - share*x[j]
			}
			if next = height(); next < now {
				break
			}
		}
		if !(next < now) {
			d.params = from
			break
		}
		now = next
	}
	d.keep(rest)
	return &d
}

// leftOut gives, patch by patch, how far in ΔE00 each is read from its value where
// the model has not seen it.
func (c *chartModel) leftOut() []float64 {
	out := make([]float64, len(c.list))
	for i, k := range c.list {
		out[i] = cie.DeltaE00(c.without(i).lab(k.light), k.lab)
	}
	return out
}

// veil is the stray light that lies over the picture, as a share of white; negative
// where the picture was made harder than the scene.
func (c *chartModel) veil() float64 { return -c.params[2] }

// tone gives w and u of linear light.
func (c *chartModel) tone(v [3]float64) (w, u [3]float64) {
	for i := range v {
		u[i] = rising(math.Log(math.Max(darkest, v[i])/c.scale), c.params[0], c.params[1])
		w[i] = math.Exp(c.params[0]*u[i] + c.params[1]*u[i]*u[i])
	}
	return w, u
}

// xyz gives the tristimulus values of w.
func (c *chartModel) xyz(w [3]float64) (x [3]float64) {
	for i := range x {
		m := c.params[3+3*i:]
		x[i] = m[0]*w[0] + m[1]*w[1] + m[2]*w[2] + c.params[2]*d50[i]
	}
	return x
}

// bare gives the colour of the model alone, D50.
func (c *chartModel) bare(v [3]float64) cie.Lab {
	w, _ := c.tone(v)
	return labD50(c.xyz(w))
}

// lab gives the colour, D50, of linear light: the model's, and the mean of what it
// leaves over at the patches near it.
func (c *chartModel) lab(v [3]float64) cie.Lab {
	p := c.bare(v)
	var sum cie.Lab
	weight := float64(doubt)
	for i, k := range c.list {
		d := cie.DeltaE76(p, c.fitted[i]) / nearness
		w := math.Exp(-d * d / 2)
		sum = sum.Add(k.lab.Sub(c.fitted[i]).Scale(w))
		weight += w
	}
	return p.Add(sum.Scale(1 / weight))
}

// system writes the residuals of patches and pulls, and their derivatives; either
// may be nil.
func (c *chartModel) system(list []known, out []float64, cols [][]float64) {
	for i := range list {
		c.patch(&list[i], 3*i, out, cols)
	}
	o := 3 * len(list)
	for j := range cols {
		clear(cols[j][o:])
	}
	pull := func(row int, value, sd float64, by ...int) {
		if out != nil {
			out[row] = value / sd
		}
		if cols != nil && len(by) == 1 {
			cols[by[0]][row] = 1 / sd
		}
	}
	pull(o, c.params[0]-1, exponentSD, 0)
	pull(o+1, c.params[1], toneBendSD, 1)
	pull(o+2, c.params[2], flareSD, 2)
	// The matrix seen as one of linear R, G, B to R, G, B.
	for i := range 3 {
		for j := range 3 {
			row, sd, mean := o+3+3*i+j, c.gain*mixSD, 0.0
			if i == j {
				sd, mean = c.gain*diagonalSD, c.gain
			}
			s := 0.0
			for l := range 3 {
				s += c.toRGB[i][l] * c.params[3+3*l+j]
				if cols != nil {
					cols[3+3*l+j][row] = c.toRGB[i][l] / sd
				}
			}
			pull(row, s-mean, sd)
		}
	}
}

// patch writes the three residuals of a patch under Huber's weight, such that their
// squares add up to his measure, and their derivatives.
func (c *chartModel) patch(k *known, row int, out []float64, cols [][]float64) {
	w, u := c.tone(k.light)
	x := c.xyz(w)
	var f, df [3]float64
	for i := range 3 {
		f[i], df[i] = labF(x[i] / d50[i])
		df[i] /= d50[i]
	}
	share := 1 / (1 + chromaShare*math.Hypot(k.lab.A, k.lab.B))
	toLab := func(f [3]float64) [3]float64 {
		return [3]float64{116 * f[1], share * 500 * (f[0] - f[1]), share * 200 * (f[1] - f[2])}
	}
	r := toLab(f)
	r[0] -= 16 + k.lab.L
	r[1] -= share * k.lab.A
	r[2] -= share * k.lab.B
	e := math.Sqrt(r[0]*r[0] + r[1]*r[1] + r[2]*r[2])
	s, ds := 1.0, 0.0 // the weight, and its derivative over e divided by e
	switch {
	case e > huber && c.held:
		s = math.Sqrt(huber / e)
	case e > huber:
		q := math.Sqrt(2*huber*e - huber*huber)
		s, ds = q/e, (huber/q-q/e)/(e*e)
	}
	if out != nil {
		for i := range r {
			out[row+i] = s * r[i]
		}
	}
	for j := range cols {
		var dx [3]float64
		switch {
		case j < 2:
			for i := range 3 {
				for l := range 3 {
					g := c.params[3+3*i+l] * w[l] * u[l]
					if j == 1 {
						g *= u[l]
					}
					dx[i] += g
				}
			}
		case j == 2:
			dx = d50
		default:
			dx[(j-3)/3] = w[(j-3)%3]
		}
		dr := toLab([3]float64{df[0] * dx[0], df[1] * dx[1], df[2] * dx[2]})
		along := r[0]*dr[0] + r[1]*dr[1] + r[2]*dr[2]
		for i := range 3 {
			cols[j][row+i] = s*dr[i] + ds*along*r[i]
		}
	}
}

// labF is the function of ISO/CIE 11664-4 and its derivative.
func labF(t float64) (f, df float64) {
	if t > 216.0/24389 {
		f = math.Cbrt(t)
		return f, 1 / (3 * f * f)
	}
	return (24389.0/27*t + 16) / 116, 24389.0 / 27 / 116
}
