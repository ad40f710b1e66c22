import type { Reading } from '../../reading/reading.ts';
import type { ConditionChecker } from './condition-checker.ts';
import type { Connection } from './connection.ts';
import type { Listeners } from './listeners.ts';
import type { RunFollower } from './run-follower.ts';

/*
 *   source
 *     │ bytes
 *     ▾
 *   Connection.link     intake: framing, checksum, shape, clock
 *     │ Reading
 *     ▾
 *   RunFollower.step    LineTrackers: length, gauge, heat, stage
 *     │                 RunTracker: run and spool follow the stage ─────────▸ record
 *     ▾
 *   RunFollower.keep    readings of the run, SectionRecorder ──────────────▸ record
 *     │ sections
 *     ▾
 *   LineJudge           what holds of strand, gauge, heat and link
 *     │ conditions
 *     ▾
 *   AlarmService           alarms ──────────────────────────────────────────▸ record
 *     │ changes
 *     ▾
 *   Listeners           live feed, notifications
 *
 * No step reaches back.
 */

export interface ReadingPathParts {
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly judge: ConditionChecker;
  readonly listeners: Listeners;
}

/** Joins the stages: carries each reading from the link to the listeners. */
export class ReadingPath {
  readonly #parts: ReadingPathParts;

  constructor(parts: ReadingPathParts) {
    this.#parts = parts;
  }

  take(reading: Reading): void {
    const { connection, follower, judge, listeners } = this.#parts;
    const { timeMs } = reading;
    follower.step(reading);
    // A replay passes many seconds between two ticks of the clock.
    if (judge.isLinkDue(timeMs) && connection.link.timing === 'recorded') judge.checkLink(timeMs);
    const sectionChanged = follower.keep(reading);
    if (sectionChanged || judge.isDue(timeMs)) judge.checkReadings(timeMs);
    const { gaugeMm, diameterMm, speedMmPerS } = follower.trackers;
    listeners.reading(reading, gaugeMm, diameterMm, speedMmPerS);
    if (sectionChanged) listeners.changed();
  }
}
