import { describe, expect, it } from 'vitest';
import type { WindowAxis, WindowColumns } from '../../server/monitor/ports/samples.ts';
import { openStore, type SampleColumns, type Store } from '../../server/store/index.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { gauss } from './noise.ts';
import { beginRun, inNewRecord, layoutOf, randomOf, readingOf, withStore } from './readings.ts';

const SIGNALS = ['d', 't1', 'f1', 'sum'];

/** A run with standstills, pauses, gaps, a signal sent in every tenth line, and computed values. */
function fill(store: Store, n: number, seed: number): number {
  const runId = beginRun(store);
  const layout = layoutOf(SIGNALS);
  const random = randomOf(seed);
  const g = gauss(seed + 1);
  let timeMs = 1_750_000_000_000;
  let gaugeMm = 0;
  for (let i = 0; i < n; i++) {
    timeMs += random() < 0.0005 ? 60_000 * random() : 20 + 0.2 * g();
    const moving = Math.floor(i / 3000) % 4 !== 1;
    if (moving) gaugeMm += Math.max(0, 0.7 + 0.1 * g());
    const d = random() < 0.01 ? Number.NaN : Math.round((1.75 + 0.02 * g()) * 1000) / 1000;
    const t = i % 10 === 0 ? Math.round((200 + g()) * 4) / 4 : Number.NaN;
    store.samples.append(runId, readingOf(layout, timeMs, [d, t, i < n / 2 ? Number.NaN : 0, d * 2 + 0.1]), gaugeMm);
    if (i % 9973 === 0) store.tick(i);
  }
  return runId;
}

/** With more readings per column than this, edges between columns may move by an eighth of a column. */
const EXACT_READINGS = 256;

/** First index whose value is at or beyond the edge (`after`: beyond it). */
function lowerBound(rising: Float64Array, edge: number, after = false): number {
  let lo = 0;
  let hi = rising.length;
  while (lo < hi) {
    const middle = (lo + hi) >>> 1;
    if (after ? rising[middle]! > edge : rising[middle]! >= edge) hi = middle;
    else lo = middle + 1;
  }
  return lo;
}

/**
 * Compares a window, reading by reading, with the raw readings of its columns.
 * @returns how many edges were moved
 */
function compare(got: WindowColumns, raw: SampleColumns, from: number, to: number, columns: number): number {
  const x = got.axis === 'time' ? raw.timeMs : raw.gaugeMm;
  const width = (to - from) / columns;
  const begin = lowerBound(x, from);
  const end = lowerBound(x, to, true);
  // The approximate number of readings decides, counted in whole blocks.
  const tolerance = (end - begin + 16_384) / columns < EXACT_READINGS ? 0 : width / 8 + 1e-6;
  const faults: (string | null)[] = [];
  let moved = 0;
  let next = begin;
  for (let i = 0; i < columns; i++) {
    const n = got.count[i]!;
    const edge = from + ((to - from) * i) / columns;
    const wanted = i === 0 ? begin : Math.min(lowerBound(x, edge), end);
    if (next !== wanted) {
      moved++;
      // No reading is further outside its column.
      const outside = next < wanted ? edge - x[next]! : x[next - 1]! - edge;
      if (i === 0 || outside > tolerance) faults.push(`column ${i} begins ${outside} outside of it`);
    }
    const first = n > 0 ? [raw.timeMs[next]!, raw.gaugeMm[next]!] : [null, null];
    if (got.timeMs[i] !== first[0] || got.gaugeMm[i] !== first[1]) faults.push(`column ${i}: not its first reading`);
    faults.push(faultOf(got, raw, i, next, next + n));
    next += n;
  }
  expect(faults.filter((fault) => fault !== null)).toStrictEqual([]);
  expect(next).toBe(end);
  return moved;
}

/** Compares the statistics of a column with readings [start, end). @returns what is wrong; null = nothing */
function faultOf(got: WindowColumns, raw: SampleColumns, i: number, start: number, end: number): string | null {
  for (const name of SIGNALS) {
    const own = got.signals[name]!;
    const values = raw.values[name]!.subarray(start, end).filter((v) => !Number.isNaN(v));
    const n = values.length;
    if (n === 0) {
      if (own.min[i] !== null || own.max[i] !== null || own.mean[i] !== null) return `${name} ${i} has no value`;
      continue;
    }
    const min = values.reduce((a, b) => Math.min(a, b));
    const max = values.reduce((a, b) => Math.max(a, b));
    const mean = values.reduce((a, b) => a + b) / n;
    if (own.min[i] !== min || own.max[i] !== max) return `${name} ${i}: ${own.min[i]}…${own.max[i]}, not ${min}…${max}`;
    const size = Math.max(1, Math.abs(min), Math.abs(max));
    if (!(Math.abs(own.mean[i]! - mean) < 1e-11 * size)) return `${name} ${i}: mean ${own.mean[i]}, not ${mean}`;
    if (own.sd === undefined) continue;
    const sd = n === 1 ? null : Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (n - 1));
    const near = sd === null ? own.sd[i] === null : Math.abs(own.sd[i]! - sd) <= 1e-9 * Math.max(sd, 1e-6 * size);
    if (!near) return `${name} ${i}: deviation ${own.sd[i]}, not ${sd}`;
  }
  return null;
}

