package app

import (
	"context"
	"math"
	"slices"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/forecast"
	"lyefast/internal/formula"
	"lyefast/internal/kinetics"
	"lyefast/internal/mixing"
	"lyefast/internal/plan"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// ColorantTaught is what the maker's own portions taught of a colourant.
type ColorantTaught struct {
	Portions int             `json:"portions"`
	MaxDose  unit.GramsPerKg `json:"largest_dose_g_per_kg_oils"`
	Strength float64         `json:"ln_absorption_sd"`
	// Ladder is the settled colour by dose in a pale base, unscented.
	Ladder []LadderStep `json:"ladder"`
	// Prior sets what was believed before against what was learned; nil without a swatch.
	Prior    *PriorAgainst    `json:"prior"`
	Evidence []TaughtEvidence `json:"evidence"`
	// More counts older portions that are not listed.
	More int `json:"more_portions"`
	// Misfits are portions with it that the others find hard to believe.
	Misfits []MisfitSaid `json:"misfits"`
}

// LadderStep is the settled colour at one dose.
type LadderStep struct {
	Dose unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	Lab  cie.Lab         `json:"lab"`
	P05  cie.Lab         `json:"p05"`
	P95  cie.Lab         `json:"p95"`
	Hex  string          `json:"hex"`
	Name string          `json:"name"`
	// Band is about the ΔE00 that 90 % stay within.
	Band float64 `json:"band_delta_e00"`
	// Read tells that a dose as large was read.
	Read bool `json:"within_doses_read"`
}

// PriorAgainst is a colour at a dose as believed before, and as learned.
type PriorAgainst struct {
	Dose    unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	Basis   string          `json:"basis"`
	Before  ColourAt        `json:"before"`
	Learned ColourAt        `json:"learned"`
	Delta   float64         `json:"delta_e00"`
	// Poured is the colour it goes in with, nil where that is not known.
	Poured *ColourAt `json:"poured"`
}

// TaughtEvidence is one portion behind what was learned.
type TaughtEvidence struct {
	Batch   string          `json:"batch"` // "" = from a table of past portions
	Portion string          `json:"portion"`
	Dose    unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	With    []string        `json:"with"`
	Settled cie.Lab         `json:"settled_lab"`
	Hex     string          `json:"settled_hex"`
	// Off is ΔE00 from what the fit gives for it.
	Off float64 `json:"off_delta_e00"`
}

// mostEvidence bounds how many portions are listed, the latest.
const mostEvidence = 12

// Taught gives what the maker's own portions taught of a colourant, nil where it was
// never read.
func (a *App) Taught(ctx context.Context, name string) (*ColorantTaught, error) {
	some := false
	err := a.read(ctx, func(tx *store.Tx) (err error) {
		some, err = tx.AnyPortions(ctx)
		return err
	})
	if err != nil || !some {
		return nil, err
	}
	s, err := a.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	k, err := a.learned(ctx, &s)
	if err != nil {
		return nil, err
	}
	key := store.NameKey(name)
	c, ok := k.shelf.Colorant(key)
	if !ok || c.Reads == 0 {
		return nil, nil
	}
	out := &ColorantTaught{Portions: c.Reads, MaxDose: unit.GramsPerKg(c.MaxDose), Strength: c.LnSD, Ladder: []LadderStep{}, Evidence: []TaughtEvidence{}, Misfits: []MisfitSaid{}}
	for _, dose := range ladder(c.MaxDose) {
		p, err := k.shelf.Predict(k.alone(key, dose))
		if err != nil {
			return nil, err
		}
		if p.Known() {
			out.Ladder = append(out.Ladder, LadderStep{
				Dose: unit.GramsPerKg(dose), Lab: p.Lab, P05: p.P05, P95: p.P95, Hex: p.Lab.Hex(), Name: p.Lab.Name().Text,
				Band: math.Round(100*radius(kinetics.Band{Median: p.Lab, P05: p.P05, P95: p.P95})) / 100, Read: dose <= c.MaxDose*(1+1e-9),
			})
		}
	}
	if out.Prior, err = k.against(key, s.colorant(formula.ColorantUse{Name: name})); err != nil {
		return nil, err
	}
	return out, k.evidence(key, out)
}

// alone is a colourant by itself in pale soap.
func (k *knowledge) alone(key string, dose float64) mixing.Recipe {
	return mixing.Recipe{Base: forecast.PaleBase, Doses: []mixing.Amount{{Colorant: key, Dose: dose}}}
}

// ladder gives round doses up to twice the largest read, five at most.
func ladder(most float64) []float64 {
	top := 0.0
	for _, step := range []float64{1, 2, 5} {
		for e := -3.0; e <= 3; e++ {
			if v := step * math.Pow(10, e); v <= 2*most && v > top {
				top = v
			}
		}
	}
	var out []float64
	for v := top; len(out) < 5 && v > 0; {
		out = append(out, v)
		// 5 → 2 → 1 → 0.5
		lead := v / math.Pow(10, math.Floor(math.Log10(v)+1e-9))
		if lead > 4 {
			v *= 0.4
		} else {
			v /= 2
		}
	}
	slices.Reverse(out)
	return out
}

// against sets a colourant's prior against what was learned.
func (k *knowledge) against(key string, c plan.Colorant) (*PriorAgainst, error) {
	w := k.prior.Colorants[key].Swatch
	if w == nil {
		return nil, nil
	}
	p, err := k.shelf.Predict(k.alone(key, w.Dose))
	if err != nil || !p.Known() {
		return nil, err
	}
	out := &PriorAgainst{Dose: unit.GramsPerKg(w.Dose), Before: *colourAt(w.Lab, 0), Learned: *colourAt(p.Lab, 0), Delta: math.Round(100*cie.DeltaE00(w.Lab, p.Lab)) / 100}
	switch own := c.Product.Swatch; {
	case own != nil && *own == w.Lab && c.Product.SwatchBasis == colorants.SwatchAssumed:
		out.Basis = "assumed colour of the generic pigment"
	case own != nil && *own == w.Lab:
		out.Basis = "your swatch"
	default:
		out.Basis = "what the label says it becomes"
	}
	if own := c.Product.Swatch; own != nil {
		out.Poured = colourAt(*own, 0)
	}
	return out, nil
}

// evidence lists the portions with a colourant, the latest first.
func (k *knowledge) evidence(key string, out *ColorantTaught) error {
	said := k.said()
	for i := len(k.portions) - 1; i >= 0; i-- {
		p := &k.portions[i]
		at := slices.IndexFunc(p.Doses, func(d mixing.Amount) bool { return d.Colorant == key })
		if at < 0 {
			continue
		}
		for _, m := range said.Misfits {
			if m.Portion == p.Name {
				out.Misfits = append(out.Misfits, m)
			}
		}
		if len(out.Evidence) == mostEvidence {
			out.More++
			continue
		}
		fitted, err := k.shelf.Predict(p.Recipe)
		if err != nil {
			return err
		}
		e := TaughtEvidence{
			Batch: k.sources[i].batch, Portion: k.sources[i].portion, Dose: unit.GramsPerKg(p.Doses[at].Dose), With: []string{},
			Settled: p.Lab, Hex: p.Lab.Hex(), Off: math.Round(100*cie.DeltaE00(fitted.Lab, p.Lab)) / 100,
		}
		for j, d := range p.Doses {
			if j != at {
				e.With = append(e.With, k.names[d.Colorant])
			}
		}
		if p.Brown > 0 {
			e.With = append(e.With, "vanillin")
		}
		out.Evidence = append(out.Evidence, e)
	}
	return nil
}
