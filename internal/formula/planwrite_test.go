package formula

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// withoutLines clears what a rewritten plan may change: the places in the file,
// how a target or dose was spelt, and what a hex swatch loses as L*a*b*.
func withoutLines(p Plan) Plan {
	var walk func(reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem())
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case reflect.Struct:
			for i := range v.NumField() {
				switch v.Type().Field(i).Name {
				case "Line", "SuperfatLine", "TargetLine", "BesideLine", "File":
					v.Field(i).SetZero()
				default:
					walk(v.Field(i))
				}
			}
		}
	}
	walk(reflect.ValueOf(&p).Elem())
	return p
}

func TestWrittenPlansReadBack(t *testing.T) {
	files, err := filepath.Glob("../../testdata/plans/*.toml")
	if err != nil || len(files) < 2 {
		t.Fatalf("plans to write: %v %v", files, err)
	}
	texts := map[string][]byte{}
	for _, f := range files {
		if strings.HasPrefix(filepath.Base(f), "faulty") {
			continue
		}
		if texts[f], err = os.ReadFile(f); err != nil {
			t.Fatal(err)
		}
	}
	texts["everything"] = []byte(`title = "All \"of\" it"
note = "two\nlines"
superfat = "4,5 %"
[lye]
alkali = "both"
koh_share = "10 %"
naoh_purity = "98 %"
koh_purity = "90 %"
water_ratio = "2.1 : 1"
temperature = "36 °C"
[oils]
coconut = { share = "30 %", sv = 255.5 }
"olive, refined" = "70 %"
[base]
lab = "87.5,-1,12"
age_days = 30
[fragrance]
name = "Mast"
rate = "3 %"
ethyl_vanillin = "1 %"
claims = ["no discolouration", "slow"]
moves = "slow"
stabilizer = { name = "Keeper", grams = "12 g", active = "sodium sulfite", strength = "9 %" }
[pour]
technique = "swirl"
minutes = 12
batter = "34 °C"
gel = "full"
light = "window"
cure = "17 °C"
[[additive]]
name = "salt"
dose = "1 %"
into = "lye"
batter = "slab"
[[batter]]
name = "slab"
mould = "25 x 8 x 7 cm"
superfat = "6 %"
rate = "2 %"
lye = { concentration = "30 %" }
portion = [ { name = "a", parts = 2, scented = false, target = "88,1,14", beside = "b", colorants = [ { name = "Rust", dose = "1 tsp/lb", teaspoon = "3 g", wet = "10 g sunflower" } ] }, { name = "b" } ]
`)
	for name, text := range texts {
		p, err := ReadPlan(text, name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		written := WritePlan(p)
		again, err := ReadPlan(written, name)
		if err != nil {
			t.Errorf("%s: written, it does not read: %v\n%s", name, err, written)
			continue
		}
		if got, want := withoutLines(again), withoutLines(p); !reflect.DeepEqual(got, want) {
			t.Errorf("%s came back changed:\n%+v\n%+v\n%s", name, got, want, written)
		}
	}
}
