package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/adrg/xdg"
	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/term"
)

// clock is the program's only source of the time; tests stop it.
var clock = time.Now

// Exit statuses.
const (
	exitFailure  = 1
	exitUsage    = 2
	exitNotFound = 3
	exitFindings = 4
)

// program is what every command works with. The session is made when the flags
// are known, before a command's own function runs.
type program struct {
	in  io.Reader
	out *term.Writer // data
	err *term.Writer // the rest

	json bool
	book string

	session *app.App
	started bool // flags and arguments were understood; errors from here on are not about usage
}

// run is the whole program: arguments and streams in, exit status out.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	environ := os.Environ()
	p := &program{in: stdin, out: term.New(stdout, environ), err: term.New(stderr, environ)}
	root := newRoot(p, args...)
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(p.out)
	root.SetErr(p.err)
	err := root.ExecuteContext(ctx)
	if p.session != nil {
		if copied := p.session.Migrated(); copied != "" {
			p.err.Line("  ", "note: the book was brought to this program's format; a copy of it as it was is "+copied)
		}
		if closing := p.session.Close(); err == nil {
			err = closing
		}
	}
	return p.fail(err)
}

// newRoot builds the tree of commands, or as much of it as the arguments can reach:
// flags of commands that are not called cost a good part of a short command's time.
func newRoot(p *program, args ...string) *cobra.Command {
	root := &cobra.Command{
		Use:   "lyefast",
		Short: "A notebook for cold-process soap, with a forecast of its colours",
		Long: `A notebook for makers of cold-process soap. It keeps your colourants, fragrances, batches and readings in one file, the book, and forecasts what each colour will be after the cure.

Exit status: 0 done, 1 failure, 2 wrong usage, 3 not found, 4 findings at or above --fail-on.`,
		Example: examples(
			`lyefast plan check harbour.toml`,
			`lyefast colorant read-label "Mica (CI 77019), CI 77742"`),
		SilenceErrors:              true,
		SilenceUsage:               true,
		SuggestionsMinimumDistance: 2,
		Args:                       noSuchCommand,
		RunE:                       func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
		PersistentPreRunE: func(*cobra.Command, []string) error {
			p.started = true
			p.session = app.New(p.bookPath(), clock)
			p.session.OnLearning(func(portions int) {
				if p.err.Terminal() {
					p.err.Printf("learning from %d portions …\n", portions)
				}
			})
			return nil
		},
	}
	// Help texts are wrapped when they are shown, not each time a command is built.
	help := root.HelpFunc()
	root.SetHelpFunc(func(cmd *cobra.Command, args []string) {
		cmd.Long = term.Wrap(cmd.Long, "", term.Columns)
		help(cmd, args)
	})
	root.PersistentFlags().BoolVar(&p.json, "json", false, "write JSON instead of text")
	root.PersistentFlags().StringVar(&p.book, "book", "", "the book's `FILE` (default: $LYEFAST_BOOK, else in your data folder)")
	root.SetHelpCommand(helpCmd(p))
	for _, n := range nounsFor(args) {
		root.AddCommand(n.build(p))
	}
	return root
}

// topNoun is one command under the root: its name and aliases, and how to build it.
type topNoun struct {
	names []string
	build func(*program) *cobra.Command
}

var topNouns = []topNoun{
	{[]string{"batch"}, batchCmd},
	{[]string{"book"}, bookCmd},
	{[]string{"card"}, cardCmd},
	{[]string{"colorant", "colourant"}, colorantCmd},
	{[]string{"colour", "color"}, colourCmd},
	{[]string{"demo"}, demoCmd},
	{[]string{"due"}, dueCmd},
	{[]string{"fragrance", "scent"}, fragranceCmd},
	{[]string{"oil", "fat"}, oilCmd},
	{[]string{"plan"}, planCmd},
	{[]string{"reading"}, readingCmd},
	{[]string{"serve"}, serveCmd},
	{[]string{"shelf"}, shelfCmd},
	{[]string{"stabilizer", "stabiliser"}, stabilizerCmd},
	{[]string{"undo"}, undoCmd},
	{[]string{"version"}, versionCmd},
}

