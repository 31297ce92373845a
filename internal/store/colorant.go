package store

import (
	"context"
	"database/sql"

	"lyefast/internal/colorants"
)

// Colorants lists the shelf's colourants by name, retired ones included.
func (tx *Tx) Colorants(ctx context.Context) ([]colorants.Product, error) {
	var list []colorants.Product
	err := tx.each(ctx, `SELECT id, name, label, kind, swatch_l, swatch_a, swatch_b, swatch_basis,
	swatch_dose_g_per_kg, usual_dose_g_per_kg, teaspoon_g, claim, lot, note, retired
		FROM colorant ORDER BY name_key`, nil, func(rows *sql.Rows) error {
		var p colorants.Product
		var l, a, b *float64
		if err := rows.Scan(&p.ID, &p.Name, &p.Label, &p.Kind, &l, &a, &b, &p.SwatchBasis,
			&p.SwatchDose, &p.UsualDose, &p.TeaspoonGrams, &p.Claim, &p.Lot, &p.Note, &p.Retired); err != nil {
			return err
		}
		p.Swatch = labOf(l, a, b)
		list = append(list, p)
		return nil
	})
	return list, err
}

// AddColorant puts a new colourant on the shelf and gives its id; [ErrExists] if
// the name is taken.
func (tx *Tx) AddColorant(ctx context.Context, p colorants.Product) (int64, error) {
	l, a, b := labColumns(p.Swatch)
	id, err := tx.insert(ctx, `INSERT INTO colorant (name, name_key, label, kind, swatch_l, swatch_a, swatch_b, swatch_basis,
			swatch_dose_g_per_kg, usual_dose_g_per_kg, teaspoon_g, claim, lot, note, retired, created_at, changed_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		p.Name, NameKey(p.Name), p.Label, string(p.Kind), l, a, b, p.SwatchBasis,
		p.SwatchDose, p.UsualDose, p.TeaspoonGrams, p.Claim, p.Lot, p.Note, p.Retired, tx.now, tx.now)
	return id, taken(err, "colourant", p.Name)
}

// UpdateColorant writes the colourant with p's id as p has it.
func (tx *Tx) UpdateColorant(ctx context.Context, p colorants.Product) error {
	l, a, b := labColumns(p.Swatch)
	n, err := tx.exec(ctx, `UPDATE colorant SET name = ?, name_key = ?, label = ?, kind = ?, swatch_l = ?, swatch_a = ?, swatch_b = ?,
			swatch_basis = ?, swatch_dose_g_per_kg = ?, usual_dose_g_per_kg = ?, teaspoon_g = ?, claim = ?, lot = ?, note = ?,
			retired = ?, changed_at = ?
		WHERE id = ?`,
		p.Name, NameKey(p.Name), p.Label, string(p.Kind), l, a, b,
		p.SwatchBasis, p.SwatchDose, p.UsualDose, p.TeaspoonGrams, p.Claim, p.Lot, p.Note,
		p.Retired, tx.now, p.ID)
	return altered(n, taken(err, "colourant", p.Name))
}
