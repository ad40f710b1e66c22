import type { StrandLimits } from '../../strand/strand-limits.ts';

/** What reading the strand of a spool depends on, beside its readings. Plain data: it travels to a thread. */
export interface SpoolCase {
  readonly startGaugeMm: number;
  readonly endGaugeMm: number;
  /** True length = this × counted. */
  readonly lengthFactor: number;
  readonly limits: StrandLimits;
  /** More strand is being wound behind its end. */
  readonly growing: boolean;
}
