import { BlockView, DamagedBlock } from './block-format.ts';
import type { BlockList } from './run-index.ts';
import { blockId, summaryId } from './sample-ids.ts';
import type { SampleReads } from './sample-tables.ts';
import { PageView } from './summary-page.ts';

/** About 10 MB of packed blocks and as much of summaries. */
const BLOCKS_MAX = 1024;
const PAGES_MAX = 4096;

/** Told once of each piece that cannot be understood; its readings are shown as gaps and the rest stays readable. */
export type DamageListener = (what: { runId: number; block: number; level: number | null; why: string }) => void;

/** Blocks and summary pages that were lately looked at. What is stored never changes, so nothing goes stale. */
export class BlockCache {
  readonly #reads: SampleReads;
  readonly #damaged: DamageListener;
  readonly #blocks = new Map<number, BlockView | null>();
  readonly #pages = new Map<number, PageView | null>();
  readonly #extras = new WeakMap<Uint8Array, BlockView>();
  readonly #told = new Set<string>();

  constructor(reads: SampleReads, damaged: DamageListener) {
    this.#reads = reads;
    this.#damaged = damaged;
  }

  /** Null = damaged. */
  block(list: BlockList, number: number): BlockView | null {
    if (number >= list.stored) return this.#extra(list.extras[number - list.stored]!.data);
    const id = blockId(list.runId, number);
    const known = touch(this.#blocks, id);
    if (known !== undefined) return known;
    const view = this.#understand(
      () => {
        const data = this.#reads.block(list.runId, number);
        if (!data) throw new DamagedBlock('the block is missing');
        const read = new BlockView(data);
        if (read.count !== list.count(number)) throw new DamagedBlock('the block has another number of readings');
        return read;
      },
      list.runId,
      number,
      null,
    );
    keep(this.#blocks, id, view, BLOCKS_MAX);
    return view;
  }

  /** Null = damaged: the blocks below must be asked. */
  page(runId: number, level: number, page: number): PageView | null {
    const id = summaryId(runId, level, page);
    const known = touch(this.#pages, id);
    if (known !== undefined) return known;
    const view = this.#understand(
      () => {
        const data = this.#reads.summary(runId, level, page);
        if (!data) throw new DamagedBlock('the summary is missing');
        return new PageView(data);
      },
      runId,
      page,
      level,
    );
    keep(this.#pages, id, view, PAGES_MAX);
    return view;
  }

  #extra(data: Uint8Array): BlockView {
    let view = this.#extras.get(data);
    if (!view) {
      view = new BlockView(data);
      this.#extras.set(data, view);
    }
    return view;
  }

  #understand<T>(read: () => T, runId: number, block: number, level: number | null): T | null {
    try {
      return read();
    } catch (thrown) {
      // Reading beyond a buffer says the same as a wrong checksum; faults of the engine go up.
      if (!(thrown instanceof DamagedBlock || thrown instanceof RangeError)) throw thrown;
      const key = `${runId} ${level} ${block}`;
      if (!this.#told.has(key)) {
        this.#told.add(key);
        this.#damaged({ runId, block, level, why: thrown.message });
      }
      return null;
    }
  }
}

/** Look up and move to the young end. */
function touch<T>(map: Map<number, T>, id: number): T | undefined {
  const value = map.get(id);
  if (value !== undefined) {
    map.delete(id);
    map.set(id, value);
  }
  return value;
}

function keep<T>(map: Map<number, T>, id: number, value: T, max: number): void {
  map.set(id, value);
  if (map.size > max) map.delete(map.keys().next().value!);
}
