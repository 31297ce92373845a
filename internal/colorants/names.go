package colorants

import (
	"regexp"
	"slices"
	"strings"
	"sync"
)

// hues are the words that say a colour and no substance.
var hues = setOf("red yellow blue green orange violet brown black white pink purple gray teal turquoise magenta cyan beige cream ivory tan lilac lavender rose gold golden silver copper bronze")

// dyeHues are the hue words of the names of 21 CFR parts 74 and 82.
var dyeHues = setOf("red yellow blue green orange violet brown black")

// genera are the first words of Colour Index generic names; after them "Red 6" is
// not the US colour of that name.
var genera = setOf("hc pigment acid basic direct disperse food natural solvent vat reactive mordant")

// pigmentCodes are the short forms of generic names, "PW6" for Pigment White 6.
var pigmentCodes = map[string]string{"pw": "white", "py": "yellow", "po": "orange", "pr": "red", "pv": "violet", "pb": "blue", "pg": "green", "pbr": "brown", "pbk": "black", "pm": "metal"}

// lakeMetals may stand before the word lake.
var lakeMetals = setOf("aluminum al calcium ca barium ba zirconium zr strontium sr sodium na potassium hydroxide alumina")

// hiding are words that say that there is a colour without saying which.
var hiding = setOf("color colors colorant colorants coloring colorings colored dye dyes dyestuff dyestuffs pigment pigments tint tints " +
	"farbstoff farbstoffe farbe farben farbmittel pigmente colorante colorantes coloranti corante corantes kleurstof kleurstoffen " +
	"pigmento pigmentos pigmenti barwnik barwniki farvestof fargamne fargamnen " +
	"neon fluorescent pearlescent iridescent shimmer sparkle luster lustre glitter glitters")

// harmless are words beside a name that change nothing about which substance it is:
// qualities, forms, and the parts and preparations of plants.
var harmless = setOf("powder powders powdered fine finely ground milled micronized ultrafine extra pure natural organic bio raw dried dry fresh freeze wild " +
	"certified cosmetic cosmetics grade food quality usp bp ep technical premium synthetic rutile anatase coated treated surface uncoated dispersion dispersed " +
	"dispersible soluble paste slurry solution in with on of and the from as an a based base origin derived mineral vegan dehydrated whole " +
	"crushed cut sifted granules flake flakes platelets crystals type no nr n l var ssp sp infused infusion macerate macerated steeped de di du " +
	"root roots leaf leaves flower flowers petal petals seed seeds fruit fruits bark wood stem herb peel skin hull husk shell bean beans berry berries juice extract " +
	"extracts concentrate plant aerial part parts kernel pulp tuber rhizome heartwood insoluble nano activated coconut bamboo hardwood " +
	"color colors colorant coloring pigment pigments dye ci cas mixture clay")

// fats and their like: what bears one of these words after a plant's name is no
// plant colour but its oil, butter, sugar or water.
var fats = setOf("oil oils butter wax beeswax cera fat sugar starch water hydrosol hydrolate distillate protein glycerides sterols phytosterols unsaponifiables alcohol " +
	"vinegar gum absolute essential esters lecithin butterate sucrose")

// scents: what bears one of these words is a scent, whatever it smells of.
var scents = setOf("fragrance parfum perfume scent aroma flavor flavour flavoring flavouring")

// infusing words turn an oil into a carrier of the plant's colour.
var infusing = setOf("infused infusion macerate macerated steeped")

// insideOthers are names that stand inside the names of other substances ("copper
// gluconate", "silica dimethyl silylate"): they count only when nothing else is said.
var insideOthers = setOf("silica copper gold silver aluminum aluminium alumina talc chalk bentonite montmorillonite lac gypsum amaranth caramel coffee cocoa " +
	"tomato guanine azulene carotene illite aluminumsilicate potassiumaluminumsilicate")

// notMisspelt are substances whose names come near a colour's.
var notMisspelt = map[string]bool{"lactic acid": true, "zinc sulfate": true}

// counters are words before a figure that is no colour.
var counters = setOf("lot batch ref art sku item order charge ean")

