import { within } from '../../problem/problem.ts';
import { checkLineSettings } from '../../settings/check-line-settings.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { AlarmService } from '../alarm-service.ts';
import { readingKeysDiffer } from '../settings-to-parts.ts';
import type { ConditionChecker } from './condition-checker.ts';
import type { Connection } from './connection.ts';
import type { LifeEvent, LifeState } from './life-cycle.ts';
import type { LineLog } from './line-log.ts';
import type { LineMonitorParts } from './line-monitor-parts.ts';
import type { Listeners } from './listeners.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { ZoneMemory } from './zone-memory.ts';

export interface SettingsChangeParts extends Pick<LineMonitorParts, 'writer' | 'fixedSource' | 'openSource'> {
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly zones: ZoneMemory;
  readonly alarms: AlarmService;
  readonly follower: RunFollower;
  readonly judge: ConditionChecker;
  readonly log: LineLog;
  readonly listeners: Listeners;
  /** Takes the monitor's life on by one event. @returns its state then; null = the event is not possible */
  life(event: LifeEvent): LifeState | null;
}

/** Checks new settings, saves them and hands them to the parts; one change at a time. */
export class SettingsChange {
  readonly #parts: SettingsChangeParts;
  #last: Promise<void> = Promise.resolve();

  constructor(parts: SettingsChangeParts) {
    this.#parts = parts;
  }

  /** @throws Problem `bad-setting` */
  apply(given: unknown, who: string): Promise<void> {
    const done = this.#last.then(() => this.#apply(given, who));
    // Its failure is for whoever asked; the next change is made all the same.
    this.#last = done.catch(() => {});
    return done;
  }

  /** Resolves once no change is under way. */
  settled(): Promise<void> {
    return this.#last;
  }

  async #apply(given: unknown, who: string): Promise<void> {
    const { settings, alarms, follower, writer, log, listeners } = this.#parts;
    const before = settings.line;
    const next = checkLineSettings(given, before);
    alarms.checkLimits(next);
    const otherSource = this.#parts.fixedSource === null && next.source !== before.source;
    // An address that cannot be used must be refused before anything is saved.
    if (otherSource) within('/source', () => this.#parts.openSource(next.source));
    const changed = (Object.keys(next) as (keyof LineSettings)[]).filter(
      (name) => JSON.stringify(next[name]) !== JSON.stringify(before[name]),
    );
    if (changed.length === 0) return;
    writer.saveLineSettings(next);
    settings.replace(next);
    const inText = changed.map((name) => `${name} to ${JSON.stringify(next[name])}`).join(', ');
    log.write(who, `Changed the settings ${inText}.`);
    follower.sections.setLimits(settings.strandLimits);
    follower.runs.setOptions(next);
    follower.keepRunSettings();
    if (!otherSource) follower.trackers.setSettings(next);
    if (otherSource || readingKeysDiffer(before, next)) await this.#reconnect(otherSource);
    listeners.changed();
  }

  /** Another source is another strand, so its run starts over. The same source with other reading rules goes on. */
  async #reconnect(otherSource: boolean): Promise<void> {
    const { life, connection, follower, zones, judge } = this.#parts;
    if (life('disconnect') === null) return;
    await connection.link.stop();
    const after = life('connect');
    // The monitor was stopped meanwhile.
    if (after === null) return;
    if (otherSource) follower.endRun();
    connection.replaceLink(otherSource ? null : follower.trackers.lastTimeMs);
    if (otherSource) {
      zones.load(connection.link.title);
      follower.beginAnew();
    }
    judge.linkMade();
    if (after.is === 'watching') connection.link.start();
  }
}
