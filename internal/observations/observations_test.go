package observations

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

var dawn = time.Date(2026, 11, 20, 18, 0, 0, 0, time.UTC)

// harbour is a batch of two pots with a portion name that stands in both.
func harbour() *Batch {
	return &Batch{
		Code: "HD-01", Title: "Harbour Dawn", PouredAt: dawn, PouredClock: true, Schedule: DefaultSchedule(),
		Batters: []Batter{{Name: "slab", FreshWater: 0.205864, Fragrance: "Lantern Amber"}, {Name: "topping", FreshWater: 0.2}},
		Portions: []Portion{
			{Batter: "slab", Name: "shore"}, {Batter: "slab", Name: "dusk"}, {Batter: "topping", Name: "dusk"},
		},
	}
}

func TestCodes(t *testing.T) {
	taken := map[string]bool{"HD-01": true, "HD-02": true}
	for title, want := range map[string]string{
		"Harbour Dawn": "HD-03", "harbour dawn at low tide": "HDA-01", "Quay": "QU-01", "q": "Q-01", "Éclat du Port": "ÉDP-01", "…": "B-01", "": "B-01", "2nd try": "2T-01",
	} {
		got := NewCode(title, func(c string) bool { return taken[c] })
		if got != want || CheckCode(got) != nil {
			t.Errorf("%q: %q, want %q (%v)", title, got, want, CheckCode(got))
		}
	}
	for _, bad := range []string{"", "-x", "a/b", "a b", strings.Repeat("x", 21), "a\x00"} {
		if CheckCode(bad) == nil {
			t.Errorf("%q passed", bad)
		}
	}
}

func TestPortionsByName(t *testing.T) {
	b := harbour()
	for name, want := range map[string]string{"shore": "slab/shore", "SLAB/Dusk": "slab/dusk", "topping/dusk": "topping/dusk"} {
		if p, err := b.Portion(name); err != nil || p.Key() != want {
			t.Errorf("%q: %v, %v", name, p, err)
		}
	}
	for name, says := range map[string]string{"dusk": "slab/dusk or topping/dusk", "mole": "it has slab/shore, slab/dusk, topping/dusk"} {
		if _, err := b.Portion(name); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", name, err)
		}
	}
	if _, err := b.Batter(""); err == nil {
		t.Error("one of two batters was guessed")
	}
}

func TestScheduleReadsAndWrites(t *testing.T) {
	for text, want := range map[string]string{"": "0,1,3,7,14,28,42,180", "default": "0,1,3,7,14,28,42,180", "none": "none", "7, 0 3;3": "0,3,7"} {
		s, err := ParseSchedule(text)
		if err != nil || s.String() != want {
			t.Errorf("%q: %v, %v", text, s, err)
		}
		if back, err := ParseSchedule(s.String()); err != nil || !slices.Equal(back, s) {
			t.Errorf("%q comes back as %v, %v", s, back, err)
		}
		data, err := json.Marshal(s)
		if err != nil || strings.Contains(string(data), "null") {
			t.Errorf("%q: JSON %s, %v", text, data, err)
		}
	}
	for _, bad := range []string{"-1", "a", "1.5", "99999", ",", strings.Repeat("1,", 50) + strings.Repeat("2,", 1) + "x"} {
		if s, err := ParseSchedule(bad); err == nil {
			t.Errorf("%q gave %v", bad, s)
		}
	}
}

// The slots of the default schedule, by hand: each ends halfway to the next.
func TestSlots(t *testing.T) {
	b := harbour()
	cut := dawn.Add(26 * time.Hour)
	b.CutAt = &cut
	slots := b.Slots(time.UTC)
	if len(slots) != 8 || !slots[0].At.Equal(cut) || !slots[0].Until.Equal(cut.Add(12*time.Hour)) {
		t.Fatalf("got %+v", slots)
	}
	if s := slots[3]; !s.At.Equal(cut.AddDate(0, 0, 7)) || !s.From.Equal(cut.AddDate(0, 0, 5)) || !s.Until.Equal(cut.AddDate(0, 0, 10).Add(12*time.Hour)) {
		t.Errorf("day 7 is %+v", s)
	}
	for i := 1; i < len(slots); i++ {
		if !slots[i].From.Equal(slots[i-1].Until) {
			t.Errorf("a gap before slot %d", i)
		}
	}
	// Calendar days over the change of the clocks: still 18:00.
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip(err)
	}
	b.PouredAt = time.Date(2026, 10, 20, 18, 0, 0, 0, berlin)
	cut = b.PouredAt.AddDate(0, 0, 1)
	if s := b.Slots(berlin)[3]; s.At.Hour() != 18 || s.At.Day() != 28 {
		t.Errorf("a week after the 21st is %v", s.At)
	}
}

