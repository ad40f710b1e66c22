import { pointerTo } from '../../problem/pointer.ts';
import { Problem } from '../../problem/problem.ts';
import type { Remainder } from './best-cuts.ts';
import type { CountGuard } from './count-guard.ts';
import type { BadStretch, SpoolMap } from './spool-map.ts';

/** A piece that was unwound and cut off. */
export interface DoneCut {
  readonly action: 'keep' | 'discard';
  /** Length counted since the last cut. */
  readonly countedMm: number;
  /** Count at which the landmark of this step passed, which corrects the count. */
  readonly landmarkCountedMm?: number;
  /** It was the last piece: the core is bare, whatever the counter shows. */
  readonly reachedEnd?: boolean;
  /** Place of the piece as found when it was cut; otherwise it follows from the counts. */
  readonly placed?: CutPlace;
}

/** Place of a cut piece, mm from the outer end of the full spool. */
export interface CutPlace {
  readonly fromMm: number;
  readonly toMm: number;
  /** Where the count was last certain, while the piece was counted and after the cut. */
  readonly knownToMm: number;
  readonly knownAfterMm: number;
}

export interface DonePiece extends CutPlace {
  readonly keep: boolean;
  /** Of a kept piece: surely free of bad stretches, surely not, or uncertain within the error of the count. */
  readonly condition: 'clean' | 'inDoubt' | 'spoilt';
}

/**
 * Follows the cuts that were made. A stretch is off the spool once a cut surely fell behind it. A visible stretch that was
 * discarded has been seen by the user, so the count restarts at its inner edge.
 */
export function followCuts(
  map: SpoolMap,
  guard: CountGuard,
  done: readonly DoneCut[],
): { readonly pieces: readonly DonePiece[]; readonly remainder: Remainder } {
  const pieces: DonePiece[] = [];
  let badStretches: readonly BadStretch[] = map.badStretches;
  let cutMm = 0;
  let landmarkMm = 0;
  // Of the last piece: a stretch that should have come off before it may still be at its outer end.
  let outerEndInDoubt = false;
  done.forEach((cut, index) => {
    checkCut(cut, index);
    if (cutMm >= map.woundMm)
      throw wrong(null, `Cut ${index + 1} is beyond the end of the spool.`, 'Undo the cuts that were not made.');
    let fromMm = cutMm;
    let toMm = cutMm + Math.round(cut.countedMm);
    if (cut.placed !== undefined) {
      const before = pieces.at(-1);
      fromMm = before === undefined ? 0 : clamp(Math.round(cut.placed.fromMm), before.fromMm, map.woundMm);
      if (before !== undefined && (cut.landmarkCountedMm !== undefined || before.toMm !== fromMm))
        pieces[pieces.length - 1] = withEnd(before, fromMm, map.badStretches, outerEndInDoubt);
      toMm = Math.min(map.woundMm, Math.round(cut.placed.toMm));
      landmarkMm = Math.round(cut.placed.knownToMm);
    } else if (cut.landmarkCountedMm !== undefined) {
      const earliest = cutMm - guard.errorAt(cutMm, landmarkMm);
      const seen = badStretches.find(
        (bad) => bad.landmark !== null && bad.landmark.peakAtOuterMm >= earliest,
      )?.landmark;
      if (!seen)
        throw wrong(
          'landmarkCountedMm',
          `Cut ${index + 1} has the count of a landmark, but no landmark is left.`,
          'Leave out the count of the landmark.',
        );
      const before = pieces.at(-1);
      fromMm =
        before === undefined
          ? 0
          : clamp(seen.peakAtOuterMm - Math.round(cut.landmarkCountedMm), before.fromMm, map.woundMm);
      if (before !== undefined) pieces[pieces.length - 1] = withEnd(before, fromMm, map.badStretches, outerEndInDoubt);
      toMm = seen.peakAtOuterMm + Math.round(cut.countedMm) - Math.round(cut.landmarkCountedMm);
      landmarkMm = Math.max(landmarkMm, seen.peakAtOuterMm);
    }
    if (cut.reachedEnd === true) toMm = map.woundMm;
    if (toMm > map.woundMm + guard.errorAt(toMm, landmarkMm))
      throw wrong(
        'countedMm',
        `With cut ${index + 1}, ${metres(toMm)} would have come off a spool of ${metres(map.woundMm)}.`,
        'Correct the counted length.',
      );
    toMm = Math.max(fromMm, Math.min(map.woundMm, toMm));
    outerEndInDoubt = badStretches.some((bad) => bad.toMm <= fromMm);
    const condition =
      cut.action === 'keep' ? conditionOf(badStretches, guard, fromMm, toMm, landmarkMm, outerEndInDoubt) : 'clean';
    const knownToMm = landmarkMm;
    const gone = (bad: BadStretch): boolean =>
      toMm === map.woundMm || toMm >= guard.firstCutAfter(bad.toMm, landmarkMm);
    const off = badStretches.filter(gone);
    badStretches = badStretches.filter((bad) => !gone(bad));
    if (cut.placed !== undefined) landmarkMm = Math.round(cut.placed.knownAfterMm);
    else if (cut.action === 'discard') for (const bad of off) landmarkMm = Math.max(landmarkMm, bad.seenToMm ?? 0);
    pieces.push({ keep: cut.action === 'keep', fromMm, toMm, condition, knownToMm, knownAfterMm: landmarkMm });
    cutMm = toMm;
  });
  return { pieces, remainder: { cutMm, landmarkMm, endMm: map.woundMm, badStretches } };
}

