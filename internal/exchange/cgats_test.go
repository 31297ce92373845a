package exchange

import (
	"fmt"
	"strings"
	"testing"
)

const cgatsHead = "CGATS.17\nILLUMINATION_NAME \"D50\"\nOBSERVER_ANGLE \"2\"\n"

func TestCGATSTraps(t *testing.T) {
	t.Run("line ends, marks and encodings", func(t *testing.T) {
		text := "CGATS.17\nMEASUREMENT_SOURCE \"Illumination=D65\tObserverAngle=10°\"\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\nEND_DATA\n"
		for name, s := range map[string]string{
			"LF": text, "CRLF": strings.ReplaceAll(text, "\n", "\r\n"), "CR": strings.ReplaceAll(text, "\n", "\r"),
			"mark": "\uFEFF" + text, "Latin-1": strings.ReplaceAll(text, "°", "\xB0"), "UTF-16": "\xFF\xFE" + toUTF16(text, false),
			"blank lines": strings.ReplaceAll(text, "\n", "\n\n  \n\t\n"), "trailing tabs": strings.ReplaceAll(text, "\n", "\t\t\t\n"),
			"comments": strings.ReplaceAll(text, "\n", " # a remark\n# another\n"),
		} {
			im := read(t, s, Options{})
			same(t, name+": format", im.Format, CGATS)
			mustRead(t, im, "1||50 1 2|D65/10")
		}
	})
	t.Run("no first line, blanks in values, quoted marks", func(t *testing.T) {
		im := read(t, "CREATED 5 January 2026\nINSTRUMENTATION \"Lamp #3, \"\"blue\"\"\" # not this\nKEYWORD \"TIDE\"\nTIDE \"high\"\nILLUMINANT D50 # the usual\nOBSERVER 2\n"+
			"BEGIN_DATA_FORMAT\nSAMPLE_NAME\tLAB_L\tLAB_A\tLAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n\"Bow #1\" 50 1 2\nEND_DATA\n", Options{})
		mustRead(t, im, "Bow #1||50 1 2|D50/2")
		same(t, "created", im.Created, "5 January 2026")
		same(t, "instrument", im.Readings[0].Instrument, `Lamp #3, "blue"`)
	})
	t.Run("wrapped rows and formats", func(t *testing.T) {
		im := read(t, cgatsHead+"NUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME\nLAB_L\nLAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 \"Bow one\" 50\n1 2\n2 Stern\n60 3\n4\nEND_DATA\n", Options{})
		mustRead(t, im, "Bow one||50 1 2|D50/2", "Stern||60 3 4|D50/2")
		same(t, "line", im.Readings[1].Line, 14)
		same(t, "warnings", len(im.Warnings), 0)
		// Rows that run on within a line are taken only where the count bears it out.
		run := "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2 2 60\n3 4\nEND_DATA\n"
		mustRead(t, read(t, cgatsHead+"NUMBER_OF_SETS 2\n"+run, Options{}), "1||50 1 2|D50/2", "2||60 3 4|D50/2")
		mustDecline(t, cgatsHead+run, Options{}, "do not come out even")
	})
	t.Run("counts are checked, blocks trusted", func(t *testing.T) {
		im := read(t, cgatsHead+"NUMBER_OF_FIELDS 7\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 9\nBEGIN_DATA\n1 50 1 2\nEND_DATA\n", Options{})
		mustRead(t, im, "1||50 1 2|D50/2")
		mustWarn(t, im, "NUMBER_OF_FIELDS says 7, and 4 are named")
		mustWarn(t, im, "NUMBER_OF_SETS says 9, and 1 rows were found")
	})
	t.Run("a value is lacking", func(t *testing.T) {
		d := mustDecline(t, cgatsHead+"BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\n2 50 1\n3 50 1 2\nEND_DATA\n", Options{}, "11 values for 4 fields", "has 3")
		same(t, "line", d.Line, 9)
		// One short and one long row must not pass as wrapped ones.
		mustDecline(t, cgatsHead+"BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1\nBow 2 50 1 2\nEND_DATA\n", Options{}, "do not come out even")
	})
	t.Run("empty cells and blanks between tabs", func(t *testing.T) {
		im := read(t, cgatsHead+"BEGIN_DATA_FORMAT\nSAMPLE_ID\tSAMPLE_NAME\tLAB_L\tLAB_A\tLAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1\tBow at dawn\t50\t1\t2\n2\t\t60\t3\t4\n3\tStern\t\t\t\t\nEND_DATA\n", Options{})
		mustRead(t, im, "Bow at dawn||50 1 2|D50/2", "2||60 3 4|D50/2")
		same(t, "no colour", im.Skipped[0].Reason, "it holds no colour")
	})
	t.Run("several tables", func(t *testing.T) {
		one := "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\nEND_DATA\n"
		im := read(t, cgatsHead+"WEIGHTING_FUNCTION \"ILLUMINANT, D50\"\n"+one+"CGATS.17\nILLUMINANT D65\nOBSERVER 10\n"+strings.Replace(one, "1 50", "2 60", 1)+
			strings.Replace(one, "1 50", "3 70", 1)+"BEGIN_DATA_FORMAT\nRGB_R RGB_I\nEND_DATA_FORMAT\nBEGIN_DATA\n0 0.1\n1 0.9\nEND_DATA\n", Options{})
		// The third table states nothing of its own, so it keeps the second's.
		mustRead(t, im, "1||50 1 2|D50/2", "2||60 1 2|D65/10", "3||70 1 2|D65/10")
	})
	t.Run("conditions", func(t *testing.T) {
		for _, c := range []struct{ head, want string }{
			{"", "D50/2"},
			{"ILLUMINANT D65\n", "D65/2"},
			{"WEIGHTING_FUNCTION \"ILLUMINANT, D65\"\nWEIGHTING_FUNCTION \"OBSERVER, 10 degree\"\n", "D65/10"},
			{"ILLUMINATION_NAME \"D50\"\nWEIGHTING_FUNCTION \"ILLUMINANT,D65\"\n", "D65/2"},
			{"OBSERVER \"CIE 1964\"\n", "D50/10"},
			{"OBSERVER_ANGLE 10°\n", "D50/10"},
			{"ILLUMINANT \"D65, 10 degree\"\n", "D65/10"},
			{"ILLUMINANT Moonlight\n", "MOONLIGHT/2"},
		} {
			im := read(t, "CGATS.17\n"+c.head+"BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\nEND_DATA\n", Options{})
			mustRead(t, im, "1||50 1 2|"+c.want)
			s := im.Readings[0]
			if !strings.Contains(c.head, "ILLUM") {
				same(t, "illuminant from", s.IlluminantFrom, Convention)
				mustWarn(t, im, "the illuminant is not stated; D50")
			}
			if strings.Contains(c.head, "Moon") && s.LabD65 != nil {
				t.Error("an unknown lamp has a colour for D65")
			}
		}
	})
	t.Run("XYZ on both scales, LCH, xyY", func(t *testing.T) {
		table := func(fields string, rows ...string) string {
			return cgatsHead + "BEGIN_DATA_FORMAT\nSAMPLE_ID " + fields + "\nEND_DATA_FORMAT\nBEGIN_DATA\n" + strings.Join(rows, "\n") + "\nEND_DATA\n"
		}
		const l40 = 69.46953076845515 // 116 ∛0.4 − 16
		for _, text := range []string{
			table("XYZ_X XYZ_Y XYZ_Z", "1 38.5718 40 33.0042", "2 96.42 100 82.51"),
			table("XYZ_X XYZ_Y XYZ_Z", "1 0.385718 0.40 0.330042", "2 0.9642 1 0.8251"),
			table("XYY_X XYY_Y XYY_CAPY", "1 0.3457 0.3585 40", "2 0.3457 0.3585 100"),
			table("LAB_L LAB_C LAB_H", fmt.Sprintf("1 %v 0 0", l40), "2 100 0 0"),
			table("LCH_L LCH_C LCH_H", fmt.Sprintf("1 %v 0 120", l40), "2 100 0 0"),
			table("XYZ_X XYZ_Y XYZ_Z LAB_L LAB_A LAB_B", fmt.Sprintf("1 1 1 1 %v 0 0", l40), "2 1 1 1 100 0 0"),
		} {
			im := read(t, text, Options{})
			for i, want := range []float64{l40, 100} {
				c := im.Readings[i].Lab
				near(t, "L*", c.L, want, 1e-4)
				near(t, "a*", c.A, 0, 0.02) // 96.42 and 96.43 are both published for D50's X
				near(t, "b*", c.B, 0, 0.02)
				near(t, "b* for D65", im.Readings[i].LabD65.B, 0, 0.02)
			}
		}
		// A white of the file's own outranks the illuminant's.
		im := read(t, "CGATS.17\nWHITE_POINT \"90 100 80\"\n"+strings.TrimPrefix(table("XYZ_X XYZ_Y XYZ_Z", "1 0.36 0.4 0.32"), cgatsHead), Options{})
		near(t, "dark on the scale of 100", im.Readings[0].Lab.L, 116*(24389.0/27*0.004+16)/116-16, 1e-9)
		near(t, "neutral to its white", im.Readings[0].Lab.A, 0, 1e-9)
		mustDecline(t, table("LAB_L LAB_C LAB_H", "1 50 -3 0"), Options{}, "C* -3 is negative")
		mustDecline(t, table("XYY_X XYY_Y XYY_CAPY", "1 0.3 0 40"), Options{}, "XYY_Y is 0")
	})
	t.Run("impossible and missing values", func(t *testing.T) {
		im := read(t, cgatsHead+"BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\n2 105 1 2\n3 --- --- ---\n4 50 --- 2\n5 50 x 2\nEND_DATA\n", Options{})
		mustRead(t, im, "1||50 1 2|D50/2")
		var got []string
		for _, s := range im.Skipped {
			got = append(got, fmt.Sprintf("%d %v %s", s.Line, s.Rejected, s.Reason))
		}
		same(t, "skipped", strings.Join(got, "; "), `9 true L* 105 is outside 0..100; 10 false it holds no colour; 11 true the colour is not whole: 1 of 3 values are missing; 12 true LAB_A: "x" is not a number`)
	})
	t.Run("no colours", func(t *testing.T) {
		mustDecline(t, cgatsHead+"BEGIN_DATA_FORMAT\nSAMPLE_ID D_RED D_GREEN D_BLUE\nEND_DATA_FORMAT\nBEGIN_DATA\n1 0.1 0.2 0.3\nEND_DATA\n", Options{}, "no colours of objects", "D_RED")
		mustDecline(t, "CTI3\nDEVICE_CLASS \"DISPLAY\"\nBEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\nBEGIN_DATA\n1 10 20 30\nEND_DATA\n", Options{}, "screen or a lamp", "line 2")
		mustDecline(t, "CGATS.17\nBEGIN_DATA\n1 2 3\nEND_DATA\n", Options{}, "before any BEGIN_DATA_FORMAT")
		mustDecline(t, "CGATS.17\nBEGIN_DATA_FORMAT\nLAB_L LAB_A\n", Options{}, "no END_DATA_FORMAT", "line 2")
		mustDecline(t, cgatsHead+"BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\nEND_DATA\n", Options{}, "no colour")
	})
	t.Run("cut short", func(t *testing.T) {
		im := read(t, cgatsHead+"BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\n2 60 1 2\n", Options{})
		same(t, "rows", len(im.Readings), 2)
		mustWarn(t, im, "no END_DATA")
	})
	t.Run("a quotation mark is not closed", func(t *testing.T) {
		im := read(t, "CGATS.17\nORIGINATOR \"me\nILLUMINANT D50\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\nEND_DATA\n", Options{})
		mustRead(t, im, "1||50 1 2|D50/2")
		mustWarn(t, im, "line 2: a quotation mark is not closed")
	})
}

