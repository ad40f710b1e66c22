import { messageOf } from '../problem/problem.ts';
import type { Log } from './log.ts';
import type { RecordWriter } from './ports/record.ts';

export interface LogParts {
  readonly writer: Pick<RecordWriter, 'log'>;
  readonly log: Log;
  readonly nowMs: number;
}

/** Reports a fault of the record in the service's log and, if it can be written, in the operators' log. */
export function logInRecord(what: string, runId: number | null, { writer, log, nowMs }: LogParts): void {
  log.warn(what, { runId });
  try {
    writer.log({ timeMs: nowMs, runId, who: 'service', what });
  } catch (thrown) {
    // A failed log entry must not keep readings from being stored.
    log.error('Could not write to the log in the record', { why: messageOf(thrown) });
  }
}
