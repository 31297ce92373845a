package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/cie"
	"lyefast/internal/fragrance"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

// shelfNoun is one noun of the shelf: the verbs are the same for all of them.
type shelfNoun[T any] struct {
	use     string // on the command line
	aliases []string
	noun    string // in prose
	short   string
	long    string
	// examples by verb, two each; "" is the noun itself.
	examples map[string][]string
	// flags declares what can be said of one.
	flags func(*given[T])
	name  func(*T) *string

	add    func(*app.App, context.Context, T) (T, error)
	list   func(*app.App, context.Context, bool) ([]T, error)
	get    func(*app.App, context.Context, string) (T, error)
	edit   func(*app.App, context.Context, string, func(*T) error) (app.Edited[T], error)
	retire func(*app.App, context.Context, string, bool) (app.Edited[T], error)

	// said gives what is shown of one, as JSON.
	said func(T) any
	// whole gives what "show" says of one beyond that, as JSON and as text; nil = nothing more.
	whole func(*program, context.Context, T) (any, func(), error)
	// columns and row make the list.
	columns []term.Column
	row     func(*program, T) []string
	// print shows one.
	print func(*program, T)
}

// command builds the noun with its verbs and any further ones.
func (n shelfNoun[T]) command(p *program, more ...*cobra.Command) *cobra.Command {
	verbs := []*cobra.Command{n.addCmd(p), n.listCmd(p), n.showCmd(p), n.editCmd(p), n.retireCmd(p)}
	return noun(&cobra.Command{
		Use: n.use, Aliases: n.aliases, Short: n.short, Long: n.long, Example: examples(n.examples[""]...),
	}, append(verbs, more...)...)
}

func (n shelfNoun[T]) addCmd(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use: "add NAME", Short: "Put a " + n.noun + " on the shelf", Example: examples(n.examples["add"]...),
		Args: takes("NAME"),
	}
	g := newGiven(cmd, n.flags)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		var v T
		*n.name(&v) = args[0]
		if err := g.apply(&v); err != nil {
			return err
		}
		v, err := n.add(p.session, cmd.Context(), v)
		if err != nil {
			return err
		}
		return p.show(n.said(v), func() error {
			n.print(p, v)
			return nil
		})
	}
	return cmd
}

func (n shelfNoun[T]) listCmd(p *program) *cobra.Command {
	var retired bool
	cmd := &cobra.Command{
		Use: "list", Short: "List the shelf's " + n.noun + "s", Example: examples(n.examples["list"]...),
		Args: takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			list, err := n.list(p.session, cmd.Context(), retired)
			if err != nil {
				return err
			}
			said := make([]any, len(list))
			for i, v := range list {
				said[i] = n.said(v)
			}
			return p.show(said, func() error {
				if len(list) == 0 {
					p.err.Printf("no %s is on the shelf; put one there with `lyefast %s add`\n", n.noun, n.use)
				}
				rows := make([][]string, len(list))
				for i, v := range list {
					rows[i] = n.row(p, v)
				}
				return p.out.Table(n.columns, rows)
			})
		},
	}
	cmd.Flags().BoolVar(&retired, "retired", false, "list retired ones too")
	return cmd
}

func (n shelfNoun[T]) showCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use: "show NAME", Short: "Show what is known of a " + n.noun, Example: examples(n.examples["show"]...),
		Args: takes("NAME"), ValidArgsFunction: n.complete(p),
		RunE: func(cmd *cobra.Command, args []string) error {
			v, err := n.get(p.session, cmd.Context(), args[0])
			if err != nil {
				return err
			}
			said, more := n.said(v), func() {}
			if n.whole != nil {
				if said, more, err = n.whole(p, cmd.Context(), v); err != nil {
					return err
				}
			}
			return p.show(said, func() error {
				n.print(p, v)
				more()
				return nil
			})
		},
	}
}

