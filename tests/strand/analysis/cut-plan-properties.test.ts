import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Problem } from '../../../server/problem/problem.ts';
import { type CutPlan, planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { CutPlace, DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { mapSpool } from '../../../server/strand/plan/spool-map.ts';
import { rewind } from '../../bench/rewinding/rewind.ts';
import { drawSpool, EDGE_OFF_MM } from '../../bench/rewinding/spool.ts';
import { tries } from '../../long-check.ts';
import { type Choice, everyDivision, exactly, mostPrints, rangeAt } from './every-division.ts';

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

/** Up to five stretches, blobs or not to be seen, too far apart to be taken for each other. */
const apart = fc
  .tuple(
    fc.array(
      fc.record({
        afterMm: fc.integer({ min: 0, max: 60_000 }),
        lengthMm: fc.integer({ min: 1, max: 300 }),
        kind: fc.constantFrom<NonNullable<PlanStretch['kind']>>('blob', 'offTolerance', 'offTolerance'),
      }),
      { minLength: 1, maxLength: 5 },
    ),
    fc.integer({ min: 1, max: 40_000 }),
    fc.constantFrom(0, 0.01, 0.03),
    fc.integer({ min: 0, max: 400 }),
    fc.constantFrom(0.5, 0.9, 1),
  )
  .map(([bad, shortestCoilMm, wheelShare, slipMm, leastKeptShare]) => {
    let atMm = 1000;
    const stretches = bad.map(({ afterMm, lengthMm, kind }): PlanStretch => {
      const fromMm = atMm + 30_000 + afterMm;
      atMm = fromMm + lengthMm;
      return { fromMm, toMm: atMm, fate: 'discard', kind, peakAtMm: fromMm + Math.floor(lengthMm / 2) };
    });
    return {
      spoolName: 'S1',
      woundMm: atMm + 20_000,
      stretches,
      shortestCoilMm,
      objective: 'mostLength' as CutRequest['objective'],
      leastKeptShare,
      doubtful: 'cut' as const,
      unknown: 'cut' as const,
      countError: { wheelShare, lengthScaleShare: 0, slipMm },
    };
  });

function placeOf({ donePieces }: CutPlan, i: number): CutPlace {
  const { fromOuterMm, toOuterMm, knownToMm } = donePieces[i]!;
  return { fromMm: fromOuterMm, toMm: toOuterMm, knownToMm };
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
      { numRuns: tries(250) },
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
          expect(step.toOuterMm - at).toBe(step.lengthMm);
          expect(step.countedMm).toBeGreaterThanOrEqual(step.lengthMm);
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
      { numRuns: tries(250) },
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
      { numRuns: tries(400) },
    );
  });

  it('is the best of all choices of coils, with landmarks that end the error of the count', () => {
    fc.assert(
      fc.property(apart, fc.array(fc.integer({ min: 3000, max: 90_000 }), { maxLength: 5 }), (request, printsMm) => {
        const all = everyDivision(request);
        const most = Math.max(...all.map(({ kept }) => kept));
        const of = (objective: CutRequest['objective']) => {
          const plan = planCuts({ ...request, objective, printsMm });
          const coils = plan.coils.map(({ lengthMm }) => lengthMm);
          const kept = coils.reduce((sum, mm) => sum + mm, 0);
          return { plan, coils, kept, longest: Math.max(0, ...coils), cuts: plan.totals.cuts };
        };
        const best = of('mostLength');
        expect(best.kept).toBe(most);
        expect(best.cuts).toBe(Math.min(...all.filter(({ kept }) => kept === most).map(({ cuts }) => cuts)));

        const enough = all.filter(({ kept }) => kept >= request.leastKeptShare * most);
        const fewest = Math.min(...enough.map(({ cuts }) => cuts));
        const few = of('fewestCuts');
        expect(few.cuts).toBe(fewest);
        expect(few.kept).toBe(Math.max(...enough.filter(({ cuts }) => cuts === fewest).map(({ kept }) => kept)));

        const longest = Math.max(...all.map(({ coils }) => Math.max(0, ...coils)));
        const long = of('longestCoil');
        expect(long.longest).toBe(longest);
        const withLongest = all.filter(({ coils }) => Math.max(0, ...coils) === longest);
        expect(long.kept).toBe(Math.max(...withLongest.map(({ kept }) => kept)));

        const served = all.map(({ coils, kept }) => ({ ...mostPrints(printsMm, coils), kept }));
        const count = Math.max(...served.map((one) => one.count));
        const sum = Math.max(...served.filter((one) => one.count === count).map((one) => one.sumMm));
        const { plan, kept } = of('prints');
        const given = plan.prints.filter(({ coil }) => coil !== null);
        expect(given).toHaveLength(count);
        expect(given.reduce((all, { needMm }) => all + needMm, 0)).toBeCloseTo(sum, 6);
        expect(kept).toBe(
          Math.max(...served.filter((one) => one.count === count && one.sumMm === sum).map((one) => one.kept)),
        );
        for (const coil of plan.coils) {
          const from = given.filter((print) => print.coil === coil.name);
          expect(from.reduce((all, { needMm }) => all + needMm, 0)).toBeLessThanOrEqual(coil.lengthMm + 1e-6);
        }
      }),
      { numRuns: tries(150) },
    );
  });

  it('makes no coil called clean that contains a bad stretch, for any true error within the stated one', () => {
    const error = fc.double({ min: -1, max: 1, noNaN: true });
    fc.assert(
      fc.property(
        fc.nat(1_000_000),
        error,
        error,
        fc.constantFrom(0, 0.5, 1),
        fc.constantFrom(0, 0, 300),
        (seed, wheel, scale, confirmed, carelessMm) => {
          const stated = { wheelShare: 0.01, lengthScaleShare: 0.02, slipMm: 20, edgeMm: EDGE_OFF_MM };
          // The record's lengths are off by up to the share of the true ones.
          const spool = drawSpool(seed, stated, 0.02 * scale);
          const made = rewind(spool, { seed, wheelOff: 0.01 * wheel, slipMm: 20, confirmed, carelessMm });
          expect(made.spoilt).toBe(0);
        },
      ),
      { numRuns: tries(60) },
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
      { numRuns: tries(200) },
    );
  });

  it('keeps as much as planned, or more, while the steps are done and landmarks pass as planned', () => {
    fc.assert(
      fc.property(apart, (request) => {
        // The fewest cuts for a share of the remaining strand may differ from those for the whole.
        const plan = planCuts({ ...request, objective: 'mostLength' });
        const done: DoneCut[] = [];
        let before = plan;
        for (let step = plan.steps[0]; step !== undefined; step = before.steps[0]) {
          const seen = step.landmarks.at(-1);
          done.push({
            action: step.action === 'discard' ? 'discard' : 'keep',
            countedMm: seen === undefined ? step.countedMm : seen.afterCutMm + seen.thenMm,
            ...(seen === undefined ? {} : { landmarkCountedMm: seen.afterCutMm }),
            ...(step.cutAfter ? {} : { reachedEnd: true }),
          });
          const after = planCuts(plan.request, done);
          // Each plan rounds to whole millimetres.
          expect(after.totals.keptMm).toBeGreaterThanOrEqual(plan.totals.keptMm - done.length);
          expect(after.coils.every((c) => c.condition === 'clean' && c.repair === null)).toBe(true);
          before = after;
        }
      }),
      { numRuns: tries(80) },
    );
  });

  it('is the same from the places of cuts as from their counts', () => {
    fc.assert(
      fc.property(enough, cuts, (request, done) => {
        const byCount = planCuts(request, done);
        const placed = done.map((cut, i): DoneCut => ({ ...cut, placed: placeOf(byCount, i) }));
        expect({ ...planCuts(request, placed), done }).toEqual(byCount);
      }),
      { numRuns: tries(300) },
    );
  });

  it('is the same from places stored at each cut, with landmarks seen, as from counts', () => {
    fc.assert(
      fc.property(enough, atTheRewinder, (request, ticks) => {
        const done = tickedOff(request, ticks);
        expect({ ...planCuts(request, placedOneByOne(request, done)), done }).toEqual(planCuts(request, done));
      }),
      { numRuns: tries(300) },
    );
  });

  it('leaves cuts in place, whatever is found or stated later', () => {
    fc.assert(
      fc.property(enough, enough, atTheRewinder, (request, { stretches }, ticks) => {
        const placed = placedOneByOne(request, tickedOff(request, ticks));
        const places = ({ donePieces }: CutPlan) =>
          donePieces.map(({ fromMm, toMm, knownToMm }) => [fromMm, toMm, knownToMm]);
        expect(places(planCuts({ ...request, stretches }, placed))).toEqual(places(planCuts(request, placed)));
      }),
      { numRuns: tries(300) },
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
      { numRuns: tries(200) },
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
    const passedMm = (step.landmarks[0]?.afterCutMm ?? 0) + (landmarkOffMm ?? 0);
    const seen = step.landmarks.length > 0 && landmarkOffMm !== null && passedMm >= 0 && passedMm <= countedMm;
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

/**
 * Every set of cuts at whole millimetres, with every piece kept that may be. It shares no formula with the plan: a piece may
 * be kept if no bad stretch can be in it with the largest error. That grows with the distance and with each count.
 */
function everyChoice(request: CutRequest & { countError: NonNullable<CutRequest['countError']> }): Choice[] {
  const { badStretches, woundMm } = mapSpool(request);
  const choices: Choice[] = [];
  for (let mask = 0; mask < 1 << (woundMm - 1); mask++) {
    const edges = [0];
    for (let at = 1; at < woundMm; at++) if (mask & (1 << (at - 1))) edges.push(at);
    edges.push(woundMm);
    const ranges = edges.map((at, count) => (at === woundMm ? exactly(at) : rangeAt(request.countError, 0, at, count)));
    let kept = 0;
    for (let i = 0; i + 1 < edges.length; i++) {
      const [from, to] = [ranges[i]!, ranges[i + 1]!];
      if (edges[i + 1]! - edges[i]! < request.shortestCoilMm) continue;
      if (badStretches.some((bad) => bad.fromMm < to[1] - 1e-9 && bad.toMm > from[0] + 1e-9)) continue;
      kept += edges[i + 1]! - edges[i]!;
    }
    choices.push({ kept, cuts: edges.length - 2 });
  }
  return choices;
}