async function compareRandomWindows(store: Store, runId: number, windows: number, seed: number): Promise<void> {
  const raw = await store.columns.readings(runId, 0, 1e9, SIGNALS);
  const random = randomOf(seed);
  for (let k = 0; k < windows; k++) {
    const axis: WindowAxis = k % 2 === 0 ? 'time' : 'length';
    const x = axis === 'time' ? raw.timeMs : raw.gaugeMm;
    const span = (x.at(-1)! - x[0]!) * 10 ** (-4 * random());
    const a = x[0]! - 0.1 * span + random() * (x.at(-1)! - x[0]!);
    // Every third window starts and ends on a reading.
    const from = k % 3 === 0 ? x[Math.floor(random() * x.length)]! : a;
    const to = k % 3 === 0 ? Math.max(from, x[Math.floor(random() * x.length)]!) : a + span;
    const columns = 1 + Math.floor(random() ** 3 * 1500);
    if (from === to) continue;
    const spread = k % 4 === 0;
    const got = await store.columns.window({ runId, axis, from, to, columns, signals: SIGNALS, spread });
    compare(got, raw, from, to, columns);
  }
}

describe('a window of readings', () => {
  it('has the true minimum, maximum, mean and count of each column, on both axes and at every zoom', async () => {
    await withStore(async (store) => {
      const runId = fill(store, 30_000, 3);
      await compareRandomWindows(store, runId, 80, 4);
    });
  });

  it.skipIf(!IS_LONG_CHECK)(
    'has them from summaries too, with edges at most an eighth of a column off',
    async () => {
      await inNewRecord(async (folder) => {
        const store = openStore({ folder });
        // Pages of the lowest level are full at 32,768 readings, of the next one at 131,072.
        const runId = fill(store, 150_000, 5);
        await compareRandomWindows(store, runId, 25, 6);
        await store.close();
        const again = openStore({ folder, readOnly: true });
        await compareRandomWindows(again, runId, 25, 7);
        const raw = await again.columns.readings(runId, 0, 1e9, SIGNALS);
        const [from, to] = [raw.timeMs[0]!, raw.timeMs.at(-1)!];
        const got = await again.columns.window({ runId, axis: 'time', from, to, columns: 40, signals: SIGNALS });
        expect(compare(got, raw, from, to, 40)).toBeGreaterThan(20);
        await again.close();
      });
    },
    40_000,
  );

  it.skipIf(!IS_LONG_CHECK)(
    'gives the same answers with higher levels of summaries',
    async () => {
      await inNewRecord(async (folder) => {
        const store = openStore({ folder });
        const runId = beginRun(store);
        const layout = layoutOf(SIGNALS);
        const random = randomOf(9);
        // Runs in turn seal each other's blocks: 3000 blocks of three readings, each a group of the summaries, fill pages of
        // three levels.
        const other = beginRun(store);
        for (let i = 0; i < 9000; i++) {
          store.samples.append(runId, readingOf(layout, i * 20, [random(), i, 1, -i / 10]), i / 4);
          if (i % 3 === 2) store.samples.append(other, readingOf(layout, i * 20, [0]), i / 4);
          // The growing edge of the pyramid is rebuilt from the record.
          if (i === 4000) store.samples.flush();
        }
        store.samples.flush();
        await compareRandomWindows(store, runId, 30, 10);
        await store.close();
        const again = openStore({ folder });
        for (let i = 9000; i < 9600; i++) {
          again.samples.append(runId, readingOf(layout, i * 20, [random(), i, 1, -i / 10]), i / 4);
          if (i % 3 === 2) again.samples.append(other, readingOf(layout, i * 20, [0]), i / 4);
        }
        again.samples.flush();
        await compareRandomWindows(again, runId, 30, 11);
        await again.close();
      });
    },
    60_000,
  );

  it.skipIf(!IS_LONG_CHECK)(
    'counts readings on an edge, also at a standstill, in the column that starts there',
    async () => {
      await withStore(async (store) => {
        const runId = beginRun(store);
        const layout = layoutOf(SIGNALS);
        // 256 readings, a group, are 128 mm; every 1024 the strand stands still for 512 readings.
        let mm = 0;
        for (let i = 0; i < 70_000; i++) {
          if (i % 1536 < 1024) mm += 0.5;
          store.samples.append(runId, readingOf(layout, i * 20, [i / 1000, 1, 2, 3]), mm);
        }
        const raw = await store.columns.readings(runId, 0, 1e9, SIGNALS);
        for (const columns of [1, 2, 7, 16, 40, 45]) {
          for (const [axis, from, to] of [
            ['time', 0, 65_536 * 20],
            ['time', 20 * 256, 20 * 256 * 129],
            ['length', 0, 20_480],
            ['length', 512, 512 + 45 * 512],
            ['length', 128, mm],
          ] as const) {
            const got = await store.columns.window({ runId, axis, from, to, columns, signals: SIGNALS });
            compare(got, raw, from, to, columns);
          }
        }
      });
    },
  );

  it.skipIf(!IS_LONG_CHECK)(
    'answers from lower levels if a page of summaries is damaged, and reports the damage',
    async () => {
      await inNewRecord(async (folder) => {
        const first = openStore({ folder });
        const runId = fill(first, 140_000, 13);
        await first.close();
        const { default: Sqlite } = await import('better-sqlite3');
        const { DATABASE_FILE } = await import('../../server/store/database.ts');
        const { summaryId } = await import('../../server/store/samples/sample-ids.ts');
        const db = new Sqlite(`${folder}/${DATABASE_FILE}`);
        const damaged = [summaryId(runId, 0, 1, 2), summaryId(runId, 1, 0, 2), summaryId(runId, 0, 2, 0)];
        for (const id of damaged) {
          const data = db.prepare('SELECT data FROM sample_summary WHERE id = ?').pluck().get(id) as Buffer;
          data[40]! ^= 4;
          db.prepare('UPDATE sample_summary SET data = ? WHERE id = ?').run(data, id);
        }
        db.close();
        const reported: { level: number | null; block: number }[] = [];
        const store = openStore({ folder, damaged: (what) => reported.push(what) });
        await compareRandomWindows(store, runId, 40, 14);
        await store.close();
        const places = reported.map(({ level, block }) => `${level} ${block}`).sort();
        expect(places).toStrictEqual(['0 1', '0 2', '1 0']);
      });
    },
    40_000,
  );

  it('shows a reading as soon as it is appended, before it is on disk', async () => {
    await withStore(async (store) => {
      const runId = beginRun(store);
      const layout = layoutOf(['d']);
      for (let i = 0; i < 8500; i++) {
        store.samples.append(runId, readingOf(layout, i * 20, [1.7 + i / 10_000]), i);
        if (i % 170 !== 0) continue;
        const query = { runId, axis: 'time' as const, from: 0, to: i * 20, columns: 1, signals: ['d', 'unheard'] };
        const window = await store.columns.window(query);
        expect(window.count).toStrictEqual([i + 1]);
        expect(window.signals.d!.max).toStrictEqual([1.7 + i / 10_000]);
        expect(window.signals.unheard!.max).toStrictEqual([null]);
      }
    });
  });

  it('refuses a window that ends before it starts, and an impossible number of columns', async () => {
    await withStore(async (store) => {
      const query = { runId: 1, axis: 'time' as const, from: 0, to: 10, columns: 10, signals: [] };
      await expect(store.columns.window({ ...query, to: -1 })).rejects.toThrow('ends before it starts');
      await expect(store.columns.window({ ...query, from: Number.NaN })).rejects.toThrow('ends before it starts');
      await expect(store.columns.window({ ...query, columns: 4001 })).rejects.toThrow('4001 columns');
      await expect(store.columns.window({ ...query, columns: 0 })).rejects.toThrow('0 columns');
    });
  });

  it('shows a damaged block as a gap, reports it once, and reads the rest', async () => {
    await inNewRecord(async (folder) => {
      const first = openStore({ folder });
      const runId = fill(first, 40_000, 11);
      await first.close();
      const { default: Sqlite } = await import('better-sqlite3');
      const { DATABASE_FILE } = await import('../../server/store/database.ts');
      const db = new Sqlite(`${folder}/${DATABASE_FILE}`);
      const id = runId * 2 ** 28 + 1;
      const data = db.prepare('SELECT data FROM sample_block WHERE id = ?').pluck().get(id) as Buffer;
      data[1000]! ^= 4;
      db.prepare('UPDATE sample_block SET data = ? WHERE id = ?').run(data, id);
      db.close();
      const damage: unknown[] = [];
      const store = openStore({ folder, damaged: (what) => damage.push(what) });
      const extent = (await store.columns.extent(runId))!;
      for (let k = 0; k < 2; k++) {
        const { count, signals } = await store.columns.window({
          runId,
          axis: 'time',
          from: extent.fromMs,
          to: extent.toMs,
          columns: 500,
          signals: ['d'],
        });
        expect(count.reduce((a, b) => a + b)).toBe(40_000);
        expect(signals.d!.max.filter((v) => v !== null).length).toBeGreaterThan(100);
      }
      const raw = await store.columns.readings(runId, 0, extent.toGaugeMm, ['d']);
      expect(raw.values.d!.subarray(8192, 16_384).every(Number.isNaN)).toBe(true);
      expect(raw.values.d!.subarray(16_384).filter(Number.isFinite).length).toBeGreaterThan(23_000);
      expect(damage).toStrictEqual([{ runId, block: 1, level: null, why: 'the checksum does not match' }]);
      await store.close();
    });
  });
});
