package when

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"lyefast/internal/pattern"
)

const (
	maxText   = 60 // bytes
	firstYear = 1970
	lastYear  = 2199
)

var (
	rfc3339  = pattern.New(`^\d{4}-\d\d-\d\d[t ]\d\d:\d\d(:\d\d(\.\d+)?)? ?(z|[+-]\d\d:\d\d)$`)
	joined   = pattern.New(`^(\d{4}-\d{1,2}-\d{1,2})t(\d)`)
	clock    = pattern.New(`^(\d{1,2}):(\d{2})(?::(\d{2}))?$`)
	halfDay  = pattern.New(`\d ?[ap]\.?m\.?$`)
	yearLast = pattern.New(`^(\d{1,2})[/.-](\d{1,2})[/.-](\d{2}|\d{4})$`)
	yearHead = pattern.New(`^(\d{4})[-/](\d{1,2})[-/](\d{1,2})$`)
	dayFirst = pattern.New(`^(\d{1,2}) ([a-z]{3,9}) (\d{4})$`)
	monFirst = pattern.New(`^([a-z]{3,9}) (\d{1,2}),? (\d{4})$`)
	ago      = pattern.New(`^(\d{1,5} ?|an? )([a-z]+) ago$`)
	ahead    = pattern.New(`^in (\d{1,5} ?|an? )([a-z]+)$`)
	count    = pattern.New(`^d(?:ay)? ?(\d{1,4})(?:[.,](\d{1,3}))?$`)
)

// Parse reads a moment: a date as "2026-11-20", "2026/11/20", "20 Nov 2026" or "Nov
// 20, 2026", "today", "yesterday", "tomorrow", "3d ago", "3 days ago", "2 weeks ago",
// "in 3 days", each with or without a time of day as in "2026-11-20 14:30" or
// "yesterday at 9:05"; a time of day alone, which is today's; "now", "5 hours ago",
// "20 min ago"; and RFC 3339 with its own offset. Results are in the time zone of
// now, years 1970–2199.
//
// Dates that read differently on two sides of a sea (03/04/2026), a day that the
// month has not, and a time of day that the clocks skipped or showed twice are
// refused.
func Parse(s string, now time.Time) (When, error) {
	text, err := tidy(s)
	if err != nil {
		return When{}, err
	}
	if rfc3339.MatchString(text) {
		return parseRFC3339(s, text, now.Location())
	}
	day, at, err := takeClock(s, text)
	if err != nil {
		return When{}, err
	}
	if at == nil {
		if w, ok, err := parseInstant(s, day, now); ok || err != nil {
			return w, err
		}
	}
	date, err := parseDate(s, day, now)
	if err != nil {
		return When{}, err
	}
	return date.when(s, at, now.Location())
}

// ParseDay is [Parse] for what belongs to a batch, and reads besides "day 14", also
// "d14" or "day 14 9:30": calendar days counted from start, which is day 0. "day
// 0.5" is half a day of 24 hours after it.
func ParseDay(s string, start, now time.Time) (When, error) {
	text, err := tidy(s)
	if err != nil {
		return When{}, err
	}
	day, at, err := takeClock(s, text)
	if err != nil {
		return When{}, err
	}
	m := count.FindStringSubmatch(day)
	if m == nil {
		return Parse(s, now)
	}
	start = start.In(now.Location())
	n := atoi(m[1])
	switch {
	case m[2] != "":
		if at != nil {
			return When{}, fmt.Errorf("%q has a fraction of a day and a time of day; write one of them", s)
		}
		part, _ := strconv.ParseFloat("0."+m[2], 64)
		hours := 24 * (float64(n) + part)
		w := When{start.Add(time.Duration(hours * float64(time.Hour))).Truncate(time.Second), true}
		return w, checkYear(s, w.Time.Year())
	case at != nil:
		return dateOf(start).plus(n).when(s, at, now.Location())
	}
	d := dateOf(start).plus(n)
	w := When{start.AddDate(0, 0, n), false}
	if dateOf(w.Time) != d { // the clocks skip that time of day at midnight
		return d.when(s, nil, now.Location())
	}
	return w, checkYear(s, w.Time.Year())
}

