/**
 * Layout 12: plain names for tables and JSON fields. Quotes inside a JSON string are escaped, so `replace` changes keys
 * only.
 */
export const plainNamesLayout = `
ALTER TABLE calling RENAME TO escalation;
ALTER TABLE escalation RENAME COLUMN calls TO escalations;
UPDATE alarm SET payload = replace(payload, '"rest":', '"suppression":');
UPDATE alarm_journal SET payload = replace(payload, '"rest":', '"suppression":');
UPDATE escalation SET escalations = replace(escalations, '"rest":', '"suppression":');
ALTER TABLE calling_rules RENAME TO escalation_rules;
UPDATE channel SET state = json_remove(json_set(state, '$.text', state ->> '$.words'), '$.words') WHERE state IS NOT NULL;
`;
