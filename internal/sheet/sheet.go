// Package sheet lays out what goes to paper: the bench sheet of a plan, and the
// report of a batch with a picture of its bar.
//
// Start at [Bench], everything a bench sheet says, with [Bench.HTML] and [Bench.PDF],
// and at [Report] with [Report.HTML]. A layout computes nothing: weights come in
// rounded, dates as text, colours as hex with their names, so that all forms of a
// sheet say the same. Every colour is named in words, and every warning carries a
// sign, so that a sheet also reads when it is printed in grey.
package sheet

import (
	"strconv"
	"strings"
	"time"

	"lyefast/internal/unit"
)

// Bench is the sheet for one plan at the bench.
type Bench struct {
	Title string `json:"title"`
	File  string `json:"file"`
	// Printed is the moment of making, which goes into the file's own data only.
	Printed time.Time `json:"printed_at"`
	// PourDate is the day that dates count from, "2026-11-20 (Friday)".
	PourDate string `json:"pour_date"`
	// Step is the scale's; amounts too small for it stand in finer steps and say so.
	Step unit.Grams `json:"scale_step_g"`
	// Grounds says what stands behind the colours.
	Grounds  string   `json:"grounds"`
	Cautions []string `json:"cautions"`
	Pots     []Pot    `json:"batters"`
	// Readings are the days to read the bar on.
	Readings []Date `json:"readings"`
	// Notes say what was rounded or accepted.
	Notes []string `json:"notes"`
}

// Pot is one batter.
type Pot struct {
	Name string `json:"name"`
	// When says when it is made, "" for the first.
	When  string `json:"when"`
	Lye   Lye    `json:"lye"`
	Steps []Step `json:"steps"`
	Jugs  []Jug  `json:"portions"`
	// Total is everything in the pot and its jugs but the colourants; the lines add up to it.
	Total Line `json:"total"`
}

// Lye is what the tear-off label of the lye jug says.
type Lye struct {
	NaOH  unit.Grams `json:"naoh_g"`
	KOH   unit.Grams `json:"koh_g"`
	Water unit.Grams `json:"water_g"`
	// Words are the alkali and the water as the label has them.
	Words string `json:"words"`
	// Strength is the share of alkali in the jug while it dissolves.
	Strength unit.Percent `json:"jug_concentration_percent"`
	// Discount is at the middle of the oils' ranges, from the rounded weights; Low and
	// High at their ends.
	Discount unit.Percent `json:"discount_percent"`
	Low      unit.Percent `json:"discount_low_percent"`
	High     unit.Percent `json:"discount_high_percent"`
}

// Step is one thing to do at a pot, in its order.
type Step struct {
	Title string `json:"title"`
	// Lines are to be weighed, Sum is what they add up to, nil where that says nothing.
	Lines []Line `json:"lines"`
	Sum   *Line  `json:"sum"`
	// Cautions stand before the lines, Say after them.
	Cautions []string `json:"cautions"`
	Say      []string `json:"say"`
	// Blanks name what is to be written in.
	Blanks []string `json:"blanks"`
}

// Line is one amount.
type Line struct {
	Name  string     `json:"name"`
	Grams unit.Grams `json:"grams"`
	// Amount is the mass as the scale shows it.
	Amount string `json:"amount"`
	Note   string `json:"note,omitempty"`
}

// Jug is one portion.
type Jug struct {
	Name string `json:"name"`
	// Lines are what goes in: batter, scent, colourants with what wets them.
	Lines []Line `json:"lines"`
	// Pour and Settled are the forecast, nil where no number can be given; Unknown then says why.
	Pour    *Colour `json:"at_pour"`
	Settled *Colour `json:"settled"`
	Target  *Colour `json:"target"`
	Unknown string  `json:"unknown,omitempty"`
	// Judge is the date before which its colour says nothing, "" where it may be judged at the cut.
	Judge string `json:"do_not_judge_before"`
	// Why is why not before.
	Why string `json:"why,omitempty"`
}

// Colour is a colour with its name. Band is the ΔE00 that 9 in 10 end within, 0 = not said.
type Colour struct {
	Hex  string  `json:"hex"`
	Name string  `json:"name"`
	Band float64 `json:"band_delta_e00,omitempty"`
}

// Date is a day of the cure.
type Date struct {
	Day  int    `json:"day"`
	Date string `json:"date"`
}

// rgb parts "#rrggbb"; anything else is white.
func (c Colour) rgb() (r, g, b int) {
	v, err := strconv.ParseUint(strings.TrimPrefix(c.Hex, "#"), 16, 24)
	if err != nil || len(c.Hex) != 7 {
		return 255, 255, 255
	}
	return int(v >> 16), int(v >> 8 & 255), int(v & 255)
}

// Mass writes a mass with the decimals it was rounded to, at most two.
func Mass(g unit.Grams) string { return MassTo(g, g) }

// MassTo writes a mass as a scale of that step shows it, with more decimals, at most
// two, where the mass was rounded finer than that.
func MassTo(g, step unit.Grams) string {
	return strconv.FormatFloat(float64(g), 'f', max(decimals(g), decimals(step)), 64) + " g"
}

func decimals(g unit.Grams) int {
	s := strings.TrimRight(strconv.FormatFloat(float64(g), 'f', 2, 64), "0")
	return len(s) - strings.IndexByte(s, '.') - 1
}
