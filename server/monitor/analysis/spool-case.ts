import type { CountError } from '../../strand/plan/cut-request.ts';
import type { MeasuredSection, StatedSection } from '../../strand/section.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';

/** The readings of a spool and of some strand before and behind it: parallel arrays, one entry a reading, NaN = no value. */
export interface SpoolColumns {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly diameterMm: Float64Array;
  /** Two axes; null with a gauge of one. */
  readonly axesMm: { readonly x: Float64Array; readonly y: Float64Array } | null;
}

/** Everything beside the readings that a judgement of a spool depends on. Plain data: it travels to a thread. */
export interface SpoolCase {
  /** What verdict, plan and coils call it. */
  readonly name: string;
  readonly startGaugeMm: number;
  readonly endGaugeMm: number;
  /** True length = factor × counted, with this uncertainty as a share (k = 2). */
  readonly lengthFactor: number;
  readonly lengthShare: number;
  readonly limits: StrandLimits;
  readonly printerName: string;
  /** Measured sections of the run as they are in the record: what persons spoke of. */
  readonly recorded: readonly MeasuredSection[];
  readonly stated: readonly StatedSection[];
  readonly densityGPerCm3: number;
  readonly shortestCoilMm: number;
}

/** A measuring wheel at the rewinder, and the start of the count. Common practice, no source. */
const WHEEL_SHARE = 0.01;
const SLIP_MM = 20;

export function countErrorOf(spool: Pick<SpoolCase, 'lengthShare'>): CountError {
  return { wheelShare: WHEEL_SHARE, lengthScaleShare: spool.lengthShare, slipMm: SLIP_MM };
}
