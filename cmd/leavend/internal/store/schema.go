package store

import "leavend/cmd/leavend/internal/store/dbfile"

// schema is what the file holds. Never change a migration that was released:
// add another.
var schema = &dbfile.Schema{
	AppID: 0x6c656176, // "leav" in ASCII
	Migrations: []string{`
CREATE TABLE vessel (
	id   INTEGER PRIMARY KEY,
	name TEXT NOT NULL UNIQUE
) STRICT;

-- What a vessel's channels are called in blocks and rollups. The numbers of
-- the usual ones are fixed in the program, so that losing this costs little.
CREATE TABLE channel (
	id     INTEGER PRIMARY KEY,
	vessel INTEGER NOT NULL,
	name   TEXT NOT NULL,
	number INTEGER NOT NULL,
	UNIQUE (vessel, name)
) STRICT;

-- One boot, or one imported recording. The time of any row is t + shift, in
-- ms since 1970 UTC.
CREATE TABLE clock (
	id      INTEGER PRIMARY KEY,
	boot    TEXT NOT NULL UNIQUE,
	zero    INTEGER NOT NULL,           -- t at boot
	shift   INTEGER NOT NULL DEFAULT 0, -- learned later
	synced  INTEGER NOT NULL DEFAULT 0,
	live    INTEGER NOT NULL,           -- 0 for an import
	settled INTEGER NOT NULL DEFAULT 0  -- all rollups written
) STRICT;

CREATE TABLE clock_step (
	id           INTEGER PRIMARY KEY,
	clock        INTEGER NOT NULL REFERENCES clock,
	t            INTEGER NOT NULL,
	shift_before INTEGER NOT NULL,
	shift        INTEGER NOT NULL,
	synced       INTEGER NOT NULL
) STRICT;

-- Readings at full rate: one vessel's for up to five minutes.
CREATE TABLE block (
	id     INTEGER PRIMARY KEY,
	vessel INTEGER NOT NULL REFERENCES vessel,
	clock  INTEGER NOT NULL REFERENCES clock,
	t      INTEGER NOT NULL, -- of the first reading
	last   INTEGER NOT NULL, -- of the last
	n      INTEGER NOT NULL,
	data   BLOB NOT NULL
) STRICT;
CREATE INDEX block_time ON block (clock, t, vessel);

CREATE TABLE rollup (
	id     INTEGER PRIMARY KEY,
	level  INTEGER NOT NULL, -- 0: 1 min, 1: 15 min, 2: 1 day
	vessel INTEGER NOT NULL REFERENCES vessel,
	clock  INTEGER NOT NULL REFERENCES clock,
	t      INTEGER NOT NULL, -- start of the page
	data   BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX rollup_page ON rollup (vessel, level, clock, t);

-- The journal: feeds, events, faults, forecasts, bakes, past curves. The body
-- is JSON, and what it was before each correction is kept in revision.
CREATE TABLE entry (
	id      INTEGER PRIMARY KEY AUTOINCREMENT,
	kind    TEXT NOT NULL,
	vessel  TEXT NOT NULL,
	clock   INTEGER NOT NULL REFERENCES clock,
	t       INTEGER NOT NULL,
	body    TEXT NOT NULL,
	removed INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX entry_kind ON entry (kind, vessel, clock, t);

CREATE TABLE revision (
	id      INTEGER PRIMARY KEY,
	entry   INTEGER NOT NULL REFERENCES entry,
	made    INTEGER NOT NULL, -- ms since 1970 UTC, by the wall clock
	clock   INTEGER NOT NULL,
	t       INTEGER NOT NULL,
	body    TEXT NOT NULL,
	removed INTEGER NOT NULL
) STRICT;
CREATE INDEX revision_entry ON revision (entry);

CREATE TABLE photo (
	id    INTEGER PRIMARY KEY,
	entry INTEGER NOT NULL UNIQUE REFERENCES entry,
	type  TEXT NOT NULL,
	data  BLOB NOT NULL
) STRICT;

-- Settings and states by name. A setting's former values stay in kept_before.
CREATE TABLE kept (
	id      INTEGER PRIMARY KEY,
	name    TEXT NOT NULL UNIQUE,
	value   TEXT NOT NULL,
	made    INTEGER NOT NULL
) STRICT;
CREATE TABLE kept_before (
	id      INTEGER PRIMARY KEY,
	name    TEXT NOT NULL,
	value   TEXT NOT NULL,
	made    INTEGER NOT NULL
) STRICT;
CREATE INDEX kept_before_name ON kept_before (name);

CREATE TABLE outbox (
	id        INTEGER PRIMARY KEY AUTOINCREMENT,
	recipient TEXT NOT NULL,
	kind      TEXT NOT NULL,
	vessel    TEXT NOT NULL,
	text      TEXT NOT NULL,
	body      TEXT NOT NULL,    -- JSON, the sender's own
	event     INTEGER NOT NULL, -- times: ms since 1970 UTC
	expires   INTEGER NOT NULL, -- 0: never
	attempts  INTEGER NOT NULL DEFAULT 0,
	next_try  INTEGER NOT NULL DEFAULT 0,
	done      INTEGER NOT NULL DEFAULT 0, -- when sent or given up; 0: waiting
	outcome   TEXT NOT NULL DEFAULT ''    -- sent, expired, given up; the last error while waiting
) STRICT;
CREATE INDEX outbox_waiting ON outbox (done, recipient, id);
`, `
-- A bake's former photos.
CREATE TABLE photo_before (
	id    INTEGER PRIMARY KEY,
	entry INTEGER NOT NULL REFERENCES entry,
	type  TEXT NOT NULL,
	data  BLOB NOT NULL,
	made  INTEGER NOT NULL -- when it was replaced, ms since 1970 UTC, by the wall clock
) STRICT;
`, `
-- The event log: what the broker and people are not told yet. Its rows are as
-- package event made them.
CREATE TABLE log (
	id      INTEGER PRIMARY KEY,
	consumer TEXT NOT NULL,   -- whom it is for; empty: each consumer of events
	expires INTEGER NOT NULL, -- ms since 1970 UTC; 0: never
	body    TEXT NOT NULL     -- JSON
) STRICT;
CREATE TABLE log_cursor (
	id       INTEGER PRIMARY KEY,
	consumer TEXT NOT NULL UNIQUE,
	seq      INTEGER NOT NULL -- it is done with all rows of the log up to here
) STRICT;
CREATE TABLE log_head (
	id     INTEGER PRIMARY KEY, -- always 1
	number INTEGER NOT NULL,    -- of the last change written
	seq    INTEGER NOT NULL     -- of the last row of the log there ever was
) STRICT;
-- Messages that wait in the outbox of before go on from here. A body that
-- holds no notice is made into one.
INSERT INTO log (id, consumer, expires, body) SELECT id, recipient, expires,
	CASE WHEN json_valid(body) AND json_type(body, '$.kind') = 'text' THEN body
	ELSE json_object('kind', kind, 'vessel', vessel, 'text', text, 'at', strftime('%Y-%m-%dT%H:%M:%fZ', event / 1000.0, 'unixepoch')) END
	FROM outbox WHERE done = 0 ORDER BY id;
INSERT INTO log_head (id, number, seq) SELECT 1, 0, ifnull(max(id), 0) FROM outbox;
DROP TABLE outbox;
-- Rows that could not be read, as the values of an INSERT into where they were.
CREATE TABLE aside (
	id     INTEGER PRIMARY KEY,
	origin TEXT NOT NULL,
	row    INTEGER NOT NULL,
	why    TEXT NOT NULL,
	made   INTEGER NOT NULL, -- when they were set aside, ms since 1970 UTC
	data   TEXT NOT NULL
) STRICT;
`},
	Tables: []dbfile.Table{
		{Name: "clock", Filled: true, Small: true},
		{Name: "vessel", Says: "vessels", Filled: true, Small: true},
		{Name: "channel", Filled: true, Small: true},
		{Name: "entry", Says: "entries", Filled: true, Small: true},
		{Name: "revision", Filled: true, Small: true},
		{Name: "kept", Says: "settings", Filled: true, Small: true},
		{Name: "kept_before", Filled: true, Small: true},
		{Name: "outbox", Says: "messages", Churns: true, Former: true},
		{Name: "log", Says: "messages", Churns: true, Small: true},
		{Name: "log_cursor", Churns: true},
		{Name: "log_head"},
		{Name: "photo", Says: "photos", Filled: true},
		{Name: "photo_before", Filled: true},
		{Name: "clock_step"},
		{Name: "aside", Churns: true},
		{Name: "rollup", Says: "summaries", Filled: true},
		{Name: "block", Says: "minutes", Filled: true},
	},
	StandIns: standIns,
	Found: `DELETE FROM main.clock WHERE boot LIKE 'lost %' AND id IN (SELECT id FROM backup.clock);
		DELETE FROM main.vessel WHERE name LIKE 'lost %' AND id IN (SELECT id FROM backup.vessel)`,
	Others: `SELECT count(*) FROM backup.clock b JOIN main.clock c ON c.id = b.id WHERE b.boot <> c.boot AND c.boot NOT LIKE 'lost %'`,
}

