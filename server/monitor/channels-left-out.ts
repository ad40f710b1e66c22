import { messageOf } from '../problem/problem.ts';
import type { Log } from './log.ts';
import type { RecordWriter } from './ports/record.ts';

const NAMED = 3;

/** A run had more channels than it can hold: told in the log of the service, and in that of the run. */
export function tellLeftOut(
  { runId, names, most }: { readonly runId: number; readonly names: readonly string[]; readonly most: number },
  parts: { readonly writer: Pick<RecordWriter, 'log'>; readonly log: Log; readonly nowMs: number },
): void {
  const more = names.length - NAMED;
  const named = names.slice(0, NAMED).join(', ');
  const what = `A run holds at most ${most.toLocaleString('en')} channels. Not recorded: ${named}${more > 0 ? ` and ${more} more` : ''}. Does the line send garbled names?`;
  parts.log.warn(what, { runId });
  try {
    parts.writer.log({ timeMs: parts.nowMs, runId, who: 'service', what });
  } catch (thrown) {
    // The readings come first: they must not be lost because this could not be written.
    parts.log.error('Could not write that channels are left out', { why: messageOf(thrown) });
  }
}
