package app

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"lyefast/internal/colorants"
	"lyefast/internal/formula"
	"lyefast/internal/fragrance"
	"lyefast/internal/observations"
	"lyefast/internal/store"
	"lyefast/internal/unit"
)

// Forms of an ingredient list.
const (
	// PouredForm lists what went into the pot: oils, water, sodium hydroxide.
	PouredForm = "poured"
	// SaponifiedForm lists what the bar holds: the salts of the oils, glycerin, water.
	SaponifiedForm = "saponified"
)

// DefaultCure is how long a bar cures before it is sold, days (common practice: four
// to six weeks).
const DefaultCure = 42

// Open is what stands where a label would need a figure or name that is not known.
const Open = "___"

// LabelQuery asks what a plan's bar must be labelled with.
type LabelQuery struct {
	Data []byte
	File string
	// Batch is the code of a batch poured from it, "" for none.
	Batch string
	// Form is [PouredForm] or [SaponifiedForm]; empty is the first.
	Form string
	// CureDays is the length of the cure, 0 = [DefaultCure].
	CureDays int
}

// Label is what a bar's label says, as far as it is known.
type Label struct {
	Title string `json:"title"`
	// Form is the one that Ingredients has; both lists are given beside it.
	Form        string       `json:"form"`
	Ingredients string       `json:"ingredients"`
	Poured      []Ingredient `json:"as_poured"`
	Saponified  []Ingredient `json:"as_saponified"`
	// Colours come last in either form, by Colour Index number.
	Colours []LabelColour `json:"colours"`
	// Allergens are those above 0.01 % of the bar; AllergensOpen says what of them is not known.
	Allergens     []LabelAllergen `json:"allergens"`
	AllergensOpen string          `json:"allergens_open,omitempty"`
	// Net is the net weight to print, nil where it must stay open; NetBasis says why.
	Net      *unit.Grams `json:"net_weight_g"`
	NetBasis string      `json:"net_weight_basis"`
	Batch    string      `json:"batch"`
	// EarliestSale is the end of the cure, "" where the pour is not known.
	EarliestSale string `json:"earliest_sale"`
	CureDays     int    `json:"cure_days"`
	// Unknown lists what is left open, Notes what was assumed, NotCovered what no line
	// here speaks of.
	Unknown    []string `json:"unknown"`
	Notes      []string `json:"notes"`
	NotCovered []string `json:"not_covered"`
}

// Ingredient is one line of a list, by weight.
type Ingredient struct {
	// INCI is the label name, with [Open] in it where it is not known.
	INCI  string       `json:"inci"`
	Grams unit.Grams   `json:"grams"`
	Share unit.Percent `json:"percent"`
}

// LabelColour is one colour of the list.
type LabelColour struct {
	// Name is "CI 77891", a label word where there is no number, or open.
	Name string   `json:"name"`
	From []string `json:"from"`
}

// LabelAllergen is a fragrance allergen to be named.
type LabelAllergen struct {
	Name         string       `json:"name"`
	PercentOfBar unit.Percent `json:"percent_of_bar"`
}

