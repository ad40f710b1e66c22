import type { Spool } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { Stage } from '../../stage/stage.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { SampleWriter } from '../ports/samples.ts';
import type { RecordGuard } from '../record-guard.ts';
import type { ConditionChecker } from './condition-checker.ts';
import type { LineLog } from './line-log.ts';
import type { Listeners } from './listeners.ts';
import type { RunFollower } from './run-follower.ts';
import type { SpoolTrendReader } from './spool-trend-reader.ts';

export interface UserStatementsParts {
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  readonly guard: RecordGuard;
  readonly follower: RunFollower;
  readonly conditionChecker: ConditionChecker;
  readonly trendReader: SpoolTrendReader;
  readonly log: LineLog;
  readonly listeners: Listeners;
}

/** Applies what users state about stage, spools and sections to the line being watched. */
export class UserStatements {
  readonly #parts: UserStatementsParts;
  #spoolBoundsRevision = 0;

  constructor(parts: UserStatementsParts) {
    this.#parts = parts;
  }

  /** Increases with each statement about a spool. */
  get spoolBoundsRevision(): number {
    return this.#spoolBoundsRevision;
  }

  /** @throws RecordFailing if the record cannot be written; the stage is as before */
  setStage(stage: Stage | null, who: string): void {
    const { writer, guard, follower, conditionChecker, log, listeners } = this.#parts;
    const timeMs = follower.nowMs();
    const { run: before } = follower.runTracker;
    log.writeNow(who, stage === null ? 'Set the stage to automatic.' : `Set the stage to ${stage}.`, () => {
      if (before !== null) writer.saveStatedStage(before.id, stage);
    });
    follower.setStage(stage, timeMs);
    const { run } = follower.runTracker;
    if (run !== null && run.id !== before?.id) guard.write('stage', () => writer.saveStatedStage(run.id, stage));
    conditionChecker.checkReadings(timeMs);
    listeners.changed();
  }

  /** @throws Problem `wrong-state` if no spool is being wound */
  changeSpool(who: string): void {
    const { follower, log, listeners } = this.#parts;
    const events = follower.runTracker.changeSpool(follower.position);
    if (events === null) {
      throw new Problem(
        'wrong-state',
        'No spool is being wound, so none can be changed.',
        'Set the stage to winding first.',
      );
    }
    follower.startSpoolSections();
    log.write(who, `Changed the spool. ${events.join(' ')}`);
    listeners.changed();
  }

  /** The winder's turns started again, but a user stated that the spool was not changed. */
  dismissSpoolChange(who: string): void {
    const { follower, log, listeners } = this.#parts;
    const proposed = follower.runTracker.proposedChange;
    if (proposed === null) return;
    log.writeNow(who, `Spool ${proposed.spool.ordinal} was not changed when the winder's turns started again.`);
    follower.runTracker.dismissProposedChange();
    listeners.changed();
  }

  /** @throws Problem `wrong-state` if no spool of this run can continue */
  continueSpool(who: string): void {
    const { follower, guard, writer, conditionChecker, log } = this.#parts;
    const timeMs = follower.nowMs();
    const { endedSpool, run } = follower.runTracker;
    if (endedSpool === null || run === null) {
      throw new Problem('wrong-state', 'No spool of this run has ended, so none can continue.', 'Reload the page.');
    }
    const continued = follower.continueSpool(timeMs);
    if (continued === null) {
      throw new Problem(
        'wrong-state',
        `Spool ${endedSpool.ordinal} or the one after it has been cut, named, used or measured by tape, so it cannot continue.`,
        'Undo that on the pages of the spool first, or keep the new spool.',
      );
    }
    guard.write('stage', () => writer.saveStatedStage(run.id, null));
    log.write(who, continued);
    conditionChecker.checkReadings(timeMs);
    this.#boundsChanged({ ...endedSpool, endGaugeMm: null });
  }

  /** Described at `LineMonitor.moveSpoolStart`. */
  moveSpoolStart(
    spool: Spool,
    previous: Spool | null,
    startGaugeMm: number,
    startedMs: number,
    found: readonly MeasuredSection[],
  ): Spool {
    const { runTracker, sections } = this.#parts.follower;
    // Save sections first: a section on no spool is harmless, an unjudged stretch on a spool is not.
    if (startGaugeMm < spool.startGaugeMm) {
      sections.addStrand(spool.runId, startGaugeMm, spool.startGaugeMm, found);
    }
    const moved = runTracker.moveSpoolStart(spool, previous, startGaugeMm, startedMs);
    this.#boundsChanged(spool);
    return moved;
  }

  splitSpool(spool: Spool, atGaugeMm: number, atMs: number): Spool {
    const next = this.#parts.follower.runTracker.splitSpool(spool, atGaugeMm, atMs);
    this.#boundsChanged(spool);
    return next;
  }

  /** Trends and mean diameter of the spool being wound now start somewhere else. */
  #boundsChanged({ runId, endGaugeMm }: Spool): void {
    const { guard, samples, follower, trendReader } = this.#parts;
    const { run, spool } = follower.runTracker;
    if (run?.id === runId && spool !== null && endGaugeMm === null) {
      guard.attempt('readings', () => samples.flush());
      trendReader.readFromStart(follower.lineTracker.gaugeMm);
    }
    this.spoolChanged();
  }

  sectionsChanged(runId: number): void {
    const { runTracker, sections } = this.#parts.follower;
    if (runTracker.run?.id === runId) sections.refreshStated();
    this.spoolChanged();
  }

  spoolChanged(): void {
    this.#spoolBoundsRevision += 1;
    this.#parts.listeners.changed();
  }

  notesChanged(runId: number): void {
    const { reader, follower, listeners } = this.#parts;
    const { run, spool } = follower.runTracker;
    if (run?.id !== runId) return;
    follower.runTracker.refresh(reader.run(runId), spool === null ? null : reader.spool(spool.id));
    listeners.changed();
  }
}
