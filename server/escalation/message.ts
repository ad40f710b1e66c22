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

/** Where the strand is that a message speaks of, for its picture: gauge length in the run. Lengths in mm. */
export interface PictureOf {
  readonly runId: number;
  readonly fromGaugeMm: number;
  readonly lengthMm: number;
}

/** As it was kept before gauge lengths were: where it begins on the spool. A message of then may still wait. */
export interface PictureOnSpool {
  readonly runId: number;
  readonly spoolOrdinal: number;
  readonly fromMm: number;
  readonly lengthMm: number;
}

export interface Picture {
  readonly png: Buffer;
  /** What it shows, for those who do not see it. */
  readonly text: string;
}

/** One message as every channel gets it; each shows as much of it as it can carry. Plain data: it waits in the outbox. */
export interface Message {
  /** The same for every copy of the same message: receivers can tell a copy by it. */
  readonly key: string;
  readonly kind: MessageKind;
  readonly priority: Priority;
  /** "Blob", "Zone 2 (Die): no rise". */
  readonly title: string;
  readonly text: string;
  readonly firstCheck: string;
  readonly caution: string;
  readonly lineName: string;
  /** When what it tells happened, UTC ms, and as a clock shows it. */
  readonly atMs: number;
  readonly clock: string;
  readonly alarmId: number | null;
  /** Path and token of the page where one tap answers it; null = nothing to answer. */
  readonly answerPath: string | null;
  readonly picture: PictureOf | PictureOnSpool | null;
}

/** What a message says apart from where it goes. */
export type MessageText = Omit<Message, 'key' | 'answerPath' | 'lineName' | 'picture' | 'clock'>;

/** The words for a step in an alarm's calling. `waitedMin`: how long nobody answered; `by`: who acknowledged. */
export function alarmText(
  alarm: Alarm,
  kind: 'raised' | 'again' | 'reminder' | 'escalated' | 'acknowledged',
  more: { readonly waitedMin: number; readonly by: string | null },
): MessageText {
  const gone = alarm.state === 'returnedUnacknowledged' ? ' Its cause is gone, but nobody has acknowledged it.' : '';
  const waited = more.waitedMin === 1 ? '1 minute' : `${more.waitedMin} minutes`;
  const before: Record<typeof kind, string> = {
    raised: '',
    again: '',
    reminder: `Still unanswered after ${waited}: `,
    escalated: `Nobody has answered for ${waited}: `,
    acknowledged: `${capital(more.by ?? 'somebody')} takes care of it: `,
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
    title: 'Alarm drill',
    text: `This is drill ${drillId}: nothing is wrong with the line. Confirm within ${withinMin === 1 ? 'a minute' : `${withinMin} minutes`} that it reached you.`,
    firstCheck: 'Open the link, or the page People, and press “It reached me”.',
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

/** The answer page's whole address; null where the page's own address is not known or nothing is to be answered. */
export function linkOf(message: Message, pageAddress: string): string | null {
  if (pageAddress === '') return null;
  return `${pageAddress}${message.answerPath ?? '/'}`;
}

/** What a template may put in. */
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
