import { STOP_CAN_BE_UNDONE_S } from '../stage/stage.ts';
import type {
  Alarm,
  AlarmChange,
  AlarmState,
  AlarmStep,
  AlarmType,
  Condition,
  ConditionFacts,
  Person,
  Suppression,
} from './alarm.ts';
import { alarmSentence, nothingYetSentence, samePlace } from './alarm-sentences.ts';
import type { AlarmEntry } from './catalogue.ts';
import { ConditionHistory } from './condition-history.ts';
import { type AlarmEvent, type AlarmSituation, isActive, isLatched, isSuppressed, nextState } from './life-cycle.ts';
import { withMovedTimes } from './moved-alarm-times.ts';
import type { Shelving } from './shelving.ts';

/** What a tracked alarm needs from the engine. */
export interface AlarmContext {
  /** Current settings of its type. */
  entry(): AlarmEntry;
  takeId(): number;
  /** It means something in the current stage. */
  applies(): boolean;
  /** Why it must not be raised now, as a clause; null = it may be. */
  reasonToSuppress(): string | null;
  /** Why it must be silenced although it is active, or stay `suppressed`; null = no reason. */
  reasonToSilence(suppressed: boolean): string | null;
}

/**
 * A suppression that starts later than this from now started while the clock was ahead. The line's clock and the server's may
 * differ by a little.
 */
const CLOCKS_APART_MS = 60_000;
/** How often the sentence of an alarm that reports the present is renewed. */
const SENTENCE_EVERY_MS = 5000;
const TIME_OVER = 'the time is over';

/** Follows the alarm of one type and subject through its life. */
export class TrackedAlarm {
  #alarm: Alarm | null = null;
  readonly #type: AlarmType;
  readonly #subject: string;
  readonly #context: AlarmContext;
  readonly #condition = new ConditionHistory();
  /** Facts of the latest occurrence. */
  #latest: ConditionFacts = {};
  #sentenceMs = Number.NEGATIVE_INFINITY;
  #intended: string | null = null;

  constructor(type: AlarmType, subject: string, context: AlarmContext) {
    this.#type = type;
    this.#subject = subject;
    this.#context = context;
    const zone = /^zone (\d+)$/.exec(subject)?.[1];
    if (zone !== undefined) this.#latest = { zone: Number(zone) };
  }

  /** null = normal. */
  get alarm(): Alarm | null {
    return this.#alarm;
  }

  /** The condition holds now, whatever the state of the alarm. */
  get holds(): boolean {
    return this.#condition.holds;
  }

  /** Why its condition is expected now, as a clause; null = it is not. */
  get intended(): string | null {
    return this.#intended;
  }

  /** Continues with an alarm from before a restart of the service. */
  resume(alarm: Alarm): void {
    this.#alarm = alarm;
    this.#latest = alarm.facts;
    this.#condition.resume(isActive(alarm.suppression?.before ?? alarm.state), alarm.facts.occurrence);
  }

  /** Undoes a user’s answer; nothing but the alarm itself changes. null = normal. */
  undoTo(alarm: Alarm | null): void {
    this.#alarm = alarm;
  }

