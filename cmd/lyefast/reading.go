package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/exchange"
	"lyefast/internal/term"
)

func readingCmd(p *program) *cobra.Command {
	return noun(&cobra.Command{
		Use:     "reading",
		Short:   "Colours of the bars: enter, import, list, export",
		Long:    wrapHelp(`A reading is one dated colour of one portion. It is kept as CIELAB for D65, 2°, with the value as it was measured beside it. A wrong one is struck out with a reason, never edited.`),
		Example: examples("lyefast reading add HD-01/shore --lab 88.2,1.1,14.3", "lyefast reading import week2.csv --batch HD-01"),
	},
		readingAddCmd(p), readingPhotoCmd(p), readingImportCmd(p), readingForecastCmd(p), readingListCmd(p), readingStrikeCmd(p), readingExportCmd(p),
	)
}

func readingAddCmd(p *program) *cobra.Command {
	var q app.ReadingQuery
	cmd := &cobra.Command{
		Use: "add BATCH/PORTION", Short: "Enter a colour",
		Long: wrapHelp(`Give one of --lab, --xyz, --hex and --words. Each of the first three may be repeated: the spots are averaged and their spread is kept.

--words takes what an eye sees: held, back, gone, duller, faded, paler, brighter, browner, darker, lighter, redder, greener, yellower, bluer, each with "a little" or "much", and "bled 2 mm". Such a reading carries a large doubt of its own.`),
		Example: examples(`lyefast reading add HD-01/shore --lab 88.2,1.1,14.3 --lab 88.6,1.0,14.1 --face cut`, `lyefast reading add HD-01/quay --words "back, bled 2 mm" --at "yesterday 18:00"`),
		Args:    takes("BATCH/PORTION"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			q.Target = args[0]
			r, err := p.session.AddReading(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				w := p.out
				w.Printf("%s  reading %d, day %.1f: %s\n", w.Text(r.Batch+"/"+r.Portion), r.ID, r.Day, r.Understood)
				if r.Lab != nil {
					w.Printf("  %s  %s  L* %.1f, a* %.1f, b* %.1f", w.Swatch(*r.Lab), r.Name, r.Lab.L, r.Lab.A, r.Lab.B)
					if r.Spread != nil {
						w.Printf("  (%d spots, ±%.1f ±%.1f ±%.1f)", r.Spots, r.Spread.L, r.Spread.A, r.Spread.B)
					}
					w.Printf("\n")
				}
				if r.SinceLast != nil {
					w.Printf("  ΔE00 %.1f from the reading before\n", *r.SinceLast)
				}
				for _, n := range r.Notes {
					w.Para("  ", "note: "+n)
				}
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&q.Lab, "lab", nil, "`L,a,b` of a spot, such as 62.1,-3.2,14")
	f.StringArrayVar(&q.XYZ, "xyz", nil, "`X,Y,Z` of a spot, white at Y 100")
	f.StringArrayVar(&q.Hex, "hex", nil, "a hex `COLOUR` of a spot (quote it)")
	f.StringVar(&q.Words, "words", "", "what an eye sees, in `WORDS`")
	f.StringVar(&q.Illuminant, "illuminant", "", "`ILLUMINANT` and observer of --lab or --xyz, such as D50/2° (default D65/2°)")
	f.StringVar(&q.Face, "face", "", "`FACE` of the bar: cut, top or side")
	f.StringVar(&q.Method, "method", "", "`METHOD`: instrument, SCI, SCE, hex, photo")
	f.StringVar(&q.Instrument, "instrument", "", "name of the `INSTRUMENT`")
	f.StringVar(&q.At, "at", "", "`WHEN` it was read: 2026-11-24 14:30, yesterday, day 14 (default: now)")
	f.BoolVar(&q.Early, "early", false, "it is of a cup from the jug, not of the bar")
	f.StringVar(&q.Note, "note", "", "a `NOTE`")
	return cmd
}

func readingImportCmd(p *program) *cobra.Command {
	var q app.ImportQuery
	var dry bool
	var dates, illuminant string
	var observer int
	var names []string
	cmd := &cobra.Command{
		Use: "import FILE", Short: "Take the readings of an instrument's file",
		Long: wrapHelp(`Reads CSV or TSV as hand-held instruments write it, CGATS.17 or ISO 28178 text, and CxF3 XML. A file is taken whole or not at all, and taking it again adds nothing.

A name in the file is "HD-01/shore", or a portion of --batch, or what --name says; --to takes every row for one portion. --dry-run shows what would be taken and how the columns were understood, and writes nothing.`),
		Example: examples("lyefast reading import week2.csv --dry-run", `lyefast reading import scan.cxf --batch HD-01 --name "Sample 1=HD-01/shore"`),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch strings.ToLower(dates) {
			case "":
			case "dmy", "day-first":
				q.Options.DateOrder = exchange.DayFirst
			case "mdy", "month-first":
				q.Options.DateOrder = exchange.MonthFirst
			default:
				return usage("", "--dates %q: say dmy or mdy", dates)
			}
			q.Options.Illuminant, q.Options.Observer = illuminant, observer
			var err error
			if q.Names, err = pairs("--name", names); err != nil {
				return err
			}
			if q.Data, q.File, err = p.readInput(args[0], exchange.MaxBytes+1); err != nil {
				return err
			}
			if dry {
				return p.dryRun(q)
			}
			if p.err.Terminal() {
				q.Progress = func(done, all int) { p.err.Printf("\r%d of %d readings", done, all) }
			}
			r, err := p.session.Import(cmd.Context(), q)
			if p.err.Terminal() {
				p.err.Printf("\r                                        \r")
			}
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				w := p.out
				w.Printf("%s: %s, %d added, %d in the book already\n", w.Text(r.File), r.Format, r.Added, r.Known)
				for _, x := range r.Portions {
					w.Printf("  %s  %s\n", w.Text(x.Portion), count(x.Readings, "reading"))
				}
				p.showSkipped(r.Skipped)
				for _, s := range r.Warnings {
					p.err.Para("  ", "note: "+s)
				}
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.BoolVar(&dry, "dry-run", false, "show what would be taken, and take nothing")
	f.StringVar(&q.Batch, "batch", "", "the `BATCH` whose portions the names are")
	f.StringVar(&q.To, "to", "", "the `PORTION` every row is of, such as HD-01/shore")
	f.StringArrayVar(&names, "name", nil, "`NAME=PORTION` for a name of the file, may be repeated")
	f.StringVar(&q.At, "at", "", "`WHEN` rows without a date were read")
	f.StringVar(&dates, "dates", "", "`ORDER` of dates like 03/04/2026: dmy or mdy")
	f.StringVar(&illuminant, "illuminant", "", "`ILLUMINANT` where the file states none")
	f.IntVar(&observer, "observer", 0, "observer in `DEGREES`, 2 or 10, where the file states none")
	f.StringVar(&q.Options.Mode, "mode", "", "keep only rows of one `MODE`: SCI or SCE")
	f.StringVar(&q.Face, "face", "", "`FACE` of the bar: cut, top or side")
	f.BoolVar(&q.Early, "early", false, "they are of cups from the jugs, not of the bar")
	f.BoolVar(&q.LeaveOut, "leave-out-bad-rows", false, "take the rest of a file some of whose rows cannot be right")
	return cmd
}

// dryRun shows a file as it was understood.
func (p *program) dryRun(q app.ImportQuery) error {
	im, err := p.session.ReadFile(q)
	if err != nil {
		return err
	}
	if im.Readings == nil {
		im.Readings = []exchange.Sample{}
	}
	return p.show(im.Readings, func() error {
		w := p.out
		w.Printf("%s: %s, %s", w.Text(q.File), im.Format, im.Encoding)
		if im.Delimiter != "" {
			w.Printf(", parted by %q, decimal %q", im.Delimiter, im.Decimal)
		}
		w.Printf("\n")
		for _, c := range im.Columns {
			w.Para("      ", fmt.Sprintf("  %3d  %s: %s", c.Column, w.Text(c.Header), w.Text(c.Meaning)))
		}
		w.Printf("\n")
		const most = 20
		var rows [][]string
		for i := range im.Readings[:min(most, len(im.Readings))] {
			s := &im.Readings[i]
			d65 := "–"
			if s.LabD65 != nil {
				d65 = w.Swatch(*s.LabD65)
			}
			at := s.TakenAt.String()
			if at == "" {
				at = "–"
			}
			rows = append(rows, []string{w.Text(s.Name), at, fmt.Sprintf("%.2f,%.2f,%.2f", s.Lab.L, s.Lab.A, s.Lab.B), fmt.Sprintf("%s/%d°", s.Illuminant, s.Observer), d65})
		}
		if err := w.Table([]term.Column{{Title: "name", Wrap: true}, {Title: "read at"}, {Title: "as measured"}, {Title: "for"}, {Title: "D65/2°"}}, rows); err != nil {
			return err
		}
		if n := len(im.Readings) - most; n > 0 {
			w.Printf(" and %d more\n", n)
		}
		p.showSkipped(im.Skipped)
		for _, s := range im.Warnings {
			w.Para("  ", "note: "+w.Text(s))
		}
		return nil
	})
}

// showSkipped lists rows that were not taken.
func (p *program) showSkipped(list []exchange.Skip) {
	const most = 10
	for i, s := range list {
		if i == most {
			p.out.Printf("  and %d more rows left out\n", len(list)-most)
			return
		}
		word := "left out"
		if s.Rejected {
			word = "cannot be right"
		}
		p.out.Para("    ", fmt.Sprintf("  line %d %s: %s", s.Line, word, p.out.Text(s.Reason)))
	}
}

func readingListCmd(p *program) *cobra.Command {
	var q app.ReadingsQuery
	cmd := &cobra.Command{
		Use: "list BATCH[/PORTION]", Short: "List readings with their numbers",
		Example: examples("lyefast reading list HD-01", "lyefast reading list HD-01/quay --struck"),
		Args:    takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			q.Target = args[0]
			r, err := p.session.Readings(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				w := p.out
				if len(r.Readings) == 0 {
					p.err.Printf("no reading yet; enter one with lyefast reading add\n")
				}
				rows := make([][]string, len(r.Readings))
				for i, x := range r.Readings {
					what := x.Words
					switch {
					case x.Struck != "":
						what = "struck: " + x.Struck
					case x.Early:
						what = strings.TrimSpace("cup " + what)
					case what == "":
						what = x.Original
					}
					rows[i] = []string{fmt.Sprint(x.ID), w.Text(x.Portion), fmt.Sprintf("%.1f", x.Day), swatchOr(w, x.Lab), w.Text(x.Method), w.Text(what)}
				}
				if err := w.Table([]term.Column{{Title: "no", Right: true}, {Title: "portion"}, {Title: "day", Right: true}, {Title: "D65/2°"}, {Title: "by"}, {Title: "", Wrap: true}}, rows); err != nil {
					return err
				}
				for _, s := range r.Sampled {
					w.Para("  ", w.Text(s)+" has many more readings; a sample over its time is listed, `lyefast reading export` writes all")
				}
				return nil
			})
		},
	}
	cmd.Flags().BoolVar(&q.Struck, "struck", false, "list struck ones too")
	return cmd
}

func readingStrikeCmd(p *program) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use: "strike NUMBER", Short: "Strike a reading out, with the reason; it stays in the book",
		Example: examples(`lyefast reading strike 14 --why "wrong jug"`, `lyefast reading strike 3 --why "lamp was cold"`),
		Args:    takes("NUMBER"),
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := strconv.ParseInt(args[0], 10, 64)
			if err != nil {
				return usage("see `lyefast reading list BATCH` for the numbers", "%q is no number of a reading", args[0])
			}
			r, err := p.session.StrikeReading(cmd.Context(), id, why)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.out.Printf("struck out reading %d of %s: %s\n", r.ID, p.out.Text(r.Batch+"/"+r.Portion), p.out.Text(r.Struck))
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&why, "why", "", "the `REASON`")
	return cmd
}

