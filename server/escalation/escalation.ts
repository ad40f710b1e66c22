import type { Alarm } from '../alarm/alarm.ts';
import type { Contact } from './contact.ts';
import type { EscalationRules } from './escalation-rules.ts';
import type { SpoolOutlook } from './spool-outlook.ts';
import type { Urgency } from './urgency.ts';

/** Notifications about one alarm until it is acknowledged. Stored as JSON, so field names must not change. Times UTC ms. */
export interface Escalation {
  readonly alarm: Alarm;
  /** Time in the journal of the alarm's step that started it: an acknowledged alarm that occurs again starts another one. */
  readonly sinceMs: number;
  readonly startedMs: number;
  /** Rounds up to this one have been notified. */
  readonly round: number;
  readonly roundMs: number;
  /** Time of the last notification, and the number of occurrences that it included. */
  readonly toldMs: number;
  readonly toldOccurrences: number;
  readonly reminders: number;
  /** Contacts who were notified; they are also notified of the acknowledgement. */
  readonly told: readonly number[];
  /** Contacts whose notification is delayed by their quiet hours, and until when. */
  readonly held: readonly { readonly contactId: number; readonly untilMs: number }[];
}

/** Contacts, rules and failing channels. */
export interface EscalationPlan {
  readonly contacts: readonly Contact[];
  readonly rules: EscalationRules;
  /** IANA name, for the quiet hours. */
  readonly timeZone: string;
  readonly failingChannels: ReadonlySet<number>;
  /** The spool being wound, now. */
  readonly outlook: SpoolOutlook;
}

/** A contact, and whether they should get up. */
export interface Recipient {
  readonly contact: Contact;
  readonly urgency: Urgency;
}

/** A notification of contacts about an alarm. */
export interface Notification {
  readonly alarm: Alarm;
  readonly kind: 'raised' | 'again' | 'reminder' | 'escalated' | 'acknowledged';
  /** As in the escalation. */
  readonly sinceMs: number;
  /** Part of the message's key: the same step always has the same text, so that it is sent only once. */
  readonly step: string;
  readonly recipients: readonly Recipient[];
  /** Time since the escalation started, ms. */
  readonly waitedMs: number;
  readonly by: string | null;
}

export interface EscalationStep {
  /** null = no one needs to be notified any more. */
  readonly escalation: Escalation | null;
  readonly notifications: readonly Notification[];
  /** Messages about this alarm that still wait in the outbox are no longer needed. */
  readonly withdraw: boolean;
}
