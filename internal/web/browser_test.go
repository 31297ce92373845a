package web

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"lyefast/internal/app"
	"lyefast/internal/testkit"
)

// tab is a browser's tab with the page open in it.
type tab struct {
	*running
	ctx context.Context
}

// browse starts Chromium, empty, and opens the page's printed address.
func browse(t *testing.T, r *running) *tab {
	t.Helper()
	if testing.Short() {
		t.Skip("a real browser takes its time")
	}
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		testkit.Need(t, "no Chromium is on this machine; on Debian: apt-get install chromium")
	}
	ctx, stop := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))...)
	t.Cleanup(stop)
	ctx, end := context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(end)
	ctx, closed := chromedp.NewContext(ctx)
	t.Cleanup(closed)
	b := &tab{r, ctx}
	// High enough that the whole photograph is in sight.
	b.do(chromedp.EmulateViewport(1280, 1700), chromedp.Navigate(r.server.URL()))
	said := chromedp.Console(ctx)
	go func() {
		for m, err := range said {
			if err != nil {
				return
			}
			// What the policy stopped, and what the script threw, is told here.
			if text := m.String(); m.IsException() || strings.Contains(text, "Content Security Policy") {
				t.Errorf("the browser says: %s", text)
			}
		}
	}()
	return b
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func eval[T any](b *tab, script string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return v
}

// until waits for something to become true in the page.
func (b *tab) until(script string) {
	b.t.Helper()
	for range 300 {
		if eval[bool](b, script) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatalf("it never came true: %s; the page says %q", script, eval[string](b, `document.getElementById("answer").textContent+document.getElementById("fault").textContent`))
}

// The chart of one of the test photographs, by the middles of its corners, and a part
// of it that stands for a slice: patch 15, red. The places are those of patches.csv.
const scene = "photos/floor-classic-1.jpg"

var sceneCorners = [4][2]float64{{506, 1334}, {476, 394}, {1028, 363}, {1083, 1312}}

var sceneSlice = [2]float64{870, 932}

// reading opens the page for readings and chooses the photograph; the batch that is
// read is poured first.
func (b *tab) reading(photo string) (code string) {
	code = b.pour(harbourDawn(b.t), "quay")
	b.do(chromedp.Navigate(b.base+"/reading"), chromedp.SetUploadFiles(chromedp.CSS("#photo"), []string{photo}), chromedp.WaitVisible(chromedp.CSS("#board .box")))
	return code
}

// onScreen is where a place of the photograph stands in the window.
func (b *tab) onScreen(x, y float64) (float64, float64) {
	b.t.Helper()
	p := eval[[]float64](b, fmt.Sprintf(`(()=>{const s=document.getElementById("shot"),r=s.getBoundingClientRect();return [r.left+(%g+0.5)*r.width/s.naturalWidth, r.top+(%g+0.5)*r.height/s.naturalHeight]})()`, x, y))
	return p[0], p[1]
}

// middle is where an element's middle stands in the window.
func (b *tab) middle(css string, n int) (float64, float64) {
	b.t.Helper()
	p := eval[[]float64](b, fmt.Sprintf(`(()=>{const r=document.querySelectorAll(%q)[%d].getBoundingClientRect();return [r.left+r.width/2, r.top+r.height/2]})()`, css, n))
	return p[0], p[1]
}

// places gives the rings and boxes as the page has them, in words of the command.
func (b *tab) places() (chart, box string) {
	b.t.Helper()
	chart = eval[string](b, `[...document.querySelectorAll(".ring")].map(r=>r.getAttribute("aria-label").replace(/.*, at /,"").replace(", ",",")).join(" ")`)
	box = eval[string](b, `document.querySelector(".box").getAttribute("aria-label").replace(/.*, at /,"").replace(" by ",",").replace(" pixels","").replaceAll(", ",",")`)
	return chart, box
}

// built builds the program, once for all tests that ask it.
var built = sync.OnceValues(func() (string, error) {
	path := filepath.Join(workshop, "lyefast")
	if out, err := exec.Command("go", "build", "-o", path, "lyefast/cmd/lyefast").CombinedOutput(); err != nil {
		return "", fmt.Errorf("build: %w\n%s", err, out)
	}
	return path, nil
})

// workshop is a folder of this run of the tests.
var workshop string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "lyefast-web")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	workshop = dir
	code := m.Run()
	_ = os.RemoveAll(dir)
	os.Exit(code)
}

// read is a colour as the command prints it.
type read struct {
	Lab       [3]float64
	Hex, Name string
}

// commandReads asks the built program for the same places.
func commandReads(t *testing.T, photo, box, chart string) read {
	t.Helper()
	path, err := built()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, "reading", "photo", photo, "--patch", box, "--chart", chart, "--dry-run", "--json")
	cmd.Env = append(os.Environ(), "LYEFAST_BOOK="+filepath.Join(t.TempDir(), "book.db"))
	out, err := cmd.Output()
	var list []read
	if err == nil {
		err = json.Unmarshal(out, &list)
	}
	if err != nil || len(list) != 1 {
		t.Fatalf("reading photo: %v\n%s", err, out)
	}
	return list[0]
}

