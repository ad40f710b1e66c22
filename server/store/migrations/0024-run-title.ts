/** Layout 24: what users call a run, and whether it was a test, which is left out of trends. */
export const runTitleLayout = `
ALTER TABLE run ADD COLUMN title TEXT NOT NULL DEFAULT '';
ALTER TABLE run ADD COLUMN is_test INTEGER NOT NULL DEFAULT 0;
`;
