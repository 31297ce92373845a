package store

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lyefast/internal/observations"
)

// Placed is a reading and the portion it is of.
type Placed struct {
	Portion int64
	*observations.Reading
}

// live is the condition that a reading counts or did count: its intake was not taken back.
const live = `EXISTS (SELECT 1 FROM intake WHERE id = r.intake_id)`

// AddReadings writes readings as one intake. Those of a file (source not "") that
// are in the book already, by portion, time and key, are passed over. It gives the
// id of the first reading written, and how many were; the list is sorted. progress
// is told now and then how far it is, if not nil.
func (tx *Tx) AddReadings(ctx context.Context, source string, list []Placed, progress func(done, all int)) (first int64, added int, err error) {
	for _, p := range list {
		if p.Lab == nil {
			continue
		}
		if err := p.Lab.Check(); err != nil {
			return 0, 0, fmt.Errorf("%w: %w", ErrValue, err)
		}
	}
	// In the order of the index, so that it grows at its end.
	slices.SortStableFunc(list, func(x, y Placed) int {
		return cmp.Or(cmp.Compare(x.Portion, y.Portion), cmp.Compare(x.TakenAt.Unix(), y.TakenAt.Unix()))
	})
	if source != "" {
		if list, err = tx.fresh(ctx, list); err != nil {
			return 0, 0, err
		}
	}
	if len(list) == 0 {
		return 0, 0, nil
	}
	intake, err := tx.insert(ctx, `INSERT INTO intake (at, source, readings) VALUES (?, ?, ?)`, tx.now, source, len(list))
	if err != nil {
		return 0, 0, err
	}
	if err := tx.each(ctx, `SELECT coalesce(max(id), 0) + 1 FROM reading`, nil, func(rows *sql.Rows) error {
		return rows.Scan(&first)
	}); err != nil {
		return 0, 0, err
	}
	w := &readingWriter{tx: tx, intake: intake, ways: map[observations.Way]int64{}}
	defer w.close()
	for i, p := range list {
		if err := w.add(ctx, p); err != nil {
			return 0, 0, err
		}
		if progress != nil && i%10_000 == 0 {
			progress(i, len(list))
		}
	}
	return first, len(list), w.flush(ctx)
}

// fresh drops what the book has already, and repeats within the list.
func (tx *Tx) fresh(ctx context.Context, list []Placed) ([]Placed, error) {
	type mark struct {
		portion, at, key int64
	}
	have := map[mark]bool{}
	for i := 0; i < len(list); {
		j := i
		for j < len(list) && list[j].Portion == list[i].Portion {
			j++
		}
		portion := list[i].Portion
		if err := tx.each(ctx, `SELECT taken_at, key FROM reading AS r WHERE portion_id = ? AND taken_at BETWEEN ? AND ? AND `+live,
			[]any{portion, list[i].TakenAt.Unix(), list[j-1].TakenAt.Unix()}, func(rows *sql.Rows) error {
				m := mark{portion: portion}
				err := rows.Scan(&m.at, &m.key)
				have[m] = true
				return err
			}); err != nil {
			return nil, err
		}
		i = j
	}
	if len(have) == 0 {
		return list, nil
	}
	return slices.DeleteFunc(list, func(p Placed) bool { return have[mark{p.Portion, p.TakenAt.Unix(), p.Key}] }), nil
}

// rowsAtOnce is how many plain readings one statement writes: few enough to stay
// well below SQLite's limit of bound values, enough to make its fixed cost small.
const rowsAtOnce = 100

// readingWriter writes readings, plain ones of one portion and way many at a time.
type readingWriter struct {
	tx     *Tx
	intake int64
	ways   map[observations.Way]int64

	full         *sql.Stmt // writes rowsAtOnce readings
	portion, way int64     // of those that wait
	waiting      []any     // their values, rowValues of each
}

func (w *readingWriter) close() {
	if w.full != nil {
		w.full.Close()
	}
}

// mostWays bounds the ways of reading that one intake may bring: few by nature, and
// a million of them where a column of running numbers is taken for the instrument.
const mostWays = 1000

// rowValues is how many values are bound for each row.
const rowValues = 5

// insertPlain is the statement that writes n plain readings. The numbers that all of
// them share stand in it as they are, which saves binding them for every row; bound
// once by number they would be looked up by name in this driver, which takes longer.
func (w *readingWriter) insertPlain(n int) string {
	row := fmt.Sprintf("(%d, %d, %d, ?, ?, ?, ?, ?)", w.portion, w.intake, w.way)
	return `INSERT INTO reading (portion_id, intake_id, way_id, taken_at, key, l, a, b) VALUES ` + strings.Repeat(row+", ", n-1) + row
}

