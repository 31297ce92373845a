package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/observations"
	"lyefast/internal/term"
)

func dueCmd(p *program) *cobra.Command {
	var ics string
	cmd := &cobra.Command{
		Use: "due", Short: "Say what to read today, what is overdue and what comes next",
		Long:    wrapHelp(`Lists what the open batches ask for. A reading that would not change anything any more is named apart. --ics writes the coming readings for a calendar; written again it moves the same entries and adds none twice.`),
		Example: examples("lyefast due", "lyefast due --ics readings.ics"),
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if ics != "" {
				data, n, err := p.session.Reminders(cmd.Context())
				if err != nil {
					return err
				}
				if n == 0 {
					p.err.Printf("there is nothing to remind of\n")
					return nil
				}
				if ics == "-" {
					_, err := p.out.Write(data)
					return err
				}
				if err := replaceFile(ics, data); err != nil {
					return err
				}
				p.err.Printf("wrote %s, %s\n", p.err.Text(ics), count(n, "reminder"))
				return nil
			}
			r, err := p.session.Due(cmd.Context())
			if err != nil {
				return err
			}
			return p.show(r, func() error { return p.showDue(r) })
		},
	}
	cmd.Flags().StringVar(&ics, "ics", "", "write the coming readings into a calendar `FILE` (replaced), - for standard output")
	return cmd
}

func (p *program) showDue(r *app.DueSaid) error {
	w := p.out
	if len(r.Items) == 0 {
		p.err.Printf("nothing is due\n")
	}
	var rows [][]string
	for i := 0; i < len(r.Items); {
		it := r.Items[i]
		// Portions of a batch that are to be read on one day share a line.
		var names []string
		j := i
		for ; j < len(r.Items) && r.Items[j].Batch == it.Batch && r.Items[j].Do == it.Do && r.Items[j].State == it.State && r.Items[j].At.Equal(it.At); j++ {
			name := r.Items[j].Portion
			if r.Items[j].Band > 0 {
				name += fmt.Sprintf(" (±%.1f)", r.Items[j].Band)
			}
			names = append(names, name)
		}
		i = j
		what := ""
		switch it.Do {
		case observations.DoGel:
			what = `say how far it gelled: batch event ` + it.Batch + ` "full gel"`
		case observations.DoCut:
			what = "unmould or cut, and note it: batch event " + it.Batch + " cut"
		default:
			what = "read " + strings.Join(names, ", ")
			if it.CutAssumed {
				what += "; the day is a guess until the cut is noted"
			}
		}
		rows = append(rows, []string{string(it.State), it.Say, w.Text(it.Batch), fmt.Sprintf("%.0f", it.Day), w.Text(what)})
	}
	if err := w.Table([]term.Column{{Title: ""}, {Title: "when"}, {Title: "batch"}, {Title: "day", Right: true}, {Title: "what", Wrap: true}}, rows); err != nil {
		return err
	}
	if len(r.Enough) > 0 {
		var names []string
		for _, it := range r.Enough {
			names = append(names, it.Batch+"/"+it.Portion)
		}
		w.Para("  ", w.Text("Another reading would not change anything any more: "+strings.Join(names, ", ")+"."))
	}
	return nil
}
