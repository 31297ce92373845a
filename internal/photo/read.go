package photo

import (
	"fmt"
	"math"
	"strings"

	"lyefast/internal/cie"
)

// Rung says what a colour was corrected by, from best to worst.
type Rung string

// The rungs of the ladder; between chart and one grey stand "6 greys", "3 greys" and
// so on, by how many there were.
const (
	ShadedChart Rung = "chart with sheet shading"
	PlainChart  Rung = "chart"
	LightGrey   Rung = "one light grey"
	OneGrey     Rung = "one grey"
	WhiteSheet  Rung = "white sheet"
	Uncorrected Rung = "nothing"
)

// greys is the rung of one grey patch or more.
func greys(n int, lab cie.Lab) Rung {
	switch {
	case n > 1:
		return Rung(fmt.Sprintf("%d greys", n))
	case lab.L >= 65 && lab.L <= 90:
		return LightGrey
	}
	return OneGrey
}

// rms is the root mean square of ΔE00 that a rung errs by: leave-one-patch-out over
// 15 photographs from six cameras with a chart of 24 patches, where the grey rungs
// were given the chart's own greys. For a chart it is what the picture's own figure is
// drawn towards. A white sheet did as well as a light grey on the photographs that
// have one, which are of one camera, so that the grey's figure is taken for it.
func (r Rung) rms() float64 {
	switch r {
	case ShadedChart:
		return 3.3
	case PlainChart:
		return 4.0
	case LightGrey, WhiteSheet:
		return 6.7
	case OneGrey:
		return 7.6
	case Uncorrected:
		return 9.7
	}
	if n := 0; len(r) > 0 {
		if _, err := fmt.Sscanf(string(r), "%d greys", &n); err == nil && n >= 5 {
			return 5.8
		}
	}
	return 6.2
}

// repeat is the standard deviation in ΔE00 between readings of one colour under the
// same phone, light and correction, from eight of the photographs that show three
// scenes again and again.
func (r Rung) repeat() float64 {
	switch r {
	case ShadedChart:
		return 1.1
	case PlainChart:
		return 1.3
	case OneGrey:
		return 1.9
	case Uncorrected:
		return 2.5
	}
	return 1.6
}

// Grey is a patch of known colour in the picture.
type Grey struct {
	At  Point
	Lab cie.Lab // D50, as cards have it printed on them
}

// Setup is what lies in the picture to correct it by. All of it may be absent.
type Setup struct {
	Chart *Chart
	Greys []Grey
	// Sheet are spots on one even, matt sheet; six or more show how the light falls off.
	Sheet []Point
	// SheetLab is the sheet's colour, D50, as it was read beside a chart; nil where it is
	// not known.
	SheetLab *cie.Lab
	// Half is the half width of the squares taken at greys and spots, in pixels; 0 takes
	// six tenths of that of a chart's patches, or a three-hundredth of the picture's
	// longer side, which lies well within the smallest grey patch.
	Half float64
}

// Bounds of a Setup and of what is read in one picture.
const (
	MaxSpots   = 200
	MaxGreys   = 50
	MaxPatches = 200
)

// Colour is what was read of one part of the picture.
type Colour struct {
	// Lab is D65, 2°; nil where the part is clipped, outside the picture, or otherwise no
	// colour can be given. Why then says so.
	Lab *cie.Lab
	Why string
	// Absolute and Trend are expanded uncertainties in ΔE00 (k = 2: about 95 in 100 err
	// by less): of the colour itself, and between colours read under the same phone,
	// light and chart.
	Absolute, Trend float64
	// Notes are what is to be told of this part, such as gloss.
	Notes []string
}

// Answer is what was read of a picture.
type Answer struct {
	Rung    Rung
	Colours []Colour
	// LeftOut names patches, greys and spots that were not used, with the reason.
	LeftOut []string
	// Warnings are what a maker should know before trusting the colours.
	Warnings []string
	// SheetLab is the sheet's colour, D50, learnt beside a chart; nil without a sheet or
	// chart. In pictures of the same sheet without a chart it can be given.
	SheetLab *cie.Lab
}

