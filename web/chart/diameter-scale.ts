export interface DiameterLimits {
  readonly nominalMm: number;
  readonly toleranceMm: number;
  readonly hotendLimitMm: number;
  readonly smallestFeedableMm: number;
}

/**
 * The range of diameters to draw, mm: all limits, extended in steps of 0.1 where the strand goes beyond them. The extension
 * downwards is limited, so that a lost strand does not squash the picture.
 */
export function diameterRange(
  limits: DiameterLimits,
  largestMm: number | null,
  smallestMm: number | null = null,
): [number, number] {
  const margin = (limits.hotendLimitMm - limits.smallestFeedableMm) * 0.16;
  let low = limits.smallestFeedableMm - margin;
  let high = limits.hotendLimitMm + margin;
  if (largestMm !== null && largestMm > high - 0.02) high = Math.ceil((largestMm + 0.04) * 10) / 10;
  if (smallestMm !== null && smallestMm < low + 0.02 && smallestMm > smallestDrawnMm(limits)) {
    low = Math.floor((smallestMm - 0.02) * 10) / 10;
  }
  return [low, Math.min(high, largestDrawnMm(limits))];
}

/** Purged lumps may be thicker than any blob. Beyond this they are only marked, because they would squash the band to a line. */
function largestDrawnMm({ hotendLimitMm, smallestFeedableMm }: DiameterLimits): number {
  return hotendLimitMm + 2 * (hotendLimitMm - smallestFeedableMm);
}

/** A strand that runs out ends in readings of any size. Readings below this do not widen the scale. */
export function smallestDrawnMm({ nominalMm }: DiameterLimits): number {
  return 0.6 * nominalMm;
}

export type LimitKind = 'hotend' | 'feedable' | 'tolerance' | 'nominal';

/** The limits to label, thickest first. */
export function limitLines(
  limits: DiameterLimits,
): { readonly mm: number; readonly text: string; readonly kind: LimitKind }[] {
  return [
    { mm: limits.hotendLimitMm, text: 'hotend limit', kind: 'hotend' },
    { mm: limits.nominalMm + limits.toleranceMm, text: 'tolerance', kind: 'tolerance' },
    { mm: limits.nominalMm, text: 'nominal', kind: 'nominal' },
    { mm: limits.nominalMm - limits.toleranceMm, text: 'tolerance', kind: 'tolerance' },
    { mm: limits.smallestFeedableMm, text: 'smallest feedable', kind: 'feedable' },
  ];
}

/** Thickness of the drawn strand in px: `nominalPx` for nominal, with deviations exaggerated by `gain`. */
export function drawnThickness(mm: number, nominalMm: number, nominalPx: number, gain: number): number {
  return Math.min(nominalPx * 2.4, Math.max(nominalPx * 0.12, nominalPx * (1 + (gain * (mm - nominalMm)) / nominalMm)));
}
