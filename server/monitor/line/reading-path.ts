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
 *   RunFollower.step    LineTracker: length, gauge, heat, stage
 *     │                 RunTracker: run and spool follow the stage ─────────▸ record
 *     ▾
 *   RunFollower.record  readings of the run, SectionRecorder ──────────────▸ record
 *     │ sections
 *     ▾
 *   ConditionChecker    strand, gauge, heat and link
 *     │ conditions
 *     ▾
 *   AlarmService        alarms ─────────────────────────────────────────────▸ record
 *     │ changes
 *     ▾
 *   Listeners           live feed, notifications
 *
 * No step calls an earlier one.
 */

export interface ReadingPathParts {
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly conditionChecker: ConditionChecker;
  readonly listeners: Listeners;
}

/** Passes each reading from the link to the listeners, step by step. */
export class ReadingPath {
  readonly #parts: ReadingPathParts;

  constructor(parts: ReadingPathParts) {
    this.#parts = parts;
  }

  take(reading: Reading): void {
    const { connection, follower, conditionChecker, listeners } = this.#parts;
    const { timeMs } = reading;
    follower.step(reading);
    // In a fast replay many seconds pass between two timer ticks.
    if (conditionChecker.isLinkDue(timeMs) && connection.link.timing === 'recorded') conditionChecker.checkLink(timeMs);
    const sectionChanged = follower.record(reading);
    if (sectionChanged || conditionChecker.isDue(timeMs)) conditionChecker.checkReadings(timeMs);
    const { gaugeMm, diameterMm, speedMmPerS } = follower.lineTracker;
    listeners.reading(reading, gaugeMm, diameterMm, speedMmPerS);
    if (sectionChanged) listeners.changed();
  }
}
