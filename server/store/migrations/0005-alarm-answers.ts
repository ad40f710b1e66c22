/** Layout 5: from where and why an alarm was answered, and how users set the alarm types. */
export const alarmAnswersLayout = `
ALTER TABLE alarm_journal ADD COLUMN came_from TEXT;
ALTER TABLE alarm_journal ADD COLUMN why TEXT NOT NULL DEFAULT '';

-- Only ever appended: the last row of a type counts; a payload of NULL = as it was before anybody changed it.
CREATE TABLE alarm_setting (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  type TEXT NOT NULL,
  payload TEXT,
  who TEXT NOT NULL,
  saved_ms INTEGER NOT NULL
) STRICT;
`;
