package exchange

import (
	"fmt"
	"strings"
	"testing"
)

// cxfFile puts objects and specifications into a file, with the given prefix.
func cxfFile(prefix, objects, specs string) string {
	decl := `xmlns="` + cxfSpace + `"`
	if prefix != "" {
		decl = `xmlns:` + prefix + `="` + cxfSpace + `"`
	}
	body := `<CxF><FileInformation><Creator>the harbour</Creator><CreationDate>2026-01-05T09:12:00+01:00</CreationDate></FileInformation>` +
		`<Resources><ObjectCollection>` + objects + `</ObjectCollection><ColorSpecificationCollection>` + specs + `</ColorSpecificationCollection></Resources></CxF>`
	if prefix != "" {
		body = strings.ReplaceAll(strings.ReplaceAll(body, "</", "\x01"), "<", "<"+prefix+":")
		body = strings.ReplaceAll(body, "\x01", "</"+prefix+":")
		return strings.Replace(body, "<"+prefix+":CxF", "<"+prefix+":CxF "+decl, 1)
	}
	return strings.Replace(body, "<CxF", "<CxF "+decl, 1)
}

func cxfSpecOf(id, illuminant, observer, kind, geometry, more string) string {
	return fmt.Sprintf(`<ColorSpecification Id="%s"><TristimulusSpec><Illuminant>%s</Illuminant><Observer>%s</Observer><Method>E308_Table5</Method></TristimulusSpec>`+
		`<MeasurementSpec><MeasurementType>%s</MeasurementType><GeometryChoice>%s</GeometryChoice>%s</MeasurementSpec></ColorSpecification>`, id, illuminant, observer, kind, geometry, more)
}

func cxfObjectOf(name, values string) string {
	return `<Object ObjectType="Standard" Name="` + name + `" Id="o-` + name + `"><CreationDate>2026-01-06T08:00:00Z</CreationDate><ColorValues>` + values + `</ColorValues></Object>`
}

func cxfLab(spec string, l, a, b float64) string {
	return fmt.Sprintf(`<ColorCIELab ColorSpecification="%s"><L>%v</L><A>%v</A><B>%v</B></ColorCIELab>`, spec, l, a, b)
}

const oneAngle = `<SingleAngle><SingleAngleConfiguration>Annular</SingleAngleConfiguration></SingleAngle>`

