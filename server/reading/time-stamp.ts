/** A time of day before a line, with or without a date, as terminal programs add it. */
const STAMP =
  /^[ \t]*[[(]?(?:(\d{4})-(\d\d)-(\d\d)[T ])?(\d\d):(\d\d):(\d\d)(\.\d{1,6})?[ \t]*(Z|[+-]\d\d:?\d\d)?[\])]?[ \t]*(?:->|[,;|:])?[ \t]*/;
const MINUTE_MS = 60_000;
/** By so much clocks are set back when summer time ends; on Lord Howe Island by half an hour. */
const SET_BACK_MS = [60 * MINUTE_MS, 30 * MINUTE_MS] as const;
const DAY_MS = 86_400_000;
const HALF_DAY_MS = DAY_MS / 2;

export interface TimeStamp {
  /** UTC ms if the stamp has a date (in this machine's time zone unless it names one); null = it has only a time of day. */
  readonly dateMs: number | null;
  /** Whether the date is in this machine's time zone. */
  readonly isLocal: boolean;
  /** ms since midnight. */
  readonly dayMs: number;
  /** Length in characters, including the separator before the line. */
  readonly length: number;
}

/** The stamp at the start of a line; null = none. */
export function timeStampOf(line: string): TimeStamp | null {
  const [whole, year, month, day, hour, minute, second, fraction, zone] = STAMP.exec(line) ?? [];
  if (whole === undefined || whole.length === line.length) return null;
  const dayMs = ((Number(hour) * 60 + Number(minute)) * 60 + Number(second) + Number(fraction ?? 0)) * 1000;
  if (Number(hour) > 23 || Number(minute) > 59 || Number(second) > 60) return null;
  if (year === undefined) return { dateMs: null, isLocal: false, dayMs, length: whole.length };
  const text = `${year}-${month}-${day}T${hour}:${minute}:${second}`;
  const dateMs = Date.parse(zone === undefined ? text : `${text}${zone}`) + Number(fraction ?? 0) * 1000;
  return Number.isNaN(dateMs) ? null : { dateMs, isLocal: zone === undefined, dayMs, length: whole.length };
}

const COLON = 58;
const MINUS = 45;
const STAMP_CHARACTERS_MAX = 48;

/** Bytes of the stamp at the start of a line, with the separator after it; 0 = none. */
export function stampLength(bytes: Uint8Array, start: number, end: number): number {
  // Few lines have one: these bytes are a cheap sign of it.
  const first = start + Number(bytes[start] === 91 || bytes[start] === 40);
  if (bytes[first + 2] !== COLON && bytes[first + 4] !== MINUS) return 0;
  let text = '';
  for (let at = start; at < Math.min(end, start + STAMP_CHARACTERS_MAX); at++)
    text += String.fromCharCode(bytes[at] ?? 0);
  return timeStampOf(text)?.length ?? 0;
}

/** Titles of a column of time stamps. */
const TITLES = 'date ?time|date|time|timestamp|zeit|datum';
export const TIME_TITLE = new RegExp(`^(?:${TITLES})$`, 'i');
const FIRST_TITLE = new RegExp(`^[ \\t"]*(?:${TITLES})[ \\t"]*[,;\\t]`, 'i');

/**
 * Time since the first stamp of a log, ms. It continues over midnight if stamps have no date, also when the clocks are set back,
 * and never goes back.
 */
export class StampedTime {
  elapsedMs = 0;
  #firstDateMs: number | null = null;
  #lastDayMs: number | null = null;
  #days = 0;
  #firstDayMs = 0;
  /** By how much the clock that made the stamps was set back, as far as this machine's time zone does not say so. */
  #setBackMs = 0;

  next({ dateMs, isLocal, dayMs }: TimeStamp): number {
    if (this.#lastDayMs === null) {
      this.#firstDateMs = dateMs;
      this.#firstDayMs = dayMs;
    } else if (dayMs < this.#lastDayMs - HALF_DAY_MS) this.#days++;
    this.#lastDayMs = dayMs;
    let sinceMs =
      this.#setBackMs +
      (dateMs !== null && this.#firstDateMs !== null
        ? dateMs - this.#firstDateMs
        : this.#days * DAY_MS + dayMs - this.#firstDayMs);
    // Lines a little out of order are common.
    if (this.elapsedMs - sinceMs > MINUTE_MS) {
      if (dateMs !== null && isLocal) sinceMs += shownAgainAfterMs(dateMs);
      const backMs = this.elapsedMs - sinceMs;
      const setBackMs = SET_BACK_MS.find((ms) => backMs <= ms && backMs > ms - MINUTE_MS) ?? 0;
      this.#setBackMs += setBackMs;
      sinceMs += setBackMs;
    }
    this.elapsedMs = Math.max(this.elapsedMs, sinceMs);
    return this.elapsedMs;
  }
}

/** How much later the clock of this machine shows the same time once more; 0 = it does not. */
function shownAgainAfterMs(dateMs: number): number {
  const offsetMin = new Date(dateMs).getTimezoneOffset();
  const isAgain = (ms: number) => new Date(dateMs + ms).getTimezoneOffset() - offsetMin === ms / MINUTE_MS;
  return SET_BACK_MS.find(isAgain) ?? 0;
}

/** The header line of a stamped log without its first name, if that is the name of the stamps. */
export function withoutTimeTitle(line: string): string {
  return line.replace(FIRST_TITLE, '');
}
