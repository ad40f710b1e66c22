import type { Reading } from '../../reading/reading.ts';
import type { Connection } from './connection.ts';
import type { LineJudge } from './line-judge.ts';
import type { Listeners } from './listeners.ts';
import type { RunFollower } from './run-follower.ts';

/*
 *   source
 *     │ bytes
 *     ▾
 *   Connection.link     intake: framing, checksum, shape, clock
 *     │ Reading
 *     ▾
 *   RunFollower.step    LineRooms: length, gauge, heat, stage
 *     │                 RunBook: run and spool follow the stage ─────────▸ record
 *     ▾
 *   RunFollower.keep    readings of the run, SectionKeeper ──────────────▸ record
 *     │ sections
 *     ▾
 *   LineJudge           what holds of strand, gauge, heat and link
 *     │ conditions
 *     ▾
 *   AlarmDesk           alarms ──────────────────────────────────────────▸ record
 *     │ changes
 *     ▾
 *   Listeners           live feed, notifications
 *
 * No step reaches back.
 */

export interface ReadingPathParts {
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly judge: LineJudge;
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
    if (judge.isLinkDue(timeMs) && connection.link.timing === 'recorded') judge.judgeLink(timeMs);
    const sectionChanged = follower.keep(reading);
    if (sectionChanged || judge.isDue(timeMs)) judge.judgeReadings(timeMs);
    const { gaugeMm, diameterMm, speedMmPerS } = follower.rooms;
    listeners.reading(reading, gaugeMm, diameterMm, speedMmPerS);
    if (sectionChanged) listeners.changed();
  }
}
