import { setImmediate as nextTurn } from 'node:timers/promises';
import type { Run } from '../../entities/run.ts';
import { Problem } from '../../problem/problem.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { Clock } from '../clock.ts';
import type { LogEntry, RecordReader, RecordWriter } from '../ports/record.ts';
import type { SpoolRepository } from '../spool/spool-repository.ts';

export interface RunDateServiceParts {
  readonly reader: Pick<RecordReader, 'runDate' | 'movingRuns'>;
  readonly writer: Pick<RecordWriter, 'moveRun' | 'moveRunBack' | 'moveAlarms' | 'keepDate'>;
  readonly alarms: Pick<AlarmService, 'moveTimes'>;
  readonly spools: SpoolRepository;
  readonly clock: Clock;
  /** After the times of a run have changed. */
  changed(): void;
}

/** The dates that a run could have. */
export interface DatesOfRun {
  /** Start with the corrected date; null = there is nothing to correct. */
  readonly correctedStartMs: number | null;
  /** Start before it was moved; null = it cannot be moved back. */
  readonly originalStartMs: number | null;
  /** It can be corrected, but a user decided to keep it. */
  readonly isKept: boolean;
}

const ONE_DATE: DatesOfRun = { correctedStartMs: null, originalStartMs: null, isKept: false };

/** Corrects the date of a run that a wrong clock dated, as on a machine without a battery for its clock. */
export class RunDateService {
  readonly #parts: RunDateServiceParts;

  constructor(parts: RunDateServiceParts) {
    this.#parts = parts;
  }

  datesOf({ id, startedMs, endedMs }: Run): DatesOfRun {
    if (endedMs === null) return ONE_DATE;
    const { clockAheadMs, movedByMs, canBeMovedBack, isSettled, isMoving } = this.#parts.reader.runDate(id);
    if (isMoving) return ONE_DATE;
    const isWrong = clockAheadMs !== null && movedByMs === 0;
    return {
      correctedStartMs: isWrong ? startedMs + clockAheadMs : null,
      originalStartMs: canBeMovedBack ? startedMs - movedByMs : null,
      isKept: isWrong && isSettled,
    };
  }

  /** Goes on with what a killed process had begun. */
  async resume(): Promise<void> {
    for (const runId of this.#parts.reader.movingRuns()) await this.#moveAlarms(runId);
  }

  /**
   * Moves all times of a run that were stated or measured by the wrong clock.
   * @throws Problem `unknown-run`; `wrong-state` while it is in progress, or if its date is not known to be wrong
   */
  async useCorrectedDate(runId: number, who: string): Promise<void> {
    const { writer } = this.#parts;
    const run = await this.#ended(runId);
    const { correctedStartMs } = this.datesOf(run);
    if (correctedStartMs === null) {
      throw new Problem(
        'wrong-state',
        `Nothing shows that the date of run ${run.id} is wrong, or it was moved already.`,
        'Load the run again to see its date.',
      );
    }
    const byMs = correctedStartMs - run.startedMs;
    const entry = this.#entry(run, `Moved run ${run.id}`, correctedStartMs, who);
    writer.moveRun(run.id, byMs, entry);
    await this.#moveAlarms(run.id);
  }

  /**
   * Moves a run back to the date that it had, or decides that its date is right.
   * @throws Problem `unknown-run`; `wrong-state` while it is in progress
   */
  async useOriginalDate(runId: number, who: string): Promise<void> {
    const { writer, clock } = this.#parts;
    const run = await this.#ended(runId);
    const { originalStartMs } = this.datesOf(run);
    if (originalStartMs === null) {
      writer.keepDate(run.id, { timeMs: clock(), runId: run.id, who, what: `Kept the date of run ${run.id}.` });
      this.#parts.changed();
    } else {
      const byMs = originalStartMs - run.startedMs;
      const entry = this.#entry(run, `Moved run ${run.id} back`, originalStartMs, who);
      writer.moveRunBack(run.id, byMs, entry);
      await this.#moveAlarms(run.id);
    }
  }

  /** Thousands of alarms would delay readings, so they are moved a few at a time. */
  async #moveAlarms(runId: number): Promise<void> {
    const { writer, alarms, changed } = this.#parts;
    let moved = writer.moveAlarms(runId);
    while (moved === null) {
      await nextTurn();
      moved = writer.moveAlarms(runId);
    }
    alarms.moveTimes(moved);
    changed();
  }

  /** Once an earlier move is complete. @throws Problem `unknown-run`, `wrong-state` */
  async #ended(runId: number): Promise<Run> {
    const { spools, reader } = this.#parts;
    if (reader.runDate(runId).isMoving) await this.#moveAlarms(runId);
    const run = spools.run(runId);
    if (run.endedMs !== null) return run;
    throw new Problem('wrong-state', `Run ${run.id} is still in progress.`, 'Correct its date when it has ended.');
  }

  #entry({ id, startedMs, timeZone }: Run, what: string, toMs: number, who: string): Omit<LogEntry, 'id'> {
    const text = (ms: number) =>
      new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short', timeZone }).format(ms);
    return {
      timeMs: this.#parts.clock(),
      runId: id,
      who,
      what: `${what} from ${text(startedMs)} to ${text(toMs)}, with its spools, alarms and log.`,
    };
  }
}
