package fragrance

import (
	"math"
	"slices"
	"sync"

	"lyefast/internal/cie"
)

// DrawCount is how many draws a forecast takes.
const DrawCount = 400

// SettledDay is the day that stands for the end of browning: the clock has run out
// by then even under a heavy stabiliser.
const SettledDay = 180

// Model error of the path itself, CIELAB units (assumed): the sd to add to any
// colour computed here, whatever is known of the parameters.
var modelSD = cie.Lab{L: 2, A: 1.5, B: 2}

// draws is made once: the set is the same in every run, so a forecast does not
// flicker and needs no seed.
var draws = sync.OnceValue(func() *[DrawCount]Coords {
	primes := [Coordinates]int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47}
	set := new([DrawCount]Coords)
	var order [DrawCount]int
	var halton [DrawCount]float64
	for c, base := range primes {
		for k := range halton {
			order[k] = k
			halton[k] = radicalInverse(k+1, base)
		}
		slices.SortFunc(order[:], func(a, b int) int {
			switch {
			case halton[a] < halton[b]:
				return -1
			case halton[a] > halton[b]:
				return 1
			}
			return 0
		})
		// The ranks instead of the values make each margin exactly symmetric, with
		// one draw in each of DrawCount equal slices of probability.
		for rank, k := range order {
			set[k][c] = normalQuantile((float64(rank) + 0.5) / DrawCount)
		}
	}
	return set
})

// Draws gives the fixed set of standard normal coordinates behind every forecast
// (Halton points, ranked), for use in a joint forecast of several substances. The
// caller may change the copy.
func Draws() []Coords { return slices.Clone(draws()[:]) }

// radicalInverse mirrors the digits of k in the base about the point.
func radicalInverse(k, base int) float64 {
	v, f := 0.0, 1.0
	for ; k > 0; k /= base {
		f /= float64(base)
		v += f * float64(k%base)
	}
	return v
}

func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// ColourBand is the colour of a bar on a day with its central 90 % band, each
// coordinate by itself.
type ColourBand struct {
	Day float64
	// U is the browning strength at the centre.
	U float64
	// Median is the colour at the centre of the beliefs, on the brown path.
	Median, P05, P95 cie.Lab
	// Word is the colour word of Median; Pale and Dark those of the band's ends.
	Word, Pale, Dark string
}

// Forecast gives the colour of a bar browned by a dose in % of the bar, on each of
// the days since the pour, under the conditions, with a stabiliser of ratio r
// (0 = none). The band spans the doubt of the parameters and of the path, not
// that of the base itself. The same input always gives the same band.
func (p *Priors) Forecast(base *Base, dose float64, days []float64, c Conditions, r float64) []ColourBand {
	samples := p.samples(base, dose, days, c, r)
	centre := p.Centre()
	out := make([]ColourBand, len(days))
	for i, day := range days {
		u := centre.U(day, dose, c, r)
		b := ColourBand{Day: day, U: u, Median: base.path(u, centre.Slope, centre.Red)}
		mid := triple(b.Median)
		sd := triple(modelSD)
		var lo, hi [3]float64
		for ch := range mid {
			v := samples[i][ch]
			slices.Sort(v)
			// The model's own error is independent of the parameters', so widths add
			// in quadrature.
			lo[ch] = mid[ch] - math.Hypot(math.Max(0, mid[ch]-quantile(v, 0.05)), z95*sd[ch])
			hi[ch] = mid[ch] + math.Hypot(math.Max(0, quantile(v, 0.95)-mid[ch]), z95*sd[ch])
		}
		b.P05, b.P95 = lab(lo), lab(hi)
		b.P05.L, b.P95.L = math.Max(0, b.P05.L), math.Min(100, b.P95.L)
		b.Word = Describe(base.lab, b.Median)
		b.Pale, b.Dark = Word(b.P95.L), Word(b.P05.L)
		out[i] = b
	}
	return out
}

// z95 is the 95 % point of the normal distribution.
const z95 = 1.6448536269514722

// samples gives the colours of all draws, by day and coordinate.
func (p *Priors) samples(base *Base, dose float64, days []float64, c Conditions, r float64) [][3][]float64 {
	out := make([][3][]float64, len(days))
	for i := range out {
		for ch := range out[i] {
			out[i][ch] = make([]float64, DrawCount)
		}
	}
	for k, z := range draws() {
		q := p.Apply(z)
		for i, day := range days {
			colour := base.path(q.U(day, dose, c, r), q.Slope, q.Red)
			out[i][0][k], out[i][1][k], out[i][2][k] = colour.L, colour.A, colour.B
		}
	}
	return out
}

// quantile reads a quantile off sorted values, each standing in the middle of its
// slice of probability.
func quantile(sorted []float64, p float64) float64 {
	at := clamp(p*float64(len(sorted))-0.5, 0, float64(len(sorted)-1))
	i := min(int(at), len(sorted)-2)
	f := at - float64(i)
	return sorted[i]*(1-f) + sorted[i+1]*f
}

func triple(c cie.Lab) [3]float64 { return [3]float64{c.L, c.A, c.B} }

func lab(v [3]float64) cie.Lab { return cie.Lab{L: v[0], A: v[1], B: v[2]} }

// words are the colour words of browning by lowest L*. The words are common
// practice, the edges between them ours.
var words = []struct {
	from float64
	word string
}{
	{86, "off-white"}, {80, "cream"}, {70, "light tan"}, {60, "tan"},
	{50, "light brown"}, {42, "mid brown"}, {33, "dark brown"},
}

// Word gives the trade's word for a browned pale bar of that lightness, from
// "off-white" (L* 86 and up) to "near black" (under 33).
func Word(lightness float64) string {
	for _, w := range words {
		if lightness >= w.from {
			return w.word
		}
	}
	return "near black"
}

// NoChange is the word for a bar that still looks like its base.
const NoChange = "no change yet"

// Describe gives [Word] for a browned bar, or [NoChange] while it is within one
// ΔE*ab of its base, which nobody sees.
func Describe(base, browned cie.Lab) string {
	if cie.DeltaE76(base, browned) < 1 {
		return NoChange
	}
	return Word(browned.L)
}
