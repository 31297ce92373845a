package exchange

import (
	"fmt"
	"strings"
)

// sheet is a plain table with one row of headings on top, as makers keep them:
// comma, semicolon or tab, lines beginning with "#" left out. Unlike an
// instrument's export it is taken whole or refused: each error names line and
// column.
type sheet struct {
	grid
	header  []string
	line    int // of the header
	decimal byte
}

// openSheet finds the delimiter under which the most headings are known.
func openSheet(data []byte, known func(string) bool) (*sheet, *Declined) {
	if len(data) > MaxBytes {
		return nil, decline(0, "split it", "it has %d MiB, more than the %d that are read", len(data)>>20, MaxBytes>>20)
	}
	for _, f := range foreign {
		if strings.HasPrefix(string(data[:min(len(data), 16)]), f.magic) {
			return nil, decline(0, f.hint, "%s", f.reason)
		}
	}
	text, _, err := decode(data)
	if err != nil {
		return nil, err
	}
	if len(strings.TrimSpace(string(text[:min(len(text), 1<<16)]))) == 0 {
		return nil, decline(0, "", "it is empty")
	}
	if err := longCell(text); err != nil {
		return nil, err
	}
	skipped := 0
	if m := headerHint.Find(text); m != nil {
		text, skipped = text[len(m):], 1
	}
	var best *sheet
	top := 0
	for _, d := range delimiters {
		s := &sheet{grid: grid{data: firstLines(text, sniffLines), delim: d, first: skipped, note: '#'}}
		if s.bounded() != nil {
			continue
		}
		score := 0
		_ = s.rows(func(line int, cells []string) *Declined {
			s.line = line
			for _, c := range cells {
				s.header = append(s.header, strings.Clone(c))
				if known(c) {
					score++
				}
			}
			return stop
		})
		if score > top {
			top, best = score, s
		}
	}
	if best == nil {
		return nil, decline(0, "the first row must name the columns", "none of its headings is known")
	}
	best.data = text
	if err := best.bounded(); err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, h := range best.header {
		if k := strings.ToLower(h); h != "" && seen[k] {
			return nil, decline(best.line, "give each column a name of its own", "the heading %q stands twice", h)
		} else {
			seen[k] = true
		}
	}
	return best, nil
}

// settle fixes the decimal sign by the cells of the given columns.
func (s *sheet) settle(numeric []int) *Declined {
	var e decimalEvidence
	rows := 0
	err := s.each(func(line int, cells []string) *Declined {
		if rows++; rows > MaxRows {
			return decline(line, "split it", "it has more than %d rows", MaxRows)
		}
		for _, i := range numeric {
			if i < len(cells) && !missing(cells[i]) && plausibleNumber(cells[i]) {
				e.see(line, cells[i])
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	s.decimal, err = e.sign(s.delim)
	return err
}

// each hands over the rows below the header.
func (s *sheet) each(f func(line int, cells []string) *Declined) *Declined {
	return s.rows(func(line int, cells []string) *Declined {
		if line <= s.line {
			return nil
		}
		for _, extra := range cells[min(len(cells), len(s.header)):] {
			if extra != "" {
				return decline(line, "put a text with a "+delimiterName(s.delim)+" in it into quotation marks", "it has %d cells under %d headings", len(cells), len(s.header))
			}
		}
		return f(line, cells)
	})
}

// cell gives the i-th cell, and nothing for a cell that is not there or holds a
// mark of absence.
func cellAt(cells []string, i int) string {
	if i < 0 || i >= len(cells) || missing(cells[i]) {
		return ""
	}
	return cells[i]
}

// number reads a cell that must hold a number.
func (s *sheet) number(line int, cells []string, i int) (float64, *Declined) {
	text := cellAt(cells, i)
	if text == "" {
		return 0, s.refuse(line, i, "a number is missing")
	}
	v, err := number(text, s.decimal)
	if err != nil {
		return 0, s.refuse(line, i, "%s", err)
	}
	return v, nil
}

func (s *sheet) refuse(line, i int, format string, args ...any) *Declined {
	return decline(line, "", "column %q: %s", s.header[i], fmt.Sprintf(format, args...))
}

// colour reads L*, a*, b* from three columns.
func (s *sheet) colour(line int, cells []string, at [3]int) (v [3]float64, err *Declined) {
	for k, i := range at {
		if v[k], err = s.number(line, cells, i); err != nil {
			return v, err
		}
	}
	for k, i := range at {
		lo, hi := -maxAB, maxAB
		if k == 0 {
			lo, hi = 0, maxL
		}
		if v[k] < lo || v[k] > hi {
			return v, s.refuse(line, i, "%s is outside %s..%s", plain(v[k]), plain(lo), plain(hi))
		}
	}
	return v, nil
}
