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
import { CATALOGUE, isOfZone, titleOf } from '../alarm/catalogue.ts';
import { Problem } from '../problem/problem.ts';
import type { Stage } from '../stage/stage.ts';
import type { RecordWriter } from './ports/record.ts';
import type { RecordGuard } from './record-guard.ts';

export interface AlarmServiceParts {
  readonly writer: RecordWriter;
  readonly guard: RecordGuard;
  /** The run under way; null = none. */
  runId(): number | null;
  /** UTC ms; in a replay what the readings say. */
  nowMs(): number;
  /** Limits of the line that deadbands must fit to. */
  limits(): AlarmLimits;
  /** For the operators' log. */
  log(who: string, what: string): void;
  /** Whoever must hear of it. The changes are in the record already. */
  changed(changes: readonly AlarmChange[]): void;
}

/** How long an alarm is to rest, as a person says it. */
export interface ShelfRequest {
  /** Minutes; null = until the run ends. */
  readonly forMin: number | null;
  readonly reason: string;
}

/** Where conditions become alarms, and where people answer them. What it tells is in the record before it is told. */
export class AlarmService {
  readonly #parts: AlarmServiceParts;
  #settings: AlarmSettings = {};
  /** Without any alarm until the record has been read. */
  #engine = new AlarmEngine({ standing: [], lastId: 0, catalogue: catalogueWith({}) });

  constructor(parts: AlarmServiceParts) {
    this.#parts = parts;
  }

