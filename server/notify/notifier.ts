import { randomBytes } from 'node:crypto';
import type { Alarm, AlarmChange } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import { awaitsAcknowledgement, isSuppressed } from '../alarm/life-cycle.ts';
import type { Channel, ChannelSettings, ChannelState } from '../escalation/channel.ts';
import { checkContact } from '../escalation/check-contact.ts';
import { type Contact, localClock, quietUntil } from '../escalation/contact.ts';
import { type Drill, outcomeOf } from '../escalation/drill.ts';
import { checkRules, DEFAULT_RULES, type EscalationRules } from '../escalation/escalation-rules.ts';
import { type Message, type Picture, testText } from '../escalation/message.ts';
import type { PeopleOverview, PeopleService, Question, QuestionState } from '../escalation/people-service.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { Log } from '../monitor/log.ts';
import type { Clock } from '../monitor/steady-clock.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { type Answerable, readToken } from './answer-token.ts';
import { ATTEMPT_MS } from './channel-queue.ts';
import { ChannelQueues } from './channel-queues.ts';
import { ChannelService } from './channel-service.ts';
import { Drills, outcomeText } from './drills.ts';
import { Escalator } from './escalator.ts';
import { Heartbeat } from './heartbeat.ts';
import { type MessageHead, troubleMessages } from './messages.ts';
import { openAdapter } from './open-adapter.ts';
import { Outbox } from './outbox.ts';
import { type Trace, tracePicture } from './picture/trace-picture.ts';
import { makePushKeys, type PushKeys } from './web-push.ts';

/*
 *  alarm changes ─ Caller (calling/call-steps) ─┐
 *  button, schedule ─ Drills ───────────────────┼─ letters ─ Outbox ─ ChannelQueues ─ ChannelQueue ─ adapter ─ a person
 *  a channel that fails ────────────────────────┘                                        (one a channel)
 */

export interface NotifierParts {
  readonly store: PeopleStore;
  readonly clock: Clock;
  readonly log: Log;
  readonly timeZone: string;
  /** How long one attempt at a message may take, ms. */
  readonly attemptMs?: number;
  /** The line as it stands. */
  line(): {
    readonly name: string;
    readonly runId: number | null;
    readonly live: boolean;
    readonly sentence: string;
    readonly severity: string;
    readonly stage: string;
  };
  /** The readings around a place on a spool; null = there are none. */
  trace(of: NonNullable<Message['picture']>): Promise<Trace | null>;
  /** Those that stand. */
  alarms(): readonly Alarm[];
  /** Standing or resting; null = there is none. */
  alarm(id: number): Alarm | null;
  acknowledge(alarmId: number, who: string): Alarm;
  /** Into the log of what people did. */
  tell(what: string, who: string): void;
}

const TICK_EVERY_MS = 1000;
const FORGET_EVERY_MS = 3_600_000;
const KEPT_FOR_MS = 30 * 24 * 3_600_000;
const LISTED = 50;

/** Alarms to people: the face of this room. */
export class Notifier implements PeopleService {
  readonly #parts: NotifierParts;
  readonly #outbox: Outbox;
  readonly #queues: ChannelQueues;
  readonly #channels: ChannelService;
  readonly #escalator: Escalator;
  readonly #drills: Drills;
  readonly #heartbeat: Heartbeat;
  #rules: EscalationRules = DEFAULT_RULES;
  #contacts: readonly Contact[] = [];
  #answerSecret = '';
  #pushKeys: PushKeys = { publicKey: '', privateKey: '' };
  #timer: NodeJS.Timeout | undefined;
  #forgotMs = 0;

