package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/photo"
)

// dawnPicture draws a chart and two bars on a sheet, somewhat dark and warm, as JPEG
// with the camera's date if one is given.
func dawnPicture(t *testing.T, bars [2]cie.Lab, date string) []byte {
	t.Helper()
	const pitch = 40
	patches := photo.After2014.Patches()
	seen := func(c cie.Lab) color.RGBA { // for D50, under the lamp
		r, g, b := c.To(cie.D50, cie.D65).RGB()
		return color.RGBA{uint8(float64(r) * 0.92), uint8(float64(g) * 0.86), uint8(float64(b) * 0.74), 255}
	}
	m := image.NewRGBA(image.Rect(0, 0, 8*pitch, 8*pitch))
	fill := func(x, y, w, h int, c color.RGBA) {
		for i := range w {
			for j := range h {
				m.SetRGBA(x+i, y+j, c)
			}
		}
	}
	fill(0, 0, 8*pitch, 8*pitch, seen(cie.Lab{L: 91, A: 0, B: -2}))
	for i, c := range patches {
		fill(pitch+pitch*(i%6), pitch+pitch*(i/6), pitch-6, pitch-6, seen(c))
	}
	for i, c := range bars {
		fill(pitch+3*pitch*i, 6*pitch, 2*pitch, pitch, seen(c))
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	data := out.Bytes()
	if date == "" {
		return data
	}
	// One directory with the date; offset 26 is where its text lies.
	var tiff bytes.Buffer
	tiff.WriteString("MM\x00*")
	for _, v := range []any{uint32(8), uint16(1), uint16(0x0132), uint16(2), uint32(20), uint32(26), uint32(0)} {
		if err := binary.Write(&tiff, binary.BigEndian, v); err != nil {
			t.Fatal(err)
		}
	}
	tiff.WriteString(date + "\x00")
	n := tiff.Len() + 8
	head := append([]byte{0xff, 0xd8, 0xff, 0xe1, byte(n >> 8), byte(n)}, "Exif\x00\x00"...)
	return append(append(head, tiff.Bytes()...), data[2:]...)
}

// A picture of two portions beside a chart becomes two readings, once.
func TestReadingPhoto(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("LYEFAST_BOOK", filepath.Join(dir, "book.db"))
	t.Setenv("LANG", "C.UTF-8")
	was := clock
	clock = func() time.Time { return time.Date(2026, 11, 24, 8, 0, 0, 0, time.UTC) }
	t.Cleanup(func() { clock = was })
	file := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		writeFile(t, path, data)
		return path
	}
	call := func(want int, args ...string) string {
		t.Helper()
		var stdout, stderr bytes.Buffer
		if status := run(args, strings.NewReader(""), &stdout, &stderr); status != want {
			t.Fatalf("%v: exit status %d, want %d\n%s%s", args, status, want, stdout.Bytes(), stderr.Bytes())
		}
		return stdout.String() + stderr.String()
	}
	want := func(out string, words ...string) {
		t.Helper()
		for _, w := range words {
			if !strings.Contains(out, w) {
				t.Errorf("%q is not in\n%s", w, out)
			}
		}
	}
	bars := [2]cie.Lab{{L: 84, A: 3, B: 15}, {L: 50, A: -6, B: -18}}
	undated := file("undated.jpg", dawnPicture(t, bars, ""))
	dated := file("dawn.jpg", dawnPicture(t, bars, "2026:11:23 07:40:00"))
	const chart = "57,57 257,57 257,177 57,177"
	shore, tide := "50,250,50,20", "170,250,50,20"

	// Without a book a dry run works, and nothing else.
	out := call(0, "reading", "photo", undated, "--patch", "shore="+shore, "--patch", tide, "--chart", chart, "--dry-run", "--json")
	var list []map[string]any
	var typed []struct {
		Lab   cie.Lab `json:"lab"`
		Patch string  `json:"patch"`
	}
	text := out[:strings.LastIndex(out, "]")+1]
	if err := json.Unmarshal([]byte(text), &list); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if err := json.Unmarshal([]byte(text), &typed); err != nil {
		t.Fatal(err)
	}
	if len(list) != 2 || typed[0].Patch != "shore" || typed[1].Patch != "2" {
		t.Fatalf("patches %+v", typed)
	}
	for _, key := range []string{"patch", "lab", "hex", "name", "u_absolute", "u_trend", "rung", "left_out"} {
		if _, ok := list[0][key]; !ok {
			t.Errorf("%q is not in the answer", key)
		}
	}
	for i, c := range typed {
		// The lamp is two gains in codes, which a tone curve and a matrix follow closely.
		if d := cie.DeltaE00(c.Lab, bars[i].To(cie.D50, cie.D65)); d > 1.5 {
			t.Errorf("%s is read as %v, ΔE00 %.1f off", c.Patch, c.Lab, d)
		}
	}
	want(call(exitNotFound, "reading", "photo", dated, "--patch", "HD-01/shore="+shore), "no book yet")

	plan := file("dawn.toml", []byte(twoPortions))
	call(0, "batch", "pour", plan, "--at", "2026-11-20 18:00")
	both := []string{"--patch", "HD-01/shore=" + shore, "--patch", "HD-01/tide=" + tide, "--chart", chart}
	want(call(exitUsage, append([]string{"reading", "photo", undated}, both...)...), "wrote no date", "--at")
	want(call(exitUsage, "reading", "photo", dated, "--patch", shore, "--chart", chart), "which portion")
	want(call(exitNotFound, "reading", "photo", dated, "--patch", "HD-01/quay="+shore, "--chart", chart), "quay")
	want(call(exitUsage, "reading", "photo", plan, "--patch", "HD-01/shore="+shore), "no picture", "JPEG")
	want(call(exitUsage, "reading", "photo", dated, "--patch", "HD-01/shore="+shore, "--edition", "2013", "--chart", chart), "before-2014")

	want(call(0, append([]string{"reading", "photo", dated}, both...)...), "corrected by chart", "2026-11-23 07:40", "2 readings entered", "no time zone")
	want(call(0, append([]string{"reading", "photo", dated}, both...)...), "0 readings entered, 2 in the book already")
	want(call(0, append([]string{"reading", "photo", undated, "--at", "day 3 9:30"}, both...)...), "2 readings entered", "2026-11-23 09:30")
	// Two parts of one portion are one reading.
	want(call(0, "reading", "photo", dated, "--batch", "HD-01", "--patch", "shore=50,250,20,20", "--patch", "shore=75,250,20,20", "--grey", "97,177=66.89,-0.75,-0.06"), "1 reading entered", "one light grey")

	// Off a terminal the edition is assumed, and said how to store; a stored chart is taken.
	again := append([]string{"reading", "photo", dated, "--dry-run"}, both...)
	want(call(0, again...), "taken for one of November 2014 or later", `lyefast card add "my chart"`)
	call(0, "card", "add", "my chart", "--kind", "chart", "--edition", "before-2014")
	want(call(0, again...), `the card "my chart": before-2014`)
	call(0, "card", "edit", "my chart", "--edition", "after-2014")
	// The sheet is learnt beside the chart, kept, and found again where no chart is.
	spots := []string{"--sheet", "20,20 20,160 20,300 160,20 160,300 300,20 300,160 300,300"}
	out = call(0, append(append([]string{"reading", "photo", dated, "--keep-sheet", "Quay Sheet"}, spots...), both...)...)
	want(out, `kept as the card "Quay Sheet"`, "in the book already")
	out = call(0, "card", "show", "Quay Sheet", "--json")
	var sheet photo.Card
	if err := json.Unmarshal([]byte(out), &sheet); err != nil {
		t.Fatal(err)
	}
	if sheet.Lab == nil || cie.DeltaE00(*sheet.Lab, cie.Lab{L: 91, A: 0, B: -2}) > 1.5 || sheet.LearntFrom != "dawn.jpg of 2026-11-23, beside a chart" {
		t.Errorf("the sheet was learnt as %+v", sheet)
	}
	want(call(0, append([]string{"reading", "photo", dated, "--patch", shore, "--card", "quay sheet", "--dry-run"}, spots...)...), "corrected by white sheet", `the sheet is the card "Quay Sheet"`)
	want(call(exitFailure, append(append([]string{"reading", "photo", dated, "--keep-sheet", "my chart"}, spots...), both...)...), `"my chart" is on the shelf already`)

	out = call(0, "reading", "list", "HD-01", "--json")
	if n := strings.Count(out, `"method": "photo"`); n != 5 {
		t.Errorf("%d readings by photo, want 5\n%s", n, out)
	}
	want(out, "corrected by chart, ΔE00 ±", "D50/2°")
	// The doubt kept with a reading is that of a trend: a third of its square each way.
	want(out, fmt.Sprintf("%.4f", 1.3/1.7320508))
}

// twoPortions is a plan for which nothing is on the shelf.
const twoPortions = `title = "Harbour Dawn"
superfat = "5 %"
lye = { alkali = "NaOH", purity = "98 %", concentration = "33 %" }

[oils]
"olive, refined" = "75 %"
coconut = "25 %"

[[batter]]
name = "slab"
oils = "1000 g"

[[batter.portion]]
name = "shore"
parts = 4

[[batter.portion]]
name = "tide"
parts = 2
colorants = [{ name = "Tide Blue", dose = "4 g/kg", label = "Mica (CI 77019), CI 77007", swatch = "#3f5f8f" }]
`
