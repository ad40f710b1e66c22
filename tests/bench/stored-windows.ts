import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import type { SampleExtent } from '../../server/monitor/ports/samples.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import { uniform } from './generated-night.ts';
import type { BenchRow } from './report.ts';

export const COLUMNS = 1500;
const WINDOWS = 200;
const COLD_WINDOWS = 20;
const WINDOWS_A_WIDTH = 15;
/** Readings a column. None is a round part of a group of summaries: every edge falls to another place of one. */
const WIDTHS = [1, 10, 40, 100, 190, 250, 300, 420, 610, 900, 1100, 2300, 4700, 19_000, 77_000];
const TARGET_MS = 20;

export interface Asked {
  readonly axis: 'time' | 'length';
  readonly from: number;
  readonly to: number;
}

/** Draws windows of a run, the same ones each time. */
export class Draw {
  readonly #extent: SampleExtent;
  readonly #random = uniform(11);
  #drawn = 0;

  constructor(extent: SampleExtent) {
    this.#extent = extent;
  }

  /** Every zoom is as likely: from everything down to a ten-thousandth. Time and length in turn. */
  any(axis: Asked['axis'] = this.#turn()): Asked {
    return this.#of(axis, 10 ** (-4 * this.#random()));
  }

  /** So many readings a column. */
  wide(readings: number): Asked {
    return this.#of(this.#turn(), (readings * COLUMNS) / this.#extent.count);
  }

  #turn(): Asked['axis'] {
    return this.#drawn++ % 2 === 0 ? 'time' : 'length';
  }

  #of(axis: Asked['axis'], part: number): Asked {
    const { fromMs, toMs, fromGaugeMm, toGaugeMm } = this.#extent;
    const [low, high] = axis === 'time' ? [fromMs, toMs] : [fromGaugeMm, toGaugeMm];
    const span = (high - low) * part;
    const from = low + this.#random() * (high - low - span);
    return { axis, from, to: from + span };
  }
}

/** How long windows take when nothing of them is in memory; the store is opened again for each. */
export async function benchCold(path: string, runId: number, extent: SampleExtent): Promise<BenchRow[]> {
  const file = join(path, DATABASE_FILE);
  const draw = new Draw(extent);
  const taken = new Taken();
  for (let k = 0; k < COLD_WINDOWS && dropPages(file); k++) {
    const store = openStore({ folder: path, readers: 'sameThread' });
    await taken.by(() => ask(store, runId, draw.any(), ['d']));
    await store.close();
  }
  if (taken.wall.length === 0) return [];
  return [
    { what: 'first window after opening, nothing of it in memory, median', value: taken.at('wall', 50), unit: 'ms' },
    { what: '… by processor time', value: taken.at('cpu', 50), unit: 'ms' },
    { what: `… the slowest of ${COLD_WINDOWS}`, value: taken.at('wall', 100), unit: 'ms' },
  ];
}

/** How long windows take of a record that the system holds in memory: of every zoom, then by how wide a column is. */
export async function benchWindows(store: Store, runId: number, extent: SampleExtent): Promise<BenchRow[]> {
  const rows: BenchRow[] = [];
  for (const [what, signals] of [
    ['diameter', ['d']],
    ['diameter and three zones', ['d', 't1', 't2', 't3']],
  ] as const) {
    const draw = new Draw(extent);
    const taken = new Taken();
    for (let k = 0; k < WINDOWS; k++) await taken.by(() => ask(store, runId, draw.any(), signals));
    const p95 = taken.at('wall', 95);
    const target = { target: `≤ ${TARGET_MS}`, met: p95 <= TARGET_MS };
    const title = `any window, in memory, ${COLUMNS.toLocaleString('en')} columns: ${what}`;
    rows.push(
      { what: `${title}, median`, value: taken.at('wall', 50), unit: 'ms' },
      { what: `${title}, p95`, value: p95, unit: 'ms', ...target },
      { what: '… by processor time, median', value: taken.at('cpu', 50), unit: 'ms' },
      { what: '… by processor time, p95', value: taken.at('cpu', 95), unit: 'ms' },
    );
  }
  return [...rows, ...(await benchWidths(store, runId, extent))];
}

/** Where the time of the slow windows goes. */
async function benchWidths(store: Store, runId: number, extent: SampleExtent): Promise<BenchRow[]> {
  const rows: BenchRow[] = [];
  const draw = new Draw(extent);
  for (const readings of WIDTHS.filter((width) => width * COLUMNS <= extent.count)) {
    const taken = new Taken();
    for (let k = 0; k < WINDOWS_A_WIDTH; k++) await taken.by(() => ask(store, runId, draw.wide(readings), ['d']));
    const width = `${readings.toLocaleString('en')} reading${readings === 1 ? '' : 's'} a column`;
    rows.push({ what: `diameter, ${width}, processor time, median`, value: taken.at('cpu', 50), unit: 'ms' });
  }
  return rows;
}

/** What the same work took again and again, by the wall's clock and of the processor, ms. */
class Taken {
  readonly wall: number[] = [];
  readonly cpu: number[] = [];

  async by(work: () => Promise<unknown>): Promise<void> {
    const cpu = process.cpuUsage();
    const began = performance.now();
    await work();
    this.wall.push(performance.now() - began);
    const { user, system } = process.cpuUsage(cpu);
    this.cpu.push((user + system) / 1000);
  }

  at(clock: 'wall' | 'cpu', percent: number): number {
    const sorted = [...this[clock]].sort((a, b) => a - b);
    return sorted[Math.min(Math.ceil((percent / 100) * sorted.length), sorted.length) - 1]!;
  }
}

function ask(store: Store, runId: number, asked: Asked, signals: readonly string[]): Promise<unknown> {
  return store.columns.window({ runId, ...asked, columns: COLUMNS, signals });
}

/** Drops the pages of a file from the cache of the system; false = that is not possible here. */
function dropPages(file: string): boolean {
  return spawnSync('dd', [`if=${file}`, 'iflag=nocache', 'count=0', 'status=none']).status === 0;
}
