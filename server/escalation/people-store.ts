import type { AlarmChange } from '../alarm/alarm.ts';
import type { Channel, ChannelState } from './channel.ts';
import type { Contact } from './contact.ts';
import type { Drill } from './drill.ts';
import type { Escalation } from './escalation.ts';
import type { Message } from './message.ts';
import type { OutboxEntry } from './outbox-entry.ts';
import type { UnreadableEntry } from './unreadable-entry.ts';

/**
 * Stores people, channels, the outbox, and up to where the alarm journal has been processed. Every call is durable when it returns,
 * or throws.
 */
export interface PeopleStore {
  channels(): readonly Channel[];
  addChannel(channel: Omit<Channel, 'id'>, atMs: number): Channel;
  changeChannel(channel: Channel, atMs: number): void;
  removeChannel(id: number, atMs: number): void;
  channelStates(): ReadonlyMap<number, ChannelState>;
  saveChannelState(channelId: number, state: ChannelState): void;

  contacts(): readonly Contact[];
  addContact(contact: Omit<Contact, 'id'>, atMs: number): Contact;
  changeContact(contact: Contact, atMs: number): void;
  removeContact(id: number, atMs: number): void;

  /** What the lists above leave out, and the rules as last saved, because they cannot be read. */
  unreadableEntries(): readonly UnreadableEntry[];

  /** As last saved; null = never. */
  loadRules(): unknown;
  saveRules(rules: object, atMs: number): void;

  /**
   * What the service keeps secret, as `read` understands it: keys that it generated, the tokens of other lines; null = never stored, or
   * `read` throws, which is reported.
   */
  secret<T>(name: string, read: (text: string) => T): T | null;
  keepSecret(name: string, value: string): void;

  /** Escalations in progress, as of the last `saveEscalations`. */
  escalations(): readonly Escalation[];
  /** Alarm steps in the journal that were not processed before the service ended, in order. */
  unprocessed(): readonly AlarmChange[];
  /**
   * Saves in one transaction the current escalations, new messages (except those whose channel and key exist already) and changed
   * messages, and marks the whole journal as processed.
   * @returns the numbers (seq) of the messages that were left out
   */
  saveEscalations(
    escalations: readonly Escalation[],
    added: readonly OutboxEntry[],
    changed: readonly OutboxEntry[],
  ): readonly number[];

  /** In one transaction. */
  keepEntries(entries: readonly OutboxEntry[]): void;
  /** In the order of sending. */
  waiting(): readonly OutboxEntry[];
  lastSeq(): number;
  /** Finished entries, newest first. `dead`: only those that failed; otherwise reports are left out, because there are many. */
  ended(filter: { readonly dead: boolean; readonly limit: number }): readonly OutboxEntry[];
  /** The stretch shown by the newest message with a picture about an alarm; null = none. */
  pictureOf(alarmId: number): Message['picture'];
  /** Deletes failed entries. */
  forgetDead(): void;
  /** Deletes entries that finished before a time. */
  forgetBefore(ms: number): void;
  /** What is dated before then is certainly older than a number of days: the clock says so, and the service has seen as many since, or 30. */
  olderThan(days: number, nowMs: number): number;

  /** Newest first. */
  drills(limit: number): readonly Drill[];
  addDrill(drill: Omit<Drill, 'id'>): Drill;
  keepDrill(drill: Drill): void;
}
