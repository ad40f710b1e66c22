import { describe, expect, it } from 'vitest';
import type { SteadinessView } from '../../server/api/contract/judgement.ts';
import type { SpectrumView } from '../../server/api/contract/spool-analysis.ts';
import { pathThrough } from '../../web/chart/plain-plot.tsx';
import { logTicks, roundTicks, tickDigits, twoTicksAtLeast } from '../../web/chart/ticks.ts';
import { gramsWithError, metresWithError } from '../../web/format/numbers.ts';
import { boundsOf, periodText, shortestPeriodText, steadinessText } from '../../web/judgement/chart-text.ts';
import { fitnessWord, flowRows, flowSetting, hours, signedPercent } from '../../web/judgement/fitness-text.ts';

describe('the texts of the verdict', () => {
  it('give a flow error with its sign, and zero without one', () => {
    expect(signedPercent(0.058)).toBe('+5.8\u202f%');
    expect(signedPercent(-0.012)).toBe('−1.2\u202f%');
    expect(signedPercent(0.00004)).toBe('0.0\u202f%');
    expect(signedPercent(0)).toBe('0\u202f%');
  });

  it('give the flow as set on printers: a strand 1 % too thick prints 2 % too much, so 98 %', () => {
    expect(flowSetting(1 / 1.01 ** 2)).toBe('98.0\u202f%');
  });

  it('name windows in metres and show a dash where none was measured', () => {
    expect(
      flowRows([
        { windowMm: 100, most: { error: 0.18, fromMm: 88_000 }, least: null },
        { windowMm: 10_000, most: null, least: { error: -0.01, fromMm: 5 } },
      ]).map(({ window, most, least }) => [window, most, least]),
    ).toEqual([
      ['0.1\u00a0m', '+18\u202f%', '–'],
      ['10\u00a0m', '–', '−1.0\u202f%'],
    ]);
  });

  it('give lengths and masses with their uncertainty, and no digits beyond it', () => {
    expect(metresWithError(298_400, 6000)).toBe('298.4\u00a0±\u00a06.0\u00a0m');
    expect(metresWithError(5123, 12)).toBe('5.12\u00a0±\u00a00.01\u00a0m');
    expect(metresWithError(5123, 0)).toBe('5.12\u00a0m');
    expect(gramsWithError(883.2, 31)).toBe('883\u00a0±\u00a031\u00a0g');
    expect(gramsWithError(8.83, 0.31)).toBe('8.8\u00a0±\u00a00.3\u00a0g');
    expect(gramsWithError(1204, 42)).toBe('1.20\u00a0±\u00a00.04\u00a0kg');
  });

  it('give spans in hours and minutes', () => {
    expect([hours(1500), hours(7200), hours(5907)]).toEqual(['25\u00a0min', '2\u00a0h', '1\u00a0h 38\u00a0min']);
  });
});

describe('plain charts', () => {
  it('have round ticks that never leave the axis', () => {
    expect(roundTicks(0, 301.5, 6)).toEqual([0, 100, 200, 300]);
    expect(roundTicks(1.6, 1.9, 6).map((x) => x.toFixed(2))).toEqual([
      '1.60',
      '1.65',
      '1.70',
      '1.75',
      '1.80',
      '1.85',
      '1.90',
    ]);
    expect(roundTicks(5, 5, 4)).toEqual([]);
    // A range in which a step of 0.005 falls on 1.750 alone.
    const few = twoTicksAtLeast(1.7452, 1.7548, 3);
    expect(few.map((x) => x.toFixed(tickDigits(few)))).toEqual(['1.746', '1.748', '1.750', '1.752', '1.754']);
    expect((1.75).toFixed(tickDigits([1.75]))).toBe('1.75');
    expect(logTicks(20, 300_000)).toEqual([100, 1000, 10_000, 100_000]);
    expect(tickDigits([1.6, 1.65])).toBe(2);
    expect(tickDigits([0, 100])).toBe(0);
  });

  it('break a line where nothing was measured', () => {
    const at = { x: (v: number) => v, y: (v: number) => -v };
    expect(pathThrough([0, 1, 2, 3], [1, null, 2, 3], at)).toBe('M0.0 -1.0M2.0 -2.0L3.0 -3.0');
  });

  it('contain every value with a small margin, and never collapse', () => {
    expect(boundsOf([[1, null, 3], [2]])).toEqual([0.84, 3.16]);
    const [low, high] = boundsOf([[2, 2]]);
    expect(low).toBeLessThan(high);
    expect(boundsOf([[null]])).toEqual([0, 1]);
  });
});

