import type { ChannelColumns, WindowColumns, WindowQuery } from '../../monitor/ports.ts';
import type { BlockCache } from './block-cache.ts';
import { GAUGE_COLUMN, TIME_COLUMN } from './block-format.ts';
import type { ColumnView } from './column-view.ts';
import { GROUP } from './group-stream.ts';
import type { BlockList } from './run-index.ts';
import { FAN_OUT } from './sample-ids.ts';

/**
 * Answers a window: finds the reading at each column edge, then sums up between neighbouring edges from the highest
 * summaries that fit, so that readings are decoded only in the groups that hold an edge.
 * Column i holds the readings with from + (to − from) × i / columns ≤ x < the next edge; the last one includes `to`.
 */
export function windowColumns(
  query: WindowQuery,
  list: BlockList,
  cache: BlockCache,
  numberOf: (channel: string) => number | undefined,
): WindowColumns {
  const { columns, from, to, axis } = query;
  const names = [...new Set(query.channels)];
  const spread = query.spread === true;
  const sums = names.map((name) => new ColumnSums(columns, numberOf(name), spread));
  const known = sums.filter((s) => s.channel !== undefined);
  const between = new Between(list, cache, known);
  const finder = new EdgeFinder(list, cache, axis);

  const count = new Array<number>(columns).fill(0);
  const timeMs = new Array<number | null>(columns).fill(null);
  const gaugeMm = new Array<number | null>(columns).fill(null);
  let block = 0;
  let index = 0;
  finder.find(from, false, 0);
  for (let i = 0; i < columns; i++) {
    block = finder.block;
    index = finder.index;
    if (i === columns - 1) finder.find(to, true, block);
    else finder.find(from + ((to - from) * (i + 1)) / columns, false, block);
    const readings = list.before(finder.block) + finder.index - list.before(block) - index;
    if (readings <= 0) continue;
    count[i] = readings;
    timeMs[i] = valueAt(list, cache, TIME_COLUMN, block, index);
    gaugeMm[i] = valueAt(list, cache, GAUGE_COLUMN, block, index);
    between.add(i, block, index, finder.block, finder.index);
  }
  const channels: Record<string, ChannelColumns> = {};
  for (let c = 0; c < names.length; c++) channels[names[c]!] = sums[c]!.columns();
  return { axis, from, to, count, timeMs, gaugeMm, channels };
}

/** Finds the first reading at an edge or beyond it. Edges come in rising order. */
class EdgeFinder {
  block = 0;
  index = 0;
  readonly #list: BlockList;
  readonly #cache: BlockCache;
  readonly #axis: 'time' | 'length';

  constructor(list: BlockList, cache: BlockCache, axis: 'time' | 'length') {
    this.#list = list;
    this.#cache = cache;
    this.#axis = axis;
  }

  /** `after`: the first reading beyond the edge. `low`: a block that is not behind it. */
  find(edge: number, after: boolean, low: number): void {
    const list = this.#list;
    this.block = list.find(this.#axis, edge, after, low);
    this.index = 0;
    if (this.block === list.length) return;
    const first = this.#axis === 'time' ? list.fromMs(this.block) : list.fromGaugeMm(this.block);
    if (after ? first > edge : first >= edge) return;
    const column = this.#cache.block(list, this.block)?.column(this.#axis === 'time' ? TIME_COLUMN : GAUGE_COLUMN);
    // A block that is damaged or was let go cannot be cut: all of it lies behind the edge.
    if (!column) {
      this.block++;
      return;
    }
    let g = 0;
    while (after ? column.maxOf(g) <= edge : column.maxOf(g) < edge) g++;
    const values = column.group(g);
    let lo = 0;
    let hi = Math.min(GROUP, list.count(this.block) - g * GROUP);
    while (lo < hi) {
      const middle = (lo + hi) >>> 1;
      if (after ? values[middle]! > edge : values[middle]! >= edge) hi = middle;
      else lo = middle + 1;
    }
    this.index = g * GROUP + lo;
  }
}

function valueAt(list: BlockList, cache: BlockCache, column: number, block: number, index: number): number | null {
  if (index === 0) return column === TIME_COLUMN ? list.fromMs(block) : list.fromGaugeMm(block);
  const view = cache.block(list, block)?.column(column);
  return view ? view.group(Math.floor(index / GROUP))[index % GROUP]! : null;
}

/** Running minimum, maximum, sum and number of values of one channel, column by column. */
class ColumnSums {
  /** Undefined = the run has no such channel. */
  readonly channel: number | undefined;
  readonly values: Float64Array;
  readonly min: Float64Array;
  readonly max: Float64Array;
  readonly sum: Float64Array;
  /** Squared deviations from the column's mean, summed up; null = not asked for. */
  readonly squares: Float64Array | null;

  constructor(columns: number, channel: number | undefined, spread: boolean) {
    this.channel = channel;
    this.values = new Float64Array(columns);
    this.min = new Float64Array(columns).fill(Number.POSITIVE_INFINITY);
    this.max = new Float64Array(columns).fill(Number.NEGATIVE_INFINITY);
    this.sum = new Float64Array(columns);
    this.squares = spread ? new Float64Array(columns) : null;
  }

