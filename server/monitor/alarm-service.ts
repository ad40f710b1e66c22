import {
  ALARM_TYPES,
  type Alarm,
  type AlarmChange,
  type AlarmType,
  type Condition,
  type Person,
} from '../alarm/alarm.ts';
import { AlarmEngine } from '../alarm/alarm-engine.ts';
import {
  type AlarmLimits,
  type AlarmSetting,
  type AlarmSettings,
  catalogueWith,
  checkAgainstLimits,
  checkAlarmSetting,
  defaultOf,
} from '../alarm/alarm-settings.ts';
import { CATALOGUE, isAboutTheLine, isOfZone, titleOf } from '../alarm/catalogue.ts';
import type { MovedTimes } from '../alarm/moved-alarm-times.ts';
import { Problem } from '../problem/problem.ts';
import type { Stage } from '../stage/stage.ts';
import type { RecordWriter } from './ports/record.ts';
import type { RecordGuard } from './record-guard.ts';

export interface AlarmServiceParts {
  readonly writer: RecordWriter;
  readonly guard: RecordGuard;
  /** The current run; null = none. */
  runId(): number | null;
  /** UTC ms; in a replay the time of the readings. */
  nowMs(): number;
  /** Limits of the line that restrict deadbands. */
  limits(): AlarmLimits;
  /** Writes to the operators' log. */
  log(who: string, what: string): void;
  /** Called after changes have been recorded. */
  changed(changes: readonly AlarmChange[]): void;
}

/** How long, and why, a user shelves an alarm. */
export interface ShelveRequest {
  /** Minutes; null = until the run ends. */
  readonly forMin: number | null;
  readonly reason: string;
}

/** Turns conditions into alarms, and lets users answer them. Changes are recorded before they are reported. */
export class AlarmService {
  readonly #parts: AlarmServiceParts;
  #settings: AlarmSettings = {};
  #openedEngine: AlarmEngine | null = null;

  constructor(parts: AlarmServiceParts) {
    this.#parts = parts;
  }

