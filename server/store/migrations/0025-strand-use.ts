/** Layout 25: strand that users took from coils and uncut spools, and what became of the prints. */
export const strandUseLayout = `
-- Only ever appended; a row with takes_back says that the one of that id does not count.
CREATE TABLE strand_use (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  spool_id INTEGER NOT NULL REFERENCES spool (id),
  takes_back INTEGER REFERENCES strand_use (id),
  kind TEXT NOT NULL,
  from_gauge_mm REAL NOT NULL,
  to_gauge_mm REAL NOT NULL,
  feeds TEXT NOT NULL,
  used_amount REAL,
  used_unit TEXT,
  print_amount REAL,
  print_unit TEXT,
  printer TEXT,
  called TEXT,
  at_ms REAL NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX strand_use_by_spool ON strand_use (spool_id, id);
`;
