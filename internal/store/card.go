package store

import (
	"context"
	"database/sql"

	"lyefast/internal/photo"
)

// Cards lists the charts, grey cards and sheets by name, retired ones included.
func (tx *Tx) Cards(ctx context.Context) ([]photo.Card, error) {
	var list []photo.Card
	err := tx.each(ctx, `SELECT id, name, kind, edition, d50_l, d50_a, d50_b, learnt_from, note, retired
		FROM card ORDER BY name_key`, nil, func(rows *sql.Rows) error {
		var c photo.Card
		var l, a, b *float64
		if err := rows.Scan(&c.ID, &c.Name, &c.Kind, &c.Edition, &l, &a, &b, &c.LearntFrom, &c.Note, &c.Retired); err != nil {
			return err
		}
		c.Lab = labOf(l, a, b)
		list = append(list, c)
		return nil
	})
	return list, err
}

// AddCard puts a new card on the shelf and gives its id; [ErrExists] if the name is
// taken.
func (tx *Tx) AddCard(ctx context.Context, c photo.Card) (int64, error) {
	l, a, b := labColumns(c.Lab)
	id, err := tx.insert(ctx, `INSERT INTO card (name, name_key, kind, edition, d50_l, d50_a, d50_b, learnt_from, note, retired, created_at, changed_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		c.Name, NameKey(c.Name), string(c.Kind), string(c.Edition), l, a, b, c.LearntFrom, c.Note, c.Retired, tx.now, tx.now)
	return id, taken(err, "card", c.Name)
}

// UpdateCard writes the card with c's id as c has it.
func (tx *Tx) UpdateCard(ctx context.Context, c photo.Card) error {
	l, a, b := labColumns(c.Lab)
	n, err := tx.exec(ctx, `UPDATE card SET name = ?, name_key = ?, kind = ?, edition = ?, d50_l = ?, d50_a = ?, d50_b = ?,
		learnt_from = ?, note = ?, retired = ?, changed_at = ? WHERE id = ?`,
		c.Name, NameKey(c.Name), string(c.Kind), string(c.Edition), l, a, b, c.LearntFrom, c.Note, c.Retired, tx.now, c.ID)
	return altered(n, taken(err, "card", c.Name))
}
