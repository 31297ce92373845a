package app

import (
	"fmt"
	"math"

	"lyefast/internal/cie"
)

// Colour is one colour in every form a maker may need it.
type Colour struct {
	Lab  cie.Lab `json:"lab"` // D65, 2°
	Hex  string  `json:"hex"`
	Name string  `json:"name"`
}

// ColourOf gives a colour with its hex and its name.
func ColourOf(c cie.Lab) Colour { return Colour{c, c.Hex(), c.Name().Text} }

// ColourDifference is how far two colours lie apart.
type ColourDifference struct {
	A Colour `json:"a"`
	B Colour `json:"b"`
	// DeltaE00 is CIEDE2000, DeltaE76 the plain CIELAB distance.
	DeltaE00 float64 `json:"delta_e00"`
	DeltaE76 float64 `json:"delta_e76"`
	// GreyScale is the continuous rating of ISO 105-A05, 5 for no change to 1, and
	// GreyStep its step ("4-5").
	GreyScale float64 `json:"grey_scale"`
	GreyStep  string  `json:"grey_scale_step"`
	// DeltaL, DeltaC and DeltaH are B less A in lightness, chroma and hue (ΔH*, signed).
	DeltaL float64 `json:"delta_l"`
	DeltaC float64 `json:"delta_c"`
	DeltaH float64 `json:"delta_h"`
	// Words says how large the difference looks.
	Words string `json:"words"`
}

// ColourDiff compares two colours, each a hex or L*, a*, b*.
func ColourDiff(a, b string) (ColourDifference, error) {
	x, err := parseColour(a)
	if err != nil {
		return ColourDifference{}, err
	}
	y, err := parseColour(b)
	if err != nil {
		return ColourDifference{}, err
	}
	grey := cie.GreyScale(x, y)
	d := ColourDifference{
		A: ColourOf(x), B: ColourOf(y),
		DeltaE00: cie.DeltaE00(x, y), DeltaE76: cie.DeltaE76(x, y),
		GreyScale: grey.Rating, GreyStep: grey.Step,
		DeltaL: y.L - x.L, DeltaC: y.LCh().C - x.LCh().C,
	}
	// ΔE² = ΔL² + ΔC² + ΔH²; the sign is the sense of turn from A to B.
	d.DeltaH = math.Copysign(math.Sqrt(math.Max(0, d.DeltaE76*d.DeltaE76-d.DeltaL*d.DeltaL-d.DeltaC*d.DeltaC)), x.A*y.B-x.B*y.A)
	d.Words = cie.Words(d.DeltaE00)
	return d, nil
}

// ColourForms is one colour in other notations.
type ColourForms struct {
	Colour
	// LCh is L*, C*, h in degrees; XYZ has Y = 100 for the perfect diffuser.
	LCh [3]float64 `json:"lch"`
	XYZ [3]float64 `json:"xyz"`
	RGB [3]uint8   `json:"rgb"`
	// InSRGB is false where a screen cannot show the colour and Hex is the nearest
	// with its lightness and hue.
	InSRGB bool `json:"in_srgb"`
}

// ColourConvert gives a colour, a hex or L*, a*, b*, in other notations.
func ColourConvert(text string) (ColourForms, error) {
	c, err := parseColour(text)
	if err != nil {
		return ColourForms{}, err
	}
	lch, xyz := c.LCh(), c.XYZ(cie.D65)
	r, g, b := c.RGB()
	return ColourForms{
		Colour: ColourOf(c),
		LCh:    [3]float64{lch.L, lch.C, lch.H},
		XYZ:    [3]float64{100 * xyz.X, 100 * xyz.Y, 100 * xyz.Z},
		RGB:    [3]uint8{r, g, b},
		InSRGB: c.InSRGB(),
	}, nil
}

// ColourNamed is the name of a colour and how near it lies to the middle of that name.
type ColourNamed struct {
	Colour
	Number      int     `json:"number"` // of the 267 names
	CentroidLab cie.Lab `json:"centroid_lab"`
	CentroidHex string  `json:"centroid_hex"`
	DeltaE00    float64 `json:"delta_e00_from_centroid"`
}

// ColourName names a colour, a hex or L*, a*, b*, in the words of ISCC–NBS.
func ColourName(text string) (ColourNamed, error) {
	c, err := parseColour(text)
	if err != nil {
		return ColourNamed{}, err
	}
	n := c.Name()
	return ColourNamed{Colour: ColourOf(c), Number: n.Number, CentroidLab: n.Centroid, CentroidHex: n.Centroid.Hex(), DeltaE00: n.DeltaE00}, nil
}

func parseColour(text string) (cie.Lab, error) {
	c, err := cie.ParseColor(text)
	if err != nil {
		return c, &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("colour: %v", err), Tip: hintOf(err)}
	}
	return c, nil
}
