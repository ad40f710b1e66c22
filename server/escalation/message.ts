import type { Alarm, Priority } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import { capital } from '../problem/sentence.ts';
import type { Placeholder } from './template.ts';
import type { Urgency } from './urgency.ts';

export const MESSAGE_KINDS = [
  'raised',
  'again',
  'reminder',
  'escalated',
  'acknowledged',
  'drill',
  'trouble',
  'test',
  'ready',
  'alarmStep',
  'spoolFinished',
] as const;
export type MessageKind = (typeof MESSAGE_KINDS)[number];

/** Messages for programs: each goes to every MQTT channel, whoever is to be notified, and its text is JSON. */
const REPORT_KINDS = ['alarmStep', 'spoolFinished'] as const satisfies readonly MessageKind[];
export type ReportKind = (typeof REPORT_KINDS)[number];

export function isReport({ kind }: { readonly kind: MessageKind }): boolean {
  return REPORT_KINDS.some((one) => one === kind);
}

/** Reports have keys that start with it. */
export const REPORT_KEY = 'report-';

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
  /** "Blob", "Zone 2 (Die): not warming up as it should". */
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
  /** Whether to get up for it; null = no alarm. */
  readonly urgency: 'getUp' | 'canWait' | null;
  /** Why, in one sentence; '' = no alarm. Comes before the text. */
  readonly why: string;
  /** The same for all messages about one thing, such as all blobs of a run: receivers show them as one thread. */
  readonly conversation: string;
  /** Path and token of the page where it can be answered; null = nothing to answer. */
  readonly answerPath: string | null;
  readonly picture: PictureOf | PictureOnSpool | null;
}

/** The content of a message, independent of its recipient. */
export type MessageText = Omit<Message, 'key' | 'answerPath' | 'lineName' | 'picture' | 'clock' | 'conversation'>;

/** Text of a notification. `waitedMin`: time without an answer; `by`: who acknowledged. */
export function alarmText(
  alarm: Alarm,
  kind: 'raised' | 'again' | 'reminder' | 'escalated' | 'acknowledged',
  more: { readonly waitedMin: number; readonly by: string | null; readonly urgency: Urgency },
): MessageText {
  const { getUp, why } = more.urgency;
  const gone = alarm.state === 'returnedUnacknowledged' ? ' Its cause is gone, but no one has acknowledged it.' : '';
  const waited = more.waitedMin === 1 ? '1 minute' : `${more.waitedMin} minutes`;
  const before: Record<typeof kind, string> = {
    raised: '',
    again: '',
    reminder: `Still unanswered after ${waited}: `,
    escalated: `Not acknowledged for ${waited}: `,
    acknowledged: `${capital(more.by ?? 'someone')} is taking care of it: `,
  };
  const note = kind === 'acknowledged' ? ' (answered)' : kind === 'reminder' ? ' (reminder)' : '';
  const text = `${before[kind]}${alarm.sentence}${kind === 'acknowledged' ? '' : gone}`;
  // What is worth getting up for is delivered loudly, and what can wait is not, whatever the alarm's priority in the list.
  const calmly = alarm.priority === 'high' ? 'medium' : alarm.priority;
  return {
    kind,
    priority: kind === 'acknowledged' ? 'low' : getUp ? 'high' : calmly,
    title: `${getUp ? 'Get up' : 'Can wait'}: ${titleOf(alarm)}${note}`,
    text,
    why,
    firstCheck: kind === 'acknowledged' ? '' : alarm.firstCheck,
    caution: kind === 'acknowledged' ? '' : alarm.caution,
    atMs: kind === 'acknowledged' ? (alarm.acknowledgedMs ?? alarm.lastOccurredMs) : alarm.lastOccurredMs,
    alarmId: alarm.id,
    urgency: getUp ? 'getUp' : 'canWait',
  };
}

/** All blobs of a run are one conversation, even if each was answered and became a separate alarm. */
export function conversationOf({ id, type, facts: { runId } }: Alarm): string {
  return runId === undefined ? `alarm-${id}` : `${type}-run-${runId}`;
}

/** Nothing to be careful about, and nothing to get up for. */
const ABOUT_NO_ALARM = { caution: '', alarmId: null, urgency: null, why: '' } as const;

export function drillText(drillId: number, startedMs: number, withinMin: number): MessageText {
  return {
    kind: 'drill',
    priority: 'high',
    title: 'Alarm test',
    text: `This is alarm test ${drillId}: nothing is wrong with the line. Confirm within ${withinMin === 1 ? 'a minute' : `${withinMin} minutes`} that it reached you.`,
    firstCheck: 'Open the link or the People page, and press “I got it”.',
    atMs: startedMs,
    ...ABOUT_NO_ALARM,
  };
}

/** @param urgent an alarm that someone should get up for is stuck there */
export function troubleText(
  channelName: string,
  { text, remedy, sinceMs }: { readonly text: string; readonly remedy: string; readonly sinceMs: number },
  urgent: boolean,
): MessageText {
  return {
    kind: 'trouble',
    priority: urgent ? 'high' : 'medium',
    title: `${urgent ? 'Get up' : 'Can wait'}: a channel fails`,
    text: failingText(channelName, text),
    why: urgent ? 'An urgent message is stuck.' : 'No urgent message is stuck.',
    firstCheck: remedy,
    caution: '',
    atMs: sinceMs,
    alarmId: null,
    urgency: urgent ? 'getUp' : 'canWait',
  };
}

export function testText(channelName: string, atMs: number): MessageText {
  return {
    kind: 'test',
    priority: 'low',
    title: 'Test message',
    text: `This is a test of the channel “${channelName}”. If you can read it, alarms reach you here.`,
    firstCheck: '',
    atMs,
    ...ABOUT_NO_ALARM,
  };
}

export function readyText(atMs: number): MessageText {
  return {
    kind: 'ready',
    priority: 'low',
    title: 'Ready to wind',
    text: 'The strand has settled, and every zone is at temperature.',
    firstCheck: '',
    atMs,
    ...ABOUT_NO_ALARM,
  };
}

/** `json`: what programs read; `title`: what the page calls it. */
export function reportText(
  kind: ReportKind,
  title: string,
  json: string,
  about: { readonly atMs: number; readonly alarmId: number | null },
): MessageText {
  return { ...ABOUT_NO_ALARM, kind, priority: 'low', title, text: json, firstCheck: '', ...about };
}

/** For receivers that show one text: why to get up or not, then what happened. */
export function whyAndText({ why, text }: Pick<Message, 'why' | 'text'>): string {
  return why === '' ? text : `${why} ${text}`;
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
    text: whyAndText(message),
    check: message.firstCheck,
    caution: message.caution,
    priority: message.priority,
    kind: message.kind,
    time: message.clock,
    line: message.lineName,
    link: linkOf(message, pageAddress) ?? '',
    urgency: message.urgency ?? '',
    conversation: message.conversation,
    key: message.key,
  };
}

/** @param why in sentences */
export const failingText = (channelName: string, why: string) => `“${channelName}” delivers no messages. ${why}`;
