package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lyefast/internal/term"
)

// topic is a text of the help that belongs to no command.
type topic struct {
	name  string
	also  []string
	title string
	// paragraphs are wrapped; one that begins with a blank is a line of a list.
	paragraphs []string
	sources    []string
}

// topics explain what the commands take for granted. Every number has its source at
// the end of its topic; "common practice" means that none was found.
var topics = []topic{
	{
		name: "cure", title: "What happens to a bar after the pour, and when its colour can be judged",
		paragraphs: []string{
			"In the first day or two the lye is used up: the batter is strongly alkaline, pH 12 to 13, and the bar ends near 9 to 10.5 [1, 2]. It never becomes neutral. In the weeks after, water leaves: the bar grows lighter in weight, harder and paler.",
			"That is why a colour has three lives. In the batter some colourants look wrong because they are ionised; they come back once the lye is gone, mostly by the second or third day. Others are changed for good within hours and stay where they land. A few go on: they fade over weeks, or bleed into their neighbours.",
			"So do not judge on the first day. Readings that tell these apart:",
			" about 24 h, at the cut: what the lye did",
			" day 3: whether it came back, or where it landed",
			" day 7 and day 28: whether it stays; between 3 and 28 days a colour that loses 13 % of its chroma or more is fading, not settled [3]",
			" day 42, and day 180 under a heavy stabiliser or in light: vanillin browns for weeks, and a stabiliser delays more than it prevents",
			"Keep a bare bar of the same batch beside the others, without colourant and scent. Bars whiten as they dry; what the bare bar does too is not the colourant's doing.",
			"Weigh a bar when you read it: lyefast batch weigh. When its weight has nearly stopped falling the water has gone. A low pH is no proof that a bar is safe; free alkali is what a titration finds, and local rules say who may sell what.",
		},
		sources: []string{
			"1 J. Tarun et al., Indian J. Dermatol. 59 (2014) 442-444: most bathing soaps pH 9 to 10",
			"2 10 to 10.5 for cold-process bars, and the pH of batter: common practice, no paper found",
			"3 a rule of this program: a slope of 0.005 a day in the logarithm of chroma; checked on made-up series only",
		},
	},
	{
		name: "colour", also: []string{"color"}, title: "How colours are written here, and what a difference means",
		paragraphs: []string{
			"A colour is three numbers: L* from black 0 to white 100, a* from green (minus) to red, b* from blue (minus) to yellow [1]. They stand for daylight, D65, and a small field of view, 2°. A reading under another light is kept as measured and converted beside it. A hex code is for the screen; small differences drown in it.",
			"ΔE00 is how different two colours look [2]. Half of all people in a viewing booth saw a difference of 0.8, and half no longer took 1.8 for a match; from 3.6 it is plain, from 5.4 gross [3, 4]. These figures are from dental ceramic: nobody seems to have published any for soap. Sunlight, a wet bar and a rough cut are worth more than 1.8.",
			"Every forecast has a band: the settled colour lies in it nine times of ten. A wide band means that little is known, not that much will happen. The verdicts:",
			" stable: it holds",
			" shifting: it moves, and you can plan on it: it comes back, or lands on the same other colour each time",
			" unreliable: it fades, bleeds, is destroyed, or lands elsewhere each time",
			" unknown: not enough to say",
			"Two batches of yours that agree within 5 outrank the label, the label outranks the supplier's claim. Two colours in one bar do not add up like paints: each absorbs and scatters at every wavelength, and the mix is worked out there.",
			"A phone's picture without a colour chart beside the bar was off by more than 10 on average [5]: enough to tell a colour, not to tell a drift.",
		},
		sources: []string{
			"1 ISO/CIE 11664-4, CIELAB",
			"2 ISO/CIE 11664-6, CIEDE2000; all 34 pairs of Sharma, Wu and Dalal (2005) are tested",
			"3 R. D. Paravina et al., J. Esthet. Restor. Dent. 27 (2015) S1-S9: 175 observers, 0.8 and 1.8",
			"4 the same author, ibid. 31 (2019), for 3.6 and 5.4: from memory",
			"5 from the abstract of a comparison of phone pictures with an instrument; a chart halved it",
		},
	},
	{
		name: "lye", title: "How much lye, how sure that is, and how to handle it",
		paragraphs: []string{
			"Each oil needs its own amount of alkali, in mg of potassium hydroxide a gram: the saponification value. Standards give a range, since no two harvests agree: coconut 248 to 265, olive 184 to 196 [1]. lyefast works with the middle of the range. Sodium hydroxide is that times 40.00/56.11: for coconut 256.5 mg becomes 0.183 g of sodium hydroxide a gram of oil. A value on the certificate of your own lot outranks the range.",
			"The discount, often called superfat, is the share of lye left out, so that some oil stays. Because of the range a discount of 5 % is really an interval of a few per cent to either side; plan check shows it for every pot. Where its low end is not positive, free lye is possible, and it says so; where the middle is not positive it refuses.",
			"The purity of the alkali counts, and so does what binds lye in the pot: citric acid takes 3 mol of sodium hydroxide a mol, 0.62 g a gram [2]; free acids, vanillin and metabisulfite take some too.",
			"The concentration is alkali in alkali and water together: 33 % is one part alkali to two parts water.",
			"Handling. Sodium hydroxide causes severe skin burns and eye damage (H314) [3].",
			" goggles that close, gloves, long sleeves; no children or animals in the room",
			" lye into water, a little at a time, never water into lye: it boils and spits",
			" good air: do not breathe the vapour over the jug",
			" no aluminium, zinc or unknown metal: it makes hydrogen, which burns",
			" on skin: water at once, for long; in the eye: rinse at once and call for help",
			" label the jug, keep it out of reach, and never in a drinking vessel",
			"Your country's rules, and the sheet that came with the alkali, stand before all of this.",
		},
		sources: []string{
			"1 Codex Alimentarius CXS 210-1999 (named oils) and CXS 33-1981 (olive oils); not every number could be read in the original: see oil show",
			"2 from molar masses: 192.12 g/mol citric acid, 40.00 g/mol sodium hydroxide",
			"3 Regulation (EC) No 1272/2008: sodium hydroxide, Skin Corr. 1A, H314; the order of mixing and first aid: common practice",
		},
	},
}

