import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { plainContext, SectionDetector } from '../../server/strand/section-detector.ts';
import { normal, seeded } from '../chance.ts';
import { tries } from '../long-check.ts';
import { crossings, generateStrand, type Lump } from './generated-strand.ts';
import { scan } from './scan.ts';
import { USUAL_LIMITS } from './usual-limits.ts';

/** 35 mm/s at 50 readings/s: a pitch of 0.7 mm. */
const USUAL = { seed: 1, speedMmPerS: 35, readingsPerS: 50 };
const PITCH = 0.7;

/** Samples of these diameters, `pitchMm` apart, 50 a second. */
function samples(diameters: readonly number[], pitchMm = PITCH) {
  return {
    timeMs: diameters.map((_, i) => 1_000_000 + i * 20),
    gaugeMm: diameters.map((_, i) => i * pitchMm),
    diameterMm: diameters,
  };
}

const scanSamples = (diameters: readonly number[], pitchMm = PITCH) => scan(samples(diameters, pitchMm));

const good = (n: number) => Array.from({ length: n }, () => 1.75);
/** Long enough to learn that the gauge has no noise; the last digit alternates, so that it is not frozen. */
const quiet = (n = 4000, mm = 1.75) => Array.from({ length: n }, (_, i) => (i % 2 === 0 ? mm : mm + 1e-6));

describe('a frozen gauge', () => {
  const noise = normal(seeded(3));
  const lively = (n: number) => Array.from({ length: n }, () => Math.round((1.75 + 0.01 * noise()) * 1000) / 1000);
  /** Twenty seconds of the same reading in the middle of a noisy one. */
  const frozenAt = (diameterMm: number) => [
    ...lively(1500),
    ...Array.from({ length: 1000 }, () => diameterMm),
    ...lively(1500),
  ];

  // Near nominal, above the hotend limit, and out of tolerance.
  it.each([1.7501, 1.95, 1.82])('makes the strand unknown from the first repeated reading on: %f mm', (diameterMm) => {
    const unknown = scanSamples(frozenAt(diameterMm)).filter((section) => section.kind === 'unknown');
    expect(unknown).toHaveLength(1);
    const [section] = unknown;
    expect(section).toMatchObject({ verdict: 'doubtful', open: false });
    expect(section?.fromMm).toBeCloseTo(1500 * PITCH, 6);
    expect(section?.toMm).toBeCloseTo(2500 * PITCH, 6);
    expect(section?.fromTimeMs).toBe(1_000_000 + 1500 * 20);
  });

  it('ends blobs and long stretches when it is recognised', () => {
    const other = scanSamples(frozenAt(1.95)).filter((section) => section.kind !== 'unknown');
    expect(other.length).toBeGreaterThan(0);
    // A frozen gauge is recognised ten seconds after its reading stopped changing.
    for (const section of other) expect(section.toMm).toBeLessThan((1500 + 510) * PITCH);
  });

  it('is not reported when a reading repeats for only a few seconds', () => {
    const short = [...lively(1500), ...Array.from({ length: 300 }, () => 1.75), ...lively(500)];
    expect(scanSamples(short)).toEqual([]);
  });
});

