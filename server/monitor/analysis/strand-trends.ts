import type { GAUGE_TROUBLES } from '../../strand/advice.ts';
import { GaugeWatch } from '../../strand/gauge-watch.ts';
import { isCutOut, type Stretch } from '../../strand/position.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import { CellMeans, type MeanCell } from '../../strand/trend/cell-means.ts';
import { CellTrend } from '../../strand/trend/strand-trend.ts';
import type { BelievedColumns } from './believed-columns.ts';
import type { SpoolColumns } from './spool-columns.ts';

export interface GaugeTrouble {
  readonly kind: (typeof GAUGE_TROUBLES)[number];
  readonly fromMm: number;
  readonly toMm: number;
}

interface Extent {
  readonly startGaugeMm: number;
  readonly endGaugeMm: number;
  readonly cutOuts: readonly Stretch[];
}

function isOn(atMm: number, { startGaugeMm, endGaugeMm, cutOuts }: Extent): boolean {
  return atMm >= startGaugeMm && atMm <= endGaugeMm && !isCutOut(atMm, cutOuts);
}

/** Diameter in cells of even length, the basis of the trends. It does not depend on the tolerance. */
export function courseOf(columns: SpoolColumns, spool: Extent, limits: StrandLimits): readonly MeanCell[] {
  const { timeMs, gaugeMm, diameterMm } = columns;
  const course = new CellMeans(limits);
  const cells: MeanCell[] = [];
  for (let i = 0; i < gaugeMm.length; i++) {
    const atMm = gaugeMm[i]!;
    if (!isOn(atMm, spool)) continue;
    const cell = course.step(timeMs[i]!, atMm, diameterMm[i]!);
    if (cell !== null) cells.push(cell);
  }
  return cells;
}

/** Drift and surging of the strand on a spool, found by the same code as on the live line. */
export function trendsOf(course: readonly MeanCell[], { toleranceMm }: StrandLimits): readonly StrandAdvisory[] {
  const trend = new CellTrend(toleranceMm);
  for (const cell of course) trend.step(cell);
  trend.interrupt();
  return trend.advisories();
}

/** Stretches of a spool where the gauge was frozen or saturated, or one of two axes was dead. */
export function gaugeTroubles(columns: BelievedColumns, spool: Extent, limits: StrandLimits): readonly GaugeTrouble[] {
  const { timeMs, gaugeMm, diameterMm, oneAxis } = columns;
  const watch = new GaugeWatch(limits);
  const found: GaugeTrouble[] = [];
  const since = { gaugeFrozen: Number.NaN, gaugeSaturated: Number.NaN, axisDead: Number.NaN };
  let lastMm = Number.NaN;
  const follow = (kind: GaugeTrouble['kind'], holds: boolean, toMm: number, sinceMm = watch.sameSinceMm): void => {
    if (holds && Number.isNaN(since[kind])) since[kind] = sinceMm;
    else if (!holds && !Number.isNaN(since[kind])) {
      found.push({ kind, fromMm: since[kind], toMm });
      since[kind] = Number.NaN;
    }
  };
  for (let i = 0; i < gaugeMm.length; i++) {
    const atMm = gaugeMm[i]!;
    if (!isOn(atMm, spool)) continue;
    const diameter = diameterMm[i]!;
    if (oneAxis !== null) follow('axisDead', oneAxis[i] === 1, lastMm, atMm);
    if (Number.isNaN(diameter)) continue;
    const seconds = i === 0 ? 0 : (timeMs[i]! - timeMs[i - 1]!) / 1000;
    watch.step(timeMs[i]!, atMm, diameter, seconds > 0 ? (atMm - gaugeMm[i - 1]!) / seconds : Number.NaN);
    if (watch.frozen || !Number.isNaN(since.gaugeFrozen)) follow('gaugeFrozen', watch.frozen, lastMm);
    if (watch.saturated || !Number.isNaN(since.gaugeSaturated)) follow('gaugeSaturated', watch.saturated, lastMm);
    lastMm = atMm;
  }
  follow('gaugeFrozen', false, lastMm);
  follow('gaugeSaturated', false, lastMm);
  follow('axisDead', false, lastMm);
  return found;
}
