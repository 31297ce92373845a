package main

import (
	"io"
	"slices"
	"testing"

	"lyefast/internal/term"
)

// The table of top commands must name each one as it names itself: a command is
// found by the table before it is built.
func TestTopNounsKnowTheirNames(t *testing.T) {
	p := &program{out: term.New(io.Discard, nil), err: term.New(io.Discard, nil)}
	for _, n := range topNouns {
		cmd := n.build(p)
		if want := append([]string{cmd.Name()}, cmd.Aliases...); !slices.Equal(n.names, want) {
			t.Errorf("the table has %q, the command %q", n.names, want)
		}
	}
}

func TestNounsFor(t *testing.T) {
	for _, c := range []struct {
		args []string
		want int
	}{
		{nil, len(topNouns)},
		{[]string{"--help"}, len(topNouns)},
		{[]string{"help", "plan"}, len(topNouns)},
		{[]string{"__complete", "plan", ""}, len(topNouns)},
		{[]string{"plann"}, len(topNouns)},
		{[]string{"plan", "check"}, 1},
		{[]string{"--json", "plan"}, 1},
		{[]string{"--book", "plan", "colour"}, 1},
		{[]string{"--book=x.db", "color"}, 1},
	} {
		if got := nounsFor(c.args); len(got) != c.want {
			t.Errorf("%q builds %d commands, want %d", c.args, len(got), c.want)
		}
	}
	if got := nounsFor([]string{"--book", "plan", "colour"}); got[0].names[0] != "colour" {
		t.Errorf("a book called plan was taken for the command")
	}
}
