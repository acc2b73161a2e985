-- SPDX-License-Identifier: MIT
-- The scale's own history: calibrations with every reading they rest on, which of
-- them held when, and the daily checks. Refers to no table of the other versions.
-- Never edited once released: the next version is a new file with what changes.

CREATE TABLE calibration (
	id INTEGER PRIMARY KEY AUTOINCREMENT, -- never used twice
	boot_id TEXT NOT NULL,
	boottime_us INTEGER NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL,
	driver TEXT NOT NULL, -- of another driver's codes it says nothing
	degc REAL, -- NULL: not known
	degree INTEGER NOT NULL CHECK (degree IN (1, 2)),
	zero_counts REAL NOT NULL,
	g_per_count REAL NOT NULL CHECK (g_per_count > 0),
	g_per_count2 REAL NOT NULL,
	residual_sd_g REAL NOT NULL,
	greatest_g REAL NOT NULL, -- load
	hysteresis_g REAL NOT NULL,
	repeat_sd_g REAL NOT NULL,
	off_centre_g REAL NOT NULL, -- the worst of the places
	drift_g REAL NOT NULL
);

CREATE TABLE calibration_reading (
	calibration_id INTEGER NOT NULL REFERENCES calibration (id),
	seq INTEGER NOT NULL, -- 1, 2, ... in the order they were taken
	kind TEXT NOT NULL CHECK (kind IN ('zero', 'rising', 'falling', 'repeat', 'place')),
	t_us INTEGER NOT NULL, -- the station's time: only differences mean something
	mass_g REAL NOT NULL,
	counts REAL NOT NULL,
	sd_counts REAL NOT NULL,
	place INTEGER NOT NULL,
	UNIQUE (calibration_id, seq)
);

-- The last row holds; NULL is the configuration's.
CREATE TABLE calibration_use (
	seq INTEGER PRIMARY KEY AUTOINCREMENT,
	calibration_id INTEGER REFERENCES calibration (id),
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
);

CREATE TABLE scale_check (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	boot_id TEXT NOT NULL,
	boottime_us INTEGER NOT NULL,
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL,
	driver TEXT NOT NULL,
	calibration_id INTEGER REFERENCES calibration (id), -- that held; NULL: the configuration's
	degc REAL,
	nominal_g REAL NOT NULL,
	weight_class TEXT NOT NULL,
	indicated_g REAL NOT NULL,
	limit_g REAL NOT NULL,
	tolerance_g REAL NOT NULL,
	verdict TEXT NOT NULL CHECK (verdict IN ('passed', 'failed', 'cannot-tell'))
);

CREATE TRIGGER calibration_stays BEFORE UPDATE ON calibration
BEGIN SELECT RAISE(ABORT, 'a calibration never changes'); END;
CREATE TRIGGER calibration_is_kept BEFORE DELETE ON calibration
BEGIN SELECT RAISE(ABORT, 'a calibration is never deleted'); END;
CREATE TRIGGER calibration_reading_stays BEFORE UPDATE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'a calibration never changes'); END;
CREATE TRIGGER calibration_reading_is_kept BEFORE DELETE ON calibration_reading
BEGIN SELECT RAISE(ABORT, 'a calibration is never deleted'); END;
CREATE TRIGGER scale_check_stays BEFORE UPDATE ON scale_check
BEGIN SELECT RAISE(ABORT, 'a check never changes'); END;
CREATE TRIGGER scale_check_is_kept BEFORE DELETE ON scale_check
BEGIN SELECT RAISE(ABORT, 'a check is never deleted'); END;
