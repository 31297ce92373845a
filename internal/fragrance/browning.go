package fragrance

import (
	"fmt"
	"math"

	"lyefast/internal/unit"
)

// The browning of a bar t days after the pour, with a dose of D % of the bar:
//
//	u∞   = A·η·(D/0.20)^n
//	u(t) = u∞ · s_gel · (1−φ) · (1 − exp(−(max(0, t_eq − lag)/τ)^β))
//	t_eq = t·q·exp(−(Ea/8.314)·(1/(273.15+T) − 1/293.15)) + t_gel
//
// No rate, half-time or colour series of vanillin in soap was found in print. A
// and n were set so that the trade's colour words come out right at 5 % usage;
// that the model agrees with those words therefore proves nothing.
const (
	// ReferenceDose is the dose at which u∞ is A, % of the bar.
	ReferenceDose = 0.20
	// gasConstant in J/(mol·K), as rounded in the formula.
	gasConstant = 8.314
	// referenceKelvin is 20 °C, where the clock runs in plain days.
	referenceKelvin = 293.15
	// halfEffect is the ratio r at which a stabiliser has half its largest effect.
	halfEffect = 0.7
	// maxLag bounds the days a stabiliser can hold the start back.
	maxLag = 30
)

// Coordinate names one uncertain number of the model.
type Coordinate int

// The coordinates of a draw. The first seven are learned from readings by
// [Calibrate]; the others keep their prior. "Ln" marks those whose logarithm is
// normal.
const (
	LnA         Coordinate = iota // ln u∞ at D = 0.20 %
	Power                         // n, exponent of the dose
	LnTau                         // ln τ, τ in days
	Beta                          // β, stretching of the clock
	LnEta                         // ln η, strength of this fragrance beside its stated vanillin
	Slope                         // s of the absorber, per nm
	Red                           // a* added at full loss of lightness, × x
	Energy                        // Ea, kJ/mol
	LnGel                         // ln s_gel, darkening by gel
	GelDays                       // t_gel, days at 20 °C that a gel is worth
	LnLight                       // ln error of the light factor q of window and dark
	LnChelate                     // ln factor of a chelator on q
	Stabiliser                    // φ at a large ratio r
	LnLag                         // ln lag per unit of r, lag in days
	GelUnsure                     // gelled where z > 0, when the maker is unsure
	Coordinates                   // how many there are
)

// learned is how many coordinates readings can move.
const learned = int(Energy)

// Coords is a point in the space of the model's uncertain numbers. Given to
// [Priors.Apply] it holds independent standard normal deviates: the zero Coords
// is the centre.
type Coords [Coordinates]float64

// Priors is what is believed of the model's numbers: a normal distribution over
// the coordinates, theta = Mean + Factor·z, Factor lower triangular.
type Priors struct {
	Mean   Coords
	Factor [Coordinates]Coords
}

// Prior is one line of the table of priors, to be shown beside a forecast.
type Prior struct {
	Name string `json:"name"`
	// Value is the centre in natural units, Doubt one standard deviation: of the
	// natural logarithm where Factor is set, else in the same units.
	Value  float64 `json:"value"`
	Doubt  float64 `json:"doubt"`
	Factor bool    `json:"doubt_of_ln"`
	Unit   string  `json:"unit,omitempty"`
	Basis  string  `json:"basis"`
}

// priorTable holds the priors. All are assumptions but for the direction of the
// light effect (J. Soc. Cosmet. Chem. 9 (1958) no. 4, 248–254; Atmos. Chem. Phys.
// 22 (2022) 273) and the range of Ea (23–61 kJ/mol, vanillin with amino acids).
var priorTable = [Coordinates]Prior{
	LnA:        {"strength at 0.20 % of the bar", 1.2, 0.5, true, "K/S at 560 nm", "assumed, set so that the trade's colour words come out right at 5 % usage"},
	Power:      {"exponent of the dose", 1.4, 0.25, false, "", "assumed; coupling of pairs allows 1 to 2"},
	LnTau:      {"time constant", 11, 0.5, true, "days", "assumed from common practice: most of the change in 1–3 weeks"},
	Beta:       {"stretching of the clock", 0.85, 0.12, false, "", "assumed; browning goes inward with the air"},
	LnEta:      {"strength of the fragrance", 1, 0.35, true, "", "assumed; stated vanillin is rough, other browners go unlisted"},
	Slope:      {"slope of the brown absorber", BrownSlope, 0.0015, false, "per nm", "two published colours"},
	Red:        {"extra red", 0, 6, false, "a*", "assumed"},
	Energy:     {"activation energy", 50, 20, false, "kJ/mol", "inside the 23–61 published for vanillin with amino acids"},
	LnGel:      {"darkening by gel", 1.25, 0.15, true, "", "assumed; gelled soap scatters less"},
	GelDays:    {"days a gel is worth", 3, 2, false, "days", "4 h at 70 °C is 3.3 days at 20 °C, computed"},
	LnLight:    {"error of the light factor", 1, 0.4, true, "", "window 1.5, dark or wrapped 0.5: direction published, size assumed"},
	LnChelate:  {"factor of a chelator", 0.8, 0.3, true, "", "assumed"},
	Stabiliser: {"largest effect of a stabiliser", 0.8, 0.2, false, "share", "common practice, no source: with equal parts a 3.5 % vanillin scent only tinges"},
	LnLag:      {"delay by a stabiliser", 6, 0.7, true, "days per r", "assumed"},
	GelUnsure:  {"gelled when unsure", 0, 1, false, "", "even chances"},
}