// Read takes the colours of parts of the picture, corrected by the best of what the
// setup offers. It fails where the setup cannot be true of the picture; a part that
// cannot be read is told in its Colour.
func (p *Photo) Read(s Setup, parts []Rect) (*Answer, error) {
	if len(s.Sheet) > MaxSpots || len(s.Greys) > MaxGreys || len(parts) > MaxPatches {
		return nil, fmt.Errorf("at most %d spots, %d greys and %d patches are taken of one picture", MaxSpots, MaxGreys, MaxPatches)
	}
	out := &Answer{LeftOut: []string{}, Warnings: []string{}}
	half := s.Half
	var patches [chartPatches]Sample
	var ref [chartPatches]cie.Lab
	if s.Chart != nil {
		ref = s.Chart.Edition.Patches()
		f, err := p.find(s.Chart.Corners, &ref)
		if err != nil {
			return nil, err
		}
		if f.said != "" {
			out.Warnings = append(out.Warnings, f.said)
		}
		patches = f.list
		if half == 0 {
			half = math.Max(2, math.Floor(0.6*f.half))
		}
	}
	if half == 0 {
		half = math.Max(3, math.Floor(float64(max(p.Width, p.Height))/300))
	}
	spots, err := p.spots(s.Sheet, half, out)
	if err != nil {
		return nil, err
	}
	light := func(x *Sample) [3]float64 { return p.space.linear(x.Code) }
	shade, shaded := newShading(spots, &p.space)
	if shaded {
		light = func(x *Sample) [3]float64 {
			v, g := p.space.linear(x.Code), shade.gain(x.At)
			return [3]float64{g * v[0], g * v[1], g * v[2]}
		}
	} else if len(spots) > 0 && s.Chart != nil {
		out.warn("%d usable spots on the sheet are too few to take the shading off; give %d, or better %d, all round the chart and the bars", len(spots), fewestSpots, fewestCurved)
	}
	lab, err := p.correct(&s, out, &patches, &ref, spots, shaded, light, half)
	if err != nil {
		return nil, err
	}
	for _, r := range parts {
		out.Colours = append(out.Colours, p.colour(r, out, light, lab, shaded, &shade))
	}
	return out, nil
}

func (a *Answer) warn(format string, args ...any) {
	a.Warnings = append(a.Warnings, fmt.Sprintf(format, args...))
}

// corrected is a colour for D50 from linear light, and what the ladder found of it.
type corrected struct {
	lab func(v [3]float64) cie.Lab
	rms float64
	// The lightest and darkest light that was there to correct by; 0 where unknown.
	lightest, darkest float64
}

// correct climbs down the ladder to the first rung that holds.
func (p *Photo) correct(s *Setup, out *Answer, patches *[chartPatches]Sample, ref *[chartPatches]cie.Lab, spots []Sample, shaded bool, light func(*Sample) [3]float64, half float64) (corrected, error) {
	var none corrected
	if s.Chart != nil {
		var list, row []known
		glossy := []string{}
		for i := range patches {
			x := &patches[i]
			if x.Clipped {
				out.LeftOut = append(out.LeftOut, patchName(i)+": clipped")
				continue
			}
			if x.glossy() || x.Uneven > uneven {
				glossy = append(glossy, patchName(i))
			}
			k := known{light(x), ref[i]}
			list = append(list, k)
			if i >= firstGrey {
				row = append(row, k)
			}
		}
		if len(glossy) > 0 {
			out.warn("the light is uneven on patch %s: gloss, a shadow or an edge; tilt the chart, or correct its corners", strings.Join(glossy, ", "))
		}
		if len(list) >= fewestPatches {
			if shaded {
				out.Rung = ShadedChart
			} else {
				out.Rung = PlainChart
			}
			return p.byChart(out, list, spots, light)
		}
		out.warn("only %d of the chart's 24 patches are usable, the rest are clipped; photograph it darker, without flash", len(list))
		if len(row) > 0 {
			return p.byGreys(out, row)
		}
	}
	if len(s.Greys) > 0 {
		var list []known
		for _, g := range s.Greys {
			x, ok := p.sample(around(g.At, half))
			name := fmt.Sprintf("grey at %.0f,%.0f", g.At.X, g.At.Y)
			if !ok {
				return none, fmt.Errorf("the %s lies outside the picture of %d × %d", name, p.Width, p.Height)
			}
			if g.Lab.Check() != nil || g.Lab.L < darkestGrey {
				return none, fmt.Errorf("the %s cannot have L*, a*, b* of %g, %g, %g; they are printed on the card, L* between 5 and 100", name, g.Lab.L, g.Lab.A, g.Lab.B)
			}
			if c := math.Hypot(g.Lab.A, g.Lab.B); c > 15 {
				return none, fmt.Errorf("the %s has a chroma of %.0f and is no grey", name, c)
			}
			if x.Clipped {
				out.LeftOut = append(out.LeftOut, name+": clipped")
				continue
			}
			list = append(list, known{light(&x), g.Lab})
		}
		if len(list) > 0 {
			return p.byGreys(out, list)
		}
		out.warn("every grey is clipped; photograph it darker")
	}
	if len(spots) > 0 && s.SheetLab != nil {
		if s.SheetLab.Check() != nil || s.SheetLab.L < darkestSheet {
			return none, fmt.Errorf("a white sheet cannot have L*, a*, b* of %g, %g, %g", s.SheetLab.L, s.SheetLab.A, s.SheetLab.B)
		}
		c, err := p.byGreys(out, []known{{typical(spots, light), *s.SheetLab}})
		out.Rung = WhiteSheet
		c.rms = out.Rung.rms()
		return c, err
	}
	if len(s.Sheet) > 0 && s.Chart == nil && s.SheetLab == nil {
		out.warn("the sheet's colour is not known, so it does not help: paper is no white of known value; photograph it beside a chart once, and give the value that is told then")
	}
	out.Rung = Uncorrected
	out.warn("there is nothing in the picture to correct it by: the colours are the phone's own and may be far off; lay a chart of 24 patches or a grey card beside the bars")
	return corrected{lab: func(v [3]float64) cie.Lab { return labD50(p.space.toXYZ.times(v)) }, rms: out.Rung.rms()}, nil
}

