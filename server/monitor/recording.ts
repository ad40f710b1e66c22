import type { LogSurvey, UnusableLog } from '../reading/log-survey.ts';
import type { LineSettings } from '../settings/line-settings.ts';

/** A recorded log that is to be judged as if it came over the cable. */
export interface RecordingOrder {
  readonly path: string;
  /** As the person knows it: `night.log`. */
  readonly name: string;
  /** A folder of its own for what is made on the way; whoever gives it removes it. */
  readonly folder: string;
  readonly settings: LineSettings;
  /** As people set the alarm types, by type. */
  readonly alarmSettings: Readonly<Record<string, unknown>>;
  readonly timeZone: string;
  /** When it began, UTC ms. */
  readonly startMs: number;
  /** Lines a second, where no clock of the device tells it; null = unknown, or it does. */
  readonly rateHz: number | null;
  /** Its lines bear time stamps. */
  readonly stamped: boolean;
}

export interface RecordingProgress {
  /** Of the bytes of the log, 0…1. */
  readonly share: number;
  readonly readings: number;
}

export interface ReplayedRecording extends RecordingProgress {
  /** Archives of the runs that were found in it, in the order of time; they lie in the folder of the order. */
  readonly archives: readonly string[];
}

/** Where recorded logs are looked at and judged, beside the line that is being watched. */
export interface RecordingReplayer {
  /**
   * Look at the beginning and the end of a file.
   * @param changedMs when it was last changed, UTC ms; null = unknown
   */
  survey(path: string, settings: LineSettings, changedMs: number | null): Promise<LogSurvey | UnusableLog>;
  /**
   * Judge a log from its first line to its last in a record of its own; calls nobody.
   * @param stop ends it early; the promise then rejects
   * @throws Problem `wrong-state` where the disk refuses
   */
  judge(
    order: RecordingOrder,
    progress: (now: RecordingProgress) => void,
    stop: AbortSignal,
  ): Promise<ReplayedRecording>;
}