describe('the texts of charts and spectrum', () => {
  it('say whether the strand was steady, and if not since where', () => {
    const chart = {
      finding: 'steady',
      change: null,
      atMm: [1000, 331_000],
      smallestStepMm: null,
    } as unknown as SteadinessView;
    const change = { atMm: 143_200, uncertaintyMm: 12_400, beforeMm: 1.75, afterMm: 1.762 };
    expect(steadinessText(chart)).toBe('Steady: over 330\u00a0m the mean diameter varied no more than by chance.');
    expect(steadinessText({ ...chart, finding: 'step', change })).toBe(
      'Not steady: from 143 (±\u00a012)\u00a0m on, the strand is 0.012\u00a0mm thicker, 1.762 instead of 1.750\u00a0mm on average.',
    );
    expect(
      steadinessText({ ...chart, finding: 'step', change: { ...change, uncertaintyMm: 940, afterMm: 1.73 } }),
    ).toContain('from 143.2 (±\u00a00.9)\u00a0m on, the strand is 0.020\u00a0mm thinner');
    expect(steadinessText({ ...chart, finding: 'creep', change })).toBe(
      'Not steady: the strand gets 0.012\u00a0mm thicker along the spool, from 1.750 at the inner end to 1.762\u00a0mm.',
    );
    expect(steadinessText({ ...chart, finding: 'unknown' })).toMatch(/^Not known: the diameter wanders.*changed\.$/);
  });

  it('say how large a step would have to be to show', () => {
    const chart = { change: null, atMm: [0, 330_000], smallestStepMm: 0.0124 } as unknown as SteadinessView;
    expect(steadinessText({ ...chart, finding: 'steady' })).toMatch(
      / by chance\. A step of less than about 0\.012\u00a0mm may have gone unnoticed\.$/,
    );
    expect(steadinessText({ ...chart, finding: 'unknown' })).toMatch(
      / Only a step of more than about 0\.012\u00a0mm would stand out\.$/,
    );
  });

  it('name the shortest wave that can be known, and the parts that turn faster', () => {
    const causes = [
      { name: 'screw', period: 90, unit: 'mm' },
      { name: 'puller gear', period: 3.9, unit: 'mm' },
      { name: 'diameter control', period: null, unit: 'mm' },
    ];
    const spectrum = { shortestPeriod: 12.6, candidateCauses: causes, unit: 'mm' } as unknown as SpectrumView;
    expect(shortestPeriodText(spectrum)).toBe(
      'Waves shorter than 13\u00a0mm do not show in these readings. That leaves out one turn or cycle of: puller gear.',
    );
    expect(shortestPeriodText({ ...spectrum, candidateCauses: [] })).toMatch(/readings\.$/);
    expect(shortestPeriodText({ ...spectrum, shortestPeriod: null })).toBe('');
  });

  it('give periods in a handy unit', () => {
    expect(periodText(157.08, 'mm', 3)).toBe('157\u00a0mm');
    expect(periodText(1570.8, 'mm', 3)).toBe('1.57\u00a0m');
    expect(periodText(0.25, 's')).toBe('250\u00a0ms');
    expect(periodText(240, 's')).toBe('4\u00a0min');
  });
});

it('calls no spool unfit while it is being wound: a piece may still become long enough', () => {
  expect(fitnessWord('notFit', null)).toEqual({ text: 'Too early to say', shape: 'notice' });
  expect(fitnessWord('notFit', 5)).toEqual({ text: 'Not fit to print', shape: 'danger' });
  expect(fitnessWord('fitAfterCutting', null)).toEqual({ text: 'Fit after cutting', shape: 'abnormal' });
});
