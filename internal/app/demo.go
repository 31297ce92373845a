package app

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/colorants"
	"lyefast/internal/fragrance"
	"lyefast/internal/unit"
)

//go:embed demo_plan.toml
var demoPlan string

// Demo is the invented season that was written.
type Demo struct {
	Book     string     `json:"book"`
	Batches  int        `json:"batches"`
	Readings int        `json:"readings"`
	Lesson   string     `json:"lesson"`
	Walk     []DemoStep `json:"walk"`
}

// DemoStep is a command to try, and what it shows.
type DemoStep struct {
	Args []string `json:"args"`
	What string   `json:"what"`
}

const (
	demoBatches = 12
	// demoHard is the batch that goes wrong; the plan is another from the next pour on.
	demoHard   = 5
	demoLesson = "the amber browned the white shore although it says it does not, and the violet went to fawn: scent only the lamp, take an ultramarine for the dusk"
)

// demoDays are the days after the pour on which the bars are read.
var demoDays = []float64{1, 2, 3, 7, 14, 28, 42}

// demoTruth is how a portion of the invented season really behaves: where it settles,
// where it stands at first, and how fast it goes from one to the other. Orange 4 turns
// in lye and comes back; manganese violet is destroyed; oxides, titanium dioxide and
// ultramarine hold (the table of colourants in alkali says the same, with sources).
type demoTruth struct {
	settled, first cie.Lab
	halfDays       float64
}

var demoTruths = map[string]demoTruth{
	"shore":        {cie.Lab{L: 91, A: 0.5, B: 8}, cie.Lab{L: 89, A: 0.5, B: 10}, 3},
	"quay":         {cie.Lab{L: 57, A: 21, B: 21}, cie.Lab{L: 55, A: 21, B: 22}, 3},
	"lamp":         {cie.Lab{L: 74, A: 22, B: 38}, cie.Lab{L: 58, A: 38, B: 30}, 0.45},
	"Dusk Violet":  {cie.Lab{L: 72, A: 5, B: 13}, cie.Lab{L: 45, A: 24, B: -22}, 0.3},
	"Evening Blue": {cie.Lab{L: 52, A: 4, B: -24}, cie.Lab{L: 50, A: 4, B: -24}, 3},
	"bare":         {cie.Lab{L: 86, A: 0.5, B: 13}, cie.Lab{L: 83, A: 0.5, B: 15}, 4},
}

// demoBrown is how far vanillin has browned a scented portion, 0-1, after some days: a
// stretched exponential, as the forecast assumes, with invented figures.
func demoBrown(day float64) float64 { return 1 - math.Exp(-math.Pow(day/13, 0.9)) }