// saved checks what stands in the book after a reading was saved against what the
// command reads at the same places.
func (b *tab) saved(photo, code string) {
	b.t.Helper()
	b.until(`document.getElementById("saved").textContent.startsWith("Saved 1 reading")`)
	chart, box := b.places()
	var at [4][2]float64
	if _, err := fmt.Sscanf(chart, "%g,%g %g,%g %g,%g %g,%g", &at[0][0], &at[0][1], &at[1][0], &at[1][1], &at[2][0], &at[2][1], &at[3][0], &at[3][1]); err != nil {
		b.t.Fatalf("rings at %q: %v", chart, err)
	}
	for i, p := range at {
		if math.Hypot(p[0]-sceneCorners[i][0], p[1]-sceneCorners[i][1]) > 3 {
			b.t.Errorf("ring %d stands at %v, was put at %v", i+1, p, sceneCorners[i])
		}
	}
	want := commandReads(b.t, photo, box, chart)
	list, err := b.session.Readings(b.t.Context(), app.ReadingsQuery{Target: code + "/slab/shore"})
	if err != nil || len(list.Readings) != 1 {
		b.t.Fatalf("%d readings are in the book: %v", len(list.Readings), err)
	}
	got := list.Readings[0]
	if lab := want.Lab; math.Abs(got.Lab.L-lab[0]) > 0.01 || math.Abs(got.Lab.A-lab[1]) > 0.01 || math.Abs(got.Lab.B-lab[2]) > 0.01 || got.Method != "photo" {
		b.t.Errorf("the book has %v by %s, the command reads %v", *got.Lab, got.Method, lab)
	}
	// The red patch of the chart, L* 42.1, a* 53.4, b* 28.2 for D50 in the edition before
	// November 2014 and much the same since: what was read is that patch and no other.
	if got.Lab.A < 35 || got.Lab.L < 30 || got.Lab.L > 55 {
		b.t.Errorf("the red patch was read as %v", *got.Lab)
	}
	shown := eval[string](b, `document.querySelector(".numbers").textContent`)
	if lab := want.Lab; !strings.Contains(shown, fmt.Sprintf("L* %.2f  a* %.2f  b* %.2f", lab[0], lab[1], lab[2])) {
		b.t.Errorf("the page shows %q for %v", shown, lab)
	}
	if words := eval[string](b, `document.querySelector(".part .value").textContent`); !strings.Contains(words, want.Hex) || !strings.Contains(words, want.Name) || !strings.Contains(words, "±") {
		b.t.Errorf("the page says %q", words)
	}
}

// A reading by hand: three corners by mouse, one by a finger, the box, the portion,
// the day, and save: nine actions from the photograph to the book.
func TestReadingByDragging(t *testing.T) {
	photo := testkit.Shared(t, scene)
	b := browse(t, serve(t, true))
	code := b.reading(photo)
	for i, c := range sceneCorners {
		fx, fy := b.middle(".ring", i)
		tx, ty := b.onScreen(c[0], c[1])
		if i < 3 {
			b.do(chromedp.DragAndDropXY(fx, fy, tx, ty, 5))
			continue
		}
		for _, e := range []struct {
			kind input.DispatchTouchEventType
			at   []*input.TouchPoint
		}{
			{"touchStart", []*input.TouchPoint{{X: fx, Y: fy}}},
			{"touchMove", []*input.TouchPoint{{X: (fx + tx) / 2, Y: (fy + ty) / 2}}},
			{"touchMove", []*input.TouchPoint{{X: tx, Y: ty}}},
			{"touchEnd", []*input.TouchPoint{}},
		} {
			if _, err := chromedp.Call(b.ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: e.kind, TouchPoints: e.at}); err != nil {
				t.Fatal(err)
			}
		}
	}
	fx, fy := b.middle(".box", 0)
	tx, ty := b.onScreen(sceneSlice[0], sceneSlice[1])
	b.do(chromedp.DragAndDropXY(fx, fy, tx, ty, 5))
	b.do(chromedp.Focus(chromedp.CSS(".portion")), chromedp.KeyEvent(code+"/slab/shore"), chromedp.SendKeys(chromedp.CSS("#at"), "yesterday"))
	b.until(`document.querySelector(".numbers").textContent.startsWith("L*") && document.getElementById("answer").dataset.state==="read"`)
	b.do(chromedp.Click(chromedp.CSS("#save")))
	b.saved(photo, code)
	// The edition of the chart is not kept unasked; one that was chosen is.
	for _, want := range []string{"", "before-2014"} {
		if want != "" {
			eval[bool](b, `(() => { const e = document.getElementById("edition"); e.value = "before-2014"; return e.dispatchEvent(new Event("change")); })()`)
			b.do(chromedp.Click(chromedp.CSS("#save")))
			b.until(`document.getElementById("saved").textContent.startsWith("In the book already")`)
		}
		if got, err := b.session.ChartEdition(t.Context()); err != nil || string(got) != want {
			t.Errorf("the edition kept is %q, want %q: %v", got, want, err)
		}
	}
}

