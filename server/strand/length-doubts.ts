import { CONTRADICTS } from './length-agreement.ts';

/** Columns of readings along the strand; null = no reading, or no value. */
export interface TravelColumns {
  readonly count: readonly number[];
  /** Of the first reading in each column. */
  readonly timeMs: readonly (number | null)[];
  readonly gaugeMm: readonly (number | null)[];
  /** Speed that the line sent, mm/s. */
  readonly speedMmPerS: readonly (number | null)[];
  /** Length counter, mm. */
  readonly counterMm: { readonly min: readonly (number | null)[]; readonly max: readonly (number | null)[] };
}

/** Counter and speed disagreed on this strand, so its length, and every place beyond it, may be off by `offMm`. Gauge lengths. */
export interface LengthDoubt {
  readonly fromMm: number;
  readonly toMm: number;
  readonly offMm: number;
}

/** Shorter columns show whole turns of a counter, which prove nothing, mm. */
export const DOUBT_COLUMN_MM = 1500;

interface Column {
  readonly fromMm: number;
  readonly toMm: number;
  readonly offMm: number;
  readonly contradicts: boolean;
}

/**
 * Finds in the recorded readings where the length counter and the speed contradicted each other. Either may be right, so the
 * strand may be longer or shorter by all of the difference. The columns next to such a stretch belong to it: it began or
 * ended somewhere in them.
 */
export function lengthDoubts(columns: TravelColumns): readonly LengthDoubt[] {
  const compared = compare(columns);
  const doubts: { fromMm: number; toMm: number; offMm: number }[] = [];
  let last = -2;
  for (const [i, { fromMm, toMm, offMm }] of compared.entries()) {
    const belongs = [i - 1, i, i + 1].some((near) => compared[near]?.contradicts);
    if (!belongs) continue;
    const before = doubts.at(-1);
    if (before !== undefined && last === i - 1) {
      before.toMm = toMm;
      before.offMm += offMm;
    } else doubts.push({ fromMm, toMm, offMm });
    last = i;
  }
  return doubts;
}

function compare({ count, timeMs, gaugeMm, speedMmPerS, counterMm }: TravelColumns): readonly Column[] {
  const read = count.flatMap((n, i) => (n > 0 && gaugeMm[i] != null && timeMs[i] != null ? [i] : []));
  const spans = read.slice(0, -1).map((i, k) => {
    const next = read[k + 1]!;
    return { i, fromMm: gaugeMm[i]!, toMm: gaugeMm[next]!, seconds: (timeMs[next]! - timeMs[i]!) / 1000, n: count[i]! };
  });
  const paces = spans.map(({ seconds, n }) => seconds / n).sort((a, b) => a - b);
  const paceS = paces[paces.length >> 1] ?? 0;
  return spans.map(({ i, fromMm, toMm, seconds, n }) => {
    const speed = speedMmPerS[i];
    const counted = Math.max(0, toMm - fromMm);
    if (speed == null) return { fromMm, toMm, offMm: 0, contradicts: false };
    // A pause of the record adds time without readings, in which the strand moved or stood still.
    const bySpeed = [speed * Math.min(seconds, n * paceS), speed * seconds];
    const [least, most] = [Math.max(0, Math.min(...bySpeed)), Math.max(0, ...bySpeed)];
    // Where the counter stands still, the record has followed the speed instead.
    const isStuck = counterMm.max[i] != null && counterMm.max[i] === counterMm.min[i];
    const saidMm = isStuck ? 0 : counted;
    const offMm = saidMm < least ? least - saidMm : Math.max(0, saidMm - most);
    const larger = Math.max(saidMm, least);
    return { fromMm, toMm, offMm, contradicts: larger >= DOUBT_COLUMN_MM / 2 && offMm > CONTRADICTS * larger };
  });
}
