package formula

import (
	"errors"
	"os"
	"strings"
	"testing"

	"lyefast/internal/unit"
)

const harbour = "../../testdata/plans/harbour-dawn.toml"

func TestReadPlanTakesTheScenario(t *testing.T) {
	data, err := os.ReadFile(harbour)
	if err != nil {
		t.Fatal(err)
	}
	p, err := ReadPlan(data, "harbour-dawn.toml")
	if err != nil {
		t.Fatal(err)
	}
	if p.Title != "Harbour Dawn" || p.Superfat != 5 || *p.Lye.NaOHPurity != 98 || *p.Lye.Concentration != 33 {
		t.Errorf("head of the plan: %+v", p)
	}
	var oils []string
	for _, o := range p.Oils {
		oils = append(oils, o.Name)
	}
	if got := strings.Join(oils, "|"); got != "olive, refined|coconut|palm|castor" {
		t.Errorf("oils lost their order: %s", got)
	}
	if len(p.Batters) != 2 || len(p.Batters[0].Portions) != 3 || *p.Batters[1].Oils != 260 {
		t.Fatalf("batters: %+v", p.Batters)
	}
	shore := p.Batters[0].Portions[0]
	if shore.Parts != 4 || !shore.Scented || shore.Target == nil || shore.Colorants[0].Dose.Unit != PerKgOils {
		t.Errorf("shore: %+v", shore)
	}
	if b, q, err := p.FindPortion("topping/dusk", "slab"); err != nil || b != 1 || q != 0 {
		t.Errorf("topping/dusk is %d/%d, %v", b, q, err)
	}
	text := strings.Split(string(data), "\n")
	for _, c := range []struct {
		line int
		want string
	}{
		{shore.Line, "[[batter.portion]]"}, {shore.TargetLine, "target ="}, {shore.BesideLine, "beside ="},
		{shore.Colorants[0].Line, "Chalk White"}, {p.Oils[1].Line, "coconut"}, {p.Fragrance.Line, "[fragrance]"},
		{p.Batters[1].Portions[0].Colorants[0].Line, "Dusk Violet"}, {p.Lye.Line, "[lye]"}, {p.Fragrance.Stabilizer.Line, "stabilizer"},
	} {
		if c.line < 1 || !strings.Contains(text[c.line-1], c.want) {
			t.Errorf("line %d should hold %q", c.line, c.want)
		}
	}
}

func TestReadPlanNamesEveryFault(t *testing.T) {
	const text = `title = "Low water"
superfat = 5
[lye]
purity = "0.98"
concentration = "33 %"
water_ratio = "2 : 1"
[oils]
coconut = "30 %"
palm = 70
[fragrance]
rate = "4 g"
vanilin = "3 %"
[[batter]]
name = "slab"
oils = "1,000 g"
[[batter.portion]]
name = "quay"
parts = 0
target = "greenish"
beside = ["key"]
colorants = [
  { name = "Rope Red", dose = "2 spoons" },
  { dose = "2 g/kg" },
]
`
	_, err := ReadPlan([]byte(text), "low.toml")
	var perr *PlanError
	if !errors.As(err, &perr) {
		t.Fatalf("got %v", err)
	}
	got := err.Error()
	for _, want := range []string{
		"low.toml:2: superfat: 5 has no unit; write it like \"5 %\"",
		"low.toml:4: lye.purity:",
		"low.toml:3: lye: the water is given more than once",
		"low.toml:9: oils.palm: 70 has no unit",
		"low.toml:11: fragrance.rate: \"4 g\" is not a percentage",
		"low.toml:12: fragrance.vanilin: unknown key; did you mean \"vanillin\"?",
		"low.toml:15: batter[0].oils:",
		"low.toml:18: batter[0].portion[0].parts: 0 parts cannot be",
		"low.toml:19: batter[0].portion[0].target:",
		"low.toml:20: batter[0].portion[0].beside: no portion is called \"key\"",
		"low.toml:22: batter[0].portion[0].colorants[0].dose: \"2 spoons\" is not a dose",
		"low.toml:23: batter[0].portion[0].colorants[1]: a colourant without a name",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("missing %q in\n%s", want, got)
		}
	}
}

func TestReadPlanRefusesWhatIsNoPlan(t *testing.T) {
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"empty":   {nil, "the file is empty"},
		"blank":   {[]byte(" \n\t\n"), "the file is empty"},
		"huge":    {[]byte(strings.Repeat("# wave\n", 200_000)), "too large for a plan"},
		"binary":  {[]byte("title = \"a\x00b\""), "binary"},
		"utf16":   {[]byte("\xff\xfet\x00i\x00"), "UTF-16"},
		"latin1":  {[]byte("title = \"ok\"\nnote = \"caf\xe9\"\n"), "p.toml:2: the text is not UTF-8"},
		"syntax":  {[]byte("title = \"a\"\nsuperfat = 5 %\n"), "p.toml:2: this is not a plan file"},
		"crowd":   {[]byte("superfat = \"5 %\"\n[oils]\na = \"100 %\"\n" + strings.Repeat("[[batter]]\noils = \"1 kg\"\n"+strings.Repeat("[[batter.portion]]\n", 20), 12)), "240 portions are too many"},
		"nothing": {[]byte("title = \"a\"\nsuperfat = \"5 %\"\n"), "no oils given"},
	} {
		_, err := ReadPlan(c.data, "p.toml")
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		} else if strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: more than one line: %s", name, err)
		}
	}
}

func TestParseDose(t *testing.T) {
	for text, want := range map[string]Dose{
		"3 g/kg":     {3, PerKgOils, "3 g/kg"},
		"0,3 %":      {0.3, PercentOils, "0,3 %"},
		"2.5 g":      {2.5, GramsTotal, "2.5 g"},
		"1 tsp/lb":   {1, TspPerPound, "1 tsp/lb"},
		"2 tsp / kg": {2, TspPerKg, "2 tsp / kg"},
	} {
		got, err := ParseDose(text)
		if err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{"3", "", "three g", "-1 g", "1 cup", "g"} {
		if d, err := ParseDose(text); err == nil {
			t.Errorf("%q was taken as %+v", text, d)
		}
	}
}

func FuzzReadPlan(f *testing.F) {
	data, err := os.ReadFile(harbour)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte("[[batter]]\nportion=[{parts=nan}]\n[oils]\na={sv=inf}\n"))
	f.Add([]byte("a.b.\"c\".d = [ [ { x = '''\n''' } ] ]\n[[a]]"))
	f.Add([]byte("superfat='5 %'\n[oils]\n'a b'='100 %'\n[[batter]]\noils='1 kg'\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadPlan(data, "f.toml")
		if err != nil {
			return
		}
		for _, b := range p.Batters {
			if b.Oils == nil && b.Mould == nil {
				t.Fatalf("a batter of no size passed: %+v", b)
			}
			for _, q := range b.Portions {
				if !(q.Parts > 0) {
					t.Fatalf("parts %g passed", q.Parts)
				}
				for _, c := range q.Colorants {
					if !(c.Dose.Value >= 0) || c.Name == "" {
						t.Fatalf("colourant %+v passed", c)
					}
				}
			}
		}
		if p.Superfat < -5 || p.Superfat > unit.Percent(40) {
			t.Fatalf("superfat %v passed", p.Superfat)
		}
	})
}
