package observations

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"lyefast/internal/when"
)

// Schedule lists the days after the cut on which a portion is to be read, rising;
// 0 is the cut itself.
type Schedule []int

// DefaultSchedule is close where a colour moves most and wide where it settles: at
// the cut, then 1, 3, 7, 14, 28 and 42 days after it and one at 180.
func DefaultSchedule() Schedule { return Schedule{0, 1, 3, 7, 14, 28, 42, 180} }

// Bounds on a schedule.
const (
	maxSlots    = 40
	maxSlotDays = 3650
)

// ParseSchedule reads "0,1,3,7,14"; "default" and nothing give [DefaultSchedule],
// "none" an empty one.
func ParseSchedule(s string) (Schedule, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "", "default":
		return DefaultSchedule(), nil
	case "none":
		return Schedule{}, nil
	}
	var out Schedule
	for _, f := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' || r == ';' }) {
		n, err := strconv.Atoi(f)
		if err != nil || n < 0 || n > maxSlotDays {
			return nil, fmt.Errorf("schedule: %s is no day after the cut; write whole days like 0,1,3,7,14,28,42", quote(f))
		}
		out = append(out, n)
	}
	slices.Sort(out)
	out = slices.Compact(out)
	if len(out) == 0 || len(out) > maxSlots {
		return nil, fmt.Errorf("schedule %s: write 1 to %d days after the cut like 0,1,3,7,14,28,42", quote(s), maxSlots)
	}
	return out, nil
}

// String writes the schedule as [ParseSchedule] reads it.
func (s Schedule) String() string {
	if len(s) == 0 {
		return "none"
	}
	parts := make([]string, len(s))
	for i, d := range s {
		parts[i] = strconv.Itoa(d)
	}
	return strings.Join(parts, ",")
}

// MarshalJSON writes a list, never null.
func (s Schedule) MarshalJSON() ([]byte, error) {
	if len(s) == 0 {
		return []byte("[]"), nil
	}
	return []byte("[" + s.String() + "]"), nil
}

// assumedCut is taken until the cut is noted: a day after the pour (common
// practice, no source).
const assumedCut = 24 * time.Hour

// Cut is when the batch was unmoulded or cut, and whether that is only assumed.
func (b *Batch) Cut() (at time.Time, assumed bool) {
	if b.CutAt != nil {
		return *b.CutAt, false
	}
	return b.PouredAt.Add(assumedCut), true
}

// Slot is one reading of the schedule.
type Slot struct {
	// AfterCut is days after the cut; At the moment it falls on; From and Until bound
	// the readings that count for it, halfway to its neighbours.
	AfterCut        int
	At, From, Until time.Time
}

// Slots lays the schedule out from the cut, by calendar days in the location of loc.
// The first window begins at the cut itself, less half a day for a reading whose
// time of day is not known; what is read before that is an early cup.
func (b *Batch) Slots(loc *time.Location) []Slot {
	cut, _ := b.Cut()
	cut = cut.In(loc)
	slots := make([]Slot, len(b.Schedule))
	for i, d := range b.Schedule {
		slots[i] = Slot{AfterCut: d, At: cut.AddDate(0, 0, d)}
	}
	for i := range slots {
		s := &slots[i]
		switch {
		case i > 0:
			s.From = slots[i-1].Until
		default:
			s.From = cut.Add(-12 * time.Hour)
			if s.From.Before(b.PouredAt) {
				s.From = b.PouredAt
			}
		}
		if i+1 < len(slots) {
			s.Until = s.At.Add(slots[i+1].At.Sub(s.At) / 2)
		} else {
			s.Until = s.At.AddDate(100, 0, 0)
		}
	}
	return slots
}

// State is how urgent an item is.
type State string

// The states, most urgent first. An item that is missed is no longer asked for,
// since the next one's time has come.
const (
	Overdue State = "overdue"
	Today   State = "today"
	Next    State = "next"
)

// What is to be done.
const (
	DoRead = "read"
	DoGel  = "gel"
	DoCut  = "cut"
)

// Item is one thing to do.
type Item struct {
	Batch   string `json:"batch"`
	Portion string `json:"portion"` // "" where it is about the whole batch
	// Do is "read", "gel" (say whether it gelled) or "cut" (unmould, cut, note it).
	Do       string    `json:"do"`
	State    State     `json:"state"`
	At       time.Time `json:"at"`
	AfterCut int       `json:"days_after_cut"`
	// Day counts from the pour.
	Day float64 `json:"day"`
	// CutAssumed says that the cut has not been noted, so that the day is a guess.
	CutAssumed bool `json:"cut_assumed,omitempty"`
}

// Due lists what an open batch asks for: whatever is overdue or due today, and the
// next reading of each portion. done tells whether a portion was read within a
// slot's window. A closed batch asks for nothing.
func Due(b *Batch, now time.Time, done func(p *Portion, s Slot) bool) []Item {
	if b.ClosedAt != nil {
		return nil
	}
	var items []Item
	state := func(at time.Time, grace int) State {
		switch d := when.Days(at, now); {
		case d < 0:
			return Next
		case d <= grace:
			return Today
		}
		return Overdue
	}
	cut, assumed := b.Cut()
	if assumed {
		items = append(items, Item{Batch: b.Code, Do: DoCut, State: state(cut, 1), At: cut, Day: b.Day(cut)})
	}
	if ask := b.PouredAt.In(now.Location()).AddDate(0, 0, 1); b.Gel == GelUnknown {
		items = append(items, Item{Batch: b.Code, Do: DoGel, State: state(ask, 1), At: ask, Day: b.Day(ask)})
	}
	slots := b.Slots(now.Location())
	for i := range b.Portions {
		p := &b.Portions[i]
		for j, s := range slots {
			if now.After(s.Until) || done(p, s) {
				continue
			}
			// A reading may be late by a tenth of its distance from the cut before it is called so.
			it := Item{
				Batch: b.Code, Portion: p.Key(), Do: DoRead, State: state(s.At, s.AfterCut/10), At: s.At,
				AfterCut: s.AfterCut, Day: math.Round(10*b.Day(s.At)) / 10, CutAssumed: assumed,
			}
			// Nobody reads a bar at the cut before there is one.
			if j == 0 && assumed && it.State == Overdue {
				it.State = Today
			}
			items = append(items, it)
			if it.State == Next {
				break
			}
		}
	}
	return items
}
