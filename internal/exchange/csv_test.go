package exchange

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"lyefast/internal/cie"
)

func read(t *testing.T, text string, opts Options) Import {
	t.Helper()
	im, err := Read([]byte(text), "harbour.csv", opts)
	if err != nil {
		t.Fatal(err)
	}
	return im
}

// mustDecline wants a Declined whose reason or hint holds each of the words.
func mustDecline(t *testing.T, text string, opts Options, words ...string) *Declined {
	t.Helper()
	im, err := Read([]byte(text), "harbour.csv", opts)
	var d *Declined
	if !errors.As(err, &d) {
		t.Fatalf("got %d readings and error %v, want it declined", len(im.Readings), err)
	}
	if len(im.Readings) != 0 {
		t.Errorf("a declined file gives %d readings", len(im.Readings))
	}
	for _, w := range words {
		if !strings.Contains(d.Error()+" "+d.Hint, w) {
			t.Errorf("%q, hint %q: no word of %q", d, d.Hint, w)
		}
	}
	return d
}

// brief writes a reading in one line.
func brief(s Sample) string {
	out := fmt.Sprintf("%s|%s|%s %s %s|%s/%d", s.Name, s.TakenAt, plain(s.Lab.L), plain(s.Lab.A), plain(s.Lab.B), s.Illuminant, s.Observer)
	if s.Mode != "" {
		out += "|" + s.Mode
	}
	return out
}

func mustRead(t *testing.T, im Import, want ...string) {
	t.Helper()
	var got []string
	for _, s := range im.Readings {
		got = append(got, brief(s))
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s\nskipped %v", strings.Join(got, "\n"), strings.Join(want, "\n"), im.Skipped)
	}
}

func mustWarn(t *testing.T, im Import, words string) {
	t.Helper()
	for _, w := range im.Warnings {
		if strings.Contains(w, words) {
			return
		}
	}
	t.Errorf("no warning says %q: %q", words, im.Warnings)
}

// toUTF16 encodes as 16-bit units, the low byte first or last.
func toUTF16(s string, big bool) string {
	var b strings.Builder
	for _, u := range utf16.Encode([]rune(s)) {
		if big {
			b.WriteByte(byte(u >> 8))
			b.WriteByte(byte(u))
		} else {
			b.WriteByte(byte(u))
			b.WriteByte(byte(u >> 8))
		}
	}
	return b.String()
}

func TestEncodings(t *testing.T) {
	plainText := "Name;Datum;L*(10°/D65);a*(10°/D65);b*(10°/D65)\nMöwe;05.01.2026;62,41;18,22;-4,07\n"
	for _, c := range []struct{ name, text, encoding string }{
		{"UTF-8", plainText, "UTF-8"},
		{"UTF-8 with mark", "\uFEFF" + plainText, "UTF-8"},
		{"CRLF", strings.ReplaceAll(plainText, "\n", "\r\n"), "UTF-8"},
		{"CR", strings.ReplaceAll(plainText, "\n", "\r"), "UTF-8"},
		{"no line end at the end", strings.TrimSuffix(plainText, "\n"), "UTF-8"},
		{"blank lines", strings.ReplaceAll(plainText, "\n", "\n\n \n;;;;\n"), "UTF-8"},
		{"Windows-1252", strings.NewReplacer("°", "\xB0", "ö", "\xF6").Replace(plainText), "Windows-1252"},
		{"UTF-16LE", "\xFF\xFE" + toUTF16(plainText, false), "UTF-16LE"},
		{"UTF-16BE", "\xFE\xFF" + toUTF16(plainText, true), "UTF-16BE"},
		{"UTF-16LE without mark", toUTF16(plainText, false), "UTF-16LE"},
		{"UTF-16BE without mark", toUTF16(plainText, true), "UTF-16BE"},
		{"spreadsheet's hint", "sep=;\n" + plainText, "UTF-8"},
	} {
		t.Run(c.name, func(t *testing.T) {
			im := read(t, c.text, Options{})
			same(t, "encoding", im.Encoding, c.encoding)
			mustRead(t, im, "Möwe|2026-01-05|62.41 18.22 -4.07|D65/10")
			if im.Readings[0].LabD65 != nil {
				t.Error("a 10° colour without a spectrum has a colour for 2°")
			}
		})
	}
	for text, word := range map[string]string{
		"\xFF\xFE\x00\x00N\x00\x00\x00": "UTF-32",
		"\xFF\xFEN\x00a":                "cut in the middle",
		"\uFEFFName\n\xFF\xFE\n":        "not",
		"Name,L*\x00\x01":               "not text",
		"PK\x03\x04rest":                "CSV",
		"\x89PNG\r\n":                   "picture",
		"%PDF-1.7":                      "PDF",
		"":                              "empty",
		" \n\r\n\t":                     "empty",
		`{"readings": []}`:              "JSON",
		"SQLite format 3\x00":           "database",
	} {
		mustDecline(t, text, Options{}, word)
	}
}

