import type {
  Alarm,
  AlarmChange,
  AlarmState,
  AlarmStep,
  Condition,
  ConditionFacts,
  Person,
  Suppression,
} from './alarm.ts';
import { alarmSentence, nothingYetSentence, samePlace } from './alarm-sentences.ts';
import type { AlarmEntry } from './catalogue.ts';
import { type AlarmEvent, isActive, isLatched, isSuppressed, nextState } from './life-cycle.ts';

/** What an alarm asks of its surroundings. */
export interface AlarmContext {
  /** How its type is set at present. */
  entry(): AlarmEntry;
  takeId(): number;
  /** Why it may not be raised now, as a clause; null = it may. */
  holdsBack(): string | null;
  /** Why it must rest even if it stands, or why it still rests; null = it need not. */
  silences(suppressed: boolean): string | null;
}

/** How long a person lets an alarm rest. */
export interface Shelf {
  readonly untilMs: number | null;
  readonly untilRunEnds: boolean;
  readonly reason: string;
}

/** A rest that began later than this from now began while the clock was ahead; readings and people have clocks a little apart. */
const CLOCKS_APART_MS = 60_000;
/** An alarm that tells how things are now is worded anew so often. */
const TELLS_NOW_EVERY_MS = 5000;
const TIME_OVER = 'the time is over';

/** One alarm type of one subject, followed from condition to condition. */
export class TrackedAlarm {
  /** null = normal. */
  alarm: Alarm | null = null;
  readonly #type: Condition['type'];
  readonly #subject: string;
  readonly #context: AlarmContext;
  /** The condition as last observed, its deadband heeded. */
  #holds = false;
  /** Since when it holds, or does not; null = never observed. */
  #sinceMs: number | null = null;
  #lastSeen: Condition | null = null;
  #occurrence: number | undefined;
  #latest: ConditionFacts = {};
  #toldNowMs = Number.NEGATIVE_INFINITY;

  constructor(type: Condition['type'], subject: string, context: AlarmContext) {
    this.#type = type;
    this.#subject = subject;
    this.#context = context;
    const zone = /^zone (\d+)$/.exec(subject)?.[1];
    if (zone !== undefined) this.#latest = { zone: Number(zone) };
  }

  /** The condition holds now, whatever becomes of the alarm. */
  get holds(): boolean {
    return this.#holds;
  }

  /** Goes on with an alarm of before a restart of the service. */
  resume(alarm: Alarm): void {
    this.alarm = alarm;
    this.#latest = alarm.facts;
    this.#occurrence = alarm.facts.occurrence;
    this.#holds = isActive(alarm.suppression?.before ?? alarm.state);
  }

