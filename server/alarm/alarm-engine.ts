import { Problem } from '../problem/problem.ts';
import type { Stage } from '../stage/stage.ts';
import { type Alarm, type AlarmChange, type AlarmType, type Condition, type Person, PRIORITIES } from './alarm.ts';
import { appliesIn, CATALOGUE, type Catalogue, whileInStage } from './catalogue.ts';
import { STRAND_ALARMS } from './conditions.ts';
import { causesOf, restsWhileSilent, whileCause } from './first-out.ts';
import { awaitsAcknowledgement, isActive, isSuppressed } from './life-cycle.ts';
import { checkShelf, type ShelfWish } from './shelf.ts';
import { TrackedAlarm } from './tracked-alarm.ts';

const NO_CHANGES: readonly AlarmChange[] = [];

/**
 * Conditions → alarms: on- and off-delay, deadband, occurrences, first-out, and the life cycle of IEC 62682. One clock for
 * all calls, UTC ms; it takes none of its own. The same condition observed again costs two look-ups and makes no garbage.
 */
export class AlarmEngine {
  readonly #tracked = new Map<AlarmType, Map<string, TrackedAlarm>>();
  readonly #byId = new Map<number, TrackedAlarm>();
  #catalogue: Catalogue;
  /** null = not known: nothing is held back for it. */
  #stage: Stage | null = null;
  #lastId: number;
  #standing: readonly Alarm[] | null = null;
  #suppressed: readonly Alarm[] | null = null;

  /** `standing`: alarms that were not normal when the service stopped; `lastId`: the highest id ever given. */
  constructor(start: {
    readonly standing: readonly Alarm[];
    readonly lastId: number;
    readonly catalogue?: Catalogue;
  }) {
    this.#catalogue = start.catalogue ?? CATALOGUE;
    this.#lastId = start.standing.reduce((last, { id }) => Math.max(last, id), start.lastId);
    for (const alarm of start.standing) {
      if (alarm.state === 'normal') continue;
      const tracked = this.#track(alarm.type, alarm.subject);
      tracked.resume(alarm);
      this.#byId.set(alarm.id, tracked);
    }
  }

