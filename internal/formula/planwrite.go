package formula

import (
	"fmt"
	"strconv"
	"strings"

	"lyefast/internal/unit"
)

// WritePlan writes a plan as a plan file that [ReadPlan] reads back as the same
// plan, line numbers and comments aside.
func WritePlan(p Plan) []byte {
	w := &planWriter{}
	w.text("title", p.Title)
	w.text("note", p.Note)
	if p.SuperfatGiven {
		w.percent("superfat", &p.Superfat)
	}
	if p.Lye != (Lye{Line: p.Lye.Line}) {
		w.head("[lye]")
		w.lye(p.Lye)
	}
	w.head("[oils]")
	for _, o := range p.Oils {
		amount := ""
		switch {
		case o.Share != nil:
			amount = quoteTOML(number(float64(*o.Share)) + " %")
		case o.Grams != nil:
			amount = quoteTOML(number(float64(*o.Grams)) + " g")
		}
		if o.SV != nil {
			amount = fmt.Sprintf("{ amount = %s, sv = %s }", amount, number(*o.SV))
		}
		fmt.Fprintf(w, "%s = %s\n", quoteTOML(o.Name), amount)
	}
	if b := p.Base; b != nil {
		w.head("[base]")
		w.text("colour", fmt.Sprintf("%s,%s,%s", number(b.Lab.L), number(b.Lab.A), number(b.Lab.B)))
		if b.AgeDays > 0 {
			fmt.Fprintf(w, "age_days = %s\n", number(b.AgeDays))
		}
	}
	if f := p.Fragrance; f != nil {
		w.head("[fragrance]")
		w.fragrance(*f)
	}
	if p.Pour != (Pour{Line: p.Pour.Line}) {
		w.head("[pour]")
		w.text("technique", p.Pour.Technique)
		if p.Pour.Minutes != nil {
			fmt.Fprintf(w, "minutes = %s\n", number(*p.Pour.Minutes))
		}
		w.celsius("batter", p.Pour.BatterAt)
		w.text("gel", p.Pour.Gel)
		w.text("light", p.Pour.Light)
		w.celsius("cure", p.Pour.CureAt)
	}
	for _, a := range p.Additives {
		w.head("[[additive]]")
		w.text("name", a.Name)
		w.text("dose", doseText(a.Dose))
		w.text("into", a.Into)
		w.text("batter", a.Batter)
	}
	for _, b := range p.Batters {
		w.batter(b, p.Fragrance != nil)
	}
	return []byte(strings.TrimPrefix(w.String(), "\n"))
}

type planWriter struct{ strings.Builder }

func (w *planWriter) head(h string) { fmt.Fprintf(w, "\n%s\n", h) }

// text writes a string key; an empty one is left out.
func (w *planWriter) text(key, s string) {
	if s != "" {
		fmt.Fprintf(w, "%s = %s\n", key, quoteTOML(s))
	}
}

func (w *planWriter) percent(key string, p *unit.Percent) {
	if p != nil {
		w.text(key, number(float64(*p))+" %")
	}
}

func (w *planWriter) grams(key string, g *unit.Grams) {
	if g != nil {
		w.text(key, number(float64(*g))+" g")
	}
}

func (w *planWriter) celsius(key string, c *unit.Celsius) {
	if c != nil {
		w.text(key, number(float64(*c))+" °C")
	}
}

func (w *planWriter) lye(l Lye) {
	switch {
	case l.KOHShare == 100:
		w.text("alkali", "KOH")
	case l.KOHShare > 0:
		w.text("alkali", "both")
		w.percent("koh_share", &l.KOHShare)
	case l.AlkaliGiven:
		w.text("alkali", "NaOH")
	}
	w.percent("naoh_purity", l.NaOHPurity)
	w.percent("koh_purity", l.KOHPurity)
	w.percent("concentration", l.Concentration)
	if l.WaterRatio != nil {
		w.text("water_ratio", number(*l.WaterRatio)+" : 1")
	}
	w.percent("water", l.WaterOfOils)
	w.grams("naoh", l.NaOH)
	w.grams("koh", l.KOH)
	w.celsius("temperature", l.Temperature)
}

