package app

import (
	"math"
	"testing"

	"lyefast/internal/formula"
)

// Coconut at the middles of the Codex acid ranges (CXS 210-1999 Table 1): E6 with
// harmonic means gives 254.5 mg KOH/g, inside the published 248–265; the plain mean
// of AOCS Cd 3a-94 would give 247.5, outside it.
func TestSayOilCrossChecksCoconut(t *testing.T) {
	oils := formula.BuiltIn()
	o, err := formula.FindOil("coconut", oils)
	if err != nil {
		t.Fatal(err)
	}
	s := SayOil(o)
	if s.SVFromAcids == nil || math.Abs(*s.SVFromAcids-254.5) > 0.3 { // the worked case leaves out three trace acids
		t.Errorf("saponification value from acids: %+v", s)
	}
	if len(s.Acids) == 0 || s.Acids[0].Acid != "C12:0" {
		t.Errorf("lauric acid leads coconut oil: %v", s.Acids)
	}
	if s.SaltNaOH != "Sodium Cocoate" {
		t.Errorf("saponified name %q", s.SaltNaOH)
	}
	shea, err := formula.FindOil("shea_unrefined", oils)
	if err != nil {
		t.Fatal(err)
	}
	if got := SayOil(shea); got.SVFromAcids != nil {
		t.Errorf("composition must not speak for shea with 19 %% unsaponifiable, got %v", *got.SVFromAcids)
	}
	if own := SayOil(formula.Oil{Key: "mine", Kind: formula.Triglyceride}); len(own.Acids) != 0 || own.SVFromAcids != nil {
		t.Errorf("an oil no table knows has no composition: %+v", own)
	}
}