describe('blobs and necks', () => {
  it('are found with their edges and peak, to discard', () => {
    const lumps: Lump[] = [
      { atMm: 3000, lengthMm: 12, heightMm: 0.25, shape: 'cosine' },
      { atMm: 6000, lengthMm: 20, heightMm: -0.25, shape: 'skew' },
    ];
    const sections = scan(generateStrand({ ...USUAL, lengthMm: 9000, lumps, noiseMm: 0.002 }));
    expect(sections.map((s) => [s.ordinal, s.kind, s.verdict])).toEqual([
      [1, 'blob', 'discard'],
      [2, 'neck', 'discard'],
    ]);
    for (const [i, lump] of lumps.entries()) {
      const section = sections[i] as MeasuredSection;
      const truth = crossings(lump, 1.75, lump.heightMm > 0 ? 1.9 : 1.6);
      expect(Math.abs(section.fromMm - (truth?.fromMm ?? 0))).toBeLessThan(PITCH);
      expect(Math.abs(section.toMm - (truth?.toMm ?? 0))).toBeLessThan(PITCH);
      expect(section.peakMm).toBeCloseTo(1.75 + lump.heightMm, 1);
      expect(section.open).toBe(false);
      expect(section.toTimeMs - section.fromTimeMs).toBeCloseTo(((section.toMm - section.fromMm) / 35) * 1000, 0);
    }
  });

  it('have the volume beyond the limit of a flat-topped blob calculated by hand', () => {
    // 20 samples of 2.00 mm, 0.7 mm apart: π/4 · (2.00² − 1.90²) · length, flanks of one pitch counted by half.
    const sections = scanSamples([...good(50), ...Array.from({ length: 20 }, () => 2), ...good(50)]);
    const area = (Math.PI / 4) * (2 ** 2 - 1.9 ** 2);
    const flank = PITCH * (0.1 / 0.25);
    expect(sections[0]?.volumeBeyondMm3).toBeCloseTo(area * (19 * PITCH + flank), 6);
  });

  it('are all found at any speed and rate, with edges within two centimetres and one sample pitch', () => {
    for (const [seed, speedMmPerS, readingsPerS] of [
      [11, 5, 10],
      [12, 35, 50],
      [13, 60, 500],
      [14, 100, 50],
      [15, 90, 20],
    ] as const) {
      const pitch = speedMmPerS / readingsPerS;
      const random = seeded(seed);
      const lumps: Lump[] = [];
      const lengthMm = Math.min(120_000, pitch * 150_000);
      for (let at = 400; at < lengthMm - 400; at += 200 + random() * 600) {
        const least = Math.max(2, 3 * pitch);
        lumps.push({
          atMm: at,
          lengthMm: least + random() * Math.max(3, 30 - least),
          heightMm: (random() < 0.3 ? -1 : 1) * (0.18 + random() * 0.4),
          shape: (['cosine', 'flat', 'skew', 'triangle'] as const)[Math.floor(random() * 4)] as Lump['shape'],
        });
      }
      const sections = scan(generateStrand({ seed, lengthMm, speedMmPerS, readingsPerS, lumps }));
      const matched = new Set<MeasuredSection>();
      for (const lump of lumps) {
        const kind = lump.heightMm > 0 ? 'blob' : 'neck';
        const truth = crossings(lump, 1.75, kind === 'blob' ? 1.9 : 1.6);
        if (truth === null) throw new Error('a lump must cross its limit');
        const found = sections.filter(
          (s) => s.kind === kind && s.toMm >= truth.fromMm - pitch && s.fromMm <= truth.toMm + pitch,
        );
        for (const section of found) matched.add(section);
        if (truth.toMm - truth.fromMm < 3 * pitch) continue;
        expect(found.length, `${kind} at ${lump.atMm} mm`).toBe(1);
        const [section] = found as [MeasuredSection];
        expect(Math.abs(section.fromMm - truth.fromMm)).toBeLessThan(20 + pitch);
        expect(Math.abs(section.toMm - truth.toMm)).toBeLessThan(20 + pitch);
      }
      expect(sections.filter((s) => !matched.has(s))).toEqual([]);
    }
  });

  it('are not found on a long, good strand with a slow swing and σ = 0.015 mm', () => {
    const strand = generateStrand({
      ...USUAL,
      seed: 21,
      lengthMm: tries(700_000, 1 / 3),
      swingMm: 0.02,
    });
    expect(scan(strand)).toEqual([]);
  });

  it("are in doubt, not to discard, within the gauge's uncertainty of the limit", () => {
    const flat = (top: number) => [...quiet(), 1.85, ...quiet(12, top), 1.85, ...good(40)];
    expect(scanSamples(flat(1.894))).toEqual([]);
    expect(scanSamples(flat(1.898))[0]).toMatchObject({
      certainty: 'inDoubt',
      verdict: 'doubtful',
    });
    expect(scanSamples(flat(1.904))[0]?.certainty).toBe('inDoubt');
    expect(scanSamples(flat(1.906))[0]).toMatchObject({
      certainty: 'sure',
      verdict: 'discard',
    });
  });

  it('are merged when closer than a centimetre, and separate when further apart', () => {
    const pair = (between: number) => [
      ...good(40),
      ...[1.95, 2, 1.95],
      ...good(between),
      ...[1.95, 2, 1.95],
      ...good(40),
    ];
    expect(scanSamples(pair(8)).length).toBe(1);
    expect(scanSamples(pair(25)).length).toBe(2);
  });

  it('stay separate sections inside a stretch out of tolerance', () => {
    const lumps: Lump[] = [{ atMm: 2500, lengthMm: 10, heightMm: 0.2, shape: 'cosine' }];
    const sections = scan(generateStrand({ ...USUAL, meanMm: 1.83, lengthMm: 5000, lumps }));
    expect(sections.map((s) => [s.kind, s.verdict])).toEqual([
      ['offTolerance', 'doubtful'],
      ['blob', 'discard'],
    ]);
  });
});