func (w *planWriter) fragrance(f FragranceUse) {
	w.text("name", f.Name)
	w.percent("rate", &f.Rate)
	w.percent("vanillin", f.Vanillin)
	w.percent("ethyl_vanillin", f.EthylVanillin)
	w.percent("max_use", f.MaxUse)
	w.text("category", f.Category)
	w.text("amendment", f.Amendment)
	if len(f.Claims) > 0 {
		fmt.Fprintf(w, "claims = %s\n", quoteList(f.Claims))
	}
	w.text("moves", f.Moves)
	s := f.Stabilizer
	if s.Mode != "given" {
		w.text("stabilizer", s.Mode)
		return
	}
	var parts []string
	add := func(key, value string) {
		if value != "" {
			parts = append(parts, key+" = "+quoteTOML(value))
		}
	}
	add("name", s.Name)
	if s.Grams != nil {
		add("grams", number(float64(*s.Grams))+" g")
	}
	add("active", s.Active)
	if s.Strength != nil {
		add("strength", number(float64(*s.Strength))+" %")
	}
	fmt.Fprintf(w, "stabilizer = { %s }\n", strings.Join(parts, ", "))
}

func (w *planWriter) batter(b Batter, scent bool) {
	w.head("[[batter]]")
	w.text("name", b.Name)
	w.grams("oils", b.Oils)
	if b.Mould != nil {
		// A box of one square centimetre is as good as any of that volume.
		w.text("mould", number(float64(*b.Mould))+" x 1 x 1 cm")
	}
	w.percent("superfat", b.Superfat)
	w.percent("rate", b.Rate)
	if b.Lye != nil {
		w.head("[batter.lye]")
		w.lye(*b.Lye)
	}
	for _, q := range b.Portions {
		w.head("[[batter.portion]]")
		w.text("name", q.Name)
		fmt.Fprintf(w, "parts = %s\n", number(q.Parts))
		w.text("target", q.TargetHex)
		if q.Scented != scent {
			fmt.Fprintf(w, "scented = %t\n", q.Scented)
		}
		if len(q.Colorants) > 0 {
			w.WriteString("colorants = [\n")
			for _, c := range q.Colorants {
				fmt.Fprintf(w, "  { name = %s, dose = %s", quoteTOML(c.Name), quoteTOML(doseText(c.Dose)))
				if c.Label != "" {
					fmt.Fprintf(w, ", label = %s", quoteTOML(c.Label))
				}
				if c.Swatch != nil {
					fmt.Fprintf(w, ", swatch = %s", quoteTOML(fmt.Sprintf("%s,%s,%s", number(c.Swatch.L), number(c.Swatch.A), number(c.Swatch.B))))
				}
				if c.TeaspoonGrams > 0 {
					fmt.Fprintf(w, ", teaspoon = %s", quoteTOML(number(float64(c.TeaspoonGrams))+" g"))
				}
				if c.Wet != "" {
					fmt.Fprintf(w, ", wet = %s", quoteTOML(number(float64(c.WetGrams))+" g "+c.Wet))
				}
				w.WriteString(" },\n")
			}
			w.WriteString("]\n")
		}
		if len(q.Beside) > 0 {
			fmt.Fprintf(w, "beside = %s\n", quoteList(q.Beside))
		}
	}
}

// doseText keeps a dose as its maker wrote it, unless its figure has been changed since.
func doseText(d Dose) string {
	if again, err := ParseDose(d.Text); err == nil && again.Value == d.Value && again.Unit == d.Unit {
		return d.Text
	}
	return number(d.Value) + " " + string(d.Unit)
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func quoteList(list []string) string {
	q := make([]string, len(list))
	for i, s := range list {
		q[i] = quoteTOML(s)
	}
	return "[" + strings.Join(q, ", ") + "]"
}

// quoteTOML writes a basic string. TOML's escapes are not Go's: it knows no \a, \v or \x.
func quoteTOML(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