// typical is the mean light of spots, channel by channel, as of their logarithms.
func typical(spots []Sample, light func(*Sample) [3]float64) (v [3]float64) {
	for i := range spots {
		for c, x := range light(&spots[i]) {
			v[c] += math.Log(math.Max(darkest, x)) / float64(len(spots))
		}
	}
	for c := range v {
		v[c] = math.Exp(v[c])
	}
	return v
}

const (
	// own is how many patches the pooled figure of a rung counts for beside those of the
	// picture's own chart.
	own = 4
	// badChart is the picture's own figure from which it is told: of the 15 test
	// photographs it marks the one edited under yellow light and the two of an unknown
	// or a veiled chart.
	badChart = 5.2
	// veil is the share of white from which stray light is told.
	veil = 0.02
)

// byChart corrects by a chart. Its doubt is what the chart itself errs by, patch by
// patch left out.
func (p *Photo) byChart(out *Answer, list []known, spots []Sample, light func(*Sample) [3]float64) (corrected, error) {
	m, err := newChartModel(list, &p.space)
	if err != nil {
		return corrected{}, fmt.Errorf("the picture could not be fitted to the chart: %w; check the corners", err)
	}
	sum, worst := 0.0, 0.0
	for _, e := range m.leftOut() {
		sum += e * e
		worst = math.Max(worst, e)
	}
	n := float64(len(list))
	rms := math.Sqrt(sum / n)
	if rms > Uncorrected.rms() {
		return corrected{}, fmt.Errorf("the chart is of no use: its own patches are read worse by it than without it (ΔE00 %.1f by root mean square); correct its corners, or leave it out", rms)
	}
	if rms > badChart {
		out.warn("the chart fits badly (ΔE00 %.1f by root mean square, %.1f at worst): strongly coloured light, an edited picture, gloss, wrong corners, or a chart whose values are not these", rms, worst)
	}
	if f := m.veil(); f > veil {
		out.warn("a veil of stray light or gloss over the whole chart (%.1f %% of white) was taken off; a bar under another veil is read wrongly", 100*f)
	}
	c := corrected{lab: m.lab, rms: ownRMS(out.Rung, sum, n)}
	c.lightest, c.darkest = reach(list)
	if len(spots) > 0 {
		sheet := m.lab(typical(spots, light))
		out.SheetLab = &sheet
	}
	return c, nil
}

// ownRMS draws a picture's own figure, of n squared errors and their sum, towards that
// of its rung.
func ownRMS(r Rung, sum, n float64) float64 {
	pooled := r.rms()
	return math.Sqrt((sum + own*pooled*pooled) / (n + own))
}

