import type { Alarm } from '../alarm/alarm.ts';
import type { Channel, ChannelSettings, ChannelState, PushSettings } from './channel.ts';
import type { Contact } from './contact.ts';
import type { Drill, DrillOutcome } from './drill.ts';
import type { EscalationRules } from './escalation-rules.ts';
import type { Picture } from './message.ts';
import type { OutboxEntry } from './outbox-entry.ts';
import type { UnreadableEntry } from './unreadable-entry.ts';

export interface ChannelOverview {
  readonly channel: Channel;
  readonly state: ChannelState;
  /** Number of messages waiting to be sent. */
  readonly waiting: number;
}

export interface DrillOverview {
  readonly drill: Drill;
  readonly outcome: DrillOutcome;
  /** Its messages; 'delivered' means accepted by the receiving service, not seen by a person. */
  readonly messages: readonly OutboxEntry[];
}

/** Everything about notifications. Contains secrets, which must not be shown. */
export interface PeopleOverview {
  readonly channels: readonly ChannelOverview[];
  readonly contacts: readonly Contact[];
  readonly rules: EscalationRules;
  readonly heartbeat: HeartbeatState | null;
  /** Newest first. */
  readonly drills: readonly DrillOverview[];
  readonly failedMessages: readonly OutboxEntry[];
  readonly recent: readonly OutboxEntry[];
  /** What prevents people from being notified, one sentence each; empty = all is well. */
  readonly troubles: readonly string[];
  /** What the lists above leave out. */
  readonly unreadable: readonly UnreadableEntry[];
  /** Public key for push subscriptions, base64url (RFC 8292). */
  readonly pushKey: string;
}

export interface HeartbeatState {
  readonly lastOkMs: number | null;
  /** Why the last heartbeat failed; '' = it did not. */
  readonly text: string;
}

/** A browser that asks to be notified. */
export interface Phone {
  readonly person: string;
  /** Name of its channel. */
  readonly device: string;
  readonly settings: PushSettings;
  /** The paired device whose browser it is; null = this machine itself. */
  readonly deviceId: number | null;
}

/** The question behind a link in a message, and the state of its answer. */
export interface Question {
  readonly what: 'alarm' | 'drill';
  readonly names: readonly string[];
  readonly alarm: Alarm | null;
  readonly drill: Drill | null;
  readonly state: QuestionState;
  /** There may be a picture of the strand. */
  readonly hasPicture: boolean;
}

/**
 * `open` = waiting for an answer; `answered`; `over` = too late, or the alarm is gone; `raisedAgain` = answered or over, but the
 * alarm occurred again and was sent in another message; `suppressed` = the alarm is suppressed.
 */
export const QUESTION_STATES = ['open', 'answered', 'over', 'raisedAgain', 'suppressed'] as const;
export type QuestionState = (typeof QUESTION_STATES)[number];

/** What users can do about notifications. */
export interface PeopleService {
  overview(): PeopleOverview;
  /** For the live state, so called four times a second. */
  troubles(): readonly string[];
  /** @throws Problem bad-setting, bad-template */
  addChannel(channel: Omit<Channel, 'id'>, who: string): Promise<Channel>;
  /** Secrets passed as '' stay unchanged. @throws Problem unknown-channel, bad-setting, bad-template */
  changeChannel(channel: Channel, who: string): Promise<Channel>;
  /** @throws Problem unknown-channel */
  removeChannel(id: number, who: string): Promise<void>;
  /**
   * Sends a test message at once. `id`: the channel whose secrets replace those that are ''.
   * @throws Problem channel-failed, bad-setting …
   */
  tryChannel(id: number | null, name: string, settings: ChannelSettings): Promise<void>;
  /** @throws Problem bad-setting, unknown-channel */
  addContact(contact: Omit<Contact, 'id'>, who: string): Contact;
  /** @throws Problem unknown-contact, bad-setting, unknown-channel */
  changeContact(contact: Contact, who: string): Contact;
  /** @throws Problem unknown-contact */
  removeContact(id: number, who: string): void;
  /** Adds this browser to a person and sends it an alarm test. @throws Problem bad-name, bad-setting */
  addPhone(phone: Phone, who: string): Promise<Drill>;
  /** @throws Problem bad-setting */
  changeRules(rules: EscalationRules, who: string): EscalationRules;
  forgetDead(who: string): void;
  /** @throws Problem wrong-state: no one can be notified */
  startDrill(who: string): Drill;
  /** @throws Problem unknown-drill, unknown-contact, wrong-state */
  confirmDrill(drillId: number, contactId: number): Drill;
  /** @throws Problem not-found: the token is not valid */
  question(token: string): Question;
  /** The picture of the strand; null = there is none, or it cannot be drawn. @throws Problem not-found: the token is not valid */
  picture(token: string): Promise<Picture | null>;
  /**
   * Acknowledges the alarm or confirms the drill if the question is open; otherwise does nothing. `seenOccurrences`: the number that
   * the user saw, as later ones must not be acknowledged; null = any number.
   * @throws Problem not-found, wrong-state
   */
  answer(token: string, seenOccurrences: number | null): Question;
}
