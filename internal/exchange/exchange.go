// Package exchange reads what colour instruments and spreadsheets write and
// writes what other programs read. Bytes go in, values come out, and the other
// way about: no file is opened here, no clock is read, nothing is stored.
//
// Start at [Read] for readings (CSV or TSV of a hand-held instrument, CGATS.17
// or ISO 28178 text, CxF3 XML), at [ReadSeries] and [ReadMixtures] for the plain
// tables that a forecast and the shelf learn from, at [Table] for what is
// exported and at [Calendar] for reminders.
//
// A [Sample] keeps the colour as the file gives it, with the illuminant and the
// observer and with where those came from, and beside it the colour for D65, 2°
// where that can be had: from the spectrum, or by Bradford adaptation between
// illuminants. A colour for the 10° observer has no counterpart for 2° without
// its spectrum, so there is none.
//
// A file that cannot be understood is refused with a [Declined]; a row that
// cannot is listed in [Import.Skipped] with its line. Nothing is guessed.
package exchange

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"path"
	"strconv"
	"strings"
	"time"

	"lyefast/internal/cie"
	"runtime"
	"sync"
	"sync/atomic"
)

// Bounds on what is read, so that a hostile or mistaken file ends in an error
// and not in a machine without memory.
const (
	// MaxBytes is the largest file that is read: 64 MiB.
	MaxBytes = 64 << 20
	// MaxRows is the largest number of rows, objects or sets in one file.
	MaxRows = 1_000_000
	// MaxColumns is the largest number of columns or fields.
	MaxColumns = 4096
	// maxSpectrum is the largest number of wavelengths of one spectrum: 1 nm
	// steps from 300 to 1100 nm need 801.
	maxSpectrum = 2048
)

// Format names the kind of file that [Read] recognised.
type Format string

// The formats of [Read].
const (
	CSV   Format = "CSV"
	CGATS Format = "CGATS.17"
	CxF   Format = "CxF3"
)

// DateOrder says how 03/04/2026 is meant. The zero value is not known: a file
// that needs it is declined.
type DateOrder string

// The two orders in use with slashes and dashes. Dotted dates are always day
// first, and a date that begins with the year is never in doubt.
const (
	DayFirst   DateOrder = "dmy"
	MonthFirst DateOrder = "mdy"
)

// Options answers what a file may leave open. The zero value asks for nothing.
type Options struct {
	// DateOrder settles dates like 03/04/2026.
	DateOrder DateOrder
	// Location is the time zone of times written without one; nil means UTC.
	Location *time.Location
	// Illuminant ("D65", "D50", …) and Observer (2 or 10, degrees) hold where the
	// file states none; they never override the file.
	Illuminant string
	Observer   int
	// Mode keeps only the rows of one measuring mode ("SCI" or "SCE"); empty
	// keeps all.
	Mode string
}

func (o Options) location() *time.Location {
	if o.Location == nil {
		return time.UTC
	}
	return o.Location
}

// check refuses options that no file could be read with.
func (o Options) check() error {
	if o.DateOrder != "" && o.DateOrder != DayFirst && o.DateOrder != MonthFirst {
		return fmt.Errorf("the order of a date is %q or %q, got %q", DayFirst, MonthFirst, o.DateOrder)
	}
	if o.Observer != 0 && o.Observer != 2 && o.Observer != 10 {
		return fmt.Errorf("the observer is 2 or 10 degrees, got %d", o.Observer)
	}
	if o.Illuminant != "" && illuminantName(o.Illuminant) == "" {
		return fmt.Errorf("no illuminant is called %q, try D65 or D50", o.Illuminant)
	}
	if o.Mode != "" && modeName(o.Mode) == "" {
		return fmt.Errorf("the measuring mode is SCI or SCE, got %q", o.Mode)
	}
	return nil
}

// Origin says where an illuminant or an observer came from.
type Origin string

const (
	// Stated: the file says so.
	Stated Origin = "stated"
	// Given: [Options] said so, the file did not.
	Given Origin = "given"
	// Convention: neither did; it is the usual one of the format (D50, 2° in the
	// graphic arts, CGATS and CxF).
	Convention Origin = "convention"
	// Assumed: neither did, and the format has no convention; D65, 2° was taken
	// so as to have a number at all.
	Assumed Origin = "assumed"
	// Computed: the file gives a spectrum and no L*a*b*, and the colour was
	// computed for this condition.
	Computed Origin = "computed"
)

