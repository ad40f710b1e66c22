import { describe, expect, it } from 'vitest';
import { realSpectrum } from '../../../server/strand/spectrum/fourier.ts';
import { causesOf, nameCauses } from '../../../server/strand/spectrum/named-causes.ts';
import { periodogram } from '../../../server/strand/spectrum/periodogram.ts';
import { spectrumPeaks } from '../../../server/strand/spectrum/spectrum-peaks.ts';
import { strandSpectrum } from '../../../server/strand/spectrum/strand-spectrum.ts';
import { ar1, normals } from './noise.ts';

const causes = causesOf({
  rollerCircumferenceMm: 157,
  screwTurnsPerMin: 12,
  gears: [
    { name: 'gearbox, last stage', shaft: 'screw', cyclesPerTurn: 5 },
    { name: 'puller gear', shaft: 'roller', cyclesPerTurn: 40 },
  ],
  controlPeriodS: 30,
});

/** A strand whose speed swings by ±15 % over minutes, with one wave in length or in time. */
function strand(wave: { mm: number } | { s: number }, amplitudeMm: number, seed: number) {
  const n = 30_000;
  const noise = normals(n, seed);
  const timeS = new Float64Array(n);
  const lengthMm = new Float64Array(n);
  const diameterMm = new Float64Array(n);
  for (let i = 1; i < n; i++) {
    timeS[i] = i * 0.05;
    lengthMm[i] = lengthMm[i - 1]! + 0.05 * 40 * (1 + 0.15 * Math.sin(timeS[i]! / 90));
  }
  for (let i = 0; i < n; i++) {
    const phase = 'mm' in wave ? lengthMm[i]! / wave.mm : timeS[i]! / wave.s;
    diameterMm[i] = 1.75 + amplitudeMm * Math.sin(2 * Math.PI * phase) + 0.015 * noise[i]!;
  }
  return { timeS, lengthMm, diameterMm };
}

function spectrumOf({ timeS, lengthMm, diameterMm }: ReturnType<typeof strand>) {
  return strandSpectrum(timeS, lengthMm, diameterMm, causes);
}

describe('Fourier transform', () => {
  it('agrees with the sum that defines it, for lengths of every kind', () => {
    for (const n of [2, 3, 8, 15, 30, 101]) {
      const values = normals(n, n);
      const { re, im } = realSpectrum(values);
      for (let k = 0; k <= n / 2; k++) {
        let a = 0;
        let b = 0;
        values.forEach((v, i) => {
          a += v * Math.cos((2 * Math.PI * k * i) / n);
          b -= v * Math.sin((2 * Math.PI * k * i) / n);
        });
        expect(re[k]).toBeCloseTo(a, 10);
        expect(im[k]).toBeCloseTo(b, 10);
      }
    }
  });
});

describe('a periodogram', () => {
  it('adds up to the variance for any length (Parseval)', () => {
    for (const n of [1000, 1024, 1999]) {
      const values = ar1(n, 0.7, n);
      const mean = values.reduce((a, b) => a + b) / n;
      const variance = values.reduce((a, b) => a + (b - mean) ** 2, 0) / n;
      expect(periodogram(values, 1).power.reduce((a, b) => a + b)).toBeCloseTo(variance, 9);
    }
  });

  it('finds no wave in noise, however steeply it falls, more often than its false-alarm probability allows', () => {
    const walk = (seed: number) => {
      let place = 0;
      return normals(2048, seed).map((step) => {
        place += step;
        return place;
      });
    };
    const noises = [
      (seed: number) => normals(2048, seed),
      (seed: number) => ar1(2048, 0.6, seed),
      (seed: number) => ar1(2048, 0.99, seed),
      walk,
      // The mean of walks and their steps falls as 1/f over much of the spectrum.
      (seed: number) => walk(seed).map((x, i, all) => 0.3 * x + 3 * (i === 0 ? 0 : x - all[i - 1]!)),
    ];
    for (const noise of noises) {
      let alarms = 0;
      for (let seed = 1; seed <= 100; seed++)
        alarms += spectrumPeaks(periodogram(noise(seed), 1, { window: 'hann', trend: true })).length > 0 ? 1 : 0;
      // 0.1 are expected; the noise is an estimate, which makes it a few times more.
      expect(alarms).toBeLessThanOrEqual(2);
    }
  });

  it('gives period and amplitude of a wave between two frequencies', () => {
    const noise = normals(4096, 2);
    const values = noise.map((z, i) => 1.75 + 0.02 * Math.sin((2 * Math.PI * i) / 83.7) + 0.01 * z);
    const [peak] = spectrumPeaks(periodogram(values, 2, { window: 'hann' }));
    expect(peak!.period / 2).toBeCloseTo(83.7, 0);
    expect(peak?.amplitude).toBeGreaterThan(0.0185);
    expect(peak?.amplitude).toBeLessThan(0.0215);
    expect(peak?.falseAlarmProbability).toBeLessThan(1e-9);
  });

  it('finds a wave despite gaps', () => {
    const noise = normals(4096, 3);
    const values = noise.map((z, i) => (i % 700 < 60 ? Number.NaN : 1.75 + 0.02 * Math.sin(i / 10) + 0.01 * z));
    const spectrum = periodogram(values, 1, { window: 'hann' });
    expect(spectrum.count).toBeLessThan(4096);
    expect(spectrumPeaks(spectrum)[0]?.period).toBeCloseTo(20 * Math.PI, 0);
  });
});

