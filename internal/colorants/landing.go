package colorants

import (
	"math"
	"strings"
	"sync"

	"lyefast/internal/cie"
)

// colourWords gives each colour word of the table's texts a colour: what a bar
// called so may look like, as a tint in a pale opaque base. Which ISCC–NBS name
// answers to which word is our assumption; the colour is that name's centroid, Kelly
// and Judd (1976), NBS Special Publication 440, in CIELAB D65/2°.
var colourWords = map[string]struct {
	centroid string
	lab      cie.Lab
}{
	"base":          {"yellowish white", cie.Lab{L: 92.67, A: -1.32, B: 10.43}}, // nothing left: the bare soap
	"blue":          {"light blue", cie.Lab{L: 64.96, A: -6.00, B: -26.24}},
	"pale blue":     {"very pale blue", cie.Lab{L: 83.70, A: -4.27, B: -11.55}},
	"blue-black":    {"grayish purplish blue", cie.Lab{L: 35.05, A: 5.13, B: -16.75}},
	"blue-green":    {"light bluish green", cie.Lab{L: 66.05, A: -24.49, B: -2.38}},
	"blue-grey":     {"pale blue", cie.Lab{L: 66.02, A: -3.50, B: -8.84}},
	"blue-violet":   {"light purplish blue", cie.Lab{L: 60.93, A: 7.03, B: -25.05}},
	"bluish red":    {"deep purplish pink", cie.Lab{L: 61.20, A: 48.82, B: -6.69}},
	"brick red":     {"moderate reddish orange", cie.Lab{L: 56.32, A: 34.60, B: 32.12}},
	"brown":         {"light brown", cie.Lab{L: 55.10, A: 12.58, B: 24.01}},
	"brown-purple":  {"grayish purplish red", cie.Lab{L: 46.05, A: 22.44, B: 0.48}},
	"coral":         {"strong yellowish pink", cie.Lab{L: 71.14, A: 35.82, B: 30.31}},
	"crimson":       {"deep pink", cie.Lab{L: 61.40, A: 45.41, B: 16.16}},
	"dusty purple":  {"pale reddish purple", cie.Lab{L: 60.95, A: 15.56, B: -6.00}},
	"green":         {"light green", cie.Lab{L: 65.08, A: -27.45, B: 8.44}},
	"green glow":    {"brilliant greenish yellow", cie.Lab{L: 88.63, A: -15.53, B: 69.74}},
	"green-blue":    {"light greenish blue", cie.Lab{L: 65.91, A: -16.71, B: -15.95}},
	"greenish":      {"light greenish yellow", cie.Lab{L: 89.61, A: -13.18, B: 53.13}},
	"grey":          {"light gray", cie.Lab{L: 74.78, A: -0.20, B: 1.64}},
	"grey-green":    {"grayish yellow green", cie.Lab{L: 61.09, A: -8.37, B: 14.87}},
	"hot pink":      {"deep purplish pink", cie.Lab{L: 61.20, A: 48.82, B: -6.69}},
	"khaki":         {"dark grayish yellow", cie.Lab{L: 59.95, A: -0.19, B: 27.47}},
	"lavender":      {"very light purple", cie.Lab{L: 78.68, A: 15.46, B: -12.96}},
	"leaf green":    {"moderate yellow green", cie.Lab{L: 61.02, A: -16.28, B: 31.17}},
	"maroon":        {"grayish red", cie.Lab{L: 45.01, A: 20.88, B: 8.65}},
	"mustard":       {"moderate yellow", cie.Lab{L: 71.88, A: -0.39, B: 44.73}},
	"olive-brown":   {"grayish yellowish brown", cie.Lab{L: 47.12, A: 3.53, B: 13.09}},
	"orange":        {"moderate orange", cie.Lab{L: 66.06, A: 22.06, B: 40.69}},
	"orange-brown":  {"brownish orange", cie.Lab{L: 51.14, A: 23.18, B: 38.57}},
	"orange-red":    {"strong reddish orange", cie.Lab{L: 55.52, A: 45.23, B: 43.60}},
	"orange-yellow": {"light orange yellow", cie.Lab{L: 83.87, A: 8.91, B: 43.52}},
	"peach":         {"light orange", cie.Lab{L: 78.99, A: 18.96, B: 37.31}},
	"pink":          {"strong pink", cie.Lab{L: 69.94, A: 33.51, B: 10.72}},
	"pink-red":      {"deep pink", cie.Lab{L: 61.40, A: 45.41, B: 16.16}},
	"purple":        {"light purple", cie.Lab{L: 65.94, A: 20.10, B: -17.60}},
	"purple-grey":   {"pale purple", cie.Lab{L: 64.86, A: 9.74, B: -6.44}},
	"purple-pink":   {"moderate purplish pink", cie.Lab{L: 68.99, A: 26.62, B: -2.65}},
	"red":           {"strong red", cie.Lab{L: 45.28, A: 50.80, B: 21.64}},
	"red-brown":     {"grayish reddish orange", cie.Lab{L: 55.08, A: 22.68, B: 22.57}},
	"rose":          {"moderate pink", cie.Lab{L: 72.97, A: 20.88, B: 8.77}},
	"rust-brown":    {"brownish orange", cie.Lab{L: 51.14, A: 23.18, B: 38.57}},
	"scarlet":       {"deep yellowish pink", cie.Lab{L: 59.33, A: 48.86, B: 27.74}},
	"tan":           {"light yellowish brown", cie.Lab{L: 66.14, A: 8.36, B: 30.15}},
	"turquoise":     {"light greenish blue", cie.Lab{L: 65.91, A: -16.71, B: -15.95}},
	"violet":        {"light violet", cie.Lab{L: 57.00, A: 15.02, B: -25.96}},
	"violet-black":  {"grayish purplish blue", cie.Lab{L: 35.05, A: 5.13, B: -16.75}},
	"warm red":      {"strong reddish orange", cie.Lab{L: 55.52, A: 45.23, B: 43.60}},
	"yellow":        {"light yellow", cie.Lab{L: 88.78, A: -3.16, B: 50.02}},
	"yellow-orange": {"brilliant orange yellow", cie.Lab{L: 81.82, A: 11.34, B: 63.74}},
	"yellow-tan":    {"grayish yellow", cie.Lab{L: 72.81, A: -1.75, B: 27.68}},
	"cherry pink":   {"deep pink", cie.Lab{L: 61.40, A: 45.41, B: 16.16}},
	"purple-brown":  {"grayish purplish red", cie.Lab{L: 46.05, A: 22.44, B: 0.48}},
	"fuchsia":       {"deep purplish pink", cie.Lab{L: 61.20, A: 48.82, B: -6.69}},
}

