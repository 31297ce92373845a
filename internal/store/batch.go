package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"lyefast/internal/observations"
)

// WhichBatches narrows a list of batches; the zero value asks for all.
type WhichBatches struct {
	// Open leaves out closed ones.
	Open bool
	// Code asks for one batch.
	Code string
	// Colorant and Fragrance ask for batches with a portion of that name.
	Colorant, Fragrance string
}

// Batches lists batches with their pots and portions, by the time of the pour.
func (tx *Tx) Batches(ctx context.Context, which WhichBatches) ([]observations.Batch, error) {
	where, args := "1", []any{}
	and := func(cond string, arg ...any) {
		where += " AND " + cond
		args = append(args, arg...)
	}
	if which.Open {
		and("closed_at IS NULL")
	}
	if which.Code != "" {
		and("code_key = ?", NameKey(which.Code))
	}
	if which.Colorant != "" {
		and(`id IN (SELECT p.batch_id FROM portion AS p JOIN portion_colorant AS c ON c.portion_id = p.id
			WHERE c.name_key = ?)`, NameKey(which.Colorant))
	}
	if which.Fragrance != "" {
		and("id IN (SELECT batch_id FROM batter WHERE fragrance_key = ?)", NameKey(which.Fragrance))
	}
	list := []observations.Batch{}
	at := map[int64]int{}
	err := tx.each(ctx, `SELECT id, code, title, poured_at, poured_clock, plan, gel, storage, place, cure_c, cut_at, schedule, closed_at, note
		FROM batch WHERE `+where+` ORDER BY poured_at, id`, args, func(rows *sql.Rows) error {
		b := observations.Batch{Batters: []observations.Batter{}, Portions: []observations.Portion{}}
		var poured, schedule string
		var cut, closed *string
		if err := rows.Scan(&b.ID, &b.Code, &b.Title, &poured, &b.PouredClock, &b.Plan, &b.Gel, &b.Storage, &b.Place, &b.CureAt,
			&cut, &schedule, &closed, &b.Note); err != nil {
			return err
		}
		var err error
		if b.PouredAt, err = moment(poured); err != nil {
			return fmt.Errorf("batch %s: %w", b.Code, err)
		}
		if b.CutAt, err = momentOr(cut); err != nil {
			return fmt.Errorf("batch %s: %w", b.Code, err)
		}
		if b.ClosedAt, err = momentOr(closed); err != nil {
			return fmt.Errorf("batch %s: %w", b.Code, err)
		}
		if b.Schedule, err = observations.ParseSchedule(schedule); err != nil {
			return fmt.Errorf("batch %s: %w", b.Code, err)
		}
		at[b.ID] = len(list)
		list = append(list, b)
		return nil
	})
	if err != nil || len(list) == 0 {
		return list, err
	}
	of := `batch_id IN (SELECT id FROM batch WHERE ` + where + `)`
	err = tx.each(ctx, `SELECT batch_id, name, oils_g, water_g, total_g, lye_percent, discount_percent, fresh_water, batter_c,
			fragrance, fragrance_g, fragrance_percent, stabilizer, stabilizer_g
		FROM batter WHERE `+of+` ORDER BY batch_id, position`, args, func(rows *sql.Rows) error {
		var t observations.Batter
		var id int64
		if err := rows.Scan(&id, &t.Name, &t.Oils, &t.Water, &t.Total, &t.Concentration, &t.Discount, &t.FreshWater, &t.BatterAt,
			&t.Fragrance, &t.FragranceGrams, &t.FragranceRate, &t.Stabilizer, &t.StabilizerG); err != nil {
			return err
		}
		b := &list[at[id]]
		b.Batters = append(b.Batters, t)
		return nil
	})
	if err != nil {
		return nil, err
	}
	type place struct{ batch, portion int }
	portions := map[int64]place{}
	err = tx.each(ctx, `SELECT batch_id, id, batter, name, grams, fragrance, fragrance_percent, brown_percent, ratio,
			target_l, target_a, target_b, pour_l, pour_a, pour_b, settled_l, settled_a, settled_b, control
		FROM portion WHERE `+of+` ORDER BY batch_id, position`, args, func(rows *sql.Rows) error {
		p := observations.Portion{Colorants: []observations.PortionDose{}}
		var id int64
		var c [9]*float64
		if err := rows.Scan(&id, &p.ID, &p.Batter, &p.Name, &p.Grams, &p.Fragrance, &p.FragranceRate, &p.BrownDose, &p.Ratio,
			&c[0], &c[1], &c[2], &c[3], &c[4], &c[5], &c[6], &c[7], &c[8], &p.Control); err != nil {
			return err
		}
		p.Target, p.AtPour, p.Settled = labOf(c[0], c[1], c[2]), labOf(c[3], c[4], c[5]), labOf(c[6], c[7], c[8])
		b := &list[at[id]]
		portions[p.ID] = place{at[id], len(b.Portions)}
		b.Portions = append(b.Portions, p)
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = tx.each(ctx, `SELECT c.portion_id, c.name, c.g_per_kg, c.grams, c.lot
		FROM portion_colorant AS c JOIN portion AS p ON p.id = c.portion_id
		WHERE p.`+of+` ORDER BY c.portion_id, c.position`, args, func(rows *sql.Rows) error {
		var id int64
		var d observations.PortionDose
		if err := rows.Scan(&id, &d.Name, &d.Dose, &d.Grams, &d.Lot); err != nil {
			return err
		}
		if w, ok := portions[id]; ok {
			p := &list[w.batch].Portions[w.portion]
			p.Colorants = append(p.Colorants, d)
		}
		return nil
	})
	return list, err
}

// Batch finds a batch by its code; [ErrNotFound] if there is none.
func (tx *Tx) Batch(ctx context.Context, code string) (observations.Batch, error) {
	list, err := tx.Batches(ctx, WhichBatches{Code: code})
	if err == nil && len(list) == 0 {
		err = &Error{Op: fmt.Sprintf("find batch %q", code), Kind: ErrNotFound}
	}
	if err != nil {
		return observations.Batch{}, err
	}
	return list[0], nil
}

// BatchCodes lists the codes in use.
func (tx *Tx) BatchCodes(ctx context.Context) ([]string, error) {
	return texts(ctx, tx.tx, `SELECT code FROM batch ORDER BY poured_at DESC, id DESC`)
}

// AddBatch writes a batch with its pots and portions and fills in their ids;
// [ErrExists] if the code is taken.
func (tx *Tx) AddBatch(ctx context.Context, b *observations.Batch) error {
	id, err := tx.insert(ctx, `INSERT INTO batch (code, code_key, title, poured_at, poured_clock, plan, gel, storage, place, cure_c,
			cut_at, schedule, closed_at, note, created_at, changed_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		b.Code, NameKey(b.Code), b.Title, b.PouredAt, b.PouredClock, b.Plan, string(b.Gel), string(b.Storage), b.Place, number(b.CureAt),
		timeOr(b.CutAt), b.Schedule.String(), timeOr(b.ClosedAt), b.Note, tx.now, tx.now)
	if err != nil {
		return taken(err, "batch", b.Code)
	}
	b.ID = id
	for i, t := range b.Batters {
		if _, err := tx.insert(ctx, `INSERT INTO batter (batch_id, position, name, oils_g, water_g, total_g, lye_percent, discount_percent,
				fresh_water, batter_c, fragrance, fragrance_key, fragrance_g, fragrance_percent, stabilizer, stabilizer_g)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			id, i, t.Name, t.Oils, t.Water, t.Total, t.Concentration, t.Discount, t.FreshWater, number(t.BatterAt),
			t.Fragrance, NameKey(t.Fragrance), t.FragranceGrams, t.FragranceRate, t.Stabilizer, t.StabilizerG); err != nil {
			return err
		}
	}
	for i := range b.Portions {
		if err := tx.addPortion(ctx, id, i, &b.Portions[i]); err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) addPortion(ctx context.Context, batch int64, position int, p *observations.Portion) error {
	tl, ta, tb := labColumns(p.Target)
	pl, pa, pb := labColumns(p.AtPour)
	sl, sa, sb := labColumns(p.Settled)
	id, err := tx.insert(ctx, `INSERT INTO portion (batch_id, position, batter, name, grams, fragrance, fragrance_key, fragrance_percent,
			brown_percent, ratio, target_l, target_a, target_b, pour_l, pour_a, pour_b, settled_l, settled_a, settled_b, control)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		batch, position, p.Batter, p.Name, p.Grams, p.Fragrance, NameKey(p.Fragrance), p.FragranceRate,
		number(p.BrownDose), p.Ratio, tl, ta, tb, pl, pa, pb, sl, sa, sb, p.Control)
	if err != nil {
		return err
	}
	p.ID = id
	for i, c := range p.Colorants {
		if _, err := tx.insert(ctx, `INSERT INTO portion_colorant (portion_id, position, name, name_key, g_per_kg, grams, lot)
			VALUES (?, ?, ?, ?, ?, ?, ?)`, id, i, c.Name, NameKey(c.Name), c.Dose, c.Grams, c.Lot); err != nil {
			return err
		}
	}
	return nil
}

// UpdateBatch writes what of a batch may change after the pour: gel, storage, place,
// the cut, the schedule, the end and the note.
func (tx *Tx) UpdateBatch(ctx context.Context, b *observations.Batch) error {
	return altered(tx.exec(ctx, `UPDATE batch SET gel = ?, storage = ?, place = ?, cure_c = ?, cut_at = ?, schedule = ?, closed_at = ?,
			note = ?, changed_at = ? WHERE id = ?`,
		string(b.Gel), string(b.Storage), b.Place, number(b.CureAt), timeOr(b.CutAt), b.Schedule.String(), timeOr(b.ClosedAt),
		b.Note, tx.now, b.ID))
}

// number gives a quantity that may be unknown, NULL where it is.
func number[T ~float64](v *T) any {
	if v == nil {
		return nil
	}
	return float64(*v)
}

func timeOr(t *time.Time) any {
	if t == nil {
		return nil
	}
	return *t
}

// moment reads a time as [Timestamp] writes it.
func moment(s string) (time.Time, error) { return time.Parse(time.RFC3339, s) }

func momentOr(s *string) (*time.Time, error) {
	if s == nil {
		return nil, nil
	}
	t, err := moment(*s)
	return &t, err
}

// BookID is the name a book was given when it was made, by which others tell it from
// a book with the same batches.
func (tx *Tx) BookID(ctx context.Context) (id string, err error) {
	err = tx.each(ctx, `SELECT uid FROM identity WHERE id = 1`, nil, func(rows *sql.Rows) error { return rows.Scan(&id) })
	return id, err
}

// Revision is how often a batch was changed since it was poured, undoing included,
// and when last. It only ever rises.
func (tx *Tx) Revision(ctx context.Context, batch int64) (n int, at time.Time, err error) {
	last := ""
	err = tx.each(ctx, `SELECT count(*), coalesce(max(c.at), '') FROM change_row AS r JOIN change AS c ON c.id = r.change_id
		WHERE r.tbl = 'batch' AND r.row_id = ?`, []any{batch}, func(rows *sql.Rows) error { return rows.Scan(&n, &last) })
	if err == nil && last != "" {
		at, err = moment(last)
	}
	return n, at, err
}
