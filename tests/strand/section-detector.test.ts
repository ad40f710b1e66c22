import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { plainContext, SectionDetector } from '../../server/strand/section-detector.ts';
import { scanSections } from '../../server/strand/section-scan.ts';
import { normal, seeded } from '../chance.ts';
import { crossings, type GeneratedStrand, generateStrand, type Lump } from './generated-strand.ts';
import { USUAL_LIMITS } from './usual-limits.ts';

/** 35 mm/s at 50 readings/s: a pitch of 0.7 mm. */
const USUAL = { seed: 1, speedMmPerS: 35, readingsPerS: 50 };
const PITCH = 0.7;

const judge = (strand: GeneratedStrand, limits = USUAL_LIMITS, options: Parameters<typeof scanSections>[4] = {}) =>
  scanSections(strand.timeMs, strand.gaugeMm, strand.diameterMm, limits, options);

/** Samples at `pitchMm` whose diameters are given; 50 a second. */
function samples(diameters: readonly number[], pitchMm = PITCH) {
  return {
    timeMs: diameters.map((_, i) => 1_000_000 + i * 20),
    gaugeMm: diameters.map((_, i) => i * pitchMm),
    diameterMm: diameters,
  };
}

const judgeSamples = (diameters: readonly number[], pitchMm = PITCH) => {
  const { timeMs, gaugeMm, diameterMm } = samples(diameters, pitchMm);
  return scanSections(timeMs, gaugeMm, diameterMm, USUAL_LIMITS);
};

const good = (n: number) => Array.from({ length: n }, () => 1.75);

describe('a frozen gauge', () => {
  const noise = normal(seeded(3));
  const lively = (n: number) => Array.from({ length: n }, () => Math.round((1.75 + 0.01 * noise()) * 1000) / 1000);
  /** Twenty seconds with the same reading, on the limit of nothing, above the hotend limit, or off tolerance. */
  const frozenAt = (diameterMm: number) => [
    ...lively(1500),
    ...Array.from({ length: 1000 }, () => diameterMm),
    ...lively(1500),
  ];

  it.each([1.7501, 1.95, 1.82])('makes what passed unknown from its first repeated reading on: %f mm', (diameterMm) => {
    const unknown = judgeSamples(frozenAt(diameterMm)).filter((section) => section.kind === 'unknown');
    expect(unknown).toHaveLength(1);
    const [section] = unknown;
    expect(section).toMatchObject({ verdict: 'doubtful', open: false });
    expect(section!.fromMm).toBeCloseTo(1500 * PITCH, 6);
    expect(section!.toMm).toBeCloseTo(2500 * PITCH, 6);
    expect(section!.fromTimeMs).toBe(1_000_000 + 1500 * 20);
  });

  it('leaves no blob or stretch open behind it', () => {
    const other = judgeSamples(frozenAt(1.95)).filter((section) => section.kind !== 'unknown');
    expect(other.length).toBeGreaterThan(0);
    // Nothing but the unknown stretch goes on behind the moment at which it was told, ten seconds after it began.
    for (const section of other) expect(section.toMm).toBeLessThan((1500 + 510) * PITCH);
  });

  it('is not one while the same reading comes for seconds only', () => {
    const short = [...lively(1500), ...Array.from({ length: 300 }, () => 1.75), ...lively(500)];
    expect(judgeSamples(short)).toEqual([]);
  });
});