func TestDue(t *testing.T) {
	b := harbour()
	never := func(*Portion, Slot) bool { return false }
	count := func(items []Item, do string, state State) (n int) {
		for _, it := range items {
			if it.Do == do && it.State == state {
				n++
			}
		}
		return n
	}
	// On the day of the pour nothing but what comes.
	items := Due(b, dawn.Add(time.Hour), never)
	if count(items, DoGel, Next) != 1 || count(items, DoCut, Next) != 1 || count(items, DoRead, Next) != 3 || len(items) != 5 {
		t.Errorf("at the pour: %+v", items)
	}
	// The day after, the gel and the cut; three days on they are overdue.
	items = Due(b, dawn.Add(25*time.Hour), never)
	if count(items, DoGel, Today) != 1 || count(items, DoCut, Today) != 1 || count(items, DoRead, Today) != 3 {
		t.Errorf("the day after: %+v", items)
	}
	if items = Due(b, dawn.Add(80*time.Hour), never); count(items, DoGel, Overdue) != 1 || count(items, DoCut, Overdue) != 1 {
		t.Errorf("three days after: %+v", items)
	}
	cut := dawn.Add(24 * time.Hour)
	b.CutAt, b.Gel = &cut, GelNone
	// Day 3 after the cut is read by the shore alone.
	read := func(p *Portion, s Slot) bool { return p.Name == "shore" && s.AfterCut == 3 }
	items = Due(b, cut.AddDate(0, 0, 3), read)
	if count(items, DoRead, Today) != 2 || count(items, DoRead, Next) != 3 || count(items, DoGel, Today) != 0 || len(items) != 5 {
		t.Errorf("day 3: %+v", items)
	}
	// A day late is overdue while its window lasts, then it is let go.
	if items = Due(b, cut.AddDate(0, 0, 4), never); count(items, DoRead, Overdue) != 3 {
		t.Errorf("day 4: %+v", items)
	}
	if items = Due(b, cut.AddDate(0, 0, 6), never); count(items, DoRead, Overdue) != 0 || count(items, DoRead, Next) != 3 {
		t.Errorf("day 6: %+v", items)
	}
	closed := cut
	b.ClosedAt = &closed
	if items := Due(b, cut.AddDate(1, 0, 0), never); len(items) != 0 {
		t.Errorf("closed: %+v", items)
	}
}

func TestKindsAndValues(t *testing.T) {
	for text, want := range map[string]Kind{
		"emulsion": Emulsion, "Fragrance-In": FragranceIn, "trace": LightTrace, "Thick  Trace": ThickTrace, "seized": Seizing, "RICED": Ricing,
		"unmold": Unmould, "bled": Bleed, "dos": OrangeSpots, "soda ash": Ash, "scent": Scent,
	} {
		if got, err := ParseKind(text); err != nil || got != want {
			t.Errorf("%q: %q, %v", text, got, err)
		}
	}
	if _, err := ParseKind("sneeze"); err == nil || !strings.Contains(err.Error(), "false trace") {
		t.Errorf("got %v", err)
	}
	// No two kinds answer to one word.
	seen := map[string]Kind{}
	for _, i := range kinds {
		for _, w := range append([]string{string(i.kind)}, i.also...) {
			if other, ok := seen[w]; ok {
				t.Errorf("%q means both %s and %s", w, other, i.kind)
			}
			seen[w] = i.kind
			if got, err := ParseKind(w); err != nil || got != i.kind {
				t.Errorf("%q: %q, %v", w, got, err)
			}
		}
	}
	for _, c := range []struct {
		kind Kind
		text string
		want float64
	}{{FragranceIn, "33 °C", 33}, {Temperature, "95 F", 35}, {Scent, "3", 3}, {Scent, "4 of 5", 4}, {Scent, "2/5", 2}, {Bleed, "2 mm", 2}, {Bleed, "0.3 cm", 3}} {
		if got, err := ParseValue(c.kind, c.text); err != nil || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s %q: %v, %v", c.kind, c.text, got, err)
		}
	}
	b := harbour()
	now := dawn.AddDate(0, 0, 9)
	value := func(v float64) *float64 { return &v }
	for name, e := range map[string]Event{
		"in 3 days": {Kind: Ash, At: now.AddDate(0, 0, 3)}, "before": {Kind: Ash, At: dawn.AddDate(0, 0, -3)}, "scent 6": {Kind: Scent, At: now, Value: value(6)},
		"ash 3": {Kind: Ash, At: now, Value: value(3)}, "NaN": {Kind: Temperature, At: now, Value: value(math.NaN())}, "minutes": {Kind: Ricing, At: dawn, AfterMinutes: value(-1)},
	} {
		if e.Check(b, now) == nil {
			t.Errorf("%s passed", name)
		}
	}
	if err := (&Event{Kind: Emulsion, At: dawn.Add(-time.Hour), Clock: true, Value: value(33)}).Check(b, now); err != nil {
		t.Errorf("an hour before the pour: %v", err)
	}
}