func TestHeadings(t *testing.T) {
	for _, c := range []struct {
		cell string
		what quantity
		cond condition
	}{
		{"L*", qL, condition{}}, {"L", qL, condition{}}, {"l", qL, condition{}}, {"CIE L", qL, condition{}}, {"CIE L*", qL, condition{}},
		{"CIE-L*", qL, condition{}}, {"CIEL*", qL, condition{}}, {"CIELAB L*", qL, condition{}}, {"Lab L", qL, condition{}}, {"LAB_L", qL, condition{}},
		{"L* value", qL, condition{}}, {"L*(D65)", qL, condition{"D65", 0, ""}}, {"L*(10°/D65)", qL, condition{"D65", 10, ""}},
		{"L* (D65/10°)", qL, condition{"D65", 10, ""}}, {"L*[D50-2]", qL, condition{"D50", 2, ""}}, {"L*(2°/C)", qL, condition{"C", 2, ""}},
		{"L* D65 10°", qL, condition{"D65", 10, ""}}, {"L_D65_10", qL, condition{"D65", 10, ""}}, {"D65 L*", qL, condition{"D65", 0, ""}},
		{"L*D65", qL, condition{"D65", 0, ""}}, {"L*(SCI)", qL, condition{"", 0, "SCI"}}, {"L*(10°/D65) SCE", qL, condition{"D65", 10, "SCE"}},
		{"L*(D65/10º)", qL, condition{"D65", 10, ""}}, {"L*(F11/10)", qL, condition{"F11", 10, ""}}, {"L*(TL84)", qL, condition{"F11", 0, ""}},
		{"a*(A)", qA, condition{"A", 0, ""}}, {"b*", qB, condition{}}, {"C*", qC, condition{}}, {"C*ab", qC, condition{}}, {"h", qH, condition{}},
		{"h°", qH, condition{}}, {"hab", qH, condition{}}, {"h (°)", qH, condition{}}, {"X", qX, condition{}}, {"Y(D65)", qY, condition{"D65", 0, ""}},
		{"x", qUnknown, condition{}}, {"dL*", qDelta, condition{}}, {"da*(D65)", qDelta, condition{}}, {"dE*ab", qDelta, condition{}}, {"ΔE00", qDelta, condition{}},
		{"ΔE*ab(D65)", qDelta, condition{}}, {"∆b*", qDelta, condition{}}, {"Delta E", qDelta, condition{}}, {"dE00(D65)", qDelta, condition{}}, {"DE2000", qDelta, condition{}},
		{"dE", qDelta, condition{}}, {"Date", qDate, condition{}}, {"Datum/Uhrzeit", qDate, condition{}}, {"Date_Time", qDate, condition{}}, {"Uhrzeit", qTime, condition{}},
		{"Sample Name", qName, condition{}}, {"Messung", qName, condition{}}, {"Nr.", qID, condition{}}, {"Lichtart", qIlluminant, condition{}},
		{"Observer:", qObserver, condition{}}, {"Std L*", qReference, condition{}}, {"L*(target)", qReference, condition{}}, {"b* tolerance", qReference, condition{}},
		{"400nm", qBand, condition{}}, {"400 nm", qBand, condition{}}, {"400", qBand, condition{}}, {"R400", qBand, condition{}}, {"SPECTRAL_NM400", qBand, condition{}},
		{"SPECTRAL_400", qBand, condition{}}, {"SPEC_400", qBand, condition{}}, {"nm400", qBand, condition{}}, {"NM400", qBand, condition{}}, {"400.00", qBand, condition{}},
		{"400 nm [%]", qBand, condition{}}, {"1500", qUnknown, condition{}}, {"Gloss", qMode, condition{}}, {"Notes", qUnknown, condition{}}, {"", qUnknown, condition{}},
		{"Y.I.", qUnknown, condition{}}, {"WI", qUnknown, condition{}}, {"Hex", qUnknown, condition{}}, {"label", qName, condition{}}, {"Date (dd/mm/yyyy)", qDate, condition{}}, {"Observer (°)", qObserver, condition{}}, {"M1 L*", qL, condition{}}, {"L* (Bezug)", qReference, condition{}}, {"Batch", qUnknown, condition{}},
	} {
		h := readHeading(c.cell)
		if h.what != c.what || h.cond != c.cond {
			t.Errorf("%q: %q for %v, want %q for %v", c.cell, h.what, h.cond, c.what, c.cond)
		}
	}
}