// PlanLabel says what the label of a plan's bar must hold. What is not known stands
// open in it and is listed; nothing is made up.
func (a *App) PlanLabel(ctx context.Context, q LabelQuery) (*Label, error) {
	form := strings.ToLower(strings.TrimSpace(q.Form))
	if form == "" {
		form = PouredForm
	}
	if form != PouredForm && form != SaponifiedForm {
		return nil, invalid("", "form %q is not known; use %s or %s", clipped(q.Form), PouredForm, SaponifiedForm)
	}
	if q.CureDays == 0 {
		q.CureDays = DefaultCure
	}
	if q.CureDays < 1 || q.CureDays > 3650 {
		return nil, invalid("", "a cure of %d days is outside 1–3650", q.CureDays)
	}
	e, _, err := a.evaluated(ctx, q.Data, q.File)
	if err != nil {
		return nil, err
	}
	l := &Label{
		Title: e.in.Plan.Title, Form: form, CureDays: q.CureDays, Colours: []LabelColour{}, Allergens: []LabelAllergen{}, Unknown: []string{}, Notes: []string{},
		NotCovered: []string{
			"Check with your local rules before you sell: this list follows INCI practice and EU Regulation 1223/2009 as far as it is known here, and is no legal advice.",
			"Not covered: the safety report and notification that the EU and the UK ask for, the maker's name and address, warnings, the permitted use of each colour, carriers and coatings on colourant labels, and what the salts of unmeasured acids or impurities would be called.",
			"A true soap without claims may fall under other rules in the US; any claim may change that.",
		},
	}
	e.labelIngredients(l)
	e.labelColours(l)
	e.labelAllergens(l)
	l.Ingredients = l.list(form)
	l.NetBasis = "no batch is given, so no bar was weighed"
	if q.Batch != "" {
		if err := a.labelBatch(ctx, q, l); err != nil {
			return nil, err
		}
	} else {
		l.Unknown = append(l.Unknown, "batch code and earliest sale: give --batch")
	}
	if l.Net == nil {
		l.Unknown = append(l.Unknown, "net weight: "+l.NetBasis)
	}
	return l, nil
}

// tally adds up ingredients by name.
type tally struct {
	order []string
	grams map[string]unit.Grams
}

func (t *tally) add(name string, g unit.Grams) {
	if g <= 0 {
		return
	}
	if t.grams == nil {
		t.grams = map[string]unit.Grams{}
	}
	if _, ok := t.grams[name]; !ok {
		t.order = append(t.order, name)
	}
	t.grams[name] += g
}

// byWeight lists the ingredients, heaviest first; equal ones by name.
func (t *tally) byWeight() []Ingredient {
	out := make([]Ingredient, 0, len(t.order))
	sum := unit.Grams(0)
	for _, n := range t.order {
		sum += t.grams[n]
	}
	for _, n := range t.order {
		out = append(out, Ingredient{INCI: n, Grams: tenth(t.grams[n]), Share: unit.Percent(100 * t.grams[n] / sum)})
	}
	slices.SortStableFunc(out, func(x, y Ingredient) int {
		return cmp.Or(cmp.Compare(y.Share, x.Share), strings.Compare(x.INCI, y.INCI))
	})
	for i := range out {
		out[i].Share = hundredth(out[i].Share)
	}
	return out
}

func oilINCI(o formula.Oil) string {
	if o.INCI != "" {
		return o.INCI
	}
	return fmt.Sprintf("%s (%s)", Open, cmp.Or(o.Name, o.Key))
}

// open notes names that are not known, each once.
func (l *Label) open(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); !slices.Contains(l.Unknown, s) {
		l.Unknown = append(l.Unknown, s)
	}
}

func (l *Label) note(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); !slices.Contains(l.Notes, s) {
		l.Notes = append(l.Notes, s)
	}
}

