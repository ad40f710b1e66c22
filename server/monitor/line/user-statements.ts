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
import type { SpoolCourse } from './spool-course.ts';

export interface StatedByPeopleParts {
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  readonly guard: RecordGuard;
  readonly follower: RunFollower;
  readonly judge: ConditionChecker;
  readonly course: SpoolCourse;
  readonly log: LineLog;
  readonly listeners: Listeners;
}

/** What people state about stage, spools and sections, where it concerns the line that is being watched. */
export class StatedByPeople {
  readonly #parts: StatedByPeopleParts;
  #spoolBoundsRevision = 0;

  constructor(parts: StatedByPeopleParts) {
    this.#parts = parts;
  }

  /** Rises with each statement about a spool. */
  get spoolBoundsRevision(): number {
    return this.#spoolBoundsRevision;
  }

  setStage(stage: Stage | null, who: string): void {
    const { writer, guard, follower, judge, log, listeners } = this.#parts;
    const timeMs = follower.nowMs();
    log.write(who, stage === null ? 'Let the line tell its stage by itself.' : `Set the stage to ${stage}.`);
    follower.person(stage, timeMs);
    const { run } = follower.runs;
    if (run !== null) guard.write('stage', () => writer.saveStatedStage(run.id, stage));
    judge.checkReadings(timeMs);
    listeners.changed();
  }

  /** @throws Problem `wrong-state` where no spool is being wound */
  changeSpool(who: string): void {
    const { follower, log, listeners } = this.#parts;
    const done = follower.runs.changeSpool(follower.whereabouts);
    if (done === null) {
      throw new Problem(
        'wrong-state',
        'No spool is being wound, so none can be changed.',
        'Say that winding has begun first.',
      );
    }
    follower.spoolBegan();
    log.write(who, `Changed the spool. ${done.join(' ')}`);
    listeners.changed();
  }

  spoolBegins(
    spool: Spool,
    before: Spool | null,
    startGaugeMm: number,
    startedMs: number,
    found: readonly MeasuredSection[],
  ): Spool {
    const { runs, sections } = this.#parts.follower;
    // Save sections first: a section on no spool is harmless, an unjudged stretch on a spool is not.
    if (startGaugeMm < spool.startGaugeMm) {
      sections.addStrand(spool.runId, startGaugeMm, spool.startGaugeMm, found);
    }
    const moved = runs.spoolBegins(spool, before, startGaugeMm, startedMs);
    this.#spoolMoved(spool);
    return moved;
  }

  spoolWasChanged(spool: Spool, atGaugeMm: number, atMs: number): Spool {
    const begun = this.#parts.follower.runs.spoolWasChanged(spool, atGaugeMm, atMs);
    this.#spoolMoved(spool);
    return begun;
  }

  /** What is followed along the spool being wound starts where that one does. */
  #spoolMoved({ runId, endGaugeMm }: Spool): void {
    const { guard, samples, follower, course } = this.#parts;
    const { run, spool } = follower.runs;
    if (run?.id === runId && spool !== null && endGaugeMm === null) {
      guard.attempt('readings', () => samples.flush());
      course.readFromStart(follower.trackers.gaugeMm);
    }
    this.spoolSaid();
  }

  sectionsStated(runId: number): void {
    const { runs, sections } = this.#parts.follower;
    if (runs.run?.id === runId) sections.stated();
    this.spoolSaid();
  }

  spoolSaid(): void {
    this.#spoolBoundsRevision += 1;
    this.#parts.listeners.changed();
  }

  statementsChanged(runId: number): void {
    const { reader, follower, listeners } = this.#parts;
    const { run, spool } = follower.runs;
    if (run?.id !== runId) return;
    follower.runs.refresh(reader.run(runId), spool === null ? null : reader.spool(spool.id));
    listeners.changed();
  }
}
