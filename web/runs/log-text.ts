import type { RecordingView } from '../../server/api/contract/recording.ts';
import { count, megabytes } from '../format/numbers.ts';
import { span } from '../format/times.ts';

type FoundLog = Pick<RecordingView, 'survey' | 'lines' | 'bytes' | 'changedMs'>;

/** "115 MB, 1 440 000 lines: 50 a second by the board’s own clock, over 8 h." */
export function whatItIs({ survey, lines, bytes }: FoundLog): string {
  const size = `${megabytes(bytes)}, ${count(lines)} lines`;
  const { clock, rateHz, spanMs } = survey;
  if (clock === null) return `${size}. They contain no times.`;
  const by = clock === 'device' ? 'by the board’s own clock' : 'by the time stamps before them';
  const rate = rateHz === null ? '' : ` ${rateHz >= 10 ? rateHz.toFixed(0) : rateHz.toFixed(1)} a second`;
  return `${size}:${rate} ${by}${spanMs === null ? '' : `, over ${span(spanMs)}`}.`;
}

/** When a log began, UTC ms, and the source of that time. */
export function likelyStart(log: FoundLog, rateHz: number | null, nowMs: number): { startMs: number; from: string } {
  const { survey, lines, changedMs } = log;
  if (survey.startMs !== null) {
    const from =
      survey.startFrom === 'stamps' ? 'As stated in the log.' : 'Guessed from a date in its first comments: check it.';
    return { startMs: survey.startMs, from };
  }
  const lastedMs = survey.spanMs ?? (rateHz === null ? 0 : (lines / rateHz) * 1000);
  return changedMs === null
    ? { startMs: nowMs - lastedMs, from: 'As if it had ended now: the log does not say when.' }
    : { startMs: changedMs - lastedMs, from: 'Calculated from when the file was last written.' };
}

/** Local time for an input of type `datetime-local`, to the second. */
export function inputTime(ms: number): string {
  const local = new Date(ms - new Date(ms).getTimezoneOffset() * 60_000);
  return local.toISOString().slice(0, 19);
}

/** UTC ms of the value of such an input; null = no time. */
export function timeOfInput(text: string): number | null {
  const ms = Date.parse(text);
  return Number.isNaN(ms) ? null : ms;
}
