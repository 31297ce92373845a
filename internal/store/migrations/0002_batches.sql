-- Batches from the pour on: pots, portions, readings, events, weights, lessons.
--
-- Readings come by the hundred thousand, so their table departs from the rules of
-- the others: times are whole seconds since 1970 (UTC), what many readings share is
-- a row of reading_way, and no trigger journals it. Each reading belongs to an
-- intake, one file or one entry by hand, which is journalled; a reading counts only
-- while its intake is there. So the undo of an import is the undo of one row. Nor has
-- it CHECKs, which would take half as long again as the writing itself: the program
-- refuses a bad value before it gets here, and a check of the book looks for them.

CREATE TABLE batch (
	id           INTEGER PRIMARY KEY,
	code         TEXT NOT NULL CHECK (code <> '' AND code = trim(code)),
	code_key     TEXT NOT NULL UNIQUE,
	title        TEXT NOT NULL,
	poured_at    TEXT NOT NULL CHECK (poured_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	poured_clock INTEGER NOT NULL CHECK (poured_clock IN (0, 1)),
	plan         TEXT NOT NULL,
	gel          TEXT NOT NULL DEFAULT '' CHECK (gel IN ('', 'none', 'partial', 'full')),
	storage      TEXT NOT NULL CHECK (storage IN ('dark', 'room', 'window')),
	place        TEXT NOT NULL DEFAULT '',
	cure_c       REAL CHECK (cure_c BETWEEN -20 AND 80),
	cut_at       TEXT CHECK (cut_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	schedule     TEXT NOT NULL,
	closed_at    TEXT CHECK (closed_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	note         TEXT NOT NULL DEFAULT '',
	created_at   TEXT NOT NULL CHECK (created_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	changed_at   TEXT NOT NULL CHECK (changed_at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z')
) STRICT;

CREATE TABLE batter (
	id             INTEGER PRIMARY KEY,
	batch_id       INTEGER NOT NULL REFERENCES batch (id) ON DELETE CASCADE,
	position       INTEGER NOT NULL,
	name           TEXT NOT NULL CHECK (name <> ''),
	oils_g         REAL NOT NULL CHECK (oils_g >= 0),
	water_g        REAL NOT NULL CHECK (water_g >= 0),
	total_g        REAL NOT NULL CHECK (total_g >= 0),
	lye_percent    REAL NOT NULL CHECK (lye_percent BETWEEN 0 AND 100),
	discount_percent REAL NOT NULL,
	fresh_water    REAL NOT NULL CHECK (fresh_water BETWEEN 0 AND 1),
	batter_c       REAL CHECK (batter_c BETWEEN -20 AND 150),
	fragrance      TEXT NOT NULL DEFAULT '',
	fragrance_key  TEXT NOT NULL DEFAULT '',
	fragrance_g    REAL NOT NULL DEFAULT 0 CHECK (fragrance_g >= 0),
	fragrance_percent REAL NOT NULL DEFAULT 0 CHECK (fragrance_percent >= 0),
	stabilizer     TEXT NOT NULL DEFAULT '',
	stabilizer_g   REAL NOT NULL DEFAULT 0 CHECK (stabilizer_g >= 0),
	UNIQUE (batch_id, position)
) STRICT;

CREATE TABLE portion (
	id            INTEGER PRIMARY KEY,
	batch_id      INTEGER NOT NULL REFERENCES batch (id) ON DELETE CASCADE,
	position      INTEGER NOT NULL,
	batter        TEXT NOT NULL CHECK (batter <> ''),
	name          TEXT NOT NULL CHECK (name <> ''),
	grams         REAL NOT NULL CHECK (grams >= 0),
	fragrance     TEXT NOT NULL DEFAULT '',
	fragrance_key TEXT NOT NULL DEFAULT '',
	fragrance_percent REAL NOT NULL DEFAULT 0 CHECK (fragrance_percent >= 0),
	brown_percent REAL CHECK (brown_percent >= 0),
	ratio         REAL NOT NULL DEFAULT 0 CHECK (ratio >= 0),
	target_l      REAL,
	target_a      REAL,
	target_b      REAL,
	pour_l        REAL,
	pour_a        REAL,
	pour_b        REAL,
	settled_l     REAL,
	settled_a     REAL,
	settled_b     REAL,
	control       INTEGER NOT NULL DEFAULT 0 CHECK (control IN (0, 1)),
	UNIQUE (batch_id, position)
) STRICT;

CREATE TABLE portion_colorant (
	id          INTEGER PRIMARY KEY,
	portion_id  INTEGER NOT NULL REFERENCES portion (id) ON DELETE CASCADE,
	position    INTEGER NOT NULL,
	name        TEXT NOT NULL CHECK (name <> ''),
	name_key    TEXT NOT NULL,
	g_per_kg    REAL NOT NULL CHECK (g_per_kg >= 0),
	grams       REAL NOT NULL CHECK (grams >= 0),
	lot         TEXT NOT NULL DEFAULT '',
	UNIQUE (portion_id, position)
) STRICT;

CREATE INDEX portion_colorant_named ON portion_colorant (name_key);

CREATE TABLE event (
	id            INTEGER PRIMARY KEY,
	batch_id      INTEGER NOT NULL REFERENCES batch (id) ON DELETE CASCADE,
	kind          TEXT NOT NULL CHECK (kind <> ''),
	at            TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	clock         INTEGER NOT NULL CHECK (clock IN (0, 1)),
	after_min     REAL CHECK (after_min BETWEEN 0 AND 1440),
	batter        TEXT NOT NULL DEFAULT '',
	portion       TEXT NOT NULL DEFAULT '',
	value         REAL,
	note          TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX event_of ON event (batch_id, at);

CREATE TABLE weighing (
	id       INTEGER PRIMARY KEY,
	batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE CASCADE,
	at       TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	clock    INTEGER NOT NULL CHECK (clock IN (0, 1)),
	batter   TEXT NOT NULL,
	bar      TEXT NOT NULL DEFAULT '',
	grams    REAL NOT NULL CHECK (grams > 0),
	note     TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX weighing_of ON weighing (batch_id, at);

CREATE TABLE lesson (
	id       INTEGER PRIMARY KEY,
	batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE CASCADE,
	at       TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	text     TEXT NOT NULL CHECK (text <> '')
) STRICT;

CREATE INDEX lesson_of ON lesson (batch_id);

-- AUTOINCREMENT, so that the number of an intake that was taken back is never given
-- to another, whose readings would then include the old ones.
CREATE TABLE intake (
	id       INTEGER PRIMARY KEY AUTOINCREMENT,
	at       TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	source   TEXT NOT NULL DEFAULT '',
	readings INTEGER NOT NULL CHECK (readings > 0)
) STRICT;

CREATE TABLE reading_way (
	id         INTEGER PRIMARY KEY,
	method     TEXT NOT NULL CHECK (method <> ''),
	illuminant TEXT NOT NULL,
	observer   INTEGER NOT NULL,
	instrument TEXT NOT NULL,
	face       TEXT NOT NULL CHECK (face IN ('', 'cut', 'top', 'side')),
	early      INTEGER NOT NULL CHECK (early IN (0, 1)),
	clock      INTEGER NOT NULL CHECK (clock IN (0, 1)),
	UNIQUE (method, illuminant, observer, instrument, face, early, clock)
) STRICT;

CREATE TABLE reading (
	id         INTEGER PRIMARY KEY,
	portion_id INTEGER NOT NULL,
	taken_at   INTEGER NOT NULL,
	intake_id  INTEGER NOT NULL,
	way_id     INTEGER NOT NULL,
	key        INTEGER NOT NULL,
	l          REAL,
	a          REAL,
	b          REAL,
	spots      INTEGER,
	sd_l       REAL,
	sd_a       REAL,
	sd_b       REAL,
	original   TEXT,
	words      TEXT,
	note       TEXT
) STRICT;

CREATE INDEX reading_of ON reading (portion_id, taken_at);

-- What no longer counts, and why.
CREATE TABLE strike (
	id         INTEGER PRIMARY KEY,
	reading_id INTEGER NOT NULL UNIQUE,
	at         TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	why        TEXT NOT NULL CHECK (why <> '')
) STRICT;

-- The book's own name, drawn once, for what outlives a change of path: calendars.
CREATE TABLE identity (
	id  INTEGER PRIMARY KEY CHECK (id = 1),
	uid TEXT NOT NULL CHECK (uid <> '')
) STRICT;

INSERT INTO identity (id, uid) VALUES (1, lower(hex(randomblob(8))));