// vague are names that with another word beside them may mean another substance:
// then the text is reported, not read.
var vague = setOf("glitter hibiscus calendula marigold nettle parsley kelp matcha spinach madder henna paprika safflower saffron tagetes blueberry elderberry woad chlorella wheatgrass cutch lithospermum")

// besideMica are the words beside mica that leave it colourless; anything else, as
// in "gold mica" or "mica blend", hides what colours it.
var besideMica = setOf("powder powdered flake flakes platelets natural mineral muscovite coated treated uncoated micronized cosmetic grade fine pure and with in base ci nano white")

// sureHues mean a colour even when they stand alone in a list.
var sureHues = setOf("red yellow blue green black white purple brown magenta turquoise")

// hueBearers are things that a hue word turns into an undisclosed colourant.
var hueBearers = setOf("clay oxide mica micas dye dyes pigment pigments lake pearl ultramarine paste toner clays oxides")

// oxideMetals are the metals whose oxides are colours.
var oxideMetals = setOf("iron ferric ferrous chromium chrome titanium cobalt copper manganese nickel")

// refusing words open a statement that there is no colour.
var refusing = setOf("no not non without free sans ohne sin senza geen uncolored undyed")

// hints are names of colours, or of colour-like things, that the table does not
// know; they are reported with what they may have meant. From memory.
var hints = map[string]string{
	"ferric oxide": "iron oxide red (CI 77491)", "iron iii oxide": "iron oxide red (CI 77491)",
	"ferrous oxide": "iron oxide black (CI 77499)", "iron ii iii oxide": "iron oxide black (CI 77499)",
	"chromium iii oxide": "chromium oxide greens (CI 77288)", "chrome green": "chromium oxide greens (CI 77288)",
	"ochre": "iron oxide yellow (CI 77492)", "ocher": "iron oxide yellow (CI 77492)", "yellow ochre": "iron oxide yellow (CI 77492)",
	"red ochre": "iron oxide red (CI 77491)", "sienna": "iron oxides", "burnt sienna": "iron oxides", "umber": "iron oxides", "burnt umber": "iron oxides",
	"lamp black": "carbon black (CI 77266)", "lampblack": "carbon black (CI 77266)", "titania": "titanium dioxide (CI 77891)",
	"rhodamine b": "", "methylene blue": "", "gentian violet": "", "crystal violet": "", "malachite green": "", "lac powder": "lac dye, or milk powder",
	"red oxide": "iron oxide red (CI 77491)", "yellow oxide": "iron oxide yellow (CI 77492)", "black oxide": "iron oxide black (CI 77499)",
	"brown oxide": "brown iron oxide (CI 77489)", "green oxide": "chromium oxide greens (CI 77288)",
}

// eNumbers are food-colour numbers that the table's aliases leave out, with rows of
// the table; Regulation (EC) 1333/2008, Annex II part B, from memory.
var eNumbers = map[string]string{
	"e150": "caramel", "e150b": "caramel", "e150c": "caramel", "e160d": "lycopene", "e161b": "lutein_marigold",
	"e170": "calcium_carbonate", "e173": "aluminium_powder", "e174": "silver", "e175": "gold", "e180": "dc_red_7",
	"e172": ironRows,
	"e504": "magnesium_carbonate", "e516": "calcium_sulfate", "e551": "silica", "e553b": "talc", "e555": "mica", "e558": "bentonite", "e559": "kaolin",
}

