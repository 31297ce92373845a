package web

import (
	"bytes"
	"encoding/json"
	"mime/multipart"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lyefast/internal/app"
)

// harbourDawn is the scenario's plan.
func harbourDawn(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "plans", "harbour-dawn.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// pour pours a plan and reads a portion of it on three days.
func (r *running) pour(text, portion string) string {
	r.t.Helper()
	p, err := r.session.PourPlan(r.t.Context(), app.PourQuery{Data: []byte(text), File: "plan.toml", At: "9d ago"})
	if err != nil {
		r.t.Fatal(err)
	}
	for _, day := range []string{"8d ago", "6d ago", "2d ago"} {
		_, err := r.session.AddReading(r.t.Context(), app.ReadingQuery{Target: p.Batch.Code + "/" + portion, Lab: []string{"62,9,14"}, At: day})
		if err != nil {
			r.t.Fatal(err)
		}
	}
	return p.Batch.Code
}

// form is a plan as the page's form sends it.
func form(t *testing.T, text, file string) (*bytes.Buffer, map[string]string) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	if err := w.WriteField("text", text); err != nil {
		t.Fatal(err)
	}
	if file != "" {
		f, err := w.CreateFormFile("file", "dir/harbour.toml")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(file)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return &b, map[string]string{"Content-Type": w.FormDataContentType()}
}

// An empty book is told on every page, and none is made by looking.
func TestPagesOfAnEmptyBook(t *testing.T) {
	r := serve(t, false)
	for p, want := range map[string]string{"/batches": "No batch was poured yet", "/plan": "Check it", "/shelf": "No colourant is on the shelf"} {
		if status, text, _ := r.do("GET", p, nil, nil); status != 200 || !strings.Contains(text, want) {
			t.Errorf("%s: %d, without %q", p, status, want)
		}
	}
	if status, text, _ := r.do("GET", "/batches/HD-01", nil, nil); status != 404 || !strings.Contains(text, "HD-01") {
		t.Errorf("a batch that is not: %d", status)
	}
	if status, text, _ := r.do("GET", "/api/batches", nil, nil); status != 200 || text != "[]\n" {
		t.Errorf("no batches are %q", text)
	}
	if _, err := os.Stat(r.session.Path()); !os.IsNotExist(err) {
		t.Errorf("looking made a book: %v", err)
	}
}

// Every name a maker can type is shown as text, wherever it is shown.
func TestNamesAreText(t *testing.T) {
	r := serve(t, false)
	const evil = `<img src=x onerror=alert(1)>`
	text := strings.NewReplacer(
		`name = "Rope Red"`, `name = "`+evil+`"`,
		`title = "Harbour Dawn"`, `title = "</title><script>alert(2)</script>"`,
		`name = "Lantern Amber"`, `name = "Amber\"><svg onload=alert(3)>"`,
	).Replace(harbourDawn(t))
	code := r.pour(text, "quay")
	if _, err := r.session.AddLesson(t.Context(), code, `"><script>alert(4)</script>`); err != nil {
		t.Fatal(err)
	}
	body, head := form(t, text, "")
	_, checked, _ := r.do("POST", "/plan", body, head)
	pages := map[string]string{"plan": checked}
	for _, p := range []string{"/batches", "/batches/" + code, "/shelf"} {
		status, page, _ := r.do("GET", p, nil, nil)
		if status != 200 {
			t.Errorf("%s: %d", p, status)
		}
		pages[p] = page
	}
	body, head = form(t, "title = \"</textarea><script>alert(5)</script>\"\nodd", "")
	_, pages["refused"], _ = r.do("POST", "/plan", body, head)
	for name, page := range pages {
		for _, bad := range []string{"<img", "<script>", "onload=alert(3)>\"", "<svg onload"} {
			if strings.Contains(page, bad) {
				t.Errorf("%s holds %q as markup", name, bad)
			}
		}
	}
	for _, name := range []string{"plan", "/batches/" + code, "/shelf"} {
		if !strings.Contains(pages[name], "&lt;img src=x onerror=alert(1)&gt;") {
			t.Errorf("%s does not show the colourant's name", name)
		}
	}
}

// A plan as text and as a file get the same answer; one with a fault comes back as it
// was typed, with the fault.
func TestPlanCheckPage(t *testing.T) {
	r := serve(t, false)
	plan := harbourDawn(t)
	body, head := form(t, plan, "")
	status, typed, _ := r.do("POST", "/plan", body, head)
	if status != 200 {
		t.Fatalf("typed: %d", status)
	}
	body, head = form(t, "not this", plan)
	if status, chosen, _ := r.do("POST", "/plan", body, head); status != 200 || chosen != typed {
		t.Errorf("chosen: %d, or another answer than typed", status)
	}
	c, err := r.session.CheckPlan(t.Context(), app.CheckQuery{Data: []byte(plan), File: "plan"})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range c.Portions {
		if q.Settled != nil && (!strings.Contains(typed, q.Settled.Hex) || !strings.Contains(typed, q.Settled.Name)) {
			t.Errorf("%s/%s: no %s %s on the page", q.Batter, q.Name, q.Settled.Hex, q.Settled.Name)
		}
	}
	for _, f := range c.Findings {
		if !strings.Contains(typed, f.Rule) && !strings.Contains(typed, escaped(f.Title)) {
			t.Errorf("no finding %q on the page", f.Title)
		}
	}
	body, head = form(t, "titel = \"Kept\"", "")
	status, refused, _ := r.do("POST", "/plan", body, head)
	if status != 422 || !strings.Contains(refused, "titel = &#34;Kept&#34;") || !strings.Contains(refused, `role="alert"`) {
		t.Errorf("a plan with a fault: %d, or its text is lost", status)
	}
}

func escaped(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;", "+", "&#43;").Replace(s)
}

// No chip of colour stands without its hex and its name.
func TestSwatchesHaveWords(t *testing.T) {
	r := serve(t, false)
	code := r.pour(harbourDawn(t), "quay")
	for _, p := range []string{"/batches", "/batches/" + code, "/shelf"} {
		_, page, _ := r.do("GET", p, nil, nil)
		parts := strings.Split(page, `class="chip"`)
		if len(parts) < 2 {
			t.Errorf("%s shows no colour", p)
		}
		for _, part := range parts[1:] {
			part = part[:min(len(part), 250)]
			_, hex, ok := strings.Cut(part, `<span class="hex">#`)
			_, name, named := strings.Cut(part, `<span class="name">`)
			if !ok || !named || len(hex) < 6 || strings.HasPrefix(name, "<") {
				t.Errorf("%s: a chip without words: %.120s", p, part)
			}
		}
	}
}

// The page's JSON is the struct that the session gives, under the same names.
func TestAnswersAreTheSessionsOwn(t *testing.T) {
	r := serve(t, false)
	code := r.pour(harbourDawn(t), "quay")
	_, text, head := r.do("GET", "/api/batches/"+code+"/curve", nil, nil)
	var got app.CurveSaid
	if err := json.Unmarshal([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	if head.Get("Content-Type") != "application/json" || got.Batch != code || len(got.Portions) == 0 || len(got.Portions[1].Readings) != 3 {
		t.Errorf("%s of %s with %d portions", head.Get("Content-Type"), got.Batch, len(got.Portions))
	}
	status, text, _ := r.do("GET", "/api/batches/NO-99", nil, nil)
	var f failed
	if err := json.Unmarshal([]byte(text), &f); err != nil || status != 404 || f.Message == "" {
		t.Errorf("a batch that is not: %d %q", status, text)
	}
}
