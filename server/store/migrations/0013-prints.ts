/** Layout 13: prints that a spool is to be cut for, as a JSON list of amounts and units. */
export const printsLayout = `
ALTER TABLE spool_choice ADD COLUMN prints TEXT NOT NULL DEFAULT '[]';
`;