  /** How each alarm type is set, from now on. */
  useCatalogue(catalogue: Catalogue): void {
    this.#catalogue = catalogue;
    for (const tracked of this.#byId.values()) tracked.refresh();
    this.#forget();
  }

  /** The stage that the line is in: what means nothing in it is suppressed by design. */
  setStage(stage: Stage): void {
    this.#stage = stage;
  }

  /** A condition as it is now. Several with the same type and subject are one alarm: give the newest, or say "again" by `occurrence`. */
  observe(condition: Condition, timeMs: number): readonly AlarmChange[] {
    const known = this.#tracked.get(condition.type)?.get(condition.subject);
    // What never held needs no keeping.
    if (known === undefined && !condition.active) return NO_CHANGES;
    const tracked = known ?? this.#track(condition.type, condition.subject);
    const before = tracked.alarm;
    const change = tracked.observe(this.#asItCounts(condition, before), timeMs);
    if (tracked.alarm !== before) this.#forget();
    return change === null ? NO_CHANGES : [this.#keep(change, tracked)];
  }

  /** Delays that ended without a new observation, and rests that are over. Call a few times a second. */
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

  /** What a person let rest until the run ends comes back. */
  runEnded(timeMs: number): readonly AlarmChange[] {
    return this.suppressed()
      .filter(({ suppression }) => suppression?.untilRunEnds)
      .flatMap(({ id }) => this.#changed(id, (tracked) => tracked.wake(null, 'the run has ended', timeMs)) ?? []);
  }

  /**
   * Another run begins: what called about the strand of the last one is of a spool that was taken off, and is told by the
   * letter of its run. What this run raises is an alarm of its own.
   */
  runBegins(timeMs: number): readonly AlarmChange[] {
    return [...this.standing(), ...this.suppressed()]
      .filter(({ type }) => (STRAND_ALARMS as readonly AlarmType[]).includes(type))
      .flatMap(({ id }) => this.#changed(id, (tracked) => tracked.endWithItsRun(timeMs)) ?? []);
  }

  /** @throws Problem `unknown-alarm`: no such alarm stands; `wrong-state`: it is acknowledged already. */
  acknowledge(alarmId: number, person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const change = this.#changed(alarmId, (tracked) => tracked.acknowledge(person, timeMs));
    if (change !== null) return change;
    if (isSuppressed(alarm.state)) throw atRest(alarm, 'acknowledged');
    throw new Problem(
      'wrong-state',
      `Alarm ${alarmId} was acknowledged already${alarm.acknowledgedBy === null ? '' : ` by ${alarm.acknowledgedBy}`}.`,
      alarm.state === 'latchedAcknowledged'
        ? 'Its cause is gone: reset it.'
        : 'Nothing to do: it returns to normal by itself when its cause is gone.',
    );
  }

  /** Acknowledges all that wait for it, most urgent first. */
  acknowledgeAll(person: Person, timeMs: number): readonly AlarmChange[] {
    return this.standing()
      .filter(({ state }) => awaitsAcknowledgement(state))
      .map(({ id }) => this.acknowledge(id, person, timeMs));
  }

  /** Lets a latched alarm go. @throws Problem `unknown-alarm`, `wrong-state` */
  reset(alarmId: number, person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const change = this.#changed(alarmId, (tracked) => tracked.reset(person, timeMs));
    if (change !== null) return change;
    if (isSuppressed(alarm.state)) throw atRest(alarm, 'reset');
    if (alarm.state === 'latchedUnacknowledged')
      throw new Problem('wrong-state', `Alarm ${alarmId} was not acknowledged yet.`, 'Acknowledge it, then reset it.');
    if (isActive(alarm.state))
      throw new Problem(
        'wrong-state',
        `The cause of alarm ${alarmId} is still there.`,
        'Only what is over and acknowledged can be reset. Remove the cause first.',
      );
    throw new Problem('wrong-state', `Alarm ${alarmId} is not latched.`, 'Acknowledge it: it then goes by itself.');
  }

  /** A person lets an alarm rest for a while. @throws Problem `unknown-alarm`, `wrong-state`, `bad-shelving` */
  shelve(alarmId: number, wish: ShelfWish, person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const shelf = checkShelf(alarm.type, wish, timeMs);
    const change = this.#changed(alarmId, (tracked) => tracked.suppression(shelf, shelf.reason, person, timeMs));
    if (change === null) throw atRest(alarm, 'shelved');
    return change;
  }

  /** A shelved alarm comes back before its time. @throws Problem `unknown-alarm`, `wrong-state` */
  unshelve(alarmId: number, person: Person, timeMs: number): AlarmChange {
    return this.#wake(alarmId, 'shelved', person, timeMs);
  }

  /**
   * Takes an alarm out of service until somebody returns it, whether it stands or not.
   * @throws Problem `wrong-state`: it is out of service already; `bad-shelving`: no reason
   */
  removeFromService(type: AlarmType, subject: string, reason: string, person: Person, timeMs: number): AlarmChange {
    const why = reason.trim();
    if (why === '')
      throw new Problem(
        'bad-shelving',
        'An alarm is taken out of service for a reason, and none was given.',
        'Say why, so that the next person knows when it can be returned.',
        { pointer: '/reason' },
      );
    const tracked = this.#track(type, subject);
    const before = tracked.alarm;
    const change = tracked.suppression(null, why, person, timeMs);
    if (change !== null) return this.#keep(change, tracked);
    throw before === null
      ? new TypeError(`${type} cannot be taken out of service`)
      : atRest(before, 'taken out of service');
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  returnToService(alarmId: number, person: Person, timeMs: number): AlarmChange {
    return this.#wake(alarmId, 'outOfService', person, timeMs);
  }

  /** All that call or called for somebody and are not normal: most urgent first, then newest. The same array while nothing changed. */
  standing(): readonly Alarm[] {
    this.#standing ??= this.#alarms(false).sort(
      (a, b) =>
        PRIORITIES.indexOf(a.priority) - PRIORITIES.indexOf(b.priority) ||
        b.lastOccurredMs - a.lastOccurredMs ||
        b.id - a.id,
    );
    return this.#standing;
  }

  /** All that are shelved, suppressed by design or out of service; those that rest longest first. */
  suppressed(): readonly Alarm[] {
    this.#suppressed ??= this.#alarms(true).sort(
      (a, b) => (a.suppression?.sinceMs ?? 0) - (b.suppression?.sinceMs ?? 0) || a.id - b.id,
    );
    return this.#suppressed;
  }

  // ---- first-out and suppression by design ----

  /** What stands already and means nothing in this stage, or follows from another alarm, is over. */
  #asItCounts(condition: Condition, alarm: Alarm | null): Condition {
    if (!condition.active || alarm === null || alarm.suppression !== null) return condition;
    const { type, subject } = condition;
    const over =
      this.#meaningless(type) !== null || (!isActive(alarm.state) && this.#explained(type, subject) !== null);
    return over ? { ...condition, active: false } : condition;
  }

  #holdsBack(type: AlarmType, subject: string): string | null {
    return this.#meaningless(type) ?? this.#explained(type, subject);
  }

  #meaningless(type: AlarmType): string | null {
    return this.#stage === null || appliesIn(type, this.#stage) ? null : whileInStage(this.#stage);
  }

  /** The cause counts as soon as its condition holds: its on-delay may be the longer one. Out of service it is not trusted. */
  #explained(type: AlarmType, subject: string): string | null {
    if (restsWhileSilent(type) && this.#isCause('lineSilent', '')) return whileCause('lineSilent');
    for (const cause of causesOf(type)) if (this.#isCause(cause, subject)) return whileCause(cause);
    return null;
  }

  #isCause(type: AlarmType, subject: string): boolean {
    const tracked = this.#tracked.get(type)?.get(subject);
    return tracked?.holds === true && tracked.alarm?.state !== 'outOfService';
  }

  /** What stood before the line fell silent rests until the line has spoken again for a while: a loose plug is one alarm. */
  #silences(type: AlarmType, suppressed: boolean): string | null {
    const silent = restsWhileSilent(type) ? this.#tracked.get('lineSilent')?.get('') : undefined;
    if (silent?.alarm == null || !isActive(silent.alarm.state) || !(suppressed || silent.holds)) return null;
    return whileCause('lineSilent');
  }

