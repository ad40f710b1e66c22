import type { ChannelView } from '../../server/api/contract/channels.ts';
import type { ContactView, DrillView, MessageView, PeopleView } from '../../server/api/contract/people.ts';
import { listed } from '../../server/problem/sentence.ts';
import { ago, span } from '../format/times.ts';

export const KIND_TEXT: Readonly<Record<ChannelView['kind'], string>> = {
  push: 'Notification',
  email: 'E-mail',
  webhook: 'Webhook',
  mqtt: 'MQTT',
};

export const PRIORITY_CHOICES = [
  ['low', 'Everything'],
  ['medium', 'Medium and high priority'],
  ['high', 'High priority only'],
] as const;

/** Who is notified in which order, as one sentence. */
export function orderText(view: Pick<PeopleView, 'contacts' | 'rules'>): string {
  const reached = view.contacts.filter(({ channelIds }) => channelIds.length > 0);
  if (reached.length === 0) return 'No one is notified of alarms: they sound only on open pages.';
  const rounds = [...new Set(reached.map(({ round }) => round))].sort((a, b) => a - b);
  return `${rounds
    .map((round, index) => {
      const names = listed(reached.filter((one) => one.round === round).map(({ name }) => name));
      const waited = index * view.rules.escalateAfterMin;
      const are = reached.filter((one) => one.round === round).length > 1 ? 'are' : 'is';
      return index === 0 ? `${names} ${are} notified at once` : `${names} if no one has acknowledged for ${waited} min`;
    })
    .join('; ')}.`;
}

/** "at once", "after 5 min without acknowledgement". */
export function roundText(round: number, escalateAfterMin: number): string {
  return round === 1 ? 'at once' : `after ${(round - 1) * escalateAfterMin} min without acknowledgement`;
}

/** When a person is notified. A round in which no one can be reached is skipped. */
export function notifiedText(contact: ContactView, view: Pick<PeopleView, 'contacts' | 'rules'>): string {
  const before = view.contacts.filter(({ round, channelIds }) => round < contact.round && channelIds.length > 0);
  return roundText(1 + new Set(before.map(({ round }) => round)).size, view.rules.escalateAfterMin);
}

type Filter = Pick<ContactView, 'leastPriority' | 'quiet' | 'wakeAboveBlobsPerHour' | 'tellWhenReady'>;

export function filterText({ leastPriority, quiet, wakeAboveBlobsPerHour: blobs, tellWhenReady }: Filter): string {
  const wants = PRIORITY_CHOICES.find(([one]) => one === leastPriority)?.[1] ?? '';
  const hours =
    quiet === null ? '' : `; from ${quiet.from} to ${quiet.to} only what is worth getting up for, the rest afterwards`;
  const worth = blobs === 0 ? 'every blob' : `more than ${blobs} an hour`;
  return `${wants}${hours}. Woken for blobs: ${worth}.${tellWhenReady ? ' Notified when the strand is ready to wind.' : ''}`;
}

export function stateText(channel: ChannelView, nowMs: number): string {
  const waiting = channel.waiting === 0 ? '' : ` ${channel.waiting} waiting.`;
  const last = channel.lastDeliveredMs === null ? '' : ` Last delivered ${ago(channel.lastDeliveredMs, nowMs)}.`;
  switch (channel.phase) {
    case 'untried':
      return `Never tried: send a test.${waiting}`;
    case 'working':
      return `Works.${last}${waiting}`;
    case 'failing':
      return `Not getting through for ${span(nowMs - channel.sinceMs)}. ${channel.text} ${channel.remedy}${waiting}`;
  }
}

/** The outcome of an alarm test in one sentence. */
export function drillText(drill: DrillView, nowMs: number): string {
  const names = (reached: boolean) =>
    listed(drill.people.filter(({ confirmedMs }) => (confirmedMs !== null) === reached).map(({ name }) => name));
  switch (drill.outcome) {
    case 'none':
      return 'No one was reached. Find out why before you leave the line alone.';
    case 'some':
      return `${names(true)} confirmed. ${names(false)} did not.`;
    case 'all':
      return `Everyone was reached: ${names(true)}.`;
    case 'waiting':
      return `Waiting for ${names(false)}, ${span(drill.untilMs - nowMs)} more.`;
  }
}

/** How long a person took to confirm. */
export const confirmationText = (startedMs: number, confirmedMs: number | null): string =>
  confirmedMs === null ? 'not confirmed' : `confirmed after ${span(confirmedMs - startedMs)}`;

type Channels = Pick<PeopleView, 'channels' | 'unreadable'>;

export const channelName = ({ channels, unreadable }: Channels, id: number): string =>
  channels.find((channel) => channel.id === id)?.name ??
  unreadable.find((one) => one.kind === 'channel' && one.id === id)?.name ??
  'a channel that was removed';

/** The delivery of an alarm test to one person: "Chat: delivered; Mail: refused." '' = nothing was sent. */
export function deliveryText(drill: DrillView, name: string, view: Channels): string {
  // People who share a channel share a message.
  const messages = drill.messages.filter(({ to }) => to.split(', ').includes(name));
  const text = messages.map(({ channelId, state }) => {
    const channel = channelName(view, channelId);
    return state === 'delivered' ? `${channel}: delivered` : `${channel}: ${MESSAGE_STATE_TEXT[state]}`;
  });
  return text.length === 0 ? '' : `${text.join('; ')}.`;
}

export const MESSAGE_STATE_TEXT: Readonly<Record<MessageView['state'], string>> = {
  waiting: 'on its way',
  delivered: 'accepted by the receiver',
  expired: 'given up: too late',
  refused: 'refused',
  withdrawn: 'answered before it was sent',
};
