import { Problem } from '../problem/problem.ts';
import type { Stage } from '../stage/stage.ts';
import {
  type Alarm,
  type AlarmChange,
  type AlarmState,
  type AlarmType,
  type Condition,
  type Person,
  PRIORITIES,
} from './alarm.ts';
import { appliesIn, CATALOGUE, type Catalogue, whileInStage } from './catalogue.ts';
import { STRAND_ALARMS } from './conditions.ts';
import { causesOf, isSuppressedBySilence, whileCause } from './first-out.ts';
import { awaitsAcknowledgement, isActive, isSuppressed } from './life-cycle.ts';
import type { MovedTimes } from './moved-alarm-times.ts';
import { checkShelving, type ShelvingRequest } from './shelving.ts';
import { TrackedAlarm } from './tracked-alarm.ts';

const NO_CHANGES: readonly AlarmChange[] = [];

/**
 * Turns conditions into alarms: on- and off-delay, deadband, occurrences, first-out, and the life cycle of IEC 62682. The
 * caller passes the time, UTC ms. Observing an unchanged condition costs two look-ups and no allocation.
 */
export class AlarmEngine {
  readonly #tracked = new Map<AlarmType, Map<string, TrackedAlarm>>();
  readonly #byId = new Map<number, TrackedAlarm>();
  #catalogue: Catalogue;
  /** null = unknown: nothing is suppressed because of it. */
  #stage: Stage | null = null;
  #lastId: number;
  #standing: readonly Alarm[] | null = null;
  #suppressed: readonly Alarm[] | null = null;

  /** `standing`: alarms that were not normal when the service stopped; `lastId`: the highest id used so far. */
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

