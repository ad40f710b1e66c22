import { describe, expect, it } from 'vitest';
import type { ComparedMeasure, Comparison } from '../../../server/strand/comparison/compare-groups.ts';
import { concludeComparison, type GroupOfRuns } from '../../../server/strand/comparison/conclusion.ts';
import type { MeasureKey } from '../../../server/strand/comparison/measures.ts';
import { type PreparationDifference, preparationDifferences } from '../../../server/strand/comparison/preparation.ts';
import { runsNeededText } from '../../../server/strand/comparison/runs-needed-text.ts';

/** Runs by group, numbered from 1, each by its time of start. */
const grouped = (...starts: number[][]): GroupOfRuns[] =>
  starts.map((runs, i) => ({
    name: 'ABC'.charAt(i),
    runs: runs.map((startedMs, k) => ({ name: `run ${10 * i + k + 1}`, line: 0, startedMs, hasLot: true })),
  }));
const ONE_EACH = grouped([0], [1]);
const measure = (
  key: MeasureKey,
  [first, other]: readonly [number, number],
  finding: Comparison['finding'],
  runsNeeded: number | null = null,
): ComparedMeasure => ({
  key,
  runs: [],
  groups: [first, other].map((value) => ({ value, interval: null })),
  comparisons: [
    {
      group: 1,
      difference: Number.NaN,
      lower: Number.NaN,
      upper: Number.NaN,
      basis: null,
      p: finding === 'unknown' ? null : 0.01,
      pAdjusted: null,
      finding,
      runsNeeded,
    },
  ],
});
const sieved: PreparationDifference = { what: 'sieved', values: [null, 'sieved'], from: 'user', isOwnWords: true };
const dried: PreparationDifference = {
  what: 'Drying time',
  values: ['4 h', '8 h'],
  from: 'user',
  isOwnWords: false,
};
const speed: PreparationDifference = {
  what: 'Speed of the strand',
  values: ['30.0 mm/s', '40.0 mm/s'],
  from: 'line',
  isOwnWords: false,
};
const lot: PreparationDifference = { what: 'Material', values: ['Grey', 'Moss'], from: 'user', isOwnWords: false };
const DIFFERS = measure('sd', [0.02, 0.01], 'differs');
const ALIKE = measure('mean', [1.75, 1.751], 'chance');
const conclude = (groups: GroupOfRuns[], differences: PreparationDifference[], ...measures: ComparedMeasure[]) =>
  concludeComparison(groups, differences, measures);

describe('what was prepared differently', () => {
  const prepared = (...differences: PreparationDifference[]) => conclude(ONE_EACH, differences, ALIKE).preparation;

  it('is named for each group, at most three times', () => {
    expect(prepared()).toBe('No difference was entered, and the line sent none.');
    expect(prepared(sieved)).toBe('Different: “sieved” only in B.');
    expect(prepared({ ...speed, values: ['30.0 mm/s', null] })).toBe(
      'Different: speed of the strand 30.0 mm/s only in A.',
    );
    expect(prepared(dried, speed, lot)).toBe(
      'Different: drying time 8 h in B, 4 h in A; speed of the strand 40.0 mm/s in B, 30.0 mm/s in A; material “Moss” in B, “Grey” in A.',
    );
    expect(prepared(dried, speed, lot, sieved)).toMatch(/“Grey” in A; and 1 more\.$/);
  });

  it('asks for the material of runs without one', () => {
    const without = (...runs: number[]) =>
      grouped([0, 1], [2]).map((group) => ({
        ...group,
        runs: group.runs.map((run) => ({ ...run, hasLot: !runs.some((id) => run.name === `run ${id}`) })),
      }));
    expect(conclude(without(2), [], ALIKE).preparation).toMatch(
      / No material is entered for run 2: add it on its page\.$/,
    );
    expect(conclude(without(1, 2, 11), [sieved], ALIKE).preparation).toMatch(
      / No material is entered for run 1, run 2 and run 11: add it on their pages\.$/,
    );
  });
});