// WriteDemo fills a new book at a path with an invented season: twelve pours of Harbour
// Dawn, one a week, each read for six weeks, one of them a hard lesson. The same moment
// gives the same season. A file that is there is never touched.
func WriteDemo(ctx context.Context, path string, end time.Time) (*Demo, error) {
	for _, tail := range []string{"", "-wal"} {
		if _, err := os.Lstat(path + tail); !errors.Is(err, fs.ErrNotExist) {
			return nil, &Error{Kind: ErrExists, Msg: fmt.Sprintf("%q is there already; the demo fills a new book only", path+tail),
				Tip: "name a file that does not exist yet with --book, or remove this one if it is an old demo"}
		}
	}
	now := end
	a := New(path, func() time.Time { return now })
	defer a.Close()
	s := &season{ctx: ctx, app: a, now: &now, rnd: rand.New(rand.NewPCG(1120, 645)), out: &Demo{Batches: demoBatches, Lesson: demoLesson}}
	// The last batch is six weeks old at the end; pours are at 18:00.
	first := time.Date(end.Year(), end.Month(), end.Day(), 18, 0, 0, 0, end.Location()).AddDate(0, 0, -7*(demoBatches-1)-43)
	s.shelf(first.Add(-time.Hour))
	for i := range demoBatches {
		s.batch(i+1, first.AddDate(0, 0, 7*i))
	}
	slices.SortStableFunc(s.todo, func(x, y chore) int { return x.turn.Compare(y.turn) })
	for _, c := range s.todo {
		now = c.at
		if err := c.do(); err != nil {
			return nil, fmt.Errorf("write the demo: %w", err)
		}
	}
	now = end
	place, err := a.BookWhere()
	if err != nil {
		return nil, err
	}
	s.out.Book = place.Path
	hard := fmt.Sprintf("HD-%02d", demoHard)
	s.out.Walk = []DemoStep{
		{[]string{"batch", "list", "--closed"}, "the season, batch by batch"},
		{[]string{"batch", "show", hard}, "the hard one: what happened at the pot, and its lesson"},
		{[]string{"batch", "curve", hard + "/dusk"}, "a violet that did not outlive the lye"},
		{[]string{"batch", "curve", hard + "/shore"}, "a white that the scent browned for six weeks"},
		{[]string{"shelf", "verdicts"}, "what twelve batches say of each colourant"},
		{[]string{"reading", "list", "HD-12/lamp"}, "readings: off on the first day, back on the third"},
		{[]string{"due"}, "what to read next"},
		{[]string{"book", "check"}, "the book is looked over"},
		{[]string{"undo", "--list"}, "the journal: every change can be taken back"},
	}
	return s.out, nil
}

// chore is something done at a moment of the season. It has its place in the order by
// its turn, which is its moment but for pours: a pour learns from all that was read
// until then, which takes longest, so those before the lesson and those after it are
// entered together.
type chore struct {
	turn, at time.Time
	do       func() error
}

// season collects what happens, to be done in the order of time.
type season struct {
	ctx  context.Context
	app  *App
	now  *time.Time
	rnd  *rand.Rand
	out  *Demo
	todo []chore
}

func (s *season) at(t time.Time, do func() error) { s.todo = append(s.todo, chore{t, t, do}) }

func (s *season) shelf(at time.Time) {
	swatch := func(hex string) *cie.Lab {
		c, err := cie.ParseHex(hex)
		if err != nil {
			return nil
		}
		return &c
	}
	s.at(at, func() error {
		for _, p := range []colorants.Product{
			{Name: "Chalk White", Label: "Titanium Dioxide (CI 77891)", Swatch: swatch("#f2efe8"), SwatchBasis: "maker"},
			{Name: "Rope Red", Label: "CI 77491 (Iron Oxides)", Swatch: swatch("#b3705a"), SwatchBasis: "maker"},
			{Name: "Lamp Orange", Label: "Mica, Titanium Dioxide, CI 15510", Swatch: swatch("#e6a56c"), SwatchBasis: "maker", Claim: "stable in all soap"},
			{Name: "Dusk Violet", Label: "Mica (CI 77019), Titanium Dioxide (CI 77891), Manganese Violet (CI 77742)", Swatch: swatch("#7a4f86"), SwatchBasis: "maker", Claim: "stable in all soap"},
			{Name: "Evening Blue", Label: "Ultramarines (CI 77007)", Swatch: swatch("#6f7fa8"), SwatchBasis: "maker"},
		} {
			if _, err := s.app.AddColorant(s.ctx, p); err != nil {
				return err
			}
		}
		vanillin := unit.Percent(3.5)
		_, err := s.app.AddFragrance(s.ctx, fragrance.Fragrance{Name: "Lantern Amber", Vanillin: &vanillin, Claims: []string{"no discolouration"},
			Others: []fragrance.Share{}, Allergens: []fragrance.Share{}})
		return err
	})
}

