package main

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
)

// potlogPage is the clickable log. It loads nothing and sends nothing.
//
//go:embed batch_potlog.html
var potlogPage string

func batchLogCmd(p *program) *cobra.Command {
	var answers []string
	cmd := &cobra.Command{
		Use: "log BATCH[/BATTER]", Short: "Answer six questions after washing up",
		Long:    wrapHelp("Asks six questions about one pot; an empty line skips one, and \"about 6 min\" will do. Off a terminal the answers are given with --answer, in this order: " + strings.Join(app.LogQuestions, " ")),
		Example: examples("lyefast batch log HD-01", `lyefast batch log HD-01/slab --answer "33 °C" --answer "about 6 min" --answer "" --answer "riced after 9 min"`),
		Args:    takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(answers) == 0 {
				if !p.interactive() {
					return usage(fmt.Sprintf("see `%s --help`", cmd.CommandPath()), "there is no terminal to ask on; give the answers with --answer")
				}
				if _, err := p.session.PotLogOf(cmd.Context(), strings.FieldsFunc(args[0]+"/", func(r rune) bool { return r == '/' || r == ' ' })[0]); err != nil {
					return err
				}
				a := p.asker()
				for _, q := range app.LogQuestions {
					s := a.ask(q, "skip")
					if s == "skip" {
						s = ""
					}
					answers = append(answers, s)
				}
				if a.err != nil {
					return a.err
				}
			}
			r, err := p.session.LogBatch(cmd.Context(), app.LogQuery{Target: args[0], Answers: answers})
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.out.Printf("%s/%s: %s noted\n", p.out.Text(r.Batch), p.out.Text(r.Batter), count(len(r.Events), "event"))
				if r.Lesson != "" {
					p.out.Para("  ", "lesson kept: "+p.out.Text(r.Lesson))
				}
				return nil
			})
		},
	}
	cmd.Flags().StringArrayVar(&answers, "answer", nil, "an `ANSWER`, one flag for each question in order; \"\" skips")
	return cmd
}

func batchPotlogCmd(p *program) *cobra.Command {
	var html string
	cmd := &cobra.Command{
		Use: "potlog BATCH|PLAN", Short: "Write a log to fill in at the pot",
		Long:    wrapHelp("Hands are wet at the pot. Without --html this prints a log with blanks for the times; with it, a page for a phone or tablet whose large buttons stamp the time, which needs no network and saves a file for \"batch import-log\". A plan file does as well as a batch, so that the log is there before the pour."),
		Example: examples("lyefast batch potlog harbour.toml", "lyefast batch potlog HD-01 --html pot.html"),
		Args:    takes("BATCH"), ValidArgsFunction: p.completeBatch,
		RunE: func(cmd *cobra.Command, args []string) error {
			l, err := p.potLog(cmd, args[0])
			if err != nil {
				return err
			}
			if html != "" {
				var b bytes.Buffer
				t, err := template.New("potlog").Parse(potlogPage)
				if err != nil {
					return err
				}
				if err := t.Execute(&b, l); err != nil {
					return err
				}
				if err := writeNew(html, b.String()); err != nil {
					return err
				}
				p.err.Printf("wrote %s; open it in a browser, press, save, then: lyefast batch import-log FILE\n", p.err.Text(html))
				return nil
			}
			return p.show(l, func() error {
				p.showPotLog(l)
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&html, "html", "", "write the page with buttons into a new `FILE`")
	return cmd
}

// potLog makes a log of a plan file that is there, else of a batch.
func (p *program) potLog(cmd *cobra.Command, name string) (*app.PotLog, error) {
	if _, err := os.Stat(name); err == nil {
		data, file, err := p.readPlanFile(name)
		if err != nil {
			return nil, err
		}
		return app.PotLogOfPlan(data, file)
	}
	return p.session.PotLogOf(cmd.Context(), name)
}

func (p *program) showPotLog(l *app.PotLog) {
	w := p.out
	head := l.Title
	if l.Batch != "" {
		head = l.Batch + "  " + head
	}
	w.Printf("%s    date ____________  room ______ °C\n", w.Text(head))
	for _, b := range l.Batters {
		w.Printf("\n%s\n", w.Text(b))
		for _, k := range l.Kinds {
			w.Printf("  %-14s at ____:____   ______ °C   %s\n", k, strings.Repeat("_", 30))
		}
	}
	w.Printf("\nafter %-10s unmoulded ______  cut ______  gel none/partial/full\n", "")
}

func batchImportLogCmd(p *program) *cobra.Command {
	var code string
	cmd := &cobra.Command{
		Use: "import-log FILE", Short: "Take the file that a clickable log has saved",
		Long:    wrapHelp("Takes every event of the file or none. Taking the file again adds nothing."),
		Example: examples("lyefast batch import-log HD-01-log.json", "lyefast batch import-log pot-log.json --batch HD-01"),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			data, name, err := p.readInput(args[0], app.MaxLogFile+1)
			if err != nil {
				return err
			}
			r, err := p.session.ImportLog(cmd.Context(), data, name, code)
			if err != nil {
				return err
			}
			return p.show(r, func() error {
				p.out.Printf("%s: %s added, %d in the book already\n", p.out.Text(r.Batch), count(len(r.Added), "event"), r.Passed)
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&code, "batch", "", "the `BATCH` it is of, if it was made of a plan")
	return cmd
}

// readInput reads a file, or standard input for "-", up to a size. It gives the
// file's name without its folder.
func (p *program) readInput(name string, most int64) ([]byte, string, error) {
	if name == "-" {
		data, err := io.ReadAll(io.LimitReader(p.in, most))
		return data, "standard input", err
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, "", inputError(name, err)
	}
	defer f.Close()
	var data bytes.Buffer
	if info, err := f.Stat(); err == nil && info.Mode().IsRegular() {
		data.Grow(int(min(info.Size(), most)) + bytes.MinRead) // a large file is not moved while it grows
	}
	if _, err := data.ReadFrom(io.LimitReader(f, most)); err != nil {
		return nil, "", inputError(name, err)
	}
	return data.Bytes(), filepath.Base(name), nil
}

func inputError(name string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return &app.Error{Kind: app.ErrNotFound, Msg: fmt.Sprintf("there is no file %q", name)}
	}
	return planFileError(name, err)
}
