package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/term"
)

func undoCmd(p *program) *cobra.Command {
	var list, redo bool
	var limit int
	cmd := &cobra.Command{
		Use: "undo", Short: "Take back the last change to the book",
		Long:    "Takes back the last change that still stands, whatever it was; called again it takes back the one before. --redo brings back what the last undo took, as long as nothing was changed since. --list shows the journal and changes nothing.",
		Example: examples("lyefast undo", "lyefast undo --list"),
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if list && redo {
				return usage("", "--list and --redo do not go together")
			}
			if list {
				return p.journal(cmd, limit)
			}
			do := (*app.App).Undo
			word := "took back"
			if redo {
				do, word = (*app.App).Redo, "brought back"
			}
			u, err := do(p.session, cmd.Context())
			if err != nil {
				return err
			}
			return p.show(u, func() error {
				p.out.Printf("%s: %s (%s)\n", word, p.out.Text(u.What), p.moment(u.At))
				return nil
			})
		},
	}
	cmd.Flags().BoolVar(&redo, "redo", false, "bring back what the last undo took")
	cmd.Flags().BoolVar(&list, "list", false, "show the last changes instead")
	cmd.Flags().IntVar(&limit, "most", 20, "with --list, how `MANY` at the most")
	return cmd
}

func (p *program) journal(cmd *cobra.Command, limit int) error {
	if limit < 1 {
		return usage("", "--most must be at least 1, got %d", limit)
	}
	changes, err := p.session.Changes(cmd.Context(), limit)
	if err != nil {
		return err
	}
	return p.show(changes, func() error {
		if len(changes) == 0 {
			p.err.Printf("nothing was changed yet\n")
		}
		rows := make([][]string, len(changes))
		for i, c := range changes {
			what := c.What
			if c.Kind != "change" {
				what = c.Kind + ": " + what
			}
			state := ""
			if c.Undone && c.Kind == "change" {
				state = "undone"
			}
			rows[i] = []string{fmt.Sprint(c.ID), p.moment(c.At), p.out.Text(what), state}
		}
		return p.out.Table([]term.Column{{Title: "no", Right: true}, {Title: "when"}, {Title: "what", Wrap: true}, {Title: ""}}, rows)
	})
}

// moment writes a time: how long ago for a person, RFC 3339 for a pipe.
func (p *program) moment(t time.Time) string {
	if !p.out.Terminal() {
		return t.UTC().Format(time.RFC3339)
	}
	ago := p.session.Now().Sub(t)
	count := func(n int, what string) string {
		if n == 1 {
			return "1 " + what + " ago"
		}
		return fmt.Sprintf("%d %ss ago", n, what)
	}
	switch {
	case ago < 0:
		return t.Local().Format("2006-01-02 15:04")
	case ago < time.Minute:
		return "just now"
	case ago < time.Hour:
		return count(int(ago/time.Minute), "minute")
	case ago < 24*time.Hour:
		return count(int(ago/time.Hour), "hour")
	case ago < 14*24*time.Hour:
		return count(int(ago/(24*time.Hour)), "day")
	}
	return t.Local().Format("2006-01-02")
}
