import { kindOfFile } from './file-kind.ts';
import { ReadingIntake } from './intake.ts';
import type { IntakeOptions } from './intake-options.ts';
import type { Shape } from './shape.ts';
import { StampedTime, timeStampOf, withoutTimeTitle } from './time-stamp.ts';

/** What the start and the end of a recorded log show about it. */
export interface LogSurvey {
  readonly shape: Shape;
  /** What dates its lines: the device's clock, time stamps before the lines, or nothing (null). */
  readonly clock: 'device' | 'stamps' | null;
  /** Whether its lines have time stamps. If they also have the device's clock, that dates them. */
  readonly stamped: boolean;
  /** Names of its signals. */
  readonly signals: readonly string[];
  /** Readings per second; null = nothing dates its lines. */
  readonly rateHz: number | null;
  /** From its first line to its last; null = nothing dates its lines. */
  readonly spanMs: number | null;
  /** When it starts, UTC ms; null = neither its time stamps nor its first notes have a date. */
  readonly startMs: number | null;
  /** Source of `startMs`. A date in a note may be that of something else, so it is a guess. */
  readonly startFrom: 'stamps' | 'note' | null;
  readonly firstLine: string;
}

/** Why a file is not a log of reading lines: what was found instead, and what to do. */
export interface UnusableLog {
  readonly found: string;
  readonly remedy: string;
}

const latin1 = new TextDecoder('latin1');
const utf8 = new TextEncoder();

/** A period that no log has: if lines are dated by it, they have no clock. */
const NO_CLOCK_MS = 104_729;
const NOTE_DATE = /\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:?\d\d)?/;
/** A date further from the file's last change belongs to something else, such as a version of the firmware. */
const NOTE_DAYS_MAX = 3;
const DAY_MS = 86_400_000;
const QUOTED_MAX = 60;
/** At least this share of the first lines must be readings. */
const READINGS_SHARE_MIN = 0.2;
const SEND = 'Send the log as it was recorded: plain text, one reading line per row.';

/**
 * Find out whether a file is a log of reading lines.
 * @param head its first bytes, up to a few thousand lines
 * @param tail its last bytes; empty if the head is the whole file
 * @param changedMs when the file was last changed, UTC ms; null = unknown
 */
export function surveyLog(
  head: Uint8Array,
  tail: Uint8Array,
  rules: Pick<IntakeOptions, 'shape' | 'checksum' | 'columnNames' | 'pointedAt' | 'roles'>,
  changedMs: number | null = null,
): LogSurvey | UnusableLog {
  if (head.length === 0) return { found: 'It is empty.', remedy: 'Choose the file with the recorded lines.' };
  const kind = kindOfFile(head);
  if (kind !== null) return { found: `It is ${kind}.`, remedy: SEND };
  const first = textLines(head, 'head');
  const last = textLines(tail, 'tail');
  const bare = first.filter((line) => line.trim() !== '' && !line.trimStart().startsWith('#'));
  const stamped = bare.filter((line) => timeStampOf(line) !== null).length > bare.length / 2;
  const intake = new ReadingIntake({ ...rules, recordedStartMs: 0, recordedRateHz: 1000 / NO_CLOCK_MS });
  const timesMs: number[] = [];
  const notes: string[] = [];
  const sink = {
    reading: ({ timeMs }: { timeMs: number }) => void timesMs.push(timeMs),
    note: (text: string) => void notes.push(text),
  };
  const push = (lines: readonly string[]) =>
    intake.push(utf8.encode(`${lines.map((line) => (stamped ? unstamped(line) : line)).join('\n')}\n`), null, sink);
  push(first);
  const { received, notes: noted, dropped } = intake.counters();
  const { shape, layout } = intake;
  const readings = timesMs.length;
  const [firstMs] = timesMs;
  if (firstMs === undefined || shape === null || readings < (received - noted) * READINGS_SHARE_MIN) {
    return notReadable(bare[0] ?? first[0] ?? '', dropped.badChecksum > received / 2);
  }
  const signals = layout.signals.map(({ name }) => name);
  if (layout.signals.every(({ role }) => role === null)) {
    return {
      found: `Its columns are ${signals.slice(0, 6).join(', ')}. None of these names is in use on this line, such as d for the diameter or t1 for a temperature.`,
      remedy: 'If it is a log of this line, assign its names on the Set-up page, then try again.',
    };
  }
  const stepMs = medianStep(timesMs);
  const deviceStepMs = stepMs !== null && Math.abs(stepMs - NO_CLOCK_MS) > 1 ? stepMs : null;
  push(last);
  const stamps = stamped ? stampsOf(first, last) : null;
  const stepByStampsMs = stamps === null ? null : stamps.headMs / Math.max(1, readings - 1);
  const usualStepMs = deviceStepMs ?? stepByStampsMs;
  const spanMs = deviceStepMs === null ? (stamps?.spanMs ?? null) : (timesMs.at(-1) ?? firstMs) - firstMs;
  const stampedMs = stamps?.startMs ?? null;
  const notedMs = notes.map(dateIn).find((ms) => ms !== null && isLikely(ms, spanMs ?? 0, changedMs)) ?? null;
  return {
    shape,
    clock: deviceStepMs !== null ? 'device' : stamps !== null ? 'stamps' : null,
    stamped: stamps !== null,
    signals,
    rateHz: usualStepMs === null || usualStepMs === 0 ? null : 1000 / usualStepMs,
    spanMs,
    startMs: stampedMs ?? notedMs,
    startFrom: stampedMs !== null ? 'stamps' : notedMs !== null ? 'note' : null,
    firstLine: shortened(bare[0] ?? ''),
  };
}