describe('named causes', () => {
  it('distinguish puller roller and screw by the domain in which the wave is sharp', () => {
    const puller = spectrumOf(strand({ mm: 157 }, 0.01, 1));
    const inLength = puller.inLength.peaks[0]!;
    expect(inLength.period).toBeCloseTo(157, 0);
    expect(inLength.sharperIn).toBe('length');
    expect(inLength.causes[0]).toMatchObject({ cause: 'puller roller', harmonic: 1 });

    const surging = spectrumOf(strand({ s: 5 }, 0.01, 2));
    const inTime = surging.inTime.peaks[0]!;
    expect(inTime.period).toBeCloseTo(5, 1);
    expect(inTime.sharperIn).toBe('time');
    expect(inTime.causes[0]).toMatchObject({ cause: 'screw', harmonic: 1 });
  });

  it('include half a turn, and nothing where nothing fits', () => {
    const at = (period: number) => ({ frequency: 1 / period, frequencyUncertainty: 1e-5 });
    expect(nameCauses(at(78.5), 'length', causes, null)[0]).toMatchObject({ cause: 'puller roller', harmonic: 2 });
    expect(nameCauses(at(110), 'length', causes, null)).toEqual([]);
    // A fifth of a screw turn is also a turn of the gear stage: both are named.
    expect(nameCauses(at(1), 'time', causes, null).map((c) => c.cause)).toContain('gearbox, last stage');
    // 40 teeth on the roller's shaft: a fortieth of its circumference.
    expect(nameCauses(at(157 / 40), 'length', causes, null)[0]).toMatchObject({ cause: 'puller gear', harmonic: 1 });
  });

  it('need the speed to convert time into length', () => {
    const peak = { frequency: 1 / (5 * 40), frequencyUncertainty: 1e-5 };
    expect(nameCauses(peak, 'length', causes, null)).toEqual([]);
    expect(nameCauses(peak, 'length', causes, { meanMmPerS: 40, spreadShare: 0 })[0]?.cause).toBe('screw');
  });
});

describe('a spectrum of a long strand', () => {
  const readings = 330_000;
  const at = Float64Array.from({ length: readings }, (_, i) => i);
  const noise = normals(readings, 11);
  const wavy = (periodMm: number) =>
    at.map((mm, i) => 1.75 + 0.02 * Math.sin((2 * Math.PI * mm) / periodMm) + 0.005 * noise[i]!);

  it('shows no wave that is too short for it as a longer one', () => {
    const { peaks, shortestPeriod } = strandSpectrum(at, at, wavy(6), causes).inLength;
    expect(peaks).toEqual([]);
    // 2.5 cells of 330 m / 65 536.
    expect(shortestPeriod).toBeCloseTo(12.59, 2);
  });

  it('shows a wave a little longer than the shortest at its length and height', () => {
    const [peak, ...others] = strandSpectrum(at, at, wavy(13), causes).inLength.peaks;
    expect(others).toEqual([]);
    expect(peak?.period).toBeCloseTo(13, 3);
    expect(Math.abs(peak!.amplitude - 0.02)).toBeLessThan(0.002);
  });
});

describe('a wave that the speed spreads over many frequencies', () => {
  it('is listed once', () => {
    for (const wave of [{ mm: 157 }, { s: 5 }]) {
      const { inLength, inTime } = spectrumOf(strand(wave, 0.02, 5));
      const [own, other] = 'mm' in wave ? [inLength, inTime] : [inTime, inLength];
      expect(own.peaks.length).toBe(1);
      expect(other.peaks.length).toBeLessThanOrEqual(1);
    }
  });
});

describe('a spectrum of next to nothing', () => {
  it('is empty, not an error', () => {
    expect(strandSpectrum([], [], [], causes).inLength.peaks).toEqual([]);
    expect(strandSpectrum([1], [1], [1.75], causes).inTime.peaks).toEqual([]);
    const flat = new Float64Array(500).fill(1.75);
    const at = flat.map((_, i) => i);
    expect(strandSpectrum(at, at, flat, causes).inLength.peaks).toEqual([]);
  });
});
