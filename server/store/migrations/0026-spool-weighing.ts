/** Layout 26: spools that users put on a scale. */
export const spoolWeighingLayout = `
-- Only ever appended; the last one of a spool counts, one without a mass takes the weighing away.
CREATE TABLE spool_weighing (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  spool_id INTEGER NOT NULL REFERENCES spool (id),
  gross_g REAL,
  tare_g REAL,
  uncertainty_g REAL,
  at_ms REAL NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX spool_weighing_by_spool ON spool_weighing (spool_id, id);
`;
