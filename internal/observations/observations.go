// Package observations knows what happens to a batch from the pour on: the batch
// as it was frozen, its readings, what was noted at the pot and the rack, the
// weights of its bars, and the line a maker wants to be told again.
//
// Start at [Batch] and [Reading]. [Schedule] says when to read, [Due] what is to be
// done, [WorkingTimes] how long a batter stayed workable. Every colour is CIELAB for
// D65, 2°, unless a field says otherwise; a day counts from the pour. The package
// looks at no clock: the moment is handed in.
package observations

import (
	"fmt"
	"strings"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

// Gel tells whether a batch went through gel.
type Gel string

// The answers; the empty Gel means that nobody has looked yet.
const (
	GelUnknown Gel = ""
	GelNone    Gel = "none"
	GelPartial Gel = "partial"
	GelFull    Gel = "full"
)

// ParseGel reads an answer to "did it gel?".
func ParseGel(s string) (Gel, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "":
		return GelUnknown, nil
	case "none", "no", "n":
		return GelNone, nil
	case "partial", "partly", "ring", "p":
		return GelPartial, nil
	case "full", "yes", "y":
		return GelFull, nil
	}
	return "", fmt.Errorf("gel %s is not understood; say none, partial or full", quote(s))
}

// Storage is the light a batch cures in.
type Storage string

// The places. Light fades some colourants and hurries browning.
const (
	Dark   Storage = "dark"
	Room   Storage = "room"
	Window Storage = "window"
)

// ParseStorage reads where a batch stands; nothing means the room.
func ParseStorage(s string) (Storage, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "", "room":
		return Room, nil
	case "dark", "cupboard", "box":
		return Dark, nil
	case "window", "sun", "light":
		return Window, nil
	}
	return "", fmt.Errorf("storage %s is not understood; say dark, room or window", quote(s))
}

// Batch is a plan that was poured. What a plan file said then is kept word for
// word; changing the file later changes nothing here.
type Batch struct {
	ID int64 `json:"-"`
	// Code is short enough for a label on the rack: "HD-07".
	Code     string    `json:"code"`
	Title    string    `json:"title"`
	PouredAt time.Time `json:"poured_at"`
	// PouredClock tells whether the time of day is known, not the date alone.
	PouredClock bool    `json:"poured_clock"`
	Plan        string  `json:"plan_toml"`
	Gel         Gel     `json:"gel"`
	Storage     Storage `json:"storage"`
	// Place is the maker's word for where it cures, CureAt the temperature there, nil = not said.
	Place  string        `json:"place,omitempty"`
	CureAt *unit.Celsius `json:"cure_at_c"`
	// CutAt is when it was unmoulded or cut; nil until that is noted.
	CutAt    *time.Time `json:"cut_at"`
	Schedule Schedule   `json:"schedule_days"`
	// ClosedAt ends the reminders; nil while the batch is open.
	ClosedAt *time.Time `json:"closed_at"`
	Note     string     `json:"note,omitempty"`

	Batters  []Batter  `json:"batters"`
	Portions []Portion `json:"portions"`
}

// Batter is one pot of a batch, as weighed.
type Batter struct {
	Name  string     `json:"name"`
	Oils  unit.Grams `json:"oils_g"`
	Water unit.Grams `json:"water_g"`
	Total unit.Grams `json:"total_g"`
	// Concentration is alkali ÷ (alkali + water), %.
	Concentration unit.Percent `json:"lye_concentration_percent"`
	Discount      unit.Percent `json:"discount_percent"`
	// FreshWater is the share of water once the lye is used up, 0–1.
	FreshWater float64 `json:"fresh_water"`
	// BatterAt is the temperature planned or measured at the pour, nil = not said.
	BatterAt *unit.Celsius `json:"batter_at_c"`
	// Fragrance is its name, "" for an unscented pot; Grams of it in this pot.
	Fragrance      string       `json:"fragrance,omitempty"`
	FragranceGrams unit.Grams   `json:"fragrance_g,omitempty"`
	FragranceRate  unit.Percent `json:"fragrance_rate_percent,omitempty"`
	Stabilizer     string       `json:"stabilizer,omitempty"`
	StabilizerG    unit.Grams   `json:"stabilizer_g,omitempty"`
}

