package exchange

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"sort"
	"strings"

	"golang.org/x/text/encoding/charmap"

	"lyefast/internal/cie"
)

// cxfSpace is the namespace of CxF3 (ISO 17972-1), whatever its prefix.
const cxfSpace = "http://colorexchangeformat.com/CxF3-core"

// maxDepth bounds how deep elements may nest: CxF3 needs ten.
const maxDepth = 64

// cxfSpec is a ColorSpecification.
type cxfSpec struct {
	condition
	kind       string // MeasurementType
	geometry   []string
	device     string
	multiAngle bool
	increment  float64 // nm; 0 if not stated
	start      float64 // nm; 0 if not stated
}

// emits reports whether what was measured is no reflecting object.
func (s *cxfSpec) emits() bool {
	k := strings.ToLower(s.kind)
	return strings.Contains(k, "emissive") || strings.Contains(k, "emission") || strings.Contains(k, "transmi") || strings.Contains(k, "radiance")
}

// cxfValue is one entry of ColorValues.
type cxfValue struct {
	element string // local name
	spec    string
	line    int
	parts   map[string]string // child elements of a tristimulus value
	text    string            // of a ReflectanceSpectrum
	start   string
	step    string
	points  [][2]string // wavelength, value
}

type cxfObject struct {
	id, name, kind, created string
	line                    int
	values                  []cxfValue
}

// cxfReader walks through the file once; the specifications stand after the
// objects that point to them, so the objects wait.
type cxfReader struct {
	*Import
	opts    Options
	dec     *xml.Decoder
	path    []string
	text    strings.Builder
	objects []cxfObject
	specs   map[string]*cxfSpec
	object  *cxfObject
	value   *cxfValue
	spec    *cxfSpec
	root    bool // the outermost element has been seen
	foreign int  // depth inside an element of another namespace
}

// tristimulus are the elements that give one colour; the others either give a
// spectrum or are no measurement (ColorSRGB, ColorCMYK, …).
var tristimulus = map[string][3]string{
	"ColorCIELab": {"L", "A", "B"},
	"ColorCIELCh": {"L", "C", "H"},
	"ColorCIEXYZ": {"X", "Y", "Z"},
}

var spectra = map[string]bool{
	"ReflectanceSpectrum": true, "CustomSpectrum": true,
}

// readCxF reads CxF3 XML as a stream of tokens. Document types are refused, and
// with them every entity but the five of XML itself.
func (im *Import) readCxF(text []byte, opts Options) *Declined {
	r := &cxfReader{Import: im, opts: opts, specs: map[string]*cxfSpec{}}
	r.dec = xml.NewDecoder(bytes.NewReader(text))
	named := false
	r.dec.CharsetReader = func(label string, input io.Reader) (io.Reader, error) {
		named = true
		switch strings.ToLower(label) {
		case "us-ascii", "ascii", "utf-16", "utf-16le", "utf-16be":
			return input, nil // the text is UTF-8 by now
		case "iso-8859-1", "latin1", "windows-1252", "cp1252":
			if im.Encoding == "UTF-8" { // valid as UTF-8 by chance; what the file says counts
				im.Encoding = "Windows-1252"
				return charmap.Windows1252.NewDecoder().Reader(input), nil
			}
			return input, nil
		}
		return nil, fmt.Errorf("the encoding %q is not read, save it as UTF-8", label)
	}
	for {
		line, _ := r.dec.InputPos()
		tok, err := r.dec.Token()
		var bad *xml.SyntaxError
		switch {
		case err == io.EOF:
			if len(r.path) == 0 && r.root {
				if im.Encoding == "Windows-1252" && !named {
					im.warn("it says UTF-8 and is not; it was read as Windows-1252, so look at the names")
				}
				return r.build()
			}
			return decline(line, "", "it holds no XML element")
		case errors.As(err, &bad):
			return decline(bad.Line, "", "the XML is damaged: %s", bad.Msg)
		case err != nil:
			return decline(line, "", "the XML is damaged: %s", err)
		}
		var refused *Declined
		switch t := tok.(type) {
		case xml.Directive:
			refused = decline(line, "export it without a DOCTYPE", "it has a document type (<!%.20s …), which is not read", string(t))
		case xml.StartElement:
			refused = r.start(t, line)
		case xml.CharData:
			if r.foreign == 0 {
				r.text.Write(t)
			}
		case xml.EndElement:
			refused = r.end()
		}
		if refused != nil {
			return refused
		}
	}
}

