export interface DiameterLimits {
  readonly nominalMm: number;
  readonly toleranceMm: number;
  readonly hotendLimitMm: number;
  readonly leastFeedableMm: number;
}

/**
 * The range of diameters to draw, mm: always all limits, and more in steps of 0.1 where the strand goes beyond.
 * Downwards too, but not without end: a lost strand falls off the picture, it does not squash it.
 */
export function diameterRange(
  limits: DiameterLimits,
  largestMm: number | null,
  smallestMm: number | null = null,
): [number, number] {
  const margin = (limits.hotendLimitMm - limits.leastFeedableMm) * 0.16;
  let low = limits.leastFeedableMm - margin;
  let high = limits.hotendLimitMm + margin;
  if (largestMm !== null && largestMm > high - 0.02) high = Math.ceil((largestMm + 0.04) * 10) / 10;
  if (smallestMm !== null && smallestMm < low + 0.02 && smallestMm > smallestDrawnMm(limits)) {
    low = Math.floor((smallestMm - 0.02) * 10) / 10;
  }
  return [low, Math.min(high, largestDrawnMm(limits))];
}

/** Purged lumps may be thicker than any blob: what lies beyond this is marked, or it would squash the band to a line. */
function largestDrawnMm({ hotendLimitMm, leastFeedableMm }: DiameterLimits): number {
  return hotendLimitMm + 2 * (hotendLimitMm - leastFeedableMm);
}

/** A strand that runs out ends in readings of any size: what is thinner than this does not widen the scale. */
export function smallestDrawnMm({ nominalMm }: DiameterLimits): number {
  return 0.6 * nominalMm;
}

/** The lines worth a label, from the thickest down. */
export function limitLines(
  limits: DiameterLimits,
): { readonly mm: number; readonly text: string; readonly kind: 'limit' | 'edge' | 'nominal' }[] {
  return [
    { mm: limits.hotendLimitMm, text: 'hotend limit', kind: 'limit' },
    { mm: limits.nominalMm + limits.toleranceMm, text: 'tolerance', kind: 'edge' },
    { mm: limits.nominalMm, text: 'nominal', kind: 'nominal' },
    { mm: limits.nominalMm - limits.toleranceMm, text: 'tolerance', kind: 'edge' },
    { mm: limits.leastFeedableMm, text: 'least feedable', kind: 'limit' },
  ];
}

/** Thickness of the drawn strand in px: nominal is `nominalPx`, what is off nominal is drawn `gain` times over. */
export function drawnThickness(mm: number, nominalMm: number, nominalPx: number, gain: number): number {
  return Math.min(nominalPx * 2.4, Math.max(nominalPx * 0.12, nominalPx * (1 + (gain * (mm - nominalMm)) / nominalMm)));
}