func (w *readingWriter) add(ctx context.Context, p Placed) error {
	way, ok := w.ways[p.Way]
	if !ok {
		if len(w.ways) == mostWays {
			return fmt.Errorf("%w: more than %d kinds of instrument, method and light in one file; is one of its columns read for what it is not?", ErrValue, mostWays)
		}
		var err error
		if way, err = w.tx.way(ctx, p.Way); err != nil {
			return err
		}
		w.ways[p.Way] = way
	}
	r := p.Reading
	plain := r.Lab != nil && r.Spread == nil && r.Spots <= 1 && r.Original == "" && r.Words == "" && r.Note == ""
	// The order of writing is the order of ids, which the maker sees.
	if !plain || p.Portion != w.portion || way != w.way || len(w.waiting) == rowsAtOnce*rowValues {
		if err := w.flush(ctx); err != nil {
			return err
		}
	}
	if plain {
		if p.Portion != w.portion || way != w.way {
			w.close()
			w.full, w.portion, w.way = nil, p.Portion, way
		}
		w.waiting = append(w.waiting, r.TakenAt.Unix(), r.Key, r.Lab.L, r.Lab.A, r.Lab.B)
		return nil
	}
	l, a, b := labColumns(r.Lab)
	sl, sa, sb := labColumns(r.Spread)
	_, err := w.tx.insert(ctx, `INSERT INTO reading (portion_id, taken_at, intake_id, way_id, key, l, a, b, spots, sd_l, sd_a, sd_b,
			original, words, note)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, nullif(?, 0), ?, ?, ?, nullif(?, ''), nullif(?, ''), nullif(?, ''))`,
		p.Portion, r.TakenAt.Unix(), w.intake, way, r.Key, l, a, b, r.Spots, sl, sa, sb, r.Original, r.Words, r.Note)
	return err
}

// flush writes the plain readings that wait.
func (w *readingWriter) flush(ctx context.Context) error {
	n := len(w.waiting) / rowValues
	if n == 0 {
		return nil
	}
	var err error
	if n == rowsAtOnce {
		if w.full == nil {
			if w.full, err = w.tx.tx.PrepareContext(ctx, w.insertPlain(n)); err != nil {
				return err
			}
		}
		_, err = w.full.ExecContext(ctx, w.waiting...)
	} else {
		_, err = w.tx.tx.ExecContext(ctx, w.insertPlain(n), w.waiting...)
	}
	w.waiting = w.waiting[:0]
	return err
}

// way gives the id of a way of reading, which is written when it is new.
func (tx *Tx) way(ctx context.Context, w observations.Way) (int64, error) {
	var id int64
	args := []any{w.Method, w.Illuminant, w.Observer, w.Instrument, string(w.Face), w.Early, w.Clock}
	err := tx.each(ctx, `SELECT id FROM reading_way WHERE method = ? AND illuminant = ? AND observer = ? AND instrument = ?
		AND face = ? AND early = ? AND clock = ?`, args, func(rows *sql.Rows) error { return rows.Scan(&id) })
	if err != nil || id != 0 {
		return id, err
	}
	return tx.insert(ctx, `INSERT INTO reading_way (method, illuminant, observer, instrument, face, early, clock)
		VALUES (?, ?, ?, ?, ?, ?, ?)`, args...)
}

// readingFrom asks for what [Tx.readings] scans, of reading r, reading_way w, intake i and strike s.
const readingFrom = `SELECT r.id, r.portion_id, r.taken_at, w.method, w.illuminant, w.observer, w.instrument, w.face, w.early, w.clock,
	r.l, r.a, r.b, r.sd_l, r.sd_a, r.sd_b, coalesce(r.spots, 0), coalesce(r.original, ''), coalesce(r.words, ''), coalesce(r.note, ''),
	coalesce(s.why, ''), i.source, r.key
	FROM reading AS r JOIN intake AS i ON i.id = r.intake_id JOIN reading_way AS w ON w.id = r.way_id
	LEFT JOIN strike AS s ON s.reading_id = r.id `

func (tx *Tx) readings(ctx context.Context, rest string, args []any, f func(portion int64, r observations.Reading) error) error {
	return tx.each(ctx, readingFrom+rest, args, func(rows *sql.Rows) error {
		var r observations.Reading
		var portion, at int64
		var l, a, b, sl, sa, sb *float64
		if err := rows.Scan(&r.ID, &portion, &at, &r.Method, &r.Illuminant, &r.Observer, &r.Instrument, &r.Face, &r.Early, &r.Clock,
			&l, &a, &b, &sl, &sa, &sb, &r.Spots, &r.Original, &r.Words, &r.Note, &r.Struck, &r.Source, &r.Key); err != nil {
			return err
		}
		r.TakenAt = time.Unix(at, 0).UTC()
		r.Lab, r.Spread = labOf(l, a, b), labOf(sl, sa, sb)
		return f(portion, r)
	})
}

