package cie

import "math"

// DeltaE76 is the CIELAB 1976 colour difference ΔE*ab, the distance in the space
// (ISO/CIE 11664-4).
func DeltaE76(a, b Lab) float64 {
	l, p, q := a.L-b.L, a.A-b.A, a.B-b.B
	return math.Sqrt(l*l + p*p + q*q)
}

// DeltaE00 is the CIEDE2000 colour difference (ISO/CIE 11664-6) with
// kL = kC = kH = 1. It is symmetric, 0 for equal colours, and no metric: the
// triangle inequality fails for large differences. It agrees with the formula as
// printed within 1e-9 over the whole range of colours. A coordinate that is not
// finite gives NaN.
func DeltaE00(a, b Lab) float64 { return deltaE00(a, b, 1, 1, 1) }

// DeltaE00K is [DeltaE00] with the parametric factors given, each > 0. A kL of 2
// halves the weight of lightness, as is usual for textiles.
func DeltaE00K(a, b Lab, kL, kC, kH float64) float64 { return deltaE00(a, b, 1/kL, 1/kC, 1/kH) }

// deltaE00 uses the notation of Sharma, Wu and Dalal (2005), Color Res. Appl. 30,
// 21–30, but forms no hue angle, because arctangents, sines and powers are nearly
// the whole cost of the printed formula. All it asks of a hue is rational in sine
// and cosine, which come from the hue vectors; only the Gaussian of the blue term
// is not, and that is tabulated (see blueTerm). iL, iC and iH are 1/kL, 1/kC, 1/kH.
func deltaE00(p, q Lab, iL, iC, iH float64) float64 {
	// Primed coordinates: a* stretched near the neutral axis by 1 + G.
	g := 1.5 - 0.5*chromaShare((math.Sqrt(p.A*p.A+p.B*p.B)+math.Sqrt(q.A*q.A+q.B*q.B))/2)
	a1, a2 := g*p.A, g*q.A
	c1 := math.Sqrt(a1*a1 + p.B*p.B)
	c2 := math.Sqrt(a2*a2 + q.B*q.B)

	// ΔL′/(kL S_L), S_L = 1 + 0.015 d/√(20 + d) multiplied through by the root.
	d := (p.L+q.L)/2 - 50
	d *= d
	r := math.Sqrt(20 + d)
	l := (q.L - p.L) * iL * r / (r + 0.015*d)

	cm := (c1 + c2) / 2
	c := (c2 - c1) * iC / (1 + 0.045*cm)

	cc := c1 * c2
	if cc < 1e-60 { // a neutral has no hue: ΔH′ = 0
		return math.Sqrt(l*l + c*c)
	}

	// ΔH′ = 2 √(C₁′C₂′) sin(Δh/2), and the mean hue is the direction of
	// C₂′u + C₁′v, u and v being the hue vectors. Both are exact for equal colours
	// and lose figures only towards opposite hues.
	cross := float64(a1*q.B) - float64(a2*p.B) // not fused, so that equal colours give 0
	dot := a1*a2 + p.B*q.B
	var h, cosH, sinH float64
	if sum := cc + dot; sum > 1e-3*cc {
		n := 1 / math.Sqrt(2*cc*sum)
		h = 2 * cross * math.Sqrt(cc) * n
		cosH = (a1*c2 + a2*c1) * n
		sinH = (p.B*c2 + q.B*c1) * n
	} else {
		h, cosH, sinH = oppositeHues(a1, p.B, c1, a2, q.B, c2)
	}

	cos2, sin2 := cosH*cosH-sinH*sinH, 2*sinH*cosH
	cos3, sin3 := cos2*cosH-sin2*sinH, sin2*cosH+cos2*sinH
	cos4, sin4 := cos2*cos2-sin2*sin2, 2*sin2*cos2
	t := 1 - 0.17*(cos30*cosH+sin30*sinH) + 0.24*cos2 +
		0.32*(cos6*cos3-sin6*sin3) - 0.20*(cos63*cos4+sin63*sin4)
	h *= iH / (1 + 0.015*cm*t)

	e := l*l + c*c + h*h
	if z := 1 - (cos275*cosH + sin275*sinH); z < blueReach && (sinH < 0 || cosH < 0) {
		e -= 2 * chromaShare(cm) * blueTerm(z) * c * h
	}
	return math.Sqrt(e)
}

