package exchange

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"lyefast/internal/testkit"
)

func refused(t *testing.T, err error, words ...string) {
	t.Helper()
	var d *Declined
	if !errors.As(err, &d) {
		t.Fatalf("got %v, want a refusal with %q", err, words)
	}
	for _, w := range words {
		if !strings.Contains(d.Error()+" "+d.Hint, w) {
			t.Errorf("%q, hint %q: no word of %q", d, d.Hint, w)
		}
	}
}

// The simulated cure series of the shared reference data: 40 series, 342
// readings, as its README says.
func TestSharedSeries(t *testing.T) {
	data, err := os.ReadFile(testkit.Shared(t, "reference/cure-series/readings.csv"))
	if err != nil {
		t.Fatal(err)
	}
	tab, err := ReadSeries(data)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i, s := range tab.Series {
		n += len(s.Points)
		same(t, "name", s.Name, fmt.Sprintf("D%03d", i+1))
		for k, p := range s.Points {
			if k > 0 && p.Day < s.Points[k-1].Day {
				t.Errorf("%s: day %g after %g", s.Name, p.Day, s.Points[k-1].Day)
			}
			// read_at and day agree, as the README says: day is rounded to 0.01.
			near(t, s.Name, p.At.Time.Sub(s.Points[0].At.Time).Hours()/24, p.Day-s.Points[0].Day, 0.011)
		}
	}
	same(t, "series", len(tab.Series), 40)
	same(t, "readings", n, 342)
	same(t, "ignored", len(tab.Ignored), 0)
	first := tab.Series[0].Points[0]
	same(t, "first", fmt.Sprint(first.Day, triple(first.Lab), first.At), "0 [81.82 -9.85 9.64] 2025-09-01T09:00:00Z")
}

func TestSeries(t *testing.T) {
	days := func(s Series) string {
		var b strings.Builder
		for _, p := range s.Points {
			fmt.Fprintf(&b, "%.3g:%g ", p.Day, p.Lab.L)
		}
		return strings.TrimSpace(b.String())
	}
	// Interleaved series keep the order of their first rows, points that of days.
	tab, err := ReadSeries([]byte("# a remark\nSeries;Day;L*;a*;b*;Wind\nstern;7;50,5;1;2;SW\nbow;0;60;1;2;\nstern;0;70;1;2;\nstern;0;71;1;2;\n"))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "names", tab.Series[0].Name+" "+tab.Series[1].Name, "stern bow")
	same(t, "stern", days(tab.Series[0]), "0:70 0:71 7:50.5")
	same(t, "line", tab.Series[0].Points[2].Line, 3)
	same(t, "ignored", strings.Join(tab.Ignored, " "), "Wind")

	tab, err = ReadSeries([]byte("portion,read_at,poured_at,L,a,b\nbow,2026-01-06T09:00:00Z,2026-01-05T09:00:00Z,60,1,2\nbow,2026-01-05T21:00:00Z,2026-01-05T09:00:00Z,70,1,2\n"))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "days from the pour", days(tab.Series[0]), "0.5:70 1:60")
	same(t, "warnings", len(tab.Warnings), 0)

	tab, err = ReadSeries([]byte("date,time,L,a,b\n2026-01-06,,60,1,2\n2026-01-05,09:00,70,1,2\n"))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "days from the first reading", days(tab.Series[0]), "0:70 1.12:60")
	same(t, "warning", len(tab.Warnings), 1)

	tab, err = ReadSeries([]byte("date,day,L,a,b\n01/02/2026,0,60,1,2\n"))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "open dates beside days", len(tab.Warnings), 1)

	for text, words := range map[string][]string{
		"": {"empty"}, "one,two\n1,2\n": {"none of its headings"}, "day,L,a\n0,1,2\n": {"called b"}, "series,L,a,b\nx,1,2,3\n": {"day or read_at"},
		"day,L,a,b\n":                               {"no rows"},
		"day,L,a,b\n0,50,1,2\n1,x,1,2\n":            {"line 3", `column "L"`, `"x" is not a number`},
		"day,L,a,b\n0,50,,2\n":                      {"line 2", `column "a"`, "missing"},
		"day,L,a,b\n0,101,1,2\n":                    {"line 2", `column "L"`, "101 is outside 0..100"},
		"day,L,a,b\n0,50,1,200\n":                   {`column "b"`, "200 is outside -150..150"},
		"day,L,a,b\n-3,50,1,2\n":                    {`column "day"`, "-3 is outside"},
		"day,L,a,b\nNaN,50,1,2\n":                   {`column "day"`, "missing"},
		"day,L,a,b\n1e9,50,1,2\n":                   {`column "day"`, "outside"},
		"day,L,a,b\n0,50,1,2,9\n":                   {"line 2", "5 cells under 4"},
		"series,day,L,a,b\n,0,50,1,2\n":             {"line 2", "name of the series"},
		"date,L,a,b\n,50,1,2\n":                     {"line 2", "date is missing"},
		"date,L,a,b\n01/02/2026,50,1,2\n":           {"line 2", "write all dates like 2026-01-05"},
		"date,L,a,b\n2026-02-30,50,1,2\n":           {"line 2", "there is no day"},
		"day,L,L,a,b\n0,50,50,1,2\n":                {"stands twice"},
		"day,L,a,b\n0,\"50,1,2\n":                   {"line 2", "not closed"},
		"at,poured,L,a,b\n2026-01-05,,50,1,2\n":     {`column "poured"`},
		"\x89PNG":                                   {"picture"},
		"day;L;a;b\n0;50,5;1.5;2\n":                 {"contradict"},
		"day,L,a,b\n0" + strings.Repeat("x", 1<<17): {"longer than"},
		"at,poured,L,a,b\n2026-01-05,2026-01-01,50,1,2\n2026-01-06,2026-01-02,50,1,2\n": {"line 3", "poured at two times"},
		"at,poured,L,a,b\n2026-01-05,2026-01-10,50,1,2\n":                               {"line 2", "days from the pour"},
	} {
		_, err := ReadSeries([]byte(text))
		refused(t, err, words...)
	}
}

