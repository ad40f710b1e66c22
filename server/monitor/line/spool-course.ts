import { messageOf } from '../../problem/problem.ts';
import { courseBefore } from '../course-before.ts';
import type { Log } from '../log.ts';
import type { SampleColumnsReader } from '../ports/samples.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';

export interface SpoolCourseParts {
  readonly columns: SampleColumnsReader | undefined;
  readonly log: Log;
  readonly settings: SettingsInForce;
  readonly follower: RunFollower;
  /** The monitor is being stopped: nothing more is read. */
  isOver(): boolean;
}

/** Mean diameter and trends along the spool being wound, from its start: from stored readings, as far as it has passed. */
export class SpoolCourse {
  readonly #parts: SpoolCourseParts;

  constructor(parts: SpoolCourseParts) {
    this.#parts = parts;
  }

  /** Reads the course up to this gauge length in the background; readings that arrive meanwhile are added behind it. */
  readFromStart(gaugeMm: number): void {
    const { columns, log, settings, follower, isOver } = this.#parts;
    const { run, spool, gaugeToWinderMm } = follower.runs;
    if (columns === undefined || run === null || spool === null) return;
    const course = follower.sections.awaitCourse();
    const stretch = { runId: run.id, fromGaugeMm: spool.startGaugeMm + gaugeToWinderMm, toGaugeMm: gaugeMm };
    const unwanted = () => isOver() || course.unwanted();
    courseBefore(columns, stretch, settings.strandLimits, unwanted).then(
      (before) => {
        if (before !== null) course.take(before);
      },
      (thrown: unknown) => {
        course.giveUp();
        if (!isOver()) log.warn('The trends of the spool begin anew', { why: messageOf(thrown) });
      },
    );
  }
}
