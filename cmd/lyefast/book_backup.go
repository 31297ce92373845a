package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/store"
	"lyefast/internal/term"
)

// progress shows on a terminal what is being done, in one line that the next call
// overwrites; "" takes it away.
func (p *program) progress(what string) {
	if p.err.Terminal() {
		p.err.Printf("\r%-*s\r%s", term.Columns-1, "", what)
	}
}

func bookBackupCmd(p *program) *cobra.Command {
	var q app.BackupQuery
	cmd := &cobra.Command{
		Use: "backup FILE|FOLDER", Short: "Copy the book safely, also while it is in use",
		Long: `Copies the book page by page with SQLite's own online backup, reads the copy back from end to end, and only then gives it its name. A file that is there is never replaced. In a folder the copy is named after the book and the moment (UTC).

--keep removes older copies of this very book from the folder once the new one is sound: "10" keeps the newest ten; "7 daily, 4 weekly, 12 monthly" keeps the newest of each of the last days, weeks and months that have one. Other files, other books' copies included, are left alone.

A backup on the same disk does not outlive the disk: keep one elsewhere.`,
		Example: examples("lyefast book backup /media/stick/book.db", `lyefast book backup ~/backups --keep "7 daily, 4 weekly, 12 monthly"`),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			q.To = args[0]
			r, err := p.session.Backup(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.out.Printf("%s\n", p.out.Text(r.Path))
				p.out.Printf("  %s, read back and sound\n", size(r.Bytes))
				for _, k := range r.Removed {
					p.out.Printf("  removed %s\n", p.out.Text(k.Path))
				}
				if q.Keep != "" {
					p.out.Printf("  %s kept\n", copies(len(r.Kept)))
				}
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&q.Keep, "keep", "", "`RULE` for older copies in the folder (default: keep all)")
	return cmd
}

func copies(n int) string {
	if n == 1 {
		return "1 copy"
	}
	return fmt.Sprintf("%d copies", n)
}

// size writes a number of bytes for a person.
func size(n int64) string {
	switch {
	case n < 1<<20:
		return fmt.Sprintf("%d KiB", (n+1023)>>10)
	case n < 1<<30:
		return fmt.Sprintf("%.1f MiB", float64(n)/(1<<20))
	}
	return fmt.Sprintf("%.1f GiB", float64(n)/(1<<30))
}

func bookRestoreCmd(p *program) *cobra.Command {
	var to string
	cmd := &cobra.Command{
		Use: "restore BACKUP", Short: "Write a backup out as a book in a new file",
		Long:    "Checks the backup in full, copies it to a file that does not exist yet, and reads the copy back. The backup stays as it is, and no book is ever replaced: look at the restored one with --book, then move the files yourself.",
		Example: examples("lyefast book restore ~/backups/book-20261120T064530Z.db --to ~/restored.db", "lyefast book restore harbour-backup.db --to /media/stick/harbour.db --json"),
		Args:    takes("BACKUP"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r, err := p.session.Restore(cmd.Context(), args[0], to)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.out.Printf("%s\n", p.out.Text(r.To))
				p.out.Printf("  %s, format %d, checked and sound\n", size(r.Bytes), r.Format)
				p.out.Printf("  look at it with --book %s\n", p.out.Text(quoteArg(r.To)))
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&to, "to", "", "the new `FILE`")
	return cmd
}

// quoteArg writes an argument as a shell takes it.
func quoteArg(s string) string {
	if strings.ContainsAny(s, " '\"$&;|<>()*?#`\\!") {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

func bookMergeCmd(p *program) *cobra.Command {
	var try bool
	cmd := &cobra.Command{
		Use: "merge OTHER", Short: "Bring what another book has into this one",
		Long: `For two makers, or a laptop and a workshop. The other book is only read. The whole merge is one change, which lyefast undo takes back. Merging again adds nothing, and it does not matter which of two books is merged into which.

Things on the shelf are the same if their names are. Where they differ otherwise, the one changed last keeps the name and the other is kept beside it, retired, as "Tide Blue (other 3f9a)". Batches are the same if their code and all that was frozen at the pour are; where gel, place, note and so on differ, the later change stands and the other value becomes a note among the batch's events. Of two different batches with one code the older keeps it. Readings, events, weights and lessons of both are kept. Every such conflict is listed.

What was taken back in one book and still stands in the other comes back.`,
		Example: examples("lyefast book merge workshop.db --dry-run", "lyefast book merge workshop.db"),
		Args:    takes("OTHER"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p.progress("merging")
			r, err := p.session.Merge(cmd.Context(), args[0], try)
			p.progress("")
			if err != nil {
				return err
			}
			return p.show(r, func() error { return p.showMerged(r, try) })
		},
	}
	cmd.Flags().BoolVar(&try, "dry-run", false, "report what would be brought, and bring nothing")
	return cmd
}

func (p *program) showMerged(r *store.Merged, try bool) error {
	w := p.out
	word := "brought from"
	if try {
		word = "would be brought from"
	}
	w.Printf("%s %s\n", word, w.Text(r.Other))
	if len(r.Added) == 0 && len(r.Conflicts) == 0 {
		w.Printf("  nothing: it is all here\n")
	}
	for _, c := range r.Added {
		w.Printf("  %6d  %s\n", c.Count, w.Text(c.Noun))
	}
	for _, c := range r.Conflicts {
		w.Field("conflict", w.Text(c.What+", "+c.Field), column)
		w.Field("  here", w.Text(c.Here), column)
		w.Field("  there", w.Text(c.There), column)
		w.Field("  kept", w.Text(c.Kept), column)
		w.Field("  besides", w.Text(c.Besides), column)
	}
	if !try && len(r.Added)+len(r.Conflicts) > 0 {
		p.err.Printf("lyefast undo takes all of it back\n")
	}
	return nil
}
