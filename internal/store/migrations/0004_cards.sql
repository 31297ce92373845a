-- What is laid beside a slice for a photograph: charts, grey cards and sheets of known
-- colour.

CREATE TABLE card (
	id          INTEGER PRIMARY KEY,
	name        TEXT NOT NULL CHECK (name <> '' AND name = trim(name)),
	name_key    TEXT NOT NULL UNIQUE,
	kind        TEXT NOT NULL CHECK (kind IN ('chart', 'grey', 'sheet')),
	edition     TEXT NOT NULL DEFAULT '' CHECK (edition IN ('', 'before-2014', 'after-2014')),
	d50_l       REAL CHECK (d50_l BETWEEN 0 AND 100),
	d50_a       REAL CHECK (d50_a BETWEEN -150 AND 150),
	d50_b       REAL CHECK (d50_b BETWEEN -150 AND 150),
	learnt_from TEXT NOT NULL DEFAULT '',
	note        TEXT NOT NULL DEFAULT '',
	retired     INTEGER NOT NULL DEFAULT 0 CHECK (retired IN (0, 1)),
	created_at  TEXT NOT NULL CHECK (created_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	changed_at  TEXT NOT NULL CHECK (changed_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	CHECK ((kind = 'chart') = (edition <> '')),
	CHECK ((kind = 'chart') = (d50_l IS NULL)),
	CHECK ((d50_l IS NULL) = (d50_a IS NULL) AND (d50_l IS NULL) = (d50_b IS NULL))
) STRICT;
