import { randomBytes } from 'node:crypto';
import type { Alarm, AlarmChange } from '../alarm/alarm.ts';
import type { Channel, ChannelSettings, ChannelState } from '../escalation/channel.ts';
import { type Contact, localClock, quietUntil } from '../escalation/contact.ts';
import type { Drill } from '../escalation/drill.ts';
import { checkRules, DEFAULT_RULES, type EscalationRules } from '../escalation/escalation-rules.ts';
import { type Message, type Picture, testText } from '../escalation/message.ts';
import type { NewEntry } from '../escalation/outbox-entry.ts';
import type { PeopleOverview, PeopleService, Phone, Question } from '../escalation/people-service.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { SpoolOutlook } from '../escalation/spool-outlook.ts';
import { damageText } from '../escalation/unreadable-entry.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import { messageOf } from '../problem/problem.ts';
import { becomesReady } from '../stage/stage-readiness.ts';
import { AnswerService } from './answer-service.ts';
import { makeAnswerSecret, readAnswerSecret } from './answer-token.ts';
import { ATTEMPT_MS } from './channel-queue.ts';
import { ChannelQueues } from './channel-queues.ts';
import { ChannelService } from './channel-service.ts';
import { ContactService } from './contact-service.ts';
import type { LineStatus } from './delivery.ts';
import { Drills } from './drills.ts';
import { Escalator } from './escalator.ts';
import { Heartbeat } from './heartbeat.ts';
import { type MessageHead, readyMessages, troubleMessages } from './messages.ts';
import { type FailingChannel, notificationTroubles } from './notification-troubles.ts';
import { openAdapter } from './open-adapter.ts';
import { Outbox } from './outbox.ts';
import { addPhone, keepPhones } from './phone-service.ts';
import { type Trace, tracePicture } from './picture/trace-picture.ts';
import { alarmReports, type FinishedSpool, spoolReports, type WriteAlarmStep } from './reports.ts';
import { storedSecret } from './stored-secret.ts';
import { makePushKeys, type PushKeys, readPushKeys } from './web-push.ts';

/*
 *  alarm steps ─ Escalator (escalation-steps) ─┐
 *  button, schedule ─ Drills ──────────────────┼─ messages ─ Outbox ─ ChannelQueues ─ ChannelQueue ─ adapter ─ a person
 *  a channel that fails ───────────────────────┘                                   (one per channel)
 */

export interface NotifierParts {
  readonly store: PeopleStore;
  readonly clock: Clock;
  /** ms; any origin, never set. */
  readonly steadyClock: Clock;
  readonly log: Log;
  readonly timeZone: string;
  /** Longest time that one attempt to send a message may take, ms. */
  readonly attemptMs?: number;
  /** The current state of the line. */
  line(): {
    readonly name: string;
    readonly runId: number | null;
    readonly live: boolean;
    /** When this strand was first ready to wind, UTC ms; null = it was not. */
    readonly firstReadyMs: number | null;
  };
  /** What can still become of the spool being wound. */
  outlook(): SpoolOutlook;
  /** The readings around a place on the strand; null = there are none. */
  trace(of: NonNullable<Message['picture']>): Promise<Trace | null>;
  /** The state of the line for programs. */
  status(): LineStatus;
  /** Writes what programs are sent about an alarm. */
  writeAlarmStep: WriteAlarmStep;
  /** Current or suppressed; null = there is none. */
  alarm(id: number): Alarm | null;
  acknowledge(alarmId: number, who: string): Alarm;
  /** Writes into the log of what users and the service did. */
  recordAction(what: string, who: string): void;
}

const TICK_EVERY_MS = 1000;
const LISTED = 50;

/** Notifies people of alarms. The entry point of this folder. */
export class Notifier implements PeopleService {
  readonly #parts: NotifierParts;
  readonly #outbox: Outbox;
  readonly #queues: ChannelQueues;
  readonly #channels: ChannelService;
  readonly #contacts: ContactService;
  readonly #answers: AnswerService;
  readonly #escalator: Escalator;
  readonly #drills: Drills;
  readonly #heartbeat: Heartbeat;
  #rules: EscalationRules = DEFAULT_RULES;
  #answerSecret = '';
  #pushKeys: PushKeys = { publicKey: '', privateKey: '' };
  #timer: NodeJS.Timeout | undefined;
  #readyMs: number | null | undefined;

