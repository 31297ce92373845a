package exchange

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sort"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Reminder is one day on which something is to be read.
type Reminder struct {
	// UID stays the same for as long as the reminder is about the same thing, so
	// that a calendar moves it and does not add another; see [ReminderUID].
	UID string
	// Day is the date; its time of day does not count.
	Day time.Time
	// Summary in one line, Description in as many as are needed.
	Summary, Description string
	// Sequence counts the changes of the reminder since it was first written, and
	// Modified is when it last changed. A calendar keeps the higher sequence.
	Sequence int
	Modified time.Time
}

// ReminderUID makes the UID of the reminder to read a portion on a day after the
// pour. book and portion must be identities that outlive a change of name; other
// characters than letters and digits may be in them.
func ReminderUID(book, portion string, day int) string {
	sum := sha256.Sum256([]byte(book + "\x00" + portion))
	plain := strings.Map(func(r rune) rune {
		if r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			return r
		}
		return -1
	}, portion)
	if len(plain) > 24 {
		plain = plain[:24]
	}
	return fmt.Sprintf("reading-%s-day%02d-%s@lyefast.invalid", plain, day, hex.EncodeToString(sum[:6]))
}

// Calendar writes reminders as an iCalendar object (RFC 5545): all-day events
// that block no time, each with an alarm at nine in the morning. now is when it
// is written. Where a UID stands twice, the later reminder counts. There is no
// calendar without an event, so no reminders give nil.
func Calendar(events []Reminder, now time.Time) []byte {
	last := map[string]int{}
	for i, e := range events {
		last[e.UID] = i
	}
	kept := make([]Reminder, 0, len(last))
	for i, e := range events {
		if last[e.UID] == i {
			kept = append(kept, e)
		}
	}
	if len(kept) == 0 {
		return nil
	}
	sort.SliceStable(kept, func(i, j int) bool {
		a, b := kept[i].Day.Format("20060102"), kept[j].Day.Format("20060102")
		return a < b || a == b && kept[i].UID < kept[j].UID
	})
	var b strings.Builder
	line := func(name, value string) { foldLine(&b, name+":"+value) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//lyefast//cure readings//EN")
	line("CALSCALE", "GREGORIAN")
	line("METHOD", "PUBLISH")
	for _, e := range kept {
		summary := icsText(strings.ReplaceAll(strings.TrimSpace(cleanText(e.Summary)), "\n", " "))
		line("BEGIN", "VEVENT")
		line("UID", oneLine(e.UID))
		line("DTSTAMP", icsUTC(now))
		if !e.Modified.IsZero() {
			line("LAST-MODIFIED", icsUTC(e.Modified))
		}
		line("DTSTART;VALUE=DATE", e.Day.Format("20060102"))
		line("TRANSP", "TRANSPARENT")
		line("SEQUENCE", fmt.Sprint(max(0, e.Sequence)))
		line("SUMMARY", summary)
		if d := icsText(strings.TrimSpace(cleanText(e.Description))); d != "" {
			line("DESCRIPTION", d)
		}
		line("BEGIN", "VALARM")
		line("ACTION", "DISPLAY")
		line("TRIGGER", "PT9H")
		line("DESCRIPTION", summary)
		line("END", "VALARM")
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	return []byte(b.String())
}

func icsUTC(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// icsText escapes a TEXT value (RFC 5545, 3.3.11) and leaves out the control
// characters that none may hold.
func icsText(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t' || !unicode.IsControl(r):
			b.WriteRune(r)
		}
	}
	return b.String()
}

// oneLine keeps line ends and control characters out of a value that is written
// as it is.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
}

// foldLine writes a content line, folded so that no line is longer than 75
// octets without its line end, and no character is cut (RFC 5545, 3.1).
func foldLine(b *strings.Builder, s string) {
	const most = 75
	room := most
	for len(s) > room {
		cut := room
		for cut > 0 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		b.WriteString(s[:cut])
		b.WriteString("\r\n ")
		s = s[cut:]
		room = most - 1 // the blank that begins the next line counts
	}
	b.WriteString(s)
	b.WriteString("\r\n")
}
