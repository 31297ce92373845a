package main

import (
	_ "embed"

	"github.com/spf13/cobra"
)

// planTemplate is the commented file that "plan new" writes. A test checks it, so
// that what a maker starts from is a plan that passes.
//
//go:embed plan_template.toml
var planTemplate string

func planNewCmd(p *program) *cobra.Command {
	var from string
	cmd := &cobra.Command{
		Use:     "new [FILE]",
		Short:   "Write a commented plan to fill in, or the plan of a batch",
		Long:    wrapHelp(`Writes a plan with a comment beside each line: what it means, which units it takes, what may be left out. --from writes the plan a batch was poured from instead. Without FILE it goes to standard output. A file that exists is left alone.`),
		Example: examples("lyefast plan new harbour.toml", "lyefast plan new second.toml --from HD-01"),
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			text := planTemplate
			if from != "" {
				var err error
				if text, err = p.session.PlanOf(cmd.Context(), from); err != nil {
					return err
				}
			}
			if len(args) == 0 || args[0] == "-" {
				_, err := p.out.Write([]byte(text))
				return err
			}
			if err := writeNew(args[0], text); err != nil {
				return err
			}
			p.err.Printf("wrote %s; fill it in, then: lyefast plan check %s\n", p.err.Text(args[0]), p.err.Text(args[0]))
			return nil
		},
	}
	cmd.Flags().StringVar(&from, "from", "", "the `BATCH` whose plan to write")
	return cmd
}
