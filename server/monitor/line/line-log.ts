import type { Log } from '../log.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { RecordGuard } from '../record-guard.ts';

export interface LineLogParts {
  readonly writer: RecordWriter;
  readonly guard: RecordGuard;
  readonly log: Log;
  /** UTC ms; in a replay the time of the readings. */
  nowMs(): number;
  /** The run under way; null = none. */
  runId(): number | null;
}

/** The operators' log: who did what, and what the service did automatically. */
export class LineLog {
  readonly #parts: LineLogParts;

  constructor(parts: LineLogParts) {
    this.#parts = parts;
  }

  write(who: string, what: string, runId = this.#parts.runId()): void {
    const { writer, guard, log, nowMs } = this.#parts;
    log.info(what, { who });
    const entry = { timeMs: nowMs(), runId, who, what };
    guard.write('log', () => writer.log(entry));
  }
}
