import type { Alarm, AlarmChange, AlarmState, Condition, ConditionFacts } from './alarm.ts';
import { alarmSentence } from './alarm-sentences.ts';
import { type AlarmEntry, CATALOGUE } from './catalogue.ts';
import { type AlarmEvent, isActive, nextState } from './life-cycle.ts';

/** One alarm type of one subject, followed from condition to condition. */
export class TrackedAlarm {
  readonly entry: AlarmEntry;
  /** null = normal. */
  alarm: Alarm | null = null;
  readonly #type: Condition['type'];
  readonly #subject: string;
  readonly #takeId: () => number;
  /** The condition as last observed, its deadband heeded. */
  #holds = false;
  /** Since when it holds, or does not; null = never observed. */
  #sinceMs: number | null = null;
  #lastSeen: Condition | null = null;
  #occurrence: number | undefined;
  #latest: ConditionFacts = {};

  constructor(type: Condition['type'], subject: string, takeId: () => number) {
    this.#type = type;
    this.#subject = subject;
    this.#takeId = takeId;
    this.entry = CATALOGUE[type];
  }

  /** Goes on with an alarm of before a restart of the service. */
  resume(alarm: Alarm): void {
    this.alarm = alarm;
    this.#latest = alarm.facts;
    this.#occurrence = alarm.facts.occurrence;
    this.#holds = isActive(alarm.state);
  }

  /** The change, if it makes one; at most one a call. */
  observe(condition: Condition, timeMs: number): AlarmChange | null {
    const holds = this.#holdsNow(condition);
    if (condition === this.#lastSeen && holds === this.#holds && this.#sinceMs !== null) return this.due(timeMs);
    this.#lastSeen = condition;
    const heldBefore = this.#holds;
    if (holds !== heldBefore || this.#sinceMs === null) this.#sinceMs = timeMs;
    this.#holds = holds;
    if (!holds) return this.due(timeMs);
    const again = this.#isNewOccurrence(condition.occurrence, heldBefore);
    if (condition.occurrence !== undefined && (again || this.#occurrence === undefined || !heldBefore))
      this.#occurrence = condition.occurrence;
    const { alarm } = this;
    if (alarm !== null && isActive(alarm.state)) {
      if (again) return this.#occurAgain(condition.facts, timeMs);
      this.#keepWorst(condition.facts);
      return null;
    }
    this.#latest = condition.facts;
    return this.due(timeMs);
  }

  /** What has become due by the mere passing of time. */
  due(timeMs: number): AlarmChange | null {
    if (this.#sinceMs === null) return null;
    const forS = (timeMs - this.#sinceMs) / 1000;
    const { alarm } = this;
    if (this.#holds) {
      if (forS < this.entry.onDelayS || (alarm !== null && isActive(alarm.state))) return null;
      return alarm === null ? this.#raise(timeMs) : this.#occurAgain(this.#latest, timeMs);
    }
    if (alarm === null || !isActive(alarm.state) || forS < this.entry.offDelayS) return null;
    if (this.entry.latching && alarm.state === 'unacknowledged') return null;
    return this.#change('return', 'returned', timeMs, null, { ...alarm, returnedMs: timeMs });
  }

  /** Only where `nextState` knows the transition. */
  acknowledge(by: string, timeMs: number): AlarmChange | null {
    const { alarm } = this;
    if (alarm === null) return null;
    return this.#change('acknowledge', 'acknowledged', timeMs, by, {
      ...alarm,
      acknowledgedMs: timeMs,
      acknowledgedBy: by,
    });
  }

  #holdsNow(condition: Condition): boolean {
    if (condition.active) return true;
    const { deadband } = this.entry;
    const standing = this.alarm !== null && isActive(this.alarm.state);
    return (
      standing && this.#holds && deadband !== null && (condition.excess ?? Number.NEGATIVE_INFINITY) > -deadband.value
    );
  }

  /**
   * Ordinals rise: an older one that is observed between newer ones (two blobs on their way at once) is nothing new. After
   * the condition was gone any other number is, since a new run counts from 1.
   */
  #isNewOccurrence(occurrence: number | undefined, heldBefore: boolean): boolean {
    if (occurrence === undefined || this.#occurrence === undefined) return false;
    return heldBefore ? occurrence > this.#occurrence : occurrence !== this.#occurrence;
  }

  #raise(timeMs: number): AlarmChange | null {
    const raised: Alarm = {
      id: this.#takeId(),
      type: this.#type,
      subject: this.#subject,
      priority: this.entry.priority,
      state: 'normal',
      sentence: '',
      firstCheck: this.entry.firstCheck,
      caution: this.entry.caution,
      occurrences: 1,
      raisedMs: timeMs,
      lastOccurredMs: timeMs,
      returnedMs: null,
      acknowledgedMs: null,
      acknowledgedBy: null,
      facts: this.#latest,
    };
    return this.#change('occur', 'raised', timeMs, null, raised);
  }

  #occurAgain(facts: ConditionFacts, timeMs: number): AlarmChange | null {
    const { alarm } = this;
    if (alarm === null) return null;
    this.#latest = facts;
    return this.#change('occur', 'again', timeMs, null, {
      ...alarm,
      facts: this.#worseOf(alarm.facts, facts),
      occurrences: alarm.occurrences + 1,
      lastOccurredMs: timeMs,
      returnedMs: null,
      acknowledgedMs: null,
      acknowledgedBy: null,
    });
  }

  /** While an alarm stands its worst moment may still come: a blob grows as it passes. No change of state, none told. */
  #keepWorst(facts: ConditionFacts): void {
    const { alarm } = this;
    if (alarm === null) return;
    const longer = facts.spoolMm === alarm.facts.spoolMm && (facts.lengthMm ?? 0) > (alarm.facts.lengthMm ?? 0);
    if (!longer && this.entry.badness(facts) <= this.entry.badness(alarm.facts)) return;
    if (this.#latest.occurrence === facts.occurrence || alarm.occurrences === 1) this.#latest = facts;
    this.alarm = this.#told({ ...alarm, facts });
  }

  #worseOf(a: ConditionFacts, b: ConditionFacts): ConditionFacts {
    return this.entry.badness(b) > this.entry.badness(a) ? b : a;
  }

  #change(
    event: AlarmEvent,
    what: AlarmChange['what'],
    timeMs: number,
    by: string | null,
    next: Alarm,
  ): AlarmChange | null {
    const state: AlarmState | null = nextState(next.state, event);
    if (state === null) return null;
    const alarm = this.#told({ ...next, state });
    this.alarm = state === 'normal' ? null : alarm;
    return { alarm, what, timeMs, by };
  }

  #told(alarm: Alarm): Alarm {
    const { occurrences } = alarm;
    const facts: ConditionFacts = {
      ...alarm.facts,
      count: COUNTS_ITSELF.has(alarm.type) ? (alarm.facts.count ?? 0) : occurrences,
      ...(this.#occurrence === undefined ? {} : { occurrence: this.#occurrence }),
    };
    return { ...alarm, facts, sentence: alarmSentence(alarm.type, facts, this.#latest, occurrences) };
  }
}

/** Types whose `count` fact is a measure of theirs (the share of garbled lines) and not the number of occurrences. */
const COUNTS_ITSELF: ReadonlySet<Condition['type']> = new Set(['lineGarbled']);