describe('a lower hotend limit', () => {
  it('marks more of the same strand to discard', () => {
    const wavy = { meanMm: 1.8, noiseMm: 0.005, swingMm: 0.12, swingLengthMm: 300 };
    const strand = generateStrand({ ...USUAL, seed: 4, lengthMm: 2000, ...wavy });
    const discardedMm = (hotendLimitMm: number) =>
      scan(strand, { ...USUAL_LIMITS, hotendLimitMm })
        .filter(({ verdict }) => verdict === 'discard')
        .reduce((sum, { fromMm, toMm }) => sum + toMm - fromMm, 0);
    expect(discardedMm(1.85)).toBeGreaterThan(discardedMm(1.9));
    expect(discardedMm(2.1)).toBe(0);
  });
});

describe('a glitch of the gauge', () => {
  it('is not a blob: one high sample on a strand that is even on both sides', () => {
    for (const height of [1.95, 2.4, 4.9]) expect(scanSamples([...good(50), height, ...good(50)])).toEqual([]);
  });

  it('is neither a neck nor a lost strand', () => {
    for (const low of [1.3, 0.6, 0, 0.2]) expect(scanSamples([...good(50), low, ...good(50)])).toEqual([]);
  });

  it('never hides a blob of three samples, wherever its peak falls between them', () => {
    for (const shape of ['cosine', 'flat', 'skew', 'triangle'] as const)
      for (let shift = 0; shift < 1; shift += 0.1) {
        const lump: Lump = {
          atMm: (50 + shift) * PITCH,
          lengthMm: 3 * PITCH,
          heightMm: 0.5,
          shape,
        };
        const sections = scanLump(lump);
        expect(sections.length, `${shape} shifted by ${shift}`).toBe(1);
      }

    function scanLump(lump: Lump) {
      const strand = generateStrand({
        ...USUAL,
        seed: 5,
        lengthMm: 70,
        noiseMm: 0,
        lumps: [lump],
      });
      return scan(strand).filter((s) => s.kind === 'blob');
    }
  });

  it('is in doubt at a pitch so wide that a real blob may be a single reading, and never sure', () => {
    for (const height of [1.95, 2.4, 7.75]) {
      const [section] = scanSamples([...good(50), height, ...good(50)], 1.5);
      expect(section).toMatchObject({ kind: 'blob', verdict: 'doubtful', certainty: 'inDoubt', doubt: 'oneReading' });
    }
  });

  it('is no blob at a wide pitch where the gauge sees so much strand at once that the neighbours had to see it too', () => {
    const lone = [...good(50), 2, ...good(50)];
    expect(scanSamples(lone, 1.5)).toHaveLength(1);
    expect(scan(samples(lone, 1.5), { ...USUAL_LIMITS, gaugeApertureMm: 2 })).toEqual([]);
    // 75 mm/s
    expect(scan(samples(lone, 1.5), { ...USUAL_LIMITS, gaugeAveragingMs: 30 })).toEqual([]);
  });

  it('that spoils two readings in a row makes nothing sure at any pitch', () => {
    for (const pitchMm of [0.05, 0.1, 0.3, 0.7, 1, 1.5, 3, 6])
      for (const pair of [
        [2.4, 2.4],
        [1.95, 3.1],
        [7.75, 1.92],
      ]) {
        const sections = scanSamples([...good(400), ...pair, ...good(400)], pitchMm);
        expect(sections.filter(({ certainty }) => certainty === 'sure')).toEqual([]);
        if (pitchMm >= 0.7) expect(sections).toMatchObject([{ doubt: 'fewReadings' }]);
        if (pitchMm <= 0.3) expect(sections).toEqual([]);
      }
  });

  it('makes nothing sure for long in a row either, where all of it is shorter than any blob', () => {
    const burst = [2.4, 3.1, 2.2, 2.9, 2.6, 2.8];
    expect(scanSamples([...good(400), ...burst, ...good(400)], 0.1)).toMatchObject([
      { verdict: 'doubtful', doubt: 'fewReadings' },
    ]);
  });

  it('downwards is no thin spot at any pitch', () => {
    for (const pitchMm of [0.1, 0.7, 1.5, 5]) expect(scanSamples([...good(50), 1.3, ...good(50)], pitchMm)).toEqual([]);
  });

  it('beside a real blob in doubt does not make that one sure', () => {
    const nearLimit = Array.from({ length: 12 }, () => 1.902);
    const sections = scanSamples([...quiet(), ...nearLimit, ...good(4), 2.4, ...good(40)], 1.5);
    expect(sections).toMatchObject([{ kind: 'blob', verdict: 'doubtful' }]);
  });

  it('differs from a real blob of three readings, which is sure', () => {
    for (const pitchMm of [0.7, 1.5, 3])
      expect(scanSamples([...quiet(), 1.95, 2, 1.95, ...good(40)], pitchMm)).toMatchObject([
        { kind: 'blob', verdict: 'discard', certainty: 'sure' },
      ]);
  });

  it('is only doubtful at a wide pitch where the second axis saw nothing', () => {
    const { timeMs, gaugeMm, diameterMm } = samples([...good(50), 2, ...good(50)], 1.5);
    const outOfRoundMm = diameterMm.map((d) => (d > 1.9 ? 0.5 : 0.01));
    const sections = scan({ timeMs, gaugeMm, diameterMm, outOfRoundMm });
    expect(sections[0]?.verdict).toBe('doubtful');
  });

  it('leads to a false discard in fewer than one of a hundred cases', () => {
    const strand = generateStrand({
      ...USUAL,
      seed: 31,
      lengthMm: 140_000,
      glitchShare: 0.002,
    });
    expect(strand.glitches).toBeGreaterThan(300);
    const discards = scan(strand).filter((s) => s.verdict === 'discard');
    expect(discards.length).toBeLessThan(strand.glitches / 100);
  });
});