  // ---- book-keeping ----

  #track(type: AlarmType, subject: string): TrackedAlarm {
    const subjects = this.#tracked.get(type) ?? new Map<string, TrackedAlarm>();
    this.#tracked.set(type, subjects);
    const known = subjects.get(subject);
    if (known !== undefined) return known;
    const tracked = new TrackedAlarm(type, subject, {
      entry: () => this.#catalogue[type],
      takeId: () => ++this.#lastId,
      holdsBack: () => this.#holdsBack(type, subject),
      silences: (suppressed) => this.#silences(type, suppressed),
    });
    subjects.set(subject, tracked);
    return tracked;
  }

  #find(alarmId: number): { readonly tracked: TrackedAlarm; readonly alarm: Alarm } {
    const tracked = this.#byId.get(alarmId);
    const alarm = tracked?.alarm;
    if (tracked === undefined || alarm?.id !== alarmId) {
      throw new Problem(
        'unknown-alarm',
        `No alarm with the number ${alarmId} stands.`,
        'Load the list of alarms again: it may have returned to normal.',
      );
    }
    return { tracked, alarm };
  }

  #changed(alarmId: number, change: (tracked: TrackedAlarm) => AlarmChange | null): AlarmChange | null {
    const { tracked } = this.#find(alarmId);
    const made = change(tracked);
    return made === null ? null : this.#keep(made, tracked);
  }

  #wake(alarmId: number, state: 'shelved' | 'outOfService', person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const change = alarm.state === state ? this.#changed(alarmId, (tracked) => tracked.wake(person, '', timeMs)) : null;
    if (change !== null) return change;
    throw new Problem(
      'wrong-state',
      `Alarm ${alarmId} is not ${state === 'shelved' ? 'shelved' : 'out of service'}.`,
      'Load the list of alarms again: it may have come back by itself.',
    );
  }

  #alarms(suppressed: boolean): Alarm[] {
    const alarms: Alarm[] = [];
    for (const { alarm } of this.#byId.values()) {
      if (alarm !== null && isSuppressed(alarm.state) === suppressed) alarms.push(alarm);
    }
    return alarms;
  }

  #forget(): void {
    this.#standing = null;
    this.#suppressed = null;
  }

  #keep(change: AlarmChange, tracked: TrackedAlarm): AlarmChange {
    this.#forget();
    if (tracked.alarm === null) this.#byId.delete(change.alarm.id);
    else this.#byId.set(change.alarm.id, tracked);
    return change;
  }
}

const SUPPRESSION_TEXT = {
  shelved: 'is shelved',
  suppressedByDesign: 'is suppressed by design',
  outOfService: 'is out of service',
} as const;

function atRest({ id, state, suppression }: Alarm, what: string): Problem {
  const text = isSuppressionState(state) ? SUPPRESSION_TEXT[state] : 'is at rest';
  const reason = suppression?.reason ? ` (${suppression.reason})` : '';
  return new Problem(
    'wrong-state',
    `Alarm ${id} ${text}${reason}, so it cannot be ${what}.`,
    state === 'suppressedByDesign' ? 'It comes back by itself.' : 'Let it come back first.',
  );
}

function isSuppressionState(state: Alarm['state']): state is keyof typeof SUPPRESSION_TEXT {
  return state in SUPPRESSION_TEXT;
}
