import { type Signal, signal } from '@preact/signals';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { isAbort } from '../service/request.ts';
import { requestWindow } from '../service/window.ts';
import { askOf, type RowColumns, type RowsAsked, rowOf } from './ribbon-plan.ts';

/** After a service that did not answer. */
const AGAIN_AFTER_MS = 3000;

/** Fetches the traces of rows as they come into view, several rows a question, and keeps them. */
export class RibbonData {
  readonly #runId: number;
  readonly #startMm: number;
  /** True length = this × counted: readings are asked for as the line counted them. */
  readonly #lengthFactor: number;
  readonly #plan: RowsAsked;
  readonly #groups = new Map<number, { window: WindowView | null; lengthMm: number }>();
  readonly #asked = new AbortController();
  /** Rises with every answer, so that rows draw anew. */
  readonly version: Signal<number> = signal(0);

  constructor(runId: number, startMm: number, lengthFactor: number, plan: RowsAsked) {
    this.#runId = runId;
    this.#startMm = startMm;
    this.#lengthFactor = lengthFactor;
    this.#plan = plan;
  }

  stop(): void {
    this.#asked.abort();
  }

  /** The columns of a row, or null while they are being fetched. `lengthMm` is how long the spool is now. */
  row(row: number, lengthMm: number): RowColumns | null {
    const group = Math.floor(row / this.#plan.rowsPerAsk);
    const known = this.#groups.get(group);
    const { toMm } = askOf(this.#plan, group);
    // A group that was whole when asked stays; the last one of a growing spool is asked anew as it grows.
    if (!known || (known.window !== null && known.lengthMm < Math.min(lengthMm, toMm) - 20))
      void this.#ask(group, lengthMm);
    return known?.window ? rowOf(this.#plan, known.window, row) : null;
  }

  async #ask(group: number, lengthMm: number): Promise<void> {
    const old = this.#groups.get(group);
    this.#groups.set(group, { window: old?.window ?? null, lengthMm });
    const { fromMm, toMm, columns } = askOf(this.#plan, group);
    try {
      const window = await requestWindow(
        this.#runId,
        {
          axis: 'length',
          from: this.#startMm + fromMm / this.#lengthFactor,
          to: this.#startMm + toMm / this.#lengthFactor,
          columns,
          signals: ['d'],
        },
        this.#asked.signal,
      );
      this.#groups.set(group, { window, lengthMm });
      this.version.value += 1;
    } catch (thrown) {
      if (isAbort(thrown)) return;
      console.error(thrown);
      // Rows that are drawn anew ask again.
      setTimeout(() => {
        if (this.#asked.signal.aborted) return;
        this.#groups.delete(group);
        this.version.value += 1;
      }, AGAIN_AFTER_MS);
    }
  }
}