// The semi-real portions of the shared reference data: 936 rows, eight
// colourants, a titanium white and vanillin.
func TestSharedMixtures(t *testing.T) {
	data, err := os.ReadFile(testkit.Shared(t, "reference/mixtures/semireal.csv"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := ReadMixtures(data)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "rows", len(m.Rows), 936)
	same(t, "names", strings.Join(m.Names, " "), "c1 c2 c3 c4 c5 c6 c7 c8 tio2")
	same(t, "ignored", strings.Join(m.Ignored, " "), "maker split order true_L true_a true_b")
	r := m.Rows[3]
	same(t, "row", fmt.Sprint(r.Dose, r.Vanillin, triple(r.Base), triple(*r.Lab)), "[0 0 5.439 0 0.852 0 0 0 1.997] 2.531 [93.0078 -0.6093 8.1136] [68.9886 15.1086 19.1084]")
}

func TestMixtures(t *testing.T) {
	m, err := ReadMixtures([]byte("portion;date;base_L;base_a;base_b;dose_Harbour Blue;dose_vanillin;stabiliser;L;a;b;pot\nshore;05.01.2026;90,1;0;5;2,5;;1;60;1;-20;3\ntide;;90;0;5;---;1;;;;;\n"))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "names", strings.Join(m.Names, " "), "Harbour Blue")
	same(t, "ignored", strings.Join(m.Ignored, " "), "pot")
	shore, tide := m.Rows[0], m.Rows[1]
	same(t, "shore", fmt.Sprint(shore.Portion, shore.Date, shore.Dose, shore.Vanillin, shore.Stabilizer, *shore.Lab), "shore2026-01-05 [2.5] 0 1 {60 1 -20}")
	same(t, "to be predicted", tide.Lab == nil, true)
	same(t, "blank dose", tide.Dose[0], 0.0)
	same(t, "vanillin", tide.Vanillin, 1.0)

	m, err = ReadMixtures([]byte("base_L,base_a,base_b,dose_c1\n90,0,5,1\n"))
	if err != nil || m.Rows[0].Lab != nil {
		t.Errorf("a table without results: %v %v", m.Rows, err)
	}
	for text, words := range map[string][]string{
		"": {"empty"}, "L,a,b\n1,2,3\n": {"called base_L"}, "base_L,base_a,base_b,L,a,b\n1,2,3,1,2,3\n": {"dose_NAME"},
		"base_L,base_a,base_b,dose_x,L,a\n1,2,3,1,2,3\n":                      {"called b"},
		"base_L,base_a,base_b,dose_x\n":                                       {"no rows"},
		"base_L,base_a,base_b,dose_x,dose_X\n1,2,3,1,1\n":                     {"stands twice"},
		"base_L,base_a,base_b,dose_x,vanillin,dose_vanillin\n1,2,3,1,1,1\n":   {"mean the same"},
		"base_L,base_a,base_b,dose_x\n90,0,5,-1\n":                            {"line 2", `column "dose_x"`, "-1 g/kg"},
		"base_L,base_a,base_b,dose_x\n90,0,5,1001\n":                          {"1001 g/kg"},
		"base_L,base_a,base_b,dose_x\n90,0,5,lots\n":                          {"line 2", `column "dose_x"`, "lots"},
		"base_L,base_a,base_b,dose_x\n900,0,5,1\n":                            {`column "base_L"`, "900 is outside"},
		"base_L,base_a,base_b,dose_x,L,a,b\n90,0,5,1,50,,1\n":                 {"line 2", `column "a"`, "missing"},
		"base_L,base_a,base_b,dose_x,date\n90,0,5,1,soon\n":                   {`column "date"`, "soon"},
		"base_L,base_a,base_b,dose_x,date\n90,0,5,1,01/02/2026\n":             {"write all dates like"},
		"base_L,base_a,base_b,dose_vanillin,dose_stabilizer\n90,0,5,1,-0.5\n": {`column "dose_stabilizer"`},
	} {
		_, err := ReadMixtures([]byte(text))
		refused(t, err, words...)
	}
}

