import { describe, expect, it } from 'vitest';
import { nightsNeeded, strongestChange, trendsOf } from '../../server/nights/trend.ts';
import { normal, seeded } from '../chance.ts';
import { IS_LONG_CHECK } from '../long-check.ts';

/** Nights of five figures that each vary about a level of their own. */
function steadyYear(seed: number, nights: number) {
  const bell = normal(seeded(seed));
  return Array.from({ length: 5 }, () => ({ values: Array.from({ length: nights }, () => Math.exp(0.4 * bell())) }));
}

describe('a trend over nights', () => {
  it('has the statistic of the definition by Pettitt: the largest sum of signs between before and after', () => {
    const random = seeded(2);
    for (let round = 0; round < 50; round++) {
      const values = Array.from({ length: 14 }, () => Math.floor(random() * 8));
      const sums = values.map((_, t) => {
        const [before, after] = [values.slice(0, t), values.slice(t)];
        return Math.abs(before.reduce((sum, x) => sum + after.reduce((s, y) => s + Math.sign(x - y), 0), 0));
      });
      expect(2 * strongestChange(values).statistic).toBeCloseTo(Math.max(...sums), 9);
    }
  });

  it('gives the chance of a complete separation as counted by hand', () => {
    // Of the 12!/(6!·6!) = 924 orders of six low and six high nights, two separate them.
    const { p, after } = strongestChange([1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2]);
    expect(after).toBe(6);
    expect(p).toBeGreaterThan(0.8 * (2 / 924));
    expect(p).toBeLessThan(1.9 * (2 / 924));
    expect(nightsNeeded(1)).toBe(10);
    expect(nightsNeeded(5)).toBe(13);
  });

  it('shows a change where it was, and its levels', () => {
    const bell = normal(seeded(7));
    const exposure = Array.from({ length: 40 }, () => 1.2);
    const rates = exposure.map(
      (hundredM, i) => Math.round((i < 25 ? 12 : 4) * Math.exp(0.3 * bell()) * hundredM) / hundredM,
    );
    const [blobs, spread] = trendsOf([{ values: rates, exposure }, { values: rates.map(() => 0.01 + 0.001 * bell()) }]);
    expect(blobs!.p).toBeLessThan(0.01);
    expect(blobs!.periods.map(({ from, to }) => [from, to])).toEqual([
      [0, 24],
      [25, 39],
    ]);
    const [before, after] = blobs!.periods.map(({ level }) => level!);
    expect(before!.lower).toBeLessThan(12.5);
    expect(before!.upper).toBeGreaterThan(12);
    expect(after!.upper).toBeLessThan(6);
    expect(spread!.periods).toHaveLength(1);
    expect(spread!.periods[0]!.level!.value).toBeCloseTo(0.01, 3);
  });

  it('finds two changes, and none where all nights are equal', () => {
    const bell = normal(seeded(3));
    const values = Array.from({ length: 60 }, (_, i) => (i < 20 ? 1 : i < 40 ? 3 : 1.5) + 0.1 * bell());
    const [trend] = trendsOf([{ values }]);
    expect(trend!.periods.map(({ from }) => from)).toEqual([0, 20, 40]);
    const [equal] = trendsOf([{ values: values.map(() => 2) }]);
    expect(equal).toMatchObject({ p: 1, periods: [{ from: 0, to: 59 }] });
  });

  it('gives the mean of plain values with its t interval', () => {
    // By hand: mean 70, s = √(1000/4), t(0.975; 4) = 2.776 (Student's table).
    const [trend] = trendsOf([{ values: [50, 60, 70, 80, 90] }]);
    const { value, lower, upper } = trend!.periods[0]!.level!;
    const half = (2.776 * Math.sqrt(1000 / 4)) / Math.sqrt(5);
    expect(value).toBeCloseTo(70, 9);
    expect(lower).toBeCloseTo(70 - half, 1);
    expect(upper).toBeCloseTo(70 + half, 1);
  });

  it('has no level where nothing was counted, and shows nothing in few nights', () => {
    const none = Array.from({ length: 20 }, () => 0);
    expect(trendsOf([{ values: none, exposure: none.map(() => 1) }])[0]!.periods[0]!.level).toBeNull();
    expect(trendsOf([{ values: [1, 9] }, { values: [1, 2] }]).map(({ periods }) => periods.length)).toEqual([1, 1]);
    expect(trendsOf([{ values: [] }])[0]).toMatchObject({ p: 1 });
  });

  // Nominally 1 of 100 years; with 500 years, 11 or more would come by chance in 1.3 of 100 such tests (binomial tail).
  it(`shows a change in at most ${IS_LONG_CHECK ? 10 : 3} of ${IS_LONG_CHECK ? 500 : 25} steady years`, () => {
    const years = IS_LONG_CHECK ? 500 : 25;
    let shown = 0;
    for (let year = 1; year <= years; year++)
      if (trendsOf(steadyYear(year, 30)).some(({ periods }) => periods.length > 1)) shown++;
    expect(shown).toBeLessThanOrEqual(IS_LONG_CHECK ? 10 : 3);
  });
});
