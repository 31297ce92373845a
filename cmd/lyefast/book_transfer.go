package main

import (
	"github.com/spf13/cobra"

	"lyefast/internal/app"
)

func bookExportCmd(p *program) *cobra.Command {
	var csv, pack string
	var q app.ExportBookQuery
	cmd := &cobra.Command{
		Use: "export", Short: "Write the book as files other programs read",
		Long: `--csv writes one CSV file for each table, for a spreadsheet: shelf, batches, readings, events, weights, lessons. Texts that a spreadsheet would run as a formula have an apostrophe in front; --bom marks the files as UTF-8 for programs that need to see it.

--package writes the whole book, journal included, as a Data Package (version 2, an open standard): the same tables, described, with sizes and hashes.

No file is replaced. lyefast book import reads either back, to the last digit.`,
		Example: examples("lyefast book export --csv harbour-csv --bom", "lyefast book export --package harbour-package"),
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if (csv == "") == (pack == "") {
				return usage("name the folder: --csv FOLDER, or --package FOLDER", "say one of --csv and --package")
			}
			if q.Dir = csv; pack != "" {
				q.Dir, q.Package = pack, true
			}
			r, err := p.session.ExportBook(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.out.Printf("%s\n", p.out.Text(r.Dir))
				for _, f := range r.Files {
					p.out.Printf("  %-26s  %8d rows  %10s\n", f.Name, f.Rows, size(int64(f.Bytes)))
				}
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&csv, "csv", "", "write CSV files into `FOLDER`")
	f.StringVar(&pack, "package", "", "write a Data Package into `FOLDER`")
	f.BoolVar(&q.Mark, "bom", false, "with --csv, put a byte order mark in front")
	return cmd
}

func bookImportCmd(p *program) *cobra.Command {
	var try bool
	cmd := &cobra.Command{
		Use: "import FOLDER", Short: "Read back what book export wrote",
		Long: `Where there is no book yet (see --book), the folder becomes one. Where there is, what the folder has and the book has not is merged into it, as lyefast book merge would, as one change that lyefast undo takes back.

A Data Package must be as it was written; its hashes are checked. CSV files may have come through a spreadsheet: a new row needs no id, name_key, created_at or changed_at. All is taken or nothing.`,
		Example: examples("lyefast book import harbour-package --book new.db", "lyefast book import harbour-csv --dry-run"),
		Args:    takes("FOLDER"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r, err := p.session.ImportBook(cmd.Context(), args[0], try)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				if r.Merged != nil {
					return p.showMerged(r.Merged, try)
				}
				word := "made from"
				if try {
					word = "would be made from"
				}
				p.out.Printf("%s %s %s, %d rows\n", p.out.Text(r.Book), word, p.out.Text(r.Dir), r.Rows)
				return nil
			})
		},
	}
	cmd.Flags().BoolVar(&try, "dry-run", false, "report what would be taken, and take nothing")
	return cmd
}
