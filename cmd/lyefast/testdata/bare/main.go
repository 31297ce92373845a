// Command bare is the least program with the libraries that lyefast stands on: a
// command line, a database that is linked in and not opened, and one table. The
// start-up benchmark measures lyefast against it.
package main

import (
	"fmt"
	"os"

	"github.com/olekukonko/tablewriter"
	"github.com/spf13/cobra"
	_ "modernc.org/sqlite"
)

func main() {
	root := &cobra.Command{Use: "bare"}
	root.AddCommand(
		&cobra.Command{Use: "version", Run: func(cmd *cobra.Command, _ []string) { fmt.Fprintln(cmd.OutOrStdout(), "bare 1.0") }},
		&cobra.Command{Use: "table", RunE: func(cmd *cobra.Command, _ []string) error {
			table := tablewriter.NewTable(cmd.OutOrStdout())
			table.Header("name", "dose")
			if err := table.Append("Tide Blue", "5"); err != nil {
				return err
			}
			return table.Render()
		}},
	)
	root.SetOut(os.Stdout)
	if err := root.Execute(); err != nil {
		os.Exit(1)
	}
}
