import type { StrandLimits } from '../strand/strand-limits.ts';

/** The feedstock of a run and its preparation, in a person's own words. */
export interface Lot {
  readonly name: string;
  /** How it was sorted, sieved, dried, blended. */
  readonly preparation: string;
}

/** From heating up to shutting down. Times UTC ms. */
export interface Run {
  readonly id: number;
  readonly startedMs: number;
  readonly endedMs: number | null;
  /** IANA name of the zone in which the run's clock times are told. */
  readonly timeZone: string;
  readonly sourceTitle: string;
  readonly note: string;
  /** null = nobody said. */
  readonly lot: Lot | null;
}

/** What the line was set to from a gauge length of a run on: what its strand was judged and told by. */
export interface RunSettings {
  readonly fromGaugeMm: number;
  readonly limits: StrandLimits;
  readonly gaugeToWinderMm: number;
  readonly densityGPerCm3: number;
  /** By which detector its sections were found; records from before it was kept have none. */
  readonly detectorVersion?: number;
}
