package store

import (
	"context"
	"database/sql"

	"lyefast/internal/fragrance"
	"lyefast/internal/unit"
)

// Fragrances lists the shelf's fragrances by name, retired ones included.
func (tx *Tx) Fragrances(ctx context.Context) ([]fragrance.Fragrance, error) {
	var list []fragrance.Fragrance
	err := tx.each(ctx, `SELECT id, name, vanillin_percent, ethyl_vanillin_percent, flash_point_c,
	max_use_percent, max_use_category, max_use_amendment, max_use_date, moves, lot, note, retired
		FROM fragrance ORDER BY name_key`, nil, func(rows *sql.Rows) error {
		f := fragrance.Fragrance{Others: []fragrance.Share{}, Allergens: []fragrance.Share{}, Claims: []string{}}
		var maxUse *unit.Percent
		var cert fragrance.MaxUse
		if err := rows.Scan(&f.ID, &f.Name, &f.Vanillin, &f.EthylVanillin, &f.FlashPoint,
			&maxUse, &cert.Category, &cert.Amendment, &cert.Date, &f.Moves, &f.Lot, &f.Note, &f.Retired); err != nil {
			return err
		}
		if maxUse != nil {
			cert.Percent = *maxUse
			f.MaxUse = &cert
		}
		list = append(list, f)
		return nil
	})
	if err != nil {
		return nil, err
	}
	at := map[int64]*fragrance.Fragrance{}
	for i := range list {
		at[list[i].ID] = &list[i]
	}
	err = tx.each(ctx, `SELECT fragrance_id, role, name, percent FROM fragrance_share
		ORDER BY fragrance_id, role, position`, nil, func(rows *sql.Rows) error {
		var id int64
		var role string
		var s fragrance.Share
		if err := rows.Scan(&id, &role, &s.Name, &s.Percent); err != nil {
			return err
		}
		if f := at[id]; f != nil && role == "browner" {
			f.Others = append(f.Others, s)
		} else if f != nil {
			f.Allergens = append(f.Allergens, s)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = tx.each(ctx, `SELECT fragrance_id, claim FROM fragrance_claim
		ORDER BY fragrance_id, position`, nil, func(rows *sql.Rows) error {
		var id int64
		var claim string
		if err := rows.Scan(&id, &claim); err != nil {
			return err
		}
		if f := at[id]; f != nil {
			f.Claims = append(f.Claims, claim)
		}
		return nil
	})
	return list, err
}

// AddFragrance puts a new fragrance on the shelf and gives its id; [ErrExists] if
// the name is taken.
func (tx *Tx) AddFragrance(ctx context.Context, f fragrance.Fragrance) (int64, error) {
	limit, cert := certificate(f)
	id, err := tx.insert(ctx, `INSERT INTO fragrance (name, name_key, vanillin_percent, ethyl_vanillin_percent, flash_point_c,
			max_use_percent, max_use_category, max_use_amendment, max_use_date, moves, lot, note, retired, created_at, changed_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		f.Name, NameKey(f.Name), f.Vanillin, f.EthylVanillin, f.FlashPoint,
		limit, cert.Category, cert.Amendment, cert.Date, string(f.Moves), f.Lot, f.Note, f.Retired, tx.now, tx.now)
	if err != nil {
		return 0, taken(err, "fragrance", f.Name)
	}
	f.ID = id
	return id, tx.addPapers(ctx, f)
}

// UpdateFragrance writes the fragrance with f's id as f has it.
func (tx *Tx) UpdateFragrance(ctx context.Context, f fragrance.Fragrance) error {
	limit, cert := certificate(f)
	n, err := tx.exec(ctx, `UPDATE fragrance SET name = ?, name_key = ?, vanillin_percent = ?, ethyl_vanillin_percent = ?,
			flash_point_c = ?, max_use_percent = ?, max_use_category = ?, max_use_amendment = ?, max_use_date = ?,
			moves = ?, lot = ?, note = ?, retired = ?, changed_at = ?
		WHERE id = ?`,
		f.Name, NameKey(f.Name), f.Vanillin, f.EthylVanillin,
		f.FlashPoint, limit, cert.Category, cert.Amendment, cert.Date,
		string(f.Moves), f.Lot, f.Note, f.Retired, tx.now, f.ID)
	if err := altered(n, taken(err, "fragrance", f.Name)); err != nil {
		return err
	}
	if _, err := tx.exec(ctx, `DELETE FROM fragrance_share WHERE fragrance_id = ?`, f.ID); err != nil {
		return err
	}
	if _, err := tx.exec(ctx, `DELETE FROM fragrance_claim WHERE fragrance_id = ?`, f.ID); err != nil {
		return err
	}
	return tx.addPapers(ctx, f)
}

// certificate parts the ceiling into its columns, NULL where none was entered.
func certificate(f fragrance.Fragrance) (limit any, rest fragrance.MaxUse) {
	if f.MaxUse == nil {
		return nil, fragrance.MaxUse{}
	}
	return f.MaxUse.Percent, *f.MaxUse
}

// addPapers writes what hangs on a fragrance as lists.
func (tx *Tx) addPapers(ctx context.Context, f fragrance.Fragrance) error {
	for role, list := range map[string][]fragrance.Share{"browner": f.Others, "allergen": f.Allergens} {
		for i, s := range list {
			if _, err := tx.insert(ctx, `INSERT INTO fragrance_share (fragrance_id, role, position, name, percent)
				VALUES (?, ?, ?, ?, ?)`, f.ID, role, i, s.Name, s.Percent); err != nil {
				return err
			}
		}
	}
	for i, claim := range f.Claims {
		if _, err := tx.insert(ctx, `INSERT INTO fragrance_claim (fragrance_id, position, claim)
			VALUES (?, ?, ?)`, f.ID, i, claim); err != nil {
			return err
		}
	}
	return nil
}
