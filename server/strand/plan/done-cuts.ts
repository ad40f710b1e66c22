import { pointerTo } from '../../problem/pointer.ts';
import { Problem } from '../../problem/problem.ts';
import type { CountGuard, PlaceRange } from './count-guard.ts';
import type { Remainder } from './cut-groups.ts';
import {
  type BadStretch,
  badStretchesBetween,
  type Landmark,
  landmarksBetween,
  landmarksSeenBetween,
  rangeSeenBetween,
  type SpoolMap,
} from './spool-map.ts';

/** A piece that was unwound and cut off. */
export interface DoneCut {
  readonly action: 'keep' | 'discard';
  /** Length counted since the last cut. */
  readonly countedMm: number;
  /** Count at which the landmark of this step passed, which corrects the count. */
  readonly landmarkCountedMm?: number;
  /** It was the last piece: the core is bare, whatever the counter shows. */
  readonly reachedEnd?: boolean;
  /** Place of the piece as found when it was cut; otherwise it follows from the counts. The counts tell how sure it is. */
  readonly placed?: CutPlace;
}

/** Place of a cut piece, mm from the outer end of the full spool. */
export interface CutPlace {
  readonly fromMm: number;
  readonly toMm: number;
  /** Where the count was last certain: the last landmark that was confirmed, or the outer end. */
  readonly knownToMm: number;
}

export interface DonePiece extends CutPlace {
  readonly keep: boolean;
  /** Of a kept piece: surely free of bad stretches, surely not, or uncertain within the error of the count. */
  readonly condition: 'clean' | 'inDoubt' | 'spoilt';
  /** Bad stretches that are, or may be, in the piece. */
  readonly holds: readonly BadStretch[];
  /** Where its ends surely are. */
  readonly start: PlaceRange;
  readonly end: PlaceRange;
}

/**
 * Follows the cuts that were made. Their error grows from cut to cut, until a user confirms a landmark and gives its count:
 * what was not confirmed may not have been seen, and proves nothing. A stretch is off the spool once a cut surely fell after it.
 */
export function followCuts(
  map: SpoolMap,
  guard: CountGuard,
  done: readonly DoneCut[],
): { readonly pieces: readonly DonePiece[]; readonly remainder: Remainder } {
  const pieces: DonePiece[] = [];
  let end: PlaceRange = { leastMm: 0, mostMm: 0 };
  let cutMm = 0;
  let knownToMm = 0;
  done.forEach((cut, index) => {
    checkCut(cut, index);
    if (cutMm >= map.woundMm)
      throw wrong(null, `Cut ${index + 1} is beyond the end of the spool.`, 'Undo the cuts that were not made.');
    const { placed } = cut;
    const countedMm = Math.round(cut.countedMm);
    const seen =
      cut.landmarkCountedMm === undefined
        ? null
        : landmarkSeen(map, guard, end, cut.landmarkCountedMm, index, placed !== undefined);
    let fromMm = cutMm;
    let toMm = cutMm + countedMm;
    let start = end;
    end = guard.countedFrom(start, countedMm);
    if (seen !== null) {
      const passedMm = Math.round(cut.landmarkCountedMm ?? 0);
      const nearest = nearestTo(seen, cutMm + passedMm);
      start = within(guard.countedBackFrom(seen.range, passedMm), start);
      end = within(
        guard.countedFrom(seen.range, countedMm - passedMm),
        guard.countedFrom(guard.countedFrom(start, passedMm), countedMm - passedMm),
      );
      fromMm = nearest - passedMm;
      toMm = nearest + countedMm - passedMm;
      knownToMm = nearest;
    }
    if (placed !== undefined) {
      fromMm = Math.round(placed.fromMm);
      toMm = Math.round(placed.toMm);
      knownToMm = Math.round(placed.knownToMm);
    }
    if (cut.reachedEnd === true) toMm = map.woundMm;
    if (end.leastMm > map.woundMm && cut.reachedEnd !== true)
      throw wrong(
        'countedMm',
        `With cut ${index + 1}, ${metres(toMm)} would have come off a spool of ${metres(map.woundMm)}.`,
        'Correct the counted length.',
      );
    const before = pieces.at(-1);
    fromMm = before === undefined ? 0 : clamp(fromMm, before.fromMm, map.woundMm);
    if (before === undefined) start = { leastMm: 0, mostMm: 0 };
    else {
      if (placed === undefined) fromMm = clamp(inRange(fromMm, start), before.fromMm, map.woundMm);
      start = including(start, fromMm);
      pieces[pieces.length - 1] = judged(map, guard, { ...before, toMm: fromMm, end: start });
    }
    if (placed === undefined && cut.reachedEnd !== true) toMm = inRange(toMm, end);
    toMm = clamp(toMm, fromMm, map.woundMm);
    end = toMm === map.woundMm ? { leastMm: toMm, mostMm: toMm } : including(end, toMm);
    const keep = cut.action === 'keep';
    pieces.push(judged(map, guard, { keep, fromMm, toMm, knownToMm, start, end }));
    cutMm = toMm;
  });
  const badStretches = map.badStretches.filter(({ toMm }) => toMm > end.leastMm + ROUNDING_MM);
  return {
    pieces,
    remainder: { cutMm, cutLeastMm: end.leastMm, cutMostMm: end.mostMm, endMm: map.woundMm, badStretches },
  };
}