func TestCSVTraps(t *testing.T) {
	t.Run("preamble", func(t *testing.T) {
		im := read(t, "Instrument;Lighthouse 3\nSerial Number;0042\nDate;31.01.2026\nIlluminant;D65\nObserver: 2°\n\nNr.;Name;Datum;Zeit;L*;a*;b*\n1;Bow;05.01.2026;09:12;62,4;18,2;-4\n", Options{})
		mustRead(t, im, "Bow|2026-01-05T09:12|62.4 18.2 -4|D65/2")
		s := im.Readings[0]
		same(t, "id", s.ID, "1")
		same(t, "line", s.Line, 8)
		same(t, "instrument", s.Instrument, "Lighthouse 3 0042")
		same(t, "created", im.Created, "31.01.2026")
		same(t, "stated", s.IlluminantFrom, Stated)
		same(t, "observer stated", s.ObserverFrom, Stated)
		if s.LabD65 == nil || *s.LabD65 != s.Lab || s.LabD65From != "as measured" {
			t.Errorf("D65, 2°: %v %s", s.LabD65, s.LabD65From)
		}
	})
	t.Run("two illuminants side by side", func(t *testing.T) {
		im := read(t, "Name,L*(A/2°),a*(A/2°),b*(A/2°),L*(D65/2°),a*(D65/2°),b*(D65/2°)\nBow,1,2,3,4,5,6\n", Options{})
		mustRead(t, im, "Bow||4 5 6|D65/2")
		mustWarn(t, im, "Lab for A, 2°")
		same(t, "meaning of an unused column", im.Columns[1].Meaning, "ignored: another set of columns gives the colour")
		// 10° has no way to D65, 2°; D50, 2° has.
		im = read(t, "Name,L*(D65/10°),a*(D65/10°),b*(D65/10°),L*(D50/2°),a*(D50/2°),b*(D50/2°)\nBow,1,2,3,4,5,6\n", Options{})
		mustRead(t, im, "Bow||4 5 6|D50/2")
	})
	t.Run("two illuminants under a row of groups", func(t *testing.T) {
		im := read(t, ";;D65/10°;;;D50/2°;;\nName;Datum;L*;a*;b*;L*;a*;b*\nBow;05.01.2026;1;2;3;4;5;6\n", Options{})
		mustRead(t, im, "Bow|2026-01-05|4 5 6|D50/2")
	})
	t.Run("condition on L* only", func(t *testing.T) {
		mustRead(t, read(t, "Name,L*(D65/10°),a*,b*\nBow,1,2,3\n", Options{}), "Bow||1 2 3|D65/10")
	})
	t.Run("two sets that nothing tells apart", func(t *testing.T) {
		d := mustDecline(t, "Name,L*,a*,b*,L*,a*,b*\nBow,1,2,3,4,5,6\n", Options{}, "two columns of L*", "L*(D65)")
		same(t, "line", d.Line, 1)
		mustDecline(t, "Name,L*(first),a*(first),b*(first),L*(second),a*(second),b*(second)\nBow,1,2,3,4,5,6\n", Options{}, "two sets", "first", "second")
	})
	t.Run("a row that contradicts its heading", func(t *testing.T) {
		mustDecline(t, "Name,Illuminant,L*(D65),a*(D65),b*(D65)\nBow,D50,1,2,3\n", Options{}, "line 2", "the heading says D65 and the row D50")
	})
	t.Run("modes as columns", func(t *testing.T) {
		im := read(t, "Name,L*(SCI),a*(SCI),b*(SCI),L*(SCE),a*(SCE),b*(SCE)\nBow,60,2,3,58,2.5,3.5\n", Options{})
		mustRead(t, im, "Bow||60 2 3|D65/2|SCI", "Bow||58 2.5 3.5|D65/2|SCE")
		mustWarn(t, im, "both modes")
		if im.Readings[0].Key() == im.Readings[1].Key() {
			t.Error("both modes have one key")
		}
		im = read(t, "Name,Mode,L*,a*,b*\nBow,SCI,60,2,3\nBow,Specular excluded,58,2.5,3.5\n", Options{Mode: "SCE"})
		mustRead(t, im, "Bow||58 2.5 3.5|D65/2|SCE")
		same(t, "left out", im.Skipped[0].Reason, "it is SCI, and only SCE was asked for")
	})
	t.Run("rows that are no readings", func(t *testing.T) {
		im := read(t, "Name,Date,L*,a*,b*,ΔE00\nWHITE CAL,2026-01-05,99.1,-0.1,0.2,\nCalibration tile,2026-01-05,95,0,0,\nBow,2026-01-05,60,2,3,\n"+
			"Stern,2026-01-05,---,---,---,---\nName,Date,L*,a*,b*,ΔE00\nWhite calendula,2026-01-06,61,2,3,1.1\nAverage,,60.5,2,3,\n", Options{})
		mustRead(t, im, "Bow|2026-01-05|60 2 3|D65/2", "White calendula|2026-01-06|61 2 3|D65/2")
		var lines []string
		for _, s := range im.Skipped {
			lines = append(lines, fmt.Sprintf("%d %v", s.Line, s.Rejected))
		}
		same(t, "skipped", strings.Join(lines, ", "), "2 false, 3 false, 5 false, 6 false, 8 false")
		same(t, "ΔE", im.Columns[5].Meaning, string(qDelta))
	})
	t.Run("impossible values", func(t *testing.T) {
		im := read(t, "Name,L*,a*,b*\nA,100,150,-150\nB,100.01,0,0\nC,-0.2,0,0\nD,50,151,0\nE,50,0,-150.5\nF,50,,3\nG,50,x,3\nH,1e2,1E1,-1.5e+1\nI,0x10,0,0\nK,NaN,1,2\nM,50,2,3,4\nN,5 0,2,3\n", Options{})
		mustRead(t, im, "A||100 150 -150|D65/2", "H||100 10 -15|D65/2")
		for i, want := range []string{
			"3: L* 100.01 is outside 0..100", "4: L* -0.2 is outside 0..100", "5: a* 151 is outside -150..150", "6: b* -150.5 is outside -150..150",
			"7: a* is missing", `8: a*: "x" is not a number`, `10: L*: "0x10" is not a number`, "11: L* is missing", "12: it has 5 cells under 4 headings", `13: L*: "5 0" is not a number`,
		} {
			if i >= len(im.Skipped) {
				t.Fatalf("skipped %v", im.Skipped)
			}
			if got := fmt.Sprintf("%d: %s", im.Skipped[i].Line, im.Skipped[i].Reason); !strings.HasPrefix(got, want) {
				t.Errorf("got %q, want %q", got, want)
			}
			same(t, want, im.Skipped[i].Rejected, true)
		}
		same(t, "count", im.Rejected(), 10)
		mustDecline(t, "Name,L*,a*,b*\nA,101,0,0\n", Options{}, "line 2", "L* 101 is outside 0..100")
	})
	t.Run("decimal signs", func(t *testing.T) {
		mustRead(t, read(t, "Name\tL*\ta*\tb*\nBow\t62,412\t−18,2\t+4\n", Options{}), "Bow||62.412 -18.2 4|D65/2")
		mustRead(t, read(t, "Name;L*;a*;b*\nBow;62.41;-18.2;.5\n", Options{}), "Bow||62.41 -18.2 0.5|D65/2")
		mustDecline(t, "Name;L*;a*;b*\nBow;62.41;1,5;2\n", Options{}, "contradict")
		im := read(t, "Name;L*;a*;b*\nBow;62,4;1,5;2\nStern;62,4;1.234;2\n", Options{})
		mustRead(t, im, "Bow||62.4 1.5 2|D65/2")
		same(t, "a point in threes", im.Skipped[0].Reason, "a* 1234 is outside -150..150")
		// With commas between the columns, a decimal comma doubles the cells.
		mustDecline(t, "Name,L*,a*,b*\nBow,62,41,18,22,4,07\n", Options{}, "line 2", "7 cells under 4 headings", "semicolon")
		mustDecline(t, "Name,L*,a*,b*\nBow,\"62,41\",\"1,5\",\"2,5\"\n", Options{}, "line 2", `"62,41" is not a number`, "decimal point")
	})
	t.Run("cylindrical and XYZ", func(t *testing.T) {
		im := read(t, "Name,L*,C*,h\nBow,50,20,90\n", Options{})
		near(t, "b*", im.Readings[0].Lab.B, 20, 1e-12)
		near(t, "a*", im.Readings[0].Lab.A, 0, 1e-12)
		// L*a*b* are used where all stand there.
		mustRead(t, read(t, "Name,L*,a*,b*,C*,h,X,Y,Z\nBow,50,3,4,99,99,1,2,3\n", Options{}), "Bow||50 3 4|D65/2")
		im = read(t, "Name,Ill/Obs,X,Y,Z\nBow,D50/2°,38.57,40,33\nMast,D50/2°,96.43,100,82.51\n", Options{})
		near(t, "L*", im.Readings[0].Lab.L, 69.4695, 1e-4) // 116 ∛0.4 − 16
		near(t, "white a*", im.Readings[1].Lab.A, 0, 0.01)
		near(t, "white b*", im.Readings[1].Lab.B, 0, 0.01)
		mustDecline(t, "Name,X,Y,Z\nBow,38,40,33\n", Options{}, "which illuminant")
		mustRead(t, read(t, "Name,X,Y,Z\nBow,0,0,0\n", Options{Illuminant: "D65", Observer: 2}), "Bow||0 0 0|D65/2")
	})
	t.Run("a screen's blue is not b*", func(t *testing.T) {
		mustRead(t, read(t, "Name,R,G,B,L,a,b\nBow,10,20,30,50,3,4\n", Options{}), "Bow||50 3 4|D65/2")
	})
	t.Run("no headings", func(t *testing.T) {
		mustDecline(t, "Bow,2026-01-05,62,18,4\nStern,2026-01-05,63,18,4\n", Options{}, "no row of headings", "Bow | 2026-01-05")
		mustDecline(t, "Name,Date,D_RED,D_GREEN\nBow,2026-01-05,1,2\n", Options{}, "no row of headings")
		mustDecline(t, "Name,L*,a*,b*\n", Options{}, "no colour")
		mustDecline(t, "Name,L*,a*,b*\nBow,---,---,---\n", Options{}, "no row of it holds a colour", "line 2")
	})
	t.Run("a meter of light with columns", func(t *testing.T) {
		mustDecline(t, "No,X,Y,Z,CCT,LUX\n1,682.4,695.1,631.6,5198,695.1\n", Options{}, "meter of light")
	})
	t.Run("quotation marks", func(t *testing.T) {
		d := mustDecline(t, "Name,L*,a*,b*\nBow,1,2,3\nthe 5\" bar,1,2,3\n", Options{}, "middle of a cell")
		same(t, "line", d.Line, 3)
		mustDecline(t, "Name,L*,a*,b*\n\"Bow,1,2,3\nStern,1,2,3\n", Options{}, "not closed")
		mustRead(t, read(t, "Name,L*,a*,b*\n\"two\nlines\",1,2,3\nStern,1,2,3\n", Options{}), "two\nlines||1 2 3|D65/2", "Stern||1 2 3|D65/2")
	})
	t.Run("lines after a cell of two lines", func(t *testing.T) {
		im := read(t, "Name,L*,a*,b*\n\"two\nlines\",1,2,3\nStern,1,2,3\n", Options{})
		same(t, "line", im.Readings[1].Line, 4)
	})
	t.Run("conditions in the rows", func(t *testing.T) {
		im := read(t, "Name,Illuminant,Observer,L*,a*,b*\nA,D50,2,50,10,10\nB,d65,10 deg,50,10,10\nC,A,CIE 1931,50,10,10\nD,LED3,2,50,10,10\nE,D65,5,50,1,1\nF,---,,50,10,10\n", Options{})
		mustRead(t, im, "A||50 10 10|D50/2", "B||50 10 10|D65/10", "C||50 10 10|A/2", "D||50 10 10|LED3/2", "F||50 10 10|D65/2")
		same(t, "observer 5", im.Skipped[0].Reason, `the observer "5" is not understood`)
		a, b, c, d, f := im.Readings[0], im.Readings[1], im.Readings[2], im.Readings[3], im.Readings[4]
		if a.LabD65 == nil || a.LabD65From != "Bradford" || b.LabD65 != nil || c.LabD65 == nil || d.LabD65 != nil || f.LabD65 == nil {
			t.Errorf("D65, 2°: %v %v %v %v %v", a.LabD65, b.LabD65, c.LabD65, d.LabD65, f.LabD65)
		}
		same(t, "assumed", f.IlluminantFrom, Assumed)
		mustWarn(t, im, "D65 is assumed")
		im = read(t, "Name,L*,a*,b*\nA,50,10,10\n", Options{Illuminant: "D50", Observer: 10})
		mustRead(t, im, "A||50 10 10|D50/10")
		same(t, "given", im.Readings[0].IlluminantFrom, Given)
	})
}