// Import is what a file holds.
type Import struct {
	// Format and Encoding ("UTF-8", "UTF-16LE", "Windows-1252", …) as recognised.
	Format   Format
	Encoding string
	// Delimiter and Decimal of a CSV ("," ";" "tab" "|"; "." or ",").
	Delimiter, Decimal string
	// Created is the date of the file in its own words. It is not the time of any
	// reading.
	Created string
	// Columns tells how each column, field or element was understood.
	Columns []ColumnMeaning
	// Readings in the order of the file.
	Readings []Sample
	// Skipped rows, by line.
	Skipped []Skip
	// Warnings are what the maker should know before the file is taken.
	Warnings []string

	whiteY     float64 // Y of the white that the file gives for its XYZ; 0 if none
	unsaid     int     // warnings beyond maxWarnings
	sums       [][16]byte
	convention bool // unstated conditions are D50, 2° by the format's convention
}

// Rejected counts the skipped rows that held a colour which cannot be right, as
// against calibration rows, blanks and repeated headings.
func (im *Import) Rejected() int {
	n := 0
	for _, s := range im.Skipped {
		if s.Rejected {
			n++
		}
	}
	return n
}

// maxWarnings bounds the list; what comes later is counted only.
const maxWarnings = 50

func (im *Import) warn(format string, args ...any) {
	if len(im.Warnings) >= maxWarnings {
		im.unsaid++
		return
	}
	w := format
	if len(args) > 0 { // a warning without figures may come up at each of a million rows
		w = message(format, args)
	}
	for _, old := range im.Warnings {
		if old == w {
			return
		}
	}
	im.Warnings = append(im.Warnings, w)
}

func (im *Import) skip(line int, format string, args ...any) {
	im.Skipped = append(im.Skipped, Skip{Line: line, Reason: message(format, args)})
}

func (im *Import) reject(line int, format string, args ...any) {
	im.Skipped = append(im.Skipped, Skip{Line: line, Reason: message(format, args), Rejected: true})
}

// ColumnMeaning tells how one column was understood.
type ColumnMeaning struct {
	// Column counts from 1.
	Column int `json:"column"`
	// Header is the cell or field name as it stands in the file.
	Header string `json:"header"`
	// Meaning in words: "L* for D65, 10°", "date", "ignored: a colour difference".
	Meaning string `json:"meaning"`
}

// Skip is a row that was not taken.
type Skip struct {
	Line   int    `json:"line"`
	Reason string `json:"reason"`
	// Rejected rows hold a colour or a date that cannot be right. The others were
	// left out because they are no readings.
	Rejected bool `json:"rejected"`
}

// Declined is the error for a file that must not be taken.
type Declined struct {
	// Name of the file, without its folder.
	Name string
	// Reason says what was wrong, Hint what to try (may be empty).
	Reason, Hint string
	// Line counts from 1; 0 where the reason is not in one line.
	Line int
}

// Error gives name, line and reason in one line, without the hint.
func (d *Declined) Error() string {
	var b strings.Builder
	b.WriteString("cannot take ")
	if d.Name == "" {
		b.WriteString("the file")
	} else {
		b.WriteString(d.Name)
	}
	if d.Line > 0 {
		fmt.Fprintf(&b, ", line %d", d.Line)
	}
	b.WriteString(": ")
	b.WriteString(d.Reason)
	return b.String()
}

func decline(line int, hint, format string, args ...any) *Declined {
	return &Declined{Line: line, Hint: hint, Reason: message(format, args)}
}

