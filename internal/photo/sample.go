package photo

import (
	"image"
	"image/color"
	"math"
)

// Point is a place in the picture in pixels, x to the right, y down.
type Point struct{ X, Y float64 }

// Rect is an upright part of the picture: its top left corner, width and height.
type Rect struct{ X, Y, W, H float64 }

// around is a square about a point.
func around(p Point, half float64) Rect {
	return Rect{p.X - half, p.Y - half, 2*half + 1, 2*half + 1}
}

func (r Rect) middle() Point { return Point{r.X + (r.W-1)/2, r.Y + (r.H-1)/2} }

// Sample is the colour of one part of a picture before any correction.
type Sample struct {
	At Point
	// Code is the median code of each channel, 0–255. Curves of profiles rise, so its
	// linear light is the median of the linear light.
	Code [3]float64
	// Clipped says that a channel is at its end in too many pixels: more than 2 % at the
	// top or 10 % at the bottom. The colour is then a guess and is not used.
	Clipped bool
	// Uneven is the half width of the middle 68 % of the green channel, in codes.
	Uneven float64
	// Bright is the share of pixels much lighter than the median, as gloss makes them.
	Bright float64
}

const (
	// A channel counts as clipped from these shares of pixels on, at 254 or more and at
	// 1 or less.
	clippedTop, clippedBottom = 0.02, 0.10
	// fewestPixels is the least that a median is taken of.
	fewestPixels = 9
	// mostPixels bounds the work for one sample; a larger part is thinned out evenly.
	mostPixels = 20000
)

// sample takes the medians of a part of the picture. ok is false where fewer than
// nine of its pixels lie in the picture.
func (p *Photo) sample(r Rect) (s Sample, ok bool) {
	if math.IsNaN(r.X + r.Y + r.W + r.H) {
		return s, false
	}
	x0, x1 := span(r.X, r.W, p.Width)
	y0, y1 := span(r.Y, r.H, p.Height)
	s.At = r.middle()
	if (x1-x0)*(y1-y0) < fewestPixels {
		return s, false
	}
	step := 1
	for ((x1-x0+step-1)/step)*((y1-y0+step-1)/step) > mostPixels {
		step++
	}
	var count [3][256]int32
	n := 0
	at := p.codes()
	for y := y0; y < y1; y += step {
		for x := x0; x < x1; x += step {
			sx, sy := p.stored(x, y)
			r, g, b := at(sx, sy)
			count[0][r]++
			count[1][g]++
			count[2][b]++
			n++
		}
	}
	for i := range count {
		s.Code[i] = quantile(&count[i], n, 0.5)
		top, bottom := 0, 0
		for k := range 2 {
			top += int(count[i][255-k])
			bottom += int(count[i][k])
		}
		if float64(top) > clippedTop*float64(n) || float64(bottom) > clippedBottom*float64(n) {
			s.Clipped = true
		}
	}
	green := &count[1]
	s.Uneven = (quantile(green, n, 0.84) - quantile(green, n, 0.16)) / 2
	bright := 0
	for k := min(255, int(s.Code[1]*1.1+20)); k < 256; k++ {
		bright += int(green[k])
	}
	s.Bright = float64(bright) / float64(n)
	return s, true
}

// span gives the pixels from a to a+w that lie in the picture.
func span(a, w float64, size int) (from, to int) {
	from = int(math.Round(math.Max(0, math.Min(a, float64(size)))))
	to = int(math.Round(math.Max(0, math.Min(a+w, float64(size)))))
	return from, to
}

// quantile of a histogram of codes; within the code where it falls it is placed by
// its share, which is finer than a code where the pixels are noisy.
func quantile(count *[256]int32, n int, q float64) float64 {
	want, below := q*float64(n), 0.0
	for k, c := range count {
		if below+float64(c) >= want && c > 0 {
			return math.Min(255, math.Max(0, float64(k)-0.5+(want-below)/float64(c)))
		}
		below += float64(c)
	}
	return 255
}

// codes gives the quickest way to the 8-bit codes of a pixel of the decoded image.
func (p *Photo) codes() func(x, y int) (r, g, b uint8) {
	convert := color.YCbCrToRGB
	if p.Format == "WebP" {
		convert = studioToRGB
	}
	from := func(m *image.YCbCr) func(x, y int) (uint8, uint8, uint8) {
		return func(x, y int) (uint8, uint8, uint8) {
			i, j := m.YOffset(x, y), m.COffset(x, y)
			return convert(m.Y[i], m.Cb[j], m.Cr[j])
		}
	}
	switch m := p.img.(type) {
	case *image.NRGBA:
		return func(x, y int) (uint8, uint8, uint8) {
			c := m.NRGBAAt(x, y)
			return c.R, c.G, c.B
		}
	case *image.YCbCr:
		return from(m)
	case *image.NYCbCrA:
		return from(&m.YCbCr)
	}
	return func(x, y int) (uint8, uint8, uint8) {
		c := color.NRGBAModel.Convert(p.img.At(x, y)).(color.NRGBA)
		return c.R, c.G, c.B
	}
}

// studioToRGB converts luma of 16–235 and chroma of 16–240, as lossy WebP has them
// (RFC 6386, section 9.2: ITU-R BT.601). The image package takes every YCbCr for the
// full range of JPEG, which would cost two units of ΔE00.
func studioToRGB(y, cb, cr uint8) (r, g, b uint8) {
	l, u, v := 255.0/219*(float64(y)-16), 255.0/112*(float64(cb)-128), 255.0/112*(float64(cr)-128)
	code := func(x float64) uint8 { return uint8(math.Round(math.Min(255, math.Max(0, x)))) }
	// Kr 0.299, Kb 0.114.
	return code(l + 0.701*v), code(l - 0.886*0.114/0.587*u - 0.701*0.299/0.587*v), code(l + 0.886*u)
}
