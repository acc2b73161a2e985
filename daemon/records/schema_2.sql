-- SPDX-License-Identifier: MIT
-- Version 2 of the store: pieces, what was poured into them, and what their clocks need.
-- Only facts are kept; depths, plans and clocks are computed from them again, so that a
-- restart cannot say anything else.

CREATE TABLE piece (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	name TEXT NOT NULL UNIQUE,
	file TEXT NOT NULL, -- as the person described it
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL,
	finished INTEGER NOT NULL DEFAULT 0 -- no clocks any more
);

-- One batch, or a mass told by hand, poured into a layer.
CREATE TABLE pour (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	piece_id INTEGER NOT NULL REFERENCES piece (id),
	layer INTEGER NOT NULL CHECK (layer > 0), -- from the floor, 1, 2, ...
	batch_id INTEGER REFERENCES batch (id),
	system_id TEXT NOT NULL,
	a_g REAL NOT NULL CHECK (a_g >= 0), -- as weighed
	b_g REAL NOT NULL CHECK (b_g >= 0),
	tint_g REAL NOT NULL CHECK (tint_g >= 0),
	stayed_g REAL, -- in the cup, weighed back
	resin_degc REAL, -- before mixing, where told
	cup_s REAL NOT NULL, -- from the hardener's first gram to the pour
	told INTEGER NOT NULL DEFAULT 0, -- clock events told of, a bit each
	boot_id TEXT NOT NULL,
	boottime_us INTEGER NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
);
CREATE INDEX pour_piece ON pour (piece_id, layer, id);
CREATE UNIQUE INDEX pour_batch ON pour (batch_id) WHERE batch_id IS NOT NULL;

-- The room's temperature from then on.
CREATE TABLE room (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	degc REAL NOT NULL,
	boot_id TEXT NOT NULL,
	boottime_us INTEGER NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
);

-- "Holds now": kept for the system as equivalent time at 25 C.
CREATE TABLE report (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	pour_id INTEGER NOT NULL REFERENCES pour (id),
	system_id TEXT NOT NULL,
	equivalent_s REAL NOT NULL CHECK (equivalent_s > 0),
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
);

-- Inclusions weighed day by day while they dry.
CREATE TABLE drying (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	name TEXT NOT NULL,
	mass_g REAL NOT NULL CHECK (mass_g > 0),
	boot_id TEXT NOT NULL,
	boottime_us INTEGER NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
);
CREATE INDEX drying_name ON drying (name, id);
