/**
 * Layout 23: the names of the glossary for the smallest feedable diameter and a zone losing temperature. Quotes inside a JSON
 * string are escaped, so `replace` changes keys and whole values only.
 */
export const smallestFeedableLayout = `
ALTER TABLE printer RENAME COLUMN least_feedable_mm TO smallest_feedable_mm;
UPDATE run_set SET payload = replace(payload, '"leastFeedableMm":', '"smallestFeedableMm":');
UPDATE line_settings SET payload = replace(payload, '"leastFeedableMm":', '"smallestFeedableMm":');
UPDATE examination SET
  inputs = replace(inputs, '"leastFeedableMm":', '"smallestFeedableMm":'),
  payload = replace(payload, '"leastFeedableMm":', '"smallestFeedableMm":');
UPDATE outbox SET payload = replace(
  replace(payload, '"leastFeedableMm":', '"smallestFeedableMm":'), '"heaterFallingAway"', '"heaterLosingTemperature"');
UPDATE alarm SET
  type = iif(type = 'heaterFallingAway', 'heaterLosingTemperature', type),
  payload = replace(payload, '"heaterFallingAway"', '"heaterLosingTemperature"');
UPDATE alarm_journal SET payload = replace(payload, '"heaterFallingAway"', '"heaterLosingTemperature"')
  WHERE instr(payload, '"heaterFallingAway"') > 0;
UPDATE alarm_setting SET type = 'heaterLosingTemperature' WHERE type = 'heaterFallingAway';
UPDATE escalation SET escalations = replace(escalations, '"heaterFallingAway"', '"heaterLosingTemperature"');
UPDATE contact SET payload = replace(payload, '"heaterFallingAway"', '"heaterLosingTemperature"');
`;