describe('blobs and necks', () => {
  it('are found where they are, with their peak, for discard', () => {
    const lumps: Lump[] = [
      { atMm: 3000, lengthMm: 12, heightMm: 0.25, shape: 'cosine' },
      { atMm: 6000, lengthMm: 20, heightMm: -0.25, shape: 'skew' },
    ];
    const sections = judge(generateStrand({ ...USUAL, lengthMm: 9000, lumps, noiseMm: 0.002 }));
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

  it('the volume beyond the limit is that of a flat-topped lump worked out by hand', () => {
    // 20 samples of 2.00 mm, 0.7 mm apart: π/4 · (2.00² − 1.90²) · length, flanks of one pitch counted by half.
    const sections = judgeSamples([...good(50), ...Array.from({ length: 20 }, () => 2), ...good(50)]);
    const area = (Math.PI / 4) * (2 ** 2 - 1.9 ** 2);
    const flank = PITCH * (0.1 / 0.25);
    expect(sections[0]?.volumeBeyondMm3).toBeCloseTo(area * (19 * PITCH + flank), 6);
  });

  it("none of a real blob's kind is missed at any speed and rate, and its edges are known to two centimetres and a sample", () => {
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
      const sections = judge(generateStrand({ seed, lengthMm, speedMmPerS, readingsPerS, lumps }));
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

  it('a good strand raises nothing: 700 m with a swinging loop and σ = 0.015 mm', () => {
    const strand = generateStrand({
      ...USUAL,
      seed: 21,
      lengthMm: 700_000,
      swingMm: 0.02,
    });
    expect(judge(strand)).toEqual([]);
  });

  it("are in doubt, not for discard, within the gauge's uncertainty of the limit", () => {
    const flat = (top: number) => [...good(40), 1.85, ...Array.from({ length: 12 }, () => top), 1.85, ...good(40)];
    expect(judgeSamples(flat(1.894))).toEqual([]);
    expect(judgeSamples(flat(1.898))[0]).toMatchObject({
      certainty: 'inDoubt',
      verdict: 'doubtful',
    });
    expect(judgeSamples(flat(1.904))[0]?.certainty).toBe('inDoubt');
    expect(judgeSamples(flat(1.906))[0]).toMatchObject({
      certainty: 'sure',
      verdict: 'discard',
    });
  });

  it('are one section when closer than a centimetre, and two when further apart', () => {
    const pair = (between: number) => [
      ...good(40),
      ...[1.95, 2, 1.95],
      ...good(between),
      ...[1.95, 2, 1.95],
      ...good(40),
    ];
    expect(judgeSamples(pair(8)).length).toBe(1);
    expect(judgeSamples(pair(25)).length).toBe(2);
  });

  it('stay sections of their own inside a stretch off tolerance', () => {
    const lumps: Lump[] = [{ atMm: 2500, lengthMm: 10, heightMm: 0.2, shape: 'cosine' }];
    const sections = judge(generateStrand({ ...USUAL, meanMm: 1.83, lengthMm: 5000, lumps }));
    expect(sections.map((s) => [s.kind, s.verdict])).toEqual([
      ['offTolerance', 'doubtful'],
      ['blob', 'discard'],
    ]);
  });
});

describe('a glitch of the gauge', () => {
  it('is no blob: one high sample on a strand that is even on both sides', () => {
    for (const height of [1.95, 2.4, 4.9]) expect(judgeSamples([...good(50), height, ...good(50)])).toEqual([]);
  });

  it('is no neck and no lost strand either', () => {
    for (const low of [1.3, 0.6, 0, 0.2]) expect(judgeSamples([...good(50), low, ...good(50)])).toEqual([]);
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
        const sections = judgeStrandOf(lump);
        expect(sections.length, `${shape} shifted by ${shift}`).toBe(1);
      }

    function judgeStrandOf(lump: Lump) {
      const strand = generateStrand({
        ...USUAL,
        seed: 5,
        lengthMm: 70,
        noiseMm: 0,
        lumps: [lump],
      });
      return judge(strand).filter((s) => s.kind === 'blob');
    }
  });

  it('counts as a blob where the pitch is so wide that a real one may be a single sample', () => {
    const [section] = judgeSamples([...good(50), 2, ...good(50)], 1.5);
    expect(section).toMatchObject({ kind: 'blob', verdict: 'discard' });
  });

  it('is only doubtful at a wide pitch where the second axis saw nothing', () => {
    const { timeMs, gaugeMm, diameterMm } = samples([...good(50), 2, ...good(50)], 1.5);
    const outOfRoundMm = diameterMm.map((d) => (d > 1.9 ? 0.5 : 0.01));
    const sections = scanSections(timeMs, gaugeMm, diameterMm, USUAL_LIMITS, {
      outOfRoundMm,
    });
    expect(sections[0]?.verdict).toBe('doubtful');
  });

  it('in a thousand makes no more false discards than one in a hundred of them', () => {
    const strand = generateStrand({
      ...USUAL,
      seed: 31,
      lengthMm: 140_000,
      glitchShare: 0.002,
    });
    expect(strand.glitches).toBeGreaterThan(300);
    const discards = judge(strand).filter((s) => s.verdict === 'discard');
    expect(discards.length).toBeLessThan(strand.glitches / 100);
  });
});

describe('long stretches', () => {
  it('off tolerance for longer than the set length is a doubtful section with its edges, shorter is none', () => {
    const at = (n: number) => {
      const diameters = Array.from({ length: 3000 }, (_, i) => (i >= 1000 && i < 1000 + n ? 1.82 : 1.75));
      return judgeSamples(diameters);
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

  it('too thin is found as well as too thick, and noise at the limit does not cut it to pieces', () => {
    const thin = judge(generateStrand({ ...USUAL, meanMm: 1.68, lengthMm: 20_000 }));
    expect(thin.map((s) => s.kind)).toEqual(['offTolerance']);
    expect(thin[0]?.peakMm).toBeLessThan(1.69);
  });

  it('a noisy strand just beyond its tolerance is one section, and one just within is none', () => {
    const near = (meanMm: number) => judge(generateStrand({ ...USUAL, seed: 8, meanMm, lengthMm: 50_000 }));
    expect(near(1.806).length).toBe(1);
    expect(near(1.784)).toEqual([]);
  });

  it('a stretch that comes back slowly ends where its mean is surely within again, not in the play behind', () => {
    // From 1.82 mm down to 1.75 mm over 140 mm: limit − U = 1.795 mm is passed 50 mm down, the play ends 10 mm further.
    const diameters = Array.from(
      { length: 2500 },
      (_, i) => 1.82 - 0.0005 * Math.min(140, Math.max(0, (i - 1500) * PITCH)),
    );
    const [section, ...others] = judgeSamples([...good(1000), ...diameters.slice(1000)]);
    expect(others).toEqual([]);
    expect(Math.abs((section?.toMm ?? 0) - (1500 * PITCH + 50))).toBeLessThan(2);
    expect((section?.toTimeMs ?? 0) - (section?.fromTimeMs ?? 0)).toBeCloseTo(
      (((section?.toMm ?? 0) - (section?.fromMm ?? 0)) / PITCH) * 20,
      0,
    );
  });

  it('a stretch that only trembles in the play behind it is one, and one that goes out again goes on', () => {
    const wave = Array.from({ length: 3000 }, (_, i) =>
      i < 500 || i > 2500 ? 1.75 : 1.8 + (Math.floor(i / 200) % 2 === 0 ? 0.01 : -0.008),
    );
    const sections = judgeSamples(wave);
    expect(sections.map((s) => s.kind)).toEqual(['offTolerance']);
    expect(Math.abs((sections[0]?.toMm ?? 0) - 2500 * PITCH)).toBeLessThan(160);
  });

  it('out of round is found where two axes are sent', () => {
    const { timeMs, gaugeMm, diameterMm } = samples(good(3000));
    const outOfRoundMm = gaugeMm.map((mm) => (mm > 700 && mm < 1400 ? 0.13 : 0.02));
    const sections = scanSections(timeMs, gaugeMm, diameterMm, USUAL_LIMITS, {
      outOfRoundMm,
    });
    expect(sections.length).toBe(1);
    expect(sections[0]).toMatchObject({
      kind: 'outOfRound',
      verdict: 'doubtful',
    });
    expect(Math.abs((sections[0]?.fromMm ?? 0) - 700)).toBeLessThan(10);
  });

  it('a strand that is too thick on one axis only is a blob: the bore passes no mean', () => {
    const { timeMs, gaugeMm, diameterMm } = samples(good(300).map((d, i) => (i > 100 && i < 110 ? 1.85 : d)));
    const outOfRoundMm = diameterMm.map((d) => (d > 1.8 ? 0.2 : 0));
    const sections = scanSections(timeMs, gaugeMm, diameterMm, USUAL_LIMITS, {
      outOfRoundMm,
    });
    expect(sections[0]).toMatchObject({ kind: 'blob', verdict: 'discard' });
    expect(sections[0]?.peakMm).toBeCloseTo(1.95, 9);
  });
});

describe('what was not measured', () => {
  it('is unknown, never good: no value for a stretch', () => {
    const sections = judgeSamples([...good(100), ...Array.from({ length: 20 }, () => Number.NaN), ...good(100)]);
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

  it('one reading without a value is no stretch', () => {
    expect(judgeSamples([...good(50), Number.NaN, ...good(50)])).toEqual([]);
  });

  it('is unknown where no reading came', () => {
    const strand = samples(good(400));
    const gapMm = strand.gaugeMm.map((_, i) => (i === 200 ? 300 : 0));
    const gaugeMm = strand.gaugeMm.map((mm, i) => (i >= 200 ? mm + 300 : mm));
    const sections = scanSections(strand.timeMs, gaugeMm, strand.diameterMm, USUAL_LIMITS, { gapMm });
    expect(sections.map((s) => [s.kind, s.fromMm, s.toMm])).toEqual([['unknown', 200 * PITCH, 200 * PITCH + 300]]);
  });

  it('is told from times and lengths where gaps were not recorded', () => {
    const strand = samples(good(400));
    const late = strand.timeMs.map((t, i) => (i >= 200 ? t + 5000 : t));
    const further = strand.gaugeMm.map((mm, i) => (i >= 200 ? mm + 175 : mm));
    const sections = scanSections(late, further, strand.diameterMm, USUAL_LIMITS);
    expect(sections.map((s) => s.kind)).toEqual(['unknown']);
  });

  it('a blob that runs into a gap ends at its last sample, and goes on being one after it', () => {
    const strand = samples([...good(50), ...Array.from({ length: 20 }, () => 2), ...good(50)]);
    const gapMm = strand.gaugeMm.map((_, i) => (i === 60 ? 100 : 0));
    const gaugeMm = strand.gaugeMm.map((mm, i) => (i >= 60 ? mm + 100 : mm));
    const sections = scanSections(strand.timeMs, gaugeMm, strand.diameterMm, USUAL_LIMITS, { gapMm });
    expect(sections.map((s) => s.kind)).toEqual(['blob', 'unknown', 'blob']);
  });

  it('a lost strand is a section to discard from where it broke to where it is back, and no neck', () => {
    const sections = judgeSamples([...good(100), 0.9, ...Array.from({ length: 200 }, () => 0), ...good(100)]);
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
      // Whoever feeds batches looks at what is open between them.
      if (--left <= 0) {
        for (const s of detector.open()) seen.set(s.ordinal, s);
        left = batches();
      }
    }
    for (const s of detector.close(strand.timeMs.at(-1) as number)) seen.set(s.ordinal, s);
    return [...seen.values()];
  }

  it('the result does not depend on how the stream is split into batches, and is that of the record', () => {
    const whole = judge(strand);
    expect(whole.length).toBeGreaterThan(3);
    fc.assert(
      fc.property(fc.integer(), (seed) => {
        const random = seeded(seed);
        expect(live(() => 1 + Math.floor(random() ** 3 * 5000))).toEqual(whole);
      }),
      { seed: 1, numRuns: 8 },
    );
  });

  it('judging twice gives the same', () => {
    expect(judge(strand)).toEqual(judge(strand));
  });

  it('judging twice gives the same, and the same as live, of any strand, at any speed and rate, with holes, glitches and two axes', () => {
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
          const options = { outOfRoundMm, gapMm };
          const once = scanSections(made.timeMs, made.gaugeMm, diameterMm, limits, options);
          expect(scanSections(made.timeMs, made.gaugeMm, diameterMm, limits, options)).toEqual(once);
          const detector = new SectionDetector(limits, 1);
          const seen = new Map<number, MeasuredSection>();
          for (let i = 0; i < n; i++) {
            const given = { ...plainContext(), gapMm: gapMm[i]!, outOfRoundMm: outOfRoundMm[i]! };
            for (const s of detector.step(made.timeMs[i]!, made.gaugeMm[i]!, diameterMm[i]!, given))
              seen.set(s.ordinal, s);
            if (random() < 0.01) detector.open();
          }
          for (const s of detector.close(made.timeMs[n - 1]!)) seen.set(s.ordinal, s);
          expect([...seen.values()].sort((a, b) => a.ordinal - b.ordinal)).toEqual(once);
        },
      ),
      { seed: 7, numRuns: 40 },
    );
  });

  it('gives the very same empty list while nothing changes', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 1);
    const first = detector.step(0, 0, 1.75, context);
    for (let i = 1; i < 1000; i++) expect(detector.step(i * 20, i * PITCH, 1.75, context)).toBe(first);
    expect(first).toEqual([]);
  });

  it('opens a blob by its second sample, tells when it becomes sure, and closes it when it is past', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 12);
    const told: [number, MeasuredSection][] = [];
    const diameters = [...good(30), 1.898, 1.899, 1.95, 1.89, ...good(30)];
    diameters.forEach((d, i) => {
      for (const s of detector.step(i * 20, i * PITCH, d, context)) told.push([i, s]);
    });
    expect(told.map(([i, s]) => [i, s.verdict, s.open])).toEqual([
      [31, 'doubtful', true],
      [32, 'discard', true],
      [48, 'discard', false],
    ]);
    expect(told.every(([, s]) => s.ordinal === 12)).toBe(true);
  });

  it('the open section grows with the strand, and the end of the run closes it', () => {
    const detector = new SectionDetector(USUAL_LIMITS, 1);
    for (let i = 0; i < 100; i++) detector.step(i * 20, i * PITCH, i < 50 ? 1.75 : 2, context);
    expect(detector.open()).toEqual([expect.objectContaining({ kind: 'blob', toMm: 99 * PITCH, open: true })]);
    expect(detector.close(2000)[0]).toMatchObject({ open: false });
    expect(detector.open()).toEqual([]);
  });

  it('after a restart of the service what passed meanwhile is unknown', () => {
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

  it('new limits hold from the next sample on', () => {
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

  it("arrays of unequal length are a programmer's error", () => {
    expect(() => scanSections([1, 2], [1, 2], [1.75], USUAL_LIMITS)).toThrow(TypeError);
  });
});
