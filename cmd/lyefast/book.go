package main

import (
	"github.com/spf13/cobra"
)

func bookCmd(p *program) *cobra.Command {
	return noun(&cobra.Command{
		Use:     "book",
		Short:   "The file that holds everything: where it is, whether it is sound",
		Example: examples("lyefast book where", "lyefast book check"),
	},
		bookWhereCmd(p),
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
