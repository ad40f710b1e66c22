/** Layout 7: the lot that a run was fed with, and the settings of the line while it ran. */
export const runStatementsLayout = `
-- Only ever appended; the last one of a run counts, one without name and preparation takes the lot away.
CREATE TABLE lot (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES run (id),
  name TEXT NOT NULL,
  preparation TEXT NOT NULL,
  at_ms REAL NOT NULL,
  who TEXT NOT NULL
) STRICT;
CREATE INDEX lot_by_run ON lot (run_id, id);

-- What a run was set to from a gauge length on: what its strand was judged and told by.
CREATE TABLE run_set (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES run (id),
  from_gauge_mm REAL NOT NULL,
  payload TEXT NOT NULL
) STRICT;
CREATE INDEX run_set_by_run ON run_set (run_id, id);
`;
