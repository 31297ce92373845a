package fragrance

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"lyefast/internal/testkit"
)

// within fails unless got is within tol of want.
func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

// Molar masses summed by hand from H 1.008, C 12.011, O 15.999, Na 22.990, S 32.06.
// They agree with handbook values (CRC Handbook) to the five figures given there.
func TestMolarMasses(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"vanillin", MolarMassVanillin, 152.149},
		{"ethyl vanillin", MolarMassEthylVanillin, 166.176},
		{"sodium hydroxide", MolarMassSodiumHydroxide, 39.997},
		{"sulfur dioxide", MolarMassSulfurDioxide, 64.058},
	} {
		within(t, c.name, c.got, c.want, 0.0005)
	}
	for a, want := range map[Active]float64{
		SodiumSulfite: 126.037, SodiumMetabisulfite: 190.095, SodiumBisulfite: 104.055,
		SodiumThiosulfate: 158.097, SodiumThiosulfatePentahydrate: 248.172, SodiumDithionite: 174.096,
	} {
		got, ok := a.MolarMass()
		if !ok {
			t.Fatalf("%s: not in the table", a)
		}
		within(t, string(a), got, want, 0.0005)
	}
	if _, ok := Active("sodium borohydride").MolarMass(); ok {
		t.Error("borohydride has no place in the table")
	}
	within(t, "ethyl vanillin as vanillin", ethylVanillinWeight, 0.9156, 0.00005)
}

func TestFloors(t *testing.T) {
	for a, want := range map[Active][2]float64{
		SodiumSulfite: {0.8284, 0.7585}, SodiumBisulfite: {0.6839, 0.6262}, SodiumMetabisulfite: {0.6247, 0.5720},
		SodiumDithionite: {0.5721, 0.5238}, SodiumThiosulfate: {1.0391, 0.9514}, SodiumThiosulfatePentahydrate: {1.6311, 1.4934},
	} {
		v, e, ok := a.Floor()
		if !ok {
			t.Fatalf("%s has no floor", a)
		}
		within(t, string(a)+" per g vanillin", v, want[0], 0.00005)
		within(t, string(a)+" per g ethyl vanillin", e, want[1], 0.00005)
	}
	if _, _, ok := ActiveUnknown.Floor(); ok {
		t.Error("an unknown active must have no floor")
	}
}

func TestLyeBound(t *testing.T) {
	within(t, "metabisulfite", SodiumMetabisulfite.LyeBound(), 0.4208, 0.00005)
	within(t, "bisulfite", SodiumBisulfite.LyeBound(), 0.3844, 0.00005)
	for _, a := range []Active{SodiumSulfite, SodiumThiosulfate, SodiumThiosulfatePentahydrate, SodiumDithionite, ActiveUnknown} {
		within(t, string(a), a.LyeBound(), 0, 0)
	}
	within(t, "per g vanillin", float64(LyeBoundByVanillin(1, 0)), 0.2629, 0.00005)
	within(t, "per g ethyl vanillin", float64(LyeBoundByVanillin(0, 1)), 0.2407, 0.00005)
	within(t, "5 g of vanillin", float64(LyeBoundByVanillin(5, 0)), 1.3, 0.05)
}

// The table of floors as kept in the shared data, computed there by someone else.
func TestFloorsAgainstTable(t *testing.T) {
	seen := 0
	for _, row := range testkit.Table(t, testkit.Shared(t, "reference/vanillin-browning-practice.csv")) {
		if row["kind"] != "stoichiometric_floor" || strings.Contains(row["item"], "borohydride") || !strings.HasPrefix(row["item"], "sodium") {
			continue
		}
		name, _, _ := strings.Cut(row["item"], " (")
		a, err := ParseActive(name)
		if err != nil {
			t.Errorf("%s: %v", row["id"], err)
			continue
		}
		v, e, _ := a.Floor()
		within(t, row["id"]+" vanillin", v, number(t, row["low"]), 0.00005)
		within(t, row["id"]+" ethyl vanillin", e, number(t, row["high"]), 0.00005)
		seen++
	}
	if seen != len(salts) {
		t.Errorf("%d rows compared, want %d", seen, len(salts))
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
