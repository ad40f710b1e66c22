import type { AlarmChange } from '../alarm/alarm.ts';
import type { Escalation, EscalationPlan, EscalationStep } from '../escalation/escalation.ts';
import { onAlarmChange, onTime } from '../escalation/escalation-steps.ts';
import type { NewEntry } from '../escalation/outbox-entry.ts';
import { type MessageHead, messagesOf } from './messages.ts';
import type { Outbox } from './outbox.ts';

/** A step that the service could not notify anyone of before it was killed is still notified if it is younger than this. */
const MISSED_MAX_AGE_MS = 12 * 3_600_000;

export interface EscalatorParts {
  readonly outbox: Outbox;
  plan(): EscalationPlan;
  head(): MessageHead;
  /** What programs are sent about these steps. */
  reports(changes: readonly AlarmChange[]): NewEntry[];
  /** These channels have something to send. */
  kick(channelIds: ReadonlySet<number>): void;
}

/** Runs the escalations of all alarms: alarm steps and the passing time become messages in the outbox. */
export class Escalator {
  readonly #parts: EscalatorParts;
  #escalations = new Map<number, Escalation>();

  constructor(parts: EscalatorParts) {
    this.#parts = parts;
  }

  /** Continues stored escalations. `missed`: steps in the journal that no one was notified of before the service ended. */
  start(escalations: readonly Escalation[], missed: readonly AlarmChange[]): void {
    this.#escalations = new Map(escalations.map((escalation) => [escalation.alarm.id, escalation]));
    const { nowMs } = this.#parts.head();
    const recent = missed.filter(({ timeMs }) => nowMs - timeMs < MISSED_MAX_AGE_MS);
    if (missed.length > 0) this.alarms(recent, missed);
  }

  /** When the escalation of an alarm started, UTC ms as in its journal; null = it has none. */
  sinceMs(alarmId: number): number | null {
    return this.#escalations.get(alarmId)?.sinceMs ?? null;
  }

  get active(): readonly Escalation[] {
    return [...this.#escalations.values()];
  }

  /** @param reported the steps to report to programs, which are never too old for them */
  alarms(changes: readonly AlarmChange[], reported: readonly AlarmChange[]): void {
    const plan = this.#parts.plan();
    const head = this.#parts.head();
    const entries = this.#parts.reports(reported);
    const withdrawn = new Set<number>();
    for (const change of changes) {
      const { id } = change.alarm;
      const step = onAlarmChange(this.#escalations.get(id) ?? null, change, plan, head.nowMs);
      this.#apply(id, step, head, entries);
      if (step.withdraw) withdrawn.add(id);
    }
    // Even if no message follows: this stores how far the journal was worked through.
    this.#parts.kick(this.#parts.outbox.put(this.active, entries, withdrawn));
  }

  /** To be called once a second: sends reminders, notifies the next round, and ends quiet hours. */
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
      this.#apply(id, step, head, entries);
    }
    if (changed) this.#parts.kick(this.#parts.outbox.put(this.active, entries, new Set()));
  }

  #apply(id: number, step: EscalationStep, head: MessageHead, entries: NewEntry[]): void {
    if (step.escalation === null) this.#escalations.delete(id);
    else this.#escalations.set(id, step.escalation);
    for (const notification of step.notifications) entries.push(...messagesOf(notification, head));
  }
}
