package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/photo"
)

func readingPhotoCmd(p *program) *cobra.Command {
	var q app.PhotoQuery
	var dry bool
	cmd := &cobra.Command{
		Use: "photo FILE", Short: "Read colours off a photograph with a chart or grey card in it",
		Long: wrapHelp(`Takes a JPEG, PNG or WebP picture. Places are pixels of the upright picture, counted from its top left corner. A name before a patch is the portion it is of; several patches of one portion are averaged. The date is the camera's, unless --at says another.

The colours are corrected by the best of what is given: a chart of 24 patches with six or better ten spots on the white sheet around it, the chart alone, several greys of known value, one light grey, spots on a sheet whose value was told when it lay beside a chart, or nothing. The answer says which it was, and two doubts in ΔE00 that about 95 in 100 readings err by less: of the colour itself, and of the trend under the same phone, light and chart.

A chart, grey card or sheet that is on the shelf (lyefast card add) is named with --card: it gives the chart's edition, the value of each grey whose place alone is given, or the sheet's value. The only chart on the shelf need not be named.

Use daylight from one side, no flash, and tilt the chart until nothing on it shines. What is clipped is left out and named.`),
		Example: examples(
			`lyefast reading photo slice.jpg --patch 700,1500,90,60 --chart "506,1334 476,394 1028,363 1083,1312" --dry-run`,
			`lyefast reading photo slice.jpg --patch HD-01/shore=700,1500,90,60 --patch HD-01/tide=820,1500,90,60 --grey 300,400=81.3,-0.6,0.4`),
		Args: takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if q.Data, q.File, err = p.readInput(args[0], photo.MaxBytes+1); err != nil {
				return err
			}
			var r *app.PhotoSaid
			if dry && q.KeepSheet != "" {
				return usage("leave out one of them", "--keep-sheet stores, and --dry-run enters nothing")
			}
			if p.interactive() {
				if err := p.askEdition(cmd.Context(), &q, dry); err != nil {
					return err
				}
			}
			if dry {
				r, err = p.session.ReadPhoto(cmd.Context(), q)
			} else {
				r, err = p.session.AddPhoto(cmd.Context(), q)
			}
			if err != nil {
				return err
			}
			for _, s := range r.Warnings {
				p.err.Para("  ", "note: "+p.err.Text(s))
			}
			if r.SheetLab != nil && r.KeptSheet == "" {
				p.err.Para("  ", fmt.Sprintf("note: the sheet is L* %.1f, a* %.1f, b* %.1f for D50 here; in pictures of it without a chart give --sheet-value %.1f,%.1f,%.1f, or keep it with --keep-sheet", r.SheetLab.L, r.SheetLab.A, r.SheetLab.B, r.SheetLab.L, r.SheetLab.A, r.SheetLab.B))
			}
			return p.show(r.Patches, func() error { return p.showPhoto(r, dry) })
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&q.Patches, "patch", nil, "`NAME=x,y,w,h` to read, may be repeated; NAME is the portion")
	f.StringVar(&q.Chart, "chart", "", "middles of the chart's corner patches, `x,y x,y x,y x,y`: dark skin, bluish green, black, white")
	f.StringVar(&q.Edition, "edition", "", "the chart's `EDITION`: after-2014 (of November 2014 or later) or before-2014 (default: that of the chart on the shelf, else after-2014)")
	f.StringVar(&q.Card, "card", "", "`NAME` of a chart, grey card or sheet on the shelf that lies in the picture")
	f.StringArrayVar(&q.Greys, "grey", nil, "`x,y=L,a,b` of a grey patch, the value for D50 as on the card, or x,y alone with --card; may be repeated")
	f.StringArrayVar(&q.Sheet, "sheet", nil, "`x,y` of a spot on the white sheet, may be repeated, or several in quotes")
	f.StringVar(&q.SheetLab, "sheet-value", "", "`L,a,b` of the sheet for D50, as told beside a chart")
	f.StringVar(&q.KeepSheet, "keep-sheet", "", "store the sheet, as it shows beside the chart, as a card of this `NAME`")
	f.BoolVar(&dry, "dry-run", false, "show the colours, and enter nothing")
	f.StringVar(&q.Batch, "batch", "", "the `BATCH` whose portions the names are")
	f.StringVar(&q.At, "at", "", "`WHEN` it was taken (default: the camera's date)")
	f.StringVar(&q.Face, "face", "", "`FACE` of the bar: cut, top or side")
	f.BoolVar(&q.Early, "early", false, "they are of cups from the jugs, not of bars")
	f.StringVar(&q.Note, "note", "", "a `NOTE`")
	return cmd
}

// askEdition asks a person which edition the chart is of where nothing says so, and
// remembers the answer, except of a dry run.
func (p *program) askEdition(ctx context.Context, q *app.PhotoQuery, dry bool) error {
	ask, err := p.session.AsksEdition(ctx, *q)
	if err != nil || !ask {
		return err
	}
	a := p.asker()
	answer := a.ask(fmt.Sprintf("Was the chart made in November 2014 or later (%s) or before (%s)? Its back has the date.", photo.After2014, photo.Before2014), string(photo.After2014))
	if a.err != nil {
		return a.err
	}
	edition, err := photo.ParseEdition(answer)
	if err != nil {
		return usage("answer with one of the two, or give --edition", "%v", err)
	}
	q.Edition = string(edition)
	if dry {
		return nil
	}
	if err := p.session.RememberChart(ctx, q.Edition); err != nil {
		return err
	}
	p.err.Para("  ", fmt.Sprintf("note: kept as the card %q; change it with `lyefast card edit`", app.MyChart))
	return nil
}

// showPhoto prints what a photograph gave.
func (p *program) showPhoto(r *app.PhotoSaid, dry bool) error {
	w := p.out
	w.Para("  ", fmt.Sprintf("%s: %s, %d × %d, %s; corrected by %s", w.Text(r.File), r.Format, r.Width, r.Height, w.Text(r.Profile), r.Rung))
	if r.Understood != "" {
		w.Printf("  taken %s\n", r.Understood)
	}
	if len(r.LeftOut) > 0 {
		w.Printf("  left out: %s\n", strings.Join(r.LeftOut, ", "))
	}
	for _, x := range r.Patches {
		if x.Lab == nil {
			w.Printf("  %s  no colour: %s\n", w.Text(x.Patch), x.Why)
			continue
		}
		w.Printf("  %s  %s  %s  L* %.1f, a* %.1f, b* %.1f  ±%.1f, as a trend ±%.1f\n", w.Text(x.Patch), w.Swatch(*x.Lab), x.Name, x.Lab.L, x.Lab.A, x.Lab.B, x.UAbsolute, x.UTrend)
		for _, n := range x.Notes {
			w.Printf("    note: %s\n", n)
		}
	}
	if r.KeptSheet != "" {
		w.Para("  ", fmt.Sprintf("the sheet is kept as the card %q: L* %.2f, a* %.2f, b* %.2f for D50", w.Text(r.KeptSheet), r.SheetLab.L, r.SheetLab.A, r.SheetLab.B))
	}
	switch {
	case dry:
		p.err.Printf("nothing was entered\n")
	case r.Known > 0:
		w.Printf("  %s entered, %d in the book already\n", count(r.Added, "reading"), r.Known)
	default:
		w.Printf("  %s entered\n", count(r.Added, "reading"))
	}
	return nil
}
