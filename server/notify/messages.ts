import type { Alarm } from '../alarm/alarm.ts';
import type { Channel, ChannelState } from '../escalation/channel.ts';
import { type Contact, localClock, quietUntil } from '../escalation/contact.ts';
import type { Drill } from '../escalation/drill.ts';
import type { Notification, Recipient } from '../escalation/escalation.ts';
import {
  alarmText,
  conversationOf,
  drillText,
  type Message,
  type MessageText,
  readyText,
  troubleText,
} from '../escalation/message.ts';
import { expiryOf, type NewEntry } from '../escalation/outbox-entry.ts';
import { ANSWER_VALID_MS, type AnswerTarget, tokenFor } from './answer-token.ts';

/** What all messages of one moment share. */
export interface MessageHead {
  readonly lineName: string;
  readonly runId: number | null;
  readonly timeZone: string;
  readonly nowMs: number;
  readonly answerSecret: string;
}

/** The messages of a notification: one per channel, however many people share it. */
export function messagesOf(notification: Notification, head: MessageHead): NewEntry[] {
  const { alarm, kind, step, recipients, by, sinceMs } = notification;
  const waitedMin = Math.max(1, Math.round(notification.waitedMs / 60_000));
  const answers = kind === 'acknowledged' ? null : { what: 'alarm' as const, id: alarm.id, sinceMs };
  const contacts = recipients.map(({ contact }) => contact);
  const text = (sharing: readonly Contact[]) =>
    alarmText(alarm, kind, { waitedMin, by, urgency: mostUrgent(recipients, sharing) });
  return perChannel(
    contacts,
    head,
    `alarm-${alarm.id}-${step}`,
    text,
    answers,
    pictureOf(alarm, kind, head),
    conversationOf(alarm),
  );
}

/** Who share a channel get one message: it wakes all if one of them wants to be woken. */
function mostUrgent(recipients: readonly Recipient[], sharing: readonly Contact[]): Recipient['urgency'] {
  const own = recipients.filter(({ contact }) => sharing.includes(contact)).map(({ urgency }) => urgency);
  return own.find(({ getUp }) => getUp) ?? own[0] ?? { getUp: true, why: '' };
}

export function drillMessages(
  drill: Drill,
  contacts: readonly Contact[],
  withinMin: number,
  head: MessageHead,
): NewEntry[] {
  const text = drillText(drill.id, drill.startedMs, withinMin);
  return perChannel(contacts, head, `drill-${drill.id}`, () => text, { what: 'drill', id: drill.id }, null).map(
    (entry) => ({
      ...entry,
      drillId: drill.id,
      expiresMs: drill.untilMs,
    }),
  );
}

export function troubleMessages(
  channel: Channel,
  state: ChannelState,
  contacts: readonly Contact[],
  urgent: boolean,
  head: MessageHead,
): NewEntry[] {
  const text = troubleText(channel.name, state, urgent);
  const key = `trouble-${channel.id}-${Math.round(state.sinceMs)}`;
  return perChannel(contacts, head, key, () => text, null, null).filter(({ channelId }) => channelId !== channel.id);
}

/** To those who want to know and are awake; later it would be of no use. */
export function readyMessages(readyMs: number, contacts: readonly Contact[], head: MessageHead): NewEntry[] {
  const awake = contacts.filter(
    ({ tellWhenReady, quiet }) => tellWhenReady && quietUntil(quiet, head.nowMs, head.timeZone) === null,
  );
  return perChannel(awake, head, `ready-${Math.round(readyMs)}`, () => readyText(readyMs), null, null);
}

function perChannel(
  contacts: readonly Contact[],
  head: MessageHead,
  key: string,
  textFor: (sharing: readonly Contact[]) => MessageText,
  answers: AnswerTarget | null,
  picture: Message['picture'],
  conversation = key,
): NewEntry[] {
  const byChannel = new Map<number, Contact[]>();
  const untilMs = Math.round(head.nowMs) + ANSWER_VALID_MS;
  for (const contact of contacts) {
    for (const id of contact.channelIds) byChannel.set(id, [...(byChannel.get(id) ?? []), contact]);
  }
  return [...byChannel].map(([channelId, sharing]) => {
    const contactIds = sharing.map(({ id }) => id);
    const text = textFor(sharing);
    const message: Message = {
      ...text,
      key,
      conversation,
      lineName: head.lineName,
      clock: localClock(text.atMs, head.timeZone),
      answerPath: answers && `/answer/${tokenFor({ ...answers, contactIds, untilMs }, head.answerSecret)}`,
      picture,
    };
    const to = sharing.map(({ name }) => name).join(', ');
    return { channelId, to, message, drillId: null, expiresMs: expiryOf(text.kind, head.nowMs) };
  });
}

/** The stretch of strand that the message is about; null = it is not about one. */
function pictureOf(alarm: Alarm, kind: Notification['kind'], head: MessageHead): Message['picture'] {
  const { runId, fromGaugeMm, fromSpoolMm, spoolOrdinal, lengthMm = 0 } = alarm.facts;
  if (kind === 'acknowledged' || spoolOrdinal === undefined) return null;
  if (alarm.type !== 'blob' && alarm.type !== 'neck' && alarm.type !== 'offTolerance') return null;
  if (runId !== undefined && fromGaugeMm !== undefined) return { runId, fromGaugeMm, lengthMm };
  if (head.runId === null || fromSpoolMm === undefined) return null;
  return { runId: head.runId, spoolOrdinal, fromMm: fromSpoolMm, lengthMm };
}
