import type { WindowAxis } from '../../monitor/ports/samples.ts';
import { firstIndex } from '../../probability/first-index.ts';
import type { BlockCache } from './block-cache.ts';
import { GAUGE_COLUMN, TIME_COLUMN } from './block-format.ts';
import { GROUP } from './column-format.ts';
import { NODE_GROUPS, type Pyramid } from './pyramid.ts';
import type { BlockList } from './run-index.ts';

/** Clocks are not quite regular: an edge is searched this many readings beyond its expected place. */
const MARGIN = 8;

/**
 * Finds where the columns of a window start. Edges must be requested in rising order. `block` and `index` give the reading
 * found last; block = number of blocks if there is none.
 */
export class ColumnEdgeFinder {
  block = 0;
  index = 0;
  readonly #list: BlockList;
  readonly #cache: BlockCache;
  readonly #pyramid: Pyramid;
  readonly #axis: WindowAxis;
  readonly #column: number;
  /** Readings after an edge that are decoded with it. */
  readonly #ahead: number;
  /** The node that starts at the reading, if it was found by one. */
  #level = -1;
  #node = -1;

  /** @param readings approximate number between two edges */
  constructor(list: BlockList, cache: BlockCache, pyramid: Pyramid, axis: WindowAxis, readings: number) {
    this.#list = list;
    this.#cache = cache;
    this.#pyramid = pyramid;
    this.#axis = axis;
    // If several edges fall into a group, decode all of it at once.
    this.#ahead = readings < GROUP / 2 ? GROUP : MARGIN;
    this.#column = axis === 'time' ? TIME_COLUMN : GAUGE_COLUMN;
  }

  /** Finds the first reading at or beyond the edge (`after`: beyond it). */
  find(edge: number, after = false): void {
    const list = this.#list;
    this.#level = -1;
    const block = list.find(this.#axis, edge, after, this.block);
    // Edges rise, so everything before the last one can be skipped.
    const from = block === this.block ? Math.floor(this.index / GROUP) : 0;
    this.block = block;
    this.index = 0;
    if (this.block === list.length) return;
    const first = this.#blockStart(this.block);
    if (after ? first > edge : first >= edge) return;
    const column = this.#cache.block(list, this.block)?.column(this.#column);
    const firstGroup = list.groupsBefore(this.block);
    const groups = list.groupsBefore(this.block + 1) - firstGroup;
    const startOf = (g: number) => {
      const start = this.#pyramid.startOf(0, firstGroup + g, this.#column);
      return Number.isNaN(start) ? (column?.value(g, 0) ?? Number.POSITIVE_INFINITY) : start;
    };
    // The last group that starts before the edge.
    const g = firstIndex(from + 1, groups, (i) => !(after ? startOf(i) <= edge : startOf(i) < edge)) - 1;
    if (!column) {
      // A damaged or deleted block cannot be divided within a group: all of the group counts as before the edge.
      if (g + 1 < groups) this.index = (g + 1) * GROUP;
      else this.block++;
      return;
    }
    const start = startOf(g);
    const end = g + 1 < groups ? startOf(g + 1) : this.#blockEnd(this.block);
    this.index = g * GROUP + column.firstAt(g, edge, after, this.#upTo((edge - start) / (end - start)));
    if (this.index >= list.count(this.block)) {
      this.block++;
      this.index = 0;
    }
  }

  /** Finds the start of a node near the edge, on `level` or below; false = none is within `tolerance`. */
  findNear(edge: number, level: number, tolerance: number): boolean {
    const list = this.#list;
    const block = list.find(this.#axis, edge, false, this.block);
    if (block >= list.stored) return false;
    const nextGroup = list.groupsBefore(block + 1);
    // Edges rise, so everything before the last one can be skipped.
    const firstGroup = list.groupsBefore(block) + (block === this.block ? Math.floor(this.index / GROUP) : 0);
    for (let l = level; l >= 0; l--) {
      const size = NODE_GROUPS[l]!;
      const last = Math.ceil(nextGroup / size);
      let node = Math.floor(firstGroup / size);
      let before = Number.NaN;
      let start = this.#pyramid.startOf(l, node, this.#column);
      while (node < last && start < edge) {
        before = start;
        start = this.#pyramid.startOf(l, ++node, this.#column);
      }
      // NaN (an unknown node) makes comparisons false.
      const up = start - edge;
      const down = edge - before;
      if (up <= tolerance && !(down < up)) this.#moveTo(block, l, node);
      else if (down <= tolerance) this.#moveTo(block, l, node - 1);
      else continue;
      return true;
    }
    return false;
  }

  /** Time of the reading found, UTC ms; null = its block is damaged. */
  get timeMs(): number | null {
    return this.#valueOf(TIME_COLUMN);
  }

  /** Gauge length of the reading found, mm; null = its block is damaged. */
  get gaugeMm(): number | null {
    return this.#valueOf(GAUGE_COLUMN);
  }

  #moveTo(near: number, level: number, node: number): void {
    const group = node * NODE_GROUPS[level]!;
    let block = near;
    while (this.#list.groupsBefore(block) > group) block--;
    while (block < this.#list.length && this.#list.groupsBefore(block + 1) <= group) block++;
    this.block = block;
    this.index = (group - this.#list.groupsBefore(block)) * GROUP;
    this.#level = level;
    this.#node = node;
  }

  #valueOf(column: number): number | null {
    const { block, index } = this;
    if (index === 0) return column === TIME_COLUMN ? this.#list.fromMs(block) : this.#list.fromGaugeMm(block);
    if (this.#level >= 0) {
      const start = this.#pyramid.startOf(this.#level, this.#node, column);
      if (!Number.isNaN(start)) return start;
    }
    const view = this.#cache.block(this.#list, block)?.column(column);
    if (view) return view.value(Math.floor(index / GROUP), index % GROUP, this.#ahead);
    const start = this.#pyramid.startOf(0, this.#list.groupsBefore(block) + Math.floor(index / GROUP), column);
    return Number.isNaN(start) ? null : start;
  }

  /** How many readings of a group to decode if an edge is expected at this share of it. */
  #upTo(part: number): number {
    // If the strand stood still, the whole group is at one place: 0 / 0.
    return part >= 0 && part <= 1 ? Math.floor(part * GROUP) + this.#ahead : GROUP;
  }

  #blockEnd(block: number): number {
    return this.#axis === 'time' ? this.#list.toMs(block) : this.#list.toGaugeMm(block);
  }

  #blockStart(block: number): number {
    return this.#axis === 'time' ? this.#list.fromMs(block) : this.#list.fromGaugeMm(block);
  }
}
