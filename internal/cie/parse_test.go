package cie

import (
	"math"
	"strings"
	"testing"
)

func TestParseLab(t *testing.T) {
	want := Lab{62.1, -3.2, 14}
	for _, s := range []string{
		"62.1,-3.2,14", "62.1 -3.2 14", "62.1; -3.2; 14", "62,1 -3,2 14", "62,1;-3,2;14", " 62.1 , -3.2 , 14 ",
		"62.1, -3.2, 14", "62,1, -3,2, 14", "62.1\t-3.2\t14", "62.1 −3.2 +14", "62.1\u00a0-3.2\u00a014.0",
	} {
		if got, err := ParseLab(s); err != nil || got != want {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	for s, says := range map[string]string{
		"624,0,0":                    "L* is 0–100, got 624; did you mean 62.4?",
		"62.4,-320,14":               "a* is -150 to 150, got -320; did you mean -32?",
		"62 3 1555":                  "b* is -150 to 150, got 1555",
		"-5,0,0":                     "L* is 0–100, got -5",
		"162.4,0,0":                  "L* is 0–100, got 162.4",
		"62,1,-3,2,14":               "parted by ; or a blank",
		"62.1,-3.2":                  "three numbers, got 2",
		"62,1 -3":                    "three numbers, got 2",
		"":                           "three numbers",
		";;":                         `"" is not a number`,
		"62.1;-3,2;14":               "mixed",
		"62.1 -3,2 14":               "mixed",
		"a b c":                      `"a" is not a number`,
		"1e2,0,0":                    `"1e2" is not a number`,
		"NaN,0,0":                    `"NaN" is not a number`,
		"0x10,0,0":                   `"0x10" is not a number`,
		"50,--3,4":                   `"--3" is not a number`,
		"50,3-,4":                    `"3-" is not a number`,
		"50;1,2,3;4":                 `"1,2,3" is not a number`,
		"#efe0c4":                    "three numbers",
		strings.Repeat("1", 101):     "too long",
		strings.Repeat("9", 90) + "": "three numbers",
	} {
		got, err := ParseLab(s)
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, error %v, want %q", s, got, err, says)
		}
	}
}

func TestParseColor(t *testing.T) {
	hex, _ := ParseHex("#123456")
	for s, want := range map[string]Lab{
		"#123456": hex, "123456": hex, " 123456 ": hex, "12 34 56": {12, 34, 56}, "88,1,14": {88, 1, 14},
	} {
		if got, err := ParseColor(s); err != nil || got != want {
			t.Errorf("%q: %v, %v, want %v", s, got, err, want)
		}
	}
	for _, s := range []string{"", "edc", "12345", "1234567", "#12345", "#12 34 56", "tan", "62.1", "#"} {
		if got, err := ParseColor(s); err == nil || !strings.Contains(err.Error(), "write it like #efe0c4") {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
}

func TestParseXYZ(t *testing.T) {
	got, err := ParseXYZ("52.1 54 40.3")
	if err != nil || math.Abs(got.X-0.521)+math.Abs(got.Y-0.54)+math.Abs(got.Z-0.403) > 1e-15 {
		t.Errorf("%v, %v", got, err)
	}
	if black, err := ParseXYZ("0,0,0"); err != nil || black != (XYZ{}) {
		t.Errorf("black is %v, %v", black, err)
	}
	for s, says := range map[string]string{
		"0.45,0.48,0.5": "write 45,48,50",
		"0,0,1.2":       "white at Y 100",
		"50,101,50":     "Y is 0–100",
		"131,50,50":     "X is 0–130",
		"50,50,-1":      "Z is 0–130",
		"50,50":         "three numbers",
	} {
		if got, err := ParseXYZ(s); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, %v, want %q", s, got, err, says)
		}
	}
}

func FuzzParseColor(f *testing.F) {
	for _, s := range []string{
		"62.1,-3.2,14", "62,1 -3,2 14", "62,1;-3,2;14", "624,0,0", "#efe0c4", "123456", "0.45,0.48,0.5", "52.1 54 40.3",
		"−1,−2,−3", ";;", ",,", "1,2,3,4,5", "1e309,0,0", "..,..,..", "\xff\xfe,1,2", "NaN NaN NaN", "+,+,+",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if c, err := ParseLab(s); err == nil {
			if c.Check() != nil || !c.Finite() {
				t.Fatalf("%q gives %v", s, c)
			}
			again := plain(c.L) + ";" + plain(c.A) + ";" + plain(c.B)
			if back, err := ParseLab(again); err != nil || !near(back, c, 1e-6) {
				t.Fatalf("%q gives %v, written %q gives %v (%v)", s, c, again, back, err)
			}
		}
		if c, err := ParseColor(s); err == nil && c.Check() != nil {
			t.Fatalf("%q gives %v", s, c)
		}
		if c, err := ParseXYZ(s); err == nil && !(c.X >= 0 && c.X <= 1.3 && c.Y >= 0 && c.Y <= 1 && c.Z >= 0 && c.Z <= 1.3) {
			t.Fatalf("%q gives %v", s, c)
		}
	})
}
