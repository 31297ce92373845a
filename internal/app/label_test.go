package app

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"lyefast/internal/observations"
	"lyefast/internal/unit"
)

func labelOf(t *testing.T, plan string) *Label {
	t.Helper()
	return must(t, func() (*Label, error) {
		return session(t).PlanLabel(context.Background(), LabelQuery{Data: []byte(plan), File: "p.toml", Form: SaponifiedForm})
	})
}

func names(list []Ingredient) string {
	var out []string
	for _, x := range list {
		out = append(out, x.INCI)
	}
	return strings.Join(out, ", ")
}

// Both forms of the three oils, in falling weight. The mass balance was worked by
// hand: from 1000 g of oils and 143.4417 g of NaOH come 983.3491 g of dry soap beside
// 50 g of free oil and 110.0926 g of glycerol.
func TestLabelOrderAndBalance(t *testing.T) {
	l := labelOf(t, fmt.Sprintf(threeOils, "5 %", ""))
	// Coconut and palm weigh the same and go by name; the water is 297.2 g.
	if got, want := names(l.Poured), "Canola Oil, Cocos Nucifera Oil, Elaeis Guineensis Oil, Aqua, Sodium Hydroxide"; got != want {
		t.Errorf("as poured: %s, want %s", got, want)
	}
	if l.Poured[0].Grams != 400 {
		t.Errorf("the first is %v", l.Poured[0])
	}
	salts, glycerol := unit.Grams(0), unit.Grams(0)
	for i, x := range l.Saponified {
		if i > 0 && x.Share > l.Saponified[i-1].Share {
			t.Errorf("%s stands after a lighter one", x.INCI)
		}
		switch {
		case strings.HasPrefix(x.INCI, "Sodium "):
			salts += x.Grams
		case x.INCI == "Glycerin":
			glycerol = x.Grams
		}
	}
	// Each of three lines is rounded to 0.1 g.
	if math.Abs(float64(salts)-1033.349) > 0.2 || math.Abs(float64(glycerol)-110.093) > 0.06 {
		t.Errorf("salts with free oil %v, want 1033.35; glycerol %v, want 110.09", salts, glycerol)
	}
	potash := labelOf(t, strings.Replace(fmt.Sprintf(threeOils, "5 %", ""), `lye = {`, `lye = { alkali = "KOH",`, 1))
	if s := names(potash.Saponified); !strings.Contains(s, "Potassium Cocoate") || strings.Contains(s, "Sodium") {
		t.Errorf("potash soap: %s", s)
	}
}

// Colours stand last and by number; what a label leaves open stays open.
func TestLabelColoursAndOpenPlaces(t *testing.T) {
	l := labelOf(t, fmt.Sprintf(threeOils, "5 %", `colorants = [
 { name = "Fog", dose = "2 g/kg", label = "Titanium Dioxide (CI 77891), Mica (CI 77019)" },
 { name = "Buoy", dose = "1 g/kg", label = "Iron Oxides" },
 { name = "Nameless", dose = "1 g/kg" },
]`))
	var got []string
	for _, c := range l.Colours {
		got = append(got, c.Name)
	}
	want := "CI 77019|CI 77891|___ (Iron Oxides: CI 77491 or CI 77492 or CI 77499 or CI 77489)|___ (Nameless)"
	if s := strings.Join(got, "|"); s != want {
		t.Errorf("colours %s, want %s", s, want)
	}
	if !strings.HasSuffix(l.Ingredients, "___ (Nameless)") || l.Net != nil || l.Batch != "" || l.EarliestSale != "" {
		t.Errorf("label %q, net %v, batch %q, sale %q", l.Ingredients, l.Net, l.Batch, l.EarliestSale)
	}
	if u := strings.Join(l.Unknown, "\n"); !strings.Contains(u, "what colours Nameless") || !strings.Contains(u, "net weight") {
		t.Errorf("open: %s", u)
	}
}

// 0.01 % of a rinse-off product is the EU's limit (Regulation (EU) 2023/1545): vanillin
// at 0.27 % of the fragrance crosses it at 5 % of the oils, reckoned by hand as
// 0.0001·(1.278 + 0.05)/0.05 = 0.2656 %.
func TestLabelAllergensOverTheLimit(t *testing.T) {
	for _, c := range []struct {
		vanillin string
		named    bool
	}{{"0.26 %", false}, {"0.27 %", true}} {
		plan := strings.Replace(fmt.Sprintf(threeOils, "8 %", ""), "[[batter]]", "[fragrance]\nname = \"Lantern Amber\"\nrate = \"5 %\"\nvanillin = \""+c.vanillin+"\"\nstabilizer = \"none\"\n[[batter]]", 1)
		l := labelOf(t, plan)
		if named := strings.Contains(l.Ingredients, "Parfum, Vanillin"); named != c.named {
			t.Errorf("vanillin %s: %s", c.vanillin, l.Ingredients)
		}
		if !strings.Contains(l.Ingredients, "___ (further allergens)") {
			t.Errorf("without an allergen sheet the list is closed: %s", l.Ingredients)
		}
	}
}

func TestNetWeight(t *testing.T) {
	b := &observations.Batch{Code: "HD-01", PouredAt: dawn, Batters: []observations.Batter{{Name: "slab", FreshWater: 0.2}}}
	at := func(bar string, day int, g unit.Grams) observations.Weighing {
		return observations.Weighing{Batter: "slab", Bar: bar, Grams: g, At: dawn.Add(time.Duration(day) * 24 * time.Hour)}
	}
	for _, c := range []struct {
		name string
		list []observations.Weighing
		want unit.Grams // 0 = open
		says string
	}{
		{"none", nil, 0, "no bar of HD-01 was weighed"},
		{"still drying", []observations.Weighing{at("1", 1, 120), at("1", 20, 110)}, 0, "still dries"},
		{"the lightest", []observations.Weighing{at("1", 1, 120), at("1", 42, 106), at("2", 1, 118), at("2", 42, 104)}, 104, "lightest of the bars"},
		{"the last of each", []observations.Weighing{at("1", 42, 104), at("1", 60, 103)}, 103, "lightest"},
		{"an unweighed one", []observations.Weighing{at("1", 42, 106), at("2", 1, 100)}, 106, "are left out"},
		// A bar of 120 g with 20 % water cannot fall below 96 g.
		{"an impossible one", []observations.Weighing{at("1", 1, 120), at("1", 42, 106), at("1", 43, 60)}, 106, "lightest"},
	} {
		got, says := netWeight(b, c.list, 42)
		if (got == nil) != (c.want == 0) || got != nil && *got != c.want || !strings.Contains(says, c.says) {
			t.Errorf("%s: %v, %q", c.name, got, says)
		}
	}
}
