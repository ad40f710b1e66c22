import { BlockView, DamagedBlock, FIRST_SIGNAL, GAUGE_COLUMN, TIME_COLUMN } from './block-format.ts';
import { GROUP } from './column-format.ts';
import type { ColumnView } from './column-view.ts';
import { LEVELS_MAX } from './sample-ids.ts';
import type { SampleReads, SampleWrites, SpanRow } from './sample-tables.ts';
import { FAN_OUT, FIELDS, fieldsOfLevel, PAGE_NODES, SummaryColumns, summarise, WHOLE_LEVEL } from './summary.ts';
import { encodePage, PageView } from './summary-page.ts';

type WritePage = (level: number, page: number, column: number, data: Uint8Array) => void;

/** The summaries of one level that do not fill a page yet. */
interface Edge {
  /** Nodes of the run on this level. */
  nodes: number;
  /** Where each node starts, on both axes. */
  readonly fromMs: Float64Array;
  readonly fromGaugeMm: Float64Array;
  /** By column number. */
  readonly signals: Map<number, SummaryColumns>;
}

/**
 * The growing edge of a run's pyramid. Node n of level 0 sums up group n of the run (256 readings, fewer at the end of a
 * block); node n of the next level sums up nodes 4n … 4n + 3. 128 nodes make a page, which is written once, when it is full.
 */
export class SummaryTail {
  /** Blocks of the run. */
  blocks: number;
  readonly #edges: Edge[];

  constructor(blocks: number, edges: Edge[]) {
    this.blocks = blocks;
    this.#edges = edges;
  }

  /** A copy to use until the transaction has succeeded. */
  copy(): SummaryTail {
    return new SummaryTail(this.blocks, this.#edges.map(copyOf));
  }

  /** Adds the next block, and writes the pages that become full. */
  push(writes: SampleWrites, runId: number, data: Uint8Array): void {
    const write: WritePage = (level, page, column, bytes) => writes.summary(runId, level, page, column, bytes);
    const view = new BlockView(data);
    for (let g = 0; g * GROUP < view.count; g++) this.#group(view, g, write);
    this.blocks++;
  }

  /** Writes the pages that are not full, because no more readings will follow. */
  close(writes: SampleWrites, runId: number): void {
    this.#edges.forEach((edge, level) => {
      if (edge.nodes % PAGE_NODES > 0) {
        writePage(edge, level, (...page) => writes.summary(runId, ...page));
      }
    });
  }

  /** Adds group `g` of a block. */
  #group(view: BlockView, g: number, write: WritePage): void {
    const edge = this.#edge(0);
    const node = edge.nodes % PAGE_NODES;
    edge.fromMs[node] = axisOf(view, TIME_COLUMN).value(g, 0);
    edge.fromGaugeMm[node] = axisOf(view, GAUGE_COLUMN).value(g, 0);
    const size = Math.min(GROUP, view.count - g * GROUP);
    for (const number of view.columnNumbers) {
      if (number < FIRST_SIGNAL) continue;
      const column = view.column(number);
      if (column === undefined) continue;
      columnOf(edge, number).set(node, summarise(column.group(g), 0, size, column.digits));
    }
    this.#grown(0, write);
  }

  /** Adds a group whose values are lost; only its place is known. */
  #lost(fromMs: number, fromGaugeMm: number, write: WritePage): void {
    const edge = this.#edge(0);
    edge.fromMs[edge.nodes % PAGE_NODES] = fromMs;
    edge.fromGaugeMm[edge.nodes % PAGE_NODES] = fromGaugeMm;
    this.#grown(0, write);
  }

  #edge(level: number): Edge {
    this.#edges[level] ??= newEdge();
    return this.#edges[level];
  }

  /** A node was added to a level: a complete family becomes a node of the next level, and a full page is written. */
  #grown(level: number, write: WritePage): void {
    const edge = this.#edge(level);
    edge.nodes++;
    const n = edge.nodes % PAGE_NODES || PAGE_NODES;
    if (n % FAN_OUT === 0 && level + 1 < LEVELS_MAX) {
      const above = this.#edge(level + 1);
      const node = above.nodes % PAGE_NODES;
      above.fromMs[node] = edge.fromMs[n - FAN_OUT]!;
      above.fromGaugeMm[node] = edge.fromGaugeMm[n - FAN_OUT]!;
      for (const [number, columns] of edge.signals) {
        columnOf(above, number).set(node, columns.joined(n - FAN_OUT, FAN_OUT));
      }
      this.#grown(level + 1, write);
    }
    if (n < PAGE_NODES) return;
    writePage(edge, level, write);
    for (const columns of edge.signals.values()) columns.clear();
  }

  /** Adds stored blocks again, from a group of the run on. A block that cannot be decoded counts as one without values. */
  replay(reads: SampleReads, runId: number, spans: readonly SpanRow[], fromGroup: number): void {
    const written: WritePage = () => {};
    let group = 0;
    spans.forEach(([, count, fromMs, , fromGaugeMm], block) => {
      const groups = Math.ceil(count / GROUP);
      if (group + groups > fromGroup) {
        const view = decoded(reads.block(runId, block), count);
        for (let g = Math.max(0, fromGroup - group); g < groups; g++) {
          if (view) this.#group(view, g, written);
          else this.#lost(fromMs, fromGaugeMm, written);
        }
      }
      group += groups;
    });
  }
}