func TestCxFTraps(t *testing.T) {
	d50 := cxfSpecOf("s", "D50", "2_Degree", "Colorimetric_Reflectance", oneAngle, "")
	t.Run("any prefix or none", func(t *testing.T) {
		for _, prefix := range []string{"", "cc", "CxF3", "x-y"} {
			for _, head := range []string{"", `<?xml version="1.0" encoding="UTF-8"?>` + "\r\n", "\uFEFF<?xml version='1.0'?>\n<!-- dawn -->\n"} {
				im := read(t, head+cxfFile(prefix, cxfObjectOf("Bow", cxfLab("s", 50, 10, -20)), d50), Options{})
				mustRead(t, im, "Bow|2026-01-06T08:00:00Z|50 10 -20|D50/2")
				same(t, "created", im.Created, "2026-01-05T09:12:00+01:00")
				same(t, "geometry", im.Readings[0].Geometry, "Annular")
			}
		}
	})
	t.Run("encodings", func(t *testing.T) {
		text := cxfFile("", cxfObjectOf("Möwe", cxfLab("s", 50, 10, -20)), d50)
		for name, s := range map[string]string{
			"UTF-16":       "\xFF\xFE" + toUTF16(`<?xml version="1.0" encoding="UTF-16"?>`+text, false),
			"Latin-1":      `<?xml version="1.0" encoding="ISO-8859-1"?>` + strings.ReplaceAll(text, "ö", "\xF6"),
			"wrongly said": `<?xml version="1.0" encoding="UTF-8"?>` + strings.ReplaceAll(text, "ö", "\xF6"),
		} {
			im := read(t, s, Options{})
			mustRead(t, im, "Möwe|2026-01-06T08:00:00Z|50 10 -20|D50/2")
			if name == "wrongly said" {
				mustWarn(t, im, "says UTF-8 and is not")
			}
		}
		mustDecline(t, `<?xml version="1.0" encoding="EBCDIC"?>`+text, Options{}, "EBCDIC", "save it as UTF-8")
	})
	t.Run("other elements inside", func(t *testing.T) {
		text := cxfFile("", `<Object ObjectType="Target" Name="Bare" Id="b"><CreationDate>2026-01-06T08:00:00Z</CreationDate></Object>`+
			cxfObjectOf("Bow", `<v:ColorCIELab xmlns:v="urn:vendor" ColorSpecification="s"><L>1</L></v:ColorCIELab><ColorSRGB ColorSpecification="s"><R>1</R><G>2</G><B>3</B></ColorSRGB>`+cxfLab("s", 50, 10, -20)),
			d50)
		im := read(t, text, Options{})
		mustRead(t, im, "Bow|2026-01-06T08:00:00Z|50 10 -20|D50/2")
		same(t, "bare object", im.Skipped[0].Reason, `object "Bare" holds no measured colour`)
		same(t, "not a rejection", im.Rejected(), 0)
	})
	t.Run("several values, other specifications", func(t *testing.T) {
		specs := d50 + cxfSpecOf("t", "D65", "10_Degree", "Spectrum_Reflectance", oneAngle, "") + cxfSpecOf("u", "D65", "2_Degree", "Spectrum_Reflectance", oneAngle, "")
		mustRead(t, read(t, cxfFile("", cxfObjectOf("Bow", cxfLab("t", 1, 1, 1)+cxfLab("s", 2, 2, 2)+cxfLab("u", 3, 3, 3)), specs), Options{}), "Bow|2026-01-06T08:00:00Z|3 3 3|D65/2")
		mustRead(t, read(t, cxfFile("", cxfObjectOf("Bow", cxfLab("t", 1, 1, 1)+cxfLab("s", 2, 2, 2)), specs), Options{}), "Bow|2026-01-06T08:00:00Z|2 2 2|D50/2")
	})
	t.Run("missing specification", func(t *testing.T) {
		im := read(t, cxfFile("", cxfObjectOf("Bow", cxfLab("gone", 50, 10, -20)), ""), Options{})
		mustRead(t, im, "Bow|2026-01-06T08:00:00Z|50 10 -20|D50/2")
		same(t, "from", im.Readings[0].IlluminantFrom, Convention)
		mustWarn(t, im, `"gone" is not in the file`)
		// Without its specification a spectrum has no step.
		mustDecline(t, cxfFile("", cxfObjectOf("Bow", `<ReflectanceSpectrum StartWL="400" ColorSpecification="gone">0.1 0.2 0.3</ReflectanceSpectrum>`), ""), Options{}, "step")
	})
	t.Run("document types", func(t *testing.T) {
		mustDecline(t, `<?xml version="1.0"?><!DOCTYPE CxF [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>`+cxfFile("", cxfObjectOf("&b;", cxfLab("s", 50, 1, 2)), d50), Options{}, "document type")
		mustDecline(t, cxfFile("", cxfObjectOf("&sea;", cxfLab("s", 50, 1, 2)), d50), Options{}, "damaged", "sea")
	})
	t.Run("not CxF3", func(t *testing.T) {
		mustDecline(t, `<html><body/></html>`, Options{}, "not CxF3", "html")
		mustDecline(t, `<CxF xmlns="http://colorexchangeformat.com/v2"/>`, Options{}, "not CxF3", "v2")
		mustDecline(t, `<CxF xmlns="`+cxfSpace+`"><Resources>`, Options{}, "damaged")
		mustDecline(t, `<!-- only this -->`, Options{}, "no XML element")
		mustDecline(t, cxfFile("", "", ""), Options{}, "no objects")
		deep := strings.Repeat("<a>", 100)
		mustDecline(t, `<CxF xmlns="`+cxfSpace+`">`+deep, Options{}, "deep")
		mustDecline(t, `<CxF xmlns="`+cxfSpace+`" xmlns:v="urn:v">`+strings.Repeat("<v:a>", 100), Options{}, "deep")
	})
	t.Run("light and several angles", func(t *testing.T) {
		mustDecline(t, cxfFile("", cxfObjectOf("Lamp", cxfLab("s", 50, 1, 2)), cxfSpecOf("s", "D50", "2_Degree", "Colorimetric_Emissive", oneAngle, "")), Options{}, "Colorimetric_Emissive")
		mustDecline(t, cxfFile("", cxfObjectOf("Lamp", `<EmissiveSpectrum ColorSpecification="s" StartWL="380">1 2 3</EmissiveSpectrum>`), d50), Options{}, "EmissiveSpectrum")
		mustDecline(t, cxfFile("", cxfObjectOf("Pearl", cxfLab("s", 50, 1, 2)), cxfSpecOf("s", "D50", "2_Degree", "Spectrum_Reflectance", `<MultiAngle><Angle>15</Angle></MultiAngle>`, "")), Options{}, "several angles")
		im := read(t, cxfFile("", cxfObjectOf("Lamp", cxfLab("e", 50, 1, 2))+cxfObjectOf("Bow", cxfLab("s", 50, 1, 2)), d50+cxfSpecOf("e", "D50", "2_Degree", "Colorimetric_Emissive", oneAngle, "")), Options{})
		mustRead(t, im, "Bow|2026-01-06T08:00:00Z|50 1 2|D50/2")
	})
	t.Run("gloss", func(t *testing.T) {
		specs := cxfSpecOf("s", "D65", "2_Degree", "Spectrum_Reflectance", `<Sphere><SpecularComponent>Excluded</SpecularComponent></Sphere>`, "")
		mustRead(t, read(t, cxfFile("", cxfObjectOf("Bow", cxfLab("s", 50, 1, 2)), specs), Options{}), "Bow|2026-01-06T08:00:00Z|50 1 2|D65/2|SCE")
	})
	t.Run("LCh and XYZ", func(t *testing.T) {
		im := read(t, cxfFile("", cxfObjectOf("Bow", `<ColorCIELCh ColorSpecification="s"><L>50</L><C>20</C><H>180</H></ColorCIELCh>`)+
			cxfObjectOf("Stern", `<ColorCIEXYZ ColorSpecification="s"><X>96.42</X><Y>100</Y><Z>82.51</Z></ColorCIEXYZ>`), d50), Options{})
		near(t, "a*", im.Readings[0].Lab.A, -20, 1e-9)
		near(t, "L*", im.Readings[1].Lab.L, 100, 1e-9)
	})
	t.Run("impossible values", func(t *testing.T) {
		im := read(t, cxfFile("", cxfObjectOf("A", cxfLab("s", 120, 0, 0))+cxfObjectOf("B", `<ColorCIELab ColorSpecification="s"><L>5</L><A>x</A><B>1</B></ColorCIELab>`)+
			cxfObjectOf("C", `<ColorCIELab ColorSpecification="s"><L>5</L></ColorCIELab>`)+cxfObjectOf("D", cxfLab("s", 50, 1, 2)), d50), Options{})
		mustRead(t, im, "D|2026-01-06T08:00:00Z|50 1 2|D50/2")
		same(t, "rejected", im.Rejected(), 3)
		same(t, "A", im.Skipped[0].Reason, `object "A": L* 120 is outside 0..100`)
		same(t, "B", im.Skipped[1].Reason, `object "B": A: "x" is not a number`)
		same(t, "C", im.Skipped[2].Reason, `object "C": ColorCIELab has no A`)
	})
	t.Run("dates", func(t *testing.T) {
		for created, want := range map[string]string{
			"2026-01-06T08:00:00": "2026-01-06T08:00:00", "2026-01-06T08:00:00.000Z": "2026-01-06T08:00:00Z", "2026-01-06": "2026-01-06",
			"2024-02-29T00:00:00-05:00": "2024-02-29T00:00:00-05:00", "dawn": "", "2026-01-06T24:00:00Z": "",
		} {
			im := read(t, strings.Replace(cxfFile("", cxfObjectOf("A", cxfLab("s", 50, 1, 2)), d50), "2026-01-06T08:00:00Z", created, 1), Options{})
			same(t, created, im.Readings[0].TakenAt.String(), want)
			if want == "" {
				mustWarn(t, im, `object "A"`)
			}
		}
	})
}

