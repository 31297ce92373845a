package chart

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"slices"
	"strings"
)

// maxCurves bounds a picture: each portion takes some 1.4 MB while it is drawn.
const maxCurves = 60

// PNG draws curves as a PNG picture.
func PNG(curves []Curve) ([]byte, error) {
	if len(curves) > maxCurves {
		return nil, fmt.Errorf("%d portions are too many for one picture, %d at most; name one of them, or draw an SVG", len(curves), maxCurves)
	}
	r := &raster{image.NewNRGBA(image.Rect(0, 0, width, max(1, len(curves))*height))}
	draw.Draw(r.img, r.img.Bounds(), image.White, image.Point{}, draw.Src)
	paint(r, curves)
	var out bytes.Buffer
	err := png.Encode(&out, r.img)
	return out.Bytes(), err
}

// raster draws with soft edges: a pixel takes as much of a colour as its middle lies
// inside the shape, over one pixel's width.
type raster struct{ img *image.NRGBA }

// hexColour reads "#rrggbb", the only form this package hands itself.
func hexColour(s string) color.NRGBA {
	var r, g, b uint8
	fmt.Sscanf(s, "#%02x%02x%02x", &r, &g, &b)
	return color.NRGBA{r, g, b, 255}
}

func (r *raster) blend(x, y int, c color.NRGBA, share float64) {
	if share <= 0 || !(image.Pt(x, y).In(r.img.Bounds())) {
		return
	}
	share = math.Min(share, 1)
	was := r.img.NRGBAAt(x, y)
	mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(a) + (float64(b)-float64(a))*share)) }
	r.img.SetNRGBA(x, y, color.NRGBA{mix(was.R, c.R), mix(was.G, c.G), mix(was.B, c.B), 255})
}

// fill paints every pixel of a box by its distance to the shape's edge, positive inside.
func (r *raster) fill(x1, y1, x2, y2 float64, c color.NRGBA, inside func(x, y float64) float64) {
	for y := int(math.Floor(y1)); y <= int(math.Ceil(y2)); y++ {
		for x := int(math.Floor(x1)); x <= int(math.Ceil(x2)); x++ {
			r.blend(x, y, c, inside(float64(x)+0.5, float64(y)+0.5)+0.5)
		}
	}
}

func (r *raster) line(x1, y1, x2, y2, w float64, hex string, dashed bool) {
	c := hexColour(hex)
	dx, dy := x2-x1, y2-y1
	long := math.Hypot(dx, dy)
	if long == 0 {
		return
	}
	r.fill(math.Min(x1, x2)-w, math.Min(y1, y2)-w, math.Max(x1, x2)+w, math.Max(y1, y2)+w, c, func(x, y float64) float64 {
		t := ((x-x1)*dx + (y-y1)*dy) / (long * long)
		if dashed && math.Mod(math.Max(t, 0)*long, 11) > 6 {
			return -1
		}
		t = math.Min(1, math.Max(0, t))
		return w/2 - math.Hypot(x-x1-t*dx, y-y1-t*dy)
	})
}

func (r *raster) disc(x, y, rad float64, fill, rim string) {
	for _, d := range []struct {
		r float64
		c string
	}{{rad + 1.5, rim}, {rad, fill}} {
		r.fill(x-d.r-1, y-d.r-1, x+d.r+1, y+d.r+1, hexColour(d.c), func(px, py float64) float64 { return d.r - math.Hypot(px-x, py-y) })
	}
}

// area fills a polygon line by line between its crossings.
func (r *raster) area(xy [][2]float64, hex string) {
	c := hexColour(hex)
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range xy {
		low, high = math.Min(low, p[1]), math.Max(high, p[1])
	}
	for y := int(math.Floor(low)); y <= int(math.Ceil(high)); y++ {
		at := float64(y) + 0.5
		var cross []float64
		for i := range xy {
			p, q := xy[i], xy[(i+1)%len(xy)]
			if (p[1] <= at) != (q[1] <= at) {
				cross = append(cross, p[0]+(at-p[1])/(q[1]-p[1])*(q[0]-p[0]))
			}
		}
		slices.Sort(cross)
		for i := 0; i+1 < len(cross); i += 2 {
			for x := int(math.Floor(cross[i])); x <= int(cross[i+1]); x++ {
				r.blend(x, y, c, math.Min(float64(x)+1, cross[i+1])-math.Max(float64(x), cross[i]))
			}
		}
	}
}

// digits are 3 by 5 dots, a row per three bits from the top.
var digits = map[rune]uint16{
	'0': 0b111_101_101_101_111, '1': 0b010_110_010_010_111, '2': 0b111_001_111_100_111, '3': 0b111_001_111_001_111, '4': 0b101_101_111_001_001,
	'5': 0b111_100_111_001_111, '6': 0b111_100_111_101_111, '7': 0b111_001_010_010_010, '8': 0b111_101_111_101_111, '9': 0b111_101_111_001_111,
	'-': 0b000_000_111_000_000, '.': 0b000_000_000_000_010,
}

// text draws figures; words are left to the SVG.
func (r *raster) text(x, y float64, s, anchor string, size float64) {
	if strings.Trim(s, "-.0123456789") != "" || s == "" {
		return
	}
	dot := math.Max(1, math.Round(size/6))
	w := float64(len(s))*4*dot - dot
	switch anchor {
	case "middle":
		x -= w / 2
	case "end":
		x -= w
	}
	c := hexColour(ink)
	x, y = math.Round(x), math.Round(y-5*dot)
	for i, ch := range s {
		for row := range 5 {
			for col := range 3 {
				if digits[ch]>>(14-3*row-col)&1 == 1 {
					px, py := x+float64(i)*4*dot+float64(col)*dot, y+float64(row)*dot
					for a := 0.0; a < dot; a++ {
						for b := 0.0; b < dot; b++ {
							r.blend(int(px+a), int(py+b), c, 1)
						}
					}
				}
			}
		}
	}
}
