package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"lyefast/internal/app"
)

func colourCmd(p *program) *cobra.Command {
	return noun(&cobra.Command{
		Use: "colour", Aliases: []string{"color"},
		Short:   "Compare, convert and name colours",
		Long:    `A colour is a hex like "#4a6180" or L*, a*, b* like "42.1,-3.2,-24" (CIELAB, D65, 2°). A hex needs quotes, or the shell takes it for a remark; L*, a*, b* that begin with a minus sign go with --lab.`,
		Example: examples(`lyefast colour diff "#4a6180" "#46607f"`, `lyefast colour name --lab 42.1,-3.2,-24`),
	},
		colourDiffCmd(p), colourConvertCmd(p), colourNameCmd(p),
	)
}

// colours are the colours of a command, from its arguments and from --lab, in the
// order of the help: arguments first.
func colours(cmd *cobra.Command, args, lab []string, want int) ([]string, error) {
	all := append(append([]string{}, args...), lab...)
	if len(all) != want {
		return nil, usage(fmt.Sprintf("see `%s --help`", cmd.CommandPath()), "%s takes %s, got %d", cmd.CommandPath(),
			map[int]string{1: "one colour", 2: "two colours"}[want], len(all))
	}
	return all, nil
}

// colourVerb is a command on a fixed number of colours.
func colourVerb(cmd *cobra.Command, want int, run func([]string) error) *cobra.Command {
	var lab []string
	cmd.Flags().StringArrayVar(&lab, "lab", nil, "a colour as `L,a,b`, in place of an argument")
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		all, err := colours(cmd, args, lab, want)
		if err != nil {
			return err
		}
		return run(all)
	}
	return cmd
}

func colourDiffCmd(p *program) *cobra.Command {
	return colourVerb(&cobra.Command{
		Use: "diff A B", Short: "Say how far two colours lie apart",
		Long:    "ΔE00 is CIEDE2000, the difference as the eye judges it; ΔE*ab is the plain distance; the grey scale is that of textile testing (ISO 105-A05): 5 is no change, 1 a severe one.",
		Example: examples(`lyefast colour diff "#4a6180" "#46607f"`, `lyefast colour diff --lab 62.1,-3.2,14 --lab 60,-2,18 --json`),
	}, 2, func(c []string) error {
		d, err := app.ColourDiff(c[0], c[1])
		if err != nil {
			return err
		}
		return p.show(d, func() error {
			for _, c := range []app.Colour{d.A, d.B} {
				p.out.Printf("%s  %s\n", p.out.Swatch(c.Lab), c.Name)
			}
			p.out.Field("ΔE00", fmt.Sprintf("%.2f, %s", d.DeltaE00, d.Words), column)
			p.out.Field("ΔE*ab", fmt.Sprintf("%.2f (lightness %+.2f, chroma %+.2f, hue %+.2f)", d.DeltaE76, d.DeltaL, d.DeltaC, d.DeltaH), column)
			p.out.Field("grey scale", fmt.Sprintf("%s (%.2f)", d.GreyStep, d.GreyScale), column)
			return nil
		})
	})
}

func colourConvertCmd(p *program) *cobra.Command {
	return colourVerb(&cobra.Command{
		Use: "convert COLOUR", Short: "Write a colour in other notations",
		Example: examples(`lyefast colour convert "#7a4f86"`, `lyefast colour convert --lab 62.1,-3.2,14 --json`),
	}, 1, func(c []string) error {
		f, err := app.ColourConvert(c[0])
		if err != nil {
			return err
		}
		return p.show(f, func() error {
			p.out.Printf("%s  %s\n", p.out.Swatch(f.Lab), f.Name)
			p.out.Field("L*a*b*", fmt.Sprintf("%.2f, %.2f, %.2f", f.Lab.L, f.Lab.A, f.Lab.B), column)
			p.out.Field("L*C*h", fmt.Sprintf("%.2f, %.2f, %.1f°", f.LCh[0], f.LCh[1], f.LCh[2]), column)
			p.out.Field("XYZ", fmt.Sprintf("%.3f, %.3f, %.3f (white has Y 100)", f.XYZ[0], f.XYZ[1], f.XYZ[2]), column)
			p.out.Field("sRGB", fmt.Sprintf("%d, %d, %d", f.RGB[0], f.RGB[1], f.RGB[2]), column)
			if !f.InSRGB {
				p.out.Para("  ", "no screen of the sRGB kind shows this colour: the hex is the nearest with its lightness and hue")
			}
			return nil
		})
	})
}

func colourNameCmd(p *program) *cobra.Command {
	return colourVerb(&cobra.Command{
		Use: "name COLOUR", Short: "Name a colour in plain words",
		Long:    "The name is one of the 267 of the ISCC–NBS system, the one whose middle is nearest.",
		Example: examples(`lyefast colour name "#7a4f86"`, `lyefast colour name --lab 62.1,-3.2,14 --json`),
	}, 1, func(c []string) error {
		n, err := app.ColourName(c[0])
		if err != nil {
			return err
		}
		return p.show(n, func() error {
			p.out.Printf("%s  %s\n", p.out.Swatch(n.Lab), n.Name)
			p.out.Printf("%s  the middle of that name, ΔE00 %.1f away\n", p.out.Swatch(n.CentroidLab), n.DeltaE00)
			return nil
		})
	})
}
