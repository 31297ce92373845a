package exchange

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"lyefast/internal/pattern"
)

// Moment is a point in time as well as a file tells it. The zero value is an
// unknown one.
type Moment struct {
	// Time is in the zone of the file, else in that of [Options]; at noon where
	// only the date is known.
	Time time.Time
	// DateKnown, TimeKnown and ZoneKnown say what the file states.
	DateKnown, TimeKnown, ZoneKnown bool

	seconds bool
}

// Doubt is how far the true moment may lie from Time on either side: half a day
// where only the date is known.
func (m Moment) Doubt() time.Duration {
	if m.DateKnown && !m.TimeKnown {
		return 12 * time.Hour
	}
	return 0
}

// String gives what the file states and no more: "", "2026-01-07",
// "2026-01-05T09:12", "2026-01-05T09:12:00" or "2026-01-05T09:12:00+01:00".
func (m Moment) String() string {
	switch {
	case !m.DateKnown:
		return ""
	case !m.TimeKnown:
		return m.Time.Format("2006-01-02")
	case m.ZoneKnown:
		return m.Time.Format(time.RFC3339Nano)
	case m.seconds || m.Time.Second() != 0 || m.Time.Nanosecond() != 0:
		return m.Time.Format("2006-01-02T15:04:05.999999999")
	}
	return m.Time.Format("2006-01-02T15:04")
}

// MarshalJSON gives String, or null for an unknown moment.
func (m Moment) MarshalJSON() ([]byte, error) {
	if !m.DateKnown {
		return []byte("null"), nil
	}
	return json.Marshal(m.String())
}

// canonical is alike for two spellings of one moment.
func (m Moment) canonical() string {
	m.seconds = true
	if m.ZoneKnown {
		m.Time = m.Time.UTC()
	}
	return m.String()
}

// written is a date as it stands in a cell, before the order is settled.
type written struct {
	first, second, year int
	order               DateOrder // how first and second are meant; "" where it is open
	clock               string    // what follows the date
}

var (
	yearFirst   = pattern.New(`^(\d{4})([-/.])(\d{1,2})([-/.])(\d{1,2})(?:$|[T _,;]+(.*)$)`)
	compactDate = pattern.New(`^((?:19|20)\d{2})(\d{2})(\d{2})(?:$|[T _]+(.*)$)`)
	yearLast    = pattern.New(`^(\d{1,2})([-/.])(\d{1,2})([-/.])(\d{4}|\d{2})(?:$|[T _,;]+(.*)$)`)
	dayMonth    = pattern.New(`^(\d{1,2})\.?[ -]([A-Za-z]{3,9})\.?[ ,-]+(\d{4})(?:$|[T _,;]+(.*)$)`)
	monthDay    = pattern.New(`^([A-Za-z]{3,9})\.?[ -](\d{1,2})[ ,]+(\d{4})(?:$|[T _,;]+(.*)$)`)
	clockTime   = pattern.New(`(?i)^(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9})\d*)?)?(?:\s*([ap])\.?m\.?)?(?:\s*uhr)?\s*(z|utc|gmt|[+-]\d{2}:?\d{2})?$`)
)

var months = []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"}

func month(s string) int {
	if len(s) >= 3 {
		for i, m := range months {
			if full := strings.ToLower(time.Month(i + 1).String()); strings.HasPrefix(full, strings.ToLower(s)) || strings.EqualFold(s, m) {
				return i + 1
			}
		}
	}
	return 0
}

func atoi(s string) int { n, _ := strconv.Atoi(s); return n } // of digits a pattern matched

