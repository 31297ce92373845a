package observations

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lyefast/internal/unit"
)

// Kind is what was noted. The list is closed, so that it can be counted.
type Kind string

// The kinds of event, in the order in which they usually happen.
const (
	Emulsion     Kind = "emulsion"
	FragranceIn  Kind = "fragrance in"
	LightTrace   Kind = "light trace"
	MediumTrace  Kind = "medium trace"
	ThickTrace   Kind = "thick trace"
	FalseTrace   Kind = "false trace"
	Ricing       Kind = "ricing"
	Seizing      Kind = "seizing"
	Separation   Kind = "separation"
	Acceleration Kind = "acceleration"
	Poured       Kind = "poured"
	Gelling      Kind = "gel"
	Unmould      Kind = "unmould"
	Cutting      Kind = "cut"
	Ash          Kind = "ash"
	Bleed        Kind = "bleed"
	Weeping      Kind = "weeping"
	Scent        Kind = "scent"
	Temperature  Kind = "temperature"
	Cracking     Kind = "cracking"
	OrangeSpots  Kind = "orange spots"
	Remark       Kind = "note"
)

// Measure is what the value of an event means.
type Measure string

// The measures; most events have none.
const (
	NoValue   Measure = ""
	InCelsius Measure = "°C"
	OutOfFive Measure = "of 5"
	InMM      Measure = "mm"
)

type kindInfo struct {
	kind    Kind
	measure Measure
	also    []string
}

// kinds holds the vocabulary. Names are the trade's own words.
var kinds = []kindInfo{
	{Emulsion, InCelsius, []string{"emulsified"}},
	{FragranceIn, InCelsius, []string{"fragrance", "scent in", "fragrance added", "scent added", "fo in", "eo in", "fo added"}},
	{LightTrace, InCelsius, []string{"trace", "thin trace", "light"}},
	{MediumTrace, InCelsius, []string{"medium"}},
	{ThickTrace, InCelsius, []string{"heavy trace", "thick", "heavy", "pudding"}},
	{FalseTrace, InCelsius, nil},
	{Ricing, NoValue, []string{"riced", "rice"}},
	{Seizing, NoValue, []string{"seized", "seize", "soap on a stick"}},
	{Separation, NoValue, []string{"separated", "separating"}},
	{Acceleration, NoValue, []string{"accelerated", "moved fast"}},
	{Poured, InCelsius, []string{"pour", "in the mould", "in the mold"}},
	{Gelling, InCelsius, []string{"gelled", "gelling", "gel phase"}},
	{Unmould, NoValue, []string{"unmold", "unmoulded", "unmolded", "demould", "demold"}},
	{Cutting, NoValue, []string{"cut bars"}},
	{Ash, NoValue, []string{"soda ash"}},
	{Bleed, InMM, []string{"bled", "bleeding", "migration"}},
	{Weeping, NoValue, []string{"wept", "sweating", "beads"}},
	{Scent, OutOfFive, []string{"scent strength", "smell", "scent left"}},
	{Temperature, InCelsius, []string{"temp", "batter temperature"}},
	{Cracking, NoValue, []string{"crack", "cracked"}},
	{OrangeSpots, NoValue, []string{"dos", "dreaded orange spots", "rancid"}},
	{Remark, NoValue, []string{"remark"}},
}

// Kinds lists the vocabulary in order.
func Kinds() []Kind {
	list := make([]Kind, len(kinds))
	for i, k := range kinds {
		list[i] = k.kind
	}
	return list
}

// Measure is what a value with this kind means.
func (k Kind) Measure() Measure {
	for _, i := range kinds {
		if i.kind == k {
			return i.measure
		}
	}
	return NoValue
}

// ParseKind reads a kind by its name or a usual other word for it; hyphens may
// stand for blanks.
func ParseKind(s string) (Kind, error) {
	key := fold(strings.NewReplacer("-", " ", "_", " ").Replace(s))
	var names []string
	for _, i := range kinds {
		if string(i.kind) == key || slices.Contains(i.also, key) {
			return i.kind, nil
		}
		names = append(names, string(i.kind))
	}
	return "", fmt.Errorf("%s is no event; say one of: %s", quote(s), strings.Join(names, ", "))
}

// Event is a timed note at the pot or the rack.
type Event struct {
	ID   int64 `json:"id"`
	Kind Kind  `json:"kind"`
	// At is when; Clock tells whether the time of day is known.
	At    time.Time `json:"at"`
	Clock bool      `json:"clock_known"`
	// AfterMinutes is how long after the fragrance went in, for what is remembered
	// by minutes and not by the clock; nil where the clock says it.
	AfterMinutes *float64 `json:"after_fragrance_min"`
	Batter       string   `json:"batter,omitempty"`
	Portion      string   `json:"portion,omitempty"` // "batter/name"
	// Value is in the unit of the kind's [Measure]; nil where none was noted.
	Value *float64 `json:"value"`
	Note  string   `json:"note,omitempty"`
}

