import type { StrandLimits } from '../strand/strand-limits.ts';

/** The feedstock of a run and its preparation, as described by the user. */
export interface Lot {
  readonly name: string;
  /** Sorting, sieving, drying, blending. */
  readonly preparation: string;
}

/** One use of the line, from heating up to shutting down. Times UTC ms. */
export interface Run {
  readonly id: number;
  readonly startedMs: number;
  readonly endedMs: number | null;
  /** IANA name of the zone for the run's clock times. */
  readonly timeZone: string;
  readonly sourceTitle: string;
  readonly note: string;
  /** null = not entered. */
  readonly lot: Lot | null;
}

/** Settings of the line from a gauge length of a run on, by which its strand is judged. */
export interface RunSettings {
  readonly fromGaugeMm: number;
  readonly limits: StrandLimits;
  readonly gaugeToWinderMm: number;
  readonly densityGPerCm3: number;
  /** Version of the detector that found its sections; missing in old records. */
  readonly detectorVersion?: number;
}

/** Start of the source title of a run that was imported from a recorded log. Nobody is notified of its alarms. */
export const RECORDED_LOG = 'recorded log ';

export function isOfRecordedLog({ sourceTitle }: Pick<Run, 'sourceTitle'>): boolean {
  return sourceTitle.startsWith(RECORDED_LOG);
}
