/** Layout 8: when the single readings of a run were deleted; its summaries stay. */
export const thinnedLayout = `
ALTER TABLE run ADD COLUMN thinned_ms INTEGER;
`;
