import { rm, stat } from 'node:fs/promises';
import { messageOf, Problem } from '../problem/problem.ts';
import type { LogSurvey } from '../reading/log-survey.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { requireFreeSpace } from './free-space.ts';
import type { Log } from './log.ts';
import type { RecordMaintenance } from './ports/maintenance.ts';
import type { RecordWriter } from './ports/record.ts';
import type { RecordingProgress, RecordingReplayer } from './recording.ts';
import type { Clock } from './steady-clock.ts';

export interface RecordingServiceParts {
  readonly replayer: RecordingReplayer;
  readonly maintenance: Pick<RecordMaintenance, 'scratchPath' | 'readArchive' | 'freeBytes'>;
  readonly writer: Pick<RecordWriter, 'log' | 'loadAlarmSettings'>;
  readonly clock: Clock;
  readonly log: Log;
  settings(): LineSettings;
  readonly timeZone: string;
}

/** A log that was given, as the page and the command see it. */
export interface RecordingState {
  readonly name: string;
  readonly bytes: number;
  readonly lines: number;
  readonly survey: LogSurvey;
  /** When the file was last changed, UTC ms: about when the recording ended; null = unknown. */
  readonly changedMs: number | null;
  readonly phase: 'ready' | 'replaying' | 'importing' | 'done' | 'failed';
  readonly progress: RecordingProgress;
  /** Numbers of the runs that were taken in. */
  readonly runs: readonly number[];
  readonly problem: { readonly title: string; readonly detail: string } | null;
}

export interface GivenLog {
  /** A copy of it, from `scratchPath('log')`: the desk removes it. */
  readonly path: string;
  readonly name: string;
  readonly bytes: number;
  readonly lines: number;
  readonly changedMs: number | null;
}

/** A log that nobody has judged within this is removed. */
const IDLE_MS = 3_600_000;
/** What is made of a log while it is judged takes less than this share of its own bytes. */
const MADE_SHARE = 0.5;

/**
 * Recorded logs become runs, one at a time: given, looked at, judged beside the line that is being watched, and their runs
 * taken in as those of another installation. Nobody is called. Of one that is refused, fails or is stopped nothing stays.
 */
export class RecordingService {
  readonly #parts: RecordingServiceParts;
  readonly #requireSpaceFor: (bytes: number) => void;
  #state: RecordingState | null = null;
  #path: string | null = null;
  #stopping = new AbortController();
  #underway: Promise<void> = Promise.resolve();
  #idle: NodeJS.Timeout | null = null;

  constructor(parts: RecordingServiceParts) {
    this.#parts = parts;
    this.#requireSpaceFor = requireFreeSpace(parts.maintenance, parts.settings);
  }

  /** null = none was given, or it was dropped. */
  get state(): RecordingState | null {
    return this.#state;
  }

  /** @throws Problem `wrong-state` while one is being judged */
  checkFree(): void {
    const phase = this.#state?.phase;
    if (phase !== 'replaying' && phase !== 'importing') return;
    throw new Problem(
      'wrong-state',
      `The log ${this.#state!.name} is just being judged.`,
      'Wait until it is done, or stop it.',
    );
  }

  /**
   * Look at a log that was copied to the disk. It takes the place of one that was given before and not judged.
   * @throws Problem `bad-log`; its copy is then removed
   */
  async give({ path, name, bytes, lines, changedMs }: GivenLog): Promise<RecordingState> {
    const { replayer, settings } = this.#parts;
    try {
      this.checkFree();
      const survey = await replayer.survey(path, settings(), changedMs);
      if ('found' in survey) {
        throw new Problem('bad-log', `${name} could not be taken in. ${survey.found}`, survey.remedy);
      }
      this.checkFree();
      await this.#forget();
      this.#path = path;
      const none = { share: 0, readings: 0 };
      this.#state = { name, bytes, lines, survey, changedMs, phase: 'ready', progress: none, runs: [], problem: null };
      this.#idle = setTimeout(() => void this.drop(), IDLE_MS).unref();
      return this.#state;
    } catch (thrown) {
      await this.#remove(path);
      throw thrown;
    }
  }

