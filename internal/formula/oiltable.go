package formula

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"

	"lyefast/internal/unit"
)

//go:embed data/oils.csv
var oilsCSV []byte

//go:embed data/acids.csv
var acidsCSV []byte

// oilFact is what the table knows of an oil beside the fields of [Oil].
type oilFact struct {
	oil       Oil
	aliases   []string
	ivMin     float64 // NaN = not stated
	ivMax     float64
	density   float64 // relative to water at 20 °C; 0 = not stated
	densityAt float64 // °C
	tintBasis string
	salt      string
	saltBasis string
	acids     map[string]float64 // % of acids, adding up to 100; nil = not known
}

// table reads the embedded files once, on first use. They are part of the program,
// so a fault in them is one of the build and ends it.
var table = sync.OnceValue(func() []oilFact {
	acids, err := readAcids(acidsCSV)
	if err != nil {
		panic("formula: embedded acids.csv: " + err.Error())
	}
	facts, err := readOils(oilsCSV, acids)
	if err != nil {
		panic("formula: embedded oils.csv: " + err.Error())
	}
	return facts
})

// csvRows gives each row of a table with "#" comments as a map by column name.
func csvRows(data []byte) ([]map[string]string, error) {
	r := csv.NewReader(bytes.NewReader(data))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	var rows []map[string]string
	for _, line := range all[1:] {
		m := map[string]string{}
		for i, name := range all[0] {
			m[name] = line[i]
		}
		rows = append(rows, m)
	}
	return rows, nil
}

func readOils(data []byte, acids map[string]map[string]float64) ([]oilFact, error) {
	rows, err := csvRows(data)
	if err != nil {
		return nil, err
	}
	var facts []oilFact
	for _, m := range rows {
		var bad error
		num := func(col string) float64 {
			if m[col] == "" {
				return math.NaN()
			}
			v, err := strconv.ParseFloat(m[col], 64)
			if err != nil {
				bad = fmt.Errorf("%s: %s: %w", m["key"], col, err)
			}
			return v
		}
		orZero := func(v float64) float64 {
			if math.IsNaN(v) {
				return 0
			}
			return v
		}
		f := oilFact{
			oil: Oil{
				Key: m["key"], Name: m["name"], INCI: m["inci"],
				SVMin: num("sv_min"), SVMax: num("sv_max"),
				Unsaponifiable: unit.Percent(orZero(num("unsap_max_g_per_kg")) / 10),
				Kind:           OilKind(m["kind"]), Tint: Tint(m["tint"]),
				Source: m["source"] + " (" + m["verified"] + ")", Note: m["note"], BuiltIn: true,
			},
			ivMin: num("iv_min"), ivMax: num("iv_max"),
			density: orZero(num("density")), densityAt: orZero(num("density_at_c")),
			tintBasis: m["tint_basis"], salt: m["salt"], saltBasis: m["salt_basis"],
		}
		if m["aliases"] != "" {
			f.aliases = strings.Split(m["aliases"], ";")
		}
		if row := m["acids"]; row != "" {
			if f.acids = acids[row]; f.acids == nil {
				bad = fmt.Errorf("%s: no row %q of acids", m["key"], row)
			}
		}
		if bad == nil {
			bad = Validate(f.oil)
		}
		if bad != nil {
			return nil, bad
		}
		facts = append(facts, f)
	}
	return facts, nil
}

// readAcids gives the composition of each row in % of acids: the middle of each
// range, brought to 100. An "at most" counts half; a lone lowest value counts as it stands.
func readAcids(data []byte) (map[string]map[string]float64, error) {
	rows, err := csvRows(data)
	if err != nil {
		return nil, err
	}
	out := map[string]map[string]float64{}
	for _, m := range rows {
		acids, sum := map[string]float64{}, 0.0
		for _, a := range FattyAcids() {
			lo, hi := m[a.Key+"_min"], m[a.Key+"_max"]
			if lo == "" && hi == "" {
				continue
			}
			if lo == "" {
				lo = "0"
			}
			if hi == "" {
				hi = lo
			}
			l, err1 := strconv.ParseFloat(lo, 64)
			h, err2 := strconv.ParseFloat(hi, 64)
			if err1 != nil || err2 != nil || l < 0 || h < l || h > 100 {
				return nil, fmt.Errorf("%s: %s is %q to %q", m["key"], a.Key, lo, hi)
			}
			if mid := (l + h) / 2; mid > 0 {
				acids[a.Key] = mid
				sum += mid
			}
		}
		if sum == 0 {
			return nil, fmt.Errorf("%s has no acids", m["key"])
		}
		for key := range acids {
			acids[key] *= 100 / sum
		}
		out[m["key"]] = acids
	}
	return out, nil
}

// BuiltIn gives the oils of the built-in table: Codex, pharmacopoeia and handbook
// ranges, each with its source. They describe genuine oils of trade, not a lot.
func BuiltIn() []Oil {
	facts := table()
	oils := make([]Oil, len(facts))
	for i, f := range facts {
		oils[i] = f.oil
	}
	return oils
}

