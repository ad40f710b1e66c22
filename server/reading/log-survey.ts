import { kindOfFile } from './file-kind.ts';
import { type IntakeOptions, ReadingIntake } from './intake.ts';
import type { Shape } from './shape.ts';
import { StampedTime, timeStampOf, withoutTimeTitle } from './time-stamp.ts';

/** What a recorded log tells of itself, by its beginning and its end. */
export interface LogSurvey {
  readonly shape: Shape;
  /** What dates its lines: the device's own clock, stamps before the lines, or nothing. */
  readonly clock: 'device' | 'stamps' | null;
  /** Whether stamps stand before the lines; the device's clock counts for more. */
  readonly stamped: boolean;
  /** Names of its signals. */
  readonly signals: readonly string[];
  /** Readings a second; null = it tells nothing of time. */
  readonly rateHz: number | null;
  /** From its first line to its last; null = it tells nothing of time. */
  readonly spanMs: number | null;
  /** When it began, UTC ms, where its stamps or first notes bear a date; else null. */
  readonly startMs: number | null;
  /** What says so; a note may date something else, and is a guess. */
  readonly startFrom: 'stamps' | 'note' | null;
  readonly firstLine: string;
}

/** Why a file is no log of reading lines: what was found instead, and what to do. */
export interface NoLog {
  readonly found: string;
  readonly remedy: string;
}

const latin1 = new TextDecoder('latin1');
const utf8 = new TextEncoder();

/** A period that no log has: what is dated by it has no clock of its own. */
const NO_CLOCK_MS = 104_729;
const NOTE_DATE = /\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:?\d\d)?/;
/** A date so far from when the file was last changed is that of something else: a version, a drawing. */
const NOTE_DAYS_MAX = 3;
const DAY_MS = 86_400_000;
const QUOTED_MAX = 60;
/** Of the first lines at least so many must be readings. */
const READINGS_SHARE_MIN = 0.2;
const SEND = 'Send the log as it was recorded: plain text, a reading line a row.';

/**
 * See whether a file is a log of reading lines.
 * @param head its first bytes, some thousand lines where there are so many
 * @param tail its last bytes; empty where the head is all of it
 * @param changedMs when the file was last changed, UTC ms; null = unknown
 */
export function surveyLog(
  head: Uint8Array,
  tail: Uint8Array,
  rules: Pick<IntakeOptions, 'shape' | 'checksum' | 'columnNames' | 'roles'>,
  changedMs: number | null = null,
): LogSurvey | NoLog {
  if (head.length === 0) return { found: 'It is empty.', remedy: 'Choose the file that the lines were recorded to.' };
  const kind = kindOfFile(head);
  if (kind !== null) return { found: `It is ${kind}.`, remedy: SEND };
  const first = textLines(head, false);
  const last = textLines(tail, true);
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
  const readings = timesMs.length;
  if (readings === 0 || readings < (received - noted) * READINGS_SHARE_MIN) {
    return notReadable(bare[0] ?? first[0] ?? '', dropped.badChecksum > received / 2);
  }
  const layout = intake.layout!;
  const channels = layout.channels.map(({ name }) => name);
  if (layout.channels.every(({ role }) => role === null)) {
    return {
      found: `Its columns are ${channels.slice(0, 6).join(', ')}: none of them is a name that this line knows, such as d for the diameter or t1 for a temperature.`,
      remedy: 'If it is a log of the line, say on the page Set-up which name means what, then try again.',
    };
  }
  const stepMs = medianStep(timesMs);
  const device = stepMs !== null && Math.abs(stepMs - NO_CLOCK_MS) > 1;
  push(last);
  const stamps = stamped ? stampsOf([...first, ...last]) : null;
  const clock = device ? 'device' : stamps === null ? null : 'stamps';
  const firstStepsMs = stamps === null ? null : stamps.headMs / Math.max(1, readings - 1);
  const spanMs = device ? timesMs.at(-1)! - timesMs[0]! : (stamps?.spanMs ?? null);
  const stampedMs = stamps?.startMs ?? null;
  const notedMs = notes.map(dateIn).find((ms) => ms !== null && isLikely(ms, spanMs ?? 0, changedMs)) ?? null;
  return {
    shape: intake.shape!,
    clock,
    stamped: stamps !== null,
    signals: channels,
    rateHz: device ? 1000 / stepMs! : firstStepsMs === null || firstStepsMs === 0 ? null : 1000 / firstStepsMs,
    spanMs,
    startMs: stampedMs ?? notedMs,
    startFrom: stampedMs !== null ? 'stamps' : notedMs !== null ? 'note' : null,
    firstLine: shortened(bare[0] ?? ''),
  };

  /** The head's share of the stamps is its own, for the rate. */
  function stampsOf(lines: readonly string[]) {
    const time = new StampedTime();
    let startMs: number | null = null;
    let begun = false;
    let headMs = 0;
    for (const [i, line] of lines.entries()) {
      const stamp = timeStampOf(line);
      if (stamp === null) continue;
      if (!begun) startMs = stamp.dateMs;
      begun = true;
      time.next(stamp);
      if (i < first.length) headMs = time.elapsedMs;
    }
    return { startMs, headMs, spanMs: time.elapsedMs };
  }
}

/** A line without what a terminal program set before it. */
function unstamped(line: string): string {
  const stamp = timeStampOf(line);
  return stamp === null ? withoutTimeTitle(line) : line.slice(stamp.length);
}

/** UTC ms of the date in a note; null = none, or none that the calendar has. */
function dateIn(note: string): number | null {
  const ms = Date.parse((NOTE_DATE.exec(note)?.[0] ?? '').replace(' ', 'T'));
  return Number.isFinite(ms) ? ms : null;
}

/** Whether a log that lasted so long, and was last changed then, may have begun at `ms`. */
function isLikely(ms: number, spanMs: number, changedMs: number | null): boolean {
  return changedMs === null || Math.abs(changedMs - spanMs - ms) <= NOTE_DAYS_MAX * DAY_MS;
}

function notReadable(line: string, checksums: boolean): NoLog {
  if (checksums) {
    return {
      found: 'Most of its lines do not fit their checksum.',
      remedy: 'Record it anew; it was changed on its way.',
    };
  }
  return {
    found: `It is text, but no log of reading lines: the first line is “${shortened(line)}”.`,
    remedy: `${SEND} A line such as “d=1.752 t1=201.4”; where bare numbers are sent, name the columns on the page Set-up.`,
  };
}

/** Whole lines only: a tail begins in the middle of one, and a head may end there. */
function textLines(bytes: Uint8Array, begunInside: boolean): string[] {
  const lines = latin1.decode(bytes).split(/\r?\n/);
  if (begunInside) lines.shift();
  if (!begunInside && lines.length > 1) lines.pop();
  return lines;
}

function medianStep(timesMs: readonly number[]): number | null {
  const steps = timesMs.slice(1).map((timeMs, i) => timeMs - timesMs[i]!);
  return steps.sort((a, b) => a - b)[steps.length >> 1] ?? null;
}

function shortened(line: string): string {
  // What is not printable comes from no reading line and must not reach a page.
  const plain = line.replace(/[^\x20-\x7e]/g, '·').trim();
  return plain.length > QUOTED_MAX ? `${plain.slice(0, QUOTED_MAX)}…` : plain;
}
