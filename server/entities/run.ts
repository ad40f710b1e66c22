import type { Values } from '../preparation/fields.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { RunOrigin } from './house.ts';

/** The feedstock of a run and its preparation, as described by the user. */
export interface Lot {
  readonly name: string;
  /** In the user's own words: what is in no field. */
  readonly preparation: string;
  /** The fields that a user filled in. */
  readonly values: Values;
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
  /** What users call it; '' = nothing. */
  readonly title: string;
  /** A test is left out of trends and of what preparations did. */
  readonly isTest: boolean;
  /** null = not entered. */
  readonly lot: Lot | null;
  /** Absent = made here, under this id. */
  readonly origin?: RunOrigin;
}

/** A run as it begins: nothing is stated about it yet. */
export type NewRun = Pick<Run, 'startedMs' | 'timeZone' | 'sourceTitle'>;

/** As in the names of its spools: R3, or K7M-R3 for run 3 of another house. A run keeps the name that was printed when it travels. */
export function runName({ id, origin }: Pick<Run, 'id' | 'origin'>): string {
  if (origin === undefined) return `R${id}`;
  return `${origin.house === null ? '' : `${origin.house}-`}R${origin.number}`;
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

/** Start of the source title of a run that was imported from a recorded log. */
export const RECORDED_LOG = 'recorded log ';

/** Start of the source title of an example run, which the simulator made at the first start. */
export const EXAMPLE = 'example: ';

/** Start of the source title of a simulated line. */
export const SIMULATOR = 'simulator, ';

/** Whether a run was made by a line of the house, watched as it happened. */
export function isOfRealLine(run: Pick<Run, 'sourceTitle'>): boolean {
  return wasWatched(run) && !run.sourceTitle.startsWith(SIMULATOR);
}

/** Whether a run is only there to look at, and says nothing about the real line. */
export function isExample({ sourceTitle }: Pick<Run, 'sourceTitle'>): boolean {
  return sourceTitle.startsWith(EXAMPLE);
}

/** Whether it was watched as it happened. Otherwise no one was notified of its alarms. */
export function wasWatched(run: Pick<Run, 'sourceTitle'>): boolean {
  return !run.sourceTitle.startsWith(RECORDED_LOG) && !isExample(run);
}
