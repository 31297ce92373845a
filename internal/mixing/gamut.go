package mixing

import "lyefast/internal/cie"

// GamutEdge is the most colourful colour of a sector of hues, with doses that give it.
type GamutEdge struct {
	Hue   float64 // centre of the sector, degrees
	Lab   cie.Lab
	Doses []Amount
}

// Gamut is what a pot can become with one or two colourants, by the formula alone: per
// sector of 15° the largest chroma, and the lightest and darkest of all. Sectors nothing
// reaches are left out.
type Gamut struct {
	Edges             []GamutEdge
	Lightest, Darkest GamutEdge
}

// Gamut samples doses of single colourants and pairs.
func (s *Shelf) Gamut(pot Recipe, opts ReachOptions) (Gamut, error) {
	h, err := s.newHunt(pot.Base, pot, opts)
	if err != nil {
		return Gamut{}, err
	}
	const sectors = 24
	var edge [sectors]struct {
		f      found
		lab    cie.Lab
		chroma float64
	}
	bare := found{}
	lab := h.colour(&bare)
	light, dark, lightest, darkest := bare, bare, lab, lab
	look := func(f *found) {
		lab := h.colour(f)
		if lab.L > lightest.L {
			light, lightest = *f, lab
		}
		if lab.L < darkest.L {
			dark, darkest = *f, lab
		}
		c := lab.LCh()
		if e := &edge[int(c.H/360*sectors)%sectors]; c.C > e.chroma {
			e.f, e.lab, e.chroma = *f, lab, c.C
		}
	}
	look(&bare)
	shares := [6]float64{0.04, 0.1, 0.22, 0.45, 0.7, 1}
	pairs := min(len(h.tint), 2*tripleColorants)
	for i := range h.tint {
		for _, p := range shares {
			f := found{n: 1, at: [3]int32{int32(i)}, dose: [3]float64{p * h.tint[i].max}}
			look(&f)
			if i >= pairs || h.opts.AtMost < 2 {
				continue
			}
			for j := range i {
				for _, q := range shares {
					g := found{n: 2, at: [3]int32{int32(i), int32(j)}, dose: [3]float64{f.dose[0], q * h.tint[j].max}}
					look(&g)
				}
			}
		}
	}
	var g Gamut
	for i, e := range edge {
		if e.chroma > 0 {
			g.Edges = append(g.Edges, GamutEdge{(float64(i) + 0.5) * 360 / sectors, e.lab, h.amounts(&e.f)})
		}
	}
	g.Lightest = GamutEdge{lightest.LCh().H, lightest, h.amounts(&light)}
	g.Darkest = GamutEdge{darkest.LCh().H, darkest, h.amounts(&dark)}
	return g, nil
}
