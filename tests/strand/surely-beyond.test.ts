import { describe, expect, it } from 'vitest';
import { GaugeNoise } from '../../server/strand/gauge-noise.ts';
import { SurelyBeyond } from '../../server/strand/surely-beyond.ts';
import { normal, seeded } from '../chance.ts';

const PITCH_MM = 0.7;
const micrometres = (mm: number) => Math.round(mm * 1000) / 1000;

/** The noise of a gauge after so many readings of strand in a slow wave, with a blob each 3 m and some garbage. */
function noiseAfter(readings: number, sigmaMm: number, smoothing = 1, seed = 1): GaugeNoise {
  const random = seeded(seed);
  const gauss = normal(random);
  const noise = new GaugeNoise();
  const recent = Array.from({ length: smoothing }, gauss);
  for (let i = 0; i < readings; i++) {
    recent[i % smoothing] = gauss();
    const scatter = (sigmaMm * recent.reduce((sum, z) => sum + z, 0)) / Math.sqrt(smoothing);
    const blob = i % 4286 < 15 ? 0.4 : 0;
    const garbage = random() < 0.001 ? 2 * random() : 0;
    noise.step(micrometres(1.75 + 0.02 * Math.sin(i / 200) + blob + garbage + scatter));
  }
  return noise;
}

describe('the noise of a gauge', () => {
  it.each([0.003, 0.01, 0.06])('is found from its readings, whatever the strand does: %f mm', (sigmaMm) => {
    const noise = noiseAfter(20_000, sigmaMm);
    expect(noise.sigmaMm(0, PITCH_MM) / sigmaMm).toBeGreaterThan(0.95);
    expect(noise.sigmaMm(0, PITCH_MM) / sigmaMm).toBeLessThan(1.2);
    // The mean of 4 scatters half as much.
    expect(noise.sigmaMm(1, PITCH_MM) / sigmaMm).toBeGreaterThan(0.45);
    expect(noise.sigmaMm(1, PITCH_MM) / sigmaMm).toBeLessThan(0.7);
  });

  it('is not hidden by a gauge that sends the mean of its last readings', () => {
    const noise = noiseAfter(20_000, 0.02, 4);
    expect(noise.sigmaMm(0, PITCH_MM) / 0.02).toBeGreaterThan(0.9);
    expect(noise.sigmaMm(0, PITCH_MM) / 0.02).toBeLessThan(1.2);
  });

  it('is known after a second, and followed when it changes', () => {
    const noise = noiseAfter(50, 0.06);
    expect(noise.sigmaMm(0, PITCH_MM)).toBeGreaterThan(0.03);
    const gauss = normal(seeded(5));
    for (let i = 0; i < 4000; i++) noise.step(micrometres(1.75 + 0.005 * gauss()));
    expect(noise.sigmaMm(0, PITCH_MM)).toBeLessThan(0.012);
  });

  it('is known within 24 readings when it grows, but not taken from blobs or wrong readings', () => {
    for (const from of [0.004, 0.008]) {
      const gauss = normal(seeded(6));
      const sigmaAfter = (mm: (i: number) => number, smoothing = 1) => {
        const noise = noiseAfter(4000, from, smoothing);
        for (let i = 0; i < 24; i++) noise.step(micrometres(1.75 + mm(i)));
        return noise.sigmaMm(0, PITCH_MM);
      };
      expect(sigmaAfter(() => 0.1 * gauss())).toBeGreaterThan(0.06);
      // Blobs of six readings, rough on top, of three, and of two; wrong readings.
      const rough = [0.1, 0.3, 0.15, 0.3, 0.15, 0.1, 0, 0];
      expect(sigmaAfter((i) => rough[i % 8]!)).toBeLessThan(3 * from);
      expect(sigmaAfter((i) => (i % 6 < 3 ? 0.3 : 0))).toBeLessThan(3 * from);
      expect(sigmaAfter((i) => (i % 5 < 2 ? 0.3 : 0))).toBeLessThan(3 * from);
      for (const smoothing of [1, 4])
        expect(sigmaAfter((i) => (i % 11 === 0 ? 1 : 0), smoothing)).toBeLessThan(3 * from);
    }
  });

  it('does not compare readings across an interruption', () => {
    const noise = new GaugeNoise();
    for (let i = 0; i < 40_000; i++) {
      if (i % 200 === 0) noise.interrupt();
      noise.step(i % 400 < 200 ? 1.7 : 1.8);
    }
    expect(noise.sigmaMm(0, PITCH_MM)).toBeLessThan(0.001);
  });

  it('takes the smallest change for the resolution, once there were many', () => {
    const coarse = new GaugeNoise();
    for (let i = 0; i < 20; i++) coarse.step(i % 2 === 0 ? 1.75 : 1.76);
    expect(coarse.roundingMm).toBeCloseTo(0.001 / Math.sqrt(12), 9);
    for (let i = 0; i < 100; i++) coarse.step(i % 2 === 0 ? 1.75 : 1.76);
    expect(coarse.roundingMm).toBeCloseTo(0.01 / Math.sqrt(12), 9);
  });
});

