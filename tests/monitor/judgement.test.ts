import { describe, expect, it } from 'vitest';
import { settingsOf } from '../../server/monitor/run/run-settings.ts';
import { strandMass } from '../../server/monitor/spool/judgement.ts';
import type { StatedSection } from '../../server/strand/section.ts';
import { DETECTOR_VERSION } from '../../server/strand/section-detector.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';
import { blob, judged } from './judged-spool.ts';

const stated = (id: number, more: Partial<StatedSection>): StatedSection => ({
  id,
  measuredOrdinal: null,
  fromMm: 0,
  toMm: 0,
  verdict: 'discard',
  note: '',
  removed: false,
  atTimeMs: 1e12,
  about: null,
  ...more,
});

it('follows the density from a weighing: 1 kg on 335.28 m of 1.75 mm is 1.24 g/cm³', () => {
  // Common practice, no source: the length of a kilogram of this plastic, which every maker knows. By hand: ρ = m / (π/4 · d² · L).
  const weighing = { grossG: 1200, tareG: 200, uncertaintyG: 2, atMs: 0, who: 'Kim' };
  const spool = { ...judged({ weighing }), woundMm: 335_280 };
  const { densityGPerCm3, share } = strandMass(spool, 1.75);
  expect(densityGPerCm3).toBeCloseTo(1.24, 4);
  expect(share).toBe(0.002);
});

describe('the judgement of a spool', () => {
  it('keeps statements about strand whose readings were lost in a crash, but none about the next spool', () => {
    const recorded = [blob(1, 0, 900), blob(2, 1500, 1600), blob(3, 40_900, 41_100), blob(4, 41_050, 41_100)];
    const { sections } = judged({
      recorded: [...recorded, blob(5, 41_200, 41_250)],
      stated: [
        stated(1, { fromMm: 41_050, toMm: 41_120 }),
        stated(2, { fromMm: 42_000, toMm: 42_100 }),
        stated(3, { measuredOrdinal: 5, fromMm: 41_200, toMm: 41_260 }),
      ],
    });
    expect(sections.map(({ id }) => id)).toEqual(['m2', 'm3', 'p1', 'm5']);
  });

  it('keeps a spool whole if nothing must be discarded, and has no plan for an empty one', () => {
    expect(judged()).toMatchObject({
      kept: { keptMm: 40_000, coils: 1 },
      verdict: { fitness: 'fit', afterCutting: null },
    });
    const short = judged({ endGaugeMm: 1200 });
    expect(short).toMatchObject({ kept: { keptMm: 200, coils: 1 }, verdict: { fitness: 'fit' } });
    expect(judged({ endGaugeMm: 1000 })).toMatchObject({ plan: null, kept: null, verdict: null, woundMm: 0 });
  });

  it('gives no verdict for other limits after readings were deleted', () => {
    const { verdict, warnings } = judged({ recorded: [blob(1, 5000, 5020)] }, 'otherLimits');
    expect(verdict).toMatchObject({
      fitness: 'unknown',
      sentence: expect.stringContaining('its single readings were deleted'),
    });
    expect(warnings[0]).toBe(verdict?.sentence);
  });

  it('keeps coil names with their strand, whatever the plan calls them', () => {
    const recorded = [blob(1, 15_000, 15_020), blob(2, 30_000, 30_020)];
    const middle = judged({ recorded }).plan?.coils[1];
    if (middle === undefined) throw new Error('The plan has no second coil.');
    const place = { fromGaugeMm: 1000 + middle.fromMm, toGaugeMm: 1000 + middle.toMm };
    const coilNames = [{ id: 1, coil: 2, name: 'Middle', place }];
    expect(judged({ recorded, coilNames }).plan).toMatchObject({
      coils: [{ name: 'R1-1 A' }, { name: 'Middle' }, { name: 'R1-1 C' }],
    });
    // Without the outer blob, its strand is part of the first coil.
    const fewer = judged({ recorded: recorded.slice(0, 1), coilNames }).plan;
    expect(fewer?.coils.map(({ name }) => name)).toEqual(['Middle', 'R1-1 B']);
    expect(fewer?.steps.find(({ coil }) => coil === 'Middle')?.sentence).toContain('coil Middle');
  });

  it('leaves cuts at their place when the length is corrected or sections change', () => {
    const recorded = [blob(1, 15_000, 15_020)];
    const place = {
      fromGaugeMm: 41_000,
      toGaugeMm: 31_000,
      knownToGaugeMm: 41_000,
      lengthFactor: 1,
    };
    const kept = { id: 1, action: 'keep', countedMm: 10_000, landmarkCountedMm: null, reachedEnd: false } as const;
    const cuts = [{ ...kept, atMs: 0, who: 'test', place }];
    const pieceOf = (more: Parameters<typeof judged>[0]) => judged({ recorded, cuts, ...more }).plan?.donePieces[0];
    expect(pieceOf({})).toMatchObject({ fromMm: 30_000, toMm: 40_000, condition: 'clean' });
    const scale = { factor: 1.02, share: 0.001 };
    expect(pieceOf({ scale })).toMatchObject({ fromMm: 30_800, toMm: 40_800 });
    // The strand is shorter than counted, so the 10 m that came off reach further in and include the blob.
    const short = { scale: { factor: 0.6, share: 0.001 }, recorded: [blob(1, 26_000, 26_020)] };
    expect(pieceOf(short)).toMatchObject({ fromMm: 14_000, toMm: 24_000, condition: 'spoilt' });
    expect(pieceOf({ stated: [stated(1, { fromMm: 35_000, toMm: 35_100 })] })).toMatchObject({ condition: 'spoilt' });
  });

  it('leaves impossible cuts out of the plan and says why', () => {
    const cut = { id: 1, action: 'keep', countedMm: 90_000, landmarkCountedMm: null, reachedEnd: false } as const;
    const { plan, warnings } = judged({ cuts: [{ ...cut, atMs: 0, who: 'test', place: null }] });
    expect(plan?.donePieces).toEqual([]);
    expect(warnings.join(' ')).toContain('do not fit this spool');
  });
});

describe('the settings under which a spool was wound', () => {
  const at = (fromGaugeMm: number, more: object = {}) => ({
    fromGaugeMm,
    limits: USUAL_LIMITS,
    gaugeToWinderMm: 1000,
    densityGPerCm3: 1.24,
    detectorVersion: DETECTOR_VERSION,
    ...more,
  });
  const other = { limits: { ...USUAL_LIMITS, hotendLimitMm: 1.95 } };

  it.each([
    ['one setting', [at(0)], true],
    ['a new path, which does not affect sections', [at(0), at(5000, { gaugeToWinderMm: 900 })], true],
    ['other limits before it started', [at(0, other), at(1500)], true],
    ['other limits after it ended', [at(0), at(9500, other)], true],
    ['other limits in between', [at(0), at(4000, other), at(5000)], false],
    ['another version of the detector', [at(0, { detectorVersion: DETECTOR_VERSION + 1 })], false],
    ['no stored settings', [], false],
  ])('show whether its sections were found with them: %s', (_what, stored, foundByThese) => {
    expect(settingsOf(2000, 9000, stored, at(0)).foundByThese).toBe(foundByThese);
  });
});
