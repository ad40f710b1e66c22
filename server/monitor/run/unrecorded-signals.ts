import { messageOf } from '../../problem/problem.ts';
import type { Log } from '../log.ts';
import type { RecordWriter } from '../ports/record.ts';

const NAMED_MAX = 3;

/** Reports the signals beyond the most that a run can hold, in the service's log and in the operators' log. */
export function logUnrecordedSignals(
  { runId, names, most }: { readonly runId: number; readonly names: readonly string[]; readonly most: number },
  parts: { readonly writer: Pick<RecordWriter, 'log'>; readonly log: Log; readonly nowMs: number },
): void {
  const more = names.length - NAMED_MAX;
  const named = names.slice(0, NAMED_MAX).join(', ');
  const what = `A run holds at most ${most.toLocaleString('en')} signals. Not recorded: ${named}${more > 0 ? ` and ${more} more` : ''}. Does the line send garbled names?`;
  parts.log.warn(what, { runId });
  try {
    parts.writer.log({ timeMs: parts.nowMs, runId, who: 'service', what });
  } catch (thrown) {
    // A failed log entry must not keep readings from being stored.
    parts.log.error('Could not log that signals were left out', { why: messageOf(thrown) });
  }
}