describe('long stretches', () => {
  it('out of tolerance for longer than the set length are doubtful sections, shorter ones are none', () => {
    const at = (n: number) => {
      const diameters = Array.from({ length: 3000 }, (_, i) => (i >= 1000 && i < 1000 + n ? 1.82 : 1.75));
      return scanSamples(diameters);
    };
    const [section, ...others] = at(500);
    expect(others).toEqual([]);
    expect(section).toMatchObject({
      kind: 'offTolerance',
      verdict: 'doubtful',
      certainty: 'sure',
    });
    expect(Math.abs((section?.fromMm ?? 0) - 1000 * PITCH)).toBeLessThan(10);
    expect(Math.abs((section?.toMm ?? 0) - 1500 * PITCH)).toBeLessThan(10);
    expect(at(250)).toEqual([]);
  });

  it('too thin are found too, and noise at the limit does not split them', () => {
    const thin = scan(generateStrand({ ...USUAL, meanMm: 1.68, lengthMm: 20_000 }));
    expect(thin.map((s) => s.kind)).toEqual(['offTolerance']);
    expect(thin[0]?.peakMm).toBeLessThan(1.69);
  });

  it('just beyond the tolerance are one section despite noise, and just within it none', () => {
    const near = (meanMm: number) => scan(generateStrand({ ...USUAL, seed: 8, meanMm, lengthMm: 50_000 }));
    expect(near(1.806).length).toBe(1);
    expect(near(1.784)).toEqual([]);
  });

  it('just beyond the tolerance are found whole by a coarse, noisy gauge that reads too little', () => {
    for (let seed = 1; seed <= 30; seed++) {
      const gauss = normal(seeded(seed));
      const gaugeMm = Float64Array.from({ length: 800 }, (_, i) => 3.72 * i);
      const diameterMm = gaugeMm.map((mm) => (mm > 1000 && mm < 1740 ? 1.804 : 1.765) - 0.0046 + 0.011 * gauss());
      const sections = scan({ timeMs: gaugeMm.map((_, i) => 50 * i), gaugeMm, diameterMm });
      expect(Math.min(...sections.map(({ fromMm }) => fromMm))).toBeLessThan(1100);
      expect(Math.max(...sections.map(({ toMm }) => toMm))).toBeGreaterThan(1640);
    }
  });

  it('that return slowly end where the mean is surely within again, not at the end of the hysteresis', () => {
    // From 1.82 mm down to 1.75 mm over 140 mm: limit − U = 1.795 mm is crossed after 50 mm, the hysteresis ends 10 mm later.
    const diameters = Array.from(
      { length: 2500 },
      (_, i) => 1.82 - 0.0005 * Math.min(140, Math.max(0, (i - 1500) * PITCH)),
    );
    const [section, ...others] = scanSamples([...good(1000), ...diameters.slice(1000)]);
    expect(others).toEqual([]);
    expect(Math.abs((section?.toMm ?? 0) - (1500 * PITCH + 50))).toBeLessThan(2);
    expect((section?.toTimeMs ?? 0) - (section?.fromTimeMs ?? 0)).toBeCloseTo(
      (((section?.toMm ?? 0) - (section?.fromMm ?? 0)) / PITCH) * 20,
      0,
    );
  });

  it('that dip into the hysteresis and leave it again are one section', () => {
    const wave = Array.from({ length: 3000 }, (_, i) =>
      i < 500 || i > 2500 ? 1.75 : 1.8 + (Math.floor(i / 200) % 2 === 0 ? 0.01 : -0.008),
    );
    const sections = scanSamples(wave);
    expect(sections.map((s) => s.kind)).toEqual(['offTolerance']);
    expect(Math.abs((sections[0]?.toMm ?? 0) - 2500 * PITCH)).toBeLessThan(160);
  });

  it('out of round are found when two axes are sent', () => {
    const { timeMs, gaugeMm, diameterMm } = samples(good(3000));
    const outOfRoundMm = gaugeMm.map((mm) => (mm > 700 && mm < 1400 ? 0.13 : 0.02));
    const sections = scan({ timeMs, gaugeMm, diameterMm, outOfRoundMm });
    expect(sections.length).toBe(1);
    expect(sections[0]).toMatchObject({
      kind: 'outOfRound',
      verdict: 'doubtful',
    });
    expect(Math.abs((sections[0]?.fromMm ?? 0) - 700)).toBeLessThan(10);
  });

  it('too thick on one axis only are a blob: the bore must pass the thicker axis', () => {
    const { timeMs, gaugeMm, diameterMm } = samples(good(300).map((d, i) => (i > 100 && i < 110 ? 1.85 : d)));
    const outOfRoundMm = diameterMm.map((d) => (d > 1.8 ? 0.2 : 0));
    const sections = scan({ timeMs, gaugeMm, diameterMm, outOfRoundMm });
    expect(sections[0]).toMatchObject({ kind: 'blob', verdict: 'discard' });
    expect(sections[0]?.peakMm).toBeCloseTo(1.95, 9);
  });
});

