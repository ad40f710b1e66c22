import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { CutPlanView, CutStepView, DoneCutView } from '../../server/api/contract/cut-plan.ts';
import { progressOf } from '../../web/rewinder/cut-progress.ts';
import {
  errorText,
  guardText,
  landmarkAt,
  landmarkFault,
  landmarkSavesMm,
  shortStep,
  stepText,
} from '../../web/rewinder/step-text.ts';

function step(change: Partial<CutStepView> = {}): CutStepView {
  return {
    ordinal: 1,
    action: 'unwindAndKeep',
    fromMm: 0,
    toMm: 12_400,
    fromOuterMm: 0,
    toOuterMm: 12_400,
    lengthMm: 12_400,
    countedMm: 12_400,
    countErrorMm: 144,
    cutAfter: true,
    marginBeforeMm: 0,
    marginAfterMm: 0,
    landmarks: [],
    doubts: [],
    coil: 'R3-1 A',
    sentence: '',
    ...change,
  };
}

const NECK = {
  kind: 'neck',
  peakMm: 1.48,
  lengthMm: 30,
  peakAtOuterMm: 12_800,
  afterCutMm: 400,
  countErrorMm: 160,
  thenMm: 40,
  sentence: '',
} as const;
const DISCARD: Partial<CutStepView> = { action: 'discard', coil: null, countedMm: 850, landmarks: [NECK] };

describe('the texts of a step at the rewinder', () => {
  it('say how much to unwind, where to cut, what to do with it and the error of the count', () => {
    expect(stepText(step())).toEqual({
      verb: 'Unwind',
      number: '12.40',
      unit: 'm',
      after: 'then cut',
      off: '± 15\u00a0cm',
      fate: 'Keep it: coil R3-1 A',
      countedMm: 12_400,
    });
    expect(stepText(step(DISCARD))).toMatchObject({ number: '0.85', fate: 'Discard it' });
  });

  it('ask for no cut at the core', () => {
    expect(stepText(step({ cutAfter: false })).after).toBe('down to the core');
    expect(shortStep(step({ cutAfter: false }))).toBe('Unwind 12.40\u00a0m, core: coil R3-1 A');
  });

  it('count on from the landmark: seen 20 mm late, the cut is due 20 mm later, and sooner than unseen', () => {
    expect(stepText(step(DISCARD), 420).countedMm).toBe(460);
    expect(stepText(step(DISCARD), 380).countedMm).toBe(420);
    expect(stepText(step(DISCARD), null).countedMm).toBe(850);
    expect(landmarkSavesMm(step(DISCARD))).toBe(410);
    expect(landmarkSavesMm(step({ ...DISCARD, cutAfter: false }))).toBe(0);
    expect(landmarkSavesMm(step())).toBe(0);
  });

  it('take the nearest of several landmarks', () => {
    const two = step({
      ...DISCARD,
      landmarks: [
        { ...NECK, thenMm: 500 },
        { ...NECK, afterCutMm: 800, thenMm: 30 },
      ],
    });
    expect(landmarkAt(two, 590)?.afterCutMm).toBe(400);
    expect(landmarkAt(two, 610)?.afterCutMm).toBe(800);
    expect(stepText(two, 810).countedMm).toBe(840);
    expect(landmarkAt(step(), 100)).toBeNull();
  });

  it('say that nothing is expected at a count that the error cannot explain', () => {
    expect(landmarkFault(step(DISCARD), 560)).toBeNull();
    expect(landmarkFault(step(DISCARD), 240)).toBeNull();
    expect(landmarkFault(step(DISCARD), 561)).toBe(
      'Nothing is expected at 0.56\u00a0m, but between 0.24\u00a0m and 0.56\u00a0m. Check the counter: this may be something else.',
    );
    expect(landmarkFault(step(), 100)).toBeNull();
  });

  it('go on to the core, whatever was seen', () => {
    expect(stepText(step({ ...DISCARD, cutAfter: false }), 420).countedMm).toBe(850);
  });

  it('never end a step before its landmark', () => {
    fc.assert(
      fc.property(fc.nat(20_000), fc.nat(5000), fc.nat(20_000), (seen, after, counted) => {
        const text = stepText(
          step({ ...DISCARD, countedMm: counted, landmarks: [{ ...NECK, afterCutMm: after }] }),
          seen,
        );
        expect(text.countedMm).toBeGreaterThanOrEqual(seen);
      }),
    );
  });

  it('round an error up, never down: a guard that is too small spoils a coil', () => {
    expect(errorText(3.2)).toBe('4\u00a0mm');
    expect(errorText(41)).toBe('5\u00a0cm');
    expect(errorText(1200)).toBe('1.2\u00a0m');
  });

  it('mention good strand that is discarded only if there is any', () => {
    expect(guardText(step())).toBe('');
    expect(guardText(step({ ...DISCARD, marginBeforeMm: 130, marginAfterMm: 60 }))).toContain('0.19\u00a0m');
  });
});

