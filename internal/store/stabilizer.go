package store

import (
	"context"
	"database/sql"

	"lyefast/internal/fragrance"
)

// Stabilizers lists the shelf's stabilisers by name, retired ones included.
func (tx *Tx) Stabilizers(ctx context.Context) ([]fragrance.Stabilizer, error) {
	var list []fragrance.Stabilizer
	err := tx.each(ctx, `SELECT id, name, active, strength_percent, note, retired
		FROM stabilizer ORDER BY name_key`, nil, func(rows *sql.Rows) error {
		var s fragrance.Stabilizer
		if err := rows.Scan(&s.ID, &s.Name, &s.Active, &s.Strength, &s.Note, &s.Retired); err != nil {
			return err
		}
		list = append(list, s)
		return nil
	})
	return list, err
}

// AddStabilizer puts a new stabiliser on the shelf and gives its id; [ErrExists]
// if the name is taken.
func (tx *Tx) AddStabilizer(ctx context.Context, s fragrance.Stabilizer) (int64, error) {
	id, err := tx.insert(ctx, `INSERT INTO stabilizer (name, name_key, active, strength_percent, note, retired, created_at, changed_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
		s.Name, NameKey(s.Name), string(s.Active), s.Strength, s.Note, s.Retired, tx.now, tx.now)
	return id, taken(err, "stabiliser", s.Name)
}

// UpdateStabilizer writes the stabiliser with s's id as s has it.
func (tx *Tx) UpdateStabilizer(ctx context.Context, s fragrance.Stabilizer) error {
	n, err := tx.exec(ctx, `UPDATE stabilizer SET name = ?, name_key = ?, active = ?, strength_percent = ?, note = ?,
		retired = ?, changed_at = ? WHERE id = ?`,
		s.Name, NameKey(s.Name), string(s.Active), s.Strength, s.Note, s.Retired, tx.now, s.ID)
	return altered(n, taken(err, "stabiliser", s.Name))
}
