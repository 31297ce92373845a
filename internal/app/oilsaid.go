package app

import (
	"cmp"
	"math"
	"slices"

	"lyefast/internal/formula"
)

// OilSaid is an oil with what its fatty acids say of it, as a cross-check of the
// published range: the lye is never set by composition.
type OilSaid struct {
	formula.Oil
	// Acids are the fatty acids, largest first; empty where no table knows them.
	Acids []AcidSaid `json:"acids"`
	// SVFromAcids is the saponification value the composition leads to, mg KOH/g; nil
	// where it cannot be said (waxes, free acids, oils with much unsaponifiable).
	SVFromAcids *float64 `json:"sv_from_acids_mg_koh_per_g"`
	// IodineFromAcids and the published range, g I2 per 100 g; nil where not known.
	IodineFromAcids *float64 `json:"iodine_from_acids"`
	IodineMin       *float64 `json:"iodine_min"`
	IodineMax       *float64 `json:"iodine_max"`
	// SaltNaOH is the label name once saponified, "" where the table has none.
	SaltNaOH string `json:"saponified_inci_naoh,omitempty"`
	SaltKOH  string `json:"saponified_inci_koh,omitempty"`
}

// AcidSaid is one fatty acid of an oil.
type AcidSaid struct {
	Acid    string  `json:"acid"`
	Percent float64 `json:"percent"`
}

// muchUnsaponifiable is the share, %, from which composition says nothing of the
// lye: shea allows up to 19 % (CXS 325R-2017).
const muchUnsaponifiable = 5

// SayOil joins an oil with what its composition says.
func SayOil(o formula.Oil) OilSaid {
	s := OilSaid{Oil: o, Acids: []AcidSaid{}}
	if low, high, ok := formula.IodineRange(o); ok {
		s.IodineMin, s.IodineMax = stated(low), stated(high)
	}
	s.SaltNaOH, _, _ = formula.SaltName(o, formula.NaOH)
	s.SaltKOH, _, _ = formula.SaltName(o, formula.KOH)
	acids, ok := formula.AcidsOf(o)
	if !ok {
		return s
	}
	for name, p := range acids {
		if p >= 0.05 {
			s.Acids = append(s.Acids, AcidSaid{name, math.Round(p*10) / 10})
		}
	}
	slices.SortFunc(s.Acids, func(a, b AcidSaid) int {
		return cmp.Or(cmp.Compare(b.Percent, a.Percent), cmp.Compare(a.Acid, b.Acid))
	})
	iv := formula.IodineFromAcids(acids)
	s.IodineFromAcids = &iv
	if o.Kind == formula.Triglyceride && o.Unsaponifiable < muchUnsaponifiable {
		if sv, err := formula.SVFromAcids(acids, 0); err == nil {
			s.SVFromAcids = &sv
		}
	}
	return s
}

// stated gives a figure, or nil for one that is not stated.
func stated(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}
