package cie

import (
	"fmt"
	"math"
	"strings"

	"github.com/lucasb-eyer/go-colorful"
)

// sRGB primaries to XYZ, full precision from the chromaticities of IEC 61966-2-1
// and the D65 white above. The four-digit matrix printed in the standard moves
// L* of pure red by 0.004.
var rgbToXYZ = [3][3]float64{
	{0.41239079926595934, 0.357584339383878, 0.1804807884018343},
	{0.21263900587151027, 0.715168678767756, 0.07219231536073371},
	{0.01933081871559182, 0.11919477979462598, 0.9505321522496607},
}

var xyzToRGB = [3][3]float64{
	{3.2409699419045226, -1.537383177570094, -0.4986107602930034},
	{-0.9692436362808796, 1.8759675015077202, 0.04155505740717559},
	{0.05563007969699366, -0.20397695888897652, 1.0569715142428786},
}

// ParseHex reads "#efe0c4", "efe0c4" or "#edc" as an sRGB colour.
func ParseHex(s string) (Lab, error) {
	t := strings.TrimSpace(s)
	if !strings.HasPrefix(t, "#") {
		t = "#" + t
	}
	if len(t) != 7 && len(t) != 4 {
		return Lab{}, fmt.Errorf("%s is not a hex colour; write it like #efe0c4", quote(s))
	}
	c, err := colorful.Hex(t)
	if err != nil {
		return Lab{}, fmt.Errorf("%s is not a hex colour; write it like #efe0c4", quote(s))
	}
	r, g, b := c.LinearRgb()
	var v [3]float64
	for i, m := range rgbToXYZ {
		v[i] = m[0]*r + m[1]*g + m[2]*b
	}
	return XYZ{v[0], v[1], v[2]}.Lab(D65), nil
}

func (c Lab) linear() (rgb [3]float64) {
	x := c.XYZ(D65)
	for i, m := range xyzToRGB {
		rgb[i] = m[0]*x.X + m[1]*x.Y + m[2]*x.Z
	}
	return rgb
}

// InSRGB reports whether the colour can be shown on an sRGB screen (within half
// an 8-bit step).
func (c Lab) InSRGB() bool {
	for _, v := range c.linear() {
		if !(v >= -0.0002 && v <= 1.0045) { // so put, NaN is outside too
			return false
		}
	}
	return true
}

// RGB gives the nearest 8-bit sRGB colour a screen can show. Out of gamut, chroma
// is lowered at constant L* and hue, because clipping the channels would change
// the hue. Not finite: mid grey.
func (c Lab) RGB() (r, g, b uint8) {
	if !c.Finite() {
		return 119, 119, 119
	}
	c.L = math.Min(100, math.Max(0, c.L))
	if !c.InSRGB() {
		lo, hi := 0.0, 1.0
		for range 20 {
			mid := (lo + hi) / 2
			if (Lab{c.L, c.A * mid, c.B * mid}).InSRGB() {
				lo = mid
			} else {
				hi = mid
			}
		}
		c.A, c.B = c.A*lo, c.B*lo
	}
	v := c.linear()
	return colorful.LinearRgb(v[0], v[1], v[2]).Clamped().RGB255()
}

// Hex gives [Lab.RGB] as "#rrggbb".
func (c Lab) Hex() string {
	r, g, b := c.RGB()
	return fmt.Sprintf("#%02x%02x%02x", r, g, b)
}
