import { describe, expect, it } from 'vitest';
import { TwoAxes } from '../../server/strand/two-axes.ts';
import { normal, seeded } from '../chance.ts';
import { USUAL_LIMITS } from './usual-limits.ts';

const gauss = normal(seeded(4));
const lively = (mm: number) => Math.round(1000 * (mm + 0.01 * gauss())) / 1000;

/** Ten readings a second for so long; the axes at the end. */
function readFor(seconds: number, axes: (s: number) => readonly [number, number], sent = Number.NaN): TwoAxes {
  const both = new TwoAxes(USUAL_LIMITS);
  for (let i = 0; i <= 10 * seconds; i++) {
    const [x, y] = axes(i / 10);
    both.step(100 * i, Number.isNaN(sent) ? (x + y) / 2 : sent, x, y);
  }
  return both;
}

describe('a gauge of two axes', () => {
  it('gives the mean and the difference while both are alive', () => {
    const both = new TwoAxes(USUAL_LIMITS);
    both.step(0, 1.75, 1.8, 1.7);
    expect([both.diameterMm, both.dead]).toEqual([1.75, null]);
    expect(both.outOfRoundMm).toBeCloseTo(0.1, 12);
  });

  it.each([
    ['no value', Number.NaN],
    ['nothing in the gauge', 0],
    ['a value that no strand has', 1760],
  ])('goes on with the other where one sends %s', (_, value) => {
    const x = readFor(1, () => [value, 1.76]);
    expect([x.diameterMm, x.outOfRoundMm, x.dead]).toEqual([1.76, Number.NaN, 'dx']);
    const y = readFor(1, () => [1.74, value], 1.6);
    expect([y.diameterMm, y.outOfRoundMm, y.dead]).toEqual([1.74, Number.NaN, 'dy']);
  });

  it('goes on with the other where one repeats itself for ten seconds, until it changes again', () => {
    expect(readFor(9, () => [1.75, lively(1.76)]).dead).toBeNull();
    expect(readFor(11, () => [1.75, lively(1.76)]).dead).toBe('dx');
    expect(readFor(11, () => [lively(1.76), 1.75]).dead).toBe('dy');
    expect(readFor(30, (s) => [s < 20 ? 1.75 : lively(1.75), lively(1.76)]).dead).toBeNull();
  });

  it('believes both while the strand stands still, or is gone', () => {
    expect(readFor(60, () => [1.75, 1.76]).dead).toBeNull();
    const gone = readFor(60, () => [0.02, 0.01]);
    expect([gone.diameterMm, gone.dead]).toEqual([0.015, null]);
  });

  it('takes the diameter as sent where no axis is sent', () => {
    const one = readFor(1, () => [Number.NaN, Number.NaN], 1.77);
    expect([one.diameterMm, one.outOfRoundMm, one.dead]).toEqual([1.77, Number.NaN, null]);
  });
});
