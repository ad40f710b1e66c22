import { type LogParts, logInRecord } from '../log-in-record.ts';

/** Marks a gap in the readings of a run that a failing disk left, with its place on the strand. */
export function logDroppedReadings(
  gap: {
    readonly runId: number;
    readonly count: number;
    readonly fromMs: number;
    readonly toMs: number;
    readonly fromGaugeMm: number;
    readonly toGaugeMm: number;
  },
  parts: LogParts,
): void {
  const metres = (mm: number) => (mm / 1000).toFixed(1);
  const seconds = Math.round((gap.toMs - gap.fromMs) / 1000);
  const what = `The disk could not be written for too long: ${gap.count.toLocaleString('en')} readings of ${seconds} s were dropped, from ${metres(gap.fromGaugeMm)} to ${metres(gap.toGaugeMm)} m at the gauge.`;
  logInRecord(what, gap.runId, parts);
}
