import type { StrandLimits } from '../../strand/strand-limits.ts';
import { TwoAxes } from '../../strand/two-axes.ts';
import type { SpoolColumns } from './spool-columns.ts';

/** Readings without the values of a dead axis, as the line was watched. */
export interface BelievedColumns extends SpoolColumns {
  /** 1 = only one of two axes was alive; null = a gauge of one axis. */
  readonly oneAxis: Uint8Array | null;
}

export function believedColumns(columns: SpoolColumns, limits: StrandLimits): BelievedColumns {
  const { timeMs, axesMm } = columns;
  if (axesMm === null) return { ...columns, oneAxis: null };
  const axes = new TwoAxes(limits);
  const diameterMm = columns.diameterMm.slice();
  const [x, y] = [axesMm.x.slice(), axesMm.y.slice()];
  const oneAxis = new Uint8Array(timeMs.length);
  for (let i = 0; i < timeMs.length; i++) {
    axes.step(timeMs[i]!, diameterMm[i]!, x[i]!, y[i]!);
    if (axes.dead === null) continue;
    oneAxis[i] = 1;
    diameterMm[i] = axes.diameterMm;
    x[i] = Number.NaN;
    y[i] = Number.NaN;
  }
  return { ...columns, diameterMm, axesMm: { x, y }, oneAxis };
}