// spellingsOfRows are other spellings of names in the table: trade words, formulas,
// and the names in other languages of the EU, all from memory.
var spellingsOfRows = map[string]string{
	"synthetic mica": "synthetic_fluorphlogopite", "fluorophlogopite": "synthetic_fluorphlogopite",
	"synthetic fluorophlogopite": "synthetic_fluorphlogopite", "b carotene": "beta_carotene",
	"potassium aluminum silicate": "mica", "glimmer": "mica", "lac dye": "lac_dye",
	"tio2": "titanium_dioxide", "zno": "zinc_oxide", "fe2o3": "iron_oxide_red", "fe3o4": "iron_oxide_black", "feooh": "iron_oxide_yellow",
	"cr2o3": "chromium_oxide_green", "sno2": "tin_oxide", "sio2": "silica", "caco3": "calcium_carbonate", "baso4": "barium_sulfate", "biocl": "bismuth_oxychloride",
	"titandioxid": "titanium_dioxide", "dioxyde de titane": "titanium_dioxide", "dioxido de titanio": "titanium_dioxide",
	"biossido di titanio": "titanium_dioxide", "diossido di titanio": "titanium_dioxide",
	"zinkoxid": "zinc_oxide", "oxyde de zinc": "zinc_oxide", "oxido de zinc": "zinc_oxide", "ossido di zinco": "zinc_oxide",
	"eisenoxid": ironRows, "eisenoxide": ironRows, "oxyde de fer": ironRows, "oxydes de fer": ironRows, "oxido de hierro": ironRows,
	"oxidos de hierro": ironRows, "ossido di ferro": ironRows, "ossidi di ferro": ironRows,
	"ultramarin": ultramarineRows, "ultramarine": ultramarineRows, "outremer": ultramarineRows, "ultramarino": ultramarineRows, "oltremare": ultramarineRows,
	"karmin": "carmine", "carmin": "carmine", "berliner blau": "ferric_ferrocyanide", "bleu de prusse": "ferric_ferrocyanide",
	"azul de prusia": "ferric_ferrocyanide", "blu di prussia": "ferric_ferrocyanide",
	"aktivkohle": "vegetable_carbon", "pflanzenkohle": "vegetable_carbon", "charbon actif": "vegetable_carbon", "charbon vegetal": "vegetable_carbon",
	"carbon activado": "vegetable_carbon", "carbon vegetal": "vegetable_carbon", "carbone attivo": "vegetable_carbon", "carbone vegetale": "vegetable_carbon",
}

const (
	ironRows        = "iron_oxide_red iron_oxide_yellow iron_oxide_black iron_oxide_orange"
	ultramarineRows = "ultramarine_blue ultramarine_violet ultramarine_pink"
)

// wordSet is a set of words that is built when it is first asked: most commands
// read no label.
type wordSet struct {
	list string
	once sync.Once
	in   map[string]bool
}

func setOf(list string) *wordSet { return &wordSet{list: list} }

func (s *wordSet) has(word string) bool {
	s.once.Do(func() {
		s.in = map[string]bool{}
		for _, w := range strings.Fields(s.list) {
			s.in[w] = true
		}
	})
	return s.in[word]
}

// index finds rows, as places in the table, by what a label may call them.
type index struct {
	byID     map[string]int
	byNumber map[string][]int // rows with that main number, else with that further number
	numbered map[string][]int // rows that bear the number at all
	exact    map[string][]int // aliases, words run together
	folded   map[string][]int // aliases without plural
	second   map[string][]int // names of lists and generic names, without plural
	sorted   map[string][]int // aliases of two words and more, words in order of the alphabet
	dyes     map[string][]int // "ext|violet|2"
	maxWords int
	// own is the token of each row when its name is printed without a number.
	own []string
	// aliases and their beginnings, for suggestions.
	spoken   []spokenName
	prefixes map[string]string
}

// spokenName is an alias as words, for comparing with misspelt ones.
type spokenName struct{ plain, alias string }

