import type { CutRequest } from '../../../server/strand/plan/cut-request.ts';
import { mapSpool } from '../../../server/strand/plan/spool-map.ts';

export interface Choice {
  readonly kept: number;
  readonly cuts: number;
}

type Range = readonly [leastMm: number, mostMm: number];

export const exactly = (mm: number): Range => [mm, mm];

/** Where a place surely is that was reached from an anchor in so many counts. */
export function rangeAt(
  error: NonNullable<CutRequest['countError']>,
  anchorMm: number,
  atMm: number,
  counts: number,
): Range {
  if (counts === 0) return exactly(atMm);
  const share = error.wheelShare + error.lengthScaleShare;
  const c = atMm - anchorMm;
  return [anchorMm + c * (1 - share) - counts * error.slipMm, anchorMm + c / (1 - share) + counts * error.slipMm];
}

interface Divided extends Choice {
  readonly coils: readonly number[];
}

/**
 * Every choice of which coils to keep between the bad stretches, each coil as long as it can be: its ends are searched for
 * millimetre by millimetre, from the nearest that is possible. A blob in a discarded piece ends the error.
 */
export function everyDivision(request: CutRequest & { countError: NonNullable<CutRequest['countError']> }): Divided[] {
  const { badStretches, woundMm, landmarks } = mapSpool(request);
  const gaps = badStretches.length + 1;
  const all: Divided[] = [];
  for (let mask = 0; mask < 1 << gaps; mask++) {
    let [anchorMm, counts, atMm, cuts] = [0, 0, 0, 0];
    const coils: number[] = [];
    let possible = true;
    for (let gap = 0; gap < gaps && possible; gap++) {
      if ((mask & (1 << gap)) === 0) continue;
      if (gap > 0) {
        // Discard everything up to the coil.
        const behind = badStretches[gap - 1]!;
        const passed = landmarks.filter(({ peakAtOuterMm }) => peakAtOuterMm > atMm && peakAtOuterMm <= behind.toMm);
        const seen = passed.at(-1);
        if (seen !== undefined) [anchorMm, counts] = [seen.peakAtOuterMm, 0];
        counts += 1;
        cuts += 1;
        let end = behind.toMm;
        while (rangeAt(request.countError, anchorMm, end, counts)[0] < behind.toMm - 1e-9) end += 1;
        atMm = end;
      }
      const next = badStretches[gap];
      if (next === undefined) {
        coils.push(woundMm - atMm);
      } else {
        counts += 1;
        cuts += 1;
        let end = next.fromMm;
        while (rangeAt(request.countError, anchorMm, end, counts)[1] > next.fromMm + 1e-9) end -= 1;
        coils.push(end - atMm);
        atMm = end;
      }
      possible = coils.at(-1)! >= request.shortestCoilMm;
    }
    if (possible) all.push({ coils, cuts, kept: coils.reduce((sum, mm) => sum + mm, 0) });
  }
  return all;
}

/** By trying every way to share out the prints. */
export function mostPrints(needsMm: readonly number[], coils: readonly number[]): { count: number; sumMm: number } {
  let best = { count: 0, sumMm: 0 };
  const left = [...coils];
  const share = (print: number, count: number, sumMm: number): void => {
    if (count > best.count || (count === best.count && sumMm > best.sumMm)) best = { count, sumMm };
    if (print === needsMm.length) return;
    share(print + 1, count, sumMm);
    for (let i = 0; i < left.length; i++) {
      if (left[i]! < needsMm[print]!) continue;
      left[i]! -= needsMm[print]!;
      share(print + 1, count + 1, sumMm + needsMm[print]!);
      left[i]! += needsMm[print]!;
    }
  };
  share(0, 0, 0);
  return best;
}