func (n shelfNoun[T]) editCmd(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use: "edit NAME", Short: "Change what is known of a " + n.noun, Example: examples(n.examples["edit"]...),
		Long: `Only what is given is changed; an empty value ("") takes one back to not stated. What it was before stays in the journal: lyefast undo brings it back.`,
		Args: takes("NAME"), ValidArgsFunction: n.complete(p),
	}
	g := newGiven(cmd, func(g *given[T]) {
		g.text("name", "a new `NAME`", func(v *T, s string) error {
			*n.name(v) = s
			return nil
		})
		n.flags(g)
	})
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if !g.any() {
			return usage(fmt.Sprintf("see `%s --help`", cmd.CommandPath()), "say with a flag what to change")
		}
		e, err := n.edit(p.session, cmd.Context(), args[0], g.apply)
		return showEdited(p, e, *n.name(&e.After), err)
	}
	return cmd
}

func (n shelfNoun[T]) retireCmd(p *program) *cobra.Command {
	var back bool
	cmd := &cobra.Command{
		Use: "retire NAME", Short: "Take a " + n.noun + " off the lists, or bring it back", Example: examples(n.examples["retire"]...),
		Long: "A retired " + n.noun + " is not listed any more. Its history stays, and old plans still find it.",
		Args: takes("NAME"), ValidArgsFunction: n.complete(p),
		RunE: func(cmd *cobra.Command, args []string) error {
			e, err := n.retire(p.session, cmd.Context(), args[0], back)
			return showEdited(p, e, *n.name(&e.After), err)
		},
	}
	cmd.Flags().BoolVar(&back, "back", false, "bring it back")
	return cmd
}

// complete offers the names on the shelf to a shell. It keeps quiet about failures:
// a shell would show them in the middle of what is being typed.
func (n shelfNoun[T]) complete(p *program) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		session := app.New(p.bookPath(), clock)
		defer session.Close()
		list, err := n.list(session, cmd.Context(), false)
		if err != nil {
			return nil, cobra.ShellCompDirectiveError
		}
		names := make([]string, len(list))
		for i := range list {
			names[i] = *n.name(&list[i])
		}
		return names, cobra.ShellCompDirectiveNoFileComp
	}
}

// showEdited tells what an edit changed, before and after.
func showEdited[T any](p *program, e app.Edited[T], name string, err error) error {
	if err != nil {
		return err
	}
	return p.show(e, func() error {
		if len(e.Changed) == 0 {
			p.out.Printf("%s: nothing changed, it was so already\n", p.out.Text(name))
			return nil
		}
		p.out.Printf("%s\n", p.out.Text(name))
		for _, c := range e.Changed {
			p.out.Field("  "+strings.ReplaceAll(c.Field, "_", " "), p.plain(c.Before)+" → "+p.plain(c.After), 24)
		}
		return nil
	})
}

// plain writes a field's value for people.
func (p *program) plain(v any) string {
	const none = "not stated"
	switch x := v.(type) {
	case string:
		if x == "" {
			return none
		}
		return p.out.Text(x)
	case *unit.Percent:
		if x == nil {
			return none
		}
		return x.String()
	case *unit.Celsius:
		if x == nil {
			return none
		}
		return fmt.Sprintf("%.4g °C", float64(*x))
	case *cie.Lab:
		if x == nil {
			return none
		}
		return p.out.Swatch(*x)
	case *fragrance.MaxUse:
		if x == nil {
			return none
		}
		return maxUse(*x)
	case []fragrance.Share:
		if len(x) == 0 {
			return none
		}
		parts := make([]string, len(x))
		for i, s := range x {
			parts[i] = p.out.Text(s.Name) + " " + s.Percent.String()
		}
		return strings.Join(parts, ", ")
	case []string:
		if len(x) == 0 {
			return none
		}
		return p.out.Text(strings.Join(x, "; "))
	case bool:
		if x {
			return "yes"
		}
		return "no"
	case unit.Grams, unit.Percent:
		return fmt.Sprint(x)
	case unit.GramsPerKg:
		return perKg(x)
	}
	return p.out.Text(fmt.Sprint(v))
}

// perKg writes a dose per kg of oils.
func perKg(d unit.GramsPerKg) string { return fmt.Sprintf("%.3g g/kg", float64(d)) }

