import { isDatedWrong } from '../../alarm/record-conditions.ts';
import type { MonotonicClock } from '../clock.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { RecordGuard } from '../record-guard.ts';
import type { ConditionChecker } from './condition-checker.ts';
import type { Connection } from './connection.ts';
import type { LineLog } from './line-log.ts';
import { nextStatedStop, nextWallClock, type StatedStop, type WallClock } from './passing-time.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { ZoneModels } from './zone-models.ts';

/** Every fourth tick, as these are 200 ms apart. */
const WORK_EVERY_MS = 700;
/**
 * A kill costs the readings since the last write, which must not be more than a second even if the disk takes its time. Readings
 * are therefore written as soon as they have been taken, not at the next tick: on a busy machine that is late. If the lines
 * taken had to wait, the next ones may wait as long, so that is added to the age of what is not written yet.
 */
const WRITE_EVERY_MS = 700;
/** A tick later than this means that the whole process stood still. */
const STANDSTILL_MS = 2000;
/** Clocks drift apart by less in hours. */
const CLOCK_AHEAD_CHANGE_MS = 1000;

export interface PeriodicTasksParts {
  readonly clock: MonotonicClock;
  readonly guard: RecordGuard;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly zones: ZoneModels;
  readonly follower: RunFollower;
  readonly conditionChecker: ConditionChecker;
  readonly log: LineLog;
  readonly reader: Pick<RecordReader, 'runDate'>;
  readonly writer: Pick<RecordWriter, 'setClockAhead'>;
  flushSamples(nowMs: number): void;
}

/** Work that does not depend on readings: pending writes, a silent line, the end of a stated stop, a changed wall clock. */
export class PeriodicTasks {
  readonly #parts: PeriodicTasksParts;
  #lastWorkMs = 0;
  #lastWriteMs = 0;
  #lastTakenMs = 0;
  #lastTickMs = Number.NaN;
  #skippedTick = false;
  #secondsDone = 0;
  #statedStop: StatedStop = { is: 'absent' };
  #wallClock: WallClock = { is: 'inStep' };
  /** As stored for the run in progress. */
  #clockAhead: { readonly runId: number; readonly aheadMs: number } | null = null;

  constructor(parts: PeriodicTasksParts) {
    this.#parts = parts;
  }

  /** How often the work of each second was done. */
  get secondsDone(): number {
    return this.#secondsDone;
  }

  /** Call it when the lines that arrived together have all been taken. */
  linesTaken(lines: number): void {
    const { clock } = this.#parts;
    const nowMs = clock.nowMs();
    // A line that came alone has not waited.
    this.#writeIfDue(nowMs, lines > 1 ? nowMs - this.#lastTakenMs : 0);
    // After the write: a slow disk must not be given more to write.
    this.#lastTakenMs = clock.nowMs();
  }