func attr(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name && (a.Name.Space == "" || a.Name.Space == cxfSpace) {
			return a.Value
		}
	}
	return ""
}

// parent is the name of the n-th element outside the innermost one.
func (r *cxfReader) parent(n int) string {
	if i := len(r.path) - 1 - n; i >= 0 {
		return r.path[i]
	}
	return ""
}

// Depth of CxF/Resources/ObjectCollection/Object, of the specifications beside
// them, and of Object/ColorValues/ColorCIELab.
const (
	objectDepth = 4
	valueDepth  = 6
)

// at reports whether the innermost element stands at that depth in that parent.
func (r *cxfReader) at(depth int, parent string) bool {
	return len(r.path) == depth && r.path[depth-2] == parent
}

func (r *cxfReader) start(t xml.StartElement, line int) *Declined {
	if !r.root {
		r.root = true
		if t.Name.Space != cxfSpace || t.Name.Local != "CxF" {
			what := fmt.Sprintf("its outermost element is %q", t.Name.Local)
			if t.Name.Space != "" {
				what += fmt.Sprintf(" of %q", t.Name.Space)
			}
			return decline(line, "export it as CxF3", "it is XML, but not CxF3: %s", what)
		}
	}
	if r.foreign > 0 || t.Name.Space != cxfSpace {
		if r.foreign++; r.foreign > maxDepth {
			return decline(line, "", "its elements nest more than %d deep", maxDepth)
		}
		return nil
	}
	if len(r.path) >= maxDepth {
		return decline(line, "", "its elements nest more than %d deep", maxDepth)
	}
	name := t.Name.Local
	r.path = append(r.path, name)
	r.text.Reset()
	switch {
	case name == "Object" && r.at(objectDepth, "ObjectCollection"):
		if len(r.objects) >= MaxRows {
			return decline(line, "split it", "it has more than %d objects", MaxRows)
		}
		r.object = &cxfObject{id: attr(t, "Id"), name: attr(t, "Name"), kind: attr(t, "ObjectType"), line: line}
	case r.object != nil && r.at(valueDepth, "ColorValues"):
		r.value = &cxfValue{
			element: name, spec: attr(t, "ColorSpecification"), line: line,
			start: attr(t, "StartWL"), step: attr(t, "Increment"), parts: map[string]string{},
		}
	case r.value != nil && name == "SpectralPoint":
		if len(r.value.points) > maxSpectrum {
			return decline(line, "", "a spectrum has more than %d points", maxSpectrum)
		}
		r.value.points = append(r.value.points, [2]string{attr(t, "WL"), ""})
	case name == "ColorSpecification" && r.at(objectDepth, "ColorSpecificationCollection"):
		if len(r.specs) >= MaxColumns {
			return decline(line, "", "it has more than %d colour specifications", MaxColumns)
		}
		r.spec = &cxfSpec{}
		if id := attr(t, "Id"); r.specs[id] != nil {
			r.warn("line %d: the colour specification %q stands twice; the first is used", line, id)
		} else {
			r.specs[id] = r.spec
		}
	case r.spec != nil && name == "WavelengthRange":
		r.spec.start, _ = number(attr(t, "StartWL"), '.')
		r.spec.increment, _ = number(attr(t, "Increment"), '.')
	case r.spec != nil && name == "MultiAngle":
		r.spec.multiAngle = true
	}
	return nil
}

func (r *cxfReader) end() *Declined {
	if r.foreign > 0 {
		r.foreign--
		return nil
	}
	name, above := r.parent(0), r.parent(1)
	text := strings.TrimSpace(r.text.String())
	r.text.Reset()
	defer func() { r.path = r.path[:len(r.path)-1] }()
	switch {
	case name == "Object" && r.at(objectDepth, "ObjectCollection"):
		r.objects = append(r.objects, *r.object)
		r.object = nil
	case r.value != nil && r.at(valueDepth, "ColorValues"):
		r.value.text = text
		r.object.values = append(r.object.values, *r.value)
		r.value = nil
	case r.value != nil && name == "SpectralPoint":
		r.value.points[len(r.value.points)-1][1] = text
	case r.value != nil:
		if above == r.value.element {
			r.value.parts[name] = text
		}
	case name == "CreationDate" && above == "Object" && r.object != nil:
		r.object.created = text
	case name == "CreationDate" && above == "FileInformation":
		r.Created = text
	case r.spec == nil:
	case r.at(objectDepth, "ColorSpecificationCollection"):
		r.spec = nil
	case name == "Illuminant" && above == "TristimulusSpec":
		if r.spec.illuminant = illuminantName(text); r.spec.illuminant == "" {
			r.spec.illuminant = strings.ToUpper(text)
		}
	case name == "Observer" && above == "TristimulusSpec":
		if r.spec.observer = observerDegrees(text); r.spec.observer == 0 && text != "" {
			r.warn("the observer %q is not understood", text)
		}
	case name == "MeasurementType":
		r.spec.kind = text
	case name == "Model" || name == "DeviceModel" || name == "Manufacturer":
		r.spec.device = strings.TrimSpace(r.spec.device + " " + text)
	case text != "" && inside(r.path, "GeometryChoice"):
		r.spec.geometry = append(r.spec.geometry, text)
		if strings.Contains(strings.ToLower(name), "specular") || strings.EqualFold(text, "SCI") || strings.EqualFold(text, "SCE") {
			r.spec.mode = modeName(text)
		}
	}
	return nil
}