func FuzzReadSeries(f *testing.F) {
	for _, s := range []string{
		"series_id,read_at,day,L,a,b\nD1,2025-09-01T09:00:00Z,0.00,81.82,-9.85,9.64\n", "day;L;a;b\n0;50,5;1;2\n", "date,time,poured_at,L*,a*,b*\n05.01.2026,09:12,2026-01-01,50,1,2\n",
		"#x\nsep=;\nday;L\n", "date,L,a,b\n01/02/2026,1,2,3\n13/02/2026,1,2,3\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tab, err := ReadSeries(data)
		if err != nil {
			refused(t, err)
			return
		}
		for _, s := range tab.Series {
			if len(s.Points) == 0 {
				t.Fatal("a series without points")
			}
			for _, p := range s.Points {
				if !p.Lab.Finite() || !(p.Day >= -1 && p.Day <= maxDay) {
					t.Fatalf("line %d: day %g, %v", p.Line, p.Day, p.Lab)
				}
			}
		}
	})
}

func FuzzReadMixtures(f *testing.F) {
	for _, s := range []string{
		"base_L,base_a,base_b,dose_c1,dose_vanillin,L,a,b\n90,0,5,1,0.5,60,1,2\n", "base_L;base_a;base_b;dose_c1\n90,5;0;5;\n",
		"portion\tdate\tbase_L\tbase_a\tbase_b\tdose_x\tstabiliser\nshore\t05.01.2026\t90\t0\t5\t1\t2\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := ReadMixtures(data)
		if err != nil {
			refused(t, err)
			return
		}
		for _, r := range m.Rows {
			if len(r.Dose) != len(m.Names) || !r.Base.Finite() {
				t.Fatalf("line %d: %v", r.Line, r)
			}
			for _, d := range append(r.Dose, r.Vanillin, r.Stabilizer) {
				if !(d >= 0 && d <= maxDose) {
					t.Fatalf("line %d: dose %g", r.Line, d)
				}
			}
		}
	})
}
