package fragrance

import "lyefast/internal/unit"

// Standard atomic weights in g/mol, the conventional values of IUPAC (Prohaska
// et al., Pure Appl. Chem. 94 (2022) 573), five figures where they have them.
const (
	hydrogen = 1.008
	carbon   = 12.011
	oxygen   = 15.999
	sodium   = 22.990
	sulfur   = 32.06
)

// atoms counts the atoms of one formula unit.
type atoms struct{ c, h, o, na, s float64 }

// molarMass is the mass of one mole in g.
func (a atoms) molarMass() float64 {
	return a.c*carbon + a.h*hydrogen + a.o*oxygen + a.na*sodium + a.s*sulfur
}

// Molar masses in g/mol, summed from the atomic weights.
var (
	MolarMassVanillin        = atoms{c: 8, h: 8, o: 3}.molarMass()
	MolarMassEthylVanillin   = atoms{c: 9, h: 10, o: 3}.molarMass()
	MolarMassSodiumHydroxide = atoms{na: 1, o: 1, h: 1}.molarMass()
	MolarMassSulfurDioxide   = atoms{s: 1, o: 2}.molarMass()
)

// ethylVanillinWeight is the vanillin that weighs on a mole basis as much as one
// gram of ethyl vanillin: 0.9156 g.
var ethylVanillinWeight = MolarMassVanillin / MolarMassEthylVanillin

// salt is what the stoichiometry of a reducing salt rests on.
type salt struct {
	active Active
	atoms  atoms
	// perAldehyde is mol of salt counted per mol of vanillin-type aldehyde.
	perAldehyde float64
	// acidic is mol of NaOH that one mol of the salt takes up.
	acidic float64
	// sulfite tells whether its sulfur counts as free SO2 in the bar.
	sulfite bool
	// reaction is what was counted, in words.
	reaction string
}

// salts is the stoichiometric table. Only the sulfites have a known adduct; the
// ratio of dithionite and thiosulfate is nominal.
var salts = []salt{
	{SodiumSulfite, atoms{na: 2, s: 1, o: 3}, 1, 0, true, "1:1 adduct"},
	{SodiumBisulfite, atoms{na: 1, h: 1, s: 1, o: 3}, 1, 1, true, "1:1 adduct"},
	{SodiumMetabisulfite, atoms{na: 2, s: 2, o: 5}, 0.5, 2, true, "1/2:1, one metabisulfite gives two bisulfites"},
	{SodiumDithionite, atoms{na: 2, s: 2, o: 4}, 0.5, 0, true, "1/2:1, nominal"},
	{SodiumThiosulfate, atoms{na: 2, s: 2, o: 3}, 1, 0, false, "1:1, nominal: no adduct is known"},
	{SodiumThiosulfatePentahydrate, atoms{na: 2, s: 2, o: 8, h: 10}, 1, 0, false, "1:1, nominal: no adduct is known"},
}

func saltOf(a Active) (salt, bool) {
	for _, s := range salts {
		if s.active == a {
			return s, true
		}
	}
	return salt{}, false
}

// MolarMass gives the molar mass of the salt in g/mol, false for an unknown one.
func (a Active) MolarMass() (float64, bool) {
	s, ok := saltOf(a)
	return s.atoms.molarMass(), ok
}

// Floor gives the stoichiometric floor: grams of the salt per gram of vanillin
// and per gram of ethyl vanillin. It is a floor, not a working dose. False for
// an unknown salt.
func (a Active) Floor() (perVanillin, perEthylVanillin float64, ok bool) {
	s, ok := saltOf(a)
	if !ok {
		return 0, 0, false
	}
	m := s.perAldehyde * s.atoms.molarMass()
	return m / MolarMassVanillin, m / MolarMassEthylVanillin, true
}

// LyeBound gives the grams of NaOH one gram of the salt takes up in the batter:
// metabisulfite 0.4208, bisulfite 0.3844, the neutral and unknown salts none.
func (a Active) LyeBound() float64 {
	s, ok := saltOf(a)
	if !ok {
		return 0
	}
	return s.acidic * MolarMassSodiumHydroxide / s.atoms.molarMass()
}

// LyeBoundByVanillin gives the NaOH that the phenols take up in the batter:
// 0.2629 g per gram of vanillin and 0.2407 g per gram of ethyl vanillin. At the
// pH of soap both are fully ionised (pKa 7.4–7.9), whatever the superfat.
func LyeBoundByVanillin(vanillin, ethylVanillin unit.Grams) unit.Grams {
	return unit.Grams(MolarMassSodiumHydroxide * aldehydeMoles(vanillin, ethylVanillin))
}

// aldehydeMoles counts vanillin and ethyl vanillin in mol.
func aldehydeMoles(vanillin, ethylVanillin unit.Grams) float64 {
	return float64(vanillin)/MolarMassVanillin + float64(ethylVanillin)/MolarMassEthylVanillin
}