function done(id: number, from: number, to: number, action: 'keep' | 'discard' = 'keep'): DoneCutView {
  return {
    id,
    action,
    countedMm: to - from,
    landmarkCountedMm: null,
    reachedEnd: false,
    atMs: 0,
    who: 'phone',
    fromMm: 0,
    toMm: 0,
    fromOuterMm: from,
    toOuterMm: to,
    lengthMm: to - from,
    condition: 'clean',
  };
}

function plan(
  woundMm: number,
  cuts: DoneCutView[],
  steps: CutStepView[],
): Pick<CutPlanView, 'done' | 'steps' | 'totals'> {
  return {
    done: cuts,
    steps,
    totals: {
      woundMm,
      keptMm: 0,
      discardedMm: 0,
      unknownMm: 0,
      unknownInCoilsMm: 0,
      goodDiscardedMm: 0,
      landmarkGainMm: 0,
      cuts: 0,
    },
  };
}

describe('the bar of the spool', () => {
  it('starts at the outer end: the first cut is at the left', () => {
    const progress = progressOf(
      plan(
        100_000,
        [done(1, 0, 10_000), done(2, 10_000, 25_000, 'discard')],
        [
          step({ fromOuterMm: 25_000, toOuterMm: 60_000 }),
          step({ ordinal: 2, fromOuterMm: 60_000, toOuterMm: 100_000, action: 'discard' }),
        ],
      ),
    );
    expect(progress.offMm).toBe(25_000);
    expect(progress.offShare).toBeCloseTo(0.25);
    expect([progress.step, progress.steps]).toEqual([2, 4]);
    expect(progress.pieces.map(({ left, state, fate }) => [left, state, fate])).toEqual([
      [0, 'done', 'keep'],
      [0.1, 'done', 'discard'],
      [0.25, 'present', 'keep'],
      [0.6, 'coming', 'discard'],
    ]);
  });

  it('is full and has no gap, whatever the cuts', () => {
    fc.assert(
      fc.property(
        fc.uniqueArray(fc.integer({ min: 1, max: 299_999 }), { maxLength: 30 }),
        fc.nat(30),
        (places, doneCount) => {
          const edges = [0, ...places.sort((a, b) => a - b), 300_000];
          const all = edges.slice(1).map((to, i) => [edges[i]!, to] as const);
          const progress = progressOf(
            plan(
              300_000,
              all.slice(0, doneCount).map(([from, to], i) => done(i, from, to)),
              all.slice(doneCount).map(([from, to], i) => step({ ordinal: i + 1, fromOuterMm: from, toOuterMm: to })),
            ),
          );
          let at = 0;
          for (const piece of progress.pieces) {
            expect(piece.left).toBeCloseTo(at, 9);
            at = piece.left + piece.width;
          }
          expect(at).toBeCloseTo(1, 9);
          expect(progress.pieces.filter((piece) => piece.state === 'present').length).toBe(
            doneCount < all.length ? 1 : 0,
          );
        },
      ),
    );
  });
});