  constructor(parts: NotifierParts) {
    const { store, clock, log, recordAction } = parts;
    this.#parts = parts;
    this.#outbox = new Outbox(store, clock, log, parts.steadyClock);
    this.#queues = new ChannelQueues({
      store,
      outbox: this.#outbox,
      clock,
      log,
      attemptMs: parts.attemptMs ?? ATTEMPT_MS,
      openAdapter: (channel, report) => openAdapter(channel, report, { clock, log, pushKeys: () => this.#pushKeys }),
      pageAddress: () => this.#rules.pageAddress,
      picture: ({ picture }) => this.#picture(picture),
      failing: (channel, state) => this.#channelFails(channel, state),
      gone: (channel, why) => {
        this.#channelGone(channel, why).catch((thrown: unknown) =>
          log.error('A channel whose receiver is gone could not be removed', {
            channel: channel.name,
            why: messageOf(thrown),
          }),
        );
      },
    });
    this.#channels = new ChannelService({ store, queues: this.#queues, clock, recordAction });
    this.#contacts = new ContactService({ store, clock, recordAction });
    const contacts = () => this.#contacts.all();
    const head = () => this.#head();
    this.#escalator = new Escalator({
      outbox: this.#outbox,
      plan: () => ({
        contacts: contacts(),
        rules: this.#rules,
        timeZone: parts.timeZone,
        failingChannels: this.#queues.failing(),
        outlook: parts.outlook(),
      }),
      head,
      reports: (changes) => this.#alarmReports(changes),
      kick: (ids) => this.#queues.kick(ids),
    });
    this.#drills = new Drills({
      store,
      outbox: this.#outbox,
      contacts,
      rules: () => this.#rules,
      head,
      send: (entries) => this.#send(entries),
      recordAction,
    });
    this.#answers = new AnswerService({
      store,
      clock,
      drills: this.#drills,
      secret: () => this.#answerSecret,
      contacts,
      alarm: parts.alarm,
      escalatingSinceMs: (id) => this.#escalator.sinceMs(id),
      acknowledge: parts.acknowledge,
      picture: (of) => this.#picture(of),
    });
    this.#heartbeat = new Heartbeat(() => this.#rules, clock);
  }

  start(): void {
    const { store } = this.#parts;
    this.#rules = { ...DEFAULT_RULES, ...(store.loadRules() as Partial<EscalationRules> | null) };
    this.#contacts.reload();
    this.#answerSecret = storedSecret(store, 'answers', readAnswerSecret, makeAnswerSecret);
    this.#pushKeys = storedSecret(store, 'push keys', readPushKeys, () => JSON.stringify(makePushKeys()));
    this.#outbox.start();
    this.#drills.start();
    this.#queues.start();
    this.#escalator.start(store.escalations(), store.unprocessed());
    this.#timer = setInterval(() => this.#tick(), TICK_EVERY_MS);
  }

  async stop(): Promise<void> {
    clearInterval(this.#timer);
    await Promise.all([this.#heartbeat.stop(), this.#queues.stop()]);
    this.#outbox.tick();
  }

  /** Alarm steps that are already in the journal. Those of a recording happened long ago and notify no one; programs see them, as in the state. */
  alarms(changes: readonly AlarmChange[]): void {
    this.#escalator.alarms(this.#parts.line().live ? changes : [], changes);
    this.#show();
  }

  /** Whether a channel leads to programs. */
  get hasBroker(): boolean {
    return this.#queues.brokerIds().length > 0;
  }

  /** Sends it to every broker, once. */
  spoolFinished(spool: FinishedSpool): void {
    this.#send(spoolReports(spool, this.#queues.brokerIds(), this.#head()));
  }

  // ---- what users do ----

  overview(): PeopleOverview {
    const { store } = this.#parts;
    return {
      channels: this.#channels.all().map((channel) => ({
        channel,
        state: this.#queues.stateOf(channel.id),
        waiting: this.#outbox.count(channel.id),
      })),
      contacts: this.#contacts.all(),
      rules: this.#rules,
      heartbeat: this.#heartbeat.state,
      drills: this.#drills.overview(),
      failedMessages: store.ended({ dead: true, limit: LISTED }),
      recent: store.ended({ dead: false, limit: LISTED }),
      troubles: this.troubles(),
      unreadable: this.#contacts.unreadable,
      pushKey: this.#pushKeys.publicKey,
    };
  }

  /** What of the record about notifications cannot be read, as text; null = nothing. */
  get damage(): string | null {
    return damageText(this.#contacts.unreadable);
  }

  troubles(): readonly string[] {
    return notificationTroubles({
      unreadable: this.#contacts.unreadable,
      contacts: this.#contacts.all(),
      failing: this.failing(),
      drill: this.#drills.latest,
      heartbeat: this.#heartbeat.state?.text ?? '',
      nowMs: this.#parts.clock(),
    });
  }

  failing(): readonly FailingChannel[] {
    return this.#queues.failures();
  }

  async addChannel(channel: Omit<Channel, 'id'>, who: string): Promise<Channel> {
    const added = await this.#channels.add(channel, who);
    this.#contacts.reload();
    return added;
  }

  changeChannel(channel: Channel, who: string): Promise<Channel> {
    return this.#channels.change(channel, who);
  }

  async removeChannel(id: number, who: string): Promise<void> {
    await this.#channels.remove(id, who);
    this.#contacts.reload();
  }

  async tryChannel(id: number | null, name: string, settings: ChannelSettings): Promise<void> {
    const draft = this.#channels.draft(id, name, settings);
    const { nowMs, lineName, timeZone } = this.#head();
    const text = testText(name, nowMs);
    const key = `test-${randomBytes(9).toString('base64url')}`;
    const clock = localClock(nowMs, timeZone);
    const around = { key, conversation: key, lineName, clock, answerPath: null, picture: null };
    await this.#queues.test(draft, { ...text, ...around });
  }

  addContact(contact: Omit<Contact, 'id'>, who: string): Contact {
    return this.#contacts.add(contact, who);
  }

  changeContact(contact: Contact, who: string): Contact {
    return this.#contacts.change(contact, who);
  }

  removeContact(id: number, who: string): void {
    this.#contacts.remove(id, who);
  }

  addPhone(phone: Phone, who: string): Promise<Drill> {
    return addPhone({ channels: this.#channels, contacts: this.#contacts, drills: this.#drills }, phone, who);
  }

  /** The paired devices have changed; described at `keepPhones`. */
  devicesChanged(paired: ReadonlySet<number>, replaced: readonly [number, number] | null): Promise<void> {
    return keepPhones({ channels: this.#channels, contacts: this.#contacts }, paired, replaced);
  }

  changeRules(rules: EscalationRules, who: string): EscalationRules {
    const { store, clock, recordAction } = this.#parts;
    const checked = checkRules(rules);
    store.saveRules(checked, clock());
    this.#contacts.reload();
    const heartbeatMoved = checked.heartbeatAddress !== this.#rules.heartbeatAddress;
    this.#rules = checked;
    if (heartbeatMoved) this.#heartbeat.addressChanged();
    recordAction('Changed the rules of notification.', who);
    return checked;
  }

  forgetDead(who: string): void {
    this.#parts.store.forgetDead();
    this.#parts.recordAction('Cleared the list of messages that were not delivered.', who);
  }

  startDrill(who: string): Drill {
    return this.#drills.startDrill(who);
  }

  confirmDrill(drillId: number, contactId: number): Drill {
    return this.#drills.confirm(drillId, contactId);
  }

  question(token: string): Question {
    return this.#answers.question(token);
  }

  picture(token: string): Promise<Picture | null> {
    return this.#answers.picture(token);
  }

  answer(token: string, seenOccurrences: number | null): Question {
    return this.#answers.answer(token, seenOccurrences);
  }

  // ---- inside ----

  /** A step that fails (on a full disk, for example) must neither stop the others nor end the service. */
  #tick(): void {
    const steps = [
      () => this.#show(),
      () => this.#tellReady(),
      () => this.#outbox.tick(),
      () => this.#queues.tick(),
      () => this.#escalator.tick(),
      () => this.#drills.tick(),
      () => this.#heartbeat.tick(),
      () => this.#outbox.forgetOld(),
    ];
    for (const step of steps) {
      try {
        step();
      } catch (thrown) {
        this.#parts.log.error('Notifying people failed', { why: messageOf(thrown) });
      }
    }
  }

  /** A picture that cannot be made must not hold up its message. */
  async #picture(of: Message['picture']): Promise<Picture | null> {
    if (of === null) return null;
    try {
      const trace = await this.#parts.trace(of);
      return trace && tracePicture(trace);
    } catch (thrown) {
      this.#parts.log.warn('The picture of the strand could not be made', { why: messageOf(thrown) });
      return null;
    }
  }

  #show(): void {
    if (this.hasBroker) this.#queues.show(this.#parts.status());
  }

  #tellReady(): void {
    const { firstReadyMs, live } = this.#parts.line();
    const before = this.#readyMs;
    this.#readyMs = firstReadyMs;
    if (live && becomesReady(before, firstReadyMs))
      this.#send(readyMessages(firstReadyMs, this.#contacts.all(), this.#head()));
  }

  /** Programs that cannot be told must not keep people from being notified. */
  #alarmReports(changes: readonly AlarmChange[]): NewEntry[] {
    try {
      return alarmReports(changes, this.#queues.brokerIds(), this.#head(), this.#parts.writeAlarmStep);
    } catch (thrown) {
      this.#parts.log.error('Steps of alarms were not reported to the broker', { why: messageOf(thrown) });
      return [];
    }
  }

  #send(entries: readonly NewEntry[]): void {
    this.#queues.kick(this.#outbox.put(this.#escalator.active, entries, new Set()));
  }

  /** Reported over the other channels; during quiet hours only if an urgent message is stuck. */
  #channelFails(channel: Channel, state: ChannelState): void {
    const head = this.#head();
    const urgent = this.#outbox.holdsUrgent(channel.id);
    const awake = this.#contacts
      .all()
      .filter(({ quiet }) => urgent || quietUntil(quiet, head.nowMs, head.timeZone) === null);
    this.#send(troubleMessages(channel, state, awake, urgent, head));
  }

  async #channelGone(channel: Channel, why: string): Promise<void> {
    this.#channelFails(channel, { ...this.#queues.stateOf(channel.id), text: why, remedy: 'Add the channel again.' });
    await this.#channels.remove(channel.id, 'service', why);
    this.#contacts.reload();
  }

  #head(): MessageHead {
    const { name, runId } = this.#parts.line();
    const { clock, timeZone } = this.#parts;
    return { lineName: name, runId, timeZone, nowMs: clock(), answerSecret: this.#answerSecret };
  }
}