func inside(path []string, name string) bool {
	for _, p := range path {
		if p == name {
			return true
		}
	}
	return false
}

// build turns the objects into readings, now that all specifications are known.
func (r *cxfReader) build() *Declined {
	elements := map[string]bool{}
	refused := ""
	for i := range r.objects {
		o := &r.objects[i]
		for _, v := range o.values {
			elements[v.element] = true
		}
		if why := r.reading(o); why != "" && refused == "" {
			refused = why
		}
	}
	for _, e := range []struct{ element, meaning string }{
		{"ColorCIELab", "L*, a*, b*"}, {"ColorCIELCh", "L*, C*, hue angle"}, {"ColorCIEXYZ", "X, Y, Z"},
		{"ReflectanceSpectrum", "reflectance"}, {"CustomSpectrum", "reflectance by wavelength"},
	} {
		if elements[e.element] {
			r.Columns = append(r.Columns, ColumnMeaning{len(r.Columns) + 1, e.element, e.meaning})
			delete(elements, e.element)
		}
	}
	rest := make([]string, 0, len(elements))
	for e := range elements {
		rest = append(rest, e)
	}
	sort.Strings(rest)
	for _, e := range rest[:min(len(rest), 50)] {
		m := qUnknown
		if strings.HasSuffix(e, "RGB") || strings.HasPrefix(e, "ColorCMYK") {
			m = qDevice
		}
		r.Columns = append(r.Columns, ColumnMeaning{len(r.Columns) + 1, e, string(m)})
	}
	scaleXYZ(r.Import)
	if len(r.Readings) == 0 && refused != "" {
		return decline(0, "export the reflectance of one angle, or L*a*b*", "%s", refused)
	}
	if len(r.objects) == 0 {
		return decline(0, "", "it holds no objects, only what describes the file")
	}
	return nil
}

