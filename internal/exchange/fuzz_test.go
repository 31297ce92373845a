package exchange

import (
	"errors"
	"strings"
	"testing"
)

// checkImport holds what must be true of every file, however strange: an error
// is a Declined with a reason and no readings; a reading is a possible colour
// and has a key, and the same bytes give the same keys.
func checkImport(t *testing.T, data []byte, opts Options) {
	im, err := Read(data, "fuzz", opts)
	if err != nil {
		var d *Declined
		if !errors.As(err, &d) || d.Reason == "" || d.Line < 0 {
			t.Fatalf("error %#v", err)
		}
		if len(im.Readings) > 0 {
			t.Fatal("readings of a declined file")
		}
		return
	}
	if len(im.Readings) == 0 {
		t.Fatal("no readings and no error")
	}
	keys := map[string]bool{}
	for i := range im.Readings {
		s := &im.Readings[i]
		if p := labProblem(s.Lab); p != "" {
			t.Fatalf("line %d: %s", s.Line, p)
		}
		if s.LabD65 != nil && !s.LabD65.Finite() {
			t.Fatalf("line %d: D65 %v", s.Line, *s.LabD65)
		}
		if s.Line < 1 || s.Illuminant == "" || s.Observer != 2 && s.Observer != 10 {
			t.Fatalf("line %d: %q %d", s.Line, s.Illuminant, s.Observer)
		}
		if k := s.Key(); keys[k] {
			t.Fatalf("line %d: its key is taken", s.Line)
		} else {
			keys[k] = true
		}
		if _, err := s.MarshalJSON(); err != nil {
			t.Fatal(err)
		}
	}
	again, err := Read(data, "fuzz", opts)
	if err != nil || len(again.Readings) != len(im.Readings) {
		t.Fatalf("read twice: %v", err)
	}
	for i := range again.Readings {
		if !keys[again.Readings[i].Key()] {
			t.Fatal("read twice, another key")
		}
	}
}

func FuzzReadCSV(f *testing.F) {
	for _, s := range []string{
		"Name,Date,Time,Illuminant,Observer,L*,a*,b*\nBow,2026-01-05,09:12,D65,10,62.41,18.22,14.07\n",
		"\uFEFFMessung;Datum;Modus;L*(D65);a*(D65);b*(D65);dE*ab\r\nBow;05.01.2026;SCI;62,41;18,22;14,07;\r\n",
		"sep=;\nName;L*;a*;b*\nBow;1.056,00;1;2\n",
		"Instrument,one\n,,D65/10°,,,D50/2°,,\nName,Date,L*,a*,b*,L*,a*,b*\nBow,13/01/2026,1,2,3,4,5,6\n",
		"Name\tX\tY\tZ\tIll/Obs\nBow\t38\t40\t33\tD50/2\n",
		"LUX\t695\nCCT\t5198\nX\t682\n",
		"Name,400,410,420,430,440,450,460,470,480,490,500,510,520,530,540,550,560,570,580,590,600,610,620,630,640,650,660,670,680\nBow" + strings.Repeat(",0.5", 29) + "\n",
		toUTF16("Name;L;a;b\nBow;1;2;3\n", false),
		"Name,L*,a*,b*\n\"Bow,1,2,3\n",
		"L*,C*,h\n50,20,90\n50,-1,2\n---,---,---\n",
	} {
		f.Add([]byte(s), uint8(0))
		f.Add([]byte(s), uint8(3))
	}
	f.Fuzz(func(t *testing.T, data []byte, o uint8) {
		opts := Options{}
		if o&1 != 0 {
			opts.DateOrder = MonthFirst
		}
		if o&2 != 0 {
			opts.Illuminant, opts.Observer, opts.Mode = "D50", 10, "SCE"
		}
		checkImport(t, data, opts)
	})
}

func FuzzReadCGATS(f *testing.F) {
	for _, s := range []string{
		"ILLUMINATION_NAME \"D50\"\nOBSERVER_ANGLE \"2\"\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\n1 50 1 2\nEND_DATA\n",
		"WEIGHTING_FUNCTION \"ILLUMINANT, D65\"\nKEYWORD \"TIDE\"\nBEGIN_DATA_FORMAT\nSAMPLE_NAME XYZ_X XYZ_Y\nXYZ_Z\nEND_DATA_FORMAT\nBEGIN_DATA\n\"a \"\"b\"\"\" 38 40\n33 # note\nEND_DATA\n",
		"BEGIN_DATA_FORMAT\nSAMPLE_ID XYY_X XYY_Y XYY_CAPY\nEND_DATA_FORMAT\nBEGIN_DATA\n1 0.3 0.3 40 2 0.3\n0.3 40\n",
		"BEGIN_DATA_FORMAT\nSAMPLE_LOC\tLCH_L\tLCH_C\tLCH_H\nEND_DATA_FORMAT\nBEGIN_DATA\nA 1\t50\t1\t\nEND_DATA\nBEGIN_DATA_FORMAT\nRGB_R\nEND_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA\n",
		"WHITE_POINT 90 100 80\nMEASUREMENT_SOURCE \"Illumination=D65\tObserverAngle=10°\"\nBEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\nBEGIN_DATA\n1 0.3 0.4 0.3\nEND_DATA",
		"BEGIN_DATA_FORMAT END_DATA_FORMAT\nBEGIN_DATA\nEND_DATA\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		checkImport(t, append([]byte("CGATS.17\n"), data...), Options{})
	})
}

func FuzzReadCxF(f *testing.F) {
	spec := cxfSpecOf("s", "D65", "10_Degree", "Spectrum_Reflectance", oneAngle, `<WavelengthRange StartWL="400" Increment="10"/>`)
	for _, s := range []string{
		cxfFile("", cxfObjectOf("Bow", cxfLab("s", 50, 1, 2)), spec),
		cxfFile("cc", cxfObjectOf("Bow", `<ReflectanceSpectrum StartWL="400" ColorSpecification="s">0.1 0.2 0.3</ReflectanceSpectrum><CustomSpectrum ColorSpecification="s"><SpectralPoint WL="500">0.9</SpectralPoint></CustomSpectrum>`), spec),
		cxfFile("", cxfObjectOf("Bow", `<ColorCIELCh ColorSpecification="x"><L>50</L><C>20</C><H>180</H></ColorCIELCh><ColorCIEXYZ/>`), ""),
		`<?xml version="1.0" encoding="ISO-8859-1"?><!DOCTYPE a><CxF xmlns="` + cxfSpace + `"/>`,
		`<CxF xmlns="` + cxfSpace + `"><Resources><ObjectCollection><Object><ObjectCollection><Object/></ObjectCollection></Object></ObjectCollection></Resources></CxF>`,
		`<CxF xmlns="` + cxfSpace + `"><Resources><ColorSpecificationCollection><ColorSpecification><ColorSpecification/><Observer/></ColorSpecification></ColorSpecificationCollection></Resources></CxF>`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		checkImport(t, append([]byte("<?xml version='1.0'?>"), data...), Options{})
	})
}
