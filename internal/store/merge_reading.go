package store

import (
	"cmp"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
)

// readingMerge brings the readings of portions. There may be a million of them: of a
// portion only a digest of each is held, and rows go from one book to the other as
// they are read.
type readingMerge struct {
	*merger
	here, there *readingRows
	insert      *sql.Stmt
	intakes     map[int64]int64 // by their numbers there
	counts      map[int64]int   // by their numbers here
}

// readingRows reads the readings of a portion in one of the books.
type readingRows struct {
	columns []string // of the reading, without its number and what it refers to
	query   string
	ways    map[int64]string
}

func (w *readingMerge) open() error {
	var err error
	if w.here, err = w.rows(w.to); err != nil {
		return err
	}
	if w.there, err = w.rows(w.from); err != nil {
		return err
	}
	names := append([]string{"portion_id", "intake_id", "way_id"}, w.there.columns...)
	marks := strings.Repeat(", ?", len(names))[2:]
	w.insert, err = w.to.tx.PrepareContext(w.ctx, `INSERT INTO reading (`+strings.Join(names, ", ")+`) VALUES (`+marks+`)`)
	return err
}

func (w *readingMerge) close() { w.insert.Close() }

func (w *readingMerge) rows(tx *Tx) (*readingRows, error) {
	columns, err := columnsOf(w.ctx, tx.tx, "reading")
	if err != nil {
		return nil, err
	}
	r := &readingRows{ways: map[int64]string{}}
	for _, c := range columns {
		if !slices.Contains([]string{"id", "portion_id", "intake_id", "way_id"}, c.name) {
			r.columns = append(r.columns, quote(c.name))
		}
	}
	r.query = `SELECT id, intake_id, way_id, ` + strings.Join(r.columns, ", ") + ` FROM reading AS r WHERE portion_id = ? AND ` + live + ` `
	list, err := tx.records(w.ctx, "reading_way", "")
	for _, way := range list {
		p := way.print()
		r.ways[way.id] = string(p[:])
	}
	return r, err
}

// one is a reading as it passes by.
type one struct {
	id, intake, way int64
	values          []any
	print           print
}

// each calls f for every reading; it must keep nothing of it.
func (r *readingRows) each(w *readingMerge, tx *Tx, rest string, args []any, f func(*one) error) error {
	x := one{values: make([]any, len(r.columns))}
	into := []any{&x.id, &x.intake, &x.way}
	for i := range x.values {
		into = append(into, &x.values[i])
	}
	var b []byte
	return tx.each(w.ctx, r.query+rest, args, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		b = append(b[:0], r.ways[x.way]...)
		for _, v := range x.values {
			switch v := v.(type) {
			case nil:
				b = append(b, 'n')
			case int64:
				b = binary.LittleEndian.AppendUint64(append(b, 'i'), uint64(v))
			case float64:
				b = binary.LittleEndian.AppendUint64(append(b, 'f'), math.Float64bits(v))
			default:
				b = fmt.Appendf(b, "%T:%v\x00", v, v)
			}
		}
		sum := sha256.Sum256(b)
		copy(x.print[:], sum[:])
		return f(&x)
	})
}

// portion unites the readings of one portion, and what was struck out of them.
func (w *readingMerge) portion(here, there int64, isNew bool, what string) error {
	left := map[print]int32{}
	if !isNew {
		if err := w.here.each(w, w.to, "", []any{here}, func(x *one) error {
			left[x.print]++
			return nil
		}); err != nil {
			return err
		}
	}
	if err := w.there.each(w, w.from, `ORDER BY taken_at, id`, []any{there}, func(x *one) error {
		if left[x.print] > 0 {
			left[x.print]--
			return nil
		}
		intake, err := w.intake(x.intake)
		if err != nil {
			return err
		}
		way, err := w.way(x.way)
		if err != nil {
			return err
		}
		w.counts[intake]++
		w.added["reading"]++
		_, err = w.insert.ExecContext(w.ctx, append([]any{here, intake, way}, x.values...)...)
		return err
	}); err != nil {
		return err
	}
	return w.strikes(here, there, what)
}

// intake gives the intake here that takes what came in one of the other book.
func (w *readingMerge) intake(there int64) (int64, error) {
	if id, ok := w.intakes[there]; ok {
		return id, nil
	}
	list, err := w.from.records(w.ctx, "intake", `WHERE id = ?`, there)
	if err != nil {
		return 0, err
	}
	// How many it will hold is known at the end.
	id, err := w.to.put(w.ctx, "intake", list[0], map[string]any{"readings": int64(1)})
	w.intakes[there] = id
	return id, err
}