// labelIngredients fills both lists with the whole plan, all pots together.
func (e *evaluation) labelIngredients(l *Label) {
	var poured, cured tally
	for i := range e.in.Recipe.Pots {
		pot := &e.in.Recipe.Pots[i]
		both := func(name string, g unit.Grams) { poured.add(name, g); cured.add(name, g) }
		water := pot.Water
		poured.add("Sodium Hydroxide", pot.PureNaOH)
		poured.add("Potassium Hydroxide", pot.PureKOH)
		for _, o := range pot.PerOil {
			poured.add(oilINCI(o.Oil), o.Grams)
			e.labelSalt(l, &cured, pot, o.Oil, o.Grams)
		}
		for _, x := range pot.ExtraOils {
			poured.add(oilINCI(x.Oil), x.Grams)
			e.labelSalt(l, &cured, pot, x.Oil, x.Grams)
		}
		for _, x := range pot.Additives {
			name := x.INCI
			if name == "" {
				name = fmt.Sprintf("%s (%s)", Open, x.Name)
				l.open("the INCI name of %s", x.Name)
			}
			both(name, x.Grams)
			if x.BindsNaOH > 0 {
				l.note("%s turns into its salt in the lye; in the saponified form its own name is kept, look the salt's up", x.Name)
			}
		}
		if pot.Fragrance > 0 {
			both("Parfum", pot.Fragrance)
		}
		if g := pot.Stabilizer.Grams; g > 0 {
			water += pot.Stabilizer.Water
			name := string(e.stab.Active)
			if e.stab.Active == fragrance.ActiveUnknown {
				name = fmt.Sprintf("%s (stabiliser %s)", Open, cmp.Or(pot.Stabilizer.Name, "of unknown make"))
				l.open("what the stabiliser %s holds: its label or safety sheet says", strings.TrimSpace(pot.Stabilizer.Name))
			}
			both(titled(name), g-pot.Stabilizer.Water)
			if e.stab.Strength == nil {
				l.note("the strength of the stabiliser is not known: 8.3 %% active is taken for its place in the list, the rest for water")
			}
		}
		for _, w := range pot.Portions {
			for _, c := range w.Colorants {
				if c.Wet == "" || c.WetIsOil {
					continue
				}
				if strings.Contains(strings.ToLower(c.Wet), "water") {
					water += c.WetGrams
					continue
				}
				both(wetINCI(l, c.Wet), c.WetGrams)
			}
		}
		poured.add("Aqua", water)
		cured.add("Glycerin", pot.Fresh.Glycerol)
		// What pot.Cured keeps of the water.
		cured.add("Aqua", max(0, pot.Cured-(pot.Poured-pot.Fresh.Water)))
	}
	for _, o := range e.in.Recipe.Oils {
		if o.Oil.INCI == "" {
			l.open("the INCI name of %s", cmp.Or(o.Oil.Name, o.Oil.Key))
		}
	}
	l.Poured, l.Saponified = poured.byWeight(), cured.byWeight()
	l.note("pots are taken together, as one bar; weights below 1 %% may stand in any order after those above")
	l.note("the saponified form reckons with %s of water left after cure, and names the free oil within its salt: your rules may ask for the oil itself", unit.Grams(cured.grams["Aqua"]))
}

// wetINCI names what wets a colourant beside oil and water.
func wetINCI(l *Label, wet string) string {
	switch low := strings.ToLower(wet); {
	case strings.HasPrefix(low, "glycer"):
		return "Glycerin"
	case strings.Contains(low, "alcohol"):
		return "Alcohol"
	}
	l.open("the INCI name of %s, which wets a colourant", wet)
	return fmt.Sprintf("%s (%s)", Open, wet)
}

func titled(s string) string {
	words := strings.Fields(s)
	for i, w := range words {
		if !strings.HasPrefix(w, "(") && !strings.HasPrefix(w, Open) && i < 2 {
			words[i] = upperFirst(w)
		}
	}
	return strings.Join(words, " ")
}

// labelSalt adds an oil as what it becomes: its salts, heavier by the alkali and
// lighter by the glycerol, with the oil that stays free. Its own name stays where the
// table has no salt for it.
func (e *evaluation) labelSalt(l *Label, cured *tally, pot *formula.Pot, o formula.Oil, g unit.Grams) {
	mid, _, _ := o.SV()
	mol := float64(g) * mid / 1000 / formula.MolarKOH * (1 - float64(pot.Discount)/100)
	moles := float64(pot.PureNaOH)/formula.MolarNaOH + float64(pot.PureKOH)/formula.MolarKOH
	if _, _, ok := formula.SaltName(o, formula.NaOH); !ok || moles <= 0 {
		cured.add(oilINCI(o), g)
		if o.Kind != formula.WaxEster {
			l.open("the name of saponified %s", cmp.Or(o.Name, o.Key))
		}
		return
	}
	koh := float64(pot.PureKOH) / formula.MolarKOH / moles
	for _, x := range []struct {
		alkali formula.Alkali
		share  float64
		molar  float64
	}{{formula.NaOH, 1 - koh, formula.MolarNaOH}, {formula.KOH, koh, formula.MolarKOH}} {
		if x.share <= 0 {
			continue
		}
		name, formed, _ := formula.SaltName(o, x.alkali)
		if formed {
			l.note("%s is formed by the naming pattern: look it up in the current INCI list", name)
		}
		gain := mol * x.molar // alkali taken up
		switch o.Kind {
		case formula.FreeAcid:
			gain -= mol * formula.MolarWater
		case formula.WaxEster:
		default:
			gain -= mol / 3 * formula.MolarGlycerol
		}
		cured.add(name, unit.Grams(x.share)*(g+unit.Grams(gain)))
	}
}

