package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"sync"

	"lyefast/internal/app"
	"lyefast/internal/photo"
)

const (
	// maxPhoto bounds an uploaded picture: phones write 2 to 25 MB.
	maxPhoto = 40 << 20
	// maxAsk bounds the question that is asked of it.
	maxAsk = 64 << 10
	// mostPhotos is how many pictures are held for the tabs that work on them. The
	// page sends its own again where it was the oldest and had to go.
	mostPhotos = 4
)

// darkroom holds the pictures that are worked on, as they came: what is in them is
// asked only when colours are. They are never written to the disk.
type darkroom struct {
	mu     sync.Mutex
	photos []*held // the oldest first
	// desk lets one picture at a time be decoded, so that many tabs need no more memory
	// than one.
	desk chan struct{}
}

type held struct {
	id, file string
	data     []byte
}

func newDarkroom() *darkroom { return &darkroom{desk: make(chan struct{}, 1)} }

func (d *darkroom) put(h *held) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.photos) == mostPhotos {
		d.photos = slices.Delete(d.photos, 0, 1)
	}
	d.photos = append(d.photos, h)
}

func (d *darkroom) get(id string) (*held, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, h := range d.photos {
		if h.id == id {
			return h, nil
		}
	}
	return nil, &app.Error{Kind: app.ErrNotFound, Msg: "this picture is no longer at hand", Tip: "choose it again"}
}

// photoAsk is what is asked of a picture, in the words of the command's flags.
type photoAsk struct {
	Patches []string `json:"patches"`
	Chart   string   `json:"chart"`
	Edition string   `json:"edition"`
	// KeepEdition asks for the edition to be remembered when the readings are saved.
	KeepEdition bool     `json:"keep_edition"`
	Greys       []string `json:"greys"`
	Sheet       []string `json:"sheet"`
	SheetLab    string   `json:"sheet_lab"`
	At          string   `json:"at"`
	Face        string   `json:"face"`
	Early       bool     `json:"early"`
	Note        string   `json:"note"`
}

// upload takes a picture in and answers the name it is asked for by.
func (p *pages) upload(r *http.Request) (any, error) {
	data, err := body(r, maxPhoto)
	if err != nil {
		return nil, err
	}
	if len(data) == 0 {
		return nil, &app.Error{Kind: app.ErrInvalid, Msg: "the picture is empty", Tip: "choose another file"}
	}
	h := &held{id: rand.Text(), file: fileName(r.URL.Query().Get("file"), "photo"), data: data}
	p.photos.put(h)
	return struct {
		ID string `json:"id"`
	}{h.id}, nil
}

// photo makes a handler of a use-case that a held picture is put to.
func (p *pages) photo(use func(context.Context, app.PhotoQuery) (*app.PhotoSaid, error)) http.HandlerFunc {
	return p.answer(func(r *http.Request) (any, error) {
		h, err := p.photos.get(r.PathValue("id"))
		if err != nil {
			return nil, err
		}
		text, err := body(r, maxAsk)
		if err != nil {
			return nil, err
		}
		var ask photoAsk
		from := json.NewDecoder(bytes.NewReader(text))
		from.DisallowUnknownFields()
		if err := from.Decode(&ask); err != nil {
			return nil, &app.Error{Kind: app.ErrInvalid, Msg: "read what was asked of the picture", Err: err}
		}
		if _, err := from.Token(); !errors.Is(err, io.EOF) {
			return nil, &app.Error{Kind: app.ErrInvalid, Msg: "read what was asked of the picture: something follows it"}
		}
		select {
		case p.photos.desk <- struct{}{}:
			defer func() { <-p.photos.desk }()
		case <-r.Context().Done():
			return nil, fmt.Errorf("wait for another picture: %w", r.Context().Err())
		}
		return use(r.Context(), app.PhotoQuery{
			Data: h.data, File: h.file, Patches: ask.Patches, Chart: ask.Chart, Edition: ask.Edition, KeepEdition: ask.KeepEdition, Greys: ask.Greys, Sheet: ask.Sheet,
			SheetLab: ask.SheetLab, At: ask.At, Face: ask.Face, Early: ask.Early, Note: ask.Note,
		})
	})
}

// readingPage lists the portions that can be read, and what is known of the chart.
type readingPage struct {
	// Edition is that of the chart on the shelf, "" where that is not known.
	Edition photo.Edition
	Batches []readingBatch
}

type readingBatch struct {
	Code, Title string
	Portions    []string
}

func (p *pages) reading(r *http.Request) (string, view, error) {
	list, err := p.session.Batches(r.Context(), false)
	if err != nil {
		return "", view{}, err
	}
	var d readingPage
	if d.Edition, err = p.session.ChartEdition(r.Context()); err != nil {
		return "", view{}, err
	}
	for i := range list {
		b := readingBatch{Code: list[i].Code, Title: list[i].Title}
		for j := range list[i].Portions {
			b.Portions = append(b.Portions, list[i].Portions[j].Key())
		}
		d.Batches = append(d.Batches, b)
	}
	return "reading.html", view{Title: "Take a reading", Here: "reading", Data: d}, nil
}