  /**
   * Begin to judge the log that was given; `state` tells how far it is.
   * @param startMs when it began, UTC ms
   * @param rateHz lines a second, where they tell nothing of time
   * @throws Problem `wrong-state` where none was given, or the disk has no room for what is made of it
   */
  begin(startMs: number, rateHz: number | null, who: string): void {
    this.checkFree();
    const given = this.#state;
    const path = this.#path;
    if (given === null || path === null || given.phase !== 'ready') {
      throw new Problem('wrong-state', 'No log was given that could be judged.', 'Send the log first.');
    }
    if (given.survey.clock === null && rateHz === null) {
      throw new Problem('bad-time', 'The lines of the log carry no time.', 'Say how many came a second.', {
        pointer: '/rateHz',
      });
    }
    this.#requireSpaceFor(MADE_SHARE * given.bytes);
    const { clock, rateHz: foundHz } = given.survey;
    const folder = this.#parts.maintenance.scratchPath('judged');
    if (this.#idle !== null) clearTimeout(this.#idle);
    this.#stopping = new AbortController();
    this.#state = { ...given, phase: 'replaying' };
    // Stamps are often whole seconds: how its lines lie within one is told by their rate alone.
    const linesHz = clock === null ? rateHz : clock === 'stamps' ? foundHz : null;
    this.#underway = this.#judge(given, path, folder, startMs, linesHz, who);
  }

  /** Stop what is under way and forget the log; nothing of it stays. What was taken in whole stays. */
  async drop(): Promise<void> {
    this.#stopping.abort();
    await this.#underway;
    await this.#forget();
  }

  /** Ends when nothing is under way. */
  async settled(): Promise<void> {
    await this.#underway;
  }

  async stop(): Promise<void> {
    await this.drop();
  }

  /** Nobody waits for its outcome, so it never rejects: `state` tells of what went wrong. */
  async #judge(
    given: RecordingState,
    path: string,
    folder: string,
    startMs: number,
    rateHz: number | null,
    who: string,
  ): Promise<void> {
    const { replayer, maintenance, writer, settings, timeZone, clock, log } = this.#parts;
    const runs: number[] = [];
    const now = (more: Partial<RecordingState>) => {
      this.#state = { ...given, phase: 'replaying', runs, ...more };
    };
    let progress: RecordingProgress = given.progress;
    let outcome: Partial<RecordingState> = {};
    const full = new AbortController();
    const signal = AbortSignal.any([this.#stopping.signal, full.signal]);
    try {
      const order = {
        path,
        name: given.name,
        folder,
        settings: settings(),
        alarmSettings: writer.loadAlarmSettings(),
        timeZone,
        startMs,
        rateHz,
        stamped: given.survey.stamped,
      };
      const judged = await replayer.judge(
        order,
        (so) => {
          progress = so;
          now({ progress });
          try {
            this.#requireSpaceFor(0);
          } catch (thrown) {
            full.abort(thrown);
          }
        },
        signal,
      );
      progress = { share: 1, readings: judged.readings };
      if (judged.archives.length === 0) throw noRun(given.name, judged.readings);
      for (const archive of judged.archives) {
        signal.throwIfAborted();
        now({ phase: 'importing', progress });
        this.#requireSpaceFor((await stat(archive)).size);
        const runId = await maintenance.readArchive(archive, signal);
        runs.push(runId);
        const what = `Took in run ${runId} from the recorded log ${given.name}.`;
        writer.log({ timeMs: clock(), runId, who, what });
      }
      outcome = { phase: 'done', progress };
    } catch (caught) {
      if (this.#stopping.signal.aborted) return;
      const thrown: unknown = full.signal.aborted ? full.signal.reason : caught;
      log.warn(`The recorded log ${given.name} could not be taken in: ${messageOf(thrown)}`);
      const detail =
        thrown instanceof Problem ? thrown.remedy : 'The log of the service says more. The record goes on.';
      outcome = { phase: 'failed', progress, problem: { title: messageOf(thrown), detail } };
    } finally {
      this.#path = null;
      await this.#remove(path);
      await this.#remove(folder, true);
      now({ progress, ...outcome });
    }
  }

  async #forget(): Promise<void> {
    if (this.#idle !== null) clearTimeout(this.#idle);
    const path = this.#path;
    this.#path = null;
    this.#state = null;
    if (path !== null) await this.#remove(path);
  }

  /** What the disk does not let go is no reason to end anything else: the next start sweeps it away. */
  async #remove(path: string, recursive = false): Promise<void> {
    try {
      await rm(path, { force: true, recursive });
    } catch (thrown) {
      this.#parts.log.warn(`What was left of a recorded log could not be removed: ${messageOf(thrown)}`);
    }
  }
}

function noRun(name: string, readings: number): Problem {
  return new Problem(
    'bad-log',
    `No run was found in ${name}: it holds ${readings} readings, but the line never heated up and no strand moved.`,
    'See that the names, the limits and the line speed on the page Set-up are those of the line that was recorded.',
  );
}
