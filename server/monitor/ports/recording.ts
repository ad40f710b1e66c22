import type { Lot } from '../../entities/run.ts';
import type { LogSurvey, UnusableLog } from '../../reading/log-survey.ts';
import type { LineSettings } from '../../settings/line-settings.ts';

/** How a recorded source is replayed into a separate record. */
export interface ReplaySettings {
  /** A folder for intermediate files; the caller removes it. */
  readonly folder: string;
  readonly settings: LineSettings;
  /** Settings of alarm types that users changed, by type. */
  readonly alarmSettings: Readonly<Record<string, unknown>>;
  readonly timeZone: string;
  /** When the recording started, UTC ms. */
  readonly startMs: number;
}

/** A recorded log to be replayed as if its lines arrived live. */
export interface ReplayRequest extends ReplaySettings {
  readonly path: string;
  /** Name of the user's file: `night.log`. */
  readonly name: string;
  /** Lines per second, if the lines carry no device clock; null = they do, or unknown. */
  readonly rateHz: number | null;
  /** Its lines carry time stamps. */
  readonly stamped: boolean;
}

export interface RecordingProgress {
  /** Share of the log's bytes, 0…1. */
  readonly share: number;
  readonly readings: number;
}

export interface ReplayedRecording extends RecordingProgress {
  /** Paths of the archives of the runs found, in order of time; they are in the folder of the request. */
  readonly archives: readonly string[];
}

/** Examines and replays recorded logs, independently of the line being watched. */
export interface RecordingReplayer {
  /**
   * Examines the beginning and the end of a file.
   * @param changedMs when the file was last changed, UTC ms; null = unknown
   */
  survey(path: string, settings: LineSettings, changedMs: number | null): Promise<LogSurvey | UnusableLog>;
  /**
   * Replays a log from its first to its last line in a separate record. No one is notified.
   * @param stop cancels it; the promise then rejects
   * @throws Problem `wrong-state` if the disk has no space
   */
  replay(
    request: ReplayRequest,
    progress: (now: RecordingProgress) => void,
    stop: AbortSignal,
  ): Promise<ReplayedRecording>;
}

/** A simulated night that a first start offers to look at. */
export interface ExampleNight {
  readonly name: string;
  readonly startMs: number;
  readonly lot: Lot;
  readonly note: string;
}

/** Simulates example nights, independently of the line being watched. */
export interface NightSimulator {
  /** The oldest first. */
  nights(nowMs: number): readonly ExampleNight[];
  /**
   * @param stop cancels it; the promise then rejects
   * @returns paths of the archives of its runs; they are in the folder of the settings
   */
  simulate(name: string, settings: ReplaySettings, stop: AbortSignal): Promise<readonly string[]>;
}
