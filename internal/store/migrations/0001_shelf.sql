-- The shelf, and the journal that lets every change be taken back.
--
-- Rules for every table: STRICT; "id INTEGER PRIMARY KEY", so that the journal
-- can name a row; times as RFC 3339 text in UTC; amounts in the unit the column
-- names. The triggers that fill the journal are not written here: the migrator
-- makes them for every table.

CREATE TABLE change (
	id        INTEGER PRIMARY KEY AUTOINCREMENT,
	at        TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	kind      TEXT NOT NULL CHECK (kind IN ('change', 'undo', 'redo')),
	what      TEXT NOT NULL CHECK (what <> ''),
	undoes    INTEGER REFERENCES change (id),
	undone_by INTEGER REFERENCES change (id)
) STRICT;

CREATE TABLE change_row (
	id        INTEGER PRIMARY KEY,
	change_id INTEGER NOT NULL REFERENCES change (id),
	tbl       TEXT NOT NULL,
	row_id    INTEGER NOT NULL,
	op        TEXT NOT NULL CHECK (op IN ('insert', 'update', 'delete')),
	before    TEXT CHECK (before IS NULL OR json_valid(before)),
	CHECK ((op = 'insert') = (before IS NULL))
) STRICT;

CREATE INDEX change_row_of ON change_row (change_id);

CREATE TABLE colorant (
	id           INTEGER PRIMARY KEY,
	name         TEXT NOT NULL CHECK (name <> '' AND name = trim(name)),
	name_key     TEXT NOT NULL UNIQUE,
	label        TEXT NOT NULL DEFAULT '',
	kind         TEXT NOT NULL DEFAULT '',
	swatch_l     REAL CHECK (swatch_l BETWEEN 0 AND 100),
	swatch_a     REAL CHECK (swatch_a BETWEEN -200 AND 200),
	swatch_b     REAL CHECK (swatch_b BETWEEN -200 AND 200),
	swatch_basis TEXT NOT NULL DEFAULT '' CHECK (swatch_basis IN ('', 'maker', 'assumed')),
	swatch_dose_g_per_kg REAL NOT NULL DEFAULT 0 CHECK (swatch_dose_g_per_kg BETWEEN 0 AND 1000),
	usual_dose_g_per_kg  REAL NOT NULL DEFAULT 0 CHECK (usual_dose_g_per_kg BETWEEN 0 AND 1000),
	teaspoon_g   REAL NOT NULL DEFAULT 0 CHECK (teaspoon_g BETWEEN 0 AND 100),
	claim        TEXT NOT NULL DEFAULT '',
	lot          TEXT NOT NULL DEFAULT '',
	note         TEXT NOT NULL DEFAULT '',
	retired      INTEGER NOT NULL DEFAULT 0 CHECK (retired IN (0, 1)),
	created_at   TEXT NOT NULL CHECK (created_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	changed_at   TEXT NOT NULL CHECK (changed_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	CHECK ((swatch_l IS NULL) = (swatch_a IS NULL) AND (swatch_l IS NULL) = (swatch_b IS NULL))
) STRICT;

CREATE TABLE fragrance (
	id                     INTEGER PRIMARY KEY,
	name                   TEXT NOT NULL CHECK (name <> '' AND name = trim(name)),
	name_key               TEXT NOT NULL UNIQUE,
	vanillin_percent       REAL CHECK (vanillin_percent BETWEEN 0 AND 100),
	ethyl_vanillin_percent REAL CHECK (ethyl_vanillin_percent BETWEEN 0 AND 100),
	flash_point_c          REAL CHECK (flash_point_c BETWEEN -100 AND 500),
	max_use_percent        REAL CHECK (max_use_percent BETWEEN 0 AND 100),
	max_use_category       TEXT NOT NULL DEFAULT '',
	max_use_amendment      TEXT NOT NULL DEFAULT '',
	max_use_date           TEXT NOT NULL DEFAULT '',
	moves                  TEXT NOT NULL DEFAULT '',
	lot                    TEXT NOT NULL DEFAULT '',
	note                   TEXT NOT NULL DEFAULT '',
	retired                INTEGER NOT NULL DEFAULT 0 CHECK (retired IN (0, 1)),
	created_at             TEXT NOT NULL CHECK (created_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	changed_at             TEXT NOT NULL CHECK (changed_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z')
) STRICT;

-- Substances named on a fragrance's papers: what else browns, and allergens.
CREATE TABLE fragrance_share (
	id           INTEGER PRIMARY KEY,
	fragrance_id INTEGER NOT NULL REFERENCES fragrance (id) ON DELETE CASCADE,
	role         TEXT NOT NULL CHECK (role IN ('browner', 'allergen')),
	position     INTEGER NOT NULL,
	name         TEXT NOT NULL CHECK (name <> ''),
	percent      REAL NOT NULL CHECK (percent BETWEEN 0 AND 100),
	UNIQUE (fragrance_id, role, position)
) STRICT;

CREATE TABLE fragrance_claim (
	id           INTEGER PRIMARY KEY,
	fragrance_id INTEGER NOT NULL REFERENCES fragrance (id) ON DELETE CASCADE,
	position     INTEGER NOT NULL,
	claim        TEXT NOT NULL CHECK (claim <> ''),
	UNIQUE (fragrance_id, position)
) STRICT;

CREATE TABLE stabilizer (
	id               INTEGER PRIMARY KEY,
	name             TEXT NOT NULL CHECK (name <> '' AND name = trim(name)),
	name_key         TEXT NOT NULL UNIQUE,
	active           TEXT NOT NULL DEFAULT '',
	strength_percent REAL CHECK (strength_percent > 0 AND strength_percent <= 100),
	note             TEXT NOT NULL DEFAULT '',
	retired          INTEGER NOT NULL DEFAULT 0 CHECK (retired IN (0, 1)),
	created_at       TEXT NOT NULL CHECK (created_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	changed_at       TEXT NOT NULL CHECK (changed_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z')
) STRICT;

CREATE TABLE oil (
	id          INTEGER PRIMARY KEY,
	key         TEXT NOT NULL CHECK (key <> '' AND key = trim(key)),
	name        TEXT NOT NULL CHECK (name <> '' AND name = trim(name)),
	name_key    TEXT NOT NULL UNIQUE,
	inci        TEXT NOT NULL DEFAULT '',
	sv_min_mg_koh_per_g         REAL NOT NULL CHECK (sv_min_mg_koh_per_g BETWEEN 0 AND 500),
	sv_max_mg_koh_per_g         REAL NOT NULL CHECK (sv_max_mg_koh_per_g BETWEEN 0 AND 500),
	certificate_sv_mg_koh_per_g REAL NOT NULL DEFAULT 0 CHECK (certificate_sv_mg_koh_per_g BETWEEN 0 AND 500),
	unsaponifiable_max_percent  REAL NOT NULL DEFAULT 0 CHECK (unsaponifiable_max_percent BETWEEN 0 AND 100),
	kind        TEXT NOT NULL,
	tint        TEXT NOT NULL DEFAULT '',
	source      TEXT NOT NULL DEFAULT '',
	lot         TEXT NOT NULL DEFAULT '',
	note        TEXT NOT NULL DEFAULT '',
	retired     INTEGER NOT NULL DEFAULT 0 CHECK (retired IN (0, 1)),
	created_at  TEXT NOT NULL CHECK (created_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	changed_at  TEXT NOT NULL CHECK (changed_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	CHECK (sv_min_mg_koh_per_g <= sv_max_mg_koh_per_g),
	CHECK (sv_max_mg_koh_per_g > 0 OR certificate_sv_mg_koh_per_g > 0)
) STRICT;