// D50 to D65 against lab-conversion-checks.csv: #a9744f is 53.8374, 18.4188,
// 29.1791 for D50 and 53.4830, 16.6147, 28.7330 for D65 (computed there with
// culori 4.0.2 and colorjs.io 0.7.1).
func TestBradfordAgainstPublishedPair(t *testing.T) {
	im := read(t, "Name,Illuminant,Observer,L*,a*,b*\nA,D50,2,53.8374,18.4188,29.1791\n", Options{})
	c := im.Readings[0].LabD65
	near(t, "L*", c.L, 53.4830, 5e-4)
	near(t, "a*", c.A, 16.6147, 5e-4)
	near(t, "b*", c.B, 28.7330, 5e-4)
}

func TestDates(t *testing.T) {
	dated := func(date, clock string) string {
		return "Name;Date;Time;L*;a*;b*\nBow;" + date + ";" + clock + ";50;1;1\n"
	}
	for _, c := range []struct{ date, clock, want string }{
		{"2026-01-05", "", "2026-01-05"}, {"2026/1/5", "", "2026-01-05"}, {"20260105", "", "2026-01-05"}, {"5.1.2026", "", "2026-01-05"},
		{"05.01.26", "", "2026-01-05"}, {"31/01/2026", "", "2026-01-31"}, {"01/31/2026", "", "2026-01-31"}, {"05/05/2026", "", "2026-05-05"},
		{"31-01-2026", "", "2026-01-31"}, {"5 Jan 2026", "", "2026-01-05"}, {"05-Jan-2026", "", "2026-01-05"}, {"January 5, 2026", "", "2026-01-05"},
		{"2026-01-05", "09:12", "2026-01-05T09:12"}, {"2026-01-05", "9:12:03", "2026-01-05T09:12:03"}, {"2026-01-05", "12:05 AM", "2026-01-05T00:05"},
		{"2026-01-05", "1:05 pm", "2026-01-05T13:05"}, {"2026-01-05", "09:12 Uhr", "2026-01-05T09:12"}, {"2026-01-05 09:12", "", "2026-01-05T09:12"},
		{"2026-01-05T09:12:03Z", "", "2026-01-05T09:12:03Z"}, {"2026-01-05T09:12:03.250+01:00", "", "2026-01-05T09:12:03.25+01:00"},
		{"2026-01-05 09:12:03 -0530", "", "2026-01-05T09:12:03-05:30"}, {"2021/01/04_23:14:46", "", "2021-01-04T23:14:46"}, {"05.01.2026 09:12", "", "2026-01-05T09:12"},
		{"", "2026-01-05 09:12", "2026-01-05T09:12"}, {"---", "---", ""}, {"2024-02-29", "", "2024-02-29"},
	} {
		im := read(t, dated(c.date, c.clock), Options{})
		same(t, c.date+" "+c.clock, im.Readings[0].TakenAt.String(), c.want)
	}
	for _, c := range []struct{ date, clock, word string }{
		{"2026-02-29", "", "there is no day 2026-02-29"}, {"31.04.2026", "", "there is no day"}, {"05/01/26", "", "two digits"}, {"46027", "", "not a date"},
		{"yesterday", "", "not a date"}, {"2026-01-05", "24:00", "not a time"}, {"2026-01-05", "9.12", "not a time"}, {"2026-01-05", "13:05 pm", "not a time"},
		{"2026-01-05 09:12", "09:12", "holds a time"}, {"2026-01-05T09:12+99:00", "", "no zone"}, {"2026-13-05", "", "there is no day"},
		{"0026-01-05", "", "there is no day"}, {"2026-01/05", "", "not a date"},
	} {
		mustDecline(t, dated(c.date, c.clock), Options{}, c.word, "line 2")
	}

	two := func(a, b string) string { return "Name;Date;L*;a*;b*\nBow;" + a + ";50;1;1\nBow;" + b + ";50;1;1\n" }
	d := mustDecline(t, two("03/04/2026", "05/04/2026"), Options{}, "day or month", "dmy", "mdy", "03/04/2026")
	same(t, "line", d.Line, 2)
	for order, want := range map[DateOrder]string{DayFirst: "2026-04-03", MonthFirst: "2026-03-04"} {
		im := read(t, two("03/04/2026", "05/04/2026"), Options{DateOrder: order})
		same(t, string(order), im.Readings[0].TakenAt.String(), want)
	}
	// One day above 12 settles all of the file, before or after.
	same(t, "day first", read(t, two("03/04/2026", "25/04/2026"), Options{}).Readings[0].TakenAt.String(), "2026-04-03")
	im := read(t, two("03/04/2026", "04/25/2026"), Options{})
	same(t, "month first", im.Readings[0].TakenAt.String(), "2026-03-04")
	same(t, "said so", im.Columns[1].Meaning, "date, month before day")
	mustDecline(t, two("25/04/2026", "04/25/2026"), Options{}, "contradict", "line 2", "line 3")
	mustDecline(t, two("03/04/2026", "25/04/2026"), Options{DateOrder: MonthFirst}, "day first")

	// The heading may say it.
	im = read(t, strings.Replace(two("03/04/2026", "05/04/2026"), "Date", "Date (DD/MM/YYYY)", 1), Options{})
	same(t, "heading", im.Readings[0].TakenAt.String(), "2026-04-03")
	im = read(t, strings.Replace(two("03/04/2026 09:12", "05/04/2026"), "Date", "Date [mm/dd/yyyy]", 1), Options{DateOrder: DayFirst})
	same(t, "heading", im.Readings[0].TakenAt.String(), "2026-03-04T09:12")
	mustDecline(t, strings.Replace(two("03/04/2026", "25/04/2026"), "Date", "Date (mm/dd/yyyy)", 1), Options{}, "day first")
	im = read(t, strings.Replace(dated("2026-01-05", "09:12"), "Time", "Time (UTC)", 1), Options{Location: time.FixedZone("", 7200)})
	same(t, "zone of the heading", im.Readings[0].TakenAt.String(), "2026-01-05T09:12:00Z")

	berlin := time.FixedZone("", 3600)
	im = read(t, dated("2026-01-05", "09:12"), Options{Location: berlin})
	same(t, "zone of the options", im.Readings[0].TakenAt.Time.UTC().Hour(), 8)
	same(t, "and not of the file", im.Readings[0].TakenAt.ZoneKnown, false)
}

