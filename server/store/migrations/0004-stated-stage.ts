/** Layout 4: the stage that a user set in a run, so that it applies again after a restart of the service. */
export const statedStageLayout = `
ALTER TABLE run ADD COLUMN stage_word TEXT;
`;
