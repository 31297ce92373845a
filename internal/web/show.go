package web

import (
	"cmp"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"lyefast/internal/app"
	"lyefast/internal/chart"
)

// words are what templates say with.
var words = template.FuncMap{
	"swatch": func(hex, name string) swatch { return swatch{hex, name} },
	"upper": func(s string) string {
		if s == "" {
			return s
		}
		return strings.ToUpper(s[:1]) + s[1:]
	},
	"day": func(d float64) string { return fmt.Sprintf("%.0f", d) },
	"date": func(t time.Time) string {
		return t.Local().Format("2 Jan 2006")
	},
	"moment":  func(t time.Time) string { return t.Local().Format("2 Jan 2006, 15:04") },
	"percent": func(p float64) string { return fmt.Sprintf("%.0f %%", 100*p) },
	"figure":  func(v float64) string { return fmt.Sprintf("%.2g", v) },
	"fixed":   func(decimals int, v float64) string { return fmt.Sprintf("%.*f", decimals, v) },
	"mass": func(g interface{ String() string }) string {
		if s := g.String(); s != "0.00 g" {
			return s
		}
		return "–"
	},
	"join":  strings.Join,
	"entry": func(path, name string, current bool) entry { return entry{path, name, current} },
	"count": count,
}

// entry is one line of the navigation.
type entry struct {
	Path, Name string
	Current    bool
}

// swatch is a colour as every page shows it: never without its hex and its name.
type swatch struct{ Hex, Name string }

