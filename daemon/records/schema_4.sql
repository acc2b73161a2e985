-- SPDX-License-Identifier: MIT
-- Version 4 of the store: photos of a piece, pieces that were deleted, and resin that was
-- kept back. Never edited once released: the next version is a new file with what changes.

-- Its name and description are gone, no clock runs; what its pours taught of a system stays.
ALTER TABLE piece ADD COLUMN deleted INTEGER NOT NULL DEFAULT 0;

-- Was in the cup on purpose when it was weighed back: no loss to learn from.
ALTER TABLE pour ADD COLUMN kept_back_g REAL NOT NULL DEFAULT 0 CHECK (kept_back_g >= 0);

-- The file itself lies beside the store, named by its hash.
CREATE TABLE photo (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	piece_id INTEGER NOT NULL REFERENCES piece (id),
	layer INTEGER NOT NULL CHECK (layer > 0), -- that it was taken for
	kind TEXT NOT NULL CHECK (kind IN ('jpeg', 'png')),
	sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
	bytes INTEGER NOT NULL CHECK (bytes > 0),
	realtime_us INTEGER NOT NULL,
	synchronised INTEGER NOT NULL
);
CREATE INDEX photo_piece ON photo (piece_id, id);
