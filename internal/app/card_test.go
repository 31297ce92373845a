package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"lyefast/internal/cie"
	"lyefast/internal/photo"
	"lyefast/internal/testkit"
)

// What says the edition, the grey and the sheet, in the order in which it is heard: the
// question itself, the card it names, the charts on the shelf, and what is assumed.
func TestCardsFillInTheQuestion(t *testing.T) {
	a, ctx := session(t), context.Background()
	add := func(c photo.Card) {
		t.Helper()
		must(t, func() (photo.Card, error) { return a.AddCard(ctx, c) })
	}
	look := func(q PhotoQuery, wantEdition, wantNote string) PhotoQuery {
		t.Helper()
		got, notes, err := a.fromCards(ctx, q)
		if said := strings.Join(notes, "\n"); err != nil || got.Edition != wantEdition || !strings.Contains(said, wantNote) || wantNote == "" && said != "" {
			t.Errorf("%+v: edition %q, notes %q, %v; want %q, %q", q, got.Edition, said, err, wantEdition, wantNote)
		}
		return got
	}
	asks := func(q PhotoQuery, want bool) {
		t.Helper()
		if got, err := a.AsksEdition(ctx, q); err != nil || got != want {
			t.Errorf("%+v asks: %v, %v", q, got, err)
		}
	}
	const corners = "1,1 2,1 2,2 1,2"
	chart := PhotoQuery{File: "dawn.jpg", Chart: corners}

	// Nothing is known; a book is not made by asking.
	asks(chart, true)
	asks(PhotoQuery{Chart: corners, Edition: "before-2014"}, false)
	asks(PhotoQuery{}, false)
	look(chart, "after-2014", "lyefast card add")
	look(PhotoQuery{Chart: corners, Edition: "before-2014"}, "before-2014", "")
	look(PhotoQuery{}, "", "")
	if _, err := os.Stat(a.Path()); err == nil {
		t.Error("a book was made")
	}

	// One chart, two that agree, two that do not.
	add(photo.Card{Name: "Harbour Grey", Kind: photo.GreyCard, Lab: &cie.Lab{L: 81.25, A: -0.5, B: 0.00001}})
	asks(chart, true)
	add(photo.Card{Name: "Old Chart", Kind: photo.ChartCard, Edition: photo.Before2014})
	asks(chart, false)
	look(chart, "before-2014", `"Old Chart"`)
	look(PhotoQuery{Chart: corners, Edition: "after-2014"}, "after-2014", "")
	add(photo.Card{Name: "Spare Chart", Kind: photo.ChartCard, Edition: photo.Before2014})
	look(chart, "before-2014", `"Old Chart"`)
	add(photo.Card{Name: "New Chart", Kind: photo.ChartCard, Edition: photo.After2014})
	asks(chart, false)
	look(chart, "after-2014", "both editions")
	look(PhotoQuery{Chart: corners, Card: "old chart"}, "before-2014", `"Old Chart"`)

	// A retired chart is no longer taken unnamed, but found by name.
	for _, name := range []string{"Old Chart", "Spare Chart"} {
		must(t, func() (Edited[photo.Card], error) { return a.RetireCard(ctx, name, false) })
	}
	look(chart, "after-2014", `"New Chart"`)
	look(PhotoQuery{Chart: corners, Card: "Old Chart"}, "before-2014", "is retired")

	// Values of greys and of a sheet.
	add(photo.Card{Name: "Quay Sheet", Kind: photo.SheetCard, Lab: &cie.Lab{L: 93.5, A: 1, B: -4}})
	q := look(PhotoQuery{Card: "Harbour Grey", Greys: []string{"1,2", "3,4=50,0,0"}}, "", "81.25,-0.5,0.00001")
	if !slices.Equal(q.Greys, []string{"1,2=81.25,-0.5,0.00001", "3,4=50,0,0"}) {
		t.Errorf("greys %q", q.Greys)
	}
	if _, err := q.setup(); err != nil {
		t.Errorf("a card's value is not understood: %v", err)
	}
	if q = look(PhotoQuery{Card: "quay sheet", Sheet: []string{"1,2"}}, "", `"Quay Sheet"`); q.SheetLab != "93.5,1,-4" {
		t.Errorf("sheet %q", q.SheetLab)
	}

	for _, c := range []struct {
		q    PhotoQuery
		kind error
		want string
	}{
		{PhotoQuery{Card: "Old Chat", Chart: corners}, ErrNotFound, `no card is called "Old Chat"`},
		{PhotoQuery{Card: "Old Chart"}, ErrInvalid, "none is in the picture"},
		{PhotoQuery{Card: "Old Chart", Chart: corners, Edition: "after-2014"}, ErrInvalid, "says the edition already"},
		{PhotoQuery{Card: "Harbour Grey", Greys: []string{"1,2=50,0,0"}}, ErrInvalid, "no place on it"},
		{PhotoQuery{Card: "Quay Sheet"}, ErrInvalid, "no place on it"},
		{PhotoQuery{Card: "Quay Sheet", Sheet: []string{"1,2"}, SheetLab: "90,0,0"}, ErrInvalid, "value already"},
	} {
		if _, err := a.ReadPhoto(ctx, c.q); !errors.Is(err, c.kind) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want %q", c.q, err, c.want)
		}
	}
}