/**
 * Rebuilds the edge from the record: the lower levels from the readings, because their pages lack some fields, the higher
 * ones from the pages below them.
 */
export function restoreTail(reads: SampleReads, runId: number, spans: readonly SpanRow[]): SummaryTail {
  const groups = spans.reduce((sum, [, count]) => sum + Math.ceil(count / GROUP), 0);
  const pageGroups = PAGE_NODES * FAN_OUT ** WHOLE_LEVEL;
  const fromGroup = Math.floor(groups / pageGroups) * pageGroups;
  const edges: Edge[] = [];
  for (let level = 0; level < LEVELS_MAX && fromGroup >= FAN_OUT ** level; level++) {
    const edge = newEdge();
    edge.nodes = Math.floor(fromGroup / FAN_OUT ** level);
    const below = edges.at(-1);
    if (level > WHOLE_LEVEL && below !== undefined) join(edge, below, level, reads, runId);
    edges.push(edge);
  }
  const tail = new SummaryTail(spans.length, edges);
  tail.replay(reads, runId, spans, fromGroup);
  return tail;
}

/** Fills the edge of a level from the nodes of the level below: those in its pages, then those of its edge. */
function join(edge: Edge, below: Edge, level: number, reads: SampleReads, runId: number): void {
  const belowPages = Math.floor(below.nodes / PAGE_NODES);
  const start = edge.nodes - (edge.nodes % PAGE_NODES);
  let page = -1;
  let from = below;
  for (let n = start; n < edge.nodes; n++) {
    const needed = Math.floor((n * FAN_OUT) / PAGE_NODES);
    if (needed !== page) {
      page = needed;
      from = page < belowPages ? readPage(reads, runId, level - 1, page) : below;
    }
    const node = n - start;
    const first = (n * FAN_OUT) % PAGE_NODES;
    edge.fromMs[node] = from.fromMs[first]!;
    edge.fromGaugeMm[node] = from.fromGaugeMm[first]!;
    for (const [number, columns] of from.signals) {
      columnOf(edge, number).set(node, columns.joined(first, FAN_OUT));
    }
  }
}

/** A stored page of summaries; a column that cannot be decoded has no values. */
function readPage(reads: SampleReads, runId: number, level: number, page: number): Edge {
  const edge = newEdge();
  for (const { column, data } of reads.summaryColumns(runId, level, page)) {
    try {
      const view = new PageView(data);
      if (column === TIME_COLUMN) edge.fromMs.set(view.field(0));
      else if (column === GAUGE_COLUMN) edge.fromGaugeMm.set(view.field(0));
      else {
        const columns = columnOf(edge, column);
        for (const [f, field] of FIELDS.slice(0, view.fields).entries()) columns[field].set(view.field(f));
        columns.digits = view.digits;
      }
    } catch {
      // Reported when a query reads it (see `BlockCache`); the summaries continue without it.
    }
  }
  return edge;
}

/** The column of an axis, which every block has. */
function axisOf(view: BlockView, number: number): ColumnView {
  const column = view.column(number);
  if (column === undefined) throw new DamagedBlock('the block has no axis');
  return column;
}

/** null = damaged. */
function decoded(data: Uint8Array | undefined, count: number): BlockView | null {
  try {
    if (!data) return null;
    const view = new BlockView(data);
    if (view.count !== count) return null;
    // Decode everything now, so that damage shows here and not half-way.
    view.requireWhole();
    return view;
  } catch {
    // Reported when a query reads the block (see `BlockCache`); the summaries continue without it.
    return null;
  }
}

function writePage(edge: Edge, level: number, write: WritePage): void {
  const nodes = edge.nodes % PAGE_NODES || PAGE_NODES;
  const page = Math.ceil(edge.nodes / PAGE_NODES) - 1;
  write(level, page, TIME_COLUMN, encodePage([edge.fromMs], nodes));
  write(level, page, GAUGE_COLUMN, encodePage([edge.fromGaugeMm], nodes));
  const fields = fieldsOfLevel(level);
  for (const [number, columns] of edge.signals) {
    if (columns.count.every((count) => count === 0)) continue;
    const data = encodePage(
      fields.map((field) => columns[field]),
      nodes,
    );
    write(level, page, number, data);
  }
}

function newEdge(): Edge {
  return {
    nodes: 0,
    fromMs: new Float64Array(PAGE_NODES),
    fromGaugeMm: new Float64Array(PAGE_NODES),
    signals: new Map(),
  };
}

function copyOf(edge: Edge): Edge {
  return {
    nodes: edge.nodes,
    fromMs: edge.fromMs.slice(),
    fromGaugeMm: edge.fromGaugeMm.slice(),
    signals: new Map(Array.from(edge.signals, ([number, columns]) => [number, columns.copy()])),
  };
}

function columnOf(edge: Edge, number: number): SummaryColumns {
  let columns = edge.signals.get(number);
  if (!columns) {
    columns = new SummaryColumns();
    edge.signals.set(number, columns);
  }
  return columns;
}