func count(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case strings.HasSuffix(what, "ch"):
		return fmt.Sprintf("%d %ses", n, what)
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// dueRow is one thing to do; portions of a batch that are to be read on one day share it.
type dueRow struct {
	app.DueItem
	What string
}

func dueRows(items []app.DueItem) []dueRow {
	var rows []dueRow
	for i, it := range items {
		if i > 0 {
			last := &rows[len(rows)-1]
			if last.Batch == it.Batch && last.Do == it.Do && last.State == it.State && last.At.Equal(it.At) {
				last.What += ", " + it.Portion
				continue
			}
		}
		row := dueRow{it, "read " + it.Portion}
		switch it.Do {
		case "gel":
			row.What = "say how far it gelled"
		case "cut":
			row.What = "unmould or cut, and note it"
		}
		rows = append(rows, row)
	}
	return rows
}

// batchesPage lists what is due and the batches.
type batchesPage struct {
	Due     []dueRow
	Enough  []app.DueItem
	Batches []batchRow
	Closed  bool
}

type batchRow struct {
	Code, Title string
	Poured      time.Time
	State       string
	Portions    []portionRow
}

// portionRow is a portion with the colour that was forecast for it at the pour.
type portionRow struct {
	Key     string
	Settled *swatch
}

func (p *pages) batches(r *http.Request) (string, view, error) {
	d := batchesPage{Closed: r.URL.Query().Has("closed")}
	due, err := p.session.Due(r.Context())
	if err != nil {
		return "", view{}, err
	}
	d.Due, d.Enough = dueRows(due.Items), due.Enough
	list, err := p.session.Batches(r.Context(), d.Closed)
	if err != nil {
		return "", view{}, err
	}
	for i := range list {
		b := &list[i]
		row := batchRow{Code: b.Code, Title: b.Title, Poured: b.PouredAt, State: fmt.Sprintf("day %d", int(b.Day(p.session.Now())))}
		if b.ClosedAt != nil {
			row.State = "closed"
		}
		for j := range b.Portions {
			q := portionRow{Key: b.Portions[j].Key()}
			if c := b.Portions[j].Settled; c != nil {
				q.Settled = &swatch{c.Hex(), c.Name().Text}
			}
			row.Portions = append(row.Portions, q)
		}
		d.Batches = append(d.Batches, row)
	}
	return "batches.html", view{Title: "Batches", Here: "batches", Data: d}, nil
}

// batchPage shows one batch.
type batchPage struct {
	*app.BatchShown
	Today    float64
	Due      []dueRow
	Portions []portionPage
}

// portionPage is one portion: what is in it, its curve and the drawing of it.
type portionPage struct {
	app.PortionCurve
	Doses  string
	Scent  string
	Days   []app.StripDay
	Figure template.HTML
}

func (p *pages) batch(r *http.Request) (string, view, error) {
	code := r.PathValue("code")
	shown, err := p.session.Batch(r.Context(), code)
	if err != nil {
		return "", view{}, err
	}
	curve, err := p.session.Curve(r.Context(), app.CurveQuery{Target: code})
	if err != nil {
		return "", view{}, err
	}
	due, err := p.session.Due(r.Context())
	if err != nil {
		return "", view{}, err
	}
	d := batchPage{BatchShown: shown, Today: curve.Today}
	d.Due = dueRows(slices.DeleteFunc(due.Items, func(it app.DueItem) bool { return it.Batch != shown.Code }))
	for i := range curve.Portions {
		c := curve.Portions[i]
		q := portionPage{PortionCurve: c}
		for j := range shown.Batch.Portions {
			if b := &shown.Batch.Portions[j]; b.Key() == c.Portion {
				var doses []string
				for _, dose := range b.Colorants {
					doses = append(doses, fmt.Sprintf("%s %s (%.3g g/kg of oils)", dose.Name, dose.Grams, float64(dose.Dose)))
				}
				q.Doses, q.Scent = cmp.Or(strings.Join(doses, ", "), "no colourant"), cmp.Or(b.Fragrance, "unscented")
			}
		}
		q.Days = c.Strip()
		if len(c.Days) > 0 {
			// The drawing escapes its texts itself.
			q.Figure = template.HTML(chart.SVG([]chart.Curve{Drawing(curve, &c)}))
		}
		d.Portions = append(d.Portions, q)
	}
	return "batch.html", view{Title: shown.Code + " " + shown.Title, Here: "batches", Data: d}, nil
}

// Drawing turns a portion's curve into what is drawn of it, here and by the command.
func Drawing(r *app.CurveSaid, q *app.PortionCurve) chart.Curve {
	c := chart.Curve{Title: q.Batch + " " + q.Portion, Reference: q.Reference, Today: r.Today}
	value := func(v *float64) float64 {
		if v == nil {
			return 0
		}
		return *v
	}
	for _, d := range q.Days {
		if d.Day > 60 && q.Late == nil {
			continue // nothing moves there, and the first days need the room
		}
		c.Path = append(c.Path, chart.Step{Day: d.Day, Lab: d.Median, Delta: value(d.Delta), Low: value(d.DeltaLow), High: value(d.DeltaHigh)})
	}
	for _, x := range q.Readings {
		c.Readings = append(c.Readings, chart.Reading{Day: x.Day, Lab: x.Lab})
	}
	if q.Next != nil {
		c.Next = q.Next.Day
	}
	return c
}

// planPage is the form and, once asked, the answer.
type planPage struct {
	Text   string
	File   string
	Check  *app.PlanCheck
	Failed *failed
}

// checkPlan takes a plan as text or as a file; the file counts where both are given.
// A plan that cannot be read comes back with the text as it was, so that nothing
// typed is lost.
func (p *pages) checkPlan(r *http.Request) (string, view, error) {
	if r.ContentLength > maxPlan {
		return "", view{}, &tooLarge{maxPlan}
	}
	r.Body = http.MaxBytesReader(nil, r.Body, maxPlan)
	if err := r.ParseMultipartForm(maxPlan); err != nil {
		if large := new(http.MaxBytesError); errors.As(err, &large) {
			return "", view{}, &tooLarge{maxPlan}
		}
		return "", view{}, &app.Error{Kind: app.ErrInvalid, Msg: "read the form", Err: err, Tip: "a plan has at most 1 MB"}
	}
	d := planPage{Text: r.PostFormValue("text"), File: "plan"}
	if f, head, err := r.FormFile("file"); err == nil {
		defer f.Close()
		text, err := io.ReadAll(f)
		if err != nil {
			return "", view{}, err
		}
		if len(text) > 0 {
			d.Text, d.File = string(text), fileName(head.Filename, "plan")
		}
	}
	c, err := p.session.CheckPlan(r.Context(), app.CheckQuery{Data: []byte(d.Text), File: d.File})
	v := view{Title: "Plan check", Here: "plan"}
	if err != nil {
		status, f := failure(err)
		d.Failed, v.Status = &f, status
	}
	d.Check = c
	v.Data = d
	return "plan.html", v, nil
}

func (p *pages) shelf(r *http.Request) (string, view, error) {
	own := r.URL.Query().Has("own")
	v, err := p.session.Verdicts(r.Context(), app.VerdictsQuery{Own: own})
	if err != nil {
		return "", view{}, err
	}
	return "shelf.html", view{Title: "Shelf", Here: "shelf", Data: struct {
		*app.Verdicts
		Own bool
	}{v, own}}, nil
}
