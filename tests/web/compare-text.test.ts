import { describe, expect, it } from 'vitest';
import type { MeasureView } from '../../server/api/contract/comparison.ts';
import { routeOf } from '../../server/entities/page-route.ts';
import { partsOfRef } from '../../server/entities/run-ref.ts';
import { groupedByText, pathOf, regrouped } from '../../web/compare/compare-groups.ts';
import { comparisonText, tooShortText, valueWithInterval } from '../../web/compare/compare-text.ts';

const plain = (text: string) => text.replaceAll('\u00a0', ' ');
const groups = [
  { name: 'run 3', runs: ['3'] },
  { name: 'run 5', runs: ['5'] },
];
const measure = (more: Partial<MeasureView>): MeasureView => ({
  key: 'blobsAndNecks',
  title: 'Blobs and thin spots',
  unit: 'per100m',
  better: 'less',
  differsBy: 'factor',
  worthSeeing: 2,
  runs: [],
  groups: [],
  comparisons: [],
  ...more,
});
const found = (more: Partial<MeasureView['comparisons'][number]>): MeasureView['comparisons'][number] => ({
  group: 1,
  difference: 0.2,
  interval: { lower: 0.1, upper: 0.5 },
  basis: 'counts',
  p: 0.001,
  pAdjusted: 0.01,
  finding: 'differs',
  runsNeeded: null,
  ...more,
});

describe('the texts of a comparison', () => {
  it('name first whichever has more', () => {
    expect(comparisonText(measure({}), found({}), groups)).toBe(
      'Run 3 has 5.0 times as many (2.0 to 10) as run 5: more than chance.',
    );
    expect(comparisonText(measure({}), found({ finding: 'chance', runsNeeded: 6 }), groups)).toBe(
      'Run 3 has 5.0 times as many (2.0 to 10) as run 5: may well be chance. At least 6 runs of each would show a factor of 2.0.',
    );
    expect(comparisonText(measure({ key: 'sd', unit: 'mm' }), found({}), groups)).toContain('5.0 times as much (');
    expect(comparisonText(measure({}), found({ difference: 0, interval: null }), groups)).toContain('has none');
    expect(comparisonText(measure({}), found({ difference: null, interval: null }), groups)).toBe(
      'Run 5 compared with run 3: more than chance.',
    );
  });

  it('give an amount with its sign and unit', () => {
    const share = measure({ key: 'within', unit: 'share', differsBy: 'amount' });
    const less = found({ difference: -0.034, interval: { lower: -0.07, upper: 0.002 }, finding: 'chance' });
    expect(plain(comparisonText(share, less, groups))).toBe(
      'Run 5 has 3.4 percentage points less (−0.20 to 7.0) than run 3: may well be chance.',
    );
    const same = found({ difference: 0, interval: null, finding: 'chance' });
    expect(comparisonText(share, same, groups)).toBe('Run 5 is like run 3.');
    // Nor is a number given that says nothing, unless it is more than chance.
    const hardly = found({ difference: 1.03, finding: 'chance', interval: { lower: 0.9, upper: 1.2 } });
    expect(comparisonText(measure({}), hardly, groups)).toBe('Run 5 is like run 3.');
    const sure = { ...hardly, finding: 'differs' as const };
    expect(comparisonText(measure({}), sure, groups)).toContain(
      'Run 5 has 1.03 times as many (0.90 to 1.2) as run 3: more than',
    );
  });

  it('explain why chance cannot be judged', () => {
    const unknown = found({
      basis: null,
      p: null,
      pAdjusted: null,
      interval: null,
      difference: 12,
      finding: 'unknown',
    });
    const coil = measure({ key: 'longestCoil', unit: 'm', differsBy: 'amount' });
    expect(plain(comparisonText(coil, unknown, groups))).toBe(
      'Run 5 has 12.0 m more than run 3: chance cannot be ruled out or shown, because each run gives only one value.',
    );
  });

  it('give every value its unit, and never round up to 100 %', () => {
    expect(plain(valueWithInterval('share', 0.99984, { lower: 0.99, upper: 1 }))).toBe('99.98 (99.0 to 100.0) %');
    expect(plain(valueWithInterval('mm', 1.7504, null))).toBe('1.750 mm');
    expect(valueWithInterval('kelvin', null, null)).toBe('not known');
  });
});

describe('the runs too short for an interval', () => {
  const interval = { lower: 0.01, upper: 0.02 };
  const run = (id: number, more: Partial<MeasureView['runs'][number]> = {}) => ({
    name: `run ${id}`,
    group: 0,
    value: 0.015,
    interval: null,
    ...more,
  });

  it('are named under the standard deviation', () => {
    expect(tooShortText(measure({ key: 'sd', runs: [run(3), run(5, { interval })] }))).toMatch(
      /^Run 3 is too short for an interval: /,
    );
    expect(tooShortText(measure({ key: 'sd', runs: [run(3), run(7)] }))).toMatch(/^Run 3 and run 7 are too short /);
  });

  it('are not named where all have one, nothing was measured, or the measure has none', () => {
    expect(tooShortText(measure({ key: 'sd', runs: [run(3, { interval }), run(5, { value: null })] }))).toBe('');
    expect(tooShortText(measure({ key: 'kept', runs: [run(3)] }))).toBe('');
  });
});

describe('groups of runs', () => {
  const run = (ref: string, preparation: string | null) => {
    const { lineId, runId } = partsOfRef(ref);
    const lot = preparation === null ? null : { name: 'Moss', preparation, values: {} };
    return { ref, lineId, startedMs: runId, lot };
  };

  it('hold runs with the same description; the earliest run is in the first group', () => {
    const runs = [
      run('4', 'dried 8 h'),
      run('1', 'dried 4 h'),
      run('2:3', 'Dried 4 h'),
      run('2', null),
      run('5', null),
    ];
    expect(groupedByText(runs)).toEqual([['1', '2:3'], ['2'], ['4'], ['5']]);
    expect(groupedByText([run('2', 'dried 4 h'), run('1', 'dried 4 h')])).toEqual([['1'], ['2']]);
    // Prepared alike on two lines, it is the lines that differ.
    const alike = ['1', '2:2', '3', '2:4'].map((ref) => run(ref, 'dried 4 h'));
    expect(groupedByText(alike)).toEqual([
      ['1', '3'],
      ['2:2', '2:4'],
    ]);
  });

  it('are in the path, and change by moving a run', () => {
    expect(pathOf([['1', '2:3'], ['2']])).toBe('/compare/1,2:3/2');
    expect(routeOf('/compare/1,2:3/2')).toEqual({ page: 'compare', groups: [['1', '2:3'], ['2']] });
    expect(routeOf('/side-by-side/1,3/2')).toEqual({ page: 'compare', groups: [['1', '3'], ['2']] });
    expect(routeOf('/compare')).toEqual({ page: 'compare', groups: [] });
    for (const path of ['1,/2', '1/:2', '1/2:', '1/2:3:4', '1/-2:3'])
      expect(routeOf(`/compare/${path}`).page).toBe('unknown');
    expect(regrouped([['1', '2:3'], ['2']], '2', 0)).toEqual([['1', '2:3', '2']]);
    expect(regrouped([['1', '2:3'], ['2']], '2:3', 2)).toEqual([['1'], ['2'], ['2:3']]);
  });
});