// Check refuses what cannot have happened.
func (e *Event) Check(b *Batch, now time.Time) error {
	if e.At.After(now.Add(dayDoubt(e.Clock))) {
		return fmt.Errorf("%s on %s is in the future; events are noted when they have happened", e.Kind, e.At.Format(time.DateOnly))
	}
	// A pot is begun before it is poured; a day is long enough for the slowest.
	if e.At.Before(b.PouredAt.Add(-24*time.Hour - dayDoubt(e.Clock && b.PouredClock))) {
		return fmt.Errorf("%s on %s lies before the pour of %s on %s", e.Kind, e.At.Format(time.DateOnly), b.Code, b.PouredAt.Format(time.DateOnly))
	}
	if m := e.AfterMinutes; m != nil && !(*m >= 0 && *m <= maxMinutes) {
		return fmt.Errorf("%g minutes after the fragrance is outside 0–%d", *m, maxMinutes)
	}
	if len(e.Note) > maxNote {
		return fmt.Errorf("the note has more than %d letters", maxNote)
	}
	if e.Value == nil {
		return nil
	}
	v := *e.Value
	bounds := map[Measure][2]float64{InCelsius: {-20, 150}, OutOfFive: {0, 5}, InMM: {0, 500}}
	lim, ok := bounds[e.Kind.Measure()]
	if !ok {
		return fmt.Errorf("%s takes no figure, got %g; put it into the note", e.Kind, v)
	}
	if !(v >= lim[0] && v <= lim[1]) {
		return fmt.Errorf("%s is %g–%g %s, got %g", e.Kind, lim[0], lim[1], e.Kind.Measure(), v)
	}
	return nil
}

const (
	maxMinutes = 24 * 60
	maxNote    = 2000 // bytes of a note, a lesson or a reason
)

// dayDoubt is how far off a moment may be when only its date is known.
func dayDoubt(clock bool) time.Duration {
	if clock {
		return 5 * time.Minute // clocks of two devices
	}
	return 24 * time.Hour
}

// ParseValue reads the figure of an event: "33 °C", "92 °F", "3" or "3 of 5" for a
// scent, "2 mm".
func ParseValue(k Kind, s string) (float64, error) {
	switch k.Measure() {
	case InCelsius:
		c, err := unit.ParseCelsius(s)
		return float64(c), err
	case OutOfFive:
		t := strings.TrimSpace(s)
		for _, tail := range []string{"of 5", "/5", "/ 5", "out of 5"} {
			t = strings.TrimSpace(strings.TrimSuffix(t, tail))
		}
		return unit.ParseNumber(t)
	case InMM:
		cm, err := unit.ParseLength(s)
		return math.Round(cm*1e4) / 1e3, err
	}
	return 0, fmt.Errorf("%s takes no figure; put it into the note", k)
}

// ParseMinutes reads a span as it is remembered: "about 6 min", "6", "~6 minutes",
// "90 s", "1 h 10 min", "6-8 min" (the middle). about tells that the maker only
// guessed, which a range, a tilde or a word says.
func ParseMinutes(s string) (minutes float64, about bool, err error) {
	refused := fmt.Errorf("%s is no span of time; write it like \"6 min\", \"about 6 min\" or \"90 s\"", quote(s))
	if len(s) > 60 {
		return 0, false, refused
	}
	t := fold(strings.NewReplacer("–", "-", "—", "-", "½", ".5", "≈", "~").Replace(s))
	for _, w := range []string{"about ", "around ", "roughly ", "approximately ", "approx. ", "approx ", "circa ", "ca. ", "c. ", "some ", "maybe ", "nearly ", "almost ", "~"} {
		if rest, ok := strings.CutPrefix(t, w); ok {
			t, about = strings.TrimSpace(rest), true
		}
	}
	if low, high, ok := strings.Cut(t, "-"); ok {
		if strings.Contains(high, "-") {
			return 0, false, refused
		}
		// "6-8 min": the unit stands once, at the end.
		tail := strings.TrimLeft(strings.TrimSpace(high), "0123456789.,")
		a, _, err1 := ParseMinutes(strings.TrimSpace(low) + tail)
		z, _, err2 := ParseMinutes(high)
		if err1 != nil || err2 != nil || a > z {
			return 0, false, refused
		}
		return (a + z) / 2, true, nil
	}
	fields := strings.Fields(spaced(t))
	if len(fields) == 0 {
		return 0, false, refused
	}
	for i := 0; i < len(fields); i += 2 {
		v, err := unit.ParseNumber(fields[i])
		if err != nil || v < 0 {
			return 0, false, refused
		}
		u := "min"
		if i+1 < len(fields) {
			u = strings.TrimSuffix(fields[i+1], ".")
		} else if i > 0 {
			return 0, false, refused // "1 h 10" could be 10 of anything
		}
		switch u {
		case "min", "mins", "minute", "minutes", "m":
			minutes += v
		case "s", "sec", "secs", "second", "seconds":
			minutes += v / 60
		case "h", "hr", "hrs", "hour", "hours":
			minutes += 60 * v
		default:
			return 0, false, refused
		}
	}
	if minutes > maxMinutes {
		return 0, false, fmt.Errorf("%s is more than a day", quote(s))
	}
	return minutes, about, nil
}

// spaced parts digits from letters, "6min" → "6 min".
func spaced(s string) string {
	var b strings.Builder
	digit := func(r rune) bool { return r >= '0' && r <= '9' || r == '.' || r == ',' }
	var last rune
	for _, r := range s {
		if last != 0 && last != ' ' && r != ' ' && digit(r) != digit(last) && !(r == '.' && !digit(last)) {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
		last = r
	}
	return b.String()
}
