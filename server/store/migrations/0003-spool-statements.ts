/** Layout 3: printers, and what users state about spools after winding. */
export const spoolStatementsLayout = `
-- A printer that was taken off the list stays, so that its id is never given again.
CREATE TABLE printer (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL,
  hotend_limit_mm REAL NOT NULL,
  least_feedable_mm REAL NOT NULL,
  tolerance_mm REAL NOT NULL,
  note TEXT NOT NULL,
  changed_ms INTEGER NOT NULL,
  removed INTEGER NOT NULL DEFAULT 0
) STRICT;

-- Only ever appended; a row with takes_back says that the cut of that id does not count.
CREATE TABLE cut (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  spool_id INTEGER NOT NULL REFERENCES spool (id),
  takes_back INTEGER REFERENCES cut (id),
  action TEXT NOT NULL,
  counted_mm REAL NOT NULL,
  landmark_counted_mm REAL,
  reached_end INTEGER NOT NULL,
  at_ms REAL NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX cut_by_spool ON cut (spool_id, id);

-- Only ever appended; the last name of a coil counts, an empty one takes the name away.
CREATE TABLE coil_name (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  spool_id INTEGER NOT NULL REFERENCES spool (id),
  coil INTEGER NOT NULL,
  name TEXT NOT NULL,
  at_ms REAL NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX coil_name_by_spool ON coil_name (spool_id, coil, id);

-- Only ever appended; the last one of a spool counts, one without lengths takes the correction away.
CREATE TABLE length_correction (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  spool_id INTEGER NOT NULL REFERENCES spool (id),
  measured_mm REAL,
  indicated_mm REAL,
  uncertainty_mm REAL,
  at_ms REAL NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX length_correction_by_spool ON length_correction (spool_id, id);
`;
