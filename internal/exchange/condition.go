package exchange

import (
	"fmt"
	"sort"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/pattern"
)

// condition is what a heading, a cell or a keyword says about how a colour was
// measured; zero fields are not said.
type condition struct {
	illuminant string
	observer   int
	mode       string
}

// or fills what c leaves open from d.
func (c condition) or(d condition) condition {
	if c.illuminant == "" {
		c.illuminant = d.illuminant
	}
	if c.observer == 0 {
		c.observer = d.observer
	}
	if c.mode == "" {
		c.mode = d.mode
	}
	return c
}

// String gives "D65, 10°, SCI" without what is not said.
func (c condition) String() string {
	var parts []string
	if c.illuminant != "" {
		parts = append(parts, c.illuminant)
	}
	if c.observer != 0 {
		parts = append(parts, fmt.Sprintf("%d°", c.observer))
	}
	if c.mode != "" {
		parts = append(parts, c.mode)
	}
	return strings.Join(parts, ", ")
}

// lamps are names of the trade for two of the fluorescent illuminants (common
// practice, no source).
var lamps = map[string]string{"TL84": "F11", "CWF": "F2"}

// illuminantName gives the standard name of an illuminant that the colour
// arithmetic knows, else "".
func illuminantName(s string) string {
	t := strings.ToUpper(strings.TrimSpace(s))
	if name := lamps[t]; name != "" {
		return name
	}
	if rest, ok := strings.CutPrefix(t, "FL"); ok {
		t = "F" + rest // CIE 15 writes FL2 for F2
	}
	if _, ok := whites[seen{t, 2}]; ok {
		return t
	}
	return ""
}

// whites are the illuminants of package cie by name and observer.
var whites = func() map[seen]cie.Illuminant {
	m := map[seen]cie.Illuminant{}
	for _, il := range cie.Illuminants() {
		m[seen{il.Name, il.Observer}] = il
	}
	return m
}()

var (
	degreesToken = pattern.New(`(?i)^(2|10)(?:\.0+)?[ _]*(?:°|º|˚|deg\.?|degs|degrees?)?$`)
	year1931     = pattern.New(`\b1931\b`)
	year1964     = pattern.New(`\b1964\b`)
)

// observerDegrees reads the cell or keyword of an observer: "2", "10°",
// "2_Degree", "CIE 1964". It gives 0 for anything else.
func observerDegrees(s string) int {
	s = strings.TrimSpace(s)
	if d := degrees(s); d != 0 {
		return d
	}
	old, young := year1931.MatchString(s), year1964.MatchString(s)
	found := 0
	if old != young {
		found = 2
		if young {
			found = 10
		}
	}
	for _, w := range conditionWords(s) {
		if d := degrees(w); d != 0 {
			if found != 0 && found != d {
				return 0
			}
			found = d
		}
	}
	return found
}

func degrees(s string) int {
	switch m := degreesToken.FindStringSubmatch(s); {
	case m == nil:
		return 0
	case m[1] == "2":
		return 2
	}
	return 10
}

// modeName gives "SCI" or "SCE" for the words in use for gloss included and
// excluded, else "".
func modeName(s string) string {
	switch strings.ToUpper(strings.Join(strings.FieldsFunc(s, notWord), "")) {
	case "SCI", "SPIN", "RSIN", "SPECULARINCLUDED", "SPECULARCOMPONENTINCLUDED", "INCLUDED":
		return "SCI"
	case "SCE", "SPEX", "RSEX", "SPECULAREXCLUDED", "SPECULARCOMPONENTEXCLUDED", "EXCLUDED":
		return "SCE"
	}
	return ""
}

func notWord(r rune) bool { return strings.ContainsRune(" \t\u00a0_-./,;:|()[]{}\"", r) }

func conditionWords(s string) []string { return strings.FieldsFunc(s, notWord) }

