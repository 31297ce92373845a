package photo

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"lyefast/internal/cie"
)

// Edition tells which values a chart of 24 patches has: its colours were changed in
// November 2014.
type Edition string

// The editions; the empty Edition is the later one.
const (
	After2014  Edition = "after-2014"
	Before2014 Edition = "before-2014"
)

// ParseEdition reads an edition.
func ParseEdition(s string) (Edition, error) {
	switch e := Edition(strings.ToLower(strings.TrimSpace(s))); e {
	case "", After2014:
		return After2014, nil
	case Before2014:
		return e, nil
	}
	return "", fmt.Errorf("chart edition %q is not known; say %s or %s, by the date on the back of the chart (the change was in November 2014)", s, After2014, Before2014)
}

const (
	chartRows, chartColumns = 4, 6
	chartPatches            = chartRows * chartColumns
	firstGrey               = 18 // index of the white patch; five greys to black follow
	lightGrey               = 19
)

// chartTable holds the chart of McCamy, Marcus and Davidson (1976), J. Appl. Photogr.
// Eng. 2(3), 95–99, row by row from the dark skin corner: CIELAB, D50, 2°, as its
// maker published it in 2016 for charts since November 2014 and for those before.
var chartTable = [chartPatches]struct {
	name          string
	after, before cie.Lab
}{
	{"dark skin", cie.Lab{L: 37.54, A: 14.37, B: 14.92}, cie.Lab{L: 37.986, A: 13.555, B: 14.059}},
	{"light skin", cie.Lab{L: 64.66, A: 19.27, B: 17.5}, cie.Lab{L: 65.711, A: 18.13, B: 17.81}},
	{"blue sky", cie.Lab{L: 49.32, A: -3.82, B: -22.54}, cie.Lab{L: 49.927, A: -4.88, B: -21.925}},
	{"foliage", cie.Lab{L: 43.46, A: -12.74, B: 22.72}, cie.Lab{L: 43.139, A: -13.095, B: 21.905}},
	{"blue flower", cie.Lab{L: 54.94, A: 9.61, B: -24.79}, cie.Lab{L: 55.112, A: 8.844, B: -25.399}},
	{"bluish green", cie.Lab{L: 70.48, A: -32.26, B: -0.37}, cie.Lab{L: 70.719, A: -33.397, B: -0.199}},
	{"orange", cie.Lab{L: 62.73, A: 35.83, B: 56.5}, cie.Lab{L: 62.661, A: 36.067, B: 57.096}},
	{"purplish blue", cie.Lab{L: 39.43, A: 10.75, B: -45.17}, cie.Lab{L: 40.02, A: 10.41, B: -45.964}},
	{"moderate red", cie.Lab{L: 50.57, A: 48.64, B: 16.67}, cie.Lab{L: 51.124, A: 48.239, B: 16.248}},
	{"purple", cie.Lab{L: 30.1, A: 22.54, B: -20.87}, cie.Lab{L: 30.325, A: 22.976, B: -21.587}},
	{"yellow green", cie.Lab{L: 71.77, A: -24.13, B: 58.19}, cie.Lab{L: 72.532, A: -23.709, B: 57.255}},
	{"orange yellow", cie.Lab{L: 71.51, A: 18.24, B: 67.37}, cie.Lab{L: 71.941, A: 19.363, B: 67.857}},
	{"blue", cie.Lab{L: 28.37, A: 15.42, B: -49.8}, cie.Lab{L: 28.778, A: 14.179, B: -50.297}},
	{"green", cie.Lab{L: 54.38, A: -39.72, B: 32.27}, cie.Lab{L: 55.261, A: -38.342, B: 31.37}},
	{"red", cie.Lab{L: 42.43, A: 51.05, B: 28.62}, cie.Lab{L: 42.101, A: 53.378, B: 28.19}},
	{"yellow", cie.Lab{L: 81.8, A: 2.67, B: 80.41}, cie.Lab{L: 81.733, A: 4.039, B: 79.819}},
	{"magenta", cie.Lab{L: 50.63, A: 51.28, B: -14.12}, cie.Lab{L: 51.935, A: 49.986, B: -14.574}},
	{"cyan", cie.Lab{L: 49.57, A: -29.71, B: -28.32}, cie.Lab{L: 51.038, A: -28.631, B: -28.638}},
	{"white 9.5", cie.Lab{L: 95.19, A: -1.03, B: 2.93}, cie.Lab{L: 96.539, A: -0.425, B: 1.186}},
	{"neutral 8", cie.Lab{L: 81.29, A: -0.57, B: 0.44}, cie.Lab{L: 81.257, A: -0.638, B: -0.335}},
	{"neutral 6.5", cie.Lab{L: 66.89, A: -0.75, B: -0.06}, cie.Lab{L: 66.766, A: -0.734, B: -0.504}},
	{"neutral 5", cie.Lab{L: 50.76, A: -0.13, B: 0.14}, cie.Lab{L: 50.867, A: -0.153, B: -0.27}},
	{"neutral 3.5", cie.Lab{L: 35.63, A: -0.46, B: -0.48}, cie.Lab{L: 35.656, A: -0.421, B: -1.231}},
	{"black 2", cie.Lab{L: 20.64, A: 0.07, B: -0.46}, cie.Lab{L: 20.461, A: -0.079, B: -0.973}},
}

