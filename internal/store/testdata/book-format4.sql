-- A book of format 4 as its program left it: a shelf with cards, a batch with all that is noted of one, a past portion.
PRAGMA journal_mode = WAL;
BEGIN TRANSACTION;
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
INSERT INTO "batch" VALUES(1,'HD-01','hd-01','Harbour Dawn','2026-11-20T05:45:30Z',1,'title = "Harbour Dawn"
','partial','dark','loft',17.5,'2026-11-21T07:45:30Z','0,3,42',NULL,'first frost','2026-11-20T05:45:30Z','2026-11-20T05:45:30Z');
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
INSERT INTO "batter" VALUES(1,1,0,'slab',1000.0,292.7,1477.4,33.0,5.02,0.2058,33.0,'Lantern Amber','lantern amber',40.0,4.0,'Quiet White',18.0);
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
INSERT INTO "card" VALUES(1,'Quay Chart','quay chart','chart','before-2014',NULL,NULL,NULL,'','corner bent',0,'2026-11-20T05:45:30Z','2026-11-20T05:45:30Z');
INSERT INTO "card" VALUES(2,'Quay Sheet','quay sheet','sheet','',93.25,0.3,-2.5,'dawn.jpg, beside a chart','',0,'2026-11-20T05:45:30Z','2026-11-20T05:45:30Z');
CREATE TABLE change (
	id        INTEGER PRIMARY KEY AUTOINCREMENT,
	at        TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	kind      TEXT NOT NULL CHECK (kind IN ('change', 'undo', 'redo')),
	what      TEXT NOT NULL CHECK (what <> ''),
	undoes    INTEGER REFERENCES change (id),
	undone_by INTEGER REFERENCES change (id)
) STRICT;
INSERT INTO "change" VALUES(1,'2026-11-20T05:45:30Z','change','fill the shelf',NULL,NULL);
INSERT INTO "change" VALUES(2,'2026-11-20T05:45:30Z','change','pour HD-01',NULL,NULL);
INSERT INTO "change" VALUES(3,'2026-11-20T05:45:30Z','change','read',NULL,NULL);
INSERT INTO "change" VALUES(4,'2026-11-20T05:45:30Z','change','read',NULL,NULL);
INSERT INTO "change" VALUES(5,'2026-11-20T05:45:30Z','change','note',NULL,NULL);
INSERT INTO "change" VALUES(6,'2026-11-20T05:45:30Z','change','learn',NULL,NULL);
INSERT INTO "change" VALUES(7,'2026-11-20T05:45:30Z','change','store cards',NULL,NULL);
CREATE TABLE change_row (
	id        INTEGER PRIMARY KEY,
	change_id INTEGER NOT NULL REFERENCES change (id),
	tbl       TEXT NOT NULL,
	row_id    INTEGER NOT NULL,
	op        TEXT NOT NULL CHECK (op IN ('insert', 'update', 'delete')),
	before    TEXT CHECK (before IS NULL OR json_valid(before)),
	CHECK ((op = 'insert') = (before IS NULL))
) STRICT;
INSERT INTO "change_row" VALUES(1,1,'colorant',1,'insert',NULL);
INSERT INTO "change_row" VALUES(2,1,'fragrance',1,'insert',NULL);
INSERT INTO "change_row" VALUES(3,1,'fragrance_share',1,'insert',NULL);
INSERT INTO "change_row" VALUES(4,1,'fragrance_share',2,'insert',NULL);
INSERT INTO "change_row" VALUES(5,1,'fragrance_share',3,'insert',NULL);
INSERT INTO "change_row" VALUES(6,1,'fragrance_claim',1,'insert',NULL);
INSERT INTO "change_row" VALUES(7,1,'stabilizer',1,'insert',NULL);
INSERT INTO "change_row" VALUES(8,1,'oil',1,'insert',NULL);
INSERT INTO "change_row" VALUES(9,2,'batch',1,'insert',NULL);
INSERT INTO "change_row" VALUES(10,2,'batter',1,'insert',NULL);
INSERT INTO "change_row" VALUES(11,2,'portion',1,'insert',NULL);
INSERT INTO "change_row" VALUES(12,2,'portion_colorant',1,'insert',NULL);
INSERT INTO "change_row" VALUES(13,2,'portion',2,'insert',NULL);
INSERT INTO "change_row" VALUES(14,3,'intake',1,'insert',NULL);
INSERT INTO "change_row" VALUES(15,3,'reading_way',1,'insert',NULL);
INSERT INTO "change_row" VALUES(16,4,'intake',2,'insert',NULL);
INSERT INTO "change_row" VALUES(17,5,'event',1,'insert',NULL);
INSERT INTO "change_row" VALUES(18,5,'weighing',1,'insert',NULL);
INSERT INTO "change_row" VALUES(19,5,'lesson',1,'insert',NULL);
INSERT INTO "change_row" VALUES(20,5,'strike',1,'insert',NULL);
INSERT INTO "change_row" VALUES(21,6,'history_intake',1,'insert',NULL);
INSERT INTO "change_row" VALUES(22,7,'card',1,'insert',NULL);
INSERT INTO "change_row" VALUES(23,7,'card',2,'insert',NULL);
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
INSERT INTO "colorant" VALUES(1,'Tide Blue','tide blue','Mica (CI 77019), CI 77007','mica',42.1,-3.25,-2.40000000000000035527e+01,'maker',5.0,0.3,2.7,'stable in all soap','07/26','from the blue tin
second line',0,'2026-11-20T05:45:30Z','2026-11-20T05:45:30Z');
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
INSERT INTO "event" VALUES(1,1,'bleed','2026-11-20T05:45:30Z',1,NULL,'slab','slab/tide',NULL,'a little');
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
INSERT INTO "fragrance" VALUES(1,'Amber Tonka','amber tonka',4.0,0.0,93.4,5.2,'9','51','2026-03-01','fast','A1','smells of rope',0,'2026-11-20T05:45:30Z','2026-11-20T05:45:30Z');
CREATE TABLE fragrance_claim (
	id           INTEGER PRIMARY KEY,
	fragrance_id INTEGER NOT NULL REFERENCES fragrance (id) ON DELETE CASCADE,
	position     INTEGER NOT NULL,
	claim        TEXT NOT NULL CHECK (claim <> ''),
	UNIQUE (fragrance_id, position)
) STRICT;
INSERT INTO "fragrance_claim" VALUES(1,1,0,'no discolouration');
CREATE TABLE fragrance_share (
	id           INTEGER PRIMARY KEY,
	fragrance_id INTEGER NOT NULL REFERENCES fragrance (id) ON DELETE CASCADE,
	role         TEXT NOT NULL CHECK (role IN ('browner', 'allergen')),
	position     INTEGER NOT NULL,
	name         TEXT NOT NULL CHECK (name <> ''),
	percent      REAL NOT NULL CHECK (percent BETWEEN 0 AND 100),
	UNIQUE (fragrance_id, role, position)
) STRICT;
INSERT INTO "fragrance_share" VALUES(1,1,'browner',0,'heliotropin',1.5);
INSERT INTO "fragrance_share" VALUES(2,1,'browner',1,'clove leaf oil',2.0);
INSERT INTO "fragrance_share" VALUES(3,1,'allergen',0,'coumarin',3.1);
CREATE TABLE history_dose (
	id         INTEGER PRIMARY KEY,
	portion_id INTEGER NOT NULL,
	name       TEXT NOT NULL CHECK (name <> ''),
	name_key   TEXT NOT NULL,
	g_per_kg   REAL NOT NULL CHECK (g_per_kg > 0 AND g_per_kg <= 1000)
) STRICT;
INSERT INTO "history_dose" VALUES(1,1,'Tide Blue','tide blue',5.5);
CREATE TABLE history_intake (
	id       INTEGER PRIMARY KEY AUTOINCREMENT,
	at       TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	source   TEXT NOT NULL DEFAULT '',
	portions INTEGER NOT NULL CHECK (portions > 0)
) STRICT;
INSERT INTO "history_intake" VALUES(1,'2026-11-20T05:45:30Z','past.csv',1);
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
INSERT INTO "history_portion" VALUES(1,1,X'0102FF0000000000000000000000000000000000000000000000000000000000','loaf 7',1740830400,85.5,1.0,12.0,1.5,0.5,41.0,-3.0,-19.25,0.75);
CREATE TABLE identity (
	id  INTEGER PRIMARY KEY CHECK (id = 1),
	uid TEXT NOT NULL CHECK (uid <> '')
) STRICT;
INSERT INTO "identity" VALUES(1,'5392362c07bc963f');
CREATE TABLE intake (
	id       INTEGER PRIMARY KEY AUTOINCREMENT,
	at       TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	source   TEXT NOT NULL DEFAULT '',
	readings INTEGER NOT NULL CHECK (readings > 0)
) STRICT;
INSERT INTO "intake" VALUES(1,'2026-11-20T05:45:30Z','',1);
INSERT INTO "intake" VALUES(2,'2026-11-20T05:45:30Z','week1.csv',1);
CREATE TABLE lesson (
	id       INTEGER PRIMARY KEY,
	batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE CASCADE,
	at       TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	text     TEXT NOT NULL CHECK (text <> '')
) STRICT;
INSERT INTO "lesson" VALUES(1,1,'2026-11-20T05:45:30Z','pour the blue first');
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
INSERT INTO "oil" VALUES(1,'lamp','Lamp Oil Olive','lamp oil olive','Olea Europaea',184.0,196.0,189.7,1.5,'triglyceride','yellow','lot paper','9','n',0,'2026-11-20T05:45:30Z','2026-11-20T05:45:30Z');
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
INSERT INTO "portion" VALUES(1,1,0,'slab','tide',700.5,'Lantern Amber','lantern amber',4.0,0.17,1.5,40.0,-3.0,-20.0,42.0,-2.0,-21.0,41.0,-3.0,-19.5,0);
INSERT INTO "portion" VALUES(2,1,1,'slab','bare',50.0,'','',0.0,NULL,0.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1);
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
INSERT INTO "portion_colorant" VALUES(1,1,0,'Tide Blue','tide blue',5.0,2.5,'07/26');
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
INSERT INTO "reading" VALUES(1,1,1795261530,1,1,7,41.5,-2.25,-20.125,3,0.3,0.2,0.25,'Lab 42,-3,-25 D50/2°','held','third from the left');
INSERT INTO "reading" VALUES(2,1,1795347930,2,1,8,41.0,1.0,2.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
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
INSERT INTO "reading_way" VALUES(1,'SCI','D50',2,'QM-4','cut',0,1);
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
INSERT INTO "stabilizer" VALUES(1,'Quiet White','quiet white','sodium sulfite',8.3,'keep cool',0,'2026-11-20T05:45:30Z','2026-11-20T05:45:30Z');
CREATE TABLE strike (
	id         INTEGER PRIMARY KEY,
	reading_id INTEGER NOT NULL UNIQUE,
	at         TEXT NOT NULL CHECK (at GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*Z'),
	why        TEXT NOT NULL CHECK (why <> '')
) STRICT;
INSERT INTO "strike" VALUES(1,1,'2026-11-20T05:45:30Z','lamp was cold');
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
INSERT INTO "weighing" VALUES(1,1,'2026-11-20T05:45:30Z',0,'slab','3',101.5,'');
CREATE TABLE worked_out (
	id       INTEGER PRIMARY KEY,
	what     TEXT NOT NULL UNIQUE,
	key      BLOB NOT NULL,
	revision INTEGER NOT NULL,
	used_at  INTEGER NOT NULL,
	value    BLOB NOT NULL
) STRICT;
CREATE INDEX change_row_of ON change_row (change_id);
CREATE INDEX portion_colorant_named ON portion_colorant (name_key);
CREATE INDEX event_of ON event (batch_id, at);
CREATE INDEX weighing_of ON weighing (batch_id, at);
CREATE INDEX lesson_of ON lesson (batch_id);
CREATE INDEX reading_of ON reading (portion_id, taken_at);
CREATE INDEX history_portion_of ON history_portion (intake_id);
CREATE INDEX history_dose_of ON history_dose (portion_id);
CREATE TRIGGER "journal_batch_insert" AFTER INSERT ON "batch"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'batch', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_batch_update" AFTER UPDATE ON "batch" WHEN OLD."id" IS NOT NEW."id" OR OLD."code" IS NOT NEW."code" OR OLD."code_key" IS NOT NEW."code_key" OR OLD."title" IS NOT NEW."title" OR OLD."poured_at" IS NOT NEW."poured_at" OR OLD."poured_clock" IS NOT NEW."poured_clock" OR OLD."plan" IS NOT NEW."plan" OR OLD."gel" IS NOT NEW."gel" OR OLD."storage" IS NOT NEW."storage" OR OLD."place" IS NOT NEW."place" OR OLD."cure_c" IS NOT NEW."cure_c" OR OLD."cut_at" IS NOT NEW."cut_at" OR OLD."schedule" IS NOT NEW."schedule" OR OLD."closed_at" IS NOT NEW."closed_at" OR OLD."note" IS NOT NEW."note" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'batch', OLD.id, 'update', json_object('id', OLD."id", 'code', OLD."code", 'code_key', OLD."code_key", 'title', OLD."title", 'poured_at', OLD."poured_at", 'poured_clock', OLD."poured_clock", 'plan', OLD."plan", 'gel', OLD."gel", 'storage', OLD."storage", 'place', OLD."place", 'cure_c', OLD."cure_c", 'cut_at', OLD."cut_at", 'schedule', OLD."schedule", 'closed_at', OLD."closed_at", 'note', OLD."note", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_batch_delete" AFTER DELETE ON "batch"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'batch', OLD.id, 'delete', json_object('id', OLD."id", 'code', OLD."code", 'code_key', OLD."code_key", 'title', OLD."title", 'poured_at', OLD."poured_at", 'poured_clock', OLD."poured_clock", 'plan', OLD."plan", 'gel', OLD."gel", 'storage', OLD."storage", 'place', OLD."place", 'cure_c', OLD."cure_c", 'cut_at', OLD."cut_at", 'schedule', OLD."schedule", 'closed_at', OLD."closed_at", 'note', OLD."note", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_batter_insert" AFTER INSERT ON "batter"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'batter', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_batter_update" AFTER UPDATE ON "batter" WHEN OLD."id" IS NOT NEW."id" OR OLD."batch_id" IS NOT NEW."batch_id" OR OLD."position" IS NOT NEW."position" OR OLD."name" IS NOT NEW."name" OR OLD."oils_g" IS NOT NEW."oils_g" OR OLD."water_g" IS NOT NEW."water_g" OR OLD."total_g" IS NOT NEW."total_g" OR OLD."lye_percent" IS NOT NEW."lye_percent" OR OLD."discount_percent" IS NOT NEW."discount_percent" OR OLD."fresh_water" IS NOT NEW."fresh_water" OR OLD."batter_c" IS NOT NEW."batter_c" OR OLD."fragrance" IS NOT NEW."fragrance" OR OLD."fragrance_key" IS NOT NEW."fragrance_key" OR OLD."fragrance_g" IS NOT NEW."fragrance_g" OR OLD."fragrance_percent" IS NOT NEW."fragrance_percent" OR OLD."stabilizer" IS NOT NEW."stabilizer" OR OLD."stabilizer_g" IS NOT NEW."stabilizer_g" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'batter', OLD.id, 'update', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'position', OLD."position", 'name', OLD."name", 'oils_g', OLD."oils_g", 'water_g', OLD."water_g", 'total_g', OLD."total_g", 'lye_percent', OLD."lye_percent", 'discount_percent', OLD."discount_percent", 'fresh_water', OLD."fresh_water", 'batter_c', OLD."batter_c", 'fragrance', OLD."fragrance", 'fragrance_key', OLD."fragrance_key", 'fragrance_g', OLD."fragrance_g", 'fragrance_percent', OLD."fragrance_percent", 'stabilizer', OLD."stabilizer", 'stabilizer_g', OLD."stabilizer_g"));
END;
CREATE TRIGGER "journal_batter_delete" AFTER DELETE ON "batter"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'batter', OLD.id, 'delete', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'position', OLD."position", 'name', OLD."name", 'oils_g', OLD."oils_g", 'water_g', OLD."water_g", 'total_g', OLD."total_g", 'lye_percent', OLD."lye_percent", 'discount_percent', OLD."discount_percent", 'fresh_water', OLD."fresh_water", 'batter_c', OLD."batter_c", 'fragrance', OLD."fragrance", 'fragrance_key', OLD."fragrance_key", 'fragrance_g', OLD."fragrance_g", 'fragrance_percent', OLD."fragrance_percent", 'stabilizer', OLD."stabilizer", 'stabilizer_g', OLD."stabilizer_g"));
END;
CREATE TRIGGER "journal_card_insert" AFTER INSERT ON "card"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'card', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_card_update" AFTER UPDATE ON "card" WHEN OLD."id" IS NOT NEW."id" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."kind" IS NOT NEW."kind" OR OLD."edition" IS NOT NEW."edition" OR OLD."d50_l" IS NOT NEW."d50_l" OR OLD."d50_a" IS NOT NEW."d50_a" OR OLD."d50_b" IS NOT NEW."d50_b" OR OLD."learnt_from" IS NOT NEW."learnt_from" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'card', OLD.id, 'update', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'kind', OLD."kind", 'edition', OLD."edition", 'd50_l', OLD."d50_l", 'd50_a', OLD."d50_a", 'd50_b', OLD."d50_b", 'learnt_from', OLD."learnt_from", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_card_delete" AFTER DELETE ON "card"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'card', OLD.id, 'delete', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'kind', OLD."kind", 'edition', OLD."edition", 'd50_l', OLD."d50_l", 'd50_a', OLD."d50_a", 'd50_b', OLD."d50_b", 'learnt_from', OLD."learnt_from", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_colorant_insert" AFTER INSERT ON "colorant"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'colorant', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_colorant_update" AFTER UPDATE ON "colorant" WHEN OLD."id" IS NOT NEW."id" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."label" IS NOT NEW."label" OR OLD."kind" IS NOT NEW."kind" OR OLD."swatch_l" IS NOT NEW."swatch_l" OR OLD."swatch_a" IS NOT NEW."swatch_a" OR OLD."swatch_b" IS NOT NEW."swatch_b" OR OLD."swatch_basis" IS NOT NEW."swatch_basis" OR OLD."swatch_dose_g_per_kg" IS NOT NEW."swatch_dose_g_per_kg" OR OLD."usual_dose_g_per_kg" IS NOT NEW."usual_dose_g_per_kg" OR OLD."teaspoon_g" IS NOT NEW."teaspoon_g" OR OLD."claim" IS NOT NEW."claim" OR OLD."lot" IS NOT NEW."lot" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'colorant', OLD.id, 'update', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'label', OLD."label", 'kind', OLD."kind", 'swatch_l', OLD."swatch_l", 'swatch_a', OLD."swatch_a", 'swatch_b', OLD."swatch_b", 'swatch_basis', OLD."swatch_basis", 'swatch_dose_g_per_kg', OLD."swatch_dose_g_per_kg", 'usual_dose_g_per_kg', OLD."usual_dose_g_per_kg", 'teaspoon_g', OLD."teaspoon_g", 'claim', OLD."claim", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_colorant_delete" AFTER DELETE ON "colorant"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'colorant', OLD.id, 'delete', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'label', OLD."label", 'kind', OLD."kind", 'swatch_l', OLD."swatch_l", 'swatch_a', OLD."swatch_a", 'swatch_b', OLD."swatch_b", 'swatch_basis', OLD."swatch_basis", 'swatch_dose_g_per_kg', OLD."swatch_dose_g_per_kg", 'usual_dose_g_per_kg', OLD."usual_dose_g_per_kg", 'teaspoon_g', OLD."teaspoon_g", 'claim', OLD."claim", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_event_insert" AFTER INSERT ON "event"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'event', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_event_update" AFTER UPDATE ON "event" WHEN OLD."id" IS NOT NEW."id" OR OLD."batch_id" IS NOT NEW."batch_id" OR OLD."kind" IS NOT NEW."kind" OR OLD."at" IS NOT NEW."at" OR OLD."clock" IS NOT NEW."clock" OR OLD."after_min" IS NOT NEW."after_min" OR OLD."batter" IS NOT NEW."batter" OR OLD."portion" IS NOT NEW."portion" OR OLD."value" IS NOT NEW."value" OR OLD."note" IS NOT NEW."note" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'event', OLD.id, 'update', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'kind', OLD."kind", 'at', OLD."at", 'clock', OLD."clock", 'after_min', OLD."after_min", 'batter', OLD."batter", 'portion', OLD."portion", 'value', OLD."value", 'note', OLD."note"));
END;
CREATE TRIGGER "journal_event_delete" AFTER DELETE ON "event"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'event', OLD.id, 'delete', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'kind', OLD."kind", 'at', OLD."at", 'clock', OLD."clock", 'after_min', OLD."after_min", 'batter', OLD."batter", 'portion', OLD."portion", 'value', OLD."value", 'note', OLD."note"));
END;
CREATE TRIGGER "journal_fragrance_insert" AFTER INSERT ON "fragrance"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_fragrance_update" AFTER UPDATE ON "fragrance" WHEN OLD."id" IS NOT NEW."id" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."vanillin_percent" IS NOT NEW."vanillin_percent" OR OLD."ethyl_vanillin_percent" IS NOT NEW."ethyl_vanillin_percent" OR OLD."flash_point_c" IS NOT NEW."flash_point_c" OR OLD."max_use_percent" IS NOT NEW."max_use_percent" OR OLD."max_use_category" IS NOT NEW."max_use_category" OR OLD."max_use_amendment" IS NOT NEW."max_use_amendment" OR OLD."max_use_date" IS NOT NEW."max_use_date" OR OLD."moves" IS NOT NEW."moves" OR OLD."lot" IS NOT NEW."lot" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance', OLD.id, 'update', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'vanillin_percent', OLD."vanillin_percent", 'ethyl_vanillin_percent', OLD."ethyl_vanillin_percent", 'flash_point_c', OLD."flash_point_c", 'max_use_percent', OLD."max_use_percent", 'max_use_category', OLD."max_use_category", 'max_use_amendment', OLD."max_use_amendment", 'max_use_date', OLD."max_use_date", 'moves', OLD."moves", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_fragrance_delete" AFTER DELETE ON "fragrance"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance', OLD.id, 'delete', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'vanillin_percent', OLD."vanillin_percent", 'ethyl_vanillin_percent', OLD."ethyl_vanillin_percent", 'flash_point_c', OLD."flash_point_c", 'max_use_percent', OLD."max_use_percent", 'max_use_category', OLD."max_use_category", 'max_use_amendment', OLD."max_use_amendment", 'max_use_date', OLD."max_use_date", 'moves', OLD."moves", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_fragrance_claim_insert" AFTER INSERT ON "fragrance_claim"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_claim', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_fragrance_claim_update" AFTER UPDATE ON "fragrance_claim" WHEN OLD."id" IS NOT NEW."id" OR OLD."fragrance_id" IS NOT NEW."fragrance_id" OR OLD."position" IS NOT NEW."position" OR OLD."claim" IS NOT NEW."claim" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_claim', OLD.id, 'update', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'position', OLD."position", 'claim', OLD."claim"));
END;
CREATE TRIGGER "journal_fragrance_claim_delete" AFTER DELETE ON "fragrance_claim"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_claim', OLD.id, 'delete', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'position', OLD."position", 'claim', OLD."claim"));
END;
CREATE TRIGGER "journal_fragrance_share_insert" AFTER INSERT ON "fragrance_share"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_share', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_fragrance_share_update" AFTER UPDATE ON "fragrance_share" WHEN OLD."id" IS NOT NEW."id" OR OLD."fragrance_id" IS NOT NEW."fragrance_id" OR OLD."role" IS NOT NEW."role" OR OLD."position" IS NOT NEW."position" OR OLD."name" IS NOT NEW."name" OR OLD."percent" IS NOT NEW."percent" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_share', OLD.id, 'update', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'role', OLD."role", 'position', OLD."position", 'name', OLD."name", 'percent', OLD."percent"));
END;
CREATE TRIGGER "journal_fragrance_share_delete" AFTER DELETE ON "fragrance_share"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'fragrance_share', OLD.id, 'delete', json_object('id', OLD."id", 'fragrance_id', OLD."fragrance_id", 'role', OLD."role", 'position', OLD."position", 'name', OLD."name", 'percent', OLD."percent"));
END;
CREATE TRIGGER "journal_history_intake_insert" AFTER INSERT ON "history_intake"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'history_intake', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_history_intake_update" AFTER UPDATE ON "history_intake" WHEN OLD."id" IS NOT NEW."id" OR OLD."at" IS NOT NEW."at" OR OLD."source" IS NOT NEW."source" OR OLD."portions" IS NOT NEW."portions" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'history_intake', OLD.id, 'update', json_object('id', OLD."id", 'at', OLD."at", 'source', OLD."source", 'portions', OLD."portions"));
END;
CREATE TRIGGER "journal_history_intake_delete" AFTER DELETE ON "history_intake"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'history_intake', OLD.id, 'delete', json_object('id', OLD."id", 'at', OLD."at", 'source', OLD."source", 'portions', OLD."portions"));
END;
CREATE TRIGGER "journal_identity_insert" AFTER INSERT ON "identity"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'identity', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_identity_update" AFTER UPDATE ON "identity" WHEN OLD."id" IS NOT NEW."id" OR OLD."uid" IS NOT NEW."uid" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'identity', OLD.id, 'update', json_object('id', OLD."id", 'uid', OLD."uid"));
END;
CREATE TRIGGER "journal_identity_delete" AFTER DELETE ON "identity"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'identity', OLD.id, 'delete', json_object('id', OLD."id", 'uid', OLD."uid"));
END;
CREATE TRIGGER "journal_intake_insert" AFTER INSERT ON "intake"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'intake', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_intake_update" AFTER UPDATE ON "intake" WHEN OLD."id" IS NOT NEW."id" OR OLD."at" IS NOT NEW."at" OR OLD."source" IS NOT NEW."source" OR OLD."readings" IS NOT NEW."readings" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'intake', OLD.id, 'update', json_object('id', OLD."id", 'at', OLD."at", 'source', OLD."source", 'readings', OLD."readings"));
END;
CREATE TRIGGER "journal_intake_delete" AFTER DELETE ON "intake"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'intake', OLD.id, 'delete', json_object('id', OLD."id", 'at', OLD."at", 'source', OLD."source", 'readings', OLD."readings"));
END;
CREATE TRIGGER "journal_lesson_insert" AFTER INSERT ON "lesson"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'lesson', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_lesson_update" AFTER UPDATE ON "lesson" WHEN OLD."id" IS NOT NEW."id" OR OLD."batch_id" IS NOT NEW."batch_id" OR OLD."at" IS NOT NEW."at" OR OLD."text" IS NOT NEW."text" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'lesson', OLD.id, 'update', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'at', OLD."at", 'text', OLD."text"));
END;
CREATE TRIGGER "journal_lesson_delete" AFTER DELETE ON "lesson"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'lesson', OLD.id, 'delete', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'at', OLD."at", 'text', OLD."text"));
END;
CREATE TRIGGER "journal_oil_insert" AFTER INSERT ON "oil"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'oil', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_oil_update" AFTER UPDATE ON "oil" WHEN OLD."id" IS NOT NEW."id" OR OLD."key" IS NOT NEW."key" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."inci" IS NOT NEW."inci" OR OLD."sv_min_mg_koh_per_g" IS NOT NEW."sv_min_mg_koh_per_g" OR OLD."sv_max_mg_koh_per_g" IS NOT NEW."sv_max_mg_koh_per_g" OR OLD."certificate_sv_mg_koh_per_g" IS NOT NEW."certificate_sv_mg_koh_per_g" OR OLD."unsaponifiable_max_percent" IS NOT NEW."unsaponifiable_max_percent" OR OLD."kind" IS NOT NEW."kind" OR OLD."tint" IS NOT NEW."tint" OR OLD."source" IS NOT NEW."source" OR OLD."lot" IS NOT NEW."lot" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'oil', OLD.id, 'update', json_object('id', OLD."id", 'key', OLD."key", 'name', OLD."name", 'name_key', OLD."name_key", 'inci', OLD."inci", 'sv_min_mg_koh_per_g', OLD."sv_min_mg_koh_per_g", 'sv_max_mg_koh_per_g', OLD."sv_max_mg_koh_per_g", 'certificate_sv_mg_koh_per_g', OLD."certificate_sv_mg_koh_per_g", 'unsaponifiable_max_percent', OLD."unsaponifiable_max_percent", 'kind', OLD."kind", 'tint', OLD."tint", 'source', OLD."source", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_oil_delete" AFTER DELETE ON "oil"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'oil', OLD.id, 'delete', json_object('id', OLD."id", 'key', OLD."key", 'name', OLD."name", 'name_key', OLD."name_key", 'inci', OLD."inci", 'sv_min_mg_koh_per_g', OLD."sv_min_mg_koh_per_g", 'sv_max_mg_koh_per_g', OLD."sv_max_mg_koh_per_g", 'certificate_sv_mg_koh_per_g', OLD."certificate_sv_mg_koh_per_g", 'unsaponifiable_max_percent', OLD."unsaponifiable_max_percent", 'kind', OLD."kind", 'tint', OLD."tint", 'source', OLD."source", 'lot', OLD."lot", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_portion_insert" AFTER INSERT ON "portion"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'portion', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_portion_update" AFTER UPDATE ON "portion" WHEN OLD."id" IS NOT NEW."id" OR OLD."batch_id" IS NOT NEW."batch_id" OR OLD."position" IS NOT NEW."position" OR OLD."batter" IS NOT NEW."batter" OR OLD."name" IS NOT NEW."name" OR OLD."grams" IS NOT NEW."grams" OR OLD."fragrance" IS NOT NEW."fragrance" OR OLD."fragrance_key" IS NOT NEW."fragrance_key" OR OLD."fragrance_percent" IS NOT NEW."fragrance_percent" OR OLD."brown_percent" IS NOT NEW."brown_percent" OR OLD."ratio" IS NOT NEW."ratio" OR OLD."target_l" IS NOT NEW."target_l" OR OLD."target_a" IS NOT NEW."target_a" OR OLD."target_b" IS NOT NEW."target_b" OR OLD."pour_l" IS NOT NEW."pour_l" OR OLD."pour_a" IS NOT NEW."pour_a" OR OLD."pour_b" IS NOT NEW."pour_b" OR OLD."settled_l" IS NOT NEW."settled_l" OR OLD."settled_a" IS NOT NEW."settled_a" OR OLD."settled_b" IS NOT NEW."settled_b" OR OLD."control" IS NOT NEW."control" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'portion', OLD.id, 'update', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'position', OLD."position", 'batter', OLD."batter", 'name', OLD."name", 'grams', OLD."grams", 'fragrance', OLD."fragrance", 'fragrance_key', OLD."fragrance_key", 'fragrance_percent', OLD."fragrance_percent", 'brown_percent', OLD."brown_percent", 'ratio', OLD."ratio", 'target_l', OLD."target_l", 'target_a', OLD."target_a", 'target_b', OLD."target_b", 'pour_l', OLD."pour_l", 'pour_a', OLD."pour_a", 'pour_b', OLD."pour_b", 'settled_l', OLD."settled_l", 'settled_a', OLD."settled_a", 'settled_b', OLD."settled_b", 'control', OLD."control"));
END;
CREATE TRIGGER "journal_portion_delete" AFTER DELETE ON "portion"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'portion', OLD.id, 'delete', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'position', OLD."position", 'batter', OLD."batter", 'name', OLD."name", 'grams', OLD."grams", 'fragrance', OLD."fragrance", 'fragrance_key', OLD."fragrance_key", 'fragrance_percent', OLD."fragrance_percent", 'brown_percent', OLD."brown_percent", 'ratio', OLD."ratio", 'target_l', OLD."target_l", 'target_a', OLD."target_a", 'target_b', OLD."target_b", 'pour_l', OLD."pour_l", 'pour_a', OLD."pour_a", 'pour_b', OLD."pour_b", 'settled_l', OLD."settled_l", 'settled_a', OLD."settled_a", 'settled_b', OLD."settled_b", 'control', OLD."control"));
END;
CREATE TRIGGER "journal_portion_colorant_insert" AFTER INSERT ON "portion_colorant"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'portion_colorant', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_portion_colorant_update" AFTER UPDATE ON "portion_colorant" WHEN OLD."id" IS NOT NEW."id" OR OLD."portion_id" IS NOT NEW."portion_id" OR OLD."position" IS NOT NEW."position" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."g_per_kg" IS NOT NEW."g_per_kg" OR OLD."grams" IS NOT NEW."grams" OR OLD."lot" IS NOT NEW."lot" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'portion_colorant', OLD.id, 'update', json_object('id', OLD."id", 'portion_id', OLD."portion_id", 'position', OLD."position", 'name', OLD."name", 'name_key', OLD."name_key", 'g_per_kg', OLD."g_per_kg", 'grams', OLD."grams", 'lot', OLD."lot"));
END;
CREATE TRIGGER "journal_portion_colorant_delete" AFTER DELETE ON "portion_colorant"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'portion_colorant', OLD.id, 'delete', json_object('id', OLD."id", 'portion_id', OLD."portion_id", 'position', OLD."position", 'name', OLD."name", 'name_key', OLD."name_key", 'g_per_kg', OLD."g_per_kg", 'grams', OLD."grams", 'lot', OLD."lot"));
END;
CREATE TRIGGER "journal_reading_way_insert" AFTER INSERT ON "reading_way"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'reading_way', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_reading_way_update" AFTER UPDATE ON "reading_way" WHEN OLD."id" IS NOT NEW."id" OR OLD."method" IS NOT NEW."method" OR OLD."illuminant" IS NOT NEW."illuminant" OR OLD."observer" IS NOT NEW."observer" OR OLD."instrument" IS NOT NEW."instrument" OR OLD."face" IS NOT NEW."face" OR OLD."early" IS NOT NEW."early" OR OLD."clock" IS NOT NEW."clock" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'reading_way', OLD.id, 'update', json_object('id', OLD."id", 'method', OLD."method", 'illuminant', OLD."illuminant", 'observer', OLD."observer", 'instrument', OLD."instrument", 'face', OLD."face", 'early', OLD."early", 'clock', OLD."clock"));
END;
CREATE TRIGGER "journal_reading_way_delete" AFTER DELETE ON "reading_way"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'reading_way', OLD.id, 'delete', json_object('id', OLD."id", 'method', OLD."method", 'illuminant', OLD."illuminant", 'observer', OLD."observer", 'instrument', OLD."instrument", 'face', OLD."face", 'early', OLD."early", 'clock', OLD."clock"));
END;
CREATE TRIGGER "journal_stabilizer_insert" AFTER INSERT ON "stabilizer"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'stabilizer', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_stabilizer_update" AFTER UPDATE ON "stabilizer" WHEN OLD."id" IS NOT NEW."id" OR OLD."name" IS NOT NEW."name" OR OLD."name_key" IS NOT NEW."name_key" OR OLD."active" IS NOT NEW."active" OR OLD."strength_percent" IS NOT NEW."strength_percent" OR OLD."note" IS NOT NEW."note" OR OLD."retired" IS NOT NEW."retired" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'stabilizer', OLD.id, 'update', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'active', OLD."active", 'strength_percent', OLD."strength_percent", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_stabilizer_delete" AFTER DELETE ON "stabilizer"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'stabilizer', OLD.id, 'delete', json_object('id', OLD."id", 'name', OLD."name", 'name_key', OLD."name_key", 'active', OLD."active", 'strength_percent', OLD."strength_percent", 'note', OLD."note", 'retired', OLD."retired", 'created_at', OLD."created_at", 'changed_at', OLD."changed_at"));
END;
CREATE TRIGGER "journal_strike_insert" AFTER INSERT ON "strike"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'strike', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_strike_update" AFTER UPDATE ON "strike" WHEN OLD."id" IS NOT NEW."id" OR OLD."reading_id" IS NOT NEW."reading_id" OR OLD."at" IS NOT NEW."at" OR OLD."why" IS NOT NEW."why" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'strike', OLD.id, 'update', json_object('id', OLD."id", 'reading_id', OLD."reading_id", 'at', OLD."at", 'why', OLD."why"));
END;
CREATE TRIGGER "journal_strike_delete" AFTER DELETE ON "strike"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'strike', OLD.id, 'delete', json_object('id', OLD."id", 'reading_id', OLD."reading_id", 'at', OLD."at", 'why', OLD."why"));
END;
CREATE TRIGGER "journal_weighing_insert" AFTER INSERT ON "weighing"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'weighing', NEW.id, 'insert', NULL);
END;
CREATE TRIGGER "journal_weighing_update" AFTER UPDATE ON "weighing" WHEN OLD."id" IS NOT NEW."id" OR OLD."batch_id" IS NOT NEW."batch_id" OR OLD."at" IS NOT NEW."at" OR OLD."clock" IS NOT NEW."clock" OR OLD."batter" IS NOT NEW."batter" OR OLD."bar" IS NOT NEW."bar" OR OLD."grams" IS NOT NEW."grams" OR OLD."note" IS NOT NEW."note" BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'weighing', OLD.id, 'update', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'at', OLD."at", 'clock', OLD."clock", 'batter', OLD."batter", 'bar', OLD."bar", 'grams', OLD."grams", 'note', OLD."note"));
END;
CREATE TRIGGER "journal_weighing_delete" AFTER DELETE ON "weighing"  BEGIN
	INSERT INTO change_row (change_id, tbl, row_id, op, before)
	VALUES ((SELECT max(id) FROM change), 'weighing', OLD.id, 'delete', json_object('id', OLD."id", 'batch_id', OLD."batch_id", 'at', OLD."at", 'clock', OLD."clock", 'batter', OLD."batter", 'bar', OLD."bar", 'grams', OLD."grams", 'note', OLD."note"));
END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('change',7);
INSERT INTO "sqlite_sequence" VALUES('intake',2);
INSERT INTO "sqlite_sequence" VALUES('history_intake',1);
PRAGMA user_version = 4;
PRAGMA application_id = 1283024198;
COMMIT;
