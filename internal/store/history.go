package store

import (
	"context"
	"database/sql"
	"time"

	"lyefast/internal/cie"
	"lyefast/internal/unit"
)

// HistoryPortion is a portion made before the book was kept, from a maker's own table.
type HistoryPortion struct {
	// Key is the same for the same row, whichever file it comes in.
	Key [32]byte
	// Name as the table has it, may be empty; Made is when, zero where it is not known.
	Name string
	Made time.Time
	// Base is the bare soap, Lab what came of it, D65/2°; SD is one standard
	// deviation of each coordinate of either.
	Base, Lab cie.Lab
	SD        float64
	Doses     []HistoryDose
	// Vanillin and Stabilizer are g per kg of oils, 0 = none.
	Vanillin, Stabilizer unit.GramsPerKg
	// Source is the file it came in; set when read.
	Source string
}

// HistoryDose is one colourant of a [HistoryPortion].
type HistoryDose struct {
	Name string
	Dose unit.GramsPerKg
}

// AddHistory writes portions of a file as one intake, passing over those the book has
// already and repeats within the list. It gives how many were written.
func (tx *Tx) AddHistory(ctx context.Context, source string, list []HistoryPortion) (added int, err error) {
	have := map[[32]byte]bool{}
	if err := tx.each(ctx, `SELECT key FROM history_portion AS h WHERE `+liveHistory, nil, func(rows *sql.Rows) error {
		var key []byte
		err := rows.Scan(&key)
		have[[32]byte(append(key, make([]byte, 32)...)[:32])] = true
		return err
	}); err != nil {
		return 0, err
	}
	var fresh []*HistoryPortion
	for i := range list {
		if !have[list[i].Key] {
			have[list[i].Key] = true
			fresh = append(fresh, &list[i])
		}
	}
	if len(fresh) == 0 {
		return 0, nil
	}
	intake, err := tx.insert(ctx, `INSERT INTO history_intake (at, source, portions) VALUES (?, ?, ?)`, tx.now, source, len(fresh))
	if err != nil {
		return 0, err
	}
	for _, p := range fresh {
		var made any
		if !p.Made.IsZero() {
			made = p.Made.Unix()
		}
		id, err := tx.insert(ctx, `INSERT INTO history_portion (intake_id, key, name, made_at, base_l, base_a, base_b,
				vanillin_g_per_kg, stabilizer_g_per_kg, l, a, b, sd)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, intake, p.Key[:], p.Name, made, p.Base.L, p.Base.A, p.Base.B,
			float64(p.Vanillin), float64(p.Stabilizer), p.Lab.L, p.Lab.A, p.Lab.B, p.SD)
		if err != nil {
			return 0, err
		}
		for _, d := range p.Doses {
			if _, err := tx.insert(ctx, `INSERT INTO history_dose (portion_id, name, name_key, g_per_kg) VALUES (?, ?, ?, ?)`,
				id, d.Name, NameKey(d.Name), float64(d.Dose)); err != nil {
				return 0, err
			}
		}
	}
	return len(fresh), nil
}

// liveHistory is the condition that a row h of a history counts: its intake was not
// taken back.
const liveHistory = `EXISTS (SELECT 1 FROM history_intake WHERE id = h.intake_id)`

// History gives all past portions, in the order they were taken in.
func (tx *Tx) History(ctx context.Context) ([]HistoryPortion, error) {
	var list []HistoryPortion
	at := map[int64]int{}
	err := tx.each(ctx, `SELECT h.id, h.key, h.name, h.made_at, h.base_l, h.base_a, h.base_b, h.vanillin_g_per_kg, h.stabilizer_g_per_kg,
			h.l, h.a, h.b, h.sd, i.source
		FROM history_portion AS h JOIN history_intake AS i ON i.id = h.intake_id ORDER BY h.id`, nil, func(rows *sql.Rows) error {
		var p HistoryPortion
		var id int64
		var key []byte
		var made *int64
		if err := rows.Scan(&id, &key, &p.Name, &made, &p.Base.L, &p.Base.A, &p.Base.B, &p.Vanillin, &p.Stabilizer,
			&p.Lab.L, &p.Lab.A, &p.Lab.B, &p.SD, &p.Source); err != nil {
			return err
		}
		copy(p.Key[:], key)
		if made != nil {
			p.Made = time.Unix(*made, 0).UTC()
		}
		at[id] = len(list)
		list = append(list, p)
		return nil
	})
	if err != nil || len(list) == 0 {
		return list, err
	}
	err = tx.each(ctx, `SELECT d.portion_id, d.name, d.g_per_kg FROM history_dose AS d
		JOIN history_portion AS h ON h.id = d.portion_id WHERE `+liveHistory+` ORDER BY d.id`, nil, func(rows *sql.Rows) error {
		var id int64
		var d HistoryDose
		if err := rows.Scan(&id, &d.Name, &d.Dose); err != nil {
			return err
		}
		p := &list[at[id]]
		p.Doses = append(p.Doses, d)
		return nil
	})
	return list, err
}

// AnyPortions tells whether the book holds anything to learn from: a reading or a past
// portion.
func (tx *Tx) AnyPortions(ctx context.Context) (some bool, err error) {
	err = tx.each(ctx, `SELECT EXISTS (SELECT 1 FROM intake) OR EXISTS (SELECT 1 FROM history_intake)`, nil, func(rows *sql.Rows) error {
		return rows.Scan(&some)
	})
	return some, err
}

// BookRevision is a number that every change to the book raises, undo and redo included.
func (tx *Tx) BookRevision(ctx context.Context) (n int64, err error) {
	err = tx.each(ctx, `SELECT coalesce(max(id), 0) FROM change`, nil, func(rows *sql.Rows) error { return rows.Scan(&n) })
	return n, err
}

// WorkedOut is something that was worked out from the book, kept so that it need not
// be worked out again. Key says from what, Revision is that of the book at the time.
type WorkedOut struct {
	Key      [32]byte
	Revision int64
	Value    []byte
}

// WorkedOut gives what was kept under a name, nil if nothing was.
func (tx *Tx) WorkedOut(ctx context.Context, what string) (w *WorkedOut, err error) {
	err = tx.each(ctx, `SELECT key, revision, value FROM worked_out WHERE what = ?`, []any{what}, func(rows *sql.Rows) error {
		w = &WorkedOut{}
		var key []byte
		if err := rows.Scan(&key, &w.Revision, &w.Value); err != nil {
			return err
		}
		copy(w.Key[:], key)
		return nil
	})
	return w, err
}

// mostWorkedOut bounds how many things are kept of names that say of what they are, such
// as "plan" and its key; those kept the longest ago go.
const mostWorkedOut = 24

// KeepWorkedOut keeps something under a name, of one word or of a word and a key. It is no change to the book: the
// journal does not know of it and undo does not meet it.
func (b *Book) KeepWorkedOut(ctx context.Context, what string, w WorkedOut) error {
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return wrap("keep what was worked out", b.path, err)
	}
	defer tx.Rollback()
	for _, step := range []struct {
		query string
		args  []any
	}{
		{`INSERT INTO worked_out (what, key, revision, used_at, value) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (what) DO UPDATE SET key = excluded.key, revision = excluded.revision, used_at = excluded.used_at, value = excluded.value`,
			[]any{what, w.Key[:], w.Revision, b.now().Unix(), w.Value}},
		{`DELETE FROM worked_out WHERE what LIKE '% %' AND id NOT IN
			(SELECT id FROM worked_out WHERE what LIKE '% %' ORDER BY used_at DESC, id DESC LIMIT ?)`, []any{mostWorkedOut}},
	} {
		if _, err := tx.ExecContext(ctx, step.query, step.args...); err != nil {
			return wrap("keep what was worked out", b.path, err)
		}
	}
	return wrap("keep what was worked out", b.path, tx.Commit())
}