// labelColours lists colours by number, then what has none.
func (e *evaluation) labelColours(l *Label) {
	at := map[string]int{}
	add := func(name, from string) {
		i, ok := at[name]
		if !ok {
			i = len(l.Colours)
			at[name] = i
			l.Colours = append(l.Colours, LabelColour{Name: name, From: []string{}})
		}
		if !slices.Contains(l.Colours[i].From, from) {
			l.Colours[i].From = append(l.Colours[i].From, from)
		}
	}
	for i := range e.in.Recipe.Pots {
		for _, w := range e.in.Recipe.Pots[i].Portions {
			for _, c := range w.Colorants {
				k := e.in.Colorants[c.Name]
				if len(k.Label.Tokens) == 0 && len(k.Label.Unresolved) == 0 {
					add(fmt.Sprintf("%s (%s)", Open, c.Name), c.Name)
					l.open("what colours %s: enter its ingredient list", c.Name)
				}
				for _, t := range k.Label.Tokens {
					name := colourINCI(t)
					if strings.HasPrefix(name, Open) {
						l.open("which of several %q in %s is", t.Printed, c.Name)
					}
					add(name, c.Name)
				}
				for _, u := range k.Label.Unresolved {
					add(fmt.Sprintf("%s (%s)", Open, u), c.Name)
					l.open("what %q on the label of %s is", u, c.Name)
				}
			}
		}
	}
	slices.SortStableFunc(l.Colours, func(x, y LabelColour) int {
		return cmp.Or(cmp.Compare(colourRank(x.Name), colourRank(y.Name)), strings.Compare(x.Name, y.Name))
	})
}

func colourRank(name string) int {
	switch {
	case strings.HasPrefix(name, "CI "):
		return 0
	case strings.HasPrefix(name, Open):
		return 2
	}
	return 1
}

