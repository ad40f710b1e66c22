import { describe, expect, it } from 'vitest';
import { type ComparedRun, compareGroups } from '../../../server/strand/comparison/compare-groups.ts';
import { concludeComparison } from '../../../server/strand/comparison/conclusion.ts';
import { compareWithinLines, groupsLinkedWithFirst } from '../../../server/strand/comparison/groups-on-lines.ts';
import { MEASURES, type MeasureKey } from '../../../server/strand/comparison/measures.ts';
import { preparationDifferences } from '../../../server/strand/comparison/preparation.ts';
import type { RunValues } from '../../../server/strand/comparison/run-value.ts';
import { normal, seeded } from '../../chance.ts';

/** Runs as line and value. */
type Runs = readonly (readonly [line: number, value: number])[];

/** Runs with this value of a measure, and no other. */
function withValue(key: MeasureKey, runs: Runs): ComparedRun[] {
  const single = (value: number) => ({ value, interval: null, uncertain: null, counted: null });
  return runs.map(([line, value]) => ({
    line,
    nominalMm: 1.75,
    values: Object.fromEntries(MEASURES.map((one) => [one, single(one === key ? value : Number.NaN)])) as RunValues,
  }));
}

const compared = (key: MeasureKey, ...groups: readonly Runs[]) => {
  const [measure] = compareGroups(groups.map((runs) => withValue(key, runs)));
  return measure!;
};

describe('groups that share lines', () => {
  // R datasets::sleep, ten patients with two drugs each (Student 1908, Biometrika 6): t.test(paired = TRUE) gives t = −4.0621,
  // 9 degrees of freedom, p = 0.002833, −2.4598858 to −0.7001142 (its documentation, from memory; SciPy 1.17 gives the same).
  const first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
  const second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

  it('with one run of each on every line are compared by the paired t test', () => {
    const onLines = (values: readonly number[]) => values.map((value, line) => ({ line, value }));
    const found = compareWithinLines([onLines(second), onLines(first)])!.difference(1);
    expect(found.t).toBeCloseTo(-4.0621, 4);
    expect(found.degreesOfFreedom).toBeCloseTo(9, 9);
    expect(found.p).toBeCloseTo(0.002833, 6);
    expect(found.lower).toBeCloseTo(-2.4598858, 6);
    expect(found.upper).toBeCloseTo(-0.7001142, 6);
  });

  // Lines of 1.746, 1.775 and 1.745 mm. NumPy 2.4: least squares with two groups and three lines; SciPy 1.17: its t.
  const a: Runs = [
    [1, 1.74],
    [1, 1.752],
    [1, 1.746],
    [2, 1.768],
  ];
  const b: Runs = [
    [1, 1.755],
    [2, 1.776],
    [2, 1.781],
    [3, 1.74],
    [3, 1.75],
  ];

  it('are compared within them, however many runs each has there', () => {
    const { groups, comparisons } = compared('mean', a, b);
    expect(comparisons[0]).toMatchObject({ basis: 'runs', finding: 'chance' });
    expect(comparisons[0]!.difference).toBeCloseTo(0.009705882352940565, 9);
    expect(comparisons[0]!.lower).toBeCloseTo(-0.001528573756066182, 9);
    expect(comparisons[0]!.upper).toBeCloseTo(0.02094033846194731, 9);
    expect(comparisons[0]!.p).toBeCloseTo(0.07704826201494858, 9);
    expect(groups[0]!.value).toBeCloseTo(1.7510522875817007, 9);
    // The values shown differ by what is said to be the difference, and not by what the lines do.
    expect(groups[1]!.value - groups[0]!.value).toBeCloseTo(comparisons[0]!.difference, 9);
  });

  it('are not taken for different because one has more runs of the worse line', () => {
    const blobs = (lines: readonly number[]): Runs =>
      lines.map((line, i) => [line, (line === 1 ? 2 : 30) * (1 + 0.1 * (i % 3))]);
    const mixed = compared('blobsAndNecks', blobs([1, 1, 1, 1, 2, 2]), blobs([1, 1, 2, 2, 2, 2]));
    expect(mixed.comparisons[0]!.p).toBeGreaterThan(0.1);
    expect(mixed.comparisons[0]!.difference).toBeGreaterThan(0.8);
    expect(mixed.comparisons[0]!.difference).toBeLessThan(1.25);
  });

  it('that do not differ are found to in one of twenty cases, however much the lines do', () => {
    const CASES = 1000;
    const next = normal(seeded(11));
    let found = 0;
    for (let i = 0; i < CASES; i++) {
      const effects = [0, 0, 0].map(() => 0.05 * next());
      const made = (lines: readonly number[]) => lines.map((line) => ({ line, value: effects[line]! + 0.01 * next() }));
      if (compareWithinLines([made([0, 0, 0, 1, 2]), made([0, 1, 1, 2, 2])])!.difference(1).p < 0.05) found += 1;
    }
    // 50 are expected, with a standard deviation of 7; without the lines it would be more than a hundred.
    expect(Math.abs(found - 50)).toBeLessThan(21);
  });

  it('have no mean that cannot be', () => {
    const { groups } = compared(
      'kept',
      [
        [1, 0.99],
        [1, 1],
        [2, 0.6],
      ],
      [
        [1, 0.98],
        [2, 0.62],
        [2, 0.6],
        [1, 0.99],
      ],
      [
        [1, 1],
        [1, 1],
        [1, 1],
      ],
      [
        [2, 0.99],
        [2, 1],
      ],
    );
    for (const { value } of groups) expect(value).toBeLessThanOrEqual(1);
  });

  it('say nothing with too few runs for so many lines', () => {
    const { comparisons } = compared(
      'mean',
      [[1, 1.74]],
      [
        [1, 1.75],
        [2, 1.76],
      ],
    );
    expect(comparisons[0]).toMatchObject({ p: null, basis: null, finding: 'unknown', difference: Number.NaN });
  });

  it('are found also through other groups', () => {
    const on = (...lines: number[]) => lines.map((line) => ({ line }));
    expect(groupsLinkedWithFirst([on(0), on(2), on(1, 2), on(0, 1), on(5)])).toEqual(new Set([0, 1, 2, 3]));
    expect(groupsLinkedWithFirst([on(0, 0), on(1)])).toEqual(new Set([0]));
  });
});

