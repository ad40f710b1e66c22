import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { asCounted, gaugeLengthMm, type StrandOnWinder } from '../../server/strand/position.ts';
import { countdownS, span } from '../format/times.ts';

export interface Callout {
  readonly id: string;
  /** Distance of the section's peak from the gauge, mm. */
  readonly distanceMm: number;
  readonly lane: number;
}

/** What positions on the spool being wound follow from; null = none is. Its lengths are as counted. */
export function strandOf({ spool }: Pick<LiveState, 'spool'>): StrandOnWinder | null {
  return spool === null ? null : asCounted(spool, spool.cutOuts);
}

/** The gauge length at which a section is pointed at: its peak, else its middle. */
export function placeOf(section: SectionView, strand: StrandOnWinder | null): number {
  const peak =
    section.peakSpoolMm !== null && strand !== null
      ? gaugeLengthMm(section.peakSpoolMm, strand)
      : (section.fromGaugeMm + section.toGaugeMm) / 2;
  return Math.min(Math.max(peak, section.fromGaugeMm), section.toGaugeMm);
}

/** How far the place of a section is from the gauge, mm. */
export function distanceOf(section: SectionView, strand: StrandOnWinder | null, headMm: number): number {
  return Math.max(0, headMm - placeOf(section, strand));
}

/** Left edge of a callout, px: at its point, but never beyond the plot's right end. */
export function calloutLeft(distanceMm: number, mmPerPx: number, widthPx: number, plotPx: number): number {
  return Math.max(0, Math.min(distanceMm / mmPerPx, plotPx - widthPx));
}

/**
 * Gives each callout a lane, so that none overlap. Those that are counted down come first, and of these the nearest to the
 * winder, in the lane next to the strand. Callouts that do not fit into `lanes` are left out.
 */
export function placeCallouts(
  items: readonly { readonly id: string; readonly distanceMm: number; readonly countedDown: boolean }[],
  mmPerPx: number,
  widthPx: number,
  plotPx: number,
  lanes: number,
): Callout[] {
  const lefts = Array.from({ length: lanes }, (): number[] => []);
  const placed: Callout[] = [];
  const urgentFirst = [...items].sort(
    (a, b) => Number(b.countedDown) - Number(a.countedDown) || b.distanceMm - a.distanceMm,
  );
  for (const { id, distanceMm } of urgentFirst) {
    const left = calloutLeft(distanceMm, mmPerPx, widthPx, plotPx);
    const lane = lefts.findIndex((taken) => taken.every((other) => Math.abs(other - left) >= widthPx));
    if (lane < 0) continue;
    lefts[lane]!.push(left);
    placed.push({ id, distanceMm, lane });
  }
  return placed;
}

/**
 * When the start of a section reaches the winder.
 * @param winderMm gauge length of the strand at the winder @param oldMs age of the state; null = current
 */
export function arrivalText(
  { fromGaugeMm, reachesWinderInS }: Pick<SectionView, 'fromGaugeMm' | 'reachesWinderInS'>,
  winderMm: number,
  oldMs: number | null,
  brief: boolean,
): string {
  if (oldMs !== null) return `${brief ? '' : 'was here '}${span(oldMs)} ago`;
  if (fromGaugeMm <= winderMm) return brief ? 'at the winder' : 'is reaching the winder';
  if (reachesWinderInS === null) return 'on its way';
  return `${brief ? '' : 'reaches the '}winder in ${countdownS(reachesWinderInS)} s`;
}