// Sample is one reading of a file.
type Sample struct {
	// Name of what was read, ID the file's own number for it, Type the file's
	// word for its kind (CxF: "Standard", "Target", …).
	Name, ID, Type string
	// TakenAt is when it was read, as far as the file says.
	TakenAt Moment
	// Lab as measured, for Illuminant and Observer (2 or 10 degrees). Where the
	// file gives no L*a*b* it is computed from XYZ or Spectrum.
	Lab        cie.Lab
	Illuminant string
	Observer   int
	// IlluminantFrom and ObserverFrom say whether those two were read or assumed.
	IlluminantFrom, ObserverFrom Origin
	// LabD65 is the colour for D65, 2°; nil where there is no way to it.
	LabD65 *cie.Lab
	// LabD65From says how: "as measured", "Bradford" or "spectrum".
	LabD65From string
	// XYZ, Y = 1 for the perfect diffuser, where the file gives XYZ and no L*a*b*.
	XYZ *cie.XYZ
	// Spectrum as measured, nil if none.
	Spectrum *Spectrum
	// Mode is "SCI" (gloss included), "SCE" (excluded) or empty.
	Mode string
	// Instrument and Geometry in the file's words.
	Instrument, Geometry string
	// Line on which it stands.
	Line int
	// Repeat counts earlier readings of the file that are alike in all that
	// [Sample.Key] looks at.
	Repeat int

	fromSpectrum bool     // Lab is computed from Spectrum
	usable       bool     // Spectrum gives a colour
	off          float64  // ΔE00 between Spectrum and Lab
	white        *cie.XYZ // the white that the file gives for its XYZ, if it does
}

// Method is the measuring mode where one is stated, else "instrument".
func (s *Sample) Method() string {
	if s.Mode != "" {
		return s.Mode
	}
	return "instrument"
}

// Key is a stable digest of what was read: the same reading in the same file,
// in a longer export or in another format gives the same key, so a book that
// remembers keys adds nothing when a file is taken twice. It does not depend on
// [Options], on the order of lines or on the file's running numbers.
func (s *Sample) Key() string {
	sum := s.Digest()
	return hex.EncodeToString(sum[:])
}

// Digest is [Sample.Key] as bytes.
func (s *Sample) Digest() (sum [16]byte) {
	text := make([]byte, 0, 256)
	put := func(p string) { // with its length, so that no two lists of parts look alike
		text = strconv.AppendInt(text, int64(len(p)), 10)
		text = append(append(append(text, ':'), p...), ';')
	}
	num := func(v ...float64) {
		for _, x := range v {
			text = append(strconv.AppendFloat(text, x, 'g', 9, 64), ';')
		}
	}
	put(s.Name)
	put(s.TakenAt.canonical())
	put(s.Mode)
	if s.IlluminantFrom == Stated {
		put(s.Illuminant)
	}
	if s.ObserverFrom == Stated {
		put(strconv.Itoa(s.Observer))
	}
	switch {
	case s.fromSpectrum && s.Spectrum != nil:
		put("spectrum")
		num(s.Spectrum.NM...)
		num(s.Spectrum.R...)
	case s.XYZ != nil:
		put("xyz")
		num(s.XYZ.X, s.XYZ.Y, s.XYZ.Z)
	default:
		put("lab")
		num(s.Lab.L, s.Lab.A, s.Lab.B)
	}
	put(strconv.Itoa(s.Repeat))
	whole := sha256.Sum256(text)
	copy(sum[:], whole[:])
	return sum
}

// Digests gives the digest of every reading as it was read.
func (im *Import) Digests() [][16]byte { return im.sums }

// digest works the digests out on all processors.
func (im *Import) digest() [][16]byte {
	sums := make([][16]byte, len(im.Readings))
	const part = 10_000
	var wg sync.WaitGroup
	var next atomic.Int64
	for range min(runtime.GOMAXPROCS(0), 1+len(im.Readings)/part) {
		wg.Go(func() {
			for {
				to := int(next.Add(part))
				from := to - part
				if from >= len(sums) {
					return
				}
				for i := from; i < min(to, len(sums)); i++ {
					sums[i] = im.Readings[i].Digest()
				}
			}
		})
	}
	wg.Wait()
	return sums
}

func triple(c cie.Lab) [3]float64 { return [3]float64{c.L, c.A, c.B} }