// colourINCI names a colour of a label: by its number, else by the name on EU lists,
// else as printed; open where the label leaves the number open.
func colourINCI(t colorants.Token) string {
	var names []string
	for _, id := range t.RowIDs {
		f, ok := colorants.FactByID(id)
		if !ok {
			continue
		}
		n := f.INCI
		switch {
		case f.CI != "":
			n = "CI " + f.CI
		case n == "":
			n = t.Printed
		}
		if !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	nano := ""
	if t.Nano {
		nano = " [nano]"
	}
	switch len(names) {
	case 0:
		return t.Printed + nano
	case 1:
		return names[0] + nano
	}
	return fmt.Sprintf("%s (%s: %s)", Open, t.Printed, strings.Join(names, " or "))
}

// labelAllergens names what of the fragrance exceeds 0.01 % of the bar. It is reckoned
// in the pot that holds the most of it.
func (e *evaluation) labelAllergens(l *Label) {
	sc := e.in.Scent
	if sc == nil {
		return
	}
	f := sc.Fragrance
	used := false
	most := map[string]unit.Percent{}
	for i := range e.in.Recipe.Pots {
		pot := &e.in.Recipe.Pots[i]
		if pot.Fragrance <= 0 {
			continue
		}
		used = true
		d, err := f.Dose(fragrance.Use{Oils: pot.Oils, Fragrance: pot.Fragrance})
		if err != nil {
			continue
		}
		for _, x := range f.AllergensInBar(d) {
			if x.OverThreshold {
				most[x.Name] = max(most[x.Name], x.PercentOfBar)
			}
		}
	}
	if !used {
		return
	}
	for name, p := range most {
		l.Allergens = append(l.Allergens, LabelAllergen{name, p})
	}
	slices.SortFunc(l.Allergens, func(x, y LabelAllergen) int {
		return cmp.Or(cmp.Compare(y.PercentOfBar, x.PercentOfBar), strings.Compare(x.Name, y.Name))
	})
	if len(f.Allergens) == 0 {
		l.AllergensOpen = fmt.Sprintf("%s has no allergen sheet here: ask the supplier for it", f.Name)
		l.open("the allergens of %s: %s", f.Name, l.AllergensOpen)
	}
}

// list writes one form as a label prints it.
func (l *Label) list(form string) string {
	lines := l.Poured
	if form == SaponifiedForm {
		lines = l.Saponified
	}
	var parts []string
	for _, x := range lines {
		parts = append(parts, x.INCI)
	}
	for _, x := range l.Allergens {
		parts = append(parts, x.Name)
	}
	if l.AllergensOpen != "" {
		parts = append(parts, Open+" (further allergens)")
	}
	for _, x := range l.Colours {
		parts = append(parts, x.Name)
	}
	return strings.Join(parts, ", ")
}

// labelBatch takes dates and weights from a batch.
func (a *App) labelBatch(ctx context.Context, q LabelQuery, l *Label) error {
	return a.readBatch(ctx, q.Batch, func(tx *store.Tx, b *observations.Batch) error {
		l.Batch = b.Code
		end := b.PouredAt.In(a.Now().Location()).AddDate(0, 0, q.CureDays)
		l.EarliestSale = end.Format(time.DateOnly)
		if b.Plan != string(q.Data) {
			l.note("%s was poured from another text than this file: the list is the file's", b.Code)
		}
		list, err := tx.Weighings(ctx, b.ID)
		if err != nil {
			return err
		}
		l.Net, l.NetBasis = netWeight(b, list, q.CureDays)
		return nil
	})
}

// netWeight is that of the lightest bar by the last weighing of each, once the cure
// is over; nil with the reason where it cannot be said yet. Weighings that no bar can
// have are passed over.
func netWeight(b *observations.Batch, list []observations.Weighing, cure int) (*unit.Grams, string) {
	type when struct {
		batter, bar string
		day         float64
	}
	wrong := map[when]bool{} // below the bar without water, or above the fresh one
	for _, d := range observations.WaterOf(b, list) {
		for _, s := range d.Steps {
			wrong[when{d.Batter, d.Bar, s.Day}] = s.Impossible
		}
	}
	last := map[[2]string]observations.Weighing{}
	for _, w := range list {
		if wrong[when{w.Batter, w.Bar, b.Day(w.At)}] {
			continue
		}
		k := [2]string{w.Batter, w.Bar}
		if have, ok := last[k]; !ok || w.At.After(have.At) {
			last[k] = w
		}
	}
	var light, early *observations.Weighing
	for _, w := range last {
		at := &light
		if b.Day(w.At) < float64(cure)-0.5 { // half a day for a weighing without its hour
			at = &early
		}
		if *at == nil || w.Grams < (*at).Grams {
			*at = &w
		}
	}
	switch {
	case light != nil:
		g := light.Grams
		s := fmt.Sprintf("lightest of the bars weighed at the end of the cure, day %.0f", b.Day(light.At))
		if early != nil {
			s += "; bars not weighed since are left out"
		}
		return &g, s
	case early != nil:
		return nil, fmt.Sprintf("the lightest bar was %s on day %.0f and still dries; weigh the bars on day %d", early.Grams, b.Day(early.At), cure)
	}
	return nil, fmt.Sprintf("no bar of %s was weighed; weigh them on day %d", b.Code, cure)
}
