import type { Alarm, AlarmChange, AlarmType, Condition, Person } from '../alarm/alarm.ts';
import { AlarmEngine } from '../alarm/alarm-engine.ts';
import { CATALOGUE, titleOf } from '../alarm/catalogue.ts';
import { Problem } from '../problem/problem.ts';
import type { Stage } from '../strand/stage.ts';
import type { RecordKeeper } from './ports.ts';
import type { RecordGuard } from './record-guard.ts';

export interface AlarmDeskParts {
  readonly keeper: RecordKeeper;
  readonly guard: RecordGuard;
  /** The run under way; null = none. */
  runId(): number | null;
  /** UTC ms; in a replay what the readings say. */
  nowMs(): number;
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
export class AlarmDesk {
  readonly #parts: AlarmDeskParts;
  readonly #engine: AlarmEngine;

  constructor(parts: AlarmDeskParts) {
    this.#parts = parts;
    const { keeper } = parts;
    this.#engine = new AlarmEngine({ standing: keeper.standingAlarms(), lastId: keeper.lastAlarmId() });
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

  /** All that call or called for somebody, most urgent first. */
  standing(): readonly Alarm[] {
    return this.#engine.standing();
  }

  /** All that are shelved, suppressed by design or out of service. */
  resting(): readonly Alarm[] {
    return this.#engine.resting();
  }

  // ---- people ----

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  acknowledge(alarmId: number, person: Person): Alarm {
    const change = this.#engine.acknowledge(alarmId, person, this.#parts.nowMs());
    return this.#said(change, `Acknowledged “${change.alarm.sentence}”`);
  }

  acknowledgeAll(person: Person): readonly Alarm[] {
    const changes = this.#engine.acknowledgeAll(person, this.#parts.nowMs());
    this.#keep(changes);
    if (changes.length > 0) this.#parts.log(person.name, `Acknowledged ${changes.length} alarms.`);
    return changes.map((change) => change.alarm);
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  reset(alarmId: number, person: Person): Alarm {
    const change = this.#engine.reset(alarmId, person, this.#parts.nowMs());
    return this.#said(change, `Reset “${change.alarm.sentence}”`);
  }

  /** @throws Problem `unknown-alarm`, `wrong-state`, `bad-request` */
  shelve(alarmId: number, request: ShelfRequest, person: Person): Alarm {
    const wish = { ...request, runUnderWay: this.#parts.runId() !== null };
    const change = this.#engine.shelve(alarmId, wish, person, this.#parts.nowMs());
    const howLong = request.forMin === null ? 'until the run ends' : `for ${request.forMin} min`;
    return this.#said(change, `Shelved ${titleOf(change.alarm)} ${howLong}${reason(change.why)}.`);
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  unshelve(alarmId: number, person: Person): Alarm {
    const change = this.#engine.unshelve(alarmId, person, this.#parts.nowMs());
    return this.#said(change, `Ended the rest of ${titleOf(change.alarm)}.`);
  }

  /** @throws Problem `bad-request`, `wrong-state` */
  removeFromService(type: AlarmType, zone: number | null, why: string, person: Person): Alarm {
    const subject = subjectOf(type, zone);
    const change = this.#engine.removeFromService(type, subject, why, person, this.#parts.nowMs());
    return this.#said(change, `Took ${titleOf(change.alarm)} out of service${reason(change.why)}.`);
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  returnToService(alarmId: number, person: Person): Alarm {
    const change = this.#engine.returnToService(alarmId, person, this.#parts.nowMs());
    return this.#said(change, `Returned ${titleOf(change.alarm)} to service.`);
  }

  #said(change: AlarmChange, what: string): Alarm {
    this.#keep([change]);
    this.#parts.log(change.by ?? 'service', what);
    return change.alarm;
  }

  #keep(changes: readonly AlarmChange[]): void {
    if (changes.length === 0) return;
    const { guard, keeper, runId, changed } = this.#parts;
    const run = runId();
    guard.write('alarms', () => keeper.saveAlarmChanges(run, changes));
    changed(changes);
  }
}

/** @throws Problem `bad-request`: which zone is not said, or it has none */
function subjectOf(type: AlarmType, zone: number | null): string {
  const ofZone = CATALOGUE[type].group === 'heat';
  if (ofZone === (zone !== null)) return zone === null ? '' : `zone ${zone}`;
  const { title } = CATALOGUE[type];
  throw new Problem(
    'bad-request',
    ofZone ? `Each zone has its own alarm “${title}”, and none was named.` : `“${title}” is no alarm of a zone.`,
    ofZone ? 'Say which zone.' : 'Leave the zone out.',
  );
}

function reason(why: string): string {
  return why === '' ? '' : `: ${why.replace(/\.+$/, '')}`;
}
