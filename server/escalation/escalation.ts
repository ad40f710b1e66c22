import type { Alarm } from '../alarm/alarm.ts';
import type { Contact } from './contact.ts';
import type { EscalationRules } from './escalation-rules.ts';

/** The calling about one alarm that waits for an acknowledgement. Plain data: it is kept in the record. Times UTC ms. */
export interface Escalation {
  readonly alarm: Alarm;
  /** The step of the alarm that began it, UTC ms of the journal: an answered alarm that occurs again is called anew. */
  readonly sinceMs: number;
  readonly startedMs: number;
  /** Rounds up to this one were called. */
  readonly round: number;
  readonly roundMs: number;
  /** When anybody was told last, and of how many occurrences. */
  readonly toldMs: number;
  readonly toldOccurrences: number;
  readonly reminders: number;
  /** Those who were told; they hear of the acknowledgement. */
  readonly told: readonly number[];
  /** Those whose quiet hours hold the message back, and until when. */
  readonly held: readonly { readonly contactId: number; readonly untilMs: number }[];
}

/** Who there is, how they are called, and which channels do not work at the moment. */
export interface EscalationPlan {
  readonly contacts: readonly Contact[];
  readonly rules: EscalationRules;
  /** IANA name: quiet hours are told in it. */
  readonly timeZone: string;
  readonly failingChannels: ReadonlySet<number>;
}

/** Tell these people this about the alarm. */
export interface Notification {
  readonly alarm: Alarm;
  readonly kind: 'raised' | 'again' | 'reminder' | 'escalated' | 'acknowledged';
  /** The calling's. */
  readonly sinceMs: number;
  /** Makes the message's key: the same step gives the same number, whenever it is computed. */
  readonly step: string;
  readonly contacts: readonly Contact[];
  /** Since the calling began, ms. */
  readonly waitedMs: number;
  readonly by: string | null;
}

export interface EscalationStep {
  /** null = nobody needs to be called any more. */
  readonly escalation: Escalation | null;
  readonly notifications: readonly Notification[];
  /** What still waits in the outbox about this alarm is of no use any more. */
  readonly withdraw: boolean;
}
