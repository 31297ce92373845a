package photo

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf16"

	"lyefast/internal/cie"
)

// matrix takes linear R, G, B (0–1) to XYZ for D50, Y of white 1, or such.
type matrix [3][3]float64

func (m *matrix) times(v [3]float64) (out [3]float64) {
	for i, r := range m {
		out[i] = r[0]*v[0] + r[1]*v[1] + r[2]*v[2]
	}
	return out
}

// inverse by cofactors; ok is false for a matrix that has none worth the name.
func (m *matrix) inverse() (inv matrix, ok bool) {
	cof := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	det := m[0][0]*cof(0, 0) + m[0][1]*cof(0, 1) + m[0][2]*cof(0, 2)
	if !(math.Abs(det) > 1e-6) {
		return inv, false
	}
	for i := range 3 {
		for j := range 3 {
			inv[j][i] = cof(i, j) / det
		}
	}
	return inv, true
}

// space is a colour space of three primaries: a curve for each channel from code
// (0–1) to linear light (0–1), then a matrix.
type space struct {
	curve [3]curve
	toXYZ matrix
	toRGB matrix
}

// linear gives linear light for codes of 0 to 255.
func (s *space) linear(code [3]float64) (v [3]float64) {
	for i := range v {
		v[i] = s.curve[i].at(code[i] / 255)
	}
	return v
}

// curve is a parametric curve of ICC.1 (10.18), or a table.
type curve struct {
	table []uint16
	// y = (a·x + b)^g + e from x ≥ d on, c·x + f below.
	g, a, b, c, d, e, f float64
}

func (c *curve) at(x float64) float64 {
	x = math.Min(1, math.Max(0, x))
	if n := len(c.table) - 1; n > 0 {
		p := x * float64(n)
		i := min(int(p), n-1)
		lo, hi := float64(c.table[i]), float64(c.table[i+1])
		return (lo + (hi-lo)*(p-float64(i))) / 65535
	}
	if x < c.d {
		return math.Min(1, math.Max(0, c.c*x+c.f))
	}
	return math.Min(1, math.Max(0, math.Pow(math.Max(0, c.a*x+c.b), c.g)+c.e))
}

// sRGB is IEC 61966-2-1: its curve, and its primaries (x 0.64 y 0.33, 0.30 0.60,
// 0.15 0.06) adapted from D65 to D50.
var sRGB = func() space {
	c := curve{g: 2.4, a: 1 / 1.055, b: 0.055 / 1.055, c: 1 / 12.92, d: 0.04045}
	s := space{curve: [3]curve{c, c, c}}
	// Columns are the primaries in XYZ for D65, from the chromaticities.
	d65 := [3]cie.XYZ{
		{X: 0.41239079926595934, Y: 0.21263900587151027, Z: 0.01933081871559182},
		{X: 0.357584339383878, Y: 0.715168678767756, Z: 0.11919477979462598},
		{X: 0.1804807884018343, Y: 0.07219231536073371, Z: 0.9505321522496607},
	}
	for j, p := range d65 {
		q := cie.Adapt(p, cie.D65, cie.D50)
		s.toXYZ[0][j], s.toXYZ[1][j], s.toXYZ[2][j] = q.X, q.Y, q.Z
	}
	s.toRGB, _ = s.toXYZ.inverse()
	return s
}()

// maxTags bounds the tag table of a profile.
const maxTags = 200

