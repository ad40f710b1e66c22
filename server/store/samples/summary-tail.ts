import { BlockView, FIRST_CHANNEL } from './block-format.ts';
import { FAN_OUT } from './sample-ids.ts';
import type { SampleReads, SampleWrites } from './sample-tables.ts';
import { mergeSets, type Summary, type SummarySet, summarise } from './summary.ts';
import { encodePage, PageView } from './summary-page.ts';

/**
 * The growing edge of a run's pyramid: on each level the summaries that do not fill a page yet. A full page is written
 * once and never touched again.
 */
export class SummaryTail {
  /** Blocks of the run. */
  blocks: number;
  readonly #levels: SummarySet[][];

  constructor(blocks: number, levels: SummarySet[][]) {
    this.blocks = blocks;
    this.#levels = levels;
  }

  /** Summaries of the blocks behind the last full page of the lowest level, and the number of the page they begin. */
  get edge(): readonly SummarySet[] {
    return this.#levels[0] ?? [];
  }

  get edgePage(): number {
    return Math.floor(this.blocks / FAN_OUT);
  }

  /** A copy to work on until the transaction has succeeded. */
  copy(): SummaryTail {
    return new SummaryTail(
      this.blocks,
      this.#levels.map((level) => [...level]),
    );
  }

  /** Take in the next block's summaries; write the pages that become full. */
  push(writes: SampleWrites, runId: number, block: SummarySet): void {
    this.blocks++;
    let set = block;
    let nodes = this.blocks;
    for (let level = 0; ; level++) {
      const waiting = this.#levels[level] ?? [];
      this.#levels[level] = waiting;
      waiting.push(set);
      if (waiting.length < FAN_OUT) return;
      nodes = Math.floor(nodes / FAN_OUT);
      writes.summary(runId, level, nodes - 1, encodePage(waiting));
      set = mergeSets(waiting);
      this.#levels[level] = [];
    }
  }
}

/** Build the edge again from what is stored. A block that does not decode counts as one without values. */
export function restoreTail(reads: SampleReads, runId: number, blocks: number): SummaryTail {
  const levels: SummarySet[][] = [];
  let nodes = blocks;
  for (let level = 0; nodes > 0; level++) {
    const sets: SummarySet[] = [];
    for (let node = nodes - (nodes % FAN_OUT); node < nodes; node++) {
      sets.push(level === 0 ? setOfBlock(reads, runId, node) : setOfPage(reads, runId, level - 1, node));
    }
    levels.push(sets);
    nodes = Math.floor(nodes / FAN_OUT);
  }
  return new SummaryTail(blocks, levels);
}

function setOfBlock(reads: SampleReads, runId: number, block: number): SummarySet {
  const set = new Map<number, Summary>();
  const data = reads.block(runId, block);
  if (!data) return set;
  try {
    const view = new BlockView(data);
    const values = new Float64Array(view.count);
    for (const number of view.columnNumbers) {
      if (number < FIRST_CHANNEL) continue;
      view.column(number)!.all(values, 0);
      const summary = summarise(values, view.count);
      if (summary) set.set(number, summary);
    }
  } catch {
    // Told to whoever reads the block (see `BlockCache`); the summaries go on without it.
    set.clear();
  }
  return set;
}

function setOfPage(reads: SampleReads, runId: number, level: number, page: number): SummarySet {
  const data = reads.summary(runId, level, page);
  if (!data) return new Map();
  try {
    return mergeSets(new PageView(data).sets());
  } catch {
    return new Map();
  }
}
