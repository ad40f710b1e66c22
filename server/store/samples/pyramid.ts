import type { BlockCache } from './block-cache.ts';
import { GROUP } from './column-format.ts';
import type { BlockList } from './run-index.ts';
import { LEVELS_MAX } from './sample-ids.ts';
import { FAN_OUT, PAGE_NODES } from './summary.ts';
import type { PageView } from './summary-page.ts';

/** Groups that a node of each level sums up. */
export const NODE_GROUPS: readonly number[] = Array.from({ length: LEVELS_MAX }, (_, level) => FAN_OUT ** level);

/** The summaries of a run as one query sees them. Column numbers as in a block. */
export class Pyramid {
  readonly #list: BlockList;
  readonly #cache: BlockCache;
  /** Nodes of each level that are in a page that was written. */
  readonly #written: readonly number[];
  /** The page that was looked at last of each level and column, and its number. */
  readonly #views: (PageView | null)[][] = NODE_GROUPS.map(() => []);
  readonly #pages: number[][] = NODE_GROUPS.map(() => []);

  constructor(list: BlockList, cache: BlockCache) {
    this.#list = list;
    this.#cache = cache;
    const groups = list.storedGroups;
    this.#written = NODE_GROUPS.map((size) =>
      // A run whose readings were let go has the pages at its end too, though they are not full.
      list.thinnedMs !== null ? Math.floor(groups / size) : Math.floor(groups / size / PAGE_NODES) * PAGE_NODES,
    );
  }

  /** Whether a node is in a page that was written. */
  has(level: number, node: number): boolean {
    return node < this.#written[level]!;
  }

  /** The page of a node that `has`. Null = damaged. */
  page(level: number, node: number, column: number): PageView | null {
    const page = Math.floor(node / PAGE_NODES);
    if (this.#pages[level]![column] === page) return this.#views[level]![column]!;
    const view = this.#cache.page(this.#list.runId, level, page, column);
    this.#pages[level]![column] = page;
    this.#views[level]![column] = view;
    return view;
  }

  /** Where a node begins on an axis; NaN = not known here. */
  startOf(level: number, node: number, axis: number): number {
    if (!this.has(level, node)) return Number.NaN;
    return this.page(level, node, axis)?.value(0, node % PAGE_NODES) ?? Number.NaN;
  }

  /** The highest level whose nodes are not larger than this; −1 = not even a group is as small. */
  static levelBelow(readings: number): number {
    let level = -1;
    while (level + 1 < LEVELS_MAX && NODE_GROUPS[level + 1]! * GROUP <= readings) level++;
    return level;
  }
}