// A file whose spectra come with a 10° colour: the colour for D65, 2° is that of
// the spectrum, and D50 10° is nearer to it than to the 2° one.
func TestSpectraInCSV(t *testing.T) {
	table := func(scale float64, at seen, shift float64) string {
		r, err := sampled(0, 380, 730, 10).Resample()
		if err != nil {
			t.Fatal(err)
		}
		c, _ := labUnder(&r, at)
		head := fmt.Sprintf("Name,L*(%s/%d°),a*,b*", at.illuminant, at.observer)
		row := fmt.Sprintf("Bow,%.3f,%.3f,%.3f", c.L+shift, c.A, c.B)
		for w := 700; w >= 400; w -= 10 { // from long to short waves, as some write
			head += fmt.Sprintf(",%d nm", w)
			row += fmt.Sprintf(",%.4f", scale*smooth(0, float64(w)))
		}
		return head + "\n" + row + "\n"
	}
	full, _ := sampled(0, 380, 730, 10).Resample()
	truth := full.Lab()
	for _, scale := range []float64{1, 100} {
		for _, at := range []seen{{"D65", 10}, {"D50", 10}, {"D50", 2}, {"A", 10}} {
			im := read(t, table(scale, at, 0), Options{})
			s := im.Readings[0]
			if s.LabD65From != "spectrum" || cie.DeltaE00(*s.LabD65, truth) > 0.3 {
				t.Errorf("scale %g, %v: %v %q, want %v", scale, at, s.LabD65, s.LabD65From, truth)
			}
			same(t, "shortest", s.Spectrum.NM[0], 400.0)
		}
	}
	// A 2° colour that contradicts its spectrum has the word; a 10° one cannot be
	// converted, so the spectrum is used up to a gross difference.
	s := read(t, table(1, seen{"D50", 2}, 5), Options{}).Readings[0]
	same(t, "2°", s.LabD65From, "Bradford")
	im := read(t, table(1, seen{"D65", 10}, 5), Options{})
	same(t, "10°", im.Readings[0].LabD65From, "spectrum")
	mustWarn(t, im, "one of them is wrong")
	if s := read(t, table(1, seen{"D65", 10}, 25), Options{}).Readings[0]; s.LabD65 != nil {
		t.Errorf("10°, grossly apart: %v", s.LabD65)
	}
	// Dark soap in per cent: no value above 2, and the L* beside it decides.
	dark := "Name,L*(D65/2°),a*,b*"
	row := "Coal,10.6,0,0"
	for w := 400; w <= 700; w += 10 {
		dark += fmt.Sprintf(",%d", w)
		row += ",1.2"
	}
	same(t, "dark", read(t, dark+"\n"+row+"\n", Options{}).Readings[0].Spectrum.R[0], 0.012)
}

