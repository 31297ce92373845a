package cie

import (
	_ "embed"
	"math"
	"strconv"
	"strings"
	"sync"
)

// Name is the ISCC–NBS name of a colour: one of 267 in plain words, such as
// "pale yellowish pink". Spelling is British ("grey", "greyish").
type Name struct {
	// Text is the name in lower case, "" if the colour was not a number.
	Text string `json:"text"`
	// Number is the number in the system, 1–267.
	Number int `json:"number"`
	// Centroid is the middle of the name's block, D65/2°.
	Centroid Lab `json:"centroid_lab"`
	// DeltaE00 is how far the colour lies from the centroid. Blocks differ in size:
	// up to about 10 is ordinary.
	DeltaE00 float64 `json:"delta_e00"`
}

//go:embed iscc-nbs.csv
var namesCSV string

// nameTable holds the names in the order of their numbers. It is built when first asked for.
var nameTable = sync.OnceValue(func() []Name {
	var table []Name
	for line := range strings.Lines(namesCSV) {
		f := strings.Split(strings.TrimSpace(line), ",")
		if strings.HasPrefix(line, "#") || len(f) != 6 {
			continue
		}
		n := Name{Text: f[1]}
		n.Number, _ = strconv.Atoi(f[0])
		for i, v := range []*float64{&n.Centroid.L, &n.Centroid.A, &n.Centroid.B} {
			*v, _ = strconv.ParseFloat(f[3+i], 64)
		}
		table = append(table, n)
	}
	return table
})

// Name gives the ISCC–NBS name whose centroid is nearest in ΔE00. The system
// proper draws its blocks in Munsell space; near a border the nearest centroid may
// be the neighbour's. A colour that is not finite has the zero Name.
func (c Lab) Name() Name {
	if !c.Finite() {
		return Name{}
	}
	// ΔE*ab is cheap and its nearest is a good first guess. ΔE00 is never below
	// |ΔL*|/S_L, so that all but the names of much the same lightness then drop out.
	table := nameTable()
	first, least := 0, math.Inf(1)
	for i := range table {
		if d := DeltaE76(c, table[i].Centroid); d < least {
			first, least = i, d
		}
	}
	best := table[first]
	best.DeltaE00 = DeltaE00(c, best.Centroid)
	for _, n := range table {
		if math.Abs(n.Centroid.L-c.L) > best.DeltaE00*maxSL {
			continue
		}
		if d := DeltaE00(c, n.Centroid); d < best.DeltaE00 {
			best = n
			best.DeltaE00 = d
		}
	}
	return best
}

// maxSL bounds S_L = 1 + 0.015 d²/√(20 + d²), d the mean L* less 50, for |d| ≤ 66,
// well beyond all colours.
const maxSL = 2
