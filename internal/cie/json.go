package cie

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
)

// MarshalJSON writes [L, a, b], rounded to four decimals, finer than any
// instrument. A coordinate that is not finite is an error.
func (c Lab) MarshalJSON() ([]byte, error) {
	if !c.Finite() {
		return nil, fmt.Errorf("a colour that is not finite has no JSON: L* %v, a* %v, b* %v", c.L, c.A, c.B)
	}
	out := []byte{'['}
	for i, v := range []float64{c.L, c.A, c.B} {
		if i > 0 {
			out = append(out, ',')
		}
		out = strconv.AppendFloat(out, round(v, 1e4), 'g', -1, 64)
	}
	return append(out, ']'), nil
}

// UnmarshalJSON reads [L, a, b]: exactly three numbers. Bounds are not checked, see
// [Lab.Check]. As usual, null leaves the colour as it is.
func (c *Lab) UnmarshalJSON(data []byte) error {
	if string(data) == "null" {
		return nil
	}
	var v []*float64
	if err := json.Unmarshal(data, &v); err != nil {
		return fmt.Errorf("a Lab colour in JSON is [L, a, b]: %w", err)
	}
	if len(v) != 3 || v[0] == nil || v[1] == nil || v[2] == nil {
		return fmt.Errorf("a Lab colour in JSON is [L, a, b], three numbers")
	}
	*c = Lab{*v[0], *v[1], *v[2]}
	return nil
}

// round rounds to a whole number of 1/scale; never to −0.
func round(v, scale float64) float64 {
	if math.Abs(v) >= 1e11 { // no decimals left to round
		return v
	}
	if v = math.Round(v * scale); v == 0 {
		return 0
	}
	return v / scale
}