// readICC reads a profile of three curves and a matrix (ICC.1:2022, 8.3.2 and 8.4.2)
// and its name. Such profiles are what phones and displays have; one of tables is
// refused.
func readICC(data []byte) (space, string, error) {
	var s space
	if len(data) < 132 || string(data[36:40]) != "acsp" {
		return s, "", errors.New("it is damaged")
	}
	if c := string(data[16:20]); c != "RGB " {
		return s, "", fmt.Errorf("it is for %q, not for RGB", strings.TrimSpace(exifText([]byte(c))))
	}
	if string(data[20:24]) != "XYZ " {
		return s, "", errors.New("it works by tables, not by a matrix")
	}
	n := int64(binary.BigEndian.Uint32(data[128:]))
	if n > maxTags || int64(len(data)) < 132+12*n {
		return s, "", errors.New("its list of contents is damaged")
	}
	tag := func(name string) []byte {
		for i := int64(0); i < n; i++ {
			e := data[132+12*i:]
			from, size := int64(binary.BigEndian.Uint32(e[4:])), int64(binary.BigEndian.Uint32(e[8:]))
			if string(e[:4]) == name && from+size <= int64(len(data)) {
				return data[from : from+size]
			}
		}
		return nil
	}
	for j, c := range []string{"r", "g", "b"} {
		xyz := tag(c + "XYZ")
		if len(xyz) < 20 || string(xyz[:4]) != "XYZ " {
			return s, "", errors.New("it has no matrix")
		}
		for i := range 3 {
			s.toXYZ[i][j] = fixed(xyz[8+4*i:])
		}
		var err error
		if s.curve[j], err = readCurve(tag(c + "TRC")); err != nil {
			return s, "", err
		}
	}
	// The primaries add up to white; ICC's D50 and ours differ by 0.0002.
	for i, white := range []float64{cie.D50.X, cie.D50.Y, cie.D50.Z} {
		sum := s.toXYZ[i][0] + s.toXYZ[i][1] + s.toXYZ[i][2]
		if !(math.Abs(sum-white) < 0.05) {
			return s, "", errors.New("its primaries do not add up to white")
		}
		for j := range 3 {
			s.toXYZ[i][j] *= white / sum
		}
	}
	inv, ok := s.toXYZ.inverse()
	if !ok {
		return s, "", errors.New("its primaries lie in one line")
	}
	s.toRGB = inv
	name := profileName(tag("desc"))
	if name == "" {
		name = "the picture's own"
	}
	return s, name, nil
}

// fixed is an s15Fixed16Number.
func fixed(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// readCurve reads a curve of type "curv" or "para".
func readCurve(b []byte) (curve, error) {
	bad := errors.New("one of its curves is damaged")
	if len(b) < 12 {
		return curve{}, bad
	}
	switch string(b[:4]) {
	case "curv":
		n := int64(binary.BigEndian.Uint32(b[8:]))
		if n > 1<<16 || int64(len(b)) < 12+2*n {
			return curve{}, bad
		}
		switch n {
		case 0:
			return curve{g: 1, a: 1}, nil
		case 1:
			g := float64(binary.BigEndian.Uint16(b[12:])) / 256
			if g < 0.2 || g > 5 {
				return curve{}, bad
			}
			return curve{g: g, a: 1}, nil
		}
		c := curve{table: make([]uint16, n)}
		for i := range c.table {
			c.table[i] = binary.BigEndian.Uint16(b[12+2*i:])
			if i > 0 && c.table[i] < c.table[i-1] {
				return curve{}, bad
			}
		}
		if c.table[n-1] < 1<<15 {
			return curve{}, bad
		}
		return c, nil
	case "para":
		kind := int(binary.BigEndian.Uint16(b[8:]))
		counts := []int{1, 3, 4, 5, 7}
		if kind >= len(counts) || len(b) < 12+4*counts[kind] {
			return curve{}, bad
		}
		var v [7]float64
		for i := range counts[kind] {
			v[i] = fixed(b[12+4*i:])
		}
		c := curve{g: v[0], a: v[1], b: v[2], c: v[3], d: v[4], e: v[5], f: v[6]}
		switch kind {
		case 0:
			c = curve{g: v[0], a: 1}
		case 1, 2:
			// Below −b/a the curve is flat: 0, or the constant.
			if v[1] == 0 {
				return curve{}, bad
			}
			c = curve{g: v[0], a: v[1], b: v[2], d: -v[2] / v[1], e: v[3], f: v[3]}
		}
		last := 0.0
		for i := range 33 {
			y := c.at(float64(i) / 32)
			if !(y >= last) {
				return curve{}, bad
			}
			last = y
		}
		if last < 0.5 {
			return curve{}, bad
		}
		return c, nil
	}
	return curve{}, errors.New("one of its curves is of an unknown kind")
}

// profileName reads a description of version 2 ("desc") or 4 ("mluc").
func profileName(b []byte) string {
	const longest = 80
	switch {
	case len(b) >= 12 && string(b[:4]) == "desc":
		n := int(min(binary.BigEndian.Uint32(b[8:]), longest))
		return exifText(b[12:min(len(b), 12+n)])
	case len(b) >= 28 && string(b[:4]) == "mluc":
		size, from := int64(binary.BigEndian.Uint32(b[20:])), int64(binary.BigEndian.Uint32(b[24:]))
		if from+size > int64(len(b)) {
			return ""
		}
		var u []uint16
		for t := b[from : from+min(size, 2*longest)]; len(t) >= 2; t = t[2:] {
			u = append(u, binary.BigEndian.Uint16(t))
		}
		return exifText([]byte(string(utf16.Decode(u))))
	}
	return ""
}
