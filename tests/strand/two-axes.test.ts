import { describe, expect, it } from 'vitest';
import { TwoAxes } from '../../server/strand/two-axes.ts';
import { normal, seeded } from '../chance.ts';
import { USUAL_LIMITS } from './usual-limits.ts';

const gauss = normal(seeded(4));
const lively = (mm: number) => Math.round(1000 * (mm + 0.01 * gauss())) / 1000;

const NO_AXES = [Number.NaN, Number.NaN] as const;

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
    expect(readFor(9.9, () => [1.75, lively(1.76)]).dead).toBeNull();
    expect(readFor(10, () => [1.75, lively(1.76)]).dead).toBe('dx');
    expect(readFor(10, () => [lively(1.76), 1.75]).dead).toBe('dy');
    const freezes = (s: number) => [s < 20 ? lively(1.76) : 1.75, lively(1.76)] as const;
    expect([29.9, 30].map((s) => readFor(s, freezes).dead)).toEqual([null, 'dx']);
    // Readings between them that have no axes say nothing.
    const sparse = (s: number) => (Math.round(10 * s) % 2 === 0 ? ([1.75, lively(1.76)] as const) : NO_AXES);
    expect(readFor(12, sparse, 1.75).dead).toBe('dx');
    expect(readFor(30, (s) => [s < 20 ? 1.75 : lively(1.75), lively(1.76)]).dead).toBeNull();
  });

  it('needs twenty changes of the other one for that', () => {
    const slowly = (s: number) =>
      s < 20 ? ([lively(1.76), lively(1.76)] as const) : ([1.75, 1.7 + 0.001 * Math.floor(s)] as const);
    // One of them with the reading from which the first repeats itself.
    expect([38.9, 39].map((s) => readFor(s, slowly).dead)).toEqual([null, 'dx']);
  });

  it('sees strand from the diameter on that is set for it', () => {
    const both = new TwoAxes(USUAL_LIMITS);
    const deadAt = (yMm: number) => {
      both.step(0, 1.75, 1.75, yMm);
      return both.dead;
    };
    expect([deadAt(0.5), deadAt(0.499)]).toEqual([null, 'dy']);
    both.setLimits({ ...USUAL_LIMITS, strandPresentMm: 0.4 });
    expect([deadAt(0.4), deadAt(0.399)]).toEqual([null, 'dy']);
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
