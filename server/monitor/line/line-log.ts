import type { Log } from '../log.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { RecordGuard } from '../record-guard.ts';

export interface LineLogParts {
  readonly writer: RecordWriter;
  readonly guard: RecordGuard;
  readonly log: Log;
  /** UTC ms; in a replay the time of the readings. */
  nowMs(): number;
  /** The current run; null = none. */
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

  /**
   * Like `write`, for what a user states: on disk when it returns. Call it before the statement takes effect.
   * @param also written after the entry
   * @throws RecordFailing if the record cannot be written
   */
  writeNow(who: string, what: string, also: () => void = () => {}): void {
    const { writer, guard, log, nowMs, runId } = this.#parts;
    const entry = { timeMs: nowMs(), runId: runId(), who, what };
    guard.writeNow('log', () => {
      writer.log(entry);
      also();
    });
    log.info(what, { who });
  }
}

const REPEAT_AFTER_MS = 60_000;
const LIMITS = [
  { ms: 60_000, most: 20, name: 'minute' },
  { ms: 86_400_000, most: 1000, name: 'day' },
] as const;

/** Limits the firmware's notes in the operators' log: each text once a minute, and only so many a minute and a day. */
export class FirmwareLog {
  readonly #write: (text: string) => void;
  readonly #loggedMs = new Map<string, number>();
  readonly #spans = LIMITS.map((limit) => ({ ...limit, startMs: Number.NEGATIVE_INFINITY, notes: 0 }));

  constructor(write: (text: string) => void) {
    this.#write = write;
  }

  note(text: string, timeMs: number): void {
    for (const span of this.#spans) {
      if (timeMs - span.startMs < span.ms && timeMs >= span.startMs) continue;
      span.startMs = timeMs;
      span.notes = 0;
      for (const [logged, atMs] of this.#loggedMs) {
        if (timeMs - atMs > REPEAT_AFTER_MS) this.#loggedMs.delete(logged);
      }
    }
    const beforeMs = this.#loggedMs.get(text);
    if (beforeMs !== undefined && Math.abs(timeMs - beforeMs) < REPEAT_AFTER_MS) return;
    if (this.#spans.some(({ notes, most }) => notes === most)) return;
    for (const span of this.#spans) span.notes += 1;
    this.#loggedMs.set(text, timeMs);
    const full = this.#spans.findLast(({ notes, most }) => notes === most);
    this.#write(full === undefined ? text : `${text} (further notes of this ${full.name} are left out)`);
  }
}
