import { BlockView, DamagedBlock, FIRST_SIGNAL } from './block-format.ts';
import type { BlockList } from './run-index.ts';
import { blockId, summaryId } from './sample-ids.ts';
import type { SampleReads } from './sample-tables.ts';
import { EMPTY_PAGE, PageView } from './summary-page.ts';

/** About 6 MB of packed blocks, and at most 16 MB of summaries. */
const BLOCKS_MAX = 512;
const PAGES_MAX = 4096;

/** Called once for each block or page that cannot be read. Its readings are shown as gaps; the rest stays readable. */
export type DamageListener = (what: { runId: number; block: number; level: number | null; why: string }) => void;

/** Recently used blocks and summary pages. Stored data never changes, so the cache needs no invalidation. */
export class BlockCache {
  readonly #reads: SampleReads;
  readonly #damaged: DamageListener;
  readonly #blocks = new Generations<BlockView | null>(BLOCKS_MAX);
  readonly #pages = new Generations<PageView | null>(PAGES_MAX);
  #extras = new WeakMap<Uint8Array, BlockView | null>();
  /** Runs of which everything is decoded when it is read. */
  readonly #careful = new Set<number>();
  readonly #reported = new Set<string>();

  constructor(reads: SampleReads, damaged: DamageListener) {
    this.#reads = reads;
    this.#damaged = damaged;
  }

  /**
   * Makes a query of a run. What cannot be decoded although its checksum agrees shows only half-way: the query is then made
   * again, and everything is decoded before it is used.
   */
  guarded<T>(runId: number, query: () => T): T {
    try {
      return query();
    } catch (thrown) {
      if (!isDamage(thrown) || this.#careful.has(runId)) throw thrown;
      this.#careful.add(runId);
      this.#blocks.clear();
      this.#pages.clear();
      this.#extras = new WeakMap();
      return query();
    }
  }

  /** null = damaged or deleted. */
  block(list: BlockList, number: number): BlockView | null {
    if (list.thinnedMs !== null && number < list.stored) return null;
    if (number >= list.stored) return this.#extra(list, number);
    const id = blockId(list.runId, number);
    const cached = this.#blocks.get(id);
    if (cached !== undefined) return cached;
    const view = this.#readable(
      () => {
        const data = this.#reads.block(list.runId, number);
        if (!data) throw new DamagedBlock('the block is missing');
        const read = new BlockView(data);
        if (read.count !== list.count(number)) throw new DamagedBlock('the block has another number of readings');
        return this.#whole(list.runId, read);
      },
      list.runId,
      number,
      null,
    );
    this.#blocks.set(id, view);
    return view;
  }

  /** A column of a stored page of summaries; null = damaged. */
  page(runId: number, level: number, page: number, column: number): PageView | null {
    const id = summaryId(runId, level, page, column);
    const cached = this.#pages.get(id);
    if (cached !== undefined) return cached;
    const view = this.#readable(
      () => {
        const data = this.#reads.summary(runId, level, page, column);
        if (data) return this.#whole(runId, new PageView(data));
        if (column >= FIRST_SIGNAL) return EMPTY_PAGE;
        throw new DamagedBlock('the summary is missing');
      },
      runId,
      page,
      level,
    );
    this.#pages.set(id, view);
    return view;
  }

  #extra(list: BlockList, number: number): BlockView | null {
    const { data } = list.extras[number - list.stored]!;
    let view = this.#extras.get(data);
    if (view === undefined) {
      view = this.#readable(() => this.#whole(list.runId, new BlockView(data)), list.runId, number, null);
      this.#extras.set(data, view);
    }
    return view;
  }

  #whole<View extends BlockView | PageView>(runId: number, view: View): View {
    if (this.#careful.has(runId)) view.requireWhole();
    return view;
  }

  #readable<T>(read: () => T, runId: number, block: number, level: number | null): T | null {
    try {
      return read();
    } catch (thrown) {
      if (!isDamage(thrown)) throw thrown;
      const key = `${runId} ${level} ${block}`;
      if (!this.#reported.has(key)) {
        this.#reported.add(key);
        this.#damaged({ runId, block, level, why: thrown.message });
      }
      return null;
    }
  }
}

/** Reading beyond a buffer means damage, as a wrong checksum does. Other errors are faults of the engine. */
const isDamage = (thrown: unknown): thrown is Error => thrown instanceof DamagedBlock || thrown instanceof RangeError;

/**
 * Keeps at least the last max / 2 used values and at most `max`. With two generations a look-up moves nothing.
 */
class Generations<T> {
  readonly #max: number;
  #young = new Map<number, T>();
  #old = new Map<number, T>();
  #lastId = -1;
  #last: T | undefined;

  constructor(max: number) {
    this.#max = max;
  }

  clear(): void {
    this.#young = new Map();
    this.#old = new Map();
    this.#lastId = -1;
  }

  get(id: number): T | undefined {
    // A window looks at the same block many times in a row.
    if (id === this.#lastId) return this.#last;
    let value = this.#young.get(id);
    if (value === undefined) {
      value = this.#old.get(id);
      if (value === undefined) return undefined;
      this.set(id, value);
    }
    this.#lastId = id;
    this.#last = value;
    return value;
  }

  set(id: number, value: T): void {
    if (this.#young.size * 2 >= this.#max) {
      this.#old = this.#young;
      this.#young = new Map();
    }
    this.#young.set(id, value);
  }
}