  /** Goes on with the alarms of the record, and with what people set about their types. */
  open(): void {
    const { writer } = this.#parts;
    this.#settings = this.#recovered();
    this.#engine = new AlarmEngine({
      standing: writer.standingAlarms(),
      lastId: writer.lastAlarmId(),
      catalogue: catalogueWith(this.#settings),
    });
  }

  // ---- the line ----

  /** Conditions of this moment, and what became due meanwhile. */
  observe(conditions: readonly Condition[], stage: Stage, timeMs: number): void {
    this.#engine.setStage(stage);
    for (const condition of conditions) this.#keep(this.#engine.observe(condition, timeMs));
    this.#keep(this.#engine.tick(timeMs));
  }

  /** What was to rest until the run ends comes back. */
  runEnded(timeMs: number): void {
    this.#keep(this.#engine.runEnded(timeMs));
  }

  /** Before the run does. */
  runBegins(timeMs: number): void {
    this.#keep(this.#engine.runBegins(timeMs));
  }

  /** Standing or resting; null = there is none. */
  find(alarmId: number): Alarm | null {
    return [...this.standing(), ...this.suppressed()].find(({ id }) => id === alarmId) ?? null;
  }

  /** All that call or called for somebody, most urgent first. */
  standing(): readonly Alarm[] {
    return this.#engine.standing();
  }

  /** All that are shelved, suppressed by design or out of service. */
  suppressed(): readonly Alarm[] {
    return this.#engine.suppressed();
  }

  // ---- people ----

  // What they answer is in the journal, with who and from where: the operators' log says nothing of it.

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  acknowledge(alarmId: number, person: Person): Alarm {
    return this.#said(this.#engine.acknowledge(alarmId, person, this.#parts.nowMs()));
  }

  acknowledgeAll(person: Person): readonly Alarm[] {
    const changes = this.#engine.acknowledgeAll(person, this.#parts.nowMs());
    this.#keep(changes);
    return changes.map((change) => change.alarm);
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  reset(alarmId: number, person: Person): Alarm {
    return this.#said(this.#engine.reset(alarmId, person, this.#parts.nowMs()));
  }

  /** @throws Problem `unknown-alarm`, `wrong-state`, `bad-shelving` */
  shelve(alarmId: number, request: ShelfRequest, person: Person): Alarm {
    const wish = { ...request, runUnderWay: this.#parts.runId() !== null };
    return this.#said(this.#engine.shelve(alarmId, wish, person, this.#parts.nowMs()));
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  unshelve(alarmId: number, person: Person): Alarm {
    return this.#said(this.#engine.unshelve(alarmId, person, this.#parts.nowMs()));
  }

  /**
   * Of several zones all or none. `zones`: empty for an alarm of no zone.
   * @throws Problem `bad-shelving`, `wrong-state`
   */
  removeFromService(type: AlarmType, zones: readonly number[], why: string, person: Person): readonly Alarm[] {
    const subjects = subjectsOf(type, zones);
    const already = this.suppressed().find(
      (alarm) => alarm.type === type && alarm.state === 'outOfService' && subjects.includes(alarm.subject),
    );
    if (already !== undefined) {
      const what = `“${titleOf(already)}” is out of service already.`;
      throw new Problem('wrong-state', what, 'Leave it out, or return it first.');
    }
    const nowMs = this.#parts.nowMs();
    const changes = subjects.map((subject) => this.#engine.removeFromService(type, subject, why, person, nowMs));
    this.#keep(changes);
    return changes.map((change) => change.alarm);
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  returnToService(alarmId: number, person: Person): Alarm {
    return this.#said(this.#engine.returnToService(alarmId, person, this.#parts.nowMs()));
  }

  // ---- how the types are set ----

  /** What people set about the types; what they left is as the catalogue has it. */
  get settings(): AlarmSettings {
    return this.#settings;
  }

  /** Sets an alarm type anew; what is not given stays as it is set. @throws Problem `bad-setting`, RecordFailing */
  set(type: AlarmType, given: object, person: Person): void {
    const before = this.#settings[type] ?? {};
    const next = checkAlarmSetting(type, { ...before, ...given }, this.#parts.limits());
    this.#setting(type, before, next, person);
  }

  /** As the catalogue has it. @throws RecordFailing */
  setBack(type: AlarmType, person: Person): void {
    this.#setting(type, this.#settings[type] ?? {}, {}, person);
  }

  /** Whether deadbands fit to other limits of the line. @throws Problem `bad-setting` */
  checkLimits(limits: AlarmLimits): void {
    checkAgainstLimits(this.#settings, limits);
  }

  #setting(type: AlarmType, before: AlarmSetting, next: AlarmSetting, person: Person): void {
    const changes = changesText(type, before, next);
    if (changes.length === 0) return;
    const { writer, nowMs, log } = this.#parts;
    writer.saveAlarmSetting(type, Object.keys(next).length === 0 ? null : next, person.name, nowMs());
    this.#settings = { ...this.#settings, [type]: next };
    this.#engine.useCatalogue(catalogueWith(this.#settings));
    log(person.name, `Changed the alarm “${CATALOGUE[type].title}”: ${changes.join(', ')}.`);
  }

  /** What was set by an older version and cannot be any more is as the catalogue has it. */
  #recovered(): AlarmSettings {
    const { writer, limits, log } = this.#parts;
    const settings: Partial<Record<AlarmType, AlarmSetting>> = {};
    for (const [type, given] of Object.entries(writer.loadAlarmSettings())) {
      if (!ALARM_TYPES.includes(type as AlarmType)) continue;
      try {
        settings[type as AlarmType] = checkAlarmSetting(type as AlarmType, given, limits());
      } catch (thrown) {
        if (!(thrown instanceof Problem)) throw thrown;
        log('service', `A setting of an alarm cannot be used. ${thrown.message}`);
      }
    }
    return settings;
  }

  #said(change: AlarmChange): Alarm {
    this.#keep([change]);
    return change.alarm;
  }

  #keep(changes: readonly AlarmChange[]): void {
    if (changes.length === 0) return;
    const { guard, writer, runId, changed } = this.#parts;
    const run = runId();
    guard.write('alarms', () => writer.saveAlarmChanges(run, changes));
    changed(changes);
  }
}

/** @throws Problem `bad-shelving`: which zone is not said, or it has none */
function subjectsOf(type: AlarmType, zones: readonly number[]): readonly string[] {
  const perZone = isOfZone(type);
  if (perZone === zones.length > 0) return perZone ? zones.map((zone) => `zone ${zone}`) : [''];
  const { title } = CATALOGUE[type];
  throw new Problem(
    'bad-shelving',
    perZone ? `Each zone has its own alarm “${title}”, and none was named.` : `“${title}” is no alarm of a zone.`,
    perZone ? 'Say which zones.' : 'Leave the zones out.',
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
    const told = (value: typeof is) => (typeof value === 'string' ? `“${value}”` : String(value));
    return was === is ? [] : [`${SETTING_TEXT[name]} from ${told(was)} to ${told(is)}`];
  });
}