// takeApart reads the date of a cell as far as one cell alone allows.
func takeApart(s string) (written, error) {
	s = strings.TrimSpace(s)
	if w, ok := isoDate(s); ok {
		return w, nil
	}
	if m := yearFirst.FindStringSubmatch(s); m != nil && m[2] == m[4] {
		return written{atoi(m[5]), atoi(m[3]), atoi(m[1]), DayFirst, m[6]}, nil
	}
	if m := compactDate.FindStringSubmatch(s); m != nil {
		return written{atoi(m[3]), atoi(m[2]), atoi(m[1]), DayFirst, m[4]}, nil
	}
	if m := yearLast.FindStringSubmatch(s); m != nil && m[2] == m[4] {
		w := written{atoi(m[1]), atoi(m[3]), atoi(m[5]), "", m[6]}
		if m[2] == "." {
			w.order = DayFirst // common practice, no source: no country puts dots between month, day and year
		}
		if len(m[5]) == 2 {
			if m[2] != "." {
				return written{}, fmt.Errorf("the year of %q has two digits, so day, month and year cannot be told apart", s)
			}
			w.year += 2000
		}
		return w, nil
	}
	if m := dayMonth.FindStringSubmatch(s); m != nil && month(m[2]) > 0 {
		return written{atoi(m[1]), month(m[2]), atoi(m[3]), DayFirst, m[4]}, nil
	}
	if m := monthDay.FindStringSubmatch(s); m != nil && month(m[1]) > 0 {
		return written{atoi(m[2]), month(m[1]), atoi(m[3]), DayFirst, m[4]}, nil
	}
	return written{}, fmt.Errorf("%q is not a date, write it like 2026-01-05", s)
}

// isoDate reads "2026-01-05" and "2026-01-05T09:12:00" as [yearFirst] does, at a
// tenth of the cost: most files write their dates so, and some have a million.
func isoDate(s string) (written, bool) {
	if len(s) < 10 || s[4] != '-' || s[7] != '-' || len(s) > 10 && s[10] != 'T' && s[10] != ' ' {
		return written{}, false
	}
	year, ok1 := digits(s[:4])
	mon, ok2 := digits(s[5:7])
	day, ok3 := digits(s[8:10])
	if !ok1 || !ok2 || !ok3 || len(s) > 11 && !isDigit(s[11]) {
		return written{}, false
	}
	w := written{first: day, second: mon, year: year, order: DayFirst}
	if len(s) > 11 {
		w.clock = s[11:]
	}
	return w, len(s) != 11
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// digits reads a number of plain digits.
func digits(s string) (n int, ok bool) {
	for i := range len(s) {
		if !isDigit(s[i]) {
			return 0, false
		}
		n = 10*n + int(s[i]-'0')
	}
	return n, true
}

// isoClock reads "09:12:00", with a "Z" or without, as [clockTime] does.
func isoClock(s string) (h, mi, sec int, utc, ok bool) {
	if len(s) == 9 && s[8] == 'Z' {
		s, utc = s[:8], true
	}
	if len(s) != 8 || s[2] != ':' || s[5] != ':' {
		return 0, 0, 0, false, false
	}
	h, ok1 := digits(s[:2])
	mi, ok2 := digits(s[3:5])
	sec, ok3 := digits(s[6:])
	return h, mi, sec, utc, ok1 && ok2 && ok3 && h <= 23 && mi <= 59 && sec <= 59
}

// open reports whether the date reads as two different days.
func (w written) open() bool {
	return w.order == "" && w.first <= 12 && w.second <= 12 && w.first != w.second
}

// date gives year, month and day under an order, refusing days that no calendar has.
func (w written) date(order DateOrder) (time.Time, error) {
	if w.order != "" {
		order = w.order
	}
	day, mon := w.first, w.second
	if order == MonthFirst {
		day, mon = mon, day
	}
	t := time.Date(w.year, time.Month(mon), day, 12, 0, 0, 0, time.UTC)
	if t.Day() != day || t.Month() != time.Month(mon) || w.year < 1900 || w.year > 2100 {
		return time.Time{}, fmt.Errorf("there is no day %04d-%02d-%02d", w.year, mon, day)
	}
	return t, nil
}

// moment puts date and time of day together. clock may be empty.
func (w written) moment(order DateOrder, clock string, loc *time.Location) (Moment, error) {
	day, err := w.date(order)
	if err != nil {
		return Moment{}, err
	}
	if w.clock != "" {
		if clock != "" {
			return Moment{}, fmt.Errorf("the date holds a time (%q) and so does the time column (%q)", w.clock, clock)
		}
		clock = w.clock
	}
	m := Moment{DateKnown: true}
	clock = strings.TrimSpace(clock)
	if clock == "" {
		m.Time = time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, loc)
		return m, nil
	}
	if h, mi, sec, utc, ok := isoClock(clock); ok {
		if m.TimeKnown, m.seconds, m.ZoneKnown = true, true, utc; utc {
			loc = time.UTC
		}
		m.Time = time.Date(day.Year(), day.Month(), day.Day(), h, mi, sec, 0, loc)
		return m, nil
	}
	f := clockTime.FindStringSubmatch(clock)
	if f == nil {
		return Moment{}, fmt.Errorf("%q is not a time of day, write it like 09:12", clock)
	}
	h, mi, sec := atoi(f[1]), atoi(f[2]), atoi(f[3])
	nano := atoi((f[4] + "000000000")[:9])
	if f[5] != "" {
		if h < 1 || h > 12 {
			return Moment{}, fmt.Errorf("%q is not a time of day", clock)
		}
		h %= 12
		if strings.EqualFold(f[5], "p") {
			h += 12
		}
	}
	if h > 23 || mi > 59 || sec > 59 {
		return Moment{}, fmt.Errorf("%q is not a time of day", clock)
	}
	m.TimeKnown, m.seconds = true, f[3] != ""
	if z := strings.ToUpper(f[6]); z != "" {
		m.ZoneKnown, loc = true, time.UTC
		if z[0] == '+' || z[0] == '-' {
			digits := strings.ReplaceAll(z[1:], ":", "")
			hours, minutes := atoi(digits[:2]), atoi(digits[2:])
			if hours > 14 || minutes > 59 {
				return Moment{}, fmt.Errorf("%q is not a time of day: no zone is so far from UTC", clock)
			}
			offset := hours*3600 + minutes*60
			if z[0] == '-' {
				offset = -offset
			}
			if offset != 0 {
				loc = time.FixedZone("", offset)
			}
		}
	}
	m.Time = time.Date(day.Year(), day.Month(), day.Day(), h, mi, sec, nano, loc)
	return m, nil
}

