import { Problem, within } from '../../problem/problem.ts';
import { checkLineSettings } from '../../settings/check-line-settings.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { AlarmService } from '../alarm-service.ts';
import { readingRulesDiffer } from '../settings-to-parts.ts';
import type { ConditionChecker } from './condition-checker.ts';
import type { Connection } from './connection.ts';
import type { LifeEvent, LifeState } from './life-cycle.ts';
import type { LineLog } from './line-log.ts';
import type { LineMonitorParts } from './line-monitor-parts.ts';
import type { Listeners } from './listeners.ts';
import { canResume, type ResumeParts, resumeRun } from './resume-run.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { ZoneModels } from './zone-models.ts';

export interface SettingsChangeParts
  extends Pick<LineMonitorParts, 'writer' | 'fixedSource' | 'askSource' | 'openSource'> {
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly zones: ZoneModels;
  readonly alarms: AlarmService;
  readonly follower: RunFollower;
  readonly conditionChecker: ConditionChecker;
  readonly log: LineLog;
  readonly listeners: Listeners;
  readonly resumeParts: ResumeParts;
  /** Applies an event to the monitor's life cycle. @returns its new state; null = the event is not possible */
  life(event: LifeEvent): LifeState | null;
}

const TRY_AGAIN_MS = 5000;

/** Checks, saves and applies new settings, one change at a time. */
export class SettingsChange {
  readonly #parts: SettingsChangeParts;
  #last: Promise<void> = Promise.resolve();

  constructor(parts: SettingsChangeParts) {
    this.#parts = parts;
  }

  /** @throws Problem `bad-setting` */
  apply(input: unknown, who: string): Promise<void> {
    return this.#afterOthers(() => this.#apply(input, who));
  }

  /** A failure is reported to the caller and does not stop the next change. */
  #afterOthers(change: () => Promise<void>): Promise<void> {
    const done = this.#last.then(change);
    this.#last = done.catch(() => {});
    return done;
  }

  /** Resolves when all changes are done. */
  settled(): Promise<void> {
    return this.#last;
  }

  async #apply(input: unknown, who: string): Promise<void> {
    const { settings, alarms, follower, writer, log, listeners } = this.#parts;
    const before = settings.line;
    const next = checkLineSettings(input, before);
    alarms.checkLimits(next);
    // Refuse an unusable address before anything is saved, even if the source was given at the start and this one is not used yet.
    if (next.source !== before.source) {
      await this.#parts.askSource?.(next.source);
      within('/source', () => this.#parts.openSource(next.source, false));
    }
    const otherSource = this.#parts.fixedSource === null && next.source !== before.source;
    const changed = (Object.keys(next) as (keyof LineSettings)[]).filter(
      (name) => JSON.stringify(next[name]) !== JSON.stringify(before[name]),
    );
    const stated = Object.keys(input as object);
    const keepsDefaults = settings.reset.filter((name) => stated.includes(name) && !changed.includes(name));
    const confirms = settings.notice !== null;
    if (changed.length === 0 && keepsDefaults.length === 0 && !confirms) return;
    writer.saveLineSettings(next);
    settings.replace(next, stated);
    if (keepsDefaults.length > 0) log.write(who, `Kept the defaults of ${keepsDefaults.join(', ')}.`);
    else if (changed.length === 0) log.write(who, 'Kept the settings.');
    if (changed.length === 0) return listeners.changed();
    const changes = changed.map((name) => `${name} to ${JSON.stringify(next[name])}`).join(', ');
    log.write(who, `Changed the settings ${changes}.`);
    follower.sections.setLimits(settings.strandLimits);
    follower.runTracker.setOptions(next);
    follower.saveRunSettings();
    if (!otherSource) follower.lineTracker.setSettings(next);
    if (otherSource || readingRulesDiffer(before, next)) await this.#followReading(otherSource);
    listeners.changed();
  }

  /** A recording starts again by the new rules; a live connection stays open. */
  async #followReading(otherSource: boolean): Promise<void> {
    const { connection, follower, conditionChecker } = this.#parts;
    if (otherSource || connection.link.timing === 'recorded') {
      await this.#reconnect(otherSource);
      return;
    }
    connection.changeReadingRules(follower.lineTracker.lastTimeMs);
    conditionChecker.linkReplaced();
  }

  /**
   * Another source has another strand, so the run ends. With new reading rules only, it continues; also if no source was chosen
   * and the one that is now is that of the run.
   */
  async #reconnect(otherSource: boolean): Promise<void> {
    const { life, connection, follower, zones, conditionChecker, writer, resumeParts } = this.#parts;
    // Its drive may have begun to hang since.
    await this.#parts.askSource?.(this.#source);
    if (life('disconnect') === null) return;
    await connection.link.stop();
    const after = life('connect');
    // The monitor has been stopped in the meantime.
    if (after === null) return;
    const unfinished = connection.link.isMissing ? writer.unfinishedRun() : null;
    connection.replaceLink(otherSource ? null : follower.lineTracker.lastTimeMs);
    const goesOn = unfinished !== null && canResume(resumeParts, unfinished);
    if (otherSource && !goesOn) follower.endRun();
    if (otherSource) {
      zones.load(connection.link.title);
      follower.startOver();
    }
    if (goesOn) resumeRun(resumeParts, unfinished);
    conditionChecker.linkReplaced();
    if (after.is === 'watching') connection.link.start();
    this.awaitSource(otherSource);
  }

  get #source(): string {
    return this.#parts.fixedSource ?? this.#parts.settings.line.source;
  }

  /** Reads the source as soon as it can be used, if it cannot now: its drive may hang. */
  awaitSource(otherSource = true): void {
    const { connection } = this.#parts;
    const { link } = connection;
    if (!link.isUnusable) return;
    const again = async (): Promise<void> => {
      const isUsable = await this.#isUsable();
      // Other settings have replaced it.
      if (connection.link !== link) return;
      if (!isUsable) return this.awaitSource(otherSource);
      await this.#afterOthers(() => this.#reconnect(otherSource));
    };
    setTimeout(() => void again(), TRY_AGAIN_MS).unref();
  }

  async #isUsable(): Promise<boolean> {
    const { fixedSource, askSource, openSource } = this.#parts;
    await askSource?.(this.#source);
    try {
      openSource(this.#source, fixedSource !== null);
      return true;
    } catch (thrown) {
      if (thrown instanceof Problem) return false;
      throw thrown;
    }
  }
}