  /** The date of its run was corrected. */
  moveTimes(times: ReadonlySet<number>, byMs: number): void {
    if (this.#alarm !== null) this.#alarm = withMovedTimes(this.#alarm, times, byMs);
  }

  /** The settings of its type have changed. */
  refresh(): void {
    if (this.#alarm !== null) this.#alarm = { ...this.#alarm, ...this.#advice() };
  }

  /** Takes the current condition and returns the change that it causes, if any. */
  observe(condition: Condition, timeMs: number): AlarmChange | null {
    this.#intended = condition.intended ?? null;
    const observation = this.#condition.observe(condition, this.#holdsWithDeadband(condition), timeMs);
    if (observation === 'unchanged' || observation === 'gone') return this.due(timeMs);
    const alarm = this.#alarm;
    if (alarm?.suppression) {
      if (observation === 'continues') this.#keepWorst(condition.facts, timeMs);
      else this.#countSuppressed(alarm, alarm.suppression, condition.facts, timeMs);
    } else if (alarm !== null && isActive(alarm.state)) {
      if (observation === 'again') return this.#occurAgain(alarm, condition.facts, timeMs);
      this.#keepWorst(condition.facts, timeMs);
    } else this.#latest = condition.facts;
    return this.due(timeMs);
  }

  /** The change that is due because time has passed or other alarms have changed. */
  due(timeMs: number): AlarmChange | null {
    this.#condition.followClock(timeMs);
    const alarm = this.#alarm;
    if (alarm?.suppression) return this.#suppressionDue(alarm, alarm.suppression, timeMs);
    const active = alarm !== null && isActive(alarm.state);
    if (active) {
      const why = this.#context.reasonToSilence(false);
      if (why !== null) return this.#suppressByDesign(alarm, why, timeMs);
    }
    const { holds, sinceMs } = this.#condition;
    if (sinceMs === null) return null;
    if (holds) {
      if (active || !this.#isPastOnDelay(timeMs)) return null;
      if (alarm !== null) return this.#occurAgain(alarm, this.#latest, timeMs);
      const why = this.#context.reasonToSuppress();
      const fresh = this.#newAlarm(timeMs);
      return why === null
        ? this.#change('occur', 'raised', timeMs, { ...fresh, occurrences: 1 })
        : this.#suppressByDesign(fresh, why, timeMs);
    }
    if (!active || timeMs - sinceMs < 1000 * this.#offDelayS()) return null;
    return this.#change('return', 'returned', timeMs, { ...alarm, returnedMs: timeMs, ceasedMs: sinceMs });
  }

  /** null = not possible in this state. */
  acknowledge(person: Person, timeMs: number): AlarmChange | null {
    const alarm = this.#alarm;
    if (alarm === null) return null;
    const next = { ...alarm, acknowledgedMs: timeMs, acknowledgedBy: person.name };
    return this.#change('acknowledge', 'acknowledged', timeMs, next, { person });
  }

  /**
   * Ends an alarm about a run that is over. The standard's model has no such transition: the alarm becomes normal without an
   * acknowledgement. Alarms that a user suppressed stay so.
   */
  endWithItsRun(timeMs: number): AlarmChange | null {
    const alarm = this.#alarm;
    if (alarm === null || alarm.state === 'shelved' || alarm.state === 'outOfService') return null;
    this.#condition.end(timeMs);
    const { returnedMs, ceasedMs } = alarm;
    const over = { ...alarm, suppression: null, returnedMs: returnedMs ?? timeMs, ceasedMs: ceasedMs ?? timeMs };
    return this.#keep('normal', over, 'returned', timeMs, { why: 'another run began' });
  }

  /** Releases a latched alarm. null = not possible in this state. */
  reset(person: Person, timeMs: number): AlarmChange | null {
    return this.#alarm === null ? null : this.#change('reset', 'reset', timeMs, this.#alarm, { person });
  }

  /** Shelves it, or (`shelving` null) takes it out of service. Returns null where that is not possible in this state. */
  suppress(shelving: Shelving | null, reason: string, person: Person, timeMs: number): AlarmChange | null {
    const alarm = this.#alarm ?? this.#newAlarm(timeMs);
    const suppression: Suppression = {
      sinceMs: timeMs,
      untilMs: shelving?.untilMs ?? null,
      untilRunEnds: shelving?.untilRunEnds ?? false,
      reason,
      by: person.name,
      from: person.from,
      before: isSuppressed(alarm.state) ? 'normal' : alarm.state,
      occurred: 0,
    };
    const [event, step] = shelving === null ? OUT_OF_SERVICE : SHELVE;
    return this.#change(event, step, timeMs, { ...alarm, suppression }, { person, why: reason });
  }

  /** Ends a suppression by a user; `person` null = its time is over. Returns null where there is none. */
  unsuppress(person: Person | null, why: string, timeMs: number): AlarmChange | null {
    const alarm = this.#alarm;
    if (alarm?.suppression == null || alarm.state === 'suppressedByDesign') return null;
    const [event, step] = alarm.state === 'shelved' ? UNSHELVE : BACK_TO_SERVICE;
    const active = this.#isPastOnDelay(timeMs);
    // If its condition only follows from another alarm, it stays suppressed, now by design.
    const reason = active ? this.#context.reasonToSuppress() : null;
    const next = this.#withoutSuppression(alarm, timeMs);
    const { before, occurred: times } = alarm.suppression;
    const occurred = times > 0 || isActive(before) || isLatched(before);
    const situation = { active, latching: this.#context.entry().latching, occurred };
    if (reason === null) return this.#change(event, step, timeMs, next, { person, why, ...situation });
    if (nextState(alarm.state, event, situation) === null) return null;
    const suppression = byDesign(reason, 'normal', timeMs);
    const details = { person, why: `${why}; ${reason}` };
    return this.#keep('suppressedByDesign', { ...next, suppression }, step, timeMs, details);
  }

  #offDelayS(): number {
    const { offDelayS } = this.#context.entry();
    // In a stage in which the alarm means nothing, it only stays as long as that stage may be undone.
    return this.#context.applies() ? offDelayS : Math.min(offDelayS, STOP_CAN_BE_UNDONE_S);
  }

  #isPastOnDelay(timeMs: number): boolean {
    return this.#condition.hasHeldFor(this.#context.entry().onDelayS, timeMs);
  }

  #holdsWithDeadband(condition: Condition): boolean {
    if (condition.active) return true;
    const { deadband } = this.#context.entry();
    if (deadband === null || !this.#condition.holds) return false;
    const suppression = this.#alarm?.suppression;
    const active = isActive(suppression?.before ?? this.#alarm?.state ?? 'normal') || (suppression?.occurred ?? 0) > 0;
    return active && (condition.excess ?? Number.NEGATIVE_INFINITY) > -deadband.value;
  }

  #suppressByDesign(alarm: Alarm, why: string, timeMs: number): AlarmChange | null {
    const suppression = byDesign(why, alarm.state, timeMs);
    // An alarm that is suppressed before it was ever raised has still occurred once.
    const next =
      alarm.state === 'normal'
        ? { ...alarm, occurrences: 1, suppression: { ...suppression, occurred: 1 } }
        : { ...alarm, suppression };
    return this.#change('suppress', 'suppressed', timeMs, next, { why });
  }

  /** Counts an occurrence while suppressed; no step is reported. */
  #countSuppressed(alarm: Alarm, suppression: Suppression, facts: ConditionFacts, timeMs: number): void {
    this.#latest = facts;
    this.#alarm = this.#withSentence({
      ...alarm,
      facts: alarm.occurrences === 0 ? facts : this.#worseOf(alarm.facts, facts),
      occurrences: alarm.occurrences + 1,
      lastOccurredMs: timeMs,
      suppression: { ...suppression, occurred: suppression.occurred + 1 },
    });
  }