// course is the way a row's colour takes when its behaviour is not "stable".
type course string

const (
	holds   course = "holds"   // the hue stays where it is put
	settles course = "settles" // lands elsewhere within two days, then stays
	fades   course = "fades"   // goes on for weeks
	returns course = "returns" // goes off colour and is back within about two days
	partly  course = "partly"  // comes back in part, or perhaps not
)

// landing is our reading of a row's texts: the colour words of the cured bar and of
// the fresh batter ("" where it is not said to differ), and the course between. An
// indicator comes back only if its pKa lies above the pH of the cured bar (about
// 9–10.5), since a bar never becomes neutral: Orange 4 (about 11.4) does, alkannin,
// bromothymol blue and bromocresol green do not, indigo carmine does in part.
type landing struct {
	cured, fresh string
	course       course
}

// landings covers every row whose behaviour is not "stable"; rows whose landing
// cannot be said have no cured words.
var landings = sync.OnceValue(func() map[string]landing {
	return map[string]landing{
		"bismuth_oxychloride": {course: partly}, "neon_resin_pigment": {course: holds}, "plastic_glitter": {course: partly}, "guaiazulene": {course: fades},

		"aluminium_hydroxide": {cured: "base", course: settles}, "guanine": {cured: "base", course: settles}, "aluminium_powder": {cured: "base", course: settles},
		"bronze_copper_powder": {cured: "green-blue", course: settles},
		"ferric_ferrocyanide":  {"tan, brown", "rust-brown, tan", settles}, "ferric_ammonium_ferrocyanide": {"tan, brown", "rust-brown, tan", settles},
		"manganese_violet": {"tan, brown, grey", "brown, grey", settles}, "manganese_phosphate": {cured: "brown", course: settles},
		"phthalocyanine_sulfonated": {cured: "turquoise", course: holds},

		"dc_red_6": {"orange-red", "orange-red, brown", settles}, "dc_red_7": {cured: "warm red", course: settles}, "dc_red_31": {cured: "warm red", course: settles},
		"dc_red_34": {cured: "maroon, red-brown", course: settles}, "red_49": {cured: "orange-red", course: settles}, "red_48": {cured: "warm red", course: settles},
		"fdc_red_40": {cured: "red", course: holds}, "fdc_red_40_lake": {cured: "red", course: holds},
		"fdc_yellow_5": {cured: "yellow", course: holds}, "fdc_yellow_5_lake": {cured: "yellow", course: holds},
		"fdc_yellow_6": {"orange, yellow", "yellow, orange-brown", settles}, "fdc_yellow_6_lake": {cured: "orange-yellow", course: settles},
		"fdc_red_4": {"scarlet", "orange", holds}, "dc_red_33": {cured: "fuchsia", course: holds},
		"dc_orange_4": {"orange", "red, red-brown", returns}, "ponceau_4r": {cured: "scarlet", course: holds},
		"azorubine": {"red", "orange", holds}, "amaranth": {"bluish red", "red-brown", holds},
		"dc_brown_1": {"red-brown", "red", partly}, "acid_orange_6": {"yellow-orange", "orange-brown", returns},
		"brilliant_black": {"violet-black", "blue-black", holds}, "dc_red_17": {cured: "red", course: holds},
		"ext_dc_yellow_7": {cured: "yellow", course: holds}, "dc_yellow_10": {cured: "greenish", course: holds}, "dc_yellow_11": {cured: "greenish", course: holds},
		"dc_yellow_8": {cured: "green glow", course: holds}, "dc_orange_5": {"coral, pink", "coral, pink-red", settles}, "dc_orange_10": {cured: "pink-red", course: settles},
		"dc_red_21_22": {"pink", "pink-red", settles}, "dc_red_27_28": {cured: "hot pink", course: settles}, "erythrosine": {"pink", "cherry pink", fades},
		"sulforhodamine_b": {cured: "hot pink", course: holds}, "fdc_blue_1": {"blue, lavender", "blue, purple", settles}, "fdc_blue_1_lake": {"blue, lavender", "blue, purple", settles},
		"fdc_green_3": {"blue", "blue, violet", settles}, "patent_blue_v": {"blue", "blue, violet", settles}, "cationic_triarylmethanes": {cured: "base", course: settles},
		"dc_violet_2": {cured: "violet", course: holds}, "ext_dc_violet_2": {cured: "violet", course: holds}, "dc_green_5": {cured: "green", course: holds},
		"dc_green_6": {cured: "green", course: holds}, "dc_green_8": {cured: "green glow", course: holds},
		"indigo_carmine": {"pale blue", "green, yellow", partly}, "bromothymol_blue": {cured: "blue", course: settles}, "bromocresol_green": {cured: "blue", course: settles},

		"carmine": {"dusty purple", "purple, blue-violet", settles}, "cochineal_extract": {"purple-grey", "purple", settles}, "lac_dye": {"purple-brown", "purple", settles},
		"madder": {"rose, purple-pink", "crimson, purple", settles}, "alizarin_lake": {"purple-pink", "purple", settles},
		"alkannin": {"purple, blue-violet", "blue, blue-grey", settles}, "curcumin": {"mustard, peach, tan", "brick red, red-brown", fades},
		"apocarotenal": {cured: "orange-red", course: settles}, "safflower_carthamin": {"yellow-tan", "orange-yellow", settles},
		"anthocyanins": {"yellow-tan, brown", "blue-green, yellow", settles}, "butterfly_pea": {"khaki, tan", "green, yellow", settles},
		"beetroot_red": {"tan", "yellow", settles}, "chlorophyll_powders": {"khaki, tan", "leaf green", fades}, "phycocyanin": {"grey-green, tan", "green", fades},
		"riboflavin": {"base", "yellow", fades}, "henna": {"brown, olive-brown", "red-brown", settles}, "logwood_brazilwood": {"brown-purple", "purple, blue-black", settles},
		"redwood_santalin": {"maroon, brown", "purple-brown", settles},
	}
})

