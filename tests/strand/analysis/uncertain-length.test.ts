import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { lengthScaleOf } from '../../../server/monitor/spool/length-service.ts';
import { lengthDoubts, type TravelColumns } from '../../../server/strand/length-doubts.ts';
import { keptBy, planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest } from '../../../server/strand/plan/cut-request.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { tries } from '../../long-check.ts';

const WOUND_MM = 100_000;
const request = (blobsMm: readonly number[], uncertain: CutRequest['uncertain'] = []): CutRequest => ({
  spoolName: 'R1-1',
  woundMm: WOUND_MM,
  stretches: blobsMm.map((mm) => ({ fromMm: mm, toMm: mm + 20, fate: 'discard', kind: 'blob', peakAtMm: mm + 10 })),
  shortestCoilMm: 5000,
  objective: 'mostLength',
  doubtful: 'cut',
  unknown: 'cut',
  countError: { wheelShare: 0, lengthScaleShare: 0, slipMm: 26 },
  uncertain,
});

describe('the plan of a spool on which counter and speed disagreed', () => {
  it('says where, and by how much places may be off', () => {
    const { warnings } = planCuts(request([20_000], [{ fromMm: 50_000, toMm: 60_000, offMm: 3000 }]));
    expect(warnings).toEqual([
      'Between 40.00 m and 50.00 m from the outer end, the length counter and the speed disagreed: places there and further in may be off by up to 3.00 m. The cut list allows for that until you confirm a landmark further in.',
    ]);
    const two = [
      { fromMm: 10_000, toMm: 20_000, offMm: 400 },
      { fromMm: 50_000, toMm: 60_000, offMm: 3000 },
    ];
    const places = planCuts(request([], two)).warnings.map((text) => text.split(' from the outer end')[0]);
    expect(places).toEqual(['Between 40.00 m and 50.00 m', 'Between 80.00 m and 90.00 m']);
  });

  it('moves the cuts beyond it away by that much, and leaves those before it unchanged', () => {
    const uncertain = [{ fromMm: 50_000, toMm: 60_000, offMm: 3000 }];
    const ends = (blobMm: number, of: CutRequest['uncertain']) => planCuts(request([blobMm], of)).steps[0]?.fromMm;
    expect(ends(20_000, uncertain)).toBe((ends(20_000, []) ?? 0) + 3000);
    expect(ends(80_000, uncertain)).toBe(ends(80_000, []));
    // A landmark on it ends the doubt about what is further in.
    const steps = (of: CutRequest['uncertain']) => planCuts(request([55_000, 20_000], of)).steps;
    expect(steps([{ ...uncertain[0]!, fromMm: 56_000 }])[2]?.fromMm).toBe(steps([])[2]?.fromMm);
    const coil = planCuts({ ...request([20_000], uncertain), densityGPerCm3: 1.24, meanDiameterMm: 1.75 }).coils[0]!;
    expect(coil.lengthUncertaintyMm).toBe(3000);
    expect(coil.gramsUncertainty! / coil.grams!).toBeCloseTo(3000 / coil.lengthMm, 9);
  });

  it('trusts a landmark more than the count', () => {
    // By the count the blob at 49 m, where the strand is still certain, passed 2.5 m too late: so the cut was earlier.
    const asked = request([51_000], [{ fromMm: 40_000, toMm: 50_000, offMm: 3000 }]);
    const done: DoneCut[] = [
      { action: 'keep', countedMm: 20_000 },
      { action: 'discard', countedMm: 32_000, landmarkCountedMm: 31_500 },
    ];
    expect(planCuts(asked, done).donePieces[1]).toMatchObject({ fromOuterMm: 48_990 - 31_500, knownToMm: 48_990 });
  });

  it('never calls a coil with a blob clean, whatever the true length of that strand', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 0, max: WOUND_MM - 30 }), { maxLength: 6 }),
        fc.integer({ min: 0, max: 80_000 }),
        fc.integer({ min: 1000, max: 19_000 }),
        fc.integer({ min: 100, max: 9000 }),
        fc.double({ min: -1, max: 1, noNaN: true }),
        fc.integer({ min: -2500, max: 2500 }),
        (blobsMm, innerMm, longMm, offMm, share, overshootMm) => {
          // A stretch cannot be shorter than zero.
          const off = Math.max(-longMm, share * offMm);
          const asked = request(blobsMm, [{ fromMm: innerMm, toMm: innerMm + longMm, offMm }]);
          const trueFromOuter = (outerMm: number) => {
            const intoMm = outerMm - (WOUND_MM - innerMm - longMm);
            return outerMm + off * Math.min(1, Math.max(0, intoMm / longMm));
          };
          const trulyWound = trueFromOuter(WOUND_MM);
          const blobs = blobsMm.map((mm) => trueFromOuter(WOUND_MM - mm - 10));
          const done: DoneCut[] = [];
          const cutAt = [0];
          let plan = planCuts(asked);
          while (plan.steps[0]?.cutAfter && done.length < 30) {
            const [step] = plan.steps;
            const countedMm = Math.max(0, step.countedMm + (done.length === 1 ? overshootMm : 0));
            if ((cutAt.at(-1) ?? 0) + countedMm >= trulyWound) break;
            cutAt.push((cutAt.at(-1) ?? 0) + countedMm);
            done.push({ action: step.action === 'discard' ? 'discard' : 'keep', countedMm });
            plan = planCuts(asked, done);
          }
          cutAt.push(trulyWound);
          const clean = [
            ...plan.donePieces.map(({ keep, condition }) => keep && condition === 'clean'),
            plan.steps[0]?.action === 'unwindAndKeep' && !plan.steps[0].cutAfter,
          ];
          clean.forEach((isClean, i) => {
            if (!isClean) return;
            for (const blob of blobs) expect(blob > cutAt[i]! && blob < cutAt[i + 1]!).toBe(false);
          });
        },
      ),
      { numRuns: tries(400) },
    );
  });
});