/** Less than this is rounding. */
const ROUNDING_MM = 1e-6;

interface Seen {
  readonly landmarks: readonly Landmark[];
  readonly range: PlaceRange;
}

/**
 * The landmarks that can have passed at this count. The count cannot tell which of several it was.
 * @returns null for a cut of the record whose landmark is no longer one, for example because a user marked it good
 */
function landmarkSeen(
  map: SpoolMap,
  guard: CountGuard,
  from: PlaceRange,
  passedMm: number,
  index: number,
  isStored: boolean,
): Seen | null {
  const at = guard.countedFrom(from, passedMm);
  const range = rangeSeenBetween(map, at.leastMm, at.mostMm);
  if (range !== null) return { landmarks: landmarksSeenBetween(map, at.leastMm, at.mostMm), range };
  if (isStored) return null;
  const next = landmarksBetween(map, at.leastMm, map.woundMm)[0];
  const expected =
    next === undefined
      ? 'no other is left'
      : `the next one is ${metres(next.peakAtOuterMm - next.spreadMm - at.mostMm)} further on`;
  throw wrong(
    'landmarkCountedMm',
    `No landmark can have passed at ${metres(passedMm)} of cut ${index + 1}: ${expected}.`,
    'Check the counter, or leave the count of the landmark out.',
  );
}

function nearestTo({ landmarks }: Seen, placeMm: number): number {
  const places = landmarks.map(({ peakAtOuterMm, spreadMm }) =>
    Math.round(clamp(placeMm, peakAtOuterMm - spreadMm, peakAtOuterMm + spreadMm)),
  );
  return places.reduce((best, mm) => (Math.abs(mm - placeMm) < Math.abs(best - placeMm) ? mm : best));
}

/** What both ranges allow; the first alone where they contradict each other. */
function within(a: PlaceRange, b: PlaceRange): PlaceRange {
  const leastMm = Math.max(a.leastMm, b.leastMm);
  const mostMm = Math.min(a.mostMm, b.mostMm);
  return leastMm <= mostMm ? { leastMm, mostMm } : a;
}

/** The whole millimetre nearest to a place that is possible. */
function inRange(placeMm: number, { leastMm, mostMm }: PlaceRange): number {
  return Math.round(clamp(placeMm, leastMm, mostMm));
}

/** A stored place counts, even if later statements about the strand let the counts mean another. */
function including({ leastMm, mostMm }: PlaceRange, placeMm: number): PlaceRange {
  return { leastMm: Math.min(leastMm, placeMm), mostMm: Math.max(mostMm, placeMm) };
}

/** What a piece holds, and what it may hold, by where its ends are. */
function judged(map: SpoolMap, guard: CountGuard, piece: Omit<DonePiece, 'condition' | 'holds'>): DonePiece {
  const { keep, fromMm, toMm, start, end } = piece;
  const beyondMm = guard.edgeMm - ROUNDING_MM;
  const holds = badStretchesBetween(map, start.leastMm - beyondMm, end.mostMm + beyondMm);
  if (!keep || holds.length === 0) return { ...piece, holds, condition: 'clean' };
  const spoilt = holds.some((bad) => bad.fromMm < toMm && bad.toMm > fromMm);
  return { ...piece, holds, condition: spoilt ? 'spoilt' : 'inDoubt' };
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