  /** Replaces the settings of all alarm types. */
  useCatalogue(catalogue: Catalogue): void {
    this.#catalogue = catalogue;
    for (const tracked of this.#byId.values()) tracked.refresh();
    this.#clearLists();
  }

  /** Alarms that mean nothing in this stage are suppressed by design. */
  setStage(stage: Stage): void {
    this.#stage = stage;
  }

  /** Takes a condition as it is now. The same type and subject is one alarm; a new `occurrence` means that it happened again. */
  observe(condition: Condition, timeMs: number): readonly AlarmChange[] {
    const known = this.#tracked.get(condition.type)?.get(condition.subject);
    // A condition that never held needs no tracking.
    if (known === undefined && !condition.active) return NO_CHANGES;
    const tracked = known ?? this.#track(condition.type, condition.subject);
    const before = tracked.alarm;
    const change = tracked.observe(this.#withoutSuppressed(condition, before), timeMs);
    if (tracked.alarm !== before) this.#clearLists();
    return change === null ? NO_CHANGES : [this.#keep(change, tracked)];
  }

  /** Handles delays and suppressions that end without a new observation. Call a few times a second. */
  tick(timeMs: number): readonly AlarmChange[] {
    let changes: AlarmChange[] | null = null;
    for (const subjects of this.#tracked.values()) {
      for (const tracked of subjects.values()) {
        const before = tracked.alarm;
        const change = tracked.due(timeMs);
        // Correcting a clock that was ahead changes an alarm without a step.
        if (tracked.alarm !== before) this.#clearLists();
        if (change === null) continue;
        changes ??= [];
        changes.push(this.#keep(change, tracked));
      }
    }
    return changes ?? NO_CHANGES;
  }

  /** Runs `act`. If it throws, all alarms are as they were before. */
  allOrNothing<T>(act: () => T): T {
    const before = new Map([...this.#allTracked()].map((tracked) => [tracked, tracked.alarm]));
    try {
      return act();
    } catch (thrown) {
      this.#byId.clear();
      for (const tracked of this.#allTracked()) {
        const alarm = before.get(tracked) ?? null;
        tracked.undoTo(alarm);
        if (alarm !== null) this.#byId.set(alarm.id, tracked);
      }
      this.#clearLists();
      throw thrown;
    }
  }

  /** The date of a run was corrected. */
  moveTimes({ times, byMs }: MovedTimes): void {
    for (const [id, ofAlarm] of times) this.#byId.get(id)?.moveTimes(ofAlarm, byMs);
    this.#clearLists();
  }

  /** Restores the alarms that were shelved until the run ends. */
  runEnded(timeMs: number): readonly AlarmChange[] {
    return this.suppressed()
      .filter(({ suppression }) => suppression?.untilRunEnds)
      .flatMap(({ id }) => this.#changed(id, (tracked) => tracked.unsuppress(null, 'the run has ended', timeMs)) ?? []);
  }

  /** Ends the alarms about the previous run's strand: its spool is off the winder, and its summary lists them. */
  runStarted(timeMs: number): readonly AlarmChange[] {
    return [...this.standing(), ...this.suppressed()]
      .filter(({ type }) => (STRAND_ALARMS as readonly AlarmType[]).includes(type))
      .flatMap(({ id }) => this.#changed(id, (tracked) => tracked.endWithItsRun(timeMs)) ?? []);
  }

  /** @throws Problem `unknown-alarm`: there is no such alarm; `wrong-state`: it is already acknowledged. */
  acknowledge(alarmId: number, person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const change = this.#changed(alarmId, (tracked) => tracked.acknowledge(person, timeMs));
    if (change !== null) return change;
    if (isSuppressed(alarm.state)) throw suppressedProblem(alarm, 'acknowledged');
    throw new Problem(
      'wrong-state',
      `Alarm ${alarmId} has already been acknowledged${alarm.acknowledgedBy === null ? '' : ` by ${alarm.acknowledgedBy}`}.`,
      alarm.state === 'latchedAcknowledged'
        ? 'Its cause is gone. Reset it.'
        : 'There is nothing to do. It returns to normal when its cause is gone.',
    );
  }

  /** Acknowledges all unacknowledged alarms, most urgent first. */
  acknowledgeAll(person: Person, timeMs: number): readonly AlarmChange[] {
    return this.standing()
      .filter(({ state }) => awaitsAcknowledgement(state))
      .map(({ id }) => this.acknowledge(id, person, timeMs));
  }

  /** Releases a latched alarm. @throws Problem `unknown-alarm`, `wrong-state` */
  reset(alarmId: number, person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const change = this.#changed(alarmId, (tracked) => tracked.reset(person, timeMs));
    if (change !== null) return change;
    if (isSuppressed(alarm.state)) throw suppressedProblem(alarm, 'reset');
    if (alarm.state === 'latchedUnacknowledged')
      throw new Problem(
        'wrong-state',
        `Alarm ${alarmId} has not been acknowledged yet.`,
        'Acknowledge it, then reset it.',
      );
    if (isActive(alarm.state))
      throw new Problem(
        'wrong-state',
        `The cause of alarm ${alarmId} is still present.`,
        'Remove the cause first, then acknowledge and reset the alarm.',
      );
    throw new Problem(
      'wrong-state',
      `Alarm ${alarmId} is not latched.`,
      'Acknowledge it. It then returns to normal without a reset.',
    );
  }

  /** Silences an alarm for a while. @throws Problem `unknown-alarm`, `wrong-state`, `bad-shelving` */
  shelve(alarmId: number, request: ShelvingRequest, person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const shelving = checkShelving(alarm.type, request, timeMs);
    const change = this.#changed(alarmId, (tracked) => tracked.suppress(shelving, shelving.reason, person, timeMs));
    if (change === null) throw suppressedProblem(alarm, 'shelved');
    return change;
  }

  /** Restores a shelved alarm before its time is over. @throws Problem `unknown-alarm`, `wrong-state` */
  unshelve(alarmId: number, person: Person, timeMs: number): AlarmChange {
    return this.#unsuppress(alarmId, 'shelved', person, timeMs);
  }

  /**
   * Takes an alarm out of service, active or not, until a user returns it.
   * @throws Problem `wrong-state`: it is already out of service; `bad-shelving`: no reason
   */
  removeFromService(type: AlarmType, subject: string, reason: string, person: Person, timeMs: number): AlarmChange {
    const why = reason.trim();
    if (why === '')
      throw new Problem(
        'bad-shelving',
        'No reason was given for taking the alarm out of service.',
        'Give a reason, so that others know when it can be returned.',
        { pointer: '/reason' },
      );
    const tracked = this.#track(type, subject);
    const before = tracked.alarm;
    const change = tracked.suppress(null, why, person, timeMs);
    if (change !== null) return this.#keep(change, tracked);
    throw before === null
      ? new TypeError(`${type} cannot be taken out of service`)
      : suppressedProblem(before, 'taken out of service');
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  returnToService(alarmId: number, person: Person, timeMs: number): AlarmChange {
    return this.#unsuppress(alarmId, 'outOfService', person, timeMs);
  }

  /** All alarms that are neither normal nor suppressed, most urgent first, then newest. The same array while nothing changed. */
  standing(): readonly Alarm[] {
    this.#standing ??= this.#alarms(false).sort(
      (a, b) =>
        PRIORITIES.indexOf(a.priority) - PRIORITIES.indexOf(b.priority) ||
        b.lastOccurredMs - a.lastOccurredMs ||
        b.id - a.id,
    );
    return this.#standing;
  }

  /** All alarms that are shelved, suppressed by design or out of service, longest suppressed first. */
  suppressed(): readonly Alarm[] {
    this.#suppressed ??= this.#alarms(true).sort(
      (a, b) => (a.suppression?.sinceMs ?? 0) - (b.suppression?.sinceMs ?? 0) || a.id - b.id,
    );
    return this.#suppressed;
  }

  // ---- first-out and suppression by design ----

  /** For an existing alarm, a condition that means nothing in this stage, or follows from another alarm, counts as gone. */
  #withoutSuppressed(condition: Condition, alarm: Alarm | null): Condition {
    if (!condition.active || alarm === null || alarm.suppression !== null) return condition;
    const { type, subject, intended } = condition;
    const follows = intended !== undefined || this.#causeReason(type, subject) !== null;
    const discounted = this.#stageReason(type) !== null || (!isActive(alarm.state) && follows);
    return discounted ? { ...condition, active: false } : condition;
  }

  #reasonToSuppress(type: AlarmType, subject: string): string | null {
    const intended = this.#tracked.get(type)?.get(subject)?.intended ?? null;
    return intended ?? this.#stageReason(type) ?? this.#causeReason(type, subject);
  }

  #stageReason(type: AlarmType): string | null {
    return this.#stage === null || appliesIn(type, this.#stage) ? null : whileInStage(this.#stage);
  }

  /** A cause counts as soon as its condition holds, as its on-delay may be longer. One that is out of service does not count. */
  #causeReason(type: AlarmType, subject: string): string | null {
    if (isSuppressedBySilence(type)) {
      if (this.#silence?.intended != null) return this.#silence.intended;
      if (this.#isCause('lineSilent', '')) return whileCause('lineSilent');
    }
    for (const cause of causesOf(type)) if (this.#isCause(cause, subject)) return whileCause(cause);
    return null;
  }

  #isCause(type: AlarmType, subject: string): boolean {
    const tracked = this.#tracked.get(type)?.get(subject);
    return tracked?.holds === true && tracked.alarm?.state !== 'outOfService';
  }

  get #silence(): TrackedAlarm | undefined {
    return this.#tracked.get('lineSilent')?.get('');
  }

  /**
   * Alarms from before the line fell silent stay suppressed until the silence alarm has returned: a loose plug is one alarm.
   * If the silence is intended, it is not a fault, and its own alarm is suppressed as well.
   */
  #reasonToSilence(type: AlarmType, suppressed: boolean): string | null {
    const silence = this.#silence;
    if (silence === undefined || !(type === 'lineSilent' || isSuppressedBySilence(type))) return null;
    if (silence.intended !== null) return silence.intended;
    if (type === 'lineSilent' || silence.alarm === null) return null;
    if (!isActive(silence.alarm.state) || !(suppressed || silence.holds)) return null;
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
      applies: () => this.#stageReason(type) === null,
      reasonToSuppress: () => this.#reasonToSuppress(type, subject),
      reasonToSilence: (suppressed) => this.#reasonToSilence(type, suppressed),
    });
    subjects.set(subject, tracked);
    return tracked;
  }

  *#allTracked(): Iterable<TrackedAlarm> {
    for (const subjects of this.#tracked.values()) yield* subjects.values();
  }

  #find(alarmId: number): { readonly tracked: TrackedAlarm; readonly alarm: Alarm } {
    const tracked = this.#byId.get(alarmId);
    const alarm = tracked?.alarm;
    if (tracked === undefined || alarm?.id !== alarmId) {
      throw new Problem(
        'unknown-alarm',
        `There is no alarm ${alarmId}.`,
        'Reload the list of alarms. It may have returned to normal.',
      );
    }
    return { tracked, alarm };
  }