it('states the totals of a plan, and the error of each coil from the length scale and from what is uncertain in it', () => {
  const countError = { wheelShare: 0, lengthScaleShare: 0.02, slipMm: 26 };
  const plan = planCuts({ ...request([40_000], [{ fromMm: 60_000, toMm: 70_000, offMm: 500 }]), countError });
  const { totals, coils } = plan;
  expect(totals.keptMm + totals.discardedMm).toBeCloseTo(WOUND_MM, 6);
  // A blob of 20 mm; the rest of what is cut out is its margin.
  expect(totals.goodDiscardedMm).toBeCloseTo(totals.discardedMm - 20, 6);
  expect(totals.goodDiscardedMm).toBeGreaterThan(0);
  const [outer, inner] = coils;
  expect(outer!.lengthUncertaintyMm).toBeCloseTo(0.02 * outer!.lengthMm + 500, 6);
  expect(inner!.lengthUncertaintyMm).toBeCloseTo(0.02 * inner!.lengthMm, 6);
  const lengths = coils.map(({ lengthMm }) => lengthMm);
  expect(keptBy(plan)).toEqual({ keptMm: totals.keptMm, coils: 2, longestCoilMm: Math.max(...lengths) });
  const spoilt = { ...plan, coils: coils.map((coil) => ({ ...coil, condition: 'spoilt' as const })) };
  expect(keptBy(spoilt)).toEqual({ keptMm: totals.keptMm, coils: 0, longestCoilMm: 0 });
});

it('takes no tape for more exact than the best class of them', () => {
  // Directive 2014/32/EU, annex X (MI-008), class I: a + bL with a = 0.1 mm and b = 0.1 mm a metre.
  const shareOf = (uncertaintyMm: number) =>
    lengthScaleOf({ measuredMm: 9000, indicatedMm: 9000, uncertaintyMm, atMs: 0, who: '' }).share;
  expect([0, 0.5, 18].map(shareOf)).toEqual([1 / 9000, 1 / 9000, 0.002]);
});

describe('doubts about length from counter and speed', () => {
  /** Columns of 1.5 m at 30 mm/s and 50 readings a second. */
  const columns = (
    change: (i: number) => { counted?: number; speed?: number | null; pauseS?: number; stuck?: boolean },
  ) => {
    const made = { count: [], timeMs: [], gaugeMm: [], speedMmPerS: [], counterMm: { min: [], max: [] } } as {
      [Key in keyof Omit<TravelColumns, 'counterMm'>]: (number | null)[];
    } & { counterMm: { min: number[]; max: number[] } };
    let [ms, mm] = [0, 0];
    for (let i = 0; i < 20; i++) {
      const { counted = 1500, speed = 30, pauseS = 0, stuck = false } = change(i);
      made.count.push(2500);
      made.timeMs.push(ms);
      made.gaugeMm.push(mm);
      made.speedMmPerS.push(speed);
      made.counterMm.min.push(mm);
      made.counterMm.max.push(stuck ? mm : mm + counted);
      ms += (50 + pauseS) * 1000;
      mm += counted;
    }
    return made as unknown as TravelColumns;
  };

  it('finds none while both agree, or if no speed is sent', () => {
    expect(lengthDoubts(columns(() => ({})))).toEqual([]);
    expect(lengthDoubts(columns(() => ({ counted: 1400 })))).toEqual([]);
    expect(lengthDoubts(columns(() => ({ counted: 700, speed: null })))).toEqual([]);
  });

  it('finds the stretch where a roller slipped, and all that is missing', () => {
    const slipped = columns((i) => (i >= 8 && i < 12 ? { counted: 900 } : {}));
    expect(lengthDoubts(slipped)).toEqual([{ fromMm: 7 * 1500, toMm: 9 * 1500 + 4 * 900, offMm: 2400 }]);
  });

  it('finds the stretch where the counter ran too fast, or stood still', () => {
    expect(lengthDoubts(columns((i) => (i === 8 ? { counted: 3000 } : {})))[0]?.offMm).toBe(1500);
    expect(lengthDoubts(columns((i) => (i === 8 ? { stuck: true } : {})))[0]?.offMm).toBe(1500);
  });

  it('finds none where readings are missing, whether or not the strand moved meanwhile', () => {
    expect(lengthDoubts(columns((i) => (i === 8 ? { pauseS: 600 } : {})))).toEqual([]);
    expect(lengthDoubts(columns((i) => (i === 8 ? { pauseS: 600, counted: 19_500 } : {})))).toEqual([]);
  });
});
