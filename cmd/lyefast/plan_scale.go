package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
	"lyefast/internal/term"
	"lyefast/internal/unit"
)

func planScaleCmd(p *program) *cobra.Command {
	var oils, total, left, out string
	var moulds []string
	cmd := &cobra.Command{
		Use:     "scale FILE",
		Short:   "Give a plan in another size",
		Long:    wrapHelp(`Scales all pots of a plan together to a mass of oils, a mass of batter, one or more moulds, or what is left of one oil. Shares, parts, lye discount, lye concentration and rates stay. With --out the scaled plan is written to a new file (comments of the old one are not kept).`),
		Example: examples("lyefast plan scale harbour.toml --oils 1.5kg", `lyefast plan scale harbour.toml --mould "30 x 8 x 6 cm" --out big.toml`, `lyefast plan scale harbour.toml --left "coconut=300 g"`),
		Args:    takes("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			q, err := scaleQuery(oils, total, left, moulds)
			if err != nil {
				return err
			}
			if q.Data, q.File, err = p.readPlanFile(args[0]); err != nil {
				return err
			}
			s, err := p.session.ScalePlan(cmd.Context(), q)
			if err != nil {
				return err
			}
			if out != "" {
				if err := writeNew(out, s.Plan); err != nil {
					return err
				}
				p.err.Printf("wrote %s\n", p.err.Text(out))
			}
			return p.show(s, func() error { return p.showScaled(s) })
		},
	}
	cmd.Flags().StringVar(&oils, "oils", "", "mass of oils over all pots, like `\"1500 g\"`")
	cmd.Flags().StringVar(&total, "total", "", "mass of batter over all pots, like `\"2 kg\"`")
	cmd.Flags().StringArrayVar(&moulds, "mould", nil, "inside of a mould to fill, like `\"25 x 8 x 7 cm\"`; may be given several times")
	cmd.Flags().StringVar(&left, "left", "", "an oil to use up, like `\"coconut=300 g\"`")
	cmd.Flags().StringVar(&out, "out", "", "write the scaled plan to this new `FILE`")
	return cmd
}

// scaleQuery reads the one size that was asked for.
func scaleQuery(oils, total, left string, moulds []string) (q app.ScaleQuery, err error) {
	n := 0
	for _, given := range []bool{oils != "", total != "", left != "", len(moulds) > 0} {
		if given {
			n++
		}
	}
	if n != 1 {
		return q, usage("give one of --oils, --total, --mould and --left", "%d sizes are given, one is needed", n)
	}
	switch {
	case oils != "":
		if q.Oils, err = unit.ParseMass(oils); err == nil && q.Oils <= 0 {
			err = errors.New("must be more than 0 g")
		}
		if err != nil {
			return q, usage("", "--oils: %v", err)
		}
	case total != "":
		if q.Total, err = unit.ParseMass(total); err == nil && q.Total <= 0 {
			err = errors.New("must be more than 0 g")
		}
		if err != nil {
			return q, usage("", "--total: %v", err)
		}
	case left != "":
		name, grams, ok := strings.Cut(left, "=")
		if q.Left, err = unit.ParseMass(grams); !ok || err != nil || strings.TrimSpace(name) == "" {
			return q, usage(`write it like --left "coconut=300 g"`, "--left: %q is not understood", left)
		}
		q.LeftOil = strings.TrimSpace(name)
	default:
		for _, m := range moulds {
			v, err := unit.ParseBox(m)
			if err != nil {
				return q, usage("", "--mould: %v", err)
			}
			q.Moulds = append(q.Moulds, v)
		}
	}
	return q, nil
}

// writeNew writes a file that must not exist yet.
func writeNew(name, text string) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	switch {
	case errors.Is(err, fs.ErrExist):
		return usage("choose another name, or remove it yourself", "%q exists and is left as it is", name)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("write %q: no permission", name)
	case err != nil:
		return fmt.Errorf("write plan: %w", err)
	}
	if _, err := f.WriteString(text); err != nil {
		f.Close()
		return fmt.Errorf("write %q: %w", name, err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("write %q: %w", name, err)
	}
	return nil
}

func (p *program) showScaled(s *app.Scaled) error {
	p.out.Printf("%s, scaled by %.4g\n\n", p.out.Bold(p.out.Text(s.Title)), s.Factor)
	var rows [][]string
	for i, b := range s.Before {
		a := s.After[i]
		change := func(x, y unit.Grams) string {
			if x <= 0 && y <= 0 {
				return "–"
			}
			return fmt.Sprintf("%.1f → %.1f", x, y)
		}
		rows = append(rows, []string{p.out.Text(b.Name), change(b.Oils, a.Oils), change(b.NaOH, a.NaOH), change(b.KOH, a.KOH), change(b.Water, a.Water), change(b.Fragrance, a.Fragrance),
			fmt.Sprintf("%.1f → %.1f %%", b.Discount, a.Discount)})
	}
	return p.out.Table([]term.Column{{Title: "pot"}, {Title: "oils g", Right: true}, {Title: "NaOH g", Right: true}, {Title: "KOH g", Right: true}, {Title: "water g", Right: true}, {Title: "scent g", Right: true}, {Title: "discount", Right: true}}, rows)
}