// The answer to the question is kept as one card, can be given again, and is undone.
func TestChartIsRemembered(t *testing.T) {
	a, ctx := session(t), context.Background()
	keep := func(edition string) {
		t.Helper()
		if err := a.RememberChart(ctx, edition); err != nil {
			t.Fatal(err)
		}
	}
	want := func(edition photo.Edition, note string) {
		t.Helper()
		list := must(t, func() ([]photo.Card, error) { return a.Cards(ctx, false) })
		if len(list) != 1 || list[0].Name != MyChart || list[0].Edition != edition || list[0].Note != note {
			t.Errorf("got %+v, want one of %s, %q", list, edition, note)
		}
	}
	keep("before-2014")
	want(photo.Before2014, "")
	must(t, func() (Edited[photo.Card], error) {
		return a.EditCard(ctx, MyChart, func(c *photo.Card) error { c.Note = "blue case"; return nil })
	})
	must(t, func() (Edited[photo.Card], error) { return a.RetireCard(ctx, MyChart, false) })
	keep("after-2014")
	want(photo.After2014, "blue case")
	for range 2 {
		if _, err := a.Undo(ctx); err != nil {
			t.Fatal(err)
		}
	}
	want(photo.Before2014, "blue case")
	if err := a.RememberChart(ctx, "1999"); !errors.Is(err, ErrInvalid) {
		t.Errorf("an edition of 1999: %v", err)
	}
	must(t, func() (Edited[photo.Card], error) {
		return a.EditCard(ctx, MyChart, func(c *photo.Card) error {
			c.Kind, c.Edition, c.Lab = photo.GreyCard, "", &cie.Lab{L: 50}
			return nil
		})
	})
	if err := a.RememberChart(ctx, "after-2014"); !errors.Is(err, ErrExists) {
		t.Errorf("a grey card became a chart: %v", err)
	}
}

// A sheet's card corrects a picture as the value given by hand does, and is named.
func TestSheetCardCorrects(t *testing.T) {
	a, ctx := session(t), context.Background()
	m := image.NewNRGBA(image.Rect(0, 0, 300, 200))
	for i := range 300 * 200 {
		c := color.NRGBA{200, 190, 160, 255}
		if i%300 >= 150 {
			c = color.NRGBA{120, 90, 80, 255}
		}
		m.SetNRGBA(i%300, i/300, c)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	must(t, func() (photo.Card, error) {
		return a.AddCard(ctx, photo.Card{Name: "Quay Sheet", Kind: photo.SheetCard, Lab: &cie.Lab{L: 93.5, A: 1, B: -4}})
	})
	q := PhotoQuery{Data: b.Bytes(), File: "dawn.png", Patches: []string{"200,50,50,50"}, Sheet: []string{"60,60 60,120"}}
	byHand, byCard := q, q
	byHand.SheetLab, byCard.Card = "93.5,1,-4", "quay sheet"
	x := must(t, func() (*PhotoSaid, error) { return a.ReadPhoto(ctx, byHand) })
	if x.Warnings == nil {
		t.Error("a picture without warnings has null for its list")
	}
	y := must(t, func() (*PhotoSaid, error) { return a.ReadPhoto(ctx, byCard) })
	if x.Rung != string(photo.WhiteSheet) || y.Rung != x.Rung || *x.Patches[0].Lab != *y.Patches[0].Lab {
		t.Errorf("%s %v and %s %v", x.Rung, x.Patches[0].Lab, y.Rung, y.Patches[0].Lab)
	}
	if !slices.ContainsFunc(y.Warnings, func(s string) bool { return strings.Contains(s, `"Quay Sheet"`) }) {
		t.Errorf("the card is not named: %q", y.Warnings)
	}
}

// The field names of a card in JSON.
func TestCardFields(t *testing.T) {
	data, err := json.Marshal(photo.Card{ID: 1, Name: "a", Kind: photo.ChartCard, Edition: photo.After2014, Lab: &cie.Lab{L: 1}, LearntFrom: "b", Note: "c", Retired: true})
	if want := `{"id":1,"name":"a","kind":"chart","edition":"after-2014","lab_d50":[1,0,0],"learnt_from":"b","note":"c","retired":true}`; err != nil || string(data) != want {
		t.Errorf("got  %s\nwant %s", data, want)
	}
}

// On a real picture the edition alters what is read, and a card alters it as the
// question's own edition does.
func TestEditionOfTheCardIsUsed(t *testing.T) {
	a, ctx := session(t), context.Background()
	var name string
	at := map[string]string{}
	for _, r := range testkit.Table(t, testkit.Shared(t, "photos/patches.csv")) {
		if name == "" {
			name = r["image"]
		}
		if r["image"] == name {
			at[r["patch"]] = r["x"] + "," + r["y"]
		}
	}
	data, err := os.ReadFile(testkit.Shared(t, "photos/"+name))
	if err != nil {
		t.Fatal(err)
	}
	// The corners of the chart are its patches 1, 6, 24 and 19; patch 8 is read.
	x, y, _ := strings.Cut(at["8"], ",")
	q := PhotoQuery{Data: data, File: name, Patches: []string{x + "," + y + ",20,20"}, Chart: strings.Join([]string{at["1"], at["6"], at["24"], at["19"]}, " ")}
	read := func(edition string) cie.Lab {
		t.Helper()
		q := q
		q.Edition = edition
		r := must(t, func() (*PhotoSaid, error) { return a.ReadPhoto(ctx, q) })
		if r.Patches[0].Lab == nil {
			t.Fatalf("no colour: %+v", r.Patches[0])
		}
		return *r.Patches[0].Lab
	}
	before, after := read("before-2014"), read("after-2014")
	// The maker's two tables are ΔE00 0.79 apart in this patch. The fit is smooth and not
	// exact, so the reading follows to about a third of that.
	if d := cie.DeltaE00(before, after); math.Abs(d-0.79) > 0.25 {
		t.Errorf("the editions differ by ΔE00 %.2f: %v and %v", d, before, after)
	}
	if err := a.RememberChart(ctx, "before-2014"); err != nil {
		t.Fatal(err)
	}
	if got := read(""); got != before {
		t.Errorf("with the card %v, with the edition given %v", got, before)
	}
}