// The same without a mouse: Tab, arrows, letters and Enter.
func TestReadingByKeyboardAlone(t *testing.T) {
	photo := testkit.Shared(t, scene)
	b := browse(t, serve(t, true))
	code := b.reading(photo)
	tabTo := func(css string, n int) {
		t.Helper()
		for range 60 {
			if eval[bool](b, fmt.Sprintf(`document.activeElement===document.querySelectorAll(%q)[%d]`, css, n)) {
				return
			}
			b.do(chromedp.KeyEvent(kb.Tab))
		}
		t.Fatalf("Tab never came to %s %d", css, n)
	}
	push := func(key string, by int) {
		t.Helper()
		for range by / 10 {
			b.do(chromedp.KeyEvent(key, chromedp.KeyModifiers(kb.ModifierShift)))
		}
		for range by % 10 {
			b.do(chromedp.KeyEvent(key))
		}
	}
	nudge := func(dx, dy int) {
		t.Helper()
		for _, k := range []struct {
			key string
			by  int
		}{{kb.ArrowRight, dx}, {kb.ArrowLeft, -dx}, {kb.ArrowDown, dy}, {kb.ArrowUp, -dy}} {
			if k.by > 0 {
				push(k.key, k.by)
			}
		}
	}
	b.do(chromedp.Focus(chromedp.CSS("#photo")))
	for i, c := range sceneCorners {
		tabTo(".ring", i)
		at := eval[[]int](b, `document.activeElement.getAttribute("aria-label").match(/(\d+), (\d+)$/).slice(1).map(Number)`)
		nudge(int(c[0])-at[0], int(c[1])-at[1])
	}
	tabTo(".box", 0)
	at := eval[[]int](b, `document.activeElement.getAttribute("aria-label").match(/at (\d+), (\d+), (\d+) by (\d+)/).slice(1).map(Number)`)
	nudge(int(sceneSlice[0])-at[0]-at[2]/2, int(sceneSlice[1])-at[1]-at[3]/2)
	push("-", 5)
	tabTo(".portion", 0)
	b.do(chromedp.KeyEvent(code + "/slab/shore"))
	tabTo("#at", 0)
	b.do(chromedp.KeyEvent("yesterday"))
	b.until(`document.querySelector(".numbers").textContent.startsWith("L*") && document.getElementById("answer").dataset.state==="read"`)
	tabTo("#save", 0)
	b.do(chromedp.KeyEvent(kb.Enter))
	b.saved(photo, code)
}

// What is clipped is hatched, and what is not is not.
func TestClippedPartsAreHatched(t *testing.T) {
	b := browse(t, serve(t, true))
	const share = `(()=>{const c=document.getElementById("clipped"),d=c.getContext("2d").getImageData(0,0,c.width,c.height).data;let n=0;for(let i=3;i<d.length;i+=4)if(d[i])n++;return 4*n/d.length})()`
	b.reading(testkit.Shared(t, "photos/warm-clipped.jpg"))
	clipped := eval[float64](b, share)
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#photo"), []string{testkit.Shared(t, scene)}))
	b.until(`document.getElementById("shot").naturalWidth===1530`)
	b.until(fmt.Sprintf("%s < %g", share, clipped/4))
	if clipped < 0.005 {
		t.Errorf("%.4f of a clipped photograph is hatched", clipped)
	}
}

// A file that is no picture is told, and the page stays usable.
func TestNoPictureIsTold(t *testing.T) {
	b := browse(t, serve(t, true))
	path := filepath.Join(t.TempDir(), "no.jpg")
	if err := os.WriteFile(path, []byte("no picture"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.Navigate(b.base+"/reading"), chromedp.SetUploadFiles(chromedp.CSS("#photo"), []string{path}))
	b.until(`document.getElementById("fault").textContent.includes("cannot show") && document.getElementById("work").hidden`)
}

// A colourant with a name of markup stays text in a real browser, and no page is
// wider than a small phone.
func TestPagesInABrowser(t *testing.T) {
	r := serve(t, true)
	b := browse(t, r)
	code := r.pour(strings.ReplaceAll(harbourDawn(t), `"Rope Red"`, `"<img src=x onerror='document.title=1'>"`), "quay")
	for _, p := range []string{"/batches", "/batches/" + code, "/plan", "/shelf", "/reading"} {
		b.do(chromedp.EmulateViewport(360, 800), chromedp.Navigate(b.base+p))
		if over := eval[float64](b, `document.documentElement.scrollWidth-innerWidth`); over > 0 {
			t.Errorf("%s is %g px wider than a screen of 360", p, over)
		}
		if n := eval[int](b, `document.querySelectorAll("main img:not(#shot), main script").length`); n > 0 {
			t.Errorf("%s holds %d elements that were text", p, n)
		}
		if n := eval[int](b, `[...document.querySelectorAll("input,select,textarea,button")].filter(e=>!e.labels?.length && !e.getAttribute("aria-label") && !e.textContent.trim()).length`); n > 0 {
			t.Errorf("%s has %d fields without a name", p, n)
		}
		if n := eval[int](b, `document.querySelectorAll("h1").length`); n != 1 {
			t.Errorf("%s has %d headings of the first order", p, n)
		}
	}
}
