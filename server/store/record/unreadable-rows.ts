import { messageOf } from '../../problem/problem.ts';

/** A row that cannot be read. It is left out of every list. */
export interface UnreadableRow {
  readonly table: string;
  readonly row: number | string;
  /** null = it belongs to no run. */
  readonly runId: number | null;
  readonly why: string;
}

export type UnreadableListener = (row: UnreadableRow) => void;

/** Beyond this many, further rows are still left out, but neither reported nor counted. */
const KNOWN_MAX = 10_000;

/** Leaves out rows that cannot be read, so that one bad row never takes a list down, and reports each of them once. */
export class UnreadableRows {
  readonly #listener: UnreadableListener;
  readonly #known = new Set<string>();
  readonly #countByRun = new Map<number, number>();

  constructor(listener: UnreadableListener = () => {}) {
    this.#listener = listener;
  }

  /** @returns what `read` returns; null = it throws, because the row is damaged */
  read<T>(place: Omit<UnreadableRow, 'why'>, read: () => T): T | null {
    try {
      return read();
    } catch (thrown) {
      this.#report({ ...place, why: messageOf(thrown) });
      return null;
    }
  }

  /** The readable ones of some rows. */
  all<Row, T>(rows: readonly Row[], placeOf: (row: Row) => Omit<UnreadableRow, 'why'>, read: (row: Row) => T): T[] {
    return rows.flatMap((row) => {
      const one = this.read(placeOf(row), () => ({ value: read(row) }));
      return one === null ? [] : [one.value];
    });
  }

  /** How many rows of a run were found unreadable since the start. */
  ofRun(runId: number): number {
    return this.#countByRun.get(runId) ?? 0;
  }

  #report(row: UnreadableRow): void {
    const key = `${row.table} ${row.row}`;
    if (this.#known.has(key) || this.#known.size >= KNOWN_MAX) return;
    this.#known.add(key);
    if (row.runId !== null) this.#countByRun.set(row.runId, this.ofRun(row.runId) + 1);
    this.#listener(row);
  }
}