func readingExportCmd(p *program) *cobra.Command {
	var q app.ExportQuery
	var as, to string
	cmd := &cobra.Command{
		Use: "export [BATCH[/PORTION]]", Short: "Write readings as CSV, JSON or a Data Package",
		Long:    wrapHelp(`Writes to standard output, or into a new file with --to. A Data Package is a folder with the readings as CSV and a description of every column.`),
		Example: examples("lyefast reading export HD-01 > hd-01.csv", "lyefast reading export --as package --to readings"),
		Args:    cobra.MaximumNArgs(1), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				q.Target = args[0]
			}
			if p.json {
				as = "json"
			}
			t, err := p.session.ExportReadings(cmd.Context(), q)
			if err != nil {
				return err
			}
			return p.export(t, as, to)
		},
	}
	cmd.Flags().BoolVar(&q.Struck, "struck", false, "write struck ones too")
	cmd.Flags().StringVar(&as, "as", "csv", "`FORM`: csv, json or package")
	cmd.Flags().StringVar(&to, "to", "", "a new `FILE`, or folder for a package")
	return cmd
}

// export writes a table.
func (p *program) export(t *exchange.Table, as, to string) error {
	var out []byte
	var err error
	switch as {
	case "csv":
		if out, err = t.CSV(false); err != nil {
			return err
		}
	case "json":
		if out, err = t.JSON(); err != nil {
			return err
		}
	case "package":
		if to == "" {
			return usage("", "a package needs --to FOLDER")
		}
		files, err := exchange.Package(exchange.PackageInfo{Name: "lyefast-readings", Title: "Readings of soap over the cure", Created: p.session.Now()}, []exchange.Table{*t})
		if err != nil {
			return err
		}
		if err := os.Mkdir(to, 0o755); err != nil {
			return planFileError(to, err)
		}
		for _, f := range files {
			if err := writeNew(filepath.Join(to, f.Name), string(f.Data)); err != nil {
				return err
			}
		}
		p.err.Printf("wrote %s\n", p.err.Text(to))
		return nil
	default:
		return usage("", "--as %q: say csv, json or package", as)
	}
	if to != "" {
		if err := writeNew(to, string(out)); err != nil {
			return err
		}
		p.err.Printf("wrote %s\n", p.err.Text(to))
		return nil
	}
	_, err = p.out.Write(out)
	return err
}