// PriorTable gives the priors in words, in the order of the coordinates and without
// the coin that stands for an unsure gel.
func PriorTable() []Prior { return append([]Prior(nil), priorTable[:GelUnsure]...) }

// DefaultPriors are the beliefs before any reading of the maker's.
func DefaultPriors() Priors {
	var p Priors
	for i, row := range priorTable {
		p.Mean[i] = row.Value
		if row.Factor {
			p.Mean[i] = math.Log(row.Value)
		}
		p.Factor[i][i] = row.Doubt
	}
	return p
}

// With gives the priors with one coordinate made independent of the others and
// set to another mean and standard deviation, in the coordinate's own scale.
func (p Priors) With(c Coordinate, mean, sd float64) Priors {
	p.Mean[c] = mean
	for i := range p.Factor {
		p.Factor[i][c] = 0
	}
	p.Factor[c] = Coords{}
	p.Factor[c][c] = sd
	return p
}

// Params is one possible set of the model's numbers, in natural units.
type Params struct {
	A       float64 // u∞ at D = 0.20 %
	Eta     float64 // strength of this fragrance, 1 = as its vanillin says
	N       float64 // exponent of the dose, 0.8–2.2
	Tau     float64 // time constant, days
	Beta    float64 // stretching, 0.5–1.3
	Slope   float64 // s of the absorber, per nm
	Red     float64 // a* added × share of lightness lost
	Energy  float64 // kJ/mol, ≥ 0
	Gel     float64 // factor on u when gelled
	GelDays float64 // days at 20 °C added when gelled, ≥ 0
	Light   float64 // factor on q in window and dark
	Chelate float64 // factor of a chelator on the clock
	Phi     float64 // largest effect of a stabiliser, 0–1
	Lag     float64 // days of delay per unit of r
	// Gelled is the share of a gel assumed where the maker is unsure: 0, 1, or
	// 0.5 at the centre.
	Gelled float64
}

// Bounds outside which the clock and the dose law stop making sense.
const (
	minPower, maxPower = 0.8, 2.2
	minBeta, maxBeta   = 0.5, 1.3
)

// Apply maps standard normal coordinates to parameters.
func (p *Priors) Apply(z Coords) Params {
	theta := p.Mean
	for i := range theta {
		row := &p.Factor[i]
		for j := 0; j <= i; j++ {
			theta[i] += row[j] * z[j]
		}
	}
	return theta.params()
}

// Centre gives the parameters at the middle of the belief.
func (p *Priors) Centre() Params { return p.Mean.params() }

// params reads the coordinates of a theta, each in its own scale.
func (t Coords) params() Params {
	p := Params{
		A: math.Exp(t[LnA]), Eta: math.Exp(t[LnEta]), N: clamp(t[Power], minPower, maxPower),
		Tau: math.Exp(t[LnTau]), Beta: clamp(t[Beta], minBeta, maxBeta),
		Slope: t[Slope], Red: t[Red], Energy: math.Max(0, t[Energy]),
		Gel: math.Exp(t[LnGel]), GelDays: math.Max(0, t[GelDays]),
		Light: math.Exp(t[LnLight]), Chelate: math.Exp(t[LnChelate]),
		Phi: clamp(t[Stabiliser], 0, 1), Lag: math.Exp(t[LnLag]), Gelled: 0.5,
	}
	if t[GelUnsure] > 0 {
		p.Gelled = 1
	} else if t[GelUnsure] < 0 {
		p.Gelled = 0
	}
	return p
}

