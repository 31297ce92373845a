package main

import (
	"html/template"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/chart"
	"lyefast/internal/sheet"
	"lyefast/internal/web"
)

func batchReportCmd(p *program) *cobra.Command {
	var html, pdf, paper string
	cmd := &cobra.Command{
		Use: "report BATCH", Short: "Write a report of a batch to keep or to show",
		Long: wrapHelp(`Puts a batch on one page: a picture of the bar at the cut, the sale and six months, each portion's colours by day with its curve, what was expected against what came, the verdicts, the notes from the pot, the weights and the lessons. The page loads nothing from anywhere and may be sent as it is.

Files that exist are left alone.`),
		Example: examples("lyefast batch report HD-01 --html harbour-dawn.html", "lyefast batch report HD-01 --pdf harbour-dawn.pdf --paper Letter"),
		Args:    takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			size, err := sheet.ParsePaper(paper)
			if err != nil {
				return usage("", "--paper: %v", err)
			}
			if html+pdf == "" && !p.json {
				return usage("", "say with --html or --pdf where the report goes")
			}
			r, err := p.session.BatchReport(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			if err := drawReport(r, pdf != ""); err != nil {
				return err
			}
			if err := p.writePages([]page{{html, r.HTML}, {pdf, func() ([]byte, error) { return r.PDF(size) }}}); err != nil {
				return err
			}
			if p.json {
				return p.out.JSON(r)
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&html, "html", "", "write it into a new HTML `FILE`")
	f.StringVar(&pdf, "pdf", "", "write it into a new PDF `FILE`")
	f.StringVar(&paper, "paper", "A4", "`SIZE` of paper of the PDF: A4 or Letter")
	return cmd
}

// drawReport puts the curve of each portion that was read into the report.
func drawReport(r *app.BatchReport, png bool) error {
	for i := range r.Portions {
		q := &r.Portions[i]
		for j := range r.Curves.Portions {
			c := &r.Curves.Portions[j]
			if c.Portion != q.Name || len(c.Readings) == 0 {
				continue
			}
			curve := []chart.Curve{web.Drawing(r.Curves, c)}
			q.SVG = template.HTML(chart.SVG(curve))
			if png {
				var err error
				if q.PNG, err = chart.PNG(curve); err != nil {
					return err
				}
			}
		}
	}
	return nil
}
