import type { Priority } from '../alarm/alarm.ts';

/** A person, or a group that shares a channel, and how they want to be told. */
export interface Contact {
  readonly id: number;
  readonly name: string;
  readonly channelIds: readonly number[];
  /** Nothing below it is told to them. */
  readonly leastPriority: Priority;
  /** Local times "HH:MM" between which only what is of high priority is told at once; null = none. */
  readonly quiet: QuietHours | null;
  /** 1 = called at once; 2 = called when nobody of round 1 answered; … */
  readonly round: number;
}

export interface QuietHours {
  readonly from: string;
  readonly to: string;
}

const DAY_MIN = 24 * 60;

/**
 * When the quiet hours that hold at `nowMs` end, UTC ms; null = it is not quiet now. Hours may go over midnight. Over a
 * change of the clocks the end may be an hour off; whoever waits for it asks again then.
 */
export function quietUntil(quiet: QuietHours | null, nowMs: number, timeZone: string): number | null {
  if (quiet === null) return null;
  const from = minuteOf(quiet.from);
  const to = minuteOf(quiet.to);
  const now = localMinute(nowMs, timeZone);
  const since = (now - from + DAY_MIN) % DAY_MIN;
  const length = (to - from + DAY_MIN) % DAY_MIN;
  if (since >= length) return null;
  const wholeMinuteMs = nowMs - (nowMs % 60_000);
  return wholeMinuteMs + (length - since) * 60_000;
}

/** Minutes since midnight of "HH:MM". */
export function minuteOf(clock: string): number {
  const [hours = 0, minutes = 0] = clock.split(':').map(Number);
  return hours * 60 + minutes;
}

export function isClockTime(text: string): boolean {
  return /^([01]\d|2[0-3]):[0-5]\d$/.test(text);
}

/** Minutes since local midnight. */
export function localMinute(ms: number, timeZone: string): number {
  return minuteOf(localClock(ms, timeZone));
}

/** "02:14" in a zone. */
export function localClock(ms: number, timeZone: string): string {
  return formatOf('clock', timeZone).format(ms);
}

/** 0 = Sunday … 6 = Saturday, in a zone. */
export function localWeekday(ms: number, timeZone: string): number {
  return ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'].indexOf(formatOf('weekday', timeZone).format(ms));
}

const formats = new Map<string, Intl.DateTimeFormat>();
function formatOf(what: 'clock' | 'weekday', timeZone: string): Intl.DateTimeFormat {
  const key = `${what} ${timeZone}`;
  const known = formats.get(key);
  if (known !== undefined) return known;
  const options: Intl.DateTimeFormatOptions =
    what === 'clock' ? { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' } : { weekday: 'short' };
  const made = new Intl.DateTimeFormat('en-GB', { ...options, timeZone });
  formats.set(key, made);
  return made;
}
