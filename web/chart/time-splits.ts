import { zoneOffsetMs } from '../format/times.ts';

const S = 1000;
const MIN = 60 * S;
const H = 60 * MIN;
const STEPS = [
  S,
  2 * S,
  5 * S,
  10 * S,
  15 * S,
  30 * S,
  MIN,
  2 * MIN,
  5 * MIN,
  10 * MIN,
  15 * MIN,
  30 * MIN,
  H,
  2 * H,
  3 * H,
  6 * H,
  12 * H,
  24 * H,
];

/**
 * Round clock times of a zone between two UTC ms, at most about `most`. Each is aligned with the offset that holds at
 * that moment, so that the hours stay whole on both days of a clock change.
 */
export function timeSplits(fromMs: number, toMs: number, most: number, timeZone?: string): number[] {
  const rough = (toMs - fromMs) / Math.max(1, most);
  const step = STEPS.find((one) => one >= rough) ?? Math.ceil(rough / (24 * H)) * 24 * H;
  const out: number[] = [];
  let local = Math.ceil((fromMs + zoneOffsetMs(fromMs, timeZone)) / step) * step;
  for (let guard = 0; guard < 400; guard += 1, local += step) {
    // Look the offset up twice: the first guess may be on the other side of a clock change.
    const guess = local - zoneOffsetMs(local - zoneOffsetMs(fromMs, timeZone), timeZone);
    const at = local - zoneOffsetMs(guess, timeZone);
    if (at > toMs) break;
    if (at >= fromMs && (out.length === 0 || at > out.at(-1)!)) out.push(at);
  }
  return out;
}