/** Date of the first time stamp, and the time from there to the end of the head and to the end of the log. */
function stampsOf(head: readonly string[], tail: readonly string[]) {
  const time = new StampedTime();
  const inHead = head.flatMap((line) => timeStampOf(line) ?? []);
  for (const stamp of inHead) time.next(stamp);
  const headMs = time.elapsedMs;
  const inTail = tail.flatMap((line) => timeStampOf(line) ?? []);
  for (const stamp of inTail) time.next(stamp);
  return { startMs: [...inHead, ...inTail][0]?.dateMs ?? null, headMs, spanMs: time.elapsedMs };
}

/** A line without its time stamp. */
function unstamped(line: string): string {
  const stamp = timeStampOf(line);
  return stamp === null ? withoutTimeTitle(line) : line.slice(stamp.length);
}

/** UTC ms of the date in a note; null = it has none, or one that does not exist. */
function dateIn(note: string): number | null {
  const ms = Date.parse((NOTE_DATE.exec(note)?.[0] ?? '').replace(' ', 'T'));
  return Number.isFinite(ms) ? ms : null;
}

/** Whether a log of this length, last changed at that time, may have started at `ms`. */
function isLikely(ms: number, spanMs: number, changedMs: number | null): boolean {
  return changedMs === null || Math.abs(changedMs - spanMs - ms) <= NOTE_DAYS_MAX * DAY_MS;
}

function notReadable(line: string, checksums: boolean): UnusableLog {
  if (checksums) {
    return {
      found: 'Most of its lines have a wrong checksum.',
      remedy: 'The file was damaged on the way. Record it again.',
    };
  }
  return {
    found: `It is text, but not a log of reading lines. Its first line is “${shortened(line)}”.`,
    remedy: `${SEND} A line looks like “d=1.752 t1=201.4”. If it has only numbers, name the columns on the Set-up page.`,
  };
}

/** The whole lines: a tail starts in the middle of a line, and a head may end in one. */
function textLines(bytes: Uint8Array, part: 'head' | 'tail'): string[] {
  const lines = latin1.decode(bytes).split(/\r?\n/);
  if (part === 'tail') lines.shift();
  else if (lines.length > 1) lines.pop();
  return lines;
}

function medianStep(timesMs: readonly number[]): number | null {
  const steps: number[] = [];
  let beforeMs: number | null = null;
  for (const timeMs of timesMs) {
    if (beforeMs !== null) steps.push(timeMs - beforeMs);
    beforeMs = timeMs;
  }
  return steps.sort((a, b) => a - b)[steps.length >> 1] ?? null;
}

function shortened(line: string): string {
  // Unprintable characters cannot come from a reading line and must not reach a page.
  const plain = line.replace(/[^\x20-\x7e]/g, '·').trim();
  return plain.length > QUOTED_MAX ? `${plain.slice(0, QUOTED_MAX)}…` : plain;
}
