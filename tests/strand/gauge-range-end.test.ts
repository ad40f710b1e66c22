import { describe, expect, it } from 'vitest';
import { GaugeRangeEnd } from '../../server/strand/gauge-range-end.ts';

/** From 1.730 to 1.744 mm and back in steps of so many µm; no reading equals the one before. */
const wave = (count: number, stepUm = 1) =>
  Array.from({ length: count }, (_, i) => 1744 - stepUm * (14 - Math.abs((i % 28) - 14)));
/** The same, with every so many readings sent twice. */
const repeating = (count: number, every: number) => wave(count).flatMap((um, i) => (i % every === 1 ? [um, um] : [um]));
const times = (count: number, um: number) => Array.from({ length: count }, () => um);

function seen(sentUm: readonly number[], usualUm: readonly number[] = wave(300)): GaugeRangeEnd {
  const range = new GaugeRangeEnd();
  for (const [i, um] of [...usualUm, ...sentUm].entries()) range.step(20 * i, 0.7 * i, um / 1000);
  return range;
}

describe('a reading at the end of the gauge’s range', () => {
  const isAtEnd = (sentUm: readonly number[], usualUm?: readonly number[]) => seen(sentUm, usualUm).isAtEnd;

  it('is the highest of all, four times in a row', () => {
    expect([isAtEnd(times(3, 1756)), isAtEnd(times(4, 1756)), isAtEnd(times(5, 1756))]).toEqual([false, true, true]);
    expect(isAtEnd([...times(4, 1756), 1740])).toBe(false);
    expect(isAtEnd([...times(3, 1756), 1740, 1756])).toBe(false);
    expect(isAtEnd([1756, ...times(9, 1740)])).toBe(false);
  });

  it('takes more of them where a gauge repeats itself, and cannot be told where it does so half of the time', () => {
    // One reading in 21 repeats the one before: (1/21)³ is 1 in 9,000, (1/21)⁴ 1 in 190,000.
    const sometimes = repeating(300, 20);
    expect([isAtEnd(times(4, 1756), sometimes), isAtEnd(times(5, 1756), sometimes)]).toEqual([false, true]);
    expect(isAtEnd(times(60, 1756), repeating(300, 3))).toBe(true);
    expect(
      isAtEnd(
        times(60, 1756),
        wave(300).flatMap((um) => [um, um]),
      ),
    ).toBe(false);
  });

  it('is not known before two hundred readings', () => {
    // The first of them is the highest, and so are those 28 further on.
    const below = (count: number) => [1744, ...wave(count).map((um) => um - 2)];
    expect([isAtEnd(times(4, 1756), below(199)), isAtEnd(times(4, 1756), below(200))]).toEqual([false, true]);
  });
});

describe('the end of a gauge’s range', () => {
  /** Each of these in a place of its own. */
  const apart = (sentUm: readonly number[]) => sentUm.flatMap((um) => [um, 1740]);
  const endMm = (sentUm: readonly number[], usualUm?: readonly number[]) => seen(sentUm, usualUm).endMm;

  // exp(−n·D(share ‖ 1/3)) < 3·10⁻⁵ (Chernoff), with scipy.stats.binom.sf below it: 1.7·10⁻⁵, 6·10⁻⁶, 4·10⁻⁶, 7·10⁻⁶.
  it.each([
    [0, 10],
    [1, 13],
    [2, 15],
    [3, 16],
  ])('shows with %i readings just below it after %i at it', (near, atIt) => {
    const sent = (count: number) => apart([1756, ...times(near, 1754), ...times(count - 1, 1756)]);
    expect([endMm(sent(atIt - 1)), endMm(sent(atIt))]).toEqual([Number.NaN, 1.756]);
  });

  it('does not show where a quarter of the highest readings or more is just below it', () => {
    const sent = (count: number) => apart([1756, ...times(40, 1755), ...times(count - 1, 1756)]);
    expect([endMm(sent(120)), endMm(sent(121))]).toEqual([Number.NaN, 1.756]);
  });

  it('counts as just below what is within two steps of the gauge’s resolution', () => {
    const with13 = (um: number, usualUm?: readonly number[]) => endMm(apart([um, ...times(10, 1756)]), usualUm);
    expect([with13(1753), with13(1755)]).toEqual([1.756, Number.NaN]);
    // Of 4 µm, which a few smaller changes do not make finer.
    const coarse = [...wave(300, 4), 1700, 1701, 1705, 1706, 1710];
    expect([with13(1747, coarse), with13(1748, coarse)]).toEqual([1.756, Number.NaN]);
    const finer = [...coarse, 1711, 1720, 1721, 1730, 1731];
    expect(with13(1748, finer)).toBe(1.756);
    // Larger changes say nothing about it.
    const wild = [...wave(300), ...times(10, 1730).flatMap((um) => [um, um + 7])];
    expect(with13(1747, wild)).toBe(1.756);
  });

  it('is at most 0.1 mm above what is just below it, however coarse the gauge is', () => {
    const coarse = wave(300, 80);
    const nearest = (um: number) => endMm([um, 1700, ...times(10, 1956).flatMap((high) => [high, 1700])], coarse);
    expect([nearest(1855), nearest(1857)]).toEqual([1.956, Number.NaN]);
  });

  it('counts what was the highest before as just below, if it is', () => {
    const behind = (um: number, count: number) => endMm(apart([...times(2, um), ...times(count, 1756)]));
    expect([behind(1755, 14), behind(1755, 15)]).toEqual([Number.NaN, 1.756]);
    expect(behind(1750, 10)).toBe(1.756);
    // What was just below the highest before is further below now.
    expect(endMm(apart([1748, 1750, ...times(10, 1756)]))).toBe(1.756);
  });

  it('shows in several places only: a gauge that stood still was in one', () => {
    expect(endMm(times(40, 1756))).toBeNaN();
    expect(endMm([...times(9, 1756), 1740, 1756])).toBe(1.756);
  });

  it('makes each reading there one at the end, until there is a higher one', () => {
    const found = seen([...apart(times(10, 1756)), 1756]);
    expect(found.isAtEnd).toBe(true);
    found.step(20_000, 700, 1.74);
    expect(found.isAtEnd).toBe(false);
    found.step(20_020, 700.7, 1.757);
    expect([found.endMm, found.isAtEnd]).toEqual([Number.NaN, false]);
    expect([found.sinceMm, found.sinceTimeMs]).toEqual([700.7, 20_020]);
  });

  it('is from where it was first reached', () => {
    const { sinceMm, sinceTimeMs } = seen(apart(times(10, 1756)));
    expect([sinceMm, sinceTimeMs]).toEqual([0.7 * 300, 20 * 300]);
  });
});
