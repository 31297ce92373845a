package exchange

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// parseICS is a small strict reader of RFC 5545, written for these tests. It
// checks line ends, folding at 75 octets, nesting, the properties that an event
// must and may have, and the forms of values, and gives the events.
func parseICS(data []byte) (events []map[string]string, err error) {
	text := string(data)
	if !utf8.ValidString(text) {
		return nil, fmt.Errorf("not UTF-8")
	}
	if !strings.HasSuffix(text, "\r\n") || strings.Count(text, "\n") != strings.Count(text, "\r\n") || strings.Count(text, "\r") != strings.Count(text, "\r\n") {
		return nil, fmt.Errorf("a line does not end in CRLF")
	}
	var lines []string
	for i, l := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(l) > 75 {
			return nil, fmt.Errorf("line %d has %d octets", i+1, len(l))
		}
		if !utf8.ValidString(l) {
			return nil, fmt.Errorf("line %d cuts a character", i+1)
		}
		if strings.HasPrefix(l, " ") || strings.HasPrefix(l, "\t") {
			if len(lines) == 0 || len(l) == 1 {
				return nil, fmt.Errorf("line %d continues nothing", i+1)
			}
			lines[len(lines)-1] += l[1:]
			continue
		}
		lines = append(lines, l)
	}
	calendar := map[string]string{}
	uids := map[string]bool{}
	var stack []string
	var event map[string]string
	for _, l := range lines {
		name, value, ok := strings.Cut(l, ":")
		if !ok || name == "" {
			return nil, fmt.Errorf("%q has no name", l)
		}
		for _, r := range value {
			if r < ' ' && r != '\t' || r == 0x7F {
				return nil, fmt.Errorf("%q holds a control character", l)
			}
		}
		within := strings.Join(stack, "/")
		switch name {
		case "BEGIN":
			stack = append(stack, value)
			switch strings.Join(stack, "/") {
			case "VCALENDAR":
			case "VCALENDAR/VEVENT":
				event = map[string]string{}
			case "VCALENDAR/VEVENT/VALARM":
				if event["alarm"] != "" {
					return nil, fmt.Errorf("two alarms")
				}
				event["alarm"] = "begun"
			default:
				return nil, fmt.Errorf("%s within %q", value, within)
			}
			continue
		case "END":
			if len(stack) == 0 || stack[len(stack)-1] != value {
				return nil, fmt.Errorf("END:%s within %q", value, within)
			}
			stack = stack[:len(stack)-1]
			if value != "VEVENT" {
				continue
			}
			for _, must := range []string{"UID", "DTSTAMP", "DTSTART;VALUE=DATE", "SUMMARY", "SEQUENCE", "alarm ACTION", "alarm TRIGGER", "alarm DESCRIPTION"} {
				if event[must] == "" {
					return nil, fmt.Errorf("an event without %s", must)
				}
			}
			if uids[event["UID"]] {
				return nil, fmt.Errorf("UID %q stands twice", event["UID"])
			}
			uids[event["UID"]] = true
			if _, err := time.Parse("20060102", event["DTSTART;VALUE=DATE"]); err != nil {
				return nil, err
			}
			for _, k := range []string{"DTSTAMP", "LAST-MODIFIED"} {
				if v, ok := event[k]; ok {
					if _, err := time.Parse("20060102T150405Z", v); err != nil {
						return nil, err
					}
				}
			}
			events = append(events, event)
			continue
		}
		into, key := calendar, name
		switch within {
		case "":
			return nil, fmt.Errorf("%q stands outside", l)
		case "VCALENDAR/VEVENT":
			into = event
		case "VCALENDAR/VEVENT/VALARM":
			into, key = event, "alarm "+name
		}
		if _, twice := into[key]; twice {
			return nil, fmt.Errorf("%s stands twice", key)
		}
		if name == "SUMMARY" || name == "DESCRIPTION" {
			if value, err = unescapeICS(value); err != nil {
				return nil, err
			}
		}
		into[key] = value
	}
	if len(stack) != 0 || calendar["VERSION"] != "2.0" || calendar["PRODID"] == "" || len(events) == 0 {
		return nil, fmt.Errorf("not a whole calendar: open %v, %v", stack, calendar)
	}
	return events, nil
}

func unescapeICS(s string) (string, error) {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == ';' || c == ',':
			return "", fmt.Errorf("a bare %q in %q", c, s)
		case c != '\\':
			b.WriteByte(c)
		case i+1 == len(s):
			return "", fmt.Errorf("%q ends in a backslash", s)
		default:
			i++
			switch s[i] {
			case 'n', 'N':
				b.WriteByte('\n')
			case '\\', ';', ',':
				b.WriteByte(s[i])
			default:
				return "", fmt.Errorf("unknown escape in %q", s)
			}
		}
	}
	return b.String(), nil
}

