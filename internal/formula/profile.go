package formula

import "fmt"

// Profile is the fatty acid make-up of an oil or of a recipe's oils.
type Profile struct {
	// Acids maps "C18:1" or "ricinoleic" to % of total fatty acids; they add up to
	// 100 over the oils whose acids a table knows, and are empty if none are known.
	Acids map[string]float64 `json:"acids_percent"`
	// Known is the share of the oils, %, for which a table gives the acids.
	Known float64 `json:"known_percent_of_oils"`
	// IodineValue by [IodineFromAcids], g I2 per 100 g.
	IodineValue float64 `json:"iodine_value"`
	// HardFat is the sum of the saturated acids C12 to C22, % of acids: what can set
	// from cold and pass for trace.
	HardFat float64 `json:"hard_fat_percent"`
	// Polyunsaturated is linoleic + linolenic, % of acids. It is information, no pass
	// or fail: the usual limit of 15 % is common practice without a source.
	Polyunsaturated float64 `json:"linoleic_linolenic_percent"`
	// OxidationIndex is oleic + 45 linoleic + 100 linolenic in % units, after the
	// relative autoxidation 1 : 40-50 : 100 (oxygen uptake). It ranks formulas and
	// ignores antioxidants, metals and superfat.
	OxidationIndex float64 `json:"oxidation_index"`
}

// SVFromAcids calculates the saponification value, mg KOH/g, of glycerides with
// these acids in % by mass, brought to 100 first. The mean molar mass is the
// harmonic one (E6): AOCS Cd 3a-94 with a plain mean is right for mole % only and
// falls 3 % short for lauric oils. unsaponifiable is the share of the oil that no
// lye touches, 0-1 (E7). It must not set the lye of shea, jojoba or beeswax.
func SVFromAcids(acids map[string]float64, unsaponifiable float64) (float64, error) {
	sum, perM := 0.0, 0.0
	for _, a := range FattyAcids() {
		p := acids[a.Key]
		if p < 0 || p > 1e6 || p != p {
			return 0, fmt.Errorf("%g %% of %s cannot be", p, a.Key)
		}
		sum += p
		perM += p / a.Molar()
	}
	for key := range acids {
		if _, ok := acidByKey(key); !ok {
			return 0, fmt.Errorf("no fatty acid is called %q; write it like C18:1", key)
		}
	}
	if sum == 0 {
		return 0, fmt.Errorf("no fatty acids given")
	}
	if !(unsaponifiable >= 0 && unsaponifiable < 1) {
		return 0, fmt.Errorf("an unsaponifiable share of %g is outside 0-1", unsaponifiable)
	}
	return (1 - unsaponifiable) * 3000 * MolarKOH / (3*sum/perM + glycerylGain), nil
}

// IodineFromAcids calculates the iodine value, g I2 per 100 g, from % of acids by
// AOCS Cd 1c-85 (E13, coefficients from memory, reproduced by
// [FattyAcid.IodineValue]); ricinoleic acid, which that method leaves out, by the same rule.
func IodineFromAcids(acids map[string]float64) float64 {
	return 0.950*acids["C16:1"] + 0.860*acids["C18:1"] + 1.732*acids["C18:2"] + 2.616*acids["C18:3"] +
		0.785*acids["C20:1"] + 0.723*acids["C22:1"] + 0.816*acids["ricinoleic"]
}

func acidByKey(key string) (FattyAcid, bool) {
	for _, a := range FattyAcids() {
		if a.Key == key {
			return a, true
		}
	}
	return FattyAcid{}, false
}

// ProfileOf mixes the acids of oils by mass. The acids of an oil are taken from
// the table by its key; an oil of the maker's own adds to the unknown share.
func ProfileOf(oils []OilWeight) Profile {
	p := Profile{Acids: map[string]float64{}}
	all, known := 0.0, 0.0
	for _, o := range oils {
		all += float64(o.Share)
		acids, ok := AcidsOf(o.Oil)
		if !ok {
			continue
		}
		known += float64(o.Share)
		for key, v := range acids {
			p.Acids[key] += v * float64(o.Share)
		}
	}
	if known == 0 {
		return p
	}
	for key := range p.Acids {
		p.Acids[key] /= known
	}
	a := p.Acids
	p.Known = 100 * known / all
	p.IodineValue = IodineFromAcids(a)
	p.HardFat = a["C12:0"] + a["C14:0"] + a["C16:0"] + a["C18:0"] + a["C20:0"] + a["C22:0"]
	p.Polyunsaturated = a["C18:2"] + a["C18:3"]
	p.OxidationIndex = a["C18:1"] + 45*a["C18:2"] + 100*a["C18:3"]
	return p
}
