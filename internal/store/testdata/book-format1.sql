-- A book of format 1 as its program left it: a filled shelf, one change more and its undo.
PRAGMA journal_mode = WAL;
BEGIN;
CREATE TABLE change (
	id        INTEGER PRIMARY KEY AUTOINCREMENT,
	at        TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	kind      TEXT NOT NULL CHECK (kind IN ('change', 'undo', 'redo')),
	what      TEXT NOT NULL CHECK (what <> ''),
	undoes    INTEGER REFERENCES change (id),
	undone_by INTEGER REFERENCES change (id)
) STRICT;
INSERT INTO change VALUES (1, '2026-11-20T05:45:30Z', 'change', 'fill the shelf', NULL, NULL);
INSERT INTO change VALUES (2, '2026-11-20T05:45:30Z', 'change', 'add colourant Rust Clay', NULL, 3);
INSERT INTO change VALUES (3, '2026-11-20T05:45:30Z', 'undo', 'add colourant Rust Clay', 2, NULL);
CREATE TABLE change_row (
	id        INTEGER PRIMARY KEY,
	change_id INTEGER NOT NULL REFERENCES change (id),
	tbl       TEXT NOT NULL,
	row_id    INTEGER NOT NULL,
	op        TEXT NOT NULL CHECK (op IN ('insert', 'update', 'delete')),
	before    TEXT CHECK (before IS NULL OR json_valid(before)),
	CHECK ((op = 'insert') = (before IS NULL))
) STRICT;
INSERT INTO change_row VALUES (1, 1, 'colorant', 1, 'insert', NULL);
INSERT INTO change_row VALUES (2, 1, 'fragrance', 1, 'insert', NULL);
INSERT INTO change_row VALUES (3, 1, 'fragrance_share', 1, 'insert', NULL);
INSERT INTO change_row VALUES (4, 1, 'fragrance_share', 2, 'insert', NULL);
INSERT INTO change_row VALUES (5, 1, 'fragrance_share', 3, 'insert', NULL);
INSERT INTO change_row VALUES (6, 1, 'fragrance_claim', 1, 'insert', NULL);
INSERT INTO change_row VALUES (7, 1, 'stabilizer', 1, 'insert', NULL);
INSERT INTO change_row VALUES (8, 1, 'oil', 1, 'insert', NULL);
INSERT INTO change_row VALUES (9, 2, 'colorant', 2, 'insert', NULL);
INSERT INTO change_row VALUES (10, 3, 'colorant', 2, 'delete', '{"id":2,"name":"Rust Clay","name_key":"rust clay","label":"","kind":"","swatch_l":null,"swatch_a":null,"swatch_b":null,"swatch_basis":"","swatch_dose_g_per_kg":0.0,"usual_dose_g_per_kg":0.0,"teaspoon_g":0.0,"claim":"","lot":"","note":"","retired":0,"created_at":"2026-11-20T05:45:30Z","changed_at":"2026-11-20T05:45:30Z"}');
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
INSERT INTO colorant VALUES (1, 'Tide Blue', 'tide blue', 'Mica (CI 77019), CI 77007', 'mica', 42.1, -3.25, -24.000000000000004, 'maker', 5.0, 0.3, 2.7, 'stable in all soap', '07/26', 'from the blue tin
second line', 0, '2026-11-20T05:45:30Z', '2026-11-20T05:45:30Z');
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
INSERT INTO fragrance VALUES (1, 'Amber Tonka', 'amber tonka', 4.0, 0.0, 93.4, 5.2, '9', '51', '2026-03-01', 'fast', 'A1', 'smells of rope', 0, '2026-11-20T05:45:30Z', '2026-11-20T05:45:30Z');
CREATE TABLE fragrance_share (
	id           INTEGER PRIMARY KEY,
	fragrance_id INTEGER NOT NULL REFERENCES fragrance (id) ON DELETE CASCADE,
	role         TEXT NOT NULL CHECK (role IN ('browner', 'allergen')),
	position     INTEGER NOT NULL,
	name         TEXT NOT NULL CHECK (name <> ''),
	percent      REAL NOT NULL CHECK (percent BETWEEN 0 AND 100),
	UNIQUE (fragrance_id, role, position)
) STRICT;
INSERT INTO fragrance_share VALUES (1, 1, 'browner', 0, 'heliotropin', 1.5);
INSERT INTO fragrance_share VALUES (2, 1, 'browner', 1, 'clove leaf oil', 2.0);
INSERT INTO fragrance_share VALUES (3, 1, 'allergen', 0, 'coumarin', 3.1);
CREATE TABLE fragrance_claim (
	id           INTEGER PRIMARY KEY,
	fragrance_id INTEGER NOT NULL REFERENCES fragrance (id) ON DELETE CASCADE,
	position     INTEGER NOT NULL,
	claim        TEXT NOT NULL CHECK (claim <> ''),
	UNIQUE (fragrance_id, position)
) STRICT;
INSERT INTO fragrance_claim VALUES (1, 1, 0, 'no discolouration');
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
INSERT INTO stabilizer VALUES (1, 'Quiet White', 'quiet white', 'sodium sulfite', 8.3, 'keep cool', 0, '2026-11-20T05:45:30Z', '2026-11-20T05:45:30Z');
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
INSERT INTO oil VALUES (1, 'lamp', 'Lamp Oil Olive', 'lamp oil olive', 'Olea Europaea', 184.0, 196.0, 189.7, 1.5, 'triglyceride', 'yellow', 'lot paper', '9', 'n', 0, '2026-11-20T05:45:30Z', '2026-11-20T05:45:30Z');
CREATE INDEX change_row_of ON change_row (change_id);
CREATE TRIGGER "journal_colorant_delete" AFTER DELETE ON "colorant"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'colorant', OLD.id, 'delete', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'label', OLD."label", 'kind', OLD."kind", 'swatch_l', OLD."swatch_l", 'swatch_a', OLD."swatch_a", 'swatch_b', OLD."swatch_b", 'swatch_basis', OLD."swatch_basis", 'swatch_dose_g_per_kg', OLD."swatch_dose_g_per_kg", 'usual_dose_g_per_kg', OLD."usual_dose_g_per_kg", 'teaspoon_g', OLD."teaspoon_g", 'claim', OLD."claim", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_colorant_insert" AFTER INSERT ON "colorant"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'colorant', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_colorant_update" AFTER UPDATE ON "colorant" WHEN OLD."id" IS NOT NEW."id" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."label" IS NOT NEW."label" OR OLD."kind" IS NOT NEW."kind" OR OLD."swatch_l" IS NOT NEW."swatch_l" OR OLD."swatch_a" IS NOT NEW."swatch_a" OR OLD."swatch_b" IS NOT NEW."swatch_b" OR OLD."swatch_basis" IS NOT NEW."swatch_basis" OR OLD."swatch_dose_g_per_kg" IS NOT NEW."swatch_dose_g_per_kg" OR OLD."usual_dose_g_per_kg" IS NOT NEW."usual_dose_g_per_kg" OR OLD."teaspoon_g" IS NOT NEW."teaspoon_g" OR OLD."claim" IS NOT NEW."claim" OR OLD."lot" IS NOT NEW."lot" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'colorant', OLD.id, 'update', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'label', OLD."label", 'kind', OLD."kind", 'swatch_l', OLD."swatch_l", 'swatch_a', OLD."swatch_a", 'swatch_b', OLD."swatch_b", 'swatch_basis', OLD."swatch_basis", 'swatch_dose_g_per_kg', OLD."swatch_dose_g_per_kg", 'usual_dose_g_per_kg', OLD."usual_dose_g_per_kg", 'teaspoon_g', OLD."teaspoon_g", 'claim', OLD."claim", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_fragrance_claim_delete" AFTER DELETE ON "fragrance_claim"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_claim', OLD.id, 'delete', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'position', OLD."position", 'claim', OLD."claim"));
END;
CREATE TRIGGER "journal_fragrance_claim_insert" AFTER INSERT ON "fragrance_claim"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_claim', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_fragrance_claim_update" AFTER UPDATE ON "fragrance_claim" WHEN OLD."id" IS NOT NEW."id" OR OLD."fragrance_id" IS NOT NEW."fragrance_id" OR OLD."position" IS NOT NEW."position" OR OLD."claim" IS NOT NEW."claim" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_claim', OLD.id, 'update', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'position', OLD."position", 'claim', OLD."claim"));
END;
CREATE TRIGGER "journal_fragrance_delete" AFTER DELETE ON "fragrance"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance', OLD.id, 'delete', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'vanillin_percent', OLD."vanillin_percent", 'ethyl_vanillin_percent', OLD."ethyl_vanillin_percent", 'flash_point_c', OLD."flash_point_c", 'max_use_percent', OLD."max_use_percent", 'max_use_category', OLD."max_use_category", 'max_use_amendment', OLD."max_use_amendment", 'max_use_date', OLD."max_use_date", 'moves', OLD."moves", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_fragrance_insert" AFTER INSERT ON "fragrance"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_fragrance_share_delete" AFTER DELETE ON "fragrance_share"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_share', OLD.id, 'delete', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'role', OLD."role", 'position', OLD."position", 'name', OLD."name", 'percent', OLD."percent"));
END;
CREATE TRIGGER "journal_fragrance_share_insert" AFTER INSERT ON "fragrance_share"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_share', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_fragrance_share_update" AFTER UPDATE ON "fragrance_share" WHEN OLD."id" IS NOT NEW."id" OR OLD."fragrance_id" IS NOT NEW."fragrance_id" OR OLD."role" IS NOT NEW."role" OR OLD."position" IS NOT NEW."position" OR OLD."name" IS NOT NEW."name" OR OLD."percent" IS NOT NEW."percent" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_share', OLD.id, 'update', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'role', OLD."role", 'position', OLD."position", 'name', OLD."name", 'percent', OLD."percent"));
END;
CREATE TRIGGER "journal_fragrance_update" AFTER UPDATE ON "fragrance" WHEN OLD."id" IS NOT NEW."id" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."vanillin_percent" IS NOT NEW."vanillin_percent" OR OLD."ethyl_vanillin_percent" IS NOT NEW."ethyl_vanillin_percent" OR OLD."flash_point_c" IS NOT NEW."flash_point_c" OR OLD."max_use_percent" IS NOT NEW."max_use_percent" OR OLD."max_use_category" IS NOT NEW."max_use_category" OR OLD."max_use_amendment" IS NOT NEW."max_use_amendment" OR OLD."max_use_date" IS NOT NEW."max_use_date" OR OLD."moves" IS NOT NEW."moves" OR OLD."lot" IS NOT NEW."lot" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance', OLD.id, 'update', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'vanillin_percent', OLD."vanillin_percent", 'ethyl_vanillin_percent', OLD."ethyl_vanillin_percent", 'flash_point_c', OLD."flash_point_c", 'max_use_percent', OLD."max_use_percent", 'max_use_category', OLD."max_use_category", 'max_use_amendment', OLD."max_use_amendment", 'max_use_date', OLD."max_use_date", 'moves', OLD."moves", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_oil_delete" AFTER DELETE ON "oil"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'oil', OLD.id, 'delete', json_object('id', OLD."id", 'key', OLD."key", 'name', OLD."name", 'name_key', OLD."name_key", 'inci', OLD."inci", 'sv_min_mg_koh_per_g', OLD."sv_min_mg_koh_per_g", 'sv_max_mg_koh_per_g', OLD."sv_max_mg_koh_per_g", 'certificate_sv_mg_koh_per_g', OLD."certificate_sv_mg_koh_per_g", 'unsaponifiable_max_percent', OLD."unsaponifiable_max_percent", 'kind', OLD."kind", 'tint', OLD."tint", 'source', OLD."source", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_oil_insert" AFTER INSERT ON "oil"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'oil', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_oil_update" AFTER UPDATE ON "oil" WHEN OLD."id" IS NOT NEW."id" OR OLD."key" IS NOT NEW."key" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."inci" IS NOT NEW."inci" OR OLD."sv_min_mg_koh_per_g" IS NOT NEW."sv_min_mg_koh_per_g" OR OLD."sv_max_mg_koh_per_g" IS NOT NEW."sv_max_mg_koh_per_g" OR OLD."certificate_sv_mg_koh_per_g" IS NOT NEW."certificate_sv_mg_koh_per_g" OR OLD."unsaponifiable_max_percent" IS NOT NEW."unsaponifiable_max_percent" OR OLD."kind" IS NOT NEW."kind" OR OLD."tint" IS NOT NEW."tint" OR OLD."source" IS NOT NEW."source" OR OLD."lot" IS NOT NEW."lot" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'oil', OLD.id, 'update', json_object('id', OLD."id", 'key', OLD."key", 'name', OLD."name", 'name_key', OLD."name_key", 'inci', OLD."inci", 'sv_min_mg_koh_per_g', OLD."sv_min_mg_koh_per_g", 'sv_max_mg_koh_per_g', OLD."sv_max_mg_koh_per_g", 'certificate_sv_mg_koh_per_g', OLD."certificate_sv_mg_koh_per_g", 'unsaponifiable_max_percent', OLD."unsaponifiable_max_percent", 'kind', OLD."kind", 'tint', OLD."tint", 'source', OLD."source", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_stabilizer_delete" AFTER DELETE ON "stabilizer"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'stabilizer', OLD.id, 'delete', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'active', OLD."active", 'strength_percent', OLD."strength_percent", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_stabilizer_insert" AFTER INSERT ON "stabilizer"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'stabilizer', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_stabilizer_update" AFTER UPDATE ON "stabilizer" WHEN OLD."id" IS NOT NEW."id" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."active" IS NOT NEW."active" OR OLD."strength_percent" IS NOT NEW."strength_percent" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'stabilizer', OLD.id, 'update', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'active', OLD."active", 'strength_percent', OLD."strength_percent", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
PRAGMA user_version = 1;
PRAGMA application_id = 1283024198;
COMMIT;
