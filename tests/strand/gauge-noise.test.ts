import { describe, expect, it } from 'vitest';
import { GaugeNoise } from '../../server/strand/gauge-noise.ts';
import { normal, seeded } from '../chance.ts';

const PITCH_MM = 0.7;

/** Noise of one standard deviation; each reading is the mean of so many of the last. */
function smoothed(count: number, over: number, seed = 1): readonly number[] {
  const gauss = normal(seeded(seed));
  const white = Array.from({ length: count + over }, gauss);
  return Array.from({ length: count }, (_, i) => {
    return white.slice(i, i + over).reduce((sum, z) => sum + z, 0) / Math.sqrt(over);
  });
}

function seen(readingsMm: readonly number[], noise = new GaugeNoise()): GaugeNoise {
  for (const mm of readingsMm) noise.step(mm);
  return noise;
}

describe('the standard deviation of a gauge', () => {
  const white = seen(smoothed(40_000, 1).map((z) => 1.75 + 0.02 * z));

  it('of white noise falls with the root of the number of readings', () => {
    const [one, four, sixteen] = [0, 1, 2].map((level) => white.sigmaMm(level, PITCH_MM) / 0.02);
    for (const [share, expected] of [
      [one, 1],
      [four, 1 / 2],
      [sixteen, 1 / 4],
    ] as const) {
      expect(share! / expected).toBeGreaterThan(0.94);
      expect(share! / expected).toBeLessThan(1.07);
    }
  });

  it('cancels the level and the slope of the strand, and hardly sees a bend', () => {
    const strand = (mm: (i: number) => number) => {
      return seen(Array.from({ length: 60_000 }, (_, i) => mm(i))).sigmaMm(0, 3.9);
    };
    expect(strand((i) => 1.5 + 1e-5 * i)).toBeLessThan(1e-5);
    expect(strand((i) => 1.75 + 0.05 * Math.sin(i / 400))).toBeLessThan(1e-5);
  });

  it('is the largest that readings and means further apart show, as far as they are 36 mm of strand', () => {
    const slow = seen(smoothed(40_000, 16, 2).map((z) => 1.75 + 0.02 * z));
    const at = (pitchMm: number) => slow.sigmaMm(0, pitchMm) / 0.02;
    // Nine readings, 20 and 48 are compared at the three levels.
    const [all, single, apart] = [at(36 / 48), at(36 / 20), at(36 / 9)];
    expect([at(0.5), at(1), at(1.8), at(3)]).toEqual([all, single, single, apart]);
    expect([all, single, apart].every((sigma, i, sigmas) => i === 0 || sigma < sigmas[i - 1]!)).toBe(true);
    // Every fourth reading: σ² (6 − 8 · 3/4 + 2 · 1/2)/6; neighbours: σ² (6 − 8 · 15/16 + 2 · 14/16)/6.
    expect(apart / Math.sqrt(1 / 6)).toBeCloseTo(1, 1);
    expect(at(4.01) / Math.sqrt(1 / 24)).toBeCloseTo(1, 1);
    expect(at(Number.NaN)).toBe(all);
    // After so many readings all of it is sure.
    for (const pitchMm of [0.5, 1, 3, 5]) expect(slow.cautiousSigmaMm(pitchMm)).toBe(slow.sigmaMm(0, pitchMm));
  });

  it('of a mean over a length of strand is that of the longest means known, over the root of their number', () => {
    const over = (spanMm: number, pitchMm: number) => white.sigmaOfMeanMm(spanMm, pitchMm);
    expect(over(0, 0.5)).toBe(white.sigmaMm(0, 0.5));
    expect(over(1, 0.5)).toBe(white.sigmaMm(0, 0.5) / Math.sqrt(3));
    expect(over(1.5, 0.5)).toBe(white.sigmaMm(1, 0.5));
    expect(over(20, 0.5)).toBe(white.sigmaMm(2, 0.5) * Math.sqrt(16 / 41));
    // 48 readings, and 20, are too much strand.
    expect(over(20, 1)).toBe(white.sigmaMm(1, 1) * Math.sqrt(4 / 21));
    expect(over(20, 2)).toBe(white.sigmaMm(0, 2) / Math.sqrt(11));
    expect(over(20, 5)).toBe(white.sigmaMm(0, 5) / Math.sqrt(5));
    expect(over(20, Number.NaN)).toBe(white.sigmaMm(0, Number.NaN));
    expect(over(20, 0)).toBe(white.sigmaMm(0, 0));
  });

  it('is assumed to be 5 µm at first, worth eight readings', () => {
    const none = new GaugeNoise();
    expect([0, 1, 2].map((level) => none.sigmaMm(level, PITCH_MM))).toEqual([
      0.005,
      expect.closeTo(0.0025, 12),
      expect.closeTo(0.00125, 12),
    ]);
    // Three readings make one second difference, here of (0.01 mm)².
    expect(seen([1.75, 1.76, 1.75 + 0.03], none).sigmaMm(0, 9)).toBeCloseTo(
      Math.sqrt(0.005 ** 2 + (0.01 ** 2 / 6 / 0.995 - 0.005 ** 2) / 9),
      9,
    );
  });

  it('is hardly raised by blobs and wrong readings', () => {
    const garbage = smoothed(20_000, 1, 3).map((z, i) => 1.75 + 0.01 * z + (i % 300 === 0 ? 3 : 0));
    expect(seen(garbage).sigmaMm(0, 5) / 0.01).toBeLessThan(1.06);
  });

  it('follows a change within about a thousand readings', () => {
    const noise = seen(smoothed(5000, 1, 4).map((z) => 1.75 + 0.02 * z));
    seen(
      smoothed(1000, 1, 5).map((z) => 1.75 + 0.005 * z),
      noise,
    );
    const { sigmaMm } = { sigmaMm: noise.sigmaMm(0, 5) };
    // Squares fall to 1/e.
    expect(sigmaMm / Math.sqrt(0.005 ** 2 + (0.02 ** 2 - 0.005 ** 2) / Math.E)).toBeCloseTo(1, 1);
  });
});