func TestSpectraOnly(t *testing.T) {
	head, row, gap := "Name", "Bow", "Stern"
	for w := 400; w <= 700; w += 10 {
		head += fmt.Sprintf(";%dnm", w)
		row += ";50,0"
		gap += map[bool]string{true: ";---", false: ";50,0"}[w == 500]
	}
	im := read(t, head+"\n"+row+"\n"+gap+"\n", Options{})
	s := im.Readings[0]
	near(t, "L* of R = 0.5", s.Lab.L, 76.0693, 1e-4) // 116 ∛0.5 − 16
	same(t, "computed", s.IlluminantFrom, Computed)
	same(t, "gap", im.Skipped[0].Reason, "1 of 31 wavelengths are missing")
	same(t, "rejected", im.Skipped[0].Rejected, true)
}

func TestKeys(t *testing.T) {
	text := "Name;Datum;Zeit;L*(D65/2°);a*;b*\nBow;05.01.2026;09:12;62,41;18,20;4\nBow;06.01.2026;;62,41;18,20;4\nBow;06.01.2026;;62,41;18,20;4\n"
	im := read(t, text, Options{})
	seen := map[string]bool{}
	for _, s := range im.Readings {
		seen[s.Key()] = true
	}
	if len(seen) != 3 {
		t.Fatalf("%d keys of 3 readings", len(seen))
	}
	mustWarn(t, im, "line 4 repeats line 3")
	// The same readings with other separators, another order of lines and more
	// of them; and with options that fill what the file leaves open.
	other := "Name,Date,Time,L*(D65/2°),a*,b*\nBow,2026-01-06,,62.410,18.2,4\nBow,2026-01-06,,62.41,18.2,4.0\nBow,2026-01-07,,1,2,3\nBow,2026-01-05,09:12,62.41,18.2,4.00\n"
	fresh := 0
	for _, s := range read(t, other, Options{Illuminant: "D50", Location: time.FixedZone("", 7200)}).Readings {
		if !seen[s.Key()] {
			fresh++
		}
	}
	same(t, "new readings", fresh, 1)
	bare := "Name,L*,a*,b*\nBow,1,2,3\n"
	a, b := read(t, bare, Options{}).Readings[0], read(t, bare, Options{Illuminant: "D50", Observer: 10}).Readings[0]
	same(t, "options do not enter the key", a.Key(), b.Key())
	c := read(t, "Name,L*,a*,b*\nBow,1,2,3.01\n", Options{}).Readings[0]
	if a.Key() == c.Key() {
		t.Error("different colours, one key")
	}
}