// parseCondition reads "D65/10°", "10°/D65", "D65-10", "SCI", "D50, 2 deg". Every
// word must be understood, or nothing is.
func parseCondition(s string) (condition, bool) {
	var c condition
	for _, w := range conditionWords(s) {
		switch name, deg, mode := illuminantName(w), degrees(w), modeName(w); {
		case name != "" && (c.illuminant == "" || c.illuminant == name):
			c.illuminant = name
		case deg != 0 && (c.observer == 0 || c.observer == deg):
			c.observer = deg
		case mode != "" && (c.mode == "" || c.mode == mode):
			c.mode = mode
		case isFiller(w):
		default:
			return condition{}, false
		}
	}
	return c, c != condition{}
}

// isFiller tells words that stand beside a condition and add nothing.
func isFiller(w string) bool {
	switch strings.ToLower(w) {
	case "°", "º", "˚", "deg", "degree", "degrees", "observer", "obs", "illuminant", "ill", "std", "standard", "cie", "light", "source":
		return true
	}
	return false
}

// setCondition writes the stated condition into a sample.
func (s *Sample) setCondition(c condition) {
	if c.illuminant != "" {
		s.Illuminant, s.IlluminantFrom = c.illuminant, Stated
	}
	if c.observer != 0 {
		s.Observer, s.ObserverFrom = c.observer, Stated
	}
	if c.mode != "" {
		s.Mode = c.mode
	}
}

// How far, ΔE00, the colour of a spectrum may lie from the L*a*b* beside it.
// Different tables and wavelength steps make 0.1 to 1.
const (
	// Where the L*a*b* can be turned into D65, 2° itself, because its condition is
	// known, it has the word against a file of spectra whose median is beyond
	// agree, and against a single one beyond outlier.
	agree   = 2.0
	outlier = 5.0
	// Where it cannot, the spectrum is the only way, up to here. Beyond, one of
	// the two is on another scale, starts elsewhere or belongs to something else,
	// and nobody can say which.
	gross = 10.0
)

// convert settles the condition of each sample and gives it a colour for D65,
// 2°. Samples whose computed colour is impossible are rejected here.
func (im *Import) convert(opts Options) *Declined {
	if scaleSpectra(im.Readings) {
		im.warn("the spectra are in per cent; they were divided by 100")
	}
	kept := im.Readings[:0]
	var off []float64
	noSpectrum := ""
	for _, s := range im.Readings {
		im.settle(&s, opts)
		if err := s.fromXYZ(); err != nil {
			return err
		}
		if s.Spectrum != nil {
			r, err := s.Spectrum.Resample()
			switch {
			case err != nil && s.fromSpectrum:
				im.reject(s.Line, "%s", err)
				continue
			case err != nil:
				noSpectrum = fmt.Sprintf("line %d: %s; the L*a*b* is used", s.Line, err)
			case s.fromSpectrum:
				s.usable = true
				c, ok := labUnder(&r, seen{s.Illuminant, s.Observer})
				if !ok {
					c = r.Lab()
					s.Illuminant, s.Observer, s.IlluminantFrom, s.ObserverFrom = "D65", 2, Computed, Computed
				}
				s.Lab = c
			default:
				s.usable = true
				if d, known := apart(&r, &s); known {
					s.off = d
					off = append(off, d)
				}
			}
		}
		if p := labProblem(s.Lab); p != "" {
			im.reject(s.Line, "%s", p)
			continue
		}
		kept = append(kept, s)
	}
	im.Readings = kept
	if noSpectrum != "" {
		im.warn("%s", noSpectrum)
	}

	median := 0.0
	if n := len(off); n > 0 {
		sort.Float64s(off)
		if median = off[n/2]; median > agree {
			im.warn("the spectra and the L*a*b* beside them differ, by ΔE00 %.1f at the median; one of them is wrong", median)
		}
	}
	none := 0
	for i := range im.Readings {
		s := &im.Readings[i]
		if s.usable && !s.fromSpectrum {
			whole, single := agree, outlier
			if !s.convertible() {
				whole, single = gross, gross
			}
			if s.usable = median <= whole && s.off <= single; !s.usable && median <= agree {
				im.warn("line %d: the spectrum and the L*a*b* beside it differ by ΔE00 %.1f; the spectrum is not used", s.Line, s.off)
			}
		}
		s.toD65()
		if s.LabD65 == nil {
			none++
		}
	}
	if none > 0 {
		im.warn("%d of %s no colour for D65, 2°: 10° or an unknown illuminant, and no usable spectrum; export spectra, or set the instrument to D65 and 2°",
			none, count(len(kept), "reading has", "readings have"))
	}
	return nil
}