describe('what the standard deviation surely exceeds', () => {
  it('is less in few readings, and the estimate itself in many', () => {
    const z = smoothed(400, 1, 6).map((one) => 1.75 + 0.02 * one);
    const noise = seen(z.slice(0, 30));
    expect(noise.cautiousSigmaMm(5)).toBeLessThan(noise.sigmaMm(0, 5) * Math.sqrt(1 - 4 / Math.sqrt(36)) + 1e-12);
    expect(noise.cautiousSigmaMm(5)).toBeGreaterThan(0.3 * noise.sigmaMm(0, 5));
    seen(z.slice(30), noise);
    expect(noise.cautiousSigmaMm(5)).toBe(noise.sigmaMm(0, 5));
  });

  it.each([0.01, 0.02, 0.04])(
    'is below the true one of %f mm, but once in twenty times, after few readings',
    (sigmaMm) => {
      let above = 0;
      for (let seed = 1; seed <= 200; seed++)
        if (seen(smoothed(12 + (seed % 40), 1, seed).map((z) => 1.75 + sigmaMm * z)).cautiousSigmaMm(5) > sigmaMm)
          above++;
      expect(above).toBeLessThanOrEqual(10);
    },
  );
});

describe('noise that has grown', () => {
  const quiet = smoothed(2000, 1, 7).map((z) => 1.75 + 0.005 * z);
  const sigmaAfter = (more: readonly number[], before: readonly number[] = quiet) =>
    seen(more, seen(before)).sigmaMm(0, 5);
  /** Each reading but the first and the last bends by twice this. */
  const zigzag = (mm: number, readings: number) =>
    Array.from({ length: readings }, (_, i) => 1.75 + mm * ((i + 1) % 2));

  it('is taken from the last sixteen readings once half of them bend by four times the usual', () => {
    const grown = smoothed(16, 1, 8).map((z) => 1.75 + 0.1 * z);
    expect(sigmaAfter(grown)).toBeGreaterThan(0.06);
    expect(sigmaAfter(grown)).toBeLessThan(0.15);
    expect(sigmaAfter(grown.slice(0, 4))).toBeLessThan(0.006);
    expect(sigmaAfter(grown.slice(0, 12))).toBeGreaterThan(0.05);
    // By twice as much is followed slowly.
    expect(sigmaAfter(smoothed(16, 1, 9).map((z) => 1.75 + 0.01 * z))).toBeLessThan(0.006);
  });

  it('must swing back and forth as noise does, unlike a blob, and be known before', () => {
    const wave = Array.from({ length: 32 }, (_, i) => 1.75 + 0.2 * Math.sin(i / 1.5));
    expect(sigmaAfter(wave)).toBeLessThan(0.015);
    expect(sigmaAfter(zigzag(0.1, 16))).toBeGreaterThan(0.04);
    expect(sigmaAfter(zigzag(0.1, 16), quiet.slice(0, 32))).toBeLessThan(0.03);
  });

  it('follows from the median of its bends, for readings and means alike', () => {
    // Half of all normal values are within 0.6745 standard deviations; a bend has √6 of a reading.
    const sigmaMm = 0.2 / Math.sqrt(6) / 0.6745;
    // Eight readings of which the first is like those before bend too little, twelve do.
    const grown = (mm: number) => seen([1.75, ...zigzag(mm, 11)], seen(quiet));
    const noise = grown(0.1);
    expect(noise.sigmaMm(0, 5)).toBeCloseTo(sigmaMm, 9);
    expect(noise.sigmaMm(2, 0.5)).toBeCloseTo(sigmaMm / 4, 9);
    // Bends of 2.7 times the usual standard deviation are four times that of the median.
    expect(grown(0.014).sigmaMm(0, 5)).toBeLessThan(0.01);
    expect(grown(0.02).sigmaMm(0, 5)).toBeCloseTo(sigmaMm / 5, 9);
  });

  it('needs half of the last sixteen readings, none of them from before an interruption', () => {
    expect(sigmaAfter(zigzag(0.1, 8))).toBeGreaterThan(0.05);
    expect(sigmaAfter([1.75, ...zigzag(0.1, 7)])).toBeLessThan(0.01);
    const noise = seen(zigzag(0.1, 4), seen(quiet));
    noise.interrupt();
    expect(seen(zigzag(0.1, 8), noise).sigmaMm(0, 5)).toBeLessThan(0.01);
    expect(seen(zigzag(0.1, 8), noise).sigmaMm(0, 5)).toBeGreaterThan(0.05);
  });
});

describe('the rounding of a gauge', () => {
  it('is that of 1 µm until the reading has changed thirty times, then that of its smallest change', () => {
    const steps = (count: number) => Array.from({ length: count }, (_, i) => (i % 2 === 0 ? 1.75 : 1.76));
    // A rectangular distribution (JCGM 100:2008, 4.3.7).
    expect(seen(steps(30)).roundingMm).toBeCloseTo(0.001 / Math.sqrt(12), 12);
    expect(seen(steps(31)).roundingMm).toBeCloseTo(0.01 / Math.sqrt(12), 12);
    expect(seen([...steps(31), 1.75, 1.75, 1.755, 1.77]).roundingMm).toBeCloseTo(0.005 / Math.sqrt(12), 12);
  });

  it('is not learnt from a change over an interruption', () => {
    const noise = seen(Array.from({ length: 40 }, (_, i) => (i % 2 === 0 ? 1.75 : 1.76)));
    noise.interrupt();
    noise.step(1.7605);
    expect(noise.roundingMm).toBeCloseTo(0.01 / Math.sqrt(12), 12);
  });
});
