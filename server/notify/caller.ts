import type { AlarmChange } from '../alarm/alarm.ts';
import type { Call, CallPlan, CallStep } from '../calling/call.ts';
import { onAlarmChange, onTime } from '../calling/call-steps.ts';
import type { NewEntry } from '../calling/outbox-entry.ts';
import { type LetterHead, lettersOf } from './letters.ts';
import type { Outbox } from './outbox.ts';

/** A step of an alarm that the service could not tell before it was killed is still told if it is not older than this. */
const STILL_NEWS_MS = 12 * 3_600_000;

export interface CallerParts {
  readonly outbox: Outbox;
  plan(): CallPlan;
  head(): LetterHead;
  /** These channels have something to send. */
  kick(channelIds: ReadonlySet<number>): void;
}

/** Carries the callings of all alarms: each step of an alarm, and each moment, becomes messages in the outbox. */
export class Caller {
  readonly #parts: CallerParts;
  #calls = new Map<number, Call>();

  constructor(parts: CallerParts) {
    this.#parts = parts;
  }

  /** Goes on where the service ended; `untold`: what was journalled, but not told. */
  start(calls: readonly Call[], untold: readonly AlarmChange[]): void {
    this.#calls = new Map(calls.map((call) => [call.alarm.id, call]));
    const { nowMs } = this.#parts.head();
    const news = untold.filter(({ timeMs }) => nowMs - timeMs < STILL_NEWS_MS);
    if (untold.length > 0) this.alarms(news);
  }

  /** Since when an alarm calls, UTC ms of its journal; null = it does not. */
  sinceMs(alarmId: number): number | null {
    return this.#calls.get(alarmId)?.sinceMs ?? null;
  }

  get underway(): readonly Call[] {
    return [...this.#calls.values()];
  }

  alarms(changes: readonly AlarmChange[]): void {
    const plan = this.#parts.plan();
    const head = this.#parts.head();
    const entries: NewEntry[] = [];
    const withdrawn = new Set<number>();
    for (const change of changes) {
      const { id } = change.alarm;
      const step = onAlarmChange(this.#calls.get(id) ?? null, change, plan, head.nowMs);
      this.#take(id, step, head, entries);
      if (step.withdraw) withdrawn.add(id);
    }
    // Also where nothing is to be told: the journal up to here is dealt with.
    this.#parts.kick(this.#parts.outbox.put(this.underway, entries, withdrawn));
  }

  /** To be called once a second: reminders, the next round, quiet hours that are over. */
  tick(): void {
    if (this.#calls.size === 0) return;
    const plan = this.#parts.plan();
    const head = this.#parts.head();
    const entries: NewEntry[] = [];
    let changed = false;
    for (const [id, call] of this.#calls) {
      const step = onTime(call, plan, head.nowMs);
      if (step.call === call) continue;
      changed = true;
      this.#take(id, step, head, entries);
    }
    if (changed) this.#parts.kick(this.#parts.outbox.put(this.underway, entries, new Set()));
  }

  #take(id: number, step: CallStep, head: LetterHead, entries: NewEntry[]): void {
    if (step.call === null) this.#calls.delete(id);
    else this.#calls.set(id, step.call);
    for (const telling of step.tellings) entries.push(...lettersOf(telling, head));
  }
}
