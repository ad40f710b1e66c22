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

const MINUTE_MS = 60_000;
export const DAY_MIN = 24 * 60;

/** When the current quiet hours end, UTC ms; null = it is not quiet now. They may cross midnight and a change of the clocks. */
export function quietUntil(quiet: QuietHours | null, nowMs: number, timeZone: string): number | null {
  if (quiet === null) return null;
  const from = minuteOf(quiet.from);
  const to = minuteOf(quiet.to);
  const length = minutesFrom(from, to);
  const sinceAt = (ms: number) => minutesFrom(from, localMinute(ms, timeZone));
  const since = sinceAt(nowMs);
  if (since >= length) return null;
  let endMs = nowMs - (nowMs % MINUTE_MS) + (length - since) * MINUTE_MS;
  // When the clocks change before the end, another time is shown there.
  const late = minutesFrom(to, localMinute(endMs, timeZone));
  endMs -= (late < DAY_MIN / 2 ? late : late - DAY_MIN) * MINUTE_MS;
  // The end may be in an hour that is skipped.
  while (sinceAt(endMs) < length) endMs += MINUTE_MS;
  return endMs;
}

/** From one minute of the day to the next such as the other. */
export function minutesFrom(minute: number, other: number): number {
  return (other - minute + DAY_MIN) % DAY_MIN;
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
