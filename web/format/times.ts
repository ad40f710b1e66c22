/**
 * Times as the page shows them, in words of en-GB. All inputs are UTC ms or spans in ms; zones are IANA names, by default that
 * of the device. Intl is used only for zones whose clock is not known: its first use takes longer than the rest of a page.
 */

import { offsetBy, offsetByIntl, type ZoneClock } from '../../server/entities/zone-clock.ts';

const WEEKDAYS = ['Sunday', 'Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday'];
const MONTHS = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
];

/** The date and clock of a zone, in the UTC fields of a Date. */
function local(ms: number, timeZone: string | undefined): Date {
  return new Date(ms + zoneOffsetMs(ms, timeZone));
}

const twoDigits = (n: number) => String(n).padStart(2, '0');
const monthOf = (at: Date) => MONTHS[at.getUTCMonth()]!;
/** "Nov", and "Sept" as en-GB has it. */
const shortMonthOf = (at: Date) => monthOf(at).slice(0, at.getUTCMonth() === 8 ? 4 : 3);

export function clock(ms: number, timeZone?: string): string {
  const at = local(ms, timeZone);
  return `${twoDigits(at.getUTCHours())}:${twoDigits(at.getUTCMinutes())}`;
}

export function clockWithSeconds(ms: number, timeZone?: string): string {
  return `${clock(ms, timeZone)}:${twoDigits(local(ms, timeZone).getUTCSeconds())}`;
}

/** "Sunday 29 November 2026". */
export function day(ms: number, timeZone?: string): string {
  const at = local(ms, timeZone);
  return `${WEEKDAYS[at.getUTCDay()]} ${at.getUTCDate()} ${monthOf(at)} ${at.getUTCFullYear()}`;
}

/** "Sun 29 Nov". */
export function shortDay(ms: number, timeZone?: string): string {
  const at = local(ms, timeZone);
  return `${WEEKDAYS[at.getUTCDay()]!.slice(0, 3)} ${at.getUTCDate()} ${shortMonthOf(at)}`;
}

/** "Sun 29 Nov 2026". */
export function shortDayOfYear(ms: number, timeZone?: string): string {
  return `${shortDay(ms, timeZone)} ${local(ms, timeZone).getUTCFullYear()}`;
}

/** "29 Nov 2026". */
export function dayOfYear(ms: number, timeZone?: string): string {
  const at = local(ms, timeZone);
  return `${at.getUTCDate()} ${shortMonthOf(at)} ${at.getUTCFullYear()}`;
}

/** A span in at most two units: "14 s", "3 min 20 s", "2 h 5 min". */
export function span(ms: number): string {
  const s = Math.max(0, Math.round(ms / 1000));
  if (s < 60) return `${s} s`;
  const min = Math.floor(s / 60);
  if (min < 10 && s % 60 !== 0) return `${min} min ${s % 60} s`;
  if (min < 60) return `${min} min`;
  const h = Math.floor(min / 60);
  if (h >= 48) return `${Math.floor(h / 24)} days`;
  return min % 60 === 0 ? `${h} h` : `${h} h ${min % 60} min`;
}

/** Whole seconds of a countdown, rounded up: never 0 before its end. */
export function countdownS(leftS: number): number {
  return Math.max(1, Math.ceil(leftS));
}

/** "just now", "20 s ago", "3 min ago". Whole minutes beyond one minute, so that the text does not flicker. */
export function ago(ms: number, nowMs: number): string {
  const passed = nowMs - ms;
  if (passed < 5_000) return 'just now';
  return `${passed < 60_000 ? span(passed) : span(Math.floor(passed / 60_000) * 60_000)} ago`;
}

let known: ZoneClock | null = null;

/** The clock that came with the page. */
export function knowClock(clock: ZoneClock | null): void {
  known = clock;
}

/** Whose clock times that people enter are, if the service has another one than this device; null = both show the same. */
export function serviceClockText(nowMs: number): string | null {
  if (known === null || zoneOffsetMs(nowMs, known.zone) === zoneOffsetMs(nowMs)) return null;
  return `By the clock of the service, which shows ${clock(nowMs, known.zone)} now (${known.zone}).`;
}

/** Offset of a zone from UTC at a moment, ms: positive east of Greenwich. */
export function zoneOffsetMs(ms: number, timeZone?: string): number {
  if (timeZone === undefined) return -new Date(ms).getTimezoneOffset() * 60_000;
  const knownMs = known?.zone === timeZone ? offsetBy(known, ms) : null;
  if (knownMs !== null) return knownMs;
  // Offsets change at whole quarters of an hour at most.
  const key = `${Math.floor(ms / 900_000)} ${timeZone}`;
  let offsetMs = offsets.get(key);
  if (offsetMs === undefined) {
    // The zone of the device is the next best.
    offsetMs = offsetByIntl(ms, timeZone) ?? zoneOffsetMs(ms);
    if (offsets.size > MOST_OFFSETS) offsets.clear();
    offsets.set(key, offsetMs);
  }
  return offsetMs;
}

const MOST_OFFSETS = 5000;
const offsets = new Map<string, number>();
