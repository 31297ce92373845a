package exchange

import (
	"sort"
	"strings"
	"time"

	"lyefast/internal/cie"
)

// Point is one reading of a [Series].
type Point struct {
	// Day since the pour (or since the first reading, see [ReadSeries]).
	Day float64
	Lab cie.Lab
	// At is when it was read, where the file says so.
	At   Moment
	Line int
}

// Series is one portion's readings, by day.
type Series struct {
	Name   string
	Points []Point
}

// SeriesTable is what [ReadSeries] finds.
type SeriesTable struct {
	// Series in the order in which they first appear.
	Series []Series
	// Ignored are the headings of columns that are not read.
	Ignored  []string
	Warnings []string
}

// seriesHeading understands one heading of a table of series.
func seriesHeading(cell string) string {
	switch k := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(cell)), " ", "_"); k {
	case "series", "series_id", "portion", "name", "sample":
		return "series"
	case "day", "days":
		return "day"
	case "read_at", "at", "date", "taken_at", "timestamp", "datetime":
		return "at"
	case "time":
		return "time"
	case "poured_at", "poured":
		return "poured"
	}
	switch readHeading(cell).what {
	case qL:
		return "L"
	case qA:
		return "a"
	case qB:
		return "b"
	}
	return ""
}

// maxDay is the oldest reading that is taken, in days: a hundred years.
const maxDay = 36525

// ReadSeries reads colours over time from a plain table, for a forecast straight
// from a file. Columns: series (or series_id, portion, name; without it all rows
// are one series), day (days since the pour), L, a, b. Instead of day, or beside
// it, read_at (or at, date, taken_at) may stand, with poured_at to count from;
// without either the days are counted from each series' first reading, and a
// warning says so. The error is a *[Declined] with line and column.
func ReadSeries(data []byte) (SeriesTable, error) {
	out := SeriesTable{}
	if err := out.read(data); err != nil {
		return SeriesTable{}, err
	}
	return out, nil
}

func (out *SeriesTable) read(data []byte) *Declined {
	s, err := openSheet(data, func(c string) bool { return seriesHeading(c) != "" })
	if err != nil {
		return err
	}
	at := map[string]int{"series": -1, "day": -1, "at": -1, "time": -1, "poured": -1, "L": -1, "a": -1, "b": -1}
	for i, h := range s.header {
		what := seriesHeading(h)
		if what == "" || at[what] >= 0 {
			if h != "" {
				out.Ignored = append(out.Ignored, h)
			}
			continue
		}
		at[what] = i
	}
	colour := [3]int{at["L"], at["a"], at["b"]}
	for k, name := range []string{"L", "a", "b"} {
		if colour[k] < 0 {
			return decline(s.line, "the columns are series, day, L, a, b", "no column is called %s", name)
		}
	}
	if at["day"] < 0 && at["at"] < 0 {
		return decline(s.line, "the columns are series, day, L, a, b", "no column is called day or read_at")
	}
	numeric := colour[:]
	if at["day"] >= 0 {
		numeric = append(numeric, at["day"])
	}
	if err := s.settle(numeric); err != nil {
		return err
	}
	order, err := s.dateOrder(at["at"], at["poured"])
	if err != nil {
		if at["day"] < 0 {
			err.Hint = "write all dates like 2026-01-05"
			return err
		}
		out.Warnings = append(out.Warnings, err.Reason+"; the day column is used")
		at["at"] = -1
	}

	index := map[string]int{}
	poured := map[string]time.Time{}
	undated := false
	err = s.each(func(line int, cells []string) *Declined {
		p := Point{Line: line}
		name := ""
		if at["series"] >= 0 {
			if name = strings.Clone(cellAt(cells, at["series"])); name == "" {
				return s.refuse(line, at["series"], "the name of the series is missing")
			}
		}
		v, err := s.colour(line, cells, colour)
		if err != nil {
			return err
		}
		p.Lab = cie.Lab{L: v[0], A: v[1], B: v[2]}
		if p.At, err = s.moment(line, cells, at["at"], at["time"], order); err != nil {
			return err
		}
		if at["day"] >= 0 {
			if p.Day, err = s.number(line, cells, at["day"]); err != nil {
				return err
			}
			if p.Day < -1 || p.Day > maxDay {
				return s.refuse(line, at["day"], "%s is outside 0..%d", plain(p.Day), maxDay)
			}
		} else if !p.At.DateKnown {
			return s.refuse(line, at["at"], "the date is missing")
		}
		if at["day"] < 0 && at["poured"] >= 0 {
			m, err := s.moment(line, cells, at["poured"], -1, order)
			if err != nil {
				return err
			}
			if !m.DateKnown {
				return s.refuse(line, at["poured"], "the date is missing")
			}
			if old, ok := poured[name]; ok && !old.Equal(m.Time) {
				return s.refuse(line, at["poured"], "series %q was poured at two times", name)
			}
			poured[name] = m.Time
		}
		i, ok := index[name]
		if !ok {
			i = len(out.Series)
			index[name] = i
			out.Series = append(out.Series, Series{Name: name})
		}
		out.Series[i].Points = append(out.Series[i].Points, p)
		return nil
	})
	if err != nil {
		return err
	}
	if len(out.Series) == 0 {
		return decline(s.line, "", "no rows follow the headings")
	}
	for i := range out.Series {
		points := out.Series[i].Points
		if at["day"] < 0 {
			start, ok := poured[out.Series[i].Name]
			if !ok {
				undated = true
				start = points[0].At.Time
				for _, p := range points {
					if p.At.Time.Before(start) {
						start = p.At.Time
					}
				}
			}
			for k := range points {
				points[k].Day = points[k].At.Time.Sub(start).Hours() / 24
				if points[k].Day < -1 || points[k].Day > maxDay {
					return s.refuse(points[k].Line, at["at"], "it is %s days from the pour", plain(points[k].Day))
				}
			}
		}
		sort.SliceStable(points, func(a, b int) bool { return points[a].Day < points[b].Day })
	}
	if undated {
		out.Warnings = append(out.Warnings, "the file says neither the day nor poured_at, so days are counted from each series' first reading")
	}
	return nil
}

// dateOrder settles the order of dates in the given columns (−1: none).
func (s *sheet) dateOrder(columns ...int) (DateOrder, *Declined) {
	var e orderEvidence
	err := s.each(func(line int, cells []string) *Declined {
		for _, i := range columns {
			if c := cellAt(cells, i); c != "" {
				e.see(line, c)
			}
		}
		return nil
	})
	if err != nil {
		return "", err
	}
	return e.settle("")
}

// moment reads a date and perhaps a time of day; an absent one is unknown.
func (s *sheet) moment(line int, cells []string, date, clock int, order DateOrder) (Moment, *Declined) {
	text := cellAt(cells, date)
	if text == "" {
		return Moment{}, nil
	}
	w, err := takeApart(text)
	var m Moment
	if err == nil {
		m, err = w.moment(order, cellAt(cells, clock), time.UTC)
	}
	if err != nil {
		return Moment{}, s.refuse(line, date, "%s", err)
	}
	return m, nil
}
