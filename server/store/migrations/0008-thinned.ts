/** Layout 8: when the raw readings of a run were let go; its summaries stay. */
export const thinnedLayout = `
ALTER TABLE run ADD COLUMN thinned_ms INTEGER;
`;
