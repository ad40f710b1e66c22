import type { Lot, Run } from '../../entities/run.ts';
import { checkedValues, PREPARATION_FIELDS, type Values, valuesText } from '../../preparation/fields.ts';
import { readPreparation } from '../../preparation/read-text.ts';
import { Problem, within } from '../../problem/problem.ts';
import { inTurns } from '../../worker/in-turns.ts';
import type { Clock } from '../clock.ts';
import type { LineMonitor } from '../line-monitor.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { SpoolRepository } from '../spool/spool-repository.ts';

/** The material of a run, and what the user's words say that is in no field yet. */
export interface LotOfRun {
  readonly runId: number;
  readonly startedMs: number;
  readonly timeZone: string;
  readonly lot: Lot | null;
  /** Read from the words of the user and not confirmed. */
  readonly proposed: Values;
}

export interface LotChange {
  readonly runIds: readonly number[];
  readonly name?: string | undefined;
  /** null removes a field. */
  readonly values?: Readonly<Record<string, Values[string] | null>> | undefined;
  /** Take over what was read from the words of the user. */
  readonly confirm: boolean;
}

const NO_LOT: Lot = { name: '', preparation: '', values: {} };

/** What users state about the material of runs and its preparation. Earlier statements stay in the record. */
export class LotService {
  readonly #parts: {
    readonly reader: RecordReader;
    readonly writer: RecordWriter;
    readonly spools: SpoolRepository;
    readonly monitor: LineMonitor;
    readonly clock: Clock;
  };

  constructor(parts: {
    reader: RecordReader;
    writer: RecordWriter;
    spools: SpoolRepository;
    monitor: LineMonitor;
    clock: Clock;
  }) {
    this.#parts = parts;
  }

  /** All runs, newest first, and the fields known to all. */
  async all(): Promise<{ readonly fields: typeof PREPARATION_FIELDS; readonly runs: readonly LotOfRun[] }> {
    const runs: LotOfRun[] = [];
    for await (const { id: runId, startedMs, timeZone, lot } of inTurns(this.#parts.reader.runs()))
      runs.push({ runId, startedMs, timeZone, lot, proposed: proposedFor(lot) });
    return { fields: PREPARATION_FIELDS, runs };
  }

  /** null removes the material. */
  state(run: Run, lot: Lot | null, by: string): void {
    this.#state([{ runId: run.id, lot }], by);
  }

  #state(stated: readonly { readonly runId: number; readonly lot: Lot | null }[], by: string): void {
    const { writer, monitor, clock } = this.#parts;
    writer.setLots(
      stated.map(({ runId, lot }) => ({ runId, lot, what: statementText(runId, lot) })),
      clock(),
      by,
    );
    for (const { runId } of stated) monitor.notesChanged(runId);
  }

  /**
   * Changes the same fields of several runs; all other fields stay.
   * @throws Problem unknown-run, or bad-request for an impossible value; nothing is changed then
   */
  change({ runIds, name, values = {}, confirm }: LotChange, by: string): ReturnType<LotService['all']> {
    const runs = within('/runIds', () => [...new Set(runIds)].map((id) => this.#parts.spools.run(id)));
    const kept = Object.entries(values).filter((entry): entry is [string, Values[string]] => entry[1] !== null);
    const set = within('/values', () => checkedValues(Object.fromEntries(kept)));
    const removed = Object.keys(values).filter((key) => values[key] === null);
    const changed = runs.map((run) => {
      const { name: nameBefore, preparation, values: before } = run.lot ?? NO_LOT;
      const read = confirm ? readPreparation(preparation) : { values: {}, rest: preparation };
      const all: Record<string, Values[string]> = { ...read.values, ...before, ...set };
      for (const key of removed) delete all[key];
      return { run, lot: { name: name?.trim() ?? nameBefore, preparation: read.rest, values: all } };
    });
    if (changed.length === 0)
      throw new Problem('bad-request', 'No run is chosen.', 'Choose at least one run.', { pointer: '/runIds' });
    this.#state(
      changed.map(({ run, lot }) => {
        const isEmpty = lot.name === '' && lot.preparation === '' && Object.keys(lot.values).length === 0;
        return { runId: run.id, lot: isEmpty ? null : lot };
      }),
      by,
    );
    return this.all();
  }
}

function statementText(runId: number, lot: Lot | null): string {
  if (lot === null) return `Removed the material of run ${runId}.`;
  const words = [lot.name, [valuesText(lot.values), lot.preparation].filter(Boolean).join(', ')];
  return `Entered the material of run ${runId}: “${words.filter(Boolean).join(': ')}”.`;
}

/** What the words of a user say about fields that are empty. */
function proposedFor(lot: Lot | null): Values {
  const read = readPreparation(lot?.preparation ?? '').values;
  return Object.fromEntries(Object.entries(read).filter(([key]) => !(key in (lot?.values ?? {}))));
}
