import type { RecordGuard } from '../record-guard.ts';
import type { SteadyClock } from '../steady-clock.ts';
import type { ConditionChecker } from './condition-checker.ts';
import type { Connection } from './connection.ts';
import type { LineLog } from './line-log.ts';
import { nextStatedStop, nextWallClock, type StatedStop, type WallClock } from './passing-time.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { ZoneMemory } from './zone-memory.ts';

const KEEP_EVERY_MS = 1000;

export interface EachSecondParts {
  readonly clock: SteadyClock;
  readonly guard: RecordGuard;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly zones: ZoneMemory;
  readonly follower: RunFollower;
  readonly judge: ConditionChecker;
  readonly log: LineLog;
  flushSamples(nowMs: number): void;
}

/** What time brings without any reading: silence, pending writes, the end of a rest, a wall clock that was set. */
export class EachSecond {
  readonly #parts: EachSecondParts;
  #keptMs = 0;
  #statedStop: StatedStop = { is: 'absent' };
  #wallClock: WallClock = { is: 'inStep' };

  constructor(parts: EachSecondParts) {
    this.#parts = parts;
  }

  /** To be called several times a second. */
  tick(): void {
    const { clock, connection, follower, judge, zones } = this.#parts;
    const nowMs = clock.nowMs();
    const quietForS = connection.link.quietForS();
    const { timing } = connection.link;
    judge.checkLink(follower.nowMs());
    if (nowMs - this.#keptMs < KEEP_EVERY_MS) return;
    this.#keptMs = nowMs;
    this.#writePending(nowMs);
    zones.keep(connection.link.title, follower.trackers.zoneModels(), nowMs);
    if (timing === 'live') this.#endWhenSilent(quietForS);
    this.#endStopWhenAtRest(nowMs, quietForS);
    this.#watchClock();
  }

  #writePending(nowMs: number): void {
    const { guard, follower, flushSamples } = this.#parts;
    const written = guard.attempt('readings', () => flushSamples(nowMs));
    const saved = guard.attempt('sections', () => follower.sections.save());
    guard.retry(written && saved);
  }

  /** The board was switched off at the end of the evening: no reading will come that could end the run. */
  #endWhenSilent(quietForS: number): void {
    const { settings, follower, log } = this.#parts;
    const { stopAfterMin } = settings.line;
    if (quietForS < stopAfterMin * 60) return;
    if (follower.runs.run !== null) {
      log.write('service', `No reading line for ${stopAfterMin} min: the run ends with its last one.`);
      follower.endRun();
    }
    // What comes after such a long silence is another evening: no strand is bridged over it.
    if (follower.trackers.lastTimeMs !== null) follower.beginAnew();
  }

  #endStopWhenAtRest(nowMs: number, quietForS: number): void {
    const { follower, log } = this.#parts;
    const { setByUser, stage } = follower.stage;
    const stoppedByPerson = setByUser && stage === 'stopped';
    const signs = { nowMs, stoppedByPerson, atRest: follower.trackers.atRest, quietForS };
    this.#statedStop = nextStatedStop(this.#statedStop, signs);
    if (this.#statedStop.is !== 'over') return;
    log.write('service', 'The line has come to rest: it tells its stage by itself again.');
    follower.person(null, follower.nowMs());
  }

  /** The wall clock was set (by NTP, by a person) or the machine slept. Readings keep their order; the next run is dated right. */
  #watchClock(): void {
    const { clock, follower, log } = this.#parts;
    const before = this.#wallClock;
    const now = nextWallClock(before, clock.behindWallMs(), follower.runs.run !== null);
    if (now === before) return;
    this.#wallClock = now;
    if (now.is === 'inStep') return;
    if (now.is === 'followed') {
      clock.anchor();
      follower.beginAnew();
    }
    const then = now.is === 'followed' ? 'times follow it from now on' : 'this run keeps its own time';
    log.write('service', `The clock of this machine was set by ${(now.stepMs / 1000).toFixed(0)} s; ${then}.`);
  }
}
