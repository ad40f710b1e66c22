import type { CutRequest } from '../../../server/strand/plan/cut-request.ts';

/** 100 m without a bad stretch, to be cut for the most length. */
export const WHOLE_SPOOL: CutRequest = {
  spoolName: 'Moss 7',
  woundMm: 100_000,
  stretches: [],
  shortestCoilMm: 5000,
  objective: 'mostLength',
  doubtful: 'cut',
  unknown: 'cut',
};
