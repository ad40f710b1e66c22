/**
 * Layout 2: the readings. Ids are run × 2^28 + number (see `sample-ids.ts`), so that every table is a plain rowid table
 * that grows at its end: few and sequential page writes, and no index to update.
 */
export const samplesLayout = `
-- The channels of a run in the order in which they were first seen; a block speaks of them by number.
CREATE TABLE sample_channel (
  run_id INTEGER NOT NULL REFERENCES run (id),
  number INTEGER NOT NULL,
  name TEXT NOT NULL,
  unit TEXT NOT NULL,
  PRIMARY KEY (run_id, number)
) STRICT, WITHOUT ROWID;

-- Where each block lies on both axes. Small rows apart from the blocks, so that a run's index is read in a few pages.
CREATE TABLE sample_span (
  id INTEGER PRIMARY KEY,
  first_number INTEGER NOT NULL,
  count INTEGER NOT NULL,
  from_ms REAL NOT NULL,
  to_ms REAL NOT NULL,
  from_gauge_mm REAL NOT NULL,
  to_gauge_mm REAL NOT NULL
) STRICT;

CREATE TABLE sample_block (
  id INTEGER PRIMARY KEY,
  data BLOB NOT NULL
) STRICT;

-- Summaries of 32 neighbours each: of blocks, of 32 blocks, of 1024 blocks …
CREATE TABLE sample_summary (
  id INTEGER PRIMARY KEY,
  data BLOB NOT NULL
) STRICT;

-- Readings that are in no block yet: a row a second, gone when their block is sealed.
CREATE TABLE sample_journal (
  id INTEGER PRIMARY KEY,
  run_id INTEGER NOT NULL,
  first_number INTEGER NOT NULL,
  count INTEGER NOT NULL,
  from_ms REAL NOT NULL,
  to_ms REAL NOT NULL,
  from_gauge_mm REAL NOT NULL,
  to_gauge_mm REAL NOT NULL,
  data BLOB NOT NULL
) STRICT;
`;
