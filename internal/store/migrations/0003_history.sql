-- Past portions from a maker's own tables, and what was worked out from all portions.
--
-- Rows of a history come by the thousand, so they are treated as readings are: no
-- trigger journals them. Each belongs to a history_intake, one file, which is
-- journalled; a row counts only while its intake is there.

-- AUTOINCREMENT, so that the number of an intake that was taken back is never given
-- to another.
CREATE TABLE history_intake (
	id       INTEGER PRIMARY KEY AUTOINCREMENT,
	at       TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	source   TEXT NOT NULL DEFAULT '',
	portions INTEGER NOT NULL CHECK (portions > 0)
) STRICT;

CREATE TABLE history_portion (
	id        INTEGER PRIMARY KEY,
	intake_id INTEGER NOT NULL,
	key       BLOB NOT NULL,
	name      TEXT NOT NULL,
	made_at   INTEGER,
	base_l    REAL NOT NULL CHECK (base_l BETWEEN 0 AND 100),
	base_a    REAL NOT NULL CHECK (base_a BETWEEN -150 AND 150),
	base_b    REAL NOT NULL CHECK (base_b BETWEEN -150 AND 150),
	vanillin_g_per_kg   REAL NOT NULL CHECK (vanillin_g_per_kg BETWEEN 0 AND 1000),
	stabilizer_g_per_kg REAL NOT NULL CHECK (stabilizer_g_per_kg BETWEEN 0 AND 1000),
	l         REAL NOT NULL CHECK (l BETWEEN 0 AND 100),
	a         REAL NOT NULL CHECK (a BETWEEN -150 AND 150),
	b         REAL NOT NULL CHECK (b BETWEEN -150 AND 150),
	sd        REAL NOT NULL CHECK (sd BETWEEN 0 AND 100)
) STRICT;

CREATE INDEX history_portion_of ON history_portion (intake_id);

CREATE TABLE history_dose (
	id         INTEGER PRIMARY KEY,
	portion_id INTEGER NOT NULL,
	name       TEXT NOT NULL CHECK (name <> ''),
	name_key   TEXT NOT NULL,
	g_per_kg   REAL NOT NULL CHECK (g_per_kg > 0 AND g_per_kg <= 1000)
) STRICT;

CREATE INDEX history_dose_of ON history_dose (portion_id);

-- What was worked out and need not be worked out again while its key is the same.
-- Nothing here is the maker's: it can be emptied at any time.
CREATE TABLE worked_out (
	id       INTEGER PRIMARY KEY,
	what     TEXT NOT NULL UNIQUE,
	key      BLOB NOT NULL,
	revision INTEGER NOT NULL,
	used_at  INTEGER NOT NULL,
	value    BLOB NOT NULL
) STRICT;
