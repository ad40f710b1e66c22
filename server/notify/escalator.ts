import type { AlarmChange } from '../alarm/alarm.ts';
import type { Escalation, EscalationPlan, EscalationStep } from '../escalation/escalation.ts';
import { onAlarmChange, onTime } from '../escalation/escalation-steps.ts';
import type { NewEntry } from '../escalation/outbox-entry.ts';
import { type MessageHead, messagesOf } from './messages.ts';
import type { Outbox } from './outbox.ts';

/** A step of an alarm that the service could not tell before it was killed is still told if it is not older than this. */
const STILL_NEWS_MS = 12 * 3_600_000;

export interface EscalatorParts {
  readonly outbox: Outbox;
  plan(): EscalationPlan;
  head(): MessageHead;
  /** These channels have something to send. */
  kick(channelIds: ReadonlySet<number>): void;
}

/** Carries the escalations of all alarms: each step of an alarm, and each moment, becomes messages in the outbox. */
export class Escalator {
  readonly #parts: EscalatorParts;
  #escalations = new Map<number, Escalation>();

  constructor(parts: EscalatorParts) {
    this.#parts = parts;
  }

  /** Goes on where the service ended; `untold`: what was journalled, but not told. */
  start(escalations: readonly Escalation[], untold: readonly AlarmChange[]): void {
    this.#escalations = new Map(escalations.map((escalation) => [escalation.alarm.id, escalation]));
    const { nowMs } = this.#parts.head();
    const news = untold.filter(({ timeMs }) => nowMs - timeMs < STILL_NEWS_MS);
    if (untold.length > 0) this.alarms(news);
  }

  /** Since when an alarm calls, UTC ms of its journal; null = it does not. */
  sinceMs(alarmId: number): number | null {
    return this.#escalations.get(alarmId)?.sinceMs ?? null;
  }

  get underway(): readonly Escalation[] {
    return [...this.#escalations.values()];
  }

  alarms(changes: readonly AlarmChange[]): void {
    const plan = this.#parts.plan();
    const head = this.#parts.head();
    const entries: NewEntry[] = [];
    const withdrawn = new Set<number>();
    for (const change of changes) {
      const { id } = change.alarm;
      const step = onAlarmChange(this.#escalations.get(id) ?? null, change, plan, head.nowMs);
      this.#take(id, step, head, entries);
      if (step.withdraw) withdrawn.add(id);
    }
    // Also where nothing is to be told: the journal up to here is dealt with.
    this.#parts.kick(this.#parts.outbox.put(this.underway, entries, withdrawn));
  }

  /** To be called once a second: reminders, the next round, quiet hours that are over. */
  tick(): void {
    if (this.#escalations.size === 0) return;
    const plan = this.#parts.plan();
    const head = this.#parts.head();
    const entries: NewEntry[] = [];
    let changed = false;
    for (const [id, escalation] of this.#escalations) {
      const step = onTime(escalation, plan, head.nowMs);
      if (step.escalation === escalation) continue;
      changed = true;
      this.#take(id, step, head, entries);
    }
    if (changed) this.#parts.kick(this.#parts.outbox.put(this.underway, entries, new Set()));
  }

  #take(id: number, step: EscalationStep, head: MessageHead, entries: NewEntry[]): void {
    if (step.escalation === null) this.#escalations.delete(id);
    else this.#escalations.set(id, step.escalation);
    for (const notification of step.notifications) entries.push(...messagesOf(notification, head));
  }
}
