import type { Priority } from '../alarm/alarm.ts';

/** A person, or a group that shares a channel, and how they are notified. */
export interface Contact {
  readonly id: number;
  readonly name: string;
  readonly channelIds: readonly number[];
  /** Lowest priority that they are notified of. */
  readonly leastPriority: Priority;
  /** Local times "HH:MM" between which only what is worth getting up for is sent at once; null = none. */
  readonly quiet: QuietHours | null;
  /** More blobs than this in an hour are worth getting up for; 0 = every blob is. */
  readonly wakeAboveBlobsPerHour: number;
  /** They also get a message when the strand is ready to wind, outside their quiet hours. */
  readonly tellWhenReady: boolean;
  /** 1 = notified at once; 2 = notified if no one of round 1 answers; … */
  readonly round: number;
}

/** What a person has not set; for a number, common practice, no source. People from older versions have them too. */
export const CONTACT_DEFAULTS = { wakeAboveBlobsPerHour: 3, tellWhenReady: false } as const satisfies Partial<Contact>;

/** A new person, apart from name and channels: notified at once, and undisturbed at night by what can wait. */
export const NEW_CONTACT = {
  leastPriority: 'low',
  quiet: { from: '22:00', to: '06:30' },
  round: 1,
  ...CONTACT_DEFAULTS,
} as const satisfies Partial<Contact>;

export interface QuietHours {
  readonly from: string;
  readonly to: string;
}

const DAY_MIN = 24 * 60;

/**
 * When the current quiet hours end, UTC ms; null = it is not quiet now. They may cross midnight. When the clocks change that night,
 * the end may be an hour off, so callers must check again at that time.
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

/** Who has no channel that leads to them, as a sentence; null = everyone has one. */
export function unreachableText(contacts: readonly Pick<Contact, 'name' | 'channelIds'>[]): string | null {
  const without = contacts.filter(({ channelIds }) => channelIds.length === 0);
  if (without.length === 0) return null;
  const start = without.length === contacts.length ? 'No one can be reached: no' : 'No';
  return `${start} channel leads to ${without.map(({ name }) => name).join(', ')}.`;
}

export function isClockTime(text: string): boolean {
  return /^([01]\d|2[0-3]):[0-5]\d$/.test(text);
}

/** Minutes since local midnight. */
export function localMinute(ms: number, timeZone: string): number {
  return minuteOf(localClock(ms, timeZone));
}

/** Local clock time, "02:14". */
export function localClock(ms: number, timeZone: string): string {
  return formatOf('clock', timeZone).format(ms);
}

/** Local weekday, 0 = Sunday … 6 = Saturday. */
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
  const format = new Intl.DateTimeFormat('en-GB', { ...options, timeZone });
  formats.set(key, format);
  return format;
}