// tidy lowers the case and makes every run of blanks one.
func tidy(s string) (string, error) {
	if len(s) > maxText {
		return "", fmt.Errorf("%q … is too long for a date", strings.ToValidUTF8(s[:30], ""))
	}
	text := strings.Join(strings.Fields(strings.ToLower(s)), " ") // Fields knows the no-break spaces
	if text == "" {
		return "", fmt.Errorf("no date given; write it like 2026-11-20, yesterday or 3d ago")
	}
	return joined.ReplaceAllString(text, "$1 $2"), nil
}

func parseRFC3339(s, text string, loc *time.Location) (When, error) {
	text = strings.ToUpper(strings.Replace(text, " ", "T", 1))
	text = strings.ReplaceAll(text, " ", "")
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(layout, text); err == nil {
			return When{t.In(loc).Truncate(time.Second), true}, checkYear(s, t.In(loc).Year())
		}
	}
	return When{}, fmt.Errorf("%q is no moment of the calendar", s)
}

// timeOfDay is hours, minutes and seconds on the 24-hour clock.
type timeOfDay struct{ h, m, s int }

// takeClock parts a time of day, first or last, from what else stands there.
func takeClock(s, text string) (rest string, at *timeOfDay, err error) {
	if halfDay.MatchString(text) {
		return "", nil, fmt.Errorf("%q: the time of day is read on the 24-hour clock, like 14:30", s)
	}
	words := strings.Split(text, " ")
	for _, i := range []int{len(words) - 1, 0} {
		m := clock.FindStringSubmatch(words[i])
		if m == nil {
			continue
		}
		at = &timeOfDay{atoi(m[1]), atoi(m[2]), atoi(m[3])} // no seconds are 0
		if at.h > 23 || at.m > 59 || at.s > 59 {
			return "", nil, fmt.Errorf("%q: there is no %s on the clock, it runs from 0:00 to 23:59", s, m[0])
		}
		rest = strings.Join(append(words[:i:i], words[i+1:]...), " ")
		rest = strings.TrimSuffix(" "+rest, " at") // "yesterday at 9:05"
		return strings.TrimSpace(strings.TrimSuffix(rest, ",")), at, nil
	}
	return text, nil, nil
}

// parseInstant reads what needs the clock of now.
func parseInstant(s, text string, now time.Time) (w When, ok bool, err error) {
	if text == "now" {
		return When{now.Truncate(time.Second), true}, true, nil
	}
	n, unit, sign := counted(text)
	var step time.Duration
	switch unit {
	case "h", "hr", "hrs", "hour", "hours":
		step = time.Hour
	case "min", "mins", "minute", "minutes":
		step = time.Minute
	default:
		return When{}, false, nil
	}
	t := now.Add(time.Duration(sign*n) * step).Truncate(time.Second)
	return When{t, true}, true, checkYear(s, t.Year())
}

// counted parts "3 days ago" or "in 3 days" into the number, the unit and the
// direction; the unit is "" if the text is neither.
func counted(text string) (n int, unit string, sign int) {
	m, sign := ago.FindStringSubmatch(text), -1
	if m == nil {
		m, sign = ahead.FindStringSubmatch(text), 1
	}
	if m == nil {
		return 0, "", 0
	}
	n = 1 // "a", "an"
	if m[1][0] != 'a' {
		n = atoi(strings.TrimSpace(m[1]))
	}
	return n, m[2], sign
}

// date is a day of the calendar.
type date struct {
	y int
	m time.Month
	d int
}

func dateOf(t time.Time) date {
	y, m, d := t.Date()
	return date{y, m, d}
}

// plus counts days on. It reckons in UTC, where every day has a noon.
func (d date) plus(days int) date {
	return dateOf(time.Date(d.y, d.m, d.d+days, 12, 0, 0, 0, time.UTC))
}

func (d date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.y, d.m, d.d) }