// EachReading calls f for every reading of a portion in order of time, struck ones included.
func (tx *Tx) EachReading(ctx context.Context, portion int64, f func(observations.Reading) error) error {
	return tx.readings(ctx, `WHERE r.portion_id = ? ORDER BY r.taken_at, r.id`, []any{portion}, func(_ int64, r observations.Reading) error {
		return f(r)
	})
}

// Readings gives the readings of a portion in order of time, struck ones included,
// at most the given number: of more, a sample spread over the time they span, so
// that a logged series of any length costs the same. all tells that nothing was left out.
func (tx *Tx) Readings(ctx context.Context, portion int64, most int) (list []observations.Reading, all bool, err error) {
	list = []observations.Reading{}
	take := func(_ int64, r observations.Reading) error {
		list = append(list, r)
		return nil
	}
	if err := tx.readings(ctx, `WHERE r.portion_id = ? ORDER BY r.taken_at, r.id LIMIT ?`, []any{portion, most + 1}, take); err != nil {
		return nil, false, err
	}
	if len(list) <= most {
		return list, true, nil
	}
	var first, last int64
	// Asked apart, each is one step into the index; asked together, a walk over all of it.
	if err := tx.each(ctx, `SELECT (SELECT min(taken_at) FROM reading WHERE portion_id = ?), (SELECT max(taken_at) FROM reading WHERE portion_id = ?)`,
		[]any{portion, portion}, func(rows *sql.Rows) error {
			return rows.Scan(&first, &last)
		}); err != nil {
		return nil, false, err
	}
	list = list[:0]
	// Ever wider stretches from the first reading on, a few readings of each: colours
	// move fast at first.
	const stretches = 24
	each := max(1, most/stretches)
	from := first
	for i := 1; i <= stretches; i++ {
		x := float64(i) / stretches
		until := first + int64(math.Ceil(float64(last-first+1)*x*x))
		if until <= from {
			continue
		}
		if err := tx.readings(ctx, `WHERE r.portion_id = ? AND r.taken_at >= ? AND r.taken_at < ? ORDER BY r.taken_at, r.id LIMIT ?`,
			[]any{portion, from, until, each}, take); err != nil {
			return nil, false, err
		}
		from = until
	}
	return list, false, nil
}

// ReadWithin tells whether a portion has a reading of the bar, not struck out and no
// early cup, from one moment up to another.
func (tx *Tx) ReadWithin(ctx context.Context, portion int64, from, until time.Time) (bool, error) {
	found := false
	err := tx.each(ctx, `SELECT 1 FROM reading AS r JOIN reading_way AS w ON w.id = r.way_id
		WHERE r.portion_id = ? AND r.taken_at >= ? AND r.taken_at < ? AND NOT w.early AND `+live+`
		AND NOT EXISTS (SELECT 1 FROM strike WHERE reading_id = r.id) LIMIT 1`,
		[]any{portion, from.Unix(), until.Unix()}, func(*sql.Rows) error {
			found = true
			return nil
		})
	return found, err
}

// Reading finds a reading by its number, with its portion; [ErrNotFound] if there is none.
func (tx *Tx) Reading(ctx context.Context, id int64) (portion int64, r observations.Reading, err error) {
	err = tx.readings(ctx, `WHERE r.id = ?`, []any{id}, func(p int64, found observations.Reading) error {
		portion, r = p, found
		return nil
	})
	if err == nil && r.ID == 0 {
		err = ErrNotFound
	}
	return portion, r, err
}

// BatchOf gives the code of the batch a portion belongs to.
func (tx *Tx) BatchOf(ctx context.Context, portion int64) (code string, err error) {
	err = tx.each(ctx, `SELECT b.code FROM batch AS b JOIN portion AS p ON p.batch_id = b.id WHERE p.id = ?`, []any{portion},
		func(rows *sql.Rows) error { return rows.Scan(&code) })
	if err == nil && code == "" {
		err = ErrNotFound
	}
	return code, err
}

// Strike notes that a reading no longer counts; [ErrExists] if it did not already.
func (tx *Tx) Strike(ctx context.Context, id int64, why string) error {
	_, err := tx.insert(ctx, `INSERT INTO strike (reading_id, at, why) VALUES (?, ?, ?)`, id, tx.now, why)
	return taken(err, "strike of reading", fmt.Sprint(id))
}
