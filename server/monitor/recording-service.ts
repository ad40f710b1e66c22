import { rm, stat } from 'node:fs/promises';
import { messageOf, Problem } from '../problem/problem.ts';
import type { LogSurvey } from '../reading/log-survey.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Clock } from './clock.ts';
import type { Log } from './log.ts';
import { requireFreeSpace } from './maintenance-service.ts';
import type { RecordMaintenance } from './ports/maintenance.ts';
import type { RecordWriter } from './ports/record.ts';
import type { RecordingProgress, RecordingReplayer } from './ports/recording.ts';

export interface RecordingServiceParts {
  readonly replayer: RecordingReplayer;
  readonly maintenance: Pick<RecordMaintenance, 'scratchPath' | 'readArchive' | 'freeBytes'>;
  readonly writer: Pick<RecordWriter, 'log' | 'loadAlarmSettings'>;
  readonly clock: Clock;
  readonly log: Log;
  settings(): LineSettings;
  readonly timeZone: string;
}

/** The state of a recorded log, for the page and the command. */
export interface RecordingState {
  readonly name: string;
  readonly bytes: number;
  readonly lines: number;
  readonly survey: LogSurvey;
  /** When the file was last changed, UTC ms, which is about when the recording ended; null = unknown. */
  readonly changedMs: number | null;
  readonly phase: 'ready' | 'replaying' | 'importing' | 'done' | 'failed';
  readonly progress: RecordingProgress;
  /** Numbers of the imported runs. */
  readonly runs: readonly number[];
  readonly problem: { readonly title: string; readonly detail: string } | null;
}

export interface UploadedLog {
  /** A temporary copy, from `scratchPath('log')`; the service removes it. */
  readonly path: string;
  readonly name: string;
  readonly bytes: number;
  readonly lines: number;
  readonly changedMs: number | null;
}

/** A log whose import has not been started by then is removed. */
const EXPIRES_AFTER_MS = 3_600_000;
/** Temporary files of an import take less than this share of the log's size. */
const TEMPORARY_SHARE = 0.5;

/**
 * Imports recorded logs as runs, one at a time, independently of the line being watched: a log is examined, replayed into a
 * separate record, and its runs are imported like archives. No one is notified. If it is refused, fails or is cancelled,
 * nothing remains.
 */
export class RecordingService {
  readonly #parts: RecordingServiceParts;
  #state: RecordingState | null = null;
  #path: string | null = null;
  #cancelling = new AbortController();
  #importing: Promise<void> = Promise.resolve();
  #expiry: NodeJS.Timeout | null = null;

  constructor(parts: RecordingServiceParts) {
    this.#parts = parts;
  }

  /** null = there is no log. */
  get state(): RecordingState | null {
    return this.#state;
  }

  /** @throws Problem `wrong-state` during an import */
  requireIdle(): void {
    const state = this.#state;
    if (state?.phase !== 'replaying' && state?.phase !== 'importing') return;
    throw new Problem(
      'wrong-state',
      `The log ${state.name} is being imported.`,
      'Wait until the import is done, or cancel it.',
    );
  }

  /**
   * Examines a log that was copied to the disk. It replaces an earlier one whose import has not been started.
   * @throws Problem `bad-log`; the copy is then removed
   */
  async examine({ path, name, bytes, lines, changedMs }: UploadedLog): Promise<RecordingState> {
    const { replayer, settings } = this.#parts;
    try {
      this.requireIdle();
      const survey = await replayer.survey(path, settings(), changedMs);
      if ('found' in survey) {
        throw new Problem('bad-log', `${name} could not be imported. ${survey.found}`, survey.remedy);
      }
      this.requireIdle();
      await this.#removeLog();
      this.#path = path;
      const progress = { share: 0, readings: 0 };
      this.#state = { name, bytes, lines, survey, changedMs, phase: 'ready', progress, runs: [], problem: null };
      this.#expiry = setTimeout(() => void this.discard(), EXPIRES_AFTER_MS).unref();
      return this.#state;
    } catch (thrown) {
      await this.#remove(path);
      throw thrown;
    }
  }