func TestMinutes(t *testing.T) {
	for text, want := range map[string]struct {
		m     float64
		about bool
	}{
		"6": {6, false}, "6 min": {6, false}, "about 6 min": {6, true}, "~6 minutes": {6, true}, "6min": {6, false}, "90 s": {1.5, false}, "1 h 10 min": {70, false},
		"6-8 min": {7, true}, "6 – 8": {7, true}, "ca. 2,5 min": {2.5, true}, "5½ min": {5.5, false}, "1.5h": {90, false}, "Roughly 4 Mins.": {4, true},
	} {
		if m, about, err := ParseMinutes(text); err != nil || math.Abs(m-want.m) > 1e-9 || about != want.about {
			t.Errorf("%q: %v, %v, %v", text, m, about, err)
		}
	}
	for _, bad := range []string{"", "about", "six", "6 days", "-3", "8-6 min", "1 h 10", "99 h", "6 min 6", strings.Repeat("9", 61), "1-2-3 min"} {
		if m, _, err := ParseMinutes(bad); err == nil {
			t.Errorf("%q gave %v", bad, m)
		}
	}
}

// Working times by hand: two batters with stamps, one remembered, one that was never
// scented.
func TestWorkingTimes(t *testing.T) {
	at := func(min float64) time.Time { return dawn.Add(time.Duration(min * float64(time.Minute))) }
	mins := func(v float64) *float64 { return &v }
	b := harbour()
	warm := 33.0
	pots := PotsOf(b, []Event{
		{Kind: ThickTrace, Batter: "Slab", At: at(9), Clock: true}, {Kind: FragranceIn, Batter: "slab", At: at(0), Clock: true, Value: &warm},
		{Kind: LightTrace, Batter: "slab", At: at(4), Clock: true}, {Kind: LightTrace, Batter: "slab", At: at(6), Clock: true},
		{Kind: LightTrace, Batter: "topping", At: at(2), Clock: true},
		{Kind: Ricing, At: at(3), Clock: true}, // of which pot is not said
	})
	p := pots[0]
	if p.Minutes[ThickTrace] != 9 || p.Minutes[LightTrace] != 4 || p.Riced || *p.BatterAt != 33 || p.About {
		t.Errorf("slab: %+v", p)
	}
	if len(pots[1].Minutes) != 0 {
		t.Errorf("topping has no start to count from: %+v", pots[1])
	}
	b2 := harbour()
	b2.Code = "HD-02"
	b2.Batters = b2.Batters[:1]
	second := PotsOf(b2, []Event{
		{Kind: ThickTrace, At: at(0), AfterMinutes: mins(12)}, {Kind: Seizing, At: at(0), AfterMinutes: mins(14)}, {Kind: LightTrace, At: at(0), AfterMinutes: mins(5)},
	})
	w := WorkingTimes(append(pots, second...))
	if len(w) != 1 || w[0].Noted != 2 || w[0].Seized != 1 || w[0].Fast != 0 {
		t.Fatalf("got %+v", w)
	}
	if *w[0].Workable != (Span{Median: 10.5, Low: 9, High: 12, N: 2}) || w[0].Spans[LightTrace] != (Span{Median: 4.5, Low: 4, High: 5, N: 2}) {
		t.Errorf("workable %+v, light %+v", *w[0].Workable, w[0].Spans[LightTrace])
	}
}