describe('what was not measured', () => {
  it('is unknown, never good, where readings have no value', () => {
    const sections = scanSamples([...good(100), ...Array.from({ length: 20 }, () => Number.NaN), ...good(100)]);
    expect(sections).toEqual([
      expect.objectContaining({
        kind: 'unknown',
        verdict: 'doubtful',
        peakMm: null,
        volumeBeyondMm3: null,
      }),
    ]);
    expect(sections[0]?.fromMm).toBeCloseTo(99 * PITCH, 9);
    expect(sections[0]?.toMm).toBeCloseTo(120 * PITCH, 9);
  });

  it('is no section for a single reading without a value', () => {
    expect(scanSamples([...good(50), Number.NaN, ...good(50)])).toEqual([]);
  });

  it('is unknown where no readings came', () => {
    const strand = samples(good(400));
    const gapMm = strand.gaugeMm.map((_, i) => (i === 200 ? 300 : 0));
    const gaugeMm = strand.gaugeMm.map((mm, i) => (i >= 200 ? mm + 300 : mm));
    const sections = scan({ ...strand, gaugeMm, gapMm });
    expect(sections.map((s) => [s.kind, s.fromMm, s.toMm])).toEqual([['unknown', 200 * PITCH, 200 * PITCH + 300]]);
  });

  it('is inferred from times and lengths where gaps were not recorded', () => {
    const strand = samples(good(400));
    const late = strand.timeMs.map((t, i) => (i >= 200 ? t + 5000 : t));
    const further = strand.gaugeMm.map((mm, i) => (i >= 200 ? mm + 175 : mm));
    const sections = scan({ timeMs: late, gaugeMm: further, diameterMm: strand.diameterMm });
    expect(sections.map((s) => s.kind)).toEqual(['unknown']);
  });

  it('splits a blob that runs into it', () => {
    const strand = samples([...good(50), ...Array.from({ length: 20 }, () => 2), ...good(50)]);
    const gapMm = strand.gaugeMm.map((_, i) => (i === 60 ? 100 : 0));
    const gaugeMm = strand.gaugeMm.map((mm, i) => (i >= 60 ? mm + 100 : mm));
    const sections = scan({ ...strand, gaugeMm, gapMm });
    expect(sections.map((s) => s.kind)).toEqual(['blob', 'unknown', 'blob']);
  });

  it('is to discard, and not a neck, from where the strand broke to where it is back', () => {
    const sections = scanSamples([...good(100), 0.9, ...Array.from({ length: 200 }, () => 0), ...good(100)]);
    expect(sections.map((s) => [s.kind, s.verdict])).toEqual([['strandLost', 'discard']]);
    expect(Math.abs((sections[0]?.fromMm ?? 0) - 100 * PITCH)).toBeLessThan(PITCH);
    expect(Math.abs((sections[0]?.toMm ?? 0) - 301 * PITCH)).toBeLessThan(PITCH);
  });
});