  /**
   * Starts importing the examined log; `state` shows the progress.
   * @param startMs when the recording started, UTC ms
   * @param rateHz lines per second, if the lines have no times
   * @throws Problem `wrong-state` if there is no log; `record-failing` if there is too little disk space; `bad-time` if the rate is missing
   */
  startImport(startMs: number, rateHz: number | null, who: string): void {
    this.requireIdle();
    const ready = this.#state;
    const path = this.#path;
    if (ready === null || path === null || ready.phase !== 'ready') {
      throw new Problem('wrong-state', 'There is no log to import.', 'Send the log first.');
    }
    if (ready.survey.clock === null && rateHz === null) {
      throw new Problem('bad-time', 'The lines of the log have no times.', 'Give the number of lines per second.', {
        pointer: '/rateHz',
      });
    }
    this.#requireSpace(TEMPORARY_SHARE * ready.bytes);
    const { clock, rateHz: surveyedHz } = ready.survey;
    const folder = this.#parts.maintenance.scratchPath('replay');
    if (this.#expiry !== null) clearTimeout(this.#expiry);
    this.#cancelling = new AbortController();
    this.#state = { ...ready, phase: 'replaying' };
    // Stamps are often whole seconds, so the rate is needed to place lines within a second.
    const linesHz = clock === null ? rateHz : clock === 'stamps' ? surveyedHz : null;
    this.#importing = this.#import(ready, path, folder, startMs, linesHz, who);
  }

  /** Cancels the import and removes the log. Runs that were imported completely remain. */
  async discard(): Promise<void> {
    this.#cancelling.abort();
    await this.#importing;
    await this.#removeLog();
  }

  /** Resolves when no import is in progress. */
  async settled(): Promise<void> {
    await this.#importing;
  }

  async stop(): Promise<void> {
    await this.discard();
  }

  /** Never rejects; `state` shows what went wrong. */
  async #import(
    ready: RecordingState,
    path: string,
    folder: string,
    startMs: number,
    rateHz: number | null,
    who: string,
  ): Promise<void> {
    const { replayer, maintenance, writer, settings, timeZone, clock, log } = this.#parts;
    const runs: number[] = [];
    const update = (changes: Partial<RecordingState>) => {
      this.#state = { ...ready, phase: 'replaying', runs, ...changes };
    };
    let progress: RecordingProgress = ready.progress;
    let outcome: Partial<RecordingState> = {};
    const cancelling = this.#cancelling;
    const { signal } = cancelling;
    try {
      const request = {
        path,
        name: ready.name,
        folder,
        settings: settings(),
        alarmSettings: writer.loadAlarmSettings(),
        timeZone,
        startMs,
        rateHz,
        stamped: ready.survey.stamped,
      };
      const replayed = await replayer.replay(
        request,
        (latest) => {
          progress = latest;
          update({ progress });
          try {
            this.#requireSpace(0);
          } catch (thrown) {
            cancelling.abort(thrown);
          }
        },
        signal,
      );
      progress = { share: 1, readings: replayed.readings };
      if (replayed.archives.length === 0) throw noRun(ready.name, replayed.readings);
      for (const archive of replayed.archives) {
        signal.throwIfAborted();
        update({ phase: 'importing', progress });
        this.#requireSpace((await stat(archive)).size);
        const runId = await maintenance.readArchive(archive, signal, true);
        runs.push(runId);
        const what = `Imported run ${runId} from the recorded log ${ready.name}.`;
        writer.log({ timeMs: clock(), runId, who, what });
      }
      outcome = { phase: 'done', progress };
    } catch (caught) {
      const thrown: unknown = signal.aborted ? signal.reason : caught;
      // Not because of a full disk, so a user has discarded the log.
      if (signal.aborted && !(thrown instanceof Problem)) return;
      log.warn(`The recorded log ${ready.name} could not be imported: ${messageOf(thrown)}`);
      const detail =
        thrown instanceof Problem ? thrown.remedy : 'See the log of the service for details. Recording continues.';
      outcome = { phase: 'failed', progress, problem: { title: messageOf(thrown), detail } };
    } finally {
      this.#path = null;
      await this.#remove(path);
      await this.#remove(folder, true);
      update({ progress, ...outcome });
    }
  }

  async #removeLog(): Promise<void> {
    if (this.#expiry !== null) clearTimeout(this.#expiry);
    const path = this.#path;
    this.#path = null;
    this.#state = null;
    if (path !== null) await this.#remove(path);
  }

  #requireSpace(bytes: number): void {
    requireFreeSpace(bytes, this.#parts.maintenance, this.#parts.settings());
  }

  /** A file that cannot be removed is only logged; the next start of the service removes it. */
  async #remove(path: string, recursive = false): Promise<void> {
    try {
      await rm(path, { force: true, recursive });
    } catch (thrown) {
      this.#parts.log.warn(`A temporary file of a recorded log could not be removed: ${messageOf(thrown)}`);
    }
  }
}

function noRun(name: string, readings: number): Problem {
  return new Problem(
    'bad-log',
    `No run was found in ${name}: it holds ${readings} readings, but the line never heated up and no strand moved.`,
    'Check that names, limits and line speed on the Set-up page are those of the recorded line.',
  );
}
