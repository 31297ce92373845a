package formula

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lyefast/internal/testkit"
)

// The embedded table holds the figures of the reference table, row by row.
func TestTableHoldsTheReferenceFigures(t *testing.T) {
	rows := testkit.Table(t, testkit.Shared(t, "reference/oils-codex.csv"))
	if len(rows) != len(table()) {
		t.Errorf("%d oils, reference has %d", len(table()), len(rows))
	}
	number := func(s string) float64 {
		if s == "" {
			return math.NaN()
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	same := func(a, b float64) bool { return math.IsNaN(a) && math.IsNaN(b) || a == b }
	for _, m := range rows {
		f, ok := factOf(m["key"])
		if !ok {
			t.Errorf("no oil %s", m["key"])
			continue
		}
		if !same(f.oil.SVMin, number(m["sv_min_mgKOH_g"])) || !same(f.oil.SVMax, number(m["sv_max_mgKOH_g"])) ||
			!same(f.ivMin, number(m["iv_min"])) || !same(f.ivMax, number(m["iv_max"])) {
			t.Errorf("%s: %g-%g, iv %g-%g", m["key"], f.oil.SVMin, f.oil.SVMax, f.ivMin, f.ivMax)
		}
		if u := number(m["unsap_max_g_kg"]); !math.IsNaN(u) && math.Abs(float64(f.oil.Unsaponifiable)*10-u) > 1e-9 {
			t.Errorf("%s: unsaponifiable %g g/kg, reference %g", m["key"], float64(f.oil.Unsaponifiable)*10, u)
		}
		if f.oil.Source == "" || f.oil.Name != m["common_name"] {
			t.Errorf("%s: name %q, source %q", m["key"], f.oil.Name, f.oil.Source)
		}
	}
}

// Each acid of the embedded rows that the reference has is the middle of its
// range, brought to 100 with the rest of the row.
func TestAcidsHoldTheReferenceFigures(t *testing.T) {
	ours, err := readAcids(acidsCSV)
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, m := range testkit.Table(t, testkit.Shared(t, "reference/fatty-acids-codex.csv")) {
		acids, ok := ours[m["key"]]
		// Rows that were filled up or merged are told in acids.csv.
		if !ok || strings.HasSuffix(m["key"], "_acid") || strings.HasPrefix(m["key"], "stearic") || m["key"] == "sunflower" {
			continue
		}
		ratio := 0.0
		for _, a := range FattyAcids() {
			hi, err := strconv.ParseFloat(m[a.Key+"_max"], 64)
			if err != nil {
				continue
			}
			lo, _ := strconv.ParseFloat(m[a.Key+"_min"], 64) // empty: at most
			if lo+hi == 0 {
				continue
			}
			r := acids[a.Key] / ((lo + hi) / 2)
			if ratio == 0 {
				ratio = r
			}
			near4(t, m["key"]+" "+a.Key, r, ratio, 1e-12)
			checked++
		}
	}
	if checked < 300 {
		t.Errorf("only %d figures checked", checked)
	}
}

func TestTableIsSound(t *testing.T) {
	keys, aliases := map[string]bool{}, map[string]string{}
	for _, f := range table() {
		o := f.oil
		if err := Validate(o); err != nil {
			t.Error(err)
		}
		if keys[o.Key] {
			t.Errorf("%s stands twice", o.Key)
		}
		keys[o.Key] = true
		if o.INCI == "" || o.Tint == "" || f.tintBasis == "" || o.Kind == "" {
			t.Errorf("%s lacks a name or class: %+v", o.Key, o)
		}
		if f.density != 0 && (f.density < 0.84 || f.density > 0.97) {
			t.Errorf("%s: density %g", o.Key, f.density)
		}
		for _, a := range f.aliases {
			if other, ok := aliases[a]; ok {
				t.Errorf("%q stands for both %s and %s", a, other, o.Key)
			}
			aliases[a] = o.Key
		}
		if f.acids != nil {
			sum := 0.0
			for _, v := range f.acids {
				sum += v
			}
			near4(t, o.Key+" acids", sum, 100, 1e-12)
		}
	}
	for _, key := range []string{"jojoba", "beeswax"} {
		if f, _ := factOf(key); f.oil.Kind != WaxEster {
			t.Errorf("%s is a %s", key, f.oil.Kind)
		}
	}
	for _, key := range []string{"stearic_acid_50", "stearic_acid_purified", "palmitic_acid", "oleic_acid", "myristic_acid", "lauric_acid"} {
		f, _ := factOf(key)
		if f.oil.Kind != FreeAcid {
			t.Errorf("%s is a %s", key, f.oil.Kind)
		}
		// The acid value of the acids in it, by E6 for free acids, falls into its range.
		sum := 0.0
		for k, v := range f.acids {
			a, _ := acidByKey(k)
			sum += v / 100 / a.Molar()
		}
		if av := 1000 * MolarKOH * sum; av < f.oil.SVMin || av > f.oil.SVMax {
			t.Errorf("%s: acid value %.1f outside %g-%g", key, av, f.oil.SVMin, f.oil.SVMax)
		}
	}
}

func TestValidate(t *testing.T) {
	good := Oil{Key: "quay", SVMin: 180, SVMax: 190}
	if err := Validate(good); err != nil {
		t.Error(err)
	}
	if err := Validate(Oil{Name: "from a certificate", CertificateSV: 192.4}); err != nil {
		t.Error(err)
	}
	for want, o := range map[string]Oil{
		"needs a name":      {SVMin: 180, SVMax: 190},
		"runs backwards":    {Key: "q", SVMin: 190, SVMax: 180},
		"outside 0-500":     {Key: "q", SVMin: 180, SVMax: 1900},
		"would be 190 mg":   {Key: "q", SVMin: 0.1354, SVMax: 0.1354},
		"certificate":       {Key: "q", SVMin: 180, SVMax: 190, CertificateSV: -1},
		"kind \"mineral\"":  {Key: "q", SVMin: 180, SVMax: 190, Kind: "mineral"},
		"tint \"purple\"":   {Key: "q", SVMin: 180, SVMax: 190, Tint: "purple"},
		"unsaponifiable 1":  {Key: "q", SVMin: 180, SVMax: 190, Unsaponifiable: 100},
		"value of NaN":      {Key: "q", SVMin: math.NaN(), SVMax: 190},
		"saponification va": {Key: "q"},
	} {
		if err := Validate(o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", o, err, want)
		}
	}
}

func TestFindOil(t *testing.T) {
	oils := BuiltIn()
	for name, want := range map[string]string{
		"coconut": "coconut", "Coconut Oil": "coconut", "COCOS NUCIFERA OIL": "coconut",
		"olive, refined": "olive_refined", "refined olive oil": "olive_refined", "olive": "olive_refined", "Olive oil": "olive_refined",
		"olive_virgin": "olive_virgin", "extra virgin olive oil": "olive_virgin", "olive, extra virgin": "olive_virgin", "pomace": "olive_pomace",
		"palm": "palm", "palm oil": "palm", "palm kernel oil": "palm_kernel", "castor": "castor", "castor oil": "castor",
		"shea": "shea_unrefined", "shea butter": "shea_unrefined", "Shea butter, refined": "shea_refined", "refined shea": "shea_refined",
		"rapeseed": "rapeseed_low_erucic", "canola": "rapeseed_low_erucic", "canola oil": "rapeseed_low_erucic", "rapeseed (canola)": "rapeseed_low_erucic",
		"sunflower": "sunflower", "sunflower, high oleic": "sunflower_high_oleic", "high oleic sunflower oil": "sunflower_high_oleic",
		"cocoa butter": "cocoa_butter", "cocoa": "cocoa_butter", "lard": "lard", "tallow": "tallow_codex", "beef tallow": "tallow_codex",
		"stearic acid": "stearic_acid_50", "sweet almond": "almond_sweet_bp", "almond oil": "almond_sweet_bp", "soy": "soybean", "corn oil": "maize",
		"mango butter": "mango_kernel", "rice bran": "rice_bran", "linseed": "flaxseed", "groundnut oil": "peanut", "jojoba": "jojoba",
		"Prunus Armeniaca Kernel Oil": "apricot_kernel", "superolein": "palm_superolein",
	} {
		o, err := FindOil(name, oils)
		if err != nil || o.Key != want {
			t.Errorf("%q: %q, %v; want %s", name, o.Key, err, want)
		}
	}
	for name, want := range map[string]string{
		"":                             "no name of an oil",
		"   ":                          "no name of an oil",
		"high oleic":                   "could be any of",
		"Olea Europaea Fruit Oil":      "could be any of olive_virgin, olive_refined, olive_usp",
		"kernel":                       "could be any of",
		"lighthouse":                   "no oil is called",
		strings.Repeat("x", 1_000_000): "no oil is called",
		"\xff\xfe":                     "no",
	} {
		o, err := FindOil(name, oils)
		if err == nil || !strings.Contains(err.Error(), want) || len(err.Error()) > 1000 {
			t.Errorf("%.20q: %q, %v; want %q", name, o.Key, err, want)
		}
	}
	for name, want := range map[string]string{"cocnut": "coconut", "olve": "olive", "jojobba": "jojoba", "rapseed": "rapeseed"} {
		_, err := FindOil(name, oils)
		e, ok := err.(*NameError)
		if !ok || !slices.ContainsFunc(e.Near, func(s string) bool { return strings.HasPrefix(strings.ToLower(s), want) }) || !strings.Contains(e.Hint(), "did you mean") {
			t.Errorf("%q: %v, near %v", name, err, e)
		}
	}
}

func TestOwnOilsOutrankTheTable(t *testing.T) {
	own := Oil{Key: "coconut-7", Name: "Coconut oil", CertificateSV: 257}
	old := Oil{Key: "castor-1", Name: "Castor oil", CertificateSV: 180, Retired: true}
	oils := append(BuiltIn(), own, old)
	if o, err := FindOil("coconut", oils); err != nil || o.Key != own.Key {
		t.Errorf("got %q, %v", o.Key, err)
	}
	if o, err := FindOil("castor oil", oils); err != nil || o.Key != "castor" {
		t.Errorf("a retired oil came first: %q, %v", o.Key, err)
	}
	if o, err := FindOil("castor-1", oils); err != nil || o.Key != old.Key {
		t.Errorf("got %q, %v", o.Key, err)
	}
}

// Castor by the BP 1993, palm olein with a lowest value only, beeswax without any.
func TestIodineRange(t *testing.T) {
	if low, high, ok := IodineRange(mustOil(t, "castor")); !ok || low != 82 || high != 90 {
		t.Errorf("castor %g-%g %v", low, high, ok)
	}
	if low, high, ok := IodineRange(mustOil(t, "palm_olein")); !ok || low != 56 || !math.IsNaN(high) {
		t.Errorf("palm olein %g-%g %v", low, high, ok)
	}
	for _, o := range []Oil{mustOil(t, "beeswax"), {Key: "own"}} {
		if _, _, ok := IodineRange(o); ok {
			t.Errorf("%s has an iodine range", o.Key)
		}
	}
}

func TestSaltNames(t *testing.T) {
	// INCI names of the saponified oils, from memory.
	for key, want := range map[string]string{"coconut": "Cocoate", "palm": "Palmate", "olive_refined": "Olivate", "castor": "Castorate", "shea_unrefined": "Shea Butterate", "tallow_codex": "Tallowate"} {
		na, formed, ok := SaltName(mustOil(t, key), NaOH)
		if !ok || formed || na != "Sodium "+want {
			t.Errorf("%s: %q %v %v", key, na, formed, ok)
		}
		if k, _, _ := SaltName(mustOil(t, key), KOH); k != "Potassium "+want {
			t.Errorf("%s: %q", key, k)
		}
	}
	if _, formed, ok := SaltName(mustOil(t, "walnut"), NaOH); !ok || !formed {
		t.Error("a name made by the pattern is not marked")
	}
	for _, o := range []Oil{mustOil(t, "jojoba"), {Key: "own", Name: "Own", SVMin: 180, SVMax: 190}} {
		if name, _, ok := SaltName(o, NaOH); ok {
			t.Errorf("%s: %q", o.Key, name)
		}
	}
}

// Bound lye as computed in the vanillin facts of the reference data, from the same
// atomic weights: vanillin 0.2629 and ethyl vanillin 0.2407 g NaOH per g, two per
// metabisulfite 0.4208; molar masses of its table A1.
func TestBoundLye(t *testing.T) {
	for _, w := range []struct {
		formula         string
		molar, eq, naoh float64
	}{
		{"C8H8O3", 152.149, 1, 0.2629}, {"C9H10O3", 166.176, 1, 0.2407},
		{"Na2S2O5", 190.095, 2, 0.4208}, {"NaHSO3", 104.055, 1, 0.3844},
	} {
		m, err := Molar(w.formula)
		if err != nil {
			t.Fatal(err)
		}
		near4(t, w.formula, m, w.molar, 1e-6)
		near4(t, w.formula+" binds", boundNaOH(m, w.eq), w.naoh, 2e-4)
	}
	// Citric acid takes 3 mol per mol: 192.12 g/mol (handbook) makes 0.6245 g NaOH per g.
	citric, err := FindAdditive("Citric acid")
	if err != nil {
		t.Fatal(err)
	}
	near4(t, "citric acid", citric.BindsNaOH, 0.6245, rel)
	mono, _ := FindAdditive("citric acid monohydrate")
	near4(t, "monohydrate", mono.BindsNaOH/citric.BindsNaOH, 192.12/210.14, rel)
	near4(t, "its water", float64(mono.Water), 8.573, rel)
	for _, bad := range []string{"", "Xx", "C1001", "na", "(OH)2"} {
		if m, err := Molar(bad); err == nil {
			t.Errorf("%q weighs %g", bad, m)
		}
	}
}

func TestFindAdditive(t *testing.T) {
	for name, want := range map[string]string{
		"milk": "cow milk", "Goat's Milk": "goat milk", "honey": "honey", "sugar": "sugar", "Salt": "salt", "sodium lactate 60 %": "sodium lactate 60 %",
		"sodium lactate": "sodium lactate 60 %", "citric acid": "citric acid", "aloe vera juice": "aloe juice", "oatmeal": "oat", "tussah silk": "silk", "kaolin clay": "kaolin", "beer": "beer",
	} {
		if a, err := FindAdditive(name); err != nil || a.Key != want {
			t.Errorf("%q: %q, %v", name, a.Key, err)
		}
	}
	for _, name := range []string{"", "driftwood", strings.Repeat("y", 1000)} {
		if a, err := FindAdditive(name); err == nil {
			t.Errorf("%.20q: %q", name, a.Key)
		}
	}
	_, err := FindAdditive("citrc acid")
	if e, ok := err.(*NameError); !ok || len(e.Near) == 0 || e.Near[0] != "citric acid" {
		t.Errorf("near: %v", err)
	}
	seen := map[string]string{}
	for _, a := range Additives() {
		for _, n := range append([]string{a.Key}, a.Aliases...) {
			if other, ok := seen[n]; ok && other != a.Key {
				t.Errorf("%q stands for %s and %s", n, other, a.Key)
			}
			seen[n] = a.Key
		}
		if a.Water+a.Fat > 100 || a.Water < 0 || a.Fat < 0 || a.BindsNaOH < 0 || a.BindsNaOH > 1 {
			t.Errorf("%s: %+v", a.Key, a)
		}
		if !slices.Contains([]string{"lye", "oils", "batter", "water"}, a.Into) || a.Fat > 0 && a.FatSVMin <= 0 {
			t.Errorf("%s: %+v", a.Key, a)
		}
	}
}

func TestProfileOfMixtures(t *testing.T) {
	// Oxidation index of typical rows, from the notes on base colour: palm 533.7, olive
	// 488.0, lard 600.2 before bringing the rows to 100 %.
	for _, w := range []struct {
		key   string
		index float64
		sum   float64
	}{{"palm_refined_typical", 533.7, 100}, {"olive_typical", 488.0, 95}, {"lard_typical", 600.2, 93.9}} {
		acids, err := readAcids(acidsCSV)
		if err != nil {
			t.Fatal(err)
		}
		a := acids[w.key]
		near4(t, w.key, (a["C18:1"]+45*a["C18:2"]+100*a["C18:3"])*w.sum/100, w.index, 1e-9)
	}
	coconut, castor := mustOil(t, "coconut"), mustOil(t, "castor")
	p := ProfileOf([]OilWeight{{Oil: coconut, Share: 60}, {Oil: castor, Share: 20}, {Oil: Oil{Key: "own"}, Share: 20}})
	near4(t, "known", p.Known, 80, 1e-12)
	sum := 0.0
	for _, v := range p.Acids {
		sum += v
	}
	near4(t, "sum", sum, 100, 1e-12)
	near4(t, "ricinoleic", p.Acids["ricinoleic"], 87*0.25, 1e-12) // Merck Index: 87 % of castor
	// Middles of the Codex ranges of coconut: 80.0 of 103.6 are C12:0 to C20:0; of castor 3 of 100.
	near4(t, "hard fat", p.HardFat, 0.75*80.0/1.036+0.25*3, rel)
	if p.Polyunsaturated != p.Acids["C18:2"]+p.Acids["C18:3"] {
		t.Error("linoleic + linolenic")
	}
	if none := ProfileOf([]OilWeight{{Oil: Oil{Key: "own"}, Share: 100}}); none.Known != 0 || none.Acids == nil || len(none.Acids) != 0 {
		t.Errorf("%+v", none)
	}
	for _, bad := range []map[string]float64{nil, {"C18:1": -1}, {"C17:0": 5}, {"C18:1": math.NaN()}} {
		if sv, err := SVFromAcids(bad, 0); err == nil {
			t.Errorf("%v gave %g", bad, sv)
		}
	}
	if sv, err := SVFromAcids(map[string]float64{"C18:1": 1}, 1); err == nil {
		t.Errorf("all unsaponifiable gave %g", sv)
	}
}

func FuzzFindOil(f *testing.F) {
	for _, s := range []string{"olive, refined", "coconut", "", "canola oil", "Cocos Nucifera Oil", "oil", "butter fat", "пальма", "\x00\xff", "a a a a a a a"} {
		f.Add(s)
	}
	oils := append(BuiltIn(), Oil{Name: "Own"}, Oil{Key: "x", Retired: true})
	f.Fuzz(func(t *testing.T, name string) {
		o, err := FindOil(name, oils)
		if (err == nil) == (o.Key == "" && o.Name == "") {
			t.Fatalf("%q: %+v, %v", name, o, err)
		}
		if err != nil && (len(err.Error()) > 4000 || err.Error() == "") {
			t.Fatalf("%q: message of %d bytes", name, len(err.Error()))
		}
		if a, aerr := FindAdditive(name); (aerr == nil) != (a.Key != "") {
			t.Fatalf("%q: %+v, %v", name, a, aerr)
		}
	})
}

func FuzzMolar(f *testing.F) {
	for _, s := range []string{"C6H8O7", "NaOH", "", "C999999999999999999999", "cl", "Na2", "9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, formula string) {
		if m, err := Molar(formula); err == nil && !(m > 0 && !math.IsInf(m, 0)) {
			t.Fatalf("%q: %g", formula, m)
		}
	})
}