// way gives the way of reading here that is one of the other book.
func (w *readingMerge) way(there int64) (int64, error) {
	p := w.there.ways[there]
	for id, q := range w.here.ways {
		if p == q {
			return id, nil
		}
	}
	list, err := w.from.records(w.ctx, "reading_way", `WHERE id = ?`, there)
	if err != nil {
		return 0, err
	}
	id, err := w.to.put(w.ctx, "reading_way", list[0], nil)
	w.here.ways[id] = p
	return id, err
}

// finish notes how many readings each intake holds.
func (w *readingMerge) finish() error {
	for id, n := range w.counts {
		if n == 1 {
			continue
		}
		if err := w.to.alter(w.ctx, "intake", id, map[string]any{"readings": int64(n)}); err != nil {
			return err
		}
	}
	return nil
}

// struck is a strike of a reading.
type struck struct{ at, why string }

func earlier(x, y struck) int { return cmp.Or(cmp.Compare(x.at, y.at), cmp.Compare(x.why, y.why)) }

// strikes unites what was struck out of a portion's readings. Readings that agree in
// everything stand for one another.
func (w *readingMerge) strikes(here, there int64, what string) error {
	theirs := map[print][]struck{}
	if err := w.marks(w.there, w.from, there, true, func(x *one, s *struck) {
		if s != nil {
			theirs[x.print] = append(theirs[x.print], *s)
		}
	}); err != nil || len(theirs) == 0 {
		return err
	}
	type row struct {
		id int64
		s  *struck
	}
	mine := map[print][]row{}
	if err := w.marks(w.here, w.to, here, false, func(x *one, s *struck) {
		if _, ok := theirs[x.print]; ok {
			mine[x.print] = append(mine[x.print], row{x.id, s})
		}
	}); err != nil {
		return err
	}
	for p, list := range theirs {
		slices.SortFunc(list, earlier)
		rows := mine[p]
		// Those struck out here first, in their order.
		slices.SortFunc(rows, func(x, y row) int {
			switch {
			case x.s != nil && y.s != nil:
				return earlier(*x.s, *y.s)
			case x.s != nil:
				return -1
			case y.s != nil:
				return 1
			}
			return cmp.Compare(x.id, y.id)
		})
		for i, s := range list {
			if i >= len(rows) {
				return fmt.Errorf("a reading of %s that was struck out did not come with the others", what)
			}
			r := rows[i]
			switch {
			case r.s == nil:
				w.added["strike"]++
				if _, err := w.to.insert(w.ctx, `INSERT INTO strike (reading_id, at, why) VALUES (?, ?, ?)`, r.id, s.at, s.why); err != nil {
					return err
				}
			case earlier(s, *r.s) < 0:
				w.conflict(Conflict{What: fmt.Sprintf("reading %d of %s", r.id, what), Field: "why it was struck out", Here: r.s.why, There: s.why, Kept: s.why,
					Besides: "the earlier strike stands"})
				if _, err := w.to.exec(w.ctx, `UPDATE strike SET at = ?, why = ? WHERE reading_id = ?`, s.at, s.why, r.id); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// marks calls f for the readings of a portion with their strikes: those that have
// one, or all.
func (w *readingMerge) marks(r *readingRows, tx *Tx, portion int64, only bool, f func(*one, *struck)) error {
	strikes := map[int64]struck{}
	if err := tx.each(w.ctx, `SELECT s.reading_id, s.at, s.why FROM strike AS s JOIN reading AS r ON r.id = s.reading_id WHERE r.portion_id = ?`,
		[]any{portion}, func(rows *sql.Rows) error {
			var id int64
			var s struck
			err := rows.Scan(&id, &s.at, &s.why)
			strikes[id] = s
			return err
		}); err != nil {
		return err
	}
	rest := ""
	if only {
		if len(strikes) == 0 {
			return nil
		}
		rest = `AND id IN (SELECT reading_id FROM strike)`
	}
	return r.each(w, tx, rest, []any{portion}, func(x *one) error {
		if s, ok := strikes[x.id]; ok {
			f(x, &s)
		} else {
			f(x, nil)
		}
		return nil
	})
}
