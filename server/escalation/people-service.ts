import type { Alarm } from '../alarm/alarm.ts';
import type { Channel, ChannelSettings, ChannelState } from './channel.ts';
import type { Contact } from './contact.ts';
import type { Drill, DrillOutcome } from './drill.ts';
import type { EscalationRules } from './escalation-rules.ts';
import type { Picture } from './message.ts';
import type { OutboxEntry } from './outbox-entry.ts';

export interface ChannelOverview {
  readonly channel: Channel;
  readonly state: ChannelState;
  /** Messages that wait for it. */
  readonly waiting: number;
}

export interface DrillOverview {
  readonly drill: Drill;
  readonly outcome: DrillOutcome;
  /** What became of its messages: 'delivered' is what the other side took, not what anybody saw. */
  readonly messages: readonly OutboxEntry[];
}

/** Everything about how people are reached. Secrets are in it: whoever shows it leaves them out. */
export interface PeopleOverview {
  readonly channels: readonly ChannelOverview[];
  readonly contacts: readonly Contact[];
  readonly rules: EscalationRules;
  readonly heartbeat: HeartbeatState | null;
  /** Newest first. */
  readonly drills: readonly DrillOverview[];
  readonly failedMessages: readonly OutboxEntry[];
  readonly recent: readonly OutboxEntry[];
  /** What is wrong with reaching people, a plain sentence each; empty = all is well. */
  readonly troubles: readonly string[];
  /** Public key for push subscriptions, base64url (RFC 8292). */
  readonly pushKey: string;
}

export interface HeartbeatState {
  readonly lastOkMs: number | null;
  /** What is wrong; '' = nothing. */
  readonly text: string;
}

/** What a link in a message asks, and what was answered. */
export interface Question {
  readonly what: 'alarm' | 'drill';
  readonly names: readonly string[];
  readonly alarm: Alarm | null;
  readonly drill: Drill | null;
  readonly state: QuestionState;
  /** There may be a picture of the strand that it asks about. */
  readonly hasPicture: boolean;
}

/**
 * `open` = waits for the answer; `answered`; `over` = too late, or the alarm is gone; `anew` = what the message told of
 * was answered or is over, but the alarm calls again, with a message of its own; `resting` = a person or the design put
 * the alarm to rest.
 */
export const QUESTION_STATES = ['open', 'answered', 'over', 'raisedAgain', 'suppressed'] as const;
export type QuestionState = (typeof QUESTION_STATES)[number];

/** What people may do about how they are reached. */
export interface PeopleService {
  overview(): PeopleOverview;
  /** Short: for the live state, four times a second. */
  troubles(): readonly string[];
  /** @throws Problem bad-setting, bad-template */
  addChannel(channel: Omit<Channel, 'id'>, who: string): Promise<Channel>;
  /** Secrets that are given as '' stay as they are. @throws Problem unknown-channel, bad-setting, bad-template */
  changeChannel(channel: Channel, who: string): Promise<Channel>;
  /** @throws Problem unknown-channel */
  removeChannel(id: number, who: string): Promise<void>;
  /** Send a test at once. `id`: a known channel whose secrets fill what is ''. @throws Problem channel-failed, bad-setting … */
  tryChannel(id: number | null, name: string, settings: ChannelSettings): Promise<void>;
  /** @throws Problem bad-setting, unknown-channel */
  addContact(contact: Omit<Contact, 'id'>, who: string): Contact;
  /** @throws Problem unknown-contact, bad-setting, unknown-channel */
  changeContact(contact: Contact, who: string): Contact;
  /** @throws Problem unknown-contact */
  removeContact(id: number, who: string): void;
  /** @throws Problem bad-setting */
  changeRules(rules: EscalationRules, who: string): EscalationRules;
  forgetDead(who: string): void;
  /** @throws Problem wrong-state where nobody could be told */
  startDrill(who: string): Drill;
  /** @throws Problem unknown-drill, unknown-contact, wrong-state */
  confirmDrill(drillId: number, contactId: number): Drill;
  /** @throws Problem not-found where the token is none of ours */
  question(token: string): Question;
  /** The strand that it asks about; null = there is none, or it cannot be shown. @throws Problem not-found as above */
  picture(token: string): Promise<Picture | null>;
  /**
   * Acknowledges the alarm, or confirms the drill, where that is open; else nothing happens. `seenOccurrences`: as the
   * person saw it, for what happened since was seen by nobody; null = whatever it is.
   * @throws Problem not-found, wrong-state
   */
  answer(token: string, seenOccurrences: number | null): Question;
}
