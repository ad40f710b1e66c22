import { type DatedWrong, type Guessing, isDatedWrong } from '../../alarm/record-conditions.ts';
import type { SpoolFilling } from '../../alarm/spool-conditions.ts';
import { gramsOfLength } from '../../strand/mass.ts';
import { pace, reelCapacity } from '../../strand/reel/reel-capacity.ts';
import { reelShapeOf } from '../../strand/reel/reel-shape.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { MonotonicClock } from '../clock.ts';
import type { RecordReader } from '../ports/record.ts';
import type { RecordGuard } from '../record-guard.ts';
import { wantedOn } from '../settings-to-parts.ts';
import type { Connection } from './connection.ts';
import { LineConditions } from './line-conditions.ts';
import type { LineTracker } from './line-tracker.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';

/** In the time of the readings: often enough to alarm within 250 ms, rarely enough for a fast replay. */
const CHECK_EVERY_MS = 100;
const CHECK_LINK_EVERY_MS = 1000;
/** In the time of the clock, because nothing but a user and the end of a run changes the date of one. */
const CHECK_DATES_EVERY_MS = 1000;

export interface ConditionCheckerParts {
  readonly clock: MonotonicClock;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly guard: RecordGuard;
  readonly alarms: AlarmService;
  diskFilling(): string | null;
  recordDamage(): string | null;
  guessing(): readonly Guessing[];
  readonly reader: Pick<RecordReader, 'datedWrong'>;
  /** How far the wall clock is ahead of the service's own, ms. */
  clockAheadMs(): number;
}

/** Checks the conditions for the alarms at suitable intervals. */
export class ConditionChecker {
  readonly #parts: ConditionCheckerParts;
  readonly #conditions = new LineConditions();
  /** Used for the last check. A new tracker starts with other times. */
  #lineTracker: LineTracker | null = null;
  #checkedMs = 0;
  #linkCheckedMs = 0;
  #datesCheckedMs = Number.NEGATIVE_INFINITY;
  #ended: DatedWrong | null = null;

  constructor(parts: ConditionCheckerParts) {
    this.#parts = parts;
  }

  /** Call after the link has been replaced. */
  linkReplaced(): void {
    this.#conditions.linkReplaced();
  }

  /** Whether the last check is long enough ago, or time has gone back. */
  isDue(timeMs: number): boolean {
    this.#noticeNewTracker();
    return timeMs - this.#checkedMs >= CHECK_EVERY_MS || timeMs < this.#checkedMs;
  }

  isLinkDue(timeMs: number): boolean {
    this.#noticeNewTracker();
    return timeMs - this.#linkCheckedMs >= CHECK_LINK_EVERY_MS;
  }

  #noticeNewTracker(): void {
    const { lineTracker } = this.#parts.follower;
    if (lineTracker === this.#lineTracker) return;
    this.#lineTracker = lineTracker;
    this.#checkedMs = 0;
    this.#linkCheckedMs = 0;
  }

  /** Checks the conditions that depend on readings. */
  checkReadings(timeMs: number): void {
    this.#noticeNewTracker();
    this.#checkedMs = timeMs;
    const { settings, follower, connection, alarms } = this.#parts;
    const { lineTracker, runTracker } = follower;
    const { gauge, gaugeMm, zones, speedMmPerS, diameterMm, lengthContradiction } = lineTracker;
    const { zoneNames, charAfterMin, soakMin } = settings.line;
    const conditions = this.#conditions.ofReadings({
      timeMs,
      zones,
      zoneNames,
      heatLimits: settings.heatLimits,
      screwAndHeat: lineTracker.screwAndHeat,
      // Soaking is intended, so its time is allowed on top.
      charAfterMin: charAfterMin + soakMin,
      strandLimits: settings.strandLimits,
      underway: follower.underway(),
      sectionsOfRun: follower.sections.ordinalsOfRun,
      spool: runTracker.spool,
      spoolPositionMm: (spool, mm) => follower.spoolPositionMm(spool, mm),
      gaugeMm,
      gaugeToWinderMm: runTracker.gaugeToWinderMm,
      speedMmPerS,
      placesAreKnown: lineTracker.placesAreKnown,
      lengthContradiction,
      gauge: {
        frozen: gauge.frozen,
        diameterMm,
        forS: gauge.sameForS,
        missingForS: follower.noDiameterForS,
        blindFromMm: gauge.blindFromMm,
      },
      spoolFilling: () => this.#spoolFilling(),
      restarts: connection.link.restarts,
      lostNames: lineTracker.lostNames,
    });
    alarms.observe(conditions, follower.stage.stage, timeMs);
  }

  #spoolFilling(): SpoolFilling | null {
    const { settings, follower } = this.#parts;
    const { lineTracker, runTracker, woundMm } = follower;
    const { spool } = runTracker;
    if (spool === null || woundMm === null || !lineTracker.placesAreKnown) return null;
    const { densityGPerCm3, nominalMm } = settings.line;
    const diameterMm = follower.sections.meanDiameterMm() ?? nominalMm;
    const capacity = reelCapacity(reelShapeOf(settings.line), diameterMm, densityGPerCm3);
    const line = { speedMmPerS: lineTracker.speedMmPerS, diameterMm, densityGPerCm3 };
    return {
      ordinal: spool.ordinal,
      woundMm,
      woundG: gramsOfLength(woundMm, diameterMm, densityGPerCm3),
      timeToFullS: pace(capacity, woundMm, line).timeToFullS,
      wanted: wantedOn(spool, settings.line),
    };
  }

  /** Checks the conditions that can change without a reading. */
  checkLink(timeMs: number): void {
    this.#noticeNewTracker();
    this.#linkCheckedMs = timeMs;
    const { connection, guard, follower, alarms, diskFilling, recordDamage, guessing } = this.#parts;
    const { link } = connection;
    link.tick(timeMs);
    const record = {
      trouble: guard.trouble,
      diskFilling: diskFilling(),
      damage: recordDamage(),
      datedWrong: this.#datedWrong(),
    };
    const conditions = this.#conditions.ofLink(link.state(), link.quietForS(), record, guessing());
    alarms.observe(conditions, follower.stage.stage, timeMs);
  }

  /** The run in progress first: what has ended waits for a decision of the user. */
  #datedWrong(): DatedWrong | null {
    const { clock, follower, clockAheadMs, connection, guard, reader } = this.#parts;
    const isLiveRun = follower.runTracker.run !== null && connection.link.timing === 'live';
    if (isLiveRun && isDatedWrong(clockAheadMs())) return { aheadMs: clockAheadMs(), endedRunId: null };
    const nowMs = clock.nowMs();
    if (Math.abs(nowMs - this.#datesCheckedMs) < CHECK_DATES_EVERY_MS) return this.#ended;
    this.#datesCheckedMs = nowMs;
    guard.attempt('the date of a run', () => {
      const ended = reader.datedWrong();
      this.#ended = ended === null ? null : { aheadMs: ended.clockAheadMs, endedRunId: ended.runId };
    });
    return this.#ended;
  }
}
