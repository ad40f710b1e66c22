import type { ChannelColumns, WindowColumns, WindowQuery } from '../../monitor/ports/samples.ts';
import { Between } from './between.ts';
import type { BlockCache } from './block-cache.ts';
import { ColumnSums } from './column-sums.ts';
import { EdgeFinder } from './edge-finder.ts';
import { Pyramid } from './pyramid.ts';
import type { BlockList } from './run-index.ts';

/** An inner edge may lie this part of a column beside its place: what the eye cannot tell. */
const SHIFT_MAX = 1 / 8;

/**
 * Answers a window: finds where each column begins, then sums up between neighbours from the highest summaries that fit.
 *
 * Column i holds the readings from its place, from + (to − from) × i / columns, on. The first column begins at `from` and
 * the last one ends at `to`, exactly. Where a column holds more than a group of readings, an edge between columns is moved
 * to where a node of the summaries begins, if one begins within an eighth of a column: then no reading has to be decoded.
 * From four groups on one always does: a window of months costs as much as one of minutes.
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
  const pyramid = new Pyramid(list, cache);
  const between = new Between(list, cache, pyramid, known, spread);
  const readings = readingsIn(query, list) / columns;
  const finder = new EdgeFinder(list, cache, pyramid, axis, readings);

  const width = (to - from) / columns;
  // Of nodes as large as a column one in four begins near enough to an edge, of those four times smaller each.
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
  const channels: Record<string, ChannelColumns> = {};
  for (let c = 0; c < names.length; c++) channels[names[c]!] = sums[c]!.columns();
  return { axis, from, to, count, timeMs, gaugeMm, channels };
}

/** About how many readings a window holds: whole blocks. */
function readingsIn({ axis, from, to }: WindowQuery, list: BlockList): number {
  const first = list.find(axis, from, false);
  const beyond = list.find(axis, to, true, first);
  return list.before(beyond) - list.before(first);
}