// entryStandIns gives entries whose clock is not there a stand-in.
const entryStandIns = `
INSERT OR IGNORE INTO clock (id, boot, zero, live) SELECT clock, 'lost ' || clock, min(t), 1 FROM entry
	WHERE typeof(clock) = 'integer' AND clock NOT IN (SELECT id FROM clock) GROUP BY clock;
`

// standIns gives rows whose vessel, channel or clock was lost a stand-in, and
// asks for rollups to be worked out again.
const standIns = `
INSERT OR IGNORE INTO clock (id, boot, zero, live) SELECT clock, 'lost ' || clock, min(t), 1 FROM
	(SELECT clock, t FROM block UNION ALL SELECT clock, t FROM entry UNION ALL SELECT clock, t FROM rollup) GROUP BY clock;
INSERT OR IGNORE INTO vessel (id, name) SELECT DISTINCT vessel, 'lost ' || vessel FROM
	(SELECT vessel FROM block UNION ALL SELECT vessel FROM rollup);
UPDATE clock SET settled = 0 WHERE live;
-- Numbers of channels whose names were lost are not given to others.
INSERT OR IGNORE INTO channel (vessel, name, number) SELECT 0, 'damage ' || datetime('now'), ifnull(max(number), 0) + 100 FROM channel;
`
