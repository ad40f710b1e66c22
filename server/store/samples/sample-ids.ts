/** Every run has 2^28 ids in each table of samples: half a trillion readings. */
const RUN_IDS = 2 ** 28;
/** Of the summaries' ids each level has 2^24. */
const LEVEL_IDS = 2 ** 24;

/** Neighbours that a summary page joins. */
export const FAN_OUT = 32;

/** Id of the n-th block of a run, from 0. The first id of the next run is where its ids end. */
export function blockId(runId: number, block: number): number {
  return runId * RUN_IDS + block;
}

/** Id of a page of summaries: level 0 sums up blocks, level 1 pages of level 0, and so on. */
export function summaryId(runId: number, level: number, page: number): number {
  return runId * RUN_IDS + level * LEVEL_IDS + page;
}