// MarshalJSON gives the shape of an import's dry run: name, taken_at (null if
// the file gives no date; without a time or a zone where the file gives none),
// lab as measured, lab_d65 or null, illuminant, observer (degrees) and method,
// and beside them what else is known. An illuminant or observer that is only
// [Assumed] is null and stands in "assumed".
func (s Sample) MarshalJSON() ([]byte, error) {
	type assumed struct {
		Illuminant string `json:"illuminant,omitempty"`
		Observer   int    `json:"observer,omitempty"`
	}
	out := struct {
		Name           string   `json:"name"`
		ID             string   `json:"id,omitempty"`
		TakenAt        *string  `json:"taken_at"`
		TimeKnown      bool     `json:"time_known"`
		Lab            any      `json:"lab"`
		LabD65         *cie.Lab `json:"lab_d65"`
		LabD65From     string   `json:"lab_d65_from,omitempty"`
		Illuminant     *string  `json:"illuminant"`
		Observer       *int     `json:"observer"`
		IlluminantFrom Origin   `json:"illuminant_from"`
		ObserverFrom   Origin   `json:"observer_from"`
		Assumed        *assumed `json:"assumed,omitempty"`
		Method         string   `json:"method"`
		Mode           string   `json:"mode,omitempty"`
		Instrument     string   `json:"instrument,omitempty"`
		Geometry       string   `json:"geometry,omitempty"`
		Bands          int      `json:"spectrum_bands,omitempty"`
		Line           int      `json:"line"`
	}{
		Name: s.Name, ID: s.ID, TimeKnown: s.TakenAt.TimeKnown, Lab: triple(s.Lab), LabD65: s.LabD65,
		LabD65From: s.LabD65From, IlluminantFrom: s.IlluminantFrom, ObserverFrom: s.ObserverFrom,
		Method: s.Method(), Mode: s.Mode, Instrument: s.Instrument, Geometry: s.Geometry, Line: s.Line,
	}
	if t := s.TakenAt.String(); t != "" {
		out.TakenAt = &t
	}
	if s.fromSpectrum || s.XYZ != nil { // computed, so rounded like the other; else as it stands in the file
		out.Lab = s.Lab
	}
	var a assumed
	if s.IlluminantFrom == Assumed {
		a.Illuminant = s.Illuminant
	} else {
		out.Illuminant = &s.Illuminant
	}
	if s.ObserverFrom == Assumed {
		a.Observer = s.Observer
	} else {
		out.Observer = &s.Observer
	}
	if a != (assumed{}) {
		out.Assumed = &a
	}
	if s.Spectrum != nil {
		out.Bands = len(s.Spectrum.NM)
	}
	return json.Marshal(out)
}

// foreign lists the first bytes of files that are often mistaken for a table.
var foreign = []struct{ magic, reason, hint string }{
	{"PK\x03\x04", "it is a spreadsheet or an archive, not text", "open it in the spreadsheet program and save the sheet as CSV"},
	{"\xD0\xCF\x11\xE0", "it is a spreadsheet of the old binary kind, not text", "open it in the spreadsheet program and save the sheet as CSV"},
	{"%PDF", "it is a PDF, not text", "export the readings as CSV"},
	{"\x89PNG", "it is a picture", "use reading photo for pictures"},
	{"\xFF\xD8\xFF", "it is a picture", "use reading photo for pictures"},
	{"\x1F\x8B", "it is compressed", "unpack it first"},
	{"SQLite format 3", "it is a database, not a table of readings", ""},
}

