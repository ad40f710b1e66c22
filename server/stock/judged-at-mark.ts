import type { Mark } from './coil-stock.ts';

/** A stretch that is not good, counted from the end that feeds. */
export interface JudgedPlace {
  readonly fromFeedMm: number;
  readonly toFeedMm: number;
}

/** What was judged where a print jammed or shows a flaw, within the uncertainty of that place; nearest first. */
export function judgedAtMark<Place extends JudgedPlace>(mark: Mark, places: readonly Place[]): readonly Place[] {
  const { atMm, uncertaintyMm } = mark;
  if (atMm === null) return [];
  const offMm = ({ fromFeedMm, toFeedMm }: Place) => Math.max(0, fromFeedMm - atMm, atMm - toFeedMm);
  return places.filter((place) => offMm(place) <= uncertaintyMm).toSorted((a, b) => offMm(a) - offMm(b));
}