  /** Restores alarms and alarm settings from the record. */
  open(): void {
    const { writer } = this.#parts;
    this.#settings = this.#savedSettings();
    this.#openedEngine = new AlarmEngine({
      standing: writer.standingAlarms(),
      lastId: writer.lastAlarmId(),
      catalogue: catalogueWith(this.#settings),
    });
  }

  get #engine(): AlarmEngine {
    if (this.#openedEngine === null) throw new TypeError('Open the alarm service before using it.');
    return this.#openedEngine;
  }

  // ---- the line ----

  /** Applies current conditions, and delays that have passed since the last call. */
  observe(conditions: readonly Condition[], stage: Stage, timeMs: number): void {
    this.#engine.setStage(stage);
    for (const condition of conditions) this.#record(this.#engine.observe(condition, timeMs));
    this.#record(this.#engine.tick(timeMs));
  }

  /** Ends shelving that was to last until the end of the run. */
  runEnded(timeMs: number): void {
    this.#record(this.#engine.runEnded(timeMs));
  }

  /** Call before the run starts. */
  runStarts(timeMs: number): void {
    this.#record(this.#engine.runStarted(timeMs));
  }

  /** Call after a run has started: alarms whose cause holds were raised by what led to it, such as heating up. */
  runStarted(runId: number): void {
    const { guard, writer } = this.#parts;
    const ids = [...this.standing(), ...this.suppressed()]
      .filter(({ type, ceasedMs, occurrences }) => isAboutTheLine(type) && ceasedMs === null && occurrences > 0)
      .map(({ id }) => id);
    if (ids.length > 0) guard.write('alarms', () => writer.adoptAlarms(runId, ids));
  }

  /** Call after the times of a run were moved in the record. */
  moveTimes(moved: MovedTimes): void {
    this.#engine.moveTimes(moved);
  }

  /** Among standing and suppressed alarms; null = not found. */
  find(alarmId: number): Alarm | null {
    return [...this.standing(), ...this.suppressed()].find(({ id }) => id === alarmId) ?? null;
  }

  /** All unacknowledged or active alarms, most urgent first. */
  standing(): readonly Alarm[] {
    return this.#engine.standing();
  }

  /** All alarms that are shelved, suppressed by design or out of service. */
  suppressed(): readonly Alarm[] {
    return this.#engine.suppressed();
  }

  // ---- answers of users: recorded in the alarm journal, not in the operators' log ----
  // Each is on disk when it returns. If the record cannot be written, it throws RecordFailing and the alarm is as before.

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  acknowledge(alarmId: number, person: Person): Alarm {
    return this.#answerOne(() => this.#engine.acknowledge(alarmId, person, this.#parts.nowMs()));
  }

  acknowledgeAll(person: Person): readonly Alarm[] {
    return this.#answer(() => this.#engine.acknowledgeAll(person, this.#parts.nowMs()));
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  reset(alarmId: number, person: Person): Alarm {
    return this.#answerOne(() => this.#engine.reset(alarmId, person, this.#parts.nowMs()));
  }

  /** @throws Problem `unknown-alarm`, `wrong-state`, `bad-shelving` */
  shelve(alarmId: number, request: ShelveRequest, person: Person): Alarm {
    const shelving = { ...request, runUnderWay: this.#parts.runId() !== null };
    return this.#answerOne(() => this.#engine.shelve(alarmId, shelving, person, this.#parts.nowMs()));
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  unshelve(alarmId: number, person: Person): Alarm {
    return this.#answerOne(() => this.#engine.unshelve(alarmId, person, this.#parts.nowMs()));
  }

  /**
   * Takes an alarm out of service for all of these zones, or for none if one of them is refused.
   * @param zones empty for an alarm that does not belong to zones
   * @throws Problem `bad-shelving`, `wrong-state`
   */
  removeFromService(type: AlarmType, zones: readonly number[], why: string, person: Person): readonly Alarm[] {
    const subjects = subjectsOf(type, zones);
    const already = this.suppressed().find(
      (alarm) => alarm.type === type && alarm.state === 'outOfService' && subjects.includes(alarm.subject),
    );
    if (already !== undefined) {
      const what = `“${titleOf(already)}” is already out of service.`;
      throw new Problem('wrong-state', what, 'Leave it out, or return it first.');
    }
    const nowMs = this.#parts.nowMs();
    return this.#answer(() =>
      subjects.map((subject) => this.#engine.removeFromService(type, subject, why, person, nowMs)),
    );
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  returnToService(alarmId: number, person: Person): Alarm {
    return this.#answerOne(() => this.#engine.returnToService(alarmId, person, this.#parts.nowMs()));
  }

  // ---- settings of alarm types ----

  /** Only what users changed; everything else is as in the catalogue. */
  get settings(): AlarmSettings {
    return this.#settings;
  }

  /** Changes some settings of an alarm type. @throws Problem `bad-setting`, or if the record cannot be written */
  changeSetting(type: AlarmType, change: object, person: Person): void {
    const before = this.#settings[type] ?? {};
    const next = checkAlarmSetting(type, { ...before, ...change }, this.#parts.limits());
    this.#saveSetting(type, before, next, person);
  }

  /** Restores the settings of the catalogue. @throws if the record cannot be written */
  restoreDefaults(type: AlarmType, person: Person): void {
    this.#saveSetting(type, this.#settings[type] ?? {}, {}, person);
  }

  /** Checks that deadbands suit new limits of the line. @throws Problem `bad-setting` */
  checkLimits(limits: AlarmLimits): void {
    checkAgainstLimits(this.#settings, limits);
  }

  #saveSetting(type: AlarmType, before: AlarmSetting, next: AlarmSetting, person: Person): void {
    const changes = changesText(type, before, next);
    if (changes.length === 0) return;
    const { writer, nowMs, log } = this.#parts;
    writer.saveAlarmSetting(type, Object.keys(next).length === 0 ? null : next, person.name, nowMs());
    this.#settings = { ...this.#settings, [type]: next };
    this.#engine.useCatalogue(catalogueWith(this.#settings));
    log(person.name, `Changed the alarm “${CATALOGUE[type].title}”: ${changes.join(', ')}.`);
  }

  /** A setting saved by an older version that is no longer possible is ignored and logged. */
  #savedSettings(): AlarmSettings {
    const { writer, limits, log } = this.#parts;
    const settings: Partial<Record<AlarmType, AlarmSetting>> = {};
    for (const [type, setting] of Object.entries(writer.loadAlarmSettings())) {
      if (!ALARM_TYPES.includes(type as AlarmType)) continue;
      try {
        settings[type as AlarmType] = checkAlarmSetting(type as AlarmType, setting, limits());
      } catch (thrown) {
        if (!(thrown instanceof Problem)) throw thrown;
        log('service', `A saved alarm setting cannot be used. ${thrown.message}`);
      }
    }
    return settings;
  }

  #answerOne(act: () => AlarmChange): Alarm {
    return this.#answer(() => [act()])[0] as Alarm;
  }

  #answer(act: () => readonly AlarmChange[]): readonly Alarm[] {
    const { guard, writer, runId, changed } = this.#parts;
    const run = runId();
    const changes = this.#engine.allOrNothing(() => {
      const steps = act();
      if (steps.length > 0) guard.writeNow('alarms', () => writer.saveAlarmChanges(run, steps));
      return steps;
    });
    if (changes.length > 0) changed(changes);
    return changes.map((change) => change.alarm);
  }

  #record(changes: readonly AlarmChange[]): void {
    if (changes.length === 0) return;
    const { guard, writer, runId, changed } = this.#parts;
    const run = runId();
    guard.write('alarms', () => writer.saveAlarmChanges(run, changes));
    changed(changes);
  }
}

/** @throws Problem `bad-shelving` if zones are missing, or given for an alarm that has none */
function subjectsOf(type: AlarmType, zones: readonly number[]): readonly string[] {
  const perZone = isOfZone(type);
  if (perZone === zones.length > 0) return perZone ? zones.map((zone) => `zone ${zone}`) : [''];
  const { title } = CATALOGUE[type];
  throw new Problem(
    'bad-shelving',
    perZone
      ? `Each zone has its own alarm “${title}”, and no zone was named.`
      : `“${title}” is not an alarm of a zone.`,
    perZone ? 'Name the zones.' : 'Leave the zones out.',
    { pointer: '/zones' },
  );
}

const SETTING_TEXT: Readonly<Record<keyof AlarmSetting, string>> = {
  priority: 'priority',
  onDelayS: 'on-delay in s',
  offDelayS: 'off-delay in s',
  deadband: 'deadband',
  latching: 'latching',
  consequence: 'consequence',
  firstCheck: 'first check',
};

/** `off-delay in s from 60 to 90` */
function changesText(type: AlarmType, before: AlarmSetting, next: AlarmSetting): string[] {
  return (Object.keys(SETTING_TEXT) as (keyof AlarmSetting)[]).flatMap((name) => {
    const was = before[name] ?? defaultOf(type, name);
    const is = next[name] ?? defaultOf(type, name);
    const text = (value: typeof is) => (typeof value === 'string' ? `“${value}”` : String(value));
    return was === is ? [] : [`${SETTING_TEXT[name]} from ${text(was)} to ${text(is)}`];
  });
}
