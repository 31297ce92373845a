package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"lyefast/internal/observations"
)

// AddEvent writes an event of a batch and gives its id.
func (tx *Tx) AddEvent(ctx context.Context, batch int64, e observations.Event) (int64, error) {
	return tx.insert(ctx, `INSERT INTO event (batch_id, kind, at, clock, after_min, batter, portion, value, note)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		batch, string(e.Kind), e.At, e.Clock, number(e.AfterMinutes), e.Batter, e.Portion, number(e.Value), e.Note)
}

// Events lists a batch's events in order of time.
func (tx *Tx) Events(ctx context.Context, batch int64) ([]observations.Event, error) {
	list := []observations.Event{}
	err := tx.each(ctx, `SELECT id, kind, at, clock, after_min, batter, portion, value, note FROM event
		WHERE batch_id = ? ORDER BY at, id`, []any{batch}, func(rows *sql.Rows) error {
		var e observations.Event
		var at string
		if err := rows.Scan(&e.ID, &e.Kind, &at, &e.Clock, &e.AfterMinutes, &e.Batter, &e.Portion, &e.Value, &e.Note); err != nil {
			return err
		}
		var err error
		if e.At, err = moment(at); err != nil {
			return fmt.Errorf("event %d: %w", e.ID, err)
		}
		list = append(list, e)
		return nil
	})
	return list, err
}

// AddWeighing writes a weight of a bar and gives its id.
func (tx *Tx) AddWeighing(ctx context.Context, batch int64, w observations.Weighing) (int64, error) {
	return tx.insert(ctx, `INSERT INTO weighing (batch_id, at, clock, batter, bar, grams, note) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		batch, w.At, w.Clock, w.Batter, w.Bar, w.Grams, w.Note)
}

// Weighings lists a batch's weights in order of time.
func (tx *Tx) Weighings(ctx context.Context, batch int64) ([]observations.Weighing, error) {
	list := []observations.Weighing{}
	err := tx.each(ctx, `SELECT id, at, clock, batter, bar, grams, note FROM weighing
		WHERE batch_id = ? ORDER BY at, id`, []any{batch}, func(rows *sql.Rows) error {
		var w observations.Weighing
		var at string
		if err := rows.Scan(&w.ID, &at, &w.Clock, &w.Batter, &w.Bar, &w.Grams, &w.Note); err != nil {
			return err
		}
		var err error
		if w.At, err = moment(at); err != nil {
			return fmt.Errorf("weighing %d: %w", w.ID, err)
		}
		list = append(list, w)
		return nil
	})
	return list, err
}

// AddLesson writes one line about a batch and gives its id.
func (tx *Tx) AddLesson(ctx context.Context, batch int64, text string) (int64, error) {
	return tx.insert(ctx, `INSERT INTO lesson (batch_id, at, text) VALUES (?, ?, ?)`, batch, tx.now, text)
}

// Lessons lists the lessons, oldest first: all of them, or those of one batch.
func (tx *Tx) Lessons(ctx context.Context, batch int64) ([]observations.Lesson, error) {
	list := []observations.Lesson{}
	err := tx.each(ctx, `SELECT l.id, b.code, b.title, l.at, l.text,
			coalesce((SELECT group_concat(f, char(10)) FROM (SELECT DISTINCT fragrance AS f FROM batter WHERE batch_id = b.id AND fragrance <> '' ORDER BY 1)), ''),
			coalesce((SELECT group_concat(c, char(10)) FROM (SELECT DISTINCT c.name AS c FROM portion_colorant AS c
				JOIN portion AS p ON p.id = c.portion_id WHERE p.batch_id = b.id ORDER BY 1)), '')
		FROM lesson AS l JOIN batch AS b ON b.id = l.batch_id
		WHERE ? IN (0, b.id) ORDER BY l.at, l.id`, []any{batch}, func(rows *sql.Rows) error {
		var l observations.Lesson
		var at, scents, colours string
		if err := rows.Scan(&l.ID, &l.Batch, &l.Title, &at, &l.Text, &scents, &colours); err != nil {
			return err
		}
		var err error
		if l.At, err = moment(at); err != nil {
			return fmt.Errorf("lesson %d: %w", l.ID, err)
		}
		l.Fragrances, l.Colorants = lines(scents), lines(colours)
		list = append(list, l)
		return nil
	})
	return list, err
}

// lines parts names that were joined by line breaks, which no name holds.
func lines(s string) []string {
	if s == "" {
		return []string{}
	}
	return strings.Split(s, "\n")
}
