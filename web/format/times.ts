/** Times as the page shows them. All inputs are UTC ms or spans in ms; zones are IANA names. */

const formats = new Map<string, Intl.DateTimeFormat>();

function format(kind: string, options: Intl.DateTimeFormatOptions, timeZone?: string): Intl.DateTimeFormat {
  const key = `${kind} ${timeZone ?? ''}`;
  let made = formats.get(key);
  if (!made) {
    const zoned = timeZone === undefined ? options : { ...options, timeZone };
    try {
      made = new Intl.DateTimeFormat('en-GB', zoned);
    } catch {
      // A run may have a zone that this browser does not know. Its own zone is the next best.
      made = new Intl.DateTimeFormat('en-GB', options);
    }
    formats.set(key, made);
  }
  return made;
}

export function clock(ms: number, timeZone?: string): string {
  return format('clock', { hour: '2-digit', minute: '2-digit' }, timeZone).format(ms);
}

export function clockWithSeconds(ms: number, timeZone?: string): string {
  return format('seconds', { hour: '2-digit', minute: '2-digit', second: '2-digit' }, timeZone).format(ms);
}

export function day(ms: number, timeZone?: string): string {
  return format('day', { weekday: 'long', day: 'numeric', month: 'long', year: 'numeric' }, timeZone).format(ms);
}

export function shortDay(ms: number, timeZone?: string): string {
  return format('short', { weekday: 'short', day: 'numeric', month: 'short' }, timeZone).format(ms);
}

/** "29 Nov 2026". */
export function dayOfYear(ms: number, timeZone?: string): string {
  return format('of year', { day: 'numeric', month: 'short', year: 'numeric' }, timeZone).format(ms);
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

/** Offset of a zone from UTC at a moment, ms: positive east of Greenwich. */
export function zoneOffsetMs(ms: number, timeZone?: string): number {
  const parts = format(
    'parts',
    {
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    },
    timeZone,
  ).formatToParts(ms);
  const of = (type: string) => Number(parts.find((part) => part.type === type)?.value ?? 0);
  const local = Date.UTC(of('year'), of('month') - 1, of('day'), of('hour'), of('minute'), of('second'));
  return local - Math.floor(ms / 1000) * 1000;
}