// Becomes is the colour that a colourant is expected to turn into.
type Becomes struct {
	// Words are those of the table, with what stays beside it.
	Words string `json:"words"`
	// Lab is our reading of the words, D65/2°, as a tint in a pale opaque base at the
	// usual dose; nil where it cannot be said. It is assumed, never measured.
	Lab *cie.Lab `json:"lab"`
	// SD is its doubt, one standard deviation per coordinate.
	SD cie.Lab `json:"sd"`
	// Assumed is always true: no measured landing of a colourant in soap is published.
	Assumed bool `json:"assumed"`
}

// landingSD is the doubt about a colour that is only known as a word: the strength of
// the tint is as open as the word. Assumed.
var landingSD = cie.Lab{L: 10, A: 8, B: 10}

// becomes reads colour words: the middle of them, and a doubt that spans them.
func becomes(words, text string) *Becomes {
	b := &Becomes{Words: text, SD: landingSD, Assumed: true}
	if words == "" {
		return b
	}
	list := strings.Split(words, ", ")
	var mean cie.Lab
	for _, w := range list {
		mean = mean.Add(colourWords[w].lab.Scale(1 / float64(len(list))))
	}
	var spread cie.Lab
	for _, w := range list {
		d := colourWords[w].lab.Sub(mean)
		spread = spread.Add(cie.Lab{L: d.L * d.L, A: d.A * d.A, B: d.B * d.B}.Scale(1 / float64(len(list))))
	}
	b.Lab = &mean
	b.SD = cie.Lab{
		L: math.Sqrt(landingSD.L*landingSD.L + spread.L),
		A: math.Sqrt(landingSD.A*landingSD.A + spread.A),
		B: math.Sqrt(landingSD.B*landingSD.B + spread.B),
	}
	return b
}
