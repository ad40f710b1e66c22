import type { LiveSpool } from '../../server/api/contract/runs-and-spools.ts';
import { metres } from '../format/numbers.ts';
import { clock } from '../format/times.ts';

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
/** Beyond this a time of day could be that of another day. */
const CLOCK_WITHIN_MS = 18 * HOUR_MS;
/** Until then the time is stated to 5 minutes, because the speed is not steady enough for more. */
const SOON_MS = HOUR_MS / 2;
/** Slower strand stands still, or nearly so. */
const MOVING_MM_PER_S = 0.5;

/** How long nothing was found that must be cut out: "Nothing to cut out in the last 24.1 m". */
export function cutOutText({ toCutOut, woundMm }: Pick<LiveSpool, 'toCutOut' | 'woundMm'>): string {
  const bad = toCutOut.filter(({ fromMm }) => fromMm < woundMm);
  if (bad.length === 0) return 'Nothing to cut out so far';
  const sinceMm = Math.max(0, woundMm - Math.max(...bad.map(({ toMm }) => toMm)));
  return `Nothing to cut out in the last ${metres(sinceMm, 1)}\u00a0m`;
}

type Filling = Pick<LiveSpool, 'woundMm' | 'capacityMm' | 'wantedMm'>;

/** When the wanted amount is reached, else when the spool is full, at the present speed: "331 m, full, at about 22:35". */
export function endText({ woundMm, capacityMm, wantedMm }: Filling, speedMmPerS: number, nowMs: number): string {
  const isWanted = wantedMm !== null && (capacityMm === null || wantedMm < capacityMm);
  const endMm = isWanted ? wantedMm : capacityMm;
  if (endMm === null) return '';
  if (woundMm >= endMm) return isWanted ? 'The wanted amount is on it' : 'The spool is full';
  const what = `${metres(endMm, 0)}\u00a0m${isWanted ? '' : ' (full)'}`;
  if (speedMmPerS < MOVING_MM_PER_S) return `${metres(endMm - woundMm, 0)}\u00a0m to ${what}`;
  const leftMs = ((endMm - woundMm) / speedMmPerS) * 1000;
  if (leftMs > CLOCK_WITHIN_MS) return `${what} in about ${Math.round(leftMs / HOUR_MS)}\u00a0h`;
  const stepMs = leftMs > SOON_MS ? 5 * MINUTE_MS : MINUTE_MS;
  return `${what} at about ${clock(Math.round((nowMs + leftMs) / stepMs) * stepMs)}`;
}
