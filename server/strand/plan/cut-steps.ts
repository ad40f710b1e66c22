import type { CountGuard } from './count-guard.ts';
import { anchorAtCut, anchorAtLandmark, type Piece, type Remainder } from './cut-groups.ts';
import { type LandmarkHint, landmarkHint, lengthText } from './landmark-hint.ts';
import { type Placed, placed } from './placed.ts';
import { badStretchesBetween, landmarksBetween, type SpoolMap } from './spool-map.ts';

export interface CutStep extends Placed {
  /** From 1, over the remaining steps. */
  readonly ordinal: number;
  readonly action: 'unwindAndKeep' | 'discard';
  /** To be counted since the last cut. Its place assumes that a landmark is confirmed; this is enough if none is. */
  readonly countedMm: number;
  /** Largest error of this count. */
  readonly countErrorMm: number;
  /** False for the last piece, which ends at the core. */
  readonly cutAfter: boolean;
  /** Good strand given up on either side of bad stretches because of the count's error; 0 for a kept piece. */
  readonly marginBeforeMm: number;
  readonly marginAfterMm: number;
  /** What the user should see pass in a discarded piece. Confirming one of them corrects the count. */
  readonly landmarks: readonly LandmarkHint[];
  /** The coil that this step makes. */
  readonly coil: string | null;
  readonly sentence: string;
}

/** The pieces of a plan as steps, each with its count. @param coils the name of the coil of each piece; null = discarded */
export function cutSteps(
  map: SpoolMap,
  guard: CountGuard,
  remainder: Remainder,
  pieces: readonly Piece[],
  coils: readonly (string | null)[],
): CutStep[] {
  let anchor = anchorAtCut(remainder);
  let counts = 0;
  return pieces.map((piece, index) => {
    const { keep, fromMm, toMm } = piece;
    const [before, count] = [anchor, counts + 1];
    counts = count;
    const inside = keep ? [] : badStretchesBetween(map, fromMm, toMm);
    const bad = inside.length === 0 ? null : { fromMm: inside[0]!.fromMm, toMm: inside.at(-1)!.toMm };
    const cutAfter = toMm < map.woundMm;
    let countedMm = toMm - fromMm;
    let landmarks: LandmarkHint[] = [];
    if (bad !== null) {
      const endMm = cutAfter ? guard.firstCutAfter(bad.toMm, before, count) : map.woundMm;
      countedMm = Math.max(countedMm, Math.min(map.woundMm, endMm) - fromMm);
      landmarks = landmarksBetween(map, Math.max(fromMm, bad.fromMm), bad.toMm).map((landmark) => {
        const { peakAtOuterMm, spreadMm } = landmark;
        anchor = anchorAtLandmark(map, landmark, guard, before, count);
        counts = 1;
        const safeMm = cutAfter ? Math.max(toMm, guard.firstCutAfter(bad.toMm, anchor, counts)) : toMm;
        return landmarkHint(landmark, {
          afterCutMm: peakAtOuterMm - fromMm,
          countErrorMm: Math.ceil(guard.errorAt(peakAtOuterMm + spreadMm, before, count) + spreadMm),
          thenMm: Math.min(map.woundMm, safeMm) - peakAtOuterMm,
        });
      });
    }
    const coil = coils[index] ?? null;
    const cut = cutAfter ? ', then cut' : ', down to the core';
    return {
      ...placed(map, fromMm, toMm),
      ordinal: index + 1,
      action: keep ? 'unwindAndKeep' : 'discard',
      countedMm,
      countErrorMm: Math.ceil(guard.errorAt(fromMm + countedMm, before, count)),
      cutAfter,
      marginBeforeMm: bad === null ? 0 : Math.max(0, bad.fromMm - fromMm),
      marginAfterMm: bad === null ? 0 : Math.max(0, toMm - bad.toMm),
      landmarks,
      coil,
      sentence: keep
        ? `Unwind ${lengthText(countedMm)}${cut}: coil ${coil}.`
        : `Unwind ${lengthText(countedMm)}${cut}: discard.`,
    };
  });
}
