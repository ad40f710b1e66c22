/** Layout 27: spools that users name. */
export const spoolTitleLayout = `
ALTER TABLE spool ADD COLUMN title TEXT NOT NULL DEFAULT '';
`;
