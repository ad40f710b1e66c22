/** Layout 4: the stage that a person has set in a run, so that it counts again after a restart of the service. */
export const statedStageLayout = `
ALTER TABLE run ADD COLUMN stage_word TEXT;
`;