// maxUse writes a certificate's ceiling.
func maxUse(m fragrance.MaxUse) string {
	s := m.Percent.String() + " of the finished product"
	if m.Category != "" {
		s += ", category " + m.Category
	}
	if m.Amendment != "" {
		s += ", amendment " + m.Amendment
	}
	if m.Date != "" {
		s += ", certificate of " + m.Date
	}
	return s
}

// given collects what flags say of a T. A flag that was not used changes nothing.
type given[T any] struct {
	cmd    *cobra.Command
	names  []string
	effect []func(*T) error
}

func newGiven[T any](cmd *cobra.Command, declare func(*given[T])) *given[T] {
	g := &given[T]{cmd: cmd}
	declare(g)
	return g
}

// any tells whether one of the flags was used.
func (g *given[T]) any() bool {
	for _, name := range g.names {
		if g.cmd.Flags().Changed(name) {
			return true
		}
	}
	return false
}

// apply brings what was given into v, in the order of declaration.
func (g *given[T]) apply(v *T) error {
	for i, name := range g.names {
		if !g.cmd.Flags().Changed(name) {
			continue
		}
		if err := g.effect[i](v); err != nil {
			return flagError(name, err)
		}
	}
	return nil
}

// flagError says which flag could not be understood.
func flagError(name string, err error) error {
	var tip string
	var adviser interface{ Hint() string }
	if errors.As(err, &adviser) {
		tip = adviser.Hint()
	}
	return usage(tip, "--%s: %v", name, err)
}

func (g *given[T]) add(name string, effect func(*T) error) {
	g.names = append(g.names, name)
	g.effect = append(g.effect, effect)
}

// text declares a flag with one value.
func (g *given[T]) text(name, usage string, put func(*T, string) error) {
	s := g.cmd.Flags().String(name, "", usage)
	g.add(name, func(v *T) error { return put(v, strings.TrimSpace(*s)) })
}

// words declares a flag whose value is kept as it is.
func (g *given[T]) words(name, usage string, field func(*T) *string) {
	g.text(name, usage, func(v *T, s string) error {
		*field(v) = s
		return nil
	})
}

// each declares a flag that can be given several times; together they are the list.
func (g *given[T]) each(name, usage string, put func(*T, []string) error) {
	list := g.cmd.Flags().StringArray(name, nil, usage)
	g.add(name, func(v *T) error {
		var kept []string
		for _, s := range *list {
			if s = strings.TrimSpace(s); s != "" {
				kept = append(kept, s)
			}
		}
		return put(v, kept)
	})
}

// unknown tells the spellings of a value that is taken back to not stated.
func unknown(s string) bool { return s == "" || strings.EqualFold(s, "unknown") }

// share declares a flag for a share in %, or "unknown".
func (g *given[T]) share(name, usage string, field func(*T) **unit.Percent) {
	g.text(name, usage, func(v *T, s string) error {
		if unknown(s) {
			*field(v) = nil
			return nil
		}
		x, err := unit.ParsePercent(s)
		if err != nil {
			return err
		}
		*field(v) = &x
		return nil
	})
}

// dose declares a flag for a dose per kg of oils; "" is the usual one.
func (g *given[T]) dose(name, usage string, field func(*T) *unit.GramsPerKg) {
	g.text(name, usage, func(v *T, s string) (err error) {
		*field(v) = 0
		if !unknown(s) {
			*field(v), err = parsePerKg(s)
		}
		return err
	})
}

// parsePerKg reads "5 g/kg" or "0.5 %", both of the oils.
func parsePerKg(s string) (unit.GramsPerKg, error) {
	v, u, err := unit.Split(s)
	switch {
	case err != nil:
		return 0, err
	case v < 0:
		return 0, fmt.Errorf("%q is negative", s)
	case u == "g/kg":
		return unit.GramsPerKg(v), nil
	case u == "%":
		return unit.GramsPerKg(10 * v), nil
	}
	return 0, fmt.Errorf("%q is not a dose of the oils; write it like \"5 g/kg\" or \"0.5 %%\"", s)
}
