import type { MeasuredSection } from './section.ts';

/** Edges closer than this belong to the same stretch, mm. */
const SAME_EDGE_MM = 1;

export interface Reconciled {
  /** Known sections that turned out longer, under their ordinals. */
  readonly widened: readonly MeasuredSection[];
  /** Sections not known before; their ordinals have no meaning. */
  readonly added: readonly MeasuredSection[];
}

/** Compares the sections of strand that was scanned again with the known ones of the same run. */
export function reconcileSections(found: readonly MeasuredSection[], known: readonly MeasuredSection[]): Reconciled {
  const added: MeasuredSection[] = [];
  const widened = new Map<number, MeasuredSection>();
  for (const one of found) {
    const same = known
      .map((section) => widened.get(section.ordinal) ?? section)
      .filter(({ kind, fromMm, toMm }) => kind === one.kind && toMm > one.fromMm && fromMm < one.toMm);
    const longest = same.reduce<MeasuredSection | null>(
      (most, section) => (most === null || lengthMm(section) > lengthMm(most) ? section : most),
      null,
    );
    if (longest === null) added.push(one);
    // An open section keeps the start that was found live.
    else if (!same.some((section) => section.open || contains(section, one, SAME_EDGE_MM))) {
      widened.set(longest.ordinal, {
        ...(contains(one, longest, 0) ? one : longest),
        ordinal: longest.ordinal,
        fromMm: Math.min(longest.fromMm, one.fromMm),
        toMm: Math.max(longest.toMm, one.toMm),
        fromTimeMs: Math.min(longest.fromTimeMs, one.fromTimeMs),
        toTimeMs: Math.max(longest.toTimeMs, one.toTimeMs),
        open: false,
      });
    }
  }
  return { widened: [...widened.values()], added };
}

function contains(outer: MeasuredSection, inner: MeasuredSection, slackMm: number): boolean {
  return outer.fromMm <= inner.fromMm + slackMm && outer.toMm >= inner.toMm - slackMm;
}

function lengthMm({ fromMm, toMm }: MeasuredSection): number {
  return toMm - fromMm;
}