// dyeName matches a US colour name inside a text of the table.
var dyeName = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)(ext\. )?(?:FD&C|D&C) (red|yellow|blue|green|orange|violet|brown|black) no\. (\d+)`)
})

// unbracketed drops what a name of a list says in brackets.
func unbracketed(s string) string {
	for {
		from := strings.IndexByte(s, '(')
		to := strings.IndexByte(s, ')')
		if from < 0 || to < from {
			return s
		}
		s = s[:from] + s[to+1:]
	}
}

// names is the index of the built-in table, built when it is first needed.
var names = sync.OnceValue(func() *index { return newIndex(facts()) })

// newIndex indexes a table.
func newIndex(list []Fact) *index {
	// Sized for the table as it is: growing these maps was a third of the work.
	n := len(list)
	x := &index{
		byID: make(map[string]int, n), byNumber: make(map[string][]int, n), numbered: make(map[string][]int, n),
		exact: make(map[string][]int, 6*n), folded: make(map[string][]int, 6*n), second: make(map[string][]int, 3*n),
		sorted: make(map[string][]int, 3*n), dyes: make(map[string][]int, n), prefixes: make(map[string]string, n),
		spoken: make([]spokenName, 0, 6*n),
	}
	add := func(m map[string][]int, key string, row int) {
		if key != "" && !slices.Contains(m[key], row) {
			m[key] = append(m[key], row)
		}
	}
	for i, f := range list {
		x.byID[f.ID] = i
		if f.CI != "" {
			add(x.byNumber, f.CI, i)
			add(x.numbered, f.CI, i)
		}
	}
	for i, f := range list {
		for _, n := range f.OtherCI {
			add(x.numbered, n, i)
			if !slices.ContainsFunc(x.byNumber[n], func(j int) bool { return list[j].CI == n }) {
				add(x.byNumber, n, i)
			}
		}
		for _, a := range f.Aliases {
			if strings.HasPrefix(a, "ci ") {
				continue
			}
			x.addAlias(a, i, add)
		}
	}
	for _, m := range []map[string]string{eNumbers, spellingsOfRows} {
		for name, ids := range m {
			for id := range strings.FieldsSeq(ids) {
				words := plainWords(name)
				add(x.exact, strings.Join(words, ""), x.byID[id])
				add(x.folded, foldKey(words), x.byID[id])
			}
		}
	}
	for _, m := range []map[string][]int{x.exact, x.folded} {
		for _, rows := range m {
			slices.Sort(rows)
		}
	}
	for i, f := range list {
		for _, n := range strings.Split(f.GenericName, " / ") {
			n = strings.TrimSuffix(unbracketed(n), " and kin")
			if key := foldKey(plainWords(n)); strings.ContainsAny(key, "0123456789") && !strings.HasPrefix(key, "ci") {
				add(x.second, key, i)
			}
		}
		for _, n := range strings.Split(unbracketed(f.INCI+";"+f.USName), ";") {
			if key := foldKey(plainWords(n)); !strings.HasPrefix(key, "ci") {
				add(x.second, key, i)
			}
		}
		for _, s := range []string{f.USName, f.US} {
			if !strings.Contains(s, "&C") {
				continue
			}
			for _, m := range dyeName().FindAllStringSubmatch(s, -1) {
				if key := dyeKey(m[1] != "", strings.ToLower(m[2]), m[3]); len(x.dyes[key]) == 0 {
					add(x.dyes, key, i)
				}
			}
		}
	}
	x.own = make([]string, len(list))
	for i := range list {
		x.own[i] = x.ownToken(i, list)
	}
	return x
}

// addAlias takes in one label word of a row.
func (x *index) addAlias(alias string, row int, add func(map[string][]int, string, int)) {
	words := plainWords(alias)
	x.maxWords = max(x.maxWords, len(words))
	add(x.exact, strings.Join(words, ""), row)
	add(x.folded, foldKey(words), row)
	x.spoken = append(x.spoken, spokenName{strings.Join(words, " "), alias})
	if key, ok := dyeOf(words); ok {
		add(x.dyes, key, row)
	} else if len(words) > 1 {
		add(x.sorted, sortedKey(words), row)
		for n := 2; n < len(words); n++ {
			if key := strings.Join(words[:n], " "); x.prefixes[key] == "" {
				x.prefixes[key] = alias
			}
		}
	}
}

// ownToken gives what a row's name stands for where no number is printed: its main
// number, its sub-number where another row shares the main one, else its key.
func (x *index) ownToken(row int, list []Fact) string {
	f := &list[row]
	if f.CI == "" {
		return f.ID
	}
	if len(f.OtherCI) == 1 && strings.HasPrefix(f.OtherCI[0], f.CI+":") && len(x.byNumber[f.CI]) > 1 {
		return f.OtherCI[0]
	}
	return f.CI
}

// listNames are the prefixes of US colour names as one word.
var listNames = strings.NewReplacer("fd&c", "fdc", "d&c", "dc", "FD&C", "fdc", "D&C", "dc")

// plainWords splits a name of the table, which is plain ASCII, into words as they
// come out of a label.
func plainWords(name string) []string {
	words := make([]lexeme, 0, 8)
	if strings.Contains(name, "&") {
		name = listNames.Replace(name)
	}
	for w := range strings.FieldsFuncSeq(strings.ToLower(name), func(r rune) bool { return r != ':' && (r > 'z' || !word(byte(r))) }) {
		words = appendWords(words, w, 0, len(w))
	}
	out := make([]string, 0, len(words))
	for _, w := range words {
		if w.soft == 0 {
			out = append(out, w.text)
		}
	}
	return dropNumberWord(out)
}

// dropNumberWord takes out "no" before a figure.
func dropNumberWord(words []string) []string {
	out := words[:0] // never longer than what was read
	for i, w := range words {
		if (w == "no" || w == "nr" || w == "number" || w == "n") && i+1 < len(words) && digit(words[i+1][0]) {
			continue
		}
		out = append(out, w)
	}
	return out
}

// singular drops a plural "s".
func singular(w string) string {
	if len(w) > 3 && w[len(w)-1] == 's' && w[len(w)-2] != 's' {
		return w[:len(w)-1]
	}
	return w
}

func foldKey(words []string) string {
	var b strings.Builder
	for _, w := range words {
		b.WriteString(singular(w))
	}
	return b.String()
}

func sortedKey(words []string) string {
	s := make([]string, len(words))
	for i, w := range words {
		s[i] = singular(w)
	}
	slices.Sort(s)
	return strings.Join(s, " ")
}

func dyeKey(ext bool, hue, number string) string {
	key := hue + "|" + number
	if ext {
		key = "ext|" + key
	}
	return key
}

// dyeOf reads words that are nothing but a US colour name.
func dyeOf(words []string) (string, bool) {
	key, n := dyeAt(words)
	return key, n > 0 && n == len(words)
}

// dyeAt reads "[Ext.] [D&C] red [No.] 7" at the start of the words and says how many
// it took, 0 if there is none.
func dyeAt(words []string) (key string, n int) {
	ext := false
	for n < len(words) && (words[n] == "ext" || words[n] == "fdc" || words[n] == "dc") {
		ext = ext || words[n] == "ext"
		n++
	}
	if n+1 >= len(words) || !dyeHues.has(words[n]) {
		return "", 0
	}
	hue := words[n]
	n++
	if words[n] == "no" || words[n] == "nr" || words[n] == "number" || words[n] == "n" {
		n++
	}
	if n >= len(words) || len(words[n]) > 2 || strings.ContainsFunc(words[n], func(r rune) bool { return r < '0' || r > '9' }) {
		return "", 0
	}
	return dyeKey(ext, hue, strings.TrimLeft(words[n], "0")), n + 1
}

// find looks a name up: the rows it means, and all rows that any list calls so.
// exactly is true where the table has the very words.
func (x *index) find(words []string) (strict, loose []int) {
	key := foldKey(words)
	strict = x.exact[strings.Join(words, "")]
	if strict == nil {
		strict = x.folded[key]
	}
	if strict == nil {
		strict = x.second[key]
	}
	if strict == nil {
		return nil, nil
	}
	return strict, union(union(strict, x.folded[key]), x.second[key])
}

// union joins two lists of rows in the order of the table.
func union(a, b []int) []int {
	out := slices.Concat(a, b)
	slices.Sort(out)
	return slices.Compact(out)
}

// common gives the rows that stand in both lists.
func common(a, b []int) []int {
	var out []int
	for _, v := range a {
		if slices.Contains(b, v) {
			out = append(out, v)
		}
	}
	return out
}

// within says whether all of a stand in b.
func within(a, b []int) bool { return len(common(a, b)) == len(a) }