describe('what came of it', () => {
  const result = (...measures: ComparedMeasure[]) => conclude(ONE_EACH, [dried], ...measures).result;

  it('is not told from chance where nothing could be asked', () => {
    expect(result(measure('kept', [0.9, 0.5], 'unknown'))).toBe(
      'Too little was wound, or measured, to tell any difference from chance.',
    );
  });

  it('does not count as different only because much was asked', () => {
    expect(result(ALIKE)).toBe('No result differs by more than chance.');
    const unsure = [measure('ovality', [0.1, 0.2], 'unsure'), measure('within', [0.9, 1], 'unsure')];
    expect(result(ALIKE, ...unsure, measure('kept', [0.9, 0.5], 'unknown'))).toBe(
      'No result differs by more than chance. Out-of-roundness and within tolerance would count as different if each were the only question; among 3 questions one such finding now and then is to be expected.',
    );
  });

  it('names two findings with their values, and counts the rest', () => {
    expect(result(ALIKE, DIFFERS)).toBe(
      'Standard deviation: 0.010 mm in B, 0.020 mm in A. That is more than chance within these runs.',
    );
    const others = [measure('ovality', [0.1, 0.2], 'differs'), measure('within', [0.9, 1], 'differs')];
    expect(result(DIFFERS, ...others)).toMatch(/0\.100 mm in A; and 1 more\. That is more/);
    expect(conclude(grouped([0, 2], [1, 3]), [dried], DIFFERS).result).toMatch(/That is more than chance\.$/);
  });

  it.each<[MeasureKey, readonly [number, number], string]>([
    ['mean', [1.7504, Number.NaN], 'not known in B, 1.750 mm in A'],
    ['within', [0.998, 1], '100.0 % in B, 99.80 % in A'],
    ['within', [0.9934, 0.9951], '99.51 % in B, 99.3 % in A'],
    ['blobsAndNecks', [10.4, 9.94], '9.9 in 100 m in B, 10 in 100 m in A'],
    ['blobsAndNecks', [2.5, 0], 'none in B, 2.5 in 100 m in A'],
    ['longestCoil', [12.34, 8], '8.0 m in B, 12.3 m in A'],
    ['heat', [0.416, 1], '1.00 K in B, 0.42 K in A'],
    ['alarms', [1.5, 3], '3.0 an hour in B, 1.5 an hour in A'],
  ])('gives values of %s as precisely as they can be used', (key, values, text) => {
    expect(result(measure(key, values, 'differs'))).toContain(text);
  });
});

describe('what is not shown', () => {
  const limitations = (...of: Parameters<typeof conclude>) => conclude(...of).limitations;
  const causeOf = (...differences: PreparationDifference[]) =>
    /came from (.+?)\. Two runs/.exec(limitations(ONE_EACH, differences, DIFFERS)[0]!)?.[1];

  it('is the cause, where each group has one run', () => {
    expect(causeOf(dried)).toBe('the drying time');
    expect(causeOf({ ...sieved, values: ['sieved', null] })).toBe('“sieved”');
    expect(causeOf(speed)).toBe('the speed of the strand');
    // As the line's differences are named.
    const heat = (setpointC: number) => ({
      line: 0,
      lineName: 'Bench',
      lot: null,
      setpointsC: [180, setpointC],
      speedMmPerS: 40,
      screwTurnsPerMin: null,
    });
    expect(causeOf(...preparationDifferences([[heat(195)], [heat(205)]]))).toBe('the set-point of zone 2');
    expect(causeOf()).toBe('what was prepared differently');
    expect(causeOf(dried, speed)).toBe('what was prepared differently');
    expect(limitations(grouped([0, 2], [1, 3]), [dried], DIFFERS)).toEqual([]);
  });

  it('is which of several things did it, if something differs', () => {
    const several = 'were different at once, so no finding can be put down to one of them.';
    expect(limitations(ONE_EACH, [dried, speed], DIFFERS)[1]).toContain(`2 things ${several}`);
    expect(limitations(ONE_EACH, [dried, speed], ALIKE).join(' ')).not.toContain(several);
  });

  it('is what else changed, where one group was made before another', () => {
    const text = (...starts: number[][]) => limitations(grouped(...starts), [dried], DIFFERS).join(' ');
    const inBlocks = 'All runs of one group came before those of the other';
    expect(text([0, 1], [2, 3])).toContain(inBlocks);
    expect(text([2, 3], [0, 1])).toContain(inBlocks);
    expect(text([0, 2], [1, 3])).toBe('');
    expect(text([0, 3], [1, 2])).toBe('');
    expect(text([0, 2], [1, 4], [3, 5])).toContain(inBlocks);
  });

  it('is that there is no difference, unless four runs or more of each found none', () => {
    const none = 'No difference found is not “no difference”: with so few runs only a large one can be seen.';
    expect(limitations(ONE_EACH, [dried], ALIKE)).toEqual([none]);
    expect(limitations(grouped([0, 2, 4], [1, 3, 5, 7]), [dried], ALIKE)).toEqual([none]);
    expect(limitations(grouped([0, 2, 4, 6], [1, 3, 5, 7]), [dried], ALIKE)).toEqual([]);
  });
});