// chromaShare is √(C⁷/(C⁷ + 25⁷)), which G and R_C share.
func chromaShare(c float64) float64 {
	c2 := c * c
	c7 := c2 * c2 * c2 * c
	return math.Sqrt(c7 / (c7 + 25*25*25*25*25*25*25))
}

// tieSlack is 1e-9 degree in radians: hues that near to 180° apart are taken as
// exactly opposite, so that rounding cannot flip the mean hue.
const tieSlack = 1e-9 * math.Pi / 180

// oppositeHues gives ΔH′ and the mean hue where the hues are almost or exactly
// 180° apart and the sum of the hue vectors vanishes: the mean then stands
// upright on their difference. At 180° (within tieSlack) the plain mean of the two
// angles 0 ≤ h < 360 holds, which is a quarter turn on from the smaller angle.
func oppositeHues(a1, b1, c1, a2, b2, c2 float64) (dH, cosH, sinH float64) {
	cc := c1 * c2
	dH = math.Sqrt(2 * (cc - (a1*a2 + b1*b2)))
	x, y := a1*c2-a2*c1, b1*c2-b2*c1
	n := 1 / math.Sqrt(x*x+y*y)
	first := a1*b2-a2*b1 > 0 // the second hue lies less than a half turn on from the first
	if math.Abs(a1*b2-a2*b1) <= tieSlack*cc {
		first = b1 > 0 || b1 == 0 && a1 > 0
	}
	if !first {
		dH, n = -dH, -n
	}
	return dH, -y * n, x * n
}

// Sines and cosines of the fixed angles of the formula.
const (
	cos30, sin30   = 0.8660254037844386467637231707529361835, 0.5
	cos6, sin6     = 0.9945218953682733369226919449, 0.1045284632676534713998341548
	cos63, sin63   = 0.4539904997395467915604083664, 0.8910065241883678623597095714
	cos275, sin275 = 0.0871557427476581735580642708, -0.9961946980917455322950104024
)

// The blue term sin 2ΔΘ = sin(60°·exp(−((h̄′ − 275°)/25°)²)) is an even function of
// θ = h̄′ − 275° and so a smooth one of z = 1 − cos θ. It is kept as pieces of
// degree 10 in z, right to 1e-12. Past blueReach, θ = 127°, it is below 1e-11 and is
// left out; so it is for mean hues from 0° up, since the printed formula takes h̄′
// in 0–360° and does not wrap the difference (a step of some 1e-5 at hue 0).
const (
	blueReach  = 1.6
	bluePieces = 32
	blueDegree = 10
)

var bluePiece = bluePolynomials()

func blueTerm(z float64) float64 {
	x := z * (bluePieces / blueReach)
	i := int(x)
	u := x - float64(i)
	k := &bluePiece[i&(bluePieces-1)]
	return k[0] + u*(k[1]+u*(k[2]+u*(k[3]+u*(k[4]+u*(k[5]+u*(k[6]+u*(k[7]+u*(k[8]+u*(k[9]+u*k[10])))))))))
}

// bluePolynomials interpolates each piece at Chebyshev nodes (Newton's divided
// differences, then expanded in u, 0 ≤ u ≤ 1 along the piece).
func bluePolynomials() (pieces [bluePieces][blueDegree + 1]float64) {
	var node [blueDegree + 1]float64
	for j := range node {
		node[j] = (1 - math.Cos(math.Pi*(float64(j)+0.5)/(blueDegree+1))) / 2
	}
	for i := range pieces {
		var c [blueDegree + 1]float64
		for j, u := range node {
			theta := math.Acos(1-(float64(i)+u)*(blueReach/bluePieces)) * 180 / math.Pi
			c[j] = math.Sin(math.Pi / 3 * math.Exp(-(theta/25)*(theta/25)))
		}
		for k := 1; k <= blueDegree; k++ {
			for j := blueDegree; j >= k; j-- {
				c[j] = (c[j] - c[j-1]) / (node[j] - node[j-k])
			}
		}
		for k := blueDegree - 1; k >= 0; k-- {
			for j := k; j < blueDegree; j++ {
				c[j] -= node[k] * c[j+1]
			}
		}
		pieces[i] = c
	}
	return pieces
}