func TestCxFSpectra(t *testing.T) {
	full, _ := sampled(1, 380, 730, 10).Resample()
	truth := full.Lab()
	spec := func(more string) string {
		return cxfSpecOf("s", "D65", "10_Degree", "Spectrum_Reflectance", oneAngle, more)
	}
	list, points := "", ""
	for w := 400; w <= 700; w += 10 {
		list += fmt.Sprintf(" %.6f\n", smooth(1, float64(w)))
		// Out of order, and each twice: with the value again and a hair beside it.
		x := 400 + (w*7)%310
		points += fmt.Sprintf(`<SpectralPoint WL="%d">%.6f</SpectralPoint><SpectralPoint WL="%d">%.6f</SpectralPoint>`, x, smooth(1, float64(x)), x, smooth(1, float64(x))+0.0002)
	}
	for name, values := range map[string]string{
		"from the specification": `<ReflectanceSpectrum StartWL="400" ColorSpecification="s">` + list + `</ReflectanceSpectrum>`,
		"start there too":        `<ReflectanceSpectrum ColorSpecification="s">` + list + `</ReflectanceSpectrum>`,
		"points":                 `<CustomSpectrum ColorSpecification="s">` + points + `</CustomSpectrum>`,
	} {
		im := read(t, cxfFile("cc", cxfObjectOf("Bow", values), spec(`<WavelengthRange StartWL="400" Increment="10"/>`)), Options{})
		s := im.Readings[0]
		same(t, name+": wavelengths", len(s.Spectrum.NM), 31)
		same(t, name+": first", s.Spectrum.NM[0], 400.0)
		same(t, name+": condition", seen{s.Illuminant, s.Observer}, seen{"D65", 10})
		for i, v := range triple(*s.LabD65) {
			near(t, name, v, triple(truth)[i], 0.1) // the ends below 400 and above 700 are held
		}
		if s.Lab == *s.LabD65 {
			t.Error("the 10° colour is that of 2°")
		}
	}
	// Noise below 0 and brightener above 1 are kept as measured.
	bright := strings.Replace(strings.Replace(list, fmt.Sprintf("%.6f", smooth(1, 400)), "-0.003", 1), fmt.Sprintf("%.6f", smooth(1, 450)), "1.08", 1)
	im := read(t, cxfFile("", cxfObjectOf("Bow", `<ReflectanceSpectrum StartWL="400" ColorSpecification="s">`+bright+`</ReflectanceSpectrum>`), spec(`<WavelengthRange Increment="10"/>`)), Options{})
	same(t, "below 0", im.Readings[0].Spectrum.R[0], -0.003)
	same(t, "above 1", im.Readings[0].Spectrum.R[5], 1.08)
	// Two values of one wavelength that contradict each other.
	mustDecline(t, cxfFile("", cxfObjectOf("Bow", `<CustomSpectrum ColorSpecification="s">`+points+`<SpectralPoint WL="500">0.9</SpectralPoint></CustomSpectrum>`), spec("")), Options{}, "500 nm stands twice")
	mustDecline(t, cxfFile("", cxfObjectOf("Bow", `<ReflectanceSpectrum StartWL="400" ColorSpecification="s">0.1 0,2 0.3</ReflectanceSpectrum>`), spec(`<WavelengthRange Increment="10"/>`)), Options{}, "value 2")
	// Beside a colour, a spectrum that cannot be read does no harm.
	im = read(t, cxfFile("", cxfObjectOf("Bow", cxfLab("s", 50, 1, 2)+`<ReflectanceSpectrum StartWL="400" ColorSpecification="s">0.1 x</ReflectanceSpectrum>`), spec(`<WavelengthRange Increment="10"/>`)), Options{})
	mustRead(t, im, "Bow|2026-01-06T08:00:00Z|50 1 2|D65/10")
	mustWarn(t, im, "value 2")
}