// orderEvidence settles the order of the dates of one file.
type orderEvidence struct {
	dayFirst, monthFirst, open int // first line that shows each; 0 if none
	example                    string
}

func (e *orderEvidence) see(line int, cell string) {
	w, err := takeApart(cell)
	if err != nil || w.order != "" {
		return
	}
	note := func(at *int) {
		if *at == 0 {
			*at = line
		}
	}
	switch {
	case w.first > 12 && w.second <= 12:
		note(&e.dayFirst)
	case w.second > 12 && w.first <= 12:
		note(&e.monthFirst)
	case w.open():
		if e.open == 0 {
			e.example = cell
		}
		note(&e.open)
	}
}

// settle gives the one order that all dates of the file keep.
func (e *orderEvidence) settle(asked DateOrder) (DateOrder, *Declined) {
	switch {
	case e.dayFirst > 0 && e.monthFirst > 0:
		return "", decline(max(e.dayFirst, e.monthFirst), "write all dates like 2026-01-05",
			"its dates contradict each other: line %d has the day first, line %d the month", e.dayFirst, e.monthFirst)
	case e.dayFirst > 0 && asked == MonthFirst:
		return "", decline(e.dayFirst, "leave the order out, the file settles it", "its dates have the day first, not the month as was said")
	case e.monthFirst > 0 && asked == DayFirst:
		return "", decline(e.monthFirst, "leave the order out, the file settles it", "its dates have the month first, not the day as was said")
	case e.dayFirst > 0:
		return DayFirst, nil
	case e.monthFirst > 0:
		return MonthFirst, nil
	case asked == "" && e.open > 0:
		return "", decline(e.open, "say which is meant: dmy (day first) or mdy (month first)",
			"no date of it says whether day or month comes first, as in %q", e.example)
	case asked == "":
		return DayFirst, nil // no date depends on it
	}
	return asked, nil
}
