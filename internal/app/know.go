package app

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/forecast"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/near"
	"lyefast/internal/plan"
	"lyefast/internal/store"
)

// Doubt about a swatch, one standard deviation in L*, a*, b*: one taken by eye
// from a product, and one that this program only assumes.
var (
	swatchSD  = cie.Lab{L: 6, A: 4, B: 6}
	assumedSD = cie.Lab{L: 8, A: 6, B: 8}
)

// colorant joins what a plan says of a colourant with what the shelf knows.
func (s *Shelf) colorant(u formula.ColorantUse) plan.Colorant {
	var c plan.Colorant
	names := make([]string, 0, len(s.Colorants))
	for _, p := range s.Colorants {
		if store.NameKey(p.Name) == store.NameKey(u.Name) {
			c.Product, c.Known = p, true
			break
		}
		if !p.Retired {
			names = append(names, p.Name)
		}
	}
	if !c.Known {
		c.Product = colorants.Product{Name: u.Name}
		c.Near = near.Near(u.Name, names)
	}
	if u.Label != "" {
		c.Product.Label, c.Known = u.Label, true
		c.Product.Kind = ""
	}
	if u.Swatch != nil {
		c.Product.Swatch, c.Product.SwatchBasis, c.Product.SwatchDose, c.Known = u.Swatch, "maker", 0, true
	}
	if u.TeaspoonGrams > 0 {
		c.Product.TeaspoonGrams = u.TeaspoonGrams
	}
	if c.Product.Kind == "" {
		c.Product.Kind = colorants.GuessKind(c.Product)
	}
	if c.Product.TeaspoonGrams == 0 {
		guess := colorants.TeaspoonGrams(c.Product.Kind)
		c.Teaspoon, c.Product.TeaspoonGrams = &guess, guess.Middle
	}
	c.Expect = colorants.Expect(c.Product)
	c.Label = c.Expect.Reading
	s.outrank(&c)
	return c
}

// known turns a colourant into what the forecast reckons with.
func known(c plan.Colorant) forecast.Colorant {
	p, e := c.Product, c.Expect
	dose := p.SwatchDose
	if dose == 0 {
		dose = p.Dose()
	}
	f := forecast.Colorant{
		Name: p.Name, White: e.White, HalfLife: e.HalfLifeDays,
		Pattern: forecast.Pattern(e.Pattern), Clear: c.Clear(),
	}
	if p.Swatch != nil {
		f.Own = &forecast.Swatch{Lab: *p.Swatch, SD: swatchSD, Dose: dose, Basis: "swatch"}
		if p.SwatchBasis == "assumed" {
			f.Own.SD, f.Own.Basis = assumedSD, "assumed colour of the generic pigment"
		}
	}
	if b := e.Becomes; b != nil && b.Lab != nil {
		f.Lands = &forecast.Swatch{Lab: *b.Lab, SD: b.SD, Dose: dose, Basis: "what the label says it becomes"}
	}
	if b := e.Fresh; b != nil && b.Lab != nil {
		f.Fresh = &forecast.Swatch{Lab: *b.Lab, SD: b.SD, Dose: dose, Basis: "what the label says of strong alkali"}
	}
	return f
}

// suggestible are the colourants of the shelf, and of the plan, that a remedy may
// name: those expected to hold whose colour is known.
func (s *Shelf) suggestible(planned map[string]plan.Colorant) []forecast.Colorant {
	var out []forecast.Colorant
	seen := map[string]bool{}
	add := func(c plan.Colorant) {
		if c.Expect.Verdict == colorants.VerdictStable && c.Product.Swatch != nil {
			out = append(out, known(c))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(planned)) {
		seen[store.NameKey(name)] = true
		add(planned[name])
	}
	for _, p := range s.Colorants {
		if p.Retired || p.Swatch == nil || seen[store.NameKey(p.Name)] {
			continue
		}
		c := plan.Colorant{Product: p, Known: true, Expect: colorants.Expect(p)}
		c.Label = c.Expect.Reading
		add(c)
	}
	return out
}

// scent joins what a plan says of its fragrance with what the shelf knows. What
// the plan states goes before the shelf's figures.
func (s *Shelf) scent(u formula.FragranceUse) *plan.Scent {
	sc := &plan.Scent{}
	var names []string
	for _, f := range s.Fragrances {
		if store.NameKey(f.Name) == store.NameKey(u.Name) {
			sc.Fragrance, sc.Known = f, true
			break
		}
		if !f.Retired {
			names = append(names, f.Name)
		}
	}
	f := &sc.Fragrance
	if !sc.Known {
		f.Name = u.Name
		sc.Near = near.Near(u.Name, names)
	}
	if u.Vanillin != nil || u.EthylVanillin != nil {
		f.Vanillin, f.EthylVanillin, sc.Known = u.Vanillin, u.EthylVanillin, true
	}
	if u.MaxUse != nil {
		f.MaxUse = &fragrance.MaxUse{Percent: *u.MaxUse, Category: u.Category, Amendment: u.Amendment}
		sc.Known = true
	}
	if len(u.Claims) > 0 {
		f.Claims = u.Claims
	}
	if u.Moves != "" {
		f.Moves = fragrance.Speed(u.Moves)
	}
	if r, err := fragrance.Moves(*f, fragrance.Handling{Rate: u.Rate, Noted: s.noted(f.Name)}); err == nil {
		sc.Movement = r
	}
	return sc
}

// stabilizer is the product a plan means: the shelf's by name, else as described.
func (s *Shelf) stabilizer(u formula.StabilizerUse) (fragrance.Stabilizer, error) {
	var out fragrance.Stabilizer
	if u.Mode == "given" && u.Name != "" {
		out.Name = u.Name
		var names []string
		found := false
		for _, st := range s.Stabilizers {
			if store.NameKey(st.Name) == store.NameKey(u.Name) {
				out, found = st, true
				break
			}
			names = append(names, st.Name)
		}
		if !found && u.Active == "" && u.Strength == nil && len(names) > 0 {
			if n := near.Near(u.Name, names); len(n) > 0 {
				return out, fmt.Errorf("no stabiliser is called %q; did you mean %s?", u.Name, quoted(n))
			}
		}
	}
	if u.Mode == "auto" {
		// With one stabiliser on the shelf there is no doubt which is meant.
		var on []fragrance.Stabilizer
		for _, st := range s.Stabilizers {
			if !st.Retired {
				on = append(on, st)
			}
		}
		if len(on) == 1 {
			out = on[0]
		}
	}
	if u.Active != "" {
		a, err := fragrance.ParseActive(strings.TrimSpace(u.Active))
		if err != nil {
			return out, err
		}
		out.Active = a
	}
	if u.Strength != nil {
		out.Strength = u.Strength
	}
	return out, nil
}
