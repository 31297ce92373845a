package observations

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lyefast/internal/cie"
)

// Face is the side of the bar a colour was read on; air and light reach them
// unequally, so they are not compared with each other.
type Face string

// The faces; the empty Face was not said.
const (
	CutFace  Face = "cut"
	TopFace  Face = "top"
	SideFace Face = "side"
)

// ParseFace reads a face.
func ParseFace(s string) (Face, error) {
	switch f := Face(strings.ToLower(strings.TrimSpace(s))); f {
	case "", CutFace, TopFace, SideFace:
		return f, nil
	}
	return "", fmt.Errorf("face %s is not understood; say cut, top or side", quote(s))
}

// The methods that this package gives a doubt of its own; any other text is the
// name of an instrument's mode, as its file says it.
const (
	ByInstrument = "instrument"
	ByHex        = "hex"
	ByPhoto      = "photo"
	ByEye        = "eye"
)

// Way is how a colour was read: all that many readings have in common.
type Way struct {
	// Method is one of the constants, or an instrument's mode ("SCI").
	Method string `json:"method"`
	// Illuminant and Observer (degrees) are those of the value as measured.
	Illuminant string `json:"illuminant"`
	Observer   int    `json:"observer"`
	Instrument string `json:"instrument,omitempty"`
	Face       Face   `json:"face,omitempty"`
	// Early marks a cup from the jug read before the cut. It seldom gels and is kept
	// apart: it says how the colour began, not how the bar goes on.
	Early bool `json:"early,omitempty"`
	// Clock tells whether the time of day is known.
	Clock bool `json:"clock_known"`
}

// Reading is one dated colour of one portion. It is never edited: it is struck out
// with a reason and replaced.
type Reading struct {
	ID      int64     `json:"id"`
	TakenAt time.Time `json:"taken_at"`
	Way
	// Lab is D65, 2°; nil where the value as measured has no way there.
	Lab *cie.Lab `json:"lab"`
	// Spread is the standard deviation over the spots, nil for a single spot; Spots is
	// how many were averaged, 0 where that is not known.
	Spread *cie.Lab `json:"spread"`
	Spots  int      `json:"spots,omitempty"`
	// Original is the value as measured or typed where Lab is not that itself.
	Original string `json:"original,omitempty"`
	// Words is what an eye said; Lab is then an estimate.
	Words string `json:"words,omitempty"`
	Note  string `json:"note,omitempty"`
	// Struck says why it no longer counts, "" while it does.
	Struck string `json:"struck,omitempty"`
	// Source is the file it came from, "" for one entered by hand.
	Source string `json:"source,omitempty"`
	// Key tells two readings of a file apart, so that a file taken twice adds nothing.
	Key int64 `json:"-"`
}

// Standard deviations assumed of a colour that is no instrument's: a hex colour
// chosen on some screen, a photograph, an eye (assumed; published trials of phone
// pictures without a chart err by several units).
var (
	hexSD   = cie.Lab{L: 3, A: 3, B: 3}
	photoSD = cie.Lab{L: 4, A: 4, B: 4}
	eyeSD   = cie.Lab{L: 6, A: 5, B: 6}
)

// repeatSD is what putting an instrument down again adds to the mean of the spots (assumed).
const repeatSD = 0.3

// SD is the standard deviation of the reading per coordinate; zero where it is not
// known, as of an instrument that read one spot.
func (r *Reading) SD() cie.Lab {
	switch r.Method {
	case ByEye:
		return eyeSD
	case ByHex:
		return hexSD
	case ByPhoto:
		// A photo tells its own doubt for a trend under the same phone, light and chart.
		if r.Spread != nil && r.Spots == 0 {
			return *r.Spread
		}
		return photoSD
	}
	if r.Spread == nil || r.Spots < 2 {
		return cie.Lab{}
	}
	n := math.Sqrt(float64(r.Spots))
	return cie.Lab{
		L: math.Hypot(r.Spread.L/n, repeatSD), A: math.Hypot(r.Spread.A/n, repeatSD), B: math.Hypot(r.Spread.B/n, repeatSD),
	}
}

// Sharp tells whether the reading may feed the drift rules: a colour guessed by eye
// may not.
func (r *Reading) Sharp() bool { return r.Method != ByEye }

// Check refuses a reading that cannot be of this batch at this time.
func (r *Reading) Check(b *Batch, now time.Time) error {
	if r.TakenAt.After(now.Add(dayDoubt(r.Clock))) {
		return fmt.Errorf("%s is in the future; a reading is entered when it has been taken", r.said(now))
	}
	// With the date alone on either side, the same day may still come after the pour.
	if r.TakenAt.Before(b.PouredAt.Add(-dayDoubt(r.Clock && b.PouredClock))) {
		return fmt.Errorf("%s lies before the pour of %s on %s; is it of another batch?", r.said(now), b.Code, b.PouredAt.In(now.Location()).Format("2006-01-02 15:04"))
	}
	if b.Day(r.TakenAt) > maxSlotDays {
		return fmt.Errorf("%s lies more than ten years after the pour of %s", r.said(now), b.Code)
	}
	if r.Lab != nil {
		if err := r.Lab.Check(); err != nil {
			return err
		}
	}
	for _, t := range []string{r.Words, r.Note, r.Original} {
		if len(t) > maxNote {
			return fmt.Errorf("a text of the reading has more than %d letters", maxNote)
		}
	}
	return nil
}

func (r *Reading) said(now time.Time) string {
	layout := "2006-01-02"
	if r.Clock {
		layout = "2006-01-02 15:04"
	}
	return r.TakenAt.In(now.Location()).Format(layout)
}

// MaxSpots bounds how many spots of a portion are averaged into one reading.
const MaxSpots = 50

// widestSpots is the ΔE00 between two spots beyond which they are not taken for one
// portion: a slip of the finger or the neighbour's colour.
const widestSpots = 15

// Average makes one colour of several spots with their spread; spread is nil for
// one spot.
func Average(spots []cie.Lab) (mean cie.Lab, spread *cie.Lab, err error) {
	n := float64(len(spots))
	switch {
	case len(spots) == 0:
		return mean, nil, errors.New("no colour is given")
	case len(spots) > MaxSpots:
		return mean, nil, fmt.Errorf("%d spots are more than %d", len(spots), MaxSpots)
	case len(spots) == 1:
		return spots[0], nil, nil
	}
	for i, s := range spots {
		for _, t := range spots[:i] {
			if d := cie.DeltaE00(s, t); d > widestSpots {
				return mean, nil, fmt.Errorf("two spots are ΔE00 %.0f apart, too far for one portion; is one of them of a neighbour, or mistyped?", d)
			}
		}
		mean = mean.Add(s.Scale(1 / n))
	}
	var v cie.Lab
	for _, s := range spots {
		d := s.Sub(mean)
		v = v.Add(cie.Lab{L: d.L * d.L, A: d.A * d.A, B: d.B * d.B})
	}
	return mean, &cie.Lab{L: math.Sqrt(v.L / (n - 1)), A: math.Sqrt(v.A / (n - 1)), B: math.Sqrt(v.B / (n - 1))}, nil
}

// Live drops what was struck out, has no colour for D65/2°, or is an early cup.
func Live(list []Reading) []Reading {
	return slices.DeleteFunc(slices.Clone(list), func(r Reading) bool { return r.Struck != "" || r.Lab == nil || r.Early })
}
