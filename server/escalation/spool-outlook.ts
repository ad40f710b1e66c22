import { type StrandOnWinder, spoolPositionMm } from '../strand/position.ts';
import type { Section } from '../strand/section.ts';

/** What can still become of the spool being wound. Times UTC ms, lengths mm. */
export interface SpoolOutlook {
  /** Start of each sure blob of the run that no user has called good. */
  readonly blobsMs: readonly number[];
  /** Stretches of this spool that will be cut out, by position on it, in order. */
  readonly cutOut: readonly { readonly fromSpoolMm: number; readonly toSpoolMm: number; readonly fromMs: number }[];
  /** Length of a full spool; null = not known. */
  readonly capacityMm: number | null;
  /** What a user wants to have on it; null = not said. */
  readonly wantedMm: number | null;
}

/** @param spool null = none is being wound, or places on it are not known */
export function spoolOutlook(
  sections: readonly Section[],
  spool: (StrandOnWinder & { readonly capacityMm: number; readonly wantedMm: number | null }) | null,
): SpoolOutlook {
  const blobsMs: number[] = [];
  const cutOut: SpoolOutlook['cutOut'][number][] = [];
  for (const { kind, certainty, verdict, fromMm, toMm, fromTimeMs } of sections) {
    if (fromTimeMs !== null && kind === 'blob' && certainty === 'sure' && verdict !== 'good') blobsMs.push(fromTimeMs);
    if (spool === null || verdict !== 'discard' || toMm <= spool.startGaugeMm) continue;
    cutOut.push({
      fromSpoolMm: Math.max(0, spoolPositionMm(fromMm, spool)),
      toSpoolMm: spoolPositionMm(toMm, spool),
      // What a user marked has no time: it was there before the alarm.
      fromMs: fromTimeMs ?? 0,
    });
  }
  cutOut.sort((a, b) => a.fromSpoolMm - b.fromSpoolMm);
  return { blobsMs, cutOut, capacityMm: spool?.capacityMm ?? null, wantedMm: spool?.wantedMm ?? null };
}

const HOUR_MS = 3_600_000;

export function blobsInLastHour({ blobsMs }: SpoolOutlook, nowMs: number): number {
  return blobsMs.filter((ms) => ms > nowMs - HOUR_MS).length;
}

/** A piece this long is wanted where a user has not said more: common practice, no source. One fault alone always leaves one. */
const WANTED_SHARE = 0.5;
/** An alarm is raised at most this long after its strand passed the gauge (the off-delay of the strand alarms). */
const RAISED_WITHIN_MS = 60_000;

/**
 * The clean piece that was possible until an alarm came, and is not any more: the wanted length, else half a full spool. What is
 * not wound yet counts as clean. null = it is still possible, was lost before, or cannot be known.
 */
export function lostPieceMm(outlook: SpoolOutlook, alarmSinceMs: number): number | null {
  const { cutOut, capacityMm } = outlook;
  if (capacityMm === null) return null;
  const wantedMm = outlook.wantedMm ?? capacityMm * WANTED_SHARE;
  const before = cutOut.filter(({ fromMs }) => fromMs < alarmSinceMs - RAISED_WITHIN_MS);
  const lost = longestPossibleMm(cutOut, capacityMm) < wantedMm && longestPossibleMm(before, capacityMm) >= wantedMm;
  return lost ? wantedMm : null;
}

function longestPossibleMm(cutOut: SpoolOutlook['cutOut'], capacityMm: number): number {
  let longestMm = 0;
  let cleanFromMm = 0;
  for (const { fromSpoolMm, toSpoolMm } of cutOut) {
    longestMm = Math.max(longestMm, fromSpoolMm - cleanFromMm);
    cleanFromMm = Math.max(cleanFromMm, toSpoolMm);
  }
  return Math.max(longestMm, capacityMm - cleanFromMm);
}
