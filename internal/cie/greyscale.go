package cie

import "math"

// GreyRating is a change in colour on the grey scale of textile testing: 5 is no
// change, 1 a severe one, in half steps.
type GreyRating struct {
	// DeltaEF is the colour difference of ISO 105-A05, 0 for equal colours. It is
	// built so that a coloured pair gets the rating of the grey pair that looks as
	// different, and is neither ΔE*ab nor ΔE00.
	DeltaEF float64 `json:"delta_e_f"`
	// Rating is the continuous rating, 1–5.
	Rating float64 `json:"rating"`
	// Step is the step of the scale, "5", "4-5" … "1"; "4-5" stands for 4.5.
	Step string `json:"step"`
}

// greySteps are the nine steps. nominal is ΔE*ab of the step's pair of greys (ISO
// 105-A02:1993, table of the steps); from is the least ΔE_F of the step (ISO
// 105-A05:1996; from memory, and equal to the midpoints between the nominals).
var greySteps = [...]struct {
	word          string
	nominal, from float64
}{
	{"5", 0, 0}, {"4-5", 0.8, 0.40}, {"4", 1.7, 1.25}, {"3-4", 2.5, 2.10}, {"3", 3.4, 2.95},
	{"2-3", 4.8, 4.10}, {"2", 6.8, 5.80}, {"1-2", 9.6, 8.20}, {"1", 13.6, 11.60},
}

// GreyScale rates the change from colour a to colour b by instrument, as ISO
// 105-A05 has it. The standard asks for D65 and the 10° observer; 2° values give a
// rating near enough for soap. NaN coordinates give a NaN rating and no step.
func GreyScale(a, b Lab) GreyRating {
	d := deltaEF(a, b)
	r := GreyRating{DeltaEF: d, Rating: 5 - d/1.7}
	if d > 3.4 {
		r.Rating = 5 - math.Log2(d/0.85)
	}
	r.Rating = math.Max(1, math.Min(5, r.Rating))
	for _, s := range greySteps {
		if d >= s.from {
			r.Step = s.word
		}
	}
	return r
}

// GreyStep names the step of the visual grey scale whose pair of greys is nearest
// in ΔE*ab (ISO 105-A02), the step a trained eye would call; "" for NaN.
func GreyStep(deltaE76 float64) string {
	best, word := math.Inf(1), ""
	for _, s := range greySteps {
		if d := math.Abs(deltaE76 - s.nominal); d < best {
			best, word = d, s.word
		}
	}
	return word
}

// deltaEF is ΔE_F of ISO 105-A05:1996.
func deltaEF(a, b Lab) float64 {
	p, q := a.LCh(), b.LCh()
	dL, dC := q.L-p.L, q.C-p.C
	cM := (p.C + q.C) / 2

	// A pair with a neutral in it has one hue, the other colour's, and no hue
	// difference: the mean of a hue and an arbitrary 0 would hang on the choice.
	hM, dH := p.H, 0.0
	switch {
	case p.C == 0:
		hM = q.H
	case q.C > 0:
		hM = (p.H + q.H) / 2
		if math.Abs(p.H-q.H) > 180 {
			hM += math.Copysign(180, 360-p.H-q.H)
		}
		// 2 √(C₁C₂) sin(Δh/2): the sign is that of a₁b₂ − a₂b₁, and at 180° that of h₂ − h₁.
		half := q.H - p.H
		if math.Abs(half) > 180 {
			half -= math.Copysign(360, half)
		}
		dH = 2 * math.Sqrt(p.C*q.C) * math.Sin(half*math.Pi/360)
	}

	// The blue region around 280° turns chroma and hue differences.
	off := math.Abs(hM - 280)
	if off > 180 {
		off = 360 - off
	}
	turn := dC * cM * math.Exp(-(off/30)*(off/30)) / 100
	cF := (dC - turn) / (1 + sq(20*cM/1000))
	hF := (dH - turn) / (1 + sq(10*cM/1000))
	return math.Sqrt(dL*dL + cF*cF + hF*hF)
}

func sq(x float64) float64 { return x * x }
