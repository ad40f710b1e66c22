import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { span } from '../format/times.ts';

export interface Callout {
  readonly id: string;
  /** Distance of the section's peak from the gauge, mm. */
  readonly distanceMm: number;
  readonly lane: number;
}

/** Where on the way from the gauge a section is: its peak, else its middle, mm from the gauge. */
export function distanceOf(section: SectionView, spoolStartMm: number | null, headMm: number): number {
  const peak =
    section.peakSpoolMm !== null && spoolStartMm !== null
      ? spoolStartMm + section.peakSpoolMm
      : (section.fromGaugeMm + section.toGaugeMm) / 2;
  return Math.max(0, headMm - Math.min(Math.max(peak, section.fromGaugeMm), section.toGaugeMm));
}

/** Left edge of a callout on the plot, px: at its point, but never beyond the plot's right end. */
export function calloutLeft(distanceMm: number, mmPerPx: number, widthPx: number, plotPx: number): number {
  return Math.max(0, Math.min(distanceMm / mmPerPx, plotPx - widthPx));
}

/**
 * Gives each callout a lane so that no two of a lane overlap. The nearest to the winder is placed first, in the lane
 * nearest to the strand: it is the one that somebody must walk for. More than `lanes` deep, the rest are left out.
 */
export function placeCallouts(
  items: readonly { readonly id: string; readonly distanceMm: number }[],
  mmPerPx: number,
  widthPx: number,
  plotPx: number,
  lanes: number,
): Callout[] {
  const ends = new Array<number>(lanes).fill(Number.POSITIVE_INFINITY);
  const placed: Callout[] = [];
  for (const item of [...items].sort((a, b) => b.distanceMm - a.distanceMm)) {
    const left = calloutLeft(item.distanceMm, mmPerPx, widthPx, plotPx);
    const lane = ends.findIndex((end) => left + widthPx <= end);
    if (lane < 0) continue;
    ends[lane] = left;
    placed.push({ ...item, lane });
  }
  return placed;
}

/** Seconds until a point reaches the winder; null while the strand stands still or once it is wound. */
export function secondsToWinder(distanceMm: number, pathMm: number, speedMmPerS: number): number | null {
  if (speedMmPerS < 0.05 || distanceMm >= pathMm) return null;
  return (pathMm - distanceMm) / speedMmPerS;
}

/**
 * When a stretch reaches the winder: its first millimetre counts, for that is what somebody must be there for. `edgeMm`:
 * of that millimetre from the gauge; `oldMs`: since when nothing more is known, null = it is of now.
 */
export function wayText(
  edgeMm: number,
  pathMm: number,
  speedMmPerS: number,
  oldMs: number | null,
  narrow: boolean,
): string {
  if (oldMs !== null) return `was here ${span(oldMs)} ago`;
  if (edgeMm >= pathMm) return narrow ? 'at the winder' : 'is reaching the winder';
  const s = secondsToWinder(edgeMm, pathMm, speedMmPerS);
  if (s === null) return 'on its way';
  return `${narrow ? '' : 'reaches the '}winder in ${Math.max(1, Math.ceil(s))} s`;
}