// patchName is "18 cyan".
func patchName(i int) string { return strconv.Itoa(i+1) + " " + chartTable[i].name }

// Patches gives the 24 colours of a chart, D50, row by row from dark skin.
func (e Edition) Patches() (list [24]cie.Lab) {
	for i, p := range chartTable {
		list[i] = p.after
		if e == Before2014 {
			list[i] = p.before
		}
	}
	return list
}

// Chart is a chart of 24 patches in the picture.
type Chart struct {
	// Corners are the middles of its four corner patches, going round: dark skin (1),
	// bluish green (6), black (24), white (19). Another order, and the outer corners of
	// those patches, are understood where the picture leaves no doubt, and told.
	Corners [4]Point
	Edition Edition
}

// ParsePoint reads "x,y".
func ParsePoint(s string) (Point, error) {
	v, err := numbers(s, 2)
	if err != nil {
		return Point{}, fmt.Errorf("%q is no place in a picture; write it like 512,340 (pixels from the left and from the top)", s)
	}
	return Point{v[0], v[1]}, nil
}

// ParseRect reads "x,y,w,h".
func ParseRect(s string) (Rect, error) {
	v, err := numbers(s, 4)
	if err != nil || v[2] < 1 || v[3] < 1 {
		return Rect{}, fmt.Errorf("%q is no part of a picture; write it like 512,340,80,60 (left, top, width and height in pixels)", s)
	}
	return Rect{v[0], v[1], v[2], v[3]}, nil
}

// ParseCorners reads "x1,y1 x2,y2 x3,y3 x4,y4".
func ParseCorners(s string) (c [4]Point, err error) {
	list := strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '\t' || r == ';' })
	if len(list) != 4 {
		return c, fmt.Errorf("a chart has four corners, got %d; write them like \"%s\", the middles of dark skin, bluish green, black and white", len(list), "506,1334 476,394 1028,363 1083,1312")
	}
	for i, t := range list {
		if c[i], err = ParsePoint(t); err != nil {
			return c, err
		}
	}
	return c, nil
}

func numbers(s string, n int) ([]float64, error) {
	list := strings.Split(s, ",")
	if len(list) != n {
		return nil, errors.New("wrong count")
	}
	out := make([]float64, n)
	for i, t := range list {
		v, err := strconv.ParseFloat(strings.TrimSpace(t), 64)
		if err != nil || !(math.Abs(v) < 1e6) {
			return nil, errors.New("not a number")
		}
		out[i] = v
	}
	return out, nil
}

// place maps the grid of patches into the picture: columns 0–5, rows 0–3.
type place struct {
	h     [8]float64
	inset float64
}