// nounsFor picks the commands that the arguments may call: the one they name first,
// or all of them where they name none, ask for help, or complete a line.
func nounsFor(args []string) []topNoun {
	for i := 0; i < len(args); i++ {
		if args[i] == "--book" {
			i++ // its value is no command
			continue
		}
		if strings.HasPrefix(args[i], "-") {
			continue
		}
		for _, n := range topNouns {
			if slices.Contains(n.names, args[i]) {
				return []topNoun{n}
			}
		}
		break
	}
	return topNouns
}

// bookPath is --book, else LYEFAST_BOOK, else the usual place for a user's data.
func (p *program) bookPath() string {
	if p.book != "" {
		return p.book
	}
	if path := os.Getenv("LYEFAST_BOOK"); path != "" {
		return path
	}
	return filepath.Join(xdg.DataHome, "lyefast", "book.db")
}

// fail tells an error with its hint, and gives the exit status for its kind.
// This is the only place that maps the two.
func (p *program) fail(err error) int {
	if err == nil {
		return 0
	}
	var found findings
	if errors.As(err, &found) {
		return exitFindings
	}
	p.err.Line("  ", "lyefast: "+err.Error())
	var adviser interface{ Hint() string }
	if errors.As(err, &adviser) && adviser.Hint() != "" {
		p.err.Line("  ", "hint: "+adviser.Hint())
	}
	switch {
	case !p.started, errors.Is(err, app.ErrInvalid):
		return exitUsage
	case errors.Is(err, app.ErrNotFound):
		return exitNotFound
	}
	return exitFailure
}

// findings is how a command ends whose findings reach --fail-on: they have been
// told already, so nothing more is.
type findings struct{}

func (findings) Error() string { return "findings at or above --fail-on" }

// usage is a mistake in how a command was called.
func usage(tip, format string, args ...any) error {
	return &app.Error{Kind: app.ErrInvalid, Msg: fmt.Sprintf(format, args...), Tip: tip}
}

// show writes a result, as JSON under --json, else by text.
func (p *program) show(result any, text func() error) error {
	if p.json {
		return p.out.JSON(result)
	}
	return text()
}

// noun is a command that only holds others; without a verb it shows its help.
func noun(cmd *cobra.Command, verbs ...*cobra.Command) *cobra.Command {
	cmd.Args = noSuchCommand
	cmd.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
	cmd.SuggestionsMinimumDistance = 2
	cmd.AddCommand(verbs...)
	return cmd
}

// noSuchCommand refuses a word that is no command, and suggests near ones.
func noSuchCommand(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	tip := fmt.Sprintf("see `%s --help`", cmd.CommandPath())
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		tip = fmt.Sprintf("did you mean `%s %s`?", cmd.CommandPath(), strings.Join(near, "` or `"+cmd.CommandPath()+" "))
	}
	return usage(tip, "%q is no command of %s", args[0], cmd.CommandPath())
}

// takes says which arguments a command needs, by their names in the help.
func takes(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		tip := fmt.Sprintf("see `%s --help`; a name of several words needs quotes", cmd.CommandPath())
		switch {
		case len(args) < len(names):
			return usage(tip, "%s: %s is missing", cmd.CommandPath(), strings.Join(names[len(args):], " and "))
		case len(args) > len(names) && len(names) == 0:
			return usage(tip, "%s takes no argument, got %q", cmd.CommandPath(), args[0])
		case len(args) > len(names):
			return usage(tip, "%s takes %s, got %q too", cmd.CommandPath(), strings.Join(names, " and "), args[len(names)])
		}
		return nil
	}
}

// examples sets example lines as cobra shows them.
func examples(lines ...string) string { return "  " + strings.Join(lines, "\n  ") }

// wrapHelp breaks the paragraphs of a help text to the screen.
func wrapHelp(text string) string { return term.Wrap(text, "", term.Columns) }
