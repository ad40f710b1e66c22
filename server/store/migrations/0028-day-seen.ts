/** Layout 28: the days on which the service has run, since 1970 by UTC. Those before are known from what was recorded. */
export const daySeenLayout = `
CREATE TABLE day_seen (
  day INTEGER PRIMARY KEY
) STRICT;
INSERT INTO day_seen
  SELECT time_ms / 86400000 FROM operator_log
  UNION SELECT CAST(time_ms / 86400000 AS INTEGER) FROM alarm_journal
  UNION SELECT started_ms / 86400000 FROM run
  UNION SELECT ended_ms / 86400000 FROM run WHERE ended_ms IS NOT NULL;
`;
