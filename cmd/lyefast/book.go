package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
)

func bookCmd(p *program) *cobra.Command {
	return noun(&cobra.Command{
		Use:     "book",
		Short:   "The file that holds everything: check, backup, merge, export",
		Example: examples("lyefast book check", "lyefast book backup ~/backups"),
	},
		bookWhereCmd(p), bookCheckCmd(p), bookBackupCmd(p), bookRestoreCmd(p), bookMergeCmd(p), bookExportCmd(p), bookImportCmd(p),
	)
}

func bookWhereCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use:     "where",
		Short:   "Say where the book is",
		Example: examples("lyefast book where", "lyefast book where --book ~/soap/harbour.db --json"),
		Args:    takes(),
		RunE: func(*cobra.Command, []string) error {
			place, err := p.session.BookWhere()
			if err != nil {
				return err
			}
			return p.show(place, func() error {
				p.out.Printf("%s\n", p.out.Text(place.Path))
				if !place.Exists {
					p.err.Printf("it does not exist yet; the first thing you add makes it\n")
				}
				return nil
			})
		},
	}
}

func bookCheckCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use: "check", Short: "Look the book over without changing it",
		Long:    "Asks SQLite whether the file is sound, then looks for references that lead nowhere, a journal that does not fit, rows that went missing and values that cannot be, and says what to do about each. Exit status 1 if there is anything.",
		Example: examples("lyefast book check", "lyefast book check --book ~/backup/book.db --json"),
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			r, err := p.session.BookCheck(cmd.Context(), func(what string) { p.progress("looking at " + what) })
			p.progress("")
			if err != nil {
				return err
			}
			err = p.show(r, func() error {
				p.out.Printf("%s\n", p.out.Text(r.Path))
				for _, x := range r.Problems {
					p.out.Field("problem", p.out.Text(x.Where+": "+x.What), column)
					p.out.Field("  try", p.out.Text(x.Try), column)
				}
				if len(r.Problems) == 0 {
					p.out.Printf("sound: %d changes in the journal, format %d\n", r.Changes, r.Format)
				}
				if r.Format < r.Newest && len(r.Problems) == 0 {
					p.out.Para("", fmt.Sprintf("this program writes format %d; the book is copied and brought up when it is next opened", r.Newest))
				}
				return nil
			})
			if err == nil && len(r.Problems) > 0 {
				n := "1 problem"
				if len(r.Problems) > 1 {
					n = fmt.Sprintf("%d problems", len(r.Problems))
				}
				return &app.Error{Msg: fmt.Sprintf("the book has %s", n), Tip: "what to do stands beside each"}
			}
			return err
		},
	}
}