// newPlace is the projective map that takes the unit square's corners to those of a
// quadrilateral (Heckbert 1989, Fundamentals of Texture Mapping, section 2.2.3). The
// corners lie so many pitches outside the middles of the corner patches.
func newPlace(c [4]Point, inset float64) (place, error) {
	for i := range c {
		a, b, d := c[i], c[(i+1)%4], c[(i+2)%4]
		if turn := (b.X-a.X)*(d.Y-b.Y) - (b.Y-a.Y)*(d.X-b.X); i > 0 && turn*area(c) <= 0 || math.Abs(turn) < 100 {
			return place{}, errors.New("the four corners of the chart do not go round it; give the middles of dark skin, bluish green, black and white, in this order")
		}
	}
	dx1, dx2, sx := c[1].X-c[2].X, c[3].X-c[2].X, c[0].X-c[1].X+c[2].X-c[3].X
	dy1, dy2, sy := c[1].Y-c[2].Y, c[3].Y-c[2].Y, c[0].Y-c[1].Y+c[2].Y-c[3].Y
	det := dx1*dy2 - dx2*dy1
	g, h := (sx*dy2-dx2*sy)/det, (dx1*sy-sx*dy1)/det
	return place{inset: inset, h: [8]float64{
		c[1].X - c[0].X + g*c[1].X, c[3].X - c[0].X + h*c[3].X, c[0].X,
		c[1].Y - c[0].Y + g*c[1].Y, c[3].Y - c[0].Y + h*c[3].Y, c[0].Y, g, h,
	}}, nil
}

// area is twice the signed area of a quadrilateral.
func area(c [4]Point) (sum float64) {
	for i, a := range c {
		b := c[(i+1)%4]
		sum += a.X*b.Y - a.Y*b.X
	}
	return sum
}

func (p *place) at(column, row float64) Point {
	e, h := p.inset, &p.h
	u, v := (column+e)/(chartColumns-1+2*e), (row+e)/(chartRows-1+2*e)
	w := h[6]*u + h[7]*v + 1
	return Point{(h[0]*u + h[1]*v + h[2]) / w, (h[3]*u + h[4]*v + h[5]) / w}
}

// inside is the share of a patch's pitch that is sampled to either side of its
// middle: patches fill about four fifths of the pitch, and edges blur.
const inside = 0.22

// samples takes all patches of a chart; half is the smallest half width used.
func (p *Photo) samples(c [4]Point, inset float64) (list [chartPatches]Sample, half float64, err error) {
	pl, err := newPlace(c, inset)
	if err != nil {
		return list, 0, err
	}
	half = math.Inf(1)
	for i := range list {
		column, row := float64(i%chartColumns), float64(i/chartColumns)
		m := pl.at(column, row)
		pitch := math.Min(distance(m, pl.at(column+0.5, row)), distance(m, pl.at(column, row+0.5))) * 2
		h := math.Floor(inside * pitch)
		half = math.Min(half, h)
		if h < 1 {
			return list, 0, fmt.Errorf("patch %s is only some %.0f pixels wide; take the picture from nearer, or give the corners more exactly", patchName(i), pitch)
		}
		s, ok := p.sample(around(m, h))
		if !ok {
			return list, 0, fmt.Errorf("patch %s would lie at %.0f,%.0f, outside the picture of %d × %d; correct the corners of the chart", patchName(i), m.X, m.Y, p.Width, p.Height)
		}
		list[i] = s
	}
	return list, half, nil
}

