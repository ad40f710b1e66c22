/** Layout 1: what happened and what users stated. Everything a user entered is append only or has one writer. */
export const recordLayout = `
CREATE TABLE run (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  started_ms INTEGER NOT NULL,
  ended_ms INTEGER,
  time_zone TEXT NOT NULL,
  source_title TEXT NOT NULL,
  note TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE spool (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES run (id),
  ordinal INTEGER NOT NULL,
  start_gauge_mm REAL NOT NULL,
  end_gauge_mm REAL,
  started_ms INTEGER NOT NULL,
  ended_ms INTEGER,
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (run_id, ordinal)
) STRICT;

-- Computed: replaced by ordinal whenever the strand is judged anew.
CREATE TABLE measured_section (
  run_id INTEGER NOT NULL REFERENCES run (id),
  ordinal INTEGER NOT NULL,
  kind TEXT NOT NULL,
  verdict TEXT NOT NULL,
  from_mm REAL NOT NULL,
  to_mm REAL NOT NULL,
  payload TEXT NOT NULL,
  PRIMARY KEY (run_id, ordinal)
) STRICT, WITHOUT ROWID;

-- Stated: only ever appended. Of the words with one target the one with the highest id counts.
CREATE TABLE stated_section (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES run (id),
  target TEXT NOT NULL,
  measured_ordinal INTEGER,
  from_mm REAL NOT NULL,
  to_mm REAL NOT NULL,
  verdict TEXT NOT NULL,
  note TEXT NOT NULL,
  removed INTEGER NOT NULL,
  at_time_ms REAL NOT NULL
) STRICT;
CREATE INDEX stated_section_by_target ON stated_section (run_id, target, id);

-- Each alarm as it stands now …
CREATE TABLE alarm (
  id INTEGER PRIMARY KEY,
  run_id INTEGER REFERENCES run (id),
  type TEXT NOT NULL,
  subject TEXT NOT NULL,
  state TEXT NOT NULL,
  payload TEXT NOT NULL
) STRICT;
CREATE INDEX alarm_standing ON alarm (state) WHERE state <> 'normal';

-- … and every step of its life, with the alarm as it was then.
CREATE TABLE alarm_journal (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER REFERENCES run (id),
  alarm_id INTEGER NOT NULL,
  time_ms REAL NOT NULL,
  what TEXT NOT NULL,
  by TEXT,
  payload TEXT NOT NULL
) STRICT;
CREATE INDEX alarm_journal_by_run ON alarm_journal (run_id, time_ms);

CREATE TABLE operator_log (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  time_ms INTEGER NOT NULL,
  run_id INTEGER REFERENCES run (id),
  who TEXT NOT NULL,
  what TEXT NOT NULL
) STRICT;
CREATE INDEX operator_log_by_run ON operator_log (run_id, id);

-- The settings of the line, one row a saving, so that what held at any time can be told.
CREATE TABLE line_settings (
  version INTEGER PRIMARY KEY AUTOINCREMENT,
  saved_ms INTEGER NOT NULL,
  payload TEXT NOT NULL
) STRICT;
`;