// Read recognises a file by its content and reads it whole. name is used in
// messages only. Errors about the file are *[Declined], and the Import that
// comes with one still tells what was recognised up to there; any other error
// is about opts.
func Read(data []byte, name string, opts Options) (Import, error) {
	if err := opts.check(); err != nil {
		return Import{}, err
	}
	im := Import{}
	err := im.read(data, opts)
	if err != nil {
		err.Name = path.Base(strings.ReplaceAll(name, `\`, "/"))
		if name == "" {
			err.Name = ""
		}
		im.Readings = nil
		return im, err
	}
	return im, nil
}

func (im *Import) read(data []byte, opts Options) *Declined {
	if len(data) > MaxBytes {
		return decline(0, "split it", "it has %d MiB, more than the %d that are read", len(data)>>20, MaxBytes>>20)
	}
	for _, f := range foreign {
		if bytes.HasPrefix(data, []byte(f.magic)) {
			return decline(0, f.hint, "%s", f.reason)
		}
	}
	text, encoding, err := decode(data)
	im.Encoding = encoding
	if err != nil {
		return err
	}
	head := bytes.TrimSpace(text[:min(len(text), 4096)])
	switch {
	case len(head) == 0 && len(bytes.TrimSpace(text)) == 0:
		return decline(0, "", "it is empty")
	case bytes.HasPrefix(head, []byte("<")):
		im.Format, im.convention = CxF, true
		err = im.readCxF(text, opts)
	case isCGATS(text):
		im.Format, im.convention = CGATS, true
		err = im.readCGATS(text, opts)
	case head[0] == '{' || head[0] == '[':
		return decline(0, "export the readings as CSV, CGATS.17 text or CxF3", "it looks like JSON, which is not read")
	default:
		im.Format = CSV
		err = im.readCSV(text, opts)
	}
	if err != nil {
		return err
	}
	if err := im.finish(opts); err != nil {
		return err
	}
	if len(im.Readings) > 0 {
		return nil
	}
	if im.Rejected() > 0 {
		s := im.Skipped[0]
		for _, r := range im.Skipped {
			if r.Rejected {
				s = r
				break
			}
		}
		return decline(s.Line, "", "no row of it can be taken; the first: %s", s.Reason)
	}
	if len(im.Skipped) > 0 {
		return decline(0, "", "no row of it holds a colour; the first, line %d: %s", im.Skipped[0].Line, im.Skipped[0].Reason)
	}
	return decline(0, "", "it holds no colour of any object")
}

// finish does what is alike for all formats: options, modes, conversion,
// repeats.
func (im *Import) finish(opts Options) *Declined {
	if opts.Mode != "" {
		want := modeName(opts.Mode)
		kept := im.Readings[:0]
		for _, s := range im.Readings {
			if s.Mode != "" && s.Mode != want {
				im.skip(s.Line, "it is %s, and only %s was asked for", s.Mode, want)
				continue
			}
			kept = append(kept, s)
		}
		im.Readings = kept
	}
	modes := map[string]bool{}
	for i := range im.Readings {
		modes[im.Readings[i].Mode] = true
	}
	if modes["SCI"] && modes["SCE"] {
		im.warn("rows of both modes, SCI and SCE: they are two measures of one moment, not two readings of a series; choose one of them")
	}
	if err := im.convert(opts); err != nil {
		return err
	}
	im.countRepeats()
	if im.unsaid > 0 {
		im.Warnings = append(im.Warnings, fmt.Sprintf("and %s of such kinds", count(im.unsaid, "more warning", "more warnings")))
	}
	return nil
}

// countRepeats numbers alike readings, so that each has a key of its own and
// the same one next time.
func (im *Import) countRepeats() {
	type mark struct{ n, first int32 } // how often it was seen, and its first line
	seen := make(map[[16]byte]mark, len(im.Readings))
	im.sums = im.digest()
	for i := range im.Readings {
		s, k := &im.Readings[i], im.sums[i]
		m := seen[k]
		if s.Repeat = int(m.n); m.n == 0 {
			m.first = int32(s.Line)
		} else {
			im.warn("line %d repeats line %d", s.Line, m.first)
			im.sums[i] = s.Digest()
		}
		m.n++
		seen[k] = m
	}
}

// Limits of a colour that an instrument can read off an object. Values just
// beyond 100 come from optical brighteners, but in a list of soap readings a
// slip of the decimal point is likelier.
const (
	maxL  = 100.0
	maxAB = 150.0
)

// labProblem says what makes a colour impossible, or nothing.
func labProblem(c cie.Lab) string {
	switch {
	case !c.Finite():
		return "the colour is not a number"
	case c.L < 0 || c.L > maxL:
		return fmt.Sprintf("L* %s is outside 0..100", plain(c.L))
	case math.Abs(c.A) > maxAB:
		return fmt.Sprintf("a* %s is outside -150..150", plain(c.A))
	case math.Abs(c.B) > maxAB:
		return fmt.Sprintf("b* %s is outside -150..150", plain(c.B))
	}
	return ""
}

// message formats a message and keeps it short, whatever a cell holds.
func message(format string, args []any) string {
	const most = 300
	s := fmt.Sprintf(format, args...)
	n := 0
	for i := range s {
		if n++; n > most {
			return s[:i] + " …"
		}
	}
	return s
}

// plain prints a number as a person would write it.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