// The weights of a bar of 120 g whose recipe leaves 0.205864 of water: worked by hand
// with water left = (w − d)/(1 − d), d the share of the weight that is gone.
func TestWaterOf(t *testing.T) {
	b := harbour()
	var list []Weighing
	for i, g := range []unit.Grams{120, 115.2, 110.4, 106.8, 104.4, 95.2} {
		list = append(list, Weighing{At: dawn.AddDate(0, 0, i), Batter: "slab", Bar: "1", Grams: g})
	}
	list = append(list, Weighing{At: dawn, Batter: "slab", Bar: "2", Grams: 99})
	slices.Reverse(list)
	got := WaterOf(b, list)
	if len(got) != 2 || got[0].Fresh != 120 || len(got[0].Steps) != 5 || len(got[1].Steps) != 0 {
		t.Fatalf("got %+v", got)
	}
	for i, want := range []struct{ water, gone float64 }{{17.278, 19.43}, {13.681, 38.86}, {10.771, 53.43}, {8.720, 63.15}} {
		s := got[0].Steps[i]
		if math.Abs(float64(s.Water)-want.water) > 0.001 || math.Abs(float64(s.Gone)-want.gone) > 0.01 || s.Impossible {
			t.Errorf("step %d: %+v, want %+v", i, s, want)
		}
	}
	if !got[0].Steps[4].Impossible {
		t.Errorf("95.2 g is below the 95.296 g of the bar without water: %+v", got[0].Steps[4])
	}
}