  /** `squares` of the added values, from their own mean; counts only where the spread is asked for. */
  add(i: number, values: number, min: number, max: number, sum: number, squares: number): void {
    if (values === 0) return;
    const before = this.values[i]!;
    if (this.squares !== null) {
      this.squares[i]! += squares;
      // Chan, Golub & LeVeque (1983), as in `summary.ts`.
      if (before > 0) {
        const apart = sum / values - this.sum[i]! / before;
        this.squares[i]! += apart * apart * ((before * values) / (before + values));
      }
    }
    this.values[i] = before + values;
    if (min < this.min[i]!) this.min[i] = min;
    if (max > this.max[i]!) this.max[i] = max;
    this.sum[i]! += sum;
  }

  columns(): ChannelColumns {
    const n = this.values.length;
    const min = new Array<number | null>(n).fill(null);
    const max = new Array<number | null>(n).fill(null);
    const mean = new Array<number | null>(n).fill(null);
    for (let i = 0; i < n; i++) {
      if (this.values[i] === 0) continue;
      min[i] = this.min[i]!;
      max[i] = this.max[i]!;
      // Rounding must not carry a mean out of its own extremes; a sum beyond all doubles has no mean.
      const m = this.sum[i]! / this.values[i]!;
      mean[i] = Number.isFinite(m) ? Math.min(Math.max(m, min[i]!), max[i]!) : null;
    }
    return this.squares === null ? { min, max, mean } : { min, max, mean, sd: this.#deviations(this.squares) };
  }

  #deviations(squares: Float64Array): (number | null)[] {
    return Array.from(squares, (sum, i) => {
      const sd = Math.sqrt(sum / (this.values[i]! - 1));
      return this.values[i]! > 1 && Number.isFinite(sd) ? sd : null;
    });
  }
}

/** Sums up the readings between two places, for all asked channels at once. */
class Between {
  readonly #list: BlockList;
  readonly #cache: BlockCache;
  readonly #sums: readonly ColumnSums[];

  constructor(list: BlockList, cache: BlockCache, sums: readonly ColumnSums[]) {
    this.#list = list;
    this.#cache = cache;
    this.#sums = sums;
  }

  add(i: number, block: number, index: number, endBlock: number, endIndex: number): void {
    if (this.#sums.length === 0) return;
    if (block === endBlock) {
      this.#part(i, block, index, endIndex);
      return;
    }
    let next = block;
    if (index > 0) {
      this.#part(i, block, index, this.#list.count(block));
      next++;
    }
    while (next < endBlock) next = this.#whole(i, next, endBlock);
    if (endIndex > 0) this.#part(i, endBlock, 0, endIndex);
  }

  /** Add whole blocks from `block` on by the highest summary that fits; the block after them. */
  #whole(i: number, block: number, end: number): number {
    let level = -1;
    let node = block;
    let blocks = 1;
    let page = Math.floor(block / FAN_OUT);
    // Node n of a level sums up FAN_OUT^level blocks; its page is written when its last block is.
    for (let l = 0, n = block, size = 1; ; l++) {
      const p = Math.floor(n / FAN_OUT);
      const written = (p + 1) * FAN_OUT * size <= this.#list.stored || (l === 0 && this.#list.thinnedMs !== null);
      if (!written || block + size > end) break;
      level = l;
      node = n;
      blocks = size;
      page = p;
      if (n % FAN_OUT !== 0) break;
      n /= FAN_OUT;
      size *= FAN_OUT;
    }
    const view = level < 0 ? null : this.#cache.page(this.#list.runId, level, page);
    if (!view) {
      // Not summed up yet, or the summary is damaged.
      this.#part(i, block, 0, this.#list.count(block));
      return block + 1;
    }
    const at = node % FAN_OUT;
    for (const sums of this.#sums) {
      const columns = view.channel(sums.channel!);
      if (!columns) continue;
      sums.add(i, columns.count[at]!, columns.min[at]!, columns.max[at]!, columns.sum[at]!, columns.squares[at]!);
    }
    return block + blocks;
  }

  /** Add readings [start, end) of a block. */
  #part(i: number, block: number, start: number, end: number): void {
    const view = this.#cache.block(this.#list, block);
    if (!view) return;
    for (const sums of this.#sums) {
      const column = view.column(sums.channel!);
      if (column) addPart(sums, i, column, start, end, view.count);
    }
  }
}

function addPart(sums: ColumnSums, i: number, column: ColumnView, start: number, end: number, count: number): void {
  let at = start;
  while (at < end) {
    const g = Math.floor(at / GROUP);
    const groupStart = g * GROUP;
    const groupEnd = Math.min(groupStart + GROUP, count);
    const stop = Math.min(end, groupEnd);
    // A group's table entry knows no squares: for the spread its readings are looked at.
    if (at === groupStart && stop === groupEnd && sums.squares === null) {
      sums.add(i, column.finiteOf(g), column.minOf(g), column.maxOf(g), column.sumOf(g), 0);
    } else {
      addReadings(sums, i, column.group(g), at - groupStart, stop - groupStart);
    }
    at = stop;
  }
}

function addReadings(sums: ColumnSums, i: number, values: Float64Array, start: number, end: number): void {
  let n = 0;
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  for (let j = start; j < end; j++) {
    const v = values[j]!;
    if (!Number.isFinite(v)) continue;
    n++;
    if (v < min) min = v;
    if (v > max) max = v;
    sum += v;
  }
  let squares = 0;
  if (sums.squares !== null) {
    const mean = sum / n;
    for (let j = start; j < end; j++) if (Number.isFinite(values[j]!)) squares += (values[j]! - mean) ** 2;
  }
  sums.add(i, n, min, max, sum, squares);
}
