/** A time of day before a line, with or without a date, as terminal programs add it. */
const STAMP =
  /^[ \t]*[[(]?(?:(\d{4})-(\d\d)-(\d\d)[T ])?(\d\d):(\d\d):(\d\d)(\.\d{1,6})?[ \t]*(Z|[+-]\d\d:?\d\d)?[\])]?[ \t]*(?:->|[,;|:])?[ \t]*/;
const DAY_MS = 86_400_000;
const HALF_DAY_MS = DAY_MS / 2;

export interface TimeStamp {
  /** UTC ms if the stamp has a date (in this machine's time zone unless it names one); null = it has only a time of day. */
  readonly dateMs: number | null;
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
  if (year === undefined) return { dateMs: null, dayMs, length: whole.length };
  const text = `${year}-${month}-${day}T${hour}:${minute}:${second}`;
  const dateMs = Date.parse(zone === undefined ? text : `${text}${zone}`) + Number(fraction ?? 0) * 1000;
  return Number.isNaN(dateMs) ? null : { dateMs, dayMs, length: whole.length };
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

/** Time since the first stamp of a log, ms. It continues over midnight if stamps have no date, and never goes back. */
export class StampedTime {
  elapsedMs = 0;
  #firstDateMs: number | null = null;
  #lastDayMs: number | null = null;
  #days = 0;
  #firstDayMs = 0;

  next({ dateMs, dayMs }: TimeStamp): number {
    if (this.#lastDayMs === null) {
      this.#firstDateMs = dateMs;
      this.#firstDayMs = dayMs;
    } else if (dayMs < this.#lastDayMs - HALF_DAY_MS) this.#days++;
    this.#lastDayMs = dayMs;
    const since =
      dateMs !== null && this.#firstDateMs !== null
        ? dateMs - this.#firstDateMs
        : this.#days * DAY_MS + dayMs - this.#firstDayMs;
    this.elapsedMs = Math.max(this.elapsedMs, since);
    return this.elapsedMs;
  }
}

/** The header line of a stamped log without its first name, if that is the name of the stamps. */
export function withoutTimeTitle(line: string): string {
  return line.replace(FIRST_TITLE, '');
}
