package formula

import (
	"fmt"
	"math"
)

// Standard atomic weights, IUPAC/CIAAW 2021 table at five significant figures;
// H, C, O and the other elements with interval values by the abridged table.
var atomicWeights = map[string]float64{
	"H": 1.008, "C": 12.011, "N": 14.007, "O": 15.999,
	"Na": 22.990, "S": 32.06, "K": 39.098, "I": 126.90,
}

// Molar masses of the alkalis and of what they make, g/mol, from the weights above.
// Other roundings in circulation (40.00/56.11) agree within 0.02 %.
const (
	MolarNaOH     = 22.990 + 15.999 + 1.008       // 39.997
	MolarKOH      = 39.098 + 15.999 + 1.008       // 56.105
	MolarWater    = 2*1.008 + 15.999              // 18.015
	MolarGlycerol = 3*12.011 + 8*1.008 + 3*15.999 // 92.094
	glycerylGain  = MolarGlycerol - 3*MolarWater  // 38.049, what three acids gain as a triglyceride
	saltGainNa    = 22.990 - 1.008                // soap less acid, g/mol
	saltGainK     = 39.098 - 1.008                // the same for potash soap
)

// Molar gives the molar mass of a formula such as "C6H8O7" in g/mol. It knows the
// elements of soap chemistry: H, C, N, O, Na, S, K and I.
func Molar(formula string) (float64, error) {
	sum, i := 0.0, 0
	for i < len(formula) {
		end := i + 1
		if end < len(formula) && formula[end] >= 'a' && formula[end] <= 'z' {
			end++
		}
		w, ok := atomicWeights[formula[i:end]]
		if !ok {
			return 0, fmt.Errorf("%q is no element known here, in %q", formula[i:end], formula)
		}
		n, digits := 0, end
		for digits < len(formula) && formula[digits] >= '0' && formula[digits] <= '9' {
			if n = n*10 + int(formula[digits]-'0'); n > 1000 {
				return 0, fmt.Errorf("too many atoms in %q", formula)
			}
			digits++
		}
		if digits == end {
			n = 1
		}
		sum += w * float64(n)
		i = digits
	}
	if sum == 0 {
		return 0, fmt.Errorf("no formula given")
	}
	return sum, nil
}

// FattyAcid is one acid of the tables, of which everything else follows.
type FattyAcid struct {
	Key       string // "C18:1" or "ricinoleic", as in the tables
	Name      string
	Carbons   int
	Double    int // double bonds
	Hydroxyls int // beside the acid group
}

// FattyAcids lists the acids of the tables by length.
func FattyAcids() []FattyAcid {
	return []FattyAcid{
		{"C6:0", "caproic", 6, 0, 0}, {"C8:0", "caprylic", 8, 0, 0}, {"C10:0", "capric", 10, 0, 0},
		{"C12:0", "lauric", 12, 0, 0}, {"C14:0", "myristic", 14, 0, 0},
		{"C16:0", "palmitic", 16, 0, 0}, {"C16:1", "palmitoleic", 16, 1, 0},
		{"C18:0", "stearic", 18, 0, 0}, {"C18:1", "oleic", 18, 1, 0}, {"C18:2", "linoleic", 18, 2, 0}, {"C18:3", "linolenic", 18, 3, 0},
		{"C20:0", "arachidic", 20, 0, 0}, {"C20:1", "gondoic", 20, 1, 0},
		{"C22:0", "behenic", 22, 0, 0}, {"C22:1", "erucic", 22, 1, 0},
		{"ricinoleic", "ricinoleic", 18, 1, 1},
	}
}

// Molar gives the molar mass of the acid, g/mol.
func (a FattyAcid) Molar() float64 {
	return float64(a.Carbons)*atomicWeights["C"] + float64(2*a.Carbons-2*a.Double)*atomicWeights["H"] +
		float64(2+a.Hydroxyls)*atomicWeights["O"]
}

// Triglyceride gives the molar mass of its simple triglyceride, g/mol (E4).
func (a FattyAcid) Triglyceride() float64 { return 3*a.Molar() + glycerylGain }

// SV gives the saponification value of its simple triglyceride, mg KOH/g (E4).
func (a FattyAcid) SV() float64 { return 3000 * MolarKOH / a.Triglyceride() }

// AcidValue gives mg KOH per g of the free acid.
func (a FattyAcid) AcidValue() float64 { return 1000 * MolarKOH / a.Molar() }

// IodineValue gives that of its simple triglyceride, g I2 per 100 g.
func (a FattyAcid) IodineValue() float64 {
	return 100 * 3 * float64(a.Double) * 2 * atomicWeights["I"] / a.Triglyceride()
}

// NaOHPerGram turns a saponification or acid value in mg KOH/g into g of pure
// NaOH per g of oil (E3).
func NaOHPerGram(sv float64) float64 { return sv / 1000 * MolarNaOH / MolarKOH }

// TitrationSV gives the saponification value of a sample, mg KOH/g, by ISO 3657
// (E2): sample in g, acid in mol/L, the two titres in ml. The standard prints
// 56.1 for the molar mass of KOH, here 56.105.
func TitrationSV(sample, acid, blank, titre float64) (float64, error) {
	for _, v := range []float64{sample, acid, blank, titre} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			return 0, fmt.Errorf("%g cannot stand in a titration", v)
		}
	}
	switch {
	case sample == 0 || acid == 0:
		return 0, fmt.Errorf("a titration needs the grams of the sample and the strength of the acid")
	case titre >= blank:
		return 0, fmt.Errorf("the sample's titre of %g ml is not below the blank's %g ml; are the two swapped", titre, blank)
	}
	return MolarKOH * acid * (blank - titre) / sample, nil
}

// boundNaOH gives the g of NaOH that 1 g of a substance binds, by its molar mass
// and the hydroxide it takes, mol per mol.
func boundNaOH(molar, equivalents float64) float64 { return equivalents * MolarNaOH / molar }