  #changed(alarmId: number, change: (tracked: TrackedAlarm) => AlarmChange | null): AlarmChange | null {
    const { tracked } = this.#find(alarmId);
    const step = change(tracked);
    return step === null ? null : this.#keep(step, tracked);
  }

  #unsuppress(alarmId: number, state: 'shelved' | 'outOfService', person: Person, timeMs: number): AlarmChange {
    const { alarm } = this.#find(alarmId);
    const change =
      alarm.state === state ? this.#changed(alarmId, (tracked) => tracked.unsuppress(person, '', timeMs)) : null;
    if (change !== null) return change;
    throw new Problem(
      'wrong-state',
      `Alarm ${alarmId} is not ${state === 'shelved' ? 'silenced' : 'out of service'}.`,
      'Reload the list of alarms. Its suppression may have ended already.',
    );
  }

  #alarms(suppressed: boolean): Alarm[] {
    const alarms: Alarm[] = [];
    for (const { alarm } of this.#byId.values()) {
      if (alarm !== null && isSuppressed(alarm.state) === suppressed) alarms.push(alarm);
    }
    return alarms;
  }

  #clearLists(): void {
    this.#standing = null;
    this.#suppressed = null;
  }

  #keep(change: AlarmChange, tracked: TrackedAlarm): AlarmChange {
    this.#clearLists();
    if (tracked.alarm === null) this.#byId.delete(change.alarm.id);
    else this.#byId.set(change.alarm.id, tracked);
    return change;
  }
}

const SUPPRESSION_TEXT: Partial<Record<AlarmState, string>> = {
  shelved: 'is silenced',
  suppressedByDesign: 'is suppressed by design',
  outOfService: 'is out of service',
};

const END_FIRST: Partial<Record<AlarmState, string>> = {
  shelved: 'End its silence first.',
  outOfService: 'Return it to service first.',
};

/** What was asked for is not possible while the alarm is suppressed. */
function suppressedProblem({ id, state, suppression }: Alarm, what: string): Problem {
  const reason = suppression?.reason ? ` (${suppression.reason})` : '';
  return new Problem(
    'wrong-state',
    `Alarm ${id} ${SUPPRESSION_TEXT[state] ?? 'is suppressed'}${reason}, so it cannot be ${what}.`,
    END_FIRST[state] ?? 'Wait until its suppression ends.',
  );
}