func distance(a, b Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// likeness is the correlation, over patches and channels, of the logarithm of linear
// light with what a chart would show, each channel about its own mean. It tells a
// chart taken the right way round from one that is turned.
func (p *Photo) likeness(list *[chartPatches]Sample, ref *[chartPatches]cie.Lab) float64 {
	var x, y [3][chartPatches]float64
	for i := range list {
		v := p.space.linear(list[i].Code)
		xyz := ref[i].XYZ(cie.D50)
		t := p.space.toRGB.times([3]float64{xyz.X, xyz.Y, xyz.Z})
		for c := range 3 {
			x[c][i], y[c][i] = math.Log(math.Max(1e-3, v[c])), math.Log(math.Max(1e-3, t[c]))
		}
	}
	var xy, xx, yy float64
	for c := range 3 {
		var mx, my float64
		for i := range list {
			mx += x[c][i] / chartPatches
			my += y[c][i] / chartPatches
		}
		for i := range list {
			dx, dy := x[c][i]-mx, y[c][i]-my
			xy, xx, yy = xy+dx*dy, xx+dx*dx, yy+dy*dy
		}
	}
	if xx == 0 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}

const (
	// A chart the right way round has a likeness of at least 0.7 in the test
	// photographs. The corners are taken to be turned where another order is likelier by
	// this much, and to be no chart's below the least.
	likelier = 0.1
	least    = 0.5
	// outer is where the outer corner of a corner patch lies, in pitches from its middle.
	outer = 0.45
	// calmer is by what factor patches must be more even for the corners to be taken for
	// outer ones.
	calmer = 0.6
	// sure is the likeness from which other orders need not be looked at.
	sure = 0.9
)

// found is a chart as it was understood.
type found struct {
	list [chartPatches]Sample
	half float64
	said string // what was understood otherwise than given, "" for nothing
}

// find takes the patches of a chart. Four corners in another order than asked for,
// or the outer ones, are understood where the picture leaves no doubt; where there is
// no chart at all it fails.
func (p *Photo) find(c [4]Point, ref *[chartPatches]cie.Lab) (found, error) {
	asked := c
	if _, err := newPlace(c, 0); err != nil {
		// As read off row by row.
		crossed := [4]Point{c[0], c[1], c[3], c[2]}
		if _, other := newPlace(crossed, 0); other != nil {
			return found{}, err
		}
		c = crossed
	}
	best := math.Inf(-1)
	var f found
	var order [4]Point
	var first error
orders:
	for k := range 4 {
		for _, back := range []bool{false, true} {
			var d [4]Point
			for i := range d {
				d[i] = c[(i+k)%4]
				if back {
					d[i] = c[(4+k-i)%4]
				}
			}
			list, half, err := p.samples(d, 0)
			given := k == 0 && !back
			if err != nil {
				if given {
					first = err
				}
				continue
			}
			like := p.likeness(&list, ref)
			if given {
				like += likelier
			}
			if like > best {
				best, f, order = like, found{list: list, half: half}, d
			}
			if given && like >= sure+likelier {
				break orders
			}
		}
	}
	if math.IsInf(best, -1) {
		return found{}, first
	}
	if order != asked {
		f.said = fmt.Sprintf("the corners were given in another order than the chart stands; \"%s\" was taken", corners(order))
	}
	if list, half, err := p.samples(order, outer); err == nil && unrest(&list) < calmer*unrest(&f.list) {
		if like := p.likeness(&list, ref); like > best-2*likelier {
			pl, err := newPlace(order, outer)
			if err != nil {
				return found{}, err
			}
			middles := [4]Point{pl.at(0, 0), pl.at(chartColumns-1, 0), pl.at(chartColumns-1, chartRows-1), pl.at(0, chartRows-1)}
			best, f = like, found{list: list, half: half, said: fmt.Sprintf("the corners were taken for the outer ones of the corner patches; their middles would be \"%s\"", corners(middles))}
		}
	}
	if best < least {
		return found{}, errors.New("what lies between the four corners does not look like a chart of 24 patches; give the middles of dark skin, bluish green, black and white, in pixels of the upright picture")
	}
	return f, nil
}

func corners(c [4]Point) string {
	say := make([]string, len(c))
	for i, q := range c {
		say[i] = fmt.Sprintf("%.0f,%.0f", q.X, q.Y)
	}
	return strings.Join(say, " ")
}

// unrest is how uneven patches are in the mean; one that is all gloss counts no more
// than one that lies across an edge.
func unrest(list *[chartPatches]Sample) (sum float64) {
	for i := range list {
		sum += math.Min(40, list[i].Uneven) / chartPatches
	}
	return sum
}
