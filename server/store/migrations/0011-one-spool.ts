/** Layout 11: places on the strand by gauge length, the choices of each spool, and the results of its examinations. */
export const oneSpoolLayout = `
-- Where a cut piece lies, and where the count was last surely known before and after it; NULL in rows of older layouts.
ALTER TABLE cut ADD COLUMN from_gauge_mm REAL;
ALTER TABLE cut ADD COLUMN to_gauge_mm REAL;
ALTER TABLE cut ADD COLUMN known_to_gauge_mm REAL;
ALTER TABLE cut ADD COLUMN known_after_gauge_mm REAL;
-- True mm a mm of gauge length when it was cut: counts are true lengths, from where the count was known.
ALTER TABLE cut ADD COLUMN length_factor REAL;

-- The strand that a name was given to. Rows of older layouts have the number of the coil only, until it is looked up.
ALTER TABLE coil_name ADD COLUMN from_gauge_mm REAL;
ALTER TABLE coil_name ADD COLUMN to_gauge_mm REAL;

-- The section that a statement is about where it is not a recorded one: it was found by the limits of another printer.
ALTER TABLE stated_section ADD COLUMN about_kind TEXT;
ALTER TABLE stated_section ADD COLUMN about_from_mm REAL;
ALTER TABLE stated_section ADD COLUMN about_to_mm REAL;

-- How a spool is judged and cut. Only ever appended; the last row of a spool counts. A shortest coil of NULL is the line's.
CREATE TABLE spool_choice (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  spool_id INTEGER NOT NULL REFERENCES spool (id),
  printer_id INTEGER NOT NULL,
  objective TEXT NOT NULL,
  shortest_mm REAL,
  doubtful TEXT NOT NULL,
  unknown TEXT NOT NULL,
  at_ms REAL NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX spool_choice_by_spool ON spool_choice (spool_id, id);

-- What all readings of a spool say by certain limits: worked out from them, and all that is left once they were let go. By
-- its foreign key it travels with the run.
CREATE TABLE examination (
  spool_id INTEGER NOT NULL REFERENCES spool (id),
  inputs TEXT NOT NULL,
  payload TEXT NOT NULL,
  PRIMARY KEY (spool_id, inputs)
) STRICT, WITHOUT ROWID;
`;
