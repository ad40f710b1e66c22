import type { AlarmChange } from '../alarm/alarm.ts';
import type { Channel, ChannelState } from './channel.ts';
import type { Contact } from './contact.ts';
import type { Drill } from './drill.ts';
import type { Escalation } from './escalation.ts';
import type { Message } from './message.ts';
import type { OutboxEntry } from './outbox-entry.ts';

/**
 * Keeps people, channels, the outbox and how far the journal of alarms has been told. Every call is durable when it
 * returns, or throws.
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

  /** As last saved; null = never. */
  loadRules(): unknown;
  saveRules(rules: object, atMs: number): void;

  /** Something that the service made once and keeps for itself; null = not made yet. */
  secret(name: string): string | null;
  keepSecret(name: string, value: string): void;

  /** Escalations under way, as of the last `keepCalls`. */
  escalations(): readonly Escalation[];
  /** Steps of alarms that were journalled but not told before the service ended, in order. */
  untold(): readonly AlarmChange[];
  /**
   * In one transaction: the escalations as they stand now, new messages (one whose channel and key are known is left out),
   * messages that changed; and everything in the journal counts as told.
   * @returns the numbers (seq) of those that were left out
   */
  saveEscalations(
    escalations: readonly Escalation[],
    added: readonly OutboxEntry[],
    changed: readonly OutboxEntry[],
  ): readonly number[];

  keepEntry(entry: OutboxEntry): void;
  /** In the order in which they go out. */
  waiting(): readonly OutboxEntry[];
  lastSeq(): number;
  /** Ended ones, newest first. */
  ended(filter: { readonly dead: boolean; readonly limit: number }): readonly OutboxEntry[];
  /** What the newest message about an alarm that goes with a picture shows; null = there is none. */
  pictureOf(alarmId: number): Message['picture'];
  /** The dead letters are read and may go. */
  forgetDead(): void;
  /** What ended before is deleted. */
  forgetBefore(ms: number): void;

  /** Newest first. */
  drills(limit: number): readonly Drill[];
  addDrill(drill: Omit<Drill, 'id'>): Drill;
  keepDrill(drill: Drill): void;
}
