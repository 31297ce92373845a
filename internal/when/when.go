// Package when reads dates as people write them and says them back in words.
//
// Start at [Parse]. Days are calendar days in the time zone of the moment it is
// given as now, so that "yesterday" stays yesterday when the clocks change, and a
// day without a time of day stands at noon: right to half a day either way. What
// could mean two things is refused with both written out. The package never looks
// at a clock.
package when

import (
	"fmt"
	"time"
)

// When is a moment as it was given.
type When struct {
	// Time is the moment. Without a clock time it is noon of the day, but for a day
	// counted from a start, which keeps the start's time of day.
	Time time.Time
	// Clock tells whether a time of day was given.
	Clock bool
}

// String writes the moment for files: "2026-11-20T14:30:00+01:00", or
// "2026-11-20" where no time of day was given. [Parse] reads both.
func (w When) String() string {
	if w.Clock {
		return w.Time.Format(time.RFC3339)
	}
	return w.Time.Format(time.DateOnly)
}

// Echo writes what was understood, for the maker to check: "2026-11-20 14:30
// (Friday, 3 days ago)".
func (w When) Echo(now time.Time) string {
	layout := "2006-01-02"
	if w.Clock {
		layout = "2006-01-02 15:04"
	}
	t := w.Time.In(now.Location())
	return fmt.Sprintf("%s (%s, %s)", t.Format(layout), t.Weekday(), w.Say(now))
}

// Say is [Say] for a moment whose time of day may be unknown: it then speaks of
// days only.
func (w When) Say(now time.Time) string {
	if w.Clock {
		return Say(w.Time, now)
	}
	return sayDays(Days(w.Time, now))
}

// Say puts a moment in words as seen from now: "just now", "20 minutes ago", "5
// hours ago", then by calendar days "yesterday", "3 days ago", "9 weeks ago", "2
// years ago", and likewise "in 3 days". Days run to 60, since a cure is counted in days.
func Say(t, now time.Time) string {
	ago := now.Sub(t)
	size := ago.Abs()
	switch {
	case size < time.Minute:
		return "just now"
	case size < time.Hour:
		return say(int(size/time.Minute), "minute", ago > 0)
	case size < 12*time.Hour:
		return say(int(size/time.Hour), "hour", ago > 0)
	}
	return sayDays(Days(t, now))
}

func sayDays(ago int) string {
	size := max(ago, -ago)
	switch {
	case ago == 0:
		return "today"
	case ago == 1:
		return "yesterday"
	case ago == -1:
		return "tomorrow"
	case size <= 60:
		return say(size, "day", ago > 0)
	case size < 2*365:
		return say(size/7, "week", ago > 0)
	}
	return say(size/365, "year", ago > 0)
}

func say(n int, unit string, past bool) string {
	if n != 1 {
		unit += "s"
	}
	if past {
		return fmt.Sprintf("%d %s ago", n, unit)
	}
	return fmt.Sprintf("in %d %s", n, unit)
}

// Days counts the calendar days from one moment to another, in the time zone of
// the second: 0 on the same date, 1 for yesterday and today however few the hours
// between, negative where to comes first.
func Days(from, to time.Time) int {
	midnight := func(t time.Time) time.Time {
		y, m, d := t.In(to.Location()).Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) // UTC has no days of 23 hours
	}
	return int(midnight(to).Sub(midnight(from)).Hours() / 24)
}