func findTopic(name string) *topic {
	i := slices.IndexFunc(topics, func(t topic) bool { return t.name == name || slices.Contains(t.also, name) })
	if i < 0 {
		return nil
	}
	return &topics[i]
}

// text is the topic to the width of a screen.
func (t *topic) text() string {
	var b strings.Builder
	b.WriteString(term.Wrap(t.title, "", term.Columns) + "\n")
	for _, s := range t.paragraphs {
		if item, ok := strings.CutPrefix(s, " "); ok {
			b.WriteString("  " + term.Wrap("- "+item, "    ", term.Columns-2) + "\n")
		} else {
			b.WriteString("\n" + term.Wrap(s, "", term.Columns) + "\n")
		}
	}
	b.WriteString("\nSources\n")
	for _, s := range t.sources {
		b.WriteString("  " + term.Wrap(s, "    ", term.Columns-2) + "\n")
	}
	return b.String()
}

// helpCmd shows a topic, or the help of a command.
func helpCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use: "help [COMMAND | TOPIC]", Short: "Help about a command, or about cure, colour or lye",
		Example: examples("lyefast help plan check", "lyefast help cure"),
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			if len(args) == 1 {
				if t := findTopic(strings.ToLower(args[0])); t != nil {
					return p.show(struct {
						Topic   string   `json:"topic"`
						Title   string   `json:"title"`
						Text    string   `json:"text"`
						Sources []string `json:"sources"`
					}{t.name, t.title, strings.Join(t.paragraphs, "\n"), t.sources}, func() error {
						p.out.Printf("%s", t.text())
						if sub, _, err := root.Find(args); err == nil && sub != root {
							p.out.Printf("\nFor the command, see %s --help\n", sub.CommandPath())
						}
						return nil
					})
				}
			}
			found, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 && found.HasSubCommands() || found == nil {
				return usage("see `lyefast --help`; the topics are cure, colour and lye", "there is no help about %q", strings.Join(args, " "))
			}
			found.InitDefaultHelpFlag()
			return found.Help()
		},
	}
}
