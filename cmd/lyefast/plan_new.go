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
	return &cobra.Command{
		Use:     "new [FILE]",
		Short:   "Write a commented plan to fill in",
		Long:    wrapHelp(`Writes a plan with a comment beside each line: what it means, which units it takes, what may be left out. Without FILE it goes to standard output. A file that exists is left alone.`),
		Example: examples("lyefast plan new harbour.toml", "lyefast plan new > harbour.toml"),
		Args:    cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 || args[0] == "-" {
				_, err := p.out.Write([]byte(planTemplate))
				return err
			}
			if err := writeNew(args[0], planTemplate); err != nil {
				return err
			}
			p.err.Printf("wrote %s; fill it in, then: lyefast plan check %s\n", p.err.Text(args[0]), p.err.Text(args[0]))
			return nil
		},
	}
}