// reading turns one object into one reading: of several colours the one whose
// condition is nearest to D65, 2°, of several spectra the one beside it. It
// gives the reason where the object is of a kind that must be declined.
func (r *cxfReader) reading(o *cxfObject) (refused string) {
	var lab, light *cxfValue
	best := -1
	var problems []string
	for i := range o.values {
		v := &o.values[i]
		_, colour := tristimulus[v.element]
		if v.element == "EmissiveSpectrum" || v.element == "TransmittanceSpectrum" || v.element == "TransmissionSpectrum" {
			refused = fmt.Sprintf("it holds the light of a lamp, a screen or a filter (%s), not the colour of an object", v.element)
			continue
		}
		if !colour && !spectra[v.element] {
			continue
		}
		spec := r.specs[v.spec]
		if spec == nil {
			if v.spec == "" {
				r.warn("some colours name no colour specification")
			} else {
				r.warn("the colour specification %q is not in the file", v.spec)
			}
			spec = &cxfSpec{}
		}
		switch {
		case spec.emits():
			refused = fmt.Sprintf("it measures light and not a reflecting object (%s)", spec.kind)
			continue
		case spec.multiAngle:
			refused = "it measures at several angles, and a reading has one colour"
			continue
		case !colour:
			continue
		}
		p := spec.condition.preference()*4 + map[string]int{"ColorCIELab": 3, "ColorCIELCh": 2, "ColorCIEXYZ": 1}[v.element]
		if p > best {
			best, lab = p, v
		}
	}
	s := Sample{Name: o.name, ID: o.id, Type: o.kind, Line: o.line}
	if s.Name == "" {
		s.Name = o.id
	}
	for i := range o.values {
		v := &o.values[i]
		spec := r.specs[v.spec]
		if !spectra[v.element] || spec != nil && (spec.emits() || spec.multiAngle) || light != nil && (lab == nil || v.spec != lab.spec) {
			continue
		}
		if sp, err := r.spectrum(v, spec); err == nil {
			s.Spectrum, light = sp, v
		} else {
			problems = append(problems, err.Error())
		}
	}
	switch {
	case lab == nil && light == nil:
		switch {
		case len(problems) > 0:
			r.reject(o.line, "object %q: %s", s.Name, problems[0])
		case refused != "":
			r.skip(o.line, "object %q: %s", s.Name, refused)
		default:
			r.skip(o.line, "object %q holds no measured colour", s.Name)
		}
		return refused
	case lab == nil:
		s.fromSpectrum = true
	default:
		if err := r.colour(&s, lab); err != nil {
			r.reject(lab.line, "object %q: %s", s.Name, err)
			return ""
		}
	}
	for _, p := range problems {
		r.warn("object %q: %s", s.Name, p)
	}
	main := lab
	if main == nil {
		main = light
	}
	if spec := r.specs[main.spec]; spec != nil {
		s.setCondition(spec.condition)
		s.Instrument, s.Geometry = spec.device, strings.Join(spec.geometry, " ")
	}
	if o.created != "" {
		w, err := takeApart(o.created)
		if err == nil {
			s.TakenAt, err = w.moment(DayFirst, "", r.opts.location())
		}
		if err != nil {
			r.warn("object %q: %s", s.Name, err)
		}
	}
	r.Readings = append(r.Readings, s)
	return ""
}

// colour reads a tristimulus value into s.
func (r *cxfReader) colour(s *Sample, v *cxfValue) error {
	var x [3]float64
	for k, part := range tristimulus[v.element] {
		text, ok := v.parts[part]
		if !ok {
			return fmt.Errorf("%s has no %s", v.element, part)
		}
		var err error
		if x[k], err = number(text, '.'); err != nil {
			return fmt.Errorf("%s: %w", part, err)
		}
	}
	switch v.element {
	case "ColorCIELab":
		s.Lab = cie.Lab{L: x[0], A: x[1], B: x[2]}
	case "ColorCIELCh":
		if x[1] < 0 {
			return fmt.Errorf("C is %s, and must not be negative", plain(x[1]))
		}
		s.Lab = cie.LCh{L: x[0], C: x[1], H: x[2]}.Lab()
	default:
		s.XYZ = &cie.XYZ{X: x[0], Y: x[1], Z: x[2]}
		return nil
	}
	if p := labProblem(s.Lab); p != "" {
		return errors.New(p)
	}
	return nil
}

// spectrum reads a spectrum; spec may be nil.
func (r *cxfReader) spectrum(v *cxfValue, spec *cxfSpec) (*Spectrum, error) {
	var nm, refl []float64
	if len(v.points) > 0 {
		for _, p := range v.points {
			w, err := number(p[0], '.')
			if err != nil {
				return nil, fmt.Errorf("%s: the wavelength %w", v.element, err)
			}
			x, err := number(p[1], '.')
			if err != nil {
				return nil, fmt.Errorf("%s at %s nm: %w", v.element, p[0], err)
			}
			nm, refl = append(nm, w), append(refl, x)
		}
	} else {
		var start, step float64
		if spec != nil {
			start, step = spec.start, spec.increment
		}
		if w, err := number(v.start, '.'); err == nil {
			start = w
		}
		if w, err := number(v.step, '.'); err == nil {
			step = w
		}
		if start < 200 || start > 1200 || step < 0.5 || step > 100 {
			return nil, fmt.Errorf("%s: the first wavelength and the step are not both stated", v.element)
		}
		fields := strings.Fields(v.text)
		if len(fields) > maxSpectrum {
			return nil, fmt.Errorf("%s has more than %d values", v.element, maxSpectrum)
		}
		for i, f := range fields {
			x, err := number(f, '.')
			if err != nil {
				return nil, fmt.Errorf("%s, value %d: %w", v.element, i+1, err)
			}
			nm, refl = append(nm, start+float64(i)*step), append(refl, x)
		}
	}
	if len(nm) == 0 {
		return nil, fmt.Errorf("%s is empty", v.element)
	}
	return newSpectrum(nm, refl)
}