func readingForecastCmd(p *program) *cobra.Command {
	var q app.SeriesQuery
	cmd := &cobra.Command{
		Use: "forecast FILE", Short: "Forecast colours straight from a file of dated readings",
		Long:    wrapHelp(`Needs no book. Columns: series (or portion), day or read_at, L, a, b. For each series it gives the probabilities of the patterns and the noise-free colour on a day, with its 5 % and 95 % points.`),
		Example: examples("lyefast reading forecast cure.csv", "lyefast reading forecast cure.csv --until 7 --day 42 --json"),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if q.Data, q.File, err = p.readInput(args[0], exchange.MaxBytes+1); err != nil {
				return err
			}
			if p.err.Terminal() {
				q.Progress = func(done, all int) { p.err.Printf("\r%d of %d series", done, all) }
			}
			w := p.out
			list := &jsonList{w: w}
			q.Each = func(s app.SeriesForecast) error {
				if !p.json {
					return nil
				}
				return list.add(s)
			}
			r, err := p.session.ForecastSeries(cmd.Context(), q)
			if p.err.Terminal() {
				p.err.Printf("\r                                \r")
			}
			if err != nil {
				return list.close(err)
			}
			p.warn(r.Warnings)
			if p.json {
				return list.close(nil)
			}
			rows := make([][]string, len(r.Series))
			for i, s := range r.Series {
				half := s.P95.Sub(s.P05).Scale(0.5)
				rows[i] = []string{w.Text(s.Series), fmt.Sprint(s.Readings), w.Swatch(s.Median), fmt.Sprintf("±%.1f ±%.1f ±%.1f", half.L, half.A, half.B), s.Pattern.Words()}
			}
			return w.Table([]term.Column{{Title: "series"}, {Title: "read", Right: true}, {Title: fmt.Sprintf("day %g", r.Day)}, {Title: "±L* ±a* ±b*"}, {Title: "pattern", Wrap: true}}, rows)
		},
	}
	cmd.Flags().Float64Var(&q.Until, "until", -1, "use the readings up to this `DAY` only")
	cmd.Flags().Float64Var(&q.Day, "day", 42, "the `DAY` to forecast")
	return cmd
}
