import type { BlockCache } from './block-cache.ts';
import { GROUP } from './column-format.ts';
import type { BlockList } from './run-index.ts';
import { LEVELS_MAX } from './sample-ids.ts';
import { FAN_OUT, PAGE_NODES } from './summary.ts';
import type { PageView } from './summary-page.ts';

/** Groups that a node of each level sums up. */
export const NODE_GROUPS: readonly number[] = Array.from({ length: LEVELS_MAX }, (_, level) => FAN_OUT ** level);

/** The summaries of a run for one query. Column numbers as in a block. */
export class Pyramid {
  readonly #list: BlockList;
  readonly #cache: BlockCache;
  /** Number of nodes of each level in stored pages. */
  readonly #written: readonly number[];
  /** The page that was used last of each level and column, and its number. */
  readonly #views: (PageView | null)[][] = NODE_GROUPS.map(() => []);
  readonly #pages: number[][] = NODE_GROUPS.map(() => []);

  constructor(list: BlockList, cache: BlockCache) {
    this.#list = list;
    this.#cache = cache;
    const groups = list.storedGroups;
    this.#written = NODE_GROUPS.map((size) =>
      // A run whose readings were deleted also has its last pages stored, though they are not full.
      list.thinnedMs !== null ? Math.floor(groups / size) : Math.floor(groups / size / PAGE_NODES) * PAGE_NODES,
    );
  }

  /** Whether a node is in a stored page. */
  has(level: number, node: number): boolean {
    return node < this.#written[level]!;
  }

  /** The page of a node, which `has` must be true for. null = damaged. */
  page(level: number, node: number, column: number): PageView | null {
    const page = Math.floor(node / PAGE_NODES);
    if (this.#pages[level]![column] === page) return this.#views[level]![column]!;
    const view = this.#cache.page(this.#list.runId, level, page, column);
    this.#pages[level]![column] = page;
    this.#views[level]![column] = view;
    return view;
  }

  /** Where a node starts on an axis; NaN = not stored. */
  startOf(level: number, node: number, axis: number): number {
    if (!this.has(level, node)) return Number.NaN;
    return this.page(level, node, axis)?.value(0, node % PAGE_NODES) ?? Number.NaN;
  }

  /** The highest level whose nodes hold at most this many readings; −1 = fewer than a group. */
  static levelBelow(readings: number): number {
    let level = -1;
    while (level + 1 < LEVELS_MAX && NODE_GROUPS[level + 1]! * GROUP <= readings) level++;
    return level;
  }
}
