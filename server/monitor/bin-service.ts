import type { Binned, BinnedKind } from '../entities/bin.ts';
import { Problem } from '../problem/problem.ts';
import { CLOCK_SET_MS, type Clock } from './clock.ts';
import type { RecordReader, RecordWriter } from './ports/record.ts';
import type { SpoolRepository } from './spool/spool-repository.ts';

export interface BinServiceParts {
  readonly reader: Pick<RecordReader, 'binned'>;
  readonly writer: Pick<RecordWriter, 'log' | 'bin' | 'restore' | 'redateBinned'>;
  readonly spools: SpoolRepository;
  readonly clock: Clock;
  /** ms; any origin, never stepping back. */
  readonly steadyClock: Clock;
  /** After the spools of a run have changed. */
  changed(): void;
}

const DAY_MS = 86_400_000;

interface Deletion {
  readonly kind: BinnedKind;
  readonly id: number;
  /** As stored. */
  atMs: number;
  /** By the steady clock. */
  readonly steadyMs: number;
}

/** Deletes runs and spools into a bin, from which they can be restored for a while. */
export class BinService {
  readonly #parts: BinServiceParts;
  /** Those that a clock which has not been corrected since may have dated; null = not read yet. */
  #deleted: readonly Deletion[] | null = null;

  constructor(parts: BinServiceParts) {
    this.#parts = parts;
  }

  all(): readonly Binned[] {
    return this.#parts.reader.binned();
  }

  /** @throws Problem `unknown-run`; `wrong-state` while it is in progress */
  deleteRun(runId: number, who: string): void {
    const run = this.#parts.spools.run(runId);
    if (run.endedMs === null) throw inProgress(`Run ${run.id}`);
    this.#delete('run', run.id, `Deleted run ${run.id}.`, who);
  }

  /** @throws Problem `unknown-spool`; `wrong-state` while its run is in progress */
  deleteSpool(spoolId: number, who: string): void {
    const spool = this.#parts.spools.spool(spoolId);
    const run = this.#parts.spools.run(spool.runId);
    if (run.endedMs === null || spool.endedMs === null) throw inProgress(`The run of spool ${spool.ordinal}`);
    this.#delete('spool', spool.id, `Deleted spool ${spool.ordinal} of run ${run.id}.`, who);
  }

  /** @throws Problem `unknown-run`, `unknown-spool` if it is not in the bin */
  restore(kind: BinnedKind, id: number, who: string): void {
    const found = this.all().find((one) => one.kind === kind && one.id === id);
    if (found === undefined || !this.#parts.writer.restore(kind, id)) {
      throw new Problem(
        kind === 'run' ? 'unknown-run' : 'unknown-spool',
        `There is no ${kind} ${id} in the bin.`,
        'It may have been restored already, or removed for good. Load the bin again.',
      );
    }
    const what = found.ordinal === null ? `run ${id}` : `spool ${found.ordinal} of run ${found.runId}`;
    this.#log(`Restored ${what}.`, who);
  }

  /**
   * To be called now and then. A machine without a battery may start with the time of its last stop: when its clock is corrected,
   * what was deleted before that must not count as deleted weeks ago.
   */
  correctDates(): void {
    const { writer, clock, steadyClock } = this.#parts;
    const offsetMs = clock() - steadyClock();
    for (const one of this.#dated()) {
      const atMs = offsetMs + one.steadyMs;
      if (Math.abs(atMs - one.atMs) < CLOCK_SET_MS) continue;
      writer.redateBinned(one.kind, one.id, atMs);
      one.atMs = atMs;
    }
  }

  /**
   * Since this start, and on the day before it: by the clock of now, which may be just as wrong. What was deleted later than
   * now, by a clock that was ahead, counts as deleted now.
   */
  #dated(): readonly Deletion[] {
    const { reader, clock, steadyClock } = this.#parts;
    this.#deleted ??= reader.binned().flatMap(({ kind, id, deletedMs }) => {
      const agoMs = clock() - deletedMs;
      return agoMs > DAY_MS ? [] : [{ kind, id, atMs: deletedMs, steadyMs: steadyClock() - Math.max(agoMs, 0) }];
    });
    return this.#deleted;
  }

  #delete(kind: BinnedKind, id: number, what: string, who: string): void {
    const { writer, clock, steadyClock } = this.#parts;
    const atMs = clock();
    if (!writer.bin(kind, id, atMs, who)) {
      throw new Problem('wrong-state', `The ${kind} has changed in the meantime.`, 'Load it again, then retry.');
    }
    const others = this.#dated().filter((one) => one.kind !== kind || one.id !== id);
    this.#deleted = [...others, { kind, id, atMs, steadyMs: steadyClock() }];
    this.#log(what, who);
  }

  #log(what: string, who: string): void {
    const { writer, clock, changed } = this.#parts;
    // Of no run, because the entries of a run are removed with it.
    writer.log({ timeMs: clock(), runId: null, who, what });
    changed();
  }
}

function inProgress(what: string): Problem {
  return new Problem('wrong-state', `${what} is still in progress.`, 'Delete it when the run has ended.');
}
