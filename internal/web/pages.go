package web

import (
	"bytes"
	"cmp"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"strings"

	"lyefast/internal/app"
)

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed static
var staticFiles embed.FS

// maxPlan is how much of a plan is taken in: a little more than any that is accepted,
// so that a larger one is refused by the reader of plans with its own words.
const maxPlan = 1<<20 + 64<<10

// pages holds what the pages are made of.
type pages struct {
	session *app.App
	views   map[string]*template.Template
	photos  *darkroom
}

// view is what every template gets.
type view struct {
	Title string
	// Here is the navigation's current entry.
	Here string
	Data any
	// Status of the answer, 0 = all is well.
	Status int
}

func newPages(session *app.App) *pages {
	p := &pages{session: session, views: map[string]*template.Template{}, photos: newDarkroom()}
	base := template.Must(template.New("base.html").Funcs(words).ParseFS(templateFiles, "templates/base.html"))
	names, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		panic(err) // the pattern is ours
	}
	for _, name := range names {
		if page := strings.TrimPrefix(name, "templates/"); page != "base.html" {
			p.views[page] = template.Must(template.Must(base.Clone()).ParseFS(templateFiles, name))
		}
	}
	return p
}

func (p *pages) routes() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /static/", http.FileServerFS(staticFiles))
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "/batches", http.StatusSeeOther)
	})
	mux.HandleFunc("GET /batches", p.page(p.batches))
	mux.HandleFunc("GET /batches/{code}", p.page(p.batch))
	mux.HandleFunc("GET /plan", p.page(func(*http.Request) (string, view, error) {
		return "plan.html", view{Title: "Plan check", Here: "plan", Data: planPage{}}, nil
	}))
	mux.HandleFunc("POST /plan", p.page(p.checkPlan))
	mux.HandleFunc("GET /shelf", p.page(p.shelf))
	mux.HandleFunc("GET /reading", p.page(p.reading))

	mux.HandleFunc("GET /api/batches", p.answer(func(r *http.Request) (any, error) {
		return p.session.Batches(r.Context(), r.URL.Query().Has("closed"))
	}))
	mux.HandleFunc("GET /api/batches/{code}", p.answer(func(r *http.Request) (any, error) {
		return p.session.Batch(r.Context(), r.PathValue("code"))
	}))
	mux.HandleFunc("GET /api/batches/{code}/curve", p.answer(func(r *http.Request) (any, error) {
		return p.session.Curve(r.Context(), app.CurveQuery{Target: r.PathValue("code")})
	}))
	mux.HandleFunc("GET /api/due", p.answer(func(r *http.Request) (any, error) {
		return p.session.Due(r.Context())
	}))
	mux.HandleFunc("GET /api/shelf/verdicts", p.answer(func(r *http.Request) (any, error) {
		q := r.URL.Query()
		return p.session.Verdicts(r.Context(), app.VerdictsQuery{Name: q.Get("name"), Own: q.Has("own")})
	}))
	mux.HandleFunc("POST /api/plan/check", p.answer(func(r *http.Request) (any, error) {
		data, err := body(r, maxPlan)
		if err != nil {
			return nil, err
		}
		return p.session.CheckPlan(r.Context(), app.CheckQuery{Data: data, File: fileName(r.URL.Query().Get("file"), "plan")})
	}))
	mux.HandleFunc("POST /api/photos", p.answer(p.upload))
	mux.HandleFunc("POST /api/photos/{id}/read", p.photo(p.session.ReadPhoto))
	mux.HandleFunc("POST /api/photos/{id}/save", p.photo(p.session.AddPhoto))
	return mux
}

// page makes a handler of what gives a template's name and what it shows.
func (p *pages) page(f func(*http.Request) (string, view, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		name, v, err := f(r)
		if err != nil {
			status, f := failure(err)
			name, v = "failed.html", view{Title: "That did not work", Data: f, Status: status}
		}
		p.show(w, cmp.Or(v.Status, http.StatusOK), name, v)
	}
}

func (p *pages) show(w http.ResponseWriter, status int, name string, v view) {
	var out bytes.Buffer
	if err := p.views[name].ExecuteTemplate(&out, "base.html", v); err != nil {
		refuse(w, http.StatusInternalServerError, "show "+name+": "+err.Error())
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = out.WriteTo(w) // the reader has gone; there is nobody to tell
}

// answer makes a handler of a use-case's result, written as the command's --json is.
func (p *pages) answer(f func(*http.Request) (any, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		result, err := f(r)
		status := http.StatusOK
		if err != nil {
			status, result = failure(err)
		}
		var out bytes.Buffer
		enc := json.NewEncoder(&out)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		if err := enc.Encode(result); err != nil {
			refuse(w, http.StatusInternalServerError, "write the answer: "+err.Error())
			return
		}
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_, _ = out.WriteTo(w)
	}
}

// failed is an error as a page tells it.
type failed struct {
	Message string `json:"error"`
	Hint    string `json:"hint,omitempty"`
}

// tooLarge is a body beyond its limit.
type tooLarge struct{ limit int64 }

func (e *tooLarge) Error() string { return fmt.Sprintf("more than %d MB were sent", e.limit>>20) }

// failure gives the status and the words of an error. This is the only place that
// maps the two.
func failure(err error) (int, failed) {
	f := failed{Message: err.Error()}
	var adviser interface{ Hint() string }
	if errors.As(err, &adviser) {
		f.Hint = adviser.Hint()
	}
	var large *tooLarge
	switch {
	case errors.As(err, &large):
		return http.StatusRequestEntityTooLarge, f
	case errors.Is(err, errLength):
		return http.StatusLengthRequired, f
	case errors.Is(err, app.ErrNotFound):
		return http.StatusNotFound, f
	case errors.Is(err, app.ErrExists):
		return http.StatusConflict, f
	case errors.Is(err, app.ErrInvalid):
		return http.StatusUnprocessableEntity, f
	}
	return http.StatusInternalServerError, f
}

// errLength is a body of which it is not said how large it will be.
var errLength = errors.New("it was not said how much is sent")

// body reads what was sent, up to a limit. What is announced as larger, or not
// announced at all, is refused before a byte of it is read or memory is given to it.
func body(r *http.Request, limit int64) ([]byte, error) {
	switch {
	case r.ContentLength < 0:
		return nil, errLength
	case r.ContentLength > limit:
		return nil, &tooLarge{limit}
	}
	data := make([]byte, r.ContentLength)
	if _, err := io.ReadFull(r.Body, data); err != nil {
		return nil, &app.Error{Kind: app.ErrInvalid, Msg: "read what was sent", Err: err}
	}
	return data, nil
}

// fileName is a name for messages: the last part of what the browser says.
func fileName(said, without string) string {
	if i := strings.LastIndexAny(said, `/\`); i >= 0 {
		said = said[i+1:]
	}
	if r := []rune(said); len(r) > 100 {
		said = string(r[:100])
	}
	if said == "" {
		return without
	}
	return said
}
