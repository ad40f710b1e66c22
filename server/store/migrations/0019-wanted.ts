/** Layout 19: how much strand a user wants on a spool. */
export const wantedLayout = `
ALTER TABLE spool ADD COLUMN wanted_amount REAL;
ALTER TABLE spool ADD COLUMN wanted_unit TEXT;
`;
