package web

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"net/http"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"

	"lyefast/internal/app"
	"lyefast/internal/photo"
	"lyefast/internal/testkit"
)

// slice is a photograph of two colours, the left half warm, the right half cool.
func slice(t *testing.T) []byte {
	t.Helper()
	m := image.NewNRGBA(image.Rect(0, 0, 400, 300))
	for y := range 300 {
		for x := range 400 {
			c := color.NRGBA{190, 130, 100, 255}
			if x >= 200 {
				c = color.NRGBA{90, 120, 150, 255}
			}
			m.SetNRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// bomb is a PNG of a few hundred kB that says it is of 30000 × 30000 pixels, all of
// which it holds: 3.6 GB once decoded.
func bomb(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk := func(kind string, data []byte) {
		_ = binary.Write(&b, binary.BigEndian, uint32(len(data)))
		body := append([]byte(kind), data...)
		b.Write(body)
		_ = binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(body))
	}
	const side = 30000
	var head bytes.Buffer
	_ = binary.Write(&head, binary.BigEndian, []uint32{side, side})
	head.Write([]byte{8, 6, 0, 0, 0})
	chunk("IHDR", head.Bytes())
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	zeros := make([]byte, 1<<20)
	for range 100 { // it never comes to more than this
		if _, err := z.Write(zeros); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	chunk("IDAT", packed.Bytes())
	chunk("IEND", nil)
	return b.Bytes()
}

// send uploads a picture and gives its name at the page.
func (r *running) send(data []byte) string {
	r.t.Helper()
	status, text, _ := r.do("POST", "/api/photos?file=slice.png", bytes.NewReader(data), nil)
	var a struct{ ID string }
	if err := json.Unmarshal([]byte(text), &a); err != nil || status != 200 || a.ID == "" {
		r.t.Fatalf("upload: %d %s", status, text)
	}
	return a.ID
}

func TestPhotoIsReadAsTheSessionReadsIt(t *testing.T) {
	r := serve(t, false)
	data := slice(t)
	status, text, _ := r.do("POST", "/api/photos/"+r.send(data)+"/read", strings.NewReader(`{"patches":["50,50,40,40","250,50,40,40"]}`), nil)
	var got app.PhotoSaid
	if err := json.Unmarshal([]byte(text), &got); err != nil || status != 200 || len(got.Patches) != 2 {
		t.Fatalf("%d %v %s", status, err, text)
	}
	want, err := r.session.ReadPhoto(t.Context(), app.PhotoQuery{Data: data, File: "slice.png", Patches: []string{"50,50,40,40", "250,50,40,40"}})
	if err != nil {
		t.Fatal(err)
	}
	for i := range got.Patches {
		// JSON carries four decimals.
		if d := got.Patches[i].Lab.Sub(*want.Patches[i].Lab); math.Abs(d.L)+math.Abs(d.A)+math.Abs(d.B) > 2e-4 || got.Patches[i].Hex != want.Patches[i].Hex {
			t.Errorf("patch %d: %v, want %v", i, got.Patches[i].Lab, want.Patches[i].Lab)
		}
	}
	// The halves are sRGB 190, 130, 100 and 90, 120, 150, read as they stand.
	if got.Patches[0].Hex != "#be8264" || got.Patches[1].Hex != "#5a7896" {
		t.Errorf("read %s and %s", got.Patches[0].Hex, got.Patches[1].Hex)
	}
}

func TestPhotoQuestionsAreRefused(t *testing.T) {
	r := serve(t, false)
	id := r.send(slice(t))
	for _, test := range []struct {
		path, body string
		want       int
	}{
		{"/api/photos/" + id + "/read", `{"patches":[]}`, 422},
		{"/api/photos/" + id + "/read", `{"patches":["1,1"]}`, 422},
		{"/api/photos/" + id + "/read", `{"patches":["NaN,1,Inf,1"]}`, 422},
		{"/api/photos/" + id + "/read", `{"patches":["1,1,9,9"],"chart":"0,0 0,0 0,0 0,0"}`, 422},
		{"/api/photos/" + id + "/read", `{"file":"/etc/passwd"}`, 422},
		{"/api/photos/" + id + "/read", `{} {}`, 422},
		{"/api/photos/" + id + "/read", `not json`, 422},
		{"/api/photos/" + id + "/read", `{"note":"` + strings.Repeat("a", 70<<10) + `"}`, 413},
		{"/api/photos/" + id + "/save", `{"patches":["HD-01/shore=1,1,9,9"]}`, 404},
		{"/api/photos/nobody/read", `{}`, 404},
		{"/api/photos", ``, 422},
	} {
		if status, text, _ := r.do("POST", test.path, strings.NewReader(test.body), nil); status != test.want || !strings.Contains(text, `"error"`) {
			t.Errorf("%s %.60s gives %d %.200s, want %d", test.path, test.body, status, text, test.want)
		}
	}
	for name, data := range map[string][]byte{"no picture": []byte("GIF89a and so on"), "cut short": slice(t)[:200]} {
		if status, text, _ := r.do("POST", "/api/photos/"+r.send(data)+"/read", strings.NewReader(`{"patches":["1,1,9,9"]}`), nil); status != 422 {
			t.Errorf("%s gives %d %s", name, status, text)
		}
	}
}

// A picture that unpacks into gigabytes is refused before memory is given to it.
func TestBombIsRefused(t *testing.T) {
	r := serve(t, false)
	id := r.send(bomb(t))
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	status, text, _ := r.do("POST", "/api/photos/"+id+"/read", strings.NewReader(`{"patches":["1,1,9,9"]}`), nil)
	runtime.ReadMemStats(&after)
	if grown := (after.TotalAlloc - before.TotalAlloc) >> 20; status != 422 || grown > 16 {
		t.Errorf("%d after %d MB: %s", status, grown, text)
	}
}

// 200 MB are not taken in, announced or not, nor given memory, and do not push the pictures out that
// others work on.
func TestLargePhotoIsRefused(t *testing.T) {
	r := serve(t, false)
	id := r.send(slice(t))
	for _, announced := range []bool{true, false} {
		n := &counted{left: 200 << 20}
		q, err := http.NewRequestWithContext(t.Context(), "POST", r.base+"/api/photos", n)
		if err != nil {
			t.Fatal(err)
		}
		if announced {
			q.ContentLength = 200 << 20
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		a, err := r.client.Do(q)
		runtime.ReadMemStats(&after)
		if err == nil {
			_ = a.Body.Close()
			if want := map[bool]int{true: 413, false: 411}[announced]; a.StatusCode != want {
				t.Errorf("announced %v: %d", announced, a.StatusCode)
			}
		}
		// What the sockets hold in between is sent too.
		if grown := (after.TotalAlloc - before.TotalAlloc) >> 20; n.sent.Load() > 16<<20 || grown > 8 {
			t.Errorf("announced %v: %d MB were sent, %d MB of memory taken", announced, n.sent.Load()>>20, grown)
		}
	}
	if status, _, _ := r.do("POST", "/api/photos/"+id+"/read", strings.NewReader(`{"patches":["1,1,9,9"]}`), nil); status != 200 {
		t.Errorf("afterwards the first picture gives %d", status)
	}
}

// Of many pictures the newest few are kept; an old one is told to be gone.
func TestDarkroomIsBounded(t *testing.T) {
	r := serve(t, false)
	first := r.send(slice(t))
	for range mostPhotos {
		r.send(slice(t))
	}
	if status, text, _ := r.do("POST", "/api/photos/"+first+"/read", strings.NewReader(`{"patches":["1,1,9,9"]}`), nil); status != 404 || !strings.Contains(text, "this picture is no longer at hand") {
		t.Errorf("%d %s", status, text)
	}
}

// Two tabs that save at the same moment, and one that saves twice: every reading is in
// the book once.
func TestTwoTabsSaveAtOnce(t *testing.T) {
	r := serve(t, false)
	code := r.pour(harbourDawn(t), "quay")
	data := slice(t)
	portions := []string{"slab/shore", "slab/lamp"}
	const each = 5
	var wg sync.WaitGroup
	for tab, portion := range portions {
		id := r.send(data)
		wg.Go(func() {
			for i := range each {
				ask := fmt.Sprintf(`{"patches":["%s/%s=%d,50,40,40"],"at":"yesterday"}`, code, portion, 20+200*tab+10*i)
				for _, want := range []int{1, 0} { // again adds nothing
					status, text, _ := r.do("POST", "/api/photos/"+id+"/save", strings.NewReader(ask), nil)
					var said app.PhotoSaid
					if err := json.Unmarshal([]byte(text), &said); err != nil || status != 200 || said.Added != want {
						t.Errorf("tab %d, %d: %d %v %.200s", tab, i, status, err, text)
					}
				}
			}
		})
	}
	wg.Wait()
	for _, portion := range portions {
		list, err := r.session.Readings(t.Context(), app.ReadingsQuery{Target: code + "/" + portion})
		if err != nil || len(list.Readings) != each {
			t.Errorf("%s: %d readings, want %d: %v", portion, len(list.Readings), each, err)
		}
	}
	if report, err := r.session.BookCheck(t.Context(), nil); err != nil || len(report.Problems) > 0 {
		t.Errorf("the book: %v %v", report.Problems, err)
	}
}

// The page shows the edition of the chart on the shelf, and keeps the one that was
// chosen when readings are saved, with them.
func TestEditionIsKeptFromThePage(t *testing.T) {
	r := serve(t, false)
	data, err := os.ReadFile(testkit.Shared(t, scene))
	if err != nil {
		t.Fatal(err)
	}
	code := r.pour(harbourDawn(t), "quay")
	id := r.send(data)
	var corners []string
	for _, c := range sceneCorners {
		corners = append(corners, fmt.Sprintf("%g,%g", c[0], c[1]))
	}
	save := func(portion, edition string, keep bool) {
		t.Helper()
		ask := fmt.Sprintf(`{"patches":["%s/%s=%g,%g,40,40"],"at":"yesterday","chart":%q,"edition":%q,"keep_edition":%v}`, code, portion, sceneSlice[0], sceneSlice[1], strings.Join(corners, " "), edition, keep)
		if status, text, _ := r.do("POST", "/api/photos/"+id+"/save", strings.NewReader(ask), nil); status != 200 {
			t.Fatalf("%d %s", status, text)
		}
	}
	want := func(before bool, cards int) {
		t.Helper()
		_, text, _ := r.do("GET", "/reading", nil, nil)
		if got := strings.Contains(text, `<option value="before-2014" selected>`); got != before || !strings.Contains(text, `value="before-2014"`) {
			t.Errorf("the edition before 2014 is chosen: %v, want %v", got, before)
		}
		if list, err := r.session.Cards(t.Context(), false); err != nil || len(list) != cards {
			t.Errorf("%d cards, want %d: %v", len(list), cards, err)
		}
	}
	want(false, 0)
	save("slab/shore", "before-2014", false)
	want(false, 0)
	save("slab/lamp", "before-2014", true)
	want(true, 1)
	save("slab/lamp", "after-2014", true) // the reading is there already, the edition is new
	want(false, 1)
	if _, err := r.session.Undo(t.Context()); err != nil {
		t.Fatal(err)
	}
	want(true, 1)
	// A chart that the maker gave a name is left as it is.
	if _, err := r.session.EditCard(t.Context(), app.MyChart, func(c *photo.Card) error { c.Name = "Quay Chart"; return nil }); err != nil {
		t.Fatal(err)
	}
	save("slab/lamp", "after-2014", true)
	want(true, 1)
}
