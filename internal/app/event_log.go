package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"lyefast/internal/observations"
	"lyefast/internal/store"
)

// LogQuestions are asked after washing up. Every one may be left out.
var LogQuestions = []string{
	"How warm was the batter when the fragrance went in (33 °C)?",
	"How long from the fragrance to light trace (about 6 min)?",
	"How long to thick trace, or until it no longer poured?",
	"Did it rice, seize, separate or go to false trace? When (seized 9 min)?",
	"How long until all of it was poured?",
	"One line to be told next time?",
}

// LogQuery answers [LogQuestions].
type LogQuery struct {
	// Target is "HD-07" or "HD-07/slab".
	Target string
	// Answers in the order of the questions; "" skips one.
	Answers []string
}

// Logged is what the answers made.
type Logged struct {
	Batch  string               `json:"batch"`
	Batter string               `json:"batter"`
	Events []observations.Event `json:"events"`
	Lesson string               `json:"lesson,omitempty"`
}

// LogBatch notes the answers of one batter in one change.
func (a *App) LogBatch(ctx context.Context, q LogQuery) (*Logged, error) {
	code, rest := splitTarget(q.Target)
	out := &Logged{Events: []observations.Event{}}
	if len(q.Answers) > len(LogQuestions) {
		return nil, invalid("", "there are %d answers to %d questions", len(q.Answers), len(LogQuestions))
	}
	answer := func(i int) string {
		if i < len(q.Answers) {
			return strings.TrimSpace(q.Answers[i])
		}
		return ""
	}
	err := a.changeBatch(ctx, code, "log", func(tx *store.Tx, b *observations.Batch) error {
		batter, err := LogBatter(b, rest)
		if err != nil {
			return &Error{Kind: ErrInvalid, Msg: "log " + b.Code, Err: err}
		}
		out.Batch, out.Batter = b.Code, batter
		add := func(e EventQuery) error {
			var noted EventNoted
			if err := a.addEvent(ctx, tx, b, batter, e, &noted); err != nil {
				return err
			}
			out.Events = append(out.Events, noted.Event)
			return nil
		}
		poured := b.PouredAt.Format(time.RFC3339)
		if s := answer(0); s != "" {
			if err := add(EventQuery{Kind: "temperature", Value: s, At: poured}); err != nil {
				return err
			}
		}
		for i, kind := range map[int]string{1: "light trace", 2: "thick trace", 4: "poured"} {
			if s := answer(i); s != "" {
				if err := add(EventQuery{Kind: kind, After: s}); err != nil {
					return err
				}
			}
		}
		if s := answer(3); s != "" && !isNo(s) {
			for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' }) {
				kind, after := cutKind(part)
				e := EventQuery{Kind: kind, After: after}
				if after == "" {
					e.At = poured
				}
				if err := add(e); err != nil {
					return err
				}
			}
		}
		if s := strings.Join(strings.Fields(answer(5)), " "); s != "" {
			if err := observations.CheckLesson(s); err != nil {
				return &Error{Kind: ErrInvalid, Msg: err.Error()}
			}
			if _, err := tx.AddLesson(ctx, b.ID, s); err != nil {
				return err
			}
			out.Lesson = s
		}
		return nil
	})
	return out, err
}

func isNo(s string) bool {
	switch strings.ToLower(s) {
	case "no", "none", "n", "nothing", "neither", "-":
		return true
	}
	return false
}

// cutKind parts "seized after about 9 min" into the event and the span.
func cutKind(s string) (kind, after string) {
	s = strings.TrimSpace(s)
	i := strings.IndexAny(s, "0123456789~≈½")
	if i < 0 {
		return s, ""
	}
	for _, w := range []string{"about", "around", "roughly", "after", "at"} {
		if j := strings.Index(strings.ToLower(s[:i]), " "+w+" "); j >= 0 {
			return strings.TrimSpace(s[:j]), strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(s[j:]), "after"))
		}
	}
	return strings.TrimSpace(s[:i]), s[i:]
}

// LogBatter is the pot that questions are about: the one named, the only one, else
// the first with a scent.
func LogBatter(b *observations.Batch, name string) (string, error) {
	if name == "" {
		for _, t := range b.Batters {
			if t.Fragrance != "" {
				return t.Name, nil
			}
		}
		if len(b.Batters) > 0 {
			return b.Batters[0].Name, nil
		}
	}
	t, err := b.Batter(name)
	if err != nil {
		return "", err
	}
	return t.Name, nil
}

// PotLog is what a printed or clickable log is made for.
type PotLog struct {
	// Batch is the code, "" for a plan that is not poured yet.
	Batch   string   `json:"batch"`
	Title   string   `json:"title"`
	Batters []string `json:"batters"`
	Kinds   []string `json:"kinds"`
	// Warm are the kinds that a temperature can stand with.
	Warm []string `json:"with_temperature"`
}

