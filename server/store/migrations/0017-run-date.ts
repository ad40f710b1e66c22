/**
 * Layout 17: runs that were dated by a wrong clock, and can be moved. Readings stay as they were stored; `moved_by_s` is
 * added whenever they are read.
 */
export const runDateLayout = `
-- How far the clock of the machine was ahead of the time that the run kept; NULL = they agreed.
ALTER TABLE run ADD COLUMN clock_ahead_s INTEGER;
-- By how much the run was moved since.
ALTER TABLE run ADD COLUMN moved_by_s INTEGER NOT NULL DEFAULT 0;
-- JSON: by table, the last row that was moved with it. What users stated later has the right date already.
ALTER TABLE run ADD COLUMN moved_rows TEXT;
-- A user decided which date counts.
ALTER TABLE run ADD COLUMN date_settled INTEGER NOT NULL DEFAULT 0;
CREATE INDEX run_dated_wrong ON run (id) WHERE clock_ahead_s IS NOT NULL AND date_settled = 0;
`;