// Wavelength fields in all spellings, per cent and fractions, long waves first.
func TestCGATSSpectra(t *testing.T) {
	full, _ := sampled(2, 380, 730, 10).Resample()
	truth := full.Lab()
	for _, spelling := range []string{"SPECTRAL_NM%d", "SPECTRAL_%d", "SPEC_%d", "nm%d", "NM%d", "%d", "SPECTRAL_NM%d.00"} {
		for _, scale := range []float64{1, 100} {
			fields, row := "SAMPLE_LOC", "A1"
			for w := 730; w >= 380; w -= 10 {
				fields += " " + fmt.Sprintf(spelling, w)
				row += fmt.Sprintf(" %.5f", scale*smooth(2, float64(w)))
			}
			im := read(t, "ISO28178\nILLUMINANT D65\nOBSERVER 10\nBEGIN_DATA_FORMAT\n"+fields+"\nEND_DATA_FORMAT\nBEGIN_DATA\n"+row+"\nEND_DATA\n", Options{})
			s := im.Readings[0]
			same(t, "name", s.Name, "A1")
			same(t, "first wavelength", s.Spectrum.NM[0], 380.0)
			near(t, "reflectance at 380", s.Spectrum.R[0], smooth(2, 380), 1e-5)
			same(t, "observer", s.Observer, 10)
			for i, v := range triple(*s.LabD65) {
				near(t, spelling, v, triple(truth)[i], 0.01)
			}
		}
	}
}
