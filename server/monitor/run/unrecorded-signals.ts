import { type LogParts, logInRecord } from '../log-in-record.ts';

const NAMED_MAX = 3;

/** Reports the signals beyond the most that a run can hold, in the service's log and in the operators' log. */
export function logUnrecordedSignals(
  { runId, names, most }: { readonly runId: number; readonly names: readonly string[]; readonly most: number },
  parts: LogParts,
): void {
  const more = names.length - NAMED_MAX;
  const named = names.slice(0, NAMED_MAX).join(', ');
  const what = `A run holds at most ${most.toLocaleString('en')} signals. Not recorded: ${named}${more > 0 ? ` and ${more} more` : ''}. Does the line send garbled names?`;
  logInRecord(what, runId, parts);
}
