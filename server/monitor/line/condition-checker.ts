import type { AlarmService } from '../alarm-service.ts';
import type { LineTrackers } from '../line-trackers.ts';
import type { RecordGuard } from '../record-guard.ts';
import type { Connection } from './connection.ts';
import { LineConditions } from './line-conditions.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';

/** Often enough, in the time of the readings, for the 250 ms target; seldom enough for a replay. */
const JUDGE_EVERY_MS = 100;
const JUDGE_LINK_EVERY_MS = 1000;

export interface ConditionCheckerParts {
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly guard: RecordGuard;
  readonly alarms: AlarmService;
  diskFilling(): string | null;
}

/** Turns what the line does into conditions for the alarms, as often as needed and no more often. */
export class ConditionChecker {
  readonly #parts: ConditionCheckerParts;
  readonly #conditions = new LineConditions();
  /** Judged last; other rooms begin with other times. */
  #trackers: LineTrackers | null = null;
  #judgedMs = 0;
  #linkCheckedMs = 0;

  constructor(parts: ConditionCheckerParts) {
    this.#parts = parts;
  }

  /** The link has been replaced: its restarts are counted from zero. */
  linkMade(): void {
    this.#conditions.linkMade();
  }

  /** True = readings have not been judged for long enough, or time has gone back. */
  isDue(timeMs: number): boolean {
    this.#begin();
    return timeMs - this.#judgedMs >= JUDGE_EVERY_MS || timeMs < this.#judgedMs;
  }

  isLinkDue(timeMs: number): boolean {
    this.#begin();
    return timeMs - this.#linkCheckedMs >= JUDGE_LINK_EVERY_MS;
  }

  #begin(): void {
    const { trackers } = this.#parts.follower;
    if (trackers === this.#trackers) return;
    this.#trackers = trackers;
    this.#judgedMs = 0;
    this.#linkCheckedMs = 0;
  }

  /** Conditions that a reading can change. */
  checkReadings(timeMs: number): void {
    this.#begin();
    this.#judgedMs = timeMs;
    const { settings, follower, connection, alarms } = this.#parts;
    const { trackers, runs } = follower;
    const { gauge, gaugeMm, zones, speedMmPerS, diameterMm } = trackers;
    const { zoneNames, charAfterMin, soakMin } = settings.line;
    const conditions = this.#conditions.ofReadings({
      timeMs,
      zones,
      zoneNames,
      heatLimits: settings.heatLimits,
      standing: trackers.standing,
      // The soak is intended, so it comes on top.
      charAfterMin: charAfterMin + soakMin,
      strandLimits: settings.strandLimits,
      underway: follower.underway(),
      sectionsOfRun: follower.sections.ofRun,
      spool: runs.spool,
      gaugeMm,
      gaugeToWinderMm: runs.gaugeToWinderMm,
      speedMmPerS,
      gauge: { frozen: gauge.frozen, diameterMm, forS: gauge.sameForS, missingForS: follower.noDiameterForS },
      restarts: connection.link.restarts,
    });
    alarms.observe(conditions, follower.stage.stage, timeMs);
  }

  /** Conditions that time alone can change. */
  checkLink(timeMs: number): void {
    this.#begin();
    this.#linkCheckedMs = timeMs;
    const { connection, guard, follower, alarms, diskFilling } = this.#parts;
    const { link } = connection;
    link.tick(timeMs);
    const conditions = this.#conditions.ofLink(link.state(), link.quietForS(), {
      trouble: guard.trouble,
      diskFilling: diskFilling(),
    });
    alarms.observe(conditions, follower.stage.stage, timeMs);
  }
}