  /** Its type was set anew. */
  refresh(): void {
    if (this.alarm !== null) this.alarm = { ...this.alarm, ...this.#advice() };
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
    if (alarm?.suppression) {
      if (again || !heldBefore) this.#occurAtRest(alarm, alarm.suppression, condition.facts, timeMs);
      else this.#keepWorst(condition.facts, timeMs);
      return this.due(timeMs);
    }
    if (alarm !== null && isActive(alarm.state)) {
      if (again) return this.#occurAgain(condition.facts, timeMs);
      this.#keepWorst(condition.facts, timeMs);
      return this.due(timeMs);
    }
    this.#latest = condition.facts;
    return this.due(timeMs);
  }

  /** What has become due by the mere passing of time, or by what happened to other alarms. */
  due(timeMs: number): AlarmChange | null {
    // The clock was ahead, and was put right since.
    if (this.#sinceMs !== null && this.#sinceMs > timeMs) this.#sinceMs = timeMs;
    const { alarm } = this;
    if (alarm?.suppression) return this.#restDue(alarm, alarm.suppression, timeMs);
    if (alarm !== null && isActive(alarm.state)) {
      const why = this.#context.silences(false);
      if (why !== null) return this.#suppress(alarm, why, timeMs);
    }
    if (this.#sinceMs === null) return null;
    if (this.#holds) {
      if (!this.#matured(timeMs) || (alarm !== null && isActive(alarm.state))) return null;
      if (alarm !== null) return this.#occurAgain(this.#latest, timeMs);
      const why = this.#context.holdsBack();
      return why === null ? this.#raise(timeMs) : this.#suppress(this.#made(timeMs), why, timeMs);
    }
    const { offDelayS } = this.#context.entry();
    if (alarm === null || !isActive(alarm.state) || timeMs - this.#sinceMs < offDelayS * 1000) return null;
    return this.#change('return', 'returned', timeMs, { ...alarm, returnedMs: timeMs, ceasedMs: this.#sinceMs });
  }

  /** Only where `nextState` knows the transition. */
  acknowledge(person: Person, timeMs: number): AlarmChange | null {
    const { alarm } = this;
    if (alarm === null) return null;
    const next = { ...alarm, acknowledgedMs: timeMs, acknowledgedBy: person.name };
    return this.#change('acknowledge', 'acknowledged', timeMs, next, { person });
  }

  /**
   * What it called for is of a run that is over. The standard's model knows no such step: nobody acknowledged it, and nobody
   * is said to have. What a person let rest goes on resting.
   */
  endWithItsRun(timeMs: number): AlarmChange | null {
    const { alarm } = this;
    if (alarm === null || alarm.state === 'shelved' || alarm.state === 'outOfService') return null;
    this.#holds = false;
    this.#sinceMs = timeMs;
    const { returnedMs, ceasedMs } = alarm;
    const over = { ...alarm, suppression: null, returnedMs: returnedMs ?? timeMs, ceasedMs: ceasedMs ?? timeMs };
    return this.#keep('normal', over, 'returned', timeMs, { why: 'another run began' });
  }

  /** Lets a latched alarm go. Only where `nextState` knows the transition. */
  reset(person: Person, timeMs: number): AlarmChange | null {
    return this.alarm === null ? null : this.#change('reset', 'reset', timeMs, this.alarm, { person });
  }

  /** A person lets it rest, for a while or (null) until somebody returns it to service. */
  suppression(shelf: Shelf | null, reason: string, person: Person, timeMs: number): AlarmChange | null {
    const alarm = this.alarm ?? this.#made(timeMs);
    const suppression: Suppression = {
      sinceMs: timeMs,
      untilMs: shelf?.untilMs ?? null,
      untilRunEnds: shelf?.untilRunEnds ?? false,
      reason,
      by: person.name,
      from: person.from,
      before: isSuppressed(alarm.state) ? 'normal' : alarm.state,
      occurred: 0,
    };
    const [event, step] = shelf === null ? OUT_OF_SERVICE : SHELVE;
    return this.#change(event, step, timeMs, { ...alarm, suppression }, { person, why: reason });
  }

  /** Ends a rest that a person gave. Only where `nextState` knows the transition. */
  wake(person: Person | null, why: string, timeMs: number): AlarmChange | null {
    const { alarm } = this;
    if (alarm?.suppression == null || alarm.state === 'suppressedByDesign') return null;
    const [event, step] = alarm.state === 'shelved' ? UNSHELVE : BACK_TO_SERVICE;
    const active = this.#matured(timeMs);
    // What holds only because of something else that stands goes on resting.
    const held = active ? this.#context.holdsBack() : null;
    const woken = this.#awake(alarm, timeMs);
    const occurred =
      alarm.suppression.occurred > 0 || isActive(alarm.suppression.before) || isLatched(alarm.suppression.before);
    const given = { active, latching: this.#context.entry().latching, occurred };
    if (held === null) return this.#change(event, step, timeMs, woken, { person, why, ...given });
    if (nextState(alarm.state, event, given) === null) return null;
    const suppression = byDesign(held, 'normal', timeMs);
    return this.#keep('suppressedByDesign', { ...woken, suppression }, step, timeMs, {
      person,
      why: `${why}; ${held}`,
    });
  }

  #matured(timeMs: number): boolean {
    return this.#holds && this.#sinceMs !== null && timeMs - this.#sinceMs >= this.#context.entry().onDelayS * 1000;
  }

  #holdsNow(condition: Condition): boolean {
    if (condition.active) return true;
    const { deadband } = this.#context.entry();
    const state = this.alarm?.suppression?.before ?? this.alarm?.state ?? 'normal';
    const standing = isActive(state) || (this.alarm?.suppression?.occurred ?? 0) > 0;
    return (
      standing && this.#holds && deadband !== null && (condition.excess ?? Number.NEGATIVE_INFINITY) > -deadband.value
    );
  }

  /**
   * Numbers rise: an older one that is observed between newer ones (two blobs on their way at once) is nothing new. After
   * the condition was gone any other number is: a recording tells of what was long ago.
   */
  #isNewOccurrence(occurrence: number | undefined, heldBefore: boolean): boolean {
    if (occurrence === undefined || this.#occurrence === undefined) return false;
    return heldBefore ? occurrence > this.#occurrence : occurrence !== this.#occurrence;
  }

  // ---- rest ----

  #suppress(alarm: Alarm, why: string, timeMs: number): AlarmChange | null {
    const suppression = byDesign(why, alarm.state, timeMs);
    // One that was held back from the start has occurred once already.
    const held =
      alarm.state === 'normal'
        ? { ...alarm, occurrences: 1, suppression: { ...suppression, occurred: 1 } }
        : { ...alarm, suppression };
    return this.#change('suppress', 'suppressed', timeMs, held, { why });
  }

  /** Counted, but nobody is called: that it rests was told. */
  #occurAtRest(alarm: Alarm, suppression: Suppression, facts: ConditionFacts, timeMs: number): void {
    this.#latest = facts;
    this.alarm = this.#told({
      ...alarm,
      facts: alarm.occurrences === 0 ? facts : this.#worseOf(alarm.facts, facts),
      occurrences: alarm.occurrences + 1,
      lastOccurredMs: timeMs,
      suppression: { ...suppression, occurred: suppression.occurred + 1 },
    });
  }

  #restDue(alarm: Alarm, suppression: Suppression, timeMs: number): AlarmChange | null {
    if (alarm.state !== 'suppressedByDesign') {
      if (suppression.untilMs !== null && suppression.sinceMs > timeMs + CLOCKS_APART_MS) {
        const untilMs = timeMs + suppression.untilMs - suppression.sinceMs;
        this.alarm = { ...alarm, suppression: { ...suppression, sinceMs: timeMs, untilMs } };
        return null;
      }
      return suppression.untilMs !== null && timeMs >= suppression.untilMs ? this.wake(null, TIME_OVER, timeMs) : null;
    }
    const { holdsBack, silences, entry } = this.#context;
    if (holdsBack() !== null) return null;
    // One that stood before rests on through the off-delay of its cause, unless something new happened.
    if (suppression.before !== 'normal' && suppression.occurred === 0 && silences(true) !== null) return null;
    const seen = this.#sinceMs !== null;
    const active = seen ? this.#matured(timeMs) : isActive(suppression.before);
    if (seen && this.#holds && !active) return null;
    const { latching } = entry();
    const given = { active, latching, before: suppression.before, occurred: suppression.occurred > 0 };
    const first = suppression.before === 'normal';
    const woken = this.#awake(alarm, timeMs);
    if (!active && isActive(suppression.before)) {
      const over = { ...woken, returnedMs: timeMs, ceasedMs: this.#sinceMs ?? timeMs };
      return this.#change('unsuppress', 'unsuppressed', timeMs, over, {
        ...given,
        why: `no longer ${suppression.reason}`,
      });
    }
    const what = first && active ? 'raised' : 'unsuppressed';
    // What passed while nobody wanted to know of it is no part of what is raised now.
    const next = first && active ? { ...woken, raisedMs: timeMs, occurrences: 1, facts: this.#latest } : woken;
    return this.#change('unsuppress', what, timeMs, next, { ...given, why: `no longer ${suppression.reason}` });
  }

  /** Without its rest; if something happened meanwhile that nobody has seen, the old acknowledgement no longer counts. */
  #awake(alarm: Alarm, timeMs: number): Alarm {
    const stale = (alarm.suppression?.occurred ?? 0) > 0 || alarm.state !== 'suppressedByDesign';
    return {
      ...alarm,
      suppression: null,
      lastOccurredMs: alarm.occurrences === 0 ? timeMs : alarm.lastOccurredMs,
      ...(stale ? { acknowledgedMs: null, acknowledgedBy: null } : {}),
    };
  }

  // ---- its life ----

  #advice() {
    const { priority, consequence, firstCheck, caution } = this.#context.entry();
    return { priority, consequence, firstCheck, caution };
  }

  /** As it would be raised, but not raised yet. */
  #made(timeMs: number): Alarm {
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

  #raise(timeMs: number): AlarmChange | null {
    return this.#change('occur', 'raised', timeMs, { ...this.#made(timeMs), occurrences: 1 });
  }

  #occurAgain(facts: ConditionFacts, timeMs: number): AlarmChange | null {
    const { alarm } = this;
    if (alarm === null) return null;
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

  /** While an alarm stands its worst moment may still come: a blob grows as it passes. No change of state, none told. */
  #keepWorst(facts: ConditionFacts, timeMs: number): void {
    const { alarm } = this;
    if (alarm === null) return;
    const { badness } = this.#context.entry();
    if (badness === null) {
      // A sentence that changes with every reading can be read by nobody.
      if (timeMs - this.#toldNowMs < TELLS_NOW_EVERY_MS) return;
      this.#toldNowMs = timeMs;
      this.#latest = facts;
      this.alarm = this.#told({ ...alarm, facts });
      return;
    }
    const longer = samePlace(facts, alarm.facts) && (facts.lengthMm ?? 0) > (alarm.facts.lengthMm ?? 0);
    if (!longer && badness(facts) <= badness(alarm.facts)) return;
    if (this.#latest.occurrence === facts.occurrence || alarm.occurrences === 1) this.#latest = facts;
    this.alarm = this.#told({ ...alarm, facts });
  }

  #worseOf(a: ConditionFacts, b: ConditionFacts): ConditionFacts {
    const { badness } = this.#context.entry();
    return badness === null || badness(b) > badness(a) ? b : a;
  }

  #change(event: AlarmEvent, what: AlarmStep, timeMs: number, next: Alarm, told: Told = {}): AlarmChange | null {
    const latching = told.latching ?? this.#context.entry().latching;
    const state = nextState(next.state, event, { ...told, latching });
    return state === null ? null : this.#keep(state, next, what, timeMs, told);
  }

  #keep(state: AlarmState, next: Alarm, what: AlarmStep, timeMs: number, told: Told): AlarmChange {
    const alarm = this.#told({ ...next, state });
    this.alarm = state === 'normal' ? null : alarm;
    const { person = null, why = '' } = told;
    return { alarm, what, timeMs, by: person?.name ?? null, from: person?.from ?? null, why };
  }

  #told(alarm: Alarm): Alarm {
    const { occurrences, type, subject } = alarm;
    if (occurrences === 0)
      return { ...alarm, sentence: nothingYetSentence(this.#context.entry().title, alarm.facts, subject) };
    const facts: ConditionFacts = {
      ...alarm.facts,
      count: COUNTS_ITSELF.has(type) ? (alarm.facts.count ?? 0) : occurrences,
      ...(this.#occurrence === undefined ? {} : { occurrence: this.#occurrence }),
    };
    return { ...alarm, facts, sentence: alarmSentence(type, facts, this.#latest, occurrences) };
  }
}

interface Told {
  readonly person?: Person | null;
  readonly why?: string;
  readonly active?: boolean;
  readonly latching?: boolean;
  readonly before?: AlarmState;
  readonly occurred?: boolean;
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

/** Types whose `count` fact is a measure of theirs (the share of garbled lines) and not the number of occurrences. */
const COUNTS_ITSELF: ReadonlySet<Condition['type']> = new Set(['lineGarbled']);
