/** Layout 6: people, the channels to them, and messages to be delivered. */
export const peopleLayout = `
CREATE TABLE channel (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL,
  settings TEXT NOT NULL,
  state TEXT,
  changed_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE contact (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  payload TEXT NOT NULL,
  changed_ms INTEGER NOT NULL
) STRICT;

-- One row a saving, so that what held at any time can be told.
CREATE TABLE calling_rules (
  version INTEGER PRIMARY KEY AUTOINCREMENT,
  saved_ms INTEGER NOT NULL,
  payload TEXT NOT NULL
) STRICT;

CREATE TABLE service_secret (
  name TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- The escalations under way, and the last step in alarm_journal that was told. What happened before this layout is past.
CREATE TABLE calling (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  calls TEXT NOT NULL,
  journal_id INTEGER NOT NULL
) STRICT;
INSERT INTO calling (one, calls, journal_id) SELECT 1, '[]', coalesce(max(id), 0) FROM alarm_journal;

-- No copy of a message goes out twice over one channel, whatever is computed again after a crash.
CREATE TABLE outbox (
  seq INTEGER PRIMARY KEY,
  channel_id INTEGER NOT NULL,
  key TEXT NOT NULL,
  drill_id INTEGER,
  state TEXT NOT NULL,
  payload TEXT NOT NULL,
  ended_ms INTEGER,
  UNIQUE (channel_id, key)
) STRICT;
CREATE INDEX outbox_waiting ON outbox (seq) WHERE state = 'waiting';
CREATE INDEX outbox_ended ON outbox (ended_ms) WHERE ended_ms IS NOT NULL;

CREATE TABLE drill (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  payload TEXT NOT NULL
) STRICT;
`;
