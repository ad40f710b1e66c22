import type { Alarm, Priority } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import { capital } from '../problem/sentence.ts';
import type { Placeholder } from './template.ts';

export const MESSAGE_KINDS = [
  'raised',
  'again',
  'reminder',
  'escalated',
  'acknowledged',
  'drill',
  'trouble',
  'test',
] as const;
export type MessageKind = (typeof MESSAGE_KINDS)[number];

/** The stretch that a message's picture shows, by gauge length in the run. Lengths in mm. */
export interface PictureOf {
  readonly runId: number;
  readonly fromGaugeMm: number;
  readonly lengthMm: number;
}

/** The older form, by position on the spool; messages with it may still wait in an outbox. */
export interface PictureOnSpool {
  readonly runId: number;
  readonly spoolOrdinal: number;
  readonly fromMm: number;
  readonly lengthMm: number;
}

export interface Picture {
  readonly png: Buffer;
  /** Description, for readers who cannot see it. */
  readonly text: string;
}

/** One message as every channel gets it; each sends as much of it as it can. Plain data, stored in the outbox. */
export interface Message {
  /** The same for every copy of a message, so that receivers can recognise copies. */
  readonly key: string;
  readonly kind: MessageKind;
  readonly priority: Priority;
  /** "Blob", "Zone 2 (Die): not getting warmer". */
  readonly title: string;
  readonly text: string;
  readonly firstCheck: string;
  readonly caution: string;
  readonly lineName: string;
  /** When it happened, UTC ms. */
  readonly atMs: number;
  /** The same as local clock time. */
  readonly clock: string;
  readonly alarmId: number | null;
  /** Path and token of the page where it can be answered; null = nothing to answer. */
  readonly answerPath: string | null;
  readonly picture: PictureOf | PictureOnSpool | null;
}

/** The content of a message, independent of its recipient. */
export type MessageText = Omit<Message, 'key' | 'answerPath' | 'lineName' | 'picture' | 'clock'>;

/** Text of a notification. `waitedMin`: time without an answer; `by`: who acknowledged. */
export function alarmText(
  alarm: Alarm,
  kind: 'raised' | 'again' | 'reminder' | 'escalated' | 'acknowledged',
  more: { readonly waitedMin: number; readonly by: string | null },
): MessageText {
  const gone = alarm.state === 'returnedUnacknowledged' ? ' Its cause is gone, but no one has acknowledged it.' : '';
  const waited = more.waitedMin === 1 ? '1 minute' : `${more.waitedMin} minutes`;
  const before: Record<typeof kind, string> = {
    raised: '',
    again: '',
    reminder: `Still unanswered after ${waited}: `,
    escalated: `Not acknowledged for ${waited}: `,
    acknowledged: `${capital(more.by ?? 'someone')} is taking care of it: `,
  };
  const title = titleOf(alarm);
  return {
    kind,
    priority: kind === 'acknowledged' ? 'low' : alarm.priority,
    title: kind === 'acknowledged' ? `Answered: ${title}` : kind === 'reminder' ? `Reminder: ${title}` : title,
    text: `${before[kind]}${alarm.sentence}${kind === 'acknowledged' ? '' : gone}`,
    firstCheck: kind === 'acknowledged' ? '' : alarm.firstCheck,
    caution: kind === 'acknowledged' ? '' : alarm.caution,
    atMs: kind === 'acknowledged' ? (alarm.acknowledgedMs ?? alarm.lastOccurredMs) : alarm.lastOccurredMs,
    alarmId: alarm.id,
  };
}

export function drillText(drillId: number, startedMs: number, withinMin: number): MessageText {
  return {
    kind: 'drill',
    priority: 'high',
    title: 'Alarm test',
    text: `This is alarm test ${drillId}: nothing is wrong with the line. Confirm within ${withinMin === 1 ? 'a minute' : `${withinMin} minutes`} that it reached you.`,
    firstCheck: 'Open the link, or the page People, and press “I got it”.',
    caution: '',
    atMs: startedMs,
    alarmId: null,
  };
}

export function troubleText(channelName: string, text: string, remedy: string, atMs: number): MessageText {
  return {
    kind: 'trouble',
    priority: 'medium',
    title: 'A channel fails',
    text: `Messages over “${channelName}” do not get through. ${text}`,
    firstCheck: remedy,
    caution: '',
    atMs,
    alarmId: null,
  };
}

export function testText(channelName: string, atMs: number): MessageText {
  return {
    kind: 'test',
    priority: 'low',
    title: 'Test message',
    text: `This is a test of the channel “${channelName}”. If you can read it, alarms reach you here.`,
    firstCheck: '',
    caution: '',
    atMs,
    alarmId: null,
  };
}

/** Address of the page for answering a message, or of the live page; null = the page's address is unknown. */
export function linkOf(message: Message, pageAddress: string): string | null {
  if (pageAddress === '') return null;
  return `${pageAddress}${message.answerPath ?? '/'}`;
}

/** Values for the placeholders of a template. */
export function placeholdersOf(message: Message, pageAddress: string): Record<Placeholder, string> {
  return {
    title: message.title,
    text: message.text,
    check: message.firstCheck,
    caution: message.caution,
    priority: message.priority,
    kind: message.kind,
    time: message.clock,
    line: message.lineName,
    link: linkOf(message, pageAddress) ?? '',
    key: message.key,
  };
}