// fromXYZ turns XYZ into L*a*b* by the white of the file.
func (s *Sample) fromXYZ() *Declined {
	if s.XYZ == nil {
		return nil
	}
	white := s.white
	if white == nil {
		if s.IlluminantFrom == Assumed || s.ObserverFrom == Assumed {
			return decline(s.Line, "say which illuminant and observer it was", "it gives XYZ without saying for which illuminant and observer, and L*a*b* depends on them")
		}
		il, ok := whites[seen{s.Illuminant, s.Observer}]
		if !ok {
			return decline(s.Line, "export L*a*b*", "it gives XYZ for %s, whose white is not known here", s.Illuminant)
		}
		white = &il.White
	}
	s.Lab = s.XYZ.Lab(*white)
	return nil
}

// convertible reports whether Lab itself leads to D65, 2° without any assumption.
func (s *Sample) convertible() bool {
	_, ok := whites[seen{s.Illuminant, s.Observer}]
	return ok && s.Observer == 2 && s.IlluminantFrom != Assumed && s.ObserverFrom != Assumed
}

// toD65 gives the colour for D65, 2°, if there is a way.
func (s *Sample) toD65() {
	at := seen{s.Illuminant, s.Observer}
	if s.usable {
		if r, err := s.Spectrum.Resample(); err == nil {
			c := r.Lab()
			s.LabD65, s.LabD65From = &c, "spectrum"
			return
		}
	}
	if at == (seen{"D65", 2}) {
		c := s.Lab
		s.LabD65, s.LabD65From = &c, "as measured"
		return
	}
	if il, ok := whites[at]; ok {
		if c, err := il.ToD65(s.Lab); err == nil {
			s.LabD65, s.LabD65From = &c, "Bradford"
		}
	}
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// apart is the difference between a spectrum's colour and the sample's own,
// ΔE00. Where the file does not state the condition, the best of the known ones
// counts. It is not known where the condition's power is not.
func apart(r *cie.Spectrum, s *Sample) (d float64, known bool) {
	d = -1
	for at := range weights {
		if s.IlluminantFrom == Stated && at.illuminant != s.Illuminant || s.ObserverFrom == Stated && at.observer != s.Observer {
			continue
		}
		if c, ok := labUnder(r, at); ok {
			if e := cie.DeltaE00(c, s.Lab); d < 0 || e < d {
				d = e
			}
		}
	}
	return d, d >= 0
}

// settle fills in the condition that the file leaves open.
func (im *Import) settle(s *Sample, opts Options) {
	if s.Illuminant == "" {
		switch {
		case opts.Illuminant != "":
			s.Illuminant, s.IlluminantFrom = illuminantName(opts.Illuminant), Given
		case im.convention:
			s.Illuminant, s.IlluminantFrom = "D50", Convention
			im.warn("the illuminant is not stated; D50, the usual one of this format, is taken")
		case s.fromSpectrum:
			s.Illuminant, s.IlluminantFrom = "D65", Computed
		default:
			s.Illuminant, s.IlluminantFrom = "D65", Assumed
			im.warn("the illuminant is not stated; D65 is assumed, say so if it was another")
		}
	}
	if s.Observer == 0 {
		switch {
		case opts.Observer != 0:
			s.Observer, s.ObserverFrom = opts.Observer, Given
		case im.convention:
			s.Observer, s.ObserverFrom = 2, Convention
			im.warn("the observer is not stated; 2°, the usual one of this format, is taken")
		case s.fromSpectrum:
			s.Observer, s.ObserverFrom = 2, Computed
		default:
			s.Observer, s.ObserverFrom = 2, Assumed
			im.warn("the observer is not stated; 2° is assumed, say so if it was 10°")
		}
	}
}