describe('groups on different lines', () => {
  const line = (at: number, values: readonly number[]): Runs => values.map((value) => [at, value]);
  const [low, high] = [
    [1.74, 1.741, 1.742],
    [1.76, 1.761, 1.762],
  ] as const;

  it('of one line each are compared by their runs', () => {
    const [here] = compared('mean', line(0, low), line(1, high)).comparisons;
    const [same] = compared('mean', line(0, low), line(0, high)).comparisons;
    expect(here).toEqual({ ...same, runsNeeded: null });
    expect(same!.runsNeeded).not.toBeNull();
  });

  it('of several lines are compared by their lines, because runs of one line are alike', () => {
    const { comparisons, groups } = compared(
      'mean',
      [...line(1, low), ...line(2, [1.75, 1.751, 1.752])],
      [...line(3, high), ...line(4, [1.75, 1.751, 1.752])],
    );
    // Welch of 1.741, 1.751 and 1.761, 1.751: SciPy 1.17.
    expect(comparisons[0]).toMatchObject({ basis: 'lines', finding: 'chance' });
    expect(comparisons[0]!.p).toBeCloseTo(0.292893, 6);
    expect(groups[0]!.value).toBeCloseTo(1.746, 9);
  });

  it('are said to differ perhaps because of the line', () => {
    const groups = [line(0, low), line(1, high)];
    const lineNames = ['Bench', 'Garage'];
    const lot = (dryingH: number) => ({ name: 'Moss', preparation: '', values: { dryingH } });
    const prepared = (hours: readonly number[]) =>
      preparationDifferences(
        groups.map((runs, i) =>
          runs.map(([at]) => ({
            line: at,
            lineName: lineNames[at]!,
            lot: lot(hours[i]!),
            setpointsC: [],
            speedMmPerS: null,
            screwTurnsPerMin: null,
          })),
        ),
      );
    const concluded = (hours: readonly number[]) =>
      concludeComparison(
        groups.map((runs, i) => ({
          name: `group ${'AB'[i]}`,
          runs: runs.map(([at], k) => ({ line: at, name: `run ${k}`, startedMs: 2 * k + i, hasLot: true })),
        })),
        prepared(hours),
        compareGroups(groups.map((runs) => withValue('mean', runs))),
      );
    const { preparation, result, limitations, nextStep } = concluded([4, 8]);
    expect(preparation).toBe(
      'Different: line “Garage” in group B, “Bench” in group A; drying time 8 h in group B, 4 h in group A.',
    );
    expect(result).toContain('That is more than chance.');
    expect(limitations[0]).toBe(
      'Group B was not wound on the same line as group A: a difference may come from the line, such as its extruder, its gauge or its room.',
    );
    expect(limitations[1]).toContain('2 things were different at once');
    expect(nextStep).toBe('What would show it: the preparations of group A and group B on one line, wound in turn.');
    // Lines themselves can be compared.
    const lines = concluded([4, 4]);
    expect(lines.preparation).toBe('Different: line “Garage” in group B, “Bench” in group A.');
    expect(lines.nextStep).toContain('group A and group B');
  });
});
