package when

import (
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the tests must not hang on the machine's time zones
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func at(t testing.TB, s, zoneName string) time.Time {
	t.Helper()
	v, err := time.ParseInLocation("2006-01-02 15:04:05", s, zone(t, zoneName))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestParse(t *testing.T) {
	now := at(t, "2026-11-23 08:15:40", "Europe/Berlin") // a Monday
	for s, want := range map[string]string{
		// Without a time of day: noon.
		"2026-11-20": "2026-11-20", "2026/11/20": "2026-11-20", "2026-1-5": "2026-01-05", " TODAY ": "2026-11-23",
		"yesterday": "2026-11-22", "tomorrow": "2026-11-24", "3d ago": "2026-11-20", "3 d ago": "2026-11-20", "3 days ago": "2026-11-20",
		"1 day ago": "2026-11-22", "a day ago": "2026-11-22", "2 weeks ago": "2026-11-09", "2w ago": "2026-11-09", "a week ago": "2026-11-16",
		"in 3 days": "2026-11-26", "in 2w": "2026-12-07", "0 days ago": "2026-11-23", "20 Nov 2026": "2026-11-20",
		"20 november 2026": "2026-11-20", "Nov 20, 2026": "2026-11-20", "November 20 2026": "2026-11-20", "29 feb 2028": "2028-02-29",
		"1 Sept 2026": "2026-09-01", "2026\u00a011\u00a020": "",
		// With one.
		"2026-11-20 14:30": "2026-11-20T14:30:00+01:00", "2026-11-20T14:30": "2026-11-20T14:30:00+01:00", "2026-07-20 9:05:07": "2026-07-20T09:05:07+02:00",
		"2026-11-20, 14:30": "2026-11-20T14:30:00+01:00", "14:30": "2026-11-23T14:30:00+01:00", "at 14:30": "2026-11-23T14:30:00+01:00",
		"yesterday 14:30": "2026-11-22T14:30:00+01:00", "yesterday at 9:05": "2026-11-22T09:05:00+01:00", "9:05 yesterday": "2026-11-22T09:05:00+01:00",
		"3 days ago 0:00": "2026-11-20T00:00:00+01:00", "20 Nov 2026 at 23:59": "2026-11-20T23:59:00+01:00",
		"now": "2026-11-23T08:15:40+01:00", "5 hours ago": "2026-11-23T03:15:40+01:00", "20 min ago": "2026-11-23T07:55:40+01:00",
		"an hour ago": "2026-11-23T07:15:40+01:00", "in 2 h": "2026-11-23T10:15:40+01:00",
		// With an offset of its own (RFC 3339, section 5.6 and its examples).
		"2026-11-20T14:30:00Z": "2026-11-20T15:30:00+01:00", "2026-11-20t14:30:00-05:00": "2026-11-20T20:30:00+01:00",
		"1996-12-19T16:39:57-08:00": "1996-12-20T01:39:57+01:00", "2026-11-20 14:30 +01:00": "2026-11-20T14:30:00+01:00",
		"1985-04-12T23:20:50.52Z": "1985-04-13T01:20:50+02:00",
	} {
		got, err := Parse(s, now)
		if want == "" {
			if err == nil {
				t.Errorf("%q is read as %v", s, got)
			}
			continue
		}
		if err != nil || got.String() != want || got.Clock != strings.Contains(want, "T") {
			t.Errorf("%q: %v, %v, want %s", s, got, err, want)
			continue
		}
		if !got.Clock && got.Time.Format("15:04:05") != "12:00:00" {
			t.Errorf("%q stands at %v, want noon", s, got.Time)
		}
		if got.Time.Location() != now.Location() {
			t.Errorf("%q is in the zone %v", s, got.Time.Location())
		}
		if back, err := Parse(got.String(), now); err != nil || !back.Time.Equal(got.Time) || back.Clock != got.Clock {
			t.Errorf("%q written as %s comes back as %v, %v", s, got, back, err)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	now := at(t, "2026-11-23 08:15:40", "Europe/Berlin")
	for s, says := range map[string]string{
		"03/04/2026": "write the year first, 2026-04-03 or 2026-03-04", "3.4.26": "2026-04-03 or 2026-03-04", "20.11.2026": "the year first, 2026-11-20",
		"11/20/2026": "the year first, 2026-11-20", "4/4/2026": "the year first, 2026-04-04", "40/50/2026": "is not understood as a date",
		"": "no date given", "  ": "no date given", "2026-02-30": "is no day of the calendar", "2026-13-01": "is no day of the calendar",
		"29 feb 2026": "is no day of the calendar", "0 Jan 2026": "is no day of the calendar", "2026-00-10": "is no day of the calendar",
		"20 foo 2026": "is not understood", "monday": "the last or the next one", "last Fri": "the last or the next one",
		"a month ago": `"month" cannot`, "2 years ago": `"years" cannot`, "5m ago": `"m" cannot`, "in 3 moons": `"moons" cannot`,
		"2pm": "24-hour clock", "yesterday 2:30 p.m.": "24-hour clock", "25:00": "there is no 25:00", "12:60": "there is no 12:60",
		"14:30 15:30": "is not understood", "2 hours ago 14:30": "write one of them", "day 14": "needs a batch", "d14": "needs a batch",
		"1200-01-01": "outside the years", "9999-01-01": "outside the years", "99999 weeks ago": "outside the years", "in 99999 weeks": "outside the years",
		"2026-02-30T10:00:00Z": "is no moment", "2026-11-20T10:00:00+99:00": "is no moment", "9999-12-31T10:00:00Z": "outside the years",
		"3d": "is not understood", "20": "is not understood", "2026": "is not understood", "and ago": "is not understood", "-3 days ago": "is not understood",
		"2026-11-20x": "is not understood", "1e3 days ago": "is not understood", "99999999999 days ago": "is not understood", "\x00": "is not understood",
		"tomorrow yesterday": "is not understood", strings.Repeat("1 day ago ", 20): "is too long", strings.Repeat("é", 40): "is too long",
	} {
		if got, err := Parse(s, now); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, %v, want %q", s, got, err, says)
		}
	}
}

// TestClocksChange uses the changes of the clocks as the IANA time zone database
// has them: 2026 in Berlin forward on 29 March at 2:00, back on 25 October at 3:00;
// Lord Howe back by half an hour on 5 April; Havana forward at midnight of 8 March;
// Samoa without 30 December 2011.
func TestClocksChange(t *testing.T) {
	for _, c := range []struct{ now, zone, s, want string }{
		{"2026-03-30 00:10:00", "Europe/Berlin", "yesterday", "2026-03-29T12:00:00+02:00"},
		{"2026-03-30 00:10:00", "Europe/Berlin", "2 days ago", "2026-03-28T12:00:00+01:00"},
		{"2026-10-26 00:10:00", "Europe/Berlin", "yesterday 0:05", "2026-10-25T00:05:00+02:00"},
		{"2026-10-26 00:10:00", "Europe/Berlin", "2 weeks ago 8:00", "2026-10-12T08:00:00+02:00"},
		{"2026-10-26 00:10:00", "Europe/Berlin", "2026-10-25 03:00", "2026-10-25T03:00:00+01:00"},
		{"2026-03-09 00:30:00", "America/Havana", "yesterday", "2026-03-08T12:00:00-04:00"},
		{"2026-03-09 00:30:00", "America/Havana", "tomorrow", "2026-03-10T12:00:00-04:00"},
		{"2026-03-30 00:10:00", "Europe/Berlin", "2026-03-29 02:30", "the clocks skip 02:30 on 2026-03-29"},
		{"2026-10-26 00:10:00", "Europe/Berlin", "yesterday 2:30", "write 2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00"},
		{"2026-10-26 00:10:00", "Europe/Berlin", "2026-10-25 02:30 +01:00", "2026-10-25T02:30:00+01:00"},
		{"2026-04-06 00:10:00", "Australia/Lord_Howe", "yesterday 1:45", "write 2026-04-05T01:45:00+11:00 or 2026-04-05T01:45:00+10:30"},
		{"2026-04-06 00:10:00", "Australia/Lord_Howe", "yesterday 2:15", "2026-04-05T02:15:00+10:30"},
		{"2011-12-31 10:00:00", "Pacific/Apia", "yesterday", "left out of the calendar"},
	} {
		got, err := Parse(c.s, at(t, c.now, c.zone))
		said := got.Time.Format(time.RFC3339)
		if err != nil {
			said = err.Error()
		}
		if !strings.Contains(said, c.want) {
			t.Errorf("%s at %s in %s: %s, want %s", c.s, c.now, c.zone, said, c.want)
		}
	}
}

func TestParseDay(t *testing.T) {
	start := at(t, "2026-10-20 18:40:00", "Europe/Berlin")
	now := at(t, "2026-11-23 08:15:40", "Europe/Berlin")
	for s, want := range map[string]string{
		"day 0":          "2026-10-20T18:40:00+02:00 date",
		"day 14":         "2026-11-03T18:40:00+01:00 date", // over the change of the clocks, still 14 days by the calendar
		"d14":            "2026-11-03T18:40:00+01:00 date",
		"Day 3 9:30":     "2026-10-23T09:30:00+02:00 clock",
		"day 0.5":        "2026-10-21T06:40:00+02:00 clock",
		"day 1,25":       "2026-10-22T00:40:00+02:00 clock",
		"yesterday":      "2026-11-22T12:00:00+01:00 date",
		"2026-10-21":     "2026-10-21T12:00:00+02:00 date",
		"day 9 at 20:00": "2026-10-29T20:00:00+01:00 clock",
	} {
		got, err := ParseDay(s, start, now)
		said := got.Time.Format(time.RFC3339) + map[bool]string{true: " clock", false: " date"}[got.Clock]
		if err != nil || said != want {
			t.Errorf("%q: %s, %v, want %s", s, said, err, want)
		}
	}
	for s, says := range map[string]string{
		"day -1": "is not understood", "day": "is not understood", "day 1.5 9:30": "write one of them", "day 99999": "is not understood",
		"14": "is not understood", "": "no date given", "day 5 2:30pm": "24-hour clock", "day 5 2:30": "twice",
	} {
		if got, err := ParseDay(s, start, now); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, %v, want %q", s, got, err, says)
		}
	}
	// A start given elsewhere counts by the calendar of now's zone.
	got, err := ParseDay("day 1", at(t, "2026-10-20 23:30:00", "America/New_York"), now)
	if err != nil || got.Time.Format(time.RFC3339) != "2026-10-22T05:30:00+02:00" {
		t.Errorf("day 1 of a batch begun elsewhere is %v, %v", got.Time, err)
	}
	// Day 2 after 00:30 on the 6th would be 00:30 on the 8th, which Havana skipped.
	got, err = ParseDay("day 2", at(t, "2026-03-06 00:30:00", "America/Havana"), at(t, "2026-03-20 10:00:00", "America/Havana"))
	if err != nil || got.String() != "2026-03-08" {
		t.Errorf("day 2 is %v (%v), %v", got, got.Time, err)
	}
}

func TestSay(t *testing.T) {
	now := at(t, "2026-11-23 08:15:40", "Europe/Berlin")
	for s, want := range map[string]string{
		"2026-11-23 08:15:00": "just now", "2026-11-23 08:16:10": "just now", "2026-11-23 08:14:40": "1 minute ago", "2026-11-23 07:50:00": "25 minutes ago",
		"2026-11-23 08:45:50": "in 30 minutes", "2026-11-23 03:00:00": "5 hours ago", "2026-11-22 23:00:00": "9 hours ago", "2026-11-23 10:16:00": "in 2 hours",
		"2026-11-22 20:00:00": "yesterday", "2026-11-22 00:30:00": "yesterday", "2026-11-24 22:00:00": "tomorrow", "2026-11-23 23:00:00": "today",
		"2026-11-20 23:59:00": "3 days ago", "2026-11-26 00:01:00": "in 3 days", "2026-10-12 12:00:00": "42 days ago", "2026-09-24 12:00:00": "60 days ago",
		"2026-09-23 12:00:00": "8 weeks ago", "2025-11-23 08:00:00": "52 weeks ago", "2024-11-20 08:00:00": "2 years ago", "2027-02-01 08:00:00": "in 10 weeks",
	} {
		if got := Say(at(t, s, "Europe/Berlin"), now); got != want {
			t.Errorf("%s: %q, want %q", s, got, want)
		}
	}
	for s, want := range map[string]string{
		"2026-11-20":       "2026-11-20 (Friday, 3 days ago)",
		"2026-11-20 14:30": "2026-11-20 14:30 (Friday, 3 days ago)",
		"today":            "2026-11-23 (Monday, today)",
		"14:30":            "2026-11-23 14:30 (Monday, in 6 hours)",
		"tomorrow":         "2026-11-24 (Tuesday, tomorrow)",
	} {
		w, err := Parse(s, now)
		if err != nil || w.Echo(now) != want {
			t.Errorf("%q: %q, %v, want %q", s, w.Echo(now), err, want)
		}
	}
}

func TestDays(t *testing.T) {
	day := func(s, zone string) time.Time { return at(t, s+":00", zone) }
	for _, c := range []struct {
		from, to time.Time
		want     int
	}{
		{day("2026-11-22 23:59", "Europe/Berlin"), day("2026-11-23 00:01", "Europe/Berlin"), 1},
		{day("2026-03-28 12:00", "Europe/Berlin"), day("2026-03-30 01:00", "Europe/Berlin"), 2},
		{day("2026-10-24 23:00", "Europe/Berlin"), day("2026-10-26 00:30", "Europe/Berlin"), 2},
		{day("2026-11-23 10:00", "Europe/Berlin"), day("2026-11-20 23:00", "Europe/Berlin"), -3},
		{day("2026-11-22 20:00", "America/New_York"), day("2026-11-23 12:00", "Europe/Berlin"), 0}, // 02:00 on the 23rd in Berlin
		{day("2024-02-28 10:00", "UTC"), day("2024-03-01 09:00", "UTC"), 2},
	} {
		if got := Days(c.from, c.to); got != c.want {
			t.Errorf("%v to %v: %d days, want %d", c.from, c.to, got, c.want)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"2026-11-20", "2026-11-20 14:30", "2026-11-20T14:30:00Z", "today", "yesterday at 9:05", "3d ago", "2 weeks ago", "in 3 days", "14:30", "now",
		"20 Nov 2026", "Nov 20, 2026", "03/04/2026", "day 14", "day 0.5", "d9999", "2026-03-29 02:30", "2026-10-25 02:30", "at", "at at 1:00",
		"99999 weeks ago", "an hour ago", "2199-12-31 23:59", "1970-01-01", "İ ago", "\xff", "1 2 ago", "in a d",
	} {
		f.Add(s, int64(1795418140))
	}
	zones := []*time.Location{time.UTC, zone(f, "Europe/Berlin"), zone(f, "Australia/Lord_Howe"), zone(f, "America/Havana")}
	f.Fuzz(func(t *testing.T, s string, seconds int64) {
		// Some moment of 1980–2150, in one of the zones.
		seconds = 315532800 + ((seconds%5364662400)+5364662400)%5364662400
		now := time.Unix(seconds, 0).In(zones[seconds%int64(len(zones))])
		for name, read := range map[string]func() (When, error){
			"Parse":    func() (When, error) { return Parse(s, now) },
			"ParseDay": func() (When, error) { return ParseDay(s, now.AddDate(0, 0, -30), now) },
		} {
			w, err := read()
			if err != nil {
				if err.Error() == "" {
					t.Fatalf("%s(%q) fails without a word", name, s)
				}
				continue
			}
			if y := w.Time.Year(); y < firstYear || y > lastYear || w.Time.Location() != now.Location() {
				t.Fatalf("%s(%q) is %v", name, s, w.Time)
			}
			back, err := Parse(w.String(), now)
			if err != nil || back.Clock != w.Clock || w.Clock && !back.Time.Equal(w.Time) || Days(back.Time, w.Time) != 0 {
				t.Fatalf("%s(%q) is %v, which comes back as %v (%v)", name, s, w, back, err)
			}
			if w.Say(now) == "" || !strings.Contains(w.Echo(now), w.Say(now)) {
				t.Fatalf("%s(%q) is echoed as %q", name, s, w.Echo(now))
			}
		}
	})
}