// batch plans all that happens to one batch.
func (s *season) batch(n int, poured time.Time) {
	code := fmt.Sprintf("HD-%02d", n)
	violet, scented := "Dusk Violet", "true"
	if n > demoHard {
		violet, scented = "Evening Blue", "false"
	}
	plan := strings.NewReplacer("{{violet}}", violet, "{{shore scented}}", scented).Replace(demoPlan)
	event := func(target, kind, after, note string) func() error {
		return func() error {
			_, err := s.app.AddEvent(s.ctx, EventQuery{Target: target, Kind: kind, After: after, Note: note})
			return err
		}
	}
	day := func(d float64) time.Time { return poured.Add(time.Duration(d * 24 * float64(time.Hour))) }
	turn := poured.AddDate(0, 0, -7*(n-1))
	if n > demoHard {
		turn = poured.AddDate(0, 0, -7*(n-1-demoHard))
	}
	s.todo = append(s.todo, chore{turn, poured, func() error {
		_, err := s.app.PourPlan(s.ctx, PourQuery{Data: []byte(plan), File: "harbour-dawn.toml", Code: code, Storage: "dark", Place: "loft", Control: "slab"})
		return err
	}})
	trace := 5 + s.rnd.IntN(4)
	s.at(day(0.02), event(code+"/slab", "light trace", fmt.Sprintf("%d min", trace), ""))
	if n == demoHard {
		s.at(day(0.021), event(code+"/slab", "acceleration", fmt.Sprintf("%d min", trace+2), "thick before the third layer was in"))
	}
	s.at(day(0.9), event(code, "cut", "", ""))
	s.at(day(0.91), event(code, "no gel", "", ""))
	for _, d := range demoDays {
		s.at(day(d+0.01), s.readings(code, violet, scented == "true", poured, d))
	}
	fresh := 118 + s.rnd.Float64()*4
	for _, d := range []float64{1, 7, 14, 28, 42} {
		grams := unit.Grams(math.Round(10*fresh*(0.89+0.11*math.Exp(-d/11))) / 10)
		s.at(day(d+0.02), func() error {
			_, err := s.app.AddWeighing(s.ctx, WeighQuery{Target: code + "/slab", Grams: grams, Bar: "1"})
			return err
		})
	}
	if n == demoHard {
		s.at(day(7.5), func() error {
			_, err := s.app.AddLesson(s.ctx, code, demoLesson)
			return err
		})
	}
	if n <= demoBatches-4 {
		s.at(day(42.5), func() error {
			_, err := s.app.CloseBatch(s.ctx, code, false)
			return err
		})
	}
}

// readings reads every portion of a batch once, as an instrument's file would.
func (s *season) readings(code, violet string, shoreScented bool, poured time.Time, day float64) func() error {
	var b strings.Builder
	b.WriteString("name,taken_at,L,a,b\n")
	for _, portion := range []string{"slab/shore", "slab/quay", "slab/lamp", "slab/bare", "topping/dusk"} {
		_, name, _ := strings.Cut(portion, "/")
		truth := demoTruths[name]
		if name == "dusk" {
			truth = demoTruths[violet]
		}
		g := math.Exp2(-day / truth.halfDays)
		c := cie.Lab{L: truth.settled.L + g*(truth.first.L-truth.settled.L), A: truth.settled.A + g*(truth.first.A-truth.settled.A), B: truth.settled.B + g*(truth.first.B-truth.settled.B)}
		if name == "lamp" || name == "shore" && shoreScented {
			u := demoBrown(day)
			c.L, c.A, c.B = c.L-20*u, c.A+5*u, c.B+11*u
		}
		// An instrument's spread on a cut face, sd 0.3.
		noise := func() float64 { return 0.3 * s.rnd.NormFloat64() }
		fmt.Fprintf(&b, "%s,%s,%.2f,%.2f,%.2f\n", portion, poured.Add(time.Duration(day*24*float64(time.Hour))).Format(time.RFC3339), c.L+noise(), c.A+noise(), c.B+noise())
	}
	data := []byte(b.String())
	return func() error {
		r, err := s.app.Import(s.ctx, ImportQuery{Data: data, File: fmt.Sprintf("%s-day%.0f.csv", code, day), Batch: code, Face: "cut"})
		if err == nil {
			s.out.Readings += r.Added
		}
		return err
	}
}
