package main

import (
	"path/filepath"
	"strings"

	"github.com/adrg/xdg"
	"github.com/spf13/cobra"

	"lyefast/internal/app"
)

func demoCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use: "demo", Short: "Fill a new book with an invented season to try things on",
		Long: `Writes twelve pours of Harbour Dawn, one a week, each read for six weeks, with one hard lesson in the middle, and shows commands to walk through it. Every name and number is invented; the chemistry is what the tables say.

Your own book is never touched: the demo goes to a file demo.db in your data folder, or to the one that --book names, which must not exist yet. Remove the file when you have seen enough.`,
		Example: examples("lyefast demo", "lyefast demo --book /tmp/season.db"),
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			path := p.book
			if path == "" {
				path = filepath.Join(xdg.DataHome, "lyefast", "demo.db")
			}
			p.progress("writing twelve batches")
			r, err := app.WriteDemo(cmd.Context(), path, p.session.Now())
			p.progress("")
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				w := p.out
				w.Printf("%s: %s, %s, all invented\n", w.Text(r.Book), count(r.Batches, "batch"), count(r.Readings, "reading"))
				w.Para("", "its hard lesson: "+r.Lesson)
				w.Printf("\nTake it for this session, and walk through:\n\n  export LYEFAST_BOOK=%s\n", w.Text(quoteArg(r.Book)))
				for _, s := range r.Walk {
					w.Printf("\n  lyefast %s\n      %s\n", strings.Join(s.Args, " "), s.What)
				}
				return nil
			})
		},
	}
}
