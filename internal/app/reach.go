package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/mixing"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// ReachQuery asks which colourants, at which doses, settle on a target.
type ReachQuery struct {
	Data []byte
	File string
	// Target asks for one colour in every kind of portion of the plan; nil asks for the
	// target of each portion.
	Target *cie.Lab
	// Base is the bare soap, nil takes the plan's.
	Base *cie.Lab
	// AtMost is how many colourants at once, 1–3; 0 = 3.
	AtMost int
	// Beyond allows doses up to four times the largest read.
	Beyond bool
	// Generic takes the built-in pigments too; they are taken anyway where the maker has
	// no colourant of a known colour.
	Generic bool
	// Scale is the smallest step that can be weighed, 0 = 0.1 g.
	Scale unit.Grams
	// Palette asks for the gamut.
	Palette bool
}

// ReachSaid is what can be reached.
type ReachSaid struct {
	Title   string `json:"title"`
	File    string `json:"file"`
	Grounds string `json:"grounds"`
	// Colorants is how many were tried; Generic that the built-in ones were among them.
	Colorants int            `json:"colorants_tried"`
	Generic   bool           `json:"generic_pigments"`
	LeftOut   []string       `json:"left_out"`
	Base      BaseSaid       `json:"base"`
	Portions  []PortionReach `json:"portions"`
	Warnings  []string       `json:"warnings"`
}

// PortionReach is what one portion can become.
type PortionReach struct {
	Batter string `json:"batter"`
	Name   string `json:"name"`
	// Oils of the portion, which the grams go by.
	Oils    unit.Grams `json:"oils_g"`
	Scented bool       `json:"scented"`
	// Browned is the bare portion settled, with its scent.
	Browned    ColourAt   `json:"bare_settled"`
	Target     *cie.Lab   `json:"target_lab"`
	TargetHex  string     `json:"target_hex,omitempty"`
	Candidates []Reached  `json:"candidates"`
	Whitest    *Reached   `json:"whitest"`
	Palette    *GamutSaid `json:"palette"`
}

// Reached is a set of doses and the colour it settles on.
type Reached struct {
	Colorants []ReachedDose `json:"colorants"`
	Grams     unit.Grams    `json:"grams"` // of colourant in all
	Lab       cie.Lab       `json:"lab"`
	P05       cie.Lab       `json:"p05"`
	P95       cie.Lab       `json:"p95"`
	Hex       string        `json:"hex"`
	Word      string        `json:"name"`
	Delta     float64       `json:"delta_e00"`
	// Probability is that of ending within ΔE00 3 of the target.
	Probability float64 `json:"p_within_3"`
}

// ReachedDose is one colourant of a set.
type ReachedDose struct {
	Name  string          `json:"name"`
	Grams unit.Grams      `json:"grams"`
	Dose  unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	// Reads is in how many of the maker's portions it was; 0 = known by its swatch only.
	Reads int `json:"own_portions"`
}

// GamutSaid is what one or two colourants can make of a portion.
type GamutSaid struct {
	Edges    []GamutEdge `json:"edges"`
	Lightest GamutEdge   `json:"lightest"`
	Darkest  GamutEdge   `json:"darkest"`
}

// GamutEdge is the most colourful colour of a sector of hues.
type GamutEdge struct {
	Hue       float64       `json:"hue_degrees"`
	Lab       cie.Lab       `json:"lab"`
	Hex       string        `json:"hex"`
	Word      string        `json:"name"`
	Colorants []ReachedDose `json:"colorants"`
}

// benchStep is the smallest step of an ordinary bench scale, g.
const benchStep = 0.1

// within3 is the ΔE00 that counts as reached.
const within3 = 3

// Reach searches the shelf backwards from a target, after cure, in this plan's soap and
// with its scent.
func (a *App) Reach(ctx context.Context, q ReachQuery) (*ReachSaid, error) {
	if q.AtMost < 0 || q.AtMost > 3 {
		return nil, invalid("", "%d colourants at once: from 1 to 3", q.AtMost)
	}
	if q.Scale == 0 {
		q.Scale = benchStep
	}
	if !(q.Scale > 0 && q.Scale <= 100) {
		return nil, invalid("", "a scale of %g g: above 0 and at most 100", float64(q.Scale))
	}
	e, s, err := a.evaluated(ctx, q.Data, q.File)
	if err != nil {
		return nil, err
	}
	p := &e.in.Plan
	k, err := a.learned(ctx, s)
	if err != nil {
		return nil, err
	}
	out := &ReachSaid{Title: p.Title, File: q.File, Grounds: k.grounds(), Portions: []PortionReach{}, Warnings: []string{}}
	base := e.asked.Base
	if q.Base != nil {
		base.Lab, base.SD, base.Basis = *q.Base, readSD, "given"
	}
	out.Base = BaseSaid{Lab: base.Lab, Hex: base.Lab.Hex(), Class: string(base.Class), Basis: base.Basis}
	names := k.usable(s, q.Generic, out)
	if len(names) == 0 {
		return nil, invalid(`enter the colour each gives: lyefast colorant edit NAME --swatch "#…", or learn from portions with lyefast shelf learn`,
			"no colourant of the shelf has a known colour")
	}
	asks := e.asks(&e.asked)
	done := map[string]bool{}
	for bi := range e.in.Recipe.Pots {
		pot := &e.in.Recipe.Pots[bi]
		for pi := range pot.Portions {
			w := &pot.Portions[pi]
			ask := asks[0]
			asks = asks[1:]
			r := PortionReach{Batter: pot.Name, Name: w.Name, Oils: w.Oils, Scented: w.Scented, Target: q.Target, Candidates: []Reached{}}
			recipe := mixing.Recipe{Base: base.Lab, BaseSD: base.SD, Brown: ask.Recipe.Brown, Scent: k.scentFor(ask.Recipe.Scent)}
			same := fmt.Sprint(recipe.Brown, recipe.Scent, w.Oils)
			switch {
			case r.Target == nil:
				if r.Target = p.Batters[bi].Portions[pi].Target; r.Target == nil {
					continue
				}
			case done[same]:
				continue
			}
			if recipe.Brown > 0 && !k.browned() && !slices.Contains(out.Warnings, noBrown) {
				out.Warnings = append(out.Warnings, noBrown)
			}
			if err := k.reach(&r, recipe, names, q, !done[same]); err != nil {
				return nil, err
			}
			done[same] = true
			out.Portions = append(out.Portions, r)
		}
	}
	if len(out.Portions) == 0 {
		return nil, invalid("name a colour with --target, or write target = \"#…\" into a portion", "no portion of %s has a target", q.File)
	}
	return out, nil
}

