/** Every run has 2^28 ids in the tables of blocks: half a trillion readings. */
const RUN_BLOCKS = 2 ** 28;
/** The ids of summaries: 8 levels of 2^23 pages of 2^10 columns. */
const LEVEL_PAGES = 2 ** 23;
const PAGE_COLUMNS = 2 ** 10;
/** Largest number of signals in a run: time and gauge length take a column each. */
export const SIGNALS_MAX = PAGE_COLUMNS - 2;
const RUN_SUMMARIES = 8 * LEVEL_PAGES * PAGE_COLUMNS;

/** Levels of summaries; higher ones would save nothing. */
export const LEVELS_MAX = 8;

/** Id of the n-th block of a run, from 0. The ids of a run end before the first id of the next run. */
export function blockId(runId: number, block: number): number {
  return runId * RUN_BLOCKS + block;
}

/** The run of a block's id. */
export function runOfBlock(id: number): number {
  return Math.floor(id / RUN_BLOCKS);
}

/** Id of one column of a page of summaries; the columns of a page have consecutive ids. */
export function summaryId(runId: number, level: number, page: number, column: number): number {
  return runId * RUN_SUMMARIES + (level * LEVEL_PAGES + page) * PAGE_COLUMNS + column;
}

/** Where a page of summaries belongs, by its id. */
export function placeOfSummary(id: number): { readonly level: number; readonly column: number } {
  const inRun = id % RUN_SUMMARIES;
  return { level: Math.floor(inRun / (LEVEL_PAGES * PAGE_COLUMNS)), column: inRun % PAGE_COLUMNS };
}

/** The tables of samples, and the first id of a run in each. */
export const SAMPLE_TABLES = [
  { name: 'sample_span', firstId: (runId: number) => blockId(runId, 0) },
  { name: 'sample_block', firstId: (runId: number) => blockId(runId, 0) },
  { name: 'sample_summary', firstId: (runId: number) => summaryId(runId, 0, 0, 0) },
] as const;
