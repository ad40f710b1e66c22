import type { Contact } from '../escalation/contact.ts';
import { confirmed, type Drill, drillDue, outcomeOf } from '../escalation/drill.ts';
import type { EscalationRules } from '../escalation/escalation-rules.ts';
import type { DrillOverview } from '../escalation/people-service.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import { Problem } from '../problem/problem.ts';
import { drillMessages, type MessageHead } from './messages.ts';
import type { Outbox } from './outbox.ts';

const SHOWN = 5;
const MESSAGES_SEARCHED = 500;

export interface DrillsParts {
  readonly store: PeopleStore;
  readonly outbox: Outbox;
  contacts(): readonly Contact[];
  rules(): EscalationRules;
  head(): MessageHead;
  send(entries: ReturnType<typeof drillMessages>): void;
  recordAction(what: string, who: string): void;
}

/** Alarm tests: a message to everyone, sent exactly as a real alarm, and who confirmed that it arrived. */
export class Drills {
  readonly #parts: DrillsParts;
  #latest: Drill | null = null;
  #loggedOutcomeOf = 0;

  constructor(parts: DrillsParts) {
    this.#parts = parts;
  }

  start(): void {
    this.#latest = this.#parts.store.drills(1)[0] ?? null;
    this.#loggedOutcomeOf = this.#latest?.id ?? 0;
  }

  get latest(): Drill | null {
    return this.#latest;
  }

  /**
   * @param only the one to test; another test that still waits does not hold it up
   * @throws Problem wrong-state
   */
  startDrill(by: string, only: Contact | null = null): Drill {
    const { store, rules, head, send, recordAction } = this.#parts;
    const { nowMs } = head();
    if (only === null && this.#latest !== null && outcomeOf(this.#latest, nowMs) === 'waiting') {
      throw new Problem('wrong-state', 'An alarm test is already running.', 'Wait until it is confirmed or over.');
    }
    const people = only === null ? this.#parts.contacts().filter(({ channelIds }) => channelIds.length > 0) : [only];
    if (people.length === 0) {
      throw new Problem(
        'wrong-state',
        'No one can be reached: no person has a channel.',
        'Add a channel and a person first.',
      );
    }
    const withinMin = rules().drillAnswerWithinMin;
    const drill = store.addDrill({
      startedMs: nowMs,
      by,
      untilMs: nowMs + withinMin * 60_000,
      people: people.map(({ id, name }) => ({ contactId: id, name, confirmedMs: null })),
    });
    this.#latest = drill;
    send(drillMessages(drill, people, withinMin, head()));
    recordAction(`Started alarm test ${drill.id}${only === null ? '' : ` for ${only.name} only`}.`, by);
    return drill;
  }

  /** @throws Problem unknown-drill, unknown-contact, wrong-state */
  confirm(drillId: number, contactId: number): Drill {
    const drill = this.find(drillId);
    const person = drill.people.find((one) => one.contactId === contactId);
    if (person === undefined) {
      throw new Problem('unknown-contact', `Person ${contactId} is not part of this alarm test.`, 'Reload the page.');
    }
    if (person.confirmedMs !== null) return drill;
    const { nowMs } = this.#parts.head();
    if (nowMs > drill.untilMs) {
      throw new Problem(
        'wrong-state',
        'The alarm test is over: the confirmation came too late.',
        'Find out why, then start another.',
      );
    }
    const next = confirmed(drill, contactId, nowMs);
    this.#parts.store.keepDrill(next);
    if (this.#latest?.id === drillId) this.#latest = next;
    this.#parts.recordAction(`Confirmed that alarm test ${drillId} arrived.`, person.name);
    return next;
  }

  /** @throws Problem unknown-drill */
  find(drillId: number): Drill {
    const found =
      this.#latest?.id === drillId ? this.#latest : this.#parts.store.drills(100).find(({ id }) => id === drillId);
    if (found) return found;
    throw new Problem('unknown-drill', `There is no alarm test ${drillId}.`, 'Reload the page.');
  }

  /** To be called once a second. */
  tick(): void {
    const { nowMs, timeZone } = this.#parts.head();
    const { drill: schedule } = this.#parts.rules();
    const due = drillDue(schedule, this.#latest?.startedMs ?? null, nowMs, timeZone);
    if (due && this.#parts.contacts().some(({ channelIds }) => channelIds.length > 0)) this.startDrill('the schedule');
    const latest = this.#latest;
    if (latest === null || this.#loggedOutcomeOf === latest.id) return;
    const outcome = outcomeOf(latest, nowMs);
    if (outcome === 'waiting') return;
    this.#loggedOutcomeOf = latest.id;
    this.#parts.recordAction(`Alarm test ${latest.id}: ${outcomeText(latest, nowMs)}`, 'service');
  }

  overview(): DrillOverview[] {
    const { nowMs } = this.#parts.head();
    const messages = [
      ...this.#parts.store.waiting(),
      ...this.#parts.store.ended({ dead: false, limit: MESSAGES_SEARCHED }),
    ];
    return this.#parts.store.drills(SHOWN).map((drill) => ({
      drill,
      outcome: outcomeOf(drill, nowMs),
      messages: messages.filter(({ drillId }) => drillId === drill.id),
    }));
  }
}

/** "No one was reached.", "Anna confirmed; Ben did not." */
export function outcomeText(drill: Drill, nowMs: number): string {
  const names = (reached: boolean) =>
    drill.people.filter(({ confirmedMs }) => (confirmedMs !== null) === reached).map(({ name }) => name);
  switch (outcomeOf(drill, nowMs)) {
    case 'none':
      return 'No one was reached.';
    case 'some':
      return `${names(true).join(', ')} confirmed; ${names(false).join(', ')} did not.`;
    case 'all':
      return `${names(true).join(', ')} confirmed.`;
    case 'waiting':
      return 'Waiting for a confirmation.';
  }
}
