import type { Stretch } from './position.ts';

/** Longer pieces are a mistake: the way from gauge to winder is a metre or two. */
export const CUT_OUT_MAX_MM = 20_000;
/** Strand next to a blob that is cut out with it, on either side. Common practice, no source. */
const MARGIN_MM = 50;
const ROUND_TO_MM = 10;

/** How much to cut out around a section, if nothing else was measured: all of it with its margins, in round numbers. */
export function proposedCutOutMm({ fromMm, toMm }: Stretch): number {
  const lengthMm = Math.ceil((toMm - fromMm + 2 * MARGIN_MM) / ROUND_TO_MM) * ROUND_TO_MM;
  return Math.min(CUT_OUT_MAX_MM, lengthMm);
}
