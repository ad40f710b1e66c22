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
  // A midnight that is shown twice would have two labels an hour apart.
  for (let at = roundFrom(fromMs, step, timeZone); at <= toMs; at = roundFrom(at + step / 2, step, timeZone))
    out.push(at);
  return out;
}

/** The first round time from a moment on. */
function roundFrom(ms: number, step: number, timeZone: string | undefined): number {
  const alignedWith = (offsetMs: number) => Math.ceil((ms + offsetMs) / step) * step - offsetMs;
  const offsetMs = zoneOffsetMs(ms, timeZone);
  const at = alignedWith(offsetMs);
  const offsetThenMs = zoneOffsetMs(at, timeZone);
  if (offsetThenMs === offsetMs) return at;
  // The clock changes before that. What the new offset aligns may still be earlier than the change.
  const changed = alignedWith(offsetThenMs);
  return zoneOffsetMs(changed, timeZone) === offsetThenMs ? changed : changed + step;
}