  /** Call it several times a second. */
  tick(): void {
    const { clock, connection, follower, conditionChecker, zones } = this.#parts;
    const nowMs = clock.nowMs();
    if (this.#stoodStill(nowMs)) return;
    const quietForS = connection.link.quietForS();
    const { timing } = connection.link;
    conditionChecker.checkLink(follower.nowMs());
    this.#writeIfDue(nowMs, 0);
    // Also due when the clock has just been set back.
    if (Math.abs(nowMs - this.#lastWorkMs) < WORK_EVERY_MS) return;
    this.#lastWorkMs = nowMs;
    zones.saveIfChanged(connection.link.title, follower.lineTracker.zoneModels(), nowMs);
    // A run goes on while a user has released the port, or no source is chosen: then no one knows whether the line stands.
    const { isMissing } = connection.link;
    if (timing === 'live' && !isMissing && !connection.link.state().isReleased) this.#endWhenSilent(quietForS);
    follower.endStoppedRun();
    this.#endStopWhenAtRest(nowMs, quietForS);
    this.#watchClock();
    this.#keepClockAhead();
    this.#secondsDone += 1;
  }

  /** Lines that waited are read before the next tick, so this one must not count them as missing. */
  #stoodStill(nowMs: number): boolean {
    const pauseMs = nowMs - this.#lastTickMs;
    this.#lastTickMs = nowMs;
    // On a machine so busy that each tick is late, the work must be done all the same.
    this.#skippedTick = pauseMs > STANDSTILL_MS && !this.#skippedTick;
    if (!this.#skippedTick) return false;
    this.#parts.log.write(
      'service',
      `The service stood still for ${(pauseMs / 1000).toFixed(0)} s and watched nothing.`,
    );
    return true;
  }

  #writeIfDue(nowMs: number, waitedMs: number): void {
    if (Math.abs(nowMs - this.#lastWriteMs) + waitedMs < WRITE_EVERY_MS) return;
    this.#lastWriteMs = nowMs;
    const { guard, follower, flushSamples } = this.#parts;
    const written = guard.attempt('readings', () => flushSamples(nowMs));
    const saved = guard.attempt('sections', () => follower.sections.save());
    guard.retry(written && saved);
  }

  /** The board may have been switched off, so no further reading would end the run. */
  #endWhenSilent(quietForS: number): void {
    const { settings, follower, log } = this.#parts;
    const { stopAfterMin } = settings.line;
    if (quietForS < stopAfterMin * 60) return;
    if (follower.runTracker.run !== null) {
      log.write('service', `Ended the run at its last reading line: none for ${stopAfterMin} min.`);
      follower.endRun();
    }
    // Lengths before and after such a long silence are not joined.
    if (follower.lineTracker.lastTimeMs !== null) follower.startOver();
  }

  #endStopWhenAtRest(nowMs: number, quietForS: number): void {
    const { follower, log } = this.#parts;
    const { setByUser, stage } = follower.stage;
    const stoppedByUser = setByUser && stage === 'stopped';
    const signs = { nowMs, stoppedByUser, atRest: follower.lineTracker.atRest, quietForS };
    this.#statedStop = nextStatedStop(this.#statedStop, signs);
    if (this.#statedStop.is !== 'over') return;
    log.write('service', 'The line is at rest, so its stage is determined automatically again.');
    follower.setStage(null, follower.nowMs());
  }

  /** The wall clock was set (by NTP or a user) or the machine slept. A run keeps its own time; the next one is dated correctly. */
  #watchClock(): void {
    const { clock, connection, follower, log } = this.#parts;
    const before = this.#wallClock;
    const now = nextWallClock(before, clock.wallClockAheadMs(), follower.runTracker.run !== null);
    if (now === before) return;
    this.#wallClock = now;
    if (now.is === 'inStep') return;
    if (now.is === 'followed') {
      const beforeMs = clock.nowMs();
      clock.followWallClock();
      connection.link.clockMoved(clock.nowMs() - beforeMs);
      this.#lastTickMs = clock.nowMs();
      follower.startOver();
    }
    const effect = now.is === 'followed' ? 'Times follow it from now on.' : 'This run keeps its own time.';
    log.write('service', `The clock of this machine was moved by ${(now.stepMs / 1000).toFixed(0)} s. ${effect}`);
  }

  /** Stored while the run goes on, because how it will end is not known yet. Its date can be corrected later. */
  #keepClockAhead(): void {
    const { clock, follower, connection, guard, reader, writer } = this.#parts;
    const { run } = follower.runTracker;
    if (run === null || connection.link.timing !== 'live') return;
    const clockAheadMs = clock.wallClockAheadMs();
    const aheadMs = isDatedWrong(clockAheadMs) ? clockAheadMs : 0;
    if (this.#clockAhead?.runId !== run.id) {
      let storedMs = 0;
      guard.attempt('the clock of the run', () => {
        storedMs = reader.runDate(run.id).clockAheadMs ?? 0;
      });
      this.#clockAhead = { runId: run.id, aheadMs: storedMs };
    }
    if (Math.abs(this.#clockAhead.aheadMs - aheadMs) < CLOCK_AHEAD_CHANGE_MS) return;
    this.#clockAhead = { runId: run.id, aheadMs };
    guard.write('the clock of the run', () => writer.setClockAhead(run.id, aheadMs === 0 ? null : aheadMs));
  }
}
