import { describe, expect, it } from 'vitest';
import { GaugeDoubt } from '../../server/strand/gauge-doubt.ts';
import { GaugeNoise } from '../../server/strand/gauge-noise.ts';
import { RunSections } from '../../server/strand/working-section.ts';
import { normal, seeded } from '../chance.ts';
import { USUAL_LIMITS } from './usual-limits.ts';

interface Reading {
  readonly mm?: number;
  readonly outOfRoundMm?: number;
  readonly blindSinceMm?: number;
}

/** A gauge with a reading each 20 ms. */
class Watched {
  readonly sections = new RunSections(1);
  readonly doubt: GaugeDoubt;
  /** The readings with which the shift changed. */
  readonly changedAt: number[] = [];
  readonly #noise = new GaugeNoise();
  readonly #pitchMm: number;
  #next = 0;
  gaugeMm: number;

  constructor(pitchMm: number, limits = USUAL_LIMITS) {
    this.#pitchMm = pitchMm;
    this.gaugeMm = -pitchMm;
    this.doubt = new GaugeDoubt(this.sections, this.#noise, limits);
  }

  read(count: number, at: (i: number) => Reading): this {
    for (let k = 0; k < count; k++) {
      const i = this.#next++;
      const { mm = 1.75, outOfRoundMm = Number.NaN, blindSinceMm = Number.NaN } = at(i);
      this.gaugeMm += this.#pitchMm;
      const since = { blindSinceMm, blindSinceTimeMs: 20 * (blindSinceMm / this.#pitchMm) };
      this.#noise.step(mm);
      if (this.doubt.step(20 * i, this.gaugeMm, mm, outOfRoundMm, this.#pitchMm, since)) this.changedAt.push(i);
    }
    return this;
  }
}

describe('the difference between two axes', () => {
  const apart = (mm: number) => () => ({ outOfRoundMm: mm });

  it('is its mean over about half a metre, once that is twice the tolerance, and followed in steps of a tenth', () => {
    const gauge = new Watched(1).read(300, apart(0.2));
    // Each millimetre takes in 2/500 of what is missing.
    const mean = (readings: number) => 0.2 * (1 - (1 - 2 / 500) ** readings);
    const expected: number[] = [];
    for (let i = 0, inUse = 0.1 / 1.1; i < 300; i++)
      if (mean(i) > 1.1 * inUse) {
        expected.push(i);
        inUse = mean(i);
      }
    expect(expected[0]).toBe(Math.ceil(Math.log(0.5) / Math.log(1 - 2 / 500)));
    expect(gauge.changedAt).toEqual(expected);
    expect(gauge.doubt).toMatchObject({
      shiftMm: expect.closeTo(mean(expected.at(-1)!), 9),
      meanShiftMm: expect.closeTo(mean(expected.at(-1)!) / 2, 9),
      shiftDoubt: 'axesDisagree',
      shiftSinceMm: Number.POSITIVE_INFINITY,
    });
    // A reading of one axis says nothing about it.
    const before = gauge.doubt.shiftMm;
    expect(gauge.read(5, () => ({})).read(1, apart(0.2)).doubt.shiftMm).toBe(before);
    gauge.read(1000, apart(0));
    expect(gauge.doubt).toMatchObject({ shiftMm: 0, meanShiftMm: 0 });
  });

  it('is not taken from a single reading after an interruption, and forgotten when the line stops', () => {
    const far = (isInterrupted: boolean) => {
      const gauge = new Watched(1).read(10, apart(0));
      if (isInterrupted) gauge.doubt.interrupt();
      gauge.gaugeMm += 10_000;
      return gauge.read(1, apart(0.2));
    };
    expect(far(false).doubt.shiftMm).toBeCloseTo(0.2, 9);
    expect(far(true).doubt.shiftMm).toBe(0);
    const gauge = new Watched(1).read(300, apart(0.2));
    gauge.doubt.close(6000, 300);
    expect(gauge.doubt.shiftMm).toBe(0);
    expect(gauge.read(100, apart(0.2)).doubt.shiftMm).toBe(0);
  });

  it.each([
    [0.04, 0.06, 0.06, 'gaugeShifted'],
    [0.11, 0.11, 0.06, 'axesDisagree'],
    [0.2, 0.2, 0.1, 'axesDisagree'],
  ])('of %f mm beside a shift of 0.06 mm: the larger counts', (outOfRoundMm, shiftMm, meanShiftMm, shiftDoubt) => {
    const gauss = normal(seeded(3));
    const gauge = new Watched(0.75).read(4000, (i) => ({
      mm: 1.75 + 0.001 * gauss() + (i < 300 ? 0 : 0.06),
      outOfRoundMm,
    }));
    const { doubt } = gauge;
    // It is followed in steps of a tenth.
    expect(Math.abs(doubt.shiftMm / shiftMm - 1)).toBeLessThan(0.1);
    expect(Math.abs(doubt.meanShiftMm / meanShiftMm - 1)).toBeLessThan(0.1);
    expect(doubt.shiftDoubt).toBe(shiftDoubt);
    expect(doubt.shiftSinceMm).toBe(shiftDoubt === 'gaugeShifted' ? 299 * 0.75 : Number.POSITIVE_INFINITY);
    expect(gauge.sections.open()).toMatchObject([{ doubt: 'gaugeShifted', fromMm: 299 * 0.75, toMm: 3999 * 0.75 }]);
    gauge.doubt.close(80_000, 3000);
    expect(gauge.read(100, () => ({ mm: 1.81 })).sections.open()).toEqual([]);
  });
});

describe('strand that passed a gauge in doubt', () => {
  it('starts where the gauge became blind, or where sections were last closed, and ends soon after it sees again', () => {
    const blind = (fromMm: number) => () => ({ blindSinceMm: fromMm });
    const gauge = new Watched(1).read(500, blind(100));
    expect(gauge.sections.open()).toMatchObject([{ doubt: 'gaugeBlind', fromMm: 100, fromTimeMs: 2000, toMm: 499 }]);
    expect(gauge.doubt.coversStrand).toBe(true);
    gauge.doubt.close(10_000, 500);
    expect([gauge.sections.open(), gauge.doubt.coversStrand]).toEqual([[], false]);
    gauge.read(100, blind(100));
    expect(gauge.sections.open()).toMatchObject([{ fromMm: 500, fromTimeMs: 10_000, toMm: 599 }]);
    gauge.read(100, () => ({}));
    expect([gauge.sections.open(), gauge.doubt.coversStrand]).toEqual([[], false]);
    expect(gauge.sections.takeChanged().at(-1)).toMatchObject({ fromMm: 500, toMm: 599, open: false });
  });

  // Readings that alternate by ±a bend by 4 a, of which noise of σ has √6 σ; the mean of squares is taken for 0.995 σ² (`GaugeNoise`).
  const zigzag = (sigmaMm: number) => (i: number) => ({
    mm: 1.75 + ((Math.sqrt(6 * 0.995) * sigmaMm) / 4) * (i % 2 === 0 ? 1 : -1),
  });
  const PITCH_MM = 5;
  const isNoisyAt = (sigmaMm: number, limits = USUAL_LIMITS) =>
    new Watched(PITCH_MM, limits).read(6000, zigzag(sigmaMm)).doubt.isNoisy;

  it('is noisy from σ = 0.18 mm/4.5 on, for blobs 0.03 mm beyond the limit', () => {
    expect([0.0395, 0.0405].map((sigmaMm) => isNoisyAt(sigmaMm))).toEqual([false, true]);
    // A hotend that is no wider than the strand.
    const narrow = { ...USUAL_LIMITS, hotendLimitMm: 1.7 };
    expect([0.0066, 0.0068].map((sigmaMm) => isNoisyAt(sigmaMm, narrow))).toEqual([false, true]);
  });

  it('is quiet again below 0.8 of that', () => {
    const after = (sigmaMm: number) => {
      const gauge = new Watched(PITCH_MM).read(3000, zigzag(0.045)).read(12_000, zigzag(sigmaMm));
      return gauge.doubt.isNoisy;
    };
    expect([0.0325, 0.0315].map(after)).toEqual([true, false]);
    const wider = new Watched(PITCH_MM).read(6000, zigzag(0.045));
    wider.doubt.setLimits({ ...USUAL_LIMITS, hotendLimitMm: 2.1 });
    expect(wider.read(8, zigzag(0.045)).doubt.isNoisy).toBe(false);
  });

  it('is noisy from one or two times sixteen readings before that is known', () => {
    // Half of the last sixteen readings show that the noise has grown.
    const gauge = new Watched(PITCH_MM).read(208, zigzag(0.001)).read(9, zigzag(0.2));
    expect(gauge.sections.open()).toMatchObject([
      { doubt: 'gaugeNoisy', fromMm: 192 * PITCH_MM, fromTimeMs: 192 * 20, toMm: 216 * PITCH_MM },
    ]);
  });
});