// Portion is one jug of a batter.
type Portion struct {
	ID     int64      `json:"-"`
	Batter string     `json:"batter"`
	Name   string     `json:"name"`
	Grams  unit.Grams `json:"grams"`
	// Fragrance is what scents it, "" where it is unscented; the rate is % of this portion's oils.
	Fragrance     string       `json:"fragrance,omitempty"`
	FragranceRate unit.Percent `json:"fragrance_rate_percent,omitempty"`
	// BrownDose is vanillin-equivalent % of the cured bar; nil where the papers do not say.
	BrownDose *unit.Percent `json:"vanillin_percent_of_bar"`
	// Ratio is mol of stabiliser active per mol of vanillin.
	Ratio     float64       `json:"stabilizer_ratio,omitempty"`
	Colorants []PortionDose `json:"colorants"`
	Target    *cie.Lab      `json:"target_lab"`
	// AtPour and Settled are what was forecast at the pour, nil where nothing could be said.
	AtPour  *cie.Lab `json:"forecast_pour_lab"`
	Settled *cie.Lab `json:"forecast_settled_lab"`
	// Control marks a bare portion poured to be compared with.
	Control bool `json:"control,omitempty"`
}

// Key is "batter/name", how a portion is named everywhere.
func (p *Portion) Key() string { return p.Batter + "/" + p.Name }

// Bare tells whether the portion shows the soap alone: neither colourant nor scent.
func (p *Portion) Bare() bool { return len(p.Colorants) == 0 && p.Fragrance == "" }

// PortionDose is one colourant of a portion.
type PortionDose struct {
	Name  string          `json:"name"`
	Dose  unit.GramsPerKg `json:"dose_g_per_kg_oils"`
	Grams unit.Grams      `json:"grams"`
	Lot   string          `json:"lot,omitempty"`
}

// Day is a moment in days since the pour.
func (b *Batch) Day(t time.Time) float64 { return t.Sub(b.PouredAt).Hours() / 24 }

// Portion finds a portion by "name" or "batter/name". What is not there, or there
// twice, is an error that lists what may be meant.
func (b *Batch) Portion(name string) (*Portion, error) {
	var found []*Portion
	key := fold(name)
	var keys []string
	for i := range b.Portions {
		p := &b.Portions[i]
		keys = append(keys, p.Key())
		if fold(p.Key()) == key {
			return p, nil
		}
		if fold(p.Name) == key {
			found = append(found, p)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return nil, fmt.Errorf("%s has no portion %s; it has %s", b.Code, quote(name), strings.Join(keys, ", "))
	}
	var both []string
	for _, p := range found {
		both = append(both, p.Key())
	}
	return nil, fmt.Errorf("%s has more than one portion %s: say %s", b.Code, quote(name), strings.Join(both, " or "))
}

// Batter finds a pot by name; with one pot "" is that pot.
func (b *Batch) Batter(name string) (*Batter, error) {
	var names []string
	for i := range b.Batters {
		if fold(b.Batters[i].Name) == fold(name) || name == "" && len(b.Batters) == 1 {
			return &b.Batters[i], nil
		}
		names = append(names, b.Batters[i].Name)
	}
	if name == "" {
		return nil, fmt.Errorf("%s has several batters: say which, %s", b.Code, strings.Join(names, " or "))
	}
	return nil, fmt.Errorf("%s has no batter %s; it has %s", b.Code, quote(name), strings.Join(names, ", "))
}

// fold is what makes two names the same: letter case and the number of blanks do
// not count.
func fold(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// quote quotes what was typed, cut to a length fit for a message.
func quote(s string) string {
	if r := []rune(s); len(r) > 60 {
		return fmt.Sprintf("%q …", string(r[:60]))
	}
	return fmt.Sprintf("%q", s)
}