// The field names that others rely on, typed again.
func TestSampleJSON(t *testing.T) {
	im := read(t, "Name,Date,Illuminant,Observer,L*,a*,b*\nBow,2026-01-05,D65,10,62.41,18.2,4\nStern,,,,62,0,-0\n", Options{})
	out, err := json.Marshal(im.Readings)
	if err != nil {
		t.Fatal(err)
	}
	var got []map[string]any
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"name", "taken_at", "lab", "lab_d65", "illuminant", "observer", "method"} {
		for i := range got {
			if _, ok := got[i][k]; !ok {
				t.Errorf("reading %d has no %s: %s", i, k, out)
			}
		}
	}
	same(t, "taken_at", got[0]["taken_at"], "2026-01-05")
	same(t, "observer", got[0]["observer"], 10.0)
	same(t, "illuminant", got[0]["illuminant"], "D65")
	same(t, "no D65, 2°", got[0]["lab_d65"], nil)
	same(t, "no date", got[1]["taken_at"], nil)
	same(t, "no observer", got[1]["observer"], nil)
	same(t, "lab", fmt.Sprint(got[1]["lab"]), "[62 0 0]")
}

func TestOptionsAreChecked(t *testing.T) {
	for _, o := range []Options{{DateOrder: "ymd"}, {Observer: 4}, {Illuminant: "moon"}, {Mode: "SCX"}} {
		_, err := Read([]byte("Name,L*,a*,b*\nBow,1,2,3\n"), "", o)
		var d *Declined
		if err == nil || errors.As(err, &d) {
			t.Errorf("%+v: %v", o, err)
		}
	}
}

func TestBounds(t *testing.T) {
	mustDecline(t, "L*,a*,b*"+strings.Repeat(",", MaxColumns)+"\n1,2,3\n", Options{}, "line 1", "more than 4096 columns")
	mustDecline(t, "L*,a*,b*\n1,2,3"+strings.Repeat(",", MaxColumns)+"\n", Options{}, "more than 4096 columns")
	mustDecline(t, "Name,L*,a*,b*\n"+strings.Repeat("x", maxCell+1)+",1,2,3\n", Options{}, "line 2", "longer than 64 KiB")
	if _, err := Read(make([]byte, MaxBytes+1), "", Options{}); err == nil || !strings.Contains(err.Error(), "more than the 64 that are read") {
		t.Errorf("got %v", err)
	}
}