// potKinds are the buttons of a log: what happens while hands are wet.
var potKinds = []observations.Kind{
	observations.Emulsion, observations.FragranceIn, observations.LightTrace, observations.MediumTrace, observations.ThickTrace,
	observations.FalseTrace, observations.Ricing, observations.Seizing, observations.Poured,
}

// PotLogOf makes the log of a batch.
func (a *App) PotLogOf(ctx context.Context, code string) (*PotLog, error) {
	var out *PotLog
	err := a.readBatch(ctx, code, func(_ *store.Tx, b *observations.Batch) error {
		out = potLog(b.Code, b.Title)
		for _, t := range b.Batters {
			out.Batters = append(out.Batters, t.Name)
		}
		return nil
	})
	return out, err
}

// PotLogOfPlan makes the log of a plan, for before the pour.
func PotLogOfPlan(data []byte, file string) (*PotLog, error) {
	p, err := readPlan(data, file)
	if err != nil {
		return nil, err
	}
	out := potLog("", p.Title)
	for _, b := range p.Batters {
		out.Batters = append(out.Batters, b.Name)
	}
	return out, nil
}

func potLog(code, title string) *PotLog {
	l := &PotLog{Batch: code, Title: title, Batters: []string{}}
	for _, k := range potKinds {
		l.Kinds = append(l.Kinds, string(k))
		if k.Measure() == observations.InCelsius {
			l.Warm = append(l.Warm, string(k))
		}
	}
	return l
}

// LogFile is what the clickable log saves.
type LogFile struct {
	// Potlog is the version of the form, 1.
	Potlog int            `json:"lyefast_potlog"`
	Batch  string         `json:"batch"`
	Title  string         `json:"title"`
	Events []LogFileEvent `json:"events"`
}

// LogFileEvent is one press of a button.
type LogFileEvent struct {
	Batter string `json:"batter"`
	Kind   string `json:"kind"`
	At     string `json:"at"` // RFC 3339
	Value  string `json:"value"`
	Note   string `json:"note"`
}

// Bounds on a log file.
const (
	MaxLogFile   = 1 << 20
	maxLogEvents = 1000
)

// LogImported is what a log file added.
type LogImported struct {
	Batch  string               `json:"batch"`
	Added  []observations.Event `json:"added"`
	Passed int                  `json:"in_the_book_already"`
}

// ImportLog takes a saved log whole or not at all; what the book has already is
// passed over. code names the batch where the file was made of a plan.
func (a *App) ImportLog(ctx context.Context, data []byte, name, code string) (*LogImported, error) {
	f, err := readLogFile(data)
	if err != nil {
		return nil, &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("read log %q", name), Err: err, Tip: "save it again from the page that `lyefast batch potlog` wrote"}
	}
	if code == "" {
		code = f.Batch
	}
	if code == "" {
		return nil, invalid("say which with --batch HD-07", "the log was made of a plan, so it does not say which batch it is of")
	}
	out := &LogImported{Added: []observations.Event{}}
	err = a.changeBatch(ctx, code, "take log "+clipped(name), func(tx *store.Tx, b *observations.Batch) error {
		out.Batch = b.Code
		have, err := tx.Events(ctx, b.ID)
		if err != nil {
			return err
		}
		type mark struct {
			kind   observations.Kind
			batter string
			at     int64
		}
		seen := map[mark]bool{}
		for _, e := range have {
			seen[mark{e.Kind, store.NameKey(e.Batter), e.At.Unix()}] = true
		}
		for i, fe := range f.Events {
			at, err := time.Parse(time.RFC3339, fe.At)
			if err != nil {
				return &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("read log %q: event %d: %q is no moment", name, i+1, clipped(fe.At))}
			}
			if k, err := observations.ParseKind(fe.Kind); err == nil {
				m := mark{k, store.NameKey(fe.Batter), at.Unix()}
				if seen[m] {
					out.Passed++
					continue
				}
				seen[m] = true
			}
			var noted EventNoted
			q := EventQuery{Kind: fe.Kind, At: fe.At, Value: fe.Value, Note: fe.Note}
			if err := a.addEvent(ctx, tx, b, fe.Batter, q, &noted); err != nil {
				return &Error{Kind: ErrInvalid, Msg: fmt.Sprintf("read log %q: event %d", name, i+1), Err: err}
			}
			out.Added = append(out.Added, noted.Event)
		}
		return nil
	})
	return out, err
}

// readLogFile reads a saved log strictly.
func readLogFile(data []byte) (LogFile, error) {
	var f LogFile
	if len(data) > MaxLogFile {
		return f, fmt.Errorf("it has more than %d bytes", MaxLogFile)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return f, fmt.Errorf("it is no log: %w", err)
	}
	switch {
	case f.Potlog != 1:
		return f, fmt.Errorf("it is no log of this program, or of a newer one (form %d)", f.Potlog)
	case dec.More():
		return f, fmt.Errorf("something follows the log")
	case len(f.Events) > maxLogEvents:
		return f, fmt.Errorf("it has %d events, more than %d", len(f.Events), maxLogEvents)
	}
	return f, nil
}
