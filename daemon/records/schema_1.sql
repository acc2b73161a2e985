-- SPDX-License-Identifier: MIT
-- Version 1 of the store. Never edited once released: the next version is a new
-- file with what changes.

-- A batch. Everything a list shows is read out of its record, so a list cannot say
-- anything else than the chained bytes do.
CREATE TABLE batch (
	id INTEGER PRIMARY KEY AUTOINCREMENT, -- never used twice
	parent_id INTEGER REFERENCES batch (id),
	begun_realtime_us INTEGER NOT NULL,
	begun_synchronised INTEGER NOT NULL,
	ended_realtime_us INTEGER,
	ended_synchronised INTEGER,
	record TEXT NOT NULL CHECK (json_valid(record)), -- canonical: as it stands, final once ended
	system_id TEXT AS (json_extract(record, '$.system.id')) VIRTUAL
);
CREATE INDEX batch_open ON batch (id) WHERE ended_realtime_us IS NULL;
CREATE INDEX batch_system ON batch (system_id, id);
CREATE TRIGGER batch_ended_stays BEFORE UPDATE ON batch WHEN OLD.ended_realtime_us IS NOT NULL
BEGIN
	SELECT RAISE(ABORT, 'a finished batch never changes');
END;
CREATE TRIGGER batch_stays BEFORE DELETE ON batch
BEGIN
	SELECT RAISE(ABORT, 'a batch is never deleted');
END;

-- Every committed step, with all that is needed to go on from it.
CREATE TABLE step (
	batch_id INTEGER NOT NULL REFERENCES batch (id),
	seq INTEGER NOT NULL, -- 1, 2, ... within the batch
	t_us INTEGER NOT NULL, -- since the batch began
	step TEXT NOT NULL,
	verdict TEXT NOT NULL,
	message TEXT NOT NULL,
	boot_id TEXT NOT NULL,
	boottime_us INTEGER NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL,
	state TEXT NOT NULL, -- guide_write()
	UNIQUE (batch_id, seq)
);

-- The chain over finished batches, in the order they finished:
-- hash = SHA-256(the hash before, 32 zero bytes for the first || the record).
CREATE TABLE link (
	seq INTEGER PRIMARY KEY AUTOINCREMENT,
	batch_id INTEGER NOT NULL UNIQUE REFERENCES batch (id),
	hash BLOB NOT NULL CHECK (length(hash) = 32)
);

-- Blocks of the 10 Hz curve: 16 bytes a point, little-endian, int64 t_us and an
-- IEEE 754 double of grams.
CREATE TABLE curve (
	id INTEGER PRIMARY KEY,
	batch_id INTEGER NOT NULL REFERENCES batch (id),
	points BLOB NOT NULL CHECK (length(points) % 16 = 0)
);
CREATE INDEX curve_batch ON curve (batch_id, id);

CREATE TABLE number (
	key TEXT PRIMARY KEY,
	value REAL NOT NULL
) WITHOUT ROWID;

-- Gross mass of a bottle as last weighed.
CREATE TABLE shelf (
	system_id TEXT NOT NULL,
	part TEXT NOT NULL CHECK (part IN ('a', 'b')),
	lot TEXT NOT NULL,
	gross_g REAL NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL,
	PRIMARY KEY (system_id, part, lot)
) WITHOUT ROWID;

-- The last stamp of each boot: how long the station was off is the difference
-- between two rows, where both clocks were synchronised.
CREATE TABLE boot (
	seq INTEGER PRIMARY KEY AUTOINCREMENT,
	boot_id TEXT NOT NULL UNIQUE,
	boottime_us INTEGER NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
);
