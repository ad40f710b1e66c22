import type { SignalColumns, WindowColumns, WindowQuery } from '../../monitor/ports/samples.ts';
import { Between } from './between.ts';
import type { BlockCache } from './block-cache.ts';
import { ColumnEdgeFinder } from './column-edge-finder.ts';
import { ColumnSums } from './column-sums.ts';
import { Pyramid } from './pyramid.ts';
import type { BlockList } from './run-index.ts';

/** An inner edge may be off by this share of a column, which the eye cannot see. */
const SHIFT_MAX = 1 / 8;

/**
 * Answers a window: finds where each column starts, then sums up between neighbouring edges from the highest summaries that
 * fit.
 *
 * Column i holds the readings from its place, from + (to − from) × i / columns, on. The first column starts at `from` and
 * the last one ends at `to`, exactly. If columns hold more than a group of readings, an edge between columns is moved to the
 * start of a node of the summaries, if one starts within an eighth of a column: then no reading has to be decoded. From four
 * groups on there always is one, so a window of months costs as much as one of minutes.
 */
export function windowColumns(
  query: WindowQuery,
  list: BlockList,
  cache: BlockCache,
  numberOf: (signal: string) => number | undefined,
): WindowColumns {
  const { columns, from, to, axis } = query;
  const names = [...new Set(query.signals)];
  const spread = query.spread === true;
  // A signal that the run does not have stays empty, and is not looked up.
  const requested = names.map((name) => {
    const signal = numberOf(name);
    return { name, signal, sums: new ColumnSums(columns, signal ?? Number.NaN, spread) };
  });
  const known = requested.filter(({ signal }) => signal !== undefined).map(({ sums }) => sums);
  const pyramid = new Pyramid(list, cache);
  const between = new Between(list, cache, pyramid, known, spread);
  const readings = readingsIn(query, list) / columns;
  const finder = new ColumnEdgeFinder(list, cache, pyramid, axis, readings);

  const width = (to - from) / columns;
  // Of nodes as large as a column, one in four starts near enough to an edge; of nodes a quarter as large, each.
  const level = width > 0 ? Pyramid.levelBelow(readings) : -1;

  const count = new Array<number>(columns).fill(0);
  const timeMs = new Array<number | null>(columns).fill(null);
  const gaugeMm = new Array<number | null>(columns).fill(null);
  finder.find(from);
  for (let i = 0; i < columns; i++) {
    const { block, index } = finder;
    const first = block < list.length ? { timeMs: finder.timeMs, gaugeMm: finder.gaugeMm } : null;
    const edge = from + ((to - from) * (i + 1)) / columns;
    if (i === columns - 1) finder.find(to, true);
    else if (level < 0 || !finder.findNear(edge, level, width * SHIFT_MAX)) finder.find(edge);
    const held = list.before(finder.block) + finder.index - list.before(block) - index;
    if (held <= 0) continue;
    count[i] = held;
    timeMs[i] = first?.timeMs ?? null;
    gaugeMm[i] = first?.gaugeMm ?? null;
    between.add(i, block, index, finder.block, finder.index);
  }
  // No prototype: a signal may be named `__proto__`.
  const signals: Record<string, SignalColumns> = Object.create(null);
  for (const { name, sums } of requested) signals[name] = sums.columns();
  return { axis, from, to, count, timeMs, gaugeMm, signals };
}

/** About how many readings a window holds, counted in whole blocks. */
function readingsIn({ axis, from, to }: WindowQuery, list: BlockList): number {
  const first = list.find(axis, from, false);
  const beyond = list.find(axis, to, true, first);
  return list.before(beyond) - list.before(first);
}