/** The landmark after a cut shows where that cut really fell, and so what the piece before it contains. */
function withEnd(piece: DonePiece, toMm: number, all: readonly BadStretch[], outerEndInDoubt: boolean): DonePiece {
  if (!piece.keep) return { ...piece, toMm };
  const condition = holdsOne(all, piece.fromMm, toMm) ? 'spoilt' : outerEndInDoubt ? 'inDoubt' : 'clean';
  return { ...piece, toMm, condition };
}

function conditionOf(
  badStretches: readonly BadStretch[],
  guard: CountGuard,
  fromMm: number,
  toMm: number,
  landmarkMm: number,
  outerEndInDoubt: boolean,
): DonePiece['condition'] {
  if (holdsOne(badStretches, fromMm, toMm)) return 'spoilt';
  const mayReachIn = badStretches.some(
    (bad) => bad.fromMm >= toMm && guard.lastCutBefore(bad.fromMm, landmarkMm) < toMm,
  );
  return mayReachIn || outerEndInDoubt ? 'inDoubt' : 'clean';
}

function holdsOne(badStretches: readonly BadStretch[], fromMm: number, toMm: number): boolean {
  return badStretches.some((bad) => bad.fromMm < toMm && bad.toMm > fromMm);
}

function checkCut(cut: DoneCut, index: number): void {
  const { countedMm, landmarkCountedMm } = cut;
  if (!Number.isFinite(countedMm) || countedMm < 0)
    throw wrong(
      'countedMm',
      `The counted length of cut ${index + 1} is ${countedMm} mm.`,
      'Give it in mm, zero or above.',
    );
  if (landmarkCountedMm !== undefined && !(landmarkCountedMm >= 0 && landmarkCountedMm <= countedMm))
    throw wrong(
      'landmarkCountedMm',
      `The landmark of cut ${index + 1} was counted at ${landmarkCountedMm} mm, outside the ${countedMm} mm of the piece.`,
      'Give the count at which the landmark passed, between 0 and the length of the piece.',
    );
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}

function metres(mm: number): string {
  return `${(mm / 1000).toFixed(2)} m`;
}

function wrong(field: keyof DoneCut | null, message: string, remedy: string): Problem {
  return new Problem('bad-cut', message, remedy, { pointer: field === null ? null : pointerTo(field) });
}