describe('live', () => {
  const context = { ...plainContext(), speedMmPerS: 35 };
  const strand = generateStrand({
    ...USUAL,
    seed: 41,
    lengthMm: 30_000,
    lumps: [
      { atMm: 4000, lengthMm: 15, heightMm: 0.3, shape: 'cosine' },
      { atMm: 9000, lengthMm: 15, heightMm: -0.3, shape: 'flat' },
      { atMm: 9040, lengthMm: 400, heightMm: 0.12, shape: 'flat' },
      { atMm: 15_000, lengthMm: 8, heightMm: 0.2, shape: 'skew' },
    ],
    glitchShare: 0.001,
  });

  function live(batches: () => number): MeasuredSection[] {
    const detector = new SectionDetector(USUAL_LIMITS, 1);
    const seen = new Map<number, MeasuredSection>();
    let left = batches();
    for (let i = 0; i < strand.timeMs.length; i++) {
      for (const s of detector.step(
        strand.timeMs[i] as number,
        strand.gaugeMm[i] as number,
        strand.diameterMm[i] as number,
        context,
      ))
        seen.set(s.ordinal, s);
      // Between batches, the open sections are read.
      if (--left <= 0) {
        for (const s of detector.open()) seen.set(s.ordinal, s);
        left = batches();
      }
    }
    for (const s of detector.close(strand.timeMs.at(-1) as number)) seen.set(s.ordinal, s);
    return [...seen.values()];
  }

  it('gives the same result however the stream is split into batches, and the same as the stored record', () => {
    const whole = scan(strand);
    expect(whole.length).toBeGreaterThan(3);
    fc.assert(
      fc.property(fc.integer(), (seed) => {
        const random = seeded(seed);
        expect(live(() => 1 + Math.floor(random() ** 3 * 5000))).toEqual(whole);
      }),
      { seed: 1, numRuns: tries(8) },
    );
  });

  it('gives the same result twice', () => {
    expect(scan(strand)).toEqual(scan(strand));
  });

  it('gives the same result twice and live, at any speed and rate, with gaps, glitches and two axes', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 1e6 }),
        fc.integer({ min: 5, max: 100 }),
        fc.integer({ min: 10, max: 500 }),
        fc.double({ min: 1.76, max: 2, noNaN: true }),
        (seed, speedMmPerS, readingsPerS, hotendLimitMm) => {
          const random = seeded(seed);
          const made = generateStrand({
            seed,
            speedMmPerS,
            readingsPerS,
            lengthMm: Math.min(8000, (4000 * speedMmPerS) / readingsPerS),
            lumps: [{ atMm: 300, lengthMm: 20, heightMm: 0.3, shape: 'skew' }],
            glitchShare: 0.003,
          });
          const n = made.timeMs.length;
          const diameterMm = made.diameterMm.map((d) => (random() < 0.01 ? Number.NaN : d));
          const outOfRoundMm = diameterMm.map((d) => (d > 1.9 ? 0.1 * random() : 0.01 * random()));
          const gapMm = diameterMm.map(() => (random() < 0.0005 ? 30 * random() : 0));
          const limits = { ...USUAL_LIMITS, hotendLimitMm };
          const recorded = { timeMs: made.timeMs, gaugeMm: made.gaugeMm, diameterMm, outOfRoundMm, gapMm };
          const once = scan(recorded, limits);
          expect(scan(recorded, limits)).toEqual(once);
          const detector = new SectionDetector(limits, 1);
          const seen = new Map<number, MeasuredSection>();
          for (let i = 0; i < n; i++) {
            const sample = { ...plainContext(), gapMm: gapMm[i]!, outOfRoundMm: outOfRoundMm[i]! };
            for (const s of detector.step(made.timeMs[i]!, made.gaugeMm[i]!, diameterMm[i]!, sample))
              seen.set(s.ordinal, s);
            if (random() < 0.01) detector.open();
          }
          for (const s of detector.close(made.timeMs[n - 1]!)) seen.set(s.ordinal, s);
          expect([...seen.values()].sort((a, b) => a.ordinal - b.ordinal)).toEqual(once);
        },
      ),
      { seed: 7, numRuns: tries(40) },
    );
  });

  it('returns the same empty list while nothing changes', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 1);
    const first = detector.step(0, 0, 1.75, context);
    for (let i = 1; i < 1000; i++) expect(detector.step(i * 20, i * PITCH, 1.75, context)).toBe(first);
    expect(first).toEqual([]);
  });

  it('opens a blob at its second sample, reports when it becomes sure, and closes it once it has passed', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 12);
    const reported: [number, MeasuredSection][] = [];
    const diameters = [...good(30), 1.898, 1.899, 1.95, 1.89, ...good(30)];
    diameters.forEach((d, i) => {
      for (const s of detector.step(i * 20, i * PITCH, d, context)) reported.push([i, s]);
    });
    expect(reported.map(([i, s]) => [i, s.verdict, s.open])).toEqual([
      [31, 'doubtful', true],
      [32, 'discard', true],
      [48, 'discard', false],
    ]);
    expect(reported.every(([, s]) => s.ordinal === 12)).toBe(true);
  });

  it('extends an open section with the strand, and closes it when the run ends', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 1);
    for (let i = 0; i < 100; i++) detector.step(i * 20, i * PITCH, i < 50 ? 1.75 : 2, context);
    expect(detector.open()).toEqual([expect.objectContaining({ kind: 'blob', toMm: 99 * PITCH, open: true })]);
    expect(detector.close(2000)[0]).toMatchObject({ open: false });
    expect(detector.open()).toEqual([]);
  });

  it('marks what passed during a restart of the service as unknown', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 5);
    const [section] = detector.step(60_000, 9000, 1.75, { ...context, gapMm: 700 });
    expect(section).toMatchObject({
      ordinal: 5,
      kind: 'unknown',
      fromMm: 8300,
      toMm: 9000,
      fromTimeMs: 40_000,
      toTimeMs: 60_000,
    });
  });

  it('applies new limits from the next sample on', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 1);
    const opened = (from: number) => {
      const kinds: string[] = [];
      for (let i = from; i < from + 10; i++)
        for (const s of detector.step(i * 20, i * PITCH, 1.85, context)) kinds.push(s.kind);
      return kinds;
    };
    expect(opened(0)).toEqual([]);
    detector.setLimits({ ...USUAL_LIMITS, hotendLimitMm: 1.8 });
    expect(opened(10)).toContain('blob');
  });

  it('goes on after the strand has stood still for minutes, also if it is touched meanwhile', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 1);
    const found: MeasuredSection[] = [];
    let gaugeMm = 0;
    const read = (i: number, diameterMm: number, movedMm: number) => {
      gaugeMm += movedMm;
      found.push(...detector.step(i * 20, gaugeMm, diameterMm, context));
    };
    for (let i = 0; i < 200; i++) read(i, 1.75, PITCH);
    for (let i = 200; i < 9200; i++) read(i, i === 9000 ? 2.3 : 1.75, 0);
    expect(found).toEqual([]);
    for (let i = 9200; i < 9400; i++) read(i, i >= 9300 && i < 9303 ? 2.1 : 1.75, PITCH);
    expect(found.at(-1)).toMatchObject({ kind: 'blob', verdict: 'discard', open: false });
  });

  it('refuses arrays of unequal length', () => {
    expect(() => scan({ timeMs: [1, 2], gaugeMm: [1, 2], diameterMm: [1.75] })).toThrow(TypeError);
  });
});
