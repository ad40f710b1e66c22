import { type Signal, signal } from '@preact/signals';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import type { StrandOnWinder } from '../../server/strand/position.ts';
import { isAbort } from '../service/request.ts';
import { requestSpoolWindow } from '../service/window.ts';
import { type RequestPlan, type RowColumns, requestOf, rowOf } from './ribbon-plan.ts';

/** Pause after a failed request. */
const AGAIN_AFTER_MS = 3000;

/** The readings at a place on the spool. */
export interface ValueAt {
  readonly minMm: number;
  readonly maxMm: number;
  readonly dieC: number | null;
  readonly timeMs: number | null;
}

/** Fetches the traces of rows as they come into view, several rows per request, and keeps them. */
export class RibbonData {
  readonly #runId: number;
  readonly #strand: StrandOnWinder;
  readonly #plan: RequestPlan;
  /** The temperature of the die; null = the line sends none. */
  readonly #dieSignal: string | null;
  readonly #groups = new Map<number, { window: WindowView | null; lengthMm: number }>();
  readonly #controller = new AbortController();
  /** Rises with every answer, so that rows are drawn again. */
  readonly version: Signal<number> = signal(0);

  constructor(runId: number, strand: StrandOnWinder, plan: RequestPlan, dieSignal: string | null) {
    this.#dieSignal = dieSignal;
    this.#runId = runId;
    this.#strand = strand;
    this.#plan = plan;
  }

  stop(): void {
    this.#controller.abort();
  }

  /** The columns of a row, or null while they are being fetched. `lengthMm` is how long the spool is now. */
  row(row: number, lengthMm: number): RowColumns | null {
    const group = Math.floor(row / this.#plan.rowsPerRequest);
    const known = this.#groups.get(group);
    const { toMm } = requestOf(this.#plan, group);
    // A group that was complete when requested stays. The last one is requested again as the spool grows.
    if (!known || (known.window !== null && known.lengthMm < Math.min(lengthMm, toMm) - 20))
      void this.#ask(group, lengthMm);
    return known?.window ? rowOf(this.#plan, known.window, row) : null;
  }

  /** What was measured at a place, from what is fetched already; null = nothing. */
  valueAt(positionMm: number): ValueAt | null {
    const group = Math.floor(positionMm / this.#plan.rowMm / this.#plan.rowsPerRequest);
    const window = this.#groups.get(group)?.window;
    if (!window) return null;
    const { fromMm, toMm, columns } = requestOf(this.#plan, group);
    const wanted = Math.floor(((positionMm - fromMm) / (toMm - fromMm)) * columns);
    // Zoomed in beyond the readings, the columns between two of them are empty.
    for (const at of [wanted, wanted - 1, wanted + 1]) {
      const [minMm, maxMm] = [window.signals.d?.min[at], window.signals.d?.max[at]];
      if (minMm == null || maxMm == null) continue;
      const die = this.#dieSignal === null ? null : (window.signals[this.#dieSignal]?.mean[at] ?? null);
      return { minMm, maxMm, dieC: die, timeMs: window.timeMs[at] ?? null };
    }
    return null;
  }

  async #ask(group: number, lengthMm: number): Promise<void> {
    const old = this.#groups.get(group);
    this.#groups.set(group, { window: old?.window ?? null, lengthMm });
    const { fromMm, toMm, columns } = requestOf(this.#plan, group);
    try {
      const window = await requestSpoolWindow(
        this.#runId,
        this.#strand,
        { from: fromMm, to: toMm, columns, signals: this.#dieSignal === null ? ['d'] : ['d', this.#dieSignal] },
        this.#controller.signal,
      );
      this.#groups.set(group, { window, lengthMm });
      this.version.value += 1;
    } catch (thrown) {
      if (isAbort(thrown)) return;
      console.error(thrown);
      // Drawing the rows again requests them again.
      setTimeout(() => {
        if (this.#controller.signal.aborted) return;
        this.#groups.delete(group);
        this.version.value += 1;
      }, AGAIN_AFTER_MS);
    }
  }
}
