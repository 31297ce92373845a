package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lyefast/internal/app"
	"lyefast/internal/term"
)

// The questions of a pour, answered, skipped, and cut short by the end of the input.
func TestAskPour(t *testing.T) {
	plan, err := os.ReadFile("../../testdata/plans/harbour-dawn.toml")
	if err != nil {
		t.Fatal(err)
	}
	ask := func(input string, flags ...string) (app.PourQuery, string, error) {
		var said bytes.Buffer
		p := &program{in: strings.NewReader(input), out: term.New(&said, nil), err: term.New(&said, nil)}
		cmd := batchPourCmd(p)
		if err := cmd.ParseFlags(flags); err != nil {
			t.Fatal(err)
		}
		q := app.PourQuery{Data: plan, File: "harbour-dawn.toml"}
		err := p.askPour(cmd, &q)
		return q, said.String(), err
	}
	q, said, err := ask("18:00\ndark\n17 °C\nslab\n")
	if err != nil || q.At != "18:00" || q.Storage != "dark" || q.CureAt == nil || *q.CureAt != 17 || q.Control != "slab" {
		t.Errorf("answered: %+v, %v", q, err)
	}
	if !strings.Contains(said, "tells a change of the soap itself") {
		t.Errorf("the control is offered without its reason: %q", said)
	}
	q, _, err = ask("\n\n\n\n")
	if err != nil || q.At != "now" || q.Storage != "room" || q.CureAt != nil || q.Control != "" {
		t.Errorf("skipped: %+v, %v", q, err)
	}
	if q, _, err = ask(""); err != nil || q.At != "now" || q.Control != "" {
		t.Errorf("no input: %+v, %v", q, err)
	}
	if _, _, err = ask("\n\nwarm\n"); err == nil || !strings.Contains(err.Error(), "temperature") {
		t.Errorf("a temperature in words: %v", err)
	}
	if _, said, _ = ask("", "--at", "18:00", "--storage", "dark", "--cure", "17 °C", "--control", "slab"); said != "" {
		t.Errorf("asked what was told already: %q", said)
	}
	if (&program{in: strings.NewReader(""), err: term.New(&bytes.Buffer{}, nil)}).interactive() {
		t.Error("a pipe passes for a person")
	}
}

// The edition of a chart is asked for once and kept; a dry run keeps nothing.
func TestAskEdition(t *testing.T) {
	session := app.New(filepath.Join(t.TempDir(), "book.db"), clock)
	t.Cleanup(func() { session.Close() })
	ask := func(input string, dry bool, q app.PhotoQuery) (string, string, error) {
		var said bytes.Buffer
		p := &program{in: strings.NewReader(input), out: term.New(&said, nil), err: term.New(&said, nil), session: session}
		err := p.askEdition(t.Context(), &q, dry)
		return q.Edition, said.String(), err
	}
	chart := app.PhotoQuery{Chart: "1,1 2,1 2,2 1,2"}
	if e, said, err := ask("before-2014\n", true, chart); err != nil || e != "before-2014" || !strings.Contains(said, "November 2014") || strings.Contains(said, "kept") {
		t.Errorf("a dry run: %q, %q, %v", e, said, err)
	}
	if _, _, err := ask("1999\n", false, chart); err == nil || !strings.Contains(err.Error(), "before-2014") {
		t.Errorf("an edition of 1999: %v", err)
	}
	if e, said, err := ask("", false, app.PhotoQuery{}); err != nil || e != "" || said != "" {
		t.Errorf("asked without a chart: %q, %q, %v", e, said, err)
	}
	if e, said, err := ask("before-2014\n", false, chart); err != nil || e != "before-2014" || !strings.Contains(said, `kept as the card "my chart"`) {
		t.Errorf("answered: %q, %q, %v", e, said, err)
	}
	if e, said, err := ask("after-2014\n", false, chart); err != nil || e != "" || said != "" {
		t.Errorf("asked again: %q, %q, %v", e, said, err)
	}
}
