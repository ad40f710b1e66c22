import type { ComparedMeasure } from './compare-groups.ts';
import type { MeasureKey } from './measures.ts';
import { RUNS_NEEDED_MAX } from './runs-needed.ts';

/** What makers ask most often, with its size worth seeing in words. */
const ASKED: Partial<Record<MeasureKey, string>> = {
  blobsAndNecks: 'blobs halved',
  sd: 'the standard deviation a fifth lower',
};
const TIMES = [
  '',
  'once',
  'twice',
  'three times',
  'four times',
  'five times',
  'six times',
  'seven times',
  'eight times',
];

/** How many more runs would show a difference worth seeing, where none was found; empty = all were, or nothing is known. */
export function runsNeededText(measures: readonly ComparedMeasure[], runsEach: number): string {
  const parts = measures.flatMap(({ key, comparisons }) => {
    const asked = ASKED[key];
    const open = comparisons.filter(({ finding, runsNeeded }) => finding !== 'differs' && runsNeeded !== null);
    if (asked === undefined || open.length === 0) return [];
    return [partText(asked, Math.max(...open.map(({ runsNeeded }) => runsNeeded ?? 0)), runsEach)];
  });
  const [first, ...others] = parts;
  return first === undefined ? '' : `${[first, ...others].join('; ')}.`.replace(/^t/, 'T');
}

function partText(asked: string, needed: number, runsEach: number): string {
  if (!Number.isFinite(needed)) return `to see ${asked}, even ${RUNS_NEEDED_MAX} runs of each are too few`;
  const more = needed - runsEach;
  if (more <= 0) return `to see ${asked}, these runs are enough`;
  // One run of each shows only what varies within a run.
  const least = runsEach === 1 ? 'at least ' : '';
  return `to see ${asked}, run each ${least}${TIMES[more] ?? `${more} times`} more`;
}