func TestReadingsAreHeldAgainstTheirBatch(t *testing.T) {
	b := harbour()
	now := dawn.AddDate(0, 0, 9)
	ok := Reading{TakenAt: dawn.AddDate(0, 0, 3), Way: Way{Clock: true}, Lab: &cie.Lab{L: 50}}
	if err := ok.Check(b, now); err != nil {
		t.Error(err)
	}
	sameDay := Reading{TakenAt: dawn.Add(-6 * time.Hour), Lab: &cie.Lab{L: 50}}
	if err := sameDay.Check(b, now); err != nil {
		t.Errorf("a date alone on the day of the pour: %v", err)
	}
	for name, r := range map[string]Reading{
		"in the future":              {TakenAt: now.Add(time.Hour), Way: Way{Clock: true}},
		"before the pour":            {TakenAt: dawn.Add(-time.Hour), Way: Way{Clock: true}},
		"L* is 0–100":                {TakenAt: now, Lab: &cie.Lab{L: 101}},
		"more than ten years after":  {TakenAt: dawn.AddDate(11, 0, 0)},
		"has more than":              {TakenAt: now, Note: strings.Repeat("x", maxNote+1)},
		"a* is -150 to 150, got NaN": {TakenAt: now, Lab: &cie.Lab{L: 50, A: math.NaN()}},
	} {
		at := now
		if name == "more than ten years after" {
			at = r.TakenAt.AddDate(1, 0, 0)
		}
		if err := r.Check(b, at); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAverage(t *testing.T) {
	mean, spread, err := Average([]cie.Lab{{L: 50, A: 1, B: 2}, {L: 52, A: 1, B: 4}, {L: 51, A: 1, B: 3}})
	if err != nil || mean != (cie.Lab{L: 51, A: 1, B: 3}) || *spread != (cie.Lab{L: 1, A: 0, B: 1}) {
		t.Errorf("%v ± %v, %v", mean, spread, err)
	}
	if _, spread, err := Average([]cie.Lab{{L: 50}}); err != nil || spread != nil {
		t.Errorf("one spot: %v, %v", spread, err)
	}
	for name, spots := range map[string][]cie.Lab{"none": nil, "far apart": {{L: 50}, {L: 90}}, "many": make([]cie.Lab, MaxSpots+1)} {
		if _, _, err := Average(spots); err == nil {
			t.Errorf("%s passed", name)
		}
	}
	r := Reading{Way: Way{Method: ByInstrument}, Spread: &cie.Lab{L: 0.6, A: 0.6, B: 0.6}, Spots: 4}
	if sd := r.SD().L; math.Abs(sd-math.Hypot(0.3, repeatSD)) > 1e-12 {
		t.Errorf("sd %v", sd)
	}
	if (&Reading{Way: Way{Method: ByEye}}).Sharp() {
		t.Error("an eye passes for an instrument")
	}
}

func TestWords(t *testing.T) {
	last, reference, base := cie.Lab{L: 50, A: 20, B: -10}, cie.Lab{L: 40, A: 30, B: -20}, cie.Lab{L: 90, A: 0, B: 8}
	for text, want := range map[string]cie.Lab{
		"held": last, "Back": reference, "gone": base, "duller": {L: 50, A: 15, B: -7.5}, "a little duller": {L: 50, A: 17.5, B: -8.75},
		"much darker": {L: 40, A: 20, B: -10}, "back and a little browner": {L: 37.5, A: 30.75, B: -17.5}, "held, bled 2 mm": last,
	} {
		w, err := ParseWords(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if got := w.Estimate(&last, &reference, &base); got == nil || cie.DeltaE76(*got, want) > 1e-9 {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	}
	w, err := ParseWords("bled 2 mm")
	if err != nil || !w.Bled || w.BledMM != 2 || w.Estimate(&last, &reference, &base) != nil {
		t.Errorf("%+v, %v", w, err)
	}
	if w, _ := ParseWords("back"); w.Estimate(&last, nil, nil) != nil {
		t.Error("back to nowhere has a colour")
	}
	for _, bad := range []string{"", " , ", "plum", "held plum", "bled far", "very", strings.Repeat("held,", 50)} {
		if w, err := ParseWords(bad); err == nil {
			t.Errorf("%q gave %+v", bad, w)
		}
	}
}

func TestLiveDropsWhatDoesNotCount(t *testing.T) {
	c := &cie.Lab{L: 50}
	list := []Reading{{ID: 1, Lab: c}, {ID: 2}, {ID: 3, Lab: c, Struck: "x"}, {ID: 4, Lab: c, Way: Way{Early: true}}, {ID: 5, Lab: c}}
	live := Live(list)
	if len(live) != 2 || live[0].ID != 1 || live[1].ID != 5 || len(list) != 5 || list[1].ID != 2 {
		t.Errorf("got %+v of %+v", live, list)
	}
}

// Whatever is typed, these readers answer with an error or with something within bounds.
func FuzzReaders(f *testing.F) {
	for _, s := range []string{"about 6 min", "6-8", "1 h 10 min", "-", "--", "½", "held", "a little", "bled 2 mm", "bled", "0,1,3", "none", "thick trace", "33 °C", "4 of 5", "full", "window", "\xff", "1e999 min"} {
		f.Add(s)
	}
	c := cie.Lab{L: 99, A: 140, B: -140}
	f.Fuzz(func(t *testing.T, s string) {
		if m, _, err := ParseMinutes(s); err == nil && !(m >= 0 && m <= maxMinutes) {
			t.Errorf("%q is %v minutes", s, m)
		}
		if w, err := ParseWords(s); err == nil {
			if got := w.Estimate(&c, &c, &c); got != nil && got.Check() != nil {
				t.Errorf("%q gives %v", s, *got)
			}
		}
		if list, err := ParseSchedule(s); err == nil && (len(list) > maxSlots || !slices.IsSorted(list)) {
			t.Errorf("%q gives %v", s, list)
		}
		if k, err := ParseKind(s); err == nil && !slices.Contains(Kinds(), k) {
			t.Errorf("%q is %q", s, k)
		}
		for _, k := range []Kind{Temperature, Scent, Bleed, Ash} {
			if v, err := ParseValue(k, s); err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
				t.Errorf("%s %q is %v", k, s, v)
			}
		}
		if _, err := ParseGel(s); err != nil && err.Error() == "" {
			t.Error("an error without a word")
		}
		if code := NewCode(s, func(string) bool { return false }); CheckCode(code) != nil {
			t.Errorf("the code of %q is %q: %v", s, code, CheckCode(code))
		}
	})
}

// A photo that told its own doubt is trusted so far; one that did not gets the usual doubt.
func TestPhotoBringsItsOwnDoubt(t *testing.T) {
	own := cie.Lab{L: 0.8, A: 0.8, B: 0.8}
	if got := (&Reading{Way: Way{Method: ByPhoto}, Spread: &own}).SD(); got != own {
		t.Errorf("doubt of the photo %v, want %v", got, own)
	}
	if got := (&Reading{Way: Way{Method: ByPhoto}}).SD(); got != photoSD {
		t.Errorf("without one %v, want %v", got, photoSD)
	}
}