// parseDate reads a day; "" is today.
func parseDate(s, text string, now time.Time) (date, error) {
	today := dateOf(now)
	switch text {
	case "", "today":
		return today, nil
	case "yesterday":
		return today.plus(-1), nil
	case "tomorrow":
		return today.plus(1), nil
	}
	if n, unit, sign := counted(text); unit != "" {
		switch unit {
		case "d", "day", "days":
		case "w", "wk", "wks", "week", "weeks":
			n *= 7
		case "h", "hr", "hrs", "hour", "hours", "min", "mins", "minute", "minutes":
			return date{}, fmt.Errorf("%q counts hours or minutes and gives a time of day; write one of them", s)
		default:
			return date{}, fmt.Errorf("%q: days and weeks can be counted, %q cannot; write the date, like 2026-11-20", s, unit)
		}
		return today.plus(sign * n), nil
	}
	var y, d int
	var m time.Month
	if p := yearHead.FindStringSubmatch(text); p != nil {
		y, m, d = atoi(p[1]), time.Month(atoi(p[2])), atoi(p[3])
	} else if p := dayFirst.FindStringSubmatch(text); p != nil && month(p[2]) > 0 {
		d, m, y = atoi(p[1]), month(p[2]), atoi(p[3])
	} else if p := monFirst.FindStringSubmatch(text); p != nil && month(p[1]) > 0 {
		m, d, y = month(p[1]), atoi(p[2]), atoi(p[3])
	} else {
		return date{}, refuse(s, text)
	}
	if got := (date{y, m, d}); got.plus(0) == got {
		return got, nil
	}
	return date{}, fmt.Errorf("%q is no day of the calendar", s)
}

// atoi reads digits that a pattern has found; "" is 0.
func atoi(s string) int {
	n, _ := strconv.Atoi(s)
	return n
}

// month gives the month of an English name or its first three letters, else 0.
func month(name string) time.Month {
	for m := time.January; m <= time.December; m++ {
		if full := strings.ToLower(m.String()); name == full || name == full[:3] || name == "sept" && m == time.September {
			return m
		}
	}
	return 0
}

// refuse says why a text is no date and what to write.
func refuse(s, text string) error {
	if m := yearLast.FindStringSubmatch(text); m != nil {
		a, b, year := atoi(m[1]), atoi(m[2]), m[3]
		if len(year) == 2 {
			year = "20" + year
		}
		var readings []string
		for _, d := range []date{{atoi(year), time.Month(b), a}, {atoi(year), time.Month(a), b}} {
			if d.plus(0) == d && !slices.Contains(readings, d.String()) {
				readings = append(readings, d.String())
			}
		}
		if len(readings) > 0 {
			return fmt.Errorf("%q does not say which is the day and which the month; write the year first, %s", s, strings.Join(readings, " or "))
		}
	}
	if count.MatchString(text) {
		return fmt.Errorf("%q needs a batch to count from; write the date, like 2026-11-20", s)
	}
	words := strings.Split(text, " ")
	for d := time.Sunday; d <= time.Saturday; d++ {
		if name := strings.ToLower(d.String()); slices.Contains(words, name) || slices.Contains(words, name[:3]) {
			return fmt.Errorf("%q may be the last or the next one; write the date, like 2026-11-20, or 3d ago", s)
		}
	}
	return fmt.Errorf("%q is not understood as a date; write it like 2026-11-20, 2026-11-20 14:30, yesterday or 3d ago", s)
}

// when places a day, with its time of day if there is one, in a time zone.
func (d date) when(s string, at *timeOfDay, loc *time.Location) (When, error) {
	if err := checkYear(s, d.y); err != nil {
		return When{}, err
	}
	c := timeOfDay{h: 12}
	if at != nil {
		c = *at
	}
	t := time.Date(d.y, d.m, d.d, c.h, c.m, c.s, 0, loc)
	same := func(t time.Time) bool {
		h, min, sec := t.Clock()
		return dateOf(t) == d && timeOfDay{h, min, sec} == c
	}
	if !same(t) {
		if at == nil {
			return When{}, fmt.Errorf("%q: that day was left out of the calendar here", s)
		}
		return When{}, fmt.Errorf("%q: the clocks skip %02d:%02d on %s; write %s", s, c.h, c.m, d, t.Format("15:04"))
	}
	// The same reading of the clock under the offset of the day before or after is a
	// second moment, if the clocks really show it then.
	_, offset := t.Zone()
	for _, far := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		_, other := t.Add(far).Zone()
		twin := t.Add(time.Duration(offset-other) * time.Second)
		if !twin.Equal(t) && same(twin) && at != nil {
			first, second := t, twin
			if second.Before(first) {
				first, second = second, first
			}
			return When{}, fmt.Errorf("%q: the clocks show %02d:%02d twice on %s; write %s or %s",
				s, c.h, c.m, d, first.Format(time.RFC3339), second.Format(time.RFC3339))
		}
	}
	return When{t, at != nil}, nil
}

func checkYear(s string, y int) error {
	if y < firstYear || y > lastYear {
		return fmt.Errorf("%q lies outside the years %d–%d", s, firstYear, lastYear)
	}
	return nil
}