  constructor(parts: NotifierParts) {
    const { store, clock, log, tell } = parts;
    this.#parts = parts;
    this.#outbox = new Outbox(store, clock, log);
    this.#queues = new ChannelQueues({
      store,
      outbox: this.#outbox,
      clock,
      log,
      attemptMs: parts.attemptMs ?? ATTEMPT_MS,
      openAdapter: (channel, report) => openAdapter(channel, report, { clock, pushKeys: () => this.#pushKeys }),
      pageAddress: () => this.#rules.pageAddress,
      picture: ({ picture }) => this.#picture(picture),
      failing: (channel, state) => this.#channelFails(channel, state),
      gone: (channel, why) => {
        this.#channelGone(channel, why).catch((thrown: unknown) =>
          log.error('A channel that is gone could not be removed', { channel: channel.name, why: messageOf(thrown) }),
        );
      },
    });
    this.#channels = new ChannelService({ store, queues: this.#queues, clock, tell });
    const head = () => this.#head();
    this.#escalator = new Escalator({
      outbox: this.#outbox,
      plan: () => ({
        contacts: this.#contacts,
        rules: this.#rules,
        timeZone: parts.timeZone,
        failingChannels: this.#queues.failing(),
      }),
      head,
      kick: (ids) => this.#queues.kick(ids),
    });
    this.#drills = new Drills({
      store,
      outbox: this.#outbox,
      contacts: () => this.#contacts,
      rules: () => this.#rules,
      head,
      keep: (entries) => this.#post(entries),
      tell,
    });
    this.#heartbeat = new Heartbeat(() => this.#rules, clock);
  }

  start(): void {
    const { store } = this.#parts;
    this.#rules = { ...DEFAULT_RULES, ...(store.loadRules() as Partial<EscalationRules> | null) };
    this.#contacts = store.contacts();
    this.#answerSecret = this.#madeOnce('answers', () => randomBytes(32).toString('base64url'));
    this.#pushKeys = JSON.parse(this.#madeOnce('push keys', () => JSON.stringify(makePushKeys())));
    this.#outbox.start();
    this.#drills.start();
    this.#escalator.start(store.escalations(), store.untold());
    this.#queues.start();
    this.#timer = setInterval(() => this.#tick(), TICK_EVERY_MS);
  }

  async stop(): Promise<void> {
    clearInterval(this.#timer);
    await Promise.all([this.#heartbeat.stop(), this.#queues.stop()]);
    this.#outbox.tick();
  }

  /** Alarms took steps; they are in the journal. What a recording tells happened long ago and wakes nobody. */
  alarms(changes: readonly AlarmChange[]): void {
    this.#escalator.alarms(this.#parts.line().live ? changes : []);
    this.#show();
  }

  // ---- what people do ----

  overview(): PeopleOverview {
    const { store } = this.#parts;
    return {
      channels: this.#channels.all().map((channel) => ({
        channel,
        state: this.#queues.stateOf(channel.id),
        waiting: this.#outbox.count(channel.id),
      })),
      contacts: this.#contacts,
      rules: this.#rules,
      heartbeat: this.#heartbeat.state,
      drills: this.#drills.overview(),
      failedMessages: store.ended({ dead: true, limit: LISTED }),
      recent: store.ended({ dead: false, limit: LISTED }),
      troubles: this.troubles(),
      pushKey: this.#pushKeys.publicKey,
    };
  }

  troubles(): readonly string[] {
    const troubles: string[] = [];
    const without = this.#contacts.filter(({ channelIds }) => channelIds.length === 0);
    if (without.length > 0) {
      const begins = without.length === this.#contacts.length ? 'Nobody can be reached: no' : 'No';
      troubles.push(`${begins} channel leads to ${without.map(({ name }) => name).join(', ')}.`);
    }
    const failing = this.#queues.failing();
    for (const { id, name } of failing.size === 0 ? [] : this.#channels.all()) {
      if (failing.has(id))
        troubles.push(`Messages over “${name}” do not get through. ${this.#queues.stateOf(id).text}`);
    }
    const { latest } = this.#drills;
    const nowMs = this.#parts.clock();
    if (latest !== null && outcomeOf(latest, nowMs) === 'none') {
      troubles.push(`The last alarm drill: ${outcomeText(latest, nowMs)}`);
    }
    const text = this.#heartbeat.state?.text ?? '';
    if (text !== '') troubles.push(text);
    return troubles;
  }

  addChannel(channel: Omit<Channel, 'id'>, who: string): Promise<Channel> {
    return this.#channels.add(channel, who);
  }

  changeChannel(channel: Channel, who: string): Promise<Channel> {
    return this.#channels.change(channel, who);
  }

  async removeChannel(id: number, who: string): Promise<void> {
    await this.#channels.remove(id, who);
    this.#contacts = this.#parts.store.contacts();
  }

  async tryChannel(id: number | null, name: string, settings: ChannelSettings): Promise<void> {
    const draft = this.#channels.draft(id, name, settings);
    const { nowMs, lineName, timeZone } = this.#head();
    const text = testText(name, nowMs);
    const key = `test-${randomBytes(9).toString('base64url')}`;
    const clock = localClock(nowMs, timeZone);
    await this.#queues.trial(draft, { ...text, key, lineName, clock, answerPath: null, picture: null });
  }

  addContact(contact: Omit<Contact, 'id'>, who: string): Contact {
    const { store, clock, tell } = this.#parts;
    const added = store.addContact(this.#checked(contact, null), clock());
    this.#contacts = store.contacts();
    tell(`Added ${added.name} to those who are told of alarms.`, who);
    return added;
  }

  changeContact(contact: Contact, who: string): Contact {
    const { store, clock, tell } = this.#parts;
    const changed = { ...this.#checked(contact, contact.id), id: contact.id };
    store.changeContact(changed, clock());
    this.#contacts = store.contacts();
    tell(`Changed how ${changed.name} is told of alarms.`, who);
    return changed;
  }

  removeContact(id: number, who: string): void {
    const { store, clock, tell } = this.#parts;
    const name = this.#contacts.find((one) => one.id === id)?.name ?? '';
    store.removeContact(id, clock());
    this.#contacts = store.contacts();
    tell(`Removed ${name} from those who are told of alarms.`, who);
  }

  changeRules(rules: EscalationRules, who: string): EscalationRules {
    const { store, clock, tell } = this.#parts;
    const checked = checkRules(rules);
    store.saveRules(checked, clock());
    const other = checked.heartbeatAddress !== this.#rules.heartbeatAddress;
    this.#rules = checked;
    if (other) this.#heartbeat.changed();
    tell('Changed how people are called.', who);
    return checked;
  }

  forgetDead(who: string): void {
    this.#parts.store.forgetDead();
    this.#parts.tell('Cleared the list of messages that reached nobody.', who);
  }

  startDrill(who: string): Drill {
    return this.#drills.begin(who);
  }

  confirmDrill(drillId: number, contactId: number): Drill {
    return this.#drills.confirm(drillId, contactId);
  }

  question(token: string): Question {
    return this.#questionOf(this.#read(token));
  }

  picture(token: string): Promise<Picture | null> {
    const { what, id } = this.#read(token);
    return this.#picture(what === 'alarm' ? this.#parts.store.pictureOf(id) : null);
  }

  answer(token: string, seenOccurrences: number | null): Question {
    const asked = this.#read(token);
    if (asked.what === 'drill') for (const id of asked.contactIds) this.#drills.confirm(asked.id, id);
    else this.#acknowledge(asked, seenOccurrences);
    return this.#questionOf(asked);
  }

  // ---- inside ----

  /** One that fails (a disk that refuses) must not keep the others from their turn, nor end the service. */
  #tick(): void {
    const nowMs = this.#parts.clock();
    const turns = [
      () => this.#show(),
      () => this.#outbox.tick(),
      () => this.#queues.tick(),
      () => this.#escalator.tick(),
      () => this.#drills.tick(),
      () => this.#heartbeat.tick(),
      () => {
        if (nowMs - this.#forgotMs < FORGET_EVERY_MS) return;
        this.#forgotMs = nowMs;
        this.#parts.store.forgetBefore(nowMs - KEPT_FOR_MS);
      },
    ];
    for (const turn of turns) {
      try {
        turn();
      } catch (thrown) {
        this.#parts.log.error('Reaching people met a fault', { why: messageOf(thrown) });
      }
    }
  }

  /** A message goes without its picture rather than not at all. */
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
    const { name, sentence, severity, stage } = this.#parts.line();
    const alarms = this.#parts.alarms().map((alarm) => {
      const { id, type, priority, state, sentence: said, raisedMs } = alarm;
      return { id, type, title: titleOf(alarm), priority, state, sentence: said, raisedMs };
    });
    this.#queues.show({ line: name, sentence, severity, stage, alarms });
  }

  #post(entries: Parameters<Outbox['put']>[1]): void {
    this.#queues.kick(this.#outbox.put(this.#escalator.underway, entries, new Set()));
  }

  /** Told over the other channels; at night only where something urgent is stuck. */
  #channelFails(channel: Channel, state: ChannelState): void {
    const head = this.#head();
    const urgent = this.#outbox.holdsUrgent(channel.id);
    const awake = this.#contacts.filter(({ quiet }) => urgent || quietUntil(quiet, head.nowMs, head.timeZone) === null);
    this.#post(troubleMessages(channel, state, awake, head));
  }

  async #channelGone(channel: Channel, why: string): Promise<void> {
    this.#channelFails(channel, { ...this.#queues.stateOf(channel.id), text: why, remedy: 'Add the channel anew.' });
    await this.#channels.remove(channel.id, 'service', why);
    this.#contacts = this.#parts.store.contacts();
  }

  #checked(contact: Omit<Contact, 'id'>, id: number | null): Omit<Contact, 'id'> {
    const channelIds = new Set(this.#channels.all().map((channel) => channel.id));
    return checkContact(
      contact,
      this.#contacts.filter((other) => other.id !== id),
      channelIds,
    );
  }

  #read(token: string): Answerable {
    const asked = readToken(token, this.#answerSecret);
    if (asked !== null) return asked;
    throw new Problem('not-found', 'This link answers nothing here.', 'Was it copied whole? Open the page instead.');
  }

  #questionOf(asked: Answerable): Question {
    const { what, id } = asked;
    const names = this.#namesOf(asked);
    if (asked.what === 'drill') {
      const drill = this.#drills.find(id);
      const open = drill.people.some((one) => asked.contactIds.includes(one.contactId) && one.confirmedMs === null);
      const state = !open ? 'answered' : this.#parts.clock() > drill.untilMs ? 'over' : 'open';
      return { what, names, alarm: null, drill, state, hasPicture: false };
    }
    const alarm = this.#parts.alarm(id);
    const hasPicture = alarm !== null && this.#parts.store.pictureOf(id) !== null;
    return { what, names, alarm, drill: null, state: this.#alarmState(alarm, asked.sinceMs), hasPicture };
  }

  #alarmState(alarm: Alarm | null, sinceMs: number): QuestionState {
    if (alarm === null) return 'over';
    if (isSuppressed(alarm.state)) return 'suppressed';
    if (!awaitsAcknowledgement(alarm.state)) return 'answered';
    return this.#escalator.sinceMs(alarm.id) === sinceMs ? 'open' : 'raisedAgain';
  }

  #acknowledge(asked: Answerable, seenOccurrences: number | null): void {
    const { alarm, state, names } = this.#questionOf(asked);
    if (alarm === null || state !== 'open') return;
    if (seenOccurrences !== null && alarm.occurrences > seenOccurrences) {
      throw new Problem('wrong-state', 'It has happened again just now.', 'Look at what it is, then answer.');
    }
    this.#parts.acknowledge(alarm.id, names.join(', ') || 'somebody with a link');
  }

  #namesOf({ contactIds }: Answerable): string[] {
    return this.#contacts.filter(({ id }) => contactIds.includes(id)).map(({ name }) => name);
  }

  #head(): MessageHead {
    const { name, runId } = this.#parts.line();
    const { clock, timeZone } = this.#parts;
    return { lineName: name, runId, timeZone, nowMs: clock(), answerSecret: this.#answerSecret };
  }

  #madeOnce(name: string, make: () => string): string {
    const { store } = this.#parts;
    const known = store.secret(name);
    if (known !== null) return known;
    const made = make();
    store.keepSecret(name, made);
    return made;
  }
}