func clamp(v, lo, hi float64) float64 { return math.Min(hi, math.Max(lo, v)) }

// Gel says whether the bar went through gel.
type Gel string

// The states of gel. The empty Gel means not said and counts as unsure.
const (
	GelNone    Gel = "none"
	GelFull    Gel = "full"
	GelPartial Gel = "partial"
	GelNotSure Gel = "unsure"
)

// Light says where the bar is kept.
type Light string

// The places. The empty Light means a room.
const (
	LightRoom   Light = "room"
	LightWindow Light = "window"
	LightDark   Light = "dark" // dark, or wrapped
)

// Conditions are what speeds or slows the browning of a bar.
type Conditions struct {
	Gel   Gel   `json:"gel,omitempty"`
	Light Light `json:"light,omitempty"`
	// CureAt is the temperature of the cure place in °C, nil = 20.
	CureAt *unit.Celsius `json:"cure_at_c,omitempty"`
	// Chelator tells whether the soap holds one (EDTA, etidronate, citrate, gluconate).
	Chelator bool `json:"chelator,omitempty"`
}

// Validate refuses words and temperatures the model has no number for.
func (c Conditions) Validate() error {
	switch c.Gel {
	case "", GelNone, GelFull, GelPartial, GelNotSure:
	default:
		return fmt.Errorf("gel %q is not known; use none, partial, full or unsure", c.Gel)
	}
	switch c.Light {
	case "", LightRoom, LightWindow, LightDark:
	default:
		return fmt.Errorf("light %q is not known; use room, window or dark", c.Light)
	}
	if c.CureAt != nil && !(*c.CureAt >= -20 && *c.CureAt <= 60) {
		return fmt.Errorf("cure place at %.4g °C is out of range; the model holds from -20 to 60 °C", float64(*c.CureAt))
	}
	return nil
}

// gel gives the share of a full gel. A partial one counts half, an assumption.
func (p Params) gel(c Conditions) float64 {
	switch c.Gel {
	case GelNone:
		return 0
	case GelFull:
		return 1
	case GelPartial:
		return 0.5
	}
	return p.Gelled
}

// UInf gives the final strength u∞ of a dose in % of the bar, without gel and
// stabiliser.
func (p Params) UInf(dose float64) float64 {
	if dose <= 0 {
		return 0
	}
	return p.A * p.Eta * math.Pow(dose/ReferenceDose, p.N)
}

// Clock gives t_eq, the days at 20 °C in room light that t days since the pour
// are worth; 0 before the pour.
func (p Params) Clock(t float64, c Conditions) float64 {
	if t <= 0 {
		return 0
	}
	// Room light is the yardstick: its doubt is already in τ.
	q := 1.0
	switch c.Light {
	case LightWindow:
		q = 1.5 * p.Light
	case LightDark:
		q = 0.5 * p.Light
	}
	if c.Chelator {
		q *= p.Chelate
	}
	if c.CureAt != nil {
		q *= math.Exp(-1000 * p.Energy / gasConstant * (1/(273.15+float64(*c.CureAt)) - 1/referenceKelvin))
	}
	return t*q + p.GelDays*p.gel(c)
}

// Share gives the share of the final strength reached after eq days of the clock
// with a stabiliser of ratio r (0 = none), 0–1.
func (p Params) Share(eq, r float64) float64 {
	eq -= math.Min(maxLag, p.Lag*math.Max(0, r))
	if eq <= 0 {
		return 0
	}
	return -math.Expm1(-math.Pow(eq/p.Tau, p.Beta))
}

// Held gives φ, the share of the final strength that a stabiliser of ratio r
// (mol of active per mol of vanillin-type aldehyde, 0 = none) keeps away.
func (p Params) Held(r float64) float64 {
	if r <= 0 {
		return 0
	}
	return p.Phi * r / (r + halfEffect)
}

// Settled gives the strength the bar is heading for, without end of time.
func (p Params) Settled(dose float64, c Conditions, r float64) float64 {
	return p.UInf(dose) * math.Pow(p.Gel, p.gel(c)) * (1 - p.Held(r))
}

// U gives the browning strength t days after the pour for a dose in % of the bar
// and a stabiliser of ratio r (0 = none). It feeds [Base.Path], or
// [EngineStrength] where pigments are in play.
func (p Params) U(t, dose float64, c Conditions, r float64) float64 {
	return p.Settled(dose, c, r) * p.Share(p.Clock(t, c), r)
}