// factOf finds what the table knows of an oil by its key.
func factOf(key string) (oilFact, bool) {
	for _, f := range table() {
		if f.oil.Key == key {
			return f, true
		}
	}
	return oilFact{}, false
}

// AcidsOf gives the fatty acids of an oil in %, adding up to 100, if the table
// knows them: the middles of the published ranges or a typical analysis.
func AcidsOf(o Oil) (map[string]float64, bool) {
	f, ok := factOf(o.Key)
	if !ok || f.acids == nil {
		return nil, false
	}
	acids := make(map[string]float64, len(f.acids))
	for key, v := range f.acids {
		acids[key] = v
	}
	return acids, true
}

// IodineRange gives the published iodine range of an oil, g I2 per 100 g; NaN
// where an end is not stated.
func IodineRange(o Oil) (low, high float64, known bool) {
	f, ok := factOf(o.Key)
	if !ok || math.IsNaN(f.ivMin) && math.IsNaN(f.ivMax) {
		return 0, 0, false
	}
	return f.ivMin, f.ivMax, true
}

// waterAt20 is the density of water at 20 °C, g/ml (CRC Handbook, from memory);
// the tables give oils relative to it.
const waterAt20 = 0.99821

// assumedDensity stands for an oil without a figure, relative to water at 20 °C:
// the Codex liquid oils lie between 0.909 and 0.935.
const assumedDensity = 0.915

// Density gives an oil's density in g/ml, near the temperature at which it is
// liquid. The figure is assumed for an oil that the table does not know.
func Density(o Oil) (gPerML float64, assumed bool) {
	if f, ok := factOf(o.Key); ok && f.density > 0 {
		return f.density * waterAt20, false
	}
	return assumedDensity * waterAt20, true
}

// TintBasis says what an oil's class of colour rests on.
func TintBasis(o Oil) string {
	if f, ok := factOf(o.Key); ok && f.oil.Tint == o.Tint {
		return f.tintBasis
	}
	if o.Tint != "" {
		return "the maker's entry"
	}
	return "not known"
}

// Alkali is a lye.
type Alkali string

// The alkalis of soap.
const (
	NaOH Alkali = "NaOH"
	KOH  Alkali = "KOH"
)

// SaltName gives the label name of an oil once saponified, "Sodium Cocoate", and
// whether it was only formed by the naming pattern and should be looked up in the
// current list. Waxes, and oils that the table does not know, have none: they are
// named by their own INCI name. All stems are from memory.
func SaltName(o Oil, a Alkali) (name string, formed, ok bool) {
	f, found := factOf(o.Key)
	if !found || f.salt == "" {
		return "", false, false
	}
	metal := "Sodium "
	if a == KOH {
		metal = "Potassium "
	}
	return metal + f.salt, f.saltBasis == "formed", true
}

// maxSV is above every fat and acid of soap: the acid value of caproic acid is 483.
const maxSV = 500

// Validate says whether an oil can be computed with.
func Validate(o Oil) error {
	bad := func(format string, args ...any) error {
		name := o.Key
		if name == "" {
			name = o.Name
		}
		return fmt.Errorf("oil %q: "+format, append([]any{name}, args...)...)
	}
	if strings.TrimSpace(o.Key) == "" && strings.TrimSpace(o.Name) == "" {
		return fmt.Errorf("an oil needs a name")
	}
	if o.Kind != "" && o.Kind != Triglyceride && o.Kind != WaxEster && o.Kind != FreeAcid {
		return bad("kind %q is none of %s, %s, %s", o.Kind, Triglyceride, WaxEster, FreeAcid)
	}
	switch o.Tint {
	case "", NearWhite, Cream, Yellow, Orange, Green:
	default:
		return bad("tint %q is none of %s, %s, %s, %s, %s", o.Tint, NearWhite, Cream, Yellow, Orange, Green)
	}
	if !(o.Unsaponifiable >= 0 && o.Unsaponifiable < 100) {
		return bad("unsaponifiable %g %% is outside 0-100", float64(o.Unsaponifiable))
	}
	if o.CertificateSV != 0 {
		if err := validSV(o.CertificateSV); err != nil {
			return bad("certificate: %w", err)
		}
		if o.SVMin == 0 && o.SVMax == 0 {
			return nil
		}
	}
	for _, sv := range []float64{o.SVMin, o.SVMax} {
		if err := validSV(sv); err != nil {
			return bad("%w", err)
		}
	}
	if o.SVMin > o.SVMax {
		return bad("the saponification range %g-%g runs backwards", o.SVMin, o.SVMax)
	}
	return nil
}

// validSV checks a saponification or acid value in mg KOH/g. Values below 2 are
// most likely g per g.
func validSV(sv float64) error {
	switch {
	case math.IsNaN(sv) || math.IsInf(sv, 0) || sv <= 0 || sv > maxSV:
		return fmt.Errorf("a saponification value of %g mg KOH/g is outside 0-%d", sv, maxSV)
	case sv < 2:
		return fmt.Errorf("a saponification value of %g mg KOH/g is too small; as g NaOH per g of oil it would be %.0f mg KOH/g, as g KOH per g %.0f",
			sv, sv*1000*MolarKOH/MolarNaOH, sv*1000)
	}
	return nil
}
