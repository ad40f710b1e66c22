/** Layout 12: names of the field in place of our own. */
export const plainNamesLayout = `
ALTER TABLE calling RENAME TO escalation;
ALTER TABLE escalation RENAME COLUMN calls TO escalations;
UPDATE escalation SET escalations = replace(escalations, '"rest":', '"suppression":');
ALTER TABLE calling_rules RENAME TO escalation_rules;
UPDATE channel SET state = json_remove(json_set(state, '$.text', state ->> '$.words'), '$.words') WHERE state IS NOT NULL;
`;