// usable lists the colourants that may be proposed: on the maker's shelf, of known
// colour, and not expected to lose it or to bleed.
func (k *knowledge) usable(s *Shelf, generic bool, out *ReachSaid) []string {
	out.LeftOut = []string{}
	pick := func(builtIn bool) (names []string) {
		for i := range s.Colorants {
			p := &s.Colorants[i]
			key := store.NameKey(p.Name)
			c, ok := k.shelf.Colorant(key)
			if p.Retired || p.BuiltIn != builtIn || !ok || c.MaxDose == 0 {
				continue
			}
			e := s.colorant(formula.ColorantUse{Name: p.Name}).Expect
			if e.Clear {
				continue
			}
			if e.Verdict == colorants.VerdictUnreliable || e.Bleeds >= 0.5 || builtIn && e.Verdict != colorants.VerdictStable {
				if !builtIn {
					out.LeftOut = append(out.LeftOut, p.Name)
				}
				continue
			}
			names = append(names, key)
		}
		return names
	}
	names := pick(false)
	if generic || len(names) == 0 {
		out.Generic = true
		names = append(names, pick(true)...)
	}
	out.Colorants = len(names)
	return names
}

// reach fills in one portion; whole asks for what does not hang on the target as well.
func (k *knowledge) reach(r *PortionReach, pot mixing.Recipe, names []string, q ReachQuery, whole bool) error {
	opts := mixing.ReachOptions{Colorants: names, AtMost: q.AtMost, Beyond: q.Beyond, Step: 1000 * float64(q.Scale) / float64(r.Oils), Tolerance: within3}
	bare, err := k.shelf.Predict(pot)
	if err != nil {
		return &Error{Kind: ErrInvalid, Msg: "portion " + r.Batter + "/" + r.Name, Err: err}
	}
	r.Browned, r.TargetHex = *colourAt(bare.Lab, 0), r.Target.Hex()
	list, err := k.shelf.Reach(*r.Target, pot, opts)
	if err != nil {
		return &Error{Kind: ErrInvalid, Msg: "portion " + r.Batter + "/" + r.Name, Err: err}
	}
	for i := range list {
		r.Candidates = append(r.Candidates, k.reached(&list[i], r.Oils))
	}
	if !whole {
		return nil
	}
	white, err := k.shelf.Whitest(pot, opts)
	if err != nil {
		return fmt.Errorf("whitest white: %w", err)
	}
	w := k.reached(&white, r.Oils)
	r.Whitest = &w
	if q.Palette {
		g, err := k.shelf.Gamut(pot, opts)
		if err != nil {
			return fmt.Errorf("gamut: %w", err)
		}
		r.Palette = &GamutSaid{Edges: []GamutEdge{}, Lightest: k.edge(g.Lightest, r.Oils), Darkest: k.edge(g.Darkest, r.Oils)}
		for _, e := range g.Edges {
			r.Palette.Edges = append(r.Palette.Edges, k.edge(e, r.Oils))
		}
	}
	return nil
}

func (k *knowledge) reached(c *mixing.Candidate, oils unit.Grams) Reached {
	out := Reached{
		Colorants: k.doses(c.Doses, oils), Lab: c.Lab, P05: c.P05, P95: c.P95, Hex: c.Lab.Hex(), Word: c.Lab.Name().Text,
		Delta: math.Round(100*c.DeltaE00) / 100, Probability: math.Round(100*c.Probability) / 100,
	}
	for _, d := range out.Colorants {
		out.Grams += d.Grams
	}
	return out
}

func (k *knowledge) edge(e mixing.GamutEdge, oils unit.Grams) GamutEdge {
	return GamutEdge{Hue: e.Hue, Lab: e.Lab, Hex: e.Lab.Hex(), Word: e.Lab.Name().Text, Colorants: k.doses(e.Doses, oils)}
}

func (k *knowledge) doses(list []mixing.Amount, oils unit.Grams) []ReachedDose {
	out := []ReachedDose{}
	for _, d := range list {
		c, _ := k.shelf.Colorant(d.Colorant)
		grams := unit.Grams(math.Round(d.Dose*float64(oils)/10) / 100)
		out = append(out, ReachedDose{Name: k.names[d.Colorant], Grams: grams, Dose: unit.GramsPerKg(math.Round(1000*d.Dose) / 1000), Reads: c.Reads})
	}
	return out
}

// Words write a set of doses.
func (r *Reached) Words() string {
	if len(r.Colorants) == 0 {
		return "nothing"
	}
	parts := make([]string, len(r.Colorants))
	for i, d := range r.Colorants {
		parts[i] = fmt.Sprintf("%s %s", d.Name, d.Grams)
	}
	return strings.Join(parts, ", ")
}