  #suppressionDue(alarm: Alarm, suppression: Suppression, timeMs: number): AlarmChange | null {
    if (alarm.state === 'suppressedByDesign') return this.#suppressionByDesignDue(alarm, suppression, timeMs);
    const { sinceMs, untilMs } = suppression;
    if (untilMs === null) return null;
    if (sinceMs > timeMs + CLOCKS_APART_MS) {
      this.#alarm = {
        ...alarm,
        suppression: { ...suppression, sinceMs: timeMs, untilMs: timeMs + untilMs - sinceMs },
      };
      return null;
    }
    return timeMs >= untilMs ? this.unsuppress(null, TIME_OVER, timeMs) : null;
  }

  #suppressionByDesignDue(alarm: Alarm, suppression: Suppression, timeMs: number): AlarmChange | null {
    const { before, occurred: times } = suppression;
    const { reasonToSuppress, reasonToSilence, entry } = this.#context;
    if (reasonToSuppress() !== null) return null;
    // An earlier alarm stays suppressed during the off-delay of its cause, unless it occurred again.
    if (before !== 'normal' && times === 0 && reasonToSilence(true) !== null) return null;
    const { holds, sinceMs } = this.#condition;
    const active = sinceMs === null ? isActive(before) : this.#isPastOnDelay(timeMs);
    if (sinceMs !== null && holds && !active) return null;
    const details = { active, latching: entry().latching, before, occurred: times > 0 };
    const next = this.#withoutSuppression(alarm, timeMs);
    if (!active && isActive(before)) {
      const over = { ...next, returnedMs: timeMs, ceasedMs: sinceMs ?? timeMs };
      return this.#change('unsuppress', 'unsuppressed', timeMs, over, details);
    }
    if (!active || before !== 'normal') return this.#change('unsuppress', 'unsuppressed', timeMs, next, details);
    // Occurrences while suppressed meant nothing, so they don’t count in the alarm raised now.
    const raised = { ...next, raisedMs: timeMs, occurrences: 1, facts: this.#latest };
    return this.#change('unsuppress', 'raised', timeMs, raised, details);
  }

  /** After occurrences that no user has seen, an earlier acknowledgement no longer counts. */
  #withoutSuppression(alarm: Alarm, timeMs: number): Alarm {
    const stale = (alarm.suppression?.occurred ?? 0) > 0 || alarm.state !== 'suppressedByDesign';
    return {
      ...alarm,
      suppression: null,
      lastOccurredMs: alarm.occurrences === 0 ? timeMs : alarm.lastOccurredMs,
      ...(stale ? { acknowledgedMs: null, acknowledgedBy: null } : {}),
    };
  }

  #advice() {
    const { priority, consequence, firstCheck, caution } = this.#context.entry();
    return { priority, consequence, firstCheck, caution };
  }

  #newAlarm(timeMs: number): Alarm {
    return {
      id: this.#context.takeId(),
      type: this.#type,
      subject: this.#subject,
      state: 'normal',
      sentence: '',
      ...this.#advice(),
      occurrences: 0,
      raisedMs: timeMs,
      lastOccurredMs: timeMs,
      returnedMs: null,
      ceasedMs: null,
      acknowledgedMs: null,
      acknowledgedBy: null,
      suppression: null,
      facts: this.#latest,
    };
  }

  #occurAgain(alarm: Alarm, facts: ConditionFacts, timeMs: number): AlarmChange | null {
    this.#latest = facts;
    return this.#change('occur', 'again', timeMs, {
      ...alarm,
      facts: this.#worseOf(alarm.facts, facts),
      occurrences: alarm.occurrences + 1,
      lastOccurredMs: timeMs,
      returnedMs: null,
      ceasedMs: null,
      acknowledgedMs: null,
      acknowledgedBy: null,
    });
  }

  /** Keeps the facts of the worst moment: a blob grows as it passes. No step is reported. */
  #keepWorst(facts: ConditionFacts, timeMs: number): void {
    const alarm = this.#alarm;
    if (alarm === null) return;
    const { badness } = this.#context.entry();
    if (badness === null) {
      // A sentence that changes with every reading cannot be read.
      if (timeMs - this.#sentenceMs < SENTENCE_EVERY_MS) return;
      this.#sentenceMs = timeMs;
      this.#latest = facts;
      this.#alarm = this.#withSentence({ ...alarm, facts });
      return;
    }
    const longer = samePlace(facts, alarm.facts) && (facts.lengthMm ?? 0) > (alarm.facts.lengthMm ?? 0);
    if (!longer && badness(facts) <= badness(alarm.facts)) return;
    if (this.#latest.occurrence === facts.occurrence || alarm.occurrences === 1) this.#latest = facts;
    this.#alarm = this.#withSentence({ ...alarm, facts });
  }

  #worseOf(a: ConditionFacts, b: ConditionFacts): ConditionFacts {
    const { badness } = this.#context.entry();
    return badness === null || badness(b) > badness(a) ? b : a;
  }

  /** Takes a transition of the state model; null = there is none from this state. */
  #change(event: AlarmEvent, what: AlarmStep, timeMs: number, next: Alarm, details: Details = {}): AlarmChange | null {
    const latching = details.latching ?? this.#context.entry().latching;
    const state = nextState(next.state, event, { ...details, latching });
    return state === null ? null : this.#keep(state, next, what, timeMs, details);
  }

  #keep(state: AlarmState, next: Alarm, step: AlarmStep, timeMs: number, details: Details): AlarmChange {
    const alarm = this.#withSentence({ ...next, state });
    this.#alarm = state === 'normal' ? null : alarm;
    const { person = null, why: reason = '' } = details;
    return { alarm, step, timeMs, by: person?.name ?? null, from: person?.from ?? null, reason };
  }

  #withSentence(alarm: Alarm): Alarm {
    const { occurrences, type, subject } = alarm;
    if (occurrences === 0)
      return { ...alarm, sentence: nothingYetSentence(this.#context.entry().title, alarm.facts, subject) };
    const { occurrence } = this.#condition;
    const facts: ConditionFacts = {
      ...alarm.facts,
      count: COUNT_IS_MEASURE.has(type) ? (alarm.facts.count ?? 0) : occurrences,
      ...(occurrence === undefined ? {} : { occurrence }),
    };
    return { ...alarm, facts, sentence: alarmSentence(type, facts, this.#latest, occurrences) };
  }
}

/** Who caused a step, why, and what the transition depends on. */
interface Details extends Partial<AlarmSituation> {
  readonly person?: Person | null;
  readonly why?: string;
}

const SHELVE = ['shelve', 'shelved'] as const;
const UNSHELVE = ['unshelve', 'unshelved'] as const;
const OUT_OF_SERVICE = ['removeFromService', 'outOfService'] as const;
const BACK_TO_SERVICE = ['returnToService', 'returnedToService'] as const;

function byDesign(reason: string, before: AlarmState, timeMs: number): Suppression {
  return {
    sinceMs: timeMs,
    untilMs: null,
    untilRunEnds: false,
    reason,
    by: null,
    from: null,
    before,
    occurred: 0,
  };
}

/** Types whose `count` fact is a measure (the share of garbled lines), not the number of occurrences. */
const COUNT_IS_MEASURE: ReadonlySet<AlarmType> = new Set<AlarmType>(['lineGarbled']);
