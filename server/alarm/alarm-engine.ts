import { Problem } from '../problem/problem.ts';
import { type Alarm, type AlarmChange, type AlarmType, type Condition, PRIORITIES } from './alarm.ts';
import { awaitsAcknowledgement } from './life-cycle.ts';
import { TrackedAlarm } from './tracked-alarm.ts';

const NO_CHANGES: readonly AlarmChange[] = [];

/**
 * Conditions → alarms: on- and off-delay, deadband, occurrences, and the life cycle of IEC 62682. One clock for all calls,
 * UTC ms; it takes none of its own. The same condition observed again costs two look-ups and makes no garbage.
 */
export class AlarmEngine {
  readonly #tracked = new Map<AlarmType, Map<string, TrackedAlarm>>();
  readonly #byId = new Map<number, TrackedAlarm>();
  #lastId: number;
  #standing: readonly Alarm[] | null = null;

  /** `standing`: alarms that were not normal when the service stopped; `lastId`: the highest id ever given. */
  constructor(start: { readonly standing: readonly Alarm[]; readonly lastId: number }) {
    this.#lastId = start.standing.reduce((last, { id }) => Math.max(last, id), start.lastId);
    for (const alarm of start.standing) {
      if (alarm.state === 'normal') continue;
      const tracked = this.#track(alarm.type, alarm.subject);
      tracked.resume(alarm);
      this.#byId.set(alarm.id, tracked);
    }
  }

  /** A condition as it is now. Several with the same type and subject are one alarm: give the newest, or say "again" by `occurrence`. */
  observe(condition: Condition, timeMs: number): readonly AlarmChange[] {
    const known = this.#tracked.get(condition.type)?.get(condition.subject);
    // What never held needs no keeping.
    if (known === undefined && !condition.active) return NO_CHANGES;
    const tracked = known ?? this.#track(condition.type, condition.subject);
    const before = tracked.alarm;
    const change = tracked.observe(condition, timeMs);
    if (tracked.alarm !== before) this.#standing = null;
    return change === null ? NO_CHANGES : [this.#keep(change, tracked)];
  }

  /** Delays that ended without a new observation. Call a few times a second. */
  tick(timeMs: number): readonly AlarmChange[] {
    let changes: AlarmChange[] | null = null;
    for (const subjects of this.#tracked.values()) {
      for (const tracked of subjects.values()) {
        const change = tracked.due(timeMs);
        if (change === null) continue;
        changes ??= [];
        changes.push(this.#keep(change, tracked));
      }
    }
    return changes ?? NO_CHANGES;
  }

  /** @throws Problem `unknown-alarm`: no such alarm stands; `wrong-state`: it is acknowledged already. */
  acknowledge(alarmId: number, by: string, timeMs: number): AlarmChange {
    const tracked = this.#byId.get(alarmId);
    if (tracked?.alarm?.id !== alarmId) {
      throw new Problem(
        'unknown-alarm',
        `No alarm with the number ${alarmId} stands.`,
        'Load the list of alarms again: it may have returned to normal.',
      );
    }
    const { alarm } = tracked;
    const change = tracked.acknowledge(by, timeMs);
    if (change === null) {
      throw new Problem(
        'wrong-state',
        `Alarm ${alarmId} was acknowledged already${alarm.acknowledgedBy === null ? '' : ` by ${alarm.acknowledgedBy}`}.`,
        'Nothing to do: it returns to normal by itself when its cause is gone.',
      );
    }
    return this.#keep(change, tracked);
  }

  /** Acknowledges all that wait for it, most urgent first. */
  acknowledgeAll(by: string, timeMs: number): readonly AlarmChange[] {
    return this.standing()
      .filter(({ state }) => awaitsAcknowledgement(state))
      .map(({ id }) => this.acknowledge(id, by, timeMs));
  }

  /** All that are not normal: most urgent first, then newest. The same array while nothing changed. */
  standing(): readonly Alarm[] {
    if (this.#standing !== null) return this.#standing;
    const alarms: Alarm[] = [];
    for (const { alarm } of this.#byId.values()) if (alarm !== null) alarms.push(alarm);
    this.#standing = alarms.sort(
      (a, b) =>
        PRIORITIES.indexOf(a.priority) - PRIORITIES.indexOf(b.priority) ||
        b.lastOccurredMs - a.lastOccurredMs ||
        b.id - a.id,
    );
    return this.#standing;
  }

  #track(type: AlarmType, subject: string): TrackedAlarm {
    const subjects = this.#tracked.get(type) ?? new Map<string, TrackedAlarm>();
    this.#tracked.set(type, subjects);
    const tracked = subjects.get(subject) ?? new TrackedAlarm(type, subject, () => ++this.#lastId);
    subjects.set(subject, tracked);
    return tracked;
  }

  #keep(change: AlarmChange, tracked: TrackedAlarm): AlarmChange {
    this.#standing = null;
    if (tracked.alarm === null) this.#byId.delete(change.alarm.id);
    else this.#byId.set(change.alarm.id, tracked);
    return change;
  }
}
