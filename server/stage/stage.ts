export const STAGES = ['stopped', 'heating', 'purging', 'winding'] as const;
export type Stage = (typeof STAGES)[number];
