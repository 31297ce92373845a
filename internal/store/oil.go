package store

import (
	"context"
	"database/sql"

	"lyefast/internal/formula"
)

// Oils lists the maker's own oils by name, retired ones included.
func (tx *Tx) Oils(ctx context.Context) ([]formula.Oil, error) {
	var list []formula.Oil
	err := tx.each(ctx, `SELECT id, key, name, inci, sv_min_mg_koh_per_g, sv_max_mg_koh_per_g, certificate_sv_mg_koh_per_g,
	unsaponifiable_max_percent, kind, tint, source, lot, note, retired
		FROM oil ORDER BY name_key`, nil, func(rows *sql.Rows) error {
		var o formula.Oil
		if err := rows.Scan(&o.ID, &o.Key, &o.Name, &o.INCI, &o.SVMin, &o.SVMax, &o.CertificateSV,
			&o.Unsaponifiable, &o.Kind, &o.Tint, &o.Source, &o.Lot, &o.Note, &o.Retired); err != nil {
			return err
		}
		list = append(list, o)
		return nil
	})
	return list, err
}

// AddOil puts an oil of the maker's own on the shelf and gives its id;
// [ErrExists] if the name is taken.
func (tx *Tx) AddOil(ctx context.Context, o formula.Oil) (int64, error) {
	id, err := tx.insert(ctx, `INSERT INTO oil (key, name, name_key, inci, sv_min_mg_koh_per_g, sv_max_mg_koh_per_g,
			certificate_sv_mg_koh_per_g, unsaponifiable_max_percent, kind, tint, source, lot, note, retired, created_at, changed_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		NameKey(o.Key), o.Name, NameKey(o.Name), o.INCI, o.SVMin, o.SVMax,
		o.CertificateSV, o.Unsaponifiable, string(o.Kind), string(o.Tint), o.Source, o.Lot, o.Note, o.Retired, tx.now, tx.now)
	return id, taken(err, "oil", o.Name)
}

// UpdateOil writes the oil with o's id as o has it.
func (tx *Tx) UpdateOil(ctx context.Context, o formula.Oil) error {
	n, err := tx.exec(ctx, `UPDATE oil SET key = ?, name = ?, name_key = ?, inci = ?, sv_min_mg_koh_per_g = ?, sv_max_mg_koh_per_g = ?,
			certificate_sv_mg_koh_per_g = ?, unsaponifiable_max_percent = ?, kind = ?, tint = ?, source = ?, lot = ?, note = ?,
			retired = ?, changed_at = ?
		WHERE id = ?`,
		NameKey(o.Key), o.Name, NameKey(o.Name), o.INCI, o.SVMin, o.SVMax,
		o.CertificateSV, o.Unsaponifiable, string(o.Kind), string(o.Tint), o.Source, o.Lot, o.Note,
		o.Retired, tx.now, o.ID)
	return altered(n, taken(err, "oil", o.Name))
}