describe('surely beyond', () => {
  /** Share of `times` in which readings of strand `excessMm` beyond the limit make it sure. */
  function sureShare(excessMm: number, readings: number, sigmaMm: number, uncertaintyMm: number, times = 400): number {
    const noise = noiseAfter(4000, sigmaMm);
    const gauss = normal(seeded(9));
    let sure = 0;
    for (let t = 0; t < times; t++) {
      const beyond = new SurelyBeyond(noise);
      beyond.restart();
      const offMm = (uncertaintyMm / 2) * gauss();
      for (let i = 0; i < readings; i++) beyond.add(excessMm + offMm + sigmaMm * gauss(), PITCH_MM);
      beyond.keep();
      if (beyond.isSure(uncertaintyMm)) sure++;
    }
    return sure / times;
  }

  // ISO 14253-1:2017: the default conformance probability is 95 %; here 97.5 %, as the guard band of U alone gives.
  it.each([
    [3, 0.01, 0.005],
    [43, 0.01, 0.005],
    [43, 0.02, 0.005],
    [43, 0.002, 0.02],
    [300, 0.02, 0.005],
  ])('is said falsely at most once in twenty by %i readings at the limit, σ %f mm, U %f mm', (n, sigma, u) => {
    expect(sureShare(0, n, sigma, u)).toBeLessThanOrEqual(0.05);
  });

  it('is found from many readings that are each in doubt', () => {
    expect(sureShare(0.03, 1, 0.02, 0.005)).toBeLessThan(0.1);
    expect(sureShare(0.03, 40, 0.02, 0.005)).toBeGreaterThan(0.9);
  });

  it('is found from one reading far beyond', () => {
    expect(sureShare(0.1, 1, 0.01, 0.005)).toBeGreaterThan(0.98);
  });

  it('needs more than the calibration is uncertain by, however many readings there are', () => {
    const beyond = new SurelyBeyond(noiseAfter(20_000, 0.001));
    beyond.restart();
    for (let i = 0; i < 1000; i++) beyond.add(0.039, PITCH_MM);
    beyond.keep();
    expect(beyond.isSure(0.04)).toBe(false);
    expect(beyond.isSure(0.03)).toBe(true);
  });

  it('counts nothing that may have been wrong readings, nor lets it count in later means', () => {
    const beyond = new SurelyBeyond(noiseAfter(4000, 0.005));
    beyond.restart();
    for (let i = 0; i < 20; i++) beyond.add(0.6, PITCH_MM);
    expect(beyond.isSureHere(0.005)).toBe(true);
    expect(beyond.isSure(0.005)).toBe(false);
    beyond.drop();
    for (let i = 0; i < 20; i++) beyond.add(0, PITCH_MM);
    beyond.keep();
    expect(beyond.isSure(0.005)).toBe(false);
  });

  describe('is proved by', () => {
    /** Standard deviations of single readings and of means over 4 and 16. */
    class KnownNoise extends GaugeNoise {
      readonly #sigmasMm: readonly number[];
      constructor(...sigmasMm: number[]) {
        super();
        this.#sigmasMm = sigmasMm;
      }
      override sigmaMm(level: number): number {
        return this.#sigmasMm[level]!;
      }
      override get roundingMm(): number {
        return 0;
      }
    }
    /** So many of this pitch are on 30 mm of strand. */
    const PITCH_OF_64_MM = 30 / 64;
    /**
     * With m and q the median and the upper limit of the largest of 64 or 16 normal values, each of three means with a third
     * of 2.5 % (quantiles by Python's statistics.NormalDist): x is beyond by √((x − m)² − (q − m)²).
     */
    const LARGEST = {
      64: [2.417559016236505, 3.651792105371016],
      16: [1.862731867421651, 3.2790242977180215],
    } as const;
    const proved = (excessMm: number, sigmaMm: number, n: keyof typeof LARGEST) => {
      const [m, q] = LARGEST[n];
      return Math.sqrt((excessMm - m * sigmaMm) ** 2 - ((q - m) * sigmaMm) ** 2);
    };
    const evidence = (noise: GaugeNoise, pitchMm: number, ...excessMm: number[]) => {
      const beyond = new SurelyBeyond(noise);
      beyond.restart();
      for (const mm of excessMm) beyond.add(mm, pitchMm);
      beyond.keep();
      return beyond.evidenceMm;
    };
    const times = (count: number, mm: number) => Array.from({ length: count }, () => mm);

    it('the largest reading', () => {
      const single = new KnownNoise(0.01, 1, 1);
      expect(evidence(single, PITCH_OF_64_MM, 0.02, 0.08, 0.05)).toBeCloseTo(proved(0.08, 0.01, 64), 9);
      expect(evidence(single, PITCH_OF_64_MM, 0.036)).toBe(Number.NEGATIVE_INFINITY);
      // By as much as the uncertainty is not by more.
      expect(new SurelyBeyond(single).isSure(0.04, 0.04)).toBe(false);
      expect(evidence(new KnownNoise(1e-9, 1, 1), PITCH_OF_64_MM, 0, -0.1)).toBe(Number.NEGATIVE_INFINITY);
    });

    it('four in a row, where the gauge and not the strand makes them scatter', () => {
      const four = new KnownNoise(1, 0.01, 1);
      expect(evidence(four, PITCH_OF_64_MM, 0.09, 0.09, 0.09)).toBe(Number.NEGATIVE_INFINITY);
      expect(evidence(four, PITCH_OF_64_MM, 0.3, 0.06, 0.09, 0.12, 0.13)).toBeCloseTo(proved(0.1425, 0.01, 64), 9);
      expect(evidence(four, PITCH_OF_64_MM, -0.3, 0.06, 0.09, 0.12, 0.13)).toBeCloseTo(proved(0.1, 0.01, 64), 9);
      expect(evidence(four, 2, ...times(8, 0.5))).toBe(Number.NEGATIVE_INFINITY);
    });

    it('sixteen in a row, likewise', () => {
      const sixteen = new KnownNoise(1, 1, 0.01);
      expect(evidence(sixteen, PITCH_OF_64_MM, ...times(15, 0.09))).toBe(Number.NEGATIVE_INFINITY);
      expect(evidence(sixteen, PITCH_OF_64_MM, ...times(16, 0.1))).toBeCloseTo(proved(0.1, 0.01, 64), 9);
      expect(evidence(sixteen, PITCH_OF_64_MM, -0.8, ...times(15, 0.09), 0.25)).toBeCloseTo(proved(0.1, 0.01, 64), 9);
      expect(evidence(sixteen, 0.9, ...times(32, 0.5))).toBe(Number.NEGATIVE_INFINITY);
    });

    it('less by each of many readings, since the largest of them is higher by chance', () => {
      // Four readings are on 30 mm: eight of them count as 8² / 4.
      const single = new KnownNoise(0.01, 1, 1);
      expect(evidence(single, 7.5, ...times(7, -0.1), 0.08)).toBeCloseTo(proved(0.08, 0.01, 16), 9);
    });
  });
});