var dawn = time.Date(2026, 1, 5, 9, 12, 0, 0, time.UTC)

// The wanted calendar of the shared data (CC0), read and written again: the same
// events with the same properties, values and alarms.
func TestCalendarLikeTheSample(t *testing.T) {
	sample := sharedFile(t, "ics/reminders.ics")
	want, err := parseICS(sample)
	if err != nil {
		t.Fatal(err)
	}
	var events []Reminder
	for _, e := range want {
		day, err := time.Parse("20060102", e["DTSTART;VALUE=DATE"])
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, Reminder{UID: e["UID"], Day: day, Summary: e["SUMMARY"], Description: e["DESCRIPTION"]})
	}
	written := Calendar(events, dawn)
	got, err := parseICS(written)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "events", fmt.Sprint(got), fmt.Sprint(want))
	// Byte for byte too, but for the name of the program.
	same(t, "bytes", strings.Replace(string(written), "-//lyefast//cure readings//EN", "-//example//cure readings//EN", 1), string(sample))
}

func TestCalendar(t *testing.T) {
	names := []string{"tide, “rosé”; 2 %", `A\B` + "\n\tnext", strings.Repeat("море", 40), "a\x00b\x1b[31m\r\nc\u0085", strings.Repeat("x", 75), "\xff bad"}
	var events []Reminder
	for i, n := range names {
		events = append(events, Reminder{UID: ReminderUID("book", n, i), Day: dawn.AddDate(0, 0, 7*(len(names)-i)), Summary: "Read " + n, Description: n + "\n" + n, Sequence: i, Modified: dawn})
	}
	data := Calendar(events, dawn)
	got, err := parseICS(data)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "events", len(got), len(names))
	for i, e := range got { // by date, so from the last
		r := events[len(events)-1-i]
		same(t, "UID", e["UID"], r.UID)
		same(t, "sequence", e["SEQUENCE"], fmt.Sprint(r.Sequence))
		same(t, "modified", e["LAST-MODIFIED"], "20260105T091200Z")
		same(t, "alarm", e["alarm TRIGGER"], "PT9H")
		if strings.ContainsAny(e["SUMMARY"], "\n\r") {
			t.Errorf("summary %q", e["SUMMARY"])
		}
	}
	same(t, "text", got[5]["SUMMARY"], "Read tide, “rosé”; 2 %")
	same(t, "two lines", got[4]["DESCRIPTION"], "A\\B\n\tnext\nA\\B\n\tnext")

	// An update: the same UID, a later day, one sequence more.
	moved := events[0]
	moved.Day, moved.Sequence = moved.Day.AddDate(0, 0, 1), 1
	got, err = parseICS(Calendar([]Reminder{events[0], moved}, dawn.AddDate(0, 0, 1)))
	if err != nil || len(got) != 1 {
		t.Fatal(got, err)
	}
	same(t, "the later one", got[0]["SEQUENCE"], "1")
	if Calendar(nil, dawn) != nil {
		t.Error("a calendar without events")
	}
}

func TestReminderUID(t *testing.T) {
	a := ReminderUID("book", "12", 7)
	same(t, "form", a, "reading-12-day07-"+a[len("reading-12-day07-"):])
	same(t, "domain", strings.HasSuffix(a, "@lyefast.invalid"), true)
	seen := map[string]bool{a: true}
	for _, u := range []string{ReminderUID("book", "12", 8), ReminderUID("other", "12", 7), ReminderUID("book", "1-2", 7), ReminderUID("book", "möwe", 7), ReminderUID("book", "mwe", 7)} {
		if seen[u] || strings.ContainsAny(u, " ,;:\n") {
			t.Errorf("%q", u)
		}
		seen[u] = true
	}
	same(t, "stable", ReminderUID("book", "12", 7), a)
}

func FuzzCalendar(f *testing.F) {
	f.Add("Read tide, “rosé”; 2 %", "A\\B\nnext\r\nline", "uid@x.invalid", 3)
	f.Add(strings.Repeat("море", 40), "\x00\x1b\u0085", "a\r\nBEGIN:VALARM", -1)
	f.Fuzz(func(t *testing.T, summary, description, uid string, n int) {
		e := Reminder{UID: ReminderUID(uid, summary, n), Day: dawn, Summary: "." + summary, Description: description, Sequence: n}
		if _, err := parseICS(Calendar([]Reminder{e, {UID: "x" + uid, Day: dawn, Summary: "y"}}, dawn)); err != nil {
			t.Fatal(err)
		}
	})
}
