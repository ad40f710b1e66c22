import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Problem } from '../../../server/problem/problem.ts';
import { type CutPlan, planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { CutPlace, DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { mapSpool } from '../../../server/strand/plan/spool-map.ts';

const fate = fc.constantFrom<PlanStretch['fate']>('discard', 'doubtful', 'unknown');

function requests(woundMm: fc.Arbitrary<number>, longestBad: number, shortest: fc.Arbitrary<number>, slip: number) {
  return woundMm.chain((wound) =>
    fc.record({
      spoolName: fc.constant('S1'),
      woundMm: fc.constant(wound),
      stretches: fc.array(
        fc
          .tuple(fc.integer({ min: 0, max: wound }), fc.integer({ min: 0, max: longestBad }), fate)
          .map(([fromMm, length, f]): PlanStretch => ({ fromMm, toMm: Math.min(wound, fromMm + length), fate: f })),
        { maxLength: 8 },
      ),
      shortestCoilMm: shortest,
      objective: fc.constantFrom<CutRequest['objective']>('mostLength', 'fewestCuts'),
      leastKeptShare: fc.constantFrom(0.5, 0.9, 1),
      doubtful: fc.constantFrom<CutRequest['doubtful']>('keep', 'cut'),
      unknown: fc.constantFrom<CutRequest['unknown']>('keep', 'cut'),
      countError: fc.record({
        wheelShare: fc.constantFrom(0, 0.005, 0.01, 0.1),
        lengthScaleShare: fc.constantFrom(0, 0.01, 0.1),
        slipMm: fc.integer({ min: 0, max: slip }),
      }),
    }),
  );
}

const large = requests(fc.integer({ min: 1, max: 400_000 }), 20_000, fc.integer({ min: 1, max: 60_000 }), 50);
const small = requests(fc.integer({ min: 1, max: 11 }), 3, fc.integer({ min: 1, max: 4 }), 1);

function placeOf({ donePieces }: CutPlan, i: number): CutPlace {
  const { fromOuterMm, toOuterMm, knownToMm, knownAfterMm } = donePieces[i]!;
  return { fromMm: fromOuterMm, toMm: toOuterMm, knownToMm, knownAfterMm };
}

function isBad(request: CutRequest, f: PlanStretch['fate']): boolean {
  return f === 'discard' || request[f] === 'cut';
}

describe('a cut plan', () => {
  it('never keeps a bad stretch', () => {
    fc.assert(
      fc.property(large, (request) => {
        for (const coil of planCuts(request).coils)
          for (const stretch of request.stretches)
            if (isBad(request, stretch.fate))
              expect(stretch.toMm <= coil.fromMm || stretch.fromMm >= coil.toMm).toBe(true);
      }),
      { numRuns: 250 },
    );
  });

  it('accounts for every millimetre: kept + discarded + unknown = wound, and its steps have no gaps', () => {
    fc.assert(
      fc.property(large, (request) => {
        const plan = planCuts(request);
        const { keptMm, discardedMm, unknownMm, woundMm } = plan.totals;
        expect(keptMm + discardedMm + unknownMm).toBe(Math.round(request.woundMm));
        expect(Math.min(keptMm, discardedMm, unknownMm)).toBeGreaterThanOrEqual(0);
        let at = 0;
        for (const step of plan.steps) {
          expect(step.fromOuterMm).toBe(at);
          expect(step.toOuterMm - at).toBe(step.countedMm);
          expect(step.fromMm).toBe(woundMm - step.toOuterMm);
          at = step.toOuterMm;
        }
        expect(at).toBe(woundMm);
        expect(plan.totals.cuts).toBe(plan.steps.length - 1);
        const lengths = plan.coils.map(({ lengthMm }) => lengthMm);
        // A spool without bad stretches stays whole, however short.
        if (mapSpool(request).badStretches.length === 0) expect(lengths).toEqual([woundMm]);
        else for (const lengthMm of lengths) expect(lengthMm).toBeGreaterThanOrEqual(request.shortestCoilMm);
      }),
      { numRuns: 250 },
    );
  });

  it('is as good as the best of all sets of cuts', () => {
    fc.assert(
      fc.property(small, (request) => {
        const plan = planCuts(request);
        // A spool without bad stretches is kept whole.
        if (mapSpool(request).badStretches.length === 0) {
          expect(plan.coils.map(({ lengthMm }) => lengthMm)).toEqual([request.woundMm]);
          return;
        }
        const all = everyChoice(request);
        const most = Math.max(...all.map((c) => c.kept));
        const wanted =
          request.objective === 'mostLength'
            ? all.filter((c) => c.kept === most)
            : all.filter((c) => c.kept >= request.leastKeptShare * most);
        const cuts = Math.min(...wanted.map((c) => c.cuts));
        const kept = Math.max(...wanted.filter((c) => c.cuts === cuts).map((c) => c.kept));
        expect({ kept: plan.coils.reduce((sum, coil) => sum + coil.lengthMm, 0), cuts: plan.totals.cuts }).toEqual({
          kept,
          cuts,
        });
      }),
      { numRuns: 400 },
    );
  });

  it('keeps its coils clean for every possible error of the count', () => {
    const errors = fc.array(
      fc.tuple(fc.double({ min: -1, max: 1, noNaN: true }), fc.double({ min: -1, max: 1, noNaN: true })),
      {
        minLength: 40,
        maxLength: 40,
      },
    );
    fc.assert(
      fc.property(large, errors, (request, signs) => {
        const { wheelShare, lengthScaleShare, slipMm } = request.countError;
        const badStretches = mapSpool(request).badStretches;
        let known = 0;
        planCuts(request).steps.forEach((step, i) => {
          const [scale, slip] = signs[i % signs.length]!;
          const trueAt = (place: number): number =>
            place === 0 || place === Math.round(request.woundMm)
              ? place
              : known + (place - known) * (1 + scale * (wheelShare + lengthScaleShare)) + slip * slipMm;
          if (step.action === 'unwindAndKeep') {
            for (const bad of badStretches) {
              if (bad.fromMm >= step.toOuterMm) expect(trueAt(step.toOuterMm)).toBeLessThanOrEqual(bad.fromMm + 1e-6);
            }
          } else {
            for (const bad of badStretches)
              if (bad.toMm <= step.toOuterMm) expect(trueAt(step.toOuterMm)).toBeGreaterThanOrEqual(bad.toMm - 1e-6);
            for (const bad of badStretches) if (bad.toMm <= step.toOuterMm) known = Math.max(known, bad.seenToMm ?? 0);
          }
        });
      }),
      { numRuns: 250 },
    );
  });
});

describe('a plan after cuts', () => {
  const cuts: fc.Arbitrary<DoneCut[]> = fc.array(
    fc.record({
      action: fc.constantFrom<DoneCut['action']>('keep', 'discard'),
      countedMm: fc.integer({ min: 0, max: 30_000 }),
    }),
    { maxLength: 6 },
  );
  const atTheRewinder: fc.Arbitrary<Tick[]> = fc.array(
    fc.record({
      offMm: fc.oneof(fc.constant(0), fc.integer({ min: -400, max: 400 })),
      landmarkOffMm: fc.option(fc.oneof(fc.constant(0), fc.integer({ min: -60, max: 60 }))),
    }),
    { maxLength: 8 },
  );
  const enough = requests(fc.integer({ min: 200_000, max: 400_000 }), 20_000, fc.integer({ min: 1, max: 60_000 }), 50);

  it('is the same when made again, and undoing a cut restores the plan from before it', () => {
    fc.assert(
      fc.property(enough, cuts, (request, done) => {
        const plan = planCuts(request);
        const once = planCuts(plan.request, done);
        expect(planCuts(once.request, done)).toEqual(once);
        expect(planCuts(once.request, done.slice(0, -1))).toEqual(planCuts(plan.request, done.slice(0, -1)));
        expect(planCuts(once.request, [])).toEqual(plan);
      }),
      { numRuns: 200 },
    );
  });

  it('stays the same plan while the steps are done as planned', () => {
    fc.assert(
      fc.property(enough, (request) => {
        // The fewest cuts for a share of the remaining strand may differ from those for the whole.
        const plan = planCuts({ ...request, objective: 'mostLength' });
        const done = plan.steps.map(
          (step): DoneCut => ({ action: step.action === 'discard' ? 'discard' : 'keep', countedMm: step.countedMm }),
        );
        for (let k = 1; k <= done.length; k++) {
          const after = planCuts(plan.request, done.slice(0, k));
          expect(after.totals).toEqual(plan.totals);
          expect(after.steps.map((s) => s.toOuterMm)).toEqual(plan.steps.slice(k).map((s) => s.toOuterMm));
          expect(after.coils.map((c) => [c.name, c.fromMm, c.toMm])).toEqual(
            plan.coils.map((c) => [c.name, c.fromMm, c.toMm]),
          );
          expect(after.coils.every((c) => c.condition === 'clean')).toBe(true);
        }
      }),
      { numRuns: 200 },
    );
  });

  it('is the same from the places of cuts as from their counts', () => {
    fc.assert(
      fc.property(enough, cuts, (request, done) => {
        const byCount = planCuts(request, done);
        const placed = done.map((cut, i): DoneCut => ({ ...cut, placed: placeOf(byCount, i) }));
        expect({ ...planCuts(request, placed), done }).toEqual(byCount);
      }),
      { numRuns: 300 },
    );
  });

  it('is the same from places stored at each cut, with landmarks seen, as from counts', () => {
    fc.assert(
      fc.property(enough, atTheRewinder, (request, ticks) => {
        const done = tickedOff(request, ticks);
        expect({ ...planCuts(request, placedOneByOne(request, done)), done }).toEqual(planCuts(request, done));
      }),
      { numRuns: 300 },
    );
  });

  it('leaves cuts in place, whatever is found or stated later', () => {
    fc.assert(
      fc.property(enough, enough, atTheRewinder, (request, { stretches }, ticks) => {
        const placed = placedOneByOne(request, tickedOff(request, ticks));
        const places = ({ donePieces }: CutPlan) =>
          donePieces.map(({ fromMm, toMm, knownToMm, knownAfterMm }) => [fromMm, toMm, knownToMm, knownAfterMm]);
        expect(places(planCuts({ ...request, stretches }, placed))).toEqual(places(planCuts(request, placed)));
      }),
      { numRuns: 300 },
    );
  });

  it('accounts for every millimetre and counts no spoilt coil as kept, whatever was cut', () => {
    fc.assert(
      fc.property(enough, cuts, (request, done) => {
        const plan = planCuts(request, done);
        const { keptMm, discardedMm, unknownMm, woundMm } = plan.totals;
        expect(keptMm + discardedMm + unknownMm).toBe(woundMm);
        for (const coil of plan.coils) {
          if (coil.condition === 'spoilt') continue;
          for (const s of request.stretches)
            if (isBad(request, s.fate) && s.toMm > s.fromMm)
              expect(s.toMm <= coil.fromMm || s.fromMm >= coil.toMm).toBe(true);
        }
      }),
      { numRuns: 200 },
    );
  });
});

/** How a user makes the next cut: errors of the count and of the landmark. */
interface Tick {
  readonly offMm: number;
  readonly landmarkOffMm: number | null;
}

/** The cuts of a user who follows the plan roughly; impossible cuts are left out. */
function tickedOff(request: CutRequest, ticks: readonly Tick[]): DoneCut[] {
  const done: DoneCut[] = [];
  for (const { offMm, landmarkOffMm } of ticks) {
    const step = planCuts(request, done).steps[0];
    if (step === undefined) break;
    const countedMm = Math.max(0, step.countedMm + offMm);
    const passedMm = (step.landmark?.peakAtOuterMm ?? 0) - step.fromOuterMm + (landmarkOffMm ?? 0);
    const seen = step.landmark !== null && landmarkOffMm !== null && passedMm >= 0 && passedMm <= countedMm;
    done.push({
      action: step.action === 'discard' ? 'discard' : 'keep',
      countedMm,
      ...(seen ? { landmarkCountedMm: passedMm } : {}),
      ...(step.cutAfter ? {} : { reachedEnd: true }),
    });
    try {
      planCuts(request, done);
    } catch (thrown) {
      if (!(thrown instanceof Problem)) throw thrown;
      done.pop();
      break;
    }
  }
  return done;
}

/** The cuts as they are stored: each with the place found when it was ticked off. */
function placedOneByOne(request: CutRequest, done: readonly DoneCut[]): DoneCut[] {
  const placed: DoneCut[] = [];
  for (const cut of done) placed.push({ ...cut, placed: placeOf(planCuts(request, [...placed, cut]), placed.length) });
  return placed;
}

interface Choice {
  readonly kept: number;
  readonly cuts: number;
}

/**
 * Every set of cuts at whole millimetres, with every piece kept that may be. It shares no formula with the plan: a piece
 * may be kept if it stays clean even with the largest error of the count, g(c) = share·c + slip, from the last stretch seen.
 */
function everyChoice(request: CutRequest & { countError: NonNullable<CutRequest['countError']> }): Choice[] {
  const { badStretches, woundMm } = mapSpool(request);
  const share = request.countError.wheelShare + request.countError.lengthScaleShare;
  const error = (from: number, to: number): number => share * (to - from) + request.countError.slipMm;
  const choices: Choice[] = [];
  for (let mask = 0; mask < 1 << (woundMm - 1); mask++) {
    const edges = [0];
    for (let at = 1; at < woundMm; at++) if (mask & (1 << (at - 1))) edges.push(at);
    edges.push(woundMm);
    let kept = 0;
    let lastKept = 0;
    for (let i = 0; i + 1 < edges.length; i++) {
      const from = edges[i]!;
      const to = edges[i + 1]!;
      if (to - from < request.shortestCoilMm) continue;
      if (badStretches.some((bad) => bad.fromMm < to && bad.toMm > from)) continue;
      const seenBefore = (place: number): number =>
        Math.max(0, ...badStretches.filter((bad) => bad.toMm <= place).map((bad) => bad.seenToMm ?? 0));
      const before = badStretches.filter((bad) => bad.toMm <= from).at(-1);
      const next = badStretches.find((bad) => bad.fromMm >= to);
      if (before !== undefined && before.toMm > lastKept) {
        const known = seenBefore(lastKept);
        if (from - error(known, from) < before.toMm - 1e-9) continue;
      }
      if (next !== undefined) {
        const known = seenBefore(from);
        if (to + error(known, to) > next.fromMm + 1e-9) continue;
      }
      kept += to - from;
      lastKept = to;
    }
    choices.push({ kept, cuts: edges.length - 2 });
  }
  return choices;
}
