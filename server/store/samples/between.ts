import type { BlockCache } from './block-cache.ts';
import { GROUP } from './column-format.ts';
import type { ColumnSums } from './column-sums.ts';
import { NODE_GROUPS, type Pyramid } from './pyramid.ts';
import type { BlockList } from './run-index.ts';
import { LEVELS_MAX } from './sample-ids.ts';
import { FIELDS, PAGE_NODES, WHOLE_LEVEL } from './summary.ts';
import type { PageView } from './summary-page.ts';

const COUNT = FIELDS.indexOf('count');
const MIN = FIELDS.indexOf('min');
const MAX = FIELDS.indexOf('max');
const SUM = FIELDS.indexOf('sum');
const SQUARES = FIELDS.indexOf('squares');

/** Sums up the readings between two places for all requested signals at once, from the highest summaries that fit. */
export class Between {
  readonly #list: BlockList;
  readonly #cache: BlockCache;
  readonly #pyramid: Pyramid;
  readonly #sums: readonly ColumnSums[];
  /** The lower levels hold no squares, so the spread needs the readings themselves. */
  readonly #lowest: number;
  /** The pages of the node that was looked at last, in the order of `sums`. */
  readonly #pages: PageView[] = [];

  constructor(list: BlockList, cache: BlockCache, pyramid: Pyramid, sums: readonly ColumnSums[], spread: boolean) {
    this.#list = list;
    this.#cache = cache;
    this.#pyramid = pyramid;
    this.#sums = sums;
    this.#lowest = spread ? WHOLE_LEVEL : 0;
  }

  /** Adds the readings from one place up to another to column i. */
  add(i: number, fromBlock: number, fromIndex: number, toBlock: number, toIndex: number): void {
    if (this.#sums.length === 0) return;
    const list = this.#list;
    let group = list.groupsBefore(fromBlock) + Math.floor(fromIndex / GROUP);
    const lastGroup = list.groupsBefore(toBlock) + Math.floor(toIndex / GROUP);
    const inLastGroup = toIndex % GROUP;
    if (group === lastGroup) {
      this.#part(i, fromBlock, fromIndex, toIndex);
      return;
    }
    if (fromIndex % GROUP > 0) {
      this.#part(i, fromBlock, fromIndex, this.#groupEnd(fromBlock, fromIndex));
      group++;
    }
    let block = fromBlock;
    while (group < lastGroup) {
      let groups = this.#node(i, group, lastGroup, this.#lowest);
      if (groups === 0) {
        block = list.blockOfGroup(group, block);
        const index = (group - list.groupsBefore(block)) * GROUP;
        // Deleted readings leave extremes and means, but no spread.
        if (!this.#part(i, block, index, this.#groupEnd(block, index))) groups = this.#node(i, group, lastGroup, 0);
      }
      group += Math.max(1, groups);
    }
    if (inLastGroup > 0) this.#part(i, toBlock, toIndex - inLastGroup, toIndex);
  }

  /** Adds the highest node that starts at a group and ends before `beyond`. @returns its groups; 0 = there is none */
  #node(i: number, group: number, beyond: number, lowest: number): number {
    let level = -1;
    for (let l = 0; l < LEVELS_MAX; l++) {
      const size = NODE_GROUPS[l]!;
      if (group % size !== 0 || group + size > beyond || !this.#pyramid.has(l, group / size)) break;
      level = l;
    }
    // If a page is damaged, the levels below hold the same data.
    for (; level >= lowest; level--) {
      const size = NODE_GROUPS[level]!;
      if (!this.#look(level, group / size)) continue;
      this.#add(i, level, group / size);
      return size;
    }
    return 0;
  }

  /** Looks up the pages of a node, one per signal; false = one of them is damaged. */
  #look(level: number, node: number): boolean {
    for (let c = 0; c < this.#sums.length; c++) {
      const page = this.#pyramid.page(level, node, this.#sums[c]!.signal);
      if (page === null) return false;
      this.#pages[c] = page;
    }
    return true;
  }

  #add(i: number, level: number, node: number): void {
    const at = node % PAGE_NODES;
    for (let c = 0; c < this.#sums.length; c++) {
      const sums = this.#sums[c]!;
      const page = this.#pages[c]!;
      const count = page.value(COUNT, at);
      if (count === 0) continue;
      const squares = sums.squares === null ? 0 : level < WHOLE_LEVEL ? Number.NaN : page.value(SQUARES, at);
      sums.add(i, count, page.value(MIN, at), page.value(MAX, at), page.value(SUM, at), squares);
    }
  }

  #groupEnd(block: number, index: number): number {
    return Math.min((Math.floor(index / GROUP) + 1) * GROUP, this.#list.count(block));
  }

  /** Adds readings [start, end) of a block, all of one group. false = they are damaged or deleted. */
  #part(i: number, block: number, start: number, end: number): boolean {
    const view = this.#cache.block(this.#list, block);
    if (!view) return false;
    const g = Math.floor(start / GROUP);
    for (const sums of this.#sums) {
      const column = view.column(sums.signal);
      if (!column) continue;
      const { count, min, max, sum, squares } = column.summary(
        g,
        start - g * GROUP,
        end - g * GROUP,
        sums.squares !== null,
      );
      sums.add(i, count, min, max, sum, squares);
    }
    return true;
  }
}
