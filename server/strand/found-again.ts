import type { MeasuredSection } from './section.ts';

/** Edges that differ by less, mm, tell of the same stretch. */
const SAME_EDGE_MM = 1;

export interface FoundAgain {
  /** Known ones that reach further than was known, by their ordinals. */
  readonly widened: readonly MeasuredSection[];
  /** Known of by nobody; their ordinals mean nothing. */
  readonly fresh: readonly MeasuredSection[];
}

/** Strand was judged again: what of it is to be kept beside the sections that are known. Lengths are gauge lengths, mm. */
export function findAgain(found: readonly MeasuredSection[], known: readonly MeasuredSection[]): FoundAgain {
  const fresh: MeasuredSection[] = [];
  const widened = new Map<number, MeasuredSection>();
  for (const one of found) {
    const same = known
      .map((section) => widened.get(section.ordinal) ?? section)
      .filter(({ kind, fromMm, toMm }) => kind === one.kind && toMm > one.fromMm && fromMm < one.toMm);
    const longest = same.reduce<MeasuredSection | null>(
      (most, section) => (most === null || lengthMm(section) > lengthMm(most) ? section : most),
      null,
    );
    if (longest === null) fresh.push(one);
    // One that still grows began where the line saw it begin.
    else if (!same.some((section) => section.open || holds(section, one, SAME_EDGE_MM))) {
      widened.set(longest.ordinal, {
        ...(holds(one, longest, 0) ? one : longest),
        ordinal: longest.ordinal,
        fromMm: Math.min(longest.fromMm, one.fromMm),
        toMm: Math.max(longest.toMm, one.toMm),
        fromTimeMs: Math.min(longest.fromTimeMs, one.fromTimeMs),
        toTimeMs: Math.max(longest.toTimeMs, one.toTimeMs),
        open: false,
      });
    }
  }
  return { widened: [...widened.values()], fresh };
}

function holds(outer: MeasuredSection, inner: MeasuredSection, slackMm: number): boolean {
  return outer.fromMm <= inner.fromMm + slackMm && outer.toMm >= inner.toMm - slackMm;
}

function lengthMm({ fromMm, toMm }: MeasuredSection): number {
  return toMm - fromMm;
}
