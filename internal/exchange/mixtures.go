package exchange

import (
	"strings"

	"lyefast/internal/cie"
)

// Mixture is one portion of a [Mixtures] table.
type Mixture struct {
	Line int
	// Portion names it, Date says when; both may be empty.
	Portion string
	Date    Moment
	// Base is the bare colour that the colourants went into.
	Base cie.Lab
	// Dose of each of Mixtures.Names, and of vanillin and stabiliser, in g per kg
	// of oils, at least 0.
	Dose                 []float64
	Vanillin, Stabilizer float64
	// Lab is the colour that came of it; nil in a row that is to be predicted.
	Lab *cie.Lab
}

// Mixtures is what [ReadMixtures] finds.
type Mixtures struct {
	// Names of the colourants, in the order of their columns.
	Names []string
	Rows  []Mixture
	// Ignored are the headings of columns that are not read.
	Ignored []string
}

// maxDose is the largest dose, in g per kg of oils, that is no slip: the oils'
// own weight.
const maxDose = 1000

// ReadMixtures reads a maker's history of portions, or portions to be
// predicted, from a plain table. Columns: base_L, base_a, base_b, the colour of
// the bare base; dose_NAME for each colourant and dose_vanillin, in g per kg of
// oils, blank for none; L, a, b, the colour that came of it, blank (or without
// columns) where it is to be predicted; and, as may be, portion, date and
// stabilizer (g per kg of oils). All colours are D65, 2°. The error is a
// *[Declined] with line and column.
func ReadMixtures(data []byte) (Mixtures, error) {
	out := Mixtures{}
	if err := out.read(data); err != nil {
		return Mixtures{}, err
	}
	return out, nil
}

// mixtureHeading understands one heading of a table of mixtures. For a dose it
// gives "dose" and the colourant.
func mixtureHeading(cell string) (what, name string) {
	k := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(cell)), " ", "_")
	switch k {
	case "base_l", "base_l*":
		return "base_L", ""
	case "base_a", "base_a*":
		return "base_a", ""
	case "base_b", "base_b*":
		return "base_b", ""
	case "l", "l*":
		return "L", ""
	case "a", "a*":
		return "a", ""
	case "b", "b*":
		return "b", ""
	case "portion":
		return "portion", ""
	case "date":
		return "date", ""
	case "dose_vanillin", "vanillin":
		return "vanillin", ""
	case "stabilizer", "stabiliser", "dose_stabilizer", "dose_stabiliser":
		return "stabilizer", ""
	}
	if strings.HasPrefix(k, "dose_") && len(k) > len("dose_") {
		return "dose", strings.TrimSpace(strings.TrimSpace(cell)[len("dose_"):])
	}
	return "", ""
}

func (out *Mixtures) read(data []byte) *Declined {
	s, err := openSheet(data, func(c string) bool { w, _ := mixtureHeading(c); return w != "" })
	if err != nil {
		return err
	}
	at := map[string]int{"portion": -1, "date": -1, "vanillin": -1, "stabilizer": -1, "L": -1, "a": -1, "b": -1, "base_L": -1, "base_a": -1, "base_b": -1}
	var doses, numeric []int
	for i, h := range s.header {
		switch what, name := mixtureHeading(h); {
		case what == "dose":
			out.Names = append(out.Names, name)
			doses = append(doses, i)
		case what == "" && h != "":
			out.Ignored = append(out.Ignored, h)
		case what == "":
		case at[what] >= 0:
			return decline(s.line, "keep one of them", "the columns %q and %q mean the same", s.header[at[what]], h)
		default:
			at[what] = i
		}
	}
	const columns = "the columns are base_L, base_a, base_b, dose_NAME for each colourant, L, a, b"
	base := [3]int{at["base_L"], at["base_a"], at["base_b"]}
	colour := [3]int{at["L"], at["a"], at["b"]}
	for k, name := range []string{"base_L", "base_a", "base_b"} {
		if base[k] < 0 {
			return decline(s.line, columns, "no column is called %s", name)
		}
	}
	if len(doses) == 0 && at["vanillin"] < 0 {
		return decline(s.line, columns, "no column is called dose_NAME, for a colourant of that name")
	}
	given := 0
	lacking := ""
	for k, name := range []string{"L", "a", "b"} {
		if colour[k] >= 0 {
			given++
		} else if lacking == "" {
			lacking = name
		}
	}
	if given == 1 || given == 2 {
		return decline(s.line, columns, "no column is called %s", lacking)
	}
	numeric = append(numeric, doses...)
	for _, i := range []int{base[0], base[1], base[2], colour[0], colour[1], colour[2], at["vanillin"], at["stabilizer"]} {
		if i >= 0 {
			numeric = append(numeric, i)
		}
	}
	if err := s.settle(numeric); err != nil {
		return err
	}
	order, err := s.dateOrder(at["date"])
	if err != nil {
		err.Hint = "write all dates like 2026-01-05"
		return err
	}
	dose := func(line int, cells []string, i int) (float64, *Declined) {
		if cellAt(cells, i) == "" {
			return 0, nil
		}
		v, err := s.number(line, cells, i)
		if err == nil && (v < 0 || v > maxDose) {
			err = s.refuse(line, i, "%s g/kg is outside 0..%d", plain(v), maxDose)
		}
		return v, err
	}
	err = s.each(func(line int, cells []string) *Declined {
		m := Mixture{Line: line, Portion: strings.Clone(cellAt(cells, at["portion"])), Dose: make([]float64, len(doses))}
		v, err := s.colour(line, cells, base)
		if err != nil {
			return err
		}
		m.Base = cie.Lab{L: v[0], A: v[1], B: v[2]}
		for k, i := range doses {
			if m.Dose[k], err = dose(line, cells, i); err != nil {
				return err
			}
		}
		if m.Vanillin, err = dose(line, cells, at["vanillin"]); err != nil {
			return err
		}
		if m.Stabilizer, err = dose(line, cells, at["stabilizer"]); err != nil {
			return err
		}
		if given == 3 && cellAt(cells, colour[0])+cellAt(cells, colour[1])+cellAt(cells, colour[2]) != "" {
			if v, err = s.colour(line, cells, colour); err != nil {
				return err
			}
			m.Lab = &cie.Lab{L: v[0], A: v[1], B: v[2]}
		}
		if m.Date, err = s.moment(line, cells, at["date"], -1, order); err != nil {
			return err
		}
		out.Rows = append(out.Rows, m)
		return nil
	})
	if err != nil {
		return err
	}
	if len(out.Rows) == 0 {
		return decline(s.line, "", "no rows follow the headings")
	}
	return nil
}