func (p *Photo) byGreys(out *Answer, list []known) (corrected, error) {
	g, err := newGreyModel(list, &p.space)
	if err != nil {
		return corrected{}, fmt.Errorf("the greys could not be fitted: %w", err)
	}
	out.Rung = greys(len(list), list[0].lab)
	c := corrected{lab: g.lab, rms: out.Rung.rms()}
	if len(list) > 1 {
		c.lightest, c.darkest = reach(list)
	}
	return c, nil
}

func reach(list []known) (lightest, least float64) {
	least = math.Inf(1)
	for i := range list {
		for _, v := range list[i].light {
			lightest, least = math.Max(lightest, v), math.Min(least, v)
		}
	}
	return lightest, least
}

const (
	// Gloss: this share of pixels is much lighter than the median.
	glossShare = 0.05
	// uneven is the spread, in codes, from which a part is not taken for one colour. The
	// patches of the test photographs reach half of it, but for one that fingers shade.
	uneven = 12
	// beyond is how far past the lightest light of the chart a part may lie before it is
	// told, as a factor.
	beyond = 1.15
)

func (x *Sample) glossy() bool { return x.Bright > glossShare }

// colour reads one part.
func (p *Photo) colour(r Rect, out *Answer, light func(*Sample) [3]float64, by corrected, shaded bool, shade *shading) Colour {
	c := Colour{Absolute: 2 * by.rms, Trend: 2 * out.Rung.repeat(), Notes: []string{}}
	x, ok := p.sample(r)
	switch {
	case !ok:
		c.Why = fmt.Sprintf("the part at %g,%g,%g,%g holds fewer than %d pixels of the picture of %d × %d", r.X, r.Y, r.W, r.H, fewestPixels, p.Width, p.Height)
		return c
	case x.Clipped:
		c.Why = fmt.Sprintf("the part at %g,%g is clipped: a channel is at its end, so its colour is lost; photograph it darker or without gloss", r.X, r.Y)
		return c
	}
	v := light(&x)
	lab := by.lab(v).To(cie.D50, cie.D65)
	if !lab.Finite() || lab.L < -5 || lab.L > 115 || math.Abs(lab.A) > 150 || math.Abs(lab.B) > 150 {
		c.Why = fmt.Sprintf("the part at %g,%g comes out as no colour that a surface can have; check what it is corrected by", r.X, r.Y)
		return c
	}
	lab.L = math.Min(100, math.Max(0, lab.L))
	c.Lab = &lab
	if r.X < -0.5 || r.Y < -0.5 || r.X+r.W > float64(p.Width)+0.5 || r.Y+r.H > float64(p.Height)+0.5 {
		c.Notes = append(c.Notes, "part of it lies outside the picture and was left off")
	}
	if x.glossy() {
		c.Notes = append(c.Notes, "part of it is much lighter than the rest: gloss, or a second colour; the middle value was taken")
	} else if x.Uneven > uneven {
		c.Notes = append(c.Notes, "it is of more than one colour, or partly in shadow; the middle value was taken")
	}
	if top := math.Max(v[0], math.Max(v[1], v[2])); by.lightest > 0 && top > beyond*by.lightest {
		c.Notes = append(c.Notes, "it is lighter than anything that it is corrected by, so its lightness is carried on beyond")
	}
	if shaded && !shade.covers(x.At) {
		c.Notes = append(c.Notes, "it lies off the spots of the sheet, so how the light falls there is not known")
		c.Absolute = 2 * math.Max(by.rms, PlainChart.rms())
	}
	return c
}

// spots takes the spots on a sheet, and leaves clipped ones out.
func (p *Photo) spots(list []Point, half float64, out *Answer) ([]Sample, error) {
	var spots []Sample
	for _, at := range list {
		x, ok := p.sample(around(at, half))
		if !ok {
			return nil, fmt.Errorf("the sheet's spot at %.0f,%.0f lies outside the picture of %d × %d", at.X, at.Y, p.Width, p.Height)
		}
		if x.Clipped {
			out.LeftOut = append(out.LeftOut, fmt.Sprintf("sheet at %.0f,%.0f: clipped", at.X, at.Y))
			continue
		}
		spots = append(spots, x)
	}
	return spots, nil
}