describe('what would show more', () => {
  const next = (groups: GroupOfRuns[], ...measures: ComparedMeasure[]) =>
    conclude(groups, [dried], ...measures).nextStep;

  it('is to run each again in turn, then more runs of the groups with few', () => {
    expect(next(ONE_EACH, DIFFERS)).toContain('run each again with nothing else changed, in turn (A, B, A, B).');
    const fewOfA = [0, 2, 4];
    expect(next(grouped(fewOfA, [1, 3, 5, 7]), DIFFERS)).toBe(
      'More runs of A would make it more certain, taken in turn with the others.',
    );
    const further = 'What would show more: further runs of A, taken in turn with the others.';
    expect(next(grouped(fewOfA, [1, 3, 5, 7]), ALIKE)).toBe(further);
    expect(next(grouped(fewOfA, [5, 6, 7, 8]), DIFFERS)).toBe(further);
    expect(next(grouped([0, 2], [1, 3]), ALIKE)).toContain('further runs of A and B, taken');
    expect(next(grouped([0, 2, 4, 6], [1, 3, 5, 7]), ALIKE)).toBeNull();
  });

  it('counts the runs that are missing in the group with the fewest', () => {
    const measures = [measure('sd', [0.02, 0.01], 'chance', 6)];
    expect(next(grouped([0, 2, 4, 6, 8], [1, 3, 5, 7]), ...measures)).toBe(
      'To see the standard deviation a fifth lower, run each twice more.',
    );
  });

  it('is how often to run each again, for what was not found and is asked most', () => {
    const lumps = (needed: number | null, finding: Comparison['finding'] = 'chance') =>
      measure('blobsAndNecks', [1, 2], finding, needed);
    expect(runsNeededText([lumps(6)], 4)).toBe('To see blobs halved, run each twice more.');
    expect(runsNeededText([lumps(6)], 1)).toBe('To see blobs halved, run each at least five times more.');
    expect(runsNeededText([lumps(14)], 2)).toBe('To see blobs halved, run each 12 times more.');
    expect(runsNeededText([lumps(5)], 5)).toBe('To see blobs halved, these runs are enough.');
    expect(runsNeededText([lumps(6)], 5)).toBe('To see blobs halved, run each once more.');
    expect(runsNeededText([lumps(Number.POSITIVE_INFINITY)], 5)).toBe(
      'To see blobs halved, even 50 runs of each are too few.',
    );
    expect(runsNeededText([lumps(6), measure('sd', [1, 2], 'unsure', 5)], 4)).toBe(
      'To see blobs halved, run each twice more; to see the standard deviation a fifth lower, run each once more.',
    );
    const [both] = [lumps(6), lumps(8)].map(({ comparisons }, i, all) => ({
      ...lumps(6),
      comparisons: [...comparisons, ...all[1 - i]!.comparisons],
    }));
    expect(runsNeededText([both!], 4)).toContain('four times more');
    expect(runsNeededText([lumps(6, 'differs'), lumps(null), measure('mean', [1, 2], 'chance', 9)], 4)).toBe('');
  });
});
